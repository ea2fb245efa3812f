//! Animal groups and how their head changes.

use crate::calendar::{Calendar, at, later};
use crate::prices::FeedKind;
use crate::random::Rng;
use crate::story::{Class, Side, Story};
use crate::writes::Out;
use chrono::NaiveDate;
use traybook_domain::kinds::{AnimalGroup, BaselineRation, HeadCount};
use uuid::Uuid;

/// Days from one calving to the next, and days in milk of them.
const CALVING_INTERVAL: i64 = 400;
const DAYS_IN_MILK: i64 = 310;
/// Age at which a flock of layers is replaced, and age of the new hens, weeks.
const FLOCK_WEEKS: i64 = 82;
const PULLET_WEEKS: i64 = 18;

/// One cow, for as long as she is in the group.
#[derive(Clone, Copy, Debug)]
struct Cow {
    from: NaiveDate,
    until: NaiveDate,
    phase: i64,
}

/// A group of animals.
#[derive(Clone, Debug)]
pub(crate) struct Group {
    pub(crate) id: Uuid,
    /// Ration before fodder, g per animal-day.
    pub(crate) ration: Vec<(FeedKind, i64)>,
    kind: GroupKind,
    first_head: i64,
    head: i64,
    /// Changes of this month: first day on which they count.
    moves: Vec<(NaiveDate, i64)>,
    cows: Vec<Cow>,
    hatched: NaiveDate,
}

/// What kind of animals.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum GroupKind {
    Main(Class),
    Beside(Side),
}

impl Group {
    /// The head that counts on a day of this month.
    pub(crate) fn head_on(&self, day: NaiveDate) -> i64 {
        let moved = self.moves.iter().filter(|(from, _)| *from <= day);
        self.head + moved.map(|(_, by)| by).sum::<i64>()
    }

    /// Animal-days of a whole month, as far as it is known.
    pub(crate) fn animal_days(&self, calendar: &Calendar, number: usize) -> i64 {
        let month = calendar.month(number);
        let days = month.first_day().iter_days().take_while(|d| *d <= month.last_day());
        days.map(|d| self.head_on(d)).sum()
    }

    /// Days in milk of the cows that are milked on a day.
    pub(crate) fn in_milk(&self, day: NaiveDate) -> Vec<i64> {
        let here = self.cows.iter().filter(|c| c.from <= day && day < c.until);
        let stage =
            |c: &Cow| ((day - NaiveDate::default()).num_days() + c.phase) % CALVING_INTERVAL;
        here.map(stage).filter(|d| (5..DAYS_IN_MILK).contains(d)).collect()
    }

    /// Age of the flock on a day, weeks.
    pub(crate) fn age_weeks(&self, day: NaiveDate) -> i64 {
        (day - self.hatched).num_days() / 7
    }

    /// The month's changes; those of days to come are left out.
    pub(crate) fn month(
        &mut self,
        calendar: &Calendar,
        number: usize,
        rng: &mut Rng,
        out: &mut Out,
    ) {
        let first = calendar.day(number, 1);
        self.head += self.moves.iter().map(|(_, by)| by).sum::<i64>();
        self.moves.clear();
        if number % 6 == 5 {
            self.record(first, "counted", self.head, out);
        }
        for (day, reason, head) in self.draw(calendar, number, rng) {
            let known = self.head_on(later(day, 1));
            let leaves = matches!(reason, "sold" | "slaughtered" | "died");
            if day > calendar.today || head <= 0 || (leaves && head > known) {
                continue;
            }
            let (from, by) = if leaves { (day, -head) } else { (later(day, 1), head) };
            self.moves.push((from, by));
            self.follow_cows(from, by, rng);
            self.record(day, reason, head, out);
        }
    }

    fn record(&self, date: NaiveDate, reason: &str, head: i64, out: &mut Out) {
        let record = HeadCount {
            animal_group_id: self.id,
            farm_id: Uuid::nil(),
            date,
            reason: reason.to_owned(),
            head,
            note: None,
        };
        out.add(at(date, 11 * 60), record);
    }

    fn follow_cows(&mut self, from: NaiveDate, by: i64, rng: &mut Rng) {
        if self.kind != GroupKind::Main(Class::Cows) {
            return;
        }
        if by > 0 {
            for _ in 0..by {
                // Comes soon after calving.
                let stage = rng.int(5, 60);
                let today = (from - NaiveDate::default()).num_days() % CALVING_INTERVAL;
                let phase = (stage + CALVING_INTERVAL - today) % CALVING_INTERVAL;
                self.cows.push(Cow { from, until: NaiveDate::MAX, phase });
            }
        } else if let Some(cow) = self.cows.iter_mut().find(|c| c.until == NaiveDate::MAX) {
            cow.until = from;
        }
    }

