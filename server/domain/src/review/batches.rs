//! Rules over the sums and instants of one batch, and over the trays of one shed.

use super::mould::{Feeding, Verdict, mould_verdict};
use super::yields::yield_verdict;
use super::{Finding, ReviewCtx, json_kg, kg};
use crate::kind::Kind;
use crate::kinds::LotHold;
use crate::planning::guide::GuideName;
use crate::time::{local_date, plus_days};
use crate::value::Instant;
use chrono::NaiveDate;
use serde_json::{Value as Json, json};
use std::collections::{BTreeMap, HashMap};
use uuid::Uuid;

/// What scales differ by, per cent: more fed than harvested is listed beyond it.
pub const SCALE_PERCENT: i64 = 5;
/// Fresh fodder from a kg of seed between what is little and what is much.
pub const MIDDLE: f64 = 4.0;
/// Days after the soak on which a batch's trays leave the shelf for the count of a shed, where
/// nothing says when they did: a forgotten record must not fill a shed for ever.
pub const STANDS_DAYS_MAX: u64 = 14;

/// A batch: sums of its events, and the instants (milliseconds) of the first or last of each.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct BatchFigures {
    pub batch: Uuid,
    pub code: Option<String>,
    pub farm: Uuid,
    pub shed: Uuid,
    pub lot: Option<Uuid>,
    /// Class of the animals it is grown for.
    pub class: Option<String>,
    /// Harvest age of its own, days.
    pub harvest_age_days: Option<i64>,
    /// First soak, and grams soaked.
    pub soaked: (Option<i64>, i64),
    /// First spreading, and trays.
    pub spread: (Option<i64>, i64),
    /// First harvest, and trays.
    pub harvested: (Option<i64>, i64),
    /// Grams harvested.
    pub harvested_g: i64,
    /// Harvests without a weight.
    pub unweighed: i64,
    /// First and last feeding, and grams.
    pub fed: (Option<i64>, Option<i64>, i64),
    /// A reason that was given for feeding it all the same.
    pub fed_reason: Option<String>,
    /// First discard, and trays.
    pub discarded: (Option<i64>, i64),
    /// Grams thrown away after the harvest.
    pub thrown_g: i64,
    /// First time mould was seen.
    pub mould: Option<i64>,
    /// Trays that had it, where they were counted.
    pub mould_trays: Option<i64>,
    /// When how many trays were discarded, of a batch with mould.
    pub thrown: Vec<(i64, i64)>,
    /// Feedings of a batch with mould.
    pub feedings: Vec<Feeding>,
}

impl BatchFigures {
    fn day(&self, at: Option<i64>, ctx: &ReviewCtx<'_>) -> Option<NaiveDate> {
        at.map(|ms| local_date(Instant(ms), ctx.zone))
    }

    fn named(&self) -> String {
        self.code.as_ref().map_or_else(|| "A batch".to_owned(), |code| format!("Batch {code}"))
    }

    /// Day of the first event of any kind.
    fn first_day(&self, ctx: &ReviewCtx<'_>) -> NaiveDate {
        let all = [self.soaked.0, self.spread.0, self.harvested.0, self.fed.0, self.discarded.0];
        self.day(all.into_iter().flatten().min(), ctx).unwrap_or(ctx.today)
    }

    fn finding(
        &self,
        rule: &'static str,
        since: Option<NaiveDate>,
        ctx: &ReviewCtx<'_>,
    ) -> Finding {
        let mut records = vec![(Kind::Batch, self.batch)];
        records.extend(self.lot.filter(|_| rule == "held_lot_soaked").map(|l| (Kind::SeedLot, l)));
        Finding {
            rule,
            farm: Some(self.farm),
            finding: format!("{rule}:{}", self.batch),
            subject: self.code.clone(),
            evidence: String::new(),
            figures: Vec::new(),
            records,
            problem: String::new(),
            fix: "",
            since: since.unwrap_or_else(|| self.first_day(ctx)),
            weight: 1.0,
        }
    }
}

