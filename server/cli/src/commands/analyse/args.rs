//! Arguments of `analyse`.

use clap::{Parser, Subcommand, ValueEnum};
use std::path::PathBuf;
use traybook_analytics::callaway::Control;
use traybook_analytics::records::Output;

/// Arguments of `analyse`.
#[derive(clap::Args)]
pub struct Analyse {
    /// What to ask.
    #[command(subcommand)]
    pub question: Question,
}

#[derive(Subcommand)]
pub enum Question {
    /// Did output really change? Records of farms, or a ready panel.
    OutputChange(OutputChange),
    /// Which farms keep spoiling trays?
    Spoilage(Spoilage),
    /// Is it the seed lot or the farm?
    Lots(Lots),
    /// What was really saved on feed?
    Saving(Saving),
}

/// Form of the answer.
#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Form {
    /// JSON.
    Json,
    /// CSV: one row an estimate.
    Csv,
}

/// The file and the form of the answer.
#[derive(Parser)]
pub struct Common {
    /// CSV file; the columns are described in server/cli/ANALYSE.md.
    pub file: PathBuf,
    /// Form of the answer.
    #[arg(long, value_enum, default_value = "json")]
    pub format: Form,
}

/// Arguments of `analyse output-change`.
#[derive(clap::Args)]
pub struct OutputChange {
    /// File and form.
    #[command(flatten)]
    pub common: Common,
    /// The file is a ready panel: one row a farm and period with the logarithm of the value.
    #[arg(long)]
    pub panel: bool,
    /// What the animals give; milk for records where nothing is said.
    #[arg(long, value_enum)]
    pub enterprise: Option<Enterprise>,
    /// How to estimate.
    #[arg(long, value_enum, default_value = "member")]
    pub method: Method,
    /// Who serves as comparison in the group-time effects.
    #[arg(long, value_enum, default_value = "not-yet")]
    pub control: ControlName,
    /// First period after the start that the averages of group-time effects count; 0 is the
    /// period of the start.
    #[arg(long, default_value_t = 0)]
    pub event_min: u16,
    /// Column of the farm [default: farm].
    #[arg(long)]
    pub id: Option<String>,
    /// Column of the day (records) or period (panel) [default: date, or period].
    #[arg(long)]
    pub period: Option<String>,
    /// Column of the output (records) or its logarithm (panel) [default: output, or log_value].
    #[arg(long)]
    pub value: Option<String>,
    /// Column of the day (records) or period (panel) of the farm's start [default: started_on].
    #[arg(long)]
    pub group: Option<String>,
    /// Column of the animals in production, of records [default: animals].
    #[arg(long)]
    pub animals: Option<String>,
    /// Column of days in milk or weeks of age, of records [default: stage, if there].
    #[arg(long)]
    pub stage: Option<String>,
    /// Column of the order of entry, of records [default: entered, if there].
    #[arg(long)]
    pub entered: Option<String>,
    /// Column of the number of records behind a value, of a panel [default: records, if there].
    #[arg(long)]
    pub records: Option<String>,
    /// Second CSV file of farms and their starts.
    #[arg(long)]
    pub starts: Option<PathBuf>,
}

/// Enterprises.
#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Enterprise {
    /// Litres of milk; stage is days in milk.
    Milk,
    /// Eggs; stage is weeks of age.
    Eggs,
}

impl Enterprise {
    /// As the estimates call it.
    pub fn output(self) -> Output {
        match self {
            Self::Milk => Output::Milk,
            Self::Eggs => Output::Eggs,
        }
    }
}

/// Methods of `analyse output-change`.
#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum Method {
    /// Each farm, and the programme.
    Member,
    /// Effects of each start group in each period, and their averages.
    GroupTime,
}

/// Comparisons.
#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum ControlName {
    /// Farms that never start in the file.
    Never,
    /// Farms that have not started yet.
    NotYet,
}

impl ControlName {
    /// As the estimates call it.
    pub fn control(self) -> Control {
        match self {
            Self::Never => Control::NeverStarted,
            Self::NotYet => Control::NotYetStarted,
        }
    }

    /// As an answer calls it.
    pub fn word(self) -> &'static str {
        match self {
            Self::Never => "never_started",
            Self::NotYet => "not_yet_started",
        }
    }
}

/// Arguments of `analyse spoilage`.
#[derive(clap::Args)]
pub struct Spoilage {
    /// File and form.
    #[command(flatten)]
    pub common: Common,
    /// Column of the farm.
    #[arg(long, default_value = "farm")]
    pub farm: String,
    /// Column of the batch.
    #[arg(long, default_value = "batch")]
    pub batch: String,
    /// Column of the batch's day.
    #[arg(long, default_value = "date")]
    pub date: String,
    /// Column of the trays started.
    #[arg(long, default_value = "started")]
    pub started: String,
    /// Column of the trays discarded.
    #[arg(long, default_value = "discarded")]
    pub discarded: String,
    /// Column of the temperature class [default: temperature_class, if there].
    #[arg(long)]
    pub temperature_class: Option<String>,
    /// Column of the seed lot [default: lot, if there].
    #[arg(long)]
    pub lot: Option<String>,
}

/// Arguments of `analyse lots`.
#[derive(clap::Args)]
pub struct Lots {
    /// File and form.
    #[command(flatten)]
    pub common: Common,
    /// Column of the farm.
    #[arg(long, default_value = "farm")]
    pub farm: String,
    /// Column of the seed lot.
    #[arg(long, default_value = "lot")]
    pub lot: String,
    /// Column of the trays started.
    #[arg(long, default_value = "started")]
    pub started: String,
    /// Column of the trays discarded.
    #[arg(long, default_value = "discarded")]
    pub discarded: String,
    /// Column of the batch's day [default: date, if there].
    #[arg(long)]
    pub date: Option<String>,
    /// First day that counts, YYYY-MM-DD.
    #[arg(long)]
    pub from: Option<String>,
    /// Last day that counts, YYYY-MM-DD.
    #[arg(long)]
    pub to: Option<String>,
}

/// Arguments of `analyse saving`.
#[derive(clap::Args)]
pub struct Saving {
    /// File and form.
    #[command(flatten)]
    pub common: Common,
    /// What the amounts are in, for the answer's words.
    #[arg(long, default_value = "money units")]
    pub currency: String,
    /// Column of the farm.
    #[arg(long, default_value = "farm")]
    pub farm: String,
    /// Column of the month.
    #[arg(long, default_value = "month")]
    pub month: String,
    /// Column of the feed.
    #[arg(long, default_value = "feed")]
    pub feed: String,
    /// Column of the quantity fed.
    #[arg(long, default_value = "quantity")]
    pub quantity: String,
    /// Column of the price.
    #[arg(long, default_value = "price")]
    pub price: String,
    /// Column of the month's other costs.
    #[arg(long, default_value = "other_cost")]
    pub other_cost: String,
    /// Column of the month's animal-days.
    #[arg(long, default_value = "animal_days")]
    pub animal_days: String,
    /// Column of the farm's start.
    #[arg(long, default_value = "started_on")]
    pub started_on: String,
    /// Column of the month's output [default: output, if there].
    #[arg(long)]
    pub output: Option<String>,
}
