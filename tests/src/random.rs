//! Seeded numbers: SplitMix64.

/// A stream of numbers.
#[derive(Clone, Debug)]
pub struct Rng(u64);

impl Rng {
    /// A stream of its own for a topic and a number.
    pub fn of(seed: u64, topic: u64, number: usize) -> Self {
        let mut rng = Self(seed);
        for part in [topic, number as u64] {
            rng.0 ^= part.wrapping_mul(0xd6e8_feb8_6659_fd93);
            rng.0 = rng.next();
        }
        rng
    }

    fn next(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// Evenly from 0 up to, but not, 1.
    pub fn unit(&mut self) -> f64 {
        (self.next() >> 11) as f64 / 9_007_199_254_740_992.0
    }

    /// Evenly between two numbers.
    pub fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.unit()
    }

    /// A whole number below `end`.
    pub fn below(&mut self, end: usize) -> usize {
        (self.next() % end as u64) as usize
    }

    /// A whole number from `low` to `high`, both included.
    pub fn int(&mut self, low: i64, high: i64) -> i64 {
        low + self.below((high - low + 1) as usize) as i64
    }

    /// Whether something of this probability happens.
    pub fn chance(&mut self, probability: f64) -> bool {
        self.unit() < probability
    }

    /// Close to a standard normal: twelve even numbers summed.
    pub fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.unit()).sum::<f64>() - 6.0
    }
}
