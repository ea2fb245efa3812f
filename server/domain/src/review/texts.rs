//! Records that came by text message: many that were taken back, and those that say something else
//! than an officer who stood before the trays.

use super::{Finding, RECORDS_MAX, ReviewCtx, json_kg, kg};
use crate::kind::Kind;
use crate::time::local_date;
use crate::value::Instant;
use chrono::NaiveDate;
use serde_json::json;
use std::collections::{BTreeMap, BTreeSet, HashMap};
use uuid::Uuid;

/// Texts of a farm that are taken back on one day from which it is listed. A slip or two a day is
/// what thumbs do; five of the few texts that a farm writes in a day are somebody who does not know
/// how to write them, or somebody else with the number. Common practice, no source. It may be wrong
/// where a child learns on the family's telephone.
pub const UNDOS_A_DAY: usize = 5;
/// How many times the weight of a tray that the officer weighed is another weight. Trays of one
/// batch differ, and one that drips weighs up to a quarter more; common practice, no source. It may be
/// wrong where the officer weighed the poor trays only.
pub const WEIGHT_RATIO: f64 = 1.5;

/// A record that a text made and that whoever wrote it took back.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Undone {
    pub text: Uuid,
    /// The farm, and its code.
    pub farm: (Uuid, String),
    pub record: (Kind, Uuid),
    /// When it was taken back, milliseconds.
    pub at: i64,
}

/// A harvest or a discard, by text or by an officer at a visit.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Weighed {
    /// The event.
    pub record: Uuid,
    /// The batch, and its code.
    pub batch: (Uuid, Option<String>),
    pub farm: Uuid,
    /// Whether it was harvested; else it was discarded.
    pub is_harvest: bool,
    /// Why it was discarded.
    pub cause: Option<String>,
    /// When, milliseconds.
    pub at: i64,
    /// Trays, where they were counted.
    pub trays: Option<i64>,
    /// Grams, where it was weighed.
    pub grams: Option<i64>,
    /// Trays of the batch that were spread; 0 where that is not recorded.
    pub spread: i64,
    /// Whether it came by text; else an officer wrote it on the day of a visit.
    pub is_text: bool,
}

/// Farms that took back [`UNDOS_A_DAY`] texts or more on one day.
///
/// # Shape
/// One finding a farm and day.
#[must_use]
pub fn undone(all: &[Undone], ctx: &ReviewCtx<'_>) -> Vec<Finding> {
    let mut days: BTreeMap<(Uuid, NaiveDate), Vec<&Undone>> = BTreeMap::new();
    for one in all {
        let day = local_date(Instant(one.at), ctx.zone);
        days.entry((one.farm.0, day)).or_default().push(one);
    }
    let finding = |((farm, day), of): ((Uuid, NaiveDate), Vec<&Undone>)| {
        let texts = of.iter().map(|u| u.text).collect::<BTreeSet<_>>().len();
        let code = of.first().map(|u| u.farm.1.clone())?;
        (texts >= UNDOS_A_DAY).then(|| Finding {
            rule: "texts_undone",
            farm: Some(farm),
            finding: format!("texts_undone:{farm}:{day}"),
            evidence: format!("{texts} texts on {day}"),
            figures: vec![("texts", json!(texts)), ("day", json!(day))],
            records: of.iter().take(RECORDS_MAX).map(|u| u.record).collect(),
            problem: format!("Farm {code}: {texts} texts were taken back on {day}."),
            subject: Some(code),
            fix: "Call the member: show how a text is written, and ask who writes from the number.",
            since: day,
            weight: texts as f64,
        })
    };
    days.into_iter().filter_map(finding).collect()
}

/// Harvests by text that contradict what an officer wrote of the same batch at a visit:
///
/// * the officer threw trays away for mould or rot, and the text harvests, then or later, more trays
///   than can have been left. Where the trays are not known, any harvest of the batch;
/// * the officer weighed trays of it, and a tray of the text weighs [`WEIGHT_RATIO`] times as much or
///   more, or as little.
///
/// # Shape
/// One finding a harvest by text.
#[must_use]
pub fn against_visits(all: &[Weighed], ctx: &ReviewCtx<'_>) -> Vec<Finding> {
    let mut seen: HashMap<Uuid, Vec<&Weighed>> = HashMap::new();
    for one in all.iter().filter(|w| !w.is_text) {
        seen.entry(one.batch.0).or_default().push(one);
    }
    let texts = all.iter().filter(|w| w.is_text && w.is_harvest);
    let of = |text: &Weighed| {
        let officers = seen.get(&text.batch.0)?;
        thrown(text, officers, ctx).or_else(|| weight(text, officers, ctx))
    };
    texts.filter_map(of).collect()
}

