//! What contradicts itself across records, or looks unlikely.
//!
//! [`find`] looks through records by the rules of `traybook_domain::review` when the figures are
//! made; [`cases`] keeps what was found and makes one finding of a rule's cases on a farm in a
//! quarter; [`history`] looks through whole histories in the background; [`list`] is read.

mod cases;
mod find;
mod history;
pub mod list;

pub use find::WINDOW_DAYS;
pub(crate) use find::find;
pub use list::{Asked, FINDINGS_MAX};
