//! Pieces that several pages share: page frame, fields, notices, tables, a button to hold.

pub mod fields;
pub mod hold_button;
pub mod page;
pub mod table;
pub mod words;

pub use fields::{CheckField, DateField, NumberField, SelectField, TextField};
pub use hold_button::HoldButton;
pub use page::{NavLink, Page};
pub use table::{DataTable, text_rows};
pub use words::{EmptyState, Notice, NoticeKind, StatusKind, StatusWord};
