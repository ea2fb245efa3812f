//! Seed on the farm, batches and what happens to them.

use crate::calendar::{at, later};
use crate::farm::Farm;
use crate::generate::World;
use crate::prices::{HOT, damp, heat, weather};
use crate::random::{Rng, float, round_to};
use crate::sizes::{Rhythm, Size};
use crate::store::{Issued, SeedStore};
use crate::visits::BAD_SHED_WARM;
use crate::writes::Out;
use chrono::NaiveDate;
use std::collections::VecDeque;
use traybook_domain::Month;
use traybook_domain::kinds::{Batch, BatchEvent, SeedAdjustment};
use traybook_domain::value::Instant;
use uuid::Uuid;

/// Chance that a tray of the bad lot spoils, beside the farm's own.
const BAD_LOT: f64 = 0.3;
/// How many times as many trays spoil when the seed was soaked on a hot day.
const HOT_SOAK: f64 = 2.5;
/// Most fresh fodder from one kg of seed: more would be dry matter from nothing.
const YIELD_MAX: f64 = 5.8;
/// Batches kept back as a reserve when a farm begins.
const RESERVE: i64 = 3;

/// Seed on the farm, and events that are to come.
#[derive(Default)]
pub(crate) struct Growing {
    held: VecDeque<Issued>,
    /// Dry seed and trays of a batch until the next seed is handed out.
    batch: (i64, i64),
    /// The same, as planned for the seed that is handed out this month.
    next: (i64, i64),
    /// Seed needed this month, grams.
    pub(crate) need: i64,
    queue: Vec<(Instant, BatchEvent)>,
    /// Whether the farm leaves its last batch standing past its day.
    pub(crate) is_late: bool,
}

/// A batch to be.
struct Sown<'a> {
    id: Uuid,
    day: NaiveDate,
    soaked: Instant,
    seed_g: i64,
    trays: i64,
    bad: bool,
    world: &'a World,
}

impl Farm {
    fn rhythm(world: &World, day: NaiveDate) -> Rhythm {
        world.plan.size.soak_rhythm(world.calendar.months_ago(Month::of(day)))
    }

    fn soaks(&self, world: &World, day: NaiveDate) -> bool {
        let Some((_, start)) = self.story.start else { return false };
        day == start || (day > start && Self::rhythm(world, day).holds(day, self.story.offset))
    }

    /// Plans the batches from the 9th of a month to the 8th of the next, and the seed for them.
    pub(crate) fn plan_seed(&mut self, world: &World, number: usize) {
        self.growing.need = 0;
        if !self.story.grows_in(number) || number < self.story.enrolled {
            return;
        }
        let calendar = &world.calendar;
        let (from, until) = (calendar.day(number, 9), calendar.day(number + 1, 8));
        let batch = self.story.batch(self.main_head(calendar.day(number, 1)));
        let days = from.iter_days().take_while(|d| *d <= until);
        let soaks = days.filter(|d| self.soaks(world, *d)).count();
        let begins = self.story.start.is_some_and(|(start, _)| start == number);
        let reserve = if begins { RESERVE } else { 0 };
        self.growing.next = batch;
        self.growing.need = batch.0 * (i64::try_from(soaks).unwrap_or(0) + reserve);
    }

    /// Takes the month's seed from the store.
    pub(crate) fn receive_seed(
        &mut self,
        world: &World,
        number: usize,
        store: &mut SeedStore,
        out: &mut Out,
    ) {
        if self.growing.need == 0 {
            return;
        }
        let day = world.calendar.day(number, 4 + i64::from(self.story.offset % 5));
        if day > world.calendar.today {
            return;
        }
        let (need, story) = (self.growing.need, &self.story);
        let issued = store.issue(story, self.id, number, day, need, out);
        self.growing.held.extend(issued);
        self.growing.batch = self.growing.next;
    }

