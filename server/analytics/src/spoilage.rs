//! Who keeps spoiling? A chart of each farm's batches that three bad batches can raise and one
//! cannot.

use serde::Serialize;
use statrs::function::gamma::ln_gamma;

use crate::limits::TRAYS_MAX;
use crate::parallel::map_chunks;

/// One batch of trays, in the farm's date order (ties: batch id).
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Batch {
    /// Trays started.
    pub started: u32,
    /// Trays discarded, not above `started`.
    pub discarded: u32,
    /// Position of the batch's temperature class; none when the temperature is not known.
    pub temperature_class: Option<u8>,
}

impl Batch {
    /// A batch that can be counted: some trays, not more thrown away than started.
    fn is_valid(&self) -> bool {
        (1..=TRAYS_MAX).contains(&self.started) && self.discarded <= self.started
    }
}

/// Constants of the chart. [`SpoilageRules::default`] is the house rule.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SpoilageRules {
    /// Discard share of a farm in order.
    pub share_ok: f64,
    /// Discard share that must be found.
    pub share_bad: f64,
    /// Chart value that raises the flag.
    pub flag_at: f64,
    /// Most that one batch adds to the chart: a third of `flag_at`.
    pub step_max: f64,
    /// Largest chart value, so that a flag can come down again.
    pub chart_max: f64,
    /// Usable batches below which nothing is said.
    pub batches_min: usize,
    /// Trays below which a batch is not used.
    pub trays_min: u32,
    /// A last batch less likely than this is called out by itself.
    pub one_bad_p: f64,
    /// Least correlation between trays of a batch.
    pub correlation_min: f64,
    /// Largest correlation between trays of a batch.
    pub correlation_max: f64,
    /// Correlation with too few farms to estimate it.
    pub correlation_default: f64,
    /// Batches with a larger discard share are left out of the correlation.
    pub trim_share: f64,
}

impl Default for SpoilageRules {
    fn default() -> Self {
        Self {
            share_ok: 0.04,
            share_bad: 0.15,
            flag_at: 6.0,
            step_max: 2.0,
            chart_max: 9.0,
            batches_min: 5,
            trays_min: 4,
            one_bad_p: 0.001,
            correlation_min: 0.02,
            correlation_max: 0.15,
            correlation_default: 0.05,
            trim_share: 0.35,
        }
    }
}

/// Farms with at least three batches that the pooled correlation needs.
const CORRELATION_FARMS_MIN: usize = 10;
/// Trays at the overall share that each temperature class is mixed with.
const CLASS_TRAYS_ADDED: f64 = 1000.0;
/// Largest shares after the temperature multiplier.
const SHARES_CAP: (f64, f64) = (0.5, 0.6);
/// Batches a flag needs before it can be raised.
const FLAG_BATCHES_MIN: usize = 3;

/// What is said of a farm.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum SpoilageStatus {
    /// The flag is up: batch after batch spoils.
    Recurring,
    /// Too few usable batches.
    InsufficientData,
    /// The last batch alone is very unlikely for a farm in order.
    OneBadBatch,
    /// The chart is half way to the flag.
    Watch,
    /// Nothing stands out.
    Ok,
}

/// A farm's chart.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct SpoilageChart {
    /// What is said of the farm now.
    pub status: SpoilageStatus,
    /// Chart value after each batch, used or not.
    pub path: Vec<f64>,
    /// Chart value now.
    pub value: f64,
    /// Batch that raised the flag that is up now.
    pub flagged_since: Option<usize>,
    /// Batch that raised the first flag ever.
    pub flagged_first: Option<usize>,
    /// Batches used.
    pub batches_used: usize,
    /// Probability of at least so many discards as in the last used batch, on a farm in order;
    /// 1 without one.
    pub last_p: f64,
}

