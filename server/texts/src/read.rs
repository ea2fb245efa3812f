//! Reading a text: what it asks for, what is recorded, what is answered.

use crate::answers::{self, KINDS, of_what};
use crate::clauses::{Fault, clauses};
use crate::figures::Figure;
use crate::gsm::{SEGMENT, fit};
use crate::records::{Halt, records};
use crate::scene::{Given, Pending, Question, Record, Scene, same_text};
use crate::tokens::{Code, Piece, pieces};
use crate::words::{Opening, Query, Talk, Unit, Word, cause, opening_word};
use chrono::NaiveDate;
use traybook_speech::Language;

/// What becomes of a text.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Outcome {
    /// Records are made.
    Record,
    /// Something is asked back; nothing is recorded.
    Ask,
    /// A question is answered.
    Answer,
    /// It can not be.
    Refuse,
    /// What the last text made is taken back.
    Undo,
    NothingToUndo,
    /// The officer is called.
    Officer,
    /// No reminders any more.
    Stop,
    /// Reminders again.
    Start,
    /// Another language.
    Language,
    /// The same text came twice.
    Repeat,
    /// Nothing in it is understood.
    Unclear,
    /// The number is none of ours.
    Unknown,
}

impl Outcome {
    #[must_use]
    pub const fn text(self) -> &'static str {
        match self {
            Self::Record => "record",
            Self::Ask => "ask",
            Self::Answer => "answer",
            Self::Refuse => "refuse",
            Self::Undo => "undo",
            Self::NothingToUndo => "nothing-to-undo",
            Self::Officer => "officer",
            Self::Stop => "stop",
            Self::Start => "start",
            Self::Language => "language",
            Self::Repeat => "repeat",
            Self::Unclear => "unclear",
            Self::Unknown => "unknown",
        }
    }
}

/// A question about a farm.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Asked {
    pub query: Query,
    /// Code of the farm; none for all.
    pub farm: Option<String>,
}

/// A text, read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Reading {
    pub outcome: Outcome,
    /// What is recorded, or taken back.
    pub records: Vec<Record>,
    /// What is answered, at most one segment. For saving and account it stands in for figures that
    /// the caller puts in.
    pub answer: String,
    /// The question that is open now.
    pub pending: Option<Pending>,
    /// What was asked for.
    pub asked: Option<Asked>,
    /// The language that was chosen.
    pub speaks: Option<Language>,
    /// The co-operative that was chosen, by its place. The rest of the reading holds for a caller
    /// whose scene is that co-operative's.
    pub coop: Option<usize>,
    /// The text that the records were read from, where it was asked back before.
    pub about: Option<String>,
}

/// Reads a text. No text is a call that nobody took: today's work.
#[must_use]
pub fn read(text: Option<&str>, scene: &Scene) -> Reading {
    read_of(text, scene.today, scene)
}

/// Reads a text that was kept while something was asked: its days count from the day on which it was
/// said.
#[must_use]
pub fn read_of(text: Option<&str>, said_on: NaiveDate, scene: &Scene) -> Reading {
    let mut reading = reader(text, said_on, scene);
    reading.answer = fit(&reading.answer, SEGMENT);
    reading
}

fn reader(text: Option<&str>, said_on: NaiveDate, scene: &Scene) -> Reading {
    let reader = Reader { scene, said_on, language: scene.language };
    if !scene.known {
        return reader.plain(Outcome::Unknown, "t-unknown");
    }
    let text = match text {
        Some(text) => text,
        None if scene.coops.len() > 1 => query_word(Query::Work, scene.language),
        None => return reader.query(Query::Work, None),
    };
    let pieces = pieces(text, &|word| scene.code(word));
    let alone = match pieces.as_slice() {
        [Piece::Word(word)] => Some(*word),
        _ => None,
    };
    if alone == Some(Word::Talk(Talk::Stop)) {
        return reader.plain(Outcome::Stop, "t-stopped");
    }
    if let Some(chosen) = reader.coop(text, &pieces) {
        return chosen;
    }
    if let Some(pending) = &scene.pending
        && let Some(reading) = reader.reply(pending, text, &pieces)
    {
        return reading;
    }
    reader.fresh(text, &pieces, alone)
}

