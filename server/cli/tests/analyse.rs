//! `traybook analyse`: the binary on files, against published values, known truths and damage.
//!
//! Tags beside checks: [READ] printed by the source, [DATA] computed from the source's data,
//! [ARITH] plain arithmetic, [MADE] made up with a known truth.

#![expect(clippy::unwrap_used, reason = "a test stops at the first thing that is not there")]

use serde_json::Value;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

fn data(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data").join(name)
}

/// A file with this text, for one test.
fn file(name: &str, text: &str) -> PathBuf {
    let path = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("analyse-{name}.csv"));
    std::fs::write(&path, text).unwrap();
    path
}

fn analyse(question: &str, path: &Path, more: &[&str]) -> Output {
    let mut command = Command::new(env!("CARGO_BIN_EXE_traybook"));
    command.arg("analyse").arg(question).arg(path).args(more).output().unwrap()
}

fn answer(question: &str, path: &Path, more: &[&str]) -> Value {
    let out = analyse(question, path, more);
    assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    serde_json::from_slice(&out.stdout).unwrap()
}

/// What a refused file is told; nothing is printed and the exit status is 2.
fn refusal(question: &str, path: &Path, more: &[&str]) -> String {
    let out = analyse(question, path, more);
    assert_eq!(out.status.code(), Some(2));
    assert!(out.stdout.is_empty());
    String::from_utf8(out.stderr).unwrap()
}

fn rows<'a>(answer: &'a Value, part: &str) -> &'a [Value] {
    answer[part].as_array().unwrap()
}

fn row<'a>(answer: &'a Value, part: &str, key: &str, wanted: impl Into<Value>) -> &'a Value {
    let wanted = wanted.into();
    rows(answer, part).iter().find(|r| r[key] == wanted).unwrap()
}

fn close(found: &Value, wanted: f64, within: f64) {
    let found = found.as_f64().unwrap();
    assert!((found - wanted).abs() <= within, "{found} for {wanted}");
}

fn said(row: &Value) -> &str {
    row["sentence"].as_str().unwrap()
}

fn mpdta(more: &[&str]) -> Value {
    let mut options = vec!["--panel", "--id", "countyreal", "--period", "year", "--value", "lemp"];
    options.extend(["--group", "first.treat", "--method", "group-time"]);
    options.extend(more);
    answer("output-change", &data("mpdta.csv"), &options)
}

fn effect(answer: &Value, group: i64, year: i64) -> &Value {
    let is_it = |r: &&Value| r["group"] == group && r["period"] == year;
    rows(answer, "effects").iter().find(is_it).unwrap()
}

/// [READ] R `did` README; Callaway & Sant'Anna 2021, J. Econometrics 225:200. Four decimals;
/// errors there are from a bootstrap, so two decimals of them.
#[test]
fn published_panel_gives_the_published_effects() {
    let got = mpdta(&["--control", "never"]);
    assert_eq!(got["numbers_used"]["farms"], 500);
    assert_eq!(got["numbers_used"]["farms_never_started"], 309);
    let published = [
        (2004, [-0.0105, -0.0704, -0.1373, -0.1008]),
        (2006, [0.0065, -0.0028, -0.0046, -0.0412]),
        (2007, [0.0305, -0.0027, -0.0311, -0.0261]),
    ];
    assert_eq!(rows(&got, "effects").len(), 12);
    for (group, by_year) in published {
        for (year, value) in (2004..).zip(by_year) {
            let effect = effect(&got, group, year);
            close(&effect["estimate_log"], value, 5e-5);
            assert_eq!(effect["controls"], 309);
            let half = 1.96 * effect["standard_error_log"].as_f64().unwrap();
            let upper = effect["estimate_log"].as_f64().unwrap() + half;
            close(&effect["interval_log"]["upper"], upper, 1e-12);
        }
    }
    let dynamic = [0.0305, -0.0006, -0.0245, -0.0199, -0.0510, -0.1373, -0.1008];
    for (event, value) in (-3..).zip(dynamic) {
        let at = row(&got, "by_event", "periods_since_start", event);
        close(&at["estimate_log"], value, 5e-5);
    }
    for (group, value) in [(2004, -0.0797), (2006, -0.0229), (2007, -0.0261)] {
        close(&row(&got, "by_group", "group", group)["estimate_log"], value, 5e-5);
    }
    let average = |name: &str| row(&got, "averages", "average", name);
    close(&average("dynamic")["estimate_log"], -0.0772, 5e-5);
    close(&average("dynamic")["standard_error_log"], 0.0196, 5e-3);
    close(&average("group")["estimate_log"], -0.0310, 5e-5);
    close(&average("group")["standard_error_log"], 0.0123, 5e-3);
    // [DATA] simple average: csdid 0.4.3 and own code.
    close(&average("simple")["estimate_log"], -0.03995, 5e-6);
    let text = "The value is 4 % lower than it would have been, between 2 % and 6 %";
    assert_eq!(said(average("simple")), text);
}

