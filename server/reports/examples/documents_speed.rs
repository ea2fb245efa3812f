//! Measures documents of a large co-operative: `cargo run --release -p traybook-reports --example
//! documents_speed`. Prints seconds and bytes; asserts nothing.

use serde_json::{Value as Json, json};
use std::time::Instant;
use traybook_answers::savings::SavingsReport;
use traybook_reports::charts::{Interval, Intervals, Months, Series, Words, intervals, months};
use traybook_reports::labels::qr_svg;
use traybook_reports::savings::{board_pdf, member_pdf, workbook};
use traybook_speech::Language;
use uuid::Uuid;

const FARMS: u32 = 2_000;
const AREAS: u32 = 40;
const MONTHS: i32 = 36;

fn id(number: u32) -> Uuid {
    Uuid::from_u128(number.into())
}

/// A made report in which every tenth farm has no number and some lose.
fn report(month: &str, shift: u32) -> String {
    let farm = |i: u32| {
        let has = !i.is_multiple_of(10);
        let saving = f64::from((i * 37 + shift * 11) % 2_000) * 100.0 - 60_000.0;
        let number = |v: f64| if has { json!(v) } else { Json::Null };
        json!({
            "farm_id": id(i), "farm": format!("F{i:04}"),
            "member_id": id(i), "member_number": format!("M-{i:04}"),
            "member_name": format!("Mũthoni Wa {i}"), "area": format!("Area {}", i % AREAS),
            "status": if has { "estimated" } else { "not_started" }, "missing": [],
            "notes": ["no other costs are recorded"], "animals": 4.5, "animal_days": 126,
            "baseline_cost": 845_000.25, "feed_cost": 600_123.5, "seed_cost": 110_000.75,
            "other_cost": 0, "depreciation": 11_754.76, "saving": number(saving),
            "saving_percent_of_baseline": number(4.7), "saving_per_animal_day": number(316.2375),
            "saving_per_litre": number(49.992), "fresh_fodder_fed_kg": 925.5,
            "fodder_cost_per_kg_dry_matter": 1918.925, "trays_started": 108,
            "trays_discarded": 9, "trays_discarded_percent": 8.3, "milk_litres": 798.1,
            "litres_per_cow_day": 9.501, "eggs": 0,
            "saving_interval": if has {
                json!({ "low": saving - 40_000.0, "high": saving + 40_000.0 })
            } else {
                Json::Null
            },
            "output_change": { "enterprise": "milk", "percent": 3.1, "low": -0.4, "high": 6.6,
                "sentence": "cannot tell yet" },
            "spoilage_status": "ok",
        })
    };
    let sums = |name: &str| {
        json!({ "name": name, "farms_included": 45, "farms_saving": 30, "farms_losing": 15,
            "farms_left_out": 5, "left_out_by_status": { "not_started": 5 }, "animal_days": 5_670, "baseline_cost": 38_025_011.25,
            "feed_cost": 27_005_557.5, "seed_cost": 4_950_033.75, "saving": 1_250_000.5,
            "saving_interval": { "low": -100_000, "high": 2_600_000 } })
    };
    json!({
        "cooperative": "A large co-operative", "month": month, "currency": "TZS",
        "is_closed": true, "data_version": 1, "fresh_cost_is": "mostly water", "method": "as measured", "units": "money in currency units",
        "caution": "do not feed mouldy fodder", "fodder_dry_matter_percent": 15,
        "farms": (0..FARMS).map(farm).collect::<Vec<_>>(),
        "areas": (0..AREAS).map(|a| sums(&format!("Area {a}"))).collect::<Vec<_>>(),
        "total": sums("all"), "adjustments": [], "adjustments_total": 0,
    })
    .to_string()
}

fn timed<T>(name: &str, size: impl Fn(&T) -> usize, work: impl FnOnce() -> T) -> T {
    let start = Instant::now();
    let made = work();
    println!("{name:<44} {:>8.3} s {:>12} bytes", start.elapsed().as_secs_f64(), size(&made));
    made
}

fn main() -> Result<(), String> {
    let first = traybook_domain::Month::parse("2023-01").ok_or("a month")?;
    let texts: Vec<String> =
        (0..MONTHS).map(|m| report(&first.plus(m).to_string(), m.unsigned_abs())).collect();
    let read = || texts.iter().map(|t| SavingsReport::read(1, t)).collect::<Result<Vec<_>, _>>();
    let reports =
        timed("36 reports of 2,000 farms read", |_| texts.iter().map(String::len).sum(), read)?;
    let last = reports.last().ok_or("a report")?;
    timed("PDF of 2,000 members", Vec::len, || board_pdf(last, Language::En).unwrap_or_default());
    timed(
        "a member's page",
        |p: &Option<Vec<u8>>| p.as_ref().map_or(0, Vec::len),
        || member_pdf(last, id(7), Language::En).ok().flatten(),
    );
    let one = std::slice::from_ref(last);
    timed("workbook of 2,000 farms, 1 month", Vec::len, || {
        workbook(one, Language::En).unwrap_or_default()
    });
    timed("workbook of 2,000 farms, 36 months", Vec::len, || {
        workbook(&reports, Language::En).unwrap_or_default()
    });
    charts();
    Ok(())
}

fn charts() {
    let row = |i: u32| Interval {
        label: format!("Member {i}"),
        text: "+3.1 % (−0.4 to 6.6)".to_owned(),
        number: Some((f64::from(i % 7) - 2.0, f64::from(i % 7) - 4.0, f64::from(i % 7))),
    };
    let words = Words { id: "c".to_owned(), ..Words::default() };
    let bars =
        Intervals { words: words.clone(), axis: "%".to_owned(), rows: (0..12).map(row).collect() };
    let value = |m: u32| (!m.is_multiple_of(5)).then(|| 8.0 + f64::from(m % 4));
    let line =
        Series { label: "milk".to_owned(), values: (0..24).map(value).collect(), band: vec![] };
    let lines = Months {
        words,
        months: (0..24).map(|m| m.to_string()).collect(),
        series: vec![line.clone(), line],
        ..Months::default()
    };
    for (name, make) in [
        ("interval charts of 12 rows", &(|| intervals(&bars)) as &dyn Fn() -> Option<String>),
        ("charts of two lines over 24 months", &|| months(&lines)),
        ("QR codes of 60 characters", &|| qr_svg(&"x".repeat(60), 4).ok()),
    ] {
        let start = Instant::now();
        let mut bytes = 0;
        for _ in 0..2_000 {
            bytes = make().map_or(0, |svg| svg.len());
        }
        let rate = 2_000.0 / start.elapsed().as_secs_f64();
        println!("{name:<44} {rate:>8.0} a second {bytes:>6} bytes");
    }
}
