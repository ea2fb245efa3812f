//! The review list: reads a window of records, runs the rules of `traybook_domain::review`, and
//! keeps what they find until a record of the co-operative changes.

use crate::ctx::{Actor, App, Coop};
use crate::error::AppError;
use crate::estimates::{Estimates, Version, farms, grouped, rests_on, version};
use crate::seed::lots;
use chrono::{Days, NaiveDate};
use std::collections::{BTreeMap, HashMap};
use std::sync::Arc;
use traybook_answers::review::{FindingRecord, ReviewFinding, ReviewList, ReviewRule};
use traybook_domain::authz::Task;
use traybook_domain::herd::HerdMonth;
use traybook_domain::kinds::{GrowingPause, LotHold, REVIEW_RULES, ReviewAcceptance};
use traybook_domain::record::Record as Declared;
use traybook_domain::review::herds::HerdEvents;
use traybook_domain::review::silence::FarmDays;
use traybook_domain::review::stock::Movement;
use traybook_domain::review::values::{Output, OutputRow};
use traybook_domain::review::{Finding, ReviewCtx, batches, herds, silence, stock, values};
use traybook_domain::time::{local_date, start_of_day};
use traybook_domain::value::Instant;
use traybook_domain::{Kind, Month};
use traybook_storage::records::{self, Filter, Visible};
use traybook_storage::report_rows::{self, FarmRow, Farms, Place, SeedMovement};
use traybook_storage::{Conn, farm_rows, planning_rows, review_rows};
use uuid::Uuid;

/// Days of records that are looked through, today included: two months, so that what is on the list
/// can still be asked about, and so that its cost does not grow with the years.
pub const WINDOW_DAYS: u64 = 60;
/// Months back from which counts of animals are compared: they are made seldom.
const HEAD_MONTHS: i64 = 6;
/// Findings in one answer: more is work for weeks. What is beyond is counted.
const FINDINGS_MAX: usize = 2_000;

/// What is asked of the list.
#[derive(Clone, Debug, Default)]
pub struct Asked {
    /// Of one farm.
    pub farm: Option<Uuid>,
    /// Of one rule.
    pub rule: Option<String>,
    /// The accepted findings instead of the open ones.
    pub accepted: bool,
    /// Findings in the answer at most; the house limit where none is given.
    pub items_max: Option<usize>,
}

impl Asked {
    /// From the parameters of a query.
    ///
    /// # Errors
    /// `Invalid` for what is no farm id, rule or truth value.
    pub fn parse(
        farm: Option<String>,
        rule: Option<String>,
        accepted: Option<String>,
    ) -> Result<Self, AppError> {
        let farm = farm.map(|text| {
            let id = Uuid::try_parse(&text).ok().filter(|_| text.len() == 36);
            id.ok_or_else(|| AppError::field("farm_id", "type", "give the id of a farm"))
        });
        if rule.as_ref().is_some_and(|r| !REVIEW_RULES.contains(&r.as_str())) {
            let detail = format!("give one of {}", REVIEW_RULES.join(", "));
            return Err(AppError::field("rule", "choice", detail));
        }
        let accepted = match accepted.as_deref() {
            None | Some("false") => false,
            Some("true") => true,
            Some(_) => return Err(AppError::field("accepted", "type", "give true or false")),
        };
        Ok(Self { farm: farm.transpose()?, rule, accepted, items_max: None })
    }
}

/// A finding with what is shown beside it.
struct Shown {
    finding: Finding,
    /// Versions of its records, in their order.
    versions: Vec<Option<i64>>,
    farm: Option<Arc<FarmRow>>,
    accepted: Option<(Uuid, ReviewAcceptance)>,
}

/// The list of a co-operative.
struct List {
    from: NaiveDate,
    all: Vec<Shown>,
}

