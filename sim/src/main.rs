//! sim
fn main() {}
