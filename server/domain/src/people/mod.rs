//! Who may do what.

pub mod authz;