impl SpoilageChart {
    /// Batches that raised the flag that is up now: from the first after the chart was last at 0
    /// to the one that raised it.
    ///
    /// # Shape
    /// Positions of batches, used or not; none without a flag.
    pub fn raised_by(&self) -> Option<std::ops::RangeInclusive<usize>> {
        let last = self.flagged_since?;
        let before = self.path.iter().take(last).rposition(|value| *value <= 0.0);
        Some(before.map_or(0, |zero| zero + 1)..=last)
    }
}

/// All farms' charts and what they share.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Spoilage {
    /// Correlation between trays of a batch.
    pub correlation: f64,
    /// Multiplier of each temperature class, by position; 1 for a class not seen.
    pub class_multipliers: Vec<f64>,
    /// One chart a farm, in the order given.
    pub farms: Vec<SpoilageChart>,
}

/// Beta-binomial distribution of discards in a batch, by table.
///
/// # Units
/// `share` is the mean discard share, `correlation` that between trays: `a = share s`,
/// `b = (1 - share) s`, `s = (1 - correlation) / correlation`.
///
/// # Source
/// Skellam 1948, J. R. Stat. Soc. B 10:257; Williams 1982, Appl. Stat. 31:144.
#[derive(Debug, Clone)]
pub struct BetaBinomial {
    /// `ln (a (a + 1) … (a + k - 1))` by `k`.
    rising_a: Vec<f64>,
    rising_b: Vec<f64>,
    rising_s: Vec<f64>,
    factorial: Vec<f64>,
}

impl BetaBinomial {
    /// Tables for batches of up to `trays_max` trays (at most [`TRAYS_MAX`]).
    ///
    /// Shares are kept within `1e-9..1 - 1e-9` and correlations within `1e-6..0.999`.
    pub fn new(share: f64, correlation: f64, trays_max: u32) -> Self {
        let share = clamp_or(share, 1e-9, 1.0 - 1e-9, 0.5);
        let correlation = clamp_or(correlation, 1e-6, 0.999, 0.05);
        let s = (1.0 - correlation) / correlation;
        let rising = |from: f64| {
            let mut table = vec![0.0];
            let mut sum = 0.0;
            for k in 0..trays_max.min(TRAYS_MAX) {
                sum += (from + f64::from(k)).ln();
                table.push(sum);
            }
            table
        };
        Self {
            rising_a: rising(share * s),
            rising_b: rising((1.0 - share) * s),
            rising_s: rising(s),
            factorial: rising(1.0),
        }
    }

    /// Logarithm of the probability of `d` discards in `n` trays; none outside the tables.
    pub fn ln_probability(&self, d: u32, n: u32) -> Option<f64> {
        let (d, n) = (d as usize, n as usize);
        let kept = n.checked_sub(d)?;
        let whole = self.factorial.get(n)? - self.factorial[d] - self.factorial[kept];
        Some(whole + self.rising_a[d] + self.rising_b[kept] - self.rising_s[n])
    }

    /// Probability of at least `d` discards in `n` trays; 0 when `d` is above `n`.
    pub fn upper_tail(&self, d: u32, n: u32) -> f64 {
        let terms = (d..=n).filter_map(|k| self.ln_probability(k, n));
        terms.map(f64::exp).sum::<f64>().min(1.0)
    }

    /// `ln` of this probability over `other`'s; the shares of both must add to the same `s`.
    fn ln_ratio(&self, other: &Self, d: usize, kept: usize) -> f64 {
        (self.rising_a[d] - other.rising_a[d]) + (self.rising_b[kept] - other.rising_b[kept])
    }
}

fn clamp_or(x: f64, low: f64, high: f64, otherwise: f64) -> f64 {
    if x.is_nan() { otherwise } else { x.clamp(low, high) }
}

