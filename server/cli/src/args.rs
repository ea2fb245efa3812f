//! Arguments.

use crate::world::CONNECTIONS;
use clap::{Parser, Subcommand, ValueEnum};
use std::path::PathBuf;
use traybook_speech::Language;

/// Record server of livestock co-operatives that grow sprouted grain as green feed.
#[derive(Parser)]
#[command(version, about)]
pub struct Args {
    /// Database: sqlite:PATH or postgres://USER@HOST/NAME.
    #[arg(long, env = "DATABASE_URL", global = true, hide_env_values = true)]
    pub database_url: Option<String>,
    /// Folder for the embedded database and the key file.
    #[arg(long, env = "TRAYBOOK_DATA", global = true, default_value = "traybook-data")]
    pub data: PathBuf,
    /// Log as JSON, one object a line.
    #[arg(long, env = "TRAYBOOK_LOG_JSON", global = true)]
    pub log_json: bool,
    /// What to do.
    #[command(subcommand)]
    pub command: Command,
}

/// What to do.
#[derive(Subcommand)]
pub enum Command {
    /// Make an invented co-operative in an embedded database, print its savings report, serve it.
    Demo(Demo),
    /// Serve the database.
    Serve(Serve),
    /// Make a co-operative with its first operator and manager.
    Found(Found),
    /// Import spreadsheets (CSV, XLSX): a folder or a file.
    Import(Import),
    /// Export all records as a folder of CSV files.
    Export(Export),
    /// Print a report.
    Report(Report),
    /// Print what there is to do on a day.
    Work(Work),
    /// Print seed accounts, traces, suppliers compared, and what contradicts itself.
    Seed(Seed),
    /// Estimate from a CSV file, without a server.
    Analyse(crate::commands::analyse::args::Analyse),
    /// Plan a trial: judge ways to start, draw a random order, show it.
    Trial(crate::commands::trial::Trial),
    /// What feeds are worth, from a JSON file, without a server.
    Ration(crate::commands::ration::Ration),
    /// Make a backup while the server runs, and check it.
    Backup {
        /// The folder that it goes to.
        folder: PathBuf,
        /// How backups are made.
        #[command(flatten)]
        with: BackupFolder,
    },
    /// Restore a backup into an empty place, and check it.
    Restore(Restore),
    /// Move everything to the other database, which must be empty.
    Move(Move),
    /// Bring the tables up to date, and do nothing else.
    Migrate,
    /// Spread the tables over the machines of a distributed PostgreSQL, each co-operative on one.
    Spread(Spread),
    /// Hand over what is held about a member, or erase what is personal.
    Person(Person),
    /// Open co-operatives' sums to a programme reader, or close them.
    Programme(crate::commands::programme::Programme),
    /// Move replaced versions of old years into a file, or show what such a file holds.
    History(crate::commands::history::History),
    /// Build the kept month sums anew from the records and say whether they agreed; follow the chain
    /// of the security log.
    Check(Chosen),
    /// Write the manual of each command and completions of shells into a folder.
    #[command(hide = true)]
    Manual {
        /// The folder.
        folder: PathBuf,
    },
    /// Print what a text message would record and be answered; nothing is written.
    Text(crate::commands::text::Text),
    /// Carry text messages between a server and a modem, kannel or an aggregator.
    Carry(crate::commands::carry::Carry),
    /// Print the OpenAPI document, or another part of the interface's description.
    Openapi {
        /// Which part.
        #[arg(long, value_enum, default_value = "document")]
        part: Part,
    },
}

/// Arguments of `person`.
#[derive(clap::Args)]
pub struct Person {
    /// What to do.
    #[command(subcommand)]
    pub what: PersonDo,
}

