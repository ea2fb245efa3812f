//! Trays of a batch as spoilage counts them: begun and lost.

use crate::value::Instant;

/// One event of a batch, as far as it moves trays.
#[derive(Clone, Copy, Debug)]
pub struct TrayEvent<'a> {
    /// Which, one of [`BATCH_EVENTS`](crate::kinds::BATCH_EVENTS).
    pub event: &'a str,
    pub at: Instant,
    /// Trays concerned.
    pub trays: Option<i64>,
    /// Seed soaked, or fodder harvested or thrown away, grams.
    pub grams: Option<i64>,
    /// Why trays were discarded.
    pub cause: Option<&'a str>,
    /// Seeds that had germinated, hundredths of a per cent.
    pub germinated: Option<i64>,
}

/// What a batch's events add up to.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct TraySums {
    /// First soak.
    pub soaked_at: Option<Instant>,
    /// Dry seed, grams.
    pub seed_g: i64,
    /// Trays it was soaked for, as recorded.
    pub soaked_for: Option<i64>,
    /// Trays spread; none before the first spread.
    pub spread: Option<i64>,
    /// Trays discarded before the first spread.
    pub before: i64,
    /// Trays discarded from the shelf.
    pub discarded: i64,
    /// Trays harvested.
    pub harvested: i64,
    /// Grams harvested; none where a harvest was not weighed.
    pub harvested_g: Option<i64>,
    /// Grams thrown away after harvest, without what was only left over.
    pub thrown_g: i64,
    /// Last harvest.
    pub harvested_at: Option<Instant>,
    /// Last harvest or discard.
    pub ended_at: Option<Instant>,
    /// Seeds that had germinated when they were last counted, hundredths of a per cent.
    pub germinated: Option<i64>,
}

/// Trays of a batch that counts.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct CountedTrays {
    /// Trays begun.
    pub begun: i64,
    /// Trays lost, not above `begun`.
    pub lost: i64,
}

/// Why a batch, or a part of it, is not counted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum NotCounted {
    /// Trays are neither harvested nor discarded.
    Unfinished,
    /// More trays were lost than begun: one of the records is wrong.
    MoreLostThanBegun,
    /// The batch counts, but not what was thrown away after a harvest that was not weighed.
    ThrownUnweighed,
}

impl NotCounted {
    /// All reasons.
    pub const ALL: &'static [Self] =
        &[Self::Unfinished, Self::MoreLostThanBegun, Self::ThrownUnweighed];

    /// The name in the database.
    #[must_use]
    pub const fn text(self) -> &'static str {
        match self {
            Self::Unfinished => "unfinished",
            Self::MoreLostThanBegun => "more_lost_than_begun",
            Self::ThrownUnweighed => "thrown_unweighed",
        }
    }

    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        Self::ALL.iter().copied().find(|r| r.text() == text)
    }
}

impl TraySums {
    /// Adds up the events of one batch, in any order.
    #[must_use]
    pub fn of(events: &[TrayEvent<'_>]) -> Self {
        let of = |kind: &'static str| events.iter().filter(move |e| e.event == kind);
        let trays = |e: &TrayEvent<'_>| e.trays.unwrap_or(0).max(0);
        let grams = |e: &TrayEvent<'_>| e.grams.unwrap_or(0).max(0);
        let first_spread = of("spread").map(|e| e.at).min();
        let is_before = |e: &&TrayEvent<'_>| first_spread.is_none_or(|first| e.at < first);
        let lost = || of("discarded").filter(|e| trays(e) > 0);
        let thrown = of("discarded")
            .filter(|e| trays(e) == 0 && e.cause != Some("left_too_long"))
            .map(grams)
            .sum();
        let is_weighed = of("harvested").all(|e| e.grams.is_some_and(|g| g > 0));
        let figures = of("soaked").filter_map(|e| e.trays.filter(|t| *t > 0));
        let counted = of("spread").filter(|e| e.germinated.is_some());
        Self {
            soaked_at: of("soaked").map(|e| e.at).min(),
            seed_g: of("soaked").map(grams).sum(),
            soaked_for: figures.reduce(|a, b| a + b),
            spread: first_spread.map(|_| of("spread").map(trays).sum()),
            before: lost().filter(is_before).map(trays).sum(),
            discarded: lost().filter(|e| !is_before(e)).map(trays).sum(),
            harvested: of("harvested").map(trays).sum(),
            harvested_g: is_weighed.then(|| of("harvested").map(grams).sum()),
            thrown_g: thrown,
            harvested_at: of("harvested").map(|e| e.at).max(),
            ended_at: of("harvested").chain(of("discarded")).map(|e| e.at).max(),
            germinated: counted.max_by_key(|e| e.at).and_then(|e| e.germinated),
        }
    }

    /// Trays it was soaked for: as recorded, else as many full loads as the seed makes, rounded
    /// half up; at least 1. `load_g` is the seed on a full tray.
    #[must_use]
    pub fn planned(&self, load_g: i64) -> i64 {
        let loads = || (2 * self.seed_g + load_g.max(1)) / (2 * load_g.max(1));
        self.soaked_for.unwrap_or_else(loads).max(1)
    }

    /// Trays spread that are neither harvested nor discarded.
    #[must_use]
    pub fn open(&self) -> i64 {
        (self.spread.unwrap_or(0) - self.harvested - self.discarded).max(0)
    }

    /// Whether all trays are harvested or discarded; of a batch that was never spread, whether
    /// anything was discarded.
    #[must_use]
    pub fn is_finished(&self) -> bool {
        match self.spread.filter(|spread| *spread > 0) {
            Some(spread) => self.harvested + self.discarded >= spread,
            None => self.before > 0,
        }
    }

    /// Trays begun and lost, whether or not the batch is finished; none where nothing is known or
    /// more was lost than begun.
    #[must_use]
    pub fn trays(&self, planned: i64) -> Option<CountedTrays> {
        let spread = self.spread.filter(|spread| *spread > 0);
        if spread.is_none() && self.before == 0 && self.discarded == 0 {
            return None;
        }
        let begun = spread.map_or(planned.max(self.before), |spread| spread + self.before);
        let lost = self.before + self.discarded + self.thrown();
        (begun > 0 && lost <= begun).then_some(CountedTrays { begun, lost })
    }

    /// Fodder thrown away after harvest, in trays.
    fn thrown(&self) -> i64 {
        let Some(harvested_g) = self.harvested_g.filter(|g| *g > 0) else { return 0 };
        let [thrown, trays, grams] = [self.thrown_g, self.harvested, harvested_g].map(i128::from);
        let thrown = (2 * thrown * trays + grams) / (2 * grams);
        i64::try_from(thrown).unwrap_or(i64::MAX).min(self.harvested)
    }

    /// How the batch counts, and what of it does not.
    #[must_use]
    pub fn counted(&self, planned: i64) -> (Option<CountedTrays>, Option<NotCounted>) {
        if !self.is_finished() {
            return (None, Some(NotCounted::Unfinished));
        }
        let Some(trays) = self.trays(planned) else {
            return (None, Some(NotCounted::MoreLostThanBegun));
        };
        let is_unweighed = self.thrown_g > 0 && self.harvested_g.is_none_or(|g| g <= 0);
        (Some(trays), is_unweighed.then_some(NotCounted::ThrownUnweighed))
    }
}
