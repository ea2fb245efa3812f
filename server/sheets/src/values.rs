//! Cells into what the records' rules read: numbers with a point, days as ISO 8601, names of
//! choices. What can mean two things is refused with both readings.

use crate::Cell;
use crate::days::{self, Day, DayOrder};
use crate::words::{self, normal};
use traybook_domain::records::written::{self, Reading};
use traybook_domain::{FieldError, FieldKind, FieldSpec};

/// How a file is written.
#[derive(Clone, Debug)]
pub struct Habits {
    /// Order of day and month, where it is known.
    pub days: Option<DayOrder>,
    /// The mark of decimals, where it is known.
    pub mark: Option<char>,
    /// The co-operative's currency.
    pub currency: String,
    /// Digits of the currency.
    pub digits: u8,
    /// The year now, in the co-operative's zone.
    pub year: i32,
}

/// What a number measures, by the field's name.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Measure {
    Mass,
    Volume,
    Percent,
    Money,
    Count,
}

/// Units with what they are of the stored unit, as a power of ten; those of counts are names of
/// things counted. Symbols by the SI brochure; the words are common practice, no source.
const UNITS: &[(Measure, i32, &[&str])] = &[
    (Measure::Mass, 0, &["kg", "kgs", "kilo", "kilos", "kilogram", "kilograms"]),
    (Measure::Mass, -3, &["g", "gr", "gram", "grams", "gramu"]),
    (Measure::Mass, 3, &["t", "ton", "tons", "tonne", "tonnes", "tani"]),
    (
        Measure::Volume,
        0,
        &["l", "lt", "lts", "ltr", "ltrs", "litre", "litres", "liter", "liters", "lita"],
    ),
    (Measure::Volume, -3, &["ml", "millilitre", "millilitres"]),
    (Measure::Percent, 0, &["percent", "per cent", "pct", "asilimia"]),
    (Measure::Money, 0, &["sh", "shs", "shilling", "shillings", "shilingi"]),
    (
        Measure::Count,
        0,
        &[
            "trays", "tray", "trei", "cows", "cow", "ngombe", "goats", "mbuzi", "hens", "kuku",
            "birds", "animals", "wanyama", "head", "eggs", "egg", "mayai", "yai", "days", "day",
            "siku", "months", "month", "miezi", "weeks", "wiki", "years", "miaka", "places", "pcs",
        ],
    ),
];

/// Calling codes by currency (ITU-T E.164, list of assigned country codes; from memory), of
/// countries whose numbers have nine digits after it.
const CALLING_CODES: &[(&str, &str)] = &[
    ("TZS", "255"),
    ("KES", "254"),
    ("UGX", "256"),
    ("RWF", "250"),
    ("ETB", "251"),
    ("MWK", "265"),
    ("ZMW", "260"),
    ("MZN", "258"),
    ("CDF", "243"),
    ("SSP", "211"),
    ("ZAR", "27"),
    ("GHS", "233"),
];
/// Digits of a telephone number after the country code, in these countries.
const NATIONAL_DIGITS: usize = 9;

/// Whether a text says that nothing was recorded.
#[must_use]
pub fn is_nothing(text: &str) -> bool {
    text.is_empty() || text.chars().all(|c| matches!(c, '-' | '–' | '—' | '.' | '/'))
}

fn measure(field: &FieldSpec) -> Measure {
    let has = |part: &str| field.name.split('_').any(|p| p == part);
    match field.kind {
        FieldKind::Money => Measure::Money,
        _ if has("percent") => Measure::Percent,
        _ if has("mj") => Measure::Count,
        _ if has("kg") => Measure::Mass,
        _ if has("litres") => Measure::Volume,
        _ => Measure::Count,
    }
}

/// The power of ten of the unit that a header names in the field's measure: "Milk (ml)".
#[must_use]
pub fn unit_of_header(field: &FieldSpec, header: &str) -> i32 {
    let measure = measure(field);
    let words = normal(header);
    let power = |word: &str| unit(measure, word).filter(|_| measure != Measure::Money);
    words.rsplit(' ').next().and_then(power).unwrap_or(0)
}

