//! Records on SQLite and PostgreSQL, through diesel.
//!
//! [`store`] holds the only transactions, [`conn`] the one way to run a statement: portable SQL
//! text with `?` and typed binds, prepared once and cached by diesel. A query names and types its
//! columns once, with `columns!`. The record kinds' tables
//! are reached through [`records`], which builds its SQL from the kinds' declarations. No
//! permission checks, no HTTP, no business rules here.

pub mod about;
pub mod accounts;
pub mod batch_trays;
pub mod calendar_links;
pub mod changes;
mod columns;
pub mod conn;
pub mod copies;
pub mod damage;
pub mod epoch;
pub mod error;
pub mod estimate_rows;
pub mod event_sums;
pub mod failures;
pub mod farm_rows;
pub mod feed_floors;
pub mod guide;
pub mod history_rows;
pub mod import_layouts;
pub mod import_runs;
pub mod import_waits;
pub mod learned_rows;
pub mod logins;
pub mod migrate;
pub mod months;
pub mod passkeys;
mod patience;
pub mod photos;
pub mod planning_rows;
mod preview;
pub mod programme_rows;
pub mod records;
pub mod report_rows;
pub mod review_cases;
pub mod review_rows;
pub mod saving_rows;
pub mod schema;
pub mod security_log;
pub mod seed_rows;
pub mod settings;
pub mod sign_ins;
pub mod snapshots;
pub mod spoilage_rows;
pub mod spread;
pub mod store;
pub mod sums;
pub mod texts;
pub mod training_rows;
pub mod turns;
mod work;
pub mod writing;

pub use conn::{Bind, Conn, Row, statements};
pub use error::StoreError;
pub use store::{Store, StoreConfig};
pub use writing::{Writing, in_coop};
