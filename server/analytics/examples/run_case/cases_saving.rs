//! Cases of the feed-cost saving, version 2.

use serde_json::{Value, json};
use traybook_analytics::eaten::{
    MonthUse, Piece, Purchase, Rules, Series, StoreCount, month_use, spread,
};
use traybook_analytics::feed_saving::{
    FarmBaseline, FeedSavings, FrozenBaseline, IndexSource, Months, SavingCell, SavingPanel, Total,
    feed_saving,
};

use crate::cases::{count, fail, flat, list, real, starts, whole};

/// Thresholds of a case.
pub fn rules(config: &Value) -> Rules {
    let house = Rules::default();
    Rules {
        gap: real(&config["gap"], house.gap),
        low: real(&config["low"], house.low),
        high: real(&config["high"], house.high),
        price: real(&config["price"], house.price),
        usual_min: count(&config["min_usual"], house.usual_min),
        open_min: count(&config["min_open"], house.open_min),
        make_up: real(&config["make_up"], house.make_up),
        double: real(&config["double"], house.double),
        cover_min: real(&config["min_cover"], house.cover_min),
        mixed_before_max: real(&config["mixed_before"], house.mixed_before_max),
        mixed_after_max: real(&config["mixed_after"], house.mixed_after_max),
        month_farms_min: count(&config["min_month"], house.month_farms_min),
        base_months_max: count(&config["base_window"], house.base_months_max),
        base_months_min: count(&config["min_base"], house.base_months_min),
        ration_farms_min: count(&config["min_ration"], house.ration_farms_min),
        ration_sd: real(&config["ration_sd"], house.ration_sd),
        prior_degrees: real(&config["d0"], house.prior_degrees),
        lags_max: count(&config["hmax"], house.lags_max),
        season_sd: real(&config["season_sd"], house.season_sd),
        year_sd: real(&config["year_sd"], house.year_sd),
        open_cv: real(&config["open_cv"], house.open_cv),
        order_min: count(&config["min_order"], house.order_min),
        order: real(&config["order"], house.order),
        gap_widen: real(&config["gap_widen"], house.gap_widen),
        gap_bias: real(&config["gap_bias"], house.gap_bias),
    }
}

pub fn day(value: &Value) -> i32 {
    value.as_f64().map_or(0, |d| d as i32)
}

pub fn number(x: f64) -> Value {
    if x.is_finite() { json!(x) } else { Value::Null }
}

/// Purchases spread over days.
pub fn spread_case(config: &Value, input: &Value) -> Result<Value, String> {
    let rules = rules(config);
    let farms: Vec<Value> = list(&input["farms"]).iter().map(|f| one_spread(f, &rules)).collect();
    Ok(json!({ "farms": farms }))
}

fn one_spread(farm: &Value, rules: &Rules) -> Value {
    let accepted: Vec<u64> = list(&farm["accepted"]).iter().filter_map(whole).collect();
    let purchase = |p: usize| Purchase {
        day: day(&farm["day"][p]),
        kg: real(&farm["kg"][p], 0.0),
        cost: real(&farm["cost"][p], 0.0),
        median: farm["median"][p].as_f64(),
        is_accepted: accepted.contains(&(p as u64)),
    };
    let purchases: Vec<Purchase> = (0..list(&farm["day"]).len()).map(purchase).collect();
    let counts = list(&farm["stock"]).iter();
    let counts: Vec<StoreCount> =
        counts.map(|c| StoreCount { day: day(&c[0]), kg: real(&c[1], 0.0) }).collect();
    let animal_days = animal_days(farm);
    let month_starts: Vec<i32> = list(&farm["month_starts"]).iter().map(day).collect();
    let series = Series {
        purchases: &purchases,
        counts: &counts,
        animal_days: &animal_days,
        start: Some(day(&farm["start"])),
        as_of: day(&farm["asof"]),
    };
    let answer = spread(&series, rules);
    let months = month_use(&answer.pieces, &animal_days, &month_starts, series.start);
    let of = |f: fn(&MonthUse) -> f64| months.iter().map(f).map(number).collect::<Value>();
    let mut findings: Vec<Value> = answer.findings.iter().map(|f| json!([f.day, f.rule])).collect();
    findings.dedup();
    let piece = |p: &Piece| {
        json!({
            "from": p.from,
            "to": p.to,
            "kg_per_animal_day": number(p.kg_per_animal_day),
            "cost_per_animal_day": number(p.cost_per_animal_day),
            "open": u8::from(p.is_open),
        })
    };
    json!({
        "pieces": answer.pieces.iter().map(piece).collect::<Vec<_>>(),
        "findings": findings,
        "month": {
            "kg": of(|m| m.kg),
            "cost": of(|m| m.cost),
            "covered": of(|m| m.covered),
            "open": of(|m| m.open),
            "mixed": of(|m| m.mixed),
        },
    })
}

