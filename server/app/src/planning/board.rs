//! The farms with what grows on them, kept in memory and read again when they change.

use super::learned::{self, LearnedFarms};
use crate::error::AppError;
use crate::seed::lots;
use crate::{App, Coop};
use chrono::{NaiveDate, Weekday};
use std::collections::{HashMap, HashSet};
use std::sync::Arc;
use traybook_domain::kinds::{
    ANIMAL_CLASSES, CROPS, FodderPlan, GrowingPause, LotHold, RestDay, SeedLot, TRAY_LOADS,
    WEEKDAYS,
};
use traybook_domain::planning::guide::Guide;
use traybook_domain::record::Record as _;
use traybook_domain::time::{LocalDays, plus_days, start_of_day};
use traybook_domain::value::Instant;
use traybook_domain::{Kind, Month};
use traybook_planning::work::{Batch, LotStock, Out, Recorded, Scene, Task};
use traybook_planning::{Group, Pause, RestDays, Setting, Shed, day_of};
use traybook_storage::planning::planning_rows;
use traybook_storage::records::farm_rows::{self, Farms};
use traybook_storage::records::{self, Filter, Visible};
use traybook_storage::{Conn, planning::learned_rows, records::changes};
use uuid::Uuid;

/// Days before the day asked for from which batches are read: the oldest harvest age there is,
/// and the days that unfinished work stays on the list.
const DAYS_BACK: u64 = 24;
/// Days after it that are laid out: those of the longest forecast.
const DAYS_AHEAD: u64 = 100;
/// Changes that are followed one by one; after more everything is read again.
const CHANGES_MAX: i64 = 2_000;
/// Farms that are read again by name; of more all are read.
const FARMS_MAX: usize = 200;

/// A farm as its work list needs it.
#[derive(Debug)]
pub struct FarmBoard {
    /// Farm, its code, area, member, the member's name, how to find it.
    pub row: Arc<farm_rows::FarmRow>,
    /// What grows there.
    pub scene: Scene,
}

/// All farms of a co-operative around a day.
#[derive(Debug)]
pub struct Board {
    /// Number of the last change.
    pub seq: i64,
    pub day: NaiveDate,
    /// The days around it in the co-operative's zone.
    pub days: LocalDays,
    pub guide: Guide,
    /// Seed lots: number and crop.
    pub lots: HashMap<Uuid, SeedLot>,
    /// Lots that are held on the day.
    pub held: HashMap<Uuid, LotHold>,
    /// Farms by code.
    pub farms: Vec<Arc<FarmBoard>>,
    /// What the records have taught, with its day; none before the first night.
    pub learned: Known,
    /// Seed in the store, lot and grams; of the board of today.
    pub store: Option<Vec<(Uuid, i64)>>,
}

/// Bytes that a farm takes beside its batches: names, sheds, groups, plan, needs.
const FARM_BYTES: usize = 4_000;
/// Bytes that a batch takes, with what is planned of it.
const BATCH_BYTES: usize = 400;

/// Kinds of record that the board is made from.
const fn concerns(kind: Kind) -> bool {
    matches!(
        kind,
        Kind::Farm
            | Kind::Shed
            | Kind::AnimalGroup
            | Kind::HeadCount
            | Kind::SeedIssue
            | Kind::Batch
            | Kind::BatchEvent
            | Kind::FodderPlan
            | Kind::PlannedHead
            | Kind::RestDay
            | Kind::GrowingPause
            | Kind::WorkRecord
    )
}

impl Board {
    /// About how much memory it takes, with what is made of its farms.
    #[must_use]
    pub fn bytes(&self) -> usize {
        let batches: usize = self.farms.iter().map(|f| f.scene.batches.len()).sum();
        self.farms.len() * FARM_BYTES + batches * BATCH_BYTES
    }

    /// The day of what the records have taught.
    fn learned_on(&self) -> Option<NaiveDate> {
        self.learned.as_ref().map(|(day, _)| *day)
    }

    /// A lot's number.
    #[must_use]
    pub fn lot(&self, lot: Option<Uuid>) -> Option<&str> {
        lot.and_then(|lot| self.lots.get(&lot)).map(|lot| lot.code.as_str())
    }

    #[must_use]
    pub fn farm(&self, id: Uuid) -> Option<&Arc<FarmBoard>> {
        self.farms.iter().find(|f| f.row.farm == id)
    }
}

