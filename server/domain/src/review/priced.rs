//! Findings of feed purchases and rations against those of others, and of the growing guide.

use super::purchases::{Bought, NEAR_DAYS, Outlier, Prices, amount_outliers};
use super::rations::{Ration, ration_rules};
use super::yields::{GUIDE_MOST, guide_dry_matter};
use super::{Finding, ReviewCtx};
use crate::field::json_decimal;
use crate::kind::Kind;
use crate::planning::guide::{Guide, GuideName};
use chrono::{Datelike as _, Days, NaiveDate};
use serde_json::json;
use std::collections::{BTreeMap, HashMap, HashSet};
use uuid::Uuid;

/// A purchase of feed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Purchase {
    /// The record, its farm and feed.
    pub id: Uuid,
    pub farm: Uuid,
    pub feed: Uuid,
    pub on: NaiveDate,
    /// Grams, and minor units paid.
    pub grams: i64,
    pub minor: i64,
}

/// What purchases are held against.
#[derive(Clone, Copy, Debug)]
pub struct Shop<'a> {
    /// Names of the feeds.
    pub names: &'a HashMap<Uuid, String>,
    /// Purchases that the saving holds back already: no second finding.
    pub held: &'a HashSet<Uuid>,
    /// Digits of the currency.
    pub digits: u8,
}

/// Looks for purchases whose price stands out among other farms', or whose amount among the farm's
/// own. First it is shown the prices of all farms, then all that each farm asked for has bought; it
/// keeps of that what is to be judged.
pub struct Watch<'a> {
    shop: &'a Shop<'a>,
    from: NaiveDate,
    farms: HashMap<Uuid, u32>,
    feeds: BTreeMap<Uuid, Vec<Bought>>,
    asked: BTreeMap<Uuid, Vec<Purchase>>,
    found: Vec<Finding>,
}

impl<'a> Watch<'a> {
    /// Of the purchases from the first day looked through on.
    #[must_use]
    pub fn new(shop: &'a Shop<'a>, ctx: &ReviewCtx<'_>) -> Self {
        Self {
            shop,
            from: ctx.from,
            farms: HashMap::new(),
            feeds: BTreeMap::new(),
            asked: BTreeMap::new(),
            found: Vec::new(),
        }
    }

    /// The first day whose prices are of use.
    #[must_use]
    pub fn prices_from(&self) -> NaiveDate {
        let days = NEAR_DAYS.into_iter().max().unwrap_or(0);
        self.from.checked_sub_days(Days::new(days.unsigned_abs().into())).unwrap_or(self.from)
    }

    /// A purchase of any farm.
    pub fn price(&mut self, purchase: &Purchase) {
        if has_price(purchase) {
            let bought = self.bought(purchase);
            self.feeds.entry(purchase.feed).or_default().push(bought);
        }
    }

    /// All purchases of a farm that is asked for.
    pub fn farm(&mut self, own: Vec<Purchase>) {
        let mut feeds: BTreeMap<Uuid, Vec<Purchase>> = BTreeMap::new();
        for purchase in own.into_iter().filter(has_price) {
            feeds.entry(purchase.feed).or_default().push(purchase);
        }
        let (from, held) = (self.from, self.shop.held);
        let is_asked = |p: &Purchase| p.on >= from && !held.contains(&p.id);
        for (feed, mut own) in feeds {
            if !own.iter().any(is_asked) {
                continue;
            }
            own.sort_by_key(|p| (p.on, p.id));
            let name = self.name(feed);
            let amounts: Vec<f64> = own.iter().map(|p| p.grams as f64).collect();
            for outlier in amount_outliers(&amounts) {
                let purchase = own.get(outlier.at).filter(|p| is_asked(p));
                self.found.extend(purchase.map(|p| amount(p, &outlier, name)));
            }
            own.retain(is_asked);
            self.asked.entry(feed).or_default().extend(own);
        }
    }

