//! What each feeding day needs, what grows for it, and what is asked to be soaked for it.

use super::sheds::Mode;
use super::{Feed, Growing, Short, Soak, Span, TOP_UP_PERCENT, YOUNG_DAYS_MAX};
use crate::farm::{Day, Farm, Group, Setting};
use crate::sizing::{base_share, real};
use crate::standards::{Common, MARGIN, Standards};
use traybook_domain::savings::money::mul_div;

/// A day's fodder that is still to be soaked.
pub(super) struct Ask {
    pub soak: Soak,
    pub load_g: i64,
    /// What a tray may carry at the most.
    pub most_g: i64,
    pub full: bool,
    pub feed: Option<usize>,
}

/// A farm looked at from a day on.
pub(super) struct At<'a> {
    pub farm: &'a Farm,
    pub standards: &'a Standards,
    pub growing: Vec<Growing>,
    pub span: Span,
    start: Day,
    /// How each group is sized, by day of the soak from the first of the span on.
    pub modes: Vec<Mode>,
    /// Age at harvest by group and day of the soak, from [`MARGIN`] days before the span on.
    ages: Vec<Vec<i32>>,
    /// What is soaked by group and day, from the first of the span on, at the age of the guide.
    seeds: Vec<Vec<Seed>>,
}

/// Seed for the animals of a feeding day.
#[derive(Clone, Copy)]
pub(super) struct Seed {
    pub head: i64,
    pub grams: i64,
    /// Fresh fodder from a kg of it, grams.
    fresh: i64,
}

/// When a feeding day's fodder is soaked.
pub(super) struct When {
    /// The first day on which it would not be over age; none where it can not stand on a tray.
    ideal: Option<Day>,
    /// Whether that is the farm's first day, which comes too late for the full age.
    pub is_ramp: bool,
    /// The working day meant for it.
    meant: Option<Day>,
    /// The working day on which it still can be soaked.
    soak: Option<Day>,
}

/// What a group needs on a feeding day, and how its fodder is grown.
pub(super) struct Need {
    head: i64,
    /// Seed, at the farm's own yield.
    pub grams: i64,
    shed: usize,
    pub load_g: i64,
    /// Fresh fodder from a kg of it, grams.
    yield_g_per_kg: i64,
    pub when: When,
}

impl<'a> At<'a> {
    pub(super) fn new(
        farm: &'a Farm,
        standards: &'a Standards,
        growing: &[Growing],
        span: Span,
        start: Day,
    ) -> Self {
        let mut at = Self {
            farm,
            standards,
            growing: growing.to_vec(),
            span,
            start,
            modes: Vec::new(),
            ages: Vec::new(),
            seeds: Vec::new(),
        };
        let first = span.first - MARGIN;
        let days = first..span.first + i32::try_from(span.days).unwrap_or(0) + MARGIN;
        let of_guide = |of: &Group| days.clone().map(|day| at.age_by_guide(of, day)).collect();
        at.ages = farm.groups.iter().map(of_guide).collect();
        let soaks = span.first..days.end;
        let of_day = |group: usize| soaks.clone().map(|day| at.seed_at_age(group, day)).collect();
        at.seeds = (0..farm.groups.len()).map(of_day).collect();
        at.modes = at.all_modes();
        if at.modes.iter().any(|m| m.young > 0) {
            let young = |group: usize, day: Day| at.mode(group, day).young;
            let of_group = |(group, ages): (usize, &Vec<i32>)| -> Vec<i32> {
                days.clone().zip(ages).map(|(day, age)| age - young(group, day)).collect()
            };
            at.ages = at.ages.iter().enumerate().map(of_group).collect();
        }
        at
    }

    /// How a group is sized when it is soaked on a day.
    pub(super) fn mode(&self, group: usize, soak: Day) -> &Mode {
        let groups = self.farm.groups.len().max(1);
        let last = (self.modes.len() / groups).saturating_sub(1);
        let at = usize::try_from(soak - self.span.first).unwrap_or(0).min(last);
        self.modes.get(at * groups + group).unwrap_or(&Mode::NONE)
    }

