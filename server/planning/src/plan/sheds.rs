//! Whether a shed can hold more than is lost, and how its groups are sized.

use super::asks::{At, most};
use super::{Soak, YOUNG_DAYS_MAX};
use crate::farm::Day;
use crate::short_shed::{Steady, steady_trays, trays_on};
use crate::sizing::{Risk, real};
use crate::standards::MARGIN;

/// How a group is sized when it is soaked on a day.
#[derive(Clone, Copy, Debug)]
pub(super) struct Mode {
    /// What is planned for, where the farm's records tell and the shed has the capacity.
    pub risk: Option<Risk>,
    /// Whether one tray a day is grown on two light ones.
    pub is_light: bool,
    /// Days that it is harvested young, since the shed is short.
    pub young: i32,
    /// The trays that it may soak in a short shed.
    pub steady: Option<Steady>,
    /// Trays that it needs a day, and the nights that they stand.
    trays: f64,
    stands: i64,
    shed: usize,
}

/// Trays that a farm of one tray a day needs at the least for two light ones: thinner seed dries
/// out. Our own bound.
const LIGHT_LEAST: f64 = 0.5;

impl At<'_> {
    /// How each group is sized on each day.
    pub(super) fn all_modes(&self) -> Vec<Mode> {
        let days = i32::try_from(self.span.days).unwrap_or(0) + MARGIN;
        let groups = self.farm.groups.len();
        let mut all: Vec<Mode> = Vec::new();
        let (mut asked, mut before): (Vec<Mode>, Vec<Mode>) = (Vec::new(), Vec::new());
        let mut common = None;
        for day in self.span.first..self.span.first + days {
            std::mem::swap(&mut asked, &mut before);
            asked.clear();
            asked.extend((0..groups).map(|g| self.asked(g, day)));
            // Most days ask for what the day before did.
            let today = self.standards.common(day);
            let is_same = common.replace(today) == Some(today)
                && asked.iter().zip(&before).all(|(a, b)| a.asks_as(b));
            match all.len().checked_sub(groups) {
                Some(from) if is_same => all.extend_from_within(from..),
                _ => {
                    let at = all.len();
                    all.extend_from_slice(&asked);
                    self.size(all.get_mut(at..).unwrap_or_default(), day);
                }
            }
        }
        all
    }

    /// Sizes what groups ask for on a day.
    fn size(&self, modes: &mut [Mode], soak: Day) {
        let common = self.standards.common(soak);
        let risk = self.farm.learned.as_ref().map(|l| Risk {
            spoil: l.spoil,
            sd: l.sd,
            young: common.young,
            extra: common.extra,
        });
        for (at, shed) in self.farm.sheds.iter().enumerate() {
            let enough = self.places_needed(modes, at, soak) <= real(shed.places) + 1e-6;
            let places: i64 = modes.iter().filter(|m| m.shed == at).map(Mode::places).sum();
            if !enough {
                self.even_out(modes, at, shed.places);
                continue;
            }
            for mode in modes.iter_mut().filter(|m| m.shed == at && m.trays > 0.0) {
                mode.risk = risk;
                // A second light tray takes as many places again.
                let is_one = (LIGHT_LEAST..=1.0).contains(&mode.trays);
                mode.is_light = risk.is_some() && is_one && places + mode.stands <= shed.places;
            }
        }
    }

    /// What a group asks of its shed a day.
    fn asked(&self, group: usize, soak: Day) -> Mode {
        let Some(of) = self.farm.groups.get(group) else { return Mode::NONE };
        let (setting, common) = (of.setting_on(soak), self.standards.common(soak));
        let (shed, load_g) = self.load(setting, &common);
        let age = self.age(group, soak);
        let seed = self.seed_on(group, soak);
        let grams = seed.filter(|seed| seed.head > 0).map_or(0, |seed| seed.grams);
        let trays = real(grams) / real(load_g.max(1));
        let full = setting.and_then(|s| s.full).unwrap_or(common.full);
        let trays = if full { (trays - 1e-9).ceil() } else { trays };
        let stands = i64::from((age - common.incubate_days).max(0));
        Mode { trays, stands, shed, ..Mode::NONE }
    }

    /// Places that a shed needs before it can repay what is lost: with trays as full as they may
    /// be, and some of them spoiling. Where nothing is planned for, those of full trays.
    fn places_needed(&self, modes: &[Mode], shed: usize, soak: Day) -> f64 {
        let common = self.standards.common(soak);
        let spoil = self.farm.learned.as_ref().map(|l| l.spoil);
        let each = spoil.map_or(1.0, |spoil| common.load_most * (1.0 - spoil));
        let of = modes.iter().filter(|m| m.shed == shed);
        of.map(|m| m.trays * real(m.stands)).sum::<f64>() / each
    }

    /// Even days for the groups of a short shed.
    fn even_out(&self, modes: &mut [Mode], shed: usize, places: i64) {
        let those: Vec<usize> = modes
            .iter()
            .enumerate()
            .filter(|(_, m)| m.shed == shed && m.trays > 0.0 && m.stands > 0)
            .map(|(at, _)| at)
            .collect();
        let asked: Vec<(f64, i64)> =
            those.iter().filter_map(|at| modes.get(*at)).map(|m| (m.trays, m.stands)).collect();
        for (at, steady) in those.into_iter().zip(steady_trays(places, &asked)) {
            let Some(mode) = modes.get_mut(at) else { continue };
            let young = i32::try_from(mode.stands - steady.stands).unwrap_or(0);
            mode.young = young.clamp(0, YOUNG_DAYS_MAX);
            mode.steady = Some(steady);
        }
    }

    /// The most trays that a soak may have in a short shed; none where the shed has the capacity.
    pub(super) fn cap(&self, soak: &Soak) -> Option<i64> {
        let day = soak.moved_from.unwrap_or(soak.day);
        let steady = self.mode(soak.group, soak.day).steady?;
        Some(trays_on(i64::from(day), &steady))
    }

    /// Places that each shed lacks for today's soaks before it can repay what is lost.
    pub(super) fn places_missing(&self) -> Vec<i64> {
        let modes = self.modes.get(..self.farm.groups.len()).unwrap_or_default();
        let missing = |(at, shed): (usize, &crate::farm::Shed)| {
            let needed = self.places_needed(modes, at, self.span.first);
            super::asks::grams(((needed - 1e-6).ceil() - real(shed.places)).max(0.0))
        };
        self.farm.sheds.iter().enumerate().map(missing).collect()
    }

    /// What a tray of a group may carry at the most when it is soaked on a day, grams.
    pub(super) fn most(&self, load_g: i64, soak: Day) -> i64 {
        most(load_g, &self.standards.common(soak))
    }
}

impl Mode {
    /// Of a group that asks for nothing.
    pub(super) const NONE: Self = Self {
        risk: None,
        is_light: false,
        young: 0,
        steady: None,
        trays: 0.0,
        stands: 0,
        shed: 0,
    };

    /// Whether it asks for the same as another.
    fn asks_as(&self, other: &Self) -> bool {
        (self.trays - other.trays).abs() < 1e-12
            && (self.stands, self.shed) == (other.stands, other.shed)
    }

    /// Places that its trays take, each with at most a full load.
    fn places(&self) -> i64 {
        super::asks::grams((self.trays - 1e-9).ceil()) * self.stands
    }
}
