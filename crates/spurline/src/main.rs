//! Shows whether a radio transmitter is clean, by measuring it.
fn main() {}
