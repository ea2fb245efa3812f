//! Rations before fodder that no animal eats, or that cost what no other farm's does.

use super::purchases::usual;

/// The most bought feed that an animal of a class eats, kg dry matter a day: 4.5 % of a heavy
/// animal's live weight, of poultry twice what a heavy layer eats. Our own bounds; grams entered
/// for kilograms are a thousand times above.
pub const MOST: [(&str, f64); 9] = [
    ("dairy_cows", 25.0),
    ("other_cattle", 25.0),
    ("goats", 3.0),
    ("sheep", 3.0),
    ("pigs", 6.0),
    ("rabbits", 0.35),
    ("indigenous_chickens", 0.20),
    ("layers", 0.25),
    ("broilers", 0.30),
];
/// Factor off the class's median cost above or below which a ration is listed.
pub const COST_FACTOR: f64 = 4.0;
/// Factor between what was bought in the months before the start and the ration.
pub const BOUGHT_FACTOR: f64 = 3.0;

/// A ration of one group.
#[derive(Clone, Debug, PartialEq)]
pub struct Ration<'a> {
    /// Class of animal.
    pub class: &'a str,
    /// Dry matter an animal and day, kg; none where a feed's dry matter is not known.
    pub dry_matter: Option<f64>,
    /// Cost an animal and day; none where a feed's price is not known.
    pub cost: Option<f64>,
    /// What the rations of the class's other farms cost.
    pub others: Vec<f64>,
    /// Bought in the three months before the start over what the ration takes, kg and kg; none with
    /// fewer than three purchases.
    pub bought: Option<(f64, f64)>,
}

/// The rules that a ration breaks.
#[must_use]
pub fn ration_rules(ration: &Ration<'_>) -> Vec<&'static str> {
    let most = MOST.iter().find(|(class, _)| *class == ration.class).map(|(_, most)| *most);
    let is_much = ration.dry_matter.zip(most).is_some_and(|(kg, most)| kg > most);
    let cost = ration.cost.filter(|cost| *cost > 0.0);
    let apart = cost.zip(usual(ration.others.clone())).map(|(cost, usual)| cost / usual);
    let is_within = |ratio: f64, factor: f64| (1.0 / factor..=factor).contains(&ratio);
    let is_dear = apart.is_some_and(|ratio| !is_within(ratio, COST_FACTOR));
    let bought = ration.bought.filter(|(_, ration)| *ration > 0.0);
    let is_other = bought.is_some_and(|(kg, ration)| !is_within(kg / ration, BOUGHT_FACTOR));
    let rules =
        [("ration_too_much", is_much), ("ration_cost", is_dear), ("ration_not_bought", is_other)];
    rules.into_iter().filter(|(_, is)| *is).map(|(rule, _)| rule).collect()
}
