//! The savings report: loaded by farm, as text and as documents, closed months, one farm over
//! months.

mod close;
mod documents;
mod farm;
mod load;
pub mod programme;
mod report;
mod reports;

pub use farm::Output;
pub(crate) use load::{area_names, load, seen_farms};
pub use report::{Form, read_month};
pub use reports::Reports;
