//! The law of the book, the gear ledger and the lines of the format, tested from outside.

mod fold;
mod law;
mod ledger;
mod support;
mod wire;
