//! Suppliers of seed compared: price, germination, spoilage.

use crate::days::span;
use crate::error::AppError;
use crate::estimates::{kept_suppliers, tray_correlation};
use crate::seed::lots;
use crate::{Actor, App, Coop};
use chrono::NaiveDate;
use std::collections::{BTreeMap, HashMap, HashSet};
use traybook_analytics::spoilage::{self, Batch};
use traybook_analytics::stats::wilson_of_share;
use traybook_answers::Decimal;
use traybook_answers::seed::{SupplierComparison, SupplierLine};
use traybook_domain::Kind;
use traybook_domain::kinds::{SeedLot, SeedPurchase, Supplier};
use traybook_domain::people::authz::Task;
use traybook_domain::record::Record as _;
use traybook_domain::savings::money::mul_div;
use traybook_domain::time::{plus_days, start_of_day};
use traybook_domain::value::real;
use traybook_storage::Conn;
use traybook_storage::planning::batch_trays::{LotTrays, lot_trays};
use traybook_storage::records::{self, Filter, Visible};
use uuid::Uuid;

/// Days compared where no first day is given.
const DAYS: u64 = 365;
/// Longest comparison, days: prices of more than three years say nothing of today's supplier.
pub const DAYS_MAX: i64 = 1_096;
/// Batches from a supplier's seed below which nothing is said of its spoilage.
const BATCHES_MIN: usize = 10;
/// Farms on which these must have grown: the trays of one farm share its water and its care.
const FARMS_MIN: usize = 3;
/// How suppliers are compared.
const METHOD: &str = "prices include transport to the store; germination is weighted by kg; the \
    price of viable seed counts only deliveries with a test. Spoilage: trays lost of trays \
    begun in batches that are counted; 95 % interval of Wilson on the effective number of trays, \
    since trays of one batch share its fate (design effect 1 + (n - 1) φ, φ the correlation \
    between trays of a batch). No figure with fewer than 10 batches on 3 farms. Farms differ too: \
    seed-lot-evidence compares lots within farms";

/// Deliveries and batches of a lot, or of a supplier's lots together.
#[derive(Clone, Debug, Default)]
struct Tally {
    grams: i64,
    minor: i64,
    tested_g: i64,
    tested_minor: i64,
    /// Grams × hundredths of a per cent.
    viable: i128,
    trays: Vec<(i64, i64)>,
    farms: HashSet<Uuid>,
}

impl Tally {
    fn buy(&mut self, p: &SeedPurchase) {
        let minor = p.price + p.transport.unwrap_or(0);
        self.grams += p.kg;
        self.minor += minor;
        if let Some(percent) = p.germination_percent {
            self.tested_g += p.kg;
            self.tested_minor += minor;
            self.viable += i128::from(p.kg) * i128::from(percent);
        }
    }

    fn add(&mut self, other: &Self) {
        self.grams += other.grams;
        self.minor += other.minor;
        self.tested_g += other.tested_g;
        self.tested_minor += other.tested_minor;
        self.viable += other.viable;
        self.trays.extend(&other.trays);
        self.farms.extend(&other.farms);
    }

    /// Grams of seed that germinates, of deliveries with a test.
    fn viable_g(&self) -> i64 {
        i64::try_from(self.viable / 10_000).unwrap_or(i64::MAX)
    }

    /// Share of trays discarded with its interval; none below the minimum of data.
    fn spoilage(&self, correlation: f64) -> Option<Share> {
        if self.trays.len() < BATCHES_MIN || self.farms.len() < FARMS_MIN {
            return None;
        }
        share(&self.trays, correlation)
    }
}

/// A share of trays with its interval.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Share {
    value: f64,
    low: f64,
    high: f64,
}

/// Trays discarded of trays spread, by batch, with a 95 % interval.
///
/// # Source
/// Effective number of trays of a pooled share: `N² / Σ n (1 + (n − 1) φ)` (Kish 1965, Survey
/// Sampling, section 5.4; design effect); interval of Wilson 1927.
fn share(trays: &[(i64, i64)], correlation: f64) -> Option<Share> {
    let (mut all, mut bad, mut spread) = (0.0, 0.0, 0.0);
    for (n, d) in trays {
        let n = real(*n);
        all += n;
        bad += real(*d);
        spread += n * (1.0 + (n - 1.0) * correlation);
    }
    if spread <= 0.0 {
        return None;
    }
    let value = bad / all;
    let interval = wilson_of_share(value, all * all / spread)?;
    Some(Share { value, low: interval.lower, high: interval.upper })
}

impl App {
    /// Suppliers and their lots by what was delivered from one day to another, by name: of the usual
    /// days as figures were last made, of others as records are now.
    ///
    /// # Errors
    /// `Forbidden`; `Invalid` for wrong or too many days.
    pub async fn supplier_comparison(
        &self,
        actor: &Actor,
        from: Option<String>,
        to: Option<String>,
    ) -> Result<SupplierComparison, AppError> {
        actor.task(Task::SupplierComparison)?;
        let now = self.now();
        let today = actor.coop.today(now);
        let days = span(from.as_deref(), to.as_deref(), today, DAYS, DAYS_MAX)?;
        let coop = actor.coop.clone();
        self.store
            .read(move |conn| {
                let kept = kept_suppliers(conn, coop.number)?;
                if let Some(kept) = kept.filter(|kept| (kept.from, kept.to) == days) {
                    return Ok(kept);
                }
                let correlation = tray_correlation(conn, coop.number)?;
                compare(conn, &coop, days, correlation)
            })
            .await
    }
}

