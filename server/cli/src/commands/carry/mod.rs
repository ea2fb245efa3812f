//! The bridge between the door of text messages and what sends them: a folder of gammu-smsd, or
//! the HTTP of kannel or an aggregator.
//!
//! What comes in lies in a folder until the server has taken it; only then it goes. What goes out is
//! leased, handed over once, and settled.

mod door;
mod far;
mod gammu;
mod menu;
mod url;

use crate::args::Args;
use crate::world;
use door::Door;
use far::Trust;
use menu::Menus;
use std::path::PathBuf;
use std::process::ExitCode;
use std::sync::Arc;
use std::time::Duration;
use traybook_app::SystemRandom;
use traybook_app::texts::Carriers;

/// Arguments of `carry`.
#[derive(clap::Args)]
pub struct Carry {
    /// Print a new secret for carriers.json, and nothing else.
    #[arg(long)]
    new_secret: bool,
    /// The server: https://NAME, or http://HOST:PORT on the same machine.
    #[arg(long, default_value = "http://127.0.0.1:8080")]
    server: String,
    /// Secret of the carrier, as in carriers.json.
    #[arg(long, env = "TRAYBOOK_CARRIER_SECRET", hide_env_values = true)]
    secret: Option<String>,
    /// Go round once and stop; for trying out.
    #[arg(long)]
    once: bool,
    /// What it carries to and from.
    #[command(flatten)]
    ends: Ends,
}

/// What texts come from and go to.
#[derive(clap::Args, Clone)]
pub struct Ends {
    /// Folder of gammu-smsd (service = files) with inbox, outbox, sent and error.
    #[arg(long, value_name = "FOLDER")]
    gammu: Option<PathBuf>,
    /// Address that takes texts from kannel or an aggregator: GET or POST with id, from, to, text.
    #[arg(long, value_name = "ADDRESS", requires = "spool")]
    receive: Option<String>,
    /// Folder in which received texts wait until the server has them.
    #[arg(long, value_name = "FOLDER")]
    spool: Option<PathBuf>,
    /// Address that sends a text; {to}, {text} and {id} stand for its parts.
    #[arg(long, value_name = "URL")]
    send_url: Option<String>,
    /// Menus over USSD.
    #[command(flatten)]
    menus: Menus,
    /// Whom to believe.
    #[command(flatten)]
    trust: Trust,
}

impl Ends {
    /// Whether there is any.
    #[must_use]
    pub const fn is_empty(&self) -> bool {
        self.gammu.is_none()
            && self.receive.is_none()
            && self.send_url.is_none()
            && self.menus.is_empty()
    }
}

/// Between two rounds.
const PAUSE: Duration = Duration::from_secs(1);

/// Carries texts until the process is told to stop.
pub fn run(args: &Args, carry: &Carry) -> Result<ExitCode, String> {
    if carry.new_secret {
        println!("{}", Carriers::new_secret(&SystemRandom)?);
        return Ok(ExitCode::SUCCESS);
    }
    let secret = match &carry.secret {
        Some(secret) => secret.clone(),
        None => only_secret(args)?,
    };
    if carry.ends.is_empty() {
        return Err("name an end: --gammu FOLDER, --receive and --send-url, or --menu".to_owned());
    }
    let door = Arc::new(Door::new(&carry.server, &secret, &carry.ends.trust)?);
    let carrying = Carrying::new(door, &carry.ends)?;
    if carry.once {
        carrying.round()?;
        return Ok(ExitCode::SUCCESS);
    }
    carrying.go_on()
}

/// The secret of the only carrier in the data folder.
fn only_secret(args: &Args) -> Result<String, String> {
    let path = args.data.join("carriers.json");
    let json = std::fs::read_to_string(&path).map_err(|e| {
        format!("{}: {e}; or give the secret by TRAYBOOK_CARRIER_SECRET", path.display())
    })?;
    Carriers::parse(&json).map_err(|e| format!("{}: {e}", path.display()))?;
    let all: serde_json::Value = serde_json::from_str(&json).map_err(|e| e.to_string())?;
    let secrets = all.as_array().map(Vec::as_slice).unwrap_or_default();
    match secrets.iter().filter_map(|c| c.get("secret")?.as_str()).collect::<Vec<_>>().as_slice() {
        [one] => Ok((*one).to_owned()),
        _ => {
            Err("there are several carriers: give the secret by TRAYBOOK_CARRIER_SECRET".to_owned())
        }
    }
}

/// Carries beside a server on the same machine.
pub fn beside(args: &Args, listen: &str, is_tls: bool, ends: &Ends) -> Result<(), String> {
    if ends.is_empty() {
        return Ok(());
    }
    let scheme = if is_tls { "https" } else { "http" };
    let trust = Trust { is_self: true, ..ends.trust.clone() };
    let door = Door::new(&format!("{scheme}://{listen}"), &only_secret(args)?, &trust)?;
    let carrying = Carrying::new(Arc::new(door), ends)?;
    let thread = std::thread::Builder::new().name("carry".to_owned()).spawn(move || {
        if let Err(error) = carrying.go_on() {
            tracing::error!(error, "texts are not carried");
        }
    });
    thread.map(drop).map_err(|e| e.to_string())
}

/// A door and the ends behind it.
struct Carrying {
    door: Arc<Door>,
    ends: Ends,
    /// What calls the address that sends.
    sender: Option<ureq::Agent>,
}

/// Longest wait for the address that sends.
const SEND_TIMEOUT: Duration = Duration::from_secs(20);

impl Carrying {
    fn new(door: Arc<Door>, ends: &Ends) -> Result<Self, String> {
        let agent = |url: &String| ends.trust.agent(&[url.as_str()], SEND_TIMEOUT);
        let sender = ends.send_url.as_ref().map(agent).transpose()?;
        Ok(Self { door, ends: ends.clone(), sender })
    }

    /// Goes round and round. What fails is said once, and tried again.
    fn go_on(&self) -> Result<ExitCode, String> {
        if let (Some(address), Some(spool)) = (&self.ends.receive, &self.ends.spool) {
            url::receive(address, spool)?;
        }
        self.ends.menus.serve(&self.door)?;
        let mut last = String::new();
        loop {
            match self.round() {
                Ok(()) => last.clear(),
                Err(error) => {
                    if error != last {
                        tracing::warn!(error, "texts could not be carried; trying again");
                    }
                    last = error;
                }
            }
            std::thread::sleep(PAUSE);
        }
    }

    /// One round: what came in, what goes out, what became of it.
    fn round(&self) -> Result<(), String> {
        let (door, ends) = (&self.door, &self.ends);
        if let Some(folder) = &ends.gammu {
            gammu::round(door, folder)?;
        }
        if let Some(spool) = &ends.spool {
            url::forward(door, spool)?;
        }
        if let (Some(template), Some(sender)) = (&ends.send_url, &self.sender) {
            url::send(door, sender, template)?;
        }
        Ok(())
    }
}

/// What went wrong with a file.
fn with(path: &std::path::Path) -> impl Fn(std::io::Error) -> String + '_ {
    move |error| format!("{}: {error}", path.display())
}

/// Now, seconds since 1970.
fn now_s() -> i64 {
    use traybook_domain::time::Clock as _;
    world::SystemClock.now().0 / 1_000
}
