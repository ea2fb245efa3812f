//! The savings report as it is published.

use super::{Adjustment, Amounts, Line, Report, Total};
use traybook_answers::Decimal;
use traybook_answers::savings::{self as answer, FarmLine, Figures, Interval, SavingsReport};
use traybook_answers::wire;
use traybook_domain::money::mul_div;

/// How the numbers came about.
pub const METHOD: &str = "saving = ration before fodder at this month's prices for the animals now kept, \
    minus feed, seed, other costs and straight-line depreciation actually spent; price of a feed: \
    the farm's own this month, else the co-operative's median this month, else its last median \
    within three months; 95 % intervals: of a farm from how its feed cost per animal-day scattered \
    before the start, of a sum from how farms differ in saving per animal-day";
/// Units of the figures.
pub const UNITS: &str =
    "money in currency units; milk in litres; fodder in kg; animal_days in head × days";
/// What to beware of.
pub const CAUTION: &str = "rations and animal health: ask the local livestock service; do not feed \
    mouldy fodder";
const FRESH: &str = "misleading: fresh fodder is mostly water; compare feeds per kg of dry matter";

/// A saving with its interval, minor units; none where there is no number.
#[derive(Clone, Copy)]
struct Saving {
    minor: Option<i64>,
    interval: Option<(i64, i64)>,
    /// Whether the cost before fodder is known.
    has_baseline: bool,
}

impl Report {
    /// The report as it is published.
    #[must_use]
    pub fn publish(&self, is_closed: bool) -> SavingsReport {
        let head = &self.head;
        let changes: i64 = head.adjustments.iter().map(Adjustment::change_minor).sum();
        SavingsReport {
            cooperative: head.cooperative.clone(),
            month: wire::Month(head.month),
            currency: head.currency.clone(),
            is_closed,
            data_version: head.data_version,
            method: METHOD.to_owned(),
            units: UNITS.to_owned(),
            fodder_dry_matter_percent: Decimal::new(head.fodder_dry_matter, 2),
            fresh_cost_is: FRESH.to_owned(),
            caution: CAUTION.to_owned(),
            farms: self.lines.iter().map(|l| self.farm(l)).collect(),
            areas: self.areas.iter().map(|t| self.sum(t)).collect(),
            total: Some(self.sum(&self.total)),
            adjustments: head.adjustments.iter().map(|a| self.adjustment(a)).collect(),
            adjustments_total: Some(self.money(changes)),
        }
    }

    fn money(&self, minor: i64) -> Decimal {
        Decimal::new(minor, self.head.digits)
    }

    fn farm(&self, l: &Line) -> FarmLine {
        let saving = Saving {
            minor: l.saving(),
            interval: l.interval,
            has_baseline: l.saving().is_some() || l.amounts.baseline > 0,
        };
        FarmLine {
            farm_id: l.farm.farm,
            farm: l.farm.farm_code.clone(),
            member_id: l.farm.member,
            member_number: l.farm.member_number.clone(),
            member_name: l.farm.member_name.clone(),
            area: self.head.areas.get(&l.farm.area).cloned(),
            status: l.status,
            missing: l.missing.clone(),
            notes: l.notes.clone(),
            animals: l.animals.map(|a| Decimal::new(a, 1)),
            figures: self.figures(&l.amounts, saving),
            output_change: l.extras.output_change.clone(),
            spoilage_status: l.extras.spoilage_status,
        }
    }

    fn sum(&self, t: &Total) -> answer::Total {
        let has_baseline = t.included > 0;
        let minor = has_baseline.then(|| t.amounts.saving());
        answer::Total {
            name: t.name.clone(),
            farms_included: t.included,
            farms_saving: t.saving_losing.0,
            farms_losing: t.saving_losing.1,
            farms_left_out: t.left_out.values().sum(),
            left_out_by_status: t.left_out.clone(),
            figures: self
                .figures(&t.amounts, Saving { minor, interval: t.interval(), has_baseline }),
        }
    }

    fn adjustment(&self, a: &Adjustment) -> answer::Adjustment {
        answer::Adjustment {
            month: wire::Month(a.month),
            farm_id: a.farm,
            farm: a.farm_code.clone(),
            reported: a.reported_minor.map(|m| self.money(m)),
            now: a.now_minor.map(|m| self.money(m)),
            change: self.money(a.change_minor()),
        }
    }

    /// Amounts and their ratios. Money ratios carry two digits more than the currency.
    fn figures(&self, a: &Amounts, saving: Saving) -> Figures {
        let fine = self.head.digits + 2;
        let over = |top: i64, by: i64, bottom: i64, scale: u8| {
            let ratio = if bottom > 0 { mul_div(top, by, bottom) } else { None };
            ratio.map(|r| Decimal::new(r, scale))
        };
        let of_saving = |by, bottom, scale| over(saving.minor?, by, bottom, scale);
        let money = |minor| Some(self.money(minor));
        let dry = |fed: i64| mul_div(fed, self.head.fodder_dry_matter, 10_000).unwrap_or(0);
        let (cost, fed_g) = a.weighed;
        Figures {
            animal_days: Some(a.animal_days),
            baseline_cost: money(a.baseline).filter(|_| saving.has_baseline),
            feed_cost: money(a.feed),
            seed_cost: money(a.seed),
            other_cost: money(a.other),
            depreciation: money(a.depreciation),
            saving: saving.minor.map(|m| self.money(m)),
            saving_percent_of_baseline: of_saving(1_000, a.baseline, 1),
            saving_per_animal_day: of_saving(100, a.animal_days, fine),
            saving_per_litre: of_saving(100_000, a.milk_ml, fine),
            saving_per_egg: of_saving(100, a.eggs, fine),
            fresh_fodder_fed_kg: Some(Decimal::new(a.fed_g, 3)),
            dry_matter_fed_kg: Some(Decimal::new(dry(a.fed_g), 3)),
            trays_fed_unweighed: Some(a.trays_fed_unweighed),
            fodder_cost_per_kg_dry_matter: over(cost, 100_000, dry(fed_g), fine),
            fodder_cost_per_kg_fresh_misleading: over(cost, 100_000, fed_g, fine),
            trays_started: Some(a.trays_started),
            trays_discarded: Some(a.trays_discarded),
            trays_discarded_percent: over(a.trays_discarded, 1_000, a.trays_started, 1),
            milk_litres: Some(Decimal::new(a.milk_ml, 3)),
            litres_per_cow_day: over(a.milk_ml, 1, a.cow_days, 3),
            eggs: Some(a.eggs),
            hen_day_percent: over(a.eggs, 1_000, a.hen_days, 1),
            saving_interval: saving
                .interval
                .map(|(low, high)| Interval { low: self.money(low), high: self.money(high) }),
        }
    }
}

/// The report as JSON text: the same for the same report to the byte.
///
/// # Errors
/// A text that says what could not be written; our own reports can.
pub fn json(report: &SavingsReport) -> Result<String, String> {
    let mut text = serde_json::to_string(report).map_err(|e| e.to_string())?;
    text.push('\n');
    Ok(text)
}
