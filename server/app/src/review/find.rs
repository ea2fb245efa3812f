//! Looks through records by the rules of the review list.

use super::cases::{self, Case};
use crate::Coop;
use crate::error::AppError;
use crate::estimates::grouped;
use crate::savings::Made;
use crate::seed::lots;
use chrono::{Days, NaiveDate};
use std::collections::{BTreeMap, HashMap, HashSet};
use std::sync::Arc;
use traybook_domain::herd::HerdMonth;
use traybook_domain::kinds::{Feed, GrowingPause, LotHold};
use traybook_domain::record::Record as Declared;
use traybook_domain::review::herds::HerdEvents;
use traybook_domain::review::priced::{self, GroupRation, Purchase, Shop, Watch};
use traybook_domain::review::rations::Ration;
use traybook_domain::review::silence::FarmDays;
use traybook_domain::review::stock::Movement;
use traybook_domain::review::values::{Output, OutputRow, Watched};
use traybook_domain::review::{
    Finding as Found, ReviewCtx, batches, herds, silence, stock, texts, values,
};
use traybook_domain::time::{local_date, plus_days, start_of_day};
use traybook_domain::value::{Instant, real};
use traybook_domain::{Kind, Month};
use traybook_storage::estimates::snapshots;
use traybook_storage::planning::planning_rows;
use traybook_storage::records::farm_rows;
use traybook_storage::records::farm_rows::Farms;
use traybook_storage::records::{self, Filter, Visible};
use traybook_storage::review::review_cases::{self, CaseRow};
use traybook_storage::review::review_rows;
use traybook_storage::review::review_rows::HeadRow;
use traybook_storage::savings::report_rows::{self, FarmRow, Place, SeedMovement};
use traybook_storage::savings::saving_rows::{self, PurchaseRow, RationRow};
use traybook_storage::texts as rows;
use traybook_storage::{Bind, Conn};
use uuid::Uuid;

/// Days of records that are looked through each time, today included: two months, so that what is
/// on the list can still be asked about, and so that its cost does not grow with the years.
pub const WINDOW_DAYS: u64 = 60;
/// Months back from which counts of animals are compared: they are made seldom.
const HEAD_MONTHS: i64 = 6;
/// Days before the first one looked through from which batches are read, so that those whose last
/// events lie in it are whole.
const BATCH_DAYS: u64 = 30;
/// Days before the first one looked through whose milk and eggs are read for comparison: a step of
/// the level is told from the sixtieth day of the records on.
const CONTEXT_DAYS: u64 = 120;

/// All records of a kind that is few in number.
pub(crate) fn all<T: Declared>(conn: &mut Conn, number: i64) -> Result<Vec<(Uuid, T)>, AppError> {
    let (every, filter) = (Visible::All, Filter::default());
    let found = records::page(conn, number, T::KIND, &every, &filter, None, 100_000)?;
    Ok(found.iter().filter_map(|r| Some((r.id, T::from_values(&r.values)?))).collect())
}

/// First day that is looked through.
pub(super) fn first_day(today: NaiveDate) -> NaiveDate {
    today.checked_sub_days(Days::new(WINDOW_DAYS - 1)).unwrap_or(today)
}

/// What was found in a window.
pub(crate) struct Looked {
    /// First day looked through.
    from: NaiveDate,
    /// Cases of its days, to be kept.
    cases: Vec<CaseRow>,
    /// Farms whose records of earlier days have changed.
    touched: Vec<Uuid>,
    /// All findings, JSON, the newest first.
    pub findings: String,
}

impl Looked {
    /// Keeps the cases, and queues the farms whose history is to be looked through.
    pub fn keep(&self, conn: &mut Conn, number: i64, now: i64) -> Result<(), AppError> {
        review_cases::replace(conn, number, self.from, None, &self.cases)?;
        Ok(review_cases::enqueue(conn, number, &self.touched, now)?)
    }
}

