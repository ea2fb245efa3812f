//! Quantities and money as they are sent: decimal numbers.

use crate::sheet::Cell;
use serde::{Deserialize, Deserializer, Serialize, Serializer, de};
use std::borrow::Cow;
use std::fmt;
use traybook_domain::field::json_decimal;
use utoipa::openapi::schema::{ObjectBuilder, Type};
use utoipa::openapi::{RefOr, Schema};
use utoipa::{PartialSchema, ToSchema};

/// A number of the smallest unit, sent in the unit that people use: 12500 g as `12.5` (kg).
#[derive(Clone, Copy, Debug, PartialEq, Eq, Default)]
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

    /// The nearest double.
    #[must_use]
    pub fn real(self) -> Option<f64> {
        json_decimal(self.units, self.digits).as_f64()
    }

    /// Hundredths of a per cent, sent as per cent.
    #[must_use]
    pub const fn percent(hundredths: i64) -> Self {
        Self::new(hundredths, 2)
    }
}

impl fmt::Display for Decimal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        json_decimal(self.units, self.digits).fmt(f)
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
        }
        assert!(serde_json::from_str::<Decimal>("\"1\"").is_err());
    }
}