/// What is done about a member.
#[derive(clap::Subcommand)]
pub enum PersonDo {
    /// Write everything that is held about a member as JSON.
    Export {
        /// Membership number.
        number: String,
        /// File to write; standard output where none is given.
        #[arg(long)]
        out: Option<PathBuf>,
        /// Which co-operative.
        #[command(flatten)]
        chosen: Chosen,
    },
    /// Empty name, telephone, places, pictures and free texts of a member who left. It can not be
    /// undone.
    Erase {
        /// Membership number.
        number: String,
        /// Who asked for it and when.
        #[arg(long)]
        reason: String,
        /// Which co-operative.
        #[command(flatten)]
        chosen: Chosen,
    },
}

/// Arguments of `demo`.
#[derive(clap::Args)]
pub struct Demo {
    /// small (24 farms, 14 months), medium (60, 24), large (2,000, 36) or huge (10,000, 12).
    #[arg(long, default_value = "small")]
    pub size: String,
    /// Whole months of history, where it is to be another number than the size's; for measuring.
    #[arg(long, hide = true, value_parser = clap::value_parser!(u16).range(8..=120))]
    pub months: Option<u16>,
    /// The same seed and day give the same records.
    #[arg(long, default_value_t = 1)]
    pub seed: u64,
    /// Day that the history leads up to, YYYY-MM-DD; yesterday where none is given.
    #[arg(long)]
    pub today: Option<String>,
    /// Stop after the report.
    #[arg(long)]
    pub no_serve: bool,
    /// Where to listen.
    #[command(flatten)]
    pub serve: Serve,
}

/// Where `serve` listens if nothing else is said.
pub const LISTEN: &str = "127.0.0.1:8080";

/// Arguments of `serve`.
#[derive(clap::Args)]
pub struct Serve {
    /// Address to listen on.
    #[arg(long, env = "TRAYBOOK_LISTEN", default_value = LISTEN)]
    pub listen: String,
    /// Threads that answer; as many as processors where none is given.
    #[arg(long)]
    pub workers: Option<usize>,
    /// Connections to the database.
    #[arg(long, env = "TRAYBOOK_CONNECTIONS", default_value_t = CONNECTIONS, value_parser = clap::value_parser!(u16).range(2..=500))]
    pub connections: u16,
    /// Leave the tables as they are, and do not start where they are of an older version.
    #[arg(long, env = "TRAYBOOK_NO_MIGRATE")]
    pub no_migrate: bool,
    /// Only answer questions, from a standby or a database that another server writes.
    #[arg(long, env = "TRAYBOOK_READ_ONLY", conflicts_with_all = ["backup", "gammu"])]
    pub read_only: bool,
    /// Seconds to go on after being stopped while the server says that it is not ready.
    #[arg(long, env = "TRAYBOOK_DRAIN", value_name = "SECONDS", default_value_t = 0)]
    pub drain: u64,
    /// A proxy in front tells the client's address in X-Forwarded-For.
    #[arg(long, env = "TRAYBOOK_BEHIND_PROXY")]
    pub behind_proxy: bool,
    /// Address under which people reach the server, such as https://records.example.org; for what
    /// leads to it: invitations, labels, calendars. The address to listen on where none is given.
    #[arg(long, env = "TRAYBOOK_PUBLIC_ADDRESS", value_parser = public_address)]
    pub public_address: Option<String>,
    /// With which certificate it speaks TLS.
    #[command(flatten)]
    pub tls: crate::tls::Tls,
    /// Folder that backups go to; none are made where none is given.
    #[arg(long, value_name = "FOLDER", env = "TRAYBOOK_BACKUP")]
    pub backup: Option<PathBuf>,
    /// Hours between two backups.
    #[arg(long, env = "TRAYBOOK_BACKUP_HOURS", default_value_t = 24, value_parser = clap::value_parser!(u16).range(1..=744))]
    pub backup_hours: u16,
    /// How backups are made.
    #[command(flatten)]
    pub backup_with: BackupFolder,
    /// What text messages are carried to and from on this machine.
    #[command(flatten)]
    pub carry: crate::commands::carry::Ends,
}

