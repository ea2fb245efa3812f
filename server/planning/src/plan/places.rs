//! Places taken in each shed, and how they are shared where they do not suffice.

use super::asks::{Ask, At};
use super::{Growing, Plan, ShedPlan, Short, Soak};
use crate::farm::{Day, Farm, Shed};
use std::collections::VecDeque;

/// Grants soaks while there are places, the group that has gone shortest first.
pub(super) fn share(at: &At<'_>, asks: Vec<Ask>, places: &mut Places, made: &mut Plan) {
    let mut short = vec![(0_i64, 0_i64); at.farm.groups.len()];
    let mut asks: VecDeque<Ask> = asks.into();
    let mut today: Vec<Ask> = Vec::new();
    while let Some(first) = asks.front() {
        let day = first.soak.day;
        while asks.front().is_some_and(|a| a.soak.day == day) {
            today.extend(asks.pop_front());
        }
        // Missing over needed so far, compared crosswise; earlier feeding days first.
        today.sort_by(|a, b| {
            let of = |ask: &Ask| short.get(ask.soak.group).copied().unwrap_or((0, 0));
            let ((ma, na), (mb, nb)) = (of(a), of(b));
            let (left, right) =
                (i128::from(mb) * i128::from(na.max(1)), i128::from(ma) * i128::from(nb.max(1)));
            left.cmp(&right).then(a.soak.feed_on.cmp(&b.soak.feed_on))
        });
        for mut ask in today.drain(..) {
            let (wanted, need) = (ask.soak.trays, ask.soak.seed_g);
            let cap = at.cap(&ask.soak).unwrap_or(wanted);
            ask.soak.trays = wanted.min(cap).min(places.free(&ask.soak));
            ask.soak.seed_g = if ask.full {
                ask.soak.trays * ask.load_g
            } else {
                need.min(ask.soak.trays * ask.most_g)
            };
            if let Some((missing, needed)) = short.get_mut(ask.soak.group) {
                *missing += need - ask.soak.seed_g;
                *needed += need;
            }
            if let Some(feed) = ask.feed.and_then(|at| made.feeds.get_mut(at)) {
                feed.planned_g = ask.soak.seed_g;
                feed.short = (feed.short_g() > 0).then_some(Short::NoPlaces);
            }
            if ask.soak.trays > 0 {
                places.take(&ask.soak);
                made.soaks.push(ask.soak);
            }
        }
    }
}

/// Places taken in each shed, by day.
pub(super) struct Places {
    first: Day,
    taken: Vec<Vec<i64>>,
    wanted: Vec<Vec<i64>>,
    of_shed: Vec<i64>,
}

impl Places {
    pub(super) fn new(farm: &Farm, growing: &[Growing], first: Day, length: usize) -> Self {
        let mut taken = vec![vec![0; length]; farm.sheds.len()];
        for batch in growing {
            for day in batch.spread_on.max(first)..batch.feed_on {
                add(&mut taken, batch.shed, day - first, batch.trays);
            }
        }
        let of_shed = farm.sheds.iter().map(|s| s.places).collect();
        Self { first, wanted: taken.clone(), taken, of_shed }
    }

    pub(super) fn want(&mut self, soak: &Soak) {
        for day in soak.spread_on..soak.feed_on {
            add(&mut self.wanted, soak.shed, day - self.first, soak.trays);
        }
    }

    pub(super) fn take(&mut self, soak: &Soak) {
        for day in soak.spread_on..soak.feed_on {
            add(&mut self.taken, soak.shed, day - self.first, soak.trays);
        }
    }

    pub(super) fn suffices(&self, farm: &Farm) -> bool {
        let fits = |(s, days): (&Shed, &Vec<i64>)| days.iter().all(|d| *d <= s.places);
        farm.sheds.iter().zip(&self.wanted).all(fits)
    }

    /// Places free each night from tonight on, up to the day before a soak is fed; none before it
    /// is spread.
    pub(super) fn nights(&self, soak: &Soak) -> Vec<Option<i64>> {
        let night = |day: Day| {
            let of_day = Soak { spread_on: day, feed_on: day + 1, ..*soak };
            (day >= soak.spread_on).then(|| self.free(&of_day))
        };
        (self.first..soak.feed_on).map(night).collect()
    }

    /// Takes places of trays of which some find theirs by the early harvest of others.
    pub(super) fn take_freed(&mut self, soak: &Soak) {
        self.take(soak);
        let places = self.of_shed.get(soak.shed).copied().unwrap_or(0);
        for taken in self.taken.get_mut(soak.shed).into_iter().flatten() {
            *taken = (*taken).min(places);
        }
    }

    /// Places free on every day that a soak would stand.
    pub(super) fn free(&self, soak: &Soak) -> i64 {
        let places = self.of_shed.get(soak.shed).copied().unwrap_or(0);
        let taken = |day: Day| {
            let at = usize::try_from(day - self.first).ok()?;
            self.taken.get(soak.shed)?.get(at).copied()
        };
        let most = (soak.spread_on..soak.feed_on).filter_map(taken).max().unwrap_or(0);
        (places - most).max(0)
    }

    pub(super) fn into_sheds(self, days: usize) -> Vec<ShedPlan> {
        let shed = |(mut standing, wanted): (Vec<i64>, Vec<i64>)| {
            standing.truncate(days);
            ShedPlan {
                standing,
                places_wanted: wanted.into_iter().max().unwrap_or(0),
                places_missing: 0,
            }
        };
        self.taken.into_iter().zip(self.wanted).map(shed).collect()
    }
}

fn add(to: &mut [Vec<i64>], shed: usize, at: i32, trays: i64) {
    let slot = usize::try_from(at).ok().and_then(|at| to.get_mut(shed)?.get_mut(at));
    if let Some(slot) = slot {
        *slot += trays;
    }
}
