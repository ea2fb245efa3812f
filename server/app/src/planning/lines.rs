//! Work as it is answered.

use super::board::{Board, FarmBoard};
use serde::Serialize;
use serde_json::Value as Json;
use traybook_domain::field::json_decimal;
use traybook_domain::kinds::{CROPS, HOLD_CAUTION};
use traybook_domain::time::format_instant;
use traybook_planning::work::{Asked, Line, Scene, State};
use traybook_planning::{Day, Feed, Plan, Short, date_of, words};
use uuid::Uuid;

/// The work of a day.
#[derive(Debug, Serialize)]
pub struct Work {
    /// The day asked for, and today.
    pub date: chrono::NaiveDate,
    /// See [`Work::date`].
    pub today: chrono::NaiveDate,
    /// Number of the last change counted.
    pub data_version: i64,
    /// Farms by code; those without work, warnings or shortage are left out.
    pub farms: Vec<FarmWork>,
}

/// The work of one farm.
#[derive(Debug, Serialize)]
pub struct FarmWork {
    /// Farm.
    pub farm_id: Uuid,
    /// Its code.
    pub farm: String,
    /// Its area.
    pub area_id: Uuid,
    /// Its name.
    pub area: Option<String>,
    /// Member.
    pub member_name: String,
    /// How to find the farm.
    pub place: Option<String>,
    /// Late work first, then by time, then what is done.
    pub lines: Vec<WorkLine>,
    /// What to know besides: held seed lots, seed that runs out.
    pub warnings: Vec<String>,
    /// Numbers of held seed lots that are on the farm or grow there.
    pub held_lots: Vec<String>,
    /// Groups that go short or have fodder left over on the day.
    pub feeding: Vec<FeedNote>,
    /// Seed on the farm.
    pub seed: SeedNote,
}

/// One line of work.
#[derive(Debug, Serialize)]
pub struct WorkLine {
    /// Name by which it is recorded as done.
    pub line: String,
    /// What to do.
    pub task: &'static str,
    /// `late`, `open` or `done`.
    pub state: &'static str,
    /// When it is due.
    pub due_at: String,
    /// When it was done.
    pub done_at: Option<String>,
    /// Shed.
    pub shed_id: Option<Uuid>,
    /// Its code.
    pub shed: Option<String>,
    /// Animal group.
    pub animal_group_id: Option<Uuid>,
    /// Its code.
    pub animal_group: Option<String>,
    /// Batch.
    pub batch_id: Option<Uuid>,
    /// Its code.
    pub batch: Option<String>,
    /// Trays.
    pub trays: Option<i64>,
    /// Dry seed to soak, drain or spread; fresh fodder expected or to feed.
    pub kg: Option<Json>,
    /// Crop.
    pub crop: Option<&'static str>,
    /// Seed lot.
    pub seed_lot_id: Option<Uuid>,
    /// Its number.
    pub seed_lot: Option<String>,
    /// Day on which it is fed.
    pub feed_on: Option<chrono::NaiveDate>,
    /// Day on which what is to be fed or thrown away was harvested.
    pub harvested_on: Option<chrono::NaiveDate>,
    /// Which watering of the day, and of how many.
    pub watering: Option<i64>,
    /// See [`WorkLine::watering`].
    pub waterings: Option<i64>,
    /// Why it is late, or on another day than usual.
    pub why: Option<String>,
    /// All of it in one sentence.
    pub sentence: String,
    /// Cautions.
    pub cautions: Vec<&'static str>,
}

/// What a group gets on the day, where that is not what it needs.
#[derive(Debug, Serialize)]
pub struct FeedNote {
    /// Animal group.
    pub animal_group_id: Uuid,
    /// Its code.
    pub animal_group: String,
    /// Fresh fodder it needs.
    pub need_kg: Json,
    /// Of it missing.
    pub short_kg: Json,
    /// Left over.
    pub surplus_kg: Json,
    /// Why it goes short.
    pub reason: Option<&'static str>,
    /// The same in one sentence.
    pub sentence: String,
}

/// Seed on a farm.
#[derive(Debug, Serialize)]
pub struct SeedNote {
    /// By the records; null where none tells.
    pub on_farm_kg: Option<Json>,
    /// Of it held back.
    pub held_kg: Json,
    /// Whole days that the rest lasts by the plan; null where it lasts beyond the days looked at
    /// or nothing is planned.
    pub days_left: Option<i64>,
    /// The days looked at.
    pub days_looked_at: usize,
}

