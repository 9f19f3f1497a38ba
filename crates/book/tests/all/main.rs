//! The law of the book, the gear ledger and the lines of the format, tested from outside.

#![expect(clippy::unwrap_used, reason = "a helper of tests stops its test")]
#![expect(clippy::needless_pass_by_value, reason = "numbers and texts name yards and trucks alike")]

mod fold;
mod kept;
mod law;
mod ledger;
mod support;
mod wire;
