//! A farm that runs as planned: trays, places, seed, water and work of one day.

use crate::farm::{Day, Farm};
use crate::sizing::{Risk, base_share, floor, real};
use crate::standards::{Common, Standards};
use traybook_domain::savings::money::mul_div;

/// One group in steady state, at the head and the standards of one day.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct GroupDay {
    /// Group and shed, by position.
    pub group: usize,
    pub shed: usize,
    pub head: i64,
    /// Age at harvest and days incubating of it, days.
    pub age: i32,
    pub incubate_days: i32,
    /// Animals that one full tray feeds for a day, thousandths.
    pub per_tray_milli: i64,
    /// Whole trays soaked and harvested a day.
    pub trays: i64,
    /// Places that they take.
    pub places: i64,
    /// Seed that the animals need a day, grams, at the farm's own yield.
    pub need_g: i64,
    /// Dry seed a day with its reserve, grams, and on one tray.
    pub seed_g: i64,
    pub seed_per_tray_g: i64,
    /// Fresh fodder harvested a day, grams.
    pub fresh_g: i64,
    /// Of it left over, grams: what full trays hold above the need.
    pub surplus_g: i64,
    /// Water a day, ml.
    pub water_ml: i64,
    /// Work a day, thousandths of a minute.
    pub labour_milli_minutes: i64,
}

/// The groups that are fed fodder, in steady state.
///
/// # Units
/// See [`GroupDay`]. Water is that of a kg of fresh fodder by the growing guide; work is that of
/// the trays standing.
///
/// # Source
/// Common practice, no source: a cow takes one tray a day and 6 places; see the tests.
#[must_use]
pub fn steady(farm: &Farm, standards: &Standards, day: Day) -> Vec<GroupDay> {
    let group = |(at, of): (usize, &crate::farm::Group)| {
        let head = of.head_on(day).filter(|h| *h > 0)?;
        let setting = of.setting_on(day);
        if setting.is_some_and(|s| !s.is_grown) {
            return None;
        }
        let common = standards.common(day);
        let shed = setting.and_then(|s| s.shed).unwrap_or(0);
        let load = farm.sheds.get(shed).and_then(|s| s.load_g).unwrap_or(common.load_g).max(1);
        let per_tray = standards.per_tray_milli(of.class, day);
        let need = mul_div(head.saturating_mul(1_000), load, per_tray)?.max(1);
        let crop = setting.and_then(|s| s.crop).or(of.crop);
        let yields =
            farm.learned.as_ref().map_or(common.yield_g_per_kg, |l| l.fresh_g_per_kg(crop));
        let need = mul_div(need, common.yield_g_per_kg, yields.max(1))?.max(1);
        let full = setting.and_then(|s| s.full).unwrap_or(common.full);
        let kept = reserved(farm, &common, (need, load)).filter(|_| !full).unwrap_or(need);
        let trays = (kept + load - 1) / load;
        let seed = if full { trays * load } else { kept };
        let age = setting.and_then(|s| s.age).unwrap_or_else(|| standards.age(Some(of.class), day));
        let places = trays * i64::from((age - common.incubate_days).max(0));
        let fresh = |seed: i64| mul_div(seed, yields, 1_000).unwrap_or(0);
        Some(GroupDay {
            group: at,
            shed,
            head,
            age,
            incubate_days: common.incubate_days,
            per_tray_milli: per_tray,
            trays,
            places,
            need_g: need,
            seed_g: seed,
            seed_per_tray_g: (seed + trays / 2) / trays,
            fresh_g: fresh(seed),
            surplus_g: fresh(seed - kept),
            water_ml: mul_div(fresh(seed), common.water_ml_per_kg, 1_000).unwrap_or(0),
            labour_milli_minutes: places * common.labour_milli_minutes,
        })
    };
    let mut groups: Vec<GroupDay> = farm.groups.iter().enumerate().filter_map(group).collect();
    pack(farm, standards, day, &mut groups);
    groups
}

/// Where a shed has no places for trays of a full load, each carries some more.
fn pack(farm: &Farm, standards: &Standards, day: Day, groups: &mut [GroupDay]) {
    let common = standards.common(day);
    for (at, shed) in farm.sheds.iter().enumerate() {
        let wanted: i64 = groups.iter().filter(|g| g.shed == at).map(|g| g.places).sum();
        if farm.learned.is_none() || wanted <= shed.places {
            continue;
        }
        let load = real(shed.load_g.unwrap_or(common.load_g).max(1)) * common.load_most;
        for group in groups.iter_mut().filter(|g| g.shed == at) {
            let packed = floor((real(group.seed_g) / load - 1e-9).ceil()).max(1).min(group.trays);
            group.places = group.places / group.trays * packed;
            group.trays = packed;
            group.seed_per_tray_g = (group.seed_g + packed / 2) / packed;
            group.labour_milli_minutes = group.places * common.labour_milli_minutes;
        }
    }
}

/// A day's seed with its reserve, grams; none where nothing was learned.
fn reserved(farm: &Farm, common: &Common, (need, load): (i64, i64)) -> Option<i64> {
    let learned = farm.learned.as_ref()?;
    let (spoil, sd) = (learned.spoil, learned.sd);
    let risk = Risk { spoil, sd, young: common.young, extra: common.extra };
    Some((real(need) * base_share(real(need), real(load), &risk)).round() as i64)
}
