//! Clock, randomness, keys, database and log of a running process.

use crate::args::{Args, Serve};
use crate::progress::Watch;
use chrono::Utc;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use traybook_app::people::Hasher;
use traybook_app::people::KeyRing;
use traybook_app::texts::Carriers;
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

/// What is logged where nothing is said: what a server answered, one line a request, and warnings of
/// everything.
const LOG: &str = "warn,traybook_http=info";

/// Writes the log to standard error.
pub fn log(json: bool) {
    use tracing_subscriber::EnvFilter;
    let filter = EnvFilter::try_from_env("TRAYBOOK_LOG").unwrap_or_else(|_| EnvFilter::new(LOG));
    let base = tracing_subscriber::fmt().with_env_filter(filter).with_writer(std::io::stderr);
    if json {
        base.json().init();
    } else {
        base.init();
    }
}

/// The embedded database of the data folder.
fn embedded(args: &Args) -> PathBuf {
    args.data.join("traybook.sqlite")
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
    Ok(format!("sqlite:{}", embedded(args).display()))
}

/// The address of a database that is there: as given, else the embedded one, else the only demo.
///
/// # Errors
/// When none is there, or several demos are.
fn present_url(args: &Args) -> Result<String, String> {
    const MAKE: &str = "make one with `traybook found` or `traybook demo`";
    if let Some(url) = &args.database_url {
        let file = url.strip_prefix("sqlite:").map(Path::new);
        return match file.filter(|file| !file.is_file()) {
            Some(file) => Err(format!(
                "there is no database {}: name another with --database-url, or {MAKE}",
                file.display()
            )),
            None => Ok(url.clone()),
        };
    }
    if embedded(args).is_file() {
        return Ok(format!("sqlite:{}", embedded(args).display()));
    }
    let demos = demos(&args.data);
    match demos.as_slice() {
        [demo] => Ok(format!("sqlite:{}", demo.display())),
        [] => Err(format!(
            "there is no database in {}: name its folder with --data, or {MAKE}",
            args.data.display()
        )),
        several => {
            let name = |demo: &PathBuf| format!("  --database-url sqlite:{}", demo.display());
            let names: Vec<String> = several.iter().map(name).collect();
            Err(format!("there are several demos: add one of\n{}", names.join("\n")))
        }
    }
}

/// The databases of demos that were made to the end: each has its note beside it.
fn demos(folder: &Path) -> Vec<PathBuf> {
    let files = std::fs::read_dir(folder).into_iter().flatten().flatten().map(|e| e.path());
    let is_demo = |path: &PathBuf| {
        let name = path.file_stem().and_then(|name| name.to_str()).unwrap_or_default();
        let is_database = path.extension().is_some_and(|end| end == "sqlite");
        is_database && name.starts_with("demo-") && path.with_extension("json").is_file()
    };
    let mut demos: Vec<PathBuf> = files.filter(is_demo).collect();
    demos.sort();
    demos
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
pub fn app(
    url: &str,
    keys: KeyRing,
    carriers: Carriers,
    clock: Arc<dyn Clock>,
    random: Arc<dyn Random>,
) -> Result<App, String> {
    let config = StoreConfig::new(url, usize::from(CONNECTIONS));
    app_on(&config, (keys, carriers), clock, random)
}

/// Connections to the database, where nothing is said.
pub const CONNECTIONS: u16 = 8;

fn app_on(
    config: &StoreConfig,
    (keys, carriers): (KeyRing, Carriers),
    clock: Arc<dyn Clock>,
    random: Arc<dyn Random>,
) -> Result<App, String> {
    // Commands may wait long; who serves gives requests a prompt one.
    let store = Store::open(config).map_err(|e| e.to_string())?.patient();
    let hasher = Hasher::new(&*random).map_err(say)?;
    Ok(App {
        store,
        clock,
        random,
        keys: Arc::new(keys),
        hasher: Arc::new(hasher),
        boards: Arc::default(),
        reports: Arc::default(),
        keeping: Arc::default(),
        carriers: Arc::new(carriers),
    })
}

/// The use cases on a database that is there, for a command that makes none.
///
/// # Errors
/// As [`app`], and where there is no database.
pub fn open_present(args: &Args) -> Result<App, String> {
    let url = present_url(args)?;
    app(&url, keys(args)?, carriers(args)?, Arc::new(SystemClock), Arc::new(SystemRandom))
}

/// The use cases for a command that may begin a database.
pub fn open(args: &Args) -> Result<App, String> {
    app(
        &database_url(args)?,
        keys(args)?,
        carriers(args)?,
        Arc::new(SystemClock),
        Arc::new(SystemRandom),
    )
}

/// The use cases for a server, as its arguments say it.
pub fn open_to_serve(args: &Args, url: &str, keys: KeyRing, serve: &Serve) -> Result<App, String> {
    let config = StoreConfig {
        migrates: !serve.no_migrate,
        only_reads: serve.read_only,
        ..StoreConfig::new(url, usize::from(serve.connections))
    };
    let secrets = (keys, carriers(args)?);
    app_on(&config, secrets, Arc::new(SystemClock), Arc::new(SystemRandom))
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

/// Carriers of text messages: from the environment, or from the file in the data folder; none where
/// there is neither.
///
/// # Errors
/// What is wrong with them; never a secret.
pub fn carriers(args: &Args) -> Result<Carriers, String> {
    #[expect(clippy::disallowed_methods, reason = "environment is read on this floor only")]
    if let Ok(json) = std::env::var("TRAYBOOK_CARRIERS") {
        return Carriers::parse(&json).map_err(|e| format!("TRAYBOOK_CARRIERS: {e}"));
    }
    let path = args.data.join("carriers.json");
    match std::fs::read_to_string(&path) {
        Ok(json) => Carriers::parse(&json).map_err(|e| format!("{}: {e}", path.display())),
        Err(e) if e.kind() == std::io::ErrorKind::NotFound => Ok(Carriers::default()),
        Err(e) => Err(format!("{}: {e}", path.display())),
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

/// Runs a use case, and says on standard error that it goes on, where it takes long.
///
/// # Errors
/// The use case's error in plain words.
pub fn wait<T>(work: impl Future<Output = Result<T, AppError>>) -> Result<T, String> {
    wait_saying(work, |seconds| format!("still at work after {seconds} s"))
}

/// Runs a use case; `says` is how far it is after so many seconds.
///
/// # Errors
/// The use case's error in plain words.
pub fn wait_saying<T>(
    work: impl Future<Output = Result<T, AppError>>,
    says: impl Fn(u64) -> String + Send + 'static,
) -> Result<T, String> {
    let _watch = Watch::begin(says);
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build();
    runtime.map_err(|e| e.to_string())?.block_on(work).map_err(say)
}