/// The comparison that is asked for without days, as figures are made.
pub(crate) fn compare_usual(
    conn: &mut Conn,
    coop: &Coop,
    today: NaiveDate,
    correlation: f64,
) -> Result<SupplierComparison, AppError> {
    compare(conn, coop, span(None, None, today, DAYS, DAYS_MAX)?, Some(correlation))
}

fn compare(
    conn: &mut Conn,
    coop: &Coop,
    days: (NaiveDate, NaiveDate),
    kept_correlation: Option<f64>,
) -> Result<SupplierComparison, AppError> {
    let (number, zone) = (coop.number, coop.zone);
    let since = start_of_day(days.0, zone).0;
    let until = start_of_day(plus_days(days.1, 1), zone).0;
    let (from, to) = (Some((days.0, since)), Some((days.1, until)));
    let filter = Filter { from, to, ..Filter::default() };
    let (all, kind) = (Visible::All, Kind::SeedPurchase);
    let bought = records::page(conn, number, kind, &all, &filter, None, 100_000)?;
    let mut tallies: BTreeMap<Uuid, Tally> = BTreeMap::new();
    for p in bought.iter().filter_map(|r| SeedPurchase::from_values(&r.values)) {
        tallies.entry(p.seed_lot_id).or_default().buy(&p);
    }
    let over = lot_trays(conn, number, since)?;
    let correlation = kept_correlation.unwrap_or_else(|| correlation(&over));
    for b in &over {
        if let Some(tally) = b.lot.and_then(|lot| tallies.get_mut(&lot)) {
            tally.trays.push((b.begun, b.lost));
            tally.farms.insert(b.farm);
        }
    }
    let (lots, names) = (lots(conn, number)?, suppliers(conn, number)?);
    let table = Table { lots, names, correlation, digits: coop.digits };
    let (items, sentence) = table.items(&tallies);
    Ok(SupplierComparison {
        from: days.0,
        to: days.1,
        currency: coop.currency.clone(),
        revision: None,
        made_at: None,
        method: METHOD.to_owned(),
        tray_correlation: (correlation * 1000.0).round() / 1000.0,
        sentence,
        items,
    })
}

fn correlation(batches: &[LotTrays]) -> f64 {
    let mut by_farm: HashMap<Uuid, Vec<Batch>> = HashMap::new();
    let count = |n: i64| u32::try_from(n.max(0)).unwrap_or(u32::MAX);
    for b in batches {
        by_farm.entry(b.farm).or_default().push(Batch {
            day: 0,
            started: count(b.begun),
            discarded: count(b.lost),
            lot: None,
            temperature_class: None,
        });
    }
    let mut farms: Vec<(Uuid, Vec<Batch>)> = by_farm.into_iter().collect();
    farms.sort_unstable_by_key(|f| f.0);
    let farms: Vec<Vec<Batch>> = farms.into_iter().map(|f| f.1).collect();
    spoilage::tray_correlation(&farms)
}

fn suppliers(conn: &mut Conn, number: i64) -> Result<HashMap<Uuid, String>, AppError> {
    let (all, filter) = (Visible::All, Filter { withdrawn: true, ..Filter::default() });
    let found = records::page(conn, number, Kind::Supplier, &all, &filter, None, 100_000)?;
    let named = found.iter().filter_map(|r| Some((r.id, Supplier::from_values(&r.values)?.name)));
    Ok(named.collect())
}

/// How tallies are shown.
struct Table {
    lots: HashMap<Uuid, SeedLot>,
    names: HashMap<Uuid, String>,
    correlation: f64,
    digits: u8,
}

impl Table {
    /// Each supplier, by name, followed by its lots, by code; and what can be said of them all.
    fn items(&self, tallies: &BTreeMap<Uuid, Tally>) -> (Vec<SupplierLine>, String) {
        type Lot<'a> = (&'a str, Uuid, &'a Tally);
        let mut suppliers: BTreeMap<(String, Option<Uuid>), Vec<Lot<'_>>> = BTreeMap::new();
        for (id, tally) in tallies {
            let lot = self.lots.get(id);
            let supplier = lot.and_then(|l| l.supplier_id);
            let name = supplier.and_then(|s| self.names.get(&s)).cloned();
            let name = name.unwrap_or_else(|| "supplier not recorded".to_owned());
            let code = lot.map_or("", |l| l.code.as_str());
            suppliers.entry((name, supplier)).or_default().push((code, *id, tally));
        }
        let (mut items, mut shares) = (Vec::new(), Vec::new());
        for ((name, supplier), mut lots) in suppliers {
            lots.sort_unstable_by_key(|l| (l.0.to_owned(), l.1));
            let mut total = Tally::default();
            lots.iter().for_each(|l| total.add(l.2));
            items.push(self.line((supplier, &name), None, &total));
            for (_, id, tally) in &lots {
                items.push(self.line((supplier, &name), Some(*id), tally));
            }
            if supplier.is_some() {
                shares.push((name, total.spoilage(self.correlation)));
            }
        }
        (items, verdict(&shares))
    }