/// Looks through the last [`WINDOW_DAYS`] days of all farms, beside what is kept of earlier ones.
/// `levels` are jumps that hold back an output change.
pub(crate) fn find(
    conn: &mut Conn,
    coop: &Coop,
    now: Instant,
    (savings, levels): (&Made, Vec<Found>),
) -> Result<Looked, AppError> {
    let (number, today) = (coop.number, coop.today(now));
    let guide = coop.guide(conn)?;
    let from = first_day(today);
    let ctx = ReviewCtx { guide: &guide, zone: coop.zone, today, from };
    let of_savings = savings.findings(from, coop.digits);
    let held: HashSet<Uuid> =
        of_savings.iter().flat_map(|f| &f.records).map(|(_, record)| *record).collect();
    let mut farms: Vec<Uuid> =
        farm_rows::seen_ids(conn, number, &Visible::All)?.into_iter().collect();
    farms.sort_unstable();
    let mut kept = window(conn, coop, &farms, &ctx)?;
    kept.extend(bought(conn, coop, None, &held, &ctx)?);
    let kept = cases::listed(conn, number, kept)?;
    let rows: Vec<CaseRow> = kept.iter().map(Case::row).collect::<Result<_, _>>()?;
    let mut live = of_savings;
    live.extend(levels);
    live.extend(of_now(conn, coop, savings, &ctx)?);
    let mut all = cases::listed(conn, number, live)?;
    all.extend(cases::earlier(conn, number, from, &kept)?);
    all.extend(kept);
    let findings = serde_json::to_string(&cases::gathered(all));
    Ok(Looked {
        from,
        cases: rows,
        touched: touched(conn, coop, from)?,
        findings: findings.map_err(|e| AppError::Internal(e.to_string()))?,
    })
}

/// Farms whose records are in memory at once.
const FARMS_AT_ONCE: usize = 200;

/// What the rules say of the records of farms from a day on: those whose cases are kept, but for
/// those of [`bought`].
pub(super) fn window(
    conn: &mut Conn,
    coop: &Coop,
    of: &[Uuid],
    ctx: &ReviewCtx<'_>,
) -> Result<Vec<Found>, AppError> {
    let number = coop.number;
    // A batch whose case lies in the window may have been soaked before it.
    let soaked = ctx.from.checked_sub_days(Days::new(BATCH_DAYS)).unwrap_or(ctx.from);
    let begins = start_of_day(soaked, coop.zone).0;
    let mut holds: HashMap<Uuid, Vec<LotHold>> = HashMap::new();
    for (_, hold) in all::<LotHold>(conn, number)? {
        holds.entry(hold.seed_lot_id).or_default().push(hold);
    }
    let codes = review_rows::group_codes(conn, number)?;
    let mut found = Vec::new();
    // Farms are held against each other by what is kept of each.
    let mut outputs = [(Output::Milk, Vec::new()), (Output::Eggs, Vec::new())];
    for farms in of.chunks(FARMS_AT_ONCE) {
        let heads =
            review_rows::head_counts(conn, number, head_month(ctx).first_day(), Some(farms))?;
        found.extend(grown(conn, (number, begins), Some(farms), &holds, ctx)?);
        found.extend(herd(conn, number, Some(farms), (&heads, &codes), ctx)?);
        for (output, watched) in &mut outputs {
            watched.extend(watch(conn, number, *output, farms, &heads, ctx)?);
        }
    }
    for (output, watched) in &outputs {
        found.extend(values::findings(*output, watched.iter()));
    }
    found.retain(|f| f.since >= ctx.from && f.farm.is_some());
    Ok(found)
}

/// What the rules say of today: it is found anew each time, and kept nowhere.
fn of_now(
    conn: &mut Conn,
    coop: &Coop,
    savings: &Made,
    ctx: &ReviewCtx<'_>,
) -> Result<Vec<Found>, AppError> {
    let number = coop.number;
    let farms = farm_rows::farms(conn, number, None)?;
    let begins = start_of_day(ctx.from, coop.zone).0;
    let span = ((ctx.from, begins), ctx.today);
    let mut found = seed(conn, coop, span, Place::Of(None))?;
    found.extend(seed(conn, coop, span, Place::Store)?);
    found.extend(rations(conn, number, savings, ctx)?);
    found.extend(priced::guide(ctx.guide, ctx));
    let local = |ms: i64| local_date(Instant(ms), coop.zone);
    let mut last = review_rows::last_days(conn, number, Some((ctx.from, begins)), None, &local)?;
    // The few that recorded nothing of late are looked for at any time.
    let ids = farms.iter().map(|f| f.farm);
    let quiet: Vec<Uuid> = ids.filter(|farm| !last.contains_key(farm)).collect();
    last.extend(review_rows::last_days(conn, number, None, Some(&quiet), &local)?);
    found.extend(silent(conn, number, &farms, &last, ctx)?);
    found.extend(by_text(conn, coop, begins, ctx)?);
    Ok(found)
}