/// The board of today, as kept where nothing changed.
pub fn today(
    conn: &mut Conn,
    app: &App,
    coop: &Coop,
    now: Instant,
) -> Result<Arc<Board>, AppError> {
    let (number, day) = (coop.number, coop.today(now));
    let seq = changes::counters(conn, number)?.change_seq;
    let learned = learned_rows::day(conn, number)?;
    let is_same = |board: &Board| board.day == day && board.learned_on() == learned;
    app.boards.renew(
        number,
        |kept| is_same(kept) && kept.seq >= seq,
        |old| {
            let old = old.filter(|old| is_same(old) && old.seq <= seq);
            let changed = match &old {
                Some(old) => changed_since(conn, number, old.seq)?,
                None => None,
            };
            let store = match (&old, &changed) {
                (Some(old), Some(changed)) if !changed.is_store_moved => old.store.clone(),
                _ => Some(planning_rows::store_stock(conn, number)?),
            };
            let board = match (old, changed) {
                (Some(old), Some(changed)) => renew(conn, coop, &old, seq, &changed.farms)?,
                _ => load(conn, coop, (day, seq), None, None)?,
            };
            Ok(Board { store, ..board })
        },
    )
}

/// The board around another day, read anew.
pub fn on_day(
    conn: &mut Conn,
    coop: &Coop,
    day: NaiveDate,
    of: Farms<'_>,
) -> Result<Board, AppError> {
    let seq = changes::counters(conn, coop.number)?.change_seq;
    load(conn, coop, (day, seq), of, None)
}

/// The farms whose work list may have changed since a number; none where it may be any.
pub fn changed(conn: &mut Conn, coop: i64, seq: i64) -> Result<Option<HashSet<Uuid>>, AppError> {
    let changes = changes::kinds_since(conn, coop, seq, CHANGES_MAX)?;
    let of_all = |kind: Kind| {
        matches!(
            kind,
            Kind::GrowingGuideValue | Kind::LotHold | Kind::SeedLot | Kind::Area | Kind::Member
        )
    };
    if changes.iter().any(|(kind, _)| of_all(*kind)) {
        return Ok(None);
    }
    Ok(changed_since(conn, coop, seq)?.map(|changed| changed.farms))
}

/// What changed on a board.
struct Changed {
    farms: HashSet<Uuid>,
    is_store_moved: bool,
}

/// What changed since a number; none where all must be read again.
fn changed_since(conn: &mut Conn, coop: i64, seq: i64) -> Result<Option<Changed>, AppError> {
    let changes = changes::kinds_since(conn, coop, seq, CHANGES_MAX)?;
    let is_many = i64::try_from(changes.len()).unwrap_or(CHANGES_MAX) >= CHANGES_MAX;
    let mut farms = HashSet::new();
    let mut is_store_moved = false;
    for (kind, farm) in changes {
        is_store_moved |= matches!(kind, Kind::SeedPurchase | Kind::SeedIssue);
        // A correction may take it from one farm to another, and the feed names one of them.
        if kind == Kind::SeedAdjustment {
            return Ok(None);
        }
        match farm {
            Some(farm) if concerns(kind) => drop(farms.insert(farm)),
            // A member's name stands beside the farm.
            None if matches!(kind, Kind::Member | Kind::Farm) => return Ok(None),
            _ => {}
        }
    }
    let is_few = !is_many && farms.len() <= FARMS_MAX;
    Ok(is_few.then_some(Changed { farms, is_store_moved }))
}

fn renew(
    conn: &mut Conn,
    coop: &Coop,
    old: &Board,
    seq: i64,
    changed: &HashSet<Uuid>,
) -> Result<Board, AppError> {
    let ids: Vec<Uuid> = changed.iter().copied().collect();
    let mut board = if ids.is_empty() {
        shell(conn, coop, (old.day, seq), Some(old.learned.clone()))?
    } else {
        load(conn, coop, (old.day, seq), Some(&ids), Some(old.learned.clone()))?
    };
    let kept = old.farms.iter().filter(|f| !changed.contains(&f.row.farm)).map(Arc::clone);
    board.farms.extend(kept);
    board.farms.sort_by(|a, b| (&a.row.code, a.row.farm).cmp(&(&b.row.code, b.row.farm)));
    Ok(board)
}

/// What the records have taught, with its day.
type Known = Option<(NaiveDate, Arc<LearnedFarms>)>;