/// Which co-operative of several a text chooses, by its place, where that is the open question.
#[must_use]
pub fn chosen_coop(text: &str, pending: &Pending, many: usize) -> Option<usize> {
    if !matches!(pending.question, Question::Coop { many: asked } if asked == many) {
        return None;
    }
    let pieces = pieces(text, &|_| None);
    let [Piece::Figure(figure)] = pieces.as_slice() else { return None };
    let at = usize::try_from(figure.whole()? - 1).ok()?;
    (at < many).then_some(at)
}

/// Further texts that wait for the same choice.
const WAITING_MAX: usize = 9;

/// Whether a text asks or records something, and is no answer to a choice.
fn says_something(pieces: &[Piece]) -> bool {
    let says = |p: &Piece| {
        matches!(p, Piece::Word(Word::Opening(_) | Word::Query(_) | Word::Officer | Word::Speak(_)))
    };
    pieces.iter().any(says)
}

struct Reader<'a> {
    scene: &'a Scene,
    said_on: NaiveDate,
    language: Language,
}

impl Reader<'_> {
    fn reading(&self, outcome: Outcome, answer: String) -> Reading {
        Reading {
            outcome,
            records: Vec::new(),
            answer,
            pending: None,
            asked: None,
            speaks: None,
            coop: None,
            about: None,
        }
    }

    fn pieces(&self, text: &str) -> Vec<Piece> {
        pieces(text, &|word| self.scene.code(word))
    }

    fn plain(&self, outcome: Outcome, key: &str) -> Reading {
        self.reading(outcome, self.language.text(key))
    }

    /// The same, with the open question left as it is.
    fn beside(&self, reading: Reading) -> Reading {
        Reading { pending: self.scene.pending.clone(), ..reading }
    }

    /// Which co-operative is meant, asked once.
    fn coop(&self, text: &str, pieces: &[Piece]) -> Option<Reading> {
        let names = &self.scene.coops;
        if names.len() < 2 {
            return None;
        }
        let open = self
            .scene
            .pending
            .as_ref()
            .filter(|p| matches!(p.question, Question::Coop { many } if many == names.len()));
        if let Some(open) = open
            && let Some(at) = chosen_coop(text, open, names.len())
        {
            // The text that was asked back is read for the chosen one.
            let chosen = Scene { coops: Vec::new(), pending: None, ..self.scene.clone() };
            let mut reading = reader(Some(&open.text), open.said_on, &chosen);
            reading.coop = Some(at);
            reading.about = Some(open.text.clone());
            return Some(reading);
        }
        let labels: Vec<String> = names.clone();
        let answer = answers::choice(self.language, &self.language.text("t-which-coop"), &labels);
        let mut reading = self.reading(Outcome::Ask, answer);
        let new = || Pending {
            text: text.to_owned(),
            said_on: self.said_on,
            question: Question::Coop { many: names.len() },
            given: Vec::new(),
        };
        let is_of_own = says_something(pieces);
        let says = |p: &&Pending| !is_of_own || says_something(&self.pieces(&p.text));
        let kept = open.filter(says);
        let mut pending = kept.cloned().unwrap_or_else(new);
        // What is said of its own while the question is open waits too.
        if kept.is_some() && is_of_own && pending.given.len() < WAITING_MAX {
            let given = Given { key: self.said_on.to_string(), value: text.to_owned() };
            pending.given.push(given);
        }
        reading.pending = Some(pending);
        Some(reading)
    }

    /// A text that answers the open question; none where it is about something else.
    fn reply(&self, pending: &Pending, text: &str, pieces: &[Piece]) -> Option<Reading> {
        let pieces: Vec<&Piece> =
            pieces.iter().filter(|p| !matches!(p, Piece::Word(Word::Filler))).collect();
        let said = (pending.text.as_str(), pending.said_on);
        let more = |key: &str, value: &str| {
            let given = Given { key: key.to_owned(), value: value.to_owned() };
            pending.given.iter().cloned().chain([given]).collect::<Vec<_>>()
        };
        if pieces.as_slice() == [&Piece::Word(Word::Talk(Talk::No))] {
            return Some(self.plain(Outcome::Answer, "t-dropped"));
        }
        let opens = |p: &&&Piece| {
            matches!(
                p,
                Piece::Word(
                    Word::Opening(_)
                        | Word::Query(_)
                        | Word::Talk(_)
                        | Word::Officer
                        | Word::Speak(_)
                )
            )
        };
        match &pending.question {
            Question::Sure { key } => match pieces.as_slice() {
                [Piece::Word(Word::Talk(Talk::Yes))] => {
                    Some(self.records(said.0, said.1, &more(key, "yes")))
                }
                _ => None,
            },
            Question::Choice { key, options } => {
                let value = chosen(&pieces, options)?;
                Some(match value {
                    Some(value) => self.records(said.0, said.1, &more(key, value)),
                    // A number that was not offered: the same question again.
                    None => self.records(said.0, said.1, &pending.given),
                })
            }
            Question::Amount => {
                let has_figure = pieces.iter().any(|p| matches!(p, Piece::Figure(_)));
                if !has_figure || pieces.iter().any(|p| opens(&p)) {
                    return None;
                }
                let whole = format!("{} {text}", said.0);
                Some(self.records(&whole, said.1, &pending.given))
            }
            Question::Kind => {
                let opening = match pieces.as_slice() {
                    [Piece::Figure(figure)] => {
                        let at = usize::try_from(figure.whole()? - 1).ok()?;
                        match KINDS.get(at) {
                            Some(kind) => *kind,
                            None => return None,
                        }
                    }
                    [Piece::Word(Word::Opening(opening))] => *opening,
                    _ => return None,
                };
                let word = match pieces.as_slice() {
                    [Piece::Word(_)] => text.to_owned(),
                    _ => opening_word(opening, self.language).to_owned(),
                };
                Some(self.records(&format!("{word} {}", said.0), said.1, &pending.given))
            }
            Question::Coop { .. } => None,
        }
    }

    /// A text that is about something of its own.
    fn fresh(&self, text: &str, pieces: &[Piece], alone: Option<Word>) -> Reading {
        if let Some(Word::Talk(talk)) = alone {
            return self.talk(talk);
        }
        if let Some(Word::Speak(is_swahili)) = alone {
            let language = if is_swahili { Language::Sw } else { Language::En };
            let mut reading = self.reading(Outcome::Language, language.text("t-language"));
            reading.speaks = Some(language);
            return self.beside(reading);
        }
        let has = |of: fn(&Word) -> bool| {
            pieces.iter().any(|p| matches!(p, Piece::Word(word) if of(word)))
        };
        let records = has(|w| matches!(w, Word::Opening(_)));
        let first = pieces.iter().find(|p| !matches!(p, Piece::Word(Word::Filler)));
        let calls = has(|w| *w == Word::Officer);
        if first == Some(&Piece::Word(Word::Officer)) || (calls && !records) {
            return self.beside(self.plain(Outcome::Officer, "t-officer"));
        }
        if has(|w| *w == Word::Talk(Talk::Stop)) {
            return self.plain(Outcome::Ask, "t-stop-alone");
        }
        if records {
            // The same text once more made its records before, unless it comes on top on purpose.
            let adds = has(|w| *w == Word::Add);
            if !adds && self.scene.recent.contains(&same_text(text)) {
                return self.plain(Outcome::Repeat, "t-repeat");
            }
            return self.records(text, self.said_on, &[]);
        }
        if let Some(asked) = asked(pieces) {
            return self.query(asked.query, asked.farm);
        }
        if let Some(figures) = lonely(pieces) {
            let mut reading = self.reading(Outcome::Ask, of_what(self.language, &figures));
            reading.pending = Some(Pending {
                text: text.to_owned(),
                said_on: self.said_on,
                question: Question::Kind,
                given: Vec::new(),
            });
            return reading;
        }
        self.beside(self.plain(Outcome::Unclear, "t-unclear"))
    }

    fn talk(&self, talk: Talk) -> Reading {
        match talk {
            Talk::Undo if self.scene.last.is_empty() => {
                self.plain(Outcome::NothingToUndo, "t-nothing-to-undo")
            }
            Talk::Undo => {
                let records = self.scene.last.clone();
                let answer = answers::undone(self.scene, &records);
                Reading { records, ..self.reading(Outcome::Undo, answer) }
            }
            Talk::Yes | Talk::No => self.beside(self.plain(Outcome::Unclear, "t-nothing-asked")),
            Talk::Stop => self.plain(Outcome::Stop, "t-stopped"),
            Talk::Start => self.beside(self.plain(Outcome::Start, "t-started")),
        }
    }

    /// The records of a text.
    fn records(&self, text: &str, said_on: NaiveDate, given: &[Given]) -> Reading {
        let scene = self.scene;
        let pieces = self.pieces(text);
        let found = clauses(&pieces).map_err(|fault| self.fault(&fault, &pieces));
        let made = found.and_then(|clauses| records(&clauses, scene, said_on, given));
        match made {
            Ok(records) => {
                let answer = answers::recorded(scene, &records);
                let mut reading = self.reading(Outcome::Record, answer);
                reading.records = records;
                reading.about = Some(text.to_owned());
                reading
            }
            Err(halt) => {
                let outcome = if halt.refuses { Outcome::Refuse } else { Outcome::Ask };
                let mut reading = self.reading(outcome, halt.answer);
                reading.pending = halt.question.map(|question| Pending {
                    text: text.to_owned(),
                    said_on,
                    question,
                    given: given.to_vec(),
                });
                reading
            }
        }
    }

    fn fault(&self, fault: &Fault, pieces: &[Piece]) -> Halt {
        let opening = pieces.iter().find_map(|p| match p {
            Piece::Word(Word::Opening(opening)) => Some(*opening),
            _ => None,
        });
        let language = self.language;
        match fault {
            Fault::Word(word) => {
                let short: String = word.chars().take(20).collect();
                Halt::ask(language.with("t-word", "word", short))
            }
            Fault::Figures(figures) | Fault::Unsure(figures) => {
                let args = [("n", figures.len().into()), ("figures", figures.join(", ").into())];
                let key = if figures.is_empty() { "t-no-place" } else { "t-figures" };
                Halt::ask(language.say(key, &args))
            }
            Fault::Mixed => Halt::ask(language.text("t-mixed")),
            Fault::Missing => {
                let key = match opening {
                    Some(Opening::Milk) => "t-ask-milk",
                    Some(Opening::Eggs) => "t-ask-eggs",
                    _ => "t-ask-figure",
                };
                Halt::ask(language.text(key))
            }
        }
    }

    /// The answer to a question; for figures that the caller puts in, what stands in for them.
    fn query(&self, query: Query, farm: Option<String>) -> Reading {
        let scene = self.scene;
        let needs_farm = !matches!(query, Query::Help | Query::Account);
        let farms = &scene.farms;
        if needs_farm && farm.is_none() && farms.len() > 1 {
            let codes: Vec<String> = farms.iter().map(|f| f.code.clone()).collect();
            let word = query_word(query, self.language).to_uppercase();
            let args = [("word", word.into()), ("farms", codes.join(", ").into())];
            return self.beside(self.reading(Outcome::Ask, self.language.say("t-of-farm", &args)));
        }
        let chosen = match &farm {
            Some(code) => scene.farm(code),
            None => farms.first(),
        };
        let answer = match (query, chosen) {
            (Query::Help, _) => self.language.text("t-help"),
            (Query::Saving | Query::Account, _) if !scene.may_money => {
                self.language.text("t-no-money")
            }
            (Query::Saving, _) => self.language.text("t-no-saving"),
            (Query::Account, _) => self.language.text("t-no-account"),
            (_, None) => self.language.text("t-no-farm"),
            (Query::Work, Some(farm)) => answers::work(scene, farm),
            (Query::Batches, Some(farm)) => answers::batches(scene, farm),
        };
        let mut reading = self.beside(self.reading(Outcome::Answer, answer));
        reading.asked = Some(Asked { query, farm: chosen.map(|f| f.code.clone()) });
        reading
    }
}