/// Texts that were taken back, and those that say something else than a visit.
fn by_text(
    conn: &mut Conn,
    coop: &Coop,
    begins: i64,
    ctx: &ReviewCtx<'_>,
) -> Result<Vec<Found>, AppError> {
    let number = coop.number;
    if !rows::has_records(conn, number)? {
        return Ok(Vec::new());
    }
    let mut found = texts::undone(&rows::undone(conn, number, begins)?, ctx);
    let day = |ms: i64| local_date(Instant(ms), coop.zone);
    let visits = rows::visits(conn, number, begins)?;
    let visits: HashSet<(Uuid, NaiveDate)> =
        visits.into_iter().map(|(farm, at)| (farm, day(at))).collect();
    let mut weighed = rows::weighed(conn, number, begins)?;
    weighed.retain(|w| w.is_text || visits.contains(&(w.farm, day(w.at))));
    found.extend(texts::against_visits(&weighed, ctx));
    Ok(found)
}

/// Kinds of record that the kept rules read, with the column of their day and whether it is an
/// instant.
const READ: [(Kind, &str, bool); 5] = [
    (Kind::BatchEvent, "at", true),
    (Kind::MilkRecord, "date", false),
    (Kind::EggRecord, "date", false),
    (Kind::HeadCount, "date", false),
    (Kind::FeedPurchase, "date", false),
];

/// Farms of which a record before a day has changed since the last time: their history is to be
/// looked through again. After an import that is all its farms.
fn touched(conn: &mut Conn, coop: &Coop, from: NaiveDate) -> Result<Vec<Uuid>, AppError> {
    let since = snapshots::state(conn, coop.number)?.map_or(0, |state| state.change_seq);
    let mut farms: Vec<Uuid> = Vec::new();
    for (kind, column, is_instant) in READ {
        let before = match is_instant {
            true => Bind::instant(start_of_day(from, coop.zone).0),
            false => Bind::date(from),
        };
        let of = review_cases::touched(conn, coop.number, (kind, column), since, before)?;
        farms.extend(of);
    }
    farms.sort_unstable();
    farms.dedup();
    Ok(farms)
}

