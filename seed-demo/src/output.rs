//! Milk and eggs.

use crate::calendar::{at, later};
use crate::farm::Farm;
use crate::generate::World;
use crate::prices::{MINOR, season};
use crate::random::{Rng, exp, float, ln, round, round_to};
use crate::story::{Class, Slip};
use crate::writes::Out;
use chrono::NaiveDate;
use traybook_domain::Kind;
use traybook_domain::field::json_decimal;
use traybook_domain::kinds::{EggRecord, MILLILITRES_PER_ANIMAL_MAX, MilkRecord};
use uuid::Uuid;

/// Shape of a lactation (Wood 1967): day of the peak, rise and decline.
const PEAK_DAY: f64 = 57.0;
const RISE: f64 = 0.2;
/// Days before today from which a milking is written without its decimal point.
const SLIP_DAYS_AGO: i64 = 24;
/// Share of the day's milk that is milked in the morning.
const MORNING: f64 = 0.57;

/// Milk on a day of the lactation against that at its peak.
fn wood(days: i64) -> f64 {
    let t = float(days.max(1)) / PEAK_DAY;
    exp(RISE * (ln(t) - (t - 1.0)))
}

/// Usual laying rate of a flock by its age.
fn laying_rate(class: Class, age_weeks: i64) -> f64 {
    if class == Class::Indigenous {
        return 0.3;
    }
    match age_weeks {
        ..19 => 0.0,
        19..=27 => 0.1 * float(age_weeks - 18),
        _ => 0.92 - 0.0036 * float(age_weeks - 27),
    }
}

impl Farm {
    /// The month's milk or eggs.
    pub(crate) fn give(&mut self, world: &World, number: usize, out: &mut Out) {
        let rng = &mut self.streams.output;
        self.noise = 0.55 * self.noise + 0.035 * rng.normal();
        let missing = rng.chance(0.03);
        if number < self.story.reports_from || missing {
            return;
        }
        let forgets = self.story.slip == Some(Slip::ForgottenMonth);
        if forgets && number + 1 == world.calendar.months {
            return;
        }
        let month = world.calendar.month(number);
        let mut log = self.noise + world.market.shock(number);
        if self.story.class == Class::Cows {
            log += season(month);
        }
        let price = rng.int(-2, 2);
        let rhythm = world.plan.size.output_rhythm();
        for day in world.calendar.days(number) {
            // Today's evening milk is still to come.
            if day == world.calendar.today || !rhythm.holds(day, self.story.offset) {
                continue;
            }
            let rng = &mut self.streams.output;
            let effect = if self.story.feeds_on(day) { self.story.effect } else { 0.0 };
            let factor = exp(log + effect + 0.04 * rng.normal());
            let keeps = rng.chance(0.985);
            if keeps && self.story.class == Class::Cows {
                self.milk(world, day, factor, price, out);
            } else if keeps {
                self.eggs(day, factor, price, out);
            }
        }
    }

    fn milk(&mut self, world: &World, day: NaiveDate, factor: f64, price: i64, out: &mut Out) {
        let Some(group) = self.groups.first() else { return };
        let (stages, animal_group_id) = (group.in_milk(day), group.id);
        let animals = i64::try_from(stages.len()).unwrap_or(0);
        if animals == 0 {
            return;
        }
        let litres: f64 = stages.iter().map(|d| self.story.level * wood(*d)).sum::<f64>() * factor;
        let mean = round(float(stages.iter().sum()) / float(animals));
        let parts: &[(&str, f64, i64)] = if self.story.by_milking {
            &[("morning", MORNING, 7 * 60), ("evening", 1.0 - MORNING, 18 * 60)]
        } else {
            &[("day", 1.0, 18 * 60)]
        };
        for (session, share, minute) in parts {
            let ml = round_to(litres * share * 1000.0, 100);
            let home = 500.min(ml);
            let slips = self.forgets_the_point(world, day, (ml, animals));
            let record = MilkRecord {
                animal_group_id,
                farm_id: Uuid::nil(),
                date: day,
                session: (*session).to_owned(),
                litres: if slips { ml * 10 } else { ml },
                animals_in_milk: animals,
                mean_days_in_milk: Some(mean),
                sold_litres: Some(round_to(float(ml - home) * 0.88, 100).min(ml - home)),
                home_litres: Some(home),
                calf_litres: None,
                price_per_litre: Some((1_200 + 50 * price) * MINOR),
                note: None,
            };
            let slip = !world.plan.size.measures() && self.streams.output.chance(0.003);
            enter(out, day, *minute, record, slip);
        }
    }

    /// Whether this is the milking that is written down without its decimal point: the first of
    /// the last weeks whose tenfold is still taken.
    fn forgets_the_point(
        &mut self,
        world: &World,
        day: NaiveDate,
        (ml, animals): (i64, i64),
    ) -> bool {
        let is_time = later(day, SLIP_DAYS_AGO) >= world.calendar.today;
        let is_taken = ml * 10 <= animals * MILLILITRES_PER_ANIMAL_MAX;
        let forgets = self.story.slip == Some(Slip::MissingPoint);
        let slips = forgets && is_time && is_taken && !self.has_slipped;
        self.has_slipped |= slips;
        slips
    }

    fn eggs(&mut self, day: NaiveDate, factor: f64, price: i64, out: &mut Out) {
        let Some(group) = self.groups.first() else { return };
        let (hens, age) = (group.head_on(day), group.age_weeks(day));
        let rate = laying_rate(self.story.class, age) * self.story.level * factor;
        if hens < 1 || rate <= 0.0 {
            return;
        }
        let eggs = eggs_of(hens, rate, &mut self.streams.output);
        let cracked = self.streams.output.successes(eggs, 0.012);
        let indigenous = self.story.class == Class::Indigenous;
        let (sold_percent, usual) = if indigenous { (70, 450) } else { (94, 330) };
        let record = EggRecord {
            animal_group_id: group.id,
            farm_id: Uuid::nil(),
            date: day,
            hens_present: hens,
            eggs,
            cracked: Some(cracked),
            flock_age_weeks: (!indigenous).then_some(age),
            sold_eggs: Some((eggs - cracked) * sold_percent / 100),
            price_per_egg: Some((usual + 10 * price) * MINOR),
            note: None,
        };
        out.add(at(day, 17 * 60), record);
    }
}

/// Eggs of a day: about as uneven as hens that lay or do not.
fn eggs_of(hens: i64, rate: f64, rng: &mut Rng) -> i64 {
    let rate = rate.min(0.97);
    let (mean, variance) = (float(hens) * rate, float(hens) * rate * (1.0 - rate));
    round(mean + variance.sqrt() * rng.normal()).clamp(0, hens)
}

/// Enters a milk record; with a slip, it is entered too high first and corrected.
fn enter(out: &mut Out, day: NaiveDate, minute: i64, record: MilkRecord, slip: bool) {
    let right = record.litres;
    let litres = if slip { right + 10_000 } else { right };
    let id = out.add(at(day, minute), MilkRecord { litres, ..record });
    if slip {
        let fields = vec![("litres", json_decimal(right, 3))];
        out.correct(Kind::MilkRecord, id, fields, Some("a slip of the pen: ten litres too many"));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn wood_peaks_at_its_peak_and_falls_to_about_half() {
        assert!((wood(57) - 1.0).abs() < 1e-12);
        assert!(wood(10) < 1.0 && wood(120) < 1.0);
        assert!((0.4..0.65).contains(&wood(305)), "{}", wood(305));
    }
}