/// The word of a question.
pub(crate) const fn query_word(query: Query, language: Language) -> &'static str {
    match (query, language) {
        (Query::Work, Language::Sw) => "kazi",
        (Query::Work, Language::En) => "work",
        (Query::Batches, Language::Sw) => "trei",
        (Query::Batches, Language::En) => "batches",
        (Query::Saving, Language::Sw) => "akiba",
        (Query::Saving, Language::En) => "saving",
        (Query::Account, Language::Sw) => "deni",
        (Query::Account, Language::En) => "account",
        (Query::Help, Language::Sw) => "msaada",
        (Query::Help, Language::En) => "help",
    }
}

/// The option that a reply names; `Some(None)` for a number that was not offered.
fn chosen<'x>(pieces: &[&Piece], options: &'x [String]) -> Option<Option<&'x str>> {
    let [piece] = pieces else { return None };
    let of = |value: &str| options.iter().find(|o| *o == value).map(|o| Some(o.as_str()));
    match piece {
        Piece::Figure(figure) => {
            let at = figure.whole().and_then(|n| usize::try_from(n - 1).ok());
            Some(at.and_then(|at| options.get(at)).map(String::as_str))
        }
        Piece::Word(Word::Cause(at)) => of(cause(*at)),
        Piece::Word(Word::Add) => of("add"),
        Piece::Word(Word::Instead) => of("instead"),
        Piece::Code(Code::Batch(code) | Code::Farm(code) | Code::Group(code)) => of(code),
        _ => None,
    }
}

