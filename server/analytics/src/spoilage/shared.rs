//! What the charts of all farms share: how trays hang together, and what loss is accepted.

use super::{Batch, LOT_BAD, LotLevels, SHARE_OK_MIN};
use crate::parallel::map_chunks;
use crate::stats::median;

/// Limits of the correlation between trays of a batch.
const CORRELATION_RANGE: (f64, f64) = (0.02, 0.15);
/// Correlation with too few farms to estimate it.
const CORRELATION_DEFAULT: f64 = 0.05;
/// Farms that a pooled correlation needs.
pub const CORRELATION_FARMS_MIN: usize = 10;
/// Batches of a farm, or blocks of days, that a correlation needs.
const CORRELATION_BATCHES_MIN: usize = 3;
/// Trays below which a batch says nothing of the correlation: two lost of three are chance.
const CORRELATION_TRAYS_MIN: u32 = 4;
/// A batch that lost a larger share, and more than two trays, is a disaster by itself: it would
/// blunt every chart.
const TRIM: (f64, f64) = (0.35, 2.0);
/// Days whose batches hang together.
pub(super) const SERIAL_DAYS: i64 = 28;
/// Largest share lost of farms that bad weeks are looked for on.
const SERIAL_SHARE_MAX: f64 = 0.10;
/// Largest expected share of a batch.
const EXPECTED_MAX: f64 = 0.5;
/// Trays at the overall share that each temperature class is mixed with.
const CLASS_TRAYS_ADDED: f64 = 1000.0;
/// Days of batches, trays of a farm and farms that the accepted share is taken from.
const LEVEL: (i64, u64, usize) = (365, 60, 10);
/// The accepted share is so many times the median farm's.
const LEVEL_FACTOR: f64 = 1.25;
/// Largest share that is accepted.
const SHARE_OK_MAX: f64 = 0.08;

/// Adds moments of farms in a fixed order; the ratio, when enough farms have one.
fn pooled<F>(farms: usize, farms_min: usize, moments: F) -> Option<f64>
where
    F: Fn(usize) -> Option<(f64, f64)> + Sync,
{
    let parts = map_chunks(farms, |range| {
        let each = range.filter_map(&moments);
        each.fold((0.0, 0.0, 0), |(a, b, k), (num, den)| (a + num, b + den, k + 1_usize))
    });
    let total = parts.into_iter().fold((0.0, 0.0, 0), |(a, b, k), p| (a + p.0, b + p.1, k + p.2));
    let (numerator, denominator, used) = total;
    (used >= farms_min && denominator > 0.0).then(|| numerator / denominator)
}

/// Correlation between trays of a batch, pooled inside farms.
///
/// Moment estimator: weighted squares of batch shares about the farm's share against their
/// expectation `pq (1 + (n - 1) rho)`.
///
/// # Shape
/// 0.05 with fewer than ten farms; kept within 0.02 to 0.15.
///
/// # Source
/// Williams 1982, Appl. Stat. 31:144 (moments of overdispersed shares).
pub fn tray_correlation<B: AsRef<[Batch]> + Sync>(farms: &[B]) -> f64 {
    let (low, high) = CORRELATION_RANGE;
    let ratio = pooled(farms.len(), CORRELATION_FARMS_MIN, |k| batch_moments(farms[k].as_ref()));
    ratio.map_or(CORRELATION_DEFAULT, |rho| rho.max(low).min(high))
}

