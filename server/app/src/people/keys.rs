//! The keys that sign access tokens: several, each with an id, so that they can be changed without
//! signing anybody out.

use super::session::digest;
use crate::Random;
use chacha20poly1305::aead::{Aead as _, Payload};
use chacha20poly1305::{ChaCha20Poly1305, KeyInit as _};
use hmac::{Hmac, Mac};
use jsonwebtoken::{Algorithm, DecodingKey, EncodingKey, Header, Validation, decode, encode};
use serde::{Deserialize, Serialize};
use sha2::Sha256;
use std::collections::BTreeMap;
use std::path::Path;
use traybook_domain::limits::ACCESS_TOKEN_S;
use uuid::Uuid;

const ISSUER: &str = "traybook";
const AUDIENCE: &str = "traybook-api";
const KEY_BYTES_MIN: usize = 32;

/// Key ring as it stands in the environment or file: key id to hexadecimal key.
#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct KeyFile {
    /// Key that signs.
    active: String,
    /// All keys that are accepted.
    keys: BTreeMap<String, String>,
}

/// One key, as each of its uses needs it.
struct Key {
    encoding: EncodingKey,
    decoding: DecodingKey,
    bytes: Vec<u8>,
}

/// The keys in use.
pub struct KeyRing {
    active: String,
    keys: BTreeMap<String, Key>,
}

/// What an access token says.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Claims {
    iss: String,
    aud: String,
    /// Person.
    pub sub: Uuid,
    /// Co-operative's short number.
    pub coop: i64,
    pub cid: Uuid,
    /// Sign-in that the token came from.
    pub fam: Uuid,
    iat: i64,
    /// End, seconds since 1970.
    pub exp: i64,
}

/// Whom a token is made for.
#[derive(Clone, Copy, Debug)]
pub struct Subject {
    pub person: Uuid,
    /// Co-operative's short number.
    pub coop: i64,
    pub cooperative: Uuid,
    /// Sign-in.
    pub family: Uuid,
}

impl KeyRing {
    /// Reads a ring from JSON: `{"active": "k1", "keys": {"k1": "<64 hexadecimal digits>"}}`.
    ///
    /// # Errors
    /// Says what is wrong, never a key.
    pub fn parse(json: &str) -> Result<Self, String> {
        let file: KeyFile = serde_json::from_str(json).map_err(|e| {
            format!("the key ring is not JSON of the form active, keys: line {}", e.line())
        })?;
        let mut keys = BTreeMap::new();
        for (id, hex) in &file.keys {
            let bytes = bytes_of(hex).ok_or(format!("key {id} is not hexadecimal"))?;
            refuse_weak(id, &bytes)?;
            let encoding = EncodingKey::from_secret(&bytes);
            let decoding = DecodingKey::from_secret(&bytes);
            keys.insert(id.clone(), Key { encoding, decoding, bytes });
        }
        if !keys.contains_key(&file.active) {
            return Err(format!("the active key {} is not among the keys", file.active));
        }
        Ok(Self { active: file.active, keys })
    }

    /// Reads the ring in a file, or makes one there that only its owner can read.
    ///
    /// # Errors
    /// Says what is wrong with the file or its permissions.
    pub fn load_or_make(path: &Path, random: &dyn Random) -> Result<Self, String> {
        let shown = path.display();
        match std::fs::read_to_string(path) {
            Ok(json) => {
                refuse_open_file(path)?;
                Self::parse(&json).map_err(|e| format!("{shown}: {e}"))
            }
            Err(e) if e.kind() == std::io::ErrorKind::NotFound => {
                let json = Self::generate(random)?;
                write_private(path, &json).map_err(|e| format!("{shown}: {e}"))?;
                Self::parse(&json)
            }
            Err(e) => Err(format!("{shown}: {e}")),
        }
    }