/// Words beside a question that may stay without a meaning.
const LOOSE_WORDS_MAX: usize = 2;

/// The one question that a text asks.
fn asked(pieces: &[Piece]) -> Option<Asked> {
    let (mut query, mut farm, mut loose, mut trays) = (None, None, 0, 0);
    for piece in pieces {
        match piece {
            Piece::Word(Word::Query(of)) if query.is_none_or(|q| q == *of) => query = Some(*of),
            Piece::Word(Word::Unit(Unit::Tray)) => trays += 1,
            Piece::Word(Word::Filler | Word::DaysAgo(0)) => {}
            Piece::Code(Code::Farm(code)) if farm.is_none() => farm = Some(code.clone()),
            Piece::Unknown(_) => loose += 1,
            _ => return None,
        }
    }
    let query = match (query, trays) {
        (Some(query), 0) => query,
        (None | Some(Query::Batches), 1) => Query::Batches,
        _ => return None,
    };
    (loose <= LOOSE_WORDS_MAX).then_some(Asked { query, farm })
}

/// The figures of a text that holds nothing but figures and what belongs to them.
fn lonely(pieces: &[Piece]) -> Option<String> {
    let mut figures: Vec<&Figure> = Vec::new();
    for piece in pieces {
        match piece {
            Piece::Figure(figure) => figures.push(figure),
            Piece::Unknown(_) => return None,
            Piece::Word(Word::Talk(_) | Word::Query(_) | Word::Officer | Word::Speak(_)) => {
                return None;
            }
            _ => {}
        }
    }
    let raw: Vec<&str> = figures.iter().map(|f| f.raw.as_str()).collect();
    (!raw.is_empty()).then(|| raw.join(", "))
}

/// Whether a text may be about the day's work and the batches: milk, eggs and talk need no more than
/// the groups.
#[must_use]
pub fn needs_work(text: Option<&str>, pending: Option<&Pending>) -> bool {
    let Some(text) = text else { return true };
    let is_other = |text: &str| {
        pieces(text, &|_| None).iter().any(|piece| match piece {
            Piece::Unknown(_) => true,
            Piece::Word(word) => matches!(
                word,
                Word::Opening(Opening::Work(_) | Opening::Done)
                    | Word::Query(_)
                    | Word::Unit(Unit::Tray | Unit::Kilo)
                    | Word::Cause(_)
            ),
            _ => false,
        })
    };
    let is_milk = |text: &str| {
        let opens = |p: &Piece| {
            matches!(p, Piece::Word(Word::Opening(Opening::Milk | Opening::Eggs) | Word::Talk(_)))
        };
        !is_other(text) && pieces(text, &|_| None).iter().any(opens)
    };
    match pending {
        Some(pending) => is_other(text) || !is_milk(&pending.text),
        None => !is_milk(text),
    }
}
