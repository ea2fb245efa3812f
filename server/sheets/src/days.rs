//! Days and clocks as people write them.

use crate::words::normal;
use chrono::NaiveDate;
use traybook_speech::Language;

/// Which comes first where a day is written in figures.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum DayOrder {
    /// 5/3 is the fifth of March.
    DayFirst,
    /// 5/3 is the third of May.
    MonthFirst,
}

impl DayOrder {
    /// Its name in forms and in what is kept.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::DayFirst => "day-first",
            Self::MonthFirst => "month-first",
        }
    }

    /// By its name.
    #[must_use]
    pub fn parse(name: &str) -> Option<Self> {
        [Self::DayFirst, Self::MonthFirst].into_iter().find(|order| order.name() == name)
    }
}

/// What a written day can mean.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Day {
    /// This day in any order.
    One(NaiveDate),
    /// Day first, month first.
    Two(NaiveDate, NaiveDate),
    /// One day only, and only in this order.
    Only(NaiveDate, DayOrder),
    /// No day.
    Not,
}

/// Reads a day. Years of two figures are those up to the next year, else of the century before.
#[must_use]
pub fn day(text: &str, this_year: i32) -> Day {
    let parts: Vec<&str> =
        text.split(|c: char| !c.is_alphanumeric()).filter(|p| !p.is_empty()).collect();
    let [a, b, c] = match parts.as_slice() {
        [a, b, c] => [*a, *b, *c],
        // "Thursday, 5 March 2026".
        [_, a, b, c] if text.chars().any(char::is_alphabetic) => [*a, *b, *c],
        _ => return Day::Not,
    };
    let figures = |t: &str| {
        let t = t.trim_end_matches(|c: char| c.is_ascii_lowercase());
        (t.len() <= 4 && t.bytes().all(|b| b.is_ascii_digit())).then(|| t.parse::<u32>().ok())?
    };
    let year = |t: &str| {
        let value = i32::try_from(figures(t)?).ok()?;
        match t.len() {
            4 => Some(value),
            2 if 2000 + value <= this_year + 1 => Some(2000 + value),
            2 => Some(1900 + value),
            _ => None,
        }
    };
    let is_day = |y: Option<i32>, m: Option<u32>, d: Option<u32>| {
        let day = y.zip(m.zip(d)).and_then(|(y, (m, d))| NaiveDate::from_ymd_opt(y, m, d));
        day.map_or(Day::Not, Day::One)
    };
    if a.len() == 4 && a.bytes().all(|b| b.is_ascii_digit()) {
        return is_day(year(a), figures(b).or_else(|| month(b)), figures(c));
    }
    if let Some(named) = month(b) {
        return is_day(year(c), Some(named), figures(a));
    }
    if let Some(named) = month(a) {
        return is_day(year(c), Some(named), figures(b));
    }
    let (Some(a), Some(b), Some(year)) = (figures(a), figures(b), year(c)) else { return Day::Not };
    let day_first = NaiveDate::from_ymd_opt(year, b, a);
    let month_first = NaiveDate::from_ymd_opt(year, a, b);
    match (day_first, month_first) {
        (Some(one), Some(other)) if one == other => Day::One(one),
        (Some(one), Some(other)) => Day::Two(one, other),
        (Some(one), None) => Day::Only(one, DayOrder::DayFirst),
        (None, Some(one)) => Day::Only(one, DayOrder::MonthFirst),
        (None, None) => Day::Not,
    }
}

/// A month by its name in any language, or the first letters of it.
fn month(text: &str) -> Option<u32> {
    let text = normal(text);
    let fits = |number: &u32| {
        Language::ALL
            .iter()
            .any(|language| normal(&language.text(&format!("month-{number}"))).starts_with(&text))
    };
    let is_word = text.chars().count() >= 3 && text.chars().all(char::is_alphabetic);
    is_word.then(|| (1..=12).find(fits))?
}

/// A text cut into its day and its clock as `HH:MM`; without a clock all of it is the day.
#[must_use]
pub fn apart(text: &str) -> (&str, Option<String>) {
    let lower = text.to_ascii_lowercase();
    let ends = ["am", "pm"].into_iter().find(|end| lower.ends_with(end));
    let rest = text.get(..text.len() - ends.map_or(0, str::len)).unwrap_or(text).trim_end();
    let Some((day, clock)) = rest.rsplit_once([' ', 'T', ',']).filter(|(_, c)| c.contains(':'))
    else {
        return (text, None);
    };
    let mut parts = clock.split(':').map(|p| {
        let figures = p.split('.').next().unwrap_or_default();
        (1..=2).contains(&figures.len()).then(|| figures.parse::<u32>().ok())?
    });
    let (hour, minute) = (parts.next().flatten(), parts.next().flatten());
    let hour = hour.map(|hour| match (ends, hour) {
        (Some("pm"), 1..=11) => hour + 12,
        (Some("am"), 12) => 0,
        _ => hour,
    });
    match (hour.filter(|h| *h < 24), minute.filter(|m| *m < 60)) {
        (Some(hour), Some(minute)) => (day.trim_end(), Some(format!("{hour:02}:{minute:02}"))),
        _ => (text, None),
    }
}

