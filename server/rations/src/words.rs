//! Numbers as people read them in the sentences.

/// A number with thousands parted by commas: whole from 1,000 on, else up to two decimals, and
/// up to four below 1.
#[must_use]
pub fn number(value: f64) -> String {
    let size = value.abs();
    let decimals = if size >= 1_000.0 {
        0
    } else if size >= 1.0 {
        2
    } else {
        4
    };
    grouped(value, decimals)
}

fn grouped(value: f64, decimals: usize) -> String {
    let text = format!("{:.decimals$}", value.abs());
    let (whole, rest) = text.split_once('.').unwrap_or((&text, ""));
    let mut digits = String::new();
    let count = whole.chars().count();
    for (index, digit) in whole.chars().enumerate() {
        if index > 0 && (count - index).is_multiple_of(3) {
            digits.push('\u{202f}');
        }
        digits.push(digit);
    }
    let rest = rest.trim_end_matches('0');
    let number = if rest.is_empty() { digits } else { format!("{digits}.{rest}") };
    if value < 0.0 && number != "0" { format!("-{number}") } else { number }
}

/// An amount of money with its currency, where one is named.
#[must_use]
pub fn money(value: f64, currency: Option<&str>) -> String {
    match currency {
        Some(currency) => format!("{currency} {}", number(value)),
        None => number(value),
    }
}

/// A list in words: `a`, `a and b`, `a, b and c`.
#[must_use]
pub fn list(parts: &[String]) -> String {
    match parts {
        [] => String::new(),
        [one] => one.clone(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_read_well() {
        let cases = [
            (0.0, "0"),
            (0.12345, "0.1235"),
            (12.5, "12.5"),
            (999.994, "999.99"),
            (1_234_567.8, "1\u{202f}234\u{202f}568"),
            (-3_299.19, "-3\u{202f}299"),
            (-0.000_01, "0"),
        ];
        for (value, want) in cases {
            assert_eq!(number(value), want);
        }
        assert_eq!(money(850.0, Some("TZS")), "TZS 850");
        assert_eq!(list(&["a".into(), "b".into(), "c".into()]), "a, b and c");
    }
}
