//! Telephone numbers as ITU-T E.164 writes them: a plus, the calling code, at most 15 digits.

/// How numbers are dialled in a country.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Dialling {
    /// The calling code without the plus; empty where only whole numbers are taken.
    pub calling_code: String,
    /// What stands before a number within the country; empty for none.
    pub trunk: String,
}

/// Most digits of a number (E.164, section 6.2.1).
const DIGITS_MAX: usize = 15;
/// Fewest that a telephone has; shorter ones are services of a network.
const DIGITS_MIN: usize = 8;

/// The number as E.164 writes it; none for names and short codes, which no answer reaches.
///
/// ```
/// use traybook_texts::phone::{Dialling, e164};
///
/// let here = Dialling { calling_code: "255".to_owned(), trunk: "0".to_owned() };
/// assert_eq!(e164("0700 000 101", &here).as_deref(), Some("+255700000101"));
/// assert_eq!(e164("15500", &here), None);
/// ```
#[must_use]
pub fn e164(text: &str, here: &Dialling) -> Option<String> {
    let text: String =
        text.chars().filter(|c| !c.is_whitespace() && !"-().\u{2011}".contains(*c)).collect();
    let digits = if let Some(digits) = text.strip_prefix('+').or_else(|| text.strip_prefix("00")) {
        digits.to_owned()
    } else if here.calling_code.is_empty() {
        return None;
    } else if text.starts_with(&here.calling_code) && text.len() >= here.calling_code.len() + 7 {
        text
    } else {
        let inner = text.strip_prefix(here.trunk.as_str())?;
        format!("{}{inner}", here.calling_code)
    };
    let is_number = (DIGITS_MIN..=DIGITS_MAX).contains(&digits.len())
        && !digits.starts_with('0')
        && digits.bytes().all(|b| b.is_ascii_digit());
    is_number.then(|| format!("+{digits}"))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_number_is_the_same_however_it_is_written() {
        let here = Dialling { calling_code: "255".to_owned(), trunk: "0".to_owned() };
        for text in
            ["+255700000101", "00255 700 000 101", "255700000101", "0700-000-101", "(0700) 000101"]
        {
            assert_eq!(e164(text, &here).as_deref(), Some("+255700000101"), "{text}");
        }
        for text in ["", "+", "15500", "MPESA", "+0700000101", "+2557000001011234", "700000101"] {
            assert_eq!(e164(text, &here), None, "{text}");
        }
        let none = Dialling { calling_code: String::new(), trunk: String::new() };
        assert_eq!(e164("0700000101", &none), None);
        assert_eq!(e164("+491700000101", &none).as_deref(), Some("+491700000101"));
    }
}
