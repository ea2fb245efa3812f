//! Cases on output change: records, members, doses, and plans of trials.

use serde_json::{Map, Value, json};
use traybook_analytics::area_shock::AreaBasis;
use traybook_analytics::callaway::{Control, group_times};
use traybook_analytics::errors::Basis;
use traybook_analytics::level::StartPoint;
use traybook_analytics::member_effect::{
    Acceptance, Background, MemberEffect, MemberEffects, MemberRules, Verdict, member_effects,
};
use traybook_analytics::panel::Panel;
use traybook_analytics::records::{Bin, cells_from_bins, fill_stage, stage_basis};
use traybook_analytics::settled::{
    DoseEffect, DoseResponse, SettledPanel, dose_response, settled_drift,
};
use traybook_analytics::stats::LogEstimate;
use traybook_analytics::trial::{
    PlanPower, PlanSetting, SplitMix64, plan_power, start_order, switchback, switchback_power,
};

use crate::cases::{average_json, count, fail, flat, list, output_of, real, rows, starts, whole};

/// Window in months: 0 or null is no window.
fn window(config: &Value, key: &str, otherwise: Option<u32>) -> Option<u32> {
    match config.get(key) {
        None => otherwise,
        Some(value) => whole(value).and_then(|n| u32::try_from(n).ok()).filter(|n| *n > 0),
    }
}

fn member_rules(config: &Value) -> MemberRules {
    let house = MemberRules::default();
    MemberRules {
        kappa: real(&config["kappa"], house.kappa),
        months_pre_max: window(config, "pre_window", house.months_pre_max),
        months_post_max: window(config, "post_window", house.months_post_max),
        months_pre_min: count(&config["min_pre"], house.months_pre_min),
        months_post_min: count(&config["min_post"], house.months_post_min),
        records_pre_min: real(&config["min_pre_records"], house.records_pre_min),
        records_post_min: real(&config["min_post_records"], house.records_post_min),
        controls_min: count(&config["min_controls"], house.controls_min),
        members_shrunk_min: count(&config["min_members_eb"], house.members_shrunk_min),
        wrong_sign_max: real(&config["told"], house.wrong_sign_max),
        wrong_sign_kept_max: real(&config["keep_told"], house.wrong_sign_kept_max),
    }
}

/// Areas as numbers from 0, in the order of their own.
fn areas(value: &Value) -> Vec<usize> {
    let names: Vec<u64> = list(value).iter().map(|a| whole(a).unwrap_or(0)).collect();
    let mut order = names.clone();
    order.sort_unstable();
    order.dedup();
    names.iter().map(|a| order.binary_search(a).unwrap_or(0)).collect()
}

pub fn member_case(config: &Value, input: &Value) -> Result<Value, String> {
    let start = starts(&input["G"]);
    let months = count(&input["T"], 0);
    let (log_output, records) = (flat(&input["Y"]), flat(&input["N"]));
    let is_adjusted = config["stage_adjust"].as_bool().unwrap_or(false);
    let covariates = is_adjusted.then(|| {
        let filled = fill_stage(&flat(&input["stage"]), months);
        stage_basis(&filled, output_of(config))
    });
    let panel = Panel::new(months, &log_output, &records, &start, covariates.as_ref());
    let panel = panel.map_err(fail)?;
    let accepted = list(&input["accepted"]).iter();
    let accepted: Vec<Option<Acceptance>> =
        accepted.map(|a| (a.as_bool() == Some(true)).then_some(Acceptance::Any)).collect();
    let previous = list(&input["previous"]).iter();
    let previous: Vec<Option<Verdict>> = previous.map(verdict).collect();
    let areas = areas(&input["area"]);
    let background = Background { areas: &areas, accepted: &accepted, previous: &previous };
    let rules = member_rules(config);
    if config["settled"].as_bool() != Some(true) {
        let effects = member_effects(&panel, &rules, &background);
        return answer(&panel, &effects, start.len());
    }
    let true_start: Vec<Option<i64>> = start.iter().map(|g| g.map(i64::from)).collect();
    let settled = SettledPanel::new(&panel, &true_start, &[]);
    let wide_areas = settled.extend(&areas);
    let wide = settled.panel().map_err(fail)?;
    let effects = member_effects(&wide, &rules, &Background { areas: &wide_areas, ..background });
    let mut answer = answer(&wide, &effects, start.len())?;
    let plain =
        member_effects(&panel, &rules, &Background { areas: &areas, ..Background::default() });
    let drift = settled_drift(&panel, &plain, &true_start);
    answer["settled_rows"] = json!(settled.lent);
    answer["drift"] = json!({
        "status": drift.status,
        "farms": drift.farms,
        "slope": drift.slope.map(|(slope, _)| slope),
        "se": drift.slope.map(|(_, error)| error),
    });
    Ok(answer)
}

