//! Savings since the start, with intervals.

use super::{feed, merge};
use crate::ctx::{Actor, App};
use crate::error::AppError;
use crate::savings::area_names;
use serde_json::{Value as Json, json};
use traybook_analytics::saving::{Amount, FarmAnswer};
use traybook_analytics::sentences::{saving_programme_sentence, saving_sentence};
use traybook_analytics::stats::Interval;
use traybook_domain::authz::Task;
use traybook_storage::{changes, report_rows};

const METHOD: &str = "what the feed bought per animal-day before the start would cost at each month's \
    prices, set against the months' index of farms that had not started, minus feed, seed, other \
    costs and straight-line depreciation; all reported months after the start; 95 % intervals from \
    how the cost per animal-day scattered before it. The monthly report rests on the recorded \
    ration instead, so the two differ";

impl App {
    /// Makes the feed savings and keeps them, for whoever asks next.
    ///
    /// # Errors
    /// `Forbidden`.
    pub(crate) async fn keep_feed_savings(&self, actor: &Actor) -> Result<(), AppError> {
        actor.task(Task::Estimates)?;
        let (number, app, today) = (actor.coop.number, self.clone(), actor.coop.today(self.now()));
        self.store.read(move |conn| feed::get(conn, &app.estimates, number, today).map(drop)).await
    }

    /// Every farm's saving since its start, within what the person may see, and the programme's.
    ///
    /// # Errors
    /// `Forbidden`.
    pub async fn saving_estimates(&self, actor: &Actor) -> Result<Json, AppError> {
        let visible = actor.task(Task::Estimates)?;
        let (actor, app, today) = (actor.clone(), self.clone(), actor.coop.today(self.now()));
        self.store
            .read(move |conn| {
                let coop = &actor.coop;
                let made = feed::get(conn, &app.estimates, coop.number, today)?;
                let names = area_names(conn, coop.number)?;
                let power = 10_f64.powi(i32::from(coop.digits));
                let sees = |f: &report_rows::FarmRow| visible.sees(f.area, f.member);
                let answers = made.savings.as_ref().map_or(&[][..], |s| s.farms.as_slice());
                let mut farms = Vec::new();
                for ((f, answer), milk) in made.farms.iter().zip(answers).zip(made.is_milk()) {
                    if !sees(f) {
                        continue;
                    }
                    let answer = in_units(answer, power);
                    let head = json!({
                        "farm_id": f.farm,
                        "farm": f.code,
                        "member_number": f.number,
                        "member_name": f.name,
                        "area": names.get(&f.area),
                        "fodder_started_on": f.started_on,
                        "status": answer.status,
                        "sentence": saving_sentence(&answer, &coop.currency),
                    });
                    farms.push(merge(head, numbers(&answer, *milk)));
                }
                let programme = made.savings.as_ref().and_then(|s| s.programme.as_ref());
                let programme = programme.cloned().map(|mut p| {
                    p.per_day /= power;
                    p.total /= power;
                    p.total_standard_error /= power;
                    p.total_interval = scaled(p.total_interval, power);
                    p.per_day_interval = scaled(p.per_day_interval, power);
                    p
                });
                Ok(json!({
                    "method": METHOD,
                    "units": "money in currency units",
                    "currency": coop.currency,
                    "data_version": changes::counters(conn, coop.number)?.change_seq,
                    "first_month": made.first.map(|m| m.to_string()),
                    "programme": {
                        "sentence": saving_programme_sentence(programme.as_ref(), &coop.currency),
                        "farms_estimated": programme.as_ref().map_or(0, |p| p.farms),
                        "saving": programme.as_ref().map(|p| cents(p.total)),
                        "saving_interval": programme.as_ref().map(|p| interval(p.total_interval)),
                        "saving_per_animal_day": programme.as_ref().map(|p| cents(p.per_day)),
                    },
                    "farms": farms,
                }))
            })
            .await
    }
}

fn cents(value: f64) -> Json {
    json!((value * 100.0).round() / 100.0)
}

fn interval(i: Interval) -> Json {
    json!({ "low": cents(i.lower), "high": cents(i.upper) })
}

fn scaled(i: Interval, power: f64) -> Interval {
    Interval { lower: i.lower / power, upper: i.upper / power }
}

/// The answer with its money in currency units.
fn in_units(answer: &FarmAnswer, power: f64) -> FarmAnswer {
    let mut answer = answer.clone();
    if let Some(s) = &mut answer.saving {
        let amount = |a: &mut Amount| {
            a.value /= power;
            a.standard_error = a.standard_error.map(|e| e / power);
            a.interval = a.interval.map(|i| scaled(i, power));
        };
        amount(&mut s.total);
        amount(&mut s.per_day);
        s.counterfactual_total /= power;
        s.per_unit_matched = s.per_unit_matched.map(|v| v / power);
    }
    answer
}

fn numbers(answer: &FarmAnswer, milk: bool) -> Json {
    let s = answer.saving.as_ref();
    let per_unit = s.and_then(|s| s.per_unit_matched).map(cents);
    json!({
        "months_before": s.map(|s| s.baseline_months),
        "months_after": s.map(|s| s.months.len()),
        "saving": s.map(|s| cents(s.total.value)),
        "saving_interval": s.and_then(|s| s.total.interval).map(interval),
        "baseline_cost": s.map(|s| cents(s.counterfactual_total)),
        "saving_percent_of_baseline": s.and_then(|s| s.percent).map(cents),
        "saving_per_animal_day": s.map(|s| cents(s.per_day.value)),
        "saving_per_animal_day_interval": s.and_then(|s| s.per_day.interval).map(interval),
        "saving_per_litre": per_unit.clone().filter(|_| milk),
        "saving_per_egg": per_unit.filter(|_| !milk),
    })
}
