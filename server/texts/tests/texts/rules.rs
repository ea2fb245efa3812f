//! The rules of reading, one by one.

use super::{base, cases, large};
use chrono::NaiveDate;
use serde_json::json;
use traybook_speech::Language;
use traybook_texts::{Caution, Outcome, Scene, Session, Written, read};

/// The outcome of a text with its records.
fn gives(scene: &Scene, text: &str) -> (Outcome, Vec<serde_json::Value>) {
    let reading = read(Some(text), scene);
    (reading.outcome, reading.records.iter().map(cases::record).collect())
}

/// The outcome of the last of several texts.
fn talk(scene: &Scene, texts: &[&str]) -> (Outcome, Vec<serde_json::Value>) {
    let mut scene = scene.clone();
    let mut last = (Outcome::Unknown, Vec::new());
    for text in texts {
        let reading = read(Some(text), &scene);
        cases::go_on(&mut scene, Some(text), &reading);
        last = (reading.outcome, reading.records.iter().map(cases::record).collect());
    }
    last
}

fn milk(ml: i64, date: &str, session: &str) -> serde_json::Value {
    json!({"kind": "milk_record", "farm": "F3", "date": date, "group": "ng1", "v": ml, "animals": 3,
        "session": session})
}

const TODAY: &str = "2026-11-27";

#[test]
fn figures_stand_before_or_after_their_word() {
    let scene = base(Language::Sw);
    let both = gives(&scene, "maziwa 12 mayai 41");
    assert_eq!(both.1.len(), 2);
    for text in [
        "12 maziwa 41 mayai",
        "12 maziwa mayai 41",
        "maziwa lita 12 mayai 41",
        "12 lita maziwa na mayai 41",
    ] {
        assert_eq!(gives(&scene, text), both, "{text}");
    }
    let weighed = gives(&scene, "vuna kilo 30 trei 6");
    for text in ["vuna 30 kg trei 6", "vuna 6 trei 30 kg", "nimevuna trei 6 kilo 30"] {
        assert_eq!(gives(&scene, text), weighed, "{text}");
    }
    for text in
        ["maziwa 12 mayai", "maziwa lita 12 3", "vuna 30 trei 6", "lita 12", "maziwa kilo 12"]
    {
        assert_eq!(gives(&scene, text), (Outcome::Ask, vec![]), "{text}");
    }
}

#[test]
fn milkings_of_a_day_may_stand_behind_one_word() {
    let scene = base(Language::Sw);
    let two = (Outcome::Record, vec![milk(6_000, TODAY, "morning"), milk(5_000, TODAY, "evening")]);
    for text in
        ["maziwa asubuhi 6 jioni 5", "maziwa 6 asubuhi 5 jioni", "maziwa asubuhi 6L jioni 5L"]
    {
        assert_eq!(gives(&scene, text), two, "{text}");
    }
    assert_eq!(gives(&scene, "maziwa asubuhi 6 jioni").0, Outcome::Ask);
    assert_eq!(gives(&scene, "maziwa asubuhi jioni 6 5").0, Outcome::Ask);
}

#[test]
fn days_are_at_most_a_week_back() {
    let scene = base(Language::Sw);
    for (text, date) in [
        ("juzi maziwa 11", "2026-11-25"),
        ("maziwa 25/11 11", "2026-11-25"),
        ("maziwa 11 25.11.2026", "2026-11-25"),
        ("maziwa 11 20/11/26", "2026-11-20"),
    ] {
        assert_eq!(
            gives(&scene, text),
            (Outcome::Record, vec![milk(11_000, date, "day")]),
            "{text}"
        );
    }
    for text in ["maziwa 11 19/11", "maziwa 11 28/11", "maziwa kesho 11", "maziwa 11 3/1"] {
        assert_eq!(gives(&scene, text), (Outcome::Refuse, vec![]), "{text}");
    }
    assert_eq!(gives(&scene, "maziwa 11 31/11").0, Outcome::Ask);
    assert_eq!(gives(&scene, "maziwa 12 mayai 41 jana").0, Outcome::Ask, "of which is it?");
    let (outcome, records) = gives(&scene, "jana maziwa 12 mayai 41");
    assert_eq!(outcome, Outcome::Record);
    assert!(records.iter().all(|r| r["date"] == "2026-11-26"));
}

