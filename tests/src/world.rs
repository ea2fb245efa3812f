//! A server on a fresh database with two co-operatives.

use crate::bound;
use crate::client::Client;
use crate::samples;
use actix_web::{App as Actix, HttpServer};
use serde_json::{Map, Value as Json, json};
use std::collections::HashMap;
use std::future::Future;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicU64, Ordering};
use traybook_app::people::Hasher;
use traybook_app::people::KeyRing;
use traybook_app::texts::Carriers;
use traybook_app::{Actor, App, AppError, Coop};
use traybook_app::{Random, SystemRandom};
use traybook_domain::Kind;
use traybook_domain::time::parse_instant;
use traybook_http::{Settings, State, configure};
use traybook_seed_demo::ManualClock;
use traybook_storage::{Conn, Store, StoreConfig, people::accounts};
use uuid::Uuid;

/// The instant at which every test begins: noon of 20 March 2026 in Dar es Salaam.
pub const NOW: &str = "2026-03-20T09:00:00.000Z";
/// Password of everybody in the tests.
pub const PASSWORD: &str = "maize lantern bicycle";

/// What is kept of it, made by the reference implementation of Argon2 (`argon2 SALT -id -t 1 -k 64 -p
/// 1 -e`). It asks for little memory: ours would take half of the time of most tests.
const PASSWORD_HASH: &str = "$argon2id$v=19$m=64,t=1,p=1$bGFudGVybiBvZiBhIGZpZWxk$/idbY281eWExgmdujIamxEHvNqPYHBstZa61aP6CgEs";

/// A variable of the environment.
#[expect(clippy::disallowed_methods, reason = "tests are told where PostgreSQL is")]
pub fn env(name: &str) -> Option<String> {
    std::env::var(name).ok()
}

/// A fresh database.
pub struct Db {
    /// Its address.
    pub url: String,
    folder: Option<PathBuf>,
}

static COUNTER: AtomicU64 = AtomicU64::new(0);

fn unique() -> String {
    let mut random = [0_u8; 6];
    SystemRandom.fill(&mut random).expect("randomness");
    let hex: String = random.iter().map(|b| format!("{b:02x}")).collect();
    format!("t{}_{}_{hex}", std::process::id(), COUNTER.fetch_add(1, Ordering::Relaxed))
}

/// A new folder for a test.
pub fn folder() -> PathBuf {
    let folder = std::env::temp_dir().join(format!("traybook-{}", unique()));
    std::fs::create_dir_all(&folder).expect("folder");
    folder
}

impl Db {
    /// A SQLite file.
    pub fn sqlite() -> Self {
        let folder = folder();
        let url = format!("sqlite:{}", folder.join("test.sqlite").display());
        Self { url, folder: Some(folder) }
    }

    /// A database that is there already; it is left as it is.
    pub fn at(url: &str) -> Self {
        Self { url: url.to_owned(), folder: None }
    }

    /// A schema of its own on the private PostgreSQL server.
    pub fn postgres() -> Self {
        let base = env("TEST_POSTGRES_URL")
            .expect("TEST_POSTGRES_URL is not set: run tests/run, which starts PostgreSQL");
        let schema = unique();
        let mut conn = traybook_storage::settings::open_postgres(&base).expect("PostgreSQL");
        conn.exec(&format!("CREATE SCHEMA {schema}"), &[]).expect("schema");
        let mark = if base.contains('?') { '&' } else { '?' };
        Self { url: format!("{base}{mark}options=-csearch_path%3D{schema}"), folder: None }
    }

    /// A database of its own on the private PostgreSQL server, so that all its connections can be
    /// cut; it is dropped afterwards with [`Db::forget`].
    pub fn postgres_alone() -> (Self, String) {
        let base = env("TEST_POSTGRES_URL").expect("TEST_POSTGRES_URL is not set: run tests/run");
        let name = unique();
        // Making and dropping one copies and waits for more than a statement of the server may.
        let mut conn = traybook_storage::settings::open_postgres(&base).expect("PostgreSQL");
        conn.exec("SET statement_timeout = 0", &[]).expect("patience");
        conn.exec(&format!("CREATE DATABASE {name}"), &[]).expect("a database");
        let (server, _) = base.rsplit_once('/').expect("an address with a database");
        (Self::at(&format!("{server}/{name}")), name)
    }

    /// Drops a database of its own.
    pub fn forget(name: &str) {
        let base = env("TEST_POSTGRES_URL").expect("TEST_POSTGRES_URL is not set");
        let mut conn = traybook_storage::settings::open_postgres(&base).expect("PostgreSQL");
        conn.exec("SET statement_timeout = 0", &[]).expect("patience");
        conn.exec(&format!("DROP DATABASE {name} WITH (FORCE)"), &[]).expect("dropped");
    }

