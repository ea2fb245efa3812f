//! Work as an iCalendar file (RFC 5545). Written here, since the libraries that write it need a
//! source of randomness below them, or fold lines an octet late; `tests/read_calendar.py` reads it with
//! another program's parser.

use chrono::TimeDelta;
use traybook_domain::time::to_utc;
use traybook_domain::value::Instant;

/// One entry of a calendar.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Entry {
    /// Name that stays the same as long as the entry does.
    pub uid: String,
    /// When it begins.
    pub at: Instant,
    /// How long it takes, minutes.
    pub minutes: i64,
    pub summary: String,
    /// What to know besides.
    pub about: String,
}

/// A calendar of entries as text; the same entries at the same time give the same bytes.
///
/// # Source
/// RFC 5545: lines end in CR LF and are folded at 75 octets; `REFRESH-INTERVAL` is of RFC 7986.
#[must_use]
pub fn calendar(name: &str, made_at: Instant, entries: &[Entry]) -> String {
    let utc = |at: Instant, minutes: i64| {
        (to_utc(at) + TimeDelta::minutes(minutes)).format("%Y%m%dT%H%M%SZ").to_string()
    };
    let mut out = String::new();
    let mut put = |name: &str, value: &str| fold(&mut out, &format!("{name}:{value}"));
    put("BEGIN", "VCALENDAR");
    put("VERSION", "2.0");
    put("PRODID", "-//traybook//work of a farm//EN");
    put("CALSCALE", "GREGORIAN");
    put("METHOD", "PUBLISH");
    put("NAME", &text(name));
    put("REFRESH-INTERVAL;VALUE=DURATION", "PT1H");
    for entry in entries {
        put("BEGIN", "VEVENT");
        put("UID", &text(&entry.uid));
        put("DTSTAMP", &utc(made_at, 0));
        put("DTSTART", &utc(entry.at, 0));
        put("DTEND", &utc(entry.at, entry.minutes));
        put("SUMMARY", &text(&entry.summary));
        if !entry.about.is_empty() {
            put("DESCRIPTION", &text(&entry.about));
        }
        put("END", "VEVENT");
    }
    put("END", "VCALENDAR");
    out
}

/// Text as a value (section 3.3.11).
fn text(raw: &str) -> String {
    let mut out = String::with_capacity(raw.len());
    for c in raw.chars() {
        match c {
            '\\' | ';' | ',' => out.extend(['\\', c]),
            '\n' => out.push_str("\\n"),
            c if c.is_control() => {}
            c => out.push(c),
        }
    }
    out
}

/// Octets of a line, its break not counted (section 3.1).
const LINE_OCTETS: usize = 75;

/// A line, folded between characters.
fn fold(out: &mut String, line: &str) {
    let mut room = LINE_OCTETS;
    for c in line.chars() {
        if c.len_utf8() > room {
            out.push_str("\r\n ");
            room = LINE_OCTETS - 1;
        }
        room -= c.len_utf8();
        out.push(c);
    }
    out.push_str("\r\n");
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn calendar_follows_rfc_5545() {
        let at = Instant(1_772_341_200_000);
        let long = "spread 4 kg barley of batch B28 on 2 trays; then, \"gently\", ünd so weiter, "
            .repeat(3);
        let entry = Entry {
            uid: "spread.1@coop".to_owned(),
            at,
            minutes: 30,
            summary: long,
            about: "one\ntwo".to_owned(),
        };
        let text = calendar("Work of F1", at, &[entry]);
        // Section 3.1: CR LF, at most 75 octets a line, folded lines begin with a space.
        assert!(text.ends_with("END:VCALENDAR\r\n") && text.starts_with("BEGIN:VCALENDAR\r\n"));
        assert!(text.split("\r\n").all(|line| line.len() <= 75 && !line.contains('\n')));
        let flat = text.replace("\r\n ", "");
        // Section 3.3.11: backslash, semicolon, comma and newline are escaped in text.
        assert!(flat.contains("2 trays\\; then\\, \"gently\"\\, ünd so"), "{flat}");
        assert!(flat.contains("DESCRIPTION:one\\ntwo\r\n"));
        // Sections 3.6, 3.6.1: VERSION, PRODID; UID, DTSTAMP, DTSTART once each.
        for once in ["VERSION:2.0\r\n", "PRODID:", "UID:spread.1@coop\r\n", "DTSTAMP:", "DTSTART:"]
        {
            assert_eq!(flat.matches(once).count(), 1, "{once} in {flat}");
        }
        assert!(flat.contains("DTSTART:20260301T050000Z\r\n"));
        assert!(flat.contains("DTEND:20260301T053000Z\r\n"));
        assert_eq!(text, calendar("Work of F1", at, &[Entry {
            uid: "spread.1@coop".to_owned(), at, minutes: 30,
            summary: "spread 4 kg barley of batch B28 on 2 trays; then, \"gently\", ünd so weiter, ".repeat(3),
            about: "one\ntwo".to_owned(),
        }]));
    }
}