/// [READ] same source: controls not yet treated move the first effects of 2004 and 2006.
#[test]
fn controls_not_yet_started_give_their_published_effects() {
    let got = mpdta(&[]);
    assert_eq!(got["numbers_used"]["control"], "not_yet_started");
    close(&effect(&got, 2004, 2004)["estimate_log"], -0.0194, 5e-5);
    close(&effect(&got, 2006, 2006)["estimate_log"], 0.0047, 5e-5);
}

/// The CSV form holds the same numbers as the JSON form.
#[test]
fn csv_has_the_numbers_of_json() {
    let options = ["--panel", "--id", "countyreal", "--period", "year", "--value", "lemp"];
    let more = ["--group", "first.treat", "--method", "group-time", "--format", "csv"];
    let all: Vec<&str> = options.into_iter().chain(more).collect();
    let out = analyse("output-change", &data("mpdta.csv"), &all);
    let json = mpdta(&[]);
    let mut reader = csv::Reader::from_reader(out.stdout.as_slice());
    let header = reader.headers().unwrap().clone();
    let at = |name: &str| header.iter().position(|h| h == name).unwrap();
    let (part, group, period) = (at("part"), at("group"), at("period"));
    let (estimate, upper) = (at("estimate_log"), at("interval_log_upper"));
    let (method, units) = (at("method"), at("units"));
    let mut effects = 0;
    for record in reader.records() {
        let record = record.unwrap();
        assert!(record[method].contains("Callaway") && record[units].contains("logarithms"));
        if &record[part] == "effects" {
            effects += 1;
            let (g, t) = (record[group].parse().unwrap(), record[period].parse().unwrap());
            let same = effect(&json, g, t);
            close(&same["estimate_log"], record[estimate].parse().unwrap(), 1e-12);
            close(&same["interval_log"]["upper"], record[upper].parse().unwrap(), 1e-12);
        }
    }
    assert_eq!(effects, 12);
}

/// [MADE] nine farms give 10 % more from the month after their start.
#[test]
fn records_give_each_farm_and_the_programme() {
    let got = answer("output-change", &data("milk.csv"), &[]);
    let used = &got["numbers_used"];
    assert_eq!(used["farms"], 18);
    assert_eq!(used["farms_estimated"], 9);
    // Ten times the output, and no count of animals; one day was entered twice.
    assert_eq!((&used["records_left_out"], &used["records_replaced"]), (&2.into(), &1.into()));
    assert_eq!(used["stage_adjusted"], true);
    let first = row(&got, "members", "farm", "F01");
    assert_eq!(first["status"], "estimated");
    assert_eq!((&first["months_before"], &first["records_before"]), (&6.into(), &24.into()));
    assert_eq!((&first["months_after"], &first["records_after"]), (&7.into(), &28.into()));
    assert_eq!(first["verdict"], "increase");
    let ends = &first["shrunken_interval_percent"];
    assert!(ends["lower"].as_f64() < Some(10.0) && ends["upper"].as_f64() > Some(10.0));
    assert!(said(first).starts_with("Milk per cow-day is 10 % higher than it would have been"));
    let mut ranks: Vec<i64> =
        rows(&got, "members").iter().filter_map(|m| m["rank"].as_i64()).collect();
    ranks.sort_unstable();
    assert_eq!(ranks, (1..=9).collect::<Vec<_>>());
    let never = row(&got, "members", "farm", "F12");
    assert_eq!(never["status"], "not_started");
    let short = row(&got, "members", "farm", "F17");
    assert_eq!(said(short), "cannot tell yet: 2 of 6 records needed before the start");
    assert_eq!(row(&got, "members", "farm", "F18")["status"], "no_pre_data");
    close(&got["programme"]["estimate_percent"], 10.0, 1.0);
    assert_eq!(got["programme"]["farms"], 9);
    close(&got["cross_check"]["estimate_percent"], 10.0, 2.0);
    assert_eq!(got["warning"], Value::Null);
    let events: Vec<i64> =
        rows(&got, "pre_start").iter().filter_map(|e| e["periods_since_start"].as_i64()).collect();
    assert_eq!(events, [-5, -4, -3, -2]);
}

