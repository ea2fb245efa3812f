//! Serving.

use crate::args::{Args, Serve};
use crate::commands::carry;
use crate::commands::keep::{backups, keep_backing_up};
use crate::world;
use actix_web::dev::ServerHandle;
use actix_web::middleware::Compress;
use actix_web::rt::signal::unix::{SignalKind, signal};
use actix_web::{App as Actix, HttpServer};
use std::net::SocketAddr;
use std::path::Path;
use std::process::ExitCode;
use std::sync::Arc;
use std::time::Duration;
use traybook_app::copies::{Keeping, Schedule};
use traybook_app::{App, AppError};
use traybook_domain::limits::{DESCRIPTORS_KEPT, MAKING_LOOK_MS, PAGES_FIRST_BYTES, PAGES_LOOK_S};
use traybook_http::{Settings, State, configure};

/// Serves the configured database.
pub fn run(args: &Args, serve: &Serve) -> Result<ExitCode, String> {
    let app = world::open_to_serve(args, &world::database_url(args)?, world::keys(args)?, serve)?;
    if let Some([first, ..]) = world::wait(app.local_tables())?.as_deref() {
        return Err(format!(
            "this database spreads tables over several machines, and {first} lies on one alone: \
             run `traybook spread`"
        ));
    }
    carry::beside(args, &serve.listen, serve.tls.tls_certificate.is_some(), &serve.carry)?;
    serve_app(app, serve, &args.data)
}

/// Serves until the process is told to stop; requests under way are finished first.
///
/// # Errors
/// When the address can not be listened on.
pub fn serve_app(app: App, serve: &Serve, data: &Path) -> Result<ExitCode, String> {
    let making = app.clone();
    let how = |to| backups(data, to, &serve.backup_with);
    let backups = serve.backup.as_deref().map(how).transpose()?;
    let (keeper, hours) = (app.clone(), serve.backup_hours);
    let tls = serve.tls.read(&app.keeping)?;
    let schedule = serve.backup.clone().map(|folder| Schedule { folder, hours });
    app.keeping.note_start(app.now(), schedule);
    let settings = settings(serve, tls.is_some());
    let connections = settings.connections();
    let is_small = app.store.file_bytes() <= PAGES_FIRST_BYTES;
    if is_small {
        world::wait(look_at_pages(&app))?;
    }
    let (looking, drain) = (app.clone(), Duration::from_secs(serve.drain));
    let app = App { store: app.store.prompt(), ..app };
    let state = Arc::new(State::new(app, settings));
    let mut server = HttpServer::new(move || {
        let state = Arc::clone(&state);
        Actix::new().wrap(Compress::default()).configure(move |c| configure(&state, c))
    })
    .on_connect(move |connection, data| connections.begin(connection, data))
    // A compressed answer goes out in pieces, of which the last would wait for the client's delayed
    // acknowledgement of the first: 40 ms (RFC 1122, 4.2.3.2 and 4.2.3.4).
    .tcp_nodelay(true)
    // Each blocking thread keeps memory of its own; more than connections would only wait.
    .worker_max_blocking_threads(BLOCKING_THREADS)
    .client_request_timeout(Duration::from_secs(30))
    .keep_alive(Duration::from_secs(75))
    .disable_signals()
    .shutdown_timeout(FINISH_S);
    if let Some(workers) = serve.workers {
        server = server.workers(workers.max(1));
    }
    if let Some(most) = connections_a_worker(serve.workers) {
        server = server.max_connections(most);
    }
    let listen = &serve.listen;
    let server = match &tls {
        // Bad networks take seconds for the greeting.
        Some(tls) => server
            .tls_handshake_timeout(TLS_GREETING)
            .max_connection_rate(CONNECTIONS_MAX)
            .bind_rustls_0_23(listen, tls.config()?),
        None => server.bind(listen),
    };
    let server =
        server.map_err(|e| format!("{listen}: {e}; name another address with --listen"))?;
    say_where(&server.addrs_with_scheme());
    let served = actix_web::rt::System::new().block_on(async move {
        let keeping = Arc::clone(&making.keeping);
        if !making.store.only_reads() {
            actix_web::rt::spawn(forget(making.clone()));
            actix_web::rt::spawn(make_figures(making));
        }
        actix_web::rt::spawn(keep_looking(looking, is_small));
        if let Some(tls) = tls {
            actix_web::rt::spawn(tls.watch());
        }
        if let Some(how) = backups {
            actix_web::rt::spawn(keep_backing_up(keeper, how, hours));
        }
        let server = server.run();
        actix_web::rt::spawn(stop_when_asked(server.handle(), keeping, drain));
        server.await
    });
    served.map_err(|e| e.to_string())?;
    Ok(ExitCode::SUCCESS)
}

fn say_where(addresses: &[(SocketAddr, &str)]) {
    for (address, scheme) in addresses {
        let to = format!("{scheme}://{address}");
        println!("Listening on {to}  (documentation: {to}/docs/)");
    }
}

/// Seconds in which requests that are under way are finished when the server stops.
const FINISH_S: u64 = 10;

/// Stops the server when the process is asked to (SIGTERM): it says that it is not ready and goes on
/// for a while, so that a proxy turns to another one first, then finishes what is under way. Asked
/// again it does not wait. SIGINT and SIGQUIT stop it at once.
async fn stop_when_asked(server: ServerHandle, keeping: Arc<Keeping>, drain: Duration) {
    for kind in [SignalKind::interrupt(), SignalKind::quit()] {
        let server = server.clone();
        if let Ok(mut asked) = signal(kind) {
            actix_web::rt::spawn(async move {
                asked.recv().await;
                server.stop(false).await;
            });
        }
    }
    let Ok(mut asked) = signal(SignalKind::terminate()) else { return };
    asked.recv().await;
    keeping.note_end();
    drop(actix_web::rt::time::timeout(drain, asked.recv()).await);
    server.stop(true).await;
}

