//! The review list: looks through a window of records by the rules of `traybook_domain::review`
//! when the figures are made, and shows what they found.

use crate::error::AppError;
use crate::estimates::{as_of, grouped};
use crate::savings::Made;
use crate::seed::lots;
use crate::{Actor, App, Coop};
use chrono::{Days, NaiveDate};
use std::collections::{BTreeMap, HashMap};
use std::slice::from_ref;
use std::sync::Arc;
use traybook_answers::estimates::AsOf;
use traybook_answers::review::{Finding, FindingRecord, ReviewList, ReviewRule};
use traybook_domain::authz::Task;
use traybook_domain::herd::HerdMonth;
use traybook_domain::kinds::{GrowingPause, LotHold, REVIEW_RULES, ReviewAcceptance};
use traybook_domain::record::Record as Declared;
use traybook_domain::review::herds::HerdEvents;
use traybook_domain::review::silence::FarmDays;
use traybook_domain::review::stock::Movement;
use traybook_domain::review::values::{Output, OutputRow};
use traybook_domain::review::{
    Finding as Found, ReviewCtx, batches, herds, silence, stock, values,
};
use traybook_domain::time::{local_date, start_of_day};
use traybook_domain::value::Instant;
use traybook_domain::{Kind, Month};
use traybook_storage::changes::{self, Changed};
use traybook_storage::records::{self, Filter, Visible};
use traybook_storage::report_rows::{self, FarmRow, Place, SeedMovement};
use traybook_storage::{Conn, farm_rows, planning_rows, review_rows, snapshots};
use uuid::Uuid;

/// Days of records that are looked through, today included: two months, so that what is on the list
/// can still be asked about, and so that its cost does not grow with the years.
pub const WINDOW_DAYS: u64 = 60;
/// Months back from which counts of animals are compared: they are made seldom.
const HEAD_MONTHS: i64 = 6;
/// Findings in one answer: more is work for weeks. What is beyond is counted.
pub const FINDINGS_MAX: usize = 2_000;
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

impl App {
    /// What contradicts itself or looks unlikely, the newest first; open findings, or the accepted
    /// ones. A finding of the store is shown to those who see the whole co-operative. The records
    /// were looked through when the figures were last made; who accepts a finding or corrects one
    /// of its records no longer sees it.
    ///
    /// # Errors
    /// `Forbidden`; `NotFound` for a farm out of reach.
    pub async fn review(&self, actor: &Actor, asked: Asked) -> Result<ReviewList, AppError> {
        let visible = actor.task(Task::Review)?;
        let (actor, now) = (actor.clone(), self.now());
        self.store
            .read(move |conn| {
                let number = actor.coop.number;
                let farms = farm_rows::farms(conn, number, asked.farm.as_ref().map(from_ref))?;
                let farms: HashMap<Uuid, Arc<FarmRow>> = farms
                    .into_iter()
                    .filter(|f| visible.sees(f.area, f.member))
                    .map(|f| (f.farm, f))
                    .collect();
                if asked.farm.is_some() && farms.is_empty() {
                    return Err(AppError::NotFound);
                }
                let stored = snapshots::findings(conn, number)?;
                let state = stored.as_ref().map(|(state, _)| *state);
                let found: Vec<Finding> = match &stored {
                    Some((_, text)) => serde_json::from_str(text).unwrap_or_default(),
                    None => Vec::new(),
                };
                let changed = match state {
                    Some(state) => changes::since(conn, number, state.change_seq)?,
                    None => Changed::default(),
                };
                let reader = Reader { visible, farms, changed, accepted: accepted(conn, number)? };
                let day = state.map_or_else(|| actor.coop.today(now), |s| s.day);
                Ok(reader.answer(found, &asked, (day, as_of(state))))
            })
            .await
    }
}

/// Acceptances by finding and evidence.
type Accepted = HashMap<(String, String), (Uuid, ReviewAcceptance)>;

fn accepted(conn: &mut Conn, number: i64) -> Result<Accepted, AppError> {
    let each = all::<ReviewAcceptance>(conn, number)?.into_iter();
    Ok(each.map(|(id, a)| ((a.finding.clone(), a.evidence.clone()), (id, a))).collect())
}

