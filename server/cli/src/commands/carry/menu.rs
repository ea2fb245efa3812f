//! Menus over USSD from an aggregator's HTTP: it calls with session, number and what was typed, and
//! shows what is answered.
//!
//! Aggregators differ in three things, and each is an option: how they name the three fields, whether
//! they send all inputs joined by stars or the last one only, and whether they want `CON …` and
//! `END …` or JSON. A call must carry the key that the aggregator was given.

use super::door::Door;
use super::url::{Refused, pairs};
use actix_web::{App, HttpRequest, HttpResponse, HttpServer, web};
use serde_json::json;
use sha2::{Digest as _, Sha256};
use std::net::TcpListener;
use std::sync::Arc;
use traybook_speech::Language;

/// Largest call, bytes.
const CALL_BYTES_MAX: usize = 8 * 1024;
/// Fewest characters of a key.
const KEY_CHARS_MIN: usize = 20;
/// Threads that wait for the server.
const WORKERS: usize = 2;

/// A place where menus are called.
#[derive(clap::Args, Clone)]
pub struct Menus {
    /// Address that takes steps of menus over USSD from an aggregator: GET or POST.
    #[arg(long, value_name = "ADDRESS", requires = "menu_key")]
    menu: Option<String>,
    /// Key that each call must carry as `key`, or in the header `x-menu-key`: at least 20 characters.
    #[arg(long, env = "TRAYBOOK_MENU_KEY", hide_env_values = true)]
    menu_key: Option<String>,
    /// How the aggregator names session, number and what was typed.
    #[arg(long, value_name = "NAMES", default_value = "session,from,input")]
    menu_names: String,
    /// What was typed is all since the session began, joined by stars; else it is the last alone.
    #[arg(long)]
    menu_joined: bool,
    /// Answer in JSON with text and ends; else with a text that begins with CON or END.
    #[arg(long)]
    menu_json: bool,
}

/// What is needed of a call.
struct Way {
    key: [u8; 32],
    names: [String; 3],
    is_joined: bool,
    is_json: bool,
    door: Arc<Door>,
}

impl Menus {
    /// Whether menus are called here.
    pub const fn is_empty(&self) -> bool {
        self.menu.is_none()
    }

    /// Takes calls on a thread of its own.
    pub fn serve(&self, door: &Arc<Door>) -> Result<(), String> {
        let (Some(address), Some(key)) = (&self.menu, &self.menu_key) else { return Ok(()) };
        if key.chars().count() < KEY_CHARS_MIN {
            return Err(format!("--menu-key: give at least {KEY_CHARS_MIN} characters"));
        }
        let names: Vec<String> = self.menu_names.split(',').map(|n| n.trim().to_owned()).collect();
        let names: [String; 3] = names
            .try_into()
            .ok()
            .filter(|names: &[String; 3]| names.iter().all(|n| !n.is_empty()))
            .ok_or("--menu-names: give three names, like session,from,input")?;
        let way = web::Data::new(Way {
            key: digest(key),
            names,
            is_joined: self.menu_joined,
            is_json: self.menu_json,
            door: Arc::clone(door),
        });
        let listener = TcpListener::bind(address).map_err(|e| format!("{address}: {e}"))?;
        let thread = std::thread::Builder::new().name("menus".to_owned()).spawn(move || {
            actix_web::rt::System::new().block_on(async move {
                if let Err(error) = listen(listener, way).await {
                    tracing::error!(%error, "menus are not taken");
                }
            });
        });
        thread.map(drop).map_err(|e| e.to_string())
    }
}

fn digest(key: &str) -> [u8; 32] {
    Sha256::digest(key.as_bytes()).into()
}

async fn listen(listener: TcpListener, way: web::Data<Way>) -> std::io::Result<()> {
    let server = HttpServer::new(move || {
        App::new()
            .app_data(web::PayloadConfig::new(CALL_BYTES_MAX))
            .app_data(way.clone())
            .default_service(web::to(answer))
    });
    server.workers(WORKERS).disable_signals().listen(listener)?.run().await
}

async fn answer(way: web::Data<Way>, http: HttpRequest, body: web::Bytes) -> HttpResponse {
    let header = http.headers().get("x-menu-key").and_then(|h| h.to_str().ok());
    let step = match way.step(header, http.query_string(), &body) {
        Ok(step) => step,
        Err(Refused::Key) => return HttpResponse::Unauthorized().finish(),
        Err(Refused::Wrong(why) | Refused::Disk(why)) => {
            return HttpResponse::BadRequest().body(why);
        }
    };
    let (door, is_json) = (Arc::clone(&way.door), way.is_json);
    let said = web::block(move || door.menu(&step)).await;
    let (text, ends) = match said.map_err(|e| e.to_string()).and_then(|said| said) {
        Ok(said) => said,
        Err(error) => {
            tracing::warn!(error, "a step of a menu was not taken");
            (Language::default().text("t-menu-away"), true)
        }
    };
    shown(&text, ends, is_json)
}

fn shown(text: &str, ends: bool, is_json: bool) -> HttpResponse {
    if is_json {
        return HttpResponse::Ok().json(json!({ "text": text, "ends": ends }));
    }
    let word = if ends { "END" } else { "CON" };
    HttpResponse::Ok().content_type("text/plain; charset=utf-8").body(format!("{word} {text}"))
}

impl Way {
    /// The step of a call, as the server takes it.
    fn step(
        &self,
        header: Option<&str>,
        query: &str,
        body: &[u8],
    ) -> Result<serde_json::Value, Refused> {
        let pairs = pairs(query, body)?;
        let of = |name: &str| pairs.iter().find(|(n, _)| n == name).map(|(_, v)| v.as_str());
        let key = header.or_else(|| of("key")).unwrap_or_default();
        // Of equal length whatever was given, and no hint of how much of it is right.
        if digest(key) != self.key {
            return Err(Refused::Key);
        }
        let [session, from, input] = &self.names;
        let need = |name: &str| {
            of(name)
                .filter(|v| !v.is_empty())
                .ok_or_else(|| Refused::Wrong(format!("{name} is missing")))
        };
        // A number in a query may have lost its plus to a space.
        let number = need(from)?;
        let number = number.strip_prefix(' ').map_or(number.to_owned(), |rest| format!("+{rest}"));
        Ok(json!({
            "session": need(session)?, "from": number, "input": of(input).unwrap_or_default(),
            "is_joined": self.is_joined,
        }))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_call_is_read_by_the_names_of_the_aggregator() {
        let door = super::super::door::tests::door();
        let way = Way {
            key: digest("a key of twenty letters"),
            names: ["sid", "who", "typed"].map(str::to_owned),
            is_joined: true,
            is_json: false,
            door: Arc::new(door),
        };
        let query = "key=a%20key%20of%20twenty%20letters";
        let step = way.step(None, query, b"sid=7&who=+255700000101&typed=1*12.5").ok();
        let step = step.expect("a step");
        assert_eq!((&step["from"], &step["input"]), (&json!("+255700000101"), &json!("1*12.5")));
        assert_eq!((&step["session"], &step["is_joined"]), (&json!("7"), &json!(true)));
        let key = Some("a key of twenty letters");
        assert!(way.step(key, "", b"sid=7&who=1").is_ok(), "nothing is typed at first");
        assert!(matches!(way.step(key, "", b"who=1"), Err(Refused::Wrong(_))));
        for key in [None, Some(""), Some("another key of twenty")] {
            assert!(matches!(way.step(key, "", b"sid=7&who=1"), Err(Refused::Key)));
        }
    }
}