/// What the interface is told of how it is served.
fn settings(serve: &Serve, speaks_tls: bool) -> Settings {
    let listens = || own_address(&serve.listen, speaks_tls).filter(|_| !serve.behind_proxy);
    let public_address = serve.public_address.clone().or_else(listens);
    Settings { behind_proxy: serve.behind_proxy, public_address, speaks_tls, ..Settings::default() }
}

/// The address of a server that listens on one address of this machine. Behind a proxy people know
/// another one.
fn own_address(listen: &str, speaks_tls: bool) -> Option<String> {
    let address: SocketAddr = listen.parse().ok()?;
    let is_one = !address.ip().is_unspecified() && address.port() != 0;
    let scheme = if speaks_tls { "https" } else { "http" };
    is_one.then(|| format!("{scheme}://{address}"))
}

/// Raises the number of descriptors that this process may have, as far as the system lets it; the
/// connections that each worker may hold then.
fn connections_a_worker(workers: Option<usize>) -> Option<usize> {
    let descriptors = rlimit::increase_nofile_limit(u64::MAX)
        .inspect_err(|error| tracing::warn!(%error, "the limit of open files was not raised"))
        .ok()?;
    let workers = workers.or_else(|| Some(std::thread::available_parallelism().ok()?.get()))?;
    let left = usize::try_from(descriptors.saturating_sub(DESCRIPTORS_KEPT)).unwrap_or(usize::MAX);
    Some((left / workers.max(1)).clamp(1, CONNECTIONS_MAX))
}

/// Connections of one worker at most, however many descriptors there are.
const CONNECTIONS_MAX: usize = 25_000;
/// How long the greeting of TLS may take.
const TLS_GREETING: Duration = Duration::from_secs(15);

/// Looks at the database's pages. A damaged one is served as far as it can be read, but the server
/// says that it is not ready.
async fn look_at_pages(app: &App) -> Result<(), AppError> {
    match app.look_for_damage().await {
        Ok(None) => {}
        Ok(Some(what)) => {
            tracing::error!(what, "the database is damaged: restore the last backup");
        }
        Err(error) => tracing::warn!(%error, "the database's pages could not be looked at"),
    }
    Ok(())
}

/// Looks at them as long as the server runs; not at once where that was done.
async fn keep_looking(app: App, mut is_seen: bool) {
    loop {
        if !is_seen {
            drop(look_at_pages(&app).await);
        }
        is_seen = false;
        actix_web::rt::time::sleep(Duration::from_secs(PAGES_LOOK_S)).await;
    }
}

/// Threads of each worker that wait for the database or hash passwords.
const BLOCKING_THREADS: usize = 8;
/// Between two looks for what is to be forgotten.
const FORGET_PAUSE: Duration = Duration::from_secs(60);

/// Forgets what was kept for a time only, and makes the reminders that are due, every minute. A failure is logged and tried again.
async fn forget(app: App) {
    loop {
        if let Err(error) = app.forget_failures().await {
            tracing::warn!(%error, "old failures of sign-in could not be forgotten");
        }
        if let Err(error) = app.forget_changes().await {
            tracing::warn!(%error, "the feed could not forget old changes");
        }
        if let Err(error) = app.forget_files().await {
            tracing::warn!(%error, "files that nobody took could not be forgotten");
        }
        if let Err(error) = app.forget_security().await {
            tracing::warn!(%error, "old lines of the security log could not be forgotten");
        }
        if let Err(error) = app.remind().await {
            tracing::warn!(%error, "reminders could not be made");
        }
        if let Err(error) = app.forget_texts().await {
            tracing::warn!(%error, "old text messages could not be forgotten");
        }
        actix_web::rt::time::sleep(FORGET_PAUSE).await;
    }
}

/// Fills up sums of an older program, then makes the figures that are due as long as the server
/// runs, and looks through histories that wait. A failure is logged and tried again.
async fn make_figures(app: App) {
    while let Err(error) = app.fill_sums().await {
        tracing::warn!(%error, "sums of an older program could not be filled up");
        actix_web::rt::time::sleep(Duration::from_millis(MAKING_LOOK_MS)).await;
    }
    loop {
        if let Err(error) = app.undo_broken_off().await {
            tracing::warn!(%error, "a file that broke off could not be undone");
        }
        if let Err(error) = app.make_due_figures().await {
            tracing::warn!(%error, "the figures that are due could not be found");
        }
        if let Err(error) = app.review_waiting().await {
            tracing::warn!(%error, "the histories that wait could not be looked through");
        }
        actix_web::rt::time::sleep(Duration::from_millis(MAKING_LOOK_MS)).await;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn open_files_are_raised_as_far_as_the_system_lets() {
        let most = connections_a_worker(Some(4)).expect("a limit");
        let (soft, hard) = rlimit::getrlimit(rlimit::Resource::NOFILE).expect("limits");
        assert_eq!(soft, hard);
        assert!((1..=CONNECTIONS_MAX).contains(&most));
        assert!(u64::try_from(most * 4).expect("small") + DESCRIPTORS_KEPT <= soft.max(260));
    }

    #[test]
    fn a_server_knows_the_address_that_it_listens_on() {
        assert_eq!(own_address("127.0.0.1:8080", false).as_deref(), Some("http://127.0.0.1:8080"));
        assert_eq!(own_address("[::1]:80", true).as_deref(), Some("https://[::1]:80"));
        for unknown in ["0.0.0.0:8080", "[::]:8080", "127.0.0.1:0", "localhost:8080", ""] {
            assert_eq!(own_address(unknown, false), None, "{unknown}");
        }
    }
}