    /// The month's batches and their events.
    pub(crate) fn grow(&mut self, world: &World, number: usize, out: &mut Out) {
        let Some(shed) = self.shed else { return };
        for day in world.calendar.days(number) {
            if !self.soaks(world, day) {
                continue;
            }
            let recent = later(day, 20) >= world.calendar.today;
            let starts = self.story.start.is_some_and(|(_, start)| start == day);
            let skips = self.streams.batches.chance(0.02);
            if starts || recent || !skips {
                self.soak(world, shed, day, out);
            }
        }
        let now = world.calendar.now();
        let end = at(later(world.calendar.month(number).last_day(), 1), 0);
        let limit = Instant(end.0.min(now.0 + 1));
        let queue = std::mem::take(&mut self.growing.queue);
        let (mut due, rest): (Vec<_>, Vec<_>) = queue.into_iter().partition(|(t, _)| *t < limit);
        due.sort_by_key(|(t, event)| (*t, event.batch_id));
        self.growing.queue = rest;
        for (instant, event) in due {
            out.add(instant, BatchEvent { at: instant, ..event });
        }
    }

    fn soak(&mut self, world: &World, shed: Uuid, day: NaiveDate, out: &mut Out) {
        // Some members work elsewhere until the afternoon.
        let begin = if self.story.number % 4 == 1 { 16 * 60 } else { 8 * 60 + 5 };
        let soaked = at(day, begin + i64::from(self.story.offset % 110));
        if soaked > world.calendar.now() {
            return;
        }
        let (seed_g, trays) = self.growing.batch;
        let Some((lot, bad)) = self.take_seed(day, seed_g, out) else { return };
        let group = self.groups.first().map(|g| g.id);
        let batch = Batch {
            code: Some(format!("{}-{}", self.story.code, day.format("%y%m%d"))),
            shed_id: shed,
            farm_id: Uuid::nil(),
            animal_group_id: group,
            seed_lot_id: Some(lot),
            crop: self.story.crop.to_owned(),
            harvest_age_days: None,
            note: None,
        };
        let id = out.add(soaked, batch);
        let sown = Sown { id, day, soaked, seed_g, trays, bad, world };
        self.fate(&sown, group);
    }

    /// Seed for one batch from one lot; what is left of a lot that is too small is swept up.
    fn take_seed(&mut self, day: NaiveDate, grams: i64, out: &mut Out) -> Option<(Uuid, bool)> {
        while let Some(front) = self.growing.held.front_mut() {
            if front.grams >= grams && grams > 0 {
                front.grams -= grams;
                return Some((front.lot, front.bad));
            }
            if self.growing.held.len() < 2 {
                return None;
            }
            let rest = self.growing.held.pop_front()?;
            if rest.grams > 0 {
                let swept = SeedAdjustment {
                    seed_lot_id: rest.lot,
                    farm_id: Some(self.id),
                    date: day,
                    change_kg: -rest.grams,
                    reason: "other".to_owned(),
                    note: Some("The last of the lot, too little for a batch: fed dry".to_owned()),
                };
                out.add(at(day, 7 * 60), swept);
            }
        }
        None
    }

    /// Draws what becomes of a batch and puts it in the queue.
    fn fate(&mut self, sown: &Sown<'_>, group: Option<Uuid>) {
        let age = self.story.class.harvest_age();
        let ripe = later(sown.day, age);
        let rng = &mut self.streams.batches;
        let mut queue = Vec::new();
        let blank = |event: &str| blank(sown.id, event);
        queue.push((sown.soaked, BatchEvent { kg: Some(sown.seed_g), ..blank("soaked") }));
        let spread = Instant(sown.soaked.0 + (52 * 60 + rng.int(0, 50)) * 60_000);
        queue.push((spread, BatchEvent { trays: Some(sown.trays), ..blank("spread") }));
        let watered = match sown.world.plan.size {
            Size::Small => 0.25,
            Size::Medium => 0.08,
            Size::Large | Size::Huge => 0.0,
        };
        if rng.chance(watered) {
            let noon = at(later(sown.day, 3), 12 * 60 + 30);
            queue.push((noon, BatchEvent { trays: Some(sown.trays), ..blank("watered") }));
        }
        let (lost, cause, seen) = losses(sown, self.story.spoilage, self.story.bad_shed, age, rng);
        let left = stands(sown.world, ripe, self.story.number, self.growing.is_late);
        if lost > 0 && !(left && seen >= ripe) {
            let event = BatchEvent {
                trays: Some(lost),
                cause: Some(cause.to_owned()),
                mould_seen: Some(cause == "mould"),
                mould_trays: None,
                ..blank("discarded")
            };
            queue.push((at(seen, 6 * 60 + rng.int(0, 20)), event));
        }
        let good = sown.trays - lost;
        let weight = good * sown.seed_g * 1000 / sown.trays.max(1);
        let quality = if sown.bad { 0.75 } else { 1.0 };
        let fresh = self.story.fresh_yield * (1.0 + 0.06 * rng.normal()) * quality;
        let harvest_g = round_to(float(weight) / 1000.0 * fresh.clamp(2.5, YIELD_MAX), 100);
        let minute = 6 * 60 + rng.int(20, 60);
        let fed = fed_out(harvest_g, cause == "mould" && lost > 0, rng);
        if good > 0 && !left {
            let (harvested, kg) = (Some(good), Some(harvest_g));
            let note = fed.is_none().then(|| "Kept from the animals: mould was seen".to_owned());
            let event = BatchEvent { trays: harvested, kg, note, ..blank("harvested") };
            queue.push((at(ripe, minute), event));
            if let Some((kg, reason)) = fed {
                let fed = BatchEvent {
                    kg: Some(kg),
                    animal_group_id: group,
                    reason: reason.map(str::to_owned),
                    ..blank("fed_out")
                };
                queue.push((at(ripe, minute + rng.int(15, 45)), fed));
            }
        }
        self.growing.queue.extend(queue);
    }
}

