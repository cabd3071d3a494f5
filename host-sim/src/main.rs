//! The command `becalm`.
fn main() {}
