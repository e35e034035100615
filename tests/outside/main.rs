//! Outside.
fn main() {}
