//! Prices of feed and seed that drift from month to month, and what season does.

use crate::random::{Rng, exp, float, round_to};
use chrono::{Datelike, NaiveDate};
use traybook_domain::Month;

/// Minor units in one shilling.
pub(crate) const MINOR: i64 = 100;

/// A feed of the demo.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(crate) enum FeedKind {
    /// Napier grass, cut fresh.
    Napier,
    MaizeBran,
    /// Compound meal for dairy cows.
    DairyMeal,
    SunflowerCake,
    /// Compound mash for hens in lay.
    LayerMash,
}

impl FeedKind {
    /// All feeds.
    pub(crate) const ALL: [Self; 5] =
        [Self::Napier, Self::MaizeBran, Self::DairyMeal, Self::SunflowerCake, Self::LayerMash];

    /// Position among the feeds.
    pub(crate) fn index(self) -> usize {
        Self::ALL.iter().position(|f| *f == self).unwrap_or(0)
    }

    pub(crate) fn name(self) -> &'static str {
        match self {
            Self::Napier => "Napier grass",
            Self::MaizeBran => "Maize bran",
            Self::DairyMeal => "Dairy meal",
            Self::SunflowerCake => "Sunflower cake",
            Self::LayerMash => "Layer mash",
        }
    }

    /// Dry matter and crude protein, hundredths of a per cent; energy, hundredths of MJ.
    pub(crate) fn values(self) -> (i64, i64, i64) {
        match self {
            Self::Napier => (2_000, 900, 800),
            Self::MaizeBran => (8_800, 1_050, 1_120),
            Self::DairyMeal => (8_900, 1_700, 1_180),
            Self::SunflowerCake => (9_100, 3_000, 1_050),
            Self::LayerMash => (8_900, 1_800, 1_150),
        }
    }

    /// Usual price, shillings a kg.
    pub(crate) fn usual(self) -> f64 {
        match self {
            Self::Napier => 70.0,
            Self::MaizeBran => 550.0,
            Self::DairyMeal => 1_000.0,
            Self::SunflowerCake => 800.0,
            Self::LayerMash => 1_350.0,
        }
    }
}

/// Crops that the demo grows.
pub(crate) const CROPS: [&str; 3] = ["barley", "maize", "wheat"];

/// Usual price of seed in the store, shillings a kg.
pub(crate) fn seed_usual(crop: &str) -> f64 {
    match crop {
        "maize" => 720.0,
        "wheat" => 940.0,
        _ => 860.0,
    }
}

/// What drifts with the months, the same for all farms.
pub(crate) struct Market {
    /// By month number, then feed: factor of the usual price.
    feeds: Vec<Vec<f64>>,
    /// By month number, then crop.
    seeds: Vec<Vec<f64>>,
    /// By month number: what the month did to all animals' output, on the log scale.
    shocks: Vec<f64>,
}

impl Market {
    /// Draws the drift of so many months.
    pub(crate) fn new(seed: u64, months: usize) -> Self {
        let mut rng = Rng::of(seed, "market", 0);
        let (mut feeds, mut seeds, mut shocks) = (Vec::new(), Vec::new(), Vec::new());
        let mut feed = vec![0.0_f64; FeedKind::ALL.len()];
        let mut crop = vec![0.0_f64; CROPS.len()];
        for _ in 0..=months {
            for walk in feed.iter_mut().chain(crop.iter_mut()) {
                // Pulled back a little, so that three years do not run away.
                *walk = *walk * 0.95 + 0.002 + 0.025 * rng.normal();
            }
            feeds.push(feed.iter().map(|w| exp(*w)).collect());
            seeds.push(crop.iter().map(|w| exp(*w)).collect());
            shocks.push(0.02 * rng.normal());
        }
        Self { feeds, seeds, shocks }
    }

    /// Price of a feed in a month, shillings a kg before a farm's own haggling.
    pub(crate) fn feed(&self, number: usize, feed: FeedKind) -> f64 {
        let factor = self.feeds.get(number).and_then(|m| m.get(feed.index()));
        feed.usual() * factor.copied().unwrap_or(1.0)
    }

    /// Price of seed in a month, minor units a kg.
    pub(crate) fn seed(&self, number: usize, crop: &str) -> i64 {
        let index = CROPS.iter().position(|c| *c == crop).unwrap_or(0);
        let factor = self.seeds.get(number).and_then(|m| m.get(index)).copied().unwrap_or(1.0);
        round_to(seed_usual(crop) * factor, 10) * MINOR
    }

    /// What a month did to the output of all animals, log scale.
    pub(crate) fn shock(&self, number: usize) -> f64 {
        self.shocks.get(number).copied().unwrap_or(0.0)
    }
}

/// Log effect of the season on milk: grass grows in the long rains and lacks before the short.
pub(crate) fn season(month: Month) -> f64 {
    const BY_MONTH: [f64; 12] =
        [0.00, 0.00, 0.03, 0.07, 0.07, 0.04, 0.00, -0.03, -0.06, -0.07, -0.04, -0.01];
    of_month(&BY_MONTH, month)
}

/// How damp a month is: factor of the chance that trays spoil.
pub(crate) fn damp(month: Month) -> f64 {
    const BY_MONTH: [f64; 12] =
        [0.95, 0.95, 1.20, 1.30, 1.20, 0.95, 0.85, 0.80, 0.85, 0.90, 1.05, 1.00];
    of_month(&BY_MONTH, month)
}

/// Mean air temperature by day, degrees Celsius, and relative humidity, per cent.
pub(crate) fn weather(month: Month) -> (f64, f64) {
    const WARM: [f64; 12] =
        [25.0, 25.2, 24.6, 23.0, 21.6, 20.4, 19.8, 20.6, 22.0, 23.6, 24.4, 24.8];
    (of_month(&WARM, month), 68.0 + 40.0 * (damp(month) - 1.0))
}

pub(crate) const WEATHER_DAYS: i32 = 4;
/// Above this temperature a soak sours: degrees Celsius.
pub(crate) const HOT: f64 = 26.0;

/// How much warmer a day is than its month, degrees Celsius: some days hang together.
pub(crate) fn heat(seed: u64, day: NaiveDate) -> f64 {
    let block = day.num_days_from_ce().div_euclid(WEATHER_DAYS);
    3.5 * Rng::of(seed, "heat", usize::try_from(block).unwrap_or(0)).normal()
}

fn of_month(values: &[f64; 12], month: Month) -> f64 {
    let index = usize::try_from(month.first_day().month0()).unwrap_or(0);
    values.get(index).copied().unwrap_or(0.0)
}

/// What so many grams cost at a price, rounded to ten shillings.
pub(crate) fn cost(grams: i64, shillings_per_kg: f64) -> i64 {
    round_to(float(grams) / 1000.0 * shillings_per_kg, 10) * MINOR
}
