//! Partial budget, dominance and marginal rate of return.
//!
//! # Source
//! CIMMYT 1988, From Agronomic Data to Farmer Recommendations: An Economics Training Manual,
//! ISBN 968-6127-18-6 (CHECKS 2.9; the rules of 2.10 from memory): only what changes is counted;
//! a choice that costs more and brings no more is dominated; marginal rate of return = change in
//! net benefit / change in costs that vary; common minimum 50 to 100 %.

use serde::Serialize;

/// What changes when a farm changes one thing, currency units for the same time.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Change {
    /// Income that comes on top.
    pub added_income: f64,
    /// Costs that fall away.
    pub saved_cost: f64,
    /// Income that falls away.
    pub lost_income: f64,
    /// Costs that come on top.
    pub added_cost: f64,
}

impl Change {
    /// What the change brings; negative for a loss.
    #[must_use]
    pub fn net(&self) -> f64 {
        self.added_income + self.saved_cost - self.lost_income - self.added_cost
    }
}

/// Something that a farm may do.
#[derive(Clone, Debug, PartialEq)]
pub struct Choice {
    /// Name.
    pub name: String,
    /// Costs that vary between the choices, currency units.
    pub cost: f64,
    /// Net benefit, currency units.
    pub net_benefit: f64,
}

/// A choice in order of cost.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Ranked {
    /// Name.
    pub name: String,
    /// Costs that vary.
    pub cost: f64,
    /// Net benefit.
    pub net_benefit: f64,
    /// Whether another one costs no more and brings at least as much.
    pub is_dominated: bool,
    /// Marginal rate of return against the next cheaper choice that is not dominated, per cent.
    pub marginal_rate_percent: Option<f64>,
}

/// The choices in order, and the one to take.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Ranking {
    /// By cost, the cheapest first.
    pub choices: Vec<Ranked>,
    /// Name of the choice to take under the minimum rate of return.
    pub chosen: Option<String>,
}

/// Ranks choices and takes the dearest one that each step up to it pays for: a step from the
/// choice taken so far must bring at least `minimum_percent` on the money added.
///
/// Choices with a cost or benefit that is no finite number are left out.
#[must_use]
pub fn rank(choices: &[Choice], minimum_percent: f64) -> Ranking {
    let finite = |c: &&Choice| c.cost.is_finite() && c.net_benefit.is_finite();
    let mut sorted: Vec<&Choice> = choices.iter().filter(finite).collect();
    // Of the same cost the better one first, so that the other is dominated.
    sorted.sort_by(|a, b| a.cost.total_cmp(&b.cost).then(b.net_benefit.total_cmp(&a.net_benefit)));
    let rate = |from: &Choice, to: &Choice| {
        100.0 * (to.net_benefit - from.net_benefit) / (to.cost - from.cost)
    };
    let mut ranked = Vec::with_capacity(sorted.len());
    let (mut best, mut chosen): (Option<&Choice>, Option<&Choice>) = (None, None);
    for choice in sorted {
        let is_dominated = best.is_some_and(|b| choice.net_benefit <= b.net_benefit);
        let mut marginal = None;
        if !is_dominated {
            marginal = best.map(|b| rate(b, choice));
            best = Some(choice);
            if chosen.is_none_or(|c| rate(c, choice) >= minimum_percent) {
                chosen = Some(choice);
            }
        }
        ranked.push(Ranked {
            name: choice.name.clone(),
            cost: choice.cost,
            net_benefit: choice.net_benefit,
            is_dominated,
            marginal_rate_percent: marginal,
        });
    }
    Ranking { choices: ranked, chosen: chosen.map(|c| c.name.clone()) }
}
