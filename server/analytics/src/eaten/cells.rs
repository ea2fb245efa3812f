//! Uses of months as cells of the saving: whole months, prices, and what is known.

use super::{MonthUse, Rules};
use crate::error::{ShapeError, check_length};

/// Uses of one enterprise. Farms x feeds x months, farm by farm and feed by feed.
#[derive(Debug, Clone, Copy)]
pub struct UseSlices<'a> {
    /// What the pieces say.
    pub uses: &'a [MonthUse],
    /// Animal-days of the groups that eat the feed.
    pub feed_animal_days: &'a [f64],
    /// Whether the feed is needed that month: in the ration, or bought often.
    pub is_needed: &'a [bool],
    /// Median price of the feed; feeds x months.
    pub median: &'a [Option<f64>],
    /// Animal-days of the enterprise; farms x months.
    pub animal_days: &'a [f64],
}

/// Cells of one enterprise, in the layout of [`UseSlices`].
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Cells {
    /// Amount in kg: of the whole month for a needed feed, of covered days for another.
    pub kg: Vec<f64>,
    /// Money a kg; not a number where there is none.
    pub price: Vec<f64>,
    /// Whether every needed feed is covered; farms x months.
    pub is_known: Vec<bool>,
    /// Share of the money that comes from lots in use; farms x months.
    pub open_share: Vec<f64>,
    /// Largest share of a needed feed's covered animal-days that comes from the lot in use at
    /// the start; farms x months.
    pub mixed_share: Vec<f64>,
}

/// Uses to cells.
///
/// A needed feed counts with its rate on all animal-days of the groups that eat it. A feed that
/// none of the animals there ate that month is covered by nothing eaten. Other feeds count as
/// they are covered and are never scaled up.
///
/// # Shape
/// An error names the slice whose length does not fit farms, feeds and months.
pub fn cells(
    slices: &UseSlices,
    feeds: usize,
    months: usize,
    rules: &Rules,
) -> Result<Cells, ShapeError> {
    let rows = slices.animal_days.len();
    let wanted = rows * feeds;
    let farms = rows.checked_div(months).unwrap_or(0);
    check_length("animal_days", rows, farms * months)?;
    check_length("uses", slices.uses.len(), wanted)?;
    check_length("feed_animal_days", slices.feed_animal_days.len(), wanted)?;
    check_length("is_needed", slices.is_needed.len(), wanted)?;
    check_length("median", slices.median.len(), feeds * months)?;
    let mut cells = Cells {
        kg: vec![0.0; wanted],
        price: vec![f64::NAN; wanted],
        is_known: vec![false; rows],
        open_share: vec![0.0; rows],
        mixed_share: vec![0.0; rows],
    };
    for row in 0..rows {
        fill(&mut cells, slices, (feeds, months), row, rules);
    }
    Ok(cells)
}

/// One farm-month.
fn fill(
    cells: &mut Cells,
    slices: &UseSlices,
    (feeds, months): (usize, usize),
    row: usize,
    rules: &Rules,
) {
    let (farm, t) = (row / months, row % months);
    let has_animals = slices.animal_days[row] > 0.0;
    let (mut is_known, mut needed) = (has_animals, 0_usize);
    let (mut money, mut open, mut mixed) = (0.0, 0.0, 0.0_f64);
    for k in 0..feeds {
        let at = (farm * feeds + k) * months + t;
        let (used, days) = (slices.uses[at], slices.feed_animal_days[at]);
        let share_of = |part: f64| if used.covered > 0.0 { part / used.covered } else { 0.0 };
        let mut kg = used.kg;
        if slices.is_needed[at] {
            needed += 1;
            kg = if days > 0.0 { share_of(used.kg) * days } else { 0.0 };
            is_known &= days <= 0.0 || used.covered >= rules.cover_min * days;
            mixed = mixed.max(share_of(used.mixed));
        }
        let median = slices.median[k * months + t].unwrap_or(f64::NAN);
        let price = if used.kg > 0.0 { used.cost / used.kg } else { median };
        let cost = if price.is_nan() { 0.0 } else { kg * price };
        money += cost;
        open += cost * share_of(used.open);
        cells.kg[at] = kg;
        cells.price[at] = price;
    }
    cells.is_known[row] = is_known && needed > 0;
    cells.open_share[row] = open / money.max(1e-12);
    cells.mixed_share[row] = mixed;
}