/// Reads scheme, host and port, and nothing else.
fn public_address(text: &str) -> Result<String, String> {
    let wrong = || "give scheme and host, such as https://records.example.org".to_owned();
    let address = text.strip_suffix('/').unwrap_or(text);
    let (scheme, host) = address.split_once("://").ok_or_else(wrong)?;
    let is_host = |c: char| c.is_ascii_alphanumeric() || "-.:[]".contains(c);
    let is_right =
        matches!(scheme, "http" | "https") && !host.is_empty() && host.chars().all(is_host);
    is_right.then(|| address.to_ascii_lowercase()).ok_or_else(wrong)
}

/// Arguments of `found`.
#[derive(clap::Args)]
pub struct Found {
    /// Name of the co-operative.
    #[arg(long)]
    pub name: String,
    /// Currency, ISO 4217.
    #[arg(long)]
    pub currency: String,
    /// IANA time zone.
    #[arg(long)]
    pub zone: String,
    /// Language, by its tag.
    #[arg(long, default_value = Language::SOURCE.tag())]
    pub language: String,
    /// First day on which records are expected, YYYY-MM-DD.
    #[arg(long)]
    pub started_on: String,
    /// E-mail address of the operator.
    #[arg(long)]
    pub operator_email: String,
    /// E-mail address of the manager.
    #[arg(long)]
    pub manager_email: String,
    /// Address under which people will reach the server; where `serve` listens if none is given.
    #[arg(long, env = "TRAYBOOK_PUBLIC_ADDRESS", value_parser = public_address)]
    pub public_address: Option<String>,
}

/// How backups are made.
#[derive(Clone, clap::Args)]
pub struct BackupFolder {
    /// Encrypt backups for this recipient of age (age1…). Only its identity opens them.
    #[arg(long, env = "TRAYBOOK_BACKUP_RECIPIENT")]
    pub backup_recipient: Option<String>,
    /// Remove backups that are older than so many days; the newest three always stay.
    #[arg(long, env = "TRAYBOOK_BACKUP_KEEP_DAYS")]
    pub backup_keep_days: Option<u16>,
}

/// Arguments of `restore`.
#[derive(clap::Args)]
pub struct Restore {
    /// The backup, or a SQLite file that somebody copied.
    #[arg(required_unless_present = "by_other_tools")]
    pub file: Option<PathBuf>,
    /// A file with the identity of age that opens it.
    #[arg(long)]
    pub identity: Option<PathBuf>,
    /// The database was restored by its own tools, such as pg_restore: check it, end all sign-ins,
    /// and let devices send everything again. Stop the server first.
    #[arg(long, conflicts_with = "file")]
    pub by_other_tools: bool,
}

/// Arguments of `move`.
#[derive(clap::Args)]
pub struct Move {
    /// The empty database: sqlite:PATH or postgres://USER@HOST/NAME.
    #[arg(long)]
    pub to: String,
}

/// Arguments of `spread`.
#[derive(clap::Args)]
pub struct Spread {
    /// Only say which tables lie on one machine alone.
    #[arg(long)]
    pub check: bool,
}

/// Which co-operative.
#[derive(clap::Args)]
pub struct Chosen {
    /// Name or id of the co-operative, where the database holds several.
    #[arg(long)]
    pub cooperative: Option<String>,
}

/// Arguments of `import`.
#[derive(clap::Args)]
pub struct Import {
    /// A folder of CSV and XLSX files, or one file.
    pub folder: PathBuf,
    /// Check everything and keep nothing.
    #[arg(long)]
    pub dry_run: bool,
    /// Take the rows that can be taken, and leave the others out.
    #[arg(long)]
    pub good_rows: bool,
    /// Folder for files of the refused rows, with the reason in a column.
    #[arg(long, value_name = "FOLDER")]
    pub refused: Option<PathBuf>,
    /// What comes first in 5/3/2026, where the files do not show it.
    #[arg(long, value_enum)]
    pub days: Option<Days>,
    /// The mark of decimals, where the files do not show it.
    #[arg(long, value_enum)]
    pub decimals: Option<Decimals>,
    /// Where a column goes, or with nothing behind the sign: nowhere. May stand several times.
    #[arg(long, value_name = "HEADER=FIELD", value_parser = pair)]
    pub column: Vec<(String, String)>,
    /// The value of a field in all rows, where no column gives it. May stand several times.
    #[arg(long, value_name = "FIELD=VALUE", value_parser = pair)]
    pub fill: Vec<(String, String)>,
    /// Which co-operative.
    #[command(flatten)]
    pub chosen: Chosen,
}

