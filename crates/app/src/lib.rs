//! The use cases of outyard: what an owner asks of it in the morning and tells it at night.
//!
//! This room is the middle of the house. It joins the pure rooms — the trade, the season, the runs and the book — and
//! reaches the world only through the traits in [`ports`]. `season` and `runs` do not know each other; here an outlook
//! becomes due visits and due visits become a run problem.

pub mod blooms;
pub mod closing;
pub mod day;
pub mod demo;
pub mod demo_book;
pub mod due;
pub mod ensemble;
pub mod first;
pub mod intake;
pub mod nights;
pub mod outlook;
pub mod pages;
pub mod plan;
pub mod ports;
pub mod rates;
pub mod replanning;
pub mod roads;
pub mod round;
pub mod season_picture;
pub mod seasons;
pub mod settings;
pub mod situation;
pub mod standing;
pub mod tally;
pub mod told;
pub mod views;
pub mod work_out;
pub mod year;

pub use ports::{exchange, opening};