    /// A new ring with one key, as JSON.
    ///
    /// # Errors
    /// When there is no randomness.
    pub fn generate(random: &dyn Random) -> Result<String, String> {
        let mut bytes = [0_u8; 40];
        random.fill(&mut bytes)?;
        let (id, key) = bytes.split_at(8);
        let hex = |b: &[u8]| b.iter().map(|b| format!("{b:02x}")).collect::<String>();
        let keys = BTreeMap::from([(hex(id), hex(key))]);
        let file = KeyFile { active: hex(id), keys };
        serde_json::to_string_pretty(&file).map_err(|e| e.to_string())
    }

    /// Signs an access token; also its end, seconds since 1970.
    ///
    /// # Errors
    /// When signing fails.
    pub fn sign(&self, subject: Subject, now_s: i64) -> Result<(String, i64), String> {
        let key = self.keys.get(&self.active).ok_or("no active key")?;
        let header = own_header(&self.active);
        let exp = now_s + ACCESS_TOKEN_S;
        let claims = Claims {
            iss: ISSUER.to_owned(),
            aud: AUDIENCE.to_owned(),
            sub: subject.person,
            coop: subject.coop,
            cid: subject.cooperative,
            fam: subject.family,
            iat: now_s,
            exp,
        };
        let token = encode(&header, &claims, &key.encoding).map_err(|e| e.to_string())?;
        Ok((token, exp))
    }

    /// What stands for a text in the database, where the text itself shall not: nobody who reads the
    /// database alone can find it by trying. The first part says what for.
    ///
    /// # Errors
    /// When there is no active key.
    pub fn mark(&self, parts: &[&str]) -> Result<String, String> {
        let key = self.keys.get(&self.active).ok_or("no active key")?;
        mac(&key.bytes, parts).ok_or_else(|| "a key of no use".to_owned())
    }

    /// Whether a mark was made of these parts, by any of the keys.
    #[must_use]
    pub fn is_mark(&self, mark: &str, parts: &[&str]) -> bool {
        // Two digests are compared, so that the time says nothing about the mark.
        let wanted = digest(mark);
        self.keys.values().filter_map(|k| mac(&k.bytes, parts)).any(|m| digest(&m) == wanted)
    }

    /// Seals a secret for the database (ChaCha20-Poly1305, RFC 8439). `whose` belongs to it: what was
    /// sealed for one person opens for nobody else.
    ///
    /// # Errors
    /// When there is no active key or no randomness.
    pub fn seal(&self, whose: &str, secret: &[u8], random: &dyn Random) -> Result<String, String> {
        let key = self.keys.get(&self.active).ok_or("no active key")?;
        let mut nonce = [0_u8; 12];
        random.fill(&mut nonce)?;
        let payload = Payload { msg: secret, aad: whose.as_bytes() };
        let sealed = cipher(&key.bytes).and_then(|c| c.encrypt(&nonce.into(), payload).ok());
        let sealed = sealed.ok_or("a secret could not be sealed")?;
        let hex = |bytes: &[u8]| bytes.iter().map(|b| format!("{b:02x}")).collect::<String>();
        Ok(format!("{}{}", hex(&nonce), hex(&sealed)))
    }

    /// Opens what was sealed, with whichever key it was.
    #[must_use]
    pub fn unseal(&self, whose: &str, sealed: &str) -> Option<Vec<u8>> {
        let bytes = bytes_of(sealed)?;
        let (nonce, sealed) = bytes.split_at_checked(12)?;
        let nonce: [u8; 12] = nonce.try_into().ok()?;
        self.keys.values().find_map(|key| {
            let payload = Payload { msg: sealed, aad: whose.as_bytes() };
            cipher(&key.bytes)?.decrypt(&nonce.into(), payload).ok()
        })
    }