    /// Seed of batches that name no group, to the groups of their feeding day: the one with the
    /// most that nothing grows for yet comes first, as much as it needs, then the next. What is
    /// left over is the first one's. Where no group needs any it stays nobody's.
    pub(super) fn share_out(&mut self) {
        let groups = self.farm.groups.len();
        let (mut shared, whole) =
            self.growing.iter().partition::<Vec<Growing>, _>(|g| g.group.is_none());
        self.growing = whole;
        shared.sort_by_key(|g| (g.feed_on, g.spread_on));
        for batch in shared {
            let mut open: Vec<(usize, i64)> = (0..groups)
                .filter_map(|group| {
                    let need = self.need(group, batch.feed_on)?.grams;
                    (need > 0).then(|| (group, need - self.growing_for(group, batch.feed_on)))
                })
                .collect();
            open.sort_by_key(|(group, open)| (std::cmp::Reverse(*open), *group));
            let only = (groups == 1).then_some(0);
            let first = open.first().map(|(group, _)| *group).or(only);
            let mut left = batch.seed_g;
            for (group, open) in open {
                let part = open.clamp(0, left);
                left -= part;
                self.growing.extend((part > 0).then_some(Growing {
                    group: Some(group),
                    seed_g: part,
                    ..batch
                }));
            }
            self.growing.push(Growing { group: first, seed_g: left, ..batch });
        }
    }

    /// Full load of a tray in the shed of a setting, grams.
    pub(super) fn load(&self, setting: Option<&Setting>, common: &Common) -> (usize, i64) {
        let shed = setting.and_then(|s| s.shed).unwrap_or(0);
        let own = self.farm.sheds.get(shed).and_then(|s| s.load_g);
        (shed, own.unwrap_or(common.load_g))
    }

    /// Seed that a group's animals need when it is soaked on a day, grams, and what a kg of it
    /// gives. The need is that of the guide's yield; the farm's own yield meets it.
    fn seed_for(&self, of: &Group, head: i64, soak: Day) -> (i64, i64) {
        let (setting, common) = (of.setting_on(soak), self.standards.common(soak));
        let (_, load_g) = self.load(setting, &common);
        let per_tray = self.standards.per_tray_milli(of.class, soak);
        let grams = mul_div(head.saturating_mul(1_000), load_g, per_tray).unwrap_or(0);
        let crop = setting.and_then(|s| s.crop).or(of.crop);
        let fresh = self.fresh(crop).unwrap_or(common.yield_g_per_kg).max(1);
        let grams = mul_div(grams, common.yield_g_per_kg, fresh).unwrap_or(grams);
        (grams.max(i64::from(head > 0)), fresh)
    }

    /// What is soaked on a day for the day on which it has the age of the guide; nothing where none
    /// is grown then.
    fn seed_at_age(&self, group: usize, soak: Day) -> Seed {
        let Some(of) = self.farm.groups.get(group) else {
            return Seed { head: 0, grams: 0, fresh: 1 };
        };
        let day = soak + self.age(group, soak);
        let paused = self.farm.pauses.iter().any(|p| p.contains(day));
        let is_grown = of.setting_on(soak).is_none_or(|s| s.is_grown) && !paused;
        let head = of.head_on(day).filter(|_| is_grown).unwrap_or(0);
        let (grams, fresh) = self.seed_for(of, head, soak);
        Seed { head, grams, fresh }
    }

    /// The same as it was made once for each day of the span.
    pub(super) fn seed_on(&self, group: usize, soak: Day) -> Option<&Seed> {
        self.seeds.get(group)?.get(usize::try_from(soak - self.span.first).ok()?)
    }

    /// Fresh fodder from a kg of a crop's seed by the farm's records, grams.
    fn fresh(&self, crop: Option<usize>) -> Option<i64> {
        self.farm.learned.as_ref().map(|l| l.fresh_g_per_kg(crop))
    }

