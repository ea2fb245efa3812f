//! Slips of a unit or a digit, and medians that such slips do not move.

/// A factor by which a slip is out, with the name it has on the wire.
pub type Unit = (&'static str, f64);

/// A digit more or fewer, grams for kilograms, trays of 30 eggs, bags of 50 kg.
pub const UNITS: [Unit; 10] = [
    ("x10", 10.0),
    ("x100", 100.0),
    ("x1000", 1_000.0),
    ("d10", 0.1),
    ("d100", 0.01),
    ("d1000", 0.001),
    ("x30", 30.0),
    ("d30", 1.0 / 30.0),
    ("x50", 50.0),
    ("d50", 0.02),
];
/// Units of purchases: bags and kilograms, grams, digits.
pub const OF_PURCHASES: [&str; 8] = ["x10", "x100", "x1000", "d10", "d100", "d1000", "x50", "d50"];
/// Units of milk: digits.
pub const OF_MILK: [&str; 4] = ["x10", "d10", "x100", "d100"];
/// Units of eggs: digits, and trays of 30.
pub const OF_EGGS: [&str; 6] = ["x10", "d10", "x100", "d100", "x30", "d30"];
/// A ratio within this of a unit's factor, on the log scale, is taken for that unit: 40 %.
pub const NEAR: f64 = 0.35;

/// The unit whose factor a ratio is nearest to, if it is within `near` of it on the log scale.
#[must_use]
pub fn unit_of(ratio: f64, among: &[&str], near: f64) -> Option<&'static str> {
    let of = |name: &&str| UNITS.iter().find(|(known, _)| known == name);
    let apart = |&(name, factor): &Unit| ((ratio / factor).ln().abs(), name);
    let nearest = among.iter().filter_map(of).map(apart);
    let nearest = nearest.min_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(b.1)))?;
    (nearest.0 <= near).then_some(nearest.1)
}

/// The median, of two middle values their mean; 0 of nothing. The values come back in no order.
#[must_use]
pub fn median(values: &mut [f64]) -> f64 {
    let middle = values.len() / 2;
    if values.is_empty() {
        return 0.0;
    }
    let is_even = values.len().is_multiple_of(2);
    let (below, high, _) = values.select_nth_unstable_by(middle, f64::total_cmp);
    if !is_even {
        return *high;
    }
    let low = below.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    f64::midpoint(low, *high)
}

/// Median, and 1.4826 times the median distance from it.
///
/// # Source
/// That estimates a standard deviation: Hampel 1974, J. Am. Stat. Assoc. 69:383 \[MEM\].
#[must_use]
pub fn middle(mut values: Vec<f64>) -> (f64, f64) {
    let middle = median(&mut values);
    for value in &mut values {
        *value = (*value - middle).abs();
    }
    (middle, 1.4826 * median(&mut values))
}