impl WorkLine {
    /// From a line.
    #[must_use]
    pub fn new(line: &Line, scene: &Scene, board: &Board) -> Self {
        let shed = scene.farm.sheds.get(line.shed);
        let group = line.group.and_then(|g| scene.farm.groups.get(g));
        let batch = line.batch.and_then(|b| scene.batches.get(b));
        let lot = board.lot(line.lot);
        let (state, done) = match line.state {
            State::Late => ("late", None),
            State::Open => ("open", None),
            State::Done(at) => ("done", Some(at)),
        };
        Self {
            line: line.key.clone(),
            task: line.task.text(),
            state,
            due_at: format_instant(line.due),
            done_at: done.map(format_instant),
            shed_id: shed.map(|s| s.id),
            shed: shed.map(|s| s.code.clone()),
            animal_group_id: group.map(|g| g.id),
            animal_group: group.map(|g| g.code.clone()),
            batch_id: batch.map(|b| b.id),
            batch: batch.and_then(|b| b.code.clone()),
            trays: line.trays,
            kg: line.grams.map(|g| json_decimal(g, 3)),
            crop: line.crop.and_then(|c| CROPS.get(c)).copied(),
            seed_lot_id: line.lot,
            seed_lot: lot.map(str::to_owned),
            feed_on: line.feed_on.map(date_of),
            harvested_on: line.harvested_on.map(date_of),
            watering: line.watering.map(|w| w.0),
            waterings: line.watering.map(|w| w.1),
            why: line.why.clone(),
            sentence: words::sentence(line, scene, lot),
            cautions: line.cautions.clone(),
        }
    }
}

impl FeedNote {
    /// From a feeding day; none where the group gets what it needs.
    #[must_use]
    pub fn new(feed: &Feed, scene: &Scene) -> Option<Self> {
        let group = scene.farm.groups.get(feed.group)?;
        let sentence = words::feed_sentence(feed, &group.code)?;
        let kg = |seed: i64| json_decimal(feed.fresh_g(seed), 3);
        Some(Self {
            animal_group_id: group.id,
            animal_group: group.code.clone(),
            need_kg: kg(feed.need_g),
            short_kg: kg(feed.short_g()),
            surplus_kg: kg(feed.surplus_g()),
            reason: feed.short.map(words::code),
            sentence,
        })
    }
}

/// Days that seed is looked ahead for in a work list.
pub const SEED_DAYS: usize = 14;

/// Seed on a farm against its plan from today on.
#[must_use]
pub fn seed_note(scene: &Scene, board: &Board, plan: &Plan, today: Day, days: usize) -> SeedNote {
    let is_held = |lot: &Uuid| board.held.contains_key(lot);
    let sum = |held: bool| -> i64 {
        scene.stock.iter().filter(|s| is_held(&s.lot) == held).map(|s| s.grams).sum()
    };
    let (usable, held) = (sum(false), sum(true));
    // Each crop by itself: barley does not help a group that is given maize.
    let mut left: std::collections::HashMap<Option<usize>, i64> = std::collections::HashMap::new();
    for lot in scene.stock.iter().filter(|s| s.grams > 0 && !is_held(&s.lot)) {
        *left.entry(Some(lot.crop)).or_insert(0) += lot.grams;
    }
    let empty = plan.soaks.iter().find(|s| {
        let left = left.entry(s.crop).or_insert(0);
        *left -= s.seed_g;
        *left < 0
    });
    SeedNote {
        on_farm_kg: (!scene.stock.is_empty()).then(|| json_decimal(usable + held, 3)),
        held_kg: json_decimal(held.max(0), 3),
        days_left: empty.map(|s| i64::from(s.day - today)),
        days_looked_at: days,
    }
}

/// What a farm must know besides its work, and the held lots that it has.
#[must_use]
pub fn warnings(
    farm: &FarmBoard,
    board: &Board,
    seed: &SeedNote,
    asked: &Asked<'_>,
) -> (Vec<String>, Vec<String>) {
    let (mut all, mut held_lots) = (Vec::new(), Vec::new());
    let scene = &farm.scene;
    for (lot, hold) in &board.held {
        let code = board.lot(Some(*lot)).unwrap_or_default();
        let stock: i64 = scene.stock.iter().filter(|s| s.lot == *lot).map(|s| s.grams).sum();
        let grows = |b: &&traybook_planning::work::Batch| {
            b.lot == Some(*lot) && (b.spread == 0 || b.standing() > 0)
        };
        let batches = scene.batches.iter().filter(grows).count();
        if stock <= 0 && batches == 0 {
            continue;
        }
        let mut what = Vec::new();
        if stock > 0 {
            what.push(format!("{} of it are on the farm", words::kg(stock)));
        }
        if batches > 0 {
            what.push(format!("{batches} of the batches that grow are from it"));
        }
        let what = what.join(", and ");
        all.push(format!("lot {code} is held ({}): {what}; {HOLD_CAUTION}", hold.reason));
        held_lots.push(code.to_owned());
    }
    all.sort();
    held_lots.sort();
    let lead = board.guide.value(
        traybook_domain::guide::GuideName::SeedLeadDays,
        None,
        date_of(asked.today()),
    ) / 1_000;
    match (seed.days_left, scene.stock.is_empty()) {
        (Some(days), false) if days <= lead => all.push(match days {
            0 => "the seed on the farm does not last for today's soak".to_owned(),
            1 => "the seed on the farm lasts for today only".to_owned(),
            days => format!("the seed on the farm lasts for {days} days"),
        }),
        _ => {}
    }
    (all, held_lots)
}

/// The feeding days of a day that are worth a note.
#[must_use]
pub fn feeding(scene: &Scene, plan: &Plan, date: Day) -> Vec<FeedNote> {
    let feeds = plan.feeds.iter().filter(|f| f.day == date);
    let told = feeds.filter(|f| f.short != Some(Short::BeforeFirstHarvest));
    told.filter_map(|f| FeedNote::new(f, scene)).collect()
}
