//! Milk of made-up farms whose true change after the start is known.

use crate::random::Rng;

/// What milk becomes of what it would have been, where it falls: 13 % less.
pub const FALL: f64 = 0.87;
/// Litres a cow and day.
const LITRES: f64 = 8.0;
/// Share that is sold.
const SOLD: f64 = 0.8;

/// Milk of a day.
pub struct Milked {
    /// Day of records.
    pub day: usize,
    /// Litres.
    pub litres: f64,
    /// Litres sold.
    pub sold: f64,
    /// Price of a litre, currency units.
    pub price: i64,
    /// What the change since the start came to, currency units.
    pub gained: f64,
}

/// Milks `head` cows a day; `shared` is the factor of everybody's month, `falls_on` the start.
pub fn milk(
    (seed, farm): (u64, usize),
    head: &[i64],
    shared: impl Fn(usize) -> f64,
    falls_on: Option<usize>,
) -> Vec<Milked> {
    let mut rng = Rng::of(seed, 8, farm);
    let level = LITRES * (0.2 * rng.normal()).exp();
    let mut lasting = 0.0;
    let day = |(day, head): (usize, &i64)| {
        // Noise that lasts about a month, so that a farm's months differ.
        lasting = 0.97 * lasting + 0.24 * rng.normal();
        let noise = 0.05 * lasting + 0.04 * rng.normal();
        let without = level * *head as f64 * shared(day) * noise.exp();
        let change = if falls_on.is_some_and(|start| day >= start) { FALL } else { 1.0 };
        let litres = (10.0 * without * change).round() / 10.0;
        let price = 1_000 + (day / 100) as i64 * 20;
        let sold = (10.0 * SOLD * litres).floor() / 10.0;
        Milked { day, litres, sold, price, gained: litres * price as f64 * (1.0 - 1.0 / change) }
    };
    head.iter().enumerate().map(day).collect()
}