fn verdict(value: &Value) -> Option<Verdict> {
    match value.as_str()? {
        "increase" => Some(Verdict::Increase),
        "decrease" => Some(Verdict::Decrease),
        "unclear" => Some(Verdict::Unclear),
        _ => None,
    }
}

fn answer(panel: &Panel, effects: &MemberEffects, farms: usize) -> Result<Value, String> {
    let months = effects.fit.month_effects.iter().zip(&effects.fit.is_connected);
    let lam: Vec<Option<f64>> = months.map(|(l, connected)| connected.then_some(*l)).collect();
    let dip = &effects.low_start;
    Ok(json!({
        "members": members_json(effects, farms),
        "pooled": pooled_json(effects),
        "month": { "lam": lam, "n_controls": effects.fit.controls, "usable": effects.is_month_usable },
        "beta": effects.fit.coefficients,
        "dip": {
            "n": dip.members,
            "dip": dip.mean.map(|(mean, _)| mean),
            "se": dip.mean.map(|(_, error)| error),
            "z": dip.mean.map(|(mean, error)| if error > 0.0 { mean / error } else { 0.0 }),
            "flag": dip.flag,
        },
        "programme": programme_json(effects),
        "programme_cs": cross_check(&effects.without_held(panel)),
    }))
}

/// The Callaway-Sant'Anna cross-check; farms that started before the data are in no group.
fn cross_check(panel: &Panel) -> Value {
    let times = group_times(panel, Control::NotYetStarted);
    let is_empty = times.effects.is_empty();
    if is_empty { Value::Null } else { average_json(times.simple(1)) }
}

fn programme_json(effects: &MemberEffects) -> Value {
    let Some(p) = &effects.programme else { return Value::Null };
    let shock = &effects.area_shock;
    json!({
        "att": p.estimate.value,
        "se": p.estimate.standard_error,
        "df": p.degrees_of_freedom,
        "lo": p.estimate.interval.lower,
        "hi": p.estimate.interval.upper,
        "n_farms": p.farms,
        "n_cells": p.cells,
        "area_share": p.area_share,
        "area_basis": if shock.basis == AreaBasis::None { "none" } else { "area_months" },
        "area_su2": shock.variance,
        "area_phi": shock.correlation,
        "pre_start": if effects.low_start.flag == StartPoint::NotChecked { json!("not_checked") } else { json!(effects.low_start.flag) },
    })
}

fn pooled_json(effects: &MemberEffects) -> Value {
    let (population, errors) = (effects.population, &effects.errors);
    json!({
        "basis": if errors.basis == Basis::Placebo { "placebo" } else { "model" },
        "D": errors.all.windows,
        "g": errors.all.half_squares,
        "se2_placebo": errors.all.record_variance,
        "ar": {
            "phi": errors.model.correlation,
            "su2": errors.model.month_variance,
            "se2": errors.model.record_variance,
        },
        "d0": effects.prior.degrees_of_freedom,
        "s02": effects.prior.scale,
        "A": population.map(|p| p.variance),
        "mu": population.map(|p| p.mean),
        "mu_se": population.map(|p| p.mean_standard_error),
        "kscale": population.map(|p| p.scale),
        "v_common": effects.shared_variance,
    })
}