fn pair(text: &str) -> Result<(String, String), String> {
    let (name, value) = text.split_once('=').ok_or("write it with a =")?;
    Ok((name.trim().to_owned(), value.trim().to_owned()))
}

/// What comes first in a day written in figures.
#[derive(Clone, Copy, clap::ValueEnum)]
pub enum Days {
    /// 5/3 is the fifth of March.
    DayFirst,
    /// 5/3 is the third of May.
    MonthFirst,
}

impl From<Days> for traybook_sheets::days::DayOrder {
    fn from(days: Days) -> Self {
        match days {
            Days::DayFirst => Self::DayFirst,
            Days::MonthFirst => Self::MonthFirst,
        }
    }
}

/// The mark of decimals.
#[derive(Clone, Copy, clap::ValueEnum)]
pub enum Decimals {
    /// 1,250 is one and a quarter.
    Comma,
    /// 1,250 is one thousand two hundred and fifty.
    Point,
}

impl From<Decimals> for char {
    fn from(mark: Decimals) -> Self {
        match mark {
            Decimals::Comma => ',',
            Decimals::Point => '.',
        }
    }
}

/// Arguments of `export`.
#[derive(clap::Args)]
pub struct Export {
    /// A folder that is empty or not there.
    pub folder: PathBuf,
    /// Which co-operative.
    #[command(flatten)]
    pub chosen: Chosen,
}

/// Arguments of `report`.
#[derive(clap::Args)]
pub struct Report {
    /// Which report.
    #[arg(value_enum, default_value = "savings")]
    pub name: ReportName,
    /// Month, YYYY-MM; the last that is over where none is given.
    #[arg(long)]
    pub month: Option<String>,
    /// First month of a workbook of several months that ends with `--month`, YYYY-MM.
    #[arg(long)]
    pub from: Option<String>,
    /// Leave out names of members and farms in a paper, for a meeting of all.
    #[arg(long)]
    pub anonymous: bool,
    /// Form.
    #[arg(long, value_enum, default_value = "table")]
    pub format: ReportFormat,
    /// Language of a table, workbook or PDF.
    #[arg(long, value_parser = language, default_value = Language::SOURCE.tag())]
    pub language: Language,
    /// File to write; standard output where none is given.
    #[arg(long)]
    pub out: Option<PathBuf>,
    /// Which co-operative.
    #[command(flatten)]
    pub chosen: Chosen,
}

/// Reads a language by its tag.
fn language(tag: &str) -> Result<Language, String> {
    Language::tagged(tag).ok_or_else(|| format!("give {}", Language::tags()))
}

/// Arguments of `work`.
#[derive(clap::Args)]
pub struct Work {
    /// Code of a farm; all farms where none is given.
    #[arg(long)]
    pub farm: Option<String>,
    /// Name of an area, with everything below it.
    #[arg(long, conflicts_with = "farm")]
    pub area: Option<String>,
    /// Day, YYYY-MM-DD; today where none is given.
    #[arg(long)]
    pub date: Option<String>,
    /// Days on a sheet (csv, html), from that day on.
    #[arg(long, default_value_t = 1)]
    pub days: u8,
    /// Form.
    #[arg(long, value_enum, default_value = "table")]
    pub format: WorkFormat,
    /// Which co-operative.
    #[command(flatten)]
    pub chosen: Chosen,
}

/// Forms of the work list.
#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum WorkFormat {
    /// For reading.
    Table,
    /// JSON.
    Json,
    /// CSV.
    Csv,
    /// A page to print.
    Html,
}