impl App {
    /// What contradicts itself or looks unlikely, the newest first; open findings, or the accepted
    /// ones. A finding of the store is shown to those who see the whole co-operative.
    ///
    /// # Errors
    /// `Forbidden`; `NotFound` for a farm out of reach.
    pub async fn review(&self, actor: &Actor, asked: Asked) -> Result<ReviewList, AppError> {
        let visible = actor.task(Task::Review)?;
        let (actor, app, now) = (actor.clone(), self.clone(), self.now());
        self.store
            .read(move |conn| {
                let number = actor.coop.number;
                let today = actor.coop.today(now);
                if let Some(farm) = asked.farm {
                    let farms = farm_rows::farms(conn, number, Some(&[farm]))?;
                    let seen = farms.first();
                    seen.filter(|f| visible.sees(f.area, f.member)).ok_or(AppError::NotFound)?;
                }
                let version = version(conn, number, today)?;
                let kept = &app.estimates;
                let list = kept.get((number, "review"), version, || {
                    make(conn, kept, &actor.coop, now, version)
                })?;
                Ok(answer(&list, &visible, &asked, (today, version.0)))
            })
            .await
    }
}

fn answer(
    list: &List,
    visible: &Visible,
    asked: &Asked,
    (today, seq): (NaiveDate, i64),
) -> ReviewList {
    let sees = |s: &&Shown| match &s.farm {
        Some(farm) => visible.sees(farm.area, farm.member),
        None => *visible == Visible::All,
    };
    let fits = |s: &&Shown| {
        asked.farm.is_none_or(|farm| s.finding.farm == Some(farm))
            && asked.rule.as_ref().is_none_or(|rule| s.finding.rule == rule)
            && s.accepted.is_some() == asked.accepted
    };
    let shown: Vec<&Shown> = list.all.iter().filter(sees).filter(fits).collect();
    let mut by_rule: BTreeMap<ReviewRule, usize> = BTreeMap::new();
    for rule in shown.iter().filter_map(|s| ReviewRule::parse(s.finding.rule)) {
        *by_rule.entry(rule).or_default() += 1;
    }
    let items_max = asked.items_max.unwrap_or(FINDINGS_MAX);
    ReviewList {
        day: today,
        from: list.from,
        data_version: seq,
        findings: shown.len(),
        by_rule,
        left_off: shown.len().saturating_sub(items_max),
        items: shown.iter().take(items_max).filter_map(|s| s.answer()).collect(),
    }
}

impl Shown {
    /// None of a rule that has no name for readers, which a test excludes.
    fn answer(&self) -> Option<ReviewFinding> {
        let f = &self.finding;
        let records = f.records.iter().zip(&self.versions).map(|((kind, id), version)| {
            FindingRecord { kind: kind.spec().one.to_owned(), id: *id, version: *version }
        });
        let accepted = self.accepted.as_ref();
        Some(ReviewFinding {
            rule: ReviewRule::parse(f.rule)?,
            farm_id: f.farm,
            farm: self.farm.as_ref().map(|farm| farm.code.clone()),
            member_name: self.farm.as_ref().map(|farm| farm.name.clone()),
            finding: f.finding.clone(),
            subject: f.subject.clone(),
            evidence: f.evidence.clone(),
            figures: f.figures.iter().map(|(n, v)| ((*n).to_owned(), v.clone())).collect(),
            records: records.collect(),
            problem: f.problem.clone(),
            fix: f.fix.to_owned(),
            since: f.since,
            acceptance_id: accepted.map(|a| a.0),
            accepted_on: accepted.map(|a| a.1.accepted_on),
            accepted_because: accepted.map(|a| a.1.reason.clone()),
        })
    }
}

/// All records of a kind that is few in number.
fn all<T: Declared>(conn: &mut Conn, number: i64) -> Result<Vec<(Uuid, T)>, AppError> {
    let (every, filter) = (Visible::All, Filter::default());
    let found = records::page(conn, number, T::KIND, &every, &filter, None, 100_000)?;
    Ok(found.iter().filter_map(|r| Some((r.id, T::from_values(&r.values)?))).collect())
}

