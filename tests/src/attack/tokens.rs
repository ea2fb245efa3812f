//! Access tokens that were not made by the server: RFC 8725 (what goes wrong with JSON web tokens),
//! RFC 7515 and 7519 (their form). READ. Each is made from a right one, with the right key where it
//! helps the attacker.

use crate::{Client, World};
use base64::Engine as _;
use base64::prelude::BASE64_URL_SAFE_NO_PAD as URL;
use hmac::{Hmac, Mac as _};
use serde_json::{Value as Json, json};
use sha2::{Sha256, Sha384, Sha512};

/// Id of the key that signs.
const ID: &str = "one";
/// The key of the tests, hexadecimal.
const KEY: &str = "000102030405060708090a0b0c0d0e0f101112131415161718191a1b1c1d1e1f";

/// The ring for a world under attack.
pub fn ring() -> String {
    json!({ "active": ID, "keys": { ID: KEY } }).to_string()
}

fn bytes() -> Vec<u8> {
    (0..32).collect()
}

fn part(of: &Json) -> String {
    URL.encode(of.to_string())
}

/// HMAC-SHA-256 over both parts.
fn signed(header: &Json, claims: &Json, key: &[u8]) -> String {
    let whole = format!("{}.{}", part(header), part(claims));
    let mut mac = <Hmac<Sha256>>::new_from_slice(key).expect("a key");
    mac.update(whole.as_bytes());
    format!("{whole}.{}", URL.encode(mac.finalize().into_bytes()))
}

fn with(of: &Json, more: &Json) -> Json {
    let mut of = of.clone();
    for (name, value) in more.as_object().expect("an object") {
        of[name] = value.clone();
    }
    of
}

fn without(of: &Json, name: &str) -> Json {
    let mut of = of.clone();
    of.as_object_mut().expect("an object").remove(name);
    of
}

/// Sends every forged token; how many, and those that were taken.
pub fn run(w: &World) -> (usize, Vec<String>) {
    let login = json!({ "login": "manager.a@coop.example", "password": crate::world::PASSWORD });
    let right = w.nobody.post("/v1/session", &login).expect(201).json();
    let right = right["access_token"].as_str().expect("a token").to_owned();
    let read = |n: usize| -> Json {
        let part = right.split('.').nth(n).expect("a part");
        serde_json::from_slice(&URL.decode(part).expect("base64url")).expect("JSON")
    };
    let (header, claims) = (read(0), read(1));
    let ask = |token: &str| {
        let client: Client = w.nobody.with_token(token);
        client.get("/v1/session").status
    };
    // The forger's own signature is right where nothing else is wrong.
    assert_eq!((ask(&right), ask(&signed(&header, &claims, &bytes()))), (200, 200));
    let mut forged = of_header(&header, &claims);
    forged.extend(of_claims(w, &header, &claims));
    forged.extend(of_form(&right, &header, &claims));
    let taken = forged.iter().filter(|(_, token)| ask(token) != 401);
    (forged.len(), taken.map(|(what, token)| format!("{what}: {token}")).collect())
}

/// Another algorithm, another key, and keys that the token brings itself (RFC 8725, 2.1 to 2.10).
fn of_header(header: &Json, claims: &Json) -> Vec<(String, String)> {
    let mut all = Vec::new();
    for none in ["none", "None", "NONE", "nOnE", ""] {
        let said = with(header, &json!({ "alg": none }));
        let whole = format!("{}.{}", part(&said), part(claims));
        all.push((format!("algorithm {none}, unsigned"), format!("{whole}.")));
        all.push((format!("algorithm {none}, signed"), signed(&said, claims, &bytes())));
    }
    let whole =
        |alg: &str| format!("{}.{}", part(&with(header, &json!({ "alg": alg }))), part(claims));
    let (mut long, mut longer) = (
        <Hmac<Sha384>>::new_from_slice(&bytes()).expect("a key"),
        <Hmac<Sha512>>::new_from_slice(&bytes()).expect("a key"),
    );
    long.update(whole("HS384").as_bytes());
    longer.update(whole("HS512").as_bytes());
    let long = format!("{}.{}", whole("HS384"), URL.encode(long.finalize().into_bytes()));
    let longer = format!("{}.{}", whole("HS512"), URL.encode(longer.finalize().into_bytes()));
    all.extend([
        ("HS384 with the key".to_owned(), long),
        ("HS512 with the key".to_owned(), longer),
    ]);
    for alg in ["RS256", "ES256", "PS256", "EdDSA", "A256KW"] {
        let said = with(header, &json!({ "alg": alg }));
        all.push((format!("{alg} that is HS256"), signed(&said, claims, &bytes())));
    }
    for key in [vec![], vec![0; 32], b"secret".to_vec(), KEY.as_bytes().to_vec(), vec![7; 64]] {
        all.push((format!("a key of {} bytes", key.len()), signed(header, claims, &key)));
    }
    let own = json!({ "kty": "oct", "k": URL.encode(b"an attacker's own key of 32 bytes!!") });
    for more in [
        json!({ "kid": "two" }),
        json!({ "kid": "../../../../dev/null" }),
        json!({ "kid": "' UNION SELECT 'x' --" }),
        json!({ "kid": "" }),
        json!({ "kid": null }),
        json!({ "kid": 1 }),
        json!({ "jwk": own }),
        json!({ "jku": "https://elsewhere.example/keys" }),
        json!({ "x5u": "https://elsewhere.example/certificate" }),
        json!({ "x5c": ["AAAA"] }),
        json!({ "crit": ["exp"] }),
        json!({ "crit": ["b64"], "b64": false }),
        json!({ "typ": "at+jwt" }),
        json!({ "cty": "JWT" }),
        json!({ "zip": "DEF" }),
        json!({ "enc": "A256GCM" }),
    ] {
        let key = if more.get("jwk").is_some() {
            b"an attacker's own key of 32 bytes!!".to_vec()
        } else {
            bytes()
        };
        all.push((format!("header {more}"), signed(&with(header, &more), claims, &key)));
    }
    all.push(("no kid".to_owned(), signed(&without(header, "kid"), claims, &bytes())));
    all.push(("no alg".to_owned(), signed(&without(header, "alg"), claims, &bytes())));
    all
}

