//! Farms for the tests.

use chrono::NaiveDate;
use traybook_domain::kinds::ANIMAL_CLASSES;
use traybook_domain::planning::guide::{Guide, GuideEntry, GuideName};
use traybook_planning::{Day, Farm, Group, Growing, Shed, Soak, Standards, day_of};
use uuid::Uuid;

pub fn day(text: &str) -> Day {
    day_of(text.parse().expect("a day"))
}

pub fn class(name: &str) -> usize {
    ANIMAL_CLASSES.iter().position(|c| *c == name).expect("a class")
}

pub fn shed(places: i64) -> Shed {
    Shed { id: Uuid::nil(), code: "S1".to_owned(), places, load_g: None }
}

pub fn group(name: &str, from: Day, head: i64) -> Group {
    Group {
        id: Uuid::nil(),
        code: name.to_owned(),
        class: class(name),
        head: vec![(from, head)],
        settings: Vec::new(),
        crop: Some(0),
        starts_on: None,
    }
}

pub fn farm(places: i64, groups: Vec<Group>, start: Day) -> Farm {
    Farm { sheds: vec![shed(places)], groups, started_on: Some(start), ..Farm::default() }
}

pub fn standards(guide: &Guide, first: Day, days: usize) -> Standards {
    Standards::new(guide, first, days)
}

pub const START: &str = "2026-03-02"; // a Monday

pub fn entry(name: GuideName, class: Option<&str>, from: &str, value: i64) -> GuideEntry {
    let valid_from: NaiveDate = from.parse().expect("a day");
    GuideEntry { name, class: class.map(str::to_owned), valid_from, value }
}

/// The soaks made before a day, as batches that are still fed on it or later.
pub fn growing(soaks: &[Soak], today: Day) -> Vec<Growing> {
    let made = soaks.iter().filter(|s| s.day < today && s.feed_on >= today);
    made.map(|s| Growing {
        group: Some(s.group),
        shed: s.shed,
        crop: s.crop,
        soaked_on: s.day,
        spread_on: s.spread_on,
        feed_on: s.feed_on,
        trays: s.trays,
        seed_g: s.seed_g,
    })
    .collect()
}
