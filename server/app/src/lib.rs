//! Use cases: permission, then rule, then store, then change feed and history.
//!
//! Every door (API, sync, CSV import, demo data, command line) comes through here. Start with
//! [`ctx`] (who acts, on which co-operative, when) and [`txn`] (how a record is made, corrected
//! and withdrawn).

pub mod changes;
pub mod check;
pub mod cooperatives;
pub mod csv_files;
pub mod ctx;
mod days;
pub mod error;
pub mod estimates;
pub mod export;
pub mod import;
mod import_order;
pub mod keys;
pub mod lot_trace;
pub mod passwords;
pub mod photos;
pub mod planning;
pub mod programme;
pub mod rations;
pub mod records;
pub mod represent;
pub mod review;
pub mod rows;
pub mod savings;
pub mod seed;
pub mod seed_account;
pub mod session;
pub mod suppliers;
pub mod sync;
pub mod throttle;
pub mod together;
pub mod txn;

pub use ctx::{Actor, App, Coop};
pub use error::AppError;
