//! What the charts of all farms share: how trays hang together, and what loss is accepted.

use super::{Batch, LOT_BAD, LotLevel, LotLevels, SHARE_OK_MIN};
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
    // Whole numbers: their sums are exact in any order.
    let (count, trays, lost) = used().fold((0_usize, 0_u64, 0_u64), |(k, n, d), b| {
        (k + 1, n + u64::from(b.started), d + u64::from(b.discarded))
    });
    if count < CORRELATION_BATCHES_MIN {
        return None;
    }
    let (trays, lost) = (trays as f64, lost as f64);
    let share = lost / trays;
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
    let moments = |k: usize| block_moments(|| lots.each(k, farms[k].as_ref()));
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

fn block_moments<'a, I>(batches: impl Fn() -> I) -> Option<(f64, f64)>
where
    I: Iterator<Item = (&'a Batch, LotLevel)>,
{
    let valid = || batches().filter(|(b, _)| b.is_valid());
    let (mut first, mut lost, mut expected) = (None, 0.0, 0.0);
    for (b, level) in valid() {
        first = Some(first.unwrap_or(b.day).min(b.day));
        lost += f64::from(b.discarded);
        expected += f64::from(b.started) * level.multiplier;
    }
    let first = i64::from(first?);
    let share: f64 = lost / expected;
    if share > SERIAL_SHARE_MAX {
        return None;
    }
    let mut blocks: Vec<Block> = Vec::new();
    for (b, level) in valid() {
        let number = (i64::from(b.day) - first) / SERIAL_DAYS;
        let known = blocks.iter().rposition(|block| block.number == number);
        let at = known.unwrap_or_else(|| {
            blocks.push(Block { number, ..Block::default() });
            blocks.len() - 1
        });
        let trays = f64::from(b.started);
        let share = (share * level.multiplier).min(EXPECTED_MAX);
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
        let is_used = |(b, level): &(&Batch, LotLevel)| {
            b.is_valid() && i64::from(b.day) > since && level.multiplier < LOT_BAD
        };
        let used = lots.each(k, farms[k].as_ref()).filter(is_used);
        let (lost, trays) = used
            .fold((0, 0), |(d, n), (b, _)| (d + u64::from(b.discarded), n + u64::from(b.started)));
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
pub fn class_multipliers<B: AsRef<[Batch]> + Sync>(farms: &[B]) -> Vec<f64> {
    let mut all = ClassSums::default();
    for part in map_chunks(farms.len(), |range| {
        let mut part = ClassSums::default();
        farms[range].iter().flat_map(|f| f.as_ref()).for_each(|batch| part.add(batch));
        part
    }) {
        all.merge(&part);
    }
    let (trays, discards) = (all.all.0 as f64, all.all.1 as f64);
    let share: f64 = discards / trays;
    let multiplier = |(n, d): &(u64, u64)| {
        let (n, d) = (*n as f64, *d as f64);
        if n <= 0.0 || discards <= 0.0 {
            return 1.0;
        }
        let mixed = (d + CLASS_TRAYS_ADDED * share) / (n + CLASS_TRAYS_ADDED);
        (mixed / share).clamp(0.5, 2.0)
    };
    all.classes.iter().map(multiplier).collect()
}

/// Trays begun and lost, of all batches and by temperature class: whole numbers, exact in any
/// order.
#[derive(Default)]
struct ClassSums {
    all: (u64, u64),
    classes: Vec<(u64, u64)>,
}

impl ClassSums {
    fn add(&mut self, batch: &Batch) {
        if !batch.is_valid() {
            return;
        }
        let (n, d) = (u64::from(batch.started), u64::from(batch.discarded));
        self.all = (self.all.0 + n, self.all.1 + d);
        if let Some(class) = batch.temperature_class.map(usize::from) {
            if self.classes.len() <= class {
                self.classes.resize(class + 1, (0, 0));
            }
            self.classes[class].0 += n;
            self.classes[class].1 += d;
        }
    }

    fn merge(&mut self, other: &Self) {
        self.all = (self.all.0 + other.all.0, self.all.1 + other.all.1);
        if self.classes.len() < other.classes.len() {
            self.classes.resize(other.classes.len(), (0, 0));
        }
        for (a, b) in self.classes.iter_mut().zip(&other.classes) {
            *a = (a.0 + b.0, a.1 + b.1);
        }
    }
}
