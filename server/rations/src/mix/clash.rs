//! Which limits clash.
//!
//! # Source
//! Deletion filter for an irreducible set of clashing rows: Chinneck and Dravnieks 1991, ORSA
//! Journal on Computing 3:157-168. A limit is left out; where the others still clash without it,
//! it is dropped for good. What stays clashes, and without any one of it the rest can be met.

use super::answer::Clash;
use super::model::{Limit, Model, PerUnit, What};
use crate::lp::{Found, Linear, Row, Sense, Unreliable, minimise};
use crate::words;

fn with_rows(model: &Model<'_>, kept: &[usize], costs: Vec<f64>) -> Linear {
    let rows = kept.iter().filter_map(|i| model.linear.rows.get(*i)).cloned();
    Linear { costs, rows: rows.collect() }
}

/// An irreducible set of clashing limits. The amount is always kept: it is what was asked for.
pub fn explain(model: &Model<'_>) -> Result<Clash, Unreliable> {
    let nothing = vec![0.0; model.linear.costs.len()];
    let mut kept: Vec<usize> = (0..model.limits.len()).collect();
    for row in 0..model.limits.len() {
        if model.limits.get(row).is_none_or(|l| l.what == What::Amount) {
            continue;
        }
        let fewer: Vec<usize> = kept.iter().copied().filter(|i| *i != row).collect();
        if minimise(&with_rows(model, &fewer, nothing.clone()))? == Found::Impossible {
            kept = fewer;
        }
    }
    let mut clashing = Vec::new();
    for row in &kept {
        let Some(limit) = model.limits.get(*row).filter(|l| l.what != What::Amount) else {
            continue;
        };
        clashing.push((limit, reachable(model, *row, limit, &kept)?));
    }
    Ok(clash(model, &clashing))
}

/// How near to a limit a mix can come that keeps the others of the clash, in the units asked for.
fn reachable(
    model: &Model<'_>,
    row: usize,
    limit: &Limit,
    kept: &[usize],
) -> Result<Option<f64>, Unreliable> {
    let (PerUnit::Fixed(units), Some(own)) = (limit.per_unit, model.linear.rows.get(row)) else {
        return Ok(None);
    };
    let sign = if own.sense == Sense::AtLeast { -1.0 } else { 1.0 };
    let others: Vec<usize> = kept.iter().copied().filter(|i| *i != row).collect();
    let costs = own.factors.iter().map(|a| sign * a).collect();
    let left = |own: &Row, x: &[f64]| own.left(x) * limit.row_scale * model.kg_scale / units;
    Ok(match minimise(&with_rows(model, &others, costs))? {
        Found::Best(x) => Some(left(own, &x)),
        _ => None,
    })
}

fn clash(model: &Model<'_>, clashing: &[(&Limit, Option<f64>)]) -> Clash {
    let each: Vec<String> = clashing.iter().map(|(l, _)| model.words(l)).collect();
    let amount = model.limits.first().map(|l| model.words(l)).unwrap_or_default();
    let mut sentence = match each.as_slice() {
        [one] => format!("These feeds can not make {amount} with {one}."),
        many => format!(
            "These limits clash in {amount}: {}. Without any one of them the others can be met.",
            words::list(many)
        ),
    };
    let near = clashing.iter().filter_map(|(limit, reachable)| {
        let (reach, side) = ((*reachable)?, if limit.is_min { "most" } else { "least" });
        let what = Limit { asked: reach, ..**limit };
        let words = model.words(&what);
        let words = words.trim_start_matches("at least ").trim_start_matches("at most ");
        Some(format!(" With the rest kept, the {side} that can be had is {words}."))
    });
    sentence.extend(near);
    let limits = clashing.iter().map(|(limit, reachable)| super::answer::Clashing {
        limit: model.words(limit),
        pointer: model.pointer(limit),
        asked: limit.asked,
        reachable: *reachable,
    });
    Clash {
        status: super::answer::ImpossibleStatus::Impossible,
        limits: limits.collect(),
        sentence,
        caution: crate::CAUTION,
    }
}