/// A second file of starts and other column names change nothing in the numbers.
#[test]
fn starts_may_stand_in_a_second_file() {
    let text = std::fs::read_to_string(data("milk.csv")).unwrap();
    let mut starts = "place,since\n".to_owned();
    for k in 1..=18 {
        let day = if k <= 9 || k >= 17 { "2025-07-10" } else { "" };
        starts += &format!("F{k:02},{day}\n");
    }
    starts += "F99,2025-07-10\n";
    let renamed = text.replacen("farm,date,output,animals,stage,started_on", "place,d,o,a,s,x", 1);
    let (records, starts) = (file("renamed", &renamed), file("starts", &starts));
    let starts = starts.display().to_string();
    let options = ["--id", "place", "--period", "d", "--value", "o", "--animals", "a"];
    let more = ["--stage", "s", "--group", "since", "--starts", &starts];
    let all: Vec<&str> = options.into_iter().chain(more).collect();
    let (got, plain) =
        (answer("output-change", &records, &all), answer("output-change", &data("milk.csv"), &[]));
    assert_eq!(got["programme"]["estimate_log"], plain["programme"]["estimate_log"]);
    // A farm without any record is not lost.
    assert_eq!(got["numbers_used"]["farms"], 19);
    assert_eq!(row(&got, "members", "farm", "F99")["status"], "no_pre_data");
}

/// [MADE] the same farms without any change in output: doubt, never "no effect".
#[test]
fn intervals_across_zero_cannot_tell_yet() {
    let mut text = "farm,period,log_value,records,started_on\n".to_owned();
    for farm in 0..14_u32 {
        let start = if farm < 4 { "2025-06" } else { "" };
        for month in 1..=12_u32 {
            // A fixed pattern without mean, with as many steps up as down: every farm another phase.
            let wave = 0.1 * f64::sin(2.1 * f64::from(farm) + 1.7 * f64::from(month));
            text += &format!("H{farm},2025-{month:02},{},4,{start}\n", 1.0 + wave);
        }
    }
    let panel = file("eggs", &text);
    let got = answer("output-change", &panel, &["--panel", "--enterprise", "eggs"]);
    let member = row(&got, "members", "farm", "H0");
    assert_eq!(
        (&member["status"], &member["verdict"]),
        (&"estimated".into(), &"cannot_tell_yet".into())
    );
    assert!(said(member).starts_with("cannot tell yet: eggs per hen-day may be anything from "));
    // Under eight estimated farms nothing is shrunken or ranked.
    assert!(member["rank"].is_null() && member["shrunken_estimate_log"].is_null());
    assert!(said(&got["programme"]).starts_with("cannot tell yet: over 4 farms, eggs per hen-day"));
    assert!(!got.to_string().contains("no effect"));
}

/// [MADE] F03 discards 30 % from its sixth batch on; lot L4 40 % wherever it is grown.
#[test]
fn spoilage_tells_farm_from_seed() {
    let got = answer("spoilage", &data("spoilage.csv"), &[]);
    assert_eq!(got["numbers_used"]["batches"], 144);
    assert_eq!(got["numbers_used"]["batches_left_out"], 1);
    let farm = row(&got, "farms", "farm", "F03");
    assert_eq!(farm["status"], "recurring");
    assert_eq!(farm["raised_by"], serde_json::json!(["B03-06", "B03-07", "B03-08"]));
    assert_eq!(farm["flagged_since"], "2026-02-23");
    let seed = row(&got, "farms", "farm", "F05");
    assert_eq!(
        (&seed["status"], &seed["points_at"]),
        (&"recurring_lot".into(), &"seed_lot".into())
    );
    assert!(said(seed).contains("its seed lots spoil on other farms too"));
    let fine = row(&got, "farms", "farm", "F01");
    assert_eq!((&fine["status"], said(fine)), (&"ok".into(), "Nothing stands out in 12 batches"));
    assert_eq!(got["lots"]["suspect_lots"], serde_json::json!(["L4"]));
    let path: Vec<f64> = rows(&got, "path")
        .iter()
        .filter(|p| p["farm"] == "F03")
        .filter_map(|p| p["chart_value"].as_f64())
        .collect();
    assert_eq!(path.len(), 12);
    // SPEC-B: a batch adds at most a third of what raises a flag, and the chart stays 3 above it.
    let flag_at: Vec<f64> = rows(&got, "path")
        .iter()
        .filter(|p| p["farm"] == "F03")
        .filter_map(|p| p["flag_at"].as_f64())
        .collect();
    let steps = path.windows(2).zip(&flag_at[1..]);
    assert!(steps.clone().all(|(w, flag)| w[1] - w[0] <= flag / 3.0 + 1e-12));
    assert!(steps.clone().all(|(w, flag)| (0.0..=flag + 3.0).contains(&w[1])));
    assert!(serde_json::json!(path.last()) == farm["chart_value"]);
}