/// Who reads the list.
struct Reader {
    visible: Visible,
    /// Farms within reach.
    farms: HashMap<Uuid, Arc<FarmRow>>,
    /// Records that have changed since they were looked through.
    changed: Changed,
    accepted: Accepted,
}

impl Reader {
    fn answer(
        &self,
        found: Vec<Finding>,
        asked: &Asked,
        (day, as_of): (NaiveDate, AsOf),
    ) -> ReviewList {
        let fits = |f: &Finding| {
            asked.farm.is_none_or(|farm| f.farm_id == Some(farm))
                && asked.rule.as_ref().is_none_or(|rule| f.rule.text() == rule.as_str())
        };
        let seen = found.into_iter().filter(|f| fits(f)).filter_map(|f| self.seen(f));
        let seen = seen.filter(|f| f.acceptance_id.is_some() == asked.accepted);
        let (again, seen): (Vec<Finding>, Vec<Finding>) = seen.partition(|f| self.has_changed(f));
        let mut by_rule: BTreeMap<ReviewRule, usize> = BTreeMap::new();
        for finding in &seen {
            *by_rule.entry(finding.rule).or_insert(0) += 1;
        }
        let items_max = asked.items_max.unwrap_or(FINDINGS_MAX);
        ReviewList {
            day,
            from: first_day(day),
            as_of,
            findings: seen.len(),
            looked_at_again: again.len(),
            by_rule,
            left_off: seen.len().saturating_sub(items_max),
            items: seen.into_iter().take(items_max).collect(),
        }
    }

    /// Whether what a finding is about has changed since. Whatever a farm records ends its silence.
    fn has_changed(&self, f: &Finding) -> bool {
        let is_heard = f.rule == ReviewRule::SilentFarm
            && f.farm_id.is_some_and(|farm| self.changed.farms.contains(&farm));
        is_heard || f.records.iter().any(|r| self.changed.ids.contains(&r.id))
    }

    /// The finding with its farm and its acceptance; none out of reach.
    fn seen(&self, mut f: Finding) -> Option<Finding> {
        match f.farm_id {
            Some(farm) => {
                let farm = self.farms.get(&farm)?;
                f.farm = Some(farm.code.clone());
                f.member_name = Some(farm.name.clone());
            }
            None if self.visible != Visible::All => return None,
            None => {}
        }
        let key = (f.finding.clone(), f.evidence.clone());
        let accepted = self.accepted.get(&key);
        // An acceptance of another farm or rule is none of this.
        if let Some((id, a)) =
            accepted.filter(|(_, a)| a.farm_id == f.farm_id && a.rule == f.rule.text())
        {
            f.acceptance_id = Some(*id);
            f.accepted_on = Some(a.accepted_on);
            f.accepted_because = Some(a.reason.clone());
        }
        Some(f)
    }
}

/// All records of a kind that is few in number.
fn all<T: Declared>(conn: &mut Conn, number: i64) -> Result<Vec<(Uuid, T)>, AppError> {
    let (every, filter) = (Visible::All, Filter::default());
    let found = records::page(conn, number, T::KIND, &every, &filter, None, 100_000)?;
    Ok(found.iter().filter_map(|r| Some((r.id, T::from_values(&r.values)?))).collect())
}

/// First day that is looked through.
fn first_day(today: NaiveDate) -> NaiveDate {
    today.checked_sub_days(Days::new(WINDOW_DAYS - 1)).unwrap_or(today)
}

