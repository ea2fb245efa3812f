//! Cases of net results, statuses and the worked example of the feed-cost saving.

use std::collections::BTreeMap;

use serde_json::{Value, json};
use traybook_analytics::eaten::{MonthUse, Purchase, Rules, Series, month_use, spread};
use traybook_analytics::feed_saving::{
    FeedSavings, FrozenBaseline, SavingPanel, feed_saving, lasting_square, mix_ration,
};
use traybook_analytics::net::{
    AdjustmentLine, NetResult, NetStatus, OutputEstimate, OutputMoney, RowFacts, adjustments,
    net_result, per_unit, row_status,
};
use traybook_analytics::stats::student_t_critical_95;

use crate::cases::{fail, flat, list, real, whole};
use crate::cases_saving::{day, number, rules};

/// Net results, saving per unit, adjustments and statuses.
pub fn money_case(config: &Value, input: &Value) -> Result<Value, String> {
    let rules = rules(config);
    let net = list(&input["net"]).iter().map(net_case);
    let rows = list(&input["rows"]).iter().map(|row| row_case(row, &rules));
    Ok(json!({
        "net": net.collect::<Vec<_>>(),
        "per_unit": per_unit_case(&input["per_unit"]),
        "adjustments": adjustments_case(input),
        "rows": rows.collect::<Vec<_>>(),
    }))
}

fn output_of(output: &Value) -> Option<OutputEstimate> {
    output.as_object()?;
    Some(OutputEstimate {
        units: real(&output["units"], 0.0),
        price: real(&output["price"], 0.0),
        log_effect: real(&output["log_effect"], 0.0),
        log_error: real(&output["log_se"], 0.0),
        is_causal: output["causal"].as_bool().unwrap_or(false),
    })
}

fn net_case(input: &Value) -> Value {
    let output = output_of(&input["output"]);
    net_json(&net_result(
        real(&input["feed_saving"], 0.0),
        real(&input["feed_se"], 0.0),
        real(&input["fodder_cost"], 0.0),
        output.as_ref(),
        real(&input["t"], 1.96),
    ))
}

fn net_json(net: &NetResult) -> Value {
    let of = |f: fn(&OutputMoney) -> f64| net.output.as_ref().map(f);
    let status = match net.status {
        NetStatus::NoOutputEstimate => "no_output_estimate",
        NetStatus::Causal => "causal",
        NetStatus::Association => "association",
    };
    json!({
        "saving": net.saving,
        "saving_lower": net.interval.lower,
        "saving_upper": net.interval.upper,
        "added_cost": net.added_cost,
        "reduced_cost": net.reduced_cost,
        "added_return": of(|o| o.added_return),
        "reduced_return": of(|o| o.reduced_return),
        "output_change": of(|o| o.change),
        "output_lower": of(|o| o.interval.lower),
        "output_upper": of(|o| o.interval.upper),
        "net": of(|o| o.net),
        "net_lower": of(|o| o.net_interval.lower),
        "net_upper": of(|o| o.net_interval.upper),
        "net_status": status,
    })
}

/// A month marked as having a number has one, if only 0.
fn per_unit_case(input: &Value) -> Value {
    let marked = list(&input["saving"]).iter().zip(list(&input["num"]));
    let is_marked = |num: &Value| num.as_bool().unwrap_or(false);
    let saving: Vec<Option<f64>> =
        marked.map(|(s, num)| is_marked(num).then(|| real(s, 0.0))).collect();
    let units: Vec<Option<f64>> = list(&input["units"]).iter().map(Value::as_f64).collect();
    let (value, months) = per_unit(&saving, &flat(&input["fodder"]), &units);
    json!([value, months])
}

