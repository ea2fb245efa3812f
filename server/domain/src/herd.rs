//! Head counts to animal-days.

use crate::month::Month;
use chrono::{Datelike, NaiveDate};

/// A head count as recorded, in the order of entry.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct HeadEvent {
    pub date: NaiveDate,
    /// Reason, one of [`crate::kinds::HEAD_REASONS`].
    pub reason: String,
    pub head: i64,
}

/// Animal-days of one group in one month in which its head count changed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct HerdMonth {
    pub month: Month,
    /// Sum over its days of the animals that counted that day.
    pub animal_days: i64,
    /// Animals at its end, carried into later months.
    pub closing_head: i64,
}

/// The months in which the head count changed, in order.
///
/// An animal that dies or leaves on a day does not count that day; one that is born, bought or
/// moved in counts from the next day; a count of the whole group holds for its day and on.
/// Before the first entry nothing is known and nothing counts.
///
/// # Units
/// `animal_days` in head × days. Several entries of one day apply in the order given.
///
/// # Source
/// "Calculating Agriculture" ch. 12 (hen-days: dies on the 12th, counts 11 days; added on the
/// 16th of a month of 31 days, counts 15 days).
#[must_use]
pub fn herd_months(events: &[HeadEvent]) -> Vec<HerdMonth> {
    let mut sorted: Vec<&HeadEvent> = events.iter().collect();
    sorted.sort_by_key(|e| e.date);
    let mut months: Vec<HerdMonth> = Vec::new();
    let mut head = 0_i64;
    let mut index = 0;
    while let Some(first) = sorted.get(index) {
        let month = Month::of(first.date);
        let mut days = 0_i64;
        // From the month's first day, or from the first entry ever.
        let mut from = if months.is_empty() { first.date } else { month.first_day() };
        while let Some(event) = sorted.get(index).filter(|e| Month::of(e.date) == month) {
            let (upto, next) = apply(event, head);
            days += head * (upto - from).num_days().max(0);
            from = from.max(upto);
            head = next;
            index += 1;
        }
        let left = month.days() - i64::from(from.day0());
        let left = if Month::of(from) == month { left } else { 0 };
        days += head * left;
        months.push(HerdMonth { month, animal_days: days, closing_head: head });
    }
    months
}

/// The days from which a head count holds, with the head, in order; nothing before the first.
///
/// The same rules as for [`herd_months`].
#[must_use]
pub fn head_runs(events: &[HeadEvent]) -> Vec<(NaiveDate, i64)> {
    let mut sorted: Vec<&HeadEvent> = events.iter().collect();
    sorted.sort_by_key(|e| e.date);
    let mut runs: Vec<(NaiveDate, i64)> = Vec::new();
    let mut head = 0;
    for event in sorted {
        let (from, next) = apply(event, head);
        // The day of the first entry is known: nothing stood there before.
        if runs.is_empty() && from > event.date {
            runs.push((event.date, head));
        }
        let from = runs.last().map_or(from, |(last, _)| from.max(*last));
        runs.push((from, next));
        head = next;
    }
    runs
}

/// The first day on which the new head counts, and the new head.
pub(crate) fn apply(event: &HeadEvent, head: i64) -> (NaiveDate, i64) {
    let next_day = event.date.succ_opt().unwrap_or(event.date);
    match event.reason.as_str() {
        "counted" => (event.date, event.head),
        "born" | "bought" | "moved_in" => (next_day, head + event.head),
        _ => (event.date, (head - event.head).max(0)),
    }
}