/// All findings of single batches.
///
/// # Shape
/// In the order of the batches; several of one batch are possible.
#[must_use]
pub fn batches(
    all: &[BatchFigures],
    holds: &HashMap<Uuid, Vec<LotHold>>,
    ctx: &ReviewCtx<'_>,
) -> Vec<Finding> {
    let mut found = Vec::new();
    for b in all {
        found.extend(trays_out(b, ctx));
        found.extend(fed_amount(b, ctx));
        found.extend(yields(b, ctx));
        found.extend(unweighed(b, ctx));
        found.extend(order(b, ctx));
        found.extend(over_age(b, ctx));
        found.extend(mouldy(b, ctx));
        found.extend(held(b, holds, ctx));
    }
    found
}

/// Trays harvested and discarded are counted, so one too many is a slip. Where no spreading is
/// recorded nothing is known (missing is not zero): see [`order`]. Where something was discarded
/// before it was spread, it did not stand: then harvested trays alone are counted.
fn trays_out(b: &BatchFigures, ctx: &ReviewCtx<'_>) -> Option<Finding> {
    let stood = b.discarded.0 >= b.spread.0;
    let discarded = if stood { b.discarded.1 } else { 0 };
    let (spread, out) = (b.spread.1, b.harvested.1 + discarded);
    if spread == 0 || out <= spread {
        return None;
    }
    let since = b.day(b.harvested.0.max(b.discarded.0), ctx);
    Some(Finding {
        weight: (out - spread) as f64,
        evidence: format!("spread {spread}, harvested {}, discarded {}", b.harvested.1, discarded),
        figures: vec![
            ("trays_spread", json!(spread)),
            ("trays_harvested", json!(b.harvested.1)),
            ("trays_discarded", json!(discarded)),
        ],
        problem: format!(
            "{}: {out} trays were harvested or discarded, but only {spread} spread.",
            b.named()
        ),
        fix: "Correct the trays spread, or withdraw a harvest or discard that was entered twice.",
        ..b.finding("more_trays_out_than_spread", since, ctx)
    })
}

/// More fed than harvested, by more than [`SCALE_PERCENT`]; where a harvest has no weight nothing is
/// known.
fn fed_amount(b: &BatchFigures, ctx: &ReviewCtx<'_>) -> Option<Finding> {
    let (harvested, fed) = (b.harvested_g, b.fed.2);
    let is_within = fed * 100 <= harvested * (100 + SCALE_PERCENT);
    if b.unweighed > 0 || b.harvested.0.is_none() || is_within {
        return None;
    }
    Some(Finding {
        weight: (fed - harvested) as f64,
        evidence: format!("harvested {} kg, fed {} kg", kg(harvested), kg(fed)),
        figures: vec![("harvested_kg", json_kg(harvested)), ("fed_kg", json_kg(fed))],
        problem: format!(
            "{}: {} kg were fed out, but only {} kg harvested.",
            b.named(),
            kg(fed),
            kg(harvested)
        ),
        fix: "Correct the weight harvested or fed, or withdraw a feeding that was entered twice.",
        ..b.finding("more_fed_than_harvested", b.day(b.fed.0, ctx), ctx)
    })
}

/// Seed of the trays harvested, grams: a batch with spoiled trays is not listed for these. Where no
/// spreading is recorded, all of it.
fn seed_harvested(b: &BatchFigures) -> Option<i64> {
    match (b.spread.1, b.harvested.1) {
        (spread, trays) if spread > 0 && trays > 0 => {
            crate::savings::money::mul_div(b.soaked.1, trays.min(spread), spread)
        }
        _ => Some(b.soaked.1),
    }
    .filter(|seed| *seed > 0)
}

