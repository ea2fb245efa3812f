//! Which passwords and PINs are refused when they are set: those that are guessed first.

use crate::error::AppError;
use traybook_domain::limits::{
    PASSWORD_CHARS_MAX, PASSWORD_CHARS_MIN, PASSWORD_GUESSES_MIN, PIN_DIGITS_MAX, PIN_DIGITS_MIN,
};
use traybook_domain::people::authz::Role;

/// Words of the trade and of greetings that the list of common passwords does not know.
const LOCAL: &[&str] = &[
    "cooperative",
    "co-operative",
    "traybook",
    "fodder",
    "asante",
    "karibu",
    "habari",
    "jambo",
    "ushirika",
    "maziwa",
    "mkulima",
    "shamba",
];

/// Refuses what a role may not sign in with: members may take a PIN, everybody else a password.
/// `about` is what is known of the person: login, name, name of the co-operative.
///
/// # Errors
/// `Invalid` with what to do.
pub fn check_for(role: Role, secret: &str, about: &[&str]) -> Result<(), AppError> {
    if role != Role::Member || !is_pin(secret) {
        return check(secret, about);
    }
    if secret.len() < PIN_DIGITS_MIN {
        let text = format!(
            "give {PIN_DIGITS_MIN} to {PIN_DIGITS_MAX} digits, or a password of at least \
             {PASSWORD_CHARS_MIN} characters"
        );
        return Err(AppError::field("password", "length", text));
    }
    let digits: Vec<u8> = secret.bytes().map(|b| b - b'0').collect();
    if is_date(&digits) {
        let text = "these digits can be read as a day or a year; take others";
        return Err(AppError::field("password", "date_like", text));
    }
    let is_own = about.iter().any(|a| only_digits(a).contains(secret));
    if is_own || is_pattern(&digits) || is_listed(secret) {
        let text = "these digits are among the first that are guessed; take others";
        return Err(AppError::field("password", "common", text));
    }
    Ok(())
}

/// Whether this is a PIN rather than a password: few digits and nothing else.
#[must_use]
pub fn is_pin(secret: &str) -> bool {
    (1..=PIN_DIGITS_MAX).contains(&secret.len()) && secret.bytes().all(|b| b.is_ascii_digit())
}

fn only_digits(text: &str) -> String {
    text.chars().filter(char::is_ascii_digit).collect()
}

/// Digits that follow a plain pattern: few different ones, counted by one step, the same forwards
/// and backwards, a part again and again, or lines of a telephone's keys.
fn is_pattern(digits: &[u8]) -> bool {
    let mut different = digits.to_vec();
    different.sort_unstable();
    different.dedup();
    let steps = digits.iter().zip(digits.iter().skip(1)).map(|(a, b)| (10 + b - a) % 10);
    let steps: Vec<u8> = steps.collect();
    let counted = steps.iter().all(|step| steps.first() == Some(step));
    let mirrored = digits.iter().eq(digits.iter().rev());
    let repeated = (1..=digits.len() / 2).any(|n| {
        let mut parts = digits.chunks(n);
        let first = parts.next();
        digits.len().is_multiple_of(n) && parts.all(|part| Some(part) == first)
    });
    let lines = digits.len().is_multiple_of(3) && digits.chunks(3).all(is_line);
    different.len() < 4 || counted || mirrored || repeated || lines
}

/// Three keys in a line on a telephone: a row, a column or a diagonal, from either end.
fn is_line(keys: &[u8]) -> bool {
    const LINES: [[u8; 3]; 8] =
        [[1, 2, 3], [4, 5, 6], [7, 8, 9], [1, 4, 7], [2, 5, 8], [3, 6, 9], [1, 5, 9], [3, 5, 7]];
    LINES.iter().any(|line| keys == line || keys.iter().eq(line.iter().rev()))
}

/// Digits that begin or end with a year, or are a day in one of the usual orders.
fn is_date(digits: &[u8]) -> bool {
    let two = |at: usize| Some(digits.get(at)? * 10 + digits.get(at + 1)?);
    let is_year = |at: usize| matches!(two(at), Some(19 | 20)) && two(at + 2).is_some();
    let (is_day, is_month) = (
        |at: usize| two(at).is_some_and(|n| (1..=31).contains(&n)),
        |at: usize| two(at).is_some_and(|n| (1..=12).contains(&n)),
    );
    // A day and a month in either order, from a place on.
    let is_day_of_month =
        |at: usize| (is_day(at) && is_month(at + 2)) || (is_month(at) && is_day(at + 2));
    let last = digits.len().saturating_sub(4);
    let is_whole = matches!(digits.len(), 6 | 8);
    is_year(0) || is_year(last) || (is_whole && (is_day_of_month(0) || is_day_of_month(last)))
}

/// Whether a secret is in the list of common passwords, as a whole.
fn is_listed(secret: &str) -> bool {
    zxcvbn::zxcvbn(secret, &[]).guesses() <= LIST
}

/// Letters that a password with a known name in it must have besides.
const LETTERS_OWN_MIN: usize = 4;

