//! What journeys are made of: a browser that can be asked, clicked, cut off and killed.

pub mod browser;
pub mod driver;
pub mod process;
