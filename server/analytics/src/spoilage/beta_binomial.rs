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

/// Largest batch whose sums are kept: larger ones are slips, and would take much memory.
const KEPT_TRAYS: usize = 1_000;
/// Largest batch whose information is made by products of probabilities.
const PRODUCTS_TRAYS: usize = 128;

/// Two shares to tell apart, with one correlation.
#[derive(Debug, Clone, Copy)]
struct Pair {
    ok: f64,
    bad: f64,
    /// `(1 - correlation) / correlation`.
    s: f64,
}

/// What lost and kept trays say between two shares, as far as it was asked for.
#[derive(Debug, Clone)]
pub(super) struct Ratios {
    multiplier: f64,
    pair: Pair,
    /// `ln` of the ratio of likelihoods by trays lost.
    lost: Vec<f64>,
    /// The same by trays kept.
    kept: Vec<f64>,
    /// Information by trays.
    information: Vec<Option<f64>>,
}

impl Ratios {
    fn new(multiplier: f64, pair: Pair) -> Self {
        Self { multiplier, pair, lost: vec![0.0], kept: vec![0.0], information: Vec::new() }
    }

    /// Keeps the room alone.
    fn begin_anew(&mut self, multiplier: f64, pair: Pair) {
        (self.multiplier, self.pair) = (multiplier, pair);
        self.lost.truncate(1);
        self.kept.truncate(1);
        self.information.clear();
    }

    fn is_of(&self, multiplier: f64) -> bool {
        self.multiplier.to_bits() == multiplier.to_bits()
    }

    /// Reaches batches of `n` trays.
    fn grow(&mut self, n: usize) {
        let Pair { ok, bad, s } = self.pair;
        for (all, bad, ok) in
            [(&mut self.lost, bad * s, ok * s), (&mut self.kept, (1.0 - bad) * s, (1.0 - ok) * s)]
        {
            let mut last = all.last().copied().unwrap_or(0.0);
            for k in all.len()..=n {
                let k = k as f64 - 1.0;
                last += ((bad + k) / (ok + k)).ln();
                all.push(last);
            }
        }
    }

    /// Logarithm of the likelihood ratio of `d` of `n` trays, and the information of `n`.
    fn of(&mut self, d: usize, n: usize) -> (f64, f64) {
        self.grow(n);
        let evidence = self.lost[d.min(n)] + self.kept[n - d.min(n)];
        if self.information.len() <= n {
            self.information.resize(n + 1, None);
        }
        let known = self.information[n];
        let information = known.unwrap_or_else(|| self.information(n));
        self.information[n] = Some(information);
        (evidence, information)
    }

    /// Mean evidence of a batch of `n` trays at the bad share, nats.
    fn information(&self, n: usize) -> f64 {
        let Pair { bad, s, .. } = self.pair;
        let term = |p: f64, d: usize| p * (self.lost[d] + self.kept[n - d]);
        if n > PRODUCTS_TRAYS {
            // Probabilities may be too small for a double: by logarithms.
            let n_trays = u32::try_from(n).unwrap_or(TRAYS_MAX);
            let table = BetaBinomial::new(bad, 1.0 / (1.0 + s), n_trays);
            let p = |d: u32| Some((table.ln_probability(d, n_trays)?.exp(), d as usize));
            return (0..=n_trays).filter_map(p).map(|(p, d)| term(p, d)).sum();
        }
        let (a, b, size) = (bad * s, (1.0 - bad) * s, n as f64);
        let mut p: f64 = (0..n).map(|k| (b + k as f64) / (s + k as f64)).product();
        let mut sum = term(p, 0);
        for d in 0..n {
            let (lost, left) = (d as f64, size - d as f64 - 1.0);
            p *= (size - lost) * (a + lost) / ((lost + 1.0) * (b + left));
            sum += term(p, d + 1);
        }
        sum
    }
}

/// What a batch says, at any multiplier: what is common is kept, the rest is made anew.
#[derive(Debug, Clone)]
pub(super) struct Evidence {
    ok: f64,
    bad: f64,
    correlation: f64,
    common: Vec<Ratios>,
}

/// Multipliers of one farm that are not common: a farm has few, and the last is mostly the next.
#[derive(Debug, Clone, Default)]
pub(super) struct Memo {
    /// The first so many are in use; the others are room to be used again.
    used: usize,
    all: Vec<Ratios>,
}

impl Memo {
    /// Forgets all.
    pub(super) const fn clear(&mut self) {
        self.used = 0;
    }

    fn of(&mut self, multiplier: f64, pair: impl FnOnce() -> Pair) -> &mut Ratios {
        let known = self.all[..self.used].iter().rposition(|r| r.is_of(multiplier));
        let at = known.unwrap_or_else(|| {
            if self.used == self.all.len() {
                self.all.push(Ratios::new(multiplier, pair()));
            } else {
                self.all[self.used].begin_anew(multiplier, pair());
            }
            self.used += 1;
            self.used - 1
        });
        &mut self.all[at]
    }
}

impl Evidence {
    /// `ok` and `bad` before the multiplier; these multipliers are common.
    pub(super) fn new(
        (ok, bad): (f64, f64),
        correlation: f64,
        multipliers: impl Iterator<Item = f64>,
    ) -> Self {
        let mut made = Self { ok, bad, correlation, common: Vec::new() };
        for multiplier in multipliers {
            made.common.push(Ratios::new(multiplier, made.pair(multiplier)));
        }
        made
    }

    /// The two shares at a multiplier.
    fn pair(&self, multiplier: f64) -> Pair {
        let ok = (self.ok * multiplier).min(SHARES_CAP.0);
        pair(ok, (self.bad * multiplier).min(SHARES_CAP.1), self.correlation)
    }

    /// Logarithm of the likelihood ratio of `d` of `n` trays, and the information of `n`.
    pub(super) fn of(&mut self, multiplier: f64, d: u32, n: u32, memo: &mut Memo) -> (f64, f64) {
        let (d, n) = (d as usize, n as usize);
        if let Some(ratios) = self.common.iter_mut().find(|r| r.is_of(multiplier)) {
            return ratios.of(d, n);
        }
        if n > KEPT_TRAYS {
            return Ratios::new(multiplier, self.pair(multiplier)).of(d, n);
        }
        memo.of(multiplier, || self.pair(multiplier)).of(d, n)
    }

    /// Probability of at least `d` of `n` trays on a farm in order.
    pub(super) fn upper_tail(&self, multiplier: f64, d: u32, n: u32) -> f64 {
        BetaBinomial::new(self.pair(multiplier).ok, self.correlation, n).upper_tail(d, n)
    }
}

fn pair(ok: f64, bad: f64, correlation: f64) -> Pair {
    let correlation = clamp_or(correlation, 1e-6, 0.999, 0.05);
    let inside = |share| clamp_or(share, 1e-9, 1.0 - 1e-9, 0.5);
    Pair { ok: inside(ok), bad: inside(bad), s: (1.0 - correlation) / correlation }
}

/// Mean evidence of a batch of `n` trays (at most [`TRAYS_MAX`]) lost at the share `bad` against
/// `ok`, nats.
///
/// # Source
/// Kullback & Leibler 1951, Ann. Math. Stat. 22:79.
pub fn information(n: u32, ok: f64, bad: f64, correlation: f64) -> f64 {
    Ratios::new(1.0, pair(ok, bad, correlation)).of(0, n.min(TRAYS_MAX) as usize).1
}
