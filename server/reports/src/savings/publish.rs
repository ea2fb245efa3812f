//! The savings report as it is published.

use super::{Adjustment, Amounts, Between, Facts, Line, Report, Row, Since, Total};
use traybook_answers::Decimal;
use traybook_answers::estimates::AsOf;
use traybook_answers::savings::{
    self as answer, EnterpriseLine, FarmLine, Figures, Interval, Money, Overstated, Restated,
    SavingsReport, SinceStart, Wait,
};
use traybook_answers::wire;
use traybook_domain::savings::money::mul_div;

/// How the numbers came about.
pub const METHOD: &str = "saving = what the same animals would have eaten without fodder, at this month's prices, \
    minus bought feed that was eaten, seed, other costs and straight-line depreciation. Feed \
    is spread over the days until the next purchase. What would have been eaten: what the \
    farm bought a head and day in the 12 months before its start, and the ration it stated, \
    less what rations are overstated by; times an index of farms without fodder in the same \
    month. 95 % intervals from how such months scattered before the start";
/// Units of the figures.
pub const UNITS: &str =
    "money in currency units; milk in litres; fodder in kg; animal_days in head × days";
/// What to beware of.
pub const CAUTION: &str =
    "rations and animal health: ask the local livestock service; do not feed mouldy fodder";
const FRESH: &str = "misleading: fresh fodder is mostly water; compare feeds per kg of dry matter";

impl Report {
    /// The report as it is published.
    #[must_use]
    pub fn publish(&self, is_closed: bool) -> SavingsReport {
        let head = &self.head;
        let lines: i64 = head.adjustments.iter().map(Adjustment::change_minor).sum();
        SavingsReport {
            cooperative: head.cooperative.clone(),
            month: wire::Month(head.month),
            currency: head.currency.clone(),
            is_closed,
            is_running: head.is_running,
            as_of: AsOf { revision: None, made_at: None },
            data_version: head.data_version,
            method_version: answer::VERSION,
            method: METHOD.to_owned(),
            units: UNITS.to_owned(),
            fodder_dry_matter_percent: Decimal::new(head.fodder_dry_matter, 2),
            fresh_cost_is: FRESH.to_owned(),
            caution: CAUTION.to_owned(),
            farms: self.lines.iter().map(|l| self.farm(l)).collect(),
            areas: self.areas.iter().map(|t| self.sum(t)).collect(),
            total: Some(self.sum(&self.total)),
            rations_overstated: head.overstated.iter().map(overstated).collect(),
            adjustments: head.adjustments.iter().map(|a| self.adjustment(a)).collect(),
            settled: Some(self.money(head.settled_minor)),
            adjustments_total: Some(self.money(lines + head.settled_minor)),
            earlier_method: head
                .earlier_method
                .iter()
                .map(|(month, reported, now)| Restated {
                    month: wire::Month(*month),
                    reported: reported.map(|m| self.money(m)),
                    now: now.map(|m| self.money(m)),
                })
                .collect(),
        }
    }

    fn money(&self, minor: i64) -> Decimal {
        Decimal::new(minor, self.head.digits)
    }

    fn interval(&self, between: Between) -> Interval {
        Interval { low: self.money(between.low), high: self.money(between.high) }
    }

    fn farm(&self, l: &Line) -> FarmLine {
        let has_number = l.status.has_number();
        let is_one = l.farm.rows.len() == 1;
        let money = self.amounts(&l.amounts, l.animal_days, has_number);
        let mut figures = self.figures(&l.facts, &l.amounts, money, has_number);
        // Days of cows and of hens are not the same thing.
        figures.saving_per_animal_day = figures.saving_per_animal_day.filter(|_| is_one);
        let days = self.head.month.days();
        let waits: Vec<Wait> = l.farm.rows.iter().flat_map(|r| r.waits.iter().cloned()).collect();
        FarmLine {
            farm_id: l.farm.farm,
            farm: l.farm.farm_code.clone(),
            member_id: l.farm.member,
            member_number: l.farm.member_number.clone(),
            member_name: l.farm.member_name.clone(),
            area: self.head.areas.get(&l.farm.area).map(|a| a.name.clone()),
            status: l.status,
            waits,
            notes: l.notes.clone(),
            animals: l
                .animal_days
                .and_then(|n| mul_div(n, 10, days))
                .map(|tenths| Decimal::new(tenths, 1)),
            figures,
            // A farm without animals has a row that says so, and no class.
            enterprises: l
                .farm
                .rows
                .iter()
                .filter(|r| !r.enterprise.is_empty())
                .map(|r| self.enterprise(r))
                .collect(),
            since_start: l.farm.since_start.map(|s| self.since(s)),
            output_change: l.farm.output_change.clone(),
            spoilage_status: l.farm.spoilage_status,
        }
    }

    fn enterprise(&self, row: &Row) -> EnterpriseLine {
        let amounts = Amounts::of(std::iter::once(row));
        EnterpriseLine {
            enterprise: row.enterprise.clone(),
            status: row.status,
            money: self.amounts(&amounts, row.animal_days, row.money.is_some()),
        }
    }

