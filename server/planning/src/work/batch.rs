//! A batch with its events, and what of its harvests is neither fed nor thrown away.

use super::Task;
use crate::farm::Day;
use traybook_domain::savings::money::mul_div;
use traybook_domain::value::Instant;
use uuid::Uuid;

/// Share of a day's harvest, per cent, that may be missing from what was fed: scales differ.
const SCALE_PERCENT: i64 = 10;

/// A harvest, a feeding or a discard.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Out {
    /// `Harvest`, `Feed` or `Discard`.
    pub task: Task,
    pub at: Instant,
    /// Trays. A discard that tells none is one of fodder that was harvested before.
    pub trays: Option<i64>,
    /// Fresh fodder, grams; none where it was not weighed.
    pub grams: Option<i64>,
}

/// A batch as its events have it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Batch {
    pub id: Uuid,
    /// Short name.
    pub code: Option<String>,
    /// Group, by position; none where it names none.
    pub group: Option<usize>,
    /// Shed, by position.
    pub shed: usize,
    pub lot: Option<Uuid>,
    /// Crop, by position.
    pub crop: usize,
    /// Age at harvest set for it.
    pub age: Option<i32>,
    /// First soak.
    pub soaked_at: Instant,
    /// Dry seed, grams.
    pub seed_g: i64,
    /// Trays that it was soaked for, where the soak says so.
    pub planned: Option<i64>,
    /// First spreading.
    pub spread_at: Option<Instant>,
    /// Trays spread.
    pub spread: i64,
    /// Harvests, feedings and discards.
    pub outs: Vec<Out>,
    /// Whether mould was seen.
    pub mould: bool,
}

/// What is left of one day's harvest.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Heap {
    /// Day of the harvest.
    pub day: Day,
    /// Trays; none where only kg were recorded.
    pub trays: i64,
    /// Grams; none where it was not weighed.
    pub grams: Option<i64>,
    /// How often something was taken from it.
    pub taken: usize,
}

/// What was done of one kind on one day.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct DaySum {
    /// The last of it.
    pub at: Instant,
    /// Trays and grams that were recorded.
    pub trays: i64,
    pub grams: i64,
}

impl Batch {
    fn of(&self, task: Task) -> impl Iterator<Item = &Out> {
        self.outs.iter().filter(move |o| o.task == task)
    }

    fn trays_of(&self, task: Task, counts: impl Fn(&Out) -> bool) -> i64 {
        self.of(task).filter(|o| counts(o)).filter_map(|o| o.trays).sum()
    }

    fn is_before_spreading(&self, at: Instant) -> bool {
        self.spread == 0 || self.spread_at.is_some_and(|spread| at.0 < spread.0)
    }

    /// Trays harvested.
    #[must_use]
    pub fn harvested(&self) -> i64 {
        self.trays_of(Task::Harvest, |_| true)
    }

    /// Trays' worth of seed discarded before it was spread.
    #[must_use]
    pub fn lost(&self) -> i64 {
        self.trays_of(Task::Discard, |o| self.is_before_spreading(o.at))
    }

    /// Trays discarded after they were spread.
    #[must_use]
    pub fn discarded(&self) -> i64 {
        self.trays_of(Task::Discard, |o| !self.is_before_spreading(o.at))
    }

    /// Trays that stand.
    #[must_use]
    pub fn standing(&self) -> i64 {
        (self.spread - self.harvested() - self.discarded()).max(0)
    }

    /// Trays that stood at the end of a day of the past; `day` tells days.
    #[must_use]
    pub fn stood(&self, date: Day, day: impl Fn(Instant) -> Day) -> i64 {
        let gone = |o: &Out| !self.is_before_spreading(o.at) && day(o.at) <= date;
        let out = self.trays_of(Task::Harvest, gone) + self.trays_of(Task::Discard, gone);
        (self.spread - out).max(0)
    }

    /// What was done of one kind on one day; none where nothing was.
    #[must_use]
    pub fn done_on(&self, task: Task, is_on: impl Fn(Instant) -> bool) -> Option<DaySum> {
        let of_day = || self.of(task).filter(|o| is_on(o.at));
        Some(DaySum {
            at: of_day().map(|o| o.at).max()?,
            trays: of_day().filter_map(|o| o.trays).sum(),
            grams: of_day().filter_map(|o| o.grams).sum(),
        })
    }

