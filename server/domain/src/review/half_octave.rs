//! Rates by half octaves: a step of a factor of about 1.41, so that a slip of a factor of four lies
//! eight steps off and can be left out of sums that are kept by step.

/// Lowest and highest half octave that is kept apart; beyond them the end one stands.
const STEPS: (i32, i32) = (-20, 19);
/// Half octave of a rate of 0.
pub const OF_NOTHING: i32 = STEPS.0 - 1;

/// Half octave of a rate: `floor(2 log2 rate)`, exact on whole numbers.
///
/// # Units
/// `output` in `1 / unit` of the rate's own (ml: 1000), `animals` as heads.
///
/// # Shape
/// None without animals or with an output below 0: such a record is not valid.
///
/// # Example
/// ```
/// use traybook_domain::review::half_octave::half_octave;
/// // 12 litres of two cows are 6 a cow: 2 log2 6 = 5.17.
/// assert_eq!(half_octave(12_000, 2, 1_000), Some(5));
/// assert_eq!(half_octave(0, 2, 1_000), Some(-21));
/// assert_eq!(half_octave(5, 0, 1), None);
/// ```
pub fn half_octave(output: i64, animals: i64, unit: u32) -> Option<i32> {
    let output = u128::try_from(output).ok()?;
    let whole = u128::try_from(animals).ok().filter(|a| *a > 0)? * u128::from(unit.max(1));
    if output == 0 {
        return Some(OF_NOTHING);
    }
    // What is beyond 2^50 loses its last digits, so that squares times 2^20 fit.
    let bits = 128 - output.max(whole).leading_zeros();
    let (top, bottom) = (output >> bits.saturating_sub(50), whole >> bits.saturating_sub(50));
    // rate^2 >= 2^b, without a logarithm: the same bin on every machine.
    let reaches = |b: &i32| {
        let (up, down) = ((-b).max(0).unsigned_abs(), (*b).max(0).unsigned_abs());
        (top * top) << up >= (bottom * bottom) << down
    };
    Some((STEPS.0..=STEPS.1).rev().find(reaches).unwrap_or(STEPS.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Powers of two are borders: the half octave begins there, exactly.
    #[test]
    fn half_octaves_begin_at_powers_of_two() {
        for power in 0..9 {
            let output = 1_000 << power;
            assert_eq!(half_octave(output, 1, 1_000), Some(2 * power));
            assert_eq!(half_octave(output - 1, 1, 1_000), Some(2 * power - 1));
        }
        assert_eq!(half_octave(1, 10_000, 1_000), Some(-20));
        assert_eq!(half_octave(i64::MAX, 1, 1), Some(19));
        assert_eq!(half_octave(i64::MAX, i64::MAX, 1_000), Some(-20));
        assert_eq!(half_octave(-1, 1, 1), None);
    }

    proptest::proptest! {
        /// The exact half octave is that of the logarithm, but for rates on a border.
        #[test]
        fn half_octaves_are_those_of_the_logarithm(output in 1_i64..2_000_000_000, animals in 1_i64..50_000) {
            let found = half_octave(output, animals, 1_000).unwrap();
            #[expect(clippy::cast_precision_loss, reason = "far below 2^53")]
            let exact = 2.0 * (output as f64 / 1_000.0 / animals as f64).log2();
            let is_border = (exact - exact.round()).abs() < 1e-9;
            #[expect(clippy::cast_possible_truncation, reason = "within 40 steps")]
            let expected = exact.floor().clamp(-20.0, 19.0) as i32;
            proptest::prop_assert!(is_border || found == expected);
        }
    }
}