fn adjustments_case(input: &Value) -> Value {
    let rows = |key: &str| -> BTreeMap<(u64, u64), Option<f64>> {
        let place = |v: &Value| whole(v).unwrap_or(0);
        let row = |r: &Value| ((place(&r[0]), place(&r[1])), r[2].as_f64());
        list(&input[key]).iter().map(row).collect()
    };
    let limit = real(&input["settle_limit"], 0.0);
    let all = adjustments(&rows("reported"), &rows("now"), |_| limit);
    let line =
        |l: &AdjustmentLine<(u64, u64)>| json!([l.key.0, l.key.1, l.reported, l.now, l.change]);
    json!({
        "lines": all.lines.iter().map(line).collect::<Vec<_>>(),
        "settled": all.settled,
        "settled_rows": all.settled_rows,
        "total": all.total,
    })
}

fn row_case(row: &Value, rules: &Rules) -> Value {
    let is = |key: &str| row[key].as_bool().unwrap_or(false);
    let month = |key: &str| whole(&row[key]).and_then(|m| u32::try_from(m).ok());
    let facts = RowFacts {
        month: month("month").unwrap_or(0),
        start_month: month("start_month"),
        is_over: is("is_over"),
        is_known: is("is_known"),
        mixed_share: real(&row["mixed"], 0.0),
        is_lacking: !list(&row["lacking"]).is_empty(),
        is_held: !list(&row["held"]).is_empty(),
        is_waiting: is("open_only"),
        has_level: is("has_level"),
        is_ration_only: is("ration_only"),
    };
    json!(row_status(&facts, rules))
}

/// Panel of the worked example: January to July, one farm, one feed.
struct Worked {
    kg: Vec<f64>,
    price: Vec<f64>,
    animal_days: Vec<f64>,
    known: Vec<bool>,
    index: Vec<Option<f64>>,
    ration: f64,
}

/// Month of the number, of the start and of the stated ration in the worked example.
const JUNE: usize = 5;
const APRIL: u32 = 3;
const MARCH: u32 = 2;

impl Worked {
    fn new(input: &Value, june: &MonthUse) -> Self {
        let before = &input["before"];
        let mut panel = Self {
            kg: vec![0.0; 7],
            price: vec![real(&input["p_ref"], 0.0); 7],
            animal_days: vec![0.0; 7],
            known: vec![false; 7],
            index: vec![None; 7],
            ration: real(&input["ration"], f64::NAN),
        };
        let days = flat(&before["animal_days"]);
        let rates = flat(&before["kg_per_animal_day"]);
        for (t, ((days, rate), index)) in
            days.iter().zip(&rates).zip(flat(&before["index"])).enumerate()
        {
            (panel.kg[t], panel.animal_days[t], panel.known[t]) = (days * rate, *days, true);
            panel.index[t] = Some(index);
        }
        (panel.kg[JUNE], panel.price[JUNE]) = (june.kg, june.cost / june.kg);
        (panel.animal_days[JUNE], panel.known[JUNE]) = (june.covered, true);
        panel.index[JUNE] = input["index_june"].as_f64();
        panel
    }

    fn savings(&self, frozen: Option<FrozenBaseline>) -> Result<FeedSavings, String> {
        let panel = SavingPanel {
            feeds: 1,
            months: 7,
            kg: &self.kg,
            price: &self.price,
            animal_days: &self.animal_days,
            is_known: &self.known,
            mixed_share: &[0.0; 7],
            start: &[Some(APRIL)],
            ration: Some(&[self.ration]),
            ration_month: &[Some(MARCH)],
            frozen: &[frozen],
            frozen_index: Some(&self.index),
            ..SavingPanel::default()
        };
        feed_saving(&panel, &Rules::default()).map_err(fail)
    }
}

