//! Numbers as people write them: group separators, a decimal comma or point, signs of shillings.

/// What a written number can mean.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Reading {
    /// Nothing was written.
    Empty,
    /// One number, as plain decimal text with a point.
    One(String),
    /// Two numbers: the separator may part thousands or decimals. First the larger. Each text is
    /// read as one number.
    Two(String, String),
    /// No number.
    Not,
}

/// Digits between two group separators.
const GROUP: usize = 3;
/// What is written behind an amount of shillings. Common practice, no source.
const SHILLING_ENDS: [&str; 4] = ["/=", "/-", "=/", "=-"];

/// Reads a number. `decimals` is how many digits the unit has after the point: the digits of the
/// currency, 3 of kg and litres, 0 of counts.
///
/// One separator with three digits behind it parts thousands where the unit has fewer decimals.
/// Where it has three, both can be meant.
///
/// ```
/// use traybook_domain::records::written::{Reading, read};
///
/// let one = |text: &str| Reading::One(text.to_owned());
/// assert_eq!(read("42 000", 2), one("42000"));
/// assert_eq!(read("42.000", 2), one("42000"));
/// assert_eq!(read("1.250,5", 2), one("1250.5"));
/// assert_eq!(read("7,5", 3), one("7.5"));
/// assert_eq!(read("1,250", 3), Reading::Two("1250".to_owned(), "1.25".to_owned()));
/// ```
#[must_use]
pub fn read(text: &str, decimals: u8) -> Reading {
    let text = text.trim();
    if text.is_empty() {
        return Reading::Empty;
    }
    let ended = SHILLING_ENDS.iter().find_map(|end| text.strip_suffix(end));
    let text = ended.unwrap_or(text).trim_end();
    let (sign, text) = match text.strip_prefix(['-', '−']) {
        Some(rest) => ("-", rest.trim_start()),
        None => ("", text),
    };
    let unspaced = match without_gaps(text) {
        Some(unspaced) => unspaced,
        None => return Reading::Not,
    };
    let had_gaps = unspaced.len() != text.len();
    match shape(&unspaced, decimals, had_gaps) {
        Shape::Plain(number) => Reading::One(format!("{sign}{number}")),
        Shape::Either(whole, part) => {
            Reading::Two(format!("{sign}{whole}"), format!("{sign}{part}"))
        }
        Shape::None => Reading::Not,
    }
}

enum Shape {
    Plain(String),
    Either(String, String),
    None,
}

/// A text without the gaps that part thousands: spaces of any width, apostrophes.
fn without_gaps(text: &str) -> Option<String> {
    let is_gap = |c: char| c.is_whitespace() || matches!(c, '\'' | '’');
    let whole_end = text.find(['.', ',']).unwrap_or(text.len());
    let (whole, rest) = text.split_at(whole_end);
    let groups: Vec<&str> = whole.split(is_gap).collect();
    // "1 250,5" has gaps before the comma alone.
    if groups.len() > 1 && (!are_groups(&groups) || rest.contains(is_gap)) {
        return None;
    }
    (!rest.contains(is_gap)).then(|| groups.concat() + rest)
}

/// Whether these are digits of thousands: one to three, then three each.
fn are_groups(groups: &[&str]) -> bool {
    let are_digits = |g: &&str| !g.is_empty() && g.bytes().all(|b| b.is_ascii_digit());
    let Some((first, rest)) = groups.split_first() else { return false };
    let leads = (1..=GROUP).contains(&first.len()) && !first.starts_with('0');
    leads && groups.iter().all(are_digits) && rest.iter().all(|g| g.len() == GROUP)
}

fn shape(text: &str, decimals: u8, had_gaps: bool) -> Shape {
    let is_digits = |t: &str| !t.is_empty() && t.bytes().all(|b| b.is_ascii_digit());
    let Some(last) = text.rfind(['.', ',']) else {
        return if is_digits(text) { Shape::Plain(text.to_owned()) } else { Shape::None };
    };
    let (before, mark_after) = text.split_at(last);
    let (mark, after) = mark_after.split_at(1);
    let other = if mark == "," { "." } else { "," };
    if !is_digits(after) {
        return Shape::None;
    }
    let decimal = |whole: &str| format!("{whole}.{after}");
    if before.contains(other) {
        // "1.250,5": the last mark is the decimal one.
        let groups: Vec<&str> = before.split(other).collect();
        let holds = are_groups(&groups) && !before.contains(mark);
        return if holds { Shape::Plain(decimal(&groups.concat())) } else { Shape::None };
    }
    let groups: Vec<&str> = text.split(mark).collect();
    if groups.len() > 2 {
        let holds = are_groups(&groups) && !had_gaps;
        return if holds { Shape::Plain(groups.concat()) } else { Shape::None };
    }
    if !is_digits(before) {
        return Shape::None;
    }
    match (are_groups(&groups) && !had_gaps, usize::from(decimals) < GROUP) {
        (true, true) => Shape::Plain(groups.concat()),
        (true, false) => Shape::Either(groups.concat(), clear(&decimal(before))),
        (false, _) => Shape::Plain(decimal(before)),
    }
}