/// Correlation between trays of a batch, pooled inside farms.
///
/// Moment estimator: weighted squares of batch shares about the farm's share against their
/// expectation `pq (1 + (n - 1) rho)`, over farms with at least three batches. Batches with a
/// discard share above `trim_share` are left out: isolated disasters would inflate the
/// correlation and blunt the chart.
///
/// # Units
/// Correlation, kept within the limits of the rules.
///
/// # Shape
/// `correlation_default` with fewer than ten usable farms.
///
/// # Source
/// Williams 1982, Appl. Stat. 31:144 (moments of overdispersed shares).
pub fn tray_correlation<B: AsRef<[Batch]> + Sync>(farms: &[B], rules: &SpoilageRules) -> f64 {
    let parts = map_chunks(farms.len(), |range| {
        let moments = farms[range].iter().filter_map(|b| farm_moments(b.as_ref(), rules));
        moments.fold((0.0, 0.0, 0), |(a, b, k), (num, den)| (a + num, b + den, k + 1))
    });
    let total = parts
        .into_iter()
        .fold((0.0, 0.0, 0_usize), |(a, b, k), (num, den, farms)| (a + num, b + den, k + farms));
    let (numerator, denominator, farms_used) = total;
    if farms_used < CORRELATION_FARMS_MIN || denominator <= 0.0 {
        return rules.correlation_default;
    }
    (numerator / denominator).max(rules.correlation_min).min(rules.correlation_max)
}

fn farm_moments(batches: &[Batch], rules: &SpoilageRules) -> Option<(f64, f64)> {
    let is_used = |b: &&Batch| {
        b.is_valid() && f64::from(b.discarded) <= rules.trim_share * f64::from(b.started)
    };
    let used = || batches.iter().filter(is_used);
    if used().count() < 3 {
        return None;
    }
    let trays: f64 = used().map(|b| f64::from(b.started)).sum();
    let share = used().map(|b| f64::from(b.discarded)).sum::<f64>() / trays;
    let pq = share * (1.0 - share);
    if pq <= 0.0 {
        return None;
    }
    let (mut square, mut leverage, mut correlated) = (0.0, 0.0, 0.0);
    for batch in used() {
        let n = f64::from(batch.started);
        let left = 1.0 - n / trays;
        square += n * (f64::from(batch.discarded) / n - share).powi(2);
        leverage += left;
        correlated += left * (n - 1.0);
    }
    Some((square - pq * leverage, pq * correlated))
}

/// Multiplier of the discard share of each temperature class, shrunk towards 1.
///
/// `(d + 1000 P) / (n + 1000) / P` for `d` of `n` trays of the class and the overall share `P`,
/// kept within 0.5 to 2.
///
/// # Shape
/// By class position up to the largest seen; 1 for a class without batches, or when nothing was
/// discarded at all.
///
/// # Source
/// House rule: heat is not the farm's fault; shrinkage as a binomial share with prior trays.
pub fn class_multipliers<B: AsRef<[Batch]>>(farms: &[B]) -> Vec<f64> {
    let batches = || farms.iter().flat_map(|f| f.as_ref()).filter(|b| b.is_valid());
    let (mut sums, mut trays, mut discards) = (Vec::new(), 0.0, 0.0);
    for batch in batches() {
        let (n, d) = (f64::from(batch.started), f64::from(batch.discarded));
        trays += n;
        discards += d;
        if let Some(class) = batch.temperature_class.map(usize::from) {
            if sums.len() <= class {
                sums.resize(class + 1, (0.0, 0.0));
            }
            sums[class].0 += n;
            sums[class].1 += d;
        }
    }
    let share: f64 = discards / trays;
    let multiplier = |(n, d): &(f64, f64)| {
        if *n <= 0.0 || discards <= 0.0 {
            return 1.0;
        }
        let mixed = (d + CLASS_TRAYS_ADDED * share) / (n + CLASS_TRAYS_ADDED);
        (mixed / share).clamp(0.5, 2.0)
    };
    sums.iter().map(multiplier).collect()
}

