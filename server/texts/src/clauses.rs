//! A text's records, each with the figures and particulars that belong to it.
//!
//! A word that opens a record, a measure and a kind of animal each take one figure, the one before
//! or the one after. Where that can be done in one way only, it is done; else it is asked.

use crate::figures::{Figure, Number, part};
use crate::tokens::{Code, Piece};
use crate::words::{Animal, Opening, Session, Task, Unit, Word};

/// A day as it was written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Day {
    Ago(i64),
    On { day: i64, month: i64, year: Option<i64> },
}

/// One record of a text, before it is held against what is known.
#[derive(Clone, Debug)]
pub(crate) struct Clause {
    pub of: Opening,
    /// Figures without a measure.
    pub bare: Vec<Figure>,
    pub units: Vec<(Unit, Figure)>,
    pub animals: Option<(Animal, Option<Figure>)>,
    pub cracked: Option<Figure>,
    pub batch: Option<String>,
    pub group: Option<String>,
    pub day: Option<Day>,
    pub session: Option<Session>,
    pub cause: Option<usize>,
}

impl Clause {
    fn new(of: Opening) -> Self {
        Self {
            of,
            bare: Vec::new(),
            units: Vec::new(),
            animals: None,
            cracked: None,
            batch: None,
            group: None,
            day: None,
            session: None,
            cause: None,
        }
    }
}

/// The records of a text.
#[derive(Clone, Debug, Default)]
pub(crate) struct Clauses {
    pub all: Vec<Clause>,
    pub farm: Option<String>,
    /// It comes on top on purpose.
    pub adds: bool,
}

/// Why a text can not be parted into records.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) enum Fault {
    /// A word is not understood.
    Word(String),
    /// These figures are more than there are places for.
    Figures(Vec<String>),
    /// A figure may belong to this or that.
    Unsure(Vec<String>),
    /// A figure is missing beside a measure, or in a word.
    Missing,
    /// Several farms or days.
    Mixed,
}

/// What takes a figure.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Taker {
    Opening(usize),
    Done(usize),
    Unit(Unit),
    Animal(Animal),
    Cracked,
}

enum Element<'a> {
    Taker(Taker),
    Figure(&'a Figure),
}

/// A particular with how many records were opened before it.
struct Said<T> {
    value: T,
    after: usize,
}

struct Sorted<'a> {
    openings: Vec<Opening>,
    elements: Vec<Element<'a>>,
    farms: Vec<String>,
    codes: Vec<Said<&'a Code>>,
    days: Vec<Said<Day>>,
    sessions: Vec<Said<Session>>,
    causes: Vec<Said<usize>>,
    adds: bool,
    spelled: bool,
}

/// Figures that are looked at: more are no text of a member.
const FIGURES_MAX: usize = 12;

/// The records of a text that has at least one.
pub(crate) fn clauses(pieces: &[Piece]) -> Result<Clauses, Fault> {
    let sorted = sort(pieces)?;
    let figures = sorted.figures();
    if figures.len() > FIGURES_MAX {
        return Err(Fault::Figures(figures));
    }
    if sorted.spelled && figures.is_empty() {
        return Err(Fault::Missing);
    }
    if sorted.spelled {
        return Err(Fault::Unsure(figures));
    }
    let mut all = match milkings(&sorted, pieces)? {
        Some(all) => all,
        None => sorted.assigned()?,
    };
    sorted.particulars(&mut all)?;
    let farm = match sorted.farms.as_slice() {
        [] => None,
        [farm] => Some(farm.clone()),
        _ => return Err(Fault::Mixed),
    };
    for clause in &all {
        let mixes = !clause.bare.is_empty() && !clause.units.is_empty();
        if clause.of != Opening::Done && mixes {
            return Err(Fault::Figures(figures));
        }
    }
    Ok(Clauses { all, farm, adds: sorted.adds })
}

fn sort(pieces: &[Piece]) -> Result<Sorted<'_>, Fault> {
    let mut out = Sorted {
        openings: Vec::new(),
        elements: Vec::new(),
        farms: Vec::new(),
        codes: Vec::new(),
        days: Vec::new(),
        sessions: Vec::new(),
        causes: Vec::new(),
        adds: false,
        spelled: false,
    };
    for piece in pieces {
        let after = out.openings.len();
        match piece {
            Piece::Unknown(word) => return Err(Fault::Word(word.clone())),
            Piece::Code(Code::Farm(code)) => {
                if !out.farms.contains(code) {
                    out.farms.push(code.clone());
                }
            }
            Piece::Code(code) => out.codes.push(Said { value: code, after }),
            Piece::Figure(figure) => match day_of(figure) {
                Some(value) => out.days.push(Said { value, after }),
                None => out.elements.push(Element::Figure(figure)),
            },
            Piece::Word(word) => out.word(*word, after)?,
        }
    }
    Ok(out)
}