/// A decimal as text that [`read`] takes in one way, for figures that a form carries or fills in: not
/// with as many digits after the point as a group has.
///
/// ```
/// use traybook_domain::records::written::clear;
///
/// assert_eq!(clear("3.488"), "3.4880");
/// assert_eq!(clear("12.500"), "12.5");
/// assert_eq!(clear("900.50"), "900.50");
/// ```
#[must_use]
pub fn clear(decimal: &str) -> String {
    match decimal.split_once('.') {
        Some((_, after)) if after.len() == GROUP && after.ends_with('0') => {
            decimal.trim_end_matches('0').trim_end_matches('.').to_owned()
        }
        Some((_, after)) if after.len() == GROUP => format!("{decimal}0"),
        _ => decimal.to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn one(text: &str) -> Reading {
        Reading::One(text.to_owned())
    }

    #[test]
    fn amounts_are_read_as_they_are_written() {
        // A currency with two digits (TZS by ISO 4217).
        for (text, value) in [
            ("42,000", "42000"),
            ("42 000", "42000"),
            ("42\u{a0}000", "42000"),
            ("42.000", "42000"),
            ("42'000", "42000"),
            ("42000", "42000"),
            ("42000/=", "42000"),
            ("42,000/-", "42000"),
            ("42,00", "42.00"),
            ("42.5", "42.5"),
            ("1,250,000", "1250000"),
            ("1.250.000", "1250000"),
            ("1,250.75", "1250.75"),
            ("1.250,75", "1250.75"),
            ("1 250,75", "1250.75"),
            ("1 250 000.5", "1250000.5"),
            ("0.125", "0.125"),
            ("-3", "-3"),
            ("− 3,5", "-3.5"),
            ("1250.500", "1250.500"),
            ("12.5000", "12.5000"),
        ] {
            assert_eq!(read(text, 2), one(value), "{text}");
        }
    }

    #[test]
    fn a_unit_with_three_decimals_leaves_two_readings() {
        let two = |a: &str, b: &str| Reading::Two(a.to_owned(), b.to_owned());
        assert_eq!(read("1,250", 3), two("1250", "1.25"));
        assert_eq!(read("12.500", 3), two("12500", "12.5"));
        assert_eq!(read("12.000", 3), two("12000", "12"));
        assert_eq!(read("-1.125", 3), two("-1125", "-1.1250"));
        // The figure's own shape leaves one.
        for (text, value) in
            [("0.250", "0.250"), ("1,250.5", "1250.5"), ("1 250.125", "1250.125"), ("7,25", "7.25")]
        {
            assert_eq!(read(text, 3), one(value), "{text}");
        }
    }

    #[test]
    fn what_a_form_carries_has_one_reading() {
        for (figure, value) in
            [("3.488", "3.4880"), ("12.5", "12.5"), ("7", "7"), ("0.75", "0.75"), ("40", "40")]
        {
            assert_eq!(read(&clear(figure), 3), one(value), "{figure}");
            // The field that it was met on: kilograms of a batch's event.
            let kg = crate::Kind::BatchEvent.spec().field("kg").expect("a field");
            assert_eq!(kg.written(&clear(figure), 0), one(value), "{figure}");
        }
    }

    #[test]
    fn what_is_no_number_is_not_guessed() {
        for text in [
            "much",
            "-",
            "1e3",
            "1,25,0",
            "12,34.5,6",
            "1.2.3",
            ",5",
            "5,",
            "1  2",
            "42 00",
            "1,250 000",
            "0,125,000",
            "1.250,750.5",
            "1,250,00",
            "/=",
            "٣",
        ] {
            assert_eq!(read(text, 2), Reading::Not, "{text}");
        }
        assert_eq!(read(" \u{a0}", 2), Reading::Empty);
    }

    proptest! {
        #[test]
        fn any_text_is_read_without_a_panic(text in ".{0,20}", decimals in 0_u8..=3) {
            let plain = |t: &str| t.parse::<f64>().is_ok();
            match read(&text, decimals) {
                Reading::One(a) => prop_assert!(plain(&a), "{a}"),
                Reading::Two(a, b) => {
                    prop_assert_eq!(read(&a, decimals), one(&a));
                    prop_assert_eq!(read(&b, decimals), one(&b));
                }
                Reading::Empty | Reading::Not => {}
            }
        }

        #[test]
        fn what_pages_print_is_read_back(value in 0_u64..10_000_000_000, cents in 0_u64..100) {
            let digits = value.to_string();
            let mut grouped = String::new();
            for (at, digit) in digits.chars().enumerate() {
                if at > 0 && (digits.len() - at).is_multiple_of(3) {
                    grouped.push(',');
                }
                grouped.push(digit);
            }
            let expected = one(&digits);
            prop_assert_eq!(read(&grouped, 2), expected);
            let with_cents = one(&format!("{digits}.{cents:02}"));
            prop_assert_eq!(read(&format!("{grouped}.{cents:02}"), 2), with_cents);
        }
    }
}
