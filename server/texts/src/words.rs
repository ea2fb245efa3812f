//! The words that are understood, in Kiswahili and English, and how far a typing slip may go.
//!
//! Words of the trade's everyday speech, no source; members have not read them yet (listed in
//! `server/speech/locales/REVIEW.md`).

use std::collections::{BTreeMap, BTreeSet};
use std::sync::OnceLock;
use traybook_domain::kinds::LOSS_CAUSES;
use traybook_speech::Language;
use unicode_normalization::UnicodeNormalization as _;
use unicode_normalization::char::is_combining_mark;

pub use traybook_planning::work::Task;

/// A word that opens a record.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Opening {
    Milk,
    Eggs,
    Work(Task),
    /// Lines of the list by their numbers.
    Done,
}

/// What somebody wants to know.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Query {
    Work,
    Batches,
    Saving,
    Account,
    Help,
}

/// Words that stand alone, and only exactly.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Talk {
    Undo,
    Yes,
    No,
    Stop,
    Start,
}

/// Measures.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Unit {
    Litre,
    Kilo,
    Tray,
}

/// Animals that are counted beside milk and eggs.
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, serde::Serialize, serde::Deserialize,
)]
#[serde(rename_all = "snake_case")]
pub enum Animal {
    Cows,
    Goats,
    Sheep,
    Hens,
}

/// A milking.
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, serde::Serialize, serde::Deserialize,
)]
#[serde(rename_all = "snake_case")]
pub enum Session {
    Day,
    Morning,
    Midday,
    Evening,
}

impl Session {
    /// Its name in records.
    #[must_use]
    pub const fn text(self) -> &'static str {
        match self {
            Self::Day => "day",
            Self::Morning => "morning",
            Self::Midday => "midday",
            Self::Evening => "evening",
        }
    }

    /// The milking of a name.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        [Self::Day, Self::Morning, Self::Midday, Self::Evening]
            .into_iter()
            .find(|s| s.text() == text)
    }
}

/// What a word means.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Word {
    Opening(Opening),
    Query(Query),
    Officer,
    Talk(Talk),
    /// Speak Kiswahili, or English.
    Speak(bool),
    /// Comes on top on purpose.
    Add,
    /// Stands instead.
    Instead,
    /// Days before today; one before none for tomorrow.
    DaysAgo(i64),
    Session(Session),
    Animal(Animal),
    Cracked,
    Unit(Unit),
    /// A cause of loss, by its place among those of the records.
    Cause(usize),
    Half,
    Quarter,
    /// A number in letters: it is asked for in figures.
    Spelled,
    /// Says nothing.
    Filler,
}

use Opening::{Done, Eggs, Milk, Work};
use Task::{Clean, Discard, Drain, Feed, Harvest, Soak, Spread, Water};

/// Words by meaning.
const WORDS: &[(Word, &str)] = &[
    (Word::Opening(Milk), "maziwa milk kamua milked"),
    (Word::Opening(Eggs), "mayai yai eggs egg"),
    (Word::Opening(Work(Harvest)), "vuna mavuno harvest harvested"),
    (Word::Opening(Work(Discard)), "tupa discard discarded threw"),
    (Word::Opening(Work(Soak)), "loweka soak soaked"),
    (Word::Opening(Work(Drain)), "chuja drain drained"),
    (Word::Opening(Work(Spread)), "tandaza spread"),
    (Word::Opening(Work(Water)), "mwagilia water watered"),
    (Word::Opening(Work(Feed)), "lisha feed fed"),
    (Word::Opening(Work(Clean)), "osha wash washed clean cleaned"),
    (Word::Opening(Done), "tayari done"),
    (Word::Query(Query::Work), "kazi work"),
    (Word::Query(Query::Batches), "mikupuo batches"),
    (Word::Query(Query::Saving), "akiba saving savings"),
    (Word::Query(Query::Account), "deni account"),
    (Word::Query(Query::Help), "msaada help"),
    (Word::Officer, "afisa officer"),
    (Word::Talk(Talk::Undo), "kosa undo"),
    (Word::Talk(Talk::Yes), "ndiyo ndio yes"),
    (Word::Talk(Talk::No), "hapana no"),
    (Word::Talk(Talk::Stop), "stop acha ondoa"),
    (Word::Talk(Talk::Start), "anza start"),
    (Word::Speak(true), "kiswahili"),
    (Word::Speak(false), "english kiingereza"),
    (Word::Add, "ongeza add"),
    (Word::Instead, "badala instead"),
    (Word::DaysAgo(-1), "kesho tomorrow"),
    (Word::DaysAgo(0), "leo today"),
    (Word::DaysAgo(1), "jana yesterday"),
    (Word::DaysAgo(2), "juzi"),
    (Word::Session(Session::Morning), "asubuhi morning"),
    (Word::Session(Session::Midday), "mchana midday noon"),
    (Word::Session(Session::Evening), "jioni evening"),
    (Word::Animal(Animal::Cows), "ngombe cows cow"),
    (Word::Animal(Animal::Goats), "mbuzi goats goat"),
    (Word::Animal(Animal::Sheep), "kondoo sheep"),
    (Word::Animal(Animal::Hens), "kuku hens hen layers"),
    (Word::Cracked, "nyufa cracked"),
    (Word::Unit(Unit::Litre), "lita litre litres liter liters l lt lts ltr ltrs"),
    (Word::Unit(Unit::Kilo), "kilo kilos kg kgs kilogramu"),
    (Word::Unit(Unit::Tray), "trei tray trays sinia"),
    (Word::Cause(0), "ukungu mould mold mouldy"),
    (Word::Cause(1), "kuoza imeoza zimeoza rot rotten"),
    (Word::Cause(2), "haikuota hazikuota germination"),
    (Word::Cause(3), "kukauka imekauka zimekauka dry dried"),
    (Word::Cause(4), "wadudu panya pests rats insects"),
    (Word::Cause(5), "kuchelewa imechelewa zimechelewa late"),
    (Word::Cause(6), "nyingine other"),
    (Word::Half, "nusu half"),
    (Word::Quarter, "robo quarter"),
    (
        Word::Spelled,
        "moja mbili tatu nne tano sita saba nane tisa kumi ishirini thelathini arobaini hamsini mia \
         one two three four five six seven eight nine ten eleven twelve twenty thirty forty hundred",
    ),
    (
        Word::Filler,
        "na ya za wa la cha ni tu kwa sababu namba number nimepata tumepata tafadhali habari and of the a is i we got please \
         hello",
    ),
];

