//! The savings report as JSON and CSV.

use super::{Adjustment, Amounts, Line, Report, Total};
use crate::csv_text;
use serde_json::{Value as Json, json};
use traybook_domain::field::json_decimal;
use traybook_domain::money::{format_decimal, mul_div};

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

/// Ratios of amounts. Money ratios carry two digits more than the currency.
struct Ratios {
    percent_of_baseline: Option<i64>,
    per_animal_day: Option<i64>,
    per_litre: Option<i64>,
    per_egg: Option<i64>,
    dry_matter_g: i64,
    cost_per_kg_dry_matter: Option<i64>,
    cost_per_kg_fresh: Option<i64>,
    discarded_percent: Option<i64>,
    litres_per_cow_day: Option<i64>,
    hen_day_percent: Option<i64>,
}

fn ratios(a: &Amounts, saving: Option<i64>, dry_matter: i64) -> Ratios {
    let over = |top: i64, by: i64, bottom: i64| {
        if bottom > 0 { mul_div(top, by, bottom) } else { None }
    };
    let of_saving = |by, bottom| saving.and_then(|s| over(s, by, bottom));
    let dry = |fed: i64| mul_div(fed, dry_matter, 10_000).unwrap_or(0);
    let (cost, fed_g) = a.weighed;
    Ratios {
        percent_of_baseline: of_saving(1_000, a.baseline),
        per_animal_day: of_saving(100, a.animal_days),
        per_litre: of_saving(100_000, a.milk_ml),
        per_egg: of_saving(100, a.eggs),
        dry_matter_g: dry(a.fed_g),
        cost_per_kg_dry_matter: over(cost, 100_000, dry(fed_g)),
        cost_per_kg_fresh: over(cost, 100_000, fed_g),
        discarded_percent: over(a.trays_discarded, 1_000, a.trays_started),
        litres_per_cow_day: over(a.milk_ml, 1, a.cow_days),
        hen_day_percent: over(a.eggs, 1_000, a.hen_days),
    }
}

fn opt(value: Option<i64>, scale: u8) -> Json {
    value.map_or(Json::Null, |v| json_decimal(v, scale))
}

/// An interval of money.
fn interval(i: Option<(i64, i64)>, digits: u8) -> Json {
    i.map_or(Json::Null, |(low, high)| {
        json!({ "low": json_decimal(low, digits), "high": json_decimal(high, digits) })
    })
}

/// What the estimates say of a farm.
fn extras(l: &Line) -> Json {
    let change = l.extras.output_change.as_ref();
    let percent = change.and_then(|c| c.percent);
    json!({
        "output_change": change.map(|c| json!({
            "enterprise": c.enterprise,
            "percent": percent.map(|p| p.0),
            "low": percent.map(|p| p.1),
            "high": percent.map(|p| p.2),
            "sentence": c.sentence,
        })),
        "spoilage_status": l.extras.spoilage_status,
    })
}

fn amounts(a: &Amounts, saving: Option<i64>, known: bool, r: &Report) -> Json {
    let (digits, fine) = (r.head.digits, r.head.digits + 2);
    let q = ratios(a, saving, r.head.fodder_dry_matter);
    json!({
        "animal_days": a.animal_days,
        "baseline_cost": if known { json_decimal(a.baseline, digits) } else { Json::Null },
        "feed_cost": json_decimal(a.feed, digits),
        "seed_cost": json_decimal(a.seed, digits),
        "other_cost": json_decimal(a.other, digits),
        "depreciation": json_decimal(a.depreciation, digits),
        "saving": opt(saving, digits),
        "saving_percent_of_baseline": opt(q.percent_of_baseline, 1),
        "saving_per_animal_day": opt(q.per_animal_day, fine),
        "saving_per_litre": opt(q.per_litre, fine),
        "saving_per_egg": opt(q.per_egg, fine),
        "fresh_fodder_fed_kg": json_decimal(a.fed_g, 3),
        "dry_matter_fed_kg": json_decimal(q.dry_matter_g, 3),
        "trays_fed_unweighed": a.trays_fed_unweighed,
        "fodder_cost_per_kg_dry_matter": opt(q.cost_per_kg_dry_matter, fine),
        "fodder_cost_per_kg_fresh_misleading": opt(q.cost_per_kg_fresh, fine),
        "trays_started": a.trays_started,
        "trays_discarded": a.trays_discarded,
        "trays_discarded_percent": opt(q.discarded_percent, 1),
        "milk_litres": json_decimal(a.milk_ml, 3),
        "litres_per_cow_day": opt(q.litres_per_cow_day, 3),
        "eggs": a.eggs,
        "hen_day_percent": opt(q.hen_day_percent, 1),
    })
}