#[test]
fn lots_are_compared_within_the_days_asked() {
    let days = ["--from", "2026-02-01", "--to", "2026-03-31"];
    let got = answer("lots", &data("spoilage.csv"), &days);
    assert_eq!(got["comparison"]["suspect_lots"], serde_json::json!(["L4"]));
    assert_eq!(got["comparison"]["verdict"], "both");
    assert_eq!(said(&got["comparison"]), "Seed lots differ and so do farms: lot L4 is suspect");
    let bad = row(&got, "lots", "lot", "L4");
    assert_eq!(bad["grown_by"].as_array().unwrap().len(), 3);
    assert!(bad["effect"].as_f64() > Some(0.0) && bad["is_suspect"] == true);
    // Before L4 was delivered it can not be there.
    let early = answer("lots", &data("spoilage.csv"), &["--to", "2026-02-01"]);
    assert!(rows(&early, "lots").iter().all(|l| l["lot"] != "L4"));
}

/// [READ] Newcombe 1998, Stat. Med. 17:857, table I, method 3: 81 of 263 is 0.2553 to 0.3662.
/// Batches of one tray have no correlation inside, so every tray counts in full.
#[test]
fn share_of_trays_meets_newcombes_table() {
    let row_of = |k: u32| format!("F{},A,1,{}\n", k % 5, u32::from(k < 81));
    let text: String = (0..263).map(row_of).collect();
    let path = file("newcombe", &format!("farm,lot,started,discarded\n{text}"));
    let got = answer("lots", &path, &[]);
    let lot = row(&got, "lots", "lot", "A");
    close(&lot["interval"]["lower"], 0.2553, 5e-5);
    close(&lot["interval"]["upper"], 0.3662, 5e-5);
    assert_eq!(got["comparison"]["verdict"], "not_identifiable");
    assert!(said(&got["comparison"]).starts_with("cannot tell yet"));
}

/// [MADE] 1 unit of meal at 325 or so becomes 0.6 and 60 of other cost an animal-day: about 70
/// saved a day.
#[test]
fn saving_has_intervals_and_a_programme() {
    let got = answer("saving", &data("saving.csv"), &["--currency", "TZS"]);
    assert_eq!(got["numbers_used"]["farms_estimated"], 3);
    assert_eq!(got["numbers_used"]["prices_filled"], 1);
    for name in ["F01", "F02", "F03"] {
        let farm = row(&got, "farms", "farm", name);
        assert_eq!(farm["status"], "estimated");
        assert_eq!((&farm["months_before"], &farm["months_after"]), (&6.into(), &5.into()));
        let ends = &farm["per_animal_day_interval"];
        assert!(ends["lower"].as_f64() < Some(77.0) && ends["upper"].as_f64() > Some(77.0));
        // [ARITH] per unit is the total over the output.
        let unit = farm["saving"].as_f64().unwrap() / farm["output"].as_f64().unwrap();
        close(&farm["per_unit"], unit, 1e-9);
    }
    assert_eq!(got["programme"]["farms"], 3);
    assert!(said(&got["programme"]).starts_with("Feeding cost "));
    assert_eq!(rows(&got, "months").len(), 15);
    assert_eq!(row(&got, "farms", "farm", "F07")["status"], "not_started");
}