fn unit(measure: Measure, word: &str) -> Option<i32> {
    let mut all = UNITS.iter().filter(|(of, ..)| *of == measure);
    all.find(|(.., words)| words.contains(&word)).map(|(_, power, _)| *power)
}

/// Reads a cell of a field. `power` is the power of ten of the column's unit.
///
/// # Errors
/// What can mean two things. What means nothing is left as it stands for the record's own rules.
pub fn canonical(
    field: &FieldSpec,
    power: i32,
    cell: &Cell,
    habits: &Habits,
) -> Result<String, FieldError> {
    let text = cell.text.as_str();
    if is_nothing(text) {
        return Ok(String::new());
    }
    let as_it_is = || text.to_owned();
    match field.kind {
        FieldKind::Choice(of) if of.contains(&text) => Ok(as_it_is()),
        FieldKind::Choice(of) => Ok(words::value(of, text).map_or_else(as_it_is, str::to_owned)),
        FieldKind::Bool => Ok(match words::yes_or_no(text) {
            Some(yes) => if yes { "yes" } else { "no" }.to_owned(),
            None => as_it_is(),
        }),
        FieldKind::Date { .. } => day(field, cell, habits),
        FieldKind::Instant => moment(field, cell, habits),
        FieldKind::Year => match days::day(text, habits.year) {
            Day::One(day) | Day::Only(day, _) | Day::Two(day, _) => {
                Ok(day.format("%Y").to_string())
            }
            Day::Not => number(field, power, cell, habits),
        },
        FieldKind::Int { .. } | FieldKind::Decimal { .. } | FieldKind::Money => {
            number(field, power, cell, habits)
        }
        FieldKind::Text { .. } if field.name == "phone" => Ok(phone(text, &habits.currency)),
        FieldKind::Currency => Ok(text.to_uppercase()),
        FieldKind::Ref(_) | FieldKind::Text { .. } | FieldKind::Code | FieldKind::Zone => {
            Ok(as_it_is())
        }
    }
}

fn day(field: &FieldSpec, cell: &Cell, habits: &Habits) -> Result<String, FieldError> {
    let (text, _) = days::apart(&cell.text);
    let day = match (days::day(text, habits.year), habits.days) {
        (Day::One(day), _) => day,
        (Day::Only(day, order), of) if of.is_none_or(|of| of == order) => day,
        (Day::Only(..), _) => return Err(other_order(field)),
        (Day::Two(day, _), Some(DayOrder::DayFirst)) => day,
        (Day::Two(_, day), Some(DayOrder::MonthFirst)) => day,
        (Day::Two(one, other), None) => return Err(two_days(field, &one, &other)),
        (Day::Not, _) => return Ok(cell.text.clone()),
    };
    Ok(day.to_string())
}

fn moment(field: &FieldSpec, cell: &Cell, habits: &Habits) -> Result<String, FieldError> {
    let text = cell.text.as_str();
    if traybook_domain::time::parse_instant(text).is_some() {
        return Ok(text.to_owned());
    }
    let (_, clock) = days::apart(text);
    let day = day(field, cell, habits)?;
    Ok(match clock {
        Some(clock) if day != text => format!("{day} {clock}"),
        _ => day,
    })
}

fn two_days(field: &FieldSpec, one: &dyn ToString, other: &dyn ToString) -> FieldError {
    let (one, other) = (one.to_string(), other.to_string());
    let detail = format!("this can be {one} or {other}: say which comes first, day or month");
    let error = FieldError::new(field.name, "two_days", detail);
    error.naming("one", one).naming("other", other)
}

fn other_order(field: &FieldSpec) -> FieldError {
    let detail = "this day has the other order of day and month than the file: write YYYY-MM-DD";
    FieldError::new(field.name, "day_order", detail)
}

