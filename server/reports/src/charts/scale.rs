//! From numbers to places: ticks on round numbers by `plotters`.

use plotters::coord::ranged1d::Ranged as _;
use plotters::coord::types::RangedCoordf64;

/// Largest number that is drawn; none of ours comes near.
const MOST: f64 = 1e15;

/// A straight scale.
pub struct Scale {
    low: f64,
    high: f64,
    from: f64,
    to: f64,
}

impl Scale {
    /// Over the numbers given, with a little room at both ends, from one place to another; `None`
    /// where there is no number.
    pub fn over(values: impl Iterator<Item = f64>, from: f64, to: f64) -> Option<Self> {
        let mut ends: Option<(f64, f64)> = None;
        for v in values.filter(|v| v.is_finite()) {
            let v = v.clamp(-MOST, MOST);
            let (low, high) = ends.unwrap_or((v, v));
            ends = Some((low.min(v), high.max(v)));
        }
        let (low, high) = ends?;
        let size = low.abs().max(high.abs());
        // A flat line stands in the middle.
        let room = if high - low > size * 1e-6 { (high - low) * 0.05 } else { size.max(1.0) * 0.5 };
        // Zero at an edge stays at the edge.
        let edge = |v: f64, moved: f64| if v == 0.0 && high > low { 0.0 } else { moved };
        Some(Self { low: edge(low, low - room), high: edge(high, high + room), from, to })
    }

    /// From one number to another, without room.
    pub fn between(low: f64, high: f64, from: f64, to: f64) -> Self {
        let high = if high - low > low.abs() * 1e-9 { high } else { low + low.abs().max(1.0) };
        Self { low, high, from, to }
    }

    /// Where a number stands; numbers outside stand at the edge.
    pub fn place(&self, value: f64) -> f64 {
        let share = (value.clamp(self.low, self.high) - self.low) / (self.high - self.low);
        self.from + share * (self.to - self.from)
    }

    /// Whether a number lies within.
    pub fn holds(&self, value: f64) -> bool {
        (self.low..=self.high).contains(&value)
    }

    /// Round numbers along the scale, at most so many, with their texts.
    pub fn ticks(&self, most: usize) -> Vec<(f64, String)> {
        let values = RangedCoordf64::from(self.low..self.high).key_points(most);
        let mut steps = values.iter().zip(values.iter().skip(1)).map(|(a, b)| b - a);
        let step = steps.next().filter(|s| s.is_finite() && *s > 0.0).unwrap_or(1.0);
        let mut digits = 0_usize;
        let mut part = step;
        while digits < 6 && (part - part.round()).abs() > 0.01 * part {
            part *= 10.0;
            digits += 1;
        }
        values.into_iter().map(|v| (v, number(v, digits))).collect()
    }
}

/// A number for reading: thousands apart, a true minus sign, so many digits after the point.
#[must_use]
pub fn number(value: f64, digits: usize) -> String {
    traybook_speech::number(value, digits)
}