/// A yield that can not be, or outside of what is known. How wet the mat was is not measured, so
/// the wettest credible one is taken; the guide's own figure is no evidence.
fn yields(b: &BatchFigures, ctx: &ReviewCtx<'_>) -> Option<Finding> {
    let day = b.day(b.soaked.0, ctx)?;
    let seed = seed_harvested(b)?;
    let percent = ctx.guide.value(GuideName::SeedDryMatterPercent, None, day);
    let share = percent as f64 / 100_000.0;
    let (harvested, of) = (b.harvested_g as f64, seed as f64);
    let verdict = yield_verdict(harvested, of, None, share)?;
    let whole = b.spread.1 > 0 && b.harvested.1 + b.discarded.1 >= b.spread.1;
    let per_kg = crate::savings::money::mul_div(b.harvested_g, 1_000, seed)?;
    let weight = (harvested / of / 6.0).max(f64::MIN_POSITIVE).ln().abs();
    let since = b.day(b.harvested.0, ctx);
    if verdict == Verdict::YieldImpossible {
        return Some(Finding {
            evidence: yield_text(b),
            figures: yield_figures(b),
            problem: format!(
                "{}: {} kg of fodder hold more dry matter than the {} kg of seed did.",
                b.named(),
                kg(b.harvested_g),
                kg(b.soaked.1)
            ),
            fix: "Correct the seed soaked or the weight harvested; dripping trays weigh too much.",
            weight,
            ..b.finding("yield_impossible", since, ctx)
        });
    }
    if b.unweighed > 0 || b.harvested_g == 0 || b.harvested.1 == 0 || !whole {
        return None;
    }
    let word = if harvested < of * MIDDLE { "little" } else { "much" };
    let mut figures = yield_figures(b);
    figures.push(("fresh_kg_per_kg_seed", json_kg(per_kg)));
    Some(Finding {
        evidence: yield_text(b),
        figures,
        problem: format!(
            "{}: {} kg fresh from each kg of seed is unlikely {word}.",
            b.named(),
            kg(per_kg)
        ),
        fix: "Look at the seed soaked and the weight harvested; accept it if the batch was poor.",
        weight,
        ..b.finding("yield_unlikely", since, ctx)
    })
}

/// Fodder thrown away by weight where its harvest was not weighed: how many trays that were is not
/// known, and they are counted nowhere.
fn unweighed(b: &BatchFigures, ctx: &ReviewCtx<'_>) -> Option<Finding> {
    (b.thrown_g > 0 && b.unweighed > 0).then(|| Finding {
        evidence: format!("thrown {} kg", kg(b.thrown_g)),
        figures: vec![("thrown_kg", json_kg(b.thrown_g))],
        problem: format!(
            "{}: {} kg were thrown away, but the harvest was not weighed.",
            b.named(),
            kg(b.thrown_g)
        ),
        fix: "Add the weight harvested, or say how many trays were thrown away.",
        weight: b.thrown_g as f64,
        ..b.finding("thrown_without_weight", b.day(b.discarded.0, ctx), ctx)
    })
}

fn yield_text(b: &BatchFigures) -> String {
    format!("soaked {} kg, harvested {} kg", kg(b.soaked.1), kg(b.harvested_g))
}

fn yield_figures(b: &BatchFigures) -> Vec<(&'static str, Json)> {
    vec![("seed_kg", json_kg(b.soaked.1)), ("harvested_kg", json_kg(b.harvested_g))]
}