/// A board without farms. `known` is what the records have taught, where it is at hand.
fn shell(
    conn: &mut Conn,
    coop: &Coop,
    (day, seq): (NaiveDate, i64),
    known: Option<Known>,
) -> Result<Board, AppError> {
    let number = coop.number;
    let learned = match known {
        Some(known) => known,
        None => {
            let day = learned_rows::day(conn, number)?;
            learned::read(conn, number, day)?
        }
    };
    let live = Filter::default();
    let holds = records::page(conn, number, Kind::LotHold, &Visible::All, &live, None, 100_000)?;
    let holds = holds.into_iter().filter_map(|r| LotHold::from_values(&r.values));
    let held = holds.filter(|h| h.holds_on(day)).map(|h| (h.seed_lot_id, h));
    Ok(Board {
        seq,
        day,
        days: LocalDays::around(day, DAYS_BACK, DAYS_AHEAD, coop.zone),
        guide: coop.guide(conn)?,
        lots: lots(conn, number)?,
        held: held.collect(),
        farms: Vec::new(),
        learned,
        store: None,
    })
}

fn load(
    conn: &mut Conn,
    coop: &Coop,
    (day, seq): (NaiveDate, i64),
    of: Farms<'_>,
    known: Option<Known>,
) -> Result<Board, AppError> {
    let mut board = shell(conn, coop, (day, seq), known)?;
    let rows = farm_rows::farms(conn, coop.number, of)?;
    let mut scenes: HashMap<Uuid, Scene> =
        rows.iter().map(|r| (r.farm, Scene::default())).collect();
    for row in &rows {
        if let Some(scene) = scenes.get_mut(&row.farm) {
            scene.farm.started_on = row.started_on.map(day_of);
            scene.farm.learned = board.learned.as_ref().map(|(_, of)| of.of(row.farm));
        }
    }
    standing(conn, coop, day, of, &mut scenes)?;
    planned(conn, coop.number, of, &mut scenes)?;
    growing(conn, coop, day, of, &mut scenes)?;
    seed(conn, coop.number, of, &board.lots, &mut scenes)?;
    for row in rows {
        let mut scene = scenes.remove(&row.farm).unwrap_or_default();
        crops(&mut scene);
        board.farms.push(Arc::new(FarmBoard { row, scene }));
    }
    Ok(board)
}

/// Sheds, groups and their head.
fn standing(
    conn: &mut Conn,
    coop: &Coop,
    day: NaiveDate,
    of: Farms<'_>,
    scenes: &mut HashMap<Uuid, Scene>,
) -> Result<(), AppError> {
    for row in planning_rows::sheds(conn, coop.number, of)? {
        let Some(scene) = scenes.get_mut(&row.farm) else { continue };
        let (id, code) = (row.id, row.code);
        scene.farm.sheds.push(Shed { id, code, places: row.places, load_g: row.load_g });
    }
    for row in farm_rows::groups(conn, coop.number, Month::of(day), of)? {
        let class = ANIMAL_CLASSES.iter().position(|c| *c == row.class);
        let (Some(scene), Some(class)) = (scenes.get_mut(&row.farm), class) else { continue };
        scene.farm.groups.push(Group {
            id: row.group,
            code: row.code,
            class,
            head: row.herd.map(|herd| (i32::MIN, herd.closing_head)).into_iter().collect(),
            settings: Vec::new(),
            crop: None,
            starts_on: None,
        });
    }
    for (farm, group, day, head) in planning_rows::planned_heads(conn, coop.number, of)? {
        let groups = scenes.get_mut(&farm).map(|s| &mut s.farm.groups);
        let group = groups.and_then(|all| all.iter_mut().find(|g| g.id == group));
        if let Some(group) = group {
            group.head.push((day_of(day), head));
        }
    }
    Ok(())
}

/// Fodder plans, rest days, pauses.
fn planned(
    conn: &mut Conn,
    coop: i64,
    of: Farms<'_>,
    scenes: &mut HashMap<Uuid, Scene>,
) -> Result<(), AppError> {
    for (farm, values) in planning_rows::settings(conn, coop, Kind::FodderPlan, of)? {
        let (Some(scene), Some(rule)) = (scenes.get_mut(&farm), FodderPlan::from_values(&values))
        else {
            continue;
        };
        let shed = rule.shed_id.and_then(|id| scene.farm.sheds.iter().position(|s| s.id == id));
        let crop = rule.crop.and_then(|crop| CROPS.iter().position(|c| *c == crop));
        let full = rule.tray_load.map(|load| Some(load.as_str()) == TRAY_LOADS.last().copied());
        let group = scene.farm.groups.iter_mut().find(|g| g.id == rule.animal_group_id);
        if let Some(group) = group {
            group.settings.push(Setting {
                from: day_of(rule.valid_from),
                shed,
                crop,
                age: rule.harvest_age_days.and_then(|a| i32::try_from(a).ok()),
                full,
                is_grown: rule.is_grown != Some(false),
            });
        }
    }
    for (farm, values) in planning_rows::settings(conn, coop, Kind::RestDay, of)? {
        let (Some(scene), Some(rule)) = (scenes.get_mut(&farm), RestDay::from_values(&values))
        else {
            continue;
        };
        rest(&mut scene.farm.rest, &rule);
    }
    for (farm, values) in planning_rows::settings(conn, coop, Kind::GrowingPause, of)? {
        let (Some(scene), Some(rule)) = (scenes.get_mut(&farm), GrowingPause::from_values(&values))
        else {
            continue;
        };
        let (first, last) = (day_of(rule.first_day), rule.last_day.map(day_of));
        scene.farm.pauses.push(Pause { first, last });
    }
    Ok(())
}