/// [ARITH] One farm: before, 2 hay at 100 and 1 meal at 300 an animal-day; after, 2 hay at 100,
/// half a meal at 400 and 50 of other cost. Old ration now 2 x 100 + 400 = 600, spent 200 + 200
/// + 50 = 450: 150 saved a day, over 30 days 4,500; 240 litres, so 18.75 a litre.
#[test]
fn one_farm_saves_what_paper_says() {
    let mut text =
        "farm,month,feed,quantity,price,other_cost,animal_days,output,started_on\n".to_owned();
    for month in 1..=3 {
        text += &format!("A,2025-{month:02},hay,60,100,,30,,2025-04-15\n");
        text += &format!("A,2025-{month:02},meal,30,300,,,,\n");
    }
    text += "A,2025-05,hay,60,100,1500,30,240,\nA,2025-05,meal,15,400,1500,30,240,\n";
    let got = answer("saving", &file("one-farm-saving", &text), &[]);
    let farm = row(&got, "farms", "farm", "A");
    assert_eq!(farm["status"], "estimated");
    assert_eq!(farm["is_season_removed"], false);
    close(&farm["baseline"], 18_000.0, 1e-9);
    close(&farm["feed_saving"], 6_000.0, 1e-9);
    close(&farm["saving"], 4500.0, 1e-9);
    close(&farm["per_animal_day"], 150.0, 1e-9);
    close(&farm["per_unit"], 18.75, 1e-9);
    assert!(said(farm).ends_with("; seasons are not taken out"));
    close(&got["programme"]["saving"], 4500.0, 1e-9);
}

#[test]
fn one_farm_cannot_tell_yet_and_breaks_nothing() {
    let mut text = "farm,date,output,animals,started_on\n".to_owned();
    for month in 1..=12 {
        text += &format!("A,2025-{month:02}-01,30,3,2025-06-10\nA,2025-{month:02}-15,31,3,\n");
    }
    let got = answer("output-change", &file("one-farm", &text), &[]);
    assert_eq!(rows(&got, "members").len(), 1);
    assert!(said(&rows(&got, "members")[0]).starts_with("cannot tell yet"));
    assert!(said(&got["programme"]).starts_with("cannot tell yet"));
    let text = "farm,batch,date,started,discarded\nA,1,2026-01-01,20,1\n";
    let got = answer("spoilage", &file("one-batch", text), &[]);
    let farm = row(&got, "farms", "farm", "A");
    assert_eq!(said(farm), "cannot tell yet: 1 of 5 batches and 20 of 8 trays needed in 180 days");
    assert_eq!(got["lots"], Value::Null);
    let text = "farm,lot,started,discarded\nA,L1,20,1\n";
    let got = answer("lots", &file("one-lot", text), &[]);
    assert_eq!(got["comparison"]["status"], "not_identifiable");
}

/// Only a header: an answer about nobody, in both forms.
#[test]
fn no_rows_give_empty_answers() {
    let cases = [
        ("output-change", "farm,date,output,animals,started_on\n", "members"),
        ("spoilage", "farm,batch,date,started,discarded,lot\n", "farms"),
        ("lots", "farm,lot,started,discarded\n", "lots"),
        (
            "saving",
            "farm,month,feed,quantity,price,other_cost,animal_days,output,started_on\n",
            "farms",
        ),
    ];
    for (question, header, part) in cases {
        let path = file(&format!("header-{question}"), header);
        let got = answer(question, &path, &[]);
        assert!(rows(&got, part).is_empty(), "{question}");
        assert_eq!(got["numbers_used"]["farms"], 0);
        assert!(analyse(question, &path, &["--format", "csv"]).status.success());
    }
    let path = file("header-panel", "farm,period,log_value,started_on\n");
    for method in ["member", "group-time"] {
        answer("output-change", &path, &["--panel", "--method", method]);
    }
}

#[test]
fn files_without_columns_are_refused() {
    let empty = file("empty", "");
    let missing = Path::new(env!("CARGO_TARGET_TMPDIR")).join("analyse-not-there.csv");
    for question in ["output-change", "spoilage", "lots", "saving"] {
        let text = refusal(question, &empty, &[]);
        assert!(text.contains("analyse-empty.csv:1: the file is empty"), "{text}");
        assert!(refusal(question, &missing, &[]).contains("check the path"));
    }
    let text = refusal("lots", &file("unknown", "farm,seed,started,discarded\n"), &[]);
    let wanted = "analyse-unknown.csv:1: there is no column \"lot\"; the columns are farm, seed, \
                  started, discarded; name the right one with --lot, or add it";
    assert!(text.contains(wanted), "{text}");
    let text = refusal("lots", &data("spoilage.csv"), &["--date", "day", "--from", "2026-01-01"]);
    assert!(text.contains("no column \"day\"") && text.contains("--date"), "{text}");
    let twice = refusal("lots", &file("twice", "farm,lot,lot,started,discarded\n"), &[]);
    assert!(twice.contains("column 3 (lot): there are two columns of this name"), "{twice}");
    let text = refusal("lots", &data("spoilage.csv"), &["--from", "1 May"]);
    assert!(text.contains("--from 1 May: this is no day; write it as YYYY-MM-DD"), "{text}");
}

