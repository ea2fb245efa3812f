use super::*;
use crate::savings::wording::{lacking, sentence};
use crate::savings::write::{CAUTION, METHOD, UNITS};
use crate::savings::{
    GROUP_LEFT_OUT, NO_FEED, NO_HEAD, NO_OTHER, NO_RATION, NO_SEED_PRICE, NO_SOAK, board_pdf,
    member_pdf,
};

fn report() -> Published {
    let farm = |number: &str, name: &str, area: &str, saving: Option<f64>| {
        let status = if saving.is_some() { "estimated" } else { "not_started" };
        serde_json::json!({
            "farm_id": number, "farm": number, "member_number": number, "member_name": name,
            "area": area, "status": status, "missing": [], "notes": [], "animals": 2.5,
            "animal_days": 70, "baseline_cost": 1000.25, "feed_cost": 400, "seed_cost": 100.1,
            "other_cost": 0, "depreciation": 0, "saving": saving, "trays_started": 10,
            "trays_discarded": 1, "eggs": 0, "milk_litres": 0,
        })
    };
    let json = serde_json::json!({
        "cooperative": "A & B", "month": "2026-02", "currency": "TZS", "is_closed": false,
        "method": "m", "units": "u", "caution": "c", "fodder_dry_matter_percent": 15,
        "farms": [
            farm("1", "=HYPERLINK(\"x\")", "North/East", Some(500.15)),
            farm("2", "+255", "North/East", Some(-20.0)),
            farm("3", "Chiku", "South", None),
        ],
        "areas": [], "total": null, "adjustments": [
            { "month": "2026-01", "farm": "1", "reported": null, "now": 5, "change": 5 },
        ],
    });
    Published::read(&json.to_string()).unwrap()
}

#[test]
fn the_same_report_is_the_same_bytes_and_a_file_of_the_right_kind() {
    let workbook = |reports: &[Published]| workbook(reports, Language::En);
    let bytes = workbook(&[report()]).unwrap();
    assert_eq!(bytes, workbook(&[report()]).unwrap());
    // A ZIP file (PKWARE APPNOTE 4.3.7) whose first member tells what the others are (ISO/IEC
    // 29500-2).
    assert_eq!(bytes.get(..4), Some(b"PK\x03\x04".as_slice()));
    let text = String::from_utf8_lossy(&bytes);
    assert!(text.contains("[Content_Types].xml"));
    assert!(workbook(&[]).is_err());
}

#[test]
fn what_was_not_recorded_is_none_and_not_zero() {
    let json = serde_json::json!({
        "cooperative": "A", "month": "2026-02", "currency": "UGX", "adjustments": [], "areas": [],
        "farms": [{
            "status": "missing", "feed_cost": 0, "seed_cost": 0, "other_cost": 0, "eggs": 0,
            "milk_litres": 0, "trays_started": 0, "animal_days": 0, "depreciation": 0,
            "missing": ["feed purchases (record 0 kg if none was bought)", "head count of the animals"],
            "notes": ["no other costs are recorded", "no soak is recorded"],
        }],
    });
    let report = Published::read(&json.to_string()).unwrap();
    let farm = report.farms.first().unwrap();
    for name in [
        "feed_cost",
        "seed_cost",
        "other_cost",
        "eggs",
        "milk_litres",
        "trays_started",
        "animal_days",
    ] {
        assert_eq!(farm.figures.get(name), None, "{name}");
    }
    assert_eq!(farm.figures.get("depreciation"), Some(0.0));
    assert_eq!(report.digits, 0);
}

#[test]
fn documents_of_an_odd_report_are_made_all_the_same() {
    let report = report();
    // A report without farms, as somebody without farms sees it.
    let empty = Published { farms: Vec::new(), ..report.clone() };
    for l in [Language::En, Language::Sw] {
        let pdf = board_pdf(&report, l).unwrap();
        assert_eq!(pdf, board_pdf(&report, l).unwrap());
        assert!(member_pdf(&report, "2", l).unwrap().is_some());
        assert!(member_pdf(&report, "9", l).unwrap().is_none());
        assert!(board_pdf(&empty, l).is_ok());
        assert!(workbook(std::slice::from_ref(&empty), l).is_ok());
    }
    assert_ne!(board_pdf(&report, Language::En), board_pdf(&report, Language::Sw));
}

#[test]
fn documents_say_nothing_by_themselves() {
    let sources = [
        include_str!("../board.rs"),
        include_str!("../member.rs"),
        include_str!("../wording.rs"),
        include_str!("mod.rs"),
        include_str!("areas.rs"),
        include_str!("notes.rs"),
        include_str!("totals.rs"),
    ];
    let says = |line: &str| {
        let code = line.split("//").next().unwrap_or_default();
        let texts = code.split('"').skip(1).step_by(2);
        let word = |w: &str| w.len() > 2 && w.chars().all(char::is_alphabetic);
        // What the report carries in English is recognised, and what goes wrong is told in English.
        let known = ["price of ", " within three months", "no month is given"];
        texts.filter(|t| !known.contains(t)).any(|t| {
            let words: Vec<&str> = t.split(' ').filter(|w| word(w)).collect();
            words.len() > 1 || words.first().is_some_and(|w| w.starts_with(char::is_uppercase))
        })
    };
    for source in sources {
        for line in source.lines().filter(|l| !l.trim_start().starts_with("#[")) {
            assert!(!says(line), "hard-coded: {line}");
        }
    }
    assert!(says("paper.text(\"Trays lost\")") && says("\"Notes\""), "it would be found");
}

#[test]
fn what_the_report_says_of_itself_is_said_in_both_languages() {
    for (key, published) in [("doc-method", METHOD), ("doc-caution", CAUTION)] {
        assert_eq!(Language::En.text(key), sentence(published));
        assert_ne!(Language::Sw.text(key), sentence(published));
    }
    assert_eq!(Language::En.text("doc-units"), UNITS);
    for text in [NO_HEAD, NO_FEED, NO_SEED_PRICE, NO_RATION, NO_OTHER, NO_SOAK, GROUP_LEFT_OUT] {
        assert_eq!(lacking(Language::En, text), text);
        let told = lacking(Language::Sw, text);
        assert!(told != text && !told.starts_with('['), "{text}: {told}");
    }
    let price = lacking(Language::Sw, "price of maize bran within three months");
    assert!(price.contains("maize bran") && !price.contains("within"), "{price}");
}
