//! Feed on the basis of dry matter: costs, conversions and what sprouting can not do.

/// Cost of a kg of dry matter (or of any nutrient) given the price of a kg as fed and its share.
///
/// `None` when the share is not positive.
#[must_use]
pub fn cost_per_kg_of(price_per_kg: f64, share: f64) -> Option<f64> {
    (share > 0.0).then(|| price_per_kg / share)
}

/// A content given as fed, on the basis of dry matter. `None` when there is no dry matter.
#[must_use]
pub fn to_dry_matter_basis(as_fed_percent: f64, dry_matter_share: f64) -> Option<f64> {
    cost_per_kg_of(as_fed_percent, dry_matter_share)
}

/// The most crude protein, per cent of dry matter, that sprouts can have when so much dry matter
/// was lost and no nitrogen was added: the kilograms of protein do not rise.
///
/// `None` when nothing is left.
#[must_use]
pub fn protein_after_loss(before_percent: f64, dry_matter_loss: f64) -> Option<f64> {
    cost_per_kg_of(before_percent, 1.0 - dry_matter_loss)
}

/// Depreciation of one month by the straight line, minor units: the months of a whole life add up
/// to cost minus salvage exactly.
///
/// `month` counts from 0, the month of first use. Outside the life it is 0.
///
/// ```
/// use traybook_domain::rations::feed::straight_line;
///
/// // A shed of 1,000 over 3 months: no cent is lost to rounding.
/// let months: Vec<i64> = (0..4).map(|month| straight_line(1_000, 0, 3, month)).collect();
/// assert_eq!(months, [333, 334, 333, 0]);
/// ```
#[must_use]
pub fn straight_line(cost: i64, salvage: i64, life_months: i64, month: i64) -> i64 {
    if life_months <= 0 || month < 0 || month >= life_months {
        return 0;
    }
    let upto = |m: i64| crate::savings::money::mul_div(cost - salvage, m, life_months).unwrap_or(0);
    upto(month + 1) - upto(month)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn near(got: Option<f64>, want: f64, within: f64) {
        let got = got.expect("a value");
        assert!((got - want).abs() <= within, "{got} {want}");
    }

    #[test]
    fn cost_of_dry_matter_and_nutrients_matches_the_printed_example() {
        // [READ] J. Warner, Kansas State Univ. Extension (CHECKS 2.1): silage at $30 a ton as fed,
        // 27 % dry matter: $111.11 a ton of dry matter; TDN 55 % of it: $202.02 a ton of TDN.
        near(cost_per_kg_of(30.0, 0.27), 111.11, 0.005);
        near(cost_per_kg_of(30.0 / 0.27, 0.55), 202.02, 0.005);
        near(cost_per_kg_of(30.0 / 0.27, 0.60), 185.19, 0.005);
        assert_eq!(cost_per_kg_of(30.0, 0.0), None);
    }

    #[test]
    fn moisture_conversions_match_the_printed_inputs() {
        // [READ + ARITH] Parish, Mississippi State Univ. 2007 (CHECKS 2.3): 13.2 % moisture,
        // TDN 50.79, CP 7.2 as fed.
        near(to_dry_matter_basis(50.79, 0.868), 58.51, 0.005);
        near(to_dry_matter_basis(7.2, 0.868), 8.295, 0.0005);
        // [READ] Univ. of Nevada SP-09-19 (CHECKS 2.2): 60 % water, 2,000 lb hold 800 lb.
        assert!((2_000.0 * (1.0_f64 - 0.60) - 800.0).abs() < 1e-9);
    }

    #[test]
    fn protein_rises_only_because_dry_matter_is_lost() {
        // [ARITH] CHECKS 1.21b at the 21.9 % loss of Dung et al. 2010.
        for (before, after) in [(10.0, 12.80), (11.0, 14.08), (12.0, 15.36), (12.5, 16.01)] {
            near(protein_after_loss(before, 0.219), after, 0.006);
        }
        // [READ + ARITH] CHECKS 1.21: 7.6 to 14.56 % would need 48 % of the dry matter to be lost.
        near(protein_after_loss(7.6, 0.478), 14.56, 0.01);
    }

    #[test]
    fn water_per_kg_matches_the_printed_trays() {
        // [READ + ARITH] An-Najah thesis (CHECKS 1.8, 1.9): wheat 1.23 kg fresh, 2.41 l a tray.
        near(cost_per_kg_of(1.23, 2.41), 0.510, 0.0005);
        near(cost_per_kg_of(1.23, 0.3), 4.10, 0.005);
    }

    #[test]
    fn honest_saving_of_the_worked_example_is_a_loss() {
        // [MADE] CHECKS 1d: the naive count of fresh weight has the wrong sign.
        let depreciation = 60_000.0 / 5.0 / 52.0;
        let cost = 100.0 * 50.0 + 1_200.0 + 93.0 + 40.0 + depreciation;
        let dm_fed = 100.0 * 0.88 * (1.0 - 0.219) * 0.95;
        near(cost_per_kg_of(cost, dm_fed), 100.53, 0.005);
        let concentrate = cost_per_kg_of(45.0, 0.90).expect("dry matter");
        assert!((dm_fed * concentrate - cost + 3_299.19_f64).abs() < 0.01);
        assert!((570.0 * 45.0 - cost - 19_086.23_f64).abs() < 0.01);
    }

    #[test]
    fn straight_line_matches_the_worked_example() {
        // [MADE] CHECKS 1d: 60,000 over 5 years is 1,000 a month, 230.77 a week.
        assert_eq!(straight_line(6_000_000, 0, 60, 0), 100_000);
        assert_eq!(straight_line(6_000_000, 0, 60, 60), 0);
        assert_eq!(straight_line(6_000_000, 0, 60, -1), 0);
        assert_eq!(straight_line(6_000_000, 0, 5 * 52, 0), 23_077);
    }

    proptest! {
        #[test]
        fn straight_line_adds_up(cost in 0_i64..10_000_000_000, part in 0_i64..=100, life in 1_i64..600) {
            let salvage = cost / 100 * part;
            let total: i64 = (0..life).map(|m| straight_line(cost, salvage, life, m)).sum();
            prop_assert_eq!(total, cost - salvage);
        }
    }
}