/// Common passwords that are refused whatever else holds of them.
const LIST: u64 = 10_000;

/// Refuses passwords that are short, endless, or soon guessed: from the list of common ones, from
/// what is known of the person, from rows of keys and repetitions. Length counts, not kinds of
/// characters (NIST SP 800-63B-4).
///
/// # Errors
/// `Invalid` with what to do.
pub fn check(password: &str, about: &[&str]) -> Result<(), AppError> {
    let length = password.chars().count();
    if !(PASSWORD_CHARS_MIN..=PASSWORD_CHARS_MAX).contains(&length) {
        let text = format!("give {PASSWORD_CHARS_MIN} to {PASSWORD_CHARS_MAX} characters");
        return Err(AppError::field("password", "length", text));
    }
    let lower = about.iter().map(|a| a.to_lowercase());
    let parts: Vec<String> = lower
        .flat_map(|a| {
            let words = a.split(|c: char| !c.is_alphanumeric()).map(str::to_owned);
            words.chain([a.clone(), only_digits(&a)]).collect::<Vec<_>>()
        })
        .filter(|part| part.chars().count() > 2)
        .collect();
    let known: Vec<&str> = parts.iter().map(String::as_str).chain(LOCAL.iter().copied()).collect();
    // Names put together, with digits and signs: what else there is must be a word at least.
    let without = known.iter().fold(password.to_lowercase(), |text, part| text.replace(part, ""));
    let is_known = without.chars().filter(|c| c.is_alphabetic()).count() < LETTERS_OWN_MIN
        && known.iter().any(|part| password.to_lowercase().contains(part));
    if is_known || zxcvbn::zxcvbn(password, &known).guesses() < PASSWORD_GUESSES_MIN {
        let text = "this is among the first that are guessed; take three words that do not belong \
                    together";
        return Err(AppError::field("password", "common", text));
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    const ABOUT: [&str; 3] = ["+255 700 481 926", "Neema Barua", "Nyota Growers"];

    fn refused(role: Role, secret: &str) -> Option<&'static str> {
        match check_for(role, secret, &ABOUT) {
            Err(AppError::Invalid(errors)) => errors.first().map(|e| e.code),
            _ => None,
        }
    }

    #[test]
    fn passwords_that_are_guessed_first_are_refused() {
        for bad in [
            "short",
            "Password123",
            "aaaaaaaaaaaa",
            "1234567890",
            "KARIBU2026!",
            "qwertyuiop",
            "P@ssw0rd2026",
            "iloveyou1234",
            "neema barua",
            "BaruaNeema1",
            "nyotagrowers",
            "255700481926",
            "700481926 !",
            "ushirika2026",
            "trustno1trustno1",
        ] {
            assert!(refused(Role::Manager, bad).is_some(), "{bad}");
        }
        for good in ["maize lantern bicycle", "river basket seven", "Tq7#wm2!Lz"] {
            assert_eq!(refused(Role::Manager, good), None, "{good}");
            assert_eq!(refused(Role::Member, good), None, "{good}");
        }
        assert!(refused(Role::Member, &"long word ".repeat(13)).is_some());
    }

    #[test]
    fn pins_that_are_guessed_first_are_refused() {
        for good in ["840271", "50918273", "731684", "4082617", "839162748"] {
            assert_eq!(refused(Role::Member, good), None, "{good}");
            assert!(refused(Role::Officer, good).is_some(), "a PIN is for members");
        }
        for bad in ["84027", "", "a84027"] {
            assert_eq!(refused(Role::Member, bad), Some("length"), "{bad}");
        }
        for bad in [
            "123456",
            "987654",
            "111222",
            "482482",
            "147258",
            "159357",
            "753951",
            "246802",
            "135791",
            "840048",
            "159753",
            "789456123",
            "481926",
            "700481",
            "147258369",
        ] {
            assert!(refused(Role::Member, bad).is_some(), "{bad}");
        }
        assert_eq!(refused(Role::Member, "482482"), Some("common"));
        // Days as people write them: day, month, year, in each order; a year at either end.
        for bad in [
            "250685", "062585", "850625", "311299", "25061985", "19850625", "06251985", "198573",
            "731985", "2026731", "0101704",
        ] {
            let is_date = bad != "0101704";
            assert_eq!(refused(Role::Member, bad) == Some("date_like"), is_date, "{bad}");
        }
    }

    /// So many PINs of six digits are left that the documentation may count on [`PINS_LEFT`].
    #[test]
    fn most_pins_are_left() {
        let digits = |n: u32| -> Vec<u8> { format!("{n:06}").bytes().map(|b| b - b'0').collect() };
        let left = (0..1_000_000_u32).map(digits).filter(|d| !is_pattern(d) && !is_date(d)).count();
        let listed = usize::try_from(LIST).unwrap_or(0);
        let floor = usize::try_from(traybook_domain::limits::PINS_LEFT).unwrap_or(0);
        assert!(left - listed >= floor, "{left}");
    }
}
