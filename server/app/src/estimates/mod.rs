//! Estimates: did output change, who keeps spoiling, which seed lots, what was saved since the
//! start, whom to visit.
//!
//! The figures are made in the background when the co-operative's revision has moved
//! ([`making`]), stored in the database ([`figures`]) and read from there ([`read`]). The methods
//! are those of `traybook-analytics`.

mod conditions;
mod figures;
mod flags;
mod lots;
mod making;
mod output;
mod read;
mod spoilage;
mod stored;
mod visits;
mod why;

pub(crate) use figures::{Figures, Scatter, saving_basis, saving_months, scatter, years_so_far};
pub use lots::LOT_DAYS;
pub use read::{Few, OutputInShort};
pub(crate) use read::{ProgrammeOutput, programme_outputs};

pub(crate) use stored::{
    as_of, kept_feed_values, kept_service_prices, kept_suppliers, tray_correlation,
};

use std::collections::HashMap;
use uuid::Uuid;

/// Rows by their farm, each farm's in the order in which they came.
pub(crate) fn grouped<T>(
    rows: Vec<T>,
    farm: impl Fn(&T) -> Uuid,
) -> impl Iterator<Item = (Uuid, Vec<T>)> {
    let mut all: HashMap<Uuid, Vec<T>> = HashMap::new();
    for row in rows {
        all.entry(farm(&row)).or_default().push(row);
    }
    all.into_iter()
}

/// Puts a value into a cell of a panel; one outside it is left out.
fn put(cells: &mut [f64], at: usize, value: f64) {
    if let Some(cell) = cells.get_mut(at) {
        *cell = value;
    }
}
