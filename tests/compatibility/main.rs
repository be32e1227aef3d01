//! Files from elsewhere and from before: spreadsheets as academies keep them, old and hostile files.

mod course_books;
mod logs;
mod spreadsheets;
