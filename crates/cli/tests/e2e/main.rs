//! The command line from its words to its page, JSON and exit code: nothing is reached but through the program.
//!
//! Each test makes an outfit's folder from texts, runs the program there and holds its answer against sums of its own.

#![expect(clippy::unwrap_used, reason = "a helper of tests stops its test")]
#![expect(
    clippy::cast_precision_loss,
    clippy::cast_possible_truncation,
    clippy::cast_possible_wrap,
    clippy::cast_sign_loss,
    reason = "counts and days of the tests are small"
)]

mod bad_input;
mod common;
mod keeping;
mod killed;
mod outlook;
mod pages;
mod rain;
mod roads;
mod scenes;
mod scores;
mod told;
mod two_tallies;
mod words;
mod year;
