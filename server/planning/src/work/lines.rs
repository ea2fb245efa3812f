//! How each line of a day's work is found.

use super::{
    Asked, Batch, DRAIN_WAITS_MS, FORGOTTEN_DAYS, Heap, Line, LotStock, OVER_AGE_CAUTION,
    OVER_AGE_DISCARD_DAYS, Recorded, Scene, State, Task, WATERING,
};
use crate::farm::{Day, date_of};
use crate::plan::Soak;
use std::collections::BTreeMap;
use traybook_domain::kinds::{CROPS, HOLD_CAUTION, MOULD_CAUTION, SORGHUM_CAUTION};
use traybook_domain::savings::money::mul_div;
use traybook_domain::value::Instant;
use uuid::Uuid;

/// The lines of one day.
pub(super) struct Lines<'a> {
    pub scene: &'a Scene,
    pub date: Day,
    pub asked: &'a Asked<'a>,
    pub today: Day,
}

impl Lines<'_> {
    /// Whether work due on a day belongs to the day asked for: its own, or late and still open.
    fn is_here(&self, due: Day, is_done: bool) -> bool {
        let is_late = self.date == self.today && due < self.today && !is_done;
        due == self.date || (is_late && self.today - due <= FORGOTTEN_DAYS)
    }

    fn is_on(&self, at: Option<Instant>) -> Option<Instant> {
        at.filter(|at| self.asked.day(*at) == self.date)
    }

    pub(super) fn line(&self, task: Task, batch: usize, due: Instant) -> Option<Line> {
        let of = self.scene.batches.get(batch)?;
        let mut line = self.empty(task, of.shed, due);
        line.batch = Some(batch);
        line.group = of.group;
        line.crop = Some(of.crop);
        line.lot = of.lot;
        line.feed_on = Some(self.scene.feed_on(of, self.asked));
        Some(line)
    }

    fn empty(&self, task: Task, shed: usize, due: Instant) -> Line {
        Line {
            key: String::new(),
            task,
            state: State::Open,
            due,
            shed,
            group: None,
            batch: None,
            trays: None,
            grams: None,
            crop: None,
            lot: None,
            feed_on: None,
            harvested_on: None,
            watering: None,
            early: None,
            soak: None,
            why: None,
            cautions: Vec::new(),
        }
    }

    pub(super) fn batch(&self, at: usize, lines: &mut Vec<Line>) {
        let Some(batch) = self.scene.batches.get(at) else { return };
        self.soaked(at, batch, lines);
        self.before_trays(at, batch, lines);
        self.after_trays(at, batch, lines);
    }

    /// A soak that was recorded on the day.
    fn soaked(&self, at: usize, batch: &Batch, lines: &mut Vec<Line>) {
        let Some(done) = self.is_on(Some(batch.soaked_at)) else { return };
        let Some(mut line) = self.line(Task::Soak, at, batch.soaked_at) else { return };
        line.key = format!("soak.{}", batch.id);
        line.grams = Some(batch.seed_g);
        line.state = State::Done(done);
        lines.push(line);
    }

    fn before_trays(&self, at: usize, batch: &Batch, lines: &mut Vec<Line>) {
        if self.scene.is_lost(batch, self.asked) {
            return;
        }
        let common = self.asked.standards.common(self.asked.day(batch.soaked_at));
        let drained = |r: &&Recorded| r.task == Task::Drain && r.batch == Some(batch.id);
        let drained = self.scene.recorded.iter().find(drained).map(|r| r.at);
        let due = Instant(batch.soaked_at.0 + common.soak_ms);
        let is_told = drained.is_some() || batch.spread == 0;
        // Seed that nobody drained for half a day was drained or has drowned: no work any more.
        let waits = self.asked.now.0 - due.0;
        let is_late = self.date == self.today && (0..=DRAIN_WAITS_MS).contains(&waits);
        let is_gone = self.date == self.today && drained.is_none() && waits > DRAIN_WAITS_MS;
        let is_of_day = self.asked.day(due) == self.date && !is_gone;
        if is_told && (is_of_day || is_late && drained.is_none()) {
            lines.extend(self.line(Task::Drain, at, due).map(|line| Line {
                key: format!("drain.{}", batch.id),
                grams: Some(self.scene.seed_left(batch, self.asked)),
                state: drained.map_or(State::Open, State::Done),
                ..line
            }));
        }
        let due = Instant(due.0 + common.incubate_ms);
        let here = match batch.spread_at {
            Some(spread) => self.asked.day(spread) == self.date,
            None => self.is_here(self.asked.day(due), false),
        };
        if here {
            let trays = self.scene.trays_to_spread(at, batch, self.asked);
            lines.extend(self.line(Task::Spread, at, due).map(|line| Line {
                key: format!("spread.{}", batch.id),
                trays: Some(if batch.spread > 0 { batch.spread } else { trays.max(1) }),
                grams: Some(self.scene.seed_left(batch, self.asked)),
                state: batch.spread_at.map_or(State::Open, State::Done),
                ..line
            }));
        }
    }

    fn after_trays(&self, at: usize, batch: &Batch, lines: &mut Vec<Line>) {
        let feed_on = self.scene.feed_on(batch, self.asked);
        let standing = batch.standing();
        let is_bad = batch.mould || self.today - feed_on > OVER_AGE_DISCARD_DAYS;
        let out = batch.harvested() + batch.discarded();
        let mut ask = |task: Task, trays: i64, due: Day, state: State| {
            let due = self.asked.at(due, task.minutes());
            lines.extend(self.line(task, at, due).map(|line| Line {
                key: format!("{}.{}.{out}", task.text(), batch.id),
                trays: Some(trays).filter(|t| *t > 0),
                grams: Some(self.fresh_g(batch, trays)).filter(|g| task == Task::Harvest && *g > 0),
                state,
                ..line
            }));
        };
        if standing > 0 && batch.mould && self.date >= self.today {
            if self.date == self.today {
                ask(Task::Discard, standing, self.today, State::Late);
            }
        } else if standing > 0 && self.is_here(feed_on, false) {
            let task = if is_bad { Task::Discard } else { Task::Harvest };
            ask(task, standing, feed_on, State::Open);
        } else if standing == 0
            && batch.spread == 0
            && !self.scene.is_lost(batch, self.asked)
            && self.date > self.today
            && feed_on == self.date
        {
            ask(Task::Harvest, self.scene.trays(batch, self.asked), feed_on, State::Open);
        }
        self.done(at, batch, lines);
        if self.date <= self.today {
            for heap in batch.heaps(|at| self.asked.day(at)) {
                self.heap(at, batch, heap, lines);
            }
        }
    }

    /// What was harvested, fed and discarded on the day: that day's amounts.
    fn done(&self, at: usize, batch: &Batch, lines: &mut Vec<Line>) {
        let feed_on = self.scene.feed_on(batch, self.asked);
        for task in [Task::Harvest, Task::Discard, Task::Feed] {
            let Some(sum) = batch.done_on(task, |at| self.is_on(Some(at)).is_some()) else {
                continue;
            };
            let due = if task == Task::Feed { self.date } else { feed_on };
            let due = self.asked.at(due, task.minutes());
            lines.extend(self.line(task, at, due).map(|line| Line {
                key: format!("{}.{}.0", task.text(), batch.id),
                trays: Some(sum.trays).filter(|t| *t > 0),
                grams: Some(sum.grams).filter(|g| *g > 0),
                state: State::Done(sum.at),
                ..line
            }));
        }
    }

    /// What was harvested and is neither fed nor thrown away: to be fed on its day; from the next
    /// day on late, to be fed after a look at it or thrown away; with mould only thrown away.
    fn heap(&self, at: usize, batch: &Batch, heap: Heap, lines: &mut Vec<Line>) {
        if !self.is_here(heap.day, false) {
            return;
        }
        let is_kept = heap.day < self.today && self.date == self.today;
        let all = [(Task::Feed, !batch.mould), (Task::Discard, batch.mould || is_kept)];
        for (task, _) in all.into_iter().filter(|(_, is_asked)| *is_asked) {
            let due = self.asked.at(heap.day, task.minutes());
            let day = date_of(heap.day);
            lines.extend(self.line(task, at, due).map(|line| Line {
                key: format!("{}.{}.{day}.{}", task.text(), batch.id, heap.taken),
                trays: Some(heap.trays).filter(|t| *t > 0),
                grams: heap.grams.filter(|g| *g > 0),
                harvested_on: Some(heap.day),
                state: if task == Task::Discard { State::Late } else { State::Open },
                ..line
            }));
        }
    }

    /// Fresh fodder expected of so many of a batch's trays at their full age, grams: by the farm's
    /// own yield, where its records tell.
    pub(super) fn fresh_g(&self, batch: &Batch, trays: i64) -> i64 {
        let common = self.asked.standards.common(self.asked.day(batch.soaked_at));
        let own = self.scene.farm.learned.as_ref().map(|l| l.fresh_g_per_kg(Some(batch.crop)));
        let seed = self.scene.seed_left(batch, self.asked);
        let seed = match batch.spread {
            0 => seed,
            spread => mul_div(seed, trays, spread).unwrap_or(0),
        };
        mul_div(seed, own.unwrap_or(common.yield_g_per_kg), 1_000).unwrap_or(0)
    }

    /// A soak that the plan asks for.
    pub(super) fn soak(&self, soak: &Soak) -> Line {
        let meant = soak.moved_from.filter(|_| soak.is_late).unwrap_or(soak.day);
        let due = self.asked.at(meant, Task::Soak.minutes());
        let mut line = self.empty(Task::Soak, soak.shed, due);
        let group = self.scene.farm.groups.get(soak.group).map_or(Uuid::nil(), |g| g.id);
        line.key = format!("soak.{}.{group}.{}", date_of(self.date), date_of(soak.feed_on));
        // What tops a feeding day up is another line than the soak that it tops up.
        let same = |b: &&Batch| {
            b.group == Some(soak.group) && self.scene.feed_on(b, self.asked) == soak.feed_on
        };
        let grown: i64 = self.scene.batches.iter().filter(same).map(|b| b.seed_g).sum();
        if grown > 0 {
            line.key = format!("{}.{grown}", line.key);
        }
        line.group = Some(soak.group);
        line.trays = Some(soak.trays);
        line.grams = Some(soak.seed_g);
        line.crop = soak.crop.or_else(|| self.scene.stock.first().map(|s| s.crop));
        line.feed_on = Some(soak.feed_on);
        let is_held = self.asked.is_held;
        let of_crop = |s: &&LotStock| Some(s.crop) == line.crop && s.grams > 0 && !is_held(s.lot);
        line.lot = self.scene.stock.iter().find(of_crop).map(|s| s.lot);
        if soak.is_late {
            line.state = State::Late;
        } else if let Some(from) = soak.moved_from {
            line.why = Some(format!("moved from the rest day {}", date_of(from)));
        }
        line
    }

    /// What a soak that is only planned asks for on a later day.
    pub(super) fn later(&self, soak: &Soak) -> Vec<Line> {
        let common = self.asked.standards.common(soak.day);
        let begin = self.asked.at(soak.day, Task::Soak.minutes());
        let drain = Instant(begin.0 + common.soak_ms);
        let spread = Instant(drain.0 + common.incubate_ms);
        let harvest = self.asked.at(soak.feed_on, Task::Harvest.minutes());
        let fresh = mul_div(soak.seed_g, common.yield_g_per_kg, 1_000);
        let all = [
            (Task::Drain, drain, None, Some(soak.seed_g)),
            (Task::Spread, spread, Some(soak.trays), Some(soak.seed_g)),
            (Task::Harvest, harvest, Some(soak.trays), fresh),
        ];
        let of_day = all.into_iter().filter(|(_, due, ..)| self.asked.day(*due) == self.date);
        let line = |(task, due, trays, grams)| {
            let soak_line = self.soak(soak);
            let group = self.scene.farm.groups.get(soak.group).map_or(Uuid::nil(), |g| g.id);
            let (day, feed_on) = (date_of(soak.day), date_of(soak.feed_on));
            let key = format!("{}.soak.{day}.{group}.{feed_on}", Task::text(task));
            Line { key, task, due, trays, grams, why: None, state: State::Open, ..soak_line }
        };
        of_day.map(line).collect()
    }

    pub(super) fn water(&self, soaks: &[Soak], lines: &mut Vec<Line>) {
        let mut trays: BTreeMap<usize, i64> = BTreeMap::new();
        for batch in &self.scene.batches {
            let feed_on = self.scene.feed_on(batch, self.asked);
            let soaked = self.asked.day(batch.soaked_at);
            let spread_on = match batch.spread_at {
                Some(at) => self.asked.day(at),
                None => soaked + self.asked.standards.common(soaked).incubate_days,
            };
            let standing = match batch.spread_at {
                // On a past day what is gone since may have stood.
                Some(_) if self.date < self.today => {
                    batch.stood(self.date, |at| self.asked.day(at))
                }
                Some(_) => batch.standing(),
                None if self.date > self.today => self.scene.trays(batch, self.asked),
                None => 0,
            };
            if (spread_on..feed_on).contains(&self.date) && !batch.mould {
                *trays.entry(batch.shed).or_insert(0) += standing;
            }
        }
        for soak in soaks.iter().filter(|s| (s.spread_on..s.feed_on).contains(&self.date)) {
            *trays.entry(soak.shed).or_insert(0) += soak.trays;
        }
        let times = self.asked.standards.common(self.date).waterings;
        for (shed, trays) in trays.into_iter().filter(|(_, trays)| *trays > 0) {
            for number in 1..=times {
                self.watering(shed, trays, (number, times), lines);
            }
        }
    }

    fn watering(&self, shed: usize, trays: i64, watering: (i64, i64), lines: &mut Vec<Line>) {
        let (first, last) = WATERING;
        let steps = u32::try_from(watering.1 - 1).unwrap_or(0).max(1);
        let step = u32::try_from(watering.0 - 1).unwrap_or(0);
        let due = self.asked.at(self.date, first + (last - first) * step / steps);
        let mut line = self.empty(Task::Water, shed, due);
        let id = self.scene.farm.sheds.get(shed).map_or(Uuid::nil(), |s| s.id);
        line.key = format!("water.{}.{id}.{}", date_of(self.date), watering.0);
        line.trays = Some(trays);
        line.watering = Some(watering);
        let of_day = |r: &&Recorded| {
            r.task == Task::Water && r.shed == Some(shed) && self.is_on(Some(r.at)).is_some()
        };
        let same = |r: &&Recorded| r.watering == Some(watering.0);
        let found = self.scene.recorded.iter().filter(of_day).find(same);
        line.state = found.map_or(State::Open, |r| State::Done(r.at));
        // A watering that was missed is not made up once the next one is due.
        let next = Instant(due.0 + i64::from((last - first) / steps) * 60_000);
        let is_gone = self.date == self.today && watering.0 < watering.1;
        if line.state != State::Open || !is_gone || self.asked.now.0 < next.0 {
            lines.push(line);
        }
    }

    /// Trays that were or will be emptied on the day are cleaned on it.
    pub(super) fn clean(&self, lines: &mut Vec<Line>) {
        let mut trays: BTreeMap<usize, i64> = BTreeMap::new();
        let empties = |l: &&Line| match l.task {
            Task::Harvest => true,
            // What was harvested before has left its trays already.
            Task::Discard => l.harvested_on.is_none(),
            _ => false,
        };
        for line in lines.iter().filter(empties) {
            *trays.entry(line.shed).or_insert(0) += line.trays.unwrap_or(0);
        }
        for (shed, trays) in trays.into_iter().filter(|(_, trays)| *trays > 0) {
            let mut line =
                self.empty(Task::Clean, shed, self.asked.at(self.date, Task::Clean.minutes()));
            let id = self.scene.farm.sheds.get(shed).map_or(Uuid::nil(), |s| s.id);
            line.key = format!("clean.{}.{id}", date_of(self.date));
            line.trays = Some(trays);
            let done = |r: &&Recorded| {
                r.task == Task::Clean && r.shed == Some(shed) && self.is_on(Some(r.at)).is_some()
            };
            let found = self.scene.recorded.iter().find(done);
            line.state = found.map_or(State::Open, |r| State::Done(r.at));
            lines.push(line);
        }
    }

    /// Lateness with its reason, and cautions.
    pub(super) fn settle(&self, line: &mut Line) {
        let due = self.asked.day(line.due);
        if line.state == State::Open && self.date <= self.today {
            let past_hours =
                line.task.grace_ms().is_some_and(|g| self.asked.now.0 > line.due.0 + g);
            if due < self.today || past_hours {
                line.state = State::Late;
            }
        }
        let batch = line.batch.and_then(|b| self.scene.batches.get(b));
        if line.state == State::Late {
            line.why = Some(self.reason(line, due, batch));
        }
        if batch.is_some_and(|b| b.mould) {
            line.cautions.push(MOULD_CAUTION);
        }
        let is_done = matches!(line.state, State::Done(_));
        let is_past = |on: Option<Day>| on.is_some_and(|on| on < self.today);
        let is_over = !is_done && (is_past(line.feed_on) || is_past(line.harvested_on));
        if is_over && matches!(line.task, Task::Harvest | Task::Feed | Task::Discard) {
            line.cautions.push(OVER_AGE_CAUTION);
        }
        if line.lot.is_some_and(|lot| (self.asked.is_held)(lot)) || self.lacks_for_hold(line) {
            line.cautions.push(HOLD_CAUTION);
        }
        if line.crop.and_then(|c| CROPS.get(c)) == Some(&"sorghum") {
            line.cautions.push(SORGHUM_CAUTION);
        }
    }

    /// Whether a soak has no lot to take because what is on the farm is held.
    fn lacks_for_hold(&self, line: &Line) -> bool {
        let held = |s: &LotStock| {
            s.grams > 0
                && line.crop.is_none_or(|crop| crop == s.crop)
                && (self.asked.is_held)(s.lot)
        };
        line.task == Task::Soak
            && !matches!(line.state, State::Done(_))
            && line.lot.is_none()
            && self.scene.stock.iter().any(held)
    }

    fn reason(&self, line: &Line, due: Day, batch: Option<&Batch>) -> String {
        let days = self.today - due;
        let ago = if days == 1 { "1 day".to_owned() } else { format!("{days} days") };
        match line.task {
            Task::Discard if batch.is_some_and(|b| b.mould) => "mould was seen".to_owned(),
            Task::Feed | Task::Discard if line.harvested_on.is_some() => {
                format!("was harvested {ago} ago, and neither fed nor thrown away by the records")
            }
            Task::Discard | Task::Harvest => format!("{ago} past its harvest age"),
            Task::Soak => {
                format!(
                    "was to be soaked {ago} ago; it is fed younger and lighter, on the same day"
                )
            }
            _ if days == 0 => "its time today has passed".to_owned(),
            _ => format!("was due {ago} ago"),
        }
    }
}
