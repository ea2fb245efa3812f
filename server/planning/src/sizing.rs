//! How much seed to soak when trays spoil and yields vary: reserve, debt and capacity.
//!
//! Amounts are kilograms or any other unit of weight, the same throughout.

/// Share of spoiled trays that seed is soaked ahead for: the rest is made up by young trays.
const AHEAD: f64 = 0.8;
/// Share above the need that the trays due each day shall hold.
const FLOOR: f64 = 0.03;
/// Spoilage, spread of yields and weight lost by a day's early harvest up to which no more than the
/// reserve of the size is kept.
const USUAL: (f64, f64, f64) = (0.05, 0.12, 0.12);
/// What a computed number of trays may be above a whole one, for rounding alone.
const NEARLY: f64 = 1e-9;

/// What a farm's own records say of its harvests, and what the growing guide says of risk.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Risk {
    /// Share of trays expected to spoil.
    pub spoil: f64,
    /// Spread of a harvest's yield, log scale.
    pub sd: f64,
    /// Share of its weight that a tray lacks when it is harvested a day early.
    pub young: f64,
    /// Seed above the default promise, as a share of the need: the service level.
    pub extra: f64,
}

/// Seed kept in reserve, as a share of the need, by trays a day.
///
/// Small farms keep more: one lost tray of one is a day without feed. The shares come from the
/// simulations in `NOTES.md`.
#[must_use]
pub fn reserve(trays: i64, risk: &Risk) -> f64 {
    let small = match trays {
        1 => 0.08,
        2 | 3 => 0.04,
        _ => 0.0,
    };
    let (spoil, sd, young) = USUAL;
    small
        + 0.4 * (risk.spoil - spoil).max(0.0)
        + 0.5 * (risk.sd - sd).max(0.0)
        + (risk.young - young).max(0.0)
}

/// Whether a shed can hold more than is lost. `trays_of_places` are the places over the days that a
/// tray stands. Where it can not, nothing would ever repay a tray that is harvested early.
#[must_use]
pub fn has_capacity(
    need: f64,
    fresh: f64,
    spoil: f64,
    load_most: f64,
    trays_of_places: f64,
) -> bool {
    trays_of_places * load_most * fresh * (1.0 - spoil) >= need
}

/// A day's seed with its reserve, over the seed that is needed: of a need and the full load of a
/// tray.
#[must_use]
pub fn base_share(need: f64, load: f64, risk: &Risk) -> f64 {
    1.0 + AHEAD * risk.spoil + kept(need, load, risk)
}

/// What is kept above the need, as a share, besides what is soaked ahead for spoilage.
fn kept(need: f64, load: f64, risk: &Risk) -> f64 {
    reserve(whole(need / load), risk) + risk.extra
}

/// Whole trays for all that is asked, as full as they may be.
#[must_use]
pub fn trays_of(seed: f64, load: f64, light: bool) -> i64 {
    whole(seed / load).max(if light { 2 } else { 1 })
}

/// A day's ask.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Ask<'a> {
    /// Seed that the animals need: of today, tomorrow, ... and last of the day soaked for.
    pub need: &'a [f64],
    /// Seed on good trays due today, tomorrow, ... up to the day before the one soaked for.
    pub standing: &'a [f64],
    /// Full load of a tray.
    pub load: f64,
    /// Whether one tray a day is grown on two light ones. The reserve stays that of one tray: with
    /// that of two, a cow's tray went short by a tenth on 9 days of a hundred (`NOTES.md`).
    pub light: bool,
    /// Whether the farm has not come to its first feeding day: then nothing is owed.
    pub is_ramp: bool,
}

/// What is asked for, before places are looked at.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Asked {
    /// Seed for the day itself, its reserve included.
    pub base: f64,
    /// Seed of it that is reserve.
    pub reserve: f64,
    /// Seed on top for what is missing on the days before; at most as much again.
    pub debt: f64,
    /// What is missing, summed up to each of those days.
    pub owed: Vec<f64>,
    /// Whole trays.
    pub trays: i64,
}

impl Asked {
    #[must_use]
    pub fn seed(&self) -> f64 {
        self.base + self.debt
    }
}

/// The seed for one day's fodder with its reserve, and for what is missing before it.
///
/// Each day shall find [`FLOOR`] more than its need on good trays. What is missing moves forward
/// day by day, since a day may harvest trays of the next; today's soak is the first that can repay.
#[must_use]
pub fn soak(ask: &Ask<'_>, risk: &Risk) -> Asked {
    let need = ask.need.last().copied().unwrap_or(0.0);
    let keep = kept(need, ask.load, risk);
    let base = need * base_share(need, ask.load, risk);
    let mut owed = vec![0.0; ask.standing.len()];
    let mut debt = 0.0_f64;
    if !ask.is_ramp {
        for ((owed, need), standing) in owed.iter_mut().zip(ask.need).zip(ask.standing) {
            debt = (debt + need * (1.0 + FLOOR + keep) - standing).max(0.0);
            *owed = debt;
        }
    }
    let debt = debt.min(base);
    let mut asked = Asked { base, reserve: base - need, debt, owed, trays: 0 };
    if need > 0.0 {
        asked.trays = trays_of(asked.seed(), ask.load, ask.light);
    }
    asked
}

/// Trays when what is owed comes on trays of its own, each as full as those of the day itself: a
/// day's trays that all carry more could not be taken early one by one without taking too much.
fn spread_out(asked: &Asked, load: f64, light: bool) -> i64 {
    let alone = trays_of(asked.base, load, light);
    let more = floor(asked.debt / (asked.base / real(alone)) + 0.5);
    asked.trays.max(alone + more)
}

/// Seed and whole trays where places are many: what is owed on trays of its own; else as [`fit`].
#[must_use]
pub fn fit_well(
    asked: &Asked,
    free: &[Option<i64>],
    (load, load_most): (f64, f64),
    light: bool,
) -> (f64, i64) {
    let trays = spread_out(asked, load, light);
    let is_free = free.iter().flatten().all(|free| *free >= trays);
    if asked.trays > 0 && is_free { (asked.seed(), trays) } else { fit(asked, free, load_most) }
}

/// Seed and whole trays on the places that there are. `free` are the places of each night from
/// tonight on, none before spreading; trays that will be harvested early free theirs. A tray
/// carries at most `load_most`.
#[must_use]
pub fn fit(asked: &Asked, free: &[Option<i64>], load_most: f64) -> (f64, i64) {
    let seed = asked.seed();
    if asked.trays == 0 {
        return (0.0, 0);
    }
    let each = seed / real(asked.trays);
    let room =
        |(owed, free): (&f64, &Option<i64>)| free.map(|free| free + floor(owed / each + NEARLY));
    let most = asked.owed.iter().zip(free).filter_map(room).min().unwrap_or(asked.trays);
    let trays = asked.trays.min(most).max(0);
    (seed.min(real(trays) * load_most), trays)
}

/// Whole trays, one at least.
fn whole(trays: f64) -> i64 {
    floor((trays - NEARLY).ceil()).max(1)
}

pub(crate) fn floor(value: f64) -> i64 {
    value.floor() as i64
}

pub(crate) const fn real(value: i64) -> f64 {
    value as f64
}
