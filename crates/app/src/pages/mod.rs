//! What whole pages show: the outfit, its yards, the season drawn, the gear, the book, what a phone takes along, what a
//! change would cost. Plain data with units in the names, as in [`crate::views`].

pub mod book;
pub mod gear;
pub mod import;
pub mod outfit;
pub mod pack;
pub mod season;
pub mod what_if;
pub mod yards;
