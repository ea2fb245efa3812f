//! What contradicts itself across records, or looks unlikely.

pub mod list;

pub(crate) use list::find;
pub use list::{Asked, FINDINGS_MAX, WINDOW_DAYS};
