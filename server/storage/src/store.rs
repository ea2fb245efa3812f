//! The only transactions that are kept: [`Store::read`] and [`Store::write`]. [`Store::preview`]
//! tries changes out.
//!
//! SQLite: one writer thread takes the waiting writes together, runs each in a savepoint, commits
//! once, and only then answers each caller; readers have connections of their own. PostgreSQL: a
//! pool; a write that meets another one is run again, a few times.

use crate::conn::Conn;
use crate::error::StoreError;
use crate::patience::{Waits, run_watched};
use crate::planning::batch_trays;
use crate::records::farm_lists::FarmLists;
use crate::settings::Begin;
use crate::turns::{Turn, Turns};
use crate::work::{self, Change, Reading, Tried, caught};
use crate::{copies::epoch, migrate, settings};
use diesel::r2d2::{self, ManageConnection};
use diesel::{Connection as _, SqliteConnection};
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::mpsc::{Receiver, SyncSender, TrySendError, sync_channel};
use std::time::{Duration, Instant};
use tokio::sync::{Semaphore, oneshot};
use traybook_domain::limits::{
    GROUP_COMMIT_MAX, LARGE_WAIT_S, PG_TRIES_MAX, PREVIEWS_AT_ONCE, SHARE, SILENCE_PATIENT_S,
    SILENCE_S, WRITE_QUEUE_MAX,
};

/// Where the database is.
#[derive(Clone, Debug)]
pub struct StoreConfig {
    /// `sqlite:PATH` or `postgres://…`.
    pub url: String,
    /// Connections for readers (SQLite) or for all (PostgreSQL).
    pub connections: usize,
    /// Whether tables are brought up to date; a database whose tables are not is refused otherwise.
    pub migrates: bool,
    /// Whether it is read only: a standby of PostgreSQL, or a database that others write.
    pub only_reads: bool,
}

impl StoreConfig {
    /// A database whose tables are brought up to date.
    #[must_use]
    pub fn new(url: impl Into<String>, connections: usize) -> Self {
        Self { url: url.into(), connections, migrates: true, only_reads: false }
    }

    fn bring_up(&self, conn: &mut Conn) -> Result<(), StoreError> {
        if self.only_reads {
            return migrate::refuse_other(conn);
        }
        if !self.migrates {
            return migrate::refuse_pending(conn);
        }
        migrate::run(conn)?;
        batch_trays::fill(conn)
    }
}

/// The store. Cheap to clone.
#[derive(Clone)]
pub struct Store {
    inner: Arc<Inner>,
    url: Arc<str>,
    previews: Arc<Semaphore>,
    epoch: i64,
    only_reads: bool,
    patience: Duration,
    shares: Arc<Shares>,
}

/// What one co-operative may have of what all share.
struct Shares {
    /// Places in the queue of writes (SQLite) or connections that write (PostgreSQL).
    writes: Turns<i64>,
    /// Large writes, which go in slices.
    large: Turns<i64>,
    /// Writes that were begun or wait.
    begun: AtomicUsize,
    farms: Arc<FarmLists>,
}

/// A write from its beginning until its caller has the answer.
struct Begun(Arc<Shares>);

impl Begun {
    fn new(shares: &Arc<Shares>) -> Self {
        shares.begun.fetch_add(1, Ordering::Relaxed);
        Self(Arc::clone(shares))
    }
}

impl Drop for Begun {
    fn drop(&mut self) {
        self.0.begun.fetch_sub(1, Ordering::Relaxed);
    }
}

enum Inner {
    Sqlite { readers: Pool, writer: SyncSender<Job> },
    Pg { pool: Pool },
}

type Finish = Box<dyn FnOnce(Result<(), StoreError>) + Send>;
type Job = Box<dyn FnOnce(&mut Conn) -> Finish + Send>;