    pub(super) fn need(&self, group: usize, day: Day) -> Option<Need> {
        let of = self.farm.groups.get(group)?;
        let paused = self.farm.pauses.iter().any(|p| p.contains(day));
        let head = of.head_on(day).filter(|h| *h > 0 && !paused);
        let when = self.soak_day(group, of, day);
        let soak_on = when.soak.or(when.meant).or(when.ideal).unwrap_or(day);
        let setting = of.setting_on(soak_on);
        let head = head.filter(|_| setting.is_none_or(|s| s.is_grown)).unwrap_or(0);
        let common = self.standards.common(soak_on);
        let (shed, load_g) = self.load(setting, &common);
        let known = self.seed_on(group, soak_on).filter(|known| known.head == head);
        let (grams, yield_g_per_kg) = match known {
            Some(known) => (known.grams, known.fresh),
            None => self.seed_for(of, head, soak_on),
        };
        Some(Need { head, grams, shed, load_g, yield_g_per_kg, when })
    }

    pub(super) fn feeding_day(
        &self,
        group: usize,
        day: Day,
        (feeds, loads): (&mut Vec<Feed>, &mut Vec<i64>),
        asks: &mut Vec<Ask>,
    ) {
        let grown: i64 = self.growing_for(group, day);
        let Some((of, need)) = self.farm.groups.get(group).zip(self.need(group, day)) else {
            return;
        };
        if need.head == 0 && grown == 0 {
            return;
        }
        let mut feed = Feed {
            day,
            group,
            head: need.head,
            need_g: need.grams,
            growing_g: grown,
            planned_g: 0,
            spare_g: 0,
            young_g: 0,
            yield_g_per_kg: need.yield_g_per_kg,
            short: None,
        };
        loads.push(need.load_g);
        let left = need.grams - grown;
        if left <= 0 || (grown > 0 && left * 100 <= need.grams * TOP_UP_PERCENT) {
            feeds.push(feed);
            return;
        }
        match self.ask_for(of, &need, &feed) {
            Err(reason) => feed.short = Some(reason),
            Ok(ask) => asks.push(Ask { feed: Some(feeds.len()), ..ask }),
        }
        feeds.push(feed);
    }

    /// What is to be soaked for a feeding day that lacks some, or why nothing can be.
    fn ask_for(&self, of: &Group, need: &Need, feed: &Feed) -> Result<Ask, Short> {
        let (when, grown, group) = (&need.when, feed.growing_g, feed.group);
        let is_past = when.meant.is_some_and(|day| day < self.span.first);
        let (ideal, soak) = match (when.ideal, when.soak) {
            _ if self.farm.sheds.get(need.shed).is_none() => return Err(Short::NoShed),
            _ if when.is_ramp => return Err(Short::BeforeFirstHarvest),
            (None, _) => return Err(Short::AgeTooLow),
            _ if is_past && grown > 0 => return Err(Short::TooLittleSoaked),
            (Some(ideal), Some(soak)) => (ideal, soak),
            (Some(_), None) if is_past => return Err(Short::NotSoaked),
            (Some(_), None) => return Err(Short::RestDays),
        };
        let mode = self.mode(group, soak);
        if mode.risk.is_some() && is_past {
            // What was missed is owed to today's soak, and must not be asked for twice.
            return Err(Short::NotSoaked);
        }
        if mode.risk.is_some() && grown > 0 && self.is_soaked_on(group, feed.day, soak) {
            return Err(Short::TooLittleSoaked);
        }
        let (setting, common) = (of.setting_on(soak), self.standards.common(soak));
        let full = setting.and_then(|s| s.full).unwrap_or(common.full);
        let share = mode
            .risk
            .filter(|_| !full)
            .map_or(1.0, |risk| base_share(real(need.grams), real(need.load_g), &risk));
        let left = grams(real(need.grams) * share) - grown;
        let trays = (left + need.load_g - 1) / need.load_g.max(1);
        let trays = if mode.is_light { trays.max(2) } else { trays };
        Ok(Ask {
            soak: Soak {
                day: soak,
                group,
                shed: need.shed,
                crop: setting.and_then(|s| s.crop).or(of.crop),
                spread_on: soak + common.incubate_days,
                feed_on: feed.day,
                trays,
                seed_g: if full { trays * need.load_g } else { left },
                moved_from: Some(ideal).filter(|i| *i < soak),
                is_late: is_past,
            },
            load_g: need.load_g,
            most_g: match mode.risk {
                Some(_) => most(need.load_g, &common),
                None => need.load_g,
            },
            full,
            feed: None,
        })
    }

