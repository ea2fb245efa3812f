//! Small statistics shared by the questions: quantiles, tail probabilities, intervals, order.

use std::collections::HashMap;

use serde::Serialize;
use statrs::function::beta::checked_beta_reg;
use statrs::function::gamma::{digamma, ln_gamma};

/// Upper 2.5 % point of the normal distribution.
const NORMAL_975: f64 = 1.959_963_984_540_054;
/// Next term of that point in `1/df` for Student's t: `(z^3 + z) / 4`.
const FIRST_ORDER: f64 = 2.372_271_230_298_562;
/// Half width of a published 95 % interval in standard errors.
const NORMAL_975_ROUNDED: f64 = 1.96;

/// A 95 % interval.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Interval {
    /// Lower end.
    pub lower: f64,
    /// Upper end.
    pub upper: f64,
}

impl Interval {
    /// Value and half width to an interval.
    pub(crate) fn around(value: f64, half_width: f64) -> Self {
        Self { lower: value - half_width, upper: value + half_width }
    }
}

/// An estimate on the logarithmic scale, as [`LogEstimate::percent`] shows it to people.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct LogEstimate {
    /// Difference of logarithms.
    pub value: f64,
    /// Standard error of `value`.
    pub standard_error: f64,
    /// 95 % interval of `value`.
    pub interval: Interval,
}

/// An estimate in per cent.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct PercentEstimate {
    /// Change in per cent.
    pub value: f64,
    /// 95 % interval in per cent.
    pub interval: Interval,
}

impl LogEstimate {
    pub(crate) fn with_critical(value: f64, standard_error: f64, critical: f64) -> Self {
        let interval = Interval::around(value, critical * standard_error);
        Self { value, standard_error, interval }
    }

    pub(crate) fn normal(value: f64, standard_error: f64) -> Self {
        Self::with_critical(value, standard_error, NORMAL_975_ROUNDED)
    }

    /// Whether all of it is numbers: the upper end is none as soon as value or error is none.
    pub(crate) fn is_finite(&self) -> bool {
        self.interval.upper.is_finite()
    }

    /// The same estimate in per cent: `100 (exp(x) - 1)` of the value and of both ends.
    ///
    /// # Shape
    /// None when a number is too large to be written in per cent.
    pub fn percent(&self) -> Option<PercentEstimate> {
        let percent = |x: f64| 100.0 * x.exp_m1();
        let value = percent(self.value);
        let (lower, upper) = (percent(self.interval.lower), percent(self.interval.upper));
        let is_finite = value.is_finite() && lower.is_finite() && upper.is_finite();
        is_finite.then_some(PercentEstimate { value, interval: Interval { lower, upper } })
    }
}

/// The number if it is one.
pub(crate) fn finite(x: f64) -> Option<f64> {
    x.is_finite().then_some(x)
}

/// Middle value; mean of the middle two for an even count; none for none. Reorders its input.
pub(crate) fn median(values: &mut [f64]) -> Option<f64> {
    if values.is_empty() {
        return None;
    }
    let middle = values.len() / 2;
    let is_even = values.len().is_multiple_of(2);
    let (below, upper, _) = values.select_nth_unstable_by(middle, f64::total_cmp);
    let upper = *upper;
    if !is_even {
        return Some(upper);
    }
    let lower = below.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    Some(lower + (upper - lower) / 2.0)
}

/// Student's t: probability above `t` with `df` degrees of freedom.
pub(crate) fn student_t_upper(t: f64, df: f64) -> f64 {
    let tail = beta_regularized(df / 2.0, 0.5, df / (df + t * t)) / 2.0;
    if t >= 0.0 { tail } else { 1.0 - tail }
}

/// Snedecor's F: probability above `f`.
pub(crate) fn snedecor_f_upper(f: f64, df1: f64, df2: f64) -> f64 {
    if f <= 0.0 {
        return 1.0;
    }
    beta_regularized(df2 / 2.0, df1 / 2.0, df2 / (df2 + df1 * f))
}

fn beta_regularized(a: f64, b: f64, x: f64) -> f64 {
    checked_beta_reg(a, b, x).map_or(1.0, |p| p.clamp(0.0, 1.0))
}

/// Upper 2.5 % point of Student's t, for two-sided 95 % intervals.
///
/// Starts from two terms of its series in `1/df` and improves them by Newton steps on the tail,
/// which is convex right of 0, so that the steps cannot run away.
///
/// # Units
/// `df` in degrees of freedom, at least 1; below it the point for 1 is given.
///
/// # Source
/// Series: Abramowitz & Stegun 1964, formula 26.7.5. Tail: incomplete beta function.
pub fn student_t_critical_95(df: f64) -> f64 {
    if df.is_finite() {
        newton(NORMAL_975 + FIRST_ORDER / df.max(1.0), 0.025, df.max(1.0))
    } else {
        NORMAL_975
    }
}

