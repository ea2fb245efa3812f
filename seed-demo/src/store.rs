//! The co-operative's seed: lots bought each month, handed out to farms, counted by the quarter.

use crate::calendar::at;
use crate::farm::Farm;
use crate::generate::{Plan, World};
use crate::prices::{CROPS, MINOR, cost};
use crate::random::{Rng, float, round_to};
use crate::story::{Class, Story};
use crate::writes::Out;
use chrono::NaiveDate;
use std::collections::BTreeMap;
use traybook_domain::kinds::{SeedAdjustment, SeedIssue, SeedLot, SeedPayment, SeedPurchase};
use uuid::Uuid;

/// Largest lot, grams: one lorry.
const LOT_G_MAX: i64 = 15_000_000;
/// Weight of a bag, grams.
const BAG_G: i64 = 50_000;
/// The supplier of the bad lot, by position.
const BAD_SUPPLIER: usize = 1;

/// Seed of one lot on a farm.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Issued {
    pub(crate) lot: Uuid,
    /// What is left, grams.
    pub(crate) grams: i64,
    /// Whether it is the bad lot.
    pub(crate) bad: bool,
}

/// A lot in the store.
struct Lot {
    id: Uuid,
    crop: &'static str,
    month: usize,
    grams: i64,
    /// What a member pays, minor units a kg.
    price: i64,
    bad: bool,
}

pub(crate) struct SeedStore {
    lots: Vec<Lot>,
    made: usize,
    rng: Rng,
    /// Code of the bad lot, once there is one.
    pub(crate) bad_lot: Option<String>,
    /// What farms owe for seed, minor units.
    owed: BTreeMap<Uuid, i64>,
}

impl SeedStore {
    /// An empty store.
    pub(crate) fn new(plan: &Plan) -> Self {
        let rng = Rng::of(plan.seed, "store", 0);
        Self { lots: Vec::new(), made: 0, rng, bad_lot: None, owed: BTreeMap::new() }
    }

    /// Buys what the farms need for the month, crop by crop.
    pub(crate) fn buy(&mut self, world: &World, number: usize, farms: &mut [Farm], out: &mut Out) {
        for farm in farms.iter_mut() {
            farm.plan_seed(world, number);
        }
        let needs = |crop: &str| {
            let all = farms.iter().filter(|f| f.story.crop == crop && f.growing.need > 0);
            all.fold((0_i64, 0_usize), |(grams, count), f| (grams + f.growing.need, count + 1))
        };
        let needs = CROPS.map(|crop| (crop, needs(crop)));
        let most = needs.iter().max_by_key(|n| n.1.1).map(|n| n.0);
        for (crop, (grams, count)) in needs {
            let stock: i64 = self.lots.iter().filter(|l| l.crop == crop).map(|l| l.grams).sum();
            // A little more than needed, since lots do not divide evenly among farms.
            let wanted = grams + grams / 20 - stock;
            if grams == 0 || wanted <= 0 {
                continue;
            }
            let lots = (wanted / LOT_G_MAX + 1).max(if count >= 3 { 2 } else { 1 });
            let bad = number + 2 == world.calendar.months && most == Some(crop);
            for index in 0..lots {
                // The last lot of the month is the bad one.
                let is_bad = bad && index == lots - 1;
                self.buy_lot(world, number, crop, wanted / lots, is_bad, out);
            }
        }
    }

    fn buy_lot(
        &mut self,
        world: &World,
        number: usize,
        crop: &'static str,
        wanted: i64,
        bad: bool,
        out: &mut Out,
    ) {
        let date = world.calendar.day(number, self.rng.int(1, 3));
        let others = [0, 2];
        let chosen = self.rng.int(0, 1);
        let good = others.get(usize::try_from(chosen).unwrap_or(0)).copied().unwrap_or(0);
        let also = if self.rng.chance(0.25) { BAD_SUPPLIER } else { good };
        let germination = self.rng.int(84, 97) * 100;
        let haggled = self.rng.between(0.97, 1.03);
        if date > world.calendar.today {
            return;
        }
        self.made += 1;
        let month = world.calendar.month(number);
        let code = format!("{}-{month}-{:03}", crop.to_uppercase(), self.made);
        if bad {
            self.bad_lot = Some(code.clone());
        }
        let lot = SeedLot {
            code,
            crop: crop.to_owned(),
            supplier_id: Some(world.catalog.supplier(if bad { BAD_SUPPLIER } else { also })),
            note: None,
        };
        let id = out.add(at(date, 9 * 60), lot);
        let grams = (wanted / BAG_G + 1) * BAG_G;
        let kg_price = float(world.market.seed(number, crop)) / float(MINOR) * haggled;
        let transport = round_to(float(grams) / 1000.0 * 35.0, 500) * MINOR;
        let price = cost(grams, kg_price);
        let purchase = SeedPurchase {
            seed_lot_id: id,
            date,
            kg: grams,
            price,
            transport: Some(transport),
            feed_grade: true,
            untreated: true,
            germination_percent: Some(if bad { 8_100 } else { germination }),
            note: bad.then(|| "Bags damp at the bottom; taken at the usual price".to_owned()),
        };
        out.add(at(date, 10 * 60), purchase);
        // Members pay what the store paid, and 4 % for handling.
        let paid = float(price + transport) / float(MINOR) / (float(grams) / 1000.0);
        let price = round_to(paid * 1.04, 10) * MINOR;
        self.lots.push(Lot { id, crop, month: number, grams, price, bad });
    }