    /// A connection past the store.
    pub fn connect(&self) -> Conn {
        match self.url.strip_prefix("sqlite:") {
            Some(path) => traybook_storage::settings::open_sqlite(path).expect("SQLite"),
            None => traybook_storage::settings::open_postgres(&self.url).expect("PostgreSQL"),
        }
    }

    /// Where nothing is there yet, begins with a copy of a file in which every migration has run: they
    /// take longer than many a test. The file stands beside the program and is made once a build.
    fn begin_migrated(&self) {
        let Some(path) = self.url.strip_prefix("sqlite:") else { return };
        if self.folder.is_none() || Path::new(path).exists() {
            return;
        }
        let program = std::env::current_exe().expect("the program");
        let migrated = program.with_extension("migrated.sqlite");
        let changed = |path: &Path| std::fs::metadata(path).and_then(|of| of.modified()).ok();
        if changed(&migrated) < changed(&program) {
            let own = Self::sqlite();
            drop(app_on(&own));
            let made = own.url.strip_prefix("sqlite:").expect("a file");
            // Another test may copy it now: it is put there whole.
            let whole = migrated.with_extension(unique());
            std::fs::copy(made, &whole).expect("room");
            std::fs::rename(whole, &migrated).expect("a file that all tests copy");
        }
        std::fs::copy(migrated, path).expect("a copy");
    }

    /// Whether this is SQLite.
    pub fn is_sqlite(&self) -> bool {
        self.url.starts_with("sqlite:")
    }
}

impl Drop for Db {
    fn drop(&mut self) {
        if let Some(folder) = &self.folder {
            drop(std::fs::remove_dir_all(folder));
        }
    }
}

/// A co-operative of the tests with its people and one record of most kinds.
#[derive(Clone)]
pub struct Fixture {
    /// The co-operative.
    pub coop: Coop,
    /// Ids by name: `area`, `other_area`, `member`, `farm`, `other_farm`, `cows`, `hens`, …
    pub ids: HashMap<&'static str, Uuid>,
}

impl Fixture {
    /// An id by name.
    #[track_caller]
    pub fn id(&self, name: &str) -> Uuid {
        *self.ids.get(name).unwrap_or_else(|| panic!("no fixture {name}"))
    }
}

/// A server under test.
pub struct World {
    /// The use cases behind it.
    pub app: App,
    /// Its clock.
    pub clock: Arc<ManualClock>,
    /// The co-operative of most tests.
    pub a: Fixture,
    /// Another one.
    pub b: Fixture,
    /// Nobody signed in.
    pub nobody: Client,
    /// Where it listens.
    pub address: std::net::SocketAddr,
    /// Its database.
    pub db: Db,
    runtime: tokio::runtime::Runtime,
    stops: Vec<actix_web::dev::ServerHandle>,
}

/// The use cases on a database, with a clock that tests set.
pub fn app_on(db: &Db) -> (App, Arc<ManualClock>) {
    app_on_url(&db.url)
}

fn config(url: &str) -> StoreConfig {
    StoreConfig::new(url, 4)
}

/// The same on the database at an address.
pub fn app_on_url(url: &str) -> (App, Arc<ManualClock>) {
    let clock = Arc::new(ManualClock::new(parse_instant(NOW).expect("instant")));
    let ring = KeyRing::generate(&SystemRandom).expect("randomness");
    let app = App {
        store: Store::open(&config(url)).expect("store"),
        clock: Arc::<ManualClock>::clone(&clock),
        random: Arc::new(SystemRandom),
        keys: Arc::new(KeyRing::parse(&ring).expect("keys")),
        hasher: Arc::new(Hasher::new(&SystemRandom).expect("hasher")),
        boards: Arc::default(),
        reports: Arc::default(),
        keeping: Arc::default(),
        carriers: Arc::default(),
    };
    (app, clock)
}

/// Secret of the carriers of text messages.
pub const TEXT_SECRET: &str = "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw";
/// Secret of the one that serves both co-operatives.
pub const SHARED_SECRET: &str = "whsec_AAECAwQFBgcICQoLDA0ODxAREhMUFRYXGBkaGxwdHh8=";

/// One carrier of the first co-operative, one of both.
fn carriers(a: &Fixture, b: &Fixture) -> Carriers {
    let (a, b) = (json!({ "id": a.coop.id }), json!({ "id": b.coop.id }));
    let carrier = |name: &str, secret: &str, serves: Json| {
        json!({ "name": name, "secret": secret, "cooperatives": serves, "calling_code": "255",
                "trunk": "0" })
    };
    let all = json!([
        carrier("office", TEXT_SECRET, json!([a])),
        carrier("shared", SHARED_SECRET, json!([a, b])),
    ]);
    Carriers::parse(&all.to_string()).expect("carriers")
}

