//! Quantities and money as they are sent: decimal numbers.

use crate::sheet::Cell;
use serde::{Deserialize, Deserializer, Serialize, Serializer, de};
use std::borrow::Cow;
use std::fmt;
use traybook_domain::field::json_decimal;
use traybook_domain::savings::money::{format_decimal, mul_div};
use traybook_domain::value::real;
use utoipa::openapi::schema::{ObjectBuilder, Type};
use utoipa::openapi::{RefOr, Schema};
use utoipa::{PartialSchema, ToSchema};

/// A number of the smallest unit, sent in the unit that people use: 12500 g as `12.5` (kg).
#[derive(Clone, Copy, Debug, Default)]
pub struct Decimal {
    /// Smallest units: g, ml, minor currency units.
    pub units: i64,
    /// Places after the point.
    pub digits: u8,
}

impl Decimal {
    /// So many units of `digits` places.
    #[must_use]
    pub const fn new(units: i64, digits: u8) -> Self {
        Self { units, digits }
    }

    /// Grams, sent as kg.
    #[must_use]
    pub const fn kg(grams: i64) -> Self {
        Self::new(grams, 3)
    }

    /// Hundredths of a per cent, sent as per cent.
    #[must_use]
    pub const fn percent(hundredths: i64) -> Self {
        Self::new(hundredths, 2)
    }

    /// The number as text has it and as it is computed with: the nearest double.
    #[must_use]
    pub fn real(self) -> f64 {
        // Both are exact below 2^53, and so their quotient is that nearest double.
        if self.units.unsigned_abs() < 1 << 53 {
            return real(self.units) / 10_f64.powi(i32::from(self.digits));
        }
        self.to_string().parse().unwrap_or(f64::NAN)
    }

    /// With at most so many places after the point, half away from zero.
    #[must_use]
    pub fn rounded(self, digits: u8) -> Self {
        let less = u32::from(self.digits.saturating_sub(digits));
        let power = 10_i64.checked_pow(less).unwrap_or(i64::MAX);
        let units = mul_div(self.units, 1, power);
        units.map_or(self, |units| Self::new(units, self.digits.min(digits)))
    }

    /// Units of so many places, half away from zero. A number that was read has the places of its
    /// text, so units are added only after this.
    #[must_use]
    pub fn units_of(self, digits: u8) -> i64 {
        let more = u32::from(digits.saturating_sub(self.digits));
        self.rounded(digits).units.saturating_mul(10_i64.saturating_pow(more))
    }

    /// Whether it is less than 0.
    #[must_use]
    pub const fn is_negative(self) -> bool {
        self.units < 0
    }

    /// Whether it is more than 0.
    #[must_use]
    pub const fn is_positive(self) -> bool {
        self.units > 0
    }
}

/// 4.0 is 4.
impl PartialEq for Decimal {
    fn eq(&self, other: &Self) -> bool {
        let in_tenths_of = |d: &Self, digits: u8| {
            i128::from(d.units) * 10_i128.pow(u32::from(digits.saturating_sub(d.digits)))
        };
        let digits = self.digits.max(other.digits);
        in_tenths_of(self, digits) == in_tenths_of(other, digits)
    }
}

impl Eq for Decimal {}

impl fmt::Display for Decimal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&format_decimal(self.units, self.digits))
    }
}

impl Serialize for Decimal {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        json_decimal(self.units, self.digits).serialize(to)
    }
}

impl<'de> Deserialize<'de> for Decimal {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        let number = serde_json::Number::deserialize(from)?;
        read(&number.to_string()).ok_or_else(|| de::Error::custom("a decimal number is needed"))
    }
}

/// Reads `-12.5`; a number too large or in powers of ten is none.
fn read(text: &str) -> Option<Decimal> {
    let (whole, part) = text.split_once('.').unwrap_or((text, ""));
    let digits = u8::try_from(part.len()).ok().filter(|d| *d <= 15)?;
    Some(Decimal::new(format!("{whole}{part}").parse().ok()?, digits))
}

impl Cell for Decimal {
    fn cell(&self) -> String {
        self.to_string()
    }
}

impl PartialSchema for Decimal {
    fn schema() -> RefOr<Schema> {
        ObjectBuilder::new().schema_type(Type::Number).into()
    }
}

impl ToSchema for Decimal {
    fn name() -> Cow<'static, str> {
        Cow::Borrowed("Decimal")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_whole_number_has_no_point_and_comes_back() {
        for (grams, text) in [(12_500, "12.5"), (12_000, "12"), (-1, "-0.001"), (0, "0")] {
            let kg = Decimal::kg(grams);
            assert_eq!(serde_json::to_string(&kg).expect("text"), text);
            assert_eq!(kg.cell(), text);
            let back: Decimal = serde_json::from_str(text).expect("read");
            assert_eq!(back.to_string(), text);
            assert_eq!(back.units_of(3), grams, "read with the places of its text");
        }
        assert_eq!(Decimal::new(1_255, 3).units_of(2), 126);
        assert!(serde_json::from_str::<Decimal>("\"1\"").is_err());
        assert_eq!(serde_json::from_str::<Decimal>("9.0").expect("read"), Decimal::new(9, 0));
        assert_ne!(Decimal::new(91, 1), Decimal::new(9, 0));
        assert_eq!(Decimal::new(-1_045, 2).rounded(1), Decimal::new(-105, 1));
        assert_eq!(Decimal::new(4, 0).rounded(1), Decimal::new(4, 0));
        for money in [94_471_714, -7_505_763, 400, 9_007_199_254_740_993] {
            let money = Decimal::new(money, 2);
            let text = serde_json::to_string(&money).expect("text");
            let back: Decimal = serde_json::from_str(&text).expect("read");
            assert_eq!(back.real().to_bits(), money.real().to_bits());
            assert_eq!(text.parse().map(f64::to_bits), Ok(money.real().to_bits()));
        }
    }
}
