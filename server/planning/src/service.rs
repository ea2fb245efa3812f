//! The service level: how often any fodder may be missing, and what keeping that promise costs.

/// One step of the ladder.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Level {
    /// Seed soaked above the default, share of the need.
    pub extra: f64,
    /// Days of a hundred on which any fodder is missing, be it a handful.
    pub short_days: f64,
    /// Days of a hundred on which more than a tenth is missing.
    pub short_tenth_days: f64,
    /// Fodder thrown away, share of the need.
    pub wasted: f64,
    /// Seed soaked over the seed that the need would take if nothing were lost.
    pub seed: f64,
}

/// What each step gives, simulated over 60 farms and 400 days at 5 % spoilage and yields that vary
/// by 12 %: the table in `NOTES.md`, whose test measures it anew. The second step is the default.
/// The first takes no less seed than it: what is short is made up by young trays, which weigh less.
pub const LADDER: [Level; 6] = [
    level(-0.03, 46.0, 4.1, 0.022, 1.11),
    level(0.00, 33.0, 1.0, 0.043, 1.09),
    level(0.03, 23.0, 0.5, 0.068, 1.12),
    level(0.07, 15.0, 0.2, 0.105, 1.15),
    level(0.12, 8.0, 0.1, 0.153, 1.20),
    level(0.17, 5.0, 0.1, 0.200, 1.25),
];

const fn level(
    extra: f64,
    short_days: f64,
    short_tenth_days: f64,
    wasted: f64,
    seed: f64,
) -> Level {
    Level { extra, short_days, short_tenth_days, wasted, seed }
}

/// The level at which so many days of a hundred may lack any fodder, between the steps in
/// proportion, and no further than the ladder goes.
#[must_use]
pub fn level_of(short_days: f64) -> Level {
    let [first, .., last] = LADDER;
    if short_days >= first.short_days {
        return first;
    }
    let below = |pair: &&[Level]| pair.iter().any(|l| l.short_days <= short_days);
    let Some([high, low]) = LADDER.windows(2).find(below) else { return last };
    let part = (high.short_days - short_days) / (high.short_days - low.short_days);
    let between = |of: fn(&Level) -> f64| part.mul_add(of(low) - of(high), of(high));
    Level {
        extra: between(|l| l.extra),
        short_days,
        short_tenth_days: between(|l| l.short_tenth_days),
        wasted: between(|l| l.wasted),
        seed: between(|l| l.seed),
    }
}

/// Days of a hundred that may lack fodder where a kilogram wasted costs `waste` (its seed) and a
/// kilogram missing costs `short` (the bought feed in its place).
///
/// # Source
/// The single-period ("newsvendor") rule: Arrow, Harris & Marschak 1951, Econometrica 19:250 \[MEM\].
#[must_use]
pub fn worth_days(waste: f64, short: f64) -> Option<f64> {
    (waste > 0.0 && short > 0.0).then(|| 100.0 * waste / (waste + short))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_level_between_two_steps_lies_in_proportion() {
        // ARITH: 19 days lie half way from 23 (3 % more seed) to 15 (7 %).
        assert!((level_of(19.0).extra - 0.05).abs() < 1e-12);
        assert!((level_of(33.0).extra).abs() < 1e-12);
        assert!((level_of(60.0).extra + 0.03).abs() < 1e-12);
        assert!((level_of(1.0).extra - 0.17).abs() < 1e-12);
    }

    #[test]
    fn dear_feed_asks_for_fewer_short_days() {
        // ARITH: seed for a kg at 20, feed in its place at 60: a quarter of the days.
        assert_eq!(worth_days(20.0, 60.0), Some(25.0));
        assert_eq!(worth_days(20.0, 0.0), None);
    }
}