/// Animal-days of a month, given the latest month up to it in which the head count changed;
/// `None` when nothing is known.
#[must_use]
pub fn animal_days(latest: Option<HerdMonth>, month: Month) -> Option<i64> {
    latest.map(|l| if l.month == month { l.animal_days } else { l.closing_head * month.days() })
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn event(date: &str, reason: &str, head: i64) -> HeadEvent {
        HeadEvent { date: date.parse().expect("a day"), reason: reason.to_owned(), head }
    }

    #[test]
    fn herd_months_follow_the_worked_example_of_hen_days() {
        // "Calculating Agriculture" ch. 12 [READ, CHECKS 4.3]: 200 birds on 1 March, 4 die on the
        // 12th, 10 are added on the 16th, 3,852 eggs: 6,270 hen-days, 61.4 %.
        let months = herd_months(&[
            event("2019-03-01", "counted", 200),
            event("2019-03-12", "died", 4),
            event("2019-03-16", "bought", 10),
        ]);
        assert_eq!(months.len(), 1);
        assert_eq!(months[0].animal_days, 6_270);
        assert_eq!(months[0].closing_head, 206);
        let percent = 3_852.0 / 6_270.0 * 100.0;
        assert!((percent - 61.4354_f64).abs() < 1e-4);
    }

    #[test]
    fn herd_months_follow_the_flock_of_345_000() {
        // Same source [READ, CHECKS 4.2]: 345,000 hens in May, 9,090,750 eggs: 85.0 %.
        let may = Month::parse("2019-05").expect("month");
        let latest = herd_months(&[event("2019-01-01", "counted", 345_000)]).pop();
        let days = animal_days(latest, may).expect("known");
        assert_eq!(days, 10_695_000);
        assert!((9_090_750.0 / 10_695_000.0 * 100.0_f64 - 85.0).abs() < 1e-9);
    }

    #[test]
    fn hen_day_and_hen_housed_differ_as_published() {
        // thebigbookproject.org [READ, CHECKS 4.4]: 10,000 housed, 9,900 alive, 9,108 eggs.
        let months = herd_months(&[
            event("2024-01-01", "counted", 10_000),
            event("2024-01-31", "died", 100),
        ]);
        let alive = months[0].closing_head;
        assert!((9_108.0 / f64_of(alive) * 100.0 - 92.0).abs() < 1e-9);
        assert!((9_108.0 / 10_000.0 * 100.0_f64 - 91.08).abs() < 1e-9);
    }

    fn f64_of(v: i64) -> f64 {
        v.to_string().parse().expect("number")
    }

    #[test]
    fn head_never_falls_below_zero() {
        let months =
            herd_months(&[event("2026-01-01", "counted", 3), event("2026-01-11", "sold", 5)]);
        assert_eq!((months[0].animal_days, months[0].closing_head), (30, 0));
    }

    proptest! {
        /// The month sums equal a count day by day.
        #[test]
        fn herd_months_equal_a_daily_count(
            raw in proptest::collection::btree_map(0_u64..400, (0_usize..8, 1_i64..50), 1..25)
        ) {
            let start: NaiveDate = "2025-01-10".parse().expect("a day");
            let events: Vec<HeadEvent> = raw.iter().map(|(d, (r, h))| HeadEvent {
                date: crate::time::plus_days(start, *d),
                reason: crate::kinds::HEAD_REASONS[*r].to_owned(),
                head: *h,
            }).collect();
            let mut sums = std::collections::BTreeMap::new();
            let (mut head, mut day) = (0_i64, events[0].date);
            let end = Month::of(events[events.len() - 1].date).last_day();
            while day <= end {
                let mut arriving = 0;
                if let Some(e) = events.iter().find(|e| e.date == day) {
                    match e.reason.as_str() {
                        "counted" => head = e.head,
                        "born" | "bought" | "moved_in" => arriving = e.head,
                        _ => head = (head - e.head).max(0),
                    }
                }
                *sums.entry(Month::of(day)).or_insert(0) += head;
                head += arriving;
                day = day.succ_opt().expect("next");
            }
            let months = herd_months(&events);
            // The runs say the same, day by day.
            let runs = head_runs(&events);
            let of = |day: NaiveDate| runs.iter().rev().find(|r| r.0 <= day).map_or(0, |r| r.1);
            for m in &months {
                let days = m.month.first_day().iter_days().take_while(|d| Month::of(*d) == m.month);
                prop_assert_eq!(days.map(of).sum::<i64>(), m.animal_days, "{:?}", m.month);
            }
            prop_assert_eq!(months[months.len() - 1].closing_head, head);
            for m in &months {
                prop_assert_eq!(m.animal_days, sums[&m.month], "{:?}", m.month);
            }
        }
    }
}
