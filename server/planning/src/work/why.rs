//! Why today's soak is what it is.

use super::lines::Lines;
use super::{Batch, Line, Task};
use crate::farm::Day;
use crate::plan::{Plan, Sized, Soak};
use crate::sizing::{floor, real};
use crate::words;
use traybook_domain::value::Instant;

/// Something that today's soak makes up for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Reason {
    /// Trays were thrown away, the last of them on a day.
    Lost { trays: i64, on: Day },
    /// Trays have mould: they feed nobody.
    Mould { trays: i64 },
    /// Trays were harvested early, the last of them on a day.
    TakenEarly { trays: i64, on: Day },
    /// Nothing was soaked on a day.
    Missed {
        /// When it should have been.
        on: Day,
    },
    /// There are more animals than what stands was soaked for.
    MoreAnimals {
        /// Head then.
        from: i64,
        /// Head now.
        to: i64,
    },
    /// Less was soaked, or yields have fallen.
    TooLittle,
}

/// Why today's soak is what it is: its parts, and what the debt in it is for.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SoakWhy {
    /// The parts.
    pub sized: Sized,
    /// What is owed for, the latest first; none where the debt is less than a tray.
    pub reasons: Vec<Reason>,
}

impl SoakWhy {
    /// Trays more than without what is owed.
    #[must_use]
    pub const fn trays_more(&self) -> i64 {
        self.sized.trays - self.sized.trays_without_debt
    }
}

impl Lines<'_> {
    /// A soak of the plan, with the reasons where it is today's.
    pub(super) fn soak_of(&self, soak: &Soak, made: &Plan) -> Line {
        let mut line = self.soak(soak);
        let is_sized = |s: &&Sized| (s.group, s.feed_on) == (soak.group, soak.feed_on);
        if self.date == self.today
            && let Some(sized) = made.sized.iter().find(is_sized)
        {
            let why = SoakWhy { sized: *sized, reasons: self.reasons(sized, made) };
            line.why = line.why.or_else(|| words::soak_why(&why));
            line.soak = Some(why);
        }
        line
    }

    /// What a soak makes up for, until it is all told.
    fn reasons(&self, sized: &Sized, made: &Plan) -> Vec<Reason> {
        let each = real(sized.need_g + sized.reserve_g) / real(sized.trays_without_debt.max(1));
        let owed = floor(real(sized.debt_g) / each.max(1.0) + 0.5);
        if owed == 0 {
            return Vec::new();
        }
        let mut found: Vec<(Day, i64, Reason)> = Vec::new();
        for batch in self.scene.batches.iter().filter(|b| b.group.is_none_or(|g| g == sized.group))
        {
            let feed_on = self.scene.feed_on(batch, self.asked);
            if (self.today..sized.feed_on).contains(&feed_on) {
                self.of_batch(batch, feed_on, &mut found);
            }
        }
        let short = |day: Day| made.feeds.iter().find(|f| f.day == day && f.group == sized.group);
        for feed in (self.today..sized.feed_on).filter_map(short) {
            if feed.need_g > 0 && feed.growing_g == 0 && !self.is_begun(sized.group, feed.day) {
                let age = sized.feed_on - self.today;
                let on = feed.day - age;
                found.push((on, sized.trays_without_debt, Reason::Missed { on }));
            }
        }
        if let Some((from, to)) = self.more_animals(sized) {
            found.push((self.today, 1, Reason::MoreAnimals { from, to }));
        }
        found.sort_by_key(|(day, trays, _)| (std::cmp::Reverse(*day), *trays));
        let (mut told, mut reasons) = (0, Vec::new());
        for (_, trays, reason) in found {
            if told >= owed {
                break;
            }
            told += trays;
            reasons.push(reason);
        }
        if reasons.is_empty() {
            reasons.push(Reason::TooLittle);
        }
        reasons
    }

    fn of_batch(&self, batch: &Batch, feed_on: Day, found: &mut Vec<(Day, i64, Reason)>) {
        let day = |at: Instant| self.asked.day(at);
        let last = |task: Task| {
            let of = batch.outs.iter().filter(|o| o.task == task && o.trays.is_some_and(|t| t > 0));
            of.map(|o| day(o.at)).max()
        };
        let lost = batch.lost() + batch.discarded();
        if let (Some(on), true) = (last(Task::Discard), lost > 0) {
            found.push((on, lost, Reason::Lost { trays: lost, on }));
        }
        if batch.mould && batch.standing() > 0 {
            let trays = batch.standing();
            found.push((self.today, trays, Reason::Mould { trays }));
        }
        let early = |o: &&super::Out| o.task == Task::Harvest && day(o.at) < feed_on;
        let taken: i64 = batch.outs.iter().filter(early).filter_map(|o| o.trays).sum();
        if let (Some(on), true) = (last(Task::Harvest), taken > 0) {
            found.push((on, taken, Reason::TakenEarly { trays: taken, on }));
        }
    }

    /// Whether anything was soaked for a group and feeding day.
    fn is_begun(&self, group: usize, feed_on: Day) -> bool {
        let is = |b: &Batch| {
            b.group.is_none_or(|g| g == group) && self.scene.feed_on(b, self.asked) == feed_on
        };
        self.scene.batches.iter().any(is)
    }

    /// The head before and after, where it has grown since what stands was soaked.
    fn more_animals(&self, sized: &Sized) -> Option<(i64, i64)> {
        let of = self.scene.farm.groups.get(sized.group)?;
        let age = sized.feed_on - self.today;
        let from = of.head_on(self.today - age).or_else(|| of.head.first().map(|h| h.1))?;
        let to = of.head_on(self.today)?;
        (to > from).then_some((from, to))
    }
}
