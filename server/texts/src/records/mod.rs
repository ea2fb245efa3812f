//! The records of a text, held against what is known of the farm. The first thing that is missing,
//! has two meanings, is far from usual or impossible stops all records of the text.

mod collected;
mod work;

use crate::answers;
use crate::clauses::{Clause, Clauses, Day};
use crate::figures::{Figure, Number};
use crate::scene::{Farm, Given, Question, Record, Scene, What};
use crate::words::{Opening, Task, Unit};
use chrono::{Datelike as _, NaiveDate};
use traybook_domain::time::minus_days;
use traybook_speech::Language;

/// Days back that a text may record: older days need the book in front of one.
pub const DAYS_BACK_MAX: i64 = 7;
/// A figure so many times the usual is asked back.
pub const MUCH: i64 = 5;
/// The same as halves: two and a half times.
pub const MUCH_OF: i64 = 2;
/// A figure below one of so many parts of the usual is asked back.
pub const LITTLE: i64 = 5;
/// Choices that one question offers.
const OPTIONS_MAX: usize = 9;

/// Why nothing is recorded.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Halt {
    /// It can not be; else it is asked.
    pub refuses: bool,
    pub answer: String,
    pub question: Option<Question>,
}

impl Halt {
    pub(crate) fn ask(answer: String) -> Self {
        Self { refuses: false, answer, question: None }
    }

    pub(crate) fn refuse(answer: String) -> Self {
        Self { refuses: true, answer, question: None }
    }

    fn with(self, question: Question) -> Self {
        Self { question: Some(question), ..self }
    }
}

/// What a text's records are held against.
pub(crate) struct Cx<'a> {
    pub scene: &'a Scene,
    /// The day on which the text was written.
    pub said_on: NaiveDate,
    pub given: &'a [Given],
    /// Farm that the text names.
    pub farm: Option<String>,
    pub adds: bool,
    /// The text holds one record: what is missing may come alone.
    pub is_single: bool,
}

/// The records of a text.
pub(crate) fn records(
    clauses: &Clauses,
    scene: &Scene,
    said_on: NaiveDate,
    given: &[Given],
) -> Result<Vec<Record>, Halt> {
    let named = given.iter().find(|g| g.key == "farm").map(|g| g.value.clone());
    let cx = Cx {
        scene,
        said_on,
        given,
        farm: clauses.farm.clone().or(named),
        adds: clauses.adds,
        is_single: clauses.all.len() == 1,
    };
    let mut out: Vec<Record> = Vec::new();
    for (at, clause) in clauses.all.iter().enumerate() {
        let made = match clause.of {
            Opening::Milk => vec![cx.milk(at, clause)?],
            Opening::Eggs => vec![cx.eggs(at, clause)?],
            Opening::Done => cx.done(at, clause)?,
            Opening::Work(Task::Harvest) => vec![cx.harvest(at, clause, None)?],
            Opening::Work(Task::Discard) => vec![cx.discard(at, clause, None)?],
            Opening::Work(task) => vec![cx.task(at, clause, task)?],
        };
        for record in made {
            if out.iter().any(|r| is_about_the_same(r, &record)) {
                return Err(Halt::ask(cx.text("t-twice")));
            }
            out.push(record);
        }
    }
    let mut farms: Vec<&String> = out.iter().map(|r| &r.farm).collect();
    farms.sort_unstable();
    farms.dedup();
    if farms.len() > 1 {
        return Err(Halt::ask(cx.text("t-mixed")));
    }
    Ok(out)
}

/// Whether two records of one text speak of the same milking, flock, batch or line.
fn is_about_the_same(a: &Record, b: &Record) -> bool {
    use crate::words::Session;
    if a.farm != b.farm {
        return false;
    }
    let same_day = a.date == b.date;
    match (&a.what, &b.what) {
        (What::Milk { group: g, session: s, .. }, What::Milk { group: h, session: t, .. }) => {
            same_day && g == h && (s == t || *s == Session::Day || *t == Session::Day)
        }
        (What::Eggs { group: g, .. }, What::Eggs { group: h, .. }) => same_day && g == h,
        (What::Harvest { batch: b, .. }, What::Harvest { batch: c, .. })
        | (What::Discard { batch: b, .. }, What::Discard { batch: c, .. }) => b == c,
        (What::Work { line: l, .. }, What::Work { line: m, .. }) => l == m,
        _ => false,
    }
}