fn number(
    field: &FieldSpec,
    power: i32,
    cell: &Cell,
    habits: &Habits,
) -> Result<String, FieldError> {
    if cell.is_exact {
        return Ok(shifted(&cell.text, power).unwrap_or_else(|| cell.text.clone()));
    }
    let measure = measure(field);
    let Some((figures, power)) = without_unit(measure, power, &cell.text, &habits.currency) else {
        return Ok(cell.text.clone());
    };
    let decimals = field.scale(habits.digits).unwrap_or(0);
    let plain = match written::read(figures, decimals) {
        Reading::One(plain) => plain,
        // The mark in it is the decimal one, or parts thousands.
        Reading::Two(whole, part) => match habits.mark {
            Some(mark) if figures.contains(mark) => part,
            Some(_) => whole,
            None => return Err(two_readings(field, &whole, &part)),
        },
        Reading::Empty | Reading::Not => return Ok(cell.text.clone()),
    };
    Ok(shifted(&plain, power).unwrap_or_else(|| cell.text.clone()))
}

fn two_readings(field: &FieldSpec, whole: &str, part: &str) -> FieldError {
    let detail = format!("this can be {whole} or {part}: say what the comma or point means");
    let error = FieldError::new(field.name, "two_readings", detail);
    error.naming("whole", whole).naming("part", part)
}

/// The figures of a text with the power of ten of its unit; the column's where it names none.
/// Nothing where it names another unit.
fn without_unit<'t>(
    measure: Measure,
    power: i32,
    text: &'t str,
    currency: &str,
) -> Option<(&'t str, i32)> {
    let is_figure = |c: char| c.is_ascii_digit() || matches!(c, '-' | '−');
    let text = text.strip_suffix('%').filter(|_| measure == Measure::Percent).unwrap_or(text);
    let first = text.find(is_figure)?;
    let last = text.rfind(|c: char| c.is_ascii_digit())?;
    let (before, rest) = text.split_at(first);
    let (figures, after) = rest.split_at((last + 1).checked_sub(first)?);
    // "42,000/=" is left to the reader of numbers.
    let (figures, after) = match after.trim() {
        "/=" | "/-" | "=/" | "=-" => (rest.trim_end(), ""),
        _ => (figures, after),
    };
    let is_money = |word: &str| {
        // "Tsh", "KShs", "TZS".
        let code = currency.to_lowercase();
        let short = code.get(..1).unwrap_or_default();
        let shilling = ["sh", "shs"].iter().any(|end| word == format!("{short}{end}"));
        measure == Measure::Money && (word == code || shilling)
    };
    let power_of = |word: &str| match normal(word).as_str() {
        "" => Some(None),
        word if is_money(word) => Some(Some(0)),
        word => unit(measure, word).map(Some),
    };
    match (power_of(before)?, power_of(after)?) {
        (None, None) => Some((figures, power)),
        (Some(of), None) | (None, Some(of)) => Some((figures, of)),
        (Some(_), Some(_)) => None,
    }
}

/// A decimal times a power of ten, exactly.
fn shifted(plain: &str, power: i32) -> Option<String> {
    if power == 0 {
        return Some(plain.to_owned());
    }
    let (sign, digits) = plain.strip_prefix('-').map_or(("", plain), |rest| ("-", rest));
    let (whole, part) = digits.split_once('.').unwrap_or((digits, ""));
    if whole.is_empty() || !format!("{whole}{part}").bytes().all(|b| b.is_ascii_digit()) {
        return None;
    }
    let places = usize::try_from(power.unsigned_abs()).ok()?;
    let (whole, part) = if power < 0 {
        let padded = format!("{whole:0>width$}", width = places + 1);
        let (left, right) = padded.split_at_checked(padded.len() - places)?;
        (left.to_owned(), format!("{right}{part}"))
    } else {
        let padded = format!("{part:0<places$}");
        let (left, right) = padded.split_at_checked(places)?;
        (format!("{whole}{left}"), right.to_owned())
    };
    let (whole, part) = (whole.trim_start_matches('0'), part.trim_end_matches('0'));
    let whole = if whole.is_empty() { "0" } else { whole };
    Some(if part.is_empty() { format!("{sign}{whole}") } else { format!("{sign}{whole}.{part}") })
}

