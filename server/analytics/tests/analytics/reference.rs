//! Every case in `data/cases` against the reference implementation, by the same code as the
//! example `run_case`.

#![expect(clippy::unwrap_used, reason = "a test stops at the first thing that is not there")]

#[path = "../../examples/run_case/compare.rs"]
mod compare;

use serde_json::{Value, json};

use crate::cases;

fn load(name: &str) -> Value {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/data/cases/");
    serde_json::from_str(&std::fs::read_to_string(format!("{folder}{name}.json")).unwrap()).unwrap()
}

macro_rules! cases {
    ($($test:ident: $file:literal),* $(,)?) => {$(
        #[test]
        fn $test() {
            let case = load($file);
            let answer = cases::compute(&case).unwrap();
            assert_eq!(compare::off(&case, &answer), Vec::<String>::new());
        }
    )*};
}

cases! {
    records_make_the_farm_months_of_the_reference: "01_records",
    records_make_the_half_octaves_of_the_reference: "a01_records_bins",
    members_of_sixty_farms_agree_with_the_reference: "a02_members_60",
    members_in_every_status_agree_with_the_reference: "a03_members_edge",
    members_who_all_started_agree_with_the_reference: "a04_all_started",
    members_with_stage_agree_with_the_reference: "a05_members_stage",
    members_too_few_to_shrink_agree_with_the_reference: "a06_9_farms",
    changed_levels_are_held_as_by_the_reference: "a07_level_shift",
    starts_at_a_low_point_are_seen_as_by_the_reference: "a08_started_low",
    a_rollout_by_area_agrees_with_the_reference: "a09_area_rollout",
    verdicts_are_kept_as_by_the_reference: "a10_previous_verdict",
    settled_farms_lend_as_by_the_reference: "a11_settled",
    doses_agree_with_the_reference: "a12_dose",
    doses_without_variation_agree_with_the_reference: "a13_dose_no_variation",
    plans_of_trials_agree_with_the_reference: "a14_design",
    too_few_doses_agree_with_the_reference: "a15_dose_few",
    group_times_of_mpdta_agree_with_the_reference: "07_mpdta_notyet",
    imputation_of_df_het_agrees_with_the_reference: "08_df_het_imputation",
    a_bad_lot_is_found_as_by_the_reference: "10_lots_bad_lot",
    nested_lots_are_not_identifiable_as_by_the_reference: "11_lots_nested",
    a_bad_farm_is_found_as_by_the_reference: "16_lots_farm",
    records_of_eggs_make_the_farm_months_of_the_reference: "24_records_eggs",
    group_times_against_never_started_agree_with_the_reference: "25_group_times_never",
    group_times_with_gaps_agree_with_the_reference: "26_group_times_gaps",
    imputation_by_farm_agrees_with_the_reference: "27_imputation_farm_equal",
    lots_in_two_parts_agree_with_the_reference: "30_lots_two_parts",
    lots_of_thirty_farms_agree_with_the_reference: "31_lots_thirty_farms",
    lots_of_twelve_farms_agree_with_the_reference: "32_lots_twelve_farms",
    charts_of_small_and_large_batches_agree_with_the_reference: "b17_spoilage_v2",
    charts_with_bad_weeks_agree_with_the_reference: "b18_spoilage_v2_other",
    lots_on_other_farms_agree_with_the_reference: "b19_spoilage_lots",
    trays_of_batches_are_counted_as_by_the_reference: "b20_batch_trays",
    conditions_agree_with_the_reference: "b21_why",
    conditions_of_a_small_co_operative_agree_with_the_reference: "b22_why_few",
    purchases_are_spread_by_the_rules_of_the_reference: "c21_purchase_spread_rules",
    purchases_at_the_edges_are_spread_as_by_the_reference: "c22_purchase_spread_edges",
    purchases_of_invented_farms_are_spread_as_by_the_reference: "c23_purchase_spread_field",
    savings_of_cows_agree_with_the_reference: "c24_saving_month_cows",
    savings_of_hens_with_slips_agree_with_the_reference: "c25_saving_month_hens_slips",
    savings_without_rations_agree_with_the_reference: "c26_saving_month_no_ration",
    savings_at_indices_of_earlier_years_agree: "c27_saving_month_earlier_years",
    savings_with_the_season_left_in_agree: "c28_saving_month_season_not_removed",
    savings_with_rations_overstated_agree: "c29_saving_month_area_ration20",
    net_results_and_statuses_agree_with_the_reference: "c30_net_result_per_unit_adjustments",
    purchases_with_counts_are_spread_as_the_specification_adds: "c31_purchase_spread_plus",
    savings_with_frozen_baselines_agree: "c32_saving_month_frozen",
    the_worked_example_agrees_with_its_arithmetic: "c_worked_example",
    plans_under_noise_agree_with_the_reference: "b23_plan_noise",
    rules_of_the_review_list_agree_with_the_reference: "b24_review",
}

