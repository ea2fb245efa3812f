//! `traybook ration`: the binary on files. Values are those of the pure crate's tests.
//!
//! Tags: [READ] printed by the source, [ARITH] plain arithmetic, [MADE] made up.

#![expect(clippy::unwrap_used, reason = "a test stops at the first thing that is not there")]

use serde_json::Value;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

fn file(name: &str, text: &str) -> PathBuf {
    let path = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("ration-{name}.json"));
    std::fs::write(&path, text).unwrap();
    path
}

fn ration(question: &str, path: &Path, more: &[&str]) -> Output {
    let mut command = Command::new(env!("CARGO_BIN_EXE_traybook"));
    command.arg("ration").arg(question).arg(path).args(more).output().unwrap()
}

fn answer(question: &str, path: &Path) -> Value {
    let out = ration(question, path, &["--format", "json"]);
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    serde_json::from_slice(&out.stdout).unwrap()
}

fn text(question: &str, path: &Path) -> String {
    let out = ration(question, path, &[]);
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    String::from_utf8(out.stdout).unwrap()
}

fn near(found: &Value, wanted: f64, within: f64) {
    let found = found.as_f64().unwrap();
    assert!((found - wanted).abs() <= within, "{found} for {wanted}");
}

/// The documented example files, in order: value, square, mix, break-even.
fn documented() -> Vec<String> {
    let page = include_str!("../RATION.md");
    let parts = page.split("```json\n").skip(1);
    parts.map(|p| p.split("```").next().unwrap().to_owned()).collect()
}

#[test]
fn value_prices_nutrients() {
    // [READ] Kansas State Univ. Extension (CHECKS 2.1): 30 at 27 % dry matter is 111.11.
    let path = file(
        "value",
        r#"{ "feeds": [{ "name": "Silage", "price": 30, "dry_matter_percent": 27 }] }"#,
    );
    let got = answer("value", &path);
    near(&got["feeds"][0]["cost_per_kg_dry_matter"], 111.11, 0.005);
    assert_eq!(got["feeds"][0]["cost_per_kg_protein"], Value::Null);
    let said = text("value", &path);
    assert!(said.contains("111.11") && said.contains("not known"), "{said}");
    assert!(said.contains("local livestock service"));
}

#[test]
fn square_matches_the_printed_parts_and_refuses_outside() {
    // [READ] Montana State Univ. Extension (CHECKS 2.5): 13.8 % and 86.2 %.
    let asked = |target: &str| {
        format!(
            r#"{{ "target": {target}, "feeds": [{{ "name": "Hay", "crude_protein_percent": 12.25 }},
            {{ "name": "Silage", "crude_protein_percent": 10.8 }}] }}"#
        )
    };
    let got = answer("square", &file("square", &asked("11")));
    near(&got["parts"][0]["share_percent"], 13.8, 0.05);
    near(&got["parts"][1]["share_percent"], 86.2, 0.05);
    let out = ration("square", &file("outside", &asked("13")), &[]);
    assert_eq!(out.status.code(), Some(2));
    let said = String::from_utf8_lossy(&out.stderr).into_owned();
    assert!(said.contains("/target: give a target between the two feeds"), "{said}");
}

#[test]
fn documented_files_are_answered() {
    let files = documented();
    assert_eq!(files.len(), 5);
    for (question, body) in
        ["value", "square", "mix", "break-even", "budget"].into_iter().zip(&files)
    {
        let path = file(&format!("documented-{question}"), body);
        assert!(text(question, &path).contains("local livestock service"), "{question}");
    }
    let example = include_str!("data/ration_mix.json");
    assert_eq!(files[2], example);
}

#[test]
fn mix_meets_its_limits_and_tells_what_feeds_are_worth() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/ration_mix.json");
    let got = answer("mix", &path);
    assert_eq!(got["status"], "found");
    near(&got["dry_matter_kg"], 12.0, 1e-6);
    let protein = got["nutrients"][0]["per_kg_dry_matter"].as_f64().unwrap();
    assert!(protein >= 13.0 - 1e-5, "{protein}");
    assert!(got["nutrients"][1]["per_day"].as_f64().unwrap() >= 118.0 - 1e-4);
    let said = text("mix", &path);
    assert!(said.contains("A 70 kg bag of Maize bran"), "{said}");
    assert!(said.contains("a 50 kg bag of Dairy meal is worth buying up to TZS"), "{said}");
}

#[test]
fn clashing_limits_are_an_answer() {
    let path = file(
        "clash",
        r#"{ "as_fed_kg": 10, "feeds": [{ "name": "Straw", "price": 5, "dry_matter_percent": 90,
        "crude_protein_percent": 3 }], "limits": [{ "nutrient": "crude_protein", "min": 9 }] }"#,
    );
    let got = answer("mix", &path);
    assert_eq!(
        (&got["status"], &got["limits"][0]["pointer"]),
        (&"impossible".into(), &"/limits/0/min".into())
    );
    assert!(text("mix", &path).contains("at least 9 % crude protein"));
}

#[test]
fn break_even_shows_the_loss_and_the_misleading_gain() {
    // [MADE] CHECKS 1d, to the cent because the file rounds depreciation and dry matter.
    let path = file("break-even", &documented()[3]);
    let got = answer("break-even", &path);
    near(&got["saving"], -3_299.19, 0.02);
    near(&got["saving_by_fresh_weight_misleading"], 19_086.23, 0.02);
    assert_eq!(got["spoiled_percent"]["kind"], "never");
    let said = text("break-even", &path);
    assert!(said.contains("the fodder loses TZS 3\u{202f}299 against Concentrate"), "{said}");
}

#[test]
fn budget_ranks_choices_and_counts_what_changes() {
    // [MADE] CHECKS 2.11: of 180 and 110 % only the first step brings 120 %.
    let path = file("budget", &documented()[4]);
    let got = answer("budget", &path);
    assert_eq!(got["chosen"], "one shelf");
    near(&got["choices"][3]["marginal_rate_percent"], 110.0, 1e-9);
    near(&got["changes"][0]["net"], 17_000.0, 1e-9);
    let said = text("budget", &path);
    assert!(
        said.contains("Take one shelf: ") && said.contains("brings TZS 17\u{202f}000"),
        "{said}"
    );
}

#[test]
fn bad_files_are_told_what_to_do() {
    let out = ration("mix", Path::new("/nowhere/at-all.json"), &[]);
    assert_eq!(out.status.code(), Some(2));
    for (name, body, wanted) in [
        ("list", "[]", "give one JSON object"),
        ("broken", "{", "line 1"),
        ("empty", "{}", "2 to mend:"),
    ] {
        let out = ration("mix", &file(name, body), &[]);
        assert_eq!(out.status.code(), Some(2), "{name}");
        let said = String::from_utf8_lossy(&out.stderr).into_owned();
        assert!(said.contains(wanted), "{said}");
        assert!(out.stdout.is_empty());
    }
}