/// What the findings of each part rest on, besides farms, groups and whose they are; where a part is
/// kept by farm, also what moves the findings of one farm alone. A milk record leaves those of
/// batches, seed, herds and eggs as they are.
const OF_BATCHES: (&[Kind], &[Kind]) = (
    rests_on!(Batch, BatchEvent, LotHold, SeedLot, Shed, GrowingGuideValue),
    &[Kind::Batch, Kind::BatchEvent],
);
/// See [`OF_BATCHES`]. An adjustment may be corrected to be another farm's.
const OF_FARMS_SEED: (&[Kind], &[Kind]) = (
    rests_on!(SeedIssue, SeedAdjustment, SeedLot, Batch, BatchEvent),
    &[Kind::SeedIssue, Kind::Batch, Kind::BatchEvent],
);
/// See [`OF_BATCHES`].
const OF_STORE: &[Kind] = rests_on!(SeedPurchase, SeedIssue, SeedAdjustment, SeedLot);
/// See [`OF_BATCHES`].
const OF_HERDS: &[Kind] = rests_on!(HeadCount, GrowingGuideValue);
/// See [`OF_BATCHES`].
const OF_MILK: (&[Kind], &[Kind]) = (rests_on!(MilkRecord), &[Kind::MilkRecord]);
/// What a farm records of itself: any of it ends the farm's silence.
const OWN_KINDS: &[Kind] = &[
    Kind::MilkRecord,
    Kind::EggRecord,
    Kind::HeadCount,
    Kind::FeedPurchase,
    Kind::OtherCost,
    Kind::BatchEvent,
    Kind::Reading,
    Kind::WorkRecord,
];
/// See [`OF_BATCHES`].
const OF_SILENCE: &[Kind] = rests_on!(
    MilkRecord,
    EggRecord,
    HeadCount,
    FeedPurchase,
    OtherCost,
    BatchEvent,
    Reading,
    WorkRecord
);
/// See [`OF_BATCHES`].
const OF_EGGS: (&[Kind], &[Kind]) = (rests_on!(EggRecord), &[Kind::EggRecord]);

fn make(
    conn: &mut Conn,
    kept: &Estimates,
    coop: &Coop,
    now: Instant,
    version: Version,
) -> Result<List, AppError> {
    let (number, today) = (coop.number, coop.today(now));
    let guide = coop.guide(conn)?;
    let ctx = ReviewCtx { guide: &guide, zone: coop.zone, today };
    let from = today.checked_sub_days(Days::new(WINDOW_DAYS - 1)).unwrap_or(today);
    let begins = start_of_day(from, coop.zone).0;
    let mut found: Vec<Finding> = Vec::new();
    let grown =
        kept.by_farm(conn, (number, "review batches"), version, OF_BATCHES, |conn, of| {
            grown(conn, number, begins, &ctx, of)
        })?;
    let span = ((from, begins), today);
    let seed_of =
        kept.by_farm(conn, (number, "review seed"), version, OF_FARMS_SEED, |conn, of| {
            Ok(by_farm(seed(conn, coop, span, Place::Of(of))?))
        })?;
    for of_farm in grown.values().chain(seed_of.values()) {
        found.extend(of_farm.iter().cloned());
    }
    let mut part = |conn: &mut Conn,
                    name: &'static str,
                    rests_on: &[Kind],
                    make: &dyn Fn(&mut Conn) -> Result<Vec<Finding>, AppError>|
     -> Result<(), AppError> {
        let made = kept.follow(conn, (number, name), version, rests_on, make)?;
        found.extend(made.iter().cloned());
        Ok(())
    };
    part(conn, "review store", OF_STORE, &|conn| seed(conn, coop, span, Place::Store))?;
    let farms = farms(conn, kept, number, version)?;
    // Any record of a farm ends its silence.
    let kinds = (OF_SILENCE, OWN_KINDS);
    let last = kept.by_farm(conn, (number, "review last days"), version, kinds, |conn, of| {
        let local = |ms: i64| local_date(Instant(ms), coop.zone);
        let late = Some((from, begins));
        let mut last = review_rows::last_days(conn, number, late, of, &local)?;
        // The few that recorded nothing of late are looked for at any time.
        let all = || farms.iter().map(|f| f.farm).collect();
        let mut quiet: Vec<Uuid> = of.map_or_else(all, <[Uuid]>::to_vec);
        quiet.retain(|farm| !last.contains_key(farm));
        last.extend(review_rows::last_days(conn, number, None, Some(&quiet), &local)?);
        Ok(last)
    })?;
    let silent = silent(conn, number, &farms, &last, &ctx)?;
    part(conn, "review herds", OF_HERDS, &|conn| herd(conn, number, today, &ctx))?;
    let outputs = [(Output::Milk, "review milk", OF_MILK), (Output::Eggs, "review eggs", OF_EGGS)];
    for (output, name, kinds) in outputs {
        // What one farm's records show is kept; what they are held against is of all farms.
        let watched = kept.by_farm(conn, (number, name), version, kinds, |conn, of| {
            let rows = review_rows::outputs(conn, number, output, from, of)?;
            let watch = |(farm, rows): (Uuid, Vec<OutputRow>)| {
                (farm, Arc::new(values::watch(output, &rows, &ctx)))
            };
            Ok(grouped(rows, |row: &OutputRow| row.group.1).map(watch).collect())
        })?;
        found.extend(values::findings(output, watched.values().map(Arc::as_ref)));
    }
    found.extend(silent);
    shown(conn, number, found, &farms).map(|all| List { from, all })
}