/// Whether a ripe batch still stands on the shelf today: half of those that are ready today, and
/// the last one of the farm that is late.
fn stands(world: &World, ripe: NaiveDate, number: usize, is_late: bool) -> bool {
    let today = world.calendar.today;
    let step = match world.plan.size.soak_rhythm(0) {
        Rhythm::EveryDays(days) => i64::from(days),
        Rhythm::Weekly | Rhythm::TwiceAWeek => 7,
    };
    (ripe == today && number.is_multiple_of(2))
        || (is_late && ripe < today && later(ripe, step) >= today)
}

/// Trays lost, why, and the day on which it is seen.
fn losses<'a>(
    sown: &Sown<'_>,
    spoilage: f64,
    bad_shed: bool,
    age: i64,
    rng: &mut Rng,
) -> (i64, &'a str, NaiveDate) {
    // Trays of one batch share their luck: the mean factor is 1.
    let luck = if rng.chance(0.2) { 3.0 } else { 0.5 };
    let warm = weather(Month::of(sown.day)).0 + if bad_shed { BAD_SHED_WARM } else { 0.0 };
    let is_hot = warm + heat(sown.world.plan.seed, sown.day) > HOT;
    let own = spoilage * luck * damp(Month::of(sown.day)) * if is_hot { HOT_SOAK } else { 1.0 };
    let chance = own + if sown.bad { BAD_LOT } else { 0.0 };
    let lost = rng.successes(sown.trays, chance.min(0.9));
    let all = [
        "mould",
        "mould",
        "rot_at_drain_end",
        "rot_at_drain_end",
        "poor_germination",
        "dried_out",
        "pests",
        "left_too_long",
        "other",
    ];
    let cause = if sown.bad {
        rng.pick(&["poor_germination", "mould", "poor_germination"])
    } else if bad_shed {
        rng.pick(&["rot_at_drain_end", "mould", "rot_at_drain_end", "other"])
    } else {
        rng.pick(&all)
    };
    (lost, cause, later(sown.day, rng.int(3, age)))
}

/// Fodder fed, and the reason where mould was seen in the batch; none where it was kept back.
fn fed_out(harvest_g: i64, mould: bool, rng: &mut Rng) -> Option<(i64, Option<&'static str>)> {
    let kg = round_to(float(harvest_g) * rng.between(0.97, 1.0), 100).min(harvest_g);
    let keep = rng.chance(0.35);
    match (kg > 0, mould, keep) {
        (true, false, _) => Some((kg, None)),
        (true, true, false) => {
            let reason = "Mouldy trays were buried; the officer looked at each of the others";
            Some((kg, Some(reason)))
        }
        _ => None,
    }
}

fn blank(batch_id: Uuid, event: &str) -> BatchEvent {
    BatchEvent {
        batch_id,
        farm_id: Uuid::nil(),
        event: event.to_owned(),
        at: Instant(0),
        trays: None,
        kg: None,
        cause: None,
        mould_seen: None,
        mould_trays: None,
        germinated_percent: None,
        animal_group_id: None,
        reason: None,
        note: None,
    }
}
