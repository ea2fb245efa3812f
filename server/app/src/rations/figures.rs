//! Figures of a month: prices of feeds, and what fodder cost.

use crate::Coop;
use crate::error::AppError;
use crate::savings::{self, FarmFacts};
use std::collections::HashMap;
use std::sync::Arc;
use traybook_answers::rations::{FeedMissing, FeedValue, FodderMissing, FodderValue, PriceSource};
use traybook_answers::{Decimal, wire};
use traybook_domain::effects::{Measure, PRICE_MONTHS};
use traybook_domain::kinds::Feed;
use traybook_domain::planning::guide::GuideName;
use traybook_domain::record::Record as _;
use traybook_domain::savings::money::mul_div;
use traybook_domain::{Kind, Month};
use traybook_rations::feeds::Feed as PricedFeed;
use traybook_reports::savings::{median_prices, unit_price};
use traybook_storage::records::farm_rows::FarmRow;
use traybook_storage::records::{self, Filter, Visible};
use traybook_storage::{Conn, records::changes, savings::report_rows};
use uuid::Uuid;

/// A feed of the co-operative, in hundredths as recorded.
pub struct KnownFeed {
    pub id: Uuid,
    pub name: String,
    record: Feed,
}

impl KnownFeed {
    /// Dry matter, per cent.
    pub fn dry_matter(&self) -> Option<Decimal> {
        self.record.dry_matter_percent.map(Decimal::percent)
    }
    /// Crude protein, per cent of dry matter.
    pub fn crude_protein(&self) -> Option<Decimal> {
        self.record.crude_protein_percent.map(Decimal::percent)
    }
    /// MJ per kg of dry matter.
    pub fn energy(&self) -> Option<Decimal> {
        self.record.energy_mj_per_kg.map(|v| Decimal::new(v, 2))
    }
}

/// A price and where it comes from.
#[derive(Clone, Copy)]
pub struct Price {
    /// Minor units for 1,000 kg.
    per_tonne: i64,
    source: PriceSource,
    /// Month in which it was paid.
    month: Month,
}

impl Price {
    /// Currency units a kg.
    pub const fn per_kg(self, digits: u8) -> Decimal {
        Decimal::new(self.per_tonne, digits + 3)
    }
}

/// What a request may be filled with.
pub struct Figures {
    /// Feeds, by name.
    pub feeds: Vec<KnownFeed>,
    /// Number of the last change counted.
    pub data_version: i64,
    month: Option<Month>,
    farm: Option<Uuid>,
    own: HashMap<Uuid, i64>,
    /// Medians of the month and of those before it.
    medians: Vec<HashMap<Uuid, i64>>,
    /// The farms that the person sees, or the one asked for, once they were read
    /// ([`Figures::read_farms`]).
    farms: Vec<FarmFacts>,
    /// Dry matter of fodder (hundredths of a per cent) and of seed (thousandths).
    dry_matter: (i64, i64),
}

/// Sums of the farms that have all that is needed.
#[derive(Default)]
struct Grown {
    farms: i64,
    seed_g: i64,
    seed_minor: i64,
    other_minor: i64,
    fed_g: i64,
    started: i64,
    discarded: i64,
    missing: Vec<FodderMissing>,
}