/// Findings by their farm.
fn by_farm(found: Vec<Finding>) -> HashMap<Uuid, Arc<Vec<Finding>>> {
    let farms = grouped(found, |finding: &Finding| finding.farm.unwrap_or_default());
    farms.map(|(farm, found)| (farm, Arc::new(found))).collect()
}

/// What the batches of farms, all or these, contradict.
fn grown(
    conn: &mut Conn,
    number: i64,
    begins: i64,
    ctx: &ReviewCtx<'_>,
    of: Farms<'_>,
) -> Result<HashMap<Uuid, Arc<Vec<Finding>>>, AppError> {
    let mut holds: HashMap<Uuid, Vec<LotHold>> = HashMap::new();
    for (_, hold) in all::<LotHold>(conn, number)? {
        holds.entry(hold.seed_lot_id).or_default().push(hold);
    }
    let grown = review_rows::batches(conn, number, begins, of)?;
    let mut found = batches::batches(&grown, &holds, ctx);
    found.extend(batches::sheds(&grown, &review_rows::places(conn, number, of)?, ctx));
    Ok(by_farm(found))
}

/// Seed below zero, of the store or of farms.
fn seed(
    conn: &mut Conn,
    coop: &Coop,
    ((from, begins), today): ((NaiveDate, i64), NaiveDate),
    place: Place<'_>,
) -> Result<Vec<Finding>, AppError> {
    let number = coop.number;
    let end = start_of_day(traybook_domain::time::plus_days(today, 1), coop.zone).0;
    let moved = report_rows::seed_movements(conn, number, (from, today), (begins, end), place)?;
    let movement = |m: &SeedMovement| Movement {
        farm: m.farm,
        lot: m.lot,
        day: m.on.unwrap_or_else(|ms| local_date(Instant(ms), coop.zone)),
        grams: m.grams,
        record: (
            match m.movement.as_str() {
                "purchase" => Kind::SeedPurchase,
                "issue" => Kind::SeedIssue,
                "soak" => Kind::BatchEvent,
                _ => Kind::SeedAdjustment,
            },
            m.source,
        ),
    };
    let movements: Vec<Movement> = moved.iter().map(movement).collect();
    // What there was before is what there is less what has moved since: the sums of today are at
    // hand, those of another day are in years of movements.
    let mut opening: BTreeMap<(Option<Uuid>, Uuid), i64> = BTreeMap::new();
    if let Place::Of(of) = place {
        for (farm, lot, grams) in planning_rows::stock(conn, number, of)? {
            // Soaks of batches without a lot are kept under none.
            if !lot.is_nil() {
                opening.insert((Some(farm), lot), grams);
            }
        }
    } else {
        for (lot, grams) in planning_rows::store_stock(conn, number)? {
            opening.insert((None, lot), grams);
        }
    }
    for m in &movements {
        *opening.entry((m.farm, m.lot)).or_insert(0) -= m.grams;
    }
    let lots = lots(conn, number)?;
    let code = |lot: Uuid| lots.get(&lot).map_or_else(String::new, |l| l.code.clone());
    Ok(stock::below_zero(&opening, &movements, from, &code))
}

