//! Carriers of text messages, and how they sign.
//!
//! A request is signed as the open Standard Webhooks specification 1.0 says: HMAC-SHA256 with the
//! carrier's secret over id, timestamp and body, joined by points; the signature stands in base64
//! behind `v1,`, several separated by spaces. A timestamp further away than five minutes is refused.

use crate::Random;
use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use hmac::{Hmac, Mac as _};
use serde::Deserialize;
use sha2::Sha256;
use std::collections::BTreeMap;
use std::sync::Mutex;
use traybook_domain::value::Instant;
use traybook_texts::phone::Dialling;
use uuid::Uuid;

/// Seconds between the clocks of both ends (Standard Webhooks, "Verifying webhook authenticity").
pub const CLOCKS_APART_S: i64 = 5 * 60;
/// Fewest bytes of a secret (the same, "Signature scheme": 24 to 64 bytes).
const SECRET_BYTES: std::ops::RangeInclusive<usize> = 24..=64;
/// What stands before a secret.
const PREFIX: &str = "whsec_";

type Signer = Hmac<Sha256>;

/// A carrier as its file has it.
#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Written {
    name: String,
    secret: String,
    cooperatives: Vec<Served>,
    #[serde(default)]
    calling_code: String,
    #[serde(default)]
    trunk: String,
}

/// A co-operative that a carrier serves.
#[derive(Clone, Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Served {
    pub id: Uuid,
    /// The number that its members write to, where several co-operatives share the carrier.
    #[serde(default)]
    pub number: Option<String>,
    /// Segments that a month may take.
    #[serde(default)]
    pub segments_a_month: Option<i64>,
}

pub struct Carrier {
    pub name: String,
    secret: Vec<u8>,
    /// The co-operatives that it serves.
    pub serves: Vec<Served>,
    /// How numbers are dialled where it is.
    pub dialling: Dialling,
}

impl std::fmt::Debug for Carrier {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Carrier").field("name", &self.name).finish_non_exhaustive()
    }
}

/// The carriers, and when each spoke last.
#[derive(Debug, Default)]
pub struct Carriers {
    all: Vec<Carrier>,
    /// One entry a carrier.
    heard: Mutex<BTreeMap<String, i64>>,
}

/// What a signed request carries in its head.
#[derive(Clone, Copy, Debug)]
pub struct Signed<'a> {
    /// `webhook-id`.
    pub id: &'a str,
    /// `webhook-timestamp`, seconds since 1970.
    pub timestamp: &'a str,
    /// `webhook-signature`.
    pub signature: &'a str,
}

impl Carriers {
    /// Reads carriers from JSON: a list of name, secret and co-operatives.
    ///
    /// # Errors
    /// Says what is wrong, never a secret.
    pub fn parse(json: &str) -> Result<Self, String> {
        let written: Vec<Written> = serde_json::from_str(json).map_err(|e| {
            let form = "a list of {name, secret, cooperatives: [{id}], calling_code, trunk}";
            format!("carriers are no JSON of the form {form}: line {}", e.line())
        })?;
        let mut all: Vec<Carrier> = Vec::new();
        for w in written {
            let name = w.name;
            let is_name = |c: char| c.is_ascii_alphanumeric() || c == '-';
            if name.is_empty() || name.len() > 40 || !name.chars().all(is_name) {
                return Err("a carrier's name is 1 to 40 letters, figures and -".to_owned());
            }
            if all.iter().any(|c| c.name == name) {
                return Err(format!("carrier {name} stands twice"));
            }
            let secret = secret_bytes(&w.secret).ok_or_else(|| {
                format!("the secret of {name} must be {PREFIX} and 24 to 64 bytes in base64")
            })?;
            if w.cooperatives.is_empty() {
                return Err(format!("carrier {name} names no co-operative"));
            }
            let dialling = Dialling { calling_code: w.calling_code, trunk: w.trunk };
            all.push(Carrier { name, secret, serves: w.cooperatives, dialling });
        }
        Ok(Self { all, heard: Mutex::default() })
    }

    /// A new secret.
    ///
    /// # Errors
    /// When there is no randomness.
    pub fn new_secret(random: &dyn Random) -> Result<String, String> {
        let mut bytes = [0_u8; 32];
        random.fill(&mut bytes)?;
        Ok(format!("{PREFIX}{}", STANDARD.encode(bytes)))
    }

    #[must_use]
    pub fn all(&self) -> &[Carrier] {
        &self.all
    }

    /// A carrier by its name.
    #[must_use]
    pub fn named(&self, name: &str) -> Option<&Carrier> {
        self.all.iter().find(|c| c.name == name)
    }

    /// The first carrier that serves a co-operative.
    #[must_use]
    pub fn of(&self, coop: Uuid) -> Option<&Carrier> {
        self.all.iter().find(|c| c.serves.iter().any(|s| s.id == coop))
    }

    /// Segments that a co-operative's month may take.
    #[must_use]
    pub fn budget(&self, coop: Uuid) -> Option<i64> {
        let served = self.all.iter().flat_map(|c| &c.serves).filter(|s| s.id == coop);
        served.filter_map(|s| s.segments_a_month).next()
    }

