//! Decimal text to exact integers and back. Money is kept in minor currency units.

/// Digits after the point of an ISO 4217 currency (`TZS` 2, `UGX` 0, `KWD` 3).
///
/// Returns `None` for a code that ISO 4217 does not list.
#[must_use]
pub fn currency_digits(code: &str) -> Option<u8> {
    let currency = iso_currency::Currency::from_code(code)?;
    u8::try_from(currency.exponent().unwrap_or(0)).ok()
}

/// Why a decimal could not be read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DecimalError {
    /// Not a plain decimal number with a point.
    NotANumber,
    /// More digits after the point than the unit has.
    TooPrecise,
    /// Too large for 64 bits.
    TooLarge,
}

/// Reads plain decimal text (`-12.50`) as an integer of `scale` decimal places, exactly.
///
/// ```
/// use traybook_domain::savings::money::{DecimalError, parse_decimal};
///
/// assert_eq!(parse_decimal("12.5", 2), Ok(1_250));
/// assert_eq!(parse_decimal("12.505", 2), Err(DecimalError::TooPrecise));
/// assert_eq!(parse_decimal("12,5", 2), Err(DecimalError::NotANumber));
/// ```
///
/// # Errors
/// `NotANumber` for anything but an optional minus, digits and one point; `TooPrecise` when
/// non-zero digits stand beyond `scale`; `TooLarge` beyond 64 bits.
pub fn parse_decimal(text: &str, scale: u8) -> Result<i64, DecimalError> {
    let (negative, digits) = match text.strip_prefix('-') {
        Some(rest) => (true, rest),
        None => (false, text),
    };
    let (whole, fraction) = digits.split_once('.').unwrap_or((digits, ""));
    let all_digits = |s: &str| s.bytes().all(|b| b.is_ascii_digit());
    if whole.is_empty() || !all_digits(whole) || !all_digits(fraction) {
        return Err(DecimalError::NotANumber);
    }
    if digits.contains('.') && fraction.is_empty() {
        return Err(DecimalError::NotANumber);
    }
    let fraction = fraction.trim_end_matches('0');
    let scale = usize::from(scale);
    if fraction.len() > scale {
        return Err(DecimalError::TooPrecise);
    }
    let mut total: i64 = 0;
    let padding = std::iter::repeat_n(b'0', scale - fraction.len());
    for digit in whole.bytes().chain(fraction.bytes()).chain(padding) {
        total = total
            .checked_mul(10)
            .and_then(|t| t.checked_add(i64::from(digit - b'0')))
            .ok_or(DecimalError::TooLarge)?;
    }
    Ok(if negative { -total } else { total })
}

/// Writes an integer of `scale` decimal places as plain decimal text without trailing zeros.
///
/// ```
/// use traybook_domain::savings::money::format_decimal;
///
/// assert_eq!(format_decimal(-1_250, 2), "-12.5");
/// assert_eq!(format_decimal(1_200, 2), "12");
/// ```
#[must_use]
pub fn format_decimal(value: i64, scale: u8) -> String {
    let power = 10_u64.pow(u32::from(scale));
    let magnitude = value.unsigned_abs();
    let sign = if value < 0 { "-" } else { "" };
    let (whole, rest) = (magnitude / power, magnitude % power);
    if rest == 0 {
        return format!("{sign}{whole}");
    }
    let fraction = format!("{rest:0width$}", width = usize::from(scale));
    format!("{sign}{whole}.{}", fraction.trim_end_matches('0'))
}

/// `a · b / c` rounded half away from zero, without overflow in between; `None` when `c` is 0.
///
/// ```
/// use traybook_domain::savings::money::mul_div;
///
/// // A third of 200.00, and half a cent that is owed.
/// assert_eq!(mul_div(20_000, 1, 3), Some(6_667));
/// assert_eq!(mul_div(-1, 1, 2), Some(-1));
/// ```
#[must_use]
pub fn mul_div(a: i64, b: i64, c: i64) -> Option<i64> {
    if c == 0 {
        return None;
    }
    let product = i128::from(a) * i128::from(b);
    let divisor = i128::from(c);
    let quotient = product / divisor;
    let rest = product % divisor;
    let up = rest.unsigned_abs() * 2 >= divisor.unsigned_abs();
    let step = if (product < 0) == (divisor < 0) { 1 } else { -1 };
    i64::try_from(quotient + if up { step } else { 0 }).ok()
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    #[test]
    fn parse_decimal_refuses_what_is_not_plain() {
        for text in ["", "-", ".5", "5.", "1e3", "1,5", " 1", "+1", "--1", "1.2.3"] {
            assert_eq!(parse_decimal(text, 3), Err(DecimalError::NotANumber), "{text:?}");
        }
        assert_eq!(parse_decimal("1.2345", 3), Err(DecimalError::TooPrecise));
        assert_eq!(parse_decimal("1.2340", 3), Ok(1234));
        assert_eq!(parse_decimal("99999999999999999999", 0), Err(DecimalError::TooLarge));
    }

    #[test]
    fn mul_div_rounds_half_away_from_zero() {
        assert_eq!(mul_div(5, 1, 2), Some(3));
        assert_eq!(mul_div(-5, 1, 2), Some(-3));
        assert_eq!(mul_div(4, 1, 3), Some(1));
        assert_eq!(mul_div(1, 1, 0), None);
    }

    #[test]
    fn currency_digits_follow_iso_4217() {
        // ISO 4217 list one, minor units: TZS 2, KES 2, UGX 0, KWD 3, JPY 0.
        let codes = [("TZS", 2), ("KES", 2), ("UGX", 0), ("KWD", 3), ("JPY", 0)];
        for (code, digits) in codes {
            assert_eq!(currency_digits(code), Some(digits), "{code}");
        }
        assert_eq!(currency_digits("ABC"), None);
    }

    proptest! {
        #[test]
        fn decimal_text_round_trips(value in -9_000_000_000_000_000_i64..9_000_000_000_000_000, scale in 0_u8..=6) {
            prop_assert_eq!(parse_decimal(&format_decimal(value, scale), scale), Ok(value));
        }
    }
}