#[test]
fn what_is_far_from_usual_is_asked() {
    let scene = base(Language::Sw);
    for text in
        ["maziwa 125", "maziwa 0", "maziwa 2", "mayai 7", "mayai 0", "vuna 150", "vuna trei 9"]
    {
        assert_eq!(gives(&scene, text), (Outcome::Ask, vec![]), "{text}");
        let (outcome, records) = talk(&scene, &[text, "ndiyo"]);
        assert_eq!((outcome, records.len()), (Outcome::Record, 1), "{text}");
        assert_eq!(talk(&scene, &[text, "hapana"]).0, Outcome::Answer, "{text}");
        assert_eq!(talk(&scene, &[text, "hapana", "ndiyo"]).1, Vec::<serde_json::Value>::new());
    }
    for text in ["maziwa 29", "maziwa 2.4", "maziwa 2 jioni", "mayai 8", "mayai 78"] {
        assert_eq!(gives(&scene, text).0, Outcome::Record, "{text}");
    }
    for text in ["maziwa 301", "mayai 79", "mayai 30 nyufa 31"] {
        assert_eq!(gives(&scene, text), (Outcome::Refuse, vec![]), "{text}");
    }
    assert_eq!(gives(&scene, "maziwa 12 ng'ombe 4").0, Outcome::Ask);
    assert_eq!(talk(&scene, &["mayai trei 2", "ndiyo"]).1[0]["v"], 60_000);
}

#[test]
fn grouped_digits_are_pieces_and_never_a_measure() {
    let mut scene = base(Language::Sw);
    let hens = scene.farms[0].groups.iter_mut().find(|g| g.code == "ku1").expect("hens");
    (hens.animals, hens.usual) = (1_500, Some(1_200_000));
    assert_eq!(gives(&scene, "mayai 1,250").1[0]["v"], 1_250_000);
    for text in ["mayai 1.250", "maziwa 1,250", "vuna 1,250", "mayai 1.5"] {
        assert_eq!(gives(&scene, text), (Outcome::Ask, vec![]), "{text}");
    }
}

#[test]
fn a_second_amount_is_asked_unless_it_is_another_milking() {
    let mut scene = base(Language::Sw);
    let date = NaiveDate::from_ymd_opt(2026, 11, 27).expect("a day");
    scene.written =
        vec![Written { group: "ng1".to_owned(), date, session: Session::Morning, amount: 6_000 }];
    assert_eq!(
        gives(&scene, "maziwa 5 jioni"),
        (Outcome::Record, vec![milk(5_000, TODAY, "evening")])
    );
    assert_eq!(gives(&scene, "maziwa jana 11").0, Outcome::Record);
    for text in ["maziwa 5", "maziwa asubuhi 5"] {
        assert_eq!(gives(&scene, text), (Outcome::Ask, vec![]), "{text}");
    }
    let (outcome, records) = gives(&scene, "ongeza maziwa asubuhi 1");
    assert_eq!(outcome, Outcome::Record);
    assert_eq!((&records[0]["v"], &records[0]["corrects"]), (&json!(7_000), &json!(true)));
    assert_eq!(talk(&scene, &["maziwa 5", "ongeza"]).1[0]["session"], "day");
    assert_eq!(talk(&scene, &["maziwa 5", "3"]), (Outcome::Ask, vec![]), "3 was not offered");
    assert_eq!(talk(&scene, &["maziwa 5", "3", "2"]).1[0]["v"], 5_000);
    // The sum is held against the usual as well.
    assert_eq!(talk(&scene, &["maziwa 27", "1"]), (Outcome::Ask, vec![]));
    assert_eq!(talk(&scene, &["maziwa 27", "1", "ndiyo"]).1[0]["v"], 33_000);
}