impl Cx<'_> {
    pub(super) fn language(&self) -> Language {
        self.scene.language
    }

    fn text(&self, key: &str) -> String {
        self.language().text(key)
    }

    /// What was answered to a question about a record of the text.
    fn answered(&self, key: &str, at: usize) -> Option<&str> {
        let key = format!("{key}.{at}");
        self.given.iter().find(|g| g.key == key).map(|g| g.value.as_str())
    }

    /// The farms that may be meant.
    fn farms(&self) -> impl Iterator<Item = &Farm> {
        let meant = |f: &&Farm| self.farm.as_ref().is_none_or(|code| *code == f.code);
        self.scene.farms.iter().filter(meant)
    }

    /// The day of a record.
    fn day(&self, day: Option<Day>) -> Result<NaiveDate, Halt> {
        let today = self.scene.today;
        let date = match day {
            None => Some(self.said_on),
            Some(Day::Ago(days)) if days < 0 => return Err(Halt::refuse(self.text("t-future"))),
            Some(Day::Ago(days)) => {
                Some(minus_days(self.said_on, u64::try_from(days).unwrap_or(0)))
            }
            Some(Day::On { day, month, year }) => on(today, day, month, year),
        };
        let date = date.ok_or_else(|| Halt::ask(self.text("t-no-day")))?;
        if date > today {
            return Err(Halt::refuse(self.text("t-future")));
        }
        if (today - date).num_days() > DAYS_BACK_MAX {
            let days = DAYS_BACK_MAX;
            return Err(Halt::refuse(self.language().with("t-old", "days", days)));
        }
        Ok(date)
    }

    /// Asks for one of several; an answer that was given already chooses.
    fn choose<'x, T>(
        &self,
        (key, at, ask): (&str, usize, &str),
        all: &'x [T],
        name: impl Fn(&T) -> String,
        label: impl Fn(&T) -> String,
    ) -> Result<&'x T, Halt> {
        if let Some(given) = self.answered(key, at)
            && let Some(found) = all.iter().find(|x| name(x) == given)
        {
            return Ok(found);
        }
        let shown = all.get(..OPTIONS_MAX.min(all.len())).unwrap_or_default();
        let options = shown.iter().map(&name).collect();
        let labels: Vec<String> = shown.iter().map(&label).collect();
        let answer = answers::choice(self.language(), &self.text(ask), &labels);
        Err(Halt::ask(answer).with(Question::Choice { key: format!("{key}.{at}"), options }))
    }

    /// Asks which farm, where several may be meant.
    fn farm_of<T>(&self, all: &[(&Farm, T)]) -> Result<(), Halt> {
        let mut farms: Vec<&str> = all.iter().map(|(f, _)| f.code.as_str()).collect();
        farms.dedup();
        if farms.len() < 2 {
            return Ok(());
        }
        let options: Vec<String> = farms.iter().map(|f| (*f).to_owned()).collect();
        let answer = answers::choice(self.language(), &self.text("t-which-farm"), &options);
        Err(Halt::ask(answer).with(Question::Choice { key: "farm".to_owned(), options }))
    }

    /// Asks whether a figure is right, unless that was said.
    fn sure(&self, at: usize, answer: impl FnOnce() -> String) -> Result<bool, Halt> {
        if self.answered("sure", at).is_some() {
            return Ok(true);
        }
        Err(Halt::ask(answer()).with(Question::Sure { key: format!("sure.{at}") }))
    }

    /// A figure is missing: it may come alone, where the text holds one record.
    fn missing(&self, key: &str) -> Halt {
        let halt = Halt::ask(self.text(key));
        if self.is_single { halt.with(Question::Amount) } else { halt }
    }

    /// A figure of a measure, in thousandths.
    fn measured(&self, figure: &Figure) -> Result<i64, Halt> {
        figure.quantity().ok_or_else(|| self.not_clear(figure))
    }

    /// A figure that counts pieces.
    fn counted(&self, figure: &Figure, key: &str) -> Result<i64, Halt> {
        let thousandths = figure.pieces().ok_or_else(|| self.not_clear(figure))?;
        if thousandths % 1_000 != 0 {
            let figure = figure.raw.as_str();
            return Err(Halt::ask(self.language().with(key, "figure", figure)));
        }
        Ok(thousandths / 1_000)
    }

    fn not_clear(&self, figure: &Figure) -> Halt {
        let raw = figure.raw.as_str();
        let key = match figure.number {
            Number::Grouped(_) => "t-grouped",
            _ => "t-odd-figure",
        };
        Halt::ask(self.language().with(key, "figure", raw))
    }

    /// The figure of a measure or the bare one: there is at most one of both.
    fn figure<'x>(&self, clause: &'x Clause, unit: Unit) -> Option<&'x Figure> {
        let of = clause.units.iter().find(|(u, _)| *u == unit).map(|(_, f)| f);
        of.or_else(|| if clause.units.is_empty() { clause.bare.first() } else { None })
    }

    /// The figure that stands beside a measure.
    fn beside<'x>(&self, clause: &'x Clause, unit: Unit) -> Option<&'x Figure> {
        clause.units.iter().find(|(u, _)| *u == unit).map(|(_, f)| f)
    }
}

/// A day and month: of this year, or of the last where this year's is far ahead.
fn on(today: NaiveDate, day: i64, month: i64, year: Option<i64>) -> Option<NaiveDate> {
    let (day, month) = (u32::try_from(day).ok()?, u32::try_from(month).ok()?);
    let of = |year: i32| NaiveDate::from_ymd_opt(year, month, day);
    match year {
        Some(year) => of(i32::try_from(if year < 100 { year + 2_000 } else { year }).ok()?),
        None => {
            let this = of(today.year());
            let is_far = this.is_none_or(|d| (d - today).num_days() > 180);
            if is_far { of(today.year() - 1).or(this) } else { this }
        }
    }
}

/// Whether a figure is far from the usual. Common practice, no source: the bounds are those of the
/// design, tried on made-up weeks.
fn is_far(value: i64, usual: i64) -> bool {
    value == 0 || value * MUCH_OF > usual * MUCH || value * LITTLE < usual
}