/// Looks through the records of all farms: the findings as they are stored, JSON, the newest first.
///
/// # Errors
/// Those of the store.
pub(crate) fn find(
    conn: &mut Conn,
    coop: &Coop,
    now: Instant,
    savings: &Made,
) -> Result<String, AppError> {
    let (number, today) = (coop.number, coop.today(now));
    let guide = coop.guide(conn)?;
    let ctx = ReviewCtx { guide: &guide, zone: coop.zone, today };
    let from = first_day(today);
    let begins = start_of_day(from, coop.zone).0;
    let farms = farm_rows::farms(conn, number, None)?;
    let mut found = grown(conn, number, begins, &ctx)?;
    let span = ((from, begins), today);
    found.extend(seed(conn, coop, span, Place::Of(None))?);
    found.extend(seed(conn, coop, span, Place::Store)?);
    found.extend(herd(conn, number, today, &ctx)?);
    for output in [Output::Milk, Output::Eggs] {
        let rows = review_rows::outputs(conn, number, output, from, None)?;
        let farms = grouped(rows, |row: &OutputRow| row.group.1);
        let watched: Vec<_> = farms.map(|(_, rows)| values::watch(output, &rows, &ctx)).collect();
        found.extend(values::findings(output, watched.iter()));
    }
    let local = |ms: i64| local_date(Instant(ms), coop.zone);
    let mut last = review_rows::last_days(conn, number, Some((from, begins)), None, &local)?;
    // The few that recorded nothing of late are looked for at any time.
    let ids = farms.iter().map(|f| f.farm);
    let quiet: Vec<Uuid> = ids.filter(|farm| !last.contains_key(farm)).collect();
    last.extend(review_rows::last_days(conn, number, None, Some(&quiet), &local)?);
    found.extend(silent(conn, number, &farms, &last, &ctx)?);
    found.extend(savings.findings(from, coop.digits));
    let listed = listed(conn, number, found)?;
    serde_json::to_string(&listed).map_err(|e| AppError::Internal(e.to_string()))
}

/// What the batches of farms contradict.
fn grown(
    conn: &mut Conn,
    number: i64,
    begins: i64,
    ctx: &ReviewCtx<'_>,
) -> Result<Vec<Found>, AppError> {
    let mut holds: HashMap<Uuid, Vec<LotHold>> = HashMap::new();
    for (_, hold) in all::<LotHold>(conn, number)? {
        holds.entry(hold.seed_lot_id).or_default().push(hold);
    }
    let grown = review_rows::batches(conn, number, begins, None)?;
    let mut found = batches::batches(&grown, &holds, ctx);
    found.extend(batches::sheds(&grown, &review_rows::places(conn, number, None)?, ctx));
    Ok(found)
}

/// Seed below zero, of the store or of farms.
fn seed(
    conn: &mut Conn,
    coop: &Coop,
    ((from, begins), today): ((NaiveDate, i64), NaiveDate),
    place: Place<'_>,
) -> Result<Vec<Found>, AppError> {
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
) -> Result<Vec<Found>, AppError> {
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
) -> Result<Vec<Found>, AppError> {
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

/// The findings with the versions of their records, the newest first.
fn listed(conn: &mut Conn, number: i64, mut found: Vec<Found>) -> Result<Vec<Finding>, AppError> {
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
    found.sort_by(|a, b| b.since.cmp(&a.since).then_with(|| a.finding.cmp(&b.finding)));
    let record = |(kind, id): &(Kind, Uuid)| FindingRecord {
        kind: kind.spec().one.to_owned(),
        id: *id,
        version: versions.get(&(*kind, *id)).copied(),
    };
    let rule = |name: &str| {
        let unknown = || AppError::Internal(format!("no review rule is named {name}"));
        ReviewRule::parse(name).ok_or_else(unknown)
    };
    let finding = |f: Found| {
        Ok(Finding {
            rule: rule(f.rule)?,
            farm_id: f.farm,
            farm: None,
            member_name: None,
            records: f.records.iter().map(record).collect(),
            finding: f.finding,
            subject: f.subject,
            evidence: f.evidence,
            figures: f
                .figures
                .into_iter()
                .filter_map(|(name, value)| {
                    Some((name.to_owned(), serde_json::from_value(value).ok()?))
                })
                .collect(),
            problem: f.problem,
            fix: f.fix.to_owned(),
            since: f.since,
            acceptance_id: None,
            accepted_on: None,
            accepted_because: None,
        })
    };
    found.into_iter().map(finding).collect()
}