    /// What was found.
    #[must_use]
    pub fn findings(mut self) -> Vec<Finding> {
        for (feed, mut asked) in std::mem::take(&mut self.asked) {
            asked.sort_by_key(|p| (p.on, p.id));
            let bought: Vec<Bought> = asked.iter().map(|p| self.bought(p)).collect();
            let prices = Prices::new(self.feeds.remove(&feed).unwrap_or_default());
            let (name, digits) = (self.name(feed), self.shop.digits);
            for outlier in prices.outliers(&bought) {
                let purchase = asked.get(outlier.at);
                self.found.extend(purchase.map(|p| price(p, &outlier, name, digits)));
            }
        }
        self.found
    }

    fn bought(&mut self, purchase: &Purchase) -> Bought {
        let next = u32::try_from(self.farms.len()).unwrap_or(u32::MAX);
        let farm = *self.farms.entry(purchase.farm).or_insert(next);
        let price = purchase.minor as f64 / purchase.grams as f64;
        Bought::new(farm, purchase.on.num_days_from_ce(), price)
    }

    fn name(&self, feed: Uuid) -> &'a str {
        self.shop.names.get(&feed).map_or("", String::as_str)
    }
}

/// A purchase of nothing, or for nothing, has neither price nor amount.
fn has_price(purchase: &Purchase) -> bool {
    purchase.grams > 0 && purchase.minor > 0
}

fn unit_words(unit: Option<&str>) -> &'static str {
    match unit {
        Some("x1000" | "d1000") => ": most likely grams and kg were mixed up",
        Some("x50" | "d50") => ": most likely bags and kg were mixed up",
        Some("x10" | "d10" | "x100" | "d100") => ": most likely a digit slipped",
        _ => "",
    }
}

fn finding(rule: &'static str, p: &Purchase, outlier: &Outlier, name: &str) -> Finding {
    let ratio = (outlier.ratio * 10_000.0).round() / 10_000.0;
    let mut figures =
        vec![("date", json!(p.on)), ("kg", json_decimal(p.grams, 3)), ("ratio", json!(ratio))];
    figures.extend(outlier.unit.map(|unit| ("unit", json!(unit))));
    Finding {
        rule,
        farm: Some(p.farm),
        finding: format!("{rule}:{}", p.id),
        subject: Some(name.to_owned()),
        evidence: format!("{} {} kg {}", p.on, super::kg(p.grams), p.minor),
        figures,
        records: vec![(Kind::FeedPurchase, p.id)],
        problem: String::new(),
        fix: "",
        since: p.on,
        weight: outlier.ratio.ln().abs(),
    }
}

fn price(p: &Purchase, outlier: &Outlier, name: &str, digits: u8) -> Finding {
    let mut finding = finding("price_outlier", p, outlier, name);
    let per_kg = crate::savings::money::mul_div(p.minor, 1_000, p.grams).unwrap_or(0);
    finding.figures.push(("per_kg", json_decimal(per_kg, digits)));
    Finding {
        problem: format!(
            "{name} bought on {} cost {} times what other farms paid for a kg{}.",
            p.on,
            times(outlier.ratio),
            unit_words(outlier.unit)
        ),
        fix: "Correct the kg or what was paid for it, or say why the price was so.",
        ..finding
    }
}

fn amount(p: &Purchase, outlier: &Outlier, name: &str) -> Finding {
    Finding {
        problem: format!(
            "{} kg of {name} bought on {} are {} times what this farm usually buys{}.",
            super::kg(p.grams),
            p.on,
            times(outlier.ratio),
            unit_words(outlier.unit)
        ),
        fix: "Correct the kg, or say why so much or so little was bought.",
        ..finding("amount_outlier", p, outlier, name)
    }
}

/// A ratio with two places.
fn times(ratio: f64) -> f64 {
    (ratio * 100.0).round() / 100.0
}