impl Store {
    /// Opens the database.
    ///
    /// # Errors
    /// `Config` for a URL that names neither database; `Unavailable` when it can not be opened;
    /// `Version` when its tables are of another program.
    pub fn open(config: &StoreConfig) -> Result<Self, StoreError> {
        let connections = config.connections.max(1);
        if let Some(path) = config.url.strip_prefix("sqlite:") {
            if path.is_empty() {
                return Err(StoreError::Config("give a file: sqlite:PATH".to_owned()));
            }
            let is_there = settings::is_ours(path)?;
            let mut writer = settings::open_sqlite(path)?;
            if is_there && config.migrates && !config.only_reads {
                migrate::keep_copy(&mut writer, path)?;
            }
            config.bring_up(&mut writer)?;
            let epoch = epoch::now(&mut writer)?;
            // A connection reads the planner's figures once, when it reads the tables first: one
            // that has just made them would go on without.
            drop(writer);
            let writer = open_writer(path)?;
            let path = path.to_owned();
            let reopen = path.clone();
            let (send, receive) = sync_channel(WRITE_QUEUE_MAX);
            std::thread::Builder::new()
                .name("writer".to_owned())
                .spawn(move || write_loop(writer, &receive, &path))
                .map_err(|e| StoreError::Unavailable(e.to_string()))?;
            let readers = pool(connections, false, move || {
                let mut reader = settings::open_sqlite(&reopen)?;
                // There are several, and the kernel keeps the file's pages as well.
                reader.batch("PRAGMA cache_size = -4000")?;
                Ok(reader)
            });
            return Ok(Self::on(config, epoch, Inner::Sqlite { readers, writer: send }));
        }
        if config.url.starts_with("postgres://") || config.url.starts_with("postgresql://") {
            let mut first = settings::open_postgres(&config.url)?;
            // Tables of many rows are changed before anybody waits.
            first.batch("SET statement_timeout = '30min'")?;
            config.bring_up(&mut first)?;
            let epoch = epoch::now(&mut first)?;
            let url = config.url.clone();
            drop(first);
            let pool = pool(connections, true, move || settings::open_postgres(&url));
            return Ok(Self::on(config, epoch, Inner::Pg { pool }));
        }
        let text = "give DATABASE_URL as sqlite:PATH or postgres://USER@HOST/NAME";
        Err(StoreError::Config(text.to_owned()))
    }

    fn on(config: &StoreConfig, epoch: i64, inner: Inner) -> Self {
        let previews = Arc::new(Semaphore::new(PREVIEWS_AT_ONCE));
        let patience = Duration::from_secs(SILENCE_S);
        let each = match &inner {
            Inner::Sqlite { .. } => GROUP_COMMIT_MAX / SHARE,
            Inner::Pg { pool } => usize::try_from(pool.max_size()).unwrap_or(1) / SHARE,
        };
        let (writes, large) = (Turns::new(each), Turns::new(1));
        let shares =
            Arc::new(Shares { writes, large, begun: AtomicUsize::new(0), farms: Arc::default() });
        let (url, only_reads) = (config.url.as_str().into(), config.only_reads);
        Self { inner: Arc::new(inner), url, previews, epoch, only_reads, patience, shares }
    }

    /// Which life of the records this was when the store was opened. A restore goes into an empty
    /// place, so it is another store's.
    #[must_use]
    pub const fn epoch(&self) -> i64 {
        self.epoch
    }

    /// Whether this program only reads the database.
    #[must_use]
    pub const fn only_reads(&self) -> bool {
        self.only_reads
    }

    /// Refuses to write where the database is only read.
    pub(crate) const fn may_write(&self) -> Result<(), StoreError> {
        if self.only_reads { Err(StoreError::ReadsOnly) } else { Ok(()) }
    }

    /// The same store for work that nobody waits for: PostgreSQL may take long.
    #[must_use]
    pub fn patient(&self) -> Self {
        Self { patience: Duration::from_secs(SILENCE_PATIENT_S), ..self.clone() }
    }

    /// The same store for requests, which are answered within seconds whatever happens.
    #[must_use]
    pub fn prompt(&self) -> Self {
        Self { patience: Duration::from_secs(SILENCE_S), ..self.clone() }
    }

    /// A turn to write on behalf of a co-operative, which has a part of the places only.
    pub(crate) async fn turn(&self, coop: i64) -> Result<Turn, StoreError> {
        let time = Duration::from_secs(SILENCE_S.min(self.patience.as_secs()) - 1);
        self.shares.writes.within(coop, time).await.ok_or(StoreError::Busy)
    }

