//! Made-up co-operatives with a known truth, the same every time.

/// Numbers that look random (SplitMix64, Steele, Lea & Flood 2014).
pub struct Numbers(pub u64);

impl Numbers {
    pub fn unit(&mut self) -> f64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) >> 11) as f64 / (1_u64 << 53) as f64
    }

    /// Whole number from `low` to `high`, both possible.
    pub fn whole(&mut self, low: u32, high: u32) -> u32 {
        low + (self.unit() * f64::from(high - low + 1)) as u32
    }

    /// Standard normal (Box & Muller 1958).
    pub fn normal(&mut self) -> f64 {
        let radius = (-2.0 * (1.0 - self.unit()).ln()).sqrt();
        radius * (std::f64::consts::TAU * self.unit()).cos()
    }
}

/// Output of a co-operative and what the start really did.
pub struct Herds {
    pub log_output: Vec<f64>,
    pub records: Vec<f64>,
    pub start: Vec<Option<u32>>,
    pub truth: Vec<f64>,
}

impl Herds {
    /// Farm levels, common months, months of a farm that hang together (correlation 0.5), and
    /// record noise that differs from farm to farm. Three farms in ten never start.
    pub fn new(seed: u64, farms: usize, months: usize) -> Self {
        let mut numbers = Numbers(seed);
        let mut common = vec![0.0];
        for t in 1..months {
            let last: f64 = common[t - 1];
            common.push(last + 0.04 * numbers.normal());
        }
        let mut herds = Self {
            log_output: Vec::new(),
            records: Vec::new(),
            start: Vec::new(),
            truth: Vec::new(),
        };
        for _ in 0..farms {
            let start = numbers.whole(6, months as u32 - 4);
            let start = (numbers.unit() < 0.7).then_some(start);
            let truth = 0.06 + 0.08 * numbers.normal();
            let level = 2.0 + 0.3 * numbers.normal();
            let scale = (0.3 * numbers.normal()).exp();
            let mut month = 0.0577 * numbers.normal();
            for (t, common) in common.iter().enumerate() {
                month = 0.5 * month + 0.05 * numbers.normal();
                let n = f64::from(numbers.whole(2, 20));
                let noise = scale * (month + 0.2 / n.sqrt() * numbers.normal());
                let effect = if start.is_some_and(|g| t >= g as usize) { truth } else { 0.0 };
                let is_missing = numbers.unit() < 0.1;
                let y = level + common + noise + effect;
                herds.log_output.push(if is_missing { f64::NAN } else { y });
                herds.records.push(if is_missing { 0.0 } else { n });
            }
            herds.start.push(start);
            herds.truth.push(truth);
        }
        herds
    }
}
