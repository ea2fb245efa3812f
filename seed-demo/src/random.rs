//! A small generator of its own and the few functions it needs, so that the same seed gives the
//! same records on every machine: only additions, multiplications and divisions, which IEEE 754
//! fixes to the last bit, and no library function whose result may differ by platform.

/// A seeded stream of numbers (xoshiro256**, seeded by SplitMix64).
#[derive(Clone, Debug)]
pub(crate) struct Rng {
    state: [u64; 4],
}

fn split_mix(state: &mut u64) -> u64 {
    *state = state.wrapping_add(0x9e37_79b9_7f4a_7c15);
    let mut z = *state;
    z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^ (z >> 31)
}

impl Rng {
    /// A stream of its own for a topic and a number (of a farm, say).
    pub(crate) fn of(seed: u64, topic: &str, number: usize) -> Self {
        let mut mixed = seed;
        for byte in topic.bytes() {
            mixed ^= u64::from(byte);
            split_mix(&mut mixed);
            mixed = mixed.rotate_left(17).wrapping_mul(0x2545_f491_4f6c_dd1d);
        }
        mixed ^= u64::try_from(number).unwrap_or(u64::MAX).wrapping_mul(0xd6e8_feb8_6659_fd93);
        Self { state: std::array::from_fn(|_| split_mix(&mut mixed)) }
    }

    /// The next 64 bits.
    pub(crate) fn next(&mut self) -> u64 {
        let [a, b, c, d] = self.state;
        let result = b.wrapping_mul(5).rotate_left(7).wrapping_mul(9);
        let (c2, d2) = (c ^ a, d ^ b);
        self.state = [a ^ d2, b ^ c2, c2 ^ (b << 17), d2.rotate_left(45)];
        result
    }

    /// Evenly from 0 up to, but not, 1.
    pub(crate) fn unit(&mut self) -> f64 {
        let high = u32::try_from(self.next() >> 32).unwrap_or(0);
        let low = u32::try_from(self.next() >> 43).unwrap_or(0);
        (f64::from(high) * 2_097_152.0 + f64::from(low)) / 9_007_199_254_740_992.0
    }

    /// Evenly between two numbers.
    pub(crate) fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }

    /// A whole number from `low` to `high`, both included.
    pub(crate) fn int(&mut self, low: i64, high: i64) -> i64 {
        let span = u64::try_from(high - low).unwrap_or(0) + 1;
        low + i64::try_from(self.next() % span).unwrap_or(0)
    }

    /// Whether something of this probability happens.
    pub(crate) fn chance(&mut self, probability: f64) -> bool {
        self.unit() < probability
    }

    /// Close to a standard normal: twelve even numbers summed.
    pub(crate) fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.unit()).sum::<f64>() - 6.0
    }

    /// One of a list.
    pub(crate) fn pick<'a>(&mut self, of: &[&'a str]) -> &'a str {
        let index = self.next() % u64::try_from(of.len().max(1)).unwrap_or(1);
        of.get(usize::try_from(index).unwrap_or(0)).copied().unwrap_or_default()
    }

    /// Puts a list in random order.
    pub(crate) fn shuffle<T>(&mut self, list: &mut [T]) {
        for upper in (1..list.len()).rev() {
            let other = self.next() % (u64::try_from(upper).unwrap_or(0) + 1);
            list.swap(upper, usize::try_from(other).unwrap_or(0));
        }
    }

    /// How many of `trials` succeed.
    pub(crate) fn successes(&mut self, trials: i64, probability: f64) -> i64 {
        (0..trials).map(|_| i64::from(self.chance(probability))).sum()
    }

    /// Random bits of an id.
    pub(crate) fn id_bits(&mut self) -> [u8; 10] {
        let (a, b) = (self.next().to_be_bytes(), self.next().to_be_bytes());
        let mut bytes = a.iter().chain(&b).copied();
        std::array::from_fn(|_| bytes.next().unwrap_or(0))
    }
}

/// The exponential function: halved until the series is short, then squared back.
pub(crate) fn exp(x: f64) -> f64 {
    let small = x / 64.0;
    let (mut term, mut sum) = (1.0, 1.0);
    for n in 1..=14 {
        term *= small / f64::from(n);
        sum += term;
    }
    (0..6).fold(sum, |power, _| power * power)
}

/// The natural logarithm of a positive number.
pub(crate) fn ln(x: f64) -> f64 {
    const LN_2: f64 = std::f64::consts::LN_2;
    let (mut mantissa, mut twos) = (x.max(1e-12), 0.0);
    while mantissa > 1.5 {
        mantissa /= 2.0;
        twos += 1.0;
    }
    while mantissa < 0.75 {
        mantissa *= 2.0;
        twos -= 1.0;
    }
    let ratio = (mantissa - 1.0) / (mantissa + 1.0);
    let (mut power, mut sum) = (ratio, 0.0);
    for n in 0..20 {
        sum += power / f64::from(2 * n + 1);
        power *= ratio * ratio;
    }
    2.0 * sum + twos * LN_2
}

/// The nearest whole number.
pub(crate) fn round(x: f64) -> i64 {
    // The largest amount of the demo lies far below 2^53, so that the cast is exact.
    let nearest = if x < 0.0 { x - 0.5 } else { x + 0.5 };
    nearest as i64
}

/// A count as a floating-point number.
pub(crate) fn float(x: i64) -> f64 {
    x as f64
}

/// The nearest multiple of `step`.
pub(crate) fn round_to(x: f64, step: i64) -> i64 {
    round(x / float(step)) * step
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn exp_and_ln_agree_with_the_library() {
        for x in [-3.0, -0.7, 0.0, 0.01, 0.5, 1.0, 2.5, 6.0_f64] {
            assert!((exp(x) / x.exp() - 1.0).abs() < 1e-12, "exp {x}");
        }
        for x in [0.01, 0.5, 0.9, 1.0, 1.4, 2.0, 60.0, 305.0_f64] {
            assert!((ln(x) - x.ln()).abs() < 1e-12, "ln {x}");
        }
    }

    #[test]
    fn streams_are_repeatable_and_differ_by_topic() {
        let draw = |topic: &str| {
            let mut rng = Rng::of(7, topic, 3);
            (0..4).map(|_| rng.next()).collect::<Vec<_>>()
        };
        assert_eq!(draw("milk"), draw("milk"));
        assert_ne!(draw("milk"), draw("eggs"));
    }

    #[test]
    fn normal_has_mean_zero_and_variance_one() {
        let mut rng = Rng::of(1, "normal", 0);
        let draws: Vec<f64> = (0..20_000).map(|_| rng.normal()).collect();
        let mean = draws.iter().sum::<f64>() / 20_000.0;
        let variance = draws.iter().map(|d| d * d).sum::<f64>() / 20_000.0 - mean * mean;
        assert!(mean.abs() < 0.03 && (variance - 1.0).abs() < 0.05, "{mean} {variance}");
    }

    #[test]
    fn round_goes_to_the_nearest() {
        assert_eq!((round(2.4), round(2.6), round(-2.6)), (2, 3, -3));
        assert_eq!(round_to(1_274.0, 50), 1_250);
    }
}