    /// The harvests of which something is neither fed nor thrown away, by day.
    ///
    /// # Method
    /// What was fed or thrown away is taken from that day's harvest first, then from the oldest.
    /// A harvest that was not weighed is settled by any weighed feeding or discard; a feeding recorded in trays
    /// takes its trays' share. Trays discarded beyond those that stood were harvested ones.
    #[must_use]
    pub fn heaps(&self, day: impl Fn(Instant) -> Day) -> Vec<Heap> {
        let mut heaps = self.harvests(&day);
        if heaps.is_empty() {
            return Vec::new();
        }
        let is_use = |o: &&Out| match o.task {
            Task::Feed => true,
            Task::Discard => o.trays.is_none_or(|trays| trays == 0),
            _ => false,
        };
        let mut uses: Vec<&Out> = self.outs.iter().filter(is_use).collect();
        uses.sort_by_key(|o| o.at.0);
        for used in uses {
            let on = day(used.at);
            let mut left = Amount { trays: used.trays.filter(|t| *t > 0), grams: used.grams };
            let own = heaps.iter().position(|h| h.day == on && h.is_open());
            let older = heaps.iter().enumerate().filter(|(at, h)| h.is_open() && own != Some(*at));
            let order: Vec<usize> = own.into_iter().chain(older.map(|(at, _)| at)).collect();
            for at in order {
                if let Some(heap) = heaps.get_mut(at)
                    && !heap.take(&mut left)
                {
                    break;
                }
            }
        }
        let beyond = self.harvested() + self.discarded() - self.spread;
        let mut left = Amount { trays: Some(beyond).filter(|b| *b > 0), grams: None };
        if left.trays.is_some() && self.discarded() > 0 {
            heaps.iter_mut().filter(|h| h.is_open()).all(|heap| heap.take(&mut left));
        }
        heaps.into_iter().filter(Pile::is_open).map(Pile::heap).collect()
    }

    fn harvests(&self, day: &impl Fn(Instant) -> Day) -> Vec<Pile> {
        let mut piles: Vec<Pile> = Vec::new();
        let mut all: Vec<&Out> = self.of(Task::Harvest).collect();
        all.sort_by_key(|o| o.at.0);
        for out in all {
            let (on, trays) = (day(out.at), out.trays.unwrap_or(0));
            match piles.last_mut().filter(|p| p.day == on) {
                Some(pile) => {
                    pile.trays += trays;
                    pile.whole_g = pile.whole_g.zip(out.grams).map(|(a, b)| a + b);
                    pile.grams = pile.whole_g;
                }
                None => piles.push(Pile {
                    day: on,
                    trays,
                    whole_g: out.grams,
                    grams: out.grams,
                    taken: 0,
                    is_gone: false,
                }),
            }
        }
        piles
    }
}

/// What one feeding or discard takes; none where it does not tell.
struct Amount {
    trays: Option<i64>,
    grams: Option<i64>,
}

/// One day's harvest while it is used up.
struct Pile {
    day: Day,
    trays: i64,
    whole_g: Option<i64>,
    grams: Option<i64>,
    taken: usize,
    is_gone: bool,
}

impl Pile {
    fn is_open(&self) -> bool {
        !self.is_gone
    }

    fn heap(self) -> Heap {
        Heap { day: self.day, trays: self.trays, grams: self.grams, taken: self.taken }
    }