/// Each bad cell is told with file, line, column and what to do.
#[test]
fn bad_cells_are_refused_by_line_and_column() {
    let records = "farm,date,output,animals,started_on\n";
    let panel = "farm,period,log_value,started_on\n";
    let batches = "farm,batch,date,started,discarded\n";
    let feed = "farm,month,feed,quantity,price,other_cost,animal_days,started_on\n";
    let cases: &[(&str, &[&str], &str, &str, &str)] = &[
        (
            "output-change",
            &[],
            records,
            "A,2025-01-01,x,3,\n",
            ":2: column 3 (output): \"x\" is no",
        ),
        (
            "output-change",
            &[],
            records,
            "A,1/2/2025,9,3,\n",
            ":2: column 2 (date): \"1/2/2025\" is",
        ),
        ("output-change", &[], records, ",2025-01-01,9,3,\n", ":2: column 1 (farm): this cell is"),
        (
            "output-change",
            &[],
            records,
            "A,2025-01-01,-9,3,\n",
            ":2: column 3 (output): a number b",
        ),
        (
            "output-change",
            &[],
            records,
            "A,2025-01-01,NaN,3,\n",
            ":2: column 3 (output): \"NaN\" is",
        ),
        (
            "output-change",
            &[],
            records,
            "A,2025-01-01,9,3,2025-02-01\nA,2025-01-02,9,3,2025-05-01\n",
            ":3: column 5 (started_on): this farm has another start",
        ),
        ("output-change", &[], records, "A,1925-01-01,9,3,\nA,2025-01-01,9,3,\n", "more than 600"),
        (
            "output-change",
            &[],
            records,
            "A,2025-01-01,9,3,,7\n",
            ":2: 6 cells under 5 column names",
        ),
        (
            "output-change",
            &["--panel"],
            panel,
            "A,1,2,\nA,1,3,\n",
            ":3: this farm and period stand",
        ),
        (
            "output-change",
            &["--panel"],
            panel,
            "A,1,2,\nA,2025-01,3,\n",
            ":3: column 2 (period): wri",
        ),
        (
            "output-change",
            &["--panel"],
            panel,
            "A,1,2,2025-01\n",
            ":2: column 4 (started_on): write",
        ),
        ("output-change", &["--panel"], panel, "A,1,800,\n", ":2: column 3 (log_value): no logar"),
        (
            "spoilage",
            &[],
            batches,
            "A,1,2026-01-01,20,21\n",
            ":2: column 5 (discarded): more trays",
        ),
        (
            "spoilage",
            &[],
            batches,
            "A,1,2026-01-01,20.5,1\n",
            ":2: column 4 (started): \"20.5\" is",
        ),
        ("spoilage", &[], batches, "A,1,,20,1\n", ":2: column 3 (date): this cell is empty"),
        (
            "saving",
            &[],
            feed,
            "A,2025-13,hay,1,1,1,1,\n",
            ":2: column 2 (month): \"2025-13\" is no",
        ),
        (
            "saving",
            &[],
            feed,
            "A,2025-01,hay,1,1,1,1,\nA,2025-01,hay,1,1,1,1,\n",
            ":3: column 3 (feed): this farm, month and feed stand in line 2 already",
        ),
        (
            "saving",
            &[],
            feed,
            "A,2025-01,hay,1,1,1,30,\nA,2025-01,meal,1,1,1,31,\n",
            ":3: column 7 (animal_days): an earlier row of this farm and month says 30",
        ),
        (
            "output-change",
            &["--panel"],
            panel,
            "A,-9223372036854775808,2,\n",
            ":2: column 2 (period): \"-9223372036854775808\" is no period",
        ),
        ("saving", &[], feed, "A,2025-01,,1,1,1,1,\n", ":2: column 3 (feed): name the feed"),
    ];
    for (k, (question, options, header, bad, wanted)) in cases.iter().enumerate() {
        let path = file(&format!("bad-{k}"), &format!("{header}{bad}"));
        let text = refusal(question, &path, options);
        assert!(text.contains(wanted), "{text} for {wanted}");
    }
}

#[test]
fn many_bad_rows_are_told_together() {
    let bad: String = (0..30).map(|_| "A,L,x,1\n").collect();
    let path = file("many", &format!("farm,lot,started,discarded\n{bad}"));
    let text = refusal("lots", &path, &[]);
    assert_eq!(text.matches("column 3 (started)").count(), 20);
    assert!(text.contains(":21: column 3") && text.contains("and 10 more bad rows"), "{text}");
}