/// Arguments of `seed`.
#[derive(clap::Args)]
pub struct Seed {
    /// What to print.
    #[command(subcommand)]
    pub asked: SeedAsked,
}

/// What `seed` prints.
#[derive(Subcommand)]
pub enum SeedAsked {
    /// What every farm owes for seed, or one farm's statement.
    Account {
        /// Code of a farm.
        #[arg(long)]
        farm: Option<String>,
        /// First day, YYYY-MM-DD.
        #[arg(long, requires = "farm")]
        from: Option<String>,
        /// Last day, YYYY-MM-DD.
        #[arg(long, requires = "farm")]
        to: Option<String>,
        /// How it is printed.
        #[command(flatten)]
        shown: Shown,
    },
    /// A lot to the animals fed, or a batch back to the purchase.
    Trace {
        /// Code of a seed lot.
        #[arg(long, required_unless_present = "batch", conflicts_with = "batch")]
        lot: Option<String>,
        /// Code of a batch.
        #[arg(long)]
        batch: Option<String>,
        /// How it is printed.
        #[command(flatten)]
        shown: Shown,
    },
    /// Suppliers by price, germination and spoilage.
    Suppliers {
        /// First day of delivery, YYYY-MM-DD.
        #[arg(long)]
        from: Option<String>,
        /// Last day of delivery, YYYY-MM-DD.
        #[arg(long)]
        to: Option<String>,
        /// How it is printed.
        #[command(flatten)]
        shown: Shown,
    },
    /// How much seed the plans will take, what to issue where, and what to buy when.
    Forecast {
        /// Weeks ahead, 1 to 12.
        #[arg(long, default_value_t = 8)]
        weeks: u8,
        /// How it is printed.
        #[command(flatten)]
        shown: Shown,
    },
    /// What contradicts itself across records, or looks unlikely.
    Review {
        /// Code of a farm.
        #[arg(long)]
        farm: Option<String>,
        /// One rule.
        #[arg(long)]
        rule: Option<String>,
        /// The accepted findings instead of the open ones.
        #[arg(long)]
        accepted: bool,
        /// How it is printed.
        #[command(flatten)]
        shown: Shown,
    },
}

/// Form and co-operative of what is printed.
#[derive(clap::Args)]
pub struct Shown {
    /// Form.
    #[arg(long, value_enum, default_value = "table")]
    pub format: Format,
    /// Which co-operative.
    #[command(flatten)]
    pub chosen: Chosen,
}

/// Reports.
#[derive(Clone, Copy, ValueEnum)]
pub enum ReportName {
    /// What the fodder really saved.
    Savings,
    /// The paper for a meeting: PDF or JSON.
    Board,
}

/// Forms of a report.
#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Format {
    /// For reading.
    Table,
    /// JSON.
    Json,
    /// CSV.
    Csv,
}

/// Forms of the savings report.
#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum ReportFormat {
    /// For reading.
    Table,
    /// JSON.
    Json,
    /// CSV.
    Csv,
    /// Workbook.
    Xlsx,
    /// PDF.
    Pdf,
}

/// Parts of the interface's description.
#[derive(Clone, Copy, ValueEnum)]
pub enum Part {
    /// The OpenAPI document.
    Document,
    /// One line an operation.
    Routes,
    /// Problem codes.
    Problems,
    /// Who may do what.
    Policy,
}

#[cfg(test)]
mod tests {
    use super::public_address;

    #[test]
    fn a_public_address_is_scheme_and_host() {
        for (given, read) in [
            ("https://records.example.org/", "https://records.example.org"),
            ("http://[::1]:8080", "http://[::1]:8080"),
            ("https://Records.Example.org", "https://records.example.org"),
        ] {
            assert_eq!(public_address(given).as_deref(), Ok(read));
        }
        for wrong in ["records.example.org", "ftp://x", "https://", "https://x/y", "https://a b"] {
            assert!(public_address(wrong).is_err(), "{wrong}");
        }
    }
}