fn batch_moments(batches: &[Batch]) -> Option<(f64, f64)> {
    let is_used = |b: &&Batch| {
        let most = (TRIM.0 * f64::from(b.started)).max(TRIM.1);
        b.is_valid() && b.started >= CORRELATION_TRAYS_MIN && f64::from(b.discarded) <= most
    };
    let used = || batches.iter().filter(is_used);
    if used().count() < CORRELATION_BATCHES_MIN {
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

/// Correlation between trays of different batches of a farm within 28 days: bad weeks. Each batch
/// is held against what its lot lets expect.
///
/// # Shape
/// Within 0 and `correlation`; 0 with fewer than `farms_min` farms (house rule:
/// [`CORRELATION_FARMS_MIN`]) that lose at most a tenth and have three blocks of 28 days.
///
/// # Source
/// House rule: moments of products of residuals within blocks; SPEC-B.
pub fn serial_correlation<B: AsRef<[Batch]> + Sync>(
    farms: &[B],
    lots: &LotLevels,
    correlation: f64,
    farms_min: usize,
) -> f64 {
    let moments = |k: usize| block_moments(farms[k].as_ref(), |lot| lots.of(k, lot).multiplier);
    pooled(farms.len(), farms_min, moments).map_or(0.0, |rho| rho.max(0.0).min(correlation))
}

/// Sums of one block of days.
#[derive(Clone, Copy, Default)]
struct Block {
    number: i64,
    trays: f64,
    trays_square: f64,
    residual: f64,
    residual_square: f64,
}

fn block_moments(batches: &[Batch], multiplier: impl Fn(Option<u32>) -> f64) -> Option<(f64, f64)> {
    let valid = || batches.iter().filter(|b| b.is_valid());
    let first = i64::from(valid().map(|b| b.day).min()?);
    let (mut lost, mut expected) = (0.0, 0.0);
    for b in valid() {
        lost += f64::from(b.discarded);
        expected += f64::from(b.started) * multiplier(b.lot);
    }
    let share: f64 = lost / expected;
    if share > SERIAL_SHARE_MAX {
        return None;
    }
    let mut blocks: Vec<Block> = Vec::new();
    for b in valid() {
        let number = (i64::from(b.day) - first) / SERIAL_DAYS;
        let known = blocks.iter().rposition(|block| block.number == number);
        let at = known.unwrap_or_else(|| {
            blocks.push(Block { number, ..Block::default() });
            blocks.len() - 1
        });
        let trays = f64::from(b.started);
        let share = (share * multiplier(b.lot)).min(EXPECTED_MAX);
        let residual = f64::from(b.discarded) - trays * share;
        let block = &mut blocks[at];
        block.trays += trays;
        block.trays_square += trays * trays;
        block.residual += residual;
        block.residual_square += residual * residual;
    }
    if blocks.len() < CORRELATION_BATCHES_MIN {
        return None;
    }
    let crossed = blocks.iter().map(|b| b.residual * b.residual - b.residual_square);
    let pairs = blocks.iter().map(|b| b.trays * b.trays - b.trays_square);
    Some((crossed.sum(), share * (1.0 - share) * pairs.sum::<f64>()))
}

/// Share of trays lost and trays of each farm over the last 365 days, without bad lots.
pub fn rates<B: AsRef<[Batch]> + Sync>(
    farms: &[B],
    lots: &LotLevels,
    today: i32,
) -> Vec<(f64, u64)> {
    let since = i64::from(today) - LEVEL.0;
    let rate = |k: usize| {
        let is_used = |b: &&Batch| {
            b.is_valid() && i64::from(b.day) > since && lots.of(k, b.lot).multiplier < LOT_BAD
        };
        let used = farms[k].as_ref().iter().filter(is_used);
        let (lost, trays) =
            used.fold((0, 0), |(d, n), b| (d + u64::from(b.discarded), n + u64::from(b.started)));
        (if trays > 0 { lost as f64 / trays as f64 } else { 0.0 }, trays)
    };
    let parts = map_chunks(farms.len(), |range| range.map(rate).collect::<Vec<_>>());
    parts.into_iter().flatten().collect()
}

/// Share of trays lost that a co-operative accepts, from the share and the trays of each farm.
///
/// # Shape
/// A quarter above the median of farms with at least 60 trays, within 4 and 8 %; 4 % with fewer
/// than ten such farms.
pub fn share_ok(rates: &[(f64, u64)]) -> f64 {
    let (_, trays_min, farms_min) = LEVEL;
    let large = rates.iter().filter(|(_, trays)| *trays >= trays_min);
    let mut shares: Vec<f64> = large.map(|(share, _)| *share).collect();
    if shares.len() < farms_min {
        return SHARE_OK_MIN;
    }
    let middle = median(&mut shares).unwrap_or(SHARE_OK_MIN);
    (LEVEL_FACTOR * middle).clamp(SHARE_OK_MIN, SHARE_OK_MAX)
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