fn members_json(effects: &MemberEffects, farms: usize) -> Value {
    let members = &effects.members[..farms.min(effects.members.len())];
    let levels = &effects.levels[..members.len()];
    let each = |f: &dyn Fn(&MemberEffect) -> Value| members.iter().map(f).collect::<Value>();
    let own = |f: &dyn Fn(&LogEstimate) -> f64| each(&|m| json!(m.own.as_ref().map(f)));
    let shrunken = |f: &dyn Fn(&LogEstimate) -> f64| each(&|m| json!(m.shrunken.as_ref().map(f)));
    let level = |f: &dyn Fn(usize) -> Value| (0..levels.len()).map(f).collect::<Value>();
    json!({
        "status": each(&|m| json!(m.status)),
        "tau": own(&|e| e.value),
        "se": own(&|e| e.standard_error),
        "df": each(&|m| json!(m.degrees_of_freedom)),
        "lo": own(&|e| e.interval.lower),
        "hi": own(&|e| e.interval.upper),
        "eb": shrunken(&|e| e.value),
        "eb_se": shrunken(&|e| e.standard_error),
        "eb_lo": shrunken(&|e| e.interval.lower),
        "eb_hi": shrunken(&|e| e.interval.upper),
        "n_pre": each(&|m| json!(m.pre.months)),
        "n_post": each(&|m| json!(m.post.months)),
        "rank": each(&|m| json!(m.rank.unwrap_or(0))),
        "verdict": each(&|m| m.verdict.map_or_else(|| json!(""), |v| json!(v))),
        "p_lower": each(&|m| json!(m.p_lower)),
        "lfsr": each(&|m| json!(m.wrong_sign())),
        "shift_z": level(&|k| json!(levels[k].z)),
        "shift": level(&|k| json!(levels[k].shift)),
        "shift_month": level(&|k| levels[k].month.map_or_else(|| json!(-1), |m| json!(m))),
    })
}

pub fn bins_case(input: &Value) -> Result<Value, String> {
    let months = count(&input["T"], 0);
    let mut invalid = 0;
    let mut bins: std::collections::BTreeMap<(usize, usize, i32), Bin> = Default::default();
    let mut farms = 0;
    for r in list(&input["records"]) {
        let valid = r[2].as_f64().filter(|o| *o >= 0.0).zip(r[3].as_f64().filter(|a| *a > 0.0));
        let Some((output, animals)) = valid else {
            invalid += 1;
            continue;
        };
        let (farm, month) = (count(&r[0], 0), count(&r[1], 0));
        farms = farms.max(farm + 1);
        let rate = output / animals;
        let half_octave =
            if rate > 0.0 { (2.0 * rate.log2()).floor().clamp(-20.0, 19.0) as i32 } else { -21 };
        let bin =
            bins.entry((farm, month, half_octave)).or_insert(Bin { half_octave, ..Bin::default() });
        bin.records += 1.0;
        bin.output += output;
        bin.animals += animals;
        if let Some(stage) = r[4].as_f64() {
            bin.stage += stage * animals;
            bin.stage_animals += animals;
        }
    }
    let of_farm = |farm: usize| {
        let own = bins.iter().filter(|(key, _)| key.0 == farm);
        cells_from_bins(&own.map(|(key, bin)| (key.1, *bin)).collect::<Vec<_>>(), months)
    };
    let all: Vec<_> = (0..farms).map(of_farm).collect();
    let cells = |f: &dyn Fn(&(f64, f64, f64)) -> f64| {
        rows(&all.iter().flat_map(|farm| farm.cells.iter().map(f)).collect::<Vec<_>>(), months)
    };
    let row = |((farm, month, bin), b): (&(usize, usize, i32), &Bin)| {
        json!([farm, month, bin, b.records, b.output, b.animals, b.stage, b.stage_animals])
    };
    Ok(json!({
        "bins": bins.iter().map(row).collect::<Vec<_>>(),
        "invalid": invalid,
        "Y": cells(&|c| c.0),
        "N": cells(&|c| c.1),
        "stage": cells(&|c| c.2),
        "left_out": all.iter().map(|f| json!(f.left_out)).collect::<Vec<_>>(),
        "shifted": all.iter().map(|f| json!(f.is_shifted)).collect::<Vec<_>>(),
        "ref": all.iter().map(|f| json!(f.middle)).collect::<Vec<_>>(),
    }))
}

pub fn dose_case(config: &Value, input: &Value) -> Result<Value, String> {
    let start = starts(&input["G"]);
    let months = count(&input["T"], 0);
    let (log_output, records) = (flat(&input["Y"]), flat(&input["N"]));
    let panel = Panel::new(months, &log_output, &records, &start, None).map_err(fail)?;
    let true_start: Vec<Option<i64>> =
        list(&input["G"]).iter().map(|g| g.as_f64().map(|g| g as i64)).collect();
    let dose = flat(&input["dose"]);
    let answer = dose_response(&panel, &true_start, &dose, real(&config["kappa"], 4.0));
    Ok(match answer {
        DoseResponse::InsufficientDoseData => json!({ "status": "insufficient_dose_data" }),
        DoseResponse::NoDoseVariation { sd_within, mean_dose } => json!({
            "status": "no_dose_variation", "sd_within": sd_within, "mean_dose": mean_dose,
        }),
        DoseResponse::DoseFollowsOutput(e) => dose_json("dose_follows_output", &e),
        DoseResponse::Estimated(e) => dose_json("estimated", &e),
    })
}