/// Charts all farms against the share of a farm in order.
///
/// # Units
/// Chart values are logarithms of likelihood ratios.
///
/// # Shape
/// One chart a farm; a farm without batches has `insufficient_data`. At least `batches_min`
/// used batches for any other status but `recurring`.
///
/// # Source
/// Page 1954, Biometrika 41:100 (cumulative sum); Lucas & Crosier 1982, Commun. Stat. A 11:2669
/// (robust against single outliers); SPEC B.
///
/// # Example
/// ```
/// use traybook_analytics::spoilage::{Batch, SpoilageRules, SpoilageStatus, spoilage};
///
/// let batch = |discarded| Batch { started: 20, discarded, temperature_class: None };
/// let in_order = [0, 1, 0, 0, 1, 0, 0, 1].map(batch);
/// let once = [0, 1, 0, 0, 1, 0, 12, 0].map(batch);
/// let often = [0, 1, 0, 0, 7, 6, 8, 7].map(batch);
/// let charts = spoilage(&[in_order, once, often], &SpoilageRules::default()).farms;
/// assert_eq!(charts[0].status, SpoilageStatus::Ok);
/// assert_ne!(charts[1].status, SpoilageStatus::Recurring);
/// assert_eq!(charts[2].status, SpoilageStatus::Recurring);
/// ```
pub fn spoilage<B: AsRef<[Batch]> + Sync>(farms: &[B], rules: &SpoilageRules) -> Spoilage {
    let correlation = tray_correlation(farms, rules);
    let class_multipliers = class_multipliers(farms);
    let chart = Chart::new(farms, rules, correlation, &class_multipliers);
    let charts = map_chunks(farms.len(), |range| {
        farms[range].iter().map(|b| chart.run(b.as_ref(), |_| true)).collect::<Vec<_>>()
    });
    Spoilage { correlation, class_multipliers, farms: charts.into_iter().flatten().collect() }
}

/// Charts one farm with the correlation and multipliers of all farms.
///
/// # Shape
/// As one chart of [`spoilage`] where these were made with the farm's batches among them.
pub fn chart_of_farm(batches: &[Batch], all: &Spoilage, rules: &SpoilageRules) -> SpoilageChart {
    let chart = Chart::new(&[batches], rules, all.correlation, &all.class_multipliers);
    chart.run(batches, |_| true)
}

/// Whether a flag was the seed's doing, when bad lots are known.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum FlagCause {
    /// Without batches of the named lots there is no flag: show `recurring (seed lot)`.
    SeedLot,
    /// The flag stays without them.
    Farm,
}

/// Replays a flagged farm's chart without the batches of bad lots.
///
/// # Shape
/// `is_bad_lot` tells of each batch whether its seed was of a named lot; batches beyond its end
/// are not. None when the farm is not flagged or no batch of it is of a named lot.
///
/// # Source
/// SPEC B: a flag that goes away without the lots is the lots'.
pub fn flag_cause(
    batches: &[Batch],
    is_bad_lot: &[bool],
    all: &Spoilage,
    rules: &SpoilageRules,
) -> Option<FlagCause> {
    let chart = Chart::new(&[batches], rules, all.correlation, &all.class_multipliers);
    let is_bad = |k: usize| is_bad_lot.get(k).copied().unwrap_or(false);
    let is_flagged = chart.run(batches, |_| true).status == SpoilageStatus::Recurring;
    if !is_flagged || !(0..batches.len()).any(is_bad) {
        return None;
    }
    let without = chart.run(batches, |k| !is_bad(k));
    let is_still_flagged = without.status == SpoilageStatus::Recurring;
    Some(if is_still_flagged { FlagCause::Farm } else { FlagCause::SeedLot })
}

/// One step of the chart: the batch's evidence, capped, added to what stands, within 0 and max.
///
/// # Source
/// Page 1954; the cap after Lucas & Crosier 1982.
pub fn chart_step(value: f64, evidence: f64, rules: &SpoilageRules) -> f64 {
    (value + evidence.min(rules.step_max)).max(0.0).min(rules.chart_max)
}

struct Chart<'a> {
    rules: &'a SpoilageRules,
    /// In order and bad, for batches without a class and then for each class.
    tables: Vec<(BetaBinomial, BetaBinomial)>,
}