/// What the batches of farms contradict.
fn grown(
    conn: &mut Conn,
    (number, begins): (i64, i64),
    of: Farms<'_>,
    holds: &HashMap<Uuid, Vec<LotHold>>,
    ctx: &ReviewCtx<'_>,
) -> Result<Vec<Found>, AppError> {
    let grown = review_rows::batches(conn, number, begins, of)?;
    let mut found = batches::batches(&grown, holds, ctx);
    found.extend(batches::sheds(&grown, &review_rows::places(conn, number, of)?, ctx));
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
    let end = start_of_day(plus_days(today, 1), coop.zone).0;
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

/// Counts of animals that jump, from a day on.
fn herd(
    conn: &mut Conn,
    number: i64,
    of: Farms<'_>,
    (events, codes): (&[HeadRow], &HashMap<Uuid, String>),
    ctx: &ReviewCtx<'_>,
) -> Result<Vec<Found>, AppError> {
    let first = head_month(ctx);
    let before = Month::from_number(first.number() - 1).unwrap_or(first);
    let opening: HashMap<Uuid, Option<HerdMonth>> = report_rows::groups(conn, number, before, of)?
        .into_iter()
        .map(|g| (g.group, g.herd))
        .collect();
    let mut all: Vec<HerdEvents> = Vec::new();
    for (group, farm, record, event) in events {
        match all.last_mut() {
            Some(last) if last.group == *group => last.events.push((*record, event.clone())),
            _ => all.push(HerdEvents {
                group: *group,
                code: codes.get(group).cloned().unwrap_or_default(),
                farm: *farm,
                opening: opening.get(group).copied().flatten().map(|h| h.closing_head),
                events: vec![(*record, event.clone())],
            }),
        }
    }
    Ok(herds::jumps(&all, ctx).into_iter().filter(|f| f.since >= ctx.from).collect())
}

/// The month from which counts of animals are read: they are made seldom, and compared.
fn head_month(ctx: &ReviewCtx<'_>) -> Month {
    let from = Month::of(ctx.from);
    Month::from_number(from.number() - HEAD_MONTHS).unwrap_or(from)
}

/// Milk or eggs of each farm: copied, rounded, jumping, out by a unit, or at another level for good.
fn watch(
    conn: &mut Conn,
    number: i64,
    output: Output,
    farms: &[Uuid],
    heads: &[HeadRow],
    ctx: &ReviewCtx<'_>,
) -> Result<Vec<Watched>, AppError> {
    let mut events: HashMap<Uuid, Vec<NaiveDate>> = HashMap::new();
    for (group, _, _, event) in heads {
        events.entry(*group).or_default().push(event.date);
    }
    let from = ctx.from.checked_sub_days(Days::new(CONTEXT_DAYS)).unwrap_or(ctx.from);
    let rows = review_rows::outputs(conn, number, output, from, Some(farms))?;
    let farms = grouped(rows, |row: &OutputRow| row.group.1);
    Ok(farms.map(|(_, rows)| values::watch(output, &rows, &events, ctx)).collect())
}

/// Feed purchases from a day on against those of others; what the saving holds back already is left
/// to it. The prices of all farms are read for it, so it is asked of many farms at once.
pub(super) fn bought(
    conn: &mut Conn,
    coop: &Coop,
    of: Farms<'_>,
    held: &HashSet<Uuid>,
    ctx: &ReviewCtx<'_>,
) -> Result<Vec<Found>, AppError> {
    let (number, end) = (coop.number, plus_days(ctx.today, 1));
    let names: HashMap<Uuid, String> =
        all::<Feed>(conn, number)?.into_iter().map(|(id, f)| (id, f.name)).collect();
    let shop = Shop { names: &names, held, digits: coop.digits };
    let purchase = |p: PurchaseRow| {
        let PurchaseRow { id, farm, feed, on, grams, minor, .. } = p;
        Purchase { id, farm, feed, on, grams, minor }
    };
    let mut watch = Watch::new(&shop, ctx);
    let mut farms: HashSet<Uuid> = HashSet::new();
    saving_rows::each_purchase(conn, number, (watch.prices_from(), end), |row| {
        if row.on >= ctx.from {
            farms.insert(row.farm);
        }
        watch.price(&purchase(row));
    })?;
    let mut asked: Vec<Uuid> = match of {
        Some(of) => of.iter().copied().filter(|farm| farms.contains(farm)).collect(),
        None => farms.into_iter().collect(),
    };
    asked.sort_unstable();
    for farms in asked.chunks(FARMS_AT_ONCE) {
        let rows = saving_rows::purchases(conn, number, end, Some(farms))?;
        for own in rows.chunk_by(|a, b| a.farm == b.farm) {
            watch.farm(own.iter().copied().map(purchase).collect());
        }
    }
    Ok(watch.findings())
}

/// Rations before fodder against what an animal eats, and against those of others.
fn rations(
    conn: &mut Conn,
    number: i64,
    savings: &Made,
    ctx: &ReviewCtx<'_>,
) -> Result<Vec<Found>, AppError> {
    let feeds: HashMap<Uuid, Feed> = all::<Feed>(conn, number)?.into_iter().collect();
    let prices = savings.prices();
    // The last price known of each feed: rations are compared at one day's prices.
    let last = |feed: &Uuid| prices.get(feed).and_then(|of| of.values().next_back()).copied();
    let codes = review_rows::group_codes(conn, number)?;
    let groups: HashMap<Uuid, String> = saving_rows::groups(conn, number, None)?
        .into_iter()
        .map(|(_, g, class)| (g, class))
        .collect();
    let mut latest: BTreeMap<(Uuid, Uuid), BTreeMap<Uuid, RationRow>> = BTreeMap::new();
    for row in saving_rows::rations(conn, number, None)?.into_iter().filter(|r| r.on <= ctx.today) {
        // Of one feed the last recorded holds.
        latest.entry((row.farm, row.group)).or_default().insert(row.feed, row);
    }
    let mut made: Vec<GroupRation<'_>> = Vec::new();
    for ((farm, group), rows) in &latest {
        let Some(class) = groups.get(group) else { continue };
        let kg = |r: &RationRow| real(r.grams) / 1_000.0;
        let dry = |r: &RationRow| {
            let percent = feeds.get(&r.feed)?.dry_matter_percent?;
            Some(kg(r) * real(percent) / 10_000.0)
        };
        let cost = |r: &RationRow| Some(kg(r) * last(&r.feed)?);
        made.push(GroupRation {
            farm: *farm,
            group: *group,
            code: codes.get(group).cloned().unwrap_or_default(),
            records: rows.values().map(|r| r.id).collect(),
            on: rows.values().map(|r| r.on).max().unwrap_or(ctx.today),
            ration: Ration {
                class,
                dry_matter: rows.values().map(dry).sum(),
                cost: rows.values().map(cost).sum(),
                others: Vec::new(),
                bought: None,
            },
        });
    }
    let costs: Vec<(Uuid, &str, f64)> =
        made.iter().filter_map(|g| Some((g.farm, g.ration.class, g.ration.cost?))).collect();
    for group in &mut made {
        let same = |(farm, class, _): &&(Uuid, &str, f64)| {
            *farm != group.farm && *class == group.ration.class
        };
        group.ration.others = costs.iter().filter(same).map(|c| c.2).collect();
    }
    Ok(priced::rations(&made))
}
