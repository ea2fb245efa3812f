//! Purchases of one day as lots, and store counts that split them.

use super::{Finding, Purchase, Rule, Rules, Series};

/// What was bought on one day, or what a count left of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Lot {
    pub day: i32,
    pub kg: f64,
    pub cost: f64,
    /// Held because of its price.
    pub is_held: bool,
    /// Accepted or counted: its rate is not doubted.
    pub is_sure: bool,
    pub purchase: Option<usize>,
}

/// Lots by day, and what is wrong with prices and counts.
pub(super) fn lots(series: &Series, rules: &Rules, findings: &mut Vec<Finding>) -> Vec<Lot> {
    let mut order: Vec<usize> = (0..series.purchases.len()).collect();
    order.sort_by_key(|p| series.purchases[*p].day);
    let mut lots: Vec<Lot> = Vec::new();
    for p in order {
        let purchase = series.purchases[p];
        if !(purchase.kg > 0.0 && purchase.kg.is_finite()) {
            continue;
        }
        let (cost, is_held) = judged_cost(&purchase, rules);
        if is_held {
            findings.push(Finding { day: purchase.day, rule: Rule::Price, purchase: Some(p) });
        }
        let is_sure = purchase.is_accepted;
        match lots.last_mut().filter(|lot| lot.day == purchase.day) {
            Some(lot) => {
                lot.kg += purchase.kg;
                lot.cost += cost;
                lot.is_held |= is_held;
                lot.is_sure |= is_sure;
            }
            None => lots.push(Lot {
                day: purchase.day,
                kg: purchase.kg,
                cost,
                is_held,
                is_sure,
                purchase: Some(p),
            }),
        }
    }
    split(&mut lots, series, findings);
    lots
}

/// Money of a purchase, and whether its price holds it. An accepted one without a price counts
/// at the median.
fn judged_cost(purchase: &Purchase, rules: &Rules) -> (f64, bool) {
    let cost = if purchase.cost.is_finite() { purchase.cost } else { 0.0 };
    let Some(median) = purchase.median.filter(|m| m.is_finite()) else {
        return (cost, false);
    };
    if purchase.is_accepted {
        return (if cost <= 0.0 { purchase.kg * median } else { cost }, false);
    }
    if median <= 0.0 {
        return (cost, false);
    }
    let is_far = (cost / purchase.kg / median).ln().abs() > rules.price.ln();
    (cost, cost <= 0.0 || is_far)
}

/// A count ends the lot in use: what is left is a new lot at the same price.
///
/// A count on a purchase day counts before that purchase, so what is left joins it. A count
/// after an empty lot says nothing.
fn split(lots: &mut Vec<Lot>, series: &Series, findings: &mut Vec<Finding>) {
    let mut counts: Vec<(i32, f64)> = series.counts.iter().map(|c| (c.day, c.kg)).collect();
    counts.retain(|c| c.1 >= 0.0 && c.1.is_finite());
    counts.sort_by(|a, b| a.0.cmp(&b.0).then(a.1.total_cmp(&b.1)));
    let mut counted = None;
    for (day, left) in counts {
        let next = lots.partition_point(|lot| lot.day < day);
        let Some(place) = next.checked_sub(1) else {
            continue;
        };
        let used = lots[place];
        if used.kg <= 0.0 {
            continue;
        }
        if counted == Some(day) || left > used.kg {
            findings.push(Finding { day, rule: Rule::Stock, purchase: None });
            continue;
        }
        counted = Some(day);
        let price = used.cost / used.kg;
        lots[place] =
            Lot { kg: used.kg - left, cost: price * (used.kg - left), is_sure: true, ..used };
        match lots.get_mut(next).filter(|lot| lot.day == day) {
            Some(bought) => {
                bought.kg += left;
                bought.cost += price * left;
                bought.is_held |= used.is_held && left > 0.0;
            }
            None => lots.insert(
                next,
                Lot { day, kg: left, cost: price * left, is_sure: true, purchase: None, ..used },
            ),
        }
    }
}
