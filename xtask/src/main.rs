//! Checks on the house itself.
fn main() {}
