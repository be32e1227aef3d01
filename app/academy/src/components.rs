//! Pieces that several pages share: page frame, notices, tables, a button to hold, codes to show and to read.

pub mod code_picture;
pub mod code_reader;
pub mod file_codes;
pub mod folded;
pub mod hold_button;
pub mod page;
pub mod table;
pub mod when;
pub mod words;

pub use code_picture::{CodePicture, code_drawing};
pub use code_reader::CodeReader;
pub use file_codes::{FileCodes, FileCodesReader};
pub use folded::Folded;
pub use hold_button::HoldButton;
pub use page::{NavLink, Page};
pub use table::{DataTable, text_rows};
pub use when::When;
pub use words::{EmptyState, Notice, NoticeKind, StatusKind, StatusWord};