/// Loads feeds, and where a month is asked for its prices.
///
/// # Errors
/// `Invalid` where the farm is none that the person sees.
pub fn load(
    conn: &mut Conn,
    coop: &Coop,
    visible: &Visible,
    month: Option<Month>,
    farm: Option<Uuid>,
) -> Result<Figures, AppError> {
    let number = coop.number;
    let all =
        records::page(conn, number, Kind::Feed, &Visible::All, &Filter::default(), None, 10_000)?;
    let known = |r: &records::Record| {
        let record = Feed::from_values(&r.values)?;
        Some(KnownFeed { id: r.id, name: record.name.clone(), record })
    };
    let mut feeds: Vec<KnownFeed> = all.iter().filter_map(known).collect();
    feeds.sort_by(|a, b| a.name.cmp(&b.name));
    let mut figures = Figures {
        feeds,
        data_version: changes::counters(conn, number)?.change_seq,
        month,
        farm,
        own: HashMap::new(),
        medians: Vec::new(),
        farms: Vec::new(),
        dry_matter: (0, 0),
    };
    let Some(month) = month else { return Ok(figures) };
    for back in 0..=PRICE_MONTHS {
        let rows = report_rows::feeds(conn, number, month.plus(-back), None)?;
        let rows: Vec<(Uuid, i64, i64)> = rows.into_iter().map(|(_, f, g, m)| (f, g, m)).collect();
        figures.medians.push(median_prices(rows.iter()));
        // Earlier months are asked where a feed has no price yet.
        let has_price = |f: &KnownFeed| figures.medians.iter().any(|m| m.contains_key(&f.id));
        if figures.feeds.iter().all(has_price) {
            break;
        }
    }
    if let Some(farm) = farm {
        figures.read_farms(conn, coop, visible, None)?;
        if figures.farms.is_empty() {
            let detail = "give the id of a farm that you see and that was there in the month";
            return Err(AppError::field("farm_id", "unknown_reference", detail));
        }
        let own = report_rows::feeds(conn, number, month, Some(&[farm]))?;
        let price = |(_, feed, grams, minor): (Uuid, Uuid, i64, i64)| {
            unit_price(grams, minor).map(|price| (feed, price))
        };
        figures.own = own.into_iter().filter_map(price).collect();
    }
    let (guide, day) = (coop.guide(conn)?, month.last_day());
    let seed = guide.value(GuideName::SeedDryMatterPercent, None, day);
    figures.dry_matter = (guide.fodder_dry_matter(day), seed);
    Ok(figures)
}

impl Figures {
    /// Reads what farms recorded in the month: for what their fodder cost. Whoever has read all farms
    /// gives them.
    pub fn read_farms(
        &mut self,
        conn: &mut Conn,
        coop: &Coop,
        visible: &Visible,
        all: Option<Vec<Arc<FarmRow>>>,
    ) -> Result<(), AppError> {
        if let Some(month) = self.month.filter(|_| self.farms.is_empty()) {
            let seen = match all {
                Some(farms) => (farms, None),
                None => savings::seen_farms(conn, coop.number, visible)?,
            };
            self.farms = savings::load(conn, coop, month, seen)?;
            self.farms.retain(|f| self.farm.is_none_or(|farm| f.farm == farm));
        }
        Ok(())
    }

    /// The price of a feed by the rule of the savings report.
    pub fn price(&self, feed: Uuid) -> Option<Price> {
        let month = self.month?;
        if let Some(own) = self.own.get(&feed) {
            return Some(Price { per_tonne: *own, source: PriceSource::Own, month });
        }
        for (back, median) in (0..=PRICE_MONTHS).zip(&self.medians) {
            if let Some(price) = median.get(&feed) {
                let source = match back {
                    0 => PriceSource::Median,
                    _ => PriceSource::EarlierMedian,
                };
                return Some(Price { per_tonne: *price, source, month: month.plus(-back) });
            }
        }
        None
    }

    /// A feed with what its nutrients cost, and what is missing.
    pub fn feed_row(&self, feed: &KnownFeed, digits: u8) -> FeedValue {
        let price = self.price(feed.id);
        let number = |value: Option<Decimal>| value.map(Decimal::real);
        let value = PricedFeed {
            name: feed.name.clone(),
            price: number(price.map(|p| p.per_kg(digits))),
            dry_matter_percent: number(feed.dry_matter()),
            crude_protein_percent: number(feed.crude_protein()),
            energy_mj_per_kg: number(feed.energy()),
            ..PricedFeed::default()
        };
        let missing = [
            (value.price.is_none(), FeedMissing::Price),
            (value.dry_matter_percent.is_none(), FeedMissing::DryMatter),
            (value.crude_protein_percent.is_none(), FeedMissing::CrudeProtein),
            (value.energy_mj_per_kg.is_none(), FeedMissing::Energy),
        ];
        let costs = value.value();
        FeedValue {
            feed_id: feed.id,
            feed: feed.name.clone(),
            price_is: price.map(|p| p.source),
            price_month: price.map(|p| wire::Month(p.month)),
            dry_matter_percent: feed.dry_matter(),
            cost_per_kg_fresh: costs.cost_per_kg_fresh,
            cost_per_kg_dry_matter: costs.cost_per_kg_dry_matter,
            cost_per_kg_protein: costs.cost_per_kg_protein,
            cost_per_mj: costs.cost_per_mj,
            missing: missing.iter().filter(|(is, _)| *is).map(|(_, what)| *what).collect(),
        }
    }

