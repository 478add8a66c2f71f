//! taffrail
fn main() {}
