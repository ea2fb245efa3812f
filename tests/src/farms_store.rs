//! A store of feed: what is eaten from it, oldest first, and when it is filled.

use crate::random::Rng;
use std::collections::VecDeque;

/// When a farm buys.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Habit {
    /// When nothing is left for the day.
    WhenEmpty,
    /// On market days, what was used since; in between only when nothing is left.
    Regular,
}

/// How a farm buys.
#[derive(Clone, Copy, Debug)]
pub struct Buyer {
    /// When.
    pub habit: Habit,
    /// For how many days.
    pub interval: usize,
}

impl Buyer {
    /// Four in ten buy for a week, four for a month, two for two months.
    pub fn draw(rng: &mut Rng) -> Self {
        let interval = [7, 7, 30, 30, 60][rng.below(5)];
        let habit = if rng.chance(0.35) { Habit::Regular } else { Habit::WhenEmpty };
        Self { habit, interval }
    }

    /// kg of a bag.
    const fn bag(&self) -> f64 {
        match self.interval {
            0..=7 => 5.0,
            8..=30 => 10.0,
            _ => 25.0,
        }
    }
}

/// A purchase.
#[derive(Clone, Copy, Debug)]
pub struct Bought {
    /// Day.
    pub day: usize,
    /// kg.
    pub kg: i64,
    /// Paid, currency units.
    pub cost: i64,
}

/// A store of one feed.
pub struct Store {
    /// kg and price a kg, oldest first.
    lots: VecDeque<(f64, f64)>,
    next: usize,
    rng: Rng,
    /// What was bought.
    pub bought: Vec<Bought>,
}

impl Store {
    /// An empty one.
    pub const fn new(rng: Rng) -> Self {
        Self { lots: VecDeque::new(), next: 0, rng, bought: Vec::new() }
    }

    fn left(&self) -> f64 {
        self.lots.iter().map(|l| l.0).sum()
    }

    /// A day on which `need` kg are eaten, at this price on the market. Gives what it cost.
    pub fn day(&mut self, day: usize, need: f64, price: f64, buyer: &Buyer) -> f64 {
        let days = buyer.interval as f64;
        if day == 0 {
            // What was there before anybody wrote anything down.
            let share = if buyer.habit == Habit::Regular { 1.4 } else { self.rng.unit() };
            self.lots.push_back((share * days * need, price));
            self.next = 1 + self.rng.below(buyer.interval);
        }
        let up_to_bags = |kg: f64| (kg / buyer.bag()).round() * buyer.bag();
        if buyer.habit == Habit::Regular && day >= self.next {
            self.buy(day, up_to_bags(1.4 * days * need - self.left()), price);
            let late = self.rng.int(-1, 1) * (1 + buyer.interval as i64 / 15);
            self.next = day + usize::try_from(buyer.interval as i64 + late).expect("later");
        }
        while self.left() < need {
            self.buy(day, up_to_bags(days * need).max(buyer.bag()), price);
        }
        self.eat(need)
    }

    fn buy(&mut self, day: usize, kg: f64, price: f64) {
        if kg < 1.0 {
            return;
        }
        let paid = price * self.rng.between(0.85, 1.15);
        let (kg, cost) = (kg as i64, (kg * paid / 50.0).round() as i64 * 50);
        self.lots.push_back((kg as f64, cost as f64 / kg as f64));
        self.bought.push(Bought { day, kg, cost });
    }

    fn eat(&mut self, mut kg: f64) -> f64 {
        let mut cost = 0.0;
        while kg > 1e-9 {
            let Some(lot) = self.lots.front_mut() else { break };
            let some = lot.0.min(kg);
            cost += some * lot.1;
            kg -= some;
            lot.0 -= some;
            if lot.0 <= 1e-9 {
                self.lots.pop_front();
            }
        }
        cost
    }
}
