//! The texts for readers.

#[test]
fn placeholder() {}