/// [READ] figures printed by the sources: R `did` README for mpdta (not-yet-treated), R
/// `didimputation` README for df_het (7 digits).
#[test]
fn published_figures_of_both_packages_are_met() {
    let case = load("07_mpdta_notyet");
    let answer = cases::compute(&case).unwrap();
    let published = &case["expected"]["published"];
    for (key, name) in [("att", "simple_att"), ("se", "simple_se")] {
        let (x, e) = (answer["simple"][key].as_f64().unwrap(), published[name].as_f64().unwrap());
        assert!((x - e).abs() < 1e-12, "{key}: {x} for {e}");
    }
    let case = load("08_df_het_imputation");
    let answer = cases::compute(&case).unwrap();
    let published = &case["expected"]["published"];
    for (key, near) in [("att", 5e-7), ("se", 5e-9)] {
        let x = answer["cohort_horizon"][key].as_f64().unwrap();
        let e = published[key].as_f64().unwrap();
        assert!((x - e).abs() < near, "{key}: {x} for {e}");
    }
}

/// The comparison itself must be able to fail.
#[test]
fn comparison_finds_every_kind_of_difference() {
    let expected = json!({
        "a": 1.0, "b": [1.0, null], "c": "ok", "d": {"e": true}, "published": {"x": 1},
        "f": 2.0, "g": null, "h": {"att": null, "n": 0}
    });
    let tolerance =
        json!({ "default": {"rel": 1e-6, "abs": 1e-9}, "f, g": {"rel": 0.1, "abs": 0.0} });
    let case = json!({ "expected": expected, "tolerance": tolerance });
    let same = json!({
        "a": 1.000_000_9, "b": [1.0, null], "c": "ok", "d": {"e": true}, "f": 2.19, "g": null,
        "h": null
    });
    assert_eq!(compare::off(&case, &same), Vec::<String>::new());
    let other = json!({
        "a": 1.000_002, "b": [null, 1.0], "c": "no", "d": {"e": false}, "f": 2.21,
        "g": {"att": 1.0}, "h": {"att": 1.0, "n": 0}, "extra": 1
    });
    let off = compare::off(&case, &other);
    for place in ["a", "b[0]", "b[1]", "c", "d.e", "f", "g", "h.att", ".extra (extra)"] {
        assert!(off.iter().any(|p| p == place), "{place} is not in {off:?}");
    }
    assert_eq!(off.len(), 9);
    let shorter = json!({
        "a": 1.0, "b": [1.0], "c": "ok", "d": {}, "f": 2.0, "g": null, "h": null
    });
    assert_eq!(compare::off(&case, &shorter), ["b", "d.e"]);
}

/// A case of a kind nobody knows is refused.
#[test]
fn compute_refuses_an_unknown_kind() {
    assert!(cases::compute(&json!({ "kind": "weather" })).is_err());
}