/// The same on a database, with a memory of its own.
fn another(app: &App, config: &StoreConfig) -> App {
    App {
        store: Store::open(config).expect("store"),
        boards: Arc::default(),
        reports: Arc::default(),
        ..app.clone()
    }
}

/// Members of a JSON object.
pub fn object(value: Json) -> Map<String, Json> {
    match value {
        Json::Object(map) => map,
        other => panic!("no object: {other}"),
    }
}

impl World {
    /// Starts a server that knows its address.
    pub fn start(db: Db) -> Self {
        let public_address = Some("https://records.example".to_owned());
        Self::start_with(db, Settings { public_address, ..Settings::default() })
    }

    /// Starts a server with settings.
    pub fn start_with(db: Db, settings: Settings) -> Self {
        db.begin_migrated();
        let (app, clock) = app_on(&db);
        let runtime = tokio::runtime::Builder::new_multi_thread()
            .worker_threads(2)
            .enable_all()
            .build()
            .expect("runtime");
        if !db.is_sqlite() && env("TEST_SPREAD").is_some() {
            // See tests/elsewhere/spread.
            runtime.block_on(app.spread_tables()).expect("a PostgreSQL that spreads tables");
        }
        let a = runtime.block_on(fixture(&app, "a"));
        let b = runtime.block_on(fixture(&app, "b"));
        Self::serve(db, (app, clock), (a, b), runtime, settings)
    }

    /// Starts a server whose access tokens are signed with a known ring of keys.
    pub fn start_with_keys(db: Db, ring: &str) -> Self {
        db.begin_migrated();
        let (app, clock) = app_on(&db);
        let app = App { keys: Arc::new(KeyRing::parse(ring).expect("keys")), ..app };
        let mut runtime = tokio::runtime::Builder::new_multi_thread();
        let runtime = runtime.worker_threads(2).enable_all().build().expect("runtime");
        let a = runtime.block_on(fixture(&app, "a"));
        let b = runtime.block_on(fixture(&app, "b"));
        Self::serve(db, (app, clock), (a, b), runtime, Settings::default())
    }

    /// Stops the server, loses its database, and serves another one that holds the same two
    /// co-operatives.
    pub fn lost_for(self, db: Db) -> Self {
        let (a, b) = (self.a.clone(), self.b.clone());
        drop(self);
        let mut runtime = tokio::runtime::Builder::new_multi_thread();
        let runtime = runtime.worker_threads(2).enable_all().build().expect("runtime");
        let app = app_on(&db);
        Self::serve(db, app, (a, b), runtime, Settings::default())
    }

    fn serve(
        db: Db,
        (app, clock): (App, Arc<ManualClock>),
        (a, b): (Fixture, Fixture),
        runtime: tokio::runtime::Runtime,
        settings: Settings,
    ) -> Self {
        let app = App { carriers: Arc::new(carriers(&a, &b)), ..app };
        bound::look();
        // Several servers on one database answer in turn; each keeps its own memory.
        let several = !db.is_sqlite() && env("TEST_TWO_SERVERS").is_some();
        let others = several.then(|| another(&app, &config(&db.url)));
        let apps: Vec<App> = std::iter::once(app.clone()).chain(others).collect();
        let servers: Vec<_> = apps.into_iter().map(|app| listen(app, settings.clone())).collect();
        let nobody = servers.iter().map(|(at, _)| format!("http://{at}")).collect();
        let address = servers[0].0;
        let stops = servers.into_iter().map(|(_, stop)| stop).collect();
        Self { app, clock, a, b, nobody: Client::new(nobody), address, db, runtime, stops }
    }

    /// Begins a second server on the same database, which knows nothing of what the first has in
    /// memory, and asks it from now on.
    pub fn turn_to_another_server(&mut self) {
        self.nobody = self.begin_another(&config(&self.db.url));
    }

    /// Begins a server that only reads the database at an address; somebody who asks it.
    pub fn begin_reader(&mut self, url: &str) -> Client {
        self.begin_another(&StoreConfig { only_reads: true, ..config(url) })
    }

    fn begin_another(&mut self, config: &StoreConfig) -> Client {
        let (at, stop) = listen(another(&self.app, config), Settings::default());
        self.stops.push(stop);
        Client::new(vec![format!("http://{at}")])
    }

    /// Makes the figures of both co-operatives, as a server does it by itself.
    pub fn make_figures(&self) {
        for coop in [&self.a.coop, &self.b.coop] {
            self.wait(self.app.make_figures_now(coop)).expect("figures");
        }
    }