/// Heads as runs of days to animal-days before each day.
fn animal_days(farm: &Value) -> Vec<f64> {
    let runs = list(&farm["heads"]);
    let mut sum = 0.0;
    let mut sums = vec![0.0];
    let mut next = 0;
    let mut head = 0.0;
    for d in 0..count(&farm["days"], 0) {
        while runs.get(next).is_some_and(|run| count(&run[0], 0) <= d) {
            head = real(&runs[next][1], 0.0);
            next += 1;
        }
        sum += head;
        sums.push(sum);
    }
    sums
}

/// One enterprise's savings, and sums of them.
pub fn month_case(config: &Value, input: &Value) -> Result<Value, String> {
    let rules = rules(config);
    let (farms, months) = (count(&input["n"], 0), count(&input["T"], 0));
    let feeds = list(&input["kg"][0]).len();
    let flags = |key: &str| -> Vec<bool> { flat_flags(&input[key]) };
    let (kg, price, animal_days) =
        (flat(&input["kg"]), flat(&input["price"]), flat(&input["animal_days"]));
    let (mixed, open) = (flat(&input["mixed_share"]), flat(&input["open_share"]));
    let (known, complete) = (flags("known"), flags("month_complete"));
    let (start, ration_month) = (starts(&input["G"]), starts(&input["ration_month"]));
    let ration = input["ration"].as_array().map(|_| flat(&input["ration"]));
    let area: Vec<u32> = list(&input["area"]).iter().map(|a| count(a, 0) as u32).collect();
    let gaps: Vec<[f64; 2]> =
        list(&input["gap_share"]).iter().map(|g| [real(&g[0], 0.0), real(&g[1], 0.0)]).collect();
    let frozen: Vec<Option<FrozenBaseline>> = list(&input["frozen"]).iter().map(frozen).collect();
    let frozen_index: Vec<Option<f64>> =
        list(&input["frozen_index"]).iter().map(Value::as_f64).collect();
    let panel = SavingPanel {
        feeds,
        months,
        kg: &kg,
        price: &price,
        animal_days: &animal_days,
        is_known: &known,
        mixed_share: &mixed,
        open_share: (!open.is_empty()).then_some(&open),
        start: &start,
        ration: ration.as_deref(),
        ration_month: &ration_month,
        area: (!area.is_empty()).then_some(&area),
        month_of_year: None,
        is_complete: (!complete.is_empty()).then_some(&complete),
        gap_share: (!gaps.is_empty()).then_some(&gaps),
        frozen: &frozen,
        frozen_index: (!frozen_index.is_empty()).then_some(&frozen_index),
    };
    let savings = feed_saving(&panel, &rules).map_err(fail)?;
    let mut answer = panel_json(&savings, feeds, months);
    answer["totals"] = totals_json(&savings, farms, months, &area);
    Ok(answer)
}

fn frozen(value: &Value) -> Option<FrozenBaseline> {
    value.as_object()?;
    Some(FrozenBaseline {
        basket: flat(&value["q"]),
        weights: flat(&value["w"]),
        ration_weight: real(&value["w_B"], 0.0),
        is_adjusted: value["adjusted"].as_bool().unwrap_or(false),
    })
}