#[test]
fn the_same_text_makes_no_second_record() {
    let scene = base(Language::Sw);
    assert_eq!(talk(&scene, &["Maziwa 12", "maziwa  12"]), (Outcome::Repeat, vec![]));
    assert_eq!(talk(&scene, &["maziwa 12", "kosa", "maziwa 12"]).0, Outcome::Record);
}

#[test]
fn answers_belong_to_the_open_question_and_to_nothing_else() {
    let scene = base(Language::Sw);
    assert_eq!(
        talk(&scene, &["maziwa", "12.5"]),
        (Outcome::Record, vec![milk(12_500, TODAY, "day")])
    );
    assert_eq!(talk(&scene, &["41", "2"]).1[0]["kind"], "egg_record");
    assert_eq!(talk(&scene, &["41", "mayai"]).1[0]["v"], 41_000);
    assert_eq!(talk(&scene, &["tupa 1", "panya", "B43"]).1[0]["batch"], "B43");
    // Another record on the way closes the question; a question does not.
    assert_eq!(talk(&scene, &["tupa 1", "mayai 40", "1"]).0, Outcome::Ask);
    assert_eq!(talk(&scene, &["tupa 1", "kazi", "5", "1"]).1[0]["cause"], "pests");
    for text in ["ndiyo", "hapana"] {
        assert_eq!(gives(&scene, text), (Outcome::Unclear, vec![]));
    }
    for text in ["ndiyoo", "yess", "kossa", "stopp", "ndiyo maziwa 12", "kosa maziwa 12"] {
        let outcome = gives(&scene, text).0;
        assert!(matches!(outcome, Outcome::Unclear | Outcome::Ask), "{text}: {outcome:?}");
    }
}

#[test]
fn work_is_named_by_number_or_by_word() {
    let scene = base(Language::Sw);
    let two = gives(&scene, "tayari 2 3");
    assert_eq!(two.1.len(), 2);
    for text in ["tayari 2,3", "tayari 3 2 2", "2 3 tayari", "tayari 2 na 3"] {
        assert_eq!(gives(&scene, text), two, "{text}");
    }
    assert_eq!(gives(&scene, "tayari 1").1[0]["event"], "harvested");
    assert_eq!(gives(&scene, "tayari 1 kilo 30").1[0]["kg"], 30_000);
    assert_eq!(gives(&scene, "tayari 4").1[0]["cause"], "mould");
    for text in ["tayari 2 5", "lisha 4", "nimelisha"] {
        assert_eq!(gives(&scene, text), (Outcome::Refuse, vec![]), "{text}");
    }
    for text in
        ["tayari", "tayari 2.3", "tayari 2 3 kilo 5", "mwagilia 3", "osha", "tandaza", "loweka 40"]
    {
        assert_eq!(gives(&scene, text), (Outcome::Ask, vec![]), "{text}");
    }
    assert_eq!(gives(&scene, "nimemwagilia").1[0]["n"], 3);
    assert_eq!(gives(&scene, "tupa 1 ukungu B42").1[0]["batch"], "B42");
    assert_eq!(gives(&scene, "vuna trei 3 B42").1[0]["trays"], 3);
    let held = |task: &str| {
        let mut scene = large();
        scene.farms[0].lines.iter_mut().for_each(|l| l.caution = Some(Caution::Held));
        gives(&scene, task).0
    };
    assert_eq!([held("loweka"), held("lisha"), held("tayari 3")], [Outcome::Refuse; 3]);
}