/// How verbs begin in Kiswahili: I, we, she, they have done; I did; to do.
const BEGINNINGS: [&str; 7] = ["nime", "tume", "ame", "wame", "nili", "tuli", "ku"];
const VERBS: [&str; 9] =
    ["vuna", "tupa", "loweka", "chuja", "tandaza", "mwagilia", "lisha", "osha", "kamua"];

struct Entry {
    letters: Vec<u8>,
    word: Word,
}

struct Table {
    exact: BTreeMap<String, Word>,
    folded: BTreeMap<String, BTreeSet<Word>>,
    all: Vec<Entry>,
}

fn table() -> &'static Table {
    static TABLE: OnceLock<Table> = OnceLock::new();
    TABLE.get_or_init(|| {
        let mut table = Table { exact: BTreeMap::new(), folded: BTreeMap::new(), all: Vec::new() };
        let mut add = |text: String, word: Word| {
            let letters = text.clone().into_bytes();
            table.folded.entry(single(&text)).or_default().insert(word);
            table.all.push(Entry { letters, word });
            table.exact.insert(text, word);
        };
        for (word, texts) in WORDS {
            for text in texts.split_whitespace() {
                add(text.to_owned(), *word);
                if VERBS.contains(&text) {
                    for begin in BEGINNINGS {
                        add(format!("{begin}{text}"), *word);
                    }
                }
            }
        }
        // The verb's own "m" meets the beginning's.
        add("nimwagilia".to_owned(), Word::Opening(Work(Water)));
        table
    })
}

/// A word in small letters, without accents and apostrophes.
#[must_use]
pub fn fold(text: &str) -> String {
    let letters = text.nfkd().filter(|c| !is_combining_mark(*c));
    letters.flat_map(char::to_lowercase).filter(|c| c.is_alphanumeric()).collect()
}

/// The same with doubled letters once.
fn single(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        if !out.ends_with(c) {
            out.push(c);
        }
    }
    out
}

/// Shortest word that may be one slip away, two slips away, or have two neighbours swapped.
const ONE_SLIP: usize = 5;
const TWO_SLIPS: usize = 8;
const SWAP: usize = 4;
/// Longest word that is looked at: a longer one is none of ours.
const LETTERS_MAX: usize = 24;

/// What a folded word means; none where it is not understood, or where two meanings are as likely.
#[must_use]
pub fn meaning(folded: &str) -> Option<Word> {
    let table = table();
    if let Some(word) = table.exact.get(folded) {
        return Some(*word);
    }
    if folded.len() > LETTERS_MAX || !folded.is_ascii() {
        return None;
    }
    let mut found = BTreeSet::new();
    if let Some(words) = table.folded.get(&single(folded)) {
        found.extend(words.iter().filter(|w| may_slip(w)));
    }
    for entry in table.all.iter().filter(|e| may_slip(&e.word)) {
        if is_near(folded.as_bytes(), &entry.letters) {
            found.insert(entry.word);
        }
    }
    match found.len() {
        1 => found.first().copied(),
        _ => None,
    }
}

/// A word made of two that are known exactly, where there is one way to cut it.
#[must_use]
pub fn cut(folded: &str) -> Option<(Word, Word)> {
    let table = table();
    let known = |text: &str| {
        let word = table.exact.get(text).filter(|_| text.len() >= SWAP);
        word.copied().filter(may_slip)
    };
    let ways = folded.char_indices().skip(1).filter_map(|(at, _)| {
        let (left, right) = folded.split_at(at);
        Some((known(left)?, known(right)?))
    });
    let ways: BTreeSet<(Word, Word)> = ways.collect();
    if ways.len() == 1 { ways.first().copied() } else { None }
}