/// Causes after which a batch is not harvested.
fn is_spoiled(seen: &Weighed) -> bool {
    !seen.is_harvest && matches!(seen.cause.as_deref(), Some("mould" | "rot_at_drain_end"))
}

fn thrown(text: &Weighed, officers: &[&Weighed], ctx: &ReviewCtx<'_>) -> Option<Finding> {
    let before: Vec<&&Weighed> =
        officers.iter().filter(|o| is_spoiled(o) && o.at <= text.at).collect();
    let last = before.last()?;
    let away: i64 = before.iter().filter_map(|o| o.trays).sum();
    let left = (text.spread > 0 && away > 0).then(|| (text.spread - away).max(0));
    let is_more = match (left, text.trays) {
        (None | Some(0), _) => true,
        (Some(left), Some(trays)) => trays > left,
        (Some(_), None) => false,
    };
    let day = local_date(Instant(last.at), ctx.zone);
    is_more.then(|| Finding {
        evidence: format!("thrown away on {day}"),
        figures: vec![
            ("case", json!("thrown")),
            ("visit_on", json!(day)),
            ("text_on", json!(local_date(Instant(text.at), ctx.zone))),
        ],
        problem: format!(
            "{}: at the visit of {day} trays were thrown away as spoiled; by text it was harvested.",
            named(text)
        ),
        ..finding(text, last, 10.0, ctx)
    })
}

/// Grams of a tray; of all of it where no trays are counted.
fn each(of: &Weighed) -> Option<(f64, bool)> {
    let grams = of.grams.filter(|g| *g > 0)? as f64;
    Some(match of.trays.filter(|t| *t > 0) {
        Some(trays) => (grams / trays as f64, true),
        None => (grams, false),
    })
}

fn weight(text: &Weighed, officers: &[&Weighed], ctx: &ReviewCtx<'_>) -> Option<Finding> {
    let (wrote, by_tray) = each(text)?;
    let apart = |o: &&&Weighed| {
        let (weighed, same) = each(o).filter(|_| o.is_harvest)?;
        (same == by_tray).then(|| (wrote / weighed).max(weighed / wrote))
    };
    let (ratio, seen) = officers
        .iter()
        .filter_map(|o| Some((apart(&o)?, o)))
        .max_by(|a, b| a.0.total_cmp(&b.0))
        .filter(|(ratio, _)| *ratio > WEIGHT_RATIO)?;
    let (weighed, _) = each(seen)?;
    let whole = |grams: f64| grams.round() as i64;
    let (wrote, weighed) = (whole(wrote), whole(weighed));
    let day = local_date(Instant(seen.at), ctx.zone);
    let of = if by_tray { "a tray" } else { "all of it" };
    Some(Finding {
        evidence: format!("text {} kg, visit of {day} {} kg", kg(wrote), kg(weighed)),
        figures: vec![
            ("case", json!(if by_tray { "tray" } else { "whole" })),
            ("visit_on", json!(day)),
            ("text_on", json!(local_date(Instant(text.at), ctx.zone))),
            ("text_kg", json_kg(wrote)),
            ("visit_kg", json_kg(weighed)),
        ],
        problem: format!(
            "{}: by text {of} weighed {} kg, at the visit of {day} {} kg.",
            named(text),
            kg(wrote),
            kg(weighed)
        ),
        ..finding(text, seen, ratio, ctx)
    })
}

fn named(text: &Weighed) -> String {
    text.batch.1.as_ref().map_or_else(|| "A batch".to_owned(), |code| format!("Batch {code}"))
}

