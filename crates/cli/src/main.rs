//! `outyard` at the command line.
fn main() {}
