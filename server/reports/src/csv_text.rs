//! CSV (RFC 4180) that a spreadsheet can not mistake for formulas.
//!
//! A part of a value is what stands between its commas, semicolons, bars, tabs and line ends: a
//! spreadsheet of another country may cut there. A part that begins with a sign of formulas, also a
//! full-width one, gets an apostrophe in front (OWASP, CSV injection). So does one that begins with
//! an apostrophe. Reading takes one off again, so that writing and reading back gives the same
//! value. Numbers stay numbers.

use std::borrow::Cow;

/// One line of a file.
#[must_use]
pub fn line<S: AsRef<str>>(cells: &[S]) -> String {
    let mut out = String::new();
    for (index, cell) in cells.iter().enumerate() {
        if index > 0 {
            out.push(',');
        }
        let cell = guard(cell.as_ref());
        if cell.contains([',', '"', '\n', '\r']) || cell != cell.trim() {
            out.push('"');
            out.push_str(&cell.replace('"', "\"\""));
            out.push('"');
        } else {
            out.push_str(&cell);
        }
    }
    out.push_str("\r\n");
    out
}

/// What may part a value in one spreadsheet or another.
const SEPARATORS: [char; 6] = [',', ';', '|', '\t', '\r', '\n'];
/// What formulas begin with, plain and full-width (U+FF1D, U+FF0B, U+FF0D, U+FF20), and what stands
/// in front of them here.
const SIGNS: [char; 9] = ['=', '+', '-', '@', '＝', '＋', '－', '＠', '\''];

/// Whether a part may be taken for a formula. Blanks and quotes in front of it hide nothing.
fn is_risky(part: &str) -> bool {
    let begins = part.trim_start_matches([' ', '"']).starts_with(SIGNS);
    begins && !is_number(part.trim_matches(' '))
}

fn is_number(text: &str) -> bool {
    let digits = text.strip_prefix('-').unwrap_or(text);
    let mut parts = digits.split('.');
    let whole = |p: &str| !p.is_empty() && p.bytes().all(|b| b.is_ascii_digit());
    parts.next().is_some_and(whole) && parts.next().is_none_or(whole) && parts.next().is_none()
}

/// A value part by part, each with the separator behind it.
fn of_parts(text: &str, made: impl Fn(&str) -> Option<String>) -> Cow<'_, str> {
    let parts = text.split_inclusive(SEPARATORS).map(|part| {
        let bare = part.strip_suffix(SEPARATORS).unwrap_or(part);
        let end = part.strip_prefix(bare).unwrap_or_default();
        (part, made(bare).map(|made| made + end))
    });
    let parts: Vec<(&str, Option<String>)> = parts.collect();
    if parts.iter().all(|(_, made)| made.is_none()) {
        return Cow::Borrowed(text);
    }
    Cow::Owned(parts.into_iter().map(|(part, made)| made.unwrap_or(part.to_owned())).collect())
}

/// A value as it is written.
#[must_use]
pub fn guard(text: &str) -> Cow<'_, str> {
    let guarded = of_parts(text, |part| is_risky(part).then(|| format!("'{part}")));
    match guarded.starts_with(['\t', '\r']) {
        true => Cow::Owned(format!("'{guarded}")),
        false => guarded,
    }
}

/// A value as it was before it was written.
#[must_use]
pub fn unguard(text: &str) -> Cow<'_, str> {
    let begins = text.strip_prefix('\'').filter(|rest| rest.starts_with(['\t', '\r']));
    of_parts(begins.unwrap_or(text), |part| {
        part.strip_prefix('\'').filter(|rest| is_risky(rest)).map(str::to_owned)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// OWASP, CSV injection: the signs, and a separator or quote in front of one.
    #[test]
    fn values_survive_and_formulas_do_not_run() {
        let signs = ["=", "+", "-", "@", "＝", "＋", "－", "＠"];
        for sign in signs {
            for before in
                ["", "a;", "a,", "a|", "a\t", "a\n", "a\r", "\t", "\r", "a; ", "a;\"", " "]
            {
                let text = format!("{before}{sign}SUM(1)");
                let written = guard(&text);
                assert!(
                    written.contains(&format!("'{sign}"))
                        || written.contains("' ")
                        || written.contains("'\""),
                    "{text:?} {written:?}"
                );
                assert_eq!(unguard(&written), text);
                assert_eq!(unguard(&guard(&written)), written, "once more");
            }
        }
        for text in ["+255 700", "'=1", "''", "'plain", "", "a,\"b\"", "'\t", "\t", "'", "a;'=1;b"]
        {
            assert_eq!(unguard(&guard(text)), text, "{text}");
        }
        // Numbers stay numbers, and words are left alone.
        for text in ["-12.5", "-3", "5, -3; 7", "plain", "half-full, good", "a - b", "x=1"] {
            assert_eq!(guard(text), text);
        }
        assert_eq!(unguard("'-12.5"), "'-12.5", "somebody else's apostrophe stays");
        assert_eq!(line(&["=1", "-2", "a \"b\", c"]), "'=1,-2,\"a \"\"b\"\", c\"\r\n");
    }
}