    /// Fodder of the farms that recorded all that is needed: seed with its price, and what was fed.
    fn grown(&self) -> Grown {
        let mut all = Grown::default();
        let (mut unpriced, mut unfed, mut unweighed) = (false, false, false);
        for farm in &self.farms {
            let of = |m: Measure| farm.sums.and_then(|s| s.get(m.index()).copied()).unwrap_or(0);
            if of(Measure::SeedG) <= 0 {
                continue;
            }
            let Some(seed_minor) = farm.seed_minor else {
                unpriced = true;
                continue;
            };
            // What was fed by the tray has a cost and no weight.
            if farm.fed_unweighed_trays > 0 {
                unweighed = true;
                continue;
            }
            if of(Measure::FedG) <= 0 {
                unfed = true;
                continue;
            }
            all.farms += 1;
            all.seed_g += of(Measure::SeedG);
            all.seed_minor += seed_minor;
            all.other_minor += of(Measure::OtherCost) + farm.depreciation_minor;
            all.fed_g += of(Measure::FedG);
            all.started += of(Measure::TraysStarted);
            all.discarded += of(Measure::TraysDiscarded);
        }
        if all.farms == 0 {
            let none = !unpriced && !unfed && !unweighed;
            let why = [
                (none, FodderMissing::Seed),
                (unpriced, FodderMissing::SeedPrice),
                (unfed, FodderMissing::FedOut),
                (unweighed, FodderMissing::Weight),
            ];
            all.missing = why.iter().filter(|(is, _)| *is).map(|(_, what)| *what).collect();
        }
        all
    }

    /// The own fodder as a row beside the feeds. Protein and energy are in no record.
    pub fn fodder_row(&self, digits: u8) -> FodderValue {
        let grown = self.grown();
        let cost = grown.seed_minor + grown.other_minor;
        let dry_g = mul_div(grown.fed_g, self.dry_matter.0, 10_000).unwrap_or(0);
        let per = |grams: i64| {
            let known = grown.farms > 0 && grams > 0;
            let fine = if known { mul_div(cost, 100_000, grams) } else { None };
            fine.map(|v| Decimal::new(v, digits + 2))
        };
        let known = |value: Decimal| Some(value).filter(|_| grown.farms > 0);
        FodderValue {
            farm_id: self.farm,
            farms: grown.farms,
            cost: known(Decimal::new(cost, digits)),
            seed_kg: known(Decimal::kg(grown.seed_g)),
            fresh_fodder_fed_kg: known(Decimal::kg(grown.fed_g)),
            dry_matter_fed_kg: known(Decimal::kg(dry_g)),
            dry_matter_percent: Decimal::percent(self.dry_matter.0),
            cost_per_kg_fresh_misleading: per(grown.fed_g),
            cost_per_kg_dry_matter: per(dry_g),
            cost_per_kg_protein: None,
            cost_per_mj: None,
            missing: grown.missing.into_iter().chain([FodderMissing::ProteinAndEnergy]).collect(),
        }
    }

    /// What the month of a farm, or of all farms that are seen, tells of the fodder, by the names of the request for break-even.
    pub fn fodder_figures(&self, digits: u8) -> Vec<(&'static str, Decimal)> {
        if self.month.is_none() {
            return Vec::new();
        }
        let mut known = vec![
            ("seed_dry_matter_percent", Decimal::new(self.dry_matter.1, 3)),
            ("fodder_dry_matter_percent", Decimal::new(self.dry_matter.0, 2)),
        ];
        let grown = self.grown();
        if grown.farms == 0 {
            return known;
        }
        known.push(("seed_kg", Decimal::new(grown.seed_g, 3)));
        known.push(("other_cost", Decimal::new(grown.other_minor, digits)));
        if let Some(price) = unit_price(grown.seed_g, grown.seed_minor) {
            known.push(("seed_price", Decimal::new(price, digits + 3)));
        }
        // Trays discarded of those started; where none was started the share is not known.
        if grown.started > 0 && grown.discarded < grown.started {
            let kept = grown.started - grown.discarded;
            // Six places, so that what is fed comes out again as it was recorded.
            let fed_mg = grown.fed_g.checked_mul(1_000);
            let fresh = fed_mg.and_then(|mg| mul_div(mg, grown.started, kept));
            let spoiled = mul_div(grown.discarded, 100_000_000, grown.started);
            known.extend(spoiled.map(|s| ("spoiled_percent", Decimal::new(s, 6))));
            known.extend(fresh.map(|f| ("fresh_kg", Decimal::new(f, 6))));
        }
        known
    }
}
