//! How one farm's figure of a month came about.

use super::axis::Axis;
use super::books::Books;
use super::eaten::{Enterprise, FeedUse, Ground, Lot, farm_use};
use super::{Made, feed_names};
use crate::Coop;
use crate::error::AppError;
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, HashMap};
use std::slice::from_ref;
use std::sync::Arc;
use traybook_analytics::eaten::Rules;
use traybook_answers::Decimal;
use traybook_answers::savings::{EnterpriseAccount, FeedAccount, LotAccount};
use traybook_domain::Month;
use traybook_domain::value::Instant;
use traybook_reports::savings::whole;
use traybook_storage::Conn;
use traybook_storage::records::farm_rows::FarmRow;
use uuid::Uuid;

/// What a farm's baseline of a class rests on, as it is kept with the farm's figures.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub(crate) struct Basis {
    pub enterprise: String,
    /// kg per head and day at index 1, by feed.
    pub basket: BTreeMap<Uuid, f64>,
    /// Index since the start, by the month's number; none where the season is not taken out.
    pub index: BTreeMap<i64, f64>,
    pub ration_weight: f64,
    pub months_before: usize,
}

/// Median prices by feed and the month's number, minor units a kg.
pub(crate) type FeedPrices = BTreeMap<Uuid, BTreeMap<i64, f64>>;

impl Made {
    /// What the baselines of a farm rest on.
    pub(super) fn basis(&self, i: usize) -> Vec<Basis> {
        let Some(start) = self.start(i) else { return Vec::new() };
        let of = |e: &Enterprise| {
            let (panel, row) = self.panels.of(i, &e.class)?;
            let b = panel.savings.farms.get(row)?;
            let basket = panel.savings.basket(row)?;
            let index = panel.savings.shared.index.iter().enumerate();
            let index =
                index.filter(|(t, _)| b.is_adjusted && u32::try_from(*t).is_ok_and(|t| t > start));
            Some(Basis {
                enterprise: e.class.clone(),
                basket: panel.feeds.iter().copied().zip(basket.iter().copied()).collect(),
                index: index
                    .filter_map(|(t, m)| Some((self.axis.month(t).number(), (*m)?)))
                    .collect(),
                ration_weight: b.ration_weight,
                months_before: b.months,
            })
        };
        self.uses.get(i).iter().flat_map(|u| &u.enterprises).filter_map(of).collect()
    }

    /// The co-operative's median prices.
    pub fn prices(&self) -> FeedPrices {
        let months = |of: &Vec<Option<f64>>| {
            let known = of.iter().enumerate().filter_map(|(t, p)| Some((t, (*p)?)));
            known.map(|(t, price)| (self.axis.month(t).number(), price)).collect()
        };
        self.medians.iter().map(|(feed, of)| (*feed, months(of))).collect()
    }
}

/// The classes of animals of a farm in a month; what was eaten is of this moment.
pub(crate) fn account(
    conn: &mut Conn,
    coop: &Coop,
    farm: &Arc<FarmRow>,
    (month, now): (Month, Instant),
    (basis, prices): (&[Basis], &FeedPrices),
) -> Result<Vec<EnterpriseAccount>, AppError> {
    let (today, of) = (coop.today(now), from_ref(&farm.farm));
    let Books { axis, books, accepted } =
        Books::read(conn, coop.number, today, from_ref(farm), Some(of))?;
    let (Some(book), Some(t)) = (books.first(), axis.at(month)) else { return Ok(Vec::new()) };
    let median = |of: &BTreeMap<i64, f64>| {
        let at = |t| of.get(&axis.month(t).number()).copied();
        (0..axis.months()).map(at).collect::<Vec<_>>()
    };
    let medians: HashMap<Uuid, Vec<Option<f64>>> =
        prices.iter().map(|(feed, of)| (*feed, median(of))).collect();
    let rules = Rules::default();
    let ground = Ground {
        axis: &axis,
        medians: &medians,
        accepted: &accepted,
        rules: &rules,
        keeps_lots: true,
    };
    let made = farm_use(book, &ground);
    let names = feed_names(conn, coop.number)?;
    let maker = Maker { axis: &axis, t, names: &names, medians: &medians, digits: coop.digits };
    let class = |e: &Enterprise| {
        let basis = basis.iter().find(|b| b.enterprise == e.class);
        maker.enterprise(e, basis, month)
    };
    Ok(made.enterprises.iter().map(class).collect())
}

