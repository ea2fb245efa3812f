//! When a certificate ends: the one date that its operator must not miss. The TLS library checks
//! certificates of others, and does not say the dates of its own.

use traybook_domain::time::parse_instant;
use traybook_domain::value::Instant;

const INTEGER: u8 = 0x02;
const SEQUENCE: u8 = 0x30;
const UTC_TIME: u8 = 0x17;
const GENERALIZED_TIME: u8 = 0x18;
/// `[0] EXPLICIT`: the version, which stands first where it is not the first one.
const VERSION: u8 = 0xA0;

/// The end of the validity of a certificate in DER (RFC 5280, 4.1; lengths by X.690, 8.1.3).
pub fn not_after(certificate: &[u8]) -> Option<Instant> {
    let (certificate, _) = value(certificate, SEQUENCE)?;
    let (mut rest, _) = value(certificate, SEQUENCE)?;
    if let Some((_, after)) = value(rest, VERSION) {
        rest = after;
    }
    // Serial number, algorithm of the signature, issuer.
    for tag in [INTEGER, SEQUENCE, SEQUENCE] {
        (_, rest) = value(rest, tag)?;
    }
    let (validity, _) = value(rest, SEQUENCE)?;
    let (_, end) = time(validity)?;
    let (end, _) = time(end)?;
    Some(end)
}

/// The value of an element with a tag, and what stands behind it.
fn value(bytes: &[u8], tag: u8) -> Option<(&[u8], &[u8])> {
    let (found, rest) = bytes.split_first()?;
    let (first, rest) = rest.split_first()?;
    let (length, rest) = match first {
        0..=0x7F => (usize::from(*first), rest),
        // So many bytes of length follow; four are more than any certificate needs.
        0x81..=0x84 => {
            let (length, rest) = rest.split_at_checked(usize::from(first & 0x7F))?;
            (length.iter().fold(0_usize, |sum, byte| (sum << 8) | usize::from(*byte)), rest)
        }
        _ => return None,
    };
    (*found == tag).then(|| rest.split_at_checked(length))?
}

/// A time, and what stands behind it. Both forms end with Z and have seconds (RFC 5280, 4.1.2.5).
fn time(bytes: &[u8]) -> Option<(Instant, &[u8])> {
    let (is_short, (text, rest)) = match value(bytes, UTC_TIME) {
        Some(found) => (true, found),
        None => (false, value(bytes, GENERALIZED_TIME)?),
    };
    let text = std::str::from_utf8(text).ok()?;
    let digits = text.strip_suffix('Z').filter(|t| t.bytes().all(|b| b.is_ascii_digit()))?;
    let whole = match is_short {
        // Years from 50 on are of the last century.
        true if digits.get(..2)? >= "50" => format!("19{digits}"),
        true => format!("20{digits}"),
        false => digits.to_owned(),
    };
    let part = |from: usize| whole.get(from..from + 2);
    let (year, month, day) = (whole.get(..4)?, part(4)?, part(6)?);
    let (hour, minute, second) = (part(8)?, part(10)?, part(12)?);
    let at = parse_instant(&format!("{year}-{month}-{day}T{hour}:{minute}:{second}.000Z"))?;
    (whole.len() == 14).then_some((at, rest))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn element(tag: u8, parts: &[&[u8]]) -> Vec<u8> {
        let value = parts.concat();
        let length = u8::try_from(value.len());
        let length = match length {
            Ok(short @ 0..=127) => vec![short],
            Ok(long) => vec![0x81, long],
            Err(_) => vec![0x82, u8::try_from(value.len() >> 8).expect("short"), value.len() as u8],
        };
        [vec![tag], length, value].concat()
    }

    fn certificate(version: bool, issuer: usize, from: &[u8], to: &[u8]) -> Vec<u8> {
        let version = if version { element(VERSION, &[&[2, 1, 2]]) } else { Vec::new() };
        let issuer = element(SEQUENCE, &[&vec![0; issuer]]);
        let validity = element(SEQUENCE, &[from, to]);
        let number = element(INTEGER, &[&[1]]);
        let algorithm = element(SEQUENCE, &[&[6, 1, 42]]);
        let body =
            element(SEQUENCE, &[&version, &number, &algorithm, &issuer, &validity, &[0x30, 0]]);
        element(SEQUENCE, &[&body, &[0x30, 0]])
    }

    #[test]
    fn the_end_is_read_in_both_forms() {
        let utc = |text: &str| element(UTC_TIME, &[text.as_bytes()]);
        let long = |text: &str| element(GENERALIZED_TIME, &[text.as_bytes()]);
        let begin = utc("260101000000Z");
        for (end, said) in [
            (utc("270301123456Z"), Some("2027-03-01T12:34:56.000Z")),
            (utc("991231235959Z"), Some("1999-12-31T23:59:59.000Z")),
            (long("20500101000000Z"), Some("2050-01-01T00:00:00.000Z")),
            (utc("271301000000Z"), None),
            (utc("270301123456+0000"), None),
            (utc("2703011234Z"), None),
        ] {
            for (version, issuer) in [(true, 5), (false, 130), (true, 700)] {
                let bytes = certificate(version, issuer, &begin, &end);
                assert_eq!(not_after(&bytes), said.and_then(parse_instant), "{said:?} {issuer}");
                // What is cut off is refused, not read beyond its end.
                for cut in 0..bytes.len().min(150) {
                    assert_eq!(not_after(&bytes[..cut]), None, "{cut}");
                }
            }
        }
    }
}