/// A figure that is a day and month.
fn day_of(figure: &Figure) -> Option<Day> {
    match figure.number {
        Number::Stroke(day, month) if part(day, month).is_none() => {
            Some(Day::On { day, month, year: None })
        }
        Number::Date(day, month, year) => Some(Day::On { day, month, year: Some(year) }),
        _ => None,
    }
}

impl Sorted<'_> {
    fn word(&mut self, word: Word, after: usize) -> Result<(), Fault> {
        match word {
            Word::Opening(opening) => {
                let taker = match opening {
                    Opening::Done => Taker::Done(after),
                    _ => Taker::Opening(after),
                };
                self.openings.push(opening);
                self.elements.push(Element::Taker(taker));
            }
            Word::Unit(unit) => self.elements.push(Element::Taker(Taker::Unit(unit))),
            Word::Animal(animal) => self.elements.push(Element::Taker(Taker::Animal(animal))),
            Word::Cracked => self.elements.push(Element::Taker(Taker::Cracked)),
            Word::DaysAgo(days) => self.days.push(Said { value: Day::Ago(days), after }),
            Word::Session(value) => self.sessions.push(Said { value, after }),
            Word::Cause(value) => self.causes.push(Said { value, after }),
            Word::Add => self.adds = true,
            Word::Spelled => self.spelled = true,
            Word::Filler => {}
            Word::Half | Word::Quarter => return Err(Fault::Missing),
            Word::Query(_) | Word::Officer | Word::Talk(_) | Word::Speak(_) | Word::Instead => {
                return Err(Fault::Word(name(word).to_owned()));
            }
        }
        Ok(())
    }

    fn figures(&self) -> Vec<String> {
        let raw = |e: &Element<'_>| match e {
            Element::Figure(figure) => Some(figure.raw.clone()),
            Element::Taker(_) => None,
        };
        self.elements.iter().filter_map(raw).collect()
    }

    /// The records with their figures.
    fn assigned(&self) -> Result<Vec<Clause>, Fault> {
        let ways = Ways::of(&self.elements);
        let mut best: Option<(usize, Vec<usize>)> = None;
        let mut is_tied = false;
        for way in ways {
            let score = self.score(&way);
            match &best {
                Some((most, _)) if *most > score => {}
                Some((most, _)) if *most == score => is_tied = true,
                _ => {
                    best = Some((score, way));
                    is_tied = false;
                }
            }
        }
        let figures = self.figures();
        let Some((_, way)) = best else {
            return Err(if figures.is_empty() { Fault::Missing } else { Fault::Figures(figures) });
        };
        if is_tied {
            return Err(Fault::Unsure(figures));
        }
        self.with_figures(&way)
    }

    /// Records that have a figure of their own.
    fn score(&self, way: &[usize]) -> usize {
        let has = |at: usize| way.contains(&at);
        let own = |(at, e): (usize, &Element<'_>)| {
            matches!(e, Element::Taker(Taker::Opening(_) | Taker::Done(_))) && has(at)
        };
        self.elements.iter().enumerate().filter(|(at, e)| own((*at, e))).count()
    }

    fn with_figures(&self, way: &[usize]) -> Result<Vec<Clause>, Fault> {
        let mut all: Vec<Clause> = self.openings.iter().map(|of| Clause::new(*of)).collect();
        let mut taken: Vec<Vec<&Figure>> = self.elements.iter().map(|_| Vec::new()).collect();
        let figures = self.elements.iter().filter_map(|e| match e {
            Element::Figure(figure) => Some(*figure),
            Element::Taker(_) => None,
        });
        for (figure, taker) in figures.zip(way) {
            if let Some(of) = taken.get_mut(*taker) {
                of.push(figure);
            }
        }
        let mut opened = 0;
        for (element, figures) in self.elements.iter().zip(taken) {
            let Element::Taker(taker) = element else { continue };
            let first = figures.first().map(|f| (*f).clone());
            match *taker {
                Taker::Opening(at) | Taker::Done(at) => {
                    opened = at + 1;
                    if let Some(clause) = all.get_mut(at) {
                        clause.bare = figures.into_iter().cloned().collect();
                    }
                }
                Taker::Unit(unit) => {
                    let at = self.owner(opened, |of| takes_unit(of, unit))?;
                    let (clause, figure) = (all.get_mut(at), first.ok_or(Fault::Missing)?);
                    let clause = clause.ok_or(Fault::Missing)?;
                    if clause.units.iter().any(|(u, _)| *u == unit) {
                        return Err(Fault::Figures(self.figures()));
                    }
                    clause.units.push((unit, figure));
                }
                Taker::Animal(animal) => {
                    let at = self.owner(opened, |of| takes_animal(of, animal))?;
                    let clause = all.get_mut(at).ok_or(Fault::Missing)?;
                    if clause.animals.is_some() {
                        return Err(Fault::Figures(self.figures()));
                    }
                    clause.animals = Some((animal, first));
                }
                Taker::Cracked => {
                    let at = self.owner(opened, |of| of == Opening::Eggs)?;
                    let clause = all.get_mut(at).ok_or(Fault::Missing)?;
                    if clause.cracked.is_some() {
                        return Err(Fault::Figures(self.figures()));
                    }
                    clause.cracked = Some(first.ok_or(Fault::Missing)?);
                }
            }
        }
        Ok(all)
    }

    /// The record that something belongs to: the only one that it fits, or the last one before it.
    fn owner(&self, opened: usize, fits: impl Fn(Opening) -> bool) -> Result<usize, Fault> {
        let all: Vec<usize> = (0..self.openings.len())
            .filter(|at| self.openings.get(*at).is_some_and(|o| fits(*o)))
            .collect();
        let before = all.iter().rev().find(|at| **at < opened);
        // Where the text begins with a figure, what follows a record may belong to the next one.
        let figure_first = !matches!(
            self.elements.first(),
            Some(Element::Taker(Taker::Opening(_) | Taker::Done(_)))
        );
        match (all.as_slice(), before) {
            ([one], _) => Ok(*one),
            ([], _) => Err(Fault::Unsure(self.figures())),
            (_, Some(before)) if !figure_first => Ok(*before),
            _ => Err(Fault::Unsure(self.figures())),
        }
    }

    /// Days, milkings, causes and codes.
    fn particulars(&self, all: &mut [Clause]) -> Result<(), Fault> {
        self.put_days(all)?;
        for said in &self.causes {
            let at = self.owner(said.after, |of| {
                matches!(of, Opening::Work(Task::Discard) | Opening::Done)
            })?;
            put(all, at, |c| &mut c.cause, said.value)?;
        }
        for said in &self.codes {
            match said.value {
                Code::Batch(code) => {
                    let at = self.owner(said.after, |of| matches!(of, Opening::Work(_)))?;
                    put(all, at, |c| &mut c.batch, code.clone())?;
                }
                Code::Group(code) => {
                    let fits = |of| matches!(of, Opening::Milk | Opening::Eggs | Opening::Work(_));
                    let at = self.owner(said.after, fits)?;
                    put(all, at, |c| &mut c.group, code.clone())?;
                }
                Code::Farm(_) => {}
            }
        }
        if all.len() == self.openings.len() {
            for said in &self.sessions {
                let fits = |of| matches!(of, Opening::Milk);
                let is_milk = self.openings.contains(&Opening::Milk);
                // Eggs have no milking: the word says when in the day they were collected.
                if is_milk {
                    let at = self.owner(said.after, fits)?;
                    put(all, at, |c| &mut c.session, said.value)?;
                }
            }
        }
        Ok(())
    }

    /// A day before the first record is that of all; behind them each needs its own, or none has one.
    fn put_days(&self, all: &mut [Clause]) -> Result<(), Fault> {
        let first = self.days.first();
        let is_one = self.days.iter().all(|d| first.is_some_and(|f| f.value == d.value));
        let Some(first) = first else { return Ok(()) };
        if is_one && (first.after == 0 || self.openings.len() == 1) {
            all.iter_mut().for_each(|c| c.day = Some(first.value));
            return Ok(());
        }
        let places: Vec<usize> = self.days.iter().map(|d| d.after).collect();
        let each: Vec<usize> = (1..=self.openings.len()).collect();
        if places != each || all.len() != self.openings.len() {
            return Err(Fault::Mixed);
        }
        for (clause, day) in all.iter_mut().zip(&self.days) {
            clause.day = Some(day.value);
        }
        Ok(())
    }
}

