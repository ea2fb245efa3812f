//! What pages show as a number or a day.

use chrono::NaiveDate;
use chrono_tz::Tz;
use serde_json::Value as Json;
use traybook_answers::Decimal;
use traybook_answers::wire::Time;
use traybook_domain::time::{local_date, parse_date, parse_instant};
use traybook_domain::value::Instant;

/// A number, or none where it is not known.
pub(super) trait Figure {
    fn number(&self) -> Option<f64>;

    /// Whether a text speaks of it in the singular.
    fn is_one(&self) -> bool {
        self.whole() == Some(1)
    }

    /// The number where it is counted, not measured.
    fn whole(&self) -> Option<i64> {
        None
    }

    /// What stands in its place where it is text.
    fn words(&self) -> Option<String> {
        None
    }
}

macro_rules! counted {
    ($($type:ty),+) => {
        $(impl Figure for $type {
            fn number(&self) -> Option<f64> {
                self.to_string().parse().ok()
            }

            fn whole(&self) -> Option<i64> {
                i64::try_from(*self).ok()
            }
        })+
    };
}

counted!(i64, u32, u64, usize);

impl Figure for f64 {
    fn number(&self) -> Option<f64> {
        Some(*self)
    }
}

impl Figure for Decimal {
    fn number(&self) -> Option<f64> {
        Some(self.real())
    }

    fn whole(&self) -> Option<i64> {
        self.to_string().parse().ok()
    }
}

impl<T: Figure> Figure for Option<T> {
    fn number(&self) -> Option<f64> {
        self.as_ref()?.number()
    }

    fn whole(&self) -> Option<i64> {
        self.as_ref()?.whole()
    }
}

impl Figure for Json {
    fn number(&self) -> Option<f64> {
        self.as_f64()
    }

    fn whole(&self) -> Option<i64> {
        self.as_i64()
    }

    fn words(&self) -> Option<String> {
        self.as_str().map(str::to_owned)
    }
}

/// A day, or an instant on a day; none where it is not known.
pub(super) trait Dated {
    /// The day in a zone.
    fn local_day(&self, zone: Option<Tz>) -> Option<NaiveDate>;

    fn instant(&self) -> Option<Instant> {
        None
    }
}

impl Dated for NaiveDate {
    fn local_day(&self, _: Option<Tz>) -> Option<NaiveDate> {
        Some(*self)
    }
}

impl Dated for Instant {
    fn local_day(&self, zone: Option<Tz>) -> Option<NaiveDate> {
        Some(local_date(*self, zone?))
    }

    fn instant(&self) -> Option<Instant> {
        Some(*self)
    }
}

impl Dated for Time {
    fn local_day(&self, zone: Option<Tz>) -> Option<NaiveDate> {
        self.0.local_day(zone)
    }

    fn instant(&self) -> Option<Instant> {
        Some(self.0)
    }
}

impl<T: Dated> Dated for Option<T> {
    fn local_day(&self, zone: Option<Tz>) -> Option<NaiveDate> {
        self.as_ref()?.local_day(zone)
    }

    fn instant(&self) -> Option<Instant> {
        self.as_ref()?.instant()
    }
}

impl Dated for Json {
    fn local_day(&self, zone: Option<Tz>) -> Option<NaiveDate> {
        parse_date(self.as_str()?).or_else(|| self.instant()?.local_day(zone))
    }

    fn instant(&self) -> Option<Instant> {
        parse_instant(self.as_str()?)
    }
}
