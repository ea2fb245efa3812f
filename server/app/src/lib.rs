//! Use cases: permission, then rule, then store, then change feed and history.
//!
//! Every door (API, sync, CSV import, demo data, command line) comes through here. Start with
//! [`ctx`] (who acts, on which co-operative, when) and [`records::txn`] (how a record is made, corrected
//! and withdrawn).

pub mod ctx;
mod days;
pub mod error;
pub mod estimates;
pub mod people;
pub mod planning;
pub mod rations;
pub mod records;
pub mod review;
pub mod savings;
pub mod seed;

pub use ctx::{Actor, App, Coop};
pub use error::AppError;