fn silent(
    conn: &mut Conn,
    number: i64,
    farms: &[Arc<FarmRow>],
    last: &HashMap<Uuid, NaiveDate>,
    ctx: &ReviewCtx<'_>,
) -> Result<Vec<Finding>, AppError> {
    let mut pauses: HashMap<Uuid, Vec<GrowingPause>> = HashMap::new();
    for (_, pause) in all::<GrowingPause>(conn, number)? {
        pauses.entry(pause.farm_id).or_default().push(pause);
    }
    let days: Vec<FarmDays> = farms
        .iter()
        .map(|f| FarmDays {
            farm: f.farm,
            code: f.code.clone(),
            started_on: f.started_on,
            left_on: f.joined.1,
            last_on: last.get(&f.farm).copied(),
        })
        .collect();
    Ok(silence::silent(&days, &pauses, ctx))
}

fn herd(
    conn: &mut Conn,
    number: i64,
    today: NaiveDate,
    ctx: &ReviewCtx<'_>,
) -> Result<Vec<Finding>, AppError> {
    let Some(first) = Month::from_number(Month::of(today).number() - HEAD_MONTHS) else {
        return Ok(Vec::new());
    };
    let before = Month::from_number(first.number() - 1).unwrap_or(first);
    let opening: HashMap<Uuid, Option<HerdMonth>> =
        report_rows::groups(conn, number, before, None)?
            .into_iter()
            .map(|g| (g.group, g.herd))
            .collect();
    let codes = review_rows::group_codes(conn, number)?;
    let mut all: Vec<HerdEvents> = Vec::new();
    for (group, farm, record, event) in review_rows::head_counts(conn, number, first.first_day())? {
        match all.last_mut() {
            Some(last) if last.group == group => last.events.push((record, event)),
            _ => all.push(HerdEvents {
                group,
                code: codes.get(&group).cloned().unwrap_or_default(),
                farm,
                opening: opening.get(&group).copied().flatten().map(|h| h.closing_head),
                events: vec![(record, event)],
            }),
        }
    }
    Ok(herds::jumps(&all, ctx))
}

/// Puts versions, farms and acceptances beside the findings, the newest first. Findings of farms
/// that were withdrawn are left out.
fn shown(
    conn: &mut Conn,
    number: i64,
    found: Vec<Finding>,
    farms: &[Arc<FarmRow>],
) -> Result<Vec<Shown>, AppError> {
    let mut ids: BTreeMap<Kind, Vec<Uuid>> = BTreeMap::new();
    for (kind, id) in found.iter().flat_map(|f| &f.records) {
        ids.entry(*kind).or_default().push(*id);
    }
    let mut versions: HashMap<(Kind, Uuid), i64> = HashMap::new();
    for (kind, mut ids) in ids {
        ids.sort_unstable();
        ids.dedup();
        let known = review_rows::versions(conn, number, kind, &ids)?;
        versions.extend(known.into_iter().map(|(id, version)| ((kind, id), version)));
    }
    let mut accepted: HashMap<(String, String), (Uuid, ReviewAcceptance)> = HashMap::new();
    for (id, acceptance) in all::<ReviewAcceptance>(conn, number)? {
        let key = (acceptance.finding.clone(), acceptance.evidence.clone());
        accepted.insert(key, (id, acceptance));
    }
    let farms: HashMap<Uuid, &Arc<FarmRow>> = farms.iter().map(|f| (f.farm, f)).collect();
    let mut all = Vec::with_capacity(found.len());
    for finding in found {
        let farm = finding.farm.and_then(|f| farms.get(&f)).map(|f| Arc::clone(f));
        if finding.farm.is_some() && farm.is_none() {
            continue;
        }
        let key = (finding.finding.clone(), finding.evidence.clone());
        // An acceptance of another farm or rule is none of this.
        let accepted = accepted
            .get(&key)
            .filter(|(_, a)| a.farm_id == finding.farm && a.rule == finding.rule)
            .cloned();
        let versions = finding.records.iter().map(|r| versions.get(r).copied()).collect();
        all.push(Shown { finding, versions, farm, accepted });
    }
    all.sort_by(|a, b| {
        let (a, b) = (&a.finding, &b.finding);
        b.since.cmp(&a.since).then_with(|| a.finding.cmp(&b.finding))
    });
    Ok(all)
}
