//! Time-based codes (RFC 6238) with SHA-1, steps of 30 seconds and six digits: what every program
//! for such codes reads.

use hmac::{Hmac, Mac};
use sha1::Sha1;

/// Seconds of a step.
pub(super) const STEP_S: i64 = 30;
/// Digits of a code.
pub const DIGITS: usize = 6;
/// Bytes of a secret (RFC 4226, 4, R6 recommends 160 bits).
pub(super) const SECRET_BYTES: usize = 20;
/// Steps that a clock may be behind or ahead.
const DRIFT: i64 = 1;

/// The code of a step (RFC 4226, 5.3).
fn code(secret: &[u8], step: i64, digits: usize) -> Option<String> {
    let mut mac = <Hmac<Sha1> as Mac>::new_from_slice(secret).ok()?;
    mac.update(&u64::try_from(step).ok()?.to_be_bytes());
    let hash = mac.finalize().into_bytes();
    let offset = usize::from(hash.last()? & 0x0f);
    let four: [u8; 4] = hash.get(offset..offset + 4)?.try_into().ok()?;
    let number = u32::from_be_bytes(four) & 0x7fff_ffff;
    let modulus = 10_u32.checked_pow(u32::try_from(digits).ok()?)?;
    Some(format!("{:0digits$}", number % modulus))
}

/// The step whose code this is, later than the last one that was taken.
pub(super) fn step_of(secret: &[u8], given: &str, last_step: i64, now_s: i64) -> Option<i64> {
    let given: String = given.chars().filter(char::is_ascii_digit).collect();
    let now = now_s.div_euclid(STEP_S);
    let steps = (now - DRIFT..=now + DRIFT).filter(|step| *step > last_step);
    // All are computed, so that the time says nothing.
    let fitting: Vec<i64> =
        steps.filter(|step| code(secret, *step, DIGITS).as_deref() == Some(&*given)).collect();
    fitting.first().copied()
}

/// A secret in letters (RFC 4648, 6), without padding: 20 bytes need none.
pub(super) fn base32(bytes: &[u8]) -> String {
    const LETTERS: &[u8; 32] = b"ABCDEFGHIJKLMNOPQRSTUVWXYZ234567";
    let mut out = String::new();
    let (mut held, mut bits) = (0_u32, 0_u32);
    for byte in bytes {
        held = (held << 8) | u32::from(*byte);
        bits += 8;
        while bits >= 5 {
            bits -= 5;
            let at = usize::try_from((held >> bits) & 31).unwrap_or(0);
            out.extend(LETTERS.get(at).map(|letter| char::from(*letter)));
        }
        held &= (1 << bits) - 1;
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    /// RFC 6238, appendix B, the lines of SHA-1: eight digits.
    #[test]
    fn codes_are_those_of_the_standard() {
        let secret = b"12345678901234567890";
        for (at, wanted) in [
            (59_i64, "94287082"),
            (1_111_111_109, "07081804"),
            (1_111_111_111, "14050471"),
            (1_234_567_890, "89005924"),
            (2_000_000_000, "69279037"),
            (20_000_000_000, "65353130"),
        ] {
            let step = at / STEP_S;
            assert_eq!(code(secret, step, 8).as_deref(), Some(wanted));
            let six = wanted.get(2..).expect("six");
            assert_eq!(step_of(secret, six, 0, at), Some(step));
            assert_eq!(step_of(secret, six, step, at), None, "once only");
            assert_eq!(step_of(secret, six, 0, at + STEP_S), Some(step), "a clock behind");
            assert_eq!(step_of(secret, six, 0, at + 3 * STEP_S), None, "too old");
        }
    }

    /// RFC 4648, 10.
    #[test]
    fn letters_are_those_of_the_standard() {
        let long = base32(b"12345678901234567890");
        assert_eq!((base32(b"fooba").as_str(), long.len()), ("MZXW6YTB", 32));
    }
}
