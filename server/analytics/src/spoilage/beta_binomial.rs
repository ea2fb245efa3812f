//! The beta-binomial distribution, and what one batch says between two of them.

use statrs::function::gamma::ln_gamma;

use crate::limits::TRAYS_MAX;

/// Largest shares after the multiplier.
const SHARES_CAP: (f64, f64) = (0.5, 0.6);

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
    /// None outside the tables.
    fn ln_ratio(&self, other: &Self, d: usize, kept: usize) -> Option<f64> {
        let lost = self.rising_a.get(d)? - other.rising_a.get(d)?;
        Some(lost + (self.rising_b.get(kept)? - other.rising_b.get(kept)?))
    }
}

fn clamp_or(x: f64, low: f64, high: f64, otherwise: f64) -> f64 {
    if x.is_nan() { otherwise } else { x.clamp(low, high) }
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

/// Largest batch whose information is in a table, and is made by products.
const TABLE_TRAYS: u32 = 128;
/// Factors multiplied before their logarithm is taken: so many from 1e-9 to 1e6 stay within a
/// double.
const FACTORS_AT_ONCE: usize = 32;

/// Two shares to tell apart, with one correlation.
#[derive(Debug, Clone, Copy)]
pub(super) struct Pair {
    ok: f64,
    bad: f64,
    /// `(1 - correlation) / correlation`.
    s: f64,
}

impl Pair {
    pub(super) fn new(ok: f64, bad: f64, correlation: f64) -> Self {
        let correlation = clamp_or(correlation, 1e-6, 0.999, 0.05);
        let inside = |share| clamp_or(share, 1e-9, 1.0 - 1e-9, 0.5);
        Self { ok: inside(ok), bad: inside(bad), s: (1.0 - correlation) / correlation }
    }

    /// `ln` of the probability of `d` discards and `kept` other trays at the bad share over that
    /// at the other.
    fn evidence(&self, d: u32, kept: u32) -> f64 {
        let (a0, a1) = (self.ok * self.s, self.bad * self.s);
        let (b0, b1) = ((1.0 - self.ok) * self.s, (1.0 - self.bad) * self.s);
        ln_ratio(d, a1, a0) + ln_ratio(kept, b1, b0)
    }

    /// Mean evidence of a batch of `n` trays at the bad share, nats.
    fn information(&self, n: u32) -> f64 {
        if n > TABLE_TRAYS {
            return self.information_of_many(n);
        }
        let (a0, a1) = (self.ok * self.s, self.bad * self.s);
        let (b0, b1) = ((1.0 - self.ok) * self.s, (1.0 - self.bad) * self.s);
        let size = f64::from(n);
        let trays = || (0..n).map(f64::from);
        let mut p: f64 = trays().map(|k| (b1 + k) / (self.s + k)).product();
        let mut ratio: f64 = trays().map(|k| (b1 + k) / (b0 + k)).product();
        let mut sum = p * ratio.ln();
        for d in trays() {
            let left = size - d - 1.0;
            p *= (size - d) * (a1 + d) / ((d + 1.0) * (b1 + left));
            ratio *= (a1 + d) * (b0 + left) / ((a0 + d) * (b1 + left));
            sum += p * ratio.ln();
        }
        sum
    }

    /// The same by logarithms, where probabilities may be too small for a double.
    fn information_of_many(&self, n: u32) -> f64 {
        let correlation = 1.0 / (1.0 + self.s);
        let [ok, bad] = [self.ok, self.bad].map(|p| BetaBinomial::new(p, correlation, n));
        let term = |d| {
            let (of_bad, of_ok) = (bad.ln_probability(d, n)?, ok.ln_probability(d, n)?);
            Some(of_bad.exp() * (of_bad - of_ok))
        };
        (0..=n).filter_map(term).sum()
    }
}

/// `ln` of `(x + k) / (y + k)` multiplied over the first `count` numbers `k`.
fn ln_ratio(count: u32, x: f64, y: f64) -> f64 {
    let mut sum = 0.0;
    for from in (0..count).step_by(FACTORS_AT_ONCE) {
        let to = count.min(from.saturating_add(FACTORS_AT_ONCE as u32));
        let product = |of: f64| (from..to).map(|k| of + f64::from(k)).product::<f64>();
        sum += (product(x) / product(y)).ln();
    }
    sum
}

/// Tables of two shares at one multiplier.
#[derive(Debug, Clone)]
struct Tables {
    multiplier: f64,
    pair: Pair,
    ok: BetaBinomial,
    bad: BetaBinomial,
    /// By trays.
    information: Vec<f64>,
}

/// What a batch says, at any multiplier: by table at those that are common, else anew.
#[derive(Debug, Clone)]
pub(super) struct Evidence {
    ok: f64,
    bad: f64,
    correlation: f64,
    tables: Vec<Tables>,
}

/// Information at multipliers without a table, by multiplier and trays: a farm has few of them,
/// and the last is mostly the next.
pub(super) type Memo = Vec<(f64, u32, f64)>;

impl Evidence {
    /// `ok` and `bad` before the multiplier; tables for these multipliers and batches up to
    /// `trays_max`.
    pub(super) fn new(
        (ok, bad): (f64, f64),
        correlation: f64,
        multipliers: impl Iterator<Item = f64>,
        trays_max: u32,
    ) -> Self {
        let mut made = Self { ok, bad, correlation, tables: Vec::new() };
        for multiplier in multipliers {
            let pair = made.pair(multiplier);
            let table = |share| BetaBinomial::new(share, correlation, trays_max);
            let information = (0..=trays_max.min(TABLE_TRAYS)).map(|n| pair.information(n));
            let information = information.collect();
            let (ok, bad) = (table(pair.ok), table(pair.bad));
            made.tables.push(Tables { multiplier, pair, ok, bad, information });
        }
        made
    }

    /// The two shares at a multiplier.
    fn pair(&self, multiplier: f64) -> Pair {
        let ok = (self.ok * multiplier).min(SHARES_CAP.0);
        Pair::new(ok, (self.bad * multiplier).min(SHARES_CAP.1), self.correlation)
    }

    fn table(&self, multiplier: f64) -> Option<&Tables> {
        self.tables.iter().find(|t| t.multiplier.to_bits() == multiplier.to_bits())
    }

    /// Logarithm of the likelihood ratio of `d` of `n` trays, and the information of `n`.
    pub(super) fn of(&self, multiplier: f64, d: u32, n: u32, memo: &mut Memo) -> (f64, f64) {
        let kept = n.saturating_sub(d);
        if let Some(t) = self.table(multiplier) {
            let evidence = t.bad.ln_ratio(&t.ok, d as usize, kept as usize);
            let evidence = evidence.unwrap_or_else(|| t.pair.evidence(d, kept));
            let known = t.information.get(n as usize).copied();
            return (evidence, known.unwrap_or_else(|| memoed(memo, multiplier, n, &t.pair)));
        }
        let pair = self.pair(multiplier);
        (pair.evidence(d, kept), memoed(memo, multiplier, n, &pair))
    }

    /// Probability of at least `d` of `n` trays on a farm in order.
    pub(super) fn upper_tail(&self, multiplier: f64, d: u32, n: u32) -> f64 {
        match self.table(multiplier) {
            Some(t) => t.ok.upper_tail(d, n),
            None => {
                BetaBinomial::new(self.pair(multiplier).ok, self.correlation, n).upper_tail(d, n)
            }
        }
    }
}

fn memoed(memo: &mut Memo, multiplier: f64, n: u32, pair: &Pair) -> f64 {
    let is_same = |at: &&(f64, u32, f64)| at.1 == n && at.0.to_bits() == multiplier.to_bits();
    if let Some((.., known)) = memo.iter().rev().find(is_same) {
        return *known;
    }
    let made = pair.information(n);
    memo.push((multiplier, n, made));
    made
}

/// Mean evidence of a batch of `n` trays (at most [`TRAYS_MAX`]) lost at the share `bad` against
/// `ok`, nats.
///
/// # Source
/// Kullback & Leibler 1951, Ann. Math. Stat. 22:79.
pub fn information(n: u32, ok: f64, bad: f64, correlation: f64) -> f64 {
    Pair::new(ok, bad, correlation).information(n.min(TRAYS_MAX))
}