    /// Takes what it can; whether anything of the amount remains for another harvest.
    fn take(&mut self, left: &mut Amount) -> bool {
        self.taken += 1;
        match (left.grams, self.grams, left.trays) {
            (Some(used), Some(there), _) => {
                let part = used.min(there);
                self.trays = mul_div(self.trays, there - part, there.max(1)).unwrap_or(0);
                self.grams = Some(there - part);
                left.grams = Some(used - part);
                let rest = (there - part) * 100;
                self.is_gone = rest <= self.whole_g.unwrap_or(0) * SCALE_PERCENT;
                (used - part) * 100 > used * SCALE_PERCENT
            }
            (None, _, Some(trays)) if self.trays > 0 => {
                let part = trays.min(self.trays);
                let kept = self.trays - part;
                self.grams = self.grams.and_then(|g| mul_div(g, kept, self.trays));
                self.trays = kept;
                left.trays = Some(trays - part);
                self.is_gone = kept == 0;
                trays > part
            }
            _ => {
                self.is_gone = true;
                false
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const HOUR: i64 = 3_600_000;

    fn batch(spread: i64, outs: &[(Task, i64, Option<i64>, Option<i64>)]) -> Batch {
        let out = |&(task, hour, trays, grams): &(Task, i64, Option<i64>, Option<i64>)| Out {
            task,
            at: Instant(hour * HOUR),
            trays,
            grams,
        };
        Batch {
            id: Uuid::nil(),
            code: None,
            group: None,
            shed: 0,
            lot: None,
            crop: 0,
            age: None,
            soaked_at: Instant(0),
            seed_g: 8_000,
            planned: None,
            spread_at: Some(Instant(48 * HOUR)),
            spread,
            outs: outs.iter().map(out).collect(),
            mould: false,
        }
    }

    fn left(batch: &Batch) -> Vec<(Day, i64, Option<i64>)> {
        let day = |at: Instant| i32::try_from(at.0 / (24 * HOUR)).expect("a day");
        batch.heaps(day).into_iter().map(|h| (h.day, h.trays, h.grams)).collect()
    }

    // ARITH: hours 200 and 224 lie on days 8 and 9.
    #[test]
    fn a_feeding_takes_from_its_own_day_first_and_then_from_the_oldest() {
        use Task::{Discard, Feed, Harvest};
        let two = [(Harvest, 200, Some(2), Some(12_000)), (Harvest, 224, Some(2), Some(11_000))];
        assert_eq!(left(&batch(4, &two)), [(8, 2, Some(12_000)), (9, 2, Some(11_000))]);
        let fed = [&two[..], &[(Feed, 225, None, Some(11_000))]].concat();
        assert_eq!(left(&batch(4, &fed)), [(8, 2, Some(12_000))]);
        // What is fed beyond the day's harvest comes from the day before.
        let more = [&two[..], &[(Feed, 225, None, Some(17_000))]].concat();
        assert_eq!(left(&batch(4, &more)), [(8, 1, Some(6_000))]);
        let thrown = [&more[..], &[(Discard, 226, None, Some(5_500))]].concat();
        assert_eq!(left(&batch(4, &thrown)), [], "within what scales differ by");
    }

    #[test]
    fn what_was_not_weighed_is_settled_by_trays_or_by_any_weight() {
        use Task::{Discard, Feed, Harvest};
        let unweighed = (Harvest, 200, Some(4), None);
        assert_eq!(left(&batch(4, &[unweighed])), [(8, 4, None)]);
        assert_eq!(left(&batch(4, &[unweighed, (Feed, 201, Some(3), None)])), [(8, 1, None)]);
        assert_eq!(left(&batch(4, &[unweighed, (Feed, 201, None, Some(9_000))])), []);
        assert_eq!(left(&batch(4, &[unweighed, (Discard, 201, None, Some(1_000))])), []);
        let weighed = (Harvest, 200, Some(4), Some(24_000));
        assert_eq!(left(&batch(4, &[weighed, (Feed, 201, Some(1), None)])), [(8, 3, Some(18_000))]);
        // All trays harvested and then two discarded: they were harvested ones.
        assert_eq!(
            left(&batch(4, &[weighed, (Discard, 201, Some(2), None)])),
            [(8, 2, Some(12_000))]
        );
        // Two that stood still: the harvest is not touched.
        let half = (Harvest, 200, Some(2), Some(12_000));
        let half = batch(4, &[half, (Discard, 201, Some(2), None)]);
        assert_eq!((left(&half), half.standing()), (vec![(8, 2, Some(12_000))], 0));
    }

    #[test]
    fn what_was_discarded_before_spreading_did_not_stand() {
        let batch =
            batch(3, &[(Task::Discard, 40, Some(1), None), (Task::Discard, 90, Some(1), None)]);
        assert_eq!((batch.lost(), batch.discarded(), batch.standing()), (1, 1, 2));
        let day = |at: Instant| i32::try_from(at.0 / (24 * HOUR)).expect("a day");
        assert_eq!((batch.stood(2, day), batch.stood(3, day)), (3, 2));
    }
}
