//! CSV (RFC 4180) that a spreadsheet can not mistake for formulas.
//!
//! A value that begins with `=`, `+`, `-`, `@`, a tab, a carriage return or an apostrophe gets an
//! apostrophe in front (OWASP, CSV injection); reading takes one off again, so that writing and
//! reading back gives the same value. Plain negative numbers stay numbers.

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

fn risky(text: &str) -> bool {
    text.starts_with(['=', '+', '-', '@', '\t', '\r', '\'']) && !is_number(text)
}

fn is_number(text: &str) -> bool {
    let digits = text.strip_prefix('-').unwrap_or(text);
    let mut parts = digits.split('.');
    let whole = |p: &str| !p.is_empty() && p.bytes().all(|b| b.is_ascii_digit());
    parts.next().is_some_and(whole) && parts.next().is_none_or(whole) && parts.next().is_none()
}

/// A value as it is written.
#[must_use]
pub fn guard(text: &str) -> String {
    if risky(text) { format!("'{text}") } else { text.to_owned() }
}

/// A value as it was before it was written.
#[must_use]
pub fn unguard(text: &str) -> &str {
    match text.strip_prefix('\'') {
        Some(rest) if risky(rest) => rest,
        _ => text,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn values_survive_and_formulas_do_not_run() {
        for text in
            ["=1+1", "+255 700", "-x", "@a", "'=1", "plain", "-12.5", "'plain", "", "a,\"b\""]
        {
            assert_eq!(unguard(&guard(text)), text, "{text}");
        }
        assert_eq!(line(&["=1", "-2", "a \"b\", c"]), "'=1,-2,\"a \"\"b\"\", c\"\r\n");
    }
}
