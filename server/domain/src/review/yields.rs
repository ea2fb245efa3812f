//! What a kilogram of seed can give, and what a growing guide may say of it.

use super::mould::Verdict;

/// Fresh fodder from a kilogram of seed above which a yield is unlikely: the highest that trials
/// published (CHECKS 1.2 to 1.13: 3 to 8.4).
pub const HIGH: f64 = 8.4;
/// The same below which it is unlikely: two thirds of the lowest published. Poor germination goes
/// below 3 on working farms, so a low but honest batch is not listed.
pub const LOW: f64 = 2.0;
/// What a scale, or a sample dried in an oven, is honestly out by.
const SCALE: f64 = 1.05;
/// Dry matter in the wettest credible mat, 90 % water. The guide's own figure is no evidence.
const WETTEST: f64 = 0.10;
/// Dry matter of seed where nothing else is said.
pub const SEED_DRY_MATTER: f64 = 0.88;
/// Dry matter out over dry matter in from which a growing guide contradicts itself.
pub const GUIDE_MOST: f64 = 1.0;
/// The same from which it is warned of: germinating seed uses up some of its own.
pub const GUIDE_WARNED: f64 = 0.97;

/// Whether a harvest is impossible, or unlikely, on the seed of the trays harvested. `dry_matter`
/// is the share measured in this very fodder, where it was.
#[must_use]
pub fn yield_verdict(
    harvested: f64,
    seed: f64,
    dry_matter: Option<f64>,
    seed_dry_matter: f64,
) -> Option<Verdict> {
    let scales = SCALE * SCALE;
    if let Some(share) = dry_matter {
        let most = seed * seed_dry_matter * scales * SCALE;
        return (harvested * share > most).then_some(Verdict::YieldImpossible);
    }
    if harvested * WETTEST > seed * seed_dry_matter * scales {
        return Some(Verdict::YieldImpossible);
    }
    let is_likely = (seed * LOW / scales..=seed * HIGH * scales).contains(&harvested);
    (!is_likely).then_some(Verdict::YieldUnlikely)
}

/// Dry matter out over dry matter in, by a growing guide's own figures: fresh fodder from a
/// kilogram of seed, the share of water in it, and the seed's dry matter.
#[must_use]
pub fn guide_dry_matter(fresh: f64, water: f64, seed_dry_matter: f64) -> f64 {
    fresh * (1.0 - water) / seed_dry_matter
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn claim_of_more_dry_matter_out_than_in_is_caught() {
        // [READ + ARITH] CHECKS 1.17: 5.5 kg barley at 88 % to 55 kg at 12 %.
        let claim = yield_verdict(55.0, 5.5, Some(0.12), SEED_DRY_MATTER);
        assert_eq!(claim, Some(Verdict::YieldImpossible));
        // [READ] CHECKS 1.8 and 1.9: 300 g wheat to 1.23 kg fresh, at the 17.57 % of 1.5.
        assert_eq!(yield_verdict(1.23, 0.3, Some(0.1757), SEED_DRY_MATTER), None);
    }
}