fn flat_flags(value: &Value) -> Vec<bool> {
    match value {
        Value::Array(parts) => parts.iter().flat_map(flat_flags).collect(),
        other => vec![other.as_bool().unwrap_or(other.as_f64().is_some_and(|x| x > 0.0))],
    }
}

fn panel_json(savings: &FeedSavings, feeds: usize, months: usize) -> Value {
    let shared = &savings.shared;
    let farms = &savings.farms;
    let each = |f: &dyn Fn(&FarmBaseline) -> Value| farms.iter().map(f).collect::<Value>();
    let cells = |f: &dyn Fn(&SavingCell) -> f64| {
        let row = |i: usize| {
            let cell = |t: usize| savings.cell(i, t).map_or(Value::Null, |c| number(f(&c)));
            (0..months).map(cell).collect::<Value>()
        };
        (0..farms.len()).map(row).collect::<Value>()
    };
    let basket = |i: usize| savings.basket(i).map_or(json!(vec![Value::Null; feeds]), |q| json!(q));
    let source = |s: &IndexSource| match s {
        IndexSource::Fitted => 0,
        IndexSource::FromEarlierYears => 1,
        IndexSource::None => 2,
    };
    let found = farms.iter().enumerate().filter_map(|(i, f)| Some((i, f.ration_finding?)));
    json!({
        "m": shared.index,
        "source": shared.source.iter().map(source).collect::<Vec<_>>(),
        "status": each(&|f| json!(f.status)),
        "adjusted": each(&|f| json!(f.is_adjusted)),
        "level": each(&|f| json!(f.level)),
        "q0": (0..farms.len()).map(basket).collect::<Vec<_>>(),
        "weight_ration": each(&|f| json!(f.ration_weight)),
        "delta": shared.overstatement,
        "tau2": shared.ration_variance,
        "farms_with_both": shared.farms_with_both,
        "rho": shared.lasting_share,
        "phi": shared.correlation,
        "s2": shared.variance,
        "farm_s2": each(&|f| json!(f.variance)),
        "df": each(&|f| json!(f.degrees_of_freedom)),
        "area_var": shared.area_variance,
        "year_var": shared.year_variance,
        "ration_findings": found.collect::<Vec<_>>(),
        "ration_finding_all": shared.is_ration_off,
        "base": cells(&|c| c.baseline),
        "act": cells(&|c| c.eaten),
        "saving": cells(&|c| c.saving),
        "se": cells(&|c| c.standard_error),
        "lower": cells(&|c| c.interval.lower),
        "upper": cells(&|c| c.interval.upper),
    })
}

fn totals_json(savings: &FeedSavings, farms: usize, months: usize, area: &[u32]) -> Value {
    let t = months.saturating_sub(2);
    let month: Vec<bool> = (0..months).map(|s| s == t).collect();
    let everybody = vec![true; farms];
    let area_0: Vec<bool> = area.iter().map(|a| *a == 0).collect();
    let since = |farm: usize| {
        let cells: Vec<f64> =
            (0..months).filter_map(|t| savings.cell(farm, t)).map(|c| c.saving).collect();
        if cells.is_empty() {
            return Value::Null;
        }
        json!({
            "farm": farm,
            "saving": cells.iter().sum::<f64>(),
            "se": savings.farm_error(farm, Months::All),
            "months": cells.len(),
        })
    };
    json!({
        "month": t,
        "month_total": total_json(&savings.total(&everybody, Months::Same(&month))),
        "since_start": total_json(&savings.total(&everybody, Months::All)),
        "area_0_month": total_json(&savings.total(&area_0, Months::Same(&month))),
        "farms_since": (0..farms).map(since).collect::<Vec<_>>(),
    })
}

fn total_json(total: &Total) -> Value {
    json!({
        "saving": total.saving,
        "baseline": total.baseline,
        "se": total.standard_error,
        "lower": total.interval.lower,
        "upper": total.interval.upper,
        "rows": total.rows,
        "lacking": total.lacking,
        "farms": total.farms,
    })
}
