use super::*;
use crate::savings::publish::{CAUTION, METHOD, UNITS};
use crate::savings::wording::{Said as _, sentence};
use crate::savings::{board_pdf, member_pdf};
use serde_json::{Value as Json, json};
use traybook_answers::savings::{FarmLine, Money, Note, Wait, What};
use uuid::Uuid;

fn id(number: u128) -> Uuid {
    Uuid::from_u128(number)
}

fn farm(number: u128, name: &str, more: &Json) -> Json {
    let mut farm = json!({
        "farm_id": id(number), "farm": number.to_string(), "member_id": id(number),
        "member_number": number.to_string(), "member_name": name, "status": "missing",
        "missing": [], "notes": [], "animals": 2.5,
    });
    let more = more.as_object().expect("members").clone();
    farm.as_object_mut().expect("a farm").extend(more);
    farm
}

fn read(currency: &str, farms: &[Json], adjustments: &Json) -> SavingsReport {
    let json = json!({
        "cooperative": "A & B", "month": "2026-02", "currency": currency, "is_closed": false,
        "data_version": 1, "method": "m", "units": "u", "fodder_dry_matter_percent": 15,
        "fresh_cost_is": "f", "caution": "c", "farms": farms, "areas": [], "total": null,
        "adjustments": adjustments, "adjustments_total": null,
    });
    SavingsReport::read(1, &json.to_string()).expect("a report")
}

fn report() -> SavingsReport {
    let of = |number, name, area: &str, saving: Option<f64>| {
        let status = if saving.is_some() { "estimated" } else { "not_started" };
        let more = json!({
            "area": area, "status": status, "animal_days": 70, "baseline_cost": 1000.25,
            "feed_cost": 400, "seed_cost": 100.1, "other_cost": 0, "depreciation": 0,
            "saving": saving, "trays_started": 10, "trays_discarded": 1, "eggs": 0,
            "milk_litres": 0,
        });
        farm(number, name, &more)
    };
    let farms = [
        of(1, "=HYPERLINK(\"x\")", "North/East", Some(500.15)),
        of(2, "+255", "North/East", Some(-20.0)),
        of(3, "Chiku", "South", None),
    ];
    let adjustment = json!({ "month": "2026-01", "farm_id": id(1), "farm": "1", "reported": null,
        "now": 5, "change": 5 });
    read("TZS", &farms, &json!([adjustment]))
}

#[test]
fn the_same_report_is_the_same_bytes_and_a_file_of_the_right_kind() {
    let workbook = |reports: &[SavingsReport]| workbook(reports, Language::En);
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
    let zeros = json!({
        "feed_cost": 0, "seed_cost": 0, "other_cost": 0, "eggs": 0, "milk_litres": 0,
        "trays_started": 0, "animal_days": 0, "depreciation": 0,
        "missing": ["feed purchases (record 0 kg if none was bought)", "head count of the animals"],
        "notes": ["no other costs are recorded", "no soak is recorded"],
    });
    let report = read("UGX", &[farm(1, "Asha", &zeros)], &json!([]));
    let recorded = report.farms.first().map(FarmLine::recorded).expect("a farm");
    let (zero, money) = (Some(Decimal::new(0, 0)), recorded.money);
    let known =
        Money { animal_days: Some(0), eaten_cost: zero, depreciation: zero, ..Money::default() };
    assert_eq!(money, known);
    assert_eq!(recorded, Figures { money, bought_cost: zero, ..Figures::default() });
    assert_eq!(report.digits(), 0);
}

#[test]
fn documents_of_an_odd_report_are_made_all_the_same() {
    let report = report();
    // A report without farms, as somebody without farms sees it.
    let empty = SavingsReport { farms: Vec::new(), ..report.clone() };
    for l in Language::ALL.iter().copied() {
        let pdf = board_pdf(&report, l).unwrap();
        assert_eq!(pdf, board_pdf(&report, l).unwrap());
        assert!(member_pdf(&report, id(2), l).unwrap().is_some());
        assert!(member_pdf(&report, id(9), l).unwrap().is_none());
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
        // What goes wrong is told in English.
        texts.filter(|t| *t != "no month is given").any(|t| {
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
    const BOTH: [Language; 2] = [Language::En, Language::Sw];
    let notes = Note::ALL.iter().map(|n| (n.text().to_owned(), BOTH.map(|l| n.said(l))));
    for (published, [english, swahili]) in notes {
        assert_eq!(english, published);
        assert!(swahili != english && !swahili.starts_with('['), "{published}: {swahili}");
    }
    for what in What::ALL {
        let feed = Some("maize bran".to_owned());
        let [english, swahili] =
            BOTH.map(|l| Wait { feed: feed.clone(), ..Wait::of(*what) }.said(l));
        assert!(swahili != english && !swahili.starts_with('['), "{english}: {swahili}");
        assert_eq!(swahili.contains("maize bran"), english.contains("maize bran"));
    }
}

/// Heads of columns break between words alone, in every language.
#[test]
fn heads_of_the_members_table_are_whole_words() {
    let text = String::new;
    let day = chrono::NaiveDate::default();
    let about =
        crate::pdf::About { title: text(), author: text(), language: text(), day, page_of: text() };
    let paper = crate::pdf::Paper::new(about).expect("the letters");
    let size = crate::pdf::Table::new(&[]).size;
    for language in Language::ALL.iter().copied() {
        for (key, width, _) in
            crate::savings::board::MEMBER_COLUMNS.iter().filter(|(key, ..)| !key.is_empty())
        {
            for word in language.text(key).split(' ') {
                let needed = paper.face(true).width(word, size) + crate::pdf::PADDING;
                assert!(needed <= *width, "{word} needs {needed}, has {width}");
            }
        }
    }
}