fn finding(text: &Weighed, seen: &Weighed, weight: f64, ctx: &ReviewCtx<'_>) -> Finding {
    Finding {
        rule: "text_against_visit",
        farm: Some(text.farm),
        finding: format!("text_against_visit:{}", text.record),
        subject: text.batch.1.clone(),
        evidence: String::new(),
        figures: Vec::new(),
        records: vec![
            (Kind::Batch, text.batch.0),
            (Kind::BatchEvent, text.record),
            (Kind::BatchEvent, seen.record),
        ],
        problem: String::new(),
        fix: "Ask the member what was weighed and when, and correct the one that is wrong.",
        since: local_date(Instant(text.at), ctx.zone),
        weight,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::planning::guide::Guide;

    const DAY: i64 = 24 * 60 * 60 * 1_000;

    fn ctx(guide: &Guide) -> ReviewCtx<'_> {
        let day = |text: &str| text.parse().expect("a day");
        ReviewCtx {
            guide,
            zone: chrono_tz::Africa::Nairobi,
            today: day("1970-02-10"),
            from: day("1970-01-01"),
        }
    }

    fn id(n: u128) -> Uuid {
        Uuid::from_u128(n)
    }

    #[test]
    fn five_texts_of_one_day_are_many() {
        let guide = Guide::default();
        let one = |text: u128, at: i64| Undone {
            text: id(text),
            farm: (id(1), "F1".to_owned()),
            record: (Kind::MilkRecord, id(100 + text)),
            at,
        };
        let four: Vec<Undone> = (0..4).map(|n| one(n, DAY)).collect();
        assert!(undone(&four, &ctx(&guide)).is_empty());
        // Two records of one text are one; another day counts for itself.
        let more = [one(3, DAY), one(4, 2 * DAY)];
        assert!(undone(&[four.clone(), more.to_vec()].concat(), &ctx(&guide)).is_empty());
        let five = [four, vec![one(4, DAY + 1)]].concat();
        let found = undone(&five, &ctx(&guide));
        assert_eq!(found.len(), 1);
        assert_eq!(found[0].evidence, "5 texts on 1970-01-02");
    }

    #[test]
    fn a_text_contradicts_a_visit() {
        let guide = Guide::default();
        let text = Weighed {
            record: id(1),
            batch: (id(2), Some("B1".to_owned())),
            farm: id(3),
            is_harvest: true,
            cause: None,
            at: 10 * DAY,
            trays: Some(4),
            grams: Some(10_000),
            spread: 6,
            is_text: true,
        };
        let visit = Weighed { record: id(4), is_text: false, at: 9 * DAY, ..text.clone() };
        let case = |text: &Weighed, visit: &Weighed| {
            let found = against_visits(&[text.clone(), visit.clone()], &ctx(&guide));
            found.first().map(|f| f.figures[0].1.as_str().unwrap_or_default().to_owned())
        };
        // A tray of 2.5 kg beside one of 3.75 kg is within what trays differ by; 3.76 is not.
        let weighed = |grams| Weighed { trays: Some(1), grams: Some(grams), ..visit.clone() };
        assert_eq!(case(&text, &weighed(3_750)), None);
        assert_eq!(case(&text, &weighed(3_760)).as_deref(), Some("tray"));
        assert_eq!(case(&text, &weighed(1_660)).as_deref(), Some("tray"));
        // All of it beside a tray says nothing; all beside all does.
        let whole = |of: &Weighed, grams| Weighed { trays: None, grams: Some(grams), ..of.clone() };
        assert_eq!(case(&whole(&text, 9_000), &weighed(1_000)), None);
        assert_eq!(case(&whole(&text, 9_000), &whole(&visit, 20_000)).as_deref(), Some("whole"));
        // Two of six thrown away leave four; three leave too few.
        let away = |trays, cause: &str| Weighed {
            is_harvest: false,
            cause: Some(cause.to_owned()),
            trays,
            grams: None,
            ..visit.clone()
        };
        assert_eq!(case(&text, &away(Some(2), "mould")), None);
        assert_eq!(case(&text, &away(Some(3), "mould")).as_deref(), Some("thrown"));
        assert_eq!(case(&text, &away(None, "mould")).as_deref(), Some("thrown"));
        assert_eq!(case(&text, &away(Some(6), "pests")), None, "what was left may be harvested");
        let later = Weighed { at: 11 * DAY, ..away(Some(6), "mould") };
        assert_eq!(case(&text, &later), None, "it was harvested before");
        // Another batch, and what is no text.
        let other = Weighed { batch: (id(9), None), ..away(Some(6), "mould") };
        assert_eq!(case(&text, &other), None);
        let own = Weighed { is_text: false, ..text.clone() };
        assert_eq!(case(&own, &away(Some(6), "mould")), None);
    }
}