/// Whether a word may be written with a slip: what stops, agrees or takes back may not.
const fn may_slip(word: &Word) -> bool {
    !matches!(word, Word::Talk(_) | Word::Filler | Word::Spelled)
}

fn is_near(typed: &[u8], word: &[u8]) -> bool {
    let length = word.len();
    if typed.len().abs_diff(length) > 2 || length < SWAP || typed.len() < SWAP {
        return false;
    }
    if length < ONE_SLIP {
        return typed.len() == length && slips(typed, word, 1) == Some(Slip::Swap);
    }
    let most = if length >= TWO_SLIPS { 2 } else { 1 };
    slips(typed, word, most).is_some()
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Slip {
    /// Two neighbours changed places, and nothing else.
    Swap,
    Other,
}

/// Whether at most so many letters were left out, added, changed, or changed places with their
/// neighbour (the restricted edit distance of Damerau and Levenshtein).
fn slips(a: &[u8], b: &[u8], most: usize) -> Option<Slip> {
    const WIDTH: usize = LETTERS_MAX + 2;
    let at = |row: &[usize; WIDTH], j: usize| row.get(j).copied().unwrap_or(usize::MAX / 2);
    let mut before = [0; WIDTH];
    let mut above: [usize; WIDTH] = std::array::from_fn(|j| j);
    for (i, x) in a.iter().enumerate() {
        let mut row = [i + 1; WIDTH];
        let mut least = i + 1;
        for (j, y) in b.iter().enumerate() {
            let change = at(&above, j) + usize::from(x != y);
            let mut best = change.min(at(&above, j + 1) + 1).min(at(&row, j) + 1);
            let is_swap = i > 0 && j > 0 && a.get(i - 1) == Some(y) && b.get(j - 1) == Some(x);
            if is_swap {
                best = best.min(at(&before, j - 1) + 1);
            }
            least = least.min(best);
            if let Some(cell) = row.get_mut(j + 1) {
                *cell = best;
            }
        }
        // A swap looks back two rows.
        if least > most + 1 {
            return None;
        }
        (before, above) = (above, row);
    }
    let distance = at(&above, b.len());
    if distance > most {
        return None;
    }
    let sorted = |letters: &[u8]| {
        let mut letters = letters.to_vec();
        letters.sort_unstable();
        letters
    };
    let is_swap = distance == 1 && a.len() == b.len() && sorted(a) == sorted(b);
    Some(if is_swap { Slip::Swap } else { Slip::Other })
}

/// The name of a cause in records.
#[must_use]
pub fn cause(at: usize) -> &'static str {
    LOSS_CAUSES.get(at).copied().unwrap_or("other")
}

/// How a record is opened in a language, for examples and choices.
#[must_use]
pub const fn opening_word(of: Opening, language: Language) -> &'static str {
    match (of, language) {
        (Milk, Language::Sw) => "maziwa",
        (Milk, Language::En) => "milk",
        (Eggs, Language::Sw) => "mayai",
        (Eggs, Language::En) => "eggs",
        (Work(Discard), Language::Sw) => "tupa",
        (Work(Discard), Language::En) => "discard",
        (Work(_) | Done, Language::Sw) => "vuna",
        (Work(_) | Done, Language::En) => "harvest",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_word_stands_for_one_thing() {
        let mut seen: BTreeMap<&str, Word> = BTreeMap::new();
        for (word, texts) in WORDS {
            for text in texts.split_whitespace() {
                assert_eq!(seen.insert(text, *word), None, "{text} stands twice");
                assert_eq!(fold(text), text);
                assert_eq!(meaning(text), Some(*word));
            }
        }
        assert_eq!(
            WORDS.iter().filter(|(w, _)| matches!(w, Word::Cause(_))).count(),
            LOSS_CAUSES.len()
        );
    }

    #[test]
    fn slips_go_as_far_as_the_rule_says() {
        let opens = |text: &str, of: Opening| meaning(text) == Some(Word::Opening(of));
        assert!(opens("mayia", Eggs) && opens("maziw", Milk) && opens("mmaziwa", Milk));
        assert!(opens("nimelowek", Work(Soak)) && opens("nmiemwagila", Work(Water)));
        assert_eq!(meaning("trie"), Some(Word::Unit(Unit::Tray)));
        for text in
            ["tei", "treo", "jui", "jan", "sotp", "stopp", "ndiyoo", "yess", "kossa", "hapan"]
        {
            assert_eq!(meaning(text), None, "{text}");
        }
        assert_eq!(meaning("maaziwaa"), Some(Word::Opening(Milk)), "doubled letters are one");
        assert_eq!(cut("maziwajana"), Some((Word::Opening(Milk), Word::DaysAgo(1))));
        assert_eq!(cut("maziwastop"), None);
    }

    #[test]
    fn words_are_folded() {
        assert_eq!(fold("NG’OMBE"), "ngombe");
        assert_eq!(fold("Maziwá!"), "maziwa");
        assert_eq!(fold("ＭＩＬＫ"), "milk");
    }
}
