//! Clock, randomness, keys, database and log of a running process.

use crate::args::Args;
use chrono::Utc;
use std::path::Path;
use std::sync::Arc;
use traybook_app::people::Hasher;
use traybook_app::people::KeyRing;
use traybook_app::people::Throttle;
use traybook_app::{App, AppError};
use traybook_app::{Random, SystemRandom};
use traybook_domain::time::Clock;
use traybook_domain::value::Instant;
use traybook_storage::{Store, StoreConfig};

/// The system's clock, in milliseconds.
pub struct SystemClock;

impl Clock for SystemClock {
    #[expect(clippy::disallowed_methods, reason = "the one place that reads the clock")]
    fn now(&self) -> Instant {
        Instant(Utc::now().timestamp_millis())
    }
}

/// Writes the log to standard error.
pub fn log(json: bool) {
    use tracing_subscriber::EnvFilter;
    let filter = EnvFilter::try_from_env("TRAYBOOK_LOG").unwrap_or_else(|_| EnvFilter::new("warn"));
    let base = tracing_subscriber::fmt().with_env_filter(filter).with_writer(std::io::stderr);
    if json {
        base.json().init();
    } else {
        base.init();
    }
}

/// The database's address: as given, or the embedded one in the data folder.
///
/// # Errors
/// When the folder can not be made.
pub fn database_url(args: &Args) -> Result<String, String> {
    if let Some(url) = &args.database_url {
        return Ok(url.clone());
    }
    folder(&args.data)?;
    Ok(format!("sqlite:{}", args.data.join("traybook.sqlite").display()))
}

/// Makes a folder that only its owner can enter.
///
/// # Errors
/// When it can not be made.
pub fn folder(path: &Path) -> Result<(), String> {
    if path.is_dir() {
        return Ok(());
    }
    let made = std::fs::create_dir_all(path);
    made.map_err(|e| format!("{}: {e}; name another folder with --data", path.display()))?;
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt as _;
        let only_owner = std::fs::Permissions::from_mode(0o700);
        drop(std::fs::set_permissions(path, only_owner));
    }
    Ok(())
}

/// Opens the database and makes the use cases ready.
///
/// # Errors
/// What is wrong, in plain words.
pub fn app(
    url: &str,
    keys: KeyRing,
    clock: Arc<dyn Clock>,
    random: Arc<dyn Random>,
) -> Result<App, String> {
    let config = StoreConfig { url: url.to_owned(), connections: 8 };
    let store = Store::open(&config).map_err(|e| e.to_string())?;
    let hasher = Hasher::new(&*random).map_err(say)?;
    Ok(App {
        store,
        clock,
        random,
        keys: Arc::new(keys),
        hasher: Arc::new(hasher),
        throttle: Arc::new(Throttle::default()),
        boards: Arc::default(),
        reports: Arc::default(),
    })
}

/// The use cases for a command of the machine itself.
///
/// # Errors
/// As [`app`].
pub fn open(args: &Args) -> Result<App, String> {
    app(&database_url(args)?, keys(args)?, Arc::new(SystemClock), Arc::new(SystemRandom))
}

/// The keys: from the environment, or from the file in the data folder, which is made at first.
///
/// # Errors
/// What is wrong with them; never a key.
pub fn keys(args: &Args) -> Result<KeyRing, String> {
    #[expect(clippy::disallowed_methods, reason = "environment is read on this floor only")]
    match std::env::var("TRAYBOOK_KEYS") {
        Ok(json) => KeyRing::parse(&json).map_err(|e| format!("TRAYBOOK_KEYS: {e}")),
        Err(_) => {
            folder(&args.data)?;
            KeyRing::load_or_make(&args.data.join("keys.json"), &SystemRandom)
        }
    }
}

/// An error of a use case in plain words.
pub fn say(error: AppError) -> String {
    match error {
        AppError::Invalid(errors) => {
            let lines = errors.iter().map(|e| format!("{}: {}", e.field(), e.detail));
            lines.collect::<Vec<_>>().join("\n")
        }
        AppError::Conflict { detail, .. } => detail,
        AppError::NotFound => {
            "there is no such co-operative here; make one with `traybook found`".to_owned()
        }
        AppError::Unavailable(text) => text,
        other => other.to_string(),
    }
}

/// Runs a use case.
///
/// # Errors
/// The use case's error in plain words.
pub fn wait<T>(work: impl Future<Output = Result<T, AppError>>) -> Result<T, String> {
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build();
    runtime.map_err(|e| e.to_string())?.block_on(work).map_err(say)
}
