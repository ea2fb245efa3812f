//! PostgreSQL servers of a test's own, and a pooler before one. They end with the test.

use crate::world::{env, folder};
use std::net::TcpListener;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

/// A server with its data.
pub struct Cluster {
    folder: PathBuf,
    /// Port on loopback.
    pub port: u16,
}

fn free_port() -> u16 {
    let listener = TcpListener::bind("127.0.0.1:0").expect("a free port");
    listener.local_addr().expect("an address").port()
}

/// The newest PostgreSQL that is installed.
fn program(name: &str) -> PathBuf {
    let all = std::fs::read_dir("/usr/lib/postgresql").expect("PostgreSQL: run tests/run");
    let version = |p: &PathBuf| {
        let name = p.file_name().and_then(|n| n.to_str()).unwrap_or_default();
        name.parse::<u32>().unwrap_or(0)
    };
    let newest = all.flatten().map(|e| e.path()).max_by_key(version).expect("a version");
    newest.join("bin").join(name)
}

/// A command as the user of PostgreSQL, which runs nothing as root.
fn as_postgres(program: &Path) -> Command {
    let is_root = env("USER").as_deref() == Some("root") || env("HOME").as_deref() == Some("/root");
    if !is_root {
        return Command::new(program);
    }
    let mut command = Command::new("setpriv");
    command.args(["--reuid=postgres", "--regid=postgres", "--clear-groups", "--"]).arg(program);
    command
}

fn done(command: &mut Command) {
    // What a server inherits it holds open: nothing that the test reads to its end.
    let log = folder().join("log");
    let out = std::fs::File::create(&log).expect("a file");
    let err = out.try_clone().expect("a file");
    let status = command.stdin(Stdio::null()).stdout(out).stderr(err).status().expect("it runs");
    assert!(status.success(), "{command:?}: {}", std::fs::read_to_string(&log).unwrap_or_default());
    std::fs::remove_dir_all(log.parent().expect("a folder")).ok();
}

/// A folder that the user of PostgreSQL may write to.
fn place() -> PathBuf {
    let folder = folder();
    // Where this is no root, the folder is the user's own already.
    Command::new("chown").arg("postgres").arg(&folder).stderr(Stdio::null()).status().ok();
    folder
}

impl Cluster {
    /// A fresh server; `more` are settings as `-c name=value`.
    pub fn start(more: &str) -> Self {
        let cluster = Self { folder: place(), port: free_port() };
        let data = cluster.data();
        done(
            as_postgres(&program("initdb"))
                .args(["-U", "traybook", "-A", "trust", "-E", "UTF8", "--locale=C", "-D"])
                .arg(&data),
        );
        cluster.run(more);
        cluster
    }

    /// A standby that follows this one.
    pub fn standby(&self) -> Self {
        let standby = Self { folder: place(), port: free_port() };
        done(
            as_postgres(&program("pg_basebackup"))
                .args(["-h", "127.0.0.1", "-U", "traybook", "-R", "-c", "fast", "-p"])
                .arg(self.port.to_string())
                .arg("-D")
                .arg(standby.data()),
        );
        standby.run("");
        standby
    }

    fn data(&self) -> PathBuf {
        self.folder.join("data")
    }

    fn run(&self, more: &str) {
        let socket = self.folder.display();
        let options = format!("-p {} -k {socket} -c listen_addresses=127.0.0.1 {more}", self.port);
        let log = self.folder.join("server.log");
        self.control(&["-w", "-o", &options, "-l", log.to_str().expect("plain"), "start"]);
    }

    fn control(&self, args: &[&str]) {
        done(as_postgres(&program("pg_ctl")).arg("-D").arg(self.data()).args(args));
    }

    /// Ends it as a loss of power does: nobody is told, nothing is written any more.
    pub fn lose(&self) {
        self.control(&["-m", "immediate", "stop"]);
    }

    /// Makes a standby the primary.
    pub fn promote(&self) {
        self.control(&["-w", "promote"]);
    }
}

impl Drop for Cluster {
    fn drop(&mut self) {
        let mut stop = as_postgres(&program("pg_ctl"));
        stop.arg("-D").arg(self.data()).args(["-m", "immediate", "stop"]);
        drop(stop.stdout(Stdio::null()).stderr(Stdio::null()).status());
        std::fs::remove_dir_all(&self.folder).ok();
    }
}

/// pgbouncer before a cluster, which gives a connection another server between two transactions.
pub struct Pooler {
    process: std::process::Child,
    folder: PathBuf,
    /// Port on loopback.
    pub port: u16,
}

impl Pooler {
    /// Starts one with so many connections to the server.
    pub fn before(cluster: &Cluster, connections: usize) -> Self {
        let (folder, port) = (place(), free_port());
        let config = format!(
            "[databases]\n* = host=127.0.0.1 port={}\n[pgbouncer]\nlisten_addr = 127.0.0.1\n\
             listen_port = {port}\nauth_type = any\nunix_socket_dir =\npool_mode = transaction\n\
             default_pool_size = {connections}\nserver_round_robin = 1\n",
            cluster.port
        );
        let config = config.replace("* = host=127.0.0.1", "* = user=traybook host=127.0.0.1");
        let file = folder.join("pgbouncer.ini");
        std::fs::write(&file, config).expect("written");
        let log = std::fs::File::create(folder.join("log")).expect("a file");
        let mut command = as_postgres(Path::new("/usr/sbin/pgbouncer"));
        let process = command.arg(&file).stdout(Stdio::null()).stderr(log).spawn();
        let pooler = Self { process: process.expect("pgbouncer: run tests/run"), folder, port };
        let until = Instant::now() + Duration::from_secs(20);
        while std::net::TcpStream::connect(("127.0.0.1", port)).is_err() {
            let log = std::fs::read_to_string(pooler.folder.join("log")).unwrap_or_default();
            assert!(Instant::now() < until, "it does not answer: {log}");
            std::thread::sleep(Duration::from_millis(20));
        }
        pooler
    }
}

impl Drop for Pooler {
    fn drop(&mut self) {
        self.process.kill().ok();
        self.process.wait().ok();
        std::fs::remove_dir_all(&self.folder).ok();
    }
}