/// Point of Student's t above which a share `tail` lies, for power.
///
/// # Units
/// `tail` between 0 and one half, `df` at least 1.
///
/// # Source
/// Newton steps on the tail (incomplete beta function) from the left, where it is convex.
pub fn student_t_upper_point(tail: f64, df: f64) -> f64 {
    newton(0.0, tail.clamp(1e-9, 0.5), df.max(1.0))
}

fn newton(mut t: f64, tail: f64, df: f64) -> f64 {
    let half = (df + 1.0) / 2.0;
    let front = ln_gamma(half) - ln_gamma(df / 2.0) - 0.5 * (df * std::f64::consts::PI).ln();
    for _ in 0..60 {
        let density = (front - half * (t * t / df).ln_1p()).exp();
        let step = (student_t_upper(t, df) - tail) / density;
        t += step;
        if step.abs() <= 1e-9 * t {
            break;
        }
    }
    t
}

/// Degrees of freedom of a sum of independent variances.
///
/// # Units
/// `parts` are (variance, degrees of freedom); parts of variance 0 say nothing.
///
/// # Shape
/// None when all variances are 0.
///
/// # Source
/// Satterthwaite 1946, Biometrics Bull. 2:110; with two parts, Welch 1947, Biometrika 34:28.
///
/// # Example
/// ```
/// use traybook_analytics::stats::satterthwaite;
/// // Two samples of ten with the same variance: 18, as in the pooled test.
/// assert_eq!(satterthwaite(&[(0.4, 9.0), (0.4, 9.0)]), Some(18.0));
/// ```
pub fn satterthwaite(parts: &[(f64, f64)]) -> Option<f64> {
    let used = || parts.iter().filter(|(variance, _)| *variance > 0.0);
    let sum: f64 = used().map(|(variance, _)| variance).sum();
    let square: f64 = used().map(|(variance, df)| variance * variance / df).sum();
    finite(sum * sum / square)
}

/// [`student_t_critical_95`] of the same few degrees of freedom over and over: farms have as many as
/// months count, so that thousands of farms share some dozens.
#[derive(Debug, Default)]
pub struct CriticalPoints {
    known: HashMap<u64, f64>,
}

impl CriticalPoints {
    /// The upper 2.5 % point; worked out once for each `df`.
    ///
    /// # Units
    /// As of [`student_t_critical_95`].
    ///
    /// # Source
    /// As of [`student_t_critical_95`]; the same bits.
    pub fn at(&mut self, df: f64) -> f64 {
        *self.known.entry(df.to_bits()).or_insert_with(|| student_t_critical_95(df))
    }
}

/// Second derivative of `ln Γ` for positive `x`: recurrence up to 12, then Stirling's series.
pub(crate) fn trigamma(x: f64) -> f64 {
    let (mut x, mut sum) = (x, 0.0);
    while x < 12.0 {
        sum += 1.0 / (x * x);
        x += 1.0;
    }
    let r = 1.0 / (x * x);
    let series =
        1.0 / 6.0 - r * (1.0 / 30.0 - r * (1.0 / 42.0 - r * (1.0 / 30.0 - r * (5.0 / 66.0))));
    sum + 1.0 / x + r / 2.0 + r / x * series
}

/// Third derivative of `ln Γ` for positive `x`.
pub(crate) fn tetragamma(x: f64) -> f64 {
    let (mut x, mut sum) = (x, 0.0);
    while x < 12.0 {
        sum -= 2.0 / (x * x * x);
        x += 1.0;
    }
    let r = 1.0 / (x * x);
    let series = 0.5 - r * (1.0 / 6.0 - r * (1.0 / 6.0 - r * (0.3 - r * (5.0 / 6.0))));
    sum - r - r / x - r * r * series
}

/// Solves `trigamma(y) = x` for positive `x`.
pub(crate) fn trigamma_inverse(x: f64) -> f64 {
    if x > 1e7 {
        return 1.0 / x.sqrt();
    }
    if x < 1e-6 {
        return 1.0 / x;
    }
    let mut y = 0.5 + 1.0 / x;
    for _ in 0..50 {
        let tri = trigamma(y);
        let step = tri * (1.0 - tri / x) / tetragamma(y);
        y += step;
        if -step / y < 1e-8 {
            break;
        }
    }
    y
}