    /// What would happen in a month: day, reason, head; in order of days.
    fn draw(
        &mut self,
        calendar: &Calendar,
        number: usize,
        rng: &mut Rng,
    ) -> Vec<(NaiveDate, &'static str, i64)> {
        let day = |rng: &mut Rng| calendar.day(number, rng.int(2, 27));
        let mut events = match self.kind {
            GroupKind::Main(Class::Layers) => self.draw_layers(calendar, number, rng),
            GroupKind::Main(Class::Cows) => {
                let reason = match (rng.int(0, 5), self.head) {
                    (0, 2..) => "died",
                    (1 | 2, 3..) => "sold",
                    (3 | 4, ..7) => "moved_in",
                    (_, ..7) => "bought",
                    _ => "sold",
                };
                let day = day(rng);
                if rng.chance(0.05) { vec![(day, reason, 1)] } else { Vec::new() }
            }
            GroupKind::Main(Class::Indigenous) => {
                self.draw_some(&[("born", 5, 14), ("died", 1, 4), ("sold", 4, 12)], day, rng)
            }
            GroupKind::Beside(Side::Goats) => {
                self.draw_some(&[("born", 1, 2), ("slaughtered", 1, 1), ("sold", 1, 2)], day, rng)
            }
            GroupKind::Beside(Side::Pigs) => {
                self.draw_some(&[("bought", 1, 2), ("died", 1, 1), ("sold", 1, 2)], day, rng)
            }
        };
        events.sort_by_key(|e| e.0);
        events
    }

    /// Comings while there are fewer than at first, goings while there are more.
    fn draw_some(
        &self,
        reasons: &[(&'static str, i64, i64)],
        day: impl Fn(&mut Rng) -> NaiveDate,
        rng: &mut Rng,
    ) -> Vec<(NaiveDate, &'static str, i64)> {
        let mut events = Vec::new();
        for (reason, low, high) in reasons {
            let comes = matches!(*reason, "born" | "bought");
            let wanted = if comes {
                self.head <= self.first_head
            } else {
                self.head * 4 > self.first_head * 3
            };
            if rng.chance(if wanted { 0.22 } else { 0.03 }) {
                events.push((day(rng), *reason, rng.int(*low, *high)));
            }
        }
        events
    }

    fn draw_layers(
        &mut self,
        calendar: &Calendar,
        number: usize,
        rng: &mut Rng,
    ) -> Vec<(NaiveDate, &'static str, i64)> {
        let died = rng.successes(self.head, 0.006);
        let mut events = vec![(calendar.day(number, rng.int(3, 9)), "died", died)];
        let change = calendar.day(number, rng.int(14, 24));
        if self.age_weeks(change) >= FLOCK_WEEKS && change < calendar.today {
            let new = self.first_head + rng.int(-2, 2) * 5;
            self.hatched = change - chrono::Days::new(PULLET_WEEKS.unsigned_abs() * 7);
            events.push((change, "sold", self.head - died));
            events.push((later(change, 1), "bought", new));
        }
        events
    }
}

/// Makes the groups of a farm with their first head count and ration; the main group first.
pub(crate) fn enrol(
    story: &Story,
    farm: Uuid,
    day: NaiveDate,
    feed: impl Fn(FeedKind) -> Uuid,
    rng: &mut Rng,
    out: &mut Out,
) -> Vec<Group> {
    let main = (GroupKind::Main(story.class), story.head, story.ration.clone());
    let side = story.side.map(|(side, head)| (GroupKind::Beside(side), head, side_ration(side)));
    let mut groups = Vec::new();
    for (kind, head, ration) in [Some(main), side].into_iter().flatten() {
        let (class, short) = match kind {
            GroupKind::Main(Class::Cows) => ("dairy_cows", "COWS"),
            GroupKind::Main(Class::Layers) => ("layers", "LAYERS"),
            GroupKind::Main(Class::Indigenous) => ("indigenous_chickens", "HENS"),
            GroupKind::Beside(Side::Goats) => ("goats", "GOATS"),
            GroupKind::Beside(Side::Pigs) => ("pigs", "PIGS"),
        };
        let record = AnimalGroup {
            code: format!("{}-{short}", story.code),
            farm_id: farm,
            animal_class: class.to_owned(),
            note: None,
        };
        let id = out.add(at(day, 8 * 60), record);
        let is_cows = kind == GroupKind::Main(Class::Cows);
        let cow = |rng: &mut Rng| Cow {
            from: day,
            until: NaiveDate::MAX,
            phase: rng.int(0, CALVING_INTERVAL - 1),
        };
        let cows = if is_cows { (0..head).map(|_| cow(rng)).collect() } else { Vec::new() };
        let weeks = rng.int(22, 60).unsigned_abs();
        let hatched = day - chrono::Days::new(weeks * 7);
        let moves = Vec::new();
        let group = Group { id, ration, kind, first_head: head, head, moves, cows, hatched };
        group.record(day, "counted", head, out);
        rations(&group, day, &feed, out);
        groups.push(group);
    }
    groups
}

fn side_ration(side: Side) -> Vec<(FeedKind, i64)> {
    match side {
        Side::Goats => vec![(FeedKind::Napier, 2_000), (FeedKind::MaizeBran, 150)],
        Side::Pigs => vec![(FeedKind::MaizeBran, 1_200), (FeedKind::SunflowerCake, 300)],
    }
}

fn rations(group: &Group, day: NaiveDate, feed: &impl Fn(FeedKind) -> Uuid, out: &mut Out) {
    for (kind, grams) in &group.ration {
        let record = BaselineRation {
            animal_group_id: group.id,
            farm_id: Uuid::nil(),
            feed_id: feed(*kind),
            kg_per_animal_day: *grams,
            recorded_on: day,
        };
        out.add(at(day, 11 * 60 + 10), record);
    }
}
