//! The seed chain: lots, accounts, traces and suppliers.

pub mod account;
pub mod lots;
pub mod suppliers;
pub mod trace;

pub(crate) use lots::lots;