fn put<T: PartialEq>(
    all: &mut [Clause],
    at: usize,
    place: impl Fn(&mut Clause) -> &mut Option<T>,
    value: T,
) -> Result<(), Fault> {
    let Some(clause) = all.get_mut(at) else { return Ok(()) };
    let slot = place(clause);
    if slot.as_ref().is_some_and(|there| *there != value) {
        return Err(Fault::Mixed);
    }
    *slot = Some(value);
    Ok(())
}

/// Milk of several milkings behind one word: "maziwa asubuhi 6 jioni 5".
fn milkings(sorted: &Sorted<'_>, pieces: &[Piece]) -> Result<Option<Vec<Clause>>, Fault> {
    if sorted.openings != [Opening::Milk] || sorted.sessions.len() < 2 {
        return Ok(None);
    }
    let (mut sessions, mut figures, mut order) = (Vec::new(), Vec::new(), Vec::new());
    for piece in pieces {
        match piece {
            Piece::Word(Word::Session(session)) => {
                sessions.push(*session);
                order.push(true);
            }
            Piece::Figure(figure) if day_of(figure).is_none() => {
                figures.push(figure.clone());
                order.push(false);
            }
            Piece::Word(Word::Animal(_)) => return Err(Fault::Figures(sorted.figures())),
            Piece::Word(Word::Unit(unit)) if *unit != Unit::Litre => {
                return Err(Fault::Figures(sorted.figures()));
            }
            _ => {}
        }
    }
    let alternates = order.windows(2).all(|pair| pair.first() != pair.last());
    let mut each = sessions.clone();
    each.sort_unstable();
    each.dedup();
    if !alternates || sessions.len() != figures.len() || each.len() != sessions.len() {
        return Err(Fault::Figures(sorted.figures()));
    }
    let clause = |(session, figure)| Clause {
        session: Some(session),
        bare: vec![figure],
        ..Clause::new(Opening::Milk)
    };
    Ok(Some(sessions.into_iter().zip(figures).map(clause).collect()))
}

