//! Days that nothing covers, with the reason.

use super::axis::Axis;
use traybook_analytics::eaten::{Finding, Rule, Spread};
use traybook_answers::savings::{Wait, What};
use traybook_storage::savings::saving_rows::PurchaseRow;
use uuid::Uuid;

/// Days that no piece covers.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Hole {
    pub from: i32,
    pub to: i32,
    pub why: Why,
    /// First day of the lot before it.
    pub last: Option<i32>,
    /// The purchase that is held, and its day: of a farm that tops up, the day after the hole.
    pub purchase: Option<(Uuid, i32)>,
}

/// Why days are not covered.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Why {
    Price,
    Kg,
    Next,
    Missing,
}

impl Hole {
    /// What the number waits for.
    pub fn wait(&self, axis: &Axis, class: &str, feed: (Uuid, String)) -> Wait {
        let what = match self.why {
            Why::Price => What::HeldPrice,
            Why::Kg => What::HeldKg,
            Why::Next => What::NextPurchase,
            Why::Missing => What::Purchase,
        };
        let last = (self.why == Why::Missing).then(|| axis.date(self.to - 1));
        let first = self.purchase.map_or(self.from, |p| p.1);
        Wait {
            enterprise: Some(class.to_owned()),
            feed: Some(feed.1),
            feed_id: Some(feed.0),
            purchase_id: self.purchase.map(|p| p.0),
            from: Some(axis.date(first)),
            until: last,
            last_purchase_on: last.and(self.last).map(|day| axis.date(day)),
            ..Wait::of(what)
        }
    }
}

/// The days that no piece covers, with the reason.
pub(super) fn holes(made: &Spread, rows: &[&PurchaseRow], (first, as_of): (i32, i32)) -> Vec<Hole> {
    let mut pieces: Vec<(i32, i32)> = made.pieces.iter().map(|p| (p.from, p.to)).collect();
    pieces.sort_unstable();
    let mut holes = Vec::new();
    let (mut day, mut last) = (first, None);
    for (from, to) in pieces.into_iter().chain([(as_of, as_of)]) {
        if from > day {
            holes.push(Hole { last, ..hole(made, rows, (day, from)) });
        }
        last = Some(from);
        day = day.max(to);
    }
    holes
}

fn hole(made: &Spread, rows: &[&PurchaseRow], (from, to): (i32, i32)) -> Hole {
    let is_in = |day: i32| day >= from && day < to;
    // A farm that tops up ate a purchase on the days before it.
    let eaten_from = |f: &Finding| {
        let mut lots = made.lots.iter().filter(|l| l.day == f.day).map(|l| l.from).peekable();
        let is_own = lots.peek().is_none() && is_in(f.day);
        lots.find(|day| is_in(*day)).or_else(|| is_own.then_some(f.day))
    };
    let held = made.findings.iter().filter(|f| matches!(f.rule, Rule::Price | Rule::Kg));
    let held = held.filter_map(|f| Some((f, eaten_from(f)?))).min_by_key(|(_, day)| *day);
    if let Some((f, from)) = held {
        let why = if f.rule == Rule::Price { Why::Price } else { Why::Kg };
        let purchase = f.purchase.and_then(|at| rows.get(at)).map(|p| (p.id, f.day));
        return Hole { from, to, why, last: None, purchase };
    }
    if made.waits_from.is_some_and(|w| w <= from) {
        return Hole { from, to, why: Why::Next, last: None, purchase: None };
    }
    Hole { from, to, why: Why::Missing, last: None, purchase: None }
}