struct Maker<'a> {
    axis: &'a Axis,
    t: usize,
    names: &'a HashMap<Uuid, String>,
    medians: &'a HashMap<Uuid, Vec<Option<f64>>>,
    digits: u8,
}

impl Maker<'_> {
    fn enterprise(&self, e: &Enterprise, basis: Option<&Basis>, month: Month) -> EnterpriseAccount {
        let days = e.animal_days.as_ref().and_then(|d| d.get(self.t)).copied().unwrap_or(0.0);
        let index = basis.and_then(|b| b.index.get(&month.number()).copied());
        let base = |feed: &FeedUse| {
            let basket = basis?.basket.get(&feed.feed)?;
            Some(days * index.unwrap_or(1.0) * basket)
        };
        EnterpriseAccount {
            enterprise: e.class.clone(),
            status: None,
            animal_days: whole(days),
            index: index.map(|m| (m * 1e4).round() / 1e4),
            months_before: basis.map_or(0, |b| i64::try_from(b.months_before).unwrap_or(0)),
            ration_weight_percent: basis.map_or(0.0, |b| (b.ration_weight * 1e3).round() / 10.0),
            feeds: e.feeds.iter().map(|f| self.feed(f, base(f))).collect(),
            money: None,
        }
    }

    fn feed(&self, f: &FeedUse, base: Option<f64>) -> FeedAccount {
        let used = f.uses.get(self.t).copied().unwrap_or_default();
        let days = f.days.get(self.t).copied().unwrap_or(0.0);
        let is_needed = f.is_needed.get(self.t) == Some(&true);
        let share = if used.covered > 0.0 { days / used.covered } else { 0.0 };
        // A needed feed counts with its rate on all days, another as it is covered.
        let eaten = if is_needed { used.kg * share } else { used.kg };
        let median = || *self.medians.get(&f.feed)?.get(self.t)?;
        let price = if used.kg > 0.0 { Some(used.cost / used.kg) } else { median() };
        let kg = |kg: f64| Decimal::kg(whole(kg * 1000.0));
        let money = |kg: f64| price.map(|p| Decimal::new(whole(kg * p), self.digits));
        let (from, to) = self.axis.span(self.t);
        let inside = |l: &&Lot| l.piece.from < to && l.piece.to > from;
        FeedAccount {
            feed_id: f.feed,
            feed: self.names.get(&f.feed).cloned().unwrap_or_default(),
            price_per_kg: price.map(|p| Decimal::new(whole(p * 100.0), self.digits + 2)),
            baseline_kg: base.map(kg),
            baseline_cost: base.and_then(money),
            eaten_kg: kg(eaten),
            eaten_cost: money(eaten),
            covered_percent: if days > 0.0 {
                (used.covered / days * 1e3).round() / 10.0
            } else {
                0.0
            },
            lots: f.lots.iter().filter(inside).map(|l| self.lot(l)).collect(),
        }
    }

    fn lot(&self, l: &Lot) -> LotAccount {
        LotAccount {
            from: self.axis.date(l.piece.from),
            until: self.axis.date(l.piece.to - 1),
            kg_per_animal_day: (l.piece.kg_per_animal_day * 1e4).round() / 1e4,
            is_in_use: l.piece.is_open,
            purchase_id: l.purchase.map(|p| p.id),
            bought_kg: l.purchase.map(|p| Decimal::kg(p.grams)),
            paid: l.purchase.map(|p| Decimal::new(p.minor, self.digits)),
        }
    }
}