fn dose_json(status: &str, e: &DoseEffect) -> Value {
    json!({
        "status": status,
        "beta": e.slope.value,
        "se": e.slope.standard_error,
        "df": e.degrees_of_freedom,
        "lo": e.slope.interval.lower,
        "hi": e.slope.interval.upper,
        "at_mean": e.at_mean.value,
        "at_mean_lo": e.at_mean.interval.lower,
        "at_mean_hi": e.at_mean.interval.upper,
        "mean_dose": e.mean_dose,
        "sd_within": e.sd_within,
        "farms": e.farms,
        "lead": e.lead.map(|(lead, _)| lead),
        "lead_se": e.lead.map(|(_, error)| error),
    })
}

pub fn design_case(config: &Value, input: &Value) -> Result<Value, String> {
    let seed = input["seed"].as_u64().ok_or("has no seed")?;
    let (area, size) = (areas(&input["area"]), flat(&input["size"]));
    let planned: Vec<usize> = list(&input["starts"]).iter().map(|s| count(s, 0)).collect();
    let order = start_order(&area, &size, &planned, seed).ok_or("starts more farms than it has")?;
    let half_squares = flat(&input["g"]);
    let setting = PlanSetting {
        months_before: count(&input["before"], 0),
        months_after: count(&input["after"], 0),
        records: real(&input["records"], 0.0),
        half_squares: &half_squares,
        record_variance: real(&input["se2"], 0.0),
        area_shock: (real(&config["area_su2"], 0.0), real(&config["area_phi"], 0.0)),
        effect_sd: real(&config["sd_effect"], 0.0),
        power: real(&config["power"], 0.8),
        pool_df: real(&config["df_pool"], 60.0),
        kappa: real(&config["kappa"], 4.0),
    };
    let mut numbers = SplitMix64::new(seed);
    let draws: Vec<String> = (0..4).map(|_| numbers.draw().to_string()).collect();
    let at_once: Vec<Option<usize>> = order.iter().map(|_| Some(0)).collect();
    let month = |m: &Option<usize>| m.map_or_else(|| json!(-1), |m| json!(m));
    let one = |w: &Value| {
        let washout = count(&w["washout"], 1);
        let seed = w["seed"].as_u64().unwrap_or(0);
        let plan = switchback(count(&w["blocks"], 0), count(&w["block_months"], 0), seed, washout);
        let on: Vec<u8> = plan.is_on.iter().map(|on| u8::from(*on)).collect();
        match switchback_power(&plan, &setting, real(&w["month_se"], 0.0)) {
            None => json!({ "on": on, "use": plan.is_used, "status": "no_contrast" }),
            Some(p) => json!({
                "on": on, "use": plan.is_used, "status": "ok", "se": p.error, "mde": p.smallest,
                "months_used": p.months,
            }),
        }
    };
    Ok(json!({
        "splitmix64": draws,
        "order": order.iter().map(month).collect::<Vec<_>>(),
        "plan": power_json(&plan_power(&order, &area, &setting)),
        "plan_all_at_once": power_json(&plan_power(&at_once, &area, &setting)),
        "switchback": list(&input["switchback"]).iter().map(one).collect::<Vec<_>>(),
    }))
}

fn power_json(plan: &PlanPower) -> Value {
    let Some(e) = &plan.effects else {
        return json!({
            "status": "no_controls", "waiting": plan.waiting, "usable_months": plan.usable_months,
        });
    };
    let areas: Map<String, Value> =
        e.areas.iter().map(|(area, smallest)| (area.to_string(), json!(smallest))).collect();
    json!({
        "status": "ok",
        "farms": e.farms,
        "waiting": plan.waiting,
        "months": plan.months,
        "usable_months": plan.usable_months,
        "se_programme": e.programme_error,
        "mde_programme": e.programme,
        "mde_member": e.member,
        "mde_area": areas,
    })
}