/// Events in an order that can not be, or a later one without the earlier. Equal instants are taken:
/// records made in one go carry one time.
fn order(b: &BatchFigures, ctx: &ReviewCtx<'_>) -> Option<Finding> {
    let steps = [
        ("soaked", b.soaked.0),
        ("spread", b.spread.0),
        ("harvested", b.harvested.0),
        ("fed out", b.fed.0),
    ];
    let mut wrong: Option<(&str, &str, Option<i64>, i64)> = None;
    for pair in steps.windows(2) {
        let [(before, earlier), (after, Some(later))] = pair else { continue };
        if earlier.is_none_or(|e| e > *later) && wrong.is_none() {
            wrong = Some((before, after, *earlier, *later));
        }
    }
    let (before, after, earlier, later) = wrong?;
    let day = |at: i64| local_date(Instant(at), ctx.zone);
    let (problem, evidence) = match earlier {
        None => (
            format!("{}: it was {after}, but no record says that it was {before}.", b.named()),
            format!("{after} {}, {before} never", day(later)),
        ),
        Some(at) => (
            format!("{}: it was {after} before it was {before}.", b.named()),
            format!("{after} {}, {before} {}", minute(later, ctx), minute(at, ctx)),
        ),
    };
    Some(Finding {
        evidence,
        figures: vec![
            ("event", json!(after.replace(' ', "_"))),
            ("must_follow", json!(before)),
            ("event_on", json!(day(later))),
            ("follows_on", json!(earlier.map(day))),
        ],
        problem,
        fix: "Correct the time of one of the two events, or add the record that is missing.",
        ..b.finding("events_out_of_order", Some(day(later)), ctx)
    })
}

fn minute(at: i64, ctx: &ReviewCtx<'_>) -> String {
    crate::time::to_utc(Instant(at)).with_timezone(&ctx.zone).format("%Y-%m-%d %H:%M").to_string()
}

/// Fed after the harvest day, with a reason or without: the animals had it, and somebody asks.
fn over_age(b: &BatchFigures, ctx: &ReviewCtx<'_>) -> Option<Finding> {
    let soaked = b.day(b.soaked.0, ctx)?;
    let fed = b.day(b.fed.1, ctx)?;
    let class = b.class.as_deref();
    let age = b.harvest_age_days.unwrap_or_else(|| ctx.guide.harvest_age_days(class, soaked));
    let due = plus_days(soaked, u64::try_from(age).unwrap_or(0));
    (fed > due).then(|| Finding {
        weight: (fed - due).num_days() as f64,
        evidence: format!("due {due}, fed {fed}"),
        figures: vec![
            ("due_on", json!(due)),
            ("last_fed_on", json!(fed)),
            ("reason", json!(b.fed_reason)),
        ],
        problem: format!("{}: it was due on {due} and fed on {fed}.", b.named()),
        fix: "Correct the day if it is a slip; if it was fed late, ask how the animals are.",
        ..b.finding("fed_over_age", Some(fed), ctx)
    })
}

/// Fed although what was fed may have been mouldy, with a reason or without. Where the mouldy trays
/// were thrown away before, the batch keeps its caution and is no finding.
fn mouldy(b: &BatchFigures, ctx: &ReviewCtx<'_>) -> Option<Finding> {
    let (seen, fed) = (b.mould?, b.fed.1?);
    mould_verdict(seen, b.mould_trays, &b.thrown, &b.feedings)?;
    let (seen, fed) = (b.day(Some(seen), ctx)?, b.day(Some(fed), ctx)?);
    Some(Finding {
        evidence: format!("mould {seen}, fed {fed}, {} kg", kg(b.fed.2)),
        figures: vec![
            ("mould_seen_on", json!(seen)),
            ("last_fed_on", json!(fed)),
            ("fed_kg", json_kg(b.fed.2)),
            ("reason", json!(b.fed_reason)),
        ],
        weight: b.fed.2 as f64,
        problem: format!("{}: mould was seen on {seen}, and it was fed on {fed}.", b.named()),
        fix: "Ask what was fed and how the animals are; a veterinary officer should know of it.",
        ..b.finding("fed_with_mould", Some(fed), ctx)
    })
}

