//! Up to which price a feed is worth buying.

use super::model::{Model, What};
use crate::lp::{Found, Least, Linear, Row, Unreliable, is_binding, least, minimise};
use serde::Serialize;
use utoipa::ToSchema;

/// Up to which price a feed is worth buying for the mix.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, ToSchema)]
#[schema(as = FeedWorth)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum Worth {
    /// Below this price of a kg, more than its least amount is in the cheapest mix; above, not.
    UpTo {
        /// Currency units a kg as fed.
        price_per_kg: f64,
    },
    /// Without it the limits can not be met: it is in the mix at any price.
    Needed,
    /// It would not be in the mix even for nothing.
    Never,
}

/// The problem with a feed held at its least kg: its column is moved to the right side, and its
/// own limits in kg are gone.
fn held(model: &Model<'_>, feed: usize) -> (Linear, Vec<usize>) {
    let least = model.request.feeds.get(feed).and_then(|f| f.kg.0).unwrap_or(0.0) / model.kg_scale;
    let own = |what: What| what == What::Kg(feed);
    let rows = model.linear.rows.iter().zip(&model.limits).enumerate();
    let kept: Vec<usize> = rows.filter(|(_, (_, l))| !own(l.what)).map(|(i, _)| i).collect();
    let moved = |i: &usize| {
        let row = model.linear.rows.get(*i)?;
        let factor = row.factors.get(feed).copied().unwrap_or(0.0);
        let mut factors = row.factors.clone();
        *factors.get_mut(feed)? = 0.0;
        Some(Row { factors, sense: row.sense, right: row.right - factor * least })
    };
    (
        Linear { costs: model.linear.costs.clone(), rows: kept.iter().filter_map(moved).collect() },
        kept,
    )
}

/// Up to which price a feed is worth buying.
///
/// With the feed held at its least amount, the cost falls by `a · y` for the first kg of it that
/// comes for nothing, `a` its column and `y` the multipliers; the smallest `a · y` over the best
/// multipliers is what a kg is worth.
pub fn of(model: &Model<'_>, feed: usize) -> Result<Worth, Unreliable> {
    let (mut problem, kept) = held(model, feed);
    // Held at its least amount it costs nothing more: the price must not matter here.
    if let Some(cost) = problem.costs.get_mut(feed) {
        *cost = 0.0;
    }
    let x = match minimise(&problem)? {
        Found::Best(mut x) => {
            if let Some(own) = x.get_mut(feed) {
                *own = 0.0;
            }
            x
        }
        Found::Impossible => return Ok(Worth::Needed),
        Found::Unbounded => return Err(Unreliable("a mix without a least cost".to_owned())),
    };
    let factor = |i: &usize| model.linear.rows.get(*i).and_then(|r| r.factors.get(feed)).copied();
    let direction: Vec<f64> = kept.iter().map(|i| factor(i).unwrap_or(0.0)).collect();
    Ok(match least(&problem, &x, Some(feed), &direction)? {
        Least::Value(worth) if worth > 0.0 => {
            Worth::UpTo { price_per_kg: worth * model.money_scale }
        }
        Least::Value(_) | Least::Unbounded => Worth::Never,
    })
}

/// What loosening a binding row by one unit of its right side saves, scaled; `None` where the row
/// is not binding.
pub fn loosened(model: &Model<'_>, x: &[f64], row: usize) -> Result<Option<f64>, Unreliable> {
    let Some((own, limit)) = model.linear.rows.get(row).zip(model.limits.get(row)) else {
        return Ok(None);
    };
    if !is_binding(own, x) {
        return Ok(None);
    }
    let sign = if limit.is_min { 1.0 } else { -1.0 };
    let direction: Vec<f64> =
        (0..model.limits.len()).map(|i| if i == row { sign } else { 0.0 }).collect();
    Ok(match least(&model.linear, x, None, &direction)? {
        Least::Value(saves) => Some(saves.max(0.0)),
        Least::Unbounded => None,
    })
}

/// Where a largest amount of a feed binds: up to which price of a kg more than it is worth buying.
/// All limits that hold the feed down give way together.
pub fn beyond(model: &Model<'_>, x: &[f64], feed: usize) -> Result<Option<f64>, Unreliable> {
    let own = |what: What| what == What::Kg(feed) || what == What::Share(feed);
    let rows = model.linear.rows.iter().zip(&model.limits);
    let binds: Vec<bool> =
        rows.map(|(r, l)| own(l.what) && !l.is_min && is_binding(r, x)).collect();
    if !binds.contains(&true) {
        return Ok(None);
    }
    let factor = |(binds, limit): (&bool, &super::model::Limit)| {
        if *binds { -1.0 / limit.row_scale } else { 0.0 }
    };
    let direction: Vec<f64> = binds.iter().zip(&model.limits).map(factor).collect();
    let price = model.request.feeds.get(feed).and_then(|f| f.price).unwrap_or(0.0);
    Ok(match least(&model.linear, x, None, &direction)? {
        Least::Value(saves) => Some(price + saves.max(0.0) * model.money_scale),
        Least::Unbounded => None,
    })
}

/// What one kg more of the mix costs, scaled; `None` where there can be no more. Limits per kg of
/// dry matter and shares grow with it, limits of a day and in kg do not.
pub fn next_kg(model: &Model<'_>, x: &[f64]) -> Result<Option<f64>, Unreliable> {
    let amount = model.linear.rows.first().map_or(1.0, |r| r.right);
    let growth = |(row, limit): (&Row, &super::model::Limit)| match limit.what {
        What::Amount => -1.0,
        _ if limit.grows => -row.right / amount,
        _ => 0.0,
    };
    let direction: Vec<f64> = model.linear.rows.iter().zip(&model.limits).map(growth).collect();
    Ok(match least(&model.linear, x, None, &direction)? {
        Least::Value(value) => Some(-value),
        Least::Unbounded => None,
    })
}