/// Prior of error variances: degrees of freedom and scale.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct VariancePrior {
    /// Prior degrees of freedom, 1 to 1000.
    pub degrees_of_freedom: f64,
    /// Prior variance, relative to the pooled error model.
    pub scale: f64,
}

/// Fits a scaled inverse chi-square prior to farm variances.
///
/// # Units
/// `rows` are (variance ratio, degrees of freedom); rows with ratio 0 or fewer than one degree
/// of freedom are left out.
///
/// # Shape
/// Fewer than five usable rows give 1000 degrees of freedom and scale 1.
///
/// # Source
/// Smyth 2004, Stat. Appl. Genet. Mol. Biol. 3(1), section 6.2 (moments of the log variance).
pub fn moderate_variances(rows: &[(f64, f64)]) -> VariancePrior {
    let usable = rows.iter().filter(|(s2, df)| *df >= 1.0 && *s2 > 0.0);
    let logs: Vec<(f64, f64)> = usable
        .map(|(s2, df)| (s2.ln() - digamma(df / 2.0) + (df / 2.0).ln(), trigamma(df / 2.0)))
        .collect();
    if logs.len() < 5 {
        return VariancePrior { degrees_of_freedom: 1000.0, scale: 1.0 };
    }
    let count = logs.len() as f64;
    let mean = logs.iter().map(|(z, _)| z).sum::<f64>() / count;
    let spread = logs.iter().map(|(z, _)| (z - mean).powi(2)).sum::<f64>() / (count - 1.0);
    let excess = spread - logs.iter().map(|(_, tri)| tri).sum::<f64>() / count;
    if excess <= 0.0 {
        return VariancePrior { degrees_of_freedom: 1000.0, scale: mean.exp() };
    }
    let d0 = (2.0 * trigamma_inverse(excess)).clamp(1.0, 1000.0);
    let scale = (mean + digamma(d0 / 2.0) - (d0 / 2.0).ln()).exp();
    VariancePrior { degrees_of_freedom: d0, scale }
}

/// Positions of the hypotheses rejected at false discovery rate `q`, smallest p-value first.
///
/// # Shape
/// Ties keep their order in the input. Values that are not numbers are never rejected.
///
/// # Source
/// Benjamini & Hochberg 1995, J. R. Stat. Soc. B 57:289, step-up procedure.
pub fn benjamini_hochberg(p_values: &[f64], q: f64) -> Vec<usize> {
    let mut order: Vec<usize> = (0..p_values.len()).collect();
    order.sort_by(|a, b| p_values[*a].total_cmp(&p_values[*b]));
    let count = p_values.len() as f64;
    let passes = |(rank, i): &(usize, &usize)| p_values[**i] <= q * (*rank + 1) as f64 / count;
    let last = order.iter().enumerate().rev().find(passes).map(|(rank, _)| rank + 1);
    order.truncate(last.unwrap_or(0));
    order
}

/// 95 % interval of a share, for showing a discard rate.
///
/// # Units
/// `hits` of `trials`; ends are shares from 0 to 1.
///
/// # Shape
/// None without trials or with more hits than trials.
///
/// # Source
/// Wilson 1927, J. Am. Stat. Assoc. 22:209; method 3 of Newcombe 1998, Stat. Med. 17:857.
///
/// # Example
/// ```
/// use traybook_analytics::stats::wilson_interval;
///
/// // Newcombe's table I, method 3: 81 of 263.
/// let interval = wilson_interval(81, 263).ok_or("no trials")?;
/// assert!((interval.lower - 0.2553).abs() < 5e-5 && (interval.upper - 0.3662).abs() < 5e-5);
/// # Ok::<(), &str>(())
/// ```
pub fn wilson_interval(hits: u64, trials: u64) -> Option<Interval> {
    wilson_of_share(hits as f64 / trials as f64, trials as f64)
}

