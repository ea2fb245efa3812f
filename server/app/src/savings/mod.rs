//! Savings: what is estimated of every month, its report as text and as documents, closed months,
//! one farm over months, totals for programmes.

mod board;
mod close;
mod documents;
mod farm;
pub mod indicators;
mod load;
mod made;
pub mod programme;
pub mod programme_sum;
mod report;
mod reports;

pub use farm::{FarmMonth, Output};
pub(crate) use load::{FarmFacts, area_names, load, seen_farms};
pub(crate) use made::{Basis, Effect, Effects, Extras, FeedPrices, Made, YearSoFar};
pub(crate) use programme::{kept_cells, kept_cells_of_closed};
pub(crate) use report::total_of;
pub use report::{Form, read_month};
pub(crate) use reports::KeptTotal;
pub use reports::{MonthTotal, Reports};
