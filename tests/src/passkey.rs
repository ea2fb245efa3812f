//! A passkey in software, written from the standard apart from the program: W3C Web Authentication
//! level 2, 5.8.1 (client data), 6.1 (authenticator data), 6.5.4 and 8.7 (attestation "none"), 7.2
//! (what is signed); RFC 9052 and 9053 (the public key in CBOR). READ.

use base64::Engine as _;
use base64::prelude::BASE64_URL_SAFE_NO_PAD as URL;
use ring::rand::SystemRandom;
use ring::signature::{ECDSA_P256_SHA256_ASN1_SIGNING, EcdsaKeyPair, KeyPair as _};
use serde_json::{Value as Json, json};
use sha2::{Digest as _, Sha256};

/// The person was there.
const PRESENT: u8 = 0x01;
/// The person was verified.
const VERIFIED: u8 = 0x04;
/// A new key comes along.
const NEW_KEY: u8 = 0x40;

/// A passkey; tests change what it says.
pub struct SoftKey {
    pair: EcdsaKeyPair,
    id: Vec<u8>,
    /// What it has counted.
    pub counter: u32,
    /// Whether the person was verified.
    pub verifies: bool,
    /// The address that the browser names.
    pub origin: String,
    /// The name that the key is bound to.
    pub host: String,
}

impl SoftKey {
    /// A new one for an address by https.
    pub fn new(host: &str) -> Self {
        let random = SystemRandom::new();
        let signing = &ECDSA_P256_SHA256_ASN1_SIGNING;
        let whole = EcdsaKeyPair::generate_pkcs8(signing, &random).expect("a key");
        let pair = EcdsaKeyPair::from_pkcs8(signing, whole.as_ref(), &random).expect("a key");
        let id = Sha256::digest(pair.public_key().as_ref()).to_vec();
        let origin = format!("https://{host}");
        Self { pair, id, counter: 0, verifies: true, origin, host: host.to_owned() }
    }

    /// Makes itself: what a browser answers to the options of a registration.
    pub fn make(&mut self, options: &Json) -> String {
        let client = self.client_data("webauthn.create", options);
        let mut data = self.authenticator_data(NEW_KEY);
        data.extend([0_u8; 16]);
        data.extend(u16::try_from(self.id.len()).expect("short").to_be_bytes());
        data.extend(&self.id);
        data.extend(self.public_key());
        let mut whole = b"\xa3\x63fmt\x64none\x67attStmt\xa0\x68authData\x59".to_vec();
        whole.extend(u16::try_from(data.len()).expect("short").to_be_bytes());
        whole.extend(data);
        let response =
            json!({ "attestationObject": URL.encode(whole), "clientDataJSON": URL.encode(client) });
        self.answer(response)
    }

    /// Counts and signs: what a browser answers to the options of an authentication.
    pub fn sign(&mut self, options: &Json) -> String {
        self.counter += 1;
        self.sign_uncounted(options)
    }

    /// The same of one that counts nothing.
    pub fn sign_uncounted(&self, options: &Json) -> String {
        let client = self.client_data("webauthn.get", options);
        let data = self.authenticator_data(0);
        let signed = [data.clone(), Sha256::digest(&client).to_vec()].concat();
        let signature = self.pair.sign(&SystemRandom::new(), &signed).expect("signed");
        let response = json!({ "authenticatorData": URL.encode(data),
            "clientDataJSON": URL.encode(client), "signature": URL.encode(signature) });
        self.answer(response)
    }

    fn answer(&self, response: Json) -> String {
        let id = URL.encode(&self.id);
        json!({ "id": id, "rawId": id, "type": "public-key", "response": response,
            "extensions": {} })
        .to_string()
    }

    fn client_data(&self, what: &str, options: &Json) -> Vec<u8> {
        let challenge = &options["publicKey"]["challenge"];
        json!({ "type": what, "challenge": challenge, "origin": self.origin, "crossOrigin": false })
            .to_string()
            .into_bytes()
    }

    fn authenticator_data(&self, more: u8) -> Vec<u8> {
        let verified = if self.verifies { VERIFIED } else { 0 };
        let mut data = Sha256::digest(&self.host).to_vec();
        data.push(PRESENT | verified | more);
        data.extend(self.counter.to_be_bytes());
        data
    }

    /// Kind EC2, ES256, P-256, and both coordinates.
    fn public_key(&self) -> Vec<u8> {
        let point = self.pair.public_key().as_ref();
        let mut key = b"\xa5\x01\x02\x03\x26\x20\x01\x21\x58\x20".to_vec();
        key.extend(&point[1..33]);
        key.extend(b"\x22\x58\x20");
        key.extend(&point[33..65]);
        key
    }
}

/// The form of a page that asks for a passkey, and the options in it.
pub fn asked(page: &str) -> (String, Json) {
    let at = page.find(" data-passkey=").unwrap_or_else(|| panic!("no passkey in {page}"));
    let from = page[..at].rfind("<form").expect("a form");
    let form = page[from..].split("</form>").next().expect("a form").to_owned() + "</form>";
    let options = form.split("data-options=\"").nth(1).and_then(|t| t.split('"').next());
    let options = options.expect("options").replace("&#34;", "\"");
    // The test's browser looks for the address first, and for how it is sent behind it.
    let head = form.find('>').expect("a form");
    let action = form.split("action=\"").nth(1).and_then(|t| t.split('"').next()).expect("action");
    let form = format!("<form action=\"{action}\" method=\"post\">{}", &form[head + 1..]);
    (form, serde_json::from_str(&options).expect("JSON"))
}
