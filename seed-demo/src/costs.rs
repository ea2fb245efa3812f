//! Feed bought, money spent on growing, sheds and trays.

use crate::calendar::{at, later};
use crate::farm::Farm;
use crate::generate::World;
use crate::prices::{FeedKind, MINOR, cost};
use crate::random::{float, round, round_to};
use crate::sizes::Rhythm;
use crate::story::{LABOUR, Slip, TRAY_G, UPKEEP, WATER};
use crate::writes::Out;
use chrono::NaiveDate;
use traybook_domain::kinds::{Asset, FeedPurchase, OtherCost};

impl Farm {
    fn soak_share(&self, world: &World, number: usize) -> f64 {
        let months_ago = world.calendar.months_ago(world.calendar.month(number));
        world.plan.size.soak_rhythm(months_ago).share()
    }

    /// Places on the shelves for the trays of the densest months, and for a ripe batch that still
    /// stands.
    pub(crate) fn places(&self, world: &World, trays: i64) -> i64 {
        let days = self.story.class.harvest_age() - 2;
        let at_once = match world.plan.size.soak_rhythm(0) {
            Rhythm::EveryDays(every) => (days + i64::from(every) - 1) / i64::from(every),
            Rhythm::Weekly | Rhythm::TwiceAWeek => 1,
        };
        (trays * (at_once + 1)).max(1)
    }

    /// What the shed and its trays cost.
    pub(crate) fn build(&mut self, world: &World, day: NaiveDate, places: i64, out: &mut Out) {
        let rng = &mut self.streams.costs;
        let share = world.plan.size.soak_rhythm(0).share();
        let frame = 80_000.0 * share + float(places) * rng.between(15_000.0, 21_000.0);
        let trays = float(places) * 1.15 * rng.between(3_800.0, 4_600.0);
        let assets = [
            ("Shade shed with shelves", frame, rng.int(5, 7) * 12, 0.1),
            ("Trays", trays, rng.int(30, 42), 0.0),
        ];
        for (name, shillings, life_months, salvage) in assets {
            let asset = Asset {
                farm_id: self.id,
                name: name.to_owned(),
                in_service_on: day,
                cost: round_to(shillings, 500) * MINOR,
                salvage_value: Some(round_to(shillings * salvage, 500) * MINOR),
                life_months,
                disposed_on: None,
            };
            out.add(at(day, 7 * 60 + 30), asset);
        }
    }

    /// The month's feed and other costs.
    pub(crate) fn spend(&mut self, world: &World, number: usize, out: &mut Out) {
        let missing = self.streams.costs.chance(0.03);
        if number < self.story.reports_from || missing {
            return;
        }
        self.buy_feed(world, number, out);
        self.pay_for_growing(world, number, out);
    }

    fn buy_feed(&mut self, world: &World, number: usize, out: &mut Out) {
        let grown = self.story.start.is_some_and(|(start, _)| start < number);
        let begins = self.story.start.is_some_and(|(start, _)| start == number);
        let share = self.story.saved * self.soak_share(world, number);
        let saved = if grown {
            share
        } else if begins {
            share * 0.3
        } else {
            0.0
        };
        let month_noise = 1.0 + 0.06 * self.streams.costs.normal();
        for feed in FeedKind::ALL {
            let mut grams = 0.0;
            for (index, group) in self.groups.iter().enumerate() {
                let days = float(group.animal_days(&world.calendar, number));
                let bought = if index == 0 { 1.0 - saved * month_noise } else { 1.0 };
                let ration = group.ration.iter().filter(|(f, _)| *f == feed);
                grams += ration.map(|(_, g)| float(*g) * days * bought).sum::<f64>();
            }
            if grams > 0.0 {
                self.buy(world, number, feed, grams, out);
            }
        }
    }

    fn buy(&mut self, world: &World, number: usize, feed: FeedKind, grams: f64, out: &mut Out) {
        let rng = &mut self.streams.costs;
        let times = world.plan.size.purchases();
        // Where few batches are recorded little is saved: the noise must not hide it.
        let noise = (0.06 * world.plan.size.soak_rhythm(0).share()).min(0.025);
        let wanted = grams * (1.0 + noise * rng.normal());
        let price = world.market.feed(number, feed) * (1.0 + 0.03 * rng.normal());
        let first = 2 + i64::from(self.story.offset % 10);
        let none = rng.chance(0.015);
        let Some(short) = self.feed_short.get_mut(feed.index()) else { return };
        let mut left = round(wanted) + std::mem::take(short);
        if none {
            // Bought with the next month's: recorded as none, which is not the same as unknown.
            *short = left;
            left = 0;
        }
        let step = if feed == FeedKind::Napier { 5_000 } else { 500 };
        for time in 0..times {
            let date = world.calendar.day(number, first + 9 * time);
            let kg = round_to(float(left) / float(times), step);
            if date > world.calendar.today || (none && time > 0) {
                continue;
            }
            let purchase = FeedPurchase {
                farm_id: self.id,
                feed_id: world.catalog.feed(feed),
                date,
                kg,
                cost: cost(kg, price),
                animal_group_id: None,
                note: None,
            };
            let is_last = number + 1 == world.calendar.months && time == 0 && kg > 0;
            if self.story.slip == Some(Slip::Copied) && feed == FeedKind::DairyMeal && is_last {
                let note = Some("From the receipt, written down at the visit".to_owned());
                let date = later(date, 1);
                out.add(at(date, 15 * 60), FeedPurchase { date, note, ..purchase.clone() });
            }
            out.add(at(date, 10 * 60), purchase);
        }
    }

    /// Labour and water by the trays of the month, disinfectant and repairs now and then.
    fn pay_for_growing(&mut self, world: &World, number: usize, out: &mut Out) {
        let date = world.calendar.day(number, 28);
        if self.shed.is_none() || date > world.calendar.today {
            return;
        }
        let share = self.soak_share(world, number);
        let (seed, _) = self.story.batch(self.main_head(date));
        let days = match self.story.start {
            Some((start, day)) if start == number => float((date - day).num_days()),
            _ => float(world.calendar.month(number).days()),
        };
        let trays = float(seed) / float(TRAY_G) * days * share;
        let rng = &mut self.streams.costs;
        let mut costs = vec![
            ("labour", trays * LABOUR * rng.between(0.85, 1.15)),
            ("water", trays * WATER * rng.between(0.8, 1.2)),
        ];
        if number % 2 == self.story.number % 2 {
            costs.push(("disinfectant", trays * UPKEEP * rng.between(0.8, 1.2)));
        }
        if rng.chance(0.12) {
            costs.push(("repairs", trays * UPKEEP * rng.between(2.0, 6.0)));
        }
        for (category, shillings) in costs {
            let record = OtherCost {
                farm_id: self.id,
                date,
                category: category.to_owned(),
                amount: round_to(shillings, 10).max(100) * MINOR,
                note: (category == "labour")
                    .then(|| "Family hours at the local day rate".to_owned()),
            };
            out.add(at(date, 18 * 60), record);
        }
    }
}