    /// At the end of a whole month four fifths of what farms owe is kept back from milk or egg
    /// money, or paid.
    pub(crate) fn collect(&mut self, world: &World, number: usize, farms: &[Farm], out: &mut Out) {
        let date = world.calendar.day(number, 28);
        if date > world.calendar.today {
            return;
        }
        for farm in farms {
            let Some(owed) = self.owed.get_mut(&farm.id) else { continue };
            let amount = *owed / 5 * 4 / (1_000 * MINOR) * (1_000 * MINOR);
            if amount <= 0 {
                continue;
            }
            *owed -= amount;
            let paid_by = match (farm.story.class, farm.story.number % 5) {
                (_, 4) => "mobile_money",
                (Class::Cows, _) => "milk_check_off",
                _ => "egg_check_off",
            };
            let (farm_id, paid_by) = (farm.id, paid_by.to_owned());
            let record = SeedPayment { farm_id, date, amount, paid_by, note: None };
            out.add(at(date, 17 * 60), record);
        }
    }

    /// Hands seed out to a farm; older lots first, and the month's lots by turns.
    pub(crate) fn issue(
        &mut self,
        story: &Story,
        farm: Uuid,
        number: usize,
        date: NaiveDate,
        grams: i64,
        out: &mut Out,
    ) -> Vec<Issued> {
        let payment = if self.rng.chance(0.6) { "credit" } else { "paid" };
        let mut issued = Vec::new();
        let mut open = grams;
        for index in self.choose(story, number, grams) {
            let Some(lot) = self.lots.get_mut(index) else { continue };
            let part = open.min(lot.grams);
            if part <= 0 {
                continue;
            }
            lot.grams -= part;
            open -= part;
            let record = SeedIssue {
                seed_lot_id: lot.id,
                farm_id: farm,
                date,
                kg: part,
                price: Some(cost(part, float(lot.price) / float(MINOR))),
                payment: payment.to_owned(),
                note: None,
            };
            if payment == "credit" {
                *self.owed.entry(farm).or_insert(0) += record.price.unwrap_or(0);
            }
            out.add(at(date, 10 * 60 + 30), record);
            issued.push(Issued { lot: lot.id, grams: part, bad: lot.bad });
        }
        issued
    }

    /// Lots in the order in which a farm is given from them.
    fn choose(&self, story: &Story, number: usize, grams: i64) -> Vec<usize> {
        let of_crop = |l: &&Lot| l.crop == story.crop && l.grams > 0;
        let fits: Vec<usize> =
            (0..self.lots.len()).filter(|i| self.lots.get(*i).filter(of_crop).is_some()).collect();
        let enough = |i: &&usize| self.lots.get(**i).is_some_and(|l| l.grams >= grams);
        let is_new = |i: &usize| self.lots.get(*i).is_some_and(|l| l.month == number);
        let old = fits.iter().filter(enough).find(|i| !is_new(i));
        let new: Vec<usize> = fits.iter().filter(enough).copied().filter(is_new).collect();
        let turn = (story.number + number) % new.len().max(1);
        match old.or(new.get(turn)) {
            Some(one) => vec![*one],
            None => fits,
        }
    }

    /// Counts the store each quarter: what was spilt is taken off, and old remains are cleared.
    pub(crate) fn count(&mut self, world: &World, number: usize, out: &mut Out) {
        let date = world.calendar.month(number).last_day();
        if number % 3 != 2 || date > world.calendar.today {
            return;
        }
        for lot in self.lots.iter_mut().filter(|l| l.grams > 0) {
            let old = lot.month + 2 < number;
            let off = if old { lot.grams } else { (lot.grams / 250 / 100 + 1) * 100 };
            let off = off.min(lot.grams);
            lot.grams -= off;
            let (reason, note) = if old {
                ("spoiled", "Sweepings with weevils; burnt")
            } else {
                ("stock_count", "Spilt and dried since the last count")
            };
            let record = SeedAdjustment {
                seed_lot_id: lot.id,
                farm_id: None,
                date,
                change_kg: -off,
                reason: reason.to_owned(),
                note: Some(note.to_owned()),
            };
            out.add(at(date, 16 * 60), record);
        }
        self.lots.retain(|l| l.grams > 0);
    }
}
