//! The server's door: requests signed by the carrier's secret.

use super::far::Trust;
use super::now_s;
use serde_json::{Value as Json, json};
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::Duration;
use traybook_app::texts::sign;

/// The door of a server.
pub struct Door {
    server: String,
    secret: String,
    agent: ureq::Agent,
    next: AtomicU64,
}

/// A text to be sent.
pub struct Out {
    pub id: String,
    pub to: String,
    pub text: String,
}

/// What became of a text that was handed over.
pub enum Taken {
    Yes,
    /// It is none that can be taken: why.
    Never(String),
}

impl Door {
    /// The door of a server under this address.
    pub fn new(server: &str, secret: &str, trust: &Trust) -> Result<Self, String> {
        sign(secret, "try", 0, b"").ok_or("the carrier's secret must be whsec_ and base64")?;
        let agent = trust.agent(&[server], Duration::from_secs(30))?;
        if server.starts_with("http://") && !is_near(server) {
            tracing::warn!(
                "numbers and texts go to the server as everybody can read them: \
                            give it as https://"
            );
        }
        let server = server.trim_end_matches('/').to_owned();
        Ok(Self { server, secret: secret.to_owned(), agent, next: AtomicU64::new(0) })
    }

    fn post(&self, path: &str, body: &Json) -> Result<(u16, Json), String> {
        let body = body.to_string().into_bytes();
        let at = now_s();
        let id = format!("carry_{at}_{}", self.next.fetch_add(1, Ordering::Relaxed));
        let signature = sign(&self.secret, &id, at, &body).unwrap_or_default();
        let answer = self
            .agent
            .post(format!("{}{path}", self.server))
            .header("content-type", "application/json")
            .header("webhook-id", &id)
            .header("webhook-timestamp", at.to_string())
            .header("webhook-signature", signature)
            .send(&body[..]);
        let mut answer = answer.map_err(|e| format!("{}: {e}", self.server))?;
        let status = answer.status().as_u16();
        let text = answer.body_mut().read_to_string().map_err(|e| e.to_string())?;
        Ok((status, serde_json::from_str(&text).unwrap_or(Json::Null)))
    }

    fn asked(&self, path: &str, body: &Json) -> Result<Json, String> {
        match self.post(path, body)? {
            (200, json) => Ok(json),
            (401, _) => {
                Err("the server does not know this carrier's secret, or the clocks differ by \
                             more than five minutes"
                    .to_owned())
            }
            (status, _) => Err(format!("{path} answered {status}")),
        }
    }

    /// Hands a text over.
    pub fn take(&self, text: &Json) -> Result<Taken, String> {
        match self.post("/v1/texts/in", text)? {
            (200, _) => Ok(Taken::Yes),
            (status @ (400 | 413 | 422), json) => {
                let why = json.get("detail").and_then(Json::as_str).unwrap_or_default();
                Ok(Taken::Never(format!("{status} {why}")))
            }
            (401, _) => {
                Err("the server does not know this carrier's secret, or the clocks differ by \
                             more than five minutes"
                    .to_owned())
            }
            (status, _) => Err(format!("the server answered {status}")),
        }
    }

    /// Hands over a step of a menu: what is shown, and whether it is over.
    pub fn menu(&self, step: &Json) -> Result<(String, bool), String> {
        let json = self.asked("/v1/texts/menu", step)?;
        let text = json.get("text").and_then(Json::as_str).ok_or("the server said nothing")?;
        Ok((text.to_owned(), json.get("ends") != Some(&Json::Bool(false))))
    }

    /// Fetches texts to be sent.
    pub fn lease(&self, most: usize) -> Result<Vec<Out>, String> {
        let json = self.asked("/v1/texts/lease", &json!({ "most": most }))?;
        let out = |item: &Json| {
            let text = |name: &str| item.get(name)?.as_str().map(str::to_owned);
            Some(Out { id: text("id")?, to: text("to")?, text: text("text")? })
        };
        let items = json.get("items").and_then(Json::as_array);
        Ok(items.map(|all| all.iter().filter_map(out).collect()).unwrap_or_default())
    }

    /// Says what became of them: `sent`, `failed` or `refused`.
    pub fn settle(&self, items: &[(String, &str)]) -> Result<(), String> {
        if items.is_empty() {
            return Ok(());
        }
        let items: Vec<Json> =
            items.iter().map(|(id, state)| json!({ "id": id, "state": state })).collect();
        self.asked("/v1/texts/settle", &json!({ "items": items })).map(drop)
    }
}

/// Whether an address is on this machine.
fn is_near(address: &str) -> bool {
    let host = address.trim_start_matches("http://");
    ["127.", "localhost", "[::1]"].iter().any(|near| host.starts_with(near))
}

#[cfg(test)]
pub mod tests {
    use super::*;
    use clap::Parser;

    #[derive(Parser)]
    struct Given {
        #[command(flatten)]
        trust: Trust,
    }

    const SECRET: &str = "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw";

    /// A door that nothing stands behind.
    pub fn door() -> Door {
        let trust = Given::parse_from(["carry"]).trust;
        Door::new("http://127.0.0.1:9", SECRET, &trust).expect("a door")
    }

    #[test]
    fn addresses_say_whether_they_are_near_and_authorities_must_be_there() {
        assert!(is_near("http://127.0.0.1:8080") && is_near("http://localhost"));
        assert!(!is_near("http://farm.example"));
        let trust = Given::parse_from(["carry", "--authorities", "/nowhere.pem"]).trust;
        let why = |server: &str| Door::new(server, SECRET, &trust).err().unwrap_or_default();
        assert!(why("https://farm.example").contains("--authorities /nowhere.pem"));
        assert!(why("ftp://farm.example").contains("https://"));
        assert_eq!(why("http://127.0.0.1:9"), "", "no authorities are needed");
    }
}