/// Lots of the worked example to what June ate.
fn worked_use(input: &Value) -> Option<MonthUse> {
    let lot = |l: &Value| Purchase {
        day: day(&l[0]),
        kg: real(&l[1], 0.0),
        cost: real(&l[2], 0.0),
        median: None,
        is_accepted: false,
    };
    let purchases: Vec<Purchase> = list(&input["lots"]).iter().map(lot).collect();
    let month_starts: Vec<i32> = list(&input["month_starts"]).iter().map(day).collect();
    let as_of = month_starts.last().copied()?;
    let head = real(&input["head"], 0.0);
    let animal_days: Vec<f64> = (0..=as_of).map(|d| f64::from(d) * head).collect();
    let start = Some(day(&input["start"]));
    let series =
        Series { purchases: &purchases, counts: &[], animal_days: &animal_days, start, as_of };
    let pieces = spread(&series, &Rules::default()).pieces;
    month_use(&pieces, &animal_days, &month_starts, start).get(JUNE).copied()
}

/// One farm-month from its records to its net result.
///
/// Purchases, baseline and money come from the panel; what a co-operative would estimate (noise,
/// overstatement, errors) is given by the case.
pub fn worked_case(input: &Value) -> Result<Value, String> {
    let june = worked_use(input).ok_or("has no month starts")?;
    let panel = Worked::new(input, &june);
    let bought = panel.savings(None)?;
    let (farm, w) = (&bought.farms[0], bought.weights(0));
    let level = farm.level.ok_or("has no level")?;
    let level_kg = bought.basket(0).ok_or("has no basket")?[0];
    let difference = farm.ration_difference.ok_or("has no ration")?;
    let get = |key: &str| real(&input[key], 0.0);
    let (s2, rho, phi) = (get("s2"), get("rho"), get("phi"));
    let square = lasting_square(&w, rho, phi);
    let mixed = mix_ration(difference, get("delta"), s2 * square, get("tau2"));
    let basket = vec![level_kg * mixed.factor];
    let frozen = FrozenBaseline {
        basket: basket.clone(),
        weights: w.clone(),
        ration_weight: mixed.weight,
        is_adjusted: true,
    };
    let cell = panel.savings(Some(frozen))?.cell(0, JUNE).ok_or("has no number in June")?;
    // Weights of relative noise, for one unit of the baseline.
    let mut g: Vec<f64> = w.iter().map(|w| w * (1.0 - mixed.weight)).collect();
    g[JUNE] -= 1.0;
    let noise = s2 * lasting_square(&g, rho, phi);
    let ration = mixed.weight.powi(2) * (get("tau2") + get("dse").powi(2));
    let index = get("index_variance") * g.iter().map(|g| g * g).sum::<f64>();
    let error = cell.baseline * (noise + ration + index).sqrt();
    let critical = student_t_critical_95(get("df"));
    let cost: f64 = flat_values(&input["fodder"]).iter().sum();
    let mut output = output_of(&input["output"]).ok_or("has no output")?;
    output.units = get("litres");
    let net = net_result(cell.saving, error, cost, Some(&output), critical);
    let per_litre = per_unit(&[Some(cell.saving)], &[cost], &[Some(output.units)]).0;
    Ok(json!({
        "kg_june": june.kg,
        "feed_cost_june": cell.eaten,
        "price_june": june.cost / june.kg,
        "level": level,
        "level_kg": level_kg,
        "weights": &w[..list(&input["before"]["index"]).len()],
        "wRw": square,
        "vA": s2 * square,
        "cB": level * difference.exp(),
        "D": difference,
        "weight_ration": mixed.weight,
        "factor": mixed.factor,
        "q0": basket[0],
        "baseline_june": cell.baseline,
        "feed_saving": cell.saving,
        "fodder_cost": number(cost),
        "saving": net.saving,
        "per_litre": per_litre,
        "variance_noise": noise,
        "variance_ration": ration,
        "variance_index": index,
        "se": error,
        "t": critical,
        "lower": net.interval.lower,
        "upper": net.interval.upper,
        "net": net_json(&net),
    }))
}

fn flat_values(value: &Value) -> Vec<f64> {
    value.as_object().map_or(Vec::new(), |parts| parts.values().map(|v| real(v, 0.0)).collect())
}