    /// A turn to write much on behalf of a co-operative, in slices. One at a time has it, and
    /// others of all co-operatives write between the slices.
    ///
    /// # Errors
    /// `Busy` when those before it take too long.
    pub async fn large_turn(&self, coop: i64) -> Result<Turn, StoreError> {
        let time = Duration::from_secs(LARGE_WAIT_S);
        self.shares.large.within(coop, time).await.ok_or(StoreError::Busy)
    }

    /// Whether a write of this program waits for another one that asks this.
    #[must_use]
    pub fn others_wait(&self) -> bool {
        self.shares.begun.load(Ordering::Relaxed) > 1
    }

    /// Farms that are kept in memory, of all co-operatives.
    #[must_use]
    pub fn farms_kept(&self) -> usize {
        self.shares.farms.len()
    }

    /// Throws the kept farms away.
    pub fn forget_farms(&self) {
        self.shares.farms.clear();
    }

    /// The address of the database.
    pub(crate) fn url(&self) -> &str {
        &self.url
    }

    /// Turns of previews, which take memory and time.
    pub(crate) fn previews(&self) -> Arc<Semaphore> {
        Arc::clone(&self.previews)
    }

    /// A connection outside the pool.
    pub(crate) fn open_one(&self) -> Result<Conn, StoreError> {
        match self.url.strip_prefix("sqlite:") {
            Some(path) => settings::open_sqlite(path),
            None => settings::open_postgres(&self.url),
        }
    }

    /// Runs `work` on a connection that reads one consistent state.
    ///
    /// # Errors
    /// Those of `work`; `Busy` when no connection became free, `Unavailable` when there is none.
    pub async fn read<T, E, F>(&self, work: F) -> Result<T, E>
    where
        T: Send + 'static,
        E: From<StoreError> + Send + 'static,
        F: FnOnce(&mut Conn) -> Result<T, E> + Send + 'static,
    {
        let (work, answer) = work::reading(work);
        answer.of(self.run(work).await)
    }

    async fn run(&self, work: Reading) -> Result<(), StoreError> {
        let (inner, patience) = (Arc::clone(&self.inner), self.patience);
        let shares = Arc::clone(&self.shares);
        let read = Box::new(move || {
            let pool = match &*inner {
                Inner::Sqlite { readers, .. } => readers,
                Inner::Pg { pool } => pool,
            };
            let mut pooled = take(pool)?;
            let conn = &mut pooled.conn;
            let begun = settings::begin(conn, Begin::Read, patience);
            conn.farms = Some(Arc::clone(&shares.farms));
            let ran = begun.and_then(|()| caught(|| work(conn)));
            conn.farms = None;
            let ended = conn.exec("COMMIT", &[]).is_ok();
            pooled.broken = !ended;
            ran
        });
        match self.is_sqlite() {
            true => work::run(read).await,
            false => run_watched(patience, read).await,
        }
    }

    /// Runs `work` in one transaction that is on disk when this returns.
    ///
    /// `work` may run more than once, so it does no I/O of its own and reads no clock.
    ///
    /// # Errors
    /// Those of `work` (nothing of it is kept then); `Busy` when too many writes wait;
    /// `Unavailable` when the commit failed.
    pub async fn write<T, E, F>(&self, work: F) -> Result<T, E>
    where
        T: Send + 'static,
        E: From<StoreError> + MaybeRetry + Send + 'static,
        F: FnMut(&mut Conn) -> Result<T, E> + Send + 'static,
    {
        let (work, answer) = work::change(work);
        answer.of(self.keep(work).await)
    }

    async fn keep(&self, mut work: Change) -> Result<(), StoreError> {
        self.may_write()?;
        let begun = Begun::new(&self.shares);
        match &*self.inner {
            Inner::Sqlite { writer, .. } => {
                let (send, receive) = oneshot::channel();
                writer.try_send(job(work, send, begun)).map_err(|e| match e {
                    TrySendError::Full(_) => StoreError::Busy,
                    TrySendError::Disconnected(_) => gone(),
                })?;
                receive.await.unwrap_or_else(|_| Err(gone()))
            }
            Inner::Pg { .. } => {
                let (inner, patience) = (Arc::clone(&self.inner), self.patience);
                let write = Box::new(move || {
                    let _begun = begun;
                    match &*inner {
                        Inner::Pg { pool } => write_pg(pool, patience, &mut work),
                        Inner::Sqlite { .. } => Err(gone()),
                    }
                });
                run_watched(patience, write).await
            }
        }
    }