    fn line(
        &self,
        (supplier_id, supplier): (Option<Uuid>, &str),
        lot: Option<Uuid>,
        t: &Tally,
    ) -> SupplierLine {
        let known = lot.and_then(|l| self.lots.get(&l));
        let money = |minor: i64| Decimal::new(minor, self.digits);
        let per_kg = |minor: i64, grams: i64| mul_div(minor, 1_000, grams).map(money);
        let germination = mul_div(t.viable_g(), 10_000, t.tested_g);
        let share = t.spoilage(self.correlation);
        let percent = |x: f64| (x * 1000.0).round() / 10.0;
        SupplierLine {
            seed_lot_id: lot,
            seed_lot: known.map(|l| l.code.clone()),
            crop: known.map(|l| l.crop.clone()),
            kg: Decimal::kg(t.grams),
            price_per_kg: per_kg(t.minor, t.grams),
            tested_kg: Decimal::kg(t.tested_g),
            germination_percent: germination.map(Decimal::percent),
            price_per_kg_viable: per_kg(t.tested_minor, t.viable_g()),
            batches: t.trays.len(),
            farms: t.farms.len(),
            trays_spread: t.trays.iter().map(|b| b.0).sum(),
            trays_discarded: t.trays.iter().map(|b| b.1).sum(),
            spoilage_percent: share.map(|s| percent(s.value)),
            spoilage_low: share.map(|s| percent(s.low)),
            spoilage_high: share.map(|s| percent(s.high)),
            sentence: match share {
                Some(s) => format!(
                    "{} % of trays were discarded, between {} % and {} %",
                    percent(s.value),
                    percent(s.low),
                    percent(s.high)
                ),
                None => format!(
                    "cannot tell yet: {} batches on {} farms; it takes {BATCHES_MIN} on {FARMS_MIN}",
                    t.trays.len(),
                    t.farms.len()
                ),
            },
            supplier_id,
            supplier: supplier.to_owned(),
        }
    }
}

/// One supplier is named only when its interval lies apart from every other's.
fn verdict(shares: &[(String, Option<Share>)]) -> String {
    let known: Vec<(&str, Share)> =
        shares.iter().filter_map(|(n, s)| Some((n.as_str(), (*s)?))).collect();
    if known.len() < 2 {
        return "cannot tell yet: fewer than two suppliers have enough batches to compare"
            .to_owned();
    }
    let apart = |name: &str, below: &dyn Fn(&Share, &Share) -> bool| {
        let own = known.iter().find(|k| k.0 == name).map(|k| k.1);
        own.is_some_and(|own| known.iter().all(|(n, s)| *n == name || below(&own, s)))
    };
    for (name, _) in &known {
        if apart(name, &|own, other| own.high < other.low) {
            return format!("trays of seed from {name} spoiled less often than all others");
        }
        if apart(name, &|own, other| own.low > other.high) {
            return format!("trays of seed from {name} spoiled more often than all others");
        }
    }
    "cannot tell yet: the intervals overlap, no supplier's seed is known to spoil less".to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_tray_a_batch_is_the_plain_interval() {
        // Newcombe 1998, Stat. Med. 17:857, table I, method 3 [MEM]: 81 of 263: 0.2553 to 0.3662.
        let trays: Vec<(i64, i64)> = (0..263).map(|i| (1, i64::from(i < 81))).collect();
        let got = share(&trays, 0.15).expect("a share");
        assert!((got.low - 0.2553).abs() < 5e-5 && (got.high - 0.3662).abs() < 5e-5, "{got:?}");
    }

    #[test]
    fn trays_of_one_batch_count_for_less() {
        // [ARITH] Kish: 20 batches of 5, φ = 0.1: design effect 1.4, 100 trays count as 71.4.
        let trays: Vec<(i64, i64)> = (0..20).map(|i| (5, i64::from(i % 4 == 0) * 2)).collect();
        let got = share(&trays, 0.1).expect("a share");
        let want = wilson_of_share(0.1, 100.0 / 1.4).expect("an interval");
        assert!((got.low - want.lower).abs() < 1e-12 && (got.high - want.upper).abs() < 1e-12);
        assert_eq!(share(&[], 0.1), None);
    }

    #[test]
    fn no_supplier_is_named_while_intervals_overlap() {
        let s = |low: f64, high: f64| Some(Share { value: (low + high) / 2.0, low, high });
        let said =
            |b: Option<Share>| verdict(&[("A".to_owned(), s(0.02, 0.06)), ("B".to_owned(), b)]);
        assert!(said(s(0.05, 0.2)).starts_with("cannot tell yet"));
        assert!(said(None).starts_with("cannot tell yet"));
        assert_eq!(said(s(0.07, 0.2)), "trays of seed from A spoiled less often than all others");
    }
}
