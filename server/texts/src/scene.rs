//! What is known when a text is read: the member's farms, what stands and what was said before.

use crate::words::{Animal, Session, Task, fold};
use chrono::NaiveDate;
use serde::{Deserialize, Serialize};
use traybook_speech::Language;

/// What is known of who writes.
#[derive(Clone, Debug)]
pub struct Scene {
    /// Whether the number is one of ours.
    pub known: bool,
    /// The number's language.
    pub language: Language,
    /// Today in the co-operative's zone.
    pub today: NaiveDate,
    /// Farms of the number.
    pub farms: Vec<Farm>,
    /// Milk and eggs written of the last days.
    pub written: Vec<Written>,
    /// The question that is open.
    pub pending: Option<Pending>,
    /// What the last recorded text made and may be taken back.
    pub last: Vec<Record>,
    /// Whether a list with numbers was sent that still holds.
    pub listed: bool,
    /// Whether reminders are stopped.
    pub stopped: bool,
    /// Names of the co-operatives that the number may mean; one or none where that is decided.
    pub coops: Vec<String>,
    /// Members who share the number.
    pub members: usize,
    /// Whether saving and debt may be answered to this number.
    pub may_money: bool,
    /// Texts of the last minutes that made records, by [`same_text`].
    pub recent: Vec<String>,
}

/// A text as it is compared with another one.
#[must_use]
pub fn same_text(text: &str) -> String {
    text.split_whitespace().map(|w| w.to_lowercase()).collect::<Vec<_>>().join(" ")
}

#[derive(Clone, Debug, Default)]
pub struct Farm {
    pub code: String,
    pub groups: Vec<Group>,
    /// Lines of today's list, and of the list sent last.
    pub lines: Vec<Line>,
    /// Batches on trays.
    pub standing: Vec<Standing>,
    /// Fed and lost this month.
    pub month: Option<MonthSoFar>,
}

/// A group of animals.
#[derive(Clone, Debug)]
pub struct Group {
    pub code: String,
    pub animal: Animal,
    /// Animals in milk, or hens.
    pub animals: i64,
    /// Median of a week's days: ml, or eggs times 1000.
    pub usual: Option<i64>,
}

/// How a line stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum State {
    Late,
    Open,
    Done,
}

/// Why something must not be fed or soaked.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Caution {
    /// Mould was seen.
    Mould,
    /// Its seed lot is held.
    Held,
    /// Past its day.
    OverAge,
}

/// A line of work.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Line {
    /// Its number in the list sent last.
    pub n: Option<i64>,
    pub task: Task,
    /// Code of the batch.
    pub batch: Option<String>,
    /// Code of the group.
    pub group: Option<String>,
    pub trays: Option<i64>,
    /// Dry seed to soak, drain or spread; fresh fodder to feed.
    pub grams: Option<i64>,
    /// Name of the crop in records.
    pub crop: Option<String>,
    /// Which watering, and of how many.
    pub watering: Option<(i64, i64)>,
    pub state: State,
    pub caution: Option<Caution>,
    /// Name by which it is recorded.
    pub line: String,
}

/// A batch on trays.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Standing {
    pub batch: String,
    pub trays: i64,
    pub harvest_on: Option<NaiveDate>,
}

/// What a month gave so far.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct MonthSoFar {
    /// Fresh fodder fed.
    pub grams: i64,
    pub trays_lost: i64,
    /// Trays harvested and lost.
    pub trays: i64,
}

/// Milk or eggs that are written.
#[derive(Clone, Debug)]
pub struct Written {
    /// Code of the group.
    pub group: String,
    pub date: NaiveDate,
    pub session: Session,
    /// ml, or eggs times 1000.
    pub amount: i64,
}

/// A record that a text asks for.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Record {
    /// Code of the farm.
    pub farm: String,
    pub date: NaiveDate,
    #[serde(flatten)]
    pub what: What,
}