const fn takes_unit(of: Opening, unit: Unit) -> bool {
    match unit {
        Unit::Litre => matches!(of, Opening::Milk),
        Unit::Kilo => matches!(
            of,
            Opening::Done | Opening::Work(Task::Harvest | Task::Discard | Task::Soak | Task::Feed)
        ),
        Unit::Tray => matches!(of, Opening::Eggs | Opening::Done | Opening::Work(_)),
    }
}

const fn takes_animal(of: Opening, animal: Animal) -> bool {
    match animal {
        Animal::Hens => matches!(of, Opening::Eggs),
        _ => matches!(of, Opening::Milk),
    }
}

/// How a word is called that does not belong into a record.
const fn name(word: Word) -> &'static str {
    match word {
        Word::Talk(crate::words::Talk::Undo) => "KOSA",
        Word::Talk(crate::words::Talk::Yes) => "NDIYO",
        Word::Talk(crate::words::Talk::No) => "HAPANA",
        Word::Talk(crate::words::Talk::Start) => "ANZA",
        Word::Query(crate::words::Query::Work) => "KAZI",
        Word::Officer => "AFISA",
        _ => "?",
    }
}

/// The ways in which all figures find a taker: by figure, the place of its taker.
struct Ways;

impl Ways {
    fn of(elements: &[Element<'_>]) -> Vec<Vec<usize>> {
        let options: Vec<Vec<usize>> = elements
            .iter()
            .enumerate()
            .filter(|(_, e)| matches!(e, Element::Figure(_)))
            .map(|(at, _)| options(elements, at))
            .collect();
        let mut found = Vec::new();
        search(elements, &options, &mut Vec::new(), &mut found);
        found
    }
}

/// Takers that a figure may go to: its neighbours, and a list's word over other figures.
fn options(elements: &[Element<'_>], at: usize) -> Vec<usize> {
    let mut out = Vec::new();
    let mut look = |places: &mut dyn Iterator<Item = usize>| {
        let mut is_next = true;
        for place in places {
            match elements.get(place) {
                Some(Element::Taker(taker)) => {
                    if is_next || matches!(taker, Taker::Done(_)) {
                        out.push(place);
                    }
                    return;
                }
                _ => is_next = false,
            }
        }
    };
    look(&mut (0..at).rev());
    look(&mut (at + 1..elements.len()));
    out
}

fn search(
    elements: &[Element<'_>],
    options: &[Vec<usize>],
    way: &mut Vec<usize>,
    found: &mut Vec<Vec<usize>>,
) {
    let Some(next) = options.get(way.len()) else {
        let needs = |(at, e): (usize, &Element<'_>)| {
            matches!(e, Element::Taker(Taker::Unit(_) | Taker::Cracked)) && !way.contains(&at)
        };
        if !elements.iter().enumerate().any(needs) {
            found.push(way.clone());
        }
        return;
    };
    for taker in next {
        let is_list = matches!(elements.get(*taker), Some(Element::Taker(Taker::Done(_))));
        if is_list || !way.contains(taker) {
            way.push(*taker);
            search(elements, options, way, found);
            way.pop();
        }
    }
}