/// [`wilson_interval`] for a share of trials that come in clusters, such as trays in batches.
///
/// # Units
/// `share` from 0 to 1; `trials` the effective number: the sum of `n / (1 + (n - 1) rho)` over
/// clusters of `n` whose trials correlate by `rho`.
///
/// # Shape
/// None without a positive number of trials or with a share outside 0 to 1.
///
/// # Source
/// Wilson 1927 on the effective sample size of Kish 1965, Survey Sampling, section 5.4.
pub fn wilson_of_share(share: f64, trials: f64) -> Option<Interval> {
    let is_usable = trials > 0.0 && trials.is_finite() && (0.0..=1.0).contains(&share);
    if !is_usable {
        return None;
    }
    let (x, n, z2) = (share * trials, trials, NORMAL_975 * NORMAL_975);
    let root = NORMAL_975 * (x * (1.0 - share) + z2 / 4.0).sqrt();
    let lower = if share <= 0.0 { 0.0 } else { (x + z2 / 2.0 - root) / (n + z2) };
    let upper = if share >= 1.0 { 1.0 } else { (x + z2 / 2.0 + root) / (n + z2) };
    Some(Interval { lower, upper })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn close(x: f64, expected: f64, relative: f64) {
        assert!((x - expected).abs() <= relative * expected.abs(), "{x} for {expected}");
    }

    /// [DATA] scipy.special.polygamma, scipy 1.17.1.
    #[test]
    fn polygammas_meet_scipy() {
        let table = [
            (0.1, 101.433_299_150_792_75, -2_001.861_457_378_343_9),
            (0.5, 4.934_802_200_544_68, -16.828_796_644_234_316),
            (1.0, 1.644_934_066_848_226_6, -2.404_113_806_319_188),
            (2.5, 0.490_357_756_100_234_9, -0.236_204_051_641_727_36),
            (11.9, 0.087_663_201_190_004_18, -0.007_679_939_159_328_306),
            (12.0, 0.086_901_872_871_768_4, -0.007_547_205_368_998_914),
            (13.0, 0.079_957_428_427_323_94, -0.006_389_797_961_591_505),
            (50.0, 0.020_201_333_226_697_128, -0.000_408_079_989_337_597),
            (500.0, 0.002_002_001_333_332_266, -4.008_007_999_989_334e-6),
        ];
        for (x, tri, tetra) in table {
            close(trigamma(x), tri, 1e-13);
            close(tetragamma(x), tetra, 2e-12);
        }
    }

    /// [DATA] the reference implementation with scipy's polygamma.
    #[test]
    fn trigamma_inverse_meets_the_reference() {
        let table = [
            (1e-7, 1e7),
            (1e-6, 1_000_000.499_999_916_6),
            (0.001, 1_000.499_916_666_681_9),
            (0.1, 10.491_681_821_078_42),
            (1.0, 1.426_255_120_215_079),
            (10.0, 0.335_081_044_378_035_6),
            (1e5, 0.003_162_303_549_482_225_8),
            (2e7, 0.000_223_606_797_749_978_95),
        ];
        for (x, y) in table {
            close(trigamma_inverse(x), y, 1e-9);
        }
    }

    /// [DATA] scipy.stats.f.sf and t.sf, scipy 1.17.1, up to the sizes of 2,000 farms.
    #[test]
    fn tail_probabilities_meet_scipy() {
        let table = [
            (3.2, 5.0, 79.0, 0.011_067_033_952_437_908),
            (8.2, 5.0, 79.0, 2.825_813_040_841_218e-6),
            (1.01, 1999.0, 20_000.0, 0.378_512_986_543_071_7),
            (1.2, 300.0, 5_000.0, 0.012_134_289_526_328_19),
            (0.5, 3.0, 10.0, 0.690_622_245_533_557_7),
        ];
        for (f, df1, df2, p) in table {
            close(snedecor_f_upper(f, df1, df2), p, 1e-9);
        }
        close(snedecor_f_upper(0.0, 3.0, 10.0), 1.0, 0.0);
        close(snedecor_f_upper(-1.0, 3.0, 10.0), 1.0, 0.0);
        let table = [
            (2.5, 79.0, 0.007_245_283_326_451_243),
            (5.6, 79.0, 1.501_542_024_255_874_2e-7),
            (-1.3, 7.0, 0.882_616_082_303_811_4),
            (3.1, 22_000.0, 0.000_968_824_652_250_296_3),
            (0.4, 22_000.0, 0.344_580_200_165_111_15),
        ];
        for (t, df, p) in table {
            close(student_t_upper(t, df), p, 1e-9);
        }
    }

    #[test]
    fn kept_critical_points_are_the_same() {
        let mut points = CriticalPoints::default();
        for df in [4.0, 7.5, 4.0, 1000.0, 7.5, 0.5, f64::INFINITY] {
            assert_eq!(points.at(df).to_bits(), student_t_critical_95(df).to_bits());
        }
    }

    #[test]
    fn median_of_an_even_count_is_the_mean_of_the_middle_two() {
        assert_eq!(median(&mut []), None);
        assert_eq!(median(&mut [7.0]), Some(7.0));
        assert_eq!(median(&mut [9.0, 1.0, 4.0]), Some(4.0));
        assert_eq!(median(&mut [8.0, 1.0, 2.0, 100.0]), Some(5.0));
        assert_eq!(median(&mut [3.0, 1.0]), Some(2.0));
    }
}