/// What days themselves show of their order.
#[must_use]
pub fn order_shown<'a>(texts: impl Iterator<Item = &'a str>) -> Shown {
    let mut shown = Shown::default();
    for text in texts {
        // Whichever century it is, the order is the same.
        match day(apart(text).0, 2000) {
            Day::Only(_, DayOrder::DayFirst) => shown.day_first = true,
            Day::Only(_, DayOrder::MonthFirst) => shown.month_first = true,
            Day::Two(..) => shown.is_open = true,
            Day::One(_) | Day::Not => {}
        }
    }
    shown
}

/// What the days of a file show.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Shown {
    /// One can only be day first.
    pub day_first: bool,
    /// One can only be month first.
    pub month_first: bool,
    /// One can be both.
    pub is_open: bool,
}

impl Shown {
    /// The order, where it is certain.
    #[must_use]
    pub const fn order(self) -> Option<DayOrder> {
        match (self.day_first, self.month_first) {
            (true, false) => Some(DayOrder::DayFirst),
            (false, true) => Some(DayOrder::MonthFirst),
            _ => None,
        }
    }

    /// Whether a person must say it.
    #[must_use]
    pub const fn must_be_asked(self) -> bool {
        self.order().is_none() && (self.is_open || self.day_first)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn on(text: &str) -> NaiveDate {
        text.parse().expect("a day")
    }

    #[test]
    fn days_are_read_as_people_write_them() {
        for text in [
            "2026-03-25",
            "2026/3/25",
            "25 March 2026",
            "25-Mar-26",
            "Mar 25, 2026",
            "25 Machi 2026",
            "25th March 2026",
            "Wednesday, 25 March 2026",
        ] {
            assert_eq!(day(text, 2026), Day::One(on("2026-03-25")), "{text}");
        }
        for text in ["25/3/2026", "25.03.2026", "25-3-26", "25/03/26"] {
            assert_eq!(day(text, 2026), Day::Only(on("2026-03-25"), DayOrder::DayFirst), "{text}");
        }
        assert_eq!(day("3/25/2026", 2026), Day::Only(on("2026-03-25"), DayOrder::MonthFirst));
        assert_eq!(day("5/3/2026", 2026), Day::Two(on("2026-03-05"), on("2026-05-03")));
        assert_eq!(day("3/3/2026", 2026), Day::One(on("2026-03-03")));
        assert_eq!(day("1/2/84", 2026), Day::Two(on("1984-02-01"), on("1984-01-02")));
        for text in
            ["", "31/2/2026", "March", "32/1/2026", "12.5", "1/2/3/4", "2026-13-01", "1/2/20266"]
        {
            assert_eq!(day(text, 2026), Day::Not, "{text}");
        }
    }

    #[test]
    fn clocks_stand_behind_days() {
        let clock = |text: &'static str| {
            let (day, clock) = apart(text);
            (day, clock.unwrap_or_default())
        };
        assert_eq!(clock("2026-03-05 06:30"), ("2026-03-05", "06:30".to_owned()));
        assert_eq!(clock("2026-03-05T06:30:00"), ("2026-03-05", "06:30".to_owned()));
        assert_eq!(clock("5/3/2026 6:30 PM"), ("5/3/2026", "18:30".to_owned()));
        assert_eq!(clock("5/3/2026 12:05am"), ("5/3/2026", "00:05".to_owned()));
        assert_eq!(clock("5 March 2026"), ("5 March 2026", String::new()));
        assert_eq!(clock("5/3/2026 25:00"), ("5/3/2026 25:00", String::new()));
    }

    #[test]
    fn one_certain_day_decides_and_none_asks() {
        let shown = |texts: &[&str]| order_shown(texts.iter().copied());
        assert_eq!(shown(&["5/3/2026", "25/3/2026"]).order(), Some(DayOrder::DayFirst));
        assert_eq!(shown(&["5/3/2026", "3/25/2026"]).order(), Some(DayOrder::MonthFirst));
        assert!(shown(&["5/3/2026"]).must_be_asked());
        assert!(shown(&["25/3/2026", "3/25/2026"]).must_be_asked(), "they contradict each other");
        assert!(!shown(&["2026-03-05", "3/3/2026"]).must_be_asked());
    }
}