    /// Reads an access token; none when anything about it is wrong.
    #[must_use]
    pub fn verify(&self, token: &str, now_s: i64) -> Option<Claims> {
        let header = jsonwebtoken::decode_header(token).ok()?;
        let (id, key) = self.keys.get_key_value(header.kid.as_deref()?)?;
        // RFC 7515, 4.1.11, and RFC 8725, 3.10: what we do not write is not understood.
        if header != own_header(id) {
            return None;
        }
        let mut validation = Validation::new(Algorithm::HS256);
        validation.set_issuer(&[ISSUER]);
        validation.set_audience(&[AUDIENCE]);
        validation.set_required_spec_claims(&["exp", "iss", "aud", "sub"]);
        // The end is checked against our own clock, which tests can set.
        validation.validate_exp = false;
        let claims = decode::<Claims>(token, &key.decoding, &validation).ok()?.claims;
        // None of ours holds longer than it was made for.
        let is_young = claims.iat <= now_s + 60 && claims.exp == claims.iat + ACCESS_TOKEN_S;
        (claims.exp > now_s && is_young).then_some(claims)
    }
}

/// The header of every token of ours.
fn own_header(id: &str) -> Header {
    Header { kid: Some(id.to_owned()), ..Header::new(Algorithm::HS256) }
}

/// HMAC-SHA-256 (RFC 2104) of parts, of which none runs into the next; its first 128 bits. The first
/// part says what for, so that a mark made for one use is none for another.
fn mac(key: &[u8], parts: &[&str]) -> Option<String> {
    let mut mac = <Hmac<Sha256> as Mac>::new_from_slice(key).ok()?;
    for part in parts {
        mac.update(&u64::try_from(part.len()).ok()?.to_be_bytes());
        mac.update(part.as_bytes());
    }
    Some(mac.finalize().into_bytes().iter().take(16).map(|b| format!("{b:02x}")).collect())
}

/// A cipher whose key follows from one of the ring, and is used for nothing else.
fn cipher(key: &[u8]) -> Option<ChaCha20Poly1305> {
    let mut mac = <Hmac<Sha256> as Mac>::new_from_slice(key).ok()?;
    mac.update(b"seal");
    ChaCha20Poly1305::new_from_slice(&mac.finalize().into_bytes()).ok()
}

fn bytes_of(hex: &str) -> Option<Vec<u8>> {
    if !hex.is_ascii() || !hex.len().is_multiple_of(2) {
        return None;
    }
    let digits: Option<Vec<u32>> = hex.chars().map(|c| c.to_digit(16)).collect();
    let pairs = digits?;
    pairs.chunks(2).map(|p| u8::try_from(p.first()? * 16 + p.get(1)?).ok()).collect()
}

fn refuse_weak(id: &str, bytes: &[u8]) -> Result<(), String> {
    let mut different = bytes.to_vec();
    different.sort_unstable();
    different.dedup();
    if bytes.len() < KEY_BYTES_MIN || different.len() < 16 {
        return Err(format!(
            "key {id} is weak: give {KEY_BYTES_MIN} or more random bytes (openssl rand -hex 32)"
        ));
    }
    Ok(())
}

#[cfg(unix)]
fn refuse_open_file(path: &Path) -> Result<(), String> {
    use std::os::unix::fs::PermissionsExt as _;
    let mode = std::fs::metadata(path).map_err(|e| e.to_string())?.permissions().mode();
    if mode & 0o077 != 0 {
        let shown = path.display();
        return Err(format!("{shown} can be read by others: run chmod 600 {shown}"));
    }
    Ok(())
}

#[cfg(not(unix))]
fn refuse_open_file(_path: &Path) -> Result<(), String> {
    Ok(())
}

