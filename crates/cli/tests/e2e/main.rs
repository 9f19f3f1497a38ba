//! The command line from its words to its page, JSON and exit code: nothing is reached but through the program.
//!
//! Each test makes an outfit's folder from texts, runs the program there and holds its answer against sums of its own.

#![expect(clippy::unwrap_used, reason = "a helper of tests stops its test")]

mod bad_input;
mod common;
mod killed;
mod pages;
mod rain;
mod scenes;
mod two_tallies;
mod words;
