//! Trays that are harvested early, since today's harvest falls short.

use super::lines::Lines;
use super::{Batch, Line, Task};
use crate::farm::Day;
use crate::make_up::early;
use crate::plan::{Plan, Short, YOUNG_DAYS_MAX};
use crate::sizing::real;

impl Lines<'_> {
    /// What is to be harvested early today: whole good trays of the next days, while more than a
    /// tenth of a group's need is missing and nothing has been fed to it yet. Only where the shed
    /// has the capacity to repay them. Never from a batch with mould, or of a held lot. Of several
    /// trays the last is asked for when the others are weighed.
    pub(super) fn early(&self, made: &Plan, lines: &mut Vec<Line>) {
        if self.scene.farm.learned.is_none() {
            return;
        }
        for feed in made.feeds.iter().filter(|f| f.day == self.today) {
            let is_ramp = feed.short == Some(Short::BeforeFirstHarvest);
            if feed.need_g == 0 || is_ramp || self.is_fed(feed.group) {
                continue;
            }
            let need = real(feed.fresh_g(feed.need_g));
            let due = real(feed.fresh_g(feed.growing_g));
            let got = due + self.beside_expected(feed.group);
            self.group_early(feed.group, (need, got), made, lines);
        }
    }

    fn group_early(
        &self,
        group: usize,
        (need, got): (f64, f64),
        made: &Plan,
        lines: &mut Vec<Line>,
    ) {
        let mut trays: Vec<(i32, f64, usize)> = Vec::new();
        for (at, batch) in self.scene.batches.iter().enumerate() {
            let days = self.scene.feed_on(batch, self.asked) - self.today;
            let missing = made.sheds.get(batch.shed).map_or(0, |s| s.places_missing);
            if !(1..=YOUNG_DAYS_MAX).contains(&days)
                || missing > 0
                || self.group_of(batch) != Some(group)
                || !self.is_good(batch)
            {
                continue;
            }
            let kg = real(self.young_g(batch, 1, days));
            let standing = usize::try_from(batch.standing()).unwrap_or(0);
            trays.extend(std::iter::repeat_n((days, kg, at), standing));
        }
        trays.sort_by_key(|(days, ..)| *days);
        let those: Vec<(i32, f64)> = trays.iter().map(|(days, kg, _)| (*days, *kg)).collect();
        let left = self.left_of_yesterday(group);
        let taken = early(need, got, left, &those, YOUNG_DAYS_MAX);
        let mut counts: std::collections::BTreeMap<usize, (i32, i64)> = Default::default();
        for (days, _, at) in taken.into_iter().filter_map(|i| trays.get(i)) {
            counts.entry(*at).or_insert((*days, 0)).1 += 1;
        }
        for (at, (days, count)) in counts {
            lines.extend(self.early_line(at, days, count));
        }
    }

    fn early_line(&self, at: usize, days: i32, count: i64) -> Option<Line> {
        let batch = self.scene.batches.get(at)?;
        let due = self.asked.at(self.today, Task::Harvest.minutes());
        let out = batch.harvested() + batch.discarded();
        Some(Line {
            key: format!("{}.{}.{out}", Task::Harvest.text(), batch.id),
            trays: Some(count),
            grams: Some(self.young_g(batch, count, days)),
            early: Some(days),
            ..self.line(Task::Harvest, at, due)?
        })
    }

    /// Fresh fodder expected of trays harvested so many days early, grams.
    fn young_g(&self, batch: &Batch, trays: i64, days: i32) -> i64 {
        let young = self.asked.standards.common(self.today).young;
        let share = 1.0 - young * f64::from(days);
        (real(self.fresh_g(batch, trays)) * share).round() as i64
    }

    /// Whether trays of a batch may be taken early.
    fn is_good(&self, batch: &Batch) -> bool {
        let is_held = batch.lot.is_some_and(|lot| (self.asked.is_held)(lot));
        batch.spread > 0 && batch.standing() > 0 && !batch.mould && !is_held
    }

    /// The group that a batch feeds: its own, or the only one.
    fn group_of(&self, batch: &Batch) -> Option<usize> {
        let only = (self.scene.farm.groups.len() == 1).then_some(0);
        batch.group.or(only)
    }

    fn of_group(&self, group: usize) -> impl Iterator<Item = &Batch> {
        self.scene.batches.iter().filter(move |b| self.group_of(b) == Some(group))
    }

    fn is_on_day(&self, batch: &Batch, task: Task, day: Day) -> bool {
        batch.done_on(task, |at| self.asked.day(at) == day).is_some()
    }

    /// Whether anything was fed to a group today.
    fn is_fed(&self, group: usize) -> bool {
        self.of_group(group).any(|b| self.is_on_day(b, Task::Feed, self.today))
    }

    /// What today's harvests gave beside what was expected of the trays due today: of those,
    /// weighed less expected; of trays taken early all of it.
    fn beside_expected(&self, group: usize) -> f64 {
        let beside = |batch: &Batch| {
            let done = batch.done_on(Task::Harvest, |at| self.asked.day(at) == self.today)?;
            let days = self.scene.feed_on(batch, self.asked) - self.today;
            let expected = self.young_g(batch, done.trays, days.max(0));
            let is_weighed = done.grams > 0;
            let got = if is_weighed { done.grams } else { expected };
            Some(real(if days > 0 { got } else { got - expected }))
        };
        self.of_group(group).filter_map(beside).sum()
    }

    /// What is left of yesterday's harvest, where all of it was weighed.
    fn left_of_yesterday(&self, group: usize) -> f64 {
        let left = |batch: &Batch| -> i64 {
            let heaps = batch.heaps(|at| self.asked.day(at));
            let of_day = heaps.iter().filter(|h| h.day == self.today - 1 && !batch.mould);
            of_day.filter_map(|h| h.grams).sum()
        };
        self.of_group(group).map(|b| real(left(b))).sum()
    }
}