    /// Runs a use case.
    pub fn wait<T>(&self, work: impl Future<Output = T>) -> T {
        self.runtime.block_on(work)
    }

    /// Begins a use case beside the test.
    pub fn begin<T: Send + 'static>(
        &self,
        work: impl Future<Output = T> + Send + 'static,
    ) -> tokio::task::JoinHandle<T> {
        self.runtime.spawn(work)
    }

    /// Signs somebody of the first co-operative in: `manager`, `officer`, `member`, …
    pub fn sign_in(&self, who: &str) -> Client {
        self.sign_in_as(&format!("{who}.a@coop.example"))
    }

    /// Signs somebody in by e-mail address.
    pub fn sign_in_as(&self, login: &str) -> Client {
        let body = json!({ "login": login, "password": PASSWORD });
        let answer = self.nobody.post("/v1/session", &body).expect(201);
        self.nobody.with_token(answer.json()["access_token"].as_str().expect("a token"))
    }

    /// Makes a record as the machine itself.
    pub fn make(&self, fixture: &Fixture, kind: Kind, body: Json) -> Uuid {
        let made = self.wait(make(&self.app, &fixture.coop, kind, body));
        made.unwrap_or_else(|e| panic!("{kind:?}: {e:?}"))
    }
}

impl Drop for World {
    fn drop(&mut self) {
        for stop in self.stops.drain(..) {
            self.runtime.block_on(stop.stop(false));
        }
        let wrong = bound::found();
        if !wrong.is_empty() && !std::thread::panicking() {
            panic!("statements that ask more than one co-operative:\n{}", wrong.join("\n"));
        }
    }
}

/// Begins to serve on a free port.
fn listen(app: App, settings: Settings) -> (std::net::SocketAddr, actix_web::dev::ServerHandle) {
    let connections = settings.connections();
    let state = Arc::new(State::new(app, settings));
    let (send, receive) = std::sync::mpsc::channel();
    std::thread::spawn(move || {
        let server = HttpServer::new(move || {
            let state = Arc::clone(&state);
            Actix::new()
                .wrap(actix_web::middleware::Compress::default())
                .configure(move |c| configure(&state, c))
        })
        .on_connect(move |connection, data| connections.begin(connection, data))
        .workers(2)
        .disable_signals()
        .bind("127.0.0.1:0")
        .expect("a free port");
        let address = server.addrs()[0];
        actix_web::rt::System::new().block_on(async move {
            let server = server.run();
            send.send((address, server.handle())).expect("the test waits");
            server.await.expect("server");
        });
    });
    receive.recv().expect("the server starts")
}

/// Makes a record as the machine itself.
pub async fn make(app: &App, coop: &Coop, kind: Kind, body: Json) -> Result<Uuid, AppError> {
    let id = app.new_id()?;
    let body = object(body);
    let machine = Actor::machine(coop.clone());
    app.change(&machine, move |txn| txn.create(kind, id, &body).map(drop)).await?;
    Ok(id)
}

async fn fixture(app: &App, name: &str) -> Fixture {
    let id = app.new_id().expect("id");
    let body = object(json!({
        "name": format!("Co-operative {name}"), "currency": "TZS",
        "zone": "Africa/Dar_es_Salaam", "language": "en", "started_on": "2024-01-01",
    }));
    let coop = app.found(id, body).await.expect("co-operative");
    let mut ids = HashMap::from([("cooperative", id)]);
    let all = samples::setup(name).into_iter();
    let all: Vec<_> = all.map(|record| (app.new_id().expect("id"), record)).collect();
    ids.extend(all.iter().map(|(id, (key, ..))| (*key, *id)));
    let known = ids.clone();
    // In one transaction: one for each record takes a quarter of a second.
    let machine = Actor::machine(coop.clone());
    let made = app.change(&machine, move |txn| {
        all.iter().try_for_each(|(id, (key, kind, body))| {
            let body = object(samples::resolve(body.clone(), &known));
            let made = txn.create(*kind, *id, &body);
            made.map(drop).inspect_err(|e| eprintln!("{key}: {e:?}"))
        })
    });
    made.await.expect("records");
    let people = ["operator", "manager", "officer", "member_person", "programme_reader"];
    let (number, people, now) = (coop.number, people.map(|who| ids[who]), app.now().0);
    let write = app.store.write(move |conn| {
        let mut people = people.iter();
        people.try_for_each(|who| accounts::set_password(conn, number, *who, PASSWORD_HASH, now))
    });
    write.await.expect("passwords");
    Fixture { coop, ids }
}
