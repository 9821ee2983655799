//! The `pointage` program.
fn main() {}