/// What it says: of somebody else, of another co-operative, too long, not any more.
fn of_claims(w: &World, header: &Json, claims: &Json) -> Vec<(String, String)> {
    let number = |name: &str| claims[name].as_i64().expect("a number");
    let (made, end) = (number("iat"), number("exp"));
    let other = json!({ "coop": w.b.coop.number, "cid": w.b.coop.id });
    let theirs = with(&other, &json!({ "sub": w.b.id("manager") }));
    let changed = [
        json!({ "exp": made }),
        json!({ "exp": end + 1 }),
        json!({ "exp": i64::MAX }),
        json!({ "exp": -1 }),
        json!({ "exp": end.to_string() }),
        json!({ "exp": null }),
        json!({ "iat": made - 86_400, "exp": end - 86_400 }),
        json!({ "iat": made + 86_400, "exp": end + 86_400 }),
        json!({ "iss": "elsewhere" }),
        json!({ "iss": ["traybook"] }),
        json!({ "aud": "another-api" }),
        json!({ "aud": [] }),
        json!({ "sub": w.a.id("operator") }),
        json!({ "sub": w.b.id("manager") }),
        json!({ "sub": uuid::Uuid::nil() }),
        json!({ "coop": w.b.coop.number }),
        json!({ "coop": 0 }),
        json!({ "coop": -1 }),
        json!({ "cid": w.b.coop.id }),
        json!({ "fam": w.b.id("manager") }),
        json!({ "fam": uuid::Uuid::nil() }),
        json!({ "role": "operator" }),
        other,
        theirs,
    ];
    let mut all: Vec<(String, String)> = changed
        .iter()
        .map(|more| (format!("claims {more}"), signed(header, &with(claims, more), &bytes())))
        .collect();
    for name in ["iss", "aud", "sub", "coop", "cid", "fam", "iat", "exp"] {
        all.push((format!("no {name}"), signed(header, &without(claims, name), &bytes())));
    }
    all
}

/// What is no token, or not quite this one.
fn of_form(right: &str, header: &Json, claims: &Json) -> Vec<(String, String)> {
    let parts: Vec<&str> = right.split('.').collect();
    let (head, body, mark) = (parts[0], parts[1], parts[2]);
    let flipped = if mark.starts_with('A') { "B" } else { "A" };
    let operator = part(&with(claims, &json!({ "role": "operator" })));
    [
        ("no signature", format!("{head}.{body}.")),
        ("two parts", format!("{head}.{body}")),
        ("four parts", format!("{right}.{mark}")),
        ("five parts", format!("{head}..{body}.{mark}.{mark}")),
        ("half a signature", format!("{head}.{body}.{}", &mark[..mark.len() / 2])),
        ("another signature", format!("{head}.{body}.{flipped}{}", &mark[1..])),
        ("padding", format!("{right}=")),
        ("another body", format!("{head}.{operator}.{mark}")),
        ("another header", format!("{}.{body}.{mark}", part(&with(header, &json!({ "a": 1 }))))),
        ("in hexadecimal", bytes().iter().map(|b| format!("{b:02x}")).collect()),
        ("dots", "..".to_owned()),
        ("a long one", format!("{head}.{}.{mark}", "A".repeat(6_000))),
    ]
    .map(|(what, token)| (what.to_owned(), token))
    .into()
}
