//! Milk and eggs in money: what the estimate of the output change is worth at the farm's prices.

use super::Made;
use std::collections::HashMap;
use traybook_answers::estimates::Enterprise;
use traybook_domain::effects::{Measure, Sums};
use traybook_domain::value::real;
use traybook_reports::savings::{Between, Given, OutputMoney, Row, joined, whole};
use uuid::Uuid;

/// A change in output, per cent, with its 95 % interval.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Effect {
    pub percent: f64,
    pub low: f64,
    pub high: f64,
    /// Whether it was shown to be an effect of fodder; else it is an association.
    pub is_causal: bool,
}

/// Changes in output by enterprise.
#[derive(Clone, Debug, Default)]
pub(crate) struct Effects {
    pub farms: HashMap<(Uuid, Enterprise), Effect>,
    pub areas: HashMap<(Uuid, Enterprise), Effect>,
    pub all: HashMap<Enterprise, Effect>,
}

/// Prices of a month, minor units a litre or an egg.
pub(super) struct Prices {
    farms: HashMap<(Uuid, Enterprise), f64>,
    all: HashMap<Enterprise, f64>,
}

impl Prices {
    /// The mean of what each farm sold at a price; of the others the co-operative's.
    pub fn of(sums: &HashMap<Uuid, Sums>) -> Self {
        let mut prices = Self { farms: HashMap::new(), all: HashMap::new() };
        for enterprise in Enterprise::ALL.iter().copied() {
            let (mut units, mut minor) = (0.0, 0.0);
            for (farm, sums) in sums {
                let (sold, paid) = sold(enterprise, sums);
                if sold > 0.0 {
                    prices.farms.insert((*farm, enterprise), paid / sold);
                    units += sold;
                    minor += paid;
                }
            }
            if units > 0.0 {
                prices.all.insert(enterprise, minor / units);
            }
        }
        prices
    }

    fn price(&self, farm: Uuid, enterprise: Enterprise) -> Option<f64> {
        self.farms.get(&(farm, enterprise)).or_else(|| self.all.get(&enterprise)).copied()
    }
}

/// Litres or eggs sold at a price, and minor units.
fn sold(enterprise: Enterprise, sums: &Sums) -> (f64, f64) {
    let of = |m: Measure| real(sums.get(m.index()).copied().unwrap_or(0));
    match enterprise {
        Enterprise::Milk => (of(Measure::MilkSoldMl) / 1000.0, of(Measure::MilkSoldMinor)),
        Enterprise::Eggs => (of(Measure::EggsSold), of(Measure::EggsSoldMinor)),
    }
}

/// What milk or eggs of a row sell for; none without a price.
fn value(farm: Uuid, row: &Row, prices: &Prices) -> Option<(Enterprise, f64)> {
    row.money?;
    let (enterprise, units) = match row.given? {
        Given::Milk(ml) => (Enterprise::Milk, real(ml) / 1000.0),
        Given::Eggs(eggs) => (Enterprise::Eggs, real(eggs)),
    };
    Some((enterprise, units * prices.price(farm, enterprise)?))
}

/// What part of a value is gained: without fodder there would have been value / (1 + change).
fn gained(value: f64, effect: Effect) -> OutputMoney {
    let of = |percent: f64| whole(value * (1.0 - 1.0 / (1.0 + percent / 100.0).max(1e-9)));
    let (low, high) = (of(effect.low), of(effect.high));
    let between = Between { value: of(effect.percent), low, high };
    OutputMoney { between, is_causal: effect.is_causal }
}

impl Made {
    /// Puts in the changes in output.
    pub fn put_effects(&mut self, effects: Effects) {
        self.effects = effects;
    }

    /// Milk or eggs of a farm's row in money.
    pub(super) fn output_of(&self, farm: Uuid, row: &Row, prices: &Prices) -> Option<OutputMoney> {
        let (enterprise, value) = value(farm, row, prices)?;
        Some(gained(value, *self.effects.farms.get(&(farm, enterprise))?))
    }

    /// Milk and eggs of farms together in money, by the change of their sum; `area` or all.
    pub(super) fn output_sum<'a>(
        &self,
        rows: impl Iterator<Item = (Uuid, &'a Row)>,
        prices: &Prices,
        area: Option<Uuid>,
    ) -> Option<OutputMoney> {
        let mut sums: HashMap<Enterprise, f64> = HashMap::new();
        for (farm, row) in rows {
            if let Some((enterprise, value)) = value(farm, row, prices) {
                *sums.entry(enterprise).or_default() += value;
            }
        }
        let effect = |enterprise: &Enterprise| match area {
            Some(area) => self.effects.areas.get(&(area, *enterprise)),
            None => self.effects.all.get(enterprise),
        };
        let of = |(enterprise, value): (&Enterprise, &f64)| {
            effect(enterprise).map(|effect| gained(*value, *effect))
        };
        sums.iter().map(of).fold(None, joined)
    }
}
