//! How sure a farm's saving of a month is.
//!
//! The saving's uncertainty is that of its baseline: what the farm's feed cost per animal-day
//! scattered before the start (relative variance, moderated over farms). The report applies it to
//! the baseline it shows, which rests on the recorded ration.

use super::{Estimates, version};
use crate::error::AppError;
use std::collections::HashMap;
use traybook_analytics::feed_panel::{FeedPanel, FeedSlices};
use traybook_analytics::prices::fill_prices;
use traybook_analytics::saving::{SavingRules, feed_saving};
use traybook_analytics::stats::student_t_critical_95;
use traybook_domain::Month;
use traybook_domain::herd::{HerdMonth, animal_days};
use traybook_storage::{Conn, estimate_rows, report_rows};
use uuid::Uuid;

/// Half widths of the 95 % intervals, as shares of the baseline, by farm and month.
type HalfWidths = HashMap<(Uuid, Month), f64>;

/// The farms' half widths in one month.
pub(super) fn half_widths(
    conn: &mut Conn,
    kept: &Estimates,
    coop: i64,
    today: chrono::NaiveDate,
    month: Month,
) -> Result<Vec<(Uuid, f64)>, AppError> {
    let version = version(conn, coop, today)?;
    let all = kept.get((coop, "half_widths"), version, || make(conn, coop))?;
    Ok(all.iter().filter(|((_, m), _)| *m == month).map(|((f, _), w)| (*f, *w)).collect())
}

fn make(conn: &mut Conn, coop: i64) -> Result<HalfWidths, AppError> {
    let cells = estimate_rows::feed_cells(conn, coop)?;
    let months = cells.iter().map(|c| c.month);
    let Some((first, last)) = months.clone().min().zip(months.max()) else {
        return Ok(HashMap::new());
    };
    let farms = report_rows::farms(conn, coop)?;
    let count = usize::try_from(last.number() - first.number() + 1).unwrap_or(0);
    let index: HashMap<Uuid, usize> = farms.iter().enumerate().map(|(i, f)| (f.farm, i)).collect();
    let mut feeds: Vec<Uuid> = cells.iter().map(|c| c.feed).collect();
    feeds.sort_unstable();
    feeds.dedup();
    let size = farms.len() * count;
    let mut quantity = vec![f64::NAN; size * feeds.len()];
    let mut price = vec![f64::NAN; size * feeds.len()];
    for cell in &cells {
        let Some(farm) = index.get(&cell.farm) else { continue };
        let month = usize::try_from(cell.month.number() - first.number()).unwrap_or(0);
        let at = (farm * count + month) * feeds.len();
        // A month with any feed record is known: what was not bought is 0.
        for slot in quantity.iter_mut().skip(at).take(feeds.len()).filter(|q| q.is_nan()) {
            *slot = 0.0;
        }
        let feed = feeds.binary_search(&cell.feed).unwrap_or(0);
        put(&mut quantity, at + feed, real(cell.grams) / 1000.0);
        if cell.grams > 0 {
            put(&mut price, at + feed, real(cell.cost_minor) * 1000.0 / real(cell.grams));
        }
    }
    let mut price = fill_prices(&price, farms.len(), count, feeds.len())
        .map_err(|e| AppError::Internal(e.to_string()))?;
    price_unused(&mut price, &quantity, feeds.len());
    let days = all_animal_days(conn, coop, &index, first, count)?;
    let start: Vec<Option<u32>> = farms.iter().map(|f| start(f, first, last)).collect();
    let zeros = vec![0.0; size];
    let slices = FeedSlices {
        quantity: &quantity,
        price: &price,
        other_cost: &zeros,
        animal_days: &days,
        output: &zeros,
        start: &start,
    };
    let panel = FeedPanel::new(count, feeds.len(), slices)
        .map_err(|e| AppError::Internal(e.to_string()))?;
    let savings = feed_saving(&panel, &SavingRules::default());
    let mut widths = HashMap::new();
    for (farm, answer) in farms.iter().zip(&savings.farms) {
        let Some(saving) = &answer.saving else { continue };
        let t = student_t_critical_95(saving.degrees_of_freedom);
        for month in &saving.months {
            let share = month.standard_error_per_day.map(|se| se / month.counterfactual_per_day);
            let by = i32::try_from(month.month).unwrap_or(0);
            if let Some(share) = share.filter(|s| s.is_finite()) {
                widths.insert((farm.farm, first.plus(by)), t * share);
            }
        }
    }
    Ok(widths)
}

/// A feed that a farm does not use needs some price, which then weighs nothing.
fn price_unused(price: &mut [f64], quantity: &[f64], feeds: usize) {
    for feed in 0..feeds {
        let mut known: Vec<f64> =
            price.iter().skip(feed).step_by(feeds).copied().filter(|p| p.is_finite()).collect();
        known.sort_by(f64::total_cmp);
        let Some(middle) = known.get(known.len() / 2).copied() else { continue };
        let cells = price.iter_mut().zip(quantity).skip(feed).step_by(feeds);
        for (slot, _) in cells.filter(|(p, q)| p.is_nan() && **q <= 0.0) {
            *slot = middle;
        }
    }
}

fn all_animal_days(
    conn: &mut Conn,
    coop: i64,
    index: &HashMap<Uuid, usize>,
    first: Month,
    count: usize,
) -> Result<Vec<f64>, AppError> {
    let mut groups: HashMap<(Uuid, Uuid), Vec<HerdMonth>> = HashMap::new();
    for (farm, group, herd) in estimate_rows::herds(conn, coop)? {
        groups.entry((farm, group)).or_default().push(herd);
    }
    let mut days = vec![f64::NAN; index.len() * count];
    for ((farm, _), herd) in groups {
        let Some(farm) = index.get(&farm) else { continue };
        for month in 0..count {
            let at = first.plus(i32::try_from(month).unwrap_or(0));
            let latest = herd.iter().rev().find(|h| h.month <= at).copied();
            if let Some(known) = animal_days(latest, at)
                && let Some(slot) = days.get_mut(farm * count + month)
            {
                *slot = if slot.is_nan() { real(known) } else { *slot + real(known) };
            }
        }
    }
    Ok(days)
}

fn start(farm: &report_rows::FarmRow, first: Month, last: Month) -> Option<u32> {
    let month = Month::of(farm.started_on?);
    if month > last {
        return None;
    }
    Some(u32::try_from(month.number() - first.number()).unwrap_or(0))
}

fn put(cells: &mut [f64], at: usize, value: f64) {
    if let Some(cell) = cells.get_mut(at) {
        *cell = value;
    }
}

/// Sums are far below 2^53, where a double is exact.
fn real(value: i64) -> f64 {
    #[expect(clippy::as_conversions, reason = "exact below 2^53")]
    {
        value as f64
    }
}
