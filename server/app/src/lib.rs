//! Use cases: permission, then rule, then store, then change feed and history.
//!
//! Every door (API, sync, CSV import, demo data, command line) comes through here. Start with
//! [`Actor`] and [`App`] (who acts, on which co-operative, when) and [`records::txn`] (how a record is made, corrected
//! and withdrawn).

mod actor;
mod app;
mod coop;
pub mod copies;
mod costly;
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
mod server_state;
pub mod texts;
mod trials;

pub use actor::Actor;
pub use app::{App, Random, SystemRandom};
pub use coop::Coop;
pub use error::AppError;
