//! People: what is kept of them, and how they sign in.

pub mod privacy;
pub mod security;