fn rest(days: &mut RestDays, rule: &RestDay) {
    let weekday = rule.weekday.as_ref().and_then(|w| WEEKDAYS.iter().position(|d| d == w));
    let weekday =
        weekday.and_then(|at| u8::try_from(at).ok()).and_then(|at| Weekday::try_from(at).ok());
    if let Some(weekday) = weekday {
        days.add_weekday(weekday);
    }
    days.days.extend(rule.day.map(day_of));
}

/// Batches and recorded work.
fn growing(
    conn: &mut Conn,
    coop: &Coop,
    day: NaiveDate,
    of: Farms<'_>,
    scenes: &mut HashMap<Uuid, Scene>,
) -> Result<(), AppError> {
    let first = day.checked_sub_days(chrono::Days::new(DAYS_BACK)).unwrap_or(day);
    let span = (start_of_day(first, coop.zone).0, start_of_day(plus_days(day, 2), coop.zone).0);
    for row in planning_rows::batches(conn, coop.number, span, of)? {
        let Some(scene) = scenes.get_mut(&row.farm) else { continue };
        let shed = scene.farm.sheds.iter().position(|s| s.id == row.shed);
        let crop = CROPS.iter().position(|c| *c == row.crop);
        let (Some(shed), Some(crop)) = (shed, crop) else { continue };
        let group = row.group.and_then(|id| scene.farm.groups.iter().position(|g| g.id == id));
        scene.batches.push(Batch {
            id: row.id,
            code: row.code,
            group,
            shed,
            lot: row.lot,
            crop,
            age: row.age.and_then(|a| i32::try_from(a).ok()),
            soaked_at: Instant(row.soaked_at),
            seed_g: row.seed_g,
            planned: row.planned.filter(|trays| *trays > 0),
            spread_at: row.spread_at.map(Instant),
            spread: row.spread,
            outs: row.outs.iter().map(out).collect(),
            mould: row.mould,
        });
    }
    for row in planning_rows::work(conn, coop.number, span, of)? {
        let Some(scene) = scenes.get_mut(&row.farm) else { continue };
        let task = match row.task.as_str() {
            "drained" => Task::Drain,
            "watered" => Task::Water,
            _ => Task::Clean,
        };
        let shed = row.shed.and_then(|id| scene.farm.sheds.iter().position(|s| s.id == id));
        let (batch, at, watering) = (row.batch, Instant(row.at), row.watering);
        scene.recorded.push(Recorded { task, shed, batch, at, watering });
    }
    Ok(())
}

fn out(row: &planning_rows::OutRow) -> Out {
    let task = match row.event {
        "harvested" => Task::Harvest,
        "discarded" => Task::Discard,
        _ => Task::Feed,
    };
    Out { task, at: Instant(row.at), trays: row.trays, grams: row.grams }
}

fn seed(
    conn: &mut Conn,
    coop: i64,
    of: Farms<'_>,
    lots: &HashMap<Uuid, SeedLot>,
    scenes: &mut HashMap<Uuid, Scene>,
) -> Result<(), AppError> {
    for (farm, lot, grams) in planning_rows::stock(conn, coop, of)? {
        let (Some(scene), Some(known)) = (scenes.get_mut(&farm), lots.get(&lot)) else { continue };
        let Some(crop) = CROPS.iter().position(|c| *c == known.crop) else { continue };
        scene.stock.push(LotStock { lot, crop, grams });
    }
    Ok(())
}

/// Where no fodder plan names a crop, it is that of the group's last batch, of the farm's last
/// batch, or of the seed on the farm.
fn crops(scene: &mut Scene) {
    let any = scene.batches.last().map(|b| b.crop);
    let stock = scene.stock.iter().find(|s| s.grams > 0).map(|s| s.crop);
    for (at, group) in scene.farm.groups.iter_mut().enumerate() {
        let own = scene.batches.iter().rev().find(|b| b.group == Some(at)).map(|b| b.crop);
        group.crop = own.or(any).or(stock);
    }
}