    fn sum(&self, t: &Total) -> answer::Total {
        let has_number = t.amounts.rows > 0;
        let days = has_number.then_some(t.amounts.animal_days);
        let money = self.amounts(&t.amounts, days, has_number);
        let mut figures = self.figures(&t.facts, &t.amounts, money, has_number);
        figures.saving_per_animal_day = None;
        let [saved, lost, unclear] = t.by_verdict;
        answer::Total {
            name: t.input.name.clone(),
            farms_included: t.included,
            farms_saving: saved,
            farms_losing: lost,
            farms_unclear: unclear,
            farms_left_out: t.left_out.values().sum(),
            left_out_by_status: t.left_out.clone(),
            figures,
            since_start: t.input.since_start.map(|s| self.since(s)),
        }
    }

    fn since(&self, s: Since) -> SinceStart {
        SinceStart {
            saving: self.money(s.between.value),
            saving_interval: (s.rows > 0).then(|| self.interval(s.between)),
            farm_months: s.rows,
            of_farm_months: s.of_rows,
        }
    }

    fn adjustment(&self, a: &Adjustment) -> answer::Adjustment {
        answer::Adjustment {
            month: wire::Month(a.month),
            farm_id: a.farm,
            farm: a.farm_code.clone(),
            enterprise: Some(a.enterprise.clone()),
            reported: a.reported_minor.map(|m| self.money(m)),
            now: a.now_minor.map(|m| self.money(m)),
            change: self.money(a.change_minor()),
        }
    }

    /// The columns of money; empty where there is no number.
    fn amounts(&self, a: &Amounts, animal_days: Option<i64>, has_number: bool) -> Money {
        if !has_number {
            return Money { animal_days, ..Money::default() };
        }
        let m = &a.money;
        let money = |minor| Some(self.money(minor));
        let saving = a.saving();
        let (output, net) = (m.output.map(|o| o.between), a.net());
        Money {
            animal_days,
            baseline_cost: money(m.baseline),
            eaten_cost: money(m.eaten),
            feed_saving: money(m.baseline - m.eaten),
            seed_cost: money(m.seed),
            other_cost: money(m.other),
            depreciation: money(m.depreciation),
            saving: money(saving.value),
            saving_interval: Some(self.interval(saving)),
            output_value: output.map(|o| self.money(o.value)),
            output_value_interval: output.map(|o| self.interval(o)),
            net: net.map(|n| self.money(n.value)),
            net_interval: net.map(|n| self.interval(n)),
        }
    }

    /// Money, facts and their ratios. Money ratios carry two digits more than the currency.
    fn figures(&self, f: &Facts, a: &Amounts, money: Money, has_number: bool) -> Figures {
        let fine = self.head.digits + 2;
        let over = |top: i64, by: i64, bottom: i64, scale: u8| {
            let ratio = if bottom > 0 { mul_div(top, by, bottom) } else { None };
            ratio.map(|r| Decimal::new(r, scale))
        };
        let dry = |fed: i64| mul_div(fed, self.head.fodder_dry_matter, 10_000).unwrap_or(0);
        let of_saving =
            |by, bottom, scale| over(a.money.saving(), by, bottom, scale).filter(|_| has_number);
        let (cost, fed_g) = f.weighed;
        Figures {
            money,
            bought_cost: Some(self.money(f.bought)),
            saving_percent_of_baseline: of_saving(1_000, a.money.baseline, 1),
            saving_per_animal_day: of_saving(100, a.animal_days, fine),
            saving_per_litre: over(a.milk.0, 100_000, a.milk.1, fine).filter(|_| has_number),
            saving_per_egg: over(a.eggs.0, 100, a.eggs.1, fine).filter(|_| has_number),
            fresh_fodder_fed_kg: Some(Decimal::new(f.fed_g, 3)),
            dry_matter_fed_kg: Some(Decimal::new(dry(f.fed_g), 3)),
            trays_fed_unweighed: Some(f.trays_fed_unweighed),
            fodder_cost_per_kg_dry_matter: over(cost, 100_000, dry(fed_g), fine),
            fodder_cost_per_kg_fresh_misleading: over(cost, 100_000, fed_g, fine),
            trays_started: Some(f.trays_started),
            trays_discarded: Some(f.trays_discarded),
            trays_discarded_percent: over(f.trays_discarded, 1_000, f.trays_started, 1),
            milk_litres: Some(Decimal::new(f.milk_ml, 3)),
            litres_per_cow_day: over(f.milk_ml, 1, f.cow_days, 3),
            eggs: Some(f.eggs),
            hen_day_percent: over(f.eggs, 1_000, f.hen_days, 1),
        }
    }
}

fn overstated((enterprise, percent, farms): &(String, f64, i64)) -> Overstated {
    Overstated { enterprise: enterprise.clone(), percent: *percent, farms: *farms }
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