#[test]
fn codes_are_read_with_and_without_the_farms() {
    let scene = large();
    for text in ["vuna F0012-261120 trei 4", "vuna 261120 trei 4", "vuna 261120, trei 4"] {
        let (outcome, records) = gives(&scene, text);
        // Without a letter the code is a figure like others.
        match outcome {
            Outcome::Record => assert_eq!(records[0]["batch"], "F0012-261120", "{text}"),
            other => assert_eq!(other, Outcome::Ask, "{text}"),
        }
    }
    assert_eq!(gives(&scene, "vuna F0012-261120 trei 4").0, Outcome::Record);
    assert_eq!(gives(&scene, "maziwa 12"), (Outcome::Ask, vec![]), "cows or goats?");
    for text in ["mbuzi maziwa 5", "goat milk 5", "maziwa 5 mbuzi"] {
        assert_eq!(gives(&scene, text).1[0]["group"], "F0012-GOAT", "{text}");
    }
    assert_eq!(talk(&scene, &["maziwa 5", "2"]).1[0]["group"], "F0012-GOAT");
}

#[test]
fn two_farms_are_told_apart_or_asked() {
    let file = super::file();
    let of = file["cases"].as_array().expect("cases").iter().find(|c| c["case"] == 32);
    let scene = cases::scene(&file["base"], &of.expect("the case")["scene"]);
    assert_eq!(gives(&scene, "maziwa 6"), (Outcome::Ask, vec![]));
    assert_eq!(talk(&scene, &["maziwa 6", "2"]).1[0]["farm"], "F8");
    assert_eq!(gives(&scene, "maziwa F7 6").1[0]["farm"], "F7");
    assert_eq!(gives(&scene, "mayai 30").1[0]["farm"], "F8", "only there are hens");
    assert_eq!(gives(&scene, "F7 mayai 30"), (Outcome::Ask, vec![]));
    assert_eq!(gives(&scene, "F7 maziwa 6 F8 mayai 30"), (Outcome::Ask, vec![]));
    assert_eq!(gives(&scene, "vuna 30"), (Outcome::Ask, vec![]));
    assert_eq!(gives(&scene, "kazi"), (Outcome::Ask, vec![]));
    assert_eq!(gives(&scene, "kazi F8").0, Outcome::Answer);
    assert!(read(Some("F8 mayai 30"), &scene).answer.contains("F8"));
}

#[test]
fn two_cooperatives_are_asked_once() {
    let mut scene = base(Language::Sw);
    scene.coops = vec!["Nyota".to_owned(), "Bonde".to_owned()];
    let reading = read(Some("maziwa 12"), &scene);
    assert_eq!(reading.outcome, Outcome::Ask);
    scene.pending = reading.pending;
    let reading = read(Some("2"), &scene);
    assert_eq!((reading.outcome, reading.coop), (Outcome::Record, Some(1)));
    assert_eq!(reading.records.len(), 1, "what was asked back is recorded");
    assert_eq!(reading.about.as_deref(), Some("maziwa 12"));
    assert_eq!(read(Some("stop"), &scene).outcome, Outcome::Stop);
}

#[test]
fn money_is_said_to_numbers_that_asked_for_it() {
    let mut scene = base(Language::En);
    let allowed = read(Some("saving"), &scene).answer;
    scene.may_money = false;
    let refused = read(Some("saving"), &scene).answer;
    assert_ne!(allowed, refused);
    assert_eq!(read(Some("account"), &scene).answer, refused);
}

#[test]
fn calls_for_the_officer_and_the_end_are_heard() {
    let scene = base(Language::Sw);
    for text in ["afisa", "naomba afisa anipigie", "Afisa: maziwa 12 yamemwagika", "afsia"] {
        assert_eq!(gives(&scene, text), (Outcome::Officer, vec![]), "{text}");
    }
    for text in ["stop", "STOP!", " Acha ", "ondoa."] {
        assert_eq!(gives(&scene, text).0, Outcome::Stop, "{text}");
    }
    for text in ["stop maziwa 3", "tafadhali stop", "stop stop"] {
        assert_eq!(gives(&scene, text).0, Outcome::Ask, "{text}");
    }
    assert_eq!(gives(&scene, "anza").0, Outcome::Start);
    assert_eq!(gives(&scene, "english").0, Outcome::Language);
    for text in ["", "   ", "habari", "😀", "Hongera umeshinda 500000"] {
        assert_eq!(gives(&scene, text).0, Outcome::Unclear, "{text:?}");
    }
}
