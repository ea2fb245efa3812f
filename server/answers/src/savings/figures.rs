//! Figures of a farm, or sums over farms.

use super::SinceStart;
use crate::Decimal;
use serde::{Deserialize, Serialize};
use utoipa::ToSchema;

/// Money of a month. Each difference stands beside its parts: `feed_saving` is `baseline_cost` less
/// `eaten_cost`; `saving` is `feed_saving` less `seed_cost`, `other_cost` and `depreciation`; `net`
/// is `saving` and `output_value`.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize, ToSchema)]
#[schema(as = SavingsMoney)]
pub struct Money {
    /// Head × days.
    pub animal_days: Option<i64>,
    /// What the same animals would have eaten without fodder, at this month's prices, currency
    /// units.
    pub baseline_cost: Option<Decimal>,
    /// Bought feed that was eaten, currency units.
    pub eaten_cost: Option<Decimal>,
    /// The difference, currency units.
    pub feed_saving: Option<Decimal>,
    /// Seed soaked, currency units.
    pub seed_cost: Option<Decimal>,
    /// Labour, water and other costs, currency units.
    pub other_cost: Option<Decimal>,
    /// Straight-line depreciation, currency units.
    pub depreciation: Option<Decimal>,
    /// Saving, currency units; negative for a loss.
    pub saving: Option<Decimal>,
    /// 95 % interval of the saving, currency units.
    pub saving_interval: Option<Interval>,
    /// Milk or eggs gained or lost, currency units; null without a price or an estimate.
    pub output_value: Option<Decimal>,
    /// 95 % interval of it, currency units.
    pub output_value_interval: Option<Interval>,
    /// Saving with milk or eggs gained or lost, currency units.
    pub net: Option<Decimal>,
    /// 95 % interval of it, currency units.
    pub net_interval: Option<Interval>,
}

/// Figures of a farm, or sums over farms. What was not recorded is added up as 0; see
/// [`super::FarmLine::recorded`] and [`super::Total::recorded`].
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize, ToSchema)]
#[schema(as = SavingsFigures)]
pub struct Figures {
    /// Money.
    #[serde(flatten)]
    pub money: Money,
    /// Feed bought in the month, currency units: not the feed eaten.
    pub bought_cost: Option<Decimal>,
    /// Saving, per cent of the baseline.
    pub saving_percent_of_baseline: Option<Decimal>,
    /// Saving a head and day, currency units; null of a farm with several classes of animals.
    pub saving_per_animal_day: Option<Decimal>,
    /// Saving a litre of milk, currency units, over what has both.
    pub saving_per_litre: Option<Decimal>,
    /// Saving an egg, currency units, over what has both.
    pub saving_per_egg: Option<Decimal>,
    /// Fresh fodder fed, kg, as far as it was weighed.
    pub fresh_fodder_fed_kg: Option<Decimal>,
    /// Its dry matter, kg.
    pub dry_matter_fed_kg: Option<Decimal>,
    /// Trays whose fodder was fed without being weighed.
    pub trays_fed_unweighed: Option<i64>,
    /// Cost of a kg of dry matter of fodder, currency units.
    pub fodder_cost_per_kg_dry_matter: Option<Decimal>,
    /// Cost of a kg of fresh fodder, currency units: mostly water.
    pub fodder_cost_per_kg_fresh_misleading: Option<Decimal>,
    /// Trays spread.
    pub trays_started: Option<i64>,
    /// Trays discarded.
    pub trays_discarded: Option<i64>,
    /// Trays discarded, per cent of those spread.
    pub trays_discarded_percent: Option<Decimal>,
    /// Milk, litres.
    pub milk_litres: Option<Decimal>,
    /// Litres a cow and day with a record.
    pub litres_per_cow_day: Option<Decimal>,
    /// Eggs.
    pub eggs: Option<i64>,
    /// Eggs of 100 hens a day with a record.
    pub hen_day_percent: Option<Decimal>,
}

/// An interval of money, currency units.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, ToSchema)]
#[schema(as = MoneyInterval)]
pub struct Interval {
    /// Lower end.
    pub low: Decimal,
    /// Upper end.
    pub high: Decimal,
}

impl Figures {
    /// Milk and eggs are 0 where nobody milks or collects, and where nobody wrote it down.
    pub(super) fn with_output(&self) -> Self {
        Self {
            milk_litres: self.milk_litres.filter(|_| self.litres_per_cow_day.is_some()),
            eggs: self.eggs.filter(|_| self.hen_day_percent.is_some()),
            ..*self
        }
    }
}

impl Money {
    /// What growing fodder cost, currency units: seed, other costs, depreciation, of these what is
    /// known.
    #[must_use]
    pub fn fodder_cost(&self) -> Option<f64> {
        let parts = [self.seed_cost, self.other_cost, self.depreciation];
        parts.into_iter().flatten().map(Decimal::real).reduce(|a, b| a + b)
    }

    /// Saving with its 95 % interval, currency units: saving, lower end, upper end.
    #[must_use]
    pub fn saving_between(&self) -> Option<(f64, f64, f64)> {
        let (low, high) = self.saving_interval?.ends();
        Some((self.saving?.real(), low, high))
    }
}

impl Interval {
    /// Lower and upper end.
    #[must_use]
    pub fn ends(self) -> (f64, f64) {
        (self.low.real(), self.high.real())
    }

    /// Whether zero lies in it: then neither "saved" nor "lost" may be said.
    #[must_use]
    pub const fn holds_zero(self) -> bool {
        !self.low.is_positive() && !self.high.is_negative()
    }
}

impl SinceStart {
    /// Months with a number that a farm needs until it can be told whether it saves, at the soonest.
    ///
    /// The sum grows with the months, its interval with their root. What is not known of the baseline
    /// does not shrink, so it may take longer. None where it can be told, or nothing was saved.
    #[must_use]
    pub fn months_to_tell(&self, classes: usize) -> Option<f64> {
        let interval = self.saving_interval.filter(|i| i.holds_zero())?;
        let (low, high) = interval.ends();
        let (rows, half) = (f64::from(i32::try_from(self.farm_months).ok()?), (high - low) / 2.0);
        let ratio = half / self.saving.real().abs();
        let classes = f64::from(u32::try_from(classes).ok()?.max(1));
        Some((rows * ratio * ratio / classes).ceil()).filter(|months| months.is_finite())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn since(saving: i64, low: i64, high: i64) -> SinceStart {
        let money = |units| Decimal::new(units, 0);
        let saving_interval = Some(Interval { low: money(low), high: money(high) });
        let (farm_months, of_farm_months) = (4, 6);
        SinceStart { saving: money(saving), saving_interval, farm_months, of_farm_months }
    }

    /// [ARITH] 100 ± 200 after 4 months: twice as wide as the saving takes four times as many.
    #[test]
    fn months_until_it_can_be_told_grow_with_the_square() {
        assert_eq!(since(100, -100, 300).months_to_tell(1), Some(16.0));
        assert_eq!(since(-100, -300, 100).months_to_tell(1), Some(16.0), "a loss");
        assert_eq!(since(100, -100, 300).months_to_tell(2), Some(8.0), "two classes of animals");
        assert_eq!(since(100, 50, 150).months_to_tell(1), None, "told already");
        assert_eq!(since(0, -100, 100).months_to_tell(1), None, "nothing saved");
        let none = SinceStart { saving_interval: None, ..since(1, 0, 0) };
        assert_eq!(none.months_to_tell(1), None);
    }
}
