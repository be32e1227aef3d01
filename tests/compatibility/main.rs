//! Files from elsewhere and from before: spreadsheets as academies keep them, old and hostile files.

mod broke;
mod course_books;
mod hand_over;
mod logs;
mod spreadsheets;
