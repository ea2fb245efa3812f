//! Records on SQLite and PostgreSQL, through diesel.
//!
//! [`store`] holds the only transactions, [`conn`] the one way to run a statement: portable SQL
//! text with `?` and typed binds, prepared once and cached by diesel. A query names and types its
//! columns once, with `columns!`. The record kinds' tables
//! are reached through [`records`], which builds its SQL from the kinds' declarations. No
//! permission checks, no HTTP, no business rules here.

pub mod about;
mod columns;
pub mod conn;
pub mod copies;
pub mod error;
pub mod estimates;
pub mod migrate;
mod patience;
pub mod people;
pub mod planning;
mod preview;
pub mod records;
pub mod review;
pub mod savings;
pub mod schema;
pub mod seed;
pub mod settings;
pub mod store;
pub mod texts;
pub mod turns;
mod work;
pub mod writing;

pub use conn::{Bind, Conn, Row, statements};
pub use error::StoreError;
pub use store::{Store, StoreConfig};
pub use writing::{Writing, in_coop};