impl<'a> Chart<'a> {
    fn new<B: AsRef<[Batch]>>(
        farms: &[B],
        rules: &'a SpoilageRules,
        correlation: f64,
        multipliers: &[f64],
    ) -> Self {
        let valid = farms.iter().flat_map(|f| f.as_ref()).filter(|b| b.is_valid());
        let trays = valid.map(|b| b.started).max().unwrap_or(0);
        let table = |m: f64| {
            let ok = (rules.share_ok * m).min(SHARES_CAP.0);
            let bad = (rules.share_bad * m).min(SHARES_CAP.1);
            let at = |share| BetaBinomial::new(share, correlation, trays);
            (at(ok), at(bad))
        };
        let tables = std::iter::once(1.0).chain(multipliers.iter().copied()).map(table);
        Self { rules, tables: tables.collect() }
    }

    fn table(&self, batch: &Batch) -> &(BetaBinomial, BetaBinomial) {
        let class = batch.temperature_class.map_or(0, |c| usize::from(c) + 1);
        self.tables.get(class).unwrap_or(&self.tables[0])
    }

    fn run(&self, batches: &[Batch], is_kept: impl Fn(usize) -> bool) -> SpoilageChart {
        let rules = self.rules;
        let (mut value, mut used, mut last) = (0.0, 0, None);
        let (mut flagged_since, mut flagged_first) = (None, None);
        let mut path = Vec::with_capacity(batches.len());
        for (k, batch) in batches.iter().enumerate() {
            if batch.is_valid() && batch.started >= rules.trays_min && is_kept(k) {
                used += 1;
                last = Some(batch);
                let (ok, bad) = self.table(batch);
                let kept = (batch.started - batch.discarded) as usize;
                let evidence = bad.ln_ratio(ok, batch.discarded as usize, kept);
                value = chart_step(value, evidence, rules);
                let is_up = flagged_since.is_some();
                if !is_up && value >= rules.flag_at && used >= FLAG_BATCHES_MIN {
                    flagged_since = Some(k);
                    flagged_first = flagged_first.or(Some(k));
                } else if is_up && value <= 0.0 {
                    flagged_since = None;
                }
            }
            path.push(value);
        }
        let tail = |b: &Batch| self.table(b).0.upper_tail(b.discarded, b.started);
        let last_p = last.map_or(1.0, tail);
        let status = if flagged_since.is_some() {
            SpoilageStatus::Recurring
        } else if used < rules.batches_min {
            SpoilageStatus::InsufficientData
        } else if last_p < rules.one_bad_p {
            SpoilageStatus::OneBadBatch
        } else if value >= rules.flag_at / 2.0 {
            SpoilageStatus::Watch
        } else {
            SpoilageStatus::Ok
        };
        let batches_used = used;
        SpoilageChart { status, path, value, flagged_since, flagged_first, batches_used, last_p }
    }
}

/// Logarithm of the beta-binomial probability by gamma functions, for a single value.
///
/// # Units
/// As [`BetaBinomial`], which is faster for many values.
///
/// # Shape
/// None when `d` is above `n` or the parameters are not within 0 and 1.
///
/// # Source
/// Skellam 1948.
pub fn beta_binomial_ln(d: u32, n: u32, share: f64, correlation: f64) -> Option<f64> {
    let is_inside = |x: f64| x > 0.0 && x < 1.0;
    if d > n || !is_inside(share) || !is_inside(correlation) {
        return None;
    }
    let s = (1.0 - correlation) / correlation;
    let (a, b, d, n) = (share * s, (1.0 - share) * s, f64::from(d), f64::from(n));
    let whole = ln_gamma(n + 1.0) - ln_gamma(d + 1.0) - ln_gamma(n - d + 1.0);
    let top = ln_gamma(d + a) + ln_gamma(n - d + b) - ln_gamma(n + s);
    Some(whole + top - (ln_gamma(a) + ln_gamma(b) - ln_gamma(s)))
}