    /// Whether the embedded database is used.
    #[must_use]
    pub fn is_sqlite(&self) -> bool {
        matches!(*self.inner, Inner::Sqlite { .. })
    }
}

/// An error of a use case that may carry the store's wish to run again.
pub trait MaybeRetry {
    /// Whether the transaction should be run again.
    fn wants_retry(&self) -> bool;
    /// Whether the connection should be given up.
    fn lost_connection(&self) -> bool;
}

impl MaybeRetry for StoreError {
    fn wants_retry(&self) -> bool {
        matches!(self, Self::Retry)
    }
    fn lost_connection(&self) -> bool {
        matches!(self, Self::Unavailable(_))
    }
}

fn gone() -> StoreError {
    StoreError::Unavailable("the writer has stopped".to_owned())
}

/// Why a write was undone.
enum Undone {
    /// The work says so itself, and has its own error.
    Own,
    Store(StoreError),
}

impl From<StoreError> for Undone {
    fn from(error: StoreError) -> Self {
        Self::Store(error)
    }
}

/// A write that answers its caller when it hears how the commit went.
fn job(mut work: Change, send: oneshot::Sender<Result<(), StoreError>>, begun: Begun) -> Job {
    Box::new(move |conn| {
        // A panic is an error inside the savepoint, so that it undoes what the write had done.
        let ran = conn.savepoint(|conn| match caught(|| work(conn))? {
            Tried::Kept => Ok(()),
            Tried::Failed { .. } => Err(Undone::Own),
        });
        Box::new(move |committed: Result<(), StoreError>| {
            let answer = committed.and(match ran {
                Ok(()) | Err(Undone::Own) => Ok(()),
                Err(Undone::Store(error)) => Err(error),
            });
            // The caller may have gone; its write is kept all the same.
            drop(send.send(answer));
            drop(begun);
        })
    })
}

/// Begins a write. Another process may hold the file in slices, with short pauses between: who asks
/// often meets one. SQLite's own waiting asks less and less often, down to every 100 ms.
fn begin_writing(conn: &mut Conn) -> Result<(), StoreError> {
    let until = Instant::now() + OTHERS_WAIT;
    loop {
        match settings::begin(conn, Begin::Write, Duration::ZERO) {
            Err(StoreError::Busy) if Instant::now() < until => std::thread::sleep(ASK_AGAIN),
            begun => return begun,
        }
    }
}

/// How long a write waits for another process.
const OTHERS_WAIT: Duration = Duration::from_secs(5);
/// Between two tries.
const ASK_AGAIN: Duration = Duration::from_micros(500);

fn write_loop(mut conn: Conn, receive: &Receiver<Job>, path: &str) {
    while let Ok(first) = receive.recv() {
        let begun = begin_writing(&mut conn);
        let mut finishes: Vec<Finish> = Vec::new();
        if let Err(error) = begun {
            refuse(first, &error);
            if !matches!(error, StoreError::Busy) {
                reopen(&mut conn, path);
            }
            continue;
        }
        finishes.push(first(&mut conn));
        while finishes.len() < GROUP_COMMIT_MAX {
            match receive.try_recv() {
                Ok(next) => finishes.push(next(&mut conn)),
                Err(_) => break,
            }
        }
        let committed = conn.exec("COMMIT", &[]).map(drop);
        if let Err(error) = &committed {
            tracing::error!(%error, writes = finishes.len(), "commit failed; nothing was kept");
            reopen(&mut conn, path);
        }
        for finish in finishes {
            finish(match &committed {
                Ok(()) => Ok(()),
                Err(error) => Err(again(error)),
            });
        }
    }
}