fn merge(into: Json, more: Json) -> Json {
    match (into, more) {
        (Json::Object(mut a), Json::Object(b)) => {
            a.extend(b);
            Json::Object(a)
        }
        (a, _) => a,
    }
}

/// A farm's line as it is published.
#[must_use]
pub fn line_json(l: &Line, r: &Report) -> Json {
    let head = json!({
        "farm_id": l.farm.farm,
        "farm": l.farm.farm_code,
        "member_id": l.farm.member,
        "member_number": l.farm.member_number,
        "member_name": l.farm.member_name,
        "area": r.head.areas.get(&l.farm.area),
        "status": l.status.text(),
        "missing": l.missing,
        "notes": l.notes,
        "animals": opt(l.animals, 1),
    });
    let known = l.saving().is_some() || l.amounts.baseline > 0;
    let line = merge(head, amounts(&l.amounts, l.saving(), known, r));
    let interval = json!({ "saving_interval": interval(l.interval, r.head.digits) });
    merge(merge(line, interval), extras(l))
}

fn total(t: &Total, r: &Report) -> Json {
    let head = json!({
        "name": t.name,
        "farms_included": t.included,
        "farms_saving": t.saving_losing.0,
        "farms_losing": t.saving_losing.1,
        "farms_left_out": t.left_out.values().sum::<i64>(),
        "left_out_by_status": t.left_out,
    });
    let saving = (t.included > 0).then(|| t.amounts.saving());
    let total = merge(head, amounts(&t.amounts, saving, t.included > 0, r));
    merge(total, json!({ "saving_interval": interval(t.interval(), r.head.digits) }))
}

fn adjustment(a: &Adjustment, digits: u8) -> Json {
    json!({
        "month": a.month.to_string(),
        "farm_id": a.farm,
        "farm": a.farm_code,
        "reported": opt(a.reported_minor, digits),
        "now": opt(a.now_minor, digits),
        "change": json_decimal(a.change_minor(), digits),
    })
}

/// The report as JSON text, the same for the same input to the byte.
#[must_use]
pub fn json(r: &Report, is_closed: bool) -> String {
    let farms = r.lines.iter().map(|l| line_json(l, r)).collect();
    let mut text = whole(r, is_closed, farms).to_string();
    text.push('\n');
    text
}

/// The report of an open month as it is published, without its farms.
#[must_use]
pub fn head_json(r: &Report) -> Json {
    whole(r, false, Vec::new())
}

fn whole(r: &Report, is_closed: bool, farms: Vec<Json>) -> Json {
    let digits = r.head.digits;
    let changes: i64 = r.head.adjustments.iter().map(Adjustment::change_minor).sum();
    json!({
        "cooperative": r.head.cooperative,
        "month": r.head.month.to_string(),
        "currency": r.head.currency,
        "is_closed": is_closed,
        "data_version": r.head.data_version,
        "method": METHOD,
        "units": UNITS,
        "fodder_dry_matter_percent": json_decimal(r.head.fodder_dry_matter, 2),
        "fresh_cost_is": FRESH,
        "caution": CAUTION,
        "farms": farms,
        "areas": r.areas.iter().map(|t| total(t, r)).collect::<Vec<_>>(),
        "total": total(&r.total, r),
        "adjustments":
            r.head.adjustments.iter().map(|a| adjustment(a, digits)).collect::<Vec<_>>(),
        "adjustments_total": json_decimal(changes, digits),
    })
}

const COLUMNS: &[&str] = &[
    "month",
    "row",
    "area",
    "member_number",
    "member_name",
    "farm",
    "status",
    "animals",
    "animal_days",
    "baseline_cost",
    "feed_cost",
    "seed_cost",
    "other_cost",
    "depreciation",
    "saving",
    "saving_low",
    "saving_high",
    "saving_percent_of_baseline",
    "saving_per_animal_day",
    "saving_per_litre",
    "saving_per_egg",
    "fresh_fodder_fed_kg",
    "dry_matter_fed_kg",
    "fodder_cost_per_kg_dry_matter",
    "trays_started",
    "trays_discarded",
    "trays_discarded_percent",
    "litres_per_cow_day",
    "hen_day_percent",
    "farms_included",
    "farms_left_out",
    "missing",
    "notes",
    "output_change_percent",
    "output_change_low",
    "output_change_high",
    "spoilage_status",
    "trays_fed_unweighed",
];