/// What is recorded.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(tag = "kind", rename_all = "snake_case")]
pub enum What {
    Milk {
        group: String,
        animal: Animal,
        ml: i64,
        /// As the text has it; `ml` may be the sum with what was written before.
        said: i64,
        animals: i64,
        session: Session,
        again: Option<Again>,
        /// The writer has said that a figure far from the usual is right.
        is_sure: bool,
    },
    Eggs {
        group: String,
        /// Times 1000.
        eggs: i64,
        /// As the text has it, times 1000.
        said: i64,
        animals: i64,
        cracked: Option<i64>,
        again: Option<Again>,
        is_sure: bool,
    },
    Harvest {
        batch: String,
        grams: Option<i64>,
        trays: Option<i64>,
        line: Option<String>,
        is_mouldy: bool,
    },
    Discard {
        batch: String,
        grams: Option<i64>,
        trays: Option<i64>,
        cause: String,
        line: Option<String>,
    },
    Work {
        task: Task,
        n: Option<i64>,
        grams: Option<i64>,
        trays: Option<i64>,
        line: String,
    },
}

/// How a second amount stands to what is written; the amount of the record is the sum already.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Again {
    Add,
    Instead,
}

/// A question that waits for its answer.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Pending {
    /// The text that it is about.
    pub text: String,
    /// The day on which that was written: "yesterday" counts from it.
    pub said_on: NaiveDate,
    pub question: Question,
    /// What was answered to earlier questions about it.
    pub given: Vec<Given>,
}

impl Pending {
    /// The texts that wait for the choice of a co-operative, with the days on which they were said.
    #[must_use]
    pub fn waiting(&self) -> Vec<(NaiveDate, &str)> {
        let first = (self.said_on, self.text.as_str());
        let more = self.given.iter();
        let more = more.filter_map(|g| Some((g.key.parse().ok()?, g.value.as_str())));
        std::iter::once(first).chain(more).collect()
    }
}

#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Question {
    /// A figure that is missing.
    Amount,
    /// One of these, by number or by name.
    Choice { key: String, options: Vec<String> },
    /// Whether a figure is right.
    Sure { key: String },
    /// What a lonely figure is.
    Kind,
    /// Which co-operative is meant, by its place.
    Coop { many: usize },
}

/// An answer that was given.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Given {
    pub key: String,
    pub value: String,
}

impl Scene {
    /// A farm by its code.
    pub(crate) fn farm(&self, code: &str) -> Option<&Farm> {
        self.farms.iter().find(|f| f.code == code)
    }

    /// Whether answers must say which farm they are about.
    pub(crate) fn names_farm(&self) -> bool {
        self.farms.len() > 1 || self.members > 1
    }

    /// What a word names, if it is a code of this number's farms. Codes of batches and groups may be
    /// written without the farm's in front.
    pub(crate) fn code(&self, word: &str) -> Option<crate::tokens::Code> {
        use crate::tokens::Code;
        if word.is_empty() {
            return None;
        }
        for farm in &self.farms {
            if fold(&farm.code) == word {
                return Some(Code::Farm(farm.code.clone()));
            }
        }
        for farm in &self.farms {
            let is = |code: &str| fold(code) == word || fold(&short(code, &farm.code)) == word;
            if let Some(group) = farm.groups.iter().find(|g| is(&g.code)) {
                return Some(Code::Group(group.code.clone()));
            }
            if let Some(batch) = farm.batches().find(|b| is_code(b) && is(b)) {
                return Some(Code::Batch(batch.to_owned()));
            }
        }
        None
    }
}

/// Whether a text may be taken for a code: a figure alone is an amount.
fn is_code(text: &str) -> bool {
    text.chars().any(char::is_alphabetic)
}

/// A code without the farm's code in front.
#[must_use]
pub fn short(code: &str, farm: &str) -> String {
    let rest = code.strip_prefix(farm).and_then(|r| r.strip_prefix('-'));
    rest.filter(|r| !r.is_empty()).unwrap_or(code).to_owned()
}

impl Farm {
    /// Codes of its batches, standing or on the list.
    pub(crate) fn batches(&self) -> impl Iterator<Item = &str> {
        let standing = self.standing.iter().map(|s| s.batch.as_str());
        standing.chain(self.lines.iter().filter_map(|l| l.batch.as_deref()))
    }

    /// Trays of a batch: those that stand, or those of its line.
    pub(crate) fn trays_of(&self, batch: &str) -> Option<i64> {
        let standing = self.standing.iter().find(|s| s.batch == batch).map(|s| s.trays);
        let of = |l: &&Line| l.batch.as_deref() == Some(batch);
        standing.or_else(|| self.lines.iter().filter(of).find_map(|l| l.trays))
    }
}
