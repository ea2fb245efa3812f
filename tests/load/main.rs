//! Speed of the server, as ratios to the least work that could do the same. Run by `load/run`.

mod bare;
mod batches;
mod fair;
mod imports;
mod pages;
mod process;
mod report;
mod syncs;
mod table;
mod texts;
mod work;

use process::Server;
use std::path::{Path, PathBuf};
use table::Table;

/// Whole months of history of the databases, the largest last.
const HISTORIES: [usize; 3] = [12, 24, 36];

/// Where things are.
pub struct Places {
    /// The server's program.
    pub program: PathBuf,
    /// The databases made beforehand; never written to.
    pub databases: PathBuf,
    /// A folder for copies, emptied at the start.
    pub work: PathBuf,
    /// A copy of the largest database on PostgreSQL, written to.
    pub postgres: Option<String>,
}

impl Places {
    /// The database with so many months of history.
    pub fn database(&self, months: usize) -> PathBuf {
        self.databases.join(format!("demo-large-1-{months}-months.sqlite"))
    }

    /// The database whose history ends with yesterday, as that of a co-operative in full swing.
    pub fn recent(&self) -> PathBuf {
        let other = std::env::var_os("LOAD_PAGES_DATABASE").map(PathBuf::from);
        other.unwrap_or_else(|| self.databases.join("recent/demo-large-1-36-months.sqlite"))
    }

    /// A fresh copy of a database.
    pub fn copy(&self, of: &Path, name: &str) -> PathBuf {
        let to = self.work.join(name);
        bare::remove(&to);
        bare::settle(of);
        std::fs::copy(of, &to).expect("room for a copy");
        to
    }
}

fn main() {
    let mut args = std::env::args().skip(1).map(PathBuf::from);
    let mut next = || {
        args.next().expect(
            "load PROGRAM DATABASES WORK [POSTGRES_URL] [fair | work | records | texts | pages [PART]]",
        )
    };
    let (program, databases, work) = (next(), next(), next());
    let postgres = std::env::args().find(|a| a.starts_with("postgres"));
    let places = Places { program, databases, work, postgres };
    drop(std::fs::remove_dir_all(&places.work));
    std::fs::create_dir_all(&places.work).expect("a folder for work");
    let mut table = Table::default();
    // One part alone, while working on it.
    let parts: Vec<String> = std::env::args().skip(4).collect();
    if parts.iter().any(|a| a == "work") {
        work::measure(&places, &mut table);
        return table.print();
    }
    if let Some(at) = parts.iter().position(|a| a == "pages") {
        pages::measure(&places, parts.get(at + 1).map(String::as_str), &mut table);
        return table.print();
    }

    if parts.iter().any(|a| a == "texts") {
        texts::measure(&places, &places.database(12), &mut table);
        return table.print();
    }
    if parts.iter().any(|a| a == "fair") {
        fair::measure(&places, &places.database(12), &mut table);
        return table.print();
    }

    let large = places.database(36);
    let served = places.copy(&large, "served.sqlite");
    let server = Server::start(&places, &served);
    syncs::measure(&places, &server, &large, &served, &mut table);
    imports::measure(&places, &mut table);
    batches::measure(&server, &served, &mut table);
    if parts.iter().any(|a| a == "records") {
        return table.print();
    }
    fair::measure(&places, &places.database(12), &mut table);
    texts::measure(&places, &places.database(12), &mut table);
    work::measure(&places, &mut table);
    pages::measure(&places, None, &mut table);
    for months in HISTORIES {
        report::in_process(&places, months, &mut table);
        if months == 36 {
            report::over_http(&server, months, &mut table);
        } else {
            let copy = places.copy(&places.database(months), "history.sqlite");
            let other = Server::start(&places, &copy);
            report::over_http(&other, months, &mut table);
        }
    }
    let (now, most) = server.memory();
    table.line("memory of the serving process now", format!("{now} MB"), None, "< 150 MB");
    table.line("the same, most at any time", format!("{most} MB"), None, "< 150 MB");
    drop(server);
    drop(std::fs::remove_dir_all(&places.work));

    let cores = std::thread::available_parallelism().map_or(0, usize::from);
    table.print();
    println!("\n{cores} cores; SQLite; {} bytes of database", bytes(&large));
}

fn bytes(path: &Path) -> u64 {
    std::fs::metadata(path).map_or(0, |m| m.len())
}