/// The report as CSV: a row a farm, then areas, the co-operative, and adjustments.
#[must_use]
pub fn csv(r: &Report) -> String {
    let mut out = csv_text::line(COLUMNS);
    let month = r.head.month.to_string();
    for l in &r.lines {
        let area = r.head.areas.get(&l.farm.area).cloned().unwrap_or_default();
        let head = [
            month.clone(),
            "farm".to_owned(),
            area,
            l.farm.member_number.clone(),
            l.farm.member_name.clone(),
            l.farm.farm_code.clone(),
            l.status.text().to_owned(),
            l.animals.map(|a| format_decimal(a, 1)).unwrap_or_default(),
        ];
        let known = l.saving().is_some() || l.amounts.baseline > 0;
        let percent = l.extras.output_change.as_ref().and_then(|c| c.percent);
        let tenth = |v: Option<f64>| v.map(|v| format!("{v:.1}")).unwrap_or_default();
        let tail = [
            String::new(),
            String::new(),
            l.missing.join("; "),
            l.notes.join("; "),
            tenth(percent.map(|p| p.0)),
            tenth(percent.map(|p| p.1)),
            tenth(percent.map(|p| p.2)),
            l.extras.spoilage_status.clone().unwrap_or_default(),
            l.amounts.trays_fed_unweighed.to_string(),
        ];
        let number = Number { saving: l.saving(), interval: l.interval, known };
        out.push_str(&csv_row(&head, &l.amounts, &number, &tail, r));
    }
    let totals = r.areas.iter().map(|t| ("area", t)).chain([("cooperative", &r.total)]);
    for (row, t) in totals {
        let name = if row == "area" { t.name.clone() } else { String::new() };
        let blank = String::new;
        let head =
            [month.clone(), row.to_owned(), name, blank(), blank(), blank(), blank(), blank()];
        let left: i64 = t.left_out.values().sum();
        let reasons = t.left_out.iter().map(|(s, n)| format!("{n} {s}")).collect::<Vec<_>>();
        let mut tail = vec![t.included.to_string(), left.to_string(), reasons.join("; ")];
        tail.resize(8, String::new());
        tail.push(t.amounts.trays_fed_unweighed.to_string());
        let saving = (t.included > 0).then(|| t.amounts.saving());
        let number = Number { saving, interval: t.interval(), known: t.included > 0 };
        out.push_str(&csv_row(&head, &t.amounts, &number, &tail, r));
    }
    for a in &r.head.adjustments {
        let mut cells = vec![String::new(); COLUMNS.len()];
        let money = |v: Option<i64>| v.map(|v| format_decimal(v, r.head.digits));
        let reported = money(a.reported_minor).unwrap_or_else(|| "no number".to_owned());
        let now = money(a.now_minor).unwrap_or_else(|| "no number".to_owned());
        let set = [
            (0, a.month.to_string()),
            (1, "adjustment".to_owned()),
            (5, a.farm_code.clone()),
            (14, format_decimal(a.change_minor(), r.head.digits)),
            (32, format!("reported {reported}, now {now}")),
        ];
        for (index, text) in set {
            if let Some(cell) = cells.get_mut(index) {
                *cell = text;
            }
        }
        out.push_str(&csv_text::line(&cells));
    }
    out
}

/// A saving with its interval, and whether the baseline is known.
struct Number {
    saving: Option<i64>,
    interval: Option<(i64, i64)>,
    known: bool,
}

fn csv_row(head: &[String], a: &Amounts, n: &Number, tail: &[String], r: &Report) -> String {
    let (digits, fine) = (r.head.digits, r.head.digits + 2);
    let q = ratios(a, n.saving, r.head.fodder_dry_matter);
    let dec = |v: i64, scale: u8| format_decimal(v, scale);
    let opt = |v: Option<i64>, scale: u8| v.map(|v| dec(v, scale)).unwrap_or_default();
    let mut cells = head.to_vec();
    cells.extend([
        a.animal_days.to_string(),
        opt(n.known.then_some(a.baseline), digits),
        dec(a.feed, digits),
        dec(a.seed, digits),
        dec(a.other, digits),
        dec(a.depreciation, digits),
        opt(n.saving, digits),
        opt(n.interval.map(|i| i.0), digits),
        opt(n.interval.map(|i| i.1), digits),
        opt(q.percent_of_baseline, 1),
        opt(q.per_animal_day, fine),
        opt(q.per_litre, fine),
        opt(q.per_egg, fine),
        dec(a.fed_g, 3),
        dec(q.dry_matter_g, 3),
        opt(q.cost_per_kg_dry_matter, fine),
        a.trays_started.to_string(),
        a.trays_discarded.to_string(),
        opt(q.discarded_percent, 1),
        opt(q.litres_per_cow_day, 3),
        opt(q.hen_day_percent, 1),
    ]);
    cells.extend(tail.iter().cloned());
    csv_text::line(&cells)
}