    /// Seed that stands or soaks for a group and feeding day, at what its crop gives on the farm.
    pub(super) fn growing_for(&self, group: usize, day: Day) -> i64 {
        let is_for = |g: &&Growing| g.feed_on == day && g.group == Some(group);
        let crop = self.farm.groups.get(group).and_then(|of| of.crop);
        let own = self.fresh(crop);
        let worth = |g: &Growing| match (own, self.fresh(g.crop)) {
            (Some(own), Some(fresh)) if own > 0 && g.crop.is_some() => {
                mul_div(g.seed_g, fresh, own).unwrap_or(g.seed_g)
            }
            _ => g.seed_g,
        };
        self.growing.iter().filter(is_for).map(worth).sum()
    }

    /// Whether some of a feeding day's fodder was soaked on a day.
    fn is_soaked_on(&self, group: usize, feed_on: Day, soak: Day) -> bool {
        let is = |g: &Growing| {
            g.group == Some(group) && g.feed_on == feed_on && g.soaked_on == soak && g.seed_g > 0
        };
        self.growing.iter().any(is)
    }

    fn soak_day(&self, at: usize, group: &Group, feed_on: Day) -> When {
        let age = |soak: Day| self.age(at, soak);
        let stands = |soak: Day| age(soak) > self.standards.common(soak).incubate_days;
        let start = group.starts_on.map_or(self.start, |own| own.max(self.start));
        let is_ramp = feed_on <= start && stands(start);
        let mut when = When { ideal: None, is_ramp, meant: None, soak: None };
        for soak in start.max(feed_on - MARGIN)..feed_on {
            let (old, due) = (feed_on - soak, age(soak));
            if old > due {
                continue;
            }
            if soak == start && old < due && stands(soak) {
                when.is_ramp = true;
                break;
            }
            let on_tray = old - self.standards.common(soak).incubate_days;
            if on_tray < 1 {
                break;
            }
            let ideal = *when.ideal.get_or_insert(soak);
            if soak - ideal > YOUNG_DAYS_MAX {
                break;
            }
            if !self.farm.rest.contains(soak) {
                when.meant.get_or_insert(soak);
                if soak >= self.span.first {
                    when.soak = Some(soak);
                    break;
                }
            }
        }
        when
    }

    /// Age at which a group's fodder is harvested when it is soaked on a day: in a short shed it
    /// may be younger than the guide says.
    pub(super) fn age(&self, group: usize, soak: Day) -> i32 {
        let known = usize::try_from(soak - self.span.first + MARGIN).ok();
        let known = known.and_then(|at| self.ages.get(group)?.get(at)).copied();
        known.unwrap_or_else(|| {
            let of_guide = self.farm.groups.get(group).map_or(0, |g| self.age_by_guide(g, soak));
            of_guide - self.mode(group, soak).young
        })
    }

    /// The same by the guide and the fodder plan.
    fn age_by_guide(&self, group: &Group, soak: Day) -> i32 {
        let set = group.setting_on(soak).and_then(|s| s.age);
        set.unwrap_or_else(|| self.standards.age(Some(group.class), soak))
    }
}

/// Whole grams.
pub(super) fn grams(value: f64) -> i64 {
    value.round() as i64
}

/// What a tray may carry at the most, grams.
pub(super) fn most(load_g: i64, common: &Common) -> i64 {
    grams(real(load_g) * common.load_most)
}
