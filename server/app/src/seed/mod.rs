//! The seed chain: lots, accounts, traces and suppliers.

pub mod account;
pub mod lots;
pub mod pay_run;
pub mod suppliers;
pub mod trace;

pub(crate) use account::accounts;
pub(crate) use lots::lots;
pub(crate) use suppliers::compare_usual as compare_suppliers;
