//! The question as a linear problem in scaled units, and the way back.
//!
//! Columns are the kg of each feed as fed over the kg of the mix; rows have factors of at most 1;
//! money is counted in the dearest price. So the solver's tolerances mean the same for a
//! hen's handful and for a mill's season.

use super::{Amount, Per, Request};
use crate::feeds::Feed;
use crate::lp::{Linear, Row, Sense};
use crate::words;

/// Which limit a row stands for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum What {
    /// What the mix weighs.
    Amount,
    /// A limit on a nutrient, by its place in the request.
    Nutrient(usize),
    /// kg of one feed.
    Kg(usize),
    /// Share of one feed in the mix as fed.
    Share(usize),
}

/// A row with its way back to the units of the request.
#[derive(Clone, Copy, Debug)]
pub struct Limit {
    /// Which limit.
    pub what: What,
    /// Least or most.
    pub is_min: bool,
    /// The limit in the units of the request.
    pub asked: f64,
    /// Scaled right side, for a row divided by this.
    pub row_scale: f64,
    /// What one unit of the request is in units of the row's right side; for a share or a content
    /// of a mix whose weight is not fixed it is per kg of the mix (or of its dry matter).
    pub per_unit: PerUnit,
    /// Whether the right side grows with what the mix weighs.
    pub grows: bool,
}

/// How a unit of the request moves a row.
#[derive(Clone, Copy, Debug)]
pub enum PerUnit {
    /// The right side moves by this.
    Fixed(f64),
    /// It moves by this for each kg of the mix's dry matter.
    PerDryMatter(f64),
    /// It moves by this for each kg of the mix as fed.
    PerAsFed(f64),
}

/// The scaled problem.
pub struct Model<'a> {
    /// The question.
    pub request: &'a Request,
    /// Scaled problem.
    pub linear: Linear,
    /// What its rows stand for, in the same order.
    pub limits: Vec<Limit>,
    /// kg of one scaled unit of a feed.
    pub kg_scale: f64,
    /// Currency units of one scaled unit of price.
    pub money_scale: f64,
}

/// Content of a nutrient in a kg of a feed's dry matter: kg of protein, MJ, or its own unit.
pub fn content(feed: &Feed, nutrient: &str) -> f64 {
    let known = match nutrient {
        "dry_matter" => Some(1.0),
        "crude_protein" => feed.crude_protein_percent.map(|p| p / 100.0),
        "energy" => feed.energy_mj_per_kg,
        other => feed.others.get(other).copied(),
    };
    known.unwrap_or(0.0)
}

/// Units of the request in one unit of content: crude protein is asked for in per cent of the
/// dry matter.
pub fn unit(nutrient: &str, per: Per) -> f64 {
    if nutrient == "crude_protein" && per == Per::DryMatter { 0.01 } else { 1.0 }
}

impl<'a> Model<'a> {
    /// The scaled problem of a question.
    pub fn new(request: &'a Request) -> Self {
        let prices = request.feeds.iter().map(|f| f.price.unwrap_or(0.0));
        let dearest = prices.fold(0.0, f64::max);
        let money_scale = if dearest > 0.0 { dearest } else { 1.0 };
        let costs = request.feeds.iter().map(|f| f.price.unwrap_or(0.0) / money_scale).collect();
        let (limits, kg_scale) = (Vec::new(), request.amount.kg());
        let linear = Linear { costs, rows: Vec::new() };
        let mut model = Self { request, linear, limits, kg_scale, money_scale };
        model.add_rows();
        model
    }