/// A failed commit keeps nothing, whatever its cause: the caller may try again.
fn again(error: &StoreError) -> StoreError {
    match error {
        StoreError::Busy => StoreError::Busy,
        other => StoreError::Unavailable(other.to_string()),
    }
}

/// Answers a write that could not begin, by running it on a database that refuses everything.
fn refuse(job: Job, error: &StoreError) {
    match SqliteConnection::establish(":memory:") {
        Ok(empty) => job(&mut Conn::from(empty))(Err(again(error))),
        // Dropping the job drops its channel, and the caller hears that the writer has gone.
        Err(_) => drop(job),
    }
}

/// The connection that writes. It asks again by itself (`begin_writing`).
fn open_writer(path: &str) -> Result<Conn, StoreError> {
    let mut writer = settings::open_sqlite(path)?;
    writer.batch("PRAGMA busy_timeout = 0")?;
    Ok(writer)
}

fn reopen(conn: &mut Conn, path: &str) {
    drop(conn.exec("ROLLBACK", &[]));
    match open_writer(path) {
        Ok(fresh) => *conn = fresh,
        Err(error) => tracing::error!(%error, "the database could not be opened again"),
    }
}

fn write_pg(pool: &Pool, patience: Duration, work: &mut Change) -> Result<(), StoreError> {
    for tried in 1..=PG_TRIES_MAX {
        let mut pooled = take(pool)?;
        let ended = try_pg(&mut pooled.conn, patience, work);
        let (again, lost) = match &ended {
            Ok(Tried::Kept) => return Ok(()),
            Ok(Tried::Failed { again, lost }) => (*again, *lost),
            Err(error) => (error.wants_retry(), error.lost_connection()),
        };
        let rolled_back = pooled.conn.exec("ROLLBACK", &[]).is_ok();
        pooled.broken = !rolled_back || lost;
        drop(pooled);
        if !again || tried == PG_TRIES_MAX {
            return ended.map(drop);
        }
        std::thread::sleep(Duration::from_millis(5 * u64::from(tried * tried)));
    }
    Err(StoreError::Busy)
}

fn try_pg(conn: &mut Conn, patience: Duration, work: &mut Change) -> Result<Tried, StoreError> {
    settings::begin(conn, Begin::Write, patience)?;
    let tried = caught(|| work(conn))?;
    if tried == Tried::Kept {
        conn.exec("COMMIT", &[])?;
    }
    Ok(tried)
}

/// Opens connections for the pool.
struct Manager {
    open: Box<dyn Fn() -> Result<Conn, StoreError> + Send + Sync>,
}

/// A pooled connection that knows whether it may be used again.
struct Pooled {
    conn: Conn,
    broken: bool,
}

impl ManageConnection for Manager {
    type Connection = Pooled;
    type Error = StoreError;

    fn connect(&self) -> Result<Pooled, StoreError> {
        Ok(Pooled { conn: (self.open)()?, broken: false })
    }
    fn is_valid(&self, pooled: &mut Pooled) -> Result<(), StoreError> {
        pooled.conn.batch("SELECT 1")
    }
    fn has_broken(&self, pooled: &mut Pooled) -> bool {
        pooled.broken
    }
}

type Pool = r2d2::Pool<Manager>;

fn pool(
    max: usize,
    check: bool,
    open: impl Fn() -> Result<Conn, StoreError> + Send + Sync + 'static,
) -> Pool {
    r2d2::Pool::builder()
        .max_size(u32::try_from(max).unwrap_or(1))
        .min_idle(Some(1))
        .test_on_check_out(check)
        .connection_timeout(Duration::from_secs(5))
        .error_handler(Box::new(LogErrors))
        .build_unchecked(Manager { open: Box::new(open) })
}

/// Says in the log why no connection could be opened.
#[derive(Debug)]
struct LogErrors;

impl r2d2::HandleError<StoreError> for LogErrors {
    fn handle_error(&self, error: StoreError) {
        tracing::warn!(%error, "a database connection could not be opened or used");
    }
}

fn take(pool: &Pool) -> Result<r2d2::PooledConnection<Manager>, StoreError> {
    let _waits = Waits::begin();
    pool.get().map_err(|e| StoreError::Unavailable(e.to_string()))
}