fn write_private(path: &Path, text: &str) -> std::io::Result<()> {
    use std::io::Write as _;
    let mut options = std::fs::OpenOptions::new();
    options.write(true).create_new(true);
    #[cfg(unix)]
    std::os::unix::fs::OpenOptionsExt::mode(&mut options, 0o600);
    let mut file = options.open(path)?;
    file.write_all(text.as_bytes())?;
    file.sync_all()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::SystemRandom;

    fn subject() -> Subject {
        let id = Uuid::from_u128(7);
        Subject { person: id, coop: 1, cooperative: id, family: id }
    }

    #[test]
    fn tokens_are_read_until_they_end_and_only_with_their_key() {
        let json = KeyRing::generate(&SystemRandom).expect("random");
        let ring = KeyRing::parse(&json).expect("ring");
        let (token, exp) = ring.sign(subject(), 1_000).expect("signed");
        assert_eq!(ring.verify(&token, exp - 1).map(|c| c.coop), Some(1));
        assert_eq!(ring.verify(&token, exp), None);
        let other = KeyRing::parse(&KeyRing::generate(&SystemRandom).expect("random"));
        assert_eq!(other.expect("ring").verify(&token, 1_001), None);
        // RFC 8725: a token without signature is no token.
        let parts: Vec<&str> = token.split('.').collect();
        let none = format!("eyJhbGciOiJub25lIn0.{}.", parts[1]);
        assert_eq!(ring.verify(&none, 1_001), None);
    }

    /// RFC 7515, 4.1.11: a header that is critical and not understood makes the token invalid.
    #[test]
    fn tokens_that_say_more_or_hold_longer_are_refused() {
        let json = KeyRing::generate(&SystemRandom).expect("random");
        let ring = KeyRing::parse(&json).expect("ring");
        let key = &ring.keys[&ring.active].encoding;
        let (token, _) = ring.sign(subject(), 1_000).expect("signed");
        let claims = ring.verify(&token, 1_001).expect("ours");
        let made = |header: &Header, claims: &Claims| encode(header, claims, key).expect("signed");
        let plain = own_header(&ring.active);
        assert_eq!(ring.verify(&made(&plain, &claims), 1_001), Some(claims.clone()));
        let more = |text: &str| -> Header {
            let mut header = serde_json::to_value(&plain).expect("header");
            let more: serde_json::Value = serde_json::from_str(text).expect("members");
            for (name, value) in more.as_object().expect("an object") {
                header[name] = value.clone();
            }
            serde_json::from_value(header).expect("header")
        };
        for header in [
            r#"{"crit":["exp"]}"#,
            r#"{"crit":["b64"],"b64":false}"#,
            r#"{"crit":["of-ours"],"of-ours":1}"#,
            r#"{"cty":"JWT"}"#,
            r#"{"jku":"https://keys.example"}"#,
        ] {
            assert_eq!(ring.verify(&made(&more(header), &claims), 1_001), None, "{header}");
        }
        for exp in [claims.exp + 1, 4_102_444_800, i64::MAX] {
            let far = Claims { exp, ..claims.clone() };
            assert_eq!(ring.verify(&made(&plain, &far), 1_001), None, "{exp}");
        }
    }

    #[test]
    fn what_is_sealed_opens_for_its_owner_alone() {
        let json = KeyRing::generate(&SystemRandom).expect("random");
        let ring = KeyRing::parse(&json).expect("ring");
        let sealed = ring.seal("a", b"secret", &SystemRandom).expect("sealed");
        assert_eq!(ring.unseal("a", &sealed).as_deref(), Some(&b"secret"[..]));
        assert_eq!(ring.unseal("b", &sealed), None);
        assert_eq!(ring.unseal("a", &sealed.replacen(['0', '1', '2'], "9", 1)), None);
        let other = KeyRing::parse(&KeyRing::generate(&SystemRandom).expect("random"));
        assert_eq!(other.expect("ring").unseal("a", &sealed), None);
    }

    #[test]
    fn weak_and_default_keys_are_refused() {
        for key in ["00".repeat(32), "ab".repeat(16), "0123".to_owned(), "zz".repeat(32)] {
            let json = format!(r#"{{"active":"a","keys":{{"a":"{key}"}}}}"#);
            assert!(KeyRing::parse(&json).is_err(), "{key}");
        }
        assert!(KeyRing::parse(r#"{"active":"b","keys":{}}"#).is_err());
    }
}