/// A telephone number with its country code; as it is written where that is not certain.
fn phone(text: &str, currency: &str) -> String {
    let written: String =
        text.chars().filter(|c| !matches!(c, ' ' | '-' | '(' | ')' | '.' | '\u{a0}')).collect();
    let code = CALLING_CODES.iter().find(|(of, _)| *of == currency).map(|(_, code)| *code);
    let is_digits = |t: &str| !t.is_empty() && t.bytes().all(|b| b.is_ascii_digit());
    let is_national = |t: &str| t.len() == NATIONAL_DIGITS && !t.starts_with('0') && is_digits(t);
    if let Some(rest) = written.strip_prefix('+').or_else(|| written.strip_prefix("00")) {
        return if is_digits(rest) { format!("+{rest}") } else { text.to_owned() };
    }
    let Some(code) = code else { return text.to_owned() };
    let national = written.strip_prefix('0').or_else(|| written.strip_prefix(code));
    match national.filter(|t| is_national(t)) {
        Some(rest) => format!("+{code}{rest}"),
        // A workbook that took it for a number has lost the 0.
        None if is_national(&written) => format!("+{code}{written}"),
        None => text.to_owned(),
    }
}

/// The mark of decimals that numbers themselves show; none where they show none, or both.
#[must_use]
pub fn mark_shown<'a>(texts: impl Iterator<Item = &'a str>) -> Option<char> {
    let (mut comma, mut point) = (false, false);
    for text in texts {
        let figures: &str = text.trim_matches(|c: char| !c.is_ascii_digit());
        let is_number = figures.chars().all(|c| c.is_ascii_digit() || ",. '\u{a0}".contains(c));
        let Some(at) = figures.rfind([',', '.']).filter(|_| is_number) else { continue };
        let (before, after) = figures.split_at(at);
        let (mark, after) = after.split_at(1);
        let other = if mark == "," { "." } else { "," };
        // Thousands have three digits behind, and no 0 alone before.
        let is_decimal =
            !before.contains(mark) && (after.len() != 3 || before.contains(other) || before == "0");
        comma |= is_decimal && mark == ",";
        point |= is_decimal && mark == ".";
    }
    match (comma, point) {
        (true, false) => Some(','),
        (false, true) => Some('.'),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use traybook_domain::Kind;

    fn habits(days: Option<DayOrder>, mark: Option<char>) -> Habits {
        Habits { days, mark, currency: "TZS".to_owned(), digits: 2, year: 2026 }
    }

    fn read(kind: Kind, field: &str, text: &str, habits: &Habits) -> Result<String, &'static str> {
        let field = kind.spec().field(field).expect("a field");
        canonical(field, 0, &Cell::text(text), habits).map_err(|e| e.code)
    }

    #[test]
    fn numbers_lose_their_units() {
        let habits = habits(None, Some('.'));
        for (kind, field, text, want) in [
            (Kind::FeedPurchase, "kg", "70 kg", "70"),
            (Kind::FeedPurchase, "kg", "70kg.", "70"),
            (Kind::FeedPurchase, "kg", "1,250 Kgs", "1250"),
            (Kind::FeedPurchase, "kg", "500 g", "0.5"),
            (Kind::FeedPurchase, "kg", "1.5 t", "1500"),
            (Kind::MilkRecord, "litres", "5 l", "5"),
            (Kind::MilkRecord, "litres", "Lita 5.5", "5.5"),
            (Kind::MilkRecord, "litres", "750 ml", "0.75"),
            (Kind::MilkRecord, "animals_in_milk", "3 cows", "3"),
            (Kind::FeedPurchase, "cost", "Tsh 42,000/=", "42000"),
            (Kind::FeedPurchase, "cost", "42,000 TZS", "42000"),
            (Kind::Feed, "dry_matter_percent", "88.5 %", "88.5"),
            // Another measure is none of this field, and is left for the rules to refuse.
            (Kind::FeedPurchase, "kg", "70 l", "70 l"),
            (Kind::FeedPurchase, "kg", "2 bags", "2 bags"),
            (Kind::FeedPurchase, "cost", "Ksh 500", "Ksh 500"),
            (Kind::FeedPurchase, "kg", "-", ""),
            (Kind::Member, "birth_year", "5/3/1984", "1984"),
        ] {
            assert_eq!(read(kind, field, text, &habits).as_deref(), Ok(want), "{text}");
        }
        let litres = Kind::MilkRecord.spec().field("litres").expect("a field");
        assert_eq!(unit_of_header(litres, "Milk (ml)"), -3);
        assert_eq!(canonical(litres, -3, &Cell::text("5500"), &habits).as_deref(), Ok("5.5"));
        assert_eq!(canonical(litres, -3, &Cell::text("5 l"), &habits).as_deref(), Ok("5"));
    }

    #[test]
    fn two_readings_are_asked_unless_the_file_says_which() {
        let kg = |text: &str, mark| read(Kind::FeedPurchase, "kg", text, &habits(None, mark));
        assert_eq!(kg("1,250", None), Err("two_readings"));
        assert_eq!(kg("1,250", Some(',')).as_deref(), Ok("1.25"));
        assert_eq!(kg("1,250", Some('.')).as_deref(), Ok("1250"));
        assert_eq!(kg("1.250", Some(',')).as_deref(), Ok("1250"));
        assert_eq!(kg("2,5", None).as_deref(), Ok("2.5"));
        let exact = Cell { text: "12.345".to_owned(), is_exact: true };
        let field = Kind::FeedPurchase.spec().field("kg").expect("a field");
        assert_eq!(canonical(field, 0, &exact, &habits(None, Some(','))).as_deref(), Ok("12.345"));
        assert_eq!(mark_shown(["12", "2,5", "1,250"].into_iter()), Some(','));
        assert_eq!(mark_shown(["1.250", "0.125 kg"].into_iter()), Some('.'));
        assert_eq!(mark_shown(["1,250.5"].into_iter()), Some('.'));
        assert_eq!(mark_shown(["1,250", "5/3/2026"].into_iter()), None);
        assert_eq!(mark_shown(["2,5", "2.5"].into_iter()), None);
    }

    #[test]
    fn days_follow_the_order_of_the_file() {
        let day = |text: &str, order| read(Kind::FeedPurchase, "date", text, &habits(order, None));
        assert_eq!(day("5/3/2026", None), Err("two_days"));
        assert_eq!(day("5/3/2026", Some(DayOrder::DayFirst)).as_deref(), Ok("2026-03-05"));
        assert_eq!(day("5/3/2026", Some(DayOrder::MonthFirst)).as_deref(), Ok("2026-05-03"));
        assert_eq!(day("25/3/2026", Some(DayOrder::MonthFirst)), Err("day_order"));
        assert_eq!(day("2026-03-05 06:30", None).as_deref(), Ok("2026-03-05"));
        assert_eq!(day("soon", None).as_deref(), Ok("soon"), "left for the rules to refuse");
        let at =
            |text: &str| read(Kind::Reading, "at", text, &habits(Some(DayOrder::DayFirst), None));
        assert_eq!(at("5/3/2026 6:30 pm").as_deref(), Ok("2026-03-05 18:30"));
        assert_eq!(at("2026-03-05T06:00:00Z").as_deref(), Ok("2026-03-05T06:00:00Z"));
    }

    #[test]
    fn telephone_numbers_get_their_country() {
        for (text, want) in [
            ("0712 345 678", "+255712345678"),
            ("712345678", "+255712345678"),
            ("255712345678", "+255712345678"),
            ("+254 712-345-678", "+254712345678"),
            ("00254712345678", "+254712345678"),
            ("12345", "12345"),
            ("0712345678 / 0713345678", "0712345678 / 0713345678"),
        ] {
            assert_eq!(phone(text, "TZS"), want, "{text}");
        }
        assert_eq!(phone("0712 345 678", "EUR"), "0712 345 678", "the country is not known");
    }

    #[test]
    fn powers_of_ten_are_exact() {
        for (plain, power, want) in [
            ("5500", -3, "5.5"),
            ("5", -3, "0.005"),
            ("1.2345", 3, "1234.5"),
            ("-0.5", 3, "-500"),
            ("0", -3, "0"),
            ("12000", -3, "12"),
        ] {
            assert_eq!(shifted(plain, power).as_deref(), Some(want), "{plain} {power}");
        }
        assert_eq!(shifted("x", 3), None);
    }
}