/// The ration before fodder of one group.
#[derive(Clone, Debug, PartialEq)]
pub struct GroupRation<'a> {
    /// Farm and group.
    pub farm: Uuid,
    pub group: Uuid,
    /// Code of the group.
    pub code: String,
    /// The ration records.
    pub records: Vec<Uuid>,
    /// Day of the last of them.
    pub on: NaiveDate,
    pub ration: Ration<'a>,
}

/// Rations that no animal eats, or that cost what no other farm's does.
#[must_use]
pub fn rations(all: &[GroupRation<'_>]) -> Vec<Finding> {
    let mut found = Vec::new();
    for group in all {
        for rule in ration_rules(&group.ration) {
            found.push(ration(group, rule));
        }
    }
    found
}

fn ration(of: &GroupRation<'_>, rule: &'static str) -> Finding {
    let kg = of.ration.dry_matter.map(|kg| (kg * 1_000.0).round() as i64);
    let usual = super::purchases::usual(of.ration.others.clone());
    let ratio = of.ration.cost.zip(usual).map(|(cost, usual)| cost / usual).unwrap_or(1.0);
    let mut records = vec![(Kind::AnimalGroup, of.group)];
    records.extend(of.records.iter().map(|id| (Kind::BaselineRation, *id)));
    let (figures, problem, fix) = match rule {
        "ration_too_much" => (
            vec![("dry_matter_kg", json_decimal(kg.unwrap_or(0), 3))],
            format!(
                "The ration of group {} is {} kg of dry matter an animal and day: more than it can \
                 eat.",
                of.code,
                super::kg(kg.unwrap_or(0))
            ),
            "Correct the ration: most likely grams were entered for kg, or feed for the whole herd.",
        ),
        _ => (
            vec![("ratio", json!(times(ratio)))],
            format!(
                "The ration of group {} costs {} times what other farms' animals of the class do.",
                of.code,
                times(ratio)
            ),
            "Correct the ration or the price of a feed in it, or say why it is so.",
        ),
    };
    Finding {
        rule,
        farm: Some(of.farm),
        finding: format!("{rule}:{}", of.group),
        subject: Some(of.code.clone()),
        evidence: format!("{problem:.100}"),
        figures,
        records,
        problem,
        fix,
        since: of.on,
        weight: ratio.ln().abs(),
    }
}

/// A growing guide whose own figures give more dry matter than was sown, today or from a day to
/// come. New ones are refused; what was set before stands.
#[must_use]
pub fn guide(guide: &Guide, ctx: &ReviewCtx<'_>) -> Option<Finding> {
    let days = guide.days().into_iter().filter(|day| *day > ctx.today);
    let (day, share) = std::iter::once(ctx.today)
        .chain(days)
        .map(|day| (day, guide_share(guide, day)))
        .find(|(_, share)| *share > GUIDE_MOST)?;
    let percent = (share * 100.0).round();
    Some(Finding {
        rule: "guide_dry_matter",
        farm: None,
        finding: "guide_dry_matter".to_owned(),
        subject: None,
        evidence: format!("{percent} %"),
        figures: vec![("percent", json!(percent)), ("date", json!(day))],
        records: Vec::new(),
        problem: format!(
            "By the growing guide fresh fodder holds {percent} % of the seed's dry matter on {day}."
        ),
        fix: "Set a lower yield, or more water in fresh fodder.",
        since: day,
        weight: share,
    })
}

/// Dry matter out over dry matter in, by the guide of a day.
#[must_use]
pub fn guide_share(guide: &Guide, day: NaiveDate) -> f64 {
    let of = |name| guide.value(name, None, day) as f64;
    guide_dry_matter(
        of(GuideName::FreshKgPerKgSeed) / 1_000.0,
        of(GuideName::FodderWaterPercent) / 100_000.0,
        of(GuideName::SeedDryMatterPercent) / 100_000.0,
    )
}
