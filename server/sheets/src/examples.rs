//! Templates: a header in a language, and one row of an invented example. The rows of all kinds fit
//! together.

use crate::columns::{Target, targets, word_set};
use crate::words::label;
use chrono::{Days, NaiveDate};
use traybook_domain::{FieldKind, Kind};
use traybook_speech::Language;

/// Days before today on which the examples happened.
const DAYS_AGO: u64 = 30;

/// Values of the examples, by kind where the column has another meaning elsewhere.
const VALUES: &[(&str, &str, &str)] = &[
    ("area", "name", "North"),
    ("growing_guide_value", "value", "12"),
    ("checklist_item", "code", "Q1"),
    ("checklist_item", "question", "Are empty trays clean and dry?"),
    ("feed", "name", "Dairy meal"),
    ("feed", "dry_matter_percent", "90"),
    ("supplier", "name", "Seed store"),
    ("supplier", "phone", "0712 345 678"),
    ("member", "number", "M1"),
    ("member", "name", "Asha Mfano"),
    ("member", "birth_year", "1984"),
    ("member", "phone", "0712 345 678"),
    ("person", "code", "juma"),
    ("person", "name", "Juma Mfano"),
    ("person", "email", "juma@coop.example"),
    ("person", "role", "officer"),
    ("farm", "code", "F1"),
    ("farm", "place", "Behind the school"),
    ("shed", "code", "F1-S1"),
    ("shed", "tray_places", "40"),
    ("animal_group", "code", "F1-cows"),
    ("head_count", "head", "3"),
    ("baseline_ration", "kg_per_animal_day", "2.5"),
    ("seed_lot", "code", "L1"),
    ("seed_lot", "supplier", "Seed store"),
    ("seed_purchase", "kg", "500"),
    ("seed_purchase", "price", "400000"),
    ("seed_issue", "kg", "50"),
    ("seed_issue", "price", "45000"),
    ("seed_payment", "amount", "20000"),
    ("deduction", "amount", "5000"),
    ("deduction", "reason", "Transport of milk"),
    ("seed_adjustment", "change_kg", "-2"),
    ("seed_adjustment", "reason", "spoiled"),
    ("batch", "code", "B1"),
    ("batch", "animal_group", "F1-cows"),
    ("batch", "seed_lot", "L1"),
    ("batch", "soaked_at", "0 06:30"),
    ("batch", "seed_kg", "8"),
    ("batch", "spread_at", "1 06:30"),
    ("batch", "trays_spread", "4"),
    ("batch", "harvested_at", "7 06:30"),
    ("batch", "trays_harvested", "4"),
    ("batch", "harvested_kg", "40"),
    ("batch_event", "event", "watered"),
    ("batch_event", "at", "2 06:30"),
    ("milk_record", "litres", "12.5"),
    ("milk_record", "animals_in_milk", "2"),
    ("egg_record", "animal_group", "F1-hens"),
    ("egg_record", "hens_present", "50"),
    ("egg_record", "eggs", "35"),
    ("feed_purchase", "kg", "70"),
    ("feed_purchase", "cost", "42000"),
    ("feed_count", "kg", "10"),
    ("other_cost", "amount", "5000"),
    ("asset", "name", "Tray shelf"),
    ("asset", "cost", "150000"),
    ("asset", "life_months", "60"),
    ("reading", "shed", "F1-S1"),
    ("reading", "temperature_c", "24"),
    ("reading", "humidity_percent", "65"),
    ("training", "code", "T1"),
    ("training", "topic", "Clean trays"),
    ("fodder_plan", "crop", "barley"),
];

/// Header and example row of a kind.
#[must_use]
pub fn template(language: Language, kind: Kind, today: NaiveDate) -> (Vec<String>, Vec<String>) {
    let all = targets(kind).into_iter().filter(|t| !matches!(t, Target::Id));
    let began = today.checked_sub_days(Days::new(DAYS_AGO)).unwrap_or(today);
    all.map(|t| (label(language, kind, &t), example(language, kind, &t, began))).unzip()
}

fn example(language: Language, kind: Kind, target: &Target, began: NaiveDate) -> String {
    let one = kind.spec().one;
    let own = VALUES.iter().find(|(of, name, _)| *of == one && *name == target.name());
    let Some(field) = target.field() else { return String::new() };
    let value = match (own, field.kind) {
        (Some((.., value)), _) => *value,
        (None, _) if !target.is_required() => return String::new(),
        (None, FieldKind::Ref(of)) => code_of(of),
        (None, FieldKind::Choice(of)) => of.first().copied().unwrap_or_default(),
        (None, FieldKind::Bool) => "yes",
        (None, FieldKind::Instant) => "0 06:30",
        (None, FieldKind::Date { .. }) => return began.to_string(),
        _ => "1",
    };
    match field.kind {
        FieldKind::Instant => moment(value, began),
        FieldKind::Choice(of) => {
            let known = word_set(of).and_then(|set| language.known(&format!("{set}-{value}"), &[]));
            known.unwrap_or_else(|| value.replace('_', " "))
        }
        FieldKind::Bool => language.text(&format!("answer-{value}")),
        _ => value.to_owned(),
    }
}

/// So many days after the first one, and the clock.
fn moment(text: &str, began: NaiveDate) -> String {
    let (days, clock) = text.split_once(' ').unwrap_or(("0", text));
    let day = began.checked_add_days(Days::new(days.parse().unwrap_or(0))).unwrap_or(began);
    format!("{day} {clock}")
}

fn code_of(kind: Kind) -> &'static str {
    let spec = kind.spec();
    let found = VALUES.iter().find(|(of, name, _)| *of == spec.one && Some(*name) == spec.code);
    found.map_or("", |(.., value)| value)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::columns::KEPT_IN_SHEETS;
    use crate::layout::{Goes, Layout};
    use crate::{Cell, Grid, Row};

    /// Each template is read as what it is, in either language, without its name and without a
    /// question.
    #[test]
    fn templates_are_understood() {
        let today: NaiveDate = "2026-03-20".parse().expect("a day");
        for language in Language::ALL.iter().copied() {
            for kind in KEPT_IN_SHEETS {
                let (header, row) = template(language, *kind, today);
                let row_of = |line, texts: &[String]| Row {
                    line,
                    width: None,
                    cells: texts.iter().map(|t| Cell::text(t)).collect(),
                };
                let rows = vec![row_of(1, &header), row_of(2, &row)];
                let grid = Grid { rows, ..Grid::default() };
                let name = language.text(&format!("kind-{}", kind.spec().one));
                let layout = Layout::guess(&grid, &format!("{name}.csv"), None);
                assert_eq!(layout.kind, *kind, "{language:?} {name}: {header:?}");
                let found: Vec<&str> = layout
                    .columns
                    .iter()
                    .map(|p| match p.goes {
                        Goes::To(target, _) => target.name(),
                        _ => "?",
                    })
                    .collect();
                let want: Vec<&str> = targets(*kind).iter().skip(1).map(Target::name).collect();
                assert_eq!(found, want, "{language:?} {name}: {header:?}");
                assert!(layout.is_sure(&grid), "{language:?} {name}");
            }
        }
    }
}
