//! Work as it is answered.

use super::board::{Board, FarmBoard};
use traybook_answers::Decimal;
use traybook_answers::planning::work::{
    FeedNote, SoakCause, SoakPart, SoakReason, WorkLine, WorkState, WorkTask,
};
use traybook_answers::planning::{SeedNote, ShortReason};
use traybook_answers::wire::Time;
use traybook_domain::kinds::{CROPS, HOLD_CAUTION};
use traybook_planning::work::{Asked, Line, Reason, Scene, SoakWhy, State, Task};
use traybook_planning::{Day, Feed, Plan, Short, date_of, words};
use uuid::Uuid;

const fn task(task: Task) -> WorkTask {
    match task {
        Task::Discard => WorkTask::Discard,
        Task::Harvest => WorkTask::Harvest,
        Task::Feed => WorkTask::Feed,
        Task::Clean => WorkTask::Clean,
        Task::Spread => WorkTask::Spread,
        Task::Drain => WorkTask::Drain,
        Task::Soak => WorkTask::Soak,
        Task::Water => WorkTask::Water,
    }
}

/// Why a group goes short, for answers.
#[must_use]
pub const fn reason(short: Short) -> ShortReason {
    match short {
        Short::BeforeFirstHarvest => ShortReason::BeforeFirstHarvest,
        Short::NotSoaked => ShortReason::NotSoaked,
        Short::TooLittleSoaked => ShortReason::TooLittleSoaked,
        Short::NoPlaces => ShortReason::NoPlaces,
        Short::RestDays => ShortReason::RestDays,
        Short::AgeTooLow => ShortReason::AgeTooLow,
        Short::NoShed => ShortReason::NoShed,
    }
}

/// A line as it is answered.
#[must_use]
pub fn work_line(line: &Line, scene: &Scene, board: &Board) -> WorkLine {
    let shed = scene.farm.sheds.get(line.shed);
    let group = line.group.and_then(|g| scene.farm.groups.get(g));
    let batch = line.batch.and_then(|b| scene.batches.get(b));
    let lot = board.lot(line.lot);
    let (state, done) = match line.state {
        State::Late => (WorkState::Late, None),
        State::Open => (WorkState::Open, None),
        State::Done(at) => (WorkState::Done, Some(at)),
    };
    WorkLine {
        line: line.key.clone(),
        task: task(line.task),
        state,
        due_at: Time(line.due),
        done_at: done.map(Time),
        shed_id: shed.map(|s| s.id),
        shed: shed.map(|s| s.code.clone()),
        animal_group_id: group.map(|g| g.id),
        animal_group: group.map(|g| g.code.clone()),
        batch_id: batch.map(|b| b.id),
        batch: batch.and_then(|b| b.code.clone()),
        trays: line.trays,
        kg: line.grams.map(Decimal::kg),
        crop: line.crop.and_then(crop_name),
        seed_lot_id: line.lot,
        seed_lot: lot.map(str::to_owned),
        feed_on: line.feed_on.map(date_of),
        harvested_on: line.harvested_on.map(date_of),
        early_days: line.early.map(i64::from),
        soak: line.soak.as_ref().map(soak_reason),
        watering: line.watering.map(|w| w.0),
        waterings: line.watering.map(|w| w.1),
        why: line.why.clone(),
        sentence: words::sentence(line, scene, lot),
        cautions: line.cautions.iter().map(|c| (*c).to_owned()).collect(),
    }
}

/// What today's soak is made of, for answers.
#[must_use]
pub fn soak_reason(why: &SoakWhy) -> SoakReason {
    SoakReason {
        need_kg: Decimal::kg(why.sized.need_g),
        reserve_kg: Decimal::kg(why.sized.reserve_g),
        owed_kg: Decimal::kg(why.sized.debt_g),
        trays_more: why.trays_more(),
        trays_left_out: why.sized.trays_left_out,
        parts: why.reasons.iter().map(soak_part).collect(),
    }
}

fn soak_part(reason: &Reason) -> SoakPart {
    let part = |cause, trays, on: Option<Day>| SoakPart {
        cause,
        trays,
        on: on.map(date_of),
        head_from: None,
        head_to: None,
    };
    match *reason {
        Reason::Lost { trays, on } => part(SoakCause::TraysLost, Some(trays), Some(on)),
        Reason::Mould { trays } => part(SoakCause::TraysMouldy, Some(trays), None),
        Reason::TakenEarly { trays, on } => part(SoakCause::TraysTakenEarly, Some(trays), Some(on)),
        Reason::Missed { on } => part(SoakCause::SoakMissed, None, Some(on)),
        Reason::MoreAnimals { from, to } => SoakPart {
            head_from: Some(from),
            head_to: Some(to),
            ..part(SoakCause::MoreAnimals, None, None)
        },
        Reason::TooLittle => part(SoakCause::TooLittle, None, None),
    }
}

/// The name of a crop by its position.
#[must_use]
pub fn crop_name(crop: usize) -> Option<String> {
    CROPS.get(crop).map(|name| (*name).to_owned())
}

/// A feeding day as it is answered; none where the group gets what it needs.
#[must_use]
pub fn feed_note(feed: &Feed, scene: &Scene) -> Option<FeedNote> {
    let group = scene.farm.groups.get(feed.group)?;
    let sentence = words::feed_sentence(feed, &group.code)?;
    let kg = |seed: i64| Decimal::kg(feed.fresh_g(seed));
    Some(FeedNote {
        animal_group_id: group.id,
        animal_group: group.code.clone(),
        need_kg: kg(feed.need_g),
        short_kg: kg(feed.short_g()),
        surplus_kg: kg(feed.surplus_g()),
        reason: feed.short.map(reason),
        sentence,
    })
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
        on_farm_kg: (!scene.stock.is_empty()).then(|| Decimal::kg(usable + held)),
        held_kg: Decimal::kg(held.max(0)),
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
        traybook_domain::planning::guide::GuideName::SeedLeadDays,
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
    told.filter_map(|f| feed_note(f, scene)).collect()
}