/// A soak of a lot on a day on which it was held. A fact, so it was taken.
fn held(
    b: &BatchFigures,
    holds: &HashMap<Uuid, Vec<LotHold>>,
    ctx: &ReviewCtx<'_>,
) -> Option<Finding> {
    let soaked = b.day(b.soaked.0, ctx)?;
    let hold = holds.get(&b.lot?)?.iter().find(|h| h.holds_on(soaked))?;
    Some(Finding {
        evidence: format!("held from {}, soaked {soaked}", hold.held_from),
        figures: vec![
            ("held_from", json!(hold.held_from)),
            ("soaked_on", json!(soaked)),
            ("reason", json!(hold.reason)),
        ],
        problem: format!(
            "{}: seed of a lot that was held from {} was soaked on {soaked}.",
            b.named(),
            hold.held_from
        ),
        fix: "Feed nothing of it until the lot is released; correct the lot if it was another.",
        ..b.finding("held_lot_soaked", Some(soaked), ctx)
    })
}

/// Sheds in which more trays stood at the end of a day than they have places.
///
/// A batch's trays stand from the day of spreading; all that were harvested leave on the day of the
/// first harvest, all that were discarded on that of the first discard, what is left after
/// [`STANDS_DAYS_MAX`]: so a shed is rather counted too empty than too full. Trays that stand on
/// the floor or in another shed for a day are the honest case; it is accepted with a reason.
///
/// # Shape
/// One finding a shed, for its fullest day; `places` by shed.
#[must_use]
pub fn sheds(
    all: &[BatchFigures],
    places: &HashMap<Uuid, i64>,
    ctx: &ReviewCtx<'_>,
) -> Vec<Finding> {
    let mut by_shed: BTreeMap<Uuid, Vec<&BatchFigures>> = BTreeMap::new();
    for b in all.iter().filter(|b| b.spread.1 > 0) {
        by_shed.entry(b.shed).or_default().push(b);
    }
    by_shed
        .into_iter()
        .filter_map(|(shed, batches)| shed_full(shed, &batches, *places.get(&shed)?, ctx))
        .collect()
}

fn shed_full(
    shed: Uuid,
    batches: &[&BatchFigures],
    places: i64,
    ctx: &ReviewCtx<'_>,
) -> Option<Finding> {
    let mut moves: BTreeMap<NaiveDate, i64> = BTreeMap::new();
    for b in batches {
        let spread = b.day(b.spread.0, ctx)?;
        let end = plus_days(b.day(b.soaked.0, ctx).unwrap_or(spread), STANDS_DAYS_MAX).max(spread);
        *moves.entry(spread).or_insert(0) += b.spread.1;
        let mut left = b.spread.1;
        for (at, trays) in [b.harvested, b.discarded] {
            let Some(day) = b.day(at, ctx) else { continue };
            let trays = trays.min(left);
            left -= trays;
            *moves.entry(day.clamp(spread, end)).or_insert(0) -= trays;
        }
        *moves.entry(end).or_insert(0) -= left;
    }
    let (mut standing, mut since) = (0, None);
    let mut most: (i64, Option<NaiveDate>) = (0, None);
    for (day, change) in moves.into_iter().filter(|(day, _)| *day <= ctx.today) {
        standing += change;
        if standing > places {
            since = since.or(Some(day));
            if standing > most.0 {
                most = (standing, Some(day));
            }
        }
    }
    let (since, (trays, Some(day))) = (since?, most) else { return None };
    let farm = batches.first()?.farm;
    let standing = batches.iter().filter(|b| b.day(b.spread.0, ctx).is_some_and(|s| s <= day));
    let mut records = vec![(Kind::Shed, shed)];
    records.extend(standing.rev().take(super::RECORDS_MAX - 1).map(|b| (Kind::Batch, b.batch)));
    Some(Finding {
        rule: "shed_over_full",
        farm: Some(farm),
        finding: format!("shed_over_full:{shed}"),
        subject: None,
        evidence: format!("{trays} trays on {day}, {places} places"),
        figures: vec![("trays", json!(trays)), ("tray_places", json!(places)), ("day", json!(day))],
        records,
        problem: format!("On {day} {trays} trays stood in a shed that has {places} places."),
        fix: "Correct the trays spread or the shed's places, or add harvests that are missing.",
        since,
        weight: 1.0,
    })
}
