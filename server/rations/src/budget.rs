//! Partial budget, dominance and marginal rate of return.
//!
//! # Source
//! CIMMYT 1988, From Agronomic Data to Farmer Recommendations: An Economics Training Manual,
//! ISBN 968-6127-18-6 (CHECKS 2.9; the rules of 2.10 from memory): only what changes is counted;
//! a choice that costs more and brings no more is dominated; marginal rate of return = change in
//! net benefit / change in costs that vary; common minimum 50 to 100 %.

use crate::limits::{CHOICES_MAX, COST_MAX, RATE_PERCENT_MAX};
use crate::read::{Reader, outcome};
use crate::words::{self, money};
use serde::Serialize;
use serde_json::{Map, Value as Json};
use std::collections::HashSet;
use traybook_domain::FieldError;
use utoipa::ToSchema;

/// Minimum rate of return where none is asked for, per cent: the upper end of the common 50 to
/// 100 %, since money lent to members is dear.
pub const MINIMUM_PERCENT: f64 = 100.0;

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
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
#[schema(as = RankedChoice)]
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

/// A question: changes to be budgeted, choices to be ranked, or both.
#[derive(Clone, Debug, PartialEq)]
pub struct Request {
    changes: Vec<(String, Change)>,
    choices: Vec<Choice>,
    minimum_percent: f64,
    currency: Option<String>,
}

/// What a change brings.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
#[schema(as = BudgetedChange)]
pub struct Budget {
    /// Name.
    pub name: String,
    /// Income that comes on top, and costs that fall away.
    pub gains: f64,
    /// Income that falls away, and costs that come on top.
    pub losses: f64,
    /// Gains less losses.
    pub net: f64,
    /// What it means.
    pub sentence: String,
}

/// The answer.
#[derive(Clone, Debug, PartialEq, Serialize, ToSchema)]
#[schema(as = PartialBudget)]
pub struct Answer {
    /// Changes as they were given.
    pub changes: Vec<Budget>,
    /// Choices by cost, the cheapest first.
    pub choices: Vec<Ranked>,
    /// Minimum rate of return, per cent.
    pub minimum_percent: f64,
    /// Name of the choice to take; none where there are no choices.
    pub chosen: Option<String>,
    /// What it means.
    pub sentence: String,
    /// Whom to ask.
    pub caution: &'static str,
}

impl Request {
    /// Reads a question.
    ///
    /// # Errors
    /// Everything that is wrong with it. All four parts of a change must be given: what was left
    /// out is not known, and 0 where nothing of the kind changes.
    pub fn read(request: &Map<String, Json>) -> Result<Self, Vec<FieldError>> {
        let mut top = Reader::new(request);
        let minimum = top.number("minimum_percent", (0.0, RATE_PERCENT_MAX));
        let currency = top.text("currency");
        let mut errors = Vec::new();
        let mut changes = Vec::new();
        for (map, at) in top.objects("changes", (0, CHOICES_MAX)) {
            let mut r = Reader::at(map, at);
            let name = name(&mut r);
            let mut part = |of| r.needed(of, (0.0, COST_MAX));
            let parts = (part("added_income"), part("saved_cost"), part("lost_income"));
            let change = Change {
                added_income: parts.0.unwrap_or(0.0),
                saved_cost: parts.1.unwrap_or(0.0),
                lost_income: parts.2.unwrap_or(0.0),
                added_cost: part("added_cost").unwrap_or(0.0),
            };
            errors.extend(r.finish());
            changes.extend(name.map(|name| (name, change)));
        }
        let (mut choices, mut names) = (Vec::new(), HashSet::new());
        for (map, at) in top.objects("choices", (0, CHOICES_MAX)) {
            let mut r = Reader::at(map, at);
            let name = name(&mut r);
            let cost = r.needed("cost", (0.0, COST_MAX)).unwrap_or(0.0);
            let net_benefit = r.needed("net_benefit", (-COST_MAX, COST_MAX)).unwrap_or(0.0);
            if name.as_ref().is_some_and(|name| !names.insert(name.clone())) {
                r.refuse("name", "taken", "give each choice a name of its own");
            }
            errors.extend(r.finish());
            choices.extend(name.map(|name| Choice { name, cost, net_benefit }));
        }
        let asks = |list: &str| request.get(list).is_some_and(|l| l != &Json::Array(Vec::new()));
        if !asks("changes") && !asks("choices") {
            top.refuse("changes", "required", "give changes to budget, or choices to rank");
        }
        let mut all = top.finish();
        all.extend(errors);
        let minimum_percent = minimum.unwrap_or(MINIMUM_PERCENT);
        outcome(Some(Self { changes, choices, minimum_percent, currency }), all)
    }

    /// The answer.
    #[must_use]
    pub fn answer(&self) -> Answer {
        let changes: Vec<Budget> = self.changes.iter().map(|(n, c)| self.budget(n, c)).collect();
        let Ranking { choices, chosen } = rank(&self.choices, self.minimum_percent);
        let best = changes.iter().max_by(|a, b| a.net.total_cmp(&b.net));
        let sentence = match (&chosen, best) {
            (Some(name), _) => format!(
                "Take {name}: of the choices it is the dearest to which each step brings at least \
                 {} % on the money added.",
                words::number(self.minimum_percent)
            ),
            (None, Some(best)) if best.net > 0.0 => format!("{} brings most.", best.name),
            (None, _) => "None of it brings more than it costs.".to_owned(),
        };
        Answer {
            changes,
            choices,
            minimum_percent: self.minimum_percent,
            chosen,
            sentence,
            caution: crate::CAUTION,
        }
    }

    fn budget(&self, name: &str, change: &Change) -> Budget {
        let net = change.net();
        let amount = money(net.abs(), self.currency.as_deref());
        let sentence = if net > 0.0 {
            format!("{name} brings {amount}.")
        } else if net < 0.0 {
            format!("{name} loses {amount}.")
        } else {
            format!("{name} neither gains nor loses.")
        };
        Budget {
            name: name.to_owned(),
            gains: change.added_income + change.saved_cost,
            losses: change.lost_income + change.added_cost,
            net,
            sentence,
        }
    }
}

fn name(r: &mut Reader<'_>) -> Option<String> {
    if r.value("name").is_none() {
        r.refuse("name", "required", "give name");
        return None;
    }
    r.text("name")
}
