//! Forgotten months at their thresholds, and the honest gaps that are spared.

use super::ReviewCtx;
use super::herds::HerdEvents;
use super::months::missing;
use super::values::{Output, OutputRow};
use crate::effects::DayRecord;
use crate::guide::Guide;
use crate::herd::HeadEvent;
use crate::month::Month;
use chrono::{Datelike as _, NaiveDate};
use uuid::Uuid;

fn day(text: &str) -> NaiveDate {
    text.parse().expect("a day")
}

/// Two cows' milk on the days of months that `is_kept` keeps, litres a cow by month.
fn rows(
    first: &str,
    until: &str,
    is_kept: impl Fn(NaiveDate) -> bool,
    litres: impl Fn(u32) -> i64,
) -> Vec<OutputRow> {
    let days = day(first).iter_days().take_while(|d| *d <= day(until));
    let row = |(n, date): (usize, NaiveDate)| OutputRow {
        group: (Uuid::from_u128(1), Uuid::from_u128(2)),
        date,
        record: DayRecord {
            id: Uuid::from_u128(100 + n as u128),
            entered: 0,
            session: "day".to_owned(),
            amount: 2_000 * litres(date.month()),
            animals: 2,
            cracked: 0,
            stage: None,
        },
    };
    days.filter(|d| is_kept(*d)).enumerate().map(row).collect()
}

fn found(rows: &[OutputRow], herds: &[HerdEvents], today: &str) -> Vec<(String, String)> {
    let guide = Guide::default();
    let zone = chrono_tz::Africa::Dar_es_Salaam;
    let (today, from) = (day(today), day("2025-01-01"));
    let ctx = ReviewCtx { guide: &guide, zone, today, from };
    let all = missing(Output::Milk, rows, herds, &ctx);
    all.into_iter().map(|f| (f.since.to_string(), f.evidence)).collect()
}

fn ten(_: u32) -> i64 {
    10
}

fn is_in(month: &'static str) -> impl Fn(NaiveDate) -> bool {
    move |d| Month::of(d) == Month::of(day(month))
}

#[test]
fn a_month_without_a_record_between_months_with_records_is_asked_for() {
    let february = is_in("2026-02-01");
    let all = rows("2025-12-01", "2026-03-20", |d| !february(d), ten);
    let expected = [("2026-02-28".to_owned(), "0 of 31 days from 2026-02-01".to_owned())];
    assert_eq!(found(&all, &[], "2026-03-20"), expected);
    // Nothing has come after it: it may still be on the phone.
    let before: Vec<OutputRow> =
        all.iter().filter(|r| r.date < day("2026-02-01")).cloned().collect();
    assert_eq!(found(&before, &[], "2026-03-20"), []);
    // One month before is no habit yet.
    let short = rows("2026-01-01", "2026-03-20", |d| !february(d), ten);
    assert_eq!(found(&short, &[], "2026-03-20"), []);
}

#[test]
fn a_quarter_of_the_days_is_few_and_a_month_that_is_not_over_is_not_looked_at() {
    let february = is_in("2026-02-01");
    let with = |days: u32| {
        let all = rows("2025-12-01", "2026-03-20", |d| !february(d) || d.day() <= days, ten);
        found(&all, &[], "2026-03-20").len()
    };
    // ARITH: 31 days are the habit: 4 x 7 = 28 is within it, 4 x 8 = 32 is not.
    assert_eq!((with(7), with(8)), (1, 0));
    // Three records so far in March, on the last day of it and on the day after.
    let all = rows("2025-12-01", "2026-03-03", |_| true, ten);
    assert_eq!(found(&all, &[], "2026-03-31"), []);
    let later = rows("2025-12-01", "2026-04-01", |d| !is_in("2026-03-01")(d) || d.day() < 4, ten);
    assert_eq!(found(&later, &[], "2026-04-01").len(), 1);
}

#[test]
fn once_a_week_is_a_habit_and_once_a_fortnight_is_none() {
    let february = is_in("2026-02-01");
    let every = |step: i32| {
        let kept = |d: NaiveDate| !february(d) && d.num_days_from_ce() % step == 0;
        found(&rows("2025-12-01", "2026-03-20", kept, ten), &[], "2026-03-20").len()
    };
    assert_eq!((every(7), every(14)), (1, 0));
}

#[test]
fn two_months_are_asked_for_and_three_are_a_group_that_began_again() {
    let without = |months: &'static [u32]| {
        let kept = |d: NaiveDate| d.year() == 2024 || !months.contains(&d.month());
        found(&rows("2024-11-01", "2025-07-31", kept, ten), &[], "2025-08-01").len()
    };
    assert_eq!((without(&[2]), without(&[2, 3]), without(&[2, 3, 4])), (1, 2, 0));
}

#[test]
fn cows_that_calved_were_dry() {
    let february = is_in("2026-02-01");
    let then = |litres: i64| {
        let by_month = |month: u32| if month == 3 { litres } else { 10 };
        let all = rows("2025-12-01", "2026-03-20", |d| !february(d), by_month);
        found(&all, &[], "2026-03-20").len()
    };
    assert_eq!((then(13), then(14)), (1, 0));
}

#[test]
fn a_group_without_animals_forgets_nothing() {
    let february = is_in("2026-02-01");
    let all = rows("2025-12-01", "2026-03-20", |d| !february(d), ten);
    let herd = |events: &[(&str, &str, i64)]| {
        let event = |(date, reason, head): &(&str, &str, i64)| {
            let (date, reason) = (day(date), (*reason).to_owned());
            (Uuid::nil(), HeadEvent { date, reason, head: *head })
        };
        let events = events.iter().map(event).collect();
        let (group, farm) = (Uuid::from_u128(1), Uuid::from_u128(2));
        [HerdEvents { group, code: String::new(), farm, opening: Some(2), events }]
    };
    let with = |events: &[(&str, &str, i64)]| found(&all, &herd(events), "2026-03-20").len();
    assert_eq!(with(&[]), 1);
    assert_eq!(with(&[("2026-01-31", "sold", 2)]), 0);
    assert_eq!(with(&[("2026-02-20", "sold", 2), ("2026-03-01", "bought", 2)]), 0);
    assert_eq!(with(&[("2026-01-10", "sold", 1)]), 1, "one is left");
    assert_eq!(with(&[("2025-12-10", "sold", 2), ("2025-12-20", "counted", 2)]), 1);
    assert_eq!(with(&[("2026-03-05", "died", 2)]), 1, "the month after");
}
