//! Texts are read as the cases say, random ones do no harm, and single slips seldom make another
//! record.

#[path = "../../examples/read_cases/cases.rs"]
mod cases;

mod random;
mod rules;
mod slips;

use serde_json::Value as Json;
use traybook_speech::Language;
use traybook_texts::{Animal, Caution, Group, Line, Scene, Standing, State, Task};

fn file() -> Json {
    serde_json::from_str(include_str!("../cases.json")).unwrap_or_default()
}

/// The base scene of the cases in a language, with a list.
fn base(language: Language) -> Scene {
    let file = file();
    let mut scene = cases::scene(&file["base"], &Json::Null);
    scene.language = language;
    scene.listed = true;
    scene
}

/// A larger farm: two kinds of milk, codes as co-operatives write them, all tasks.
fn large() -> Scene {
    let mut scene = base(Language::Sw);
    let Some(farm) = scene.farms.first_mut() else { return scene };
    farm.code = "F0012".to_owned();
    let group = |code: &str, animal, animals, usual| Group {
        code: code.to_owned(),
        animal,
        animals,
        usual: Some(usual),
    };
    farm.groups = vec![
        group("F0012-COW", Animal::Cows, 3, 24_000),
        group("F0012-GOAT", Animal::Goats, 5, 6_000),
        group("F0012-HEN", Animal::Hens, 120, 80_000),
    ];
    let line = |n, task, batch: Option<&str>, state, caution| Line {
        n: Some(n),
        task,
        batch: batch.map(str::to_owned),
        group: None,
        trays: Some(6),
        grams: Some(12_000),
        crop: Some("barley".to_owned()),
        watering: None,
        state,
        caution,
        line: format!("{}.{n}", task.text()),
    };
    farm.lines = vec![
        line(1, Task::Discard, Some("F0012-261118"), State::Open, Some(Caution::Mould)),
        line(2, Task::Harvest, Some("F0012-261119"), State::Late, None),
        line(3, Task::Soak, None, State::Open, None),
        line(4, Task::Spread, Some("F0012-261125"), State::Open, None),
        line(5, Task::Drain, Some("F0012-261126"), State::Open, None),
        line(6, Task::Feed, Some("F0012-261119"), State::Open, None),
        line(7, Task::Water, None, State::Open, None),
        line(8, Task::Clean, None, State::Open, None),
    ];
    let standing = |day: u32| Standing {
        batch: format!("F0012-2611{day}"),
        trays: 6,
        harvest_on: scene.today.succ_opt(),
    };
    farm.standing = (19..25).map(standing).collect();
    scene
}

#[test]
fn all_cases_give_what_they_must() {
    let file = file();
    let all = file["cases"].as_array().expect("cases");
    assert_eq!(all.len(), 41);
    cases::say(&file["base"], &all[0]);
    let off = |case: &Json| {
        let off = cases::off(&file["base"], case);
        (!off.is_empty()).then(|| format!("{}: {}", case["case"], off.join("; ")))
    };
    let off: Vec<String> = all.iter().filter_map(off).collect();
    assert!(off.is_empty(), "{off:#?}");
    // It would be seen.
    let mut wrong = all[0].clone();
    wrong["exchanges"][0]["records"][0]["v"] = 12_400.into();
    assert!(!cases::off(&file["base"], &wrong).is_empty());
}