    /// The carrier that signed a request; none where no secret fits or the time is another.
    #[must_use]
    pub fn signed_by(&self, signed: Signed<'_>, body: &[u8], now: Instant) -> Option<&Carrier> {
        let at: i64 = signed.timestamp.parse().ok()?;
        let apart = now.0.div_euclid(1_000).checked_sub(at)?;
        if apart.abs() > CLOCKS_APART_S || signed.id.is_empty() || signed.id.contains('.') {
            return None;
        }
        let given: Vec<Vec<u8>> = signed
            .signature
            .split(' ')
            .filter_map(|s| STANDARD.decode(s.strip_prefix("v1,")?).ok())
            .collect();
        let carrier = self.all.iter().find(|carrier| {
            given.iter().any(|given| {
                let signer = signer(&carrier.secret, signed.id, signed.timestamp, body);
                signer.is_some_and(|s| s.verify_slice(given).is_ok())
            })
        })?;
        if let Ok(mut heard) = self.heard.lock() {
            heard.insert(carrier.name.clone(), now.0);
        }
        Some(carrier)
    }

    /// When a carrier spoke last, since this program began.
    #[must_use]
    pub fn heard(&self, name: &str) -> Option<Instant> {
        self.heard.lock().ok()?.get(name).copied().map(Instant)
    }

    /// When a carrier of a co-operative spoke last, since this program began.
    #[must_use]
    pub fn heard_at(&self, coop: Uuid) -> Option<Instant> {
        let names = self.all.iter().filter(|c| c.serves.iter().any(|s| s.id == coop));
        let heard = self.heard.lock().ok()?;
        names.filter_map(|c| heard.get(&c.name).copied()).max().map(Instant)
    }
}

fn secret_bytes(text: &str) -> Option<Vec<u8>> {
    let bytes = STANDARD.decode(text.strip_prefix(PREFIX)?).ok()?;
    SECRET_BYTES.contains(&bytes.len()).then_some(bytes)
}

fn signer(secret: &[u8], id: &str, timestamp: &str, body: &[u8]) -> Option<Signer> {
    let mut signer = Signer::new_from_slice(secret).ok()?;
    for part in [id.as_bytes(), b".", timestamp.as_bytes(), b".", body] {
        signer.update(part);
    }
    Some(signer)
}

/// The signature of a request, for the end that sends it; none for a secret of another form.
#[must_use]
pub fn sign(secret: &str, id: &str, timestamp_s: i64, body: &[u8]) -> Option<String> {
    let secret = secret_bytes(secret)?;
    let signer = signer(&secret, id, &timestamp_s.to_string(), body)?;
    Some(format!("v1,{}", STANDARD.encode(signer.finalize().into_bytes())))
}

#[cfg(test)]
mod tests {
    use super::*;

    const SECRET: &str = "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw";

    fn carriers() -> Carriers {
        let json = format!(
            r#"[{{"name": "office", "secret": "{SECRET}", "cooperatives": [{{"id": "{}"}}]}}]"#,
            Uuid::nil()
        );
        Carriers::parse(&json).expect("carriers")
    }

    /// Secret, id, time, body and signature: the example that the specification's reference
    /// libraries test with (MEM).
    #[test]
    fn a_signature_is_that_of_the_specification() {
        let (id, at, body) =
            ("msg_p5jXN8AQM9LWM0D4loKWxJek", 1_614_265_330, br#"{"test": 2432232314}"#);
        let signature = "v1,g0hM9SsE+OTPJTGt/tmIKtSyZlE3uFJELVlNIOLJ1OE=";
        assert_eq!(sign(SECRET, id, at, body).as_deref(), Some(signature));
        let carriers = carriers();
        let signed = |signature, timestamp| Signed { id, timestamp, signature };
        let by = |signed, body: &[u8], now_s: i64| {
            carriers.signed_by(signed, body, Instant(now_s * 1_000)).is_some()
        };
        assert!(by(signed(signature, "1614265330"), body, at + CLOCKS_APART_S));
        let two = format!("v1,AAAA v2,x {signature}");
        assert!(by(signed(&two, "1614265330"), body, at - CLOCKS_APART_S));
        assert!(!by(signed(signature, "1614265330"), body, at + CLOCKS_APART_S + 1));
        assert!(!by(signed(signature, "1614265331"), body, at));
        assert!(!by(signed(signature, "1614265330"), br#"{"test": 2432232315}"#, at));
        assert!(!by(signed("v1,", "1614265330"), body, at));
        assert!(!by(signed("", "x"), body, at));
    }

    #[test]
    fn carriers_that_are_not_sound_are_refused_without_naming_a_secret() {
        for (json, why) in [
            ("{}", "form"),
            (r#"[{"name": "a b", "secret": "x", "cooperatives": []}]"#, "name"),
            (r#"[{"name": "a", "secret": "whsec_c2hvcnQ=", "cooperatives": []}]"#, "24 to 64"),
            (
                r#"[{"name": "a", "secret": "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw", "cooperatives": []}]"#,
                "no co-operative",
            ),
        ] {
            let error = Carriers::parse(json).expect_err("refused");
            assert!(error.contains(why) && !error.contains("MfKQ9r8G"), "{error}");
        }
        assert!(!format!("{:?}", carriers()).contains("MfKQ"));
    }
}