    /// Dry matter shares of the feeds.
    pub fn dry(&self) -> impl Iterator<Item = f64> + '_ {
        self.request.feeds.iter().map(|f| f.dry_matter().unwrap_or(1.0))
    }

    fn add(&mut self, factors: Vec<f64>, sense: Sense, right: f64, limit: Limit) {
        let size = factors.iter().fold(0.0, |m: f64, a| m.max(a.abs()));
        let size = if size > 0.0 { size } else { 1.0 };
        let factors = factors.into_iter().map(|a| a / size).collect();
        self.linear.rows.push(Row { factors, sense, right: right / (size * self.kg_scale) });
        self.limits.push(Limit { row_scale: size, ..limit });
    }

    fn add_rows(&mut self) {
        let request = self.request;
        let dry: Vec<f64> = self.dry().collect();
        let ones = vec![1.0; dry.len()];
        let factors = match request.amount {
            Amount::DryMatter(_) => dry.clone(),
            Amount::AsFed(_) => ones.clone(),
        };
        let base = Limit {
            what: What::Amount,
            is_min: true,
            asked: request.amount.kg(),
            row_scale: 1.0,
            per_unit: PerUnit::Fixed(1.0),
            grows: false,
        };
        self.add(factors, Sense::Equal, request.amount.kg(), base);
        for (index, limit) in request.limits.iter().enumerate() {
            let unit = unit(&limit.nutrient, limit.per);
            let held: Vec<f64> = request
                .feeds
                .iter()
                .zip(&dry)
                .map(|(f, d)| d * content(f, &limit.nutrient))
                .collect();
            for (is_min, asked) in [(true, limit.min), (false, limit.max)] {
                let Some(asked) = asked else { continue };
                let (factors, right, per_unit) = match (limit.per, request.amount) {
                    (Per::Day, _) => (held.clone(), asked * unit, PerUnit::Fixed(unit)),
                    (Per::DryMatter, Amount::DryMatter(kg)) => {
                        (held.clone(), asked * unit * kg, PerUnit::Fixed(unit * kg))
                    }
                    (Per::DryMatter, Amount::AsFed(_)) => {
                        let over = |(h, d): (&f64, &f64)| tidy(*h, d * asked * unit);
                        let factors = held.iter().zip(&dry).map(over).collect();
                        (factors, 0.0, PerUnit::PerDryMatter(unit))
                    }
                };
                let (what, grows) = (What::Nutrient(index), limit.per == Per::DryMatter);
                let limit = Limit { what, is_min, asked, per_unit, grows, ..base };
                self.add(factors, sense(is_min), right, limit);
            }
        }
        for (j, feed) in request.feeds.iter().enumerate() {
            let one = |k: usize| if k == j { 1.0 } else { 0.0 };
            for (is_min, asked) in [(true, feed.kg.0), (false, feed.kg.1)] {
                // Nothing is below 0 kg anyway.
                let Some(asked) = asked.filter(|kg| !is_min || *kg > 0.0) else { continue };
                let factors = (0..dry.len()).map(one).collect();
                let limit = Limit { what: What::Kg(j), is_min, asked, ..base };
                self.add(factors, sense(is_min), asked, limit);
            }
            for (is_min, asked) in [(true, feed.share_percent.0), (false, feed.share_percent.1)] {
                let Some(asked) = asked.filter(|p| !is_min || *p > 0.0) else { continue };
                let share = asked / 100.0;
                let (factors, right, per_unit) = match request.amount {
                    Amount::AsFed(kg) => {
                        ((0..dry.len()).map(one).collect(), share * kg, PerUnit::Fixed(kg / 100.0))
                    }
                    Amount::DryMatter(_) => {
                        let factors = (0..dry.len()).map(|k| tidy(one(k), share)).collect();
                        (factors, 0.0, PerUnit::PerAsFed(0.01))
                    }
                };
                let (what, grows) = (What::Share(j), true);
                let limit = Limit { what, is_min, asked, per_unit, grows, ..base };
                self.add(factors, sense(is_min), right, limit);
            }
        }
    }

    /// Cost of a scaled point, currency units.
    pub fn cost(&self, x: &[f64]) -> f64 {
        let kg = x.iter().map(|x| x * self.kg_scale);
        self.request.feeds.iter().zip(kg).map(|(f, kg)| f.price.unwrap_or(0.0) * kg).sum()
    }

    /// kg as fed and kg of dry matter of a scaled point.
    pub fn weights(&self, x: &[f64]) -> (f64, f64) {
        let fed: f64 = x.iter().sum();
        let dry: f64 = x.iter().zip(self.dry()).map(|(x, d)| x * d).sum();
        (fed * self.kg_scale, dry * self.kg_scale)
    }

    /// Money for one unit of the request, from the scaled multiplier of a row.
    pub fn money_per_unit(&self, limit: &Limit, multiplier: f64, x: &[f64]) -> f64 {
        let (fed, dry) = self.weights(x);
        let units = match limit.per_unit {
            PerUnit::Fixed(units) => units,
            PerUnit::PerDryMatter(units) => units * dry,
            PerUnit::PerAsFed(units) => units * fed,
        };
        multiplier * self.money_scale / limit.row_scale * units
    }

    /// A limit as it was asked for, in words.
    pub fn words(&self, limit: &Limit) -> String {
        let side = if limit.is_min { "at least" } else { "at most" };
        let amount = words::number(limit.asked);
        let name = |j: usize| self.request.feeds.get(j).map_or("", |f| f.name.as_str());
        match limit.what {
            What::Amount => format!("{amount} {}", self.request.amount.words()),
            What::Kg(j) => format!("{side} {amount} kg of {}", name(j)),
            What::Share(j) => format!("{side} {amount} % of {} in the mix as fed", name(j)),
            What::Nutrient(i) => {
                let Some(l) = self.request.limits.get(i) else { return String::new() };
                format!("{side} {amount} {}", nutrient_words(&l.nutrient, l.per))
            }
        }
    }

    /// JSON pointer to a limit in the request.
    pub fn pointer(&self, limit: &Limit) -> String {
        let side = if limit.is_min { "min" } else { "max" };
        match limit.what {
            What::Amount => match self.request.amount {
                Amount::DryMatter(_) => "/dry_matter_kg".to_owned(),
                Amount::AsFed(_) => "/as_fed_kg".to_owned(),
            },
            What::Kg(j) => format!("/feeds/{j}/{side}_kg"),
            What::Share(j) => format!("/feeds/{j}/{side}_share_percent"),
            What::Nutrient(i) => {
                let at = self.request.limits.get(i).map_or("", |l| l.pointer.as_str());
                format!("{at}/{side}")
            }
        }
    }
}

/// Unit and name of a nutrient in a sentence.
pub fn nutrient_words(nutrient: &str, per: Per) -> String {
    match (nutrient, per) {
        ("crude_protein", Per::DryMatter) => "% crude protein in the dry matter".to_owned(),
        ("crude_protein", Per::Day) => "kg crude protein a day".to_owned(),
        ("energy", Per::DryMatter) => "MJ in a kg of dry matter".to_owned(),
        ("energy", Per::Day) => "MJ a day".to_owned(),
        ("dry_matter", _) => "kg dry matter a day".to_owned(),
        (other, Per::DryMatter) => format!("of {other} in a kg of dry matter"),
        (other, Per::Day) => format!("of {other} a day"),
    }
}

const fn sense(is_min: bool) -> Sense {
    if is_min { Sense::AtLeast } else { Sense::AtMost }
}

/// `a - b`, where what is only round-off is nothing.
fn tidy(a: f64, b: f64) -> f64 {
    let over = a - b;
    if over.abs() <= 1e-13 * a.abs().max(b.abs()) { 0.0 } else { over }
}
