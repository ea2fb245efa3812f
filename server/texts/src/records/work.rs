//! Harvests, discards and work done by line.

use super::{Cx, Halt, is_far};
use crate::answers::{amount, line_label};
use crate::clauses::Clause;
use crate::scene::{Caution, Farm, Line, Record, State, What, short};
use crate::words::{Task, Unit, cause};
use traybook_domain::kinds::LOSS_CAUSES;

/// Most fresh fodder that one tray gives, g: 2 kg of seed and the highest published yield of 8.4 kg a
/// kg, rounded up. More is asked back.
const TRAY_GRAMS_MAX: i64 = 17_000;

/// A farm and one of its batches.
type OfBatch<'x> = (&'x Farm, String);

impl Cx<'_> {
    pub(super) fn harvest(
        &self,
        at: usize,
        clause: &Clause,
        line: Option<(&Farm, &Line)>,
    ) -> Result<Record, Halt> {
        let date = self.day(clause.day)?;
        let is_named = line.is_some();
        let grams = match line {
            Some(_) => self.beside(clause, Unit::Kilo),
            None => self.figure(clause, Unit::Kilo),
        };
        let grams = grams.map(|f| self.measured(f)).transpose()?;
        let trays = self.beside(clause, Unit::Tray);
        let trays = trays.map(|f| self.counted(f, "t-whole-trays")).transpose()?;
        if !is_named && grams.unwrap_or(0) == 0 && trays.unwrap_or(0) == 0 {
            return Err(self.missing("t-ask-harvest"));
        }
        let (farm, batch) = match line {
            Some((farm, line)) => (farm, line.batch.clone().unwrap_or_default()),
            None => self.harvested(at, clause)?,
        };
        let of = |l: &&Line| l.task == Task::Harvest && l.batch.as_ref() == Some(&batch);
        let open = farm.lines.iter().filter(|l| l.state != State::Done);
        let line = line.map(|(_, line)| line).or_else(|| open.clone().find(of));
        let there = line.and_then(|l| l.trays).or_else(|| farm.trays_of(&batch));
        self.check_trays(at, trays, &batch, farm)?;
        let all = trays.or(there);
        if let (Some(grams), Some(all)) = (grams, all)
            && grams > all * TRAY_GRAMS_MAX
        {
            let args = [("kg", amount(grams).into()), ("trays", all.into())];
            self.sure(at, || self.language().say("t-much-harvest", &args))?;
        }
        let what = What::Harvest {
            grams: grams.filter(|g| *g > 0),
            trays: all,
            line: line.map(|l| l.line.clone()),
            is_mouldy: line.is_some_and(|l| l.caution == Some(Caution::Mould)),
            batch,
        };
        Ok(Record { farm: farm.code.clone(), date, what })
    }

    /// The batch that was harvested: the named one, that of the list, or the one that stands.
    fn harvested(&self, at: usize, clause: &Clause) -> Result<OfBatch<'_>, Halt> {
        if let Some(named) = self.named(clause) {
            return named;
        }
        let of = |l: &&Line| l.task == Task::Harvest && l.state != State::Done;
        let lines = self.farms().flat_map(|f| {
            f.lines.iter().filter(of).filter_map(move |l| Some((f, l.batch.clone()?)))
        });
        let lines: Vec<OfBatch<'_>> = lines.collect();
        if lines.is_empty() { self.standing(at) } else { self.one_batch(at, lines) }
    }

    /// The batch whose code the text gives.
    fn named(&self, clause: &Clause) -> Option<Result<OfBatch<'_>, Halt>> {
        let code = clause.batch.as_ref()?;
        let farm = self.farms().find(|f| f.batches().any(|b| b == code));
        let none = || Halt::ask(self.language().with("t-no-batch", "batch", code.as_str()));
        Some(farm.map(|farm| (farm, code.clone())).ok_or_else(none))
    }

    fn standing(&self, at: usize) -> Result<OfBatch<'_>, Halt> {
        let all = self.farms().flat_map(|f| f.standing.iter().map(move |s| (f, s.batch.clone())));
        self.one_batch(at, all.collect())
    }

    fn one_batch<'x>(&self, at: usize, mut all: Vec<OfBatch<'x>>) -> Result<OfBatch<'x>, Halt> {
        all.dedup_by(|a, b| a.0.code == b.0.code && a.1 == b.1);
        if all.is_empty() {
            return Err(Halt::ask(self.text("t-no-standing")));
        }
        if let [one] = all.as_slice() {
            return Ok(one.clone());
        }
        self.farm_of(&all)?;
        let name = |(_, batch): &OfBatch<'_>| batch.clone();
        let label = |(farm, batch): &OfBatch<'_>| short(batch, &farm.code);
        self.choose(("batch", at, "t-which-batch"), &all, name, label).cloned()
    }

    /// More trays than stand are asked back.
    fn check_trays(
        &self,
        at: usize,
        trays: Option<i64>,
        batch: &str,
        farm: &Farm,
    ) -> Result<(), Halt> {
        if let (Some(trays), Some(there)) = (trays, farm.trays_of(batch))
            && trays > there
        {
            let args = [
                ("trays", trays.into()),
                ("there", there.into()),
                ("batch", short(batch, &farm.code).into()),
            ];
            self.sure(at, || self.language().say("t-many-trays", &args))?;
        }
        Ok(())
    }

    pub(super) fn discard(
        &self,
        at: usize,
        clause: &Clause,
        line: Option<(&Farm, &Line)>,
    ) -> Result<Record, Halt> {
        let date = self.day(clause.day)?;
        let of_line = line.and_then(|(_, l)| l.trays);
        let grams = self.beside(clause, Unit::Kilo);
        let grams = grams.map(|f| self.measured(f)).transpose()?.filter(|g| *g > 0);
        let figure = match line {
            Some(_) => self.beside(clause, Unit::Tray),
            None => self.figure(clause, Unit::Tray),
        };
        let trays = figure.map(|f| self.counted(f, "t-whole-trays")).transpose()?;
        let trays = trays.or(of_line.filter(|_| grams.is_none())).filter(|t| *t > 0);
        if trays.is_none() && grams.is_none() {
            return Err(self.missing("t-ask-discard"));
        }
        let cause = match clause.cause {
            Some(at) => cause(at).to_owned(),
            None => self.cause(at, line.map(|(_, l)| l))?,
        };
        let (farm, batch) = match line {
            Some((farm, line)) => (farm, line.batch.clone().unwrap_or_default()),
            None => self.discarded(at, clause, &cause)?,
        };
        self.check_trays(at, trays, &batch, farm)?;
        let of = |l: &&Line| l.task == Task::Discard && l.batch.as_ref() == Some(&batch);
        let open = farm.lines.iter().filter(|l| l.state != State::Done);
        let line = line.map(|(_, line)| line).or_else(|| open.clone().find(of));
        let line = line.map(|l| l.line.clone());
        let what = What::Discard { batch, grams, trays, cause, line };
        Ok(Record { farm: farm.code.clone(), date, what })
    }

    /// Why trays were lost: what the list says of the line, or what is answered.
    fn cause(&self, at: usize, line: Option<&Line>) -> Result<String, Halt> {
        if line.is_some_and(|l| l.caution == Some(Caution::Mould)) {
            return Ok("mould".to_owned());
        }
        let label = |c: &&str| self.text(&format!("t-why-{c}"));
        let all = LOSS_CAUSES.to_vec();
        let name = |c: &&str| (*c).to_owned();
        self.choose(("cause", at, "t-which-cause"), &all, name, label).map(|c| (*c).to_owned())
    }

    /// The batch of which trays were lost: the named one, the one that the list says is to be thrown
    /// away for this cause, or one that stands.
    fn discarded(&self, at: usize, clause: &Clause, cause: &str) -> Result<OfBatch<'_>, Halt> {
        if let Some(named) = self.named(clause) {
            return named;
        }
        let fits = |l: &&Line| {
            let of = match l.caution {
                Some(Caution::Mould) => "mould",
                _ => "left_too_long",
            };
            l.task == Task::Discard && l.state != State::Done && of == cause
        };
        let lines = self.farms().flat_map(|f| {
            f.lines.iter().filter(fits).filter_map(move |l| Some((f, l.batch.clone()?)))
        });
        let lines: Vec<OfBatch<'_>> = lines.collect();
        match lines.as_slice() {
            [one] => Ok(one.clone()),
            _ => self.standing(at),
        }
    }

    /// Lines of the list by their numbers.
    pub(super) fn done(&self, at: usize, clause: &Clause) -> Result<Vec<Record>, Halt> {
        if !self.scene.listed {
            return Err(Halt::ask(self.text("t-not-listed")));
        }
        let mut numbers = Vec::new();
        for figure in &clause.bare {
            numbers.extend(figure.list().ok_or_else(|| self.not_clear(figure))?);
        }
        numbers.sort_unstable();
        numbers.dedup();
        if numbers.is_empty() {
            return Err(self.missing("t-ask-done"));
        }
        let mut lines: Vec<(&Farm, &Line)> = Vec::new();
        for number in &numbers {
            let with = |l: &&Line| l.n == Some(*number);
            let found: Vec<(&Farm, &Line)> = self
                .farms()
                .flat_map(|f| f.lines.iter().filter(with).map(move |l| (f, l)))
                .collect();
            self.farm_of(&found)?;
            lines.push(*found.first().ok_or_else(|| self.no_line(*number))?);
        }
        if lines.len() > 1 && (!clause.units.is_empty() || clause.cause.is_some()) {
            return Err(Halt::ask(self.text("t-one-line")));
        }
        lines.into_iter().map(|(farm, line)| self.line(at, clause, (farm, line))).collect()
    }

    fn no_line(&self, number: i64) -> Halt {
        let last = self.farms().flat_map(|f| f.lines.iter().filter_map(|l| l.n)).max();
        let args = [("number", number.into()), ("last", last.unwrap_or(0).into())];
        Halt::ask(self.language().say("t-no-line", &args))
    }

    /// Work of one word: the line of today's list that it names.
    pub(super) fn task(&self, at: usize, clause: &Clause, task: Task) -> Result<Record, Halt> {
        let fits = |l: &&Line| {
            let of = |code: &Option<String>, of: &Option<String>| of.is_none() || code == of;
            l.task == task && of(&l.batch, &clause.batch) && of(&l.group, &clause.group)
        };
        let all: Vec<(&Farm, &Line)> =
            self.farms().flat_map(|f| f.lines.iter().filter(fits).map(move |l| (f, l))).collect();
        let open: Vec<(&Farm, &Line)> =
            all.iter().filter(|(_, l)| l.state != State::Done).copied().collect();
        let label = self.text(&format!("t-task-{}", task.text()));
        match open.as_slice() {
            [] => {
                let key = if all.is_empty() { "t-no-task" } else { "t-done-already" };
                return Err(Halt::ask(self.language().with(key, "task", label)));
            }
            [one] => return self.line(at, clause, *one),
            _ => self.farm_of(&open)?,
        }
        // Waterings of a day come one after the other.
        if task == Task::Water
            && let Some(next) = open.iter().min_by_key(|(_, l)| l.watering)
        {
            return self.line(at, clause, *next);
        }
        let name = |(_, line): &(&Farm, &Line)| line.line.clone();
        let label = |(farm, line): &(&Farm, &Line)| line_label(self.language(), line, &farm.code);
        let chosen = *self.choose(("line", at, "t-which-line"), &open, name, label)?;
        self.line(at, clause, chosen)
    }

    /// One line, done.
    fn line(
        &self,
        at: usize,
        clause: &Clause,
        (farm, line): (&Farm, &Line),
    ) -> Result<Record, Halt> {
        self.check_caution(farm, line)?;
        let of_task = self.text(&format!("t-task-{}", line.task.text()));
        if line.state == State::Done {
            return Err(Halt::ask(self.language().with("t-done-already", "task", of_task)));
        }
        match line.task {
            Task::Harvest => return self.harvest(at, clause, Some((farm, line))),
            Task::Discard => return self.discard(at, clause, Some((farm, line))),
            _ => {}
        }
        let date = self.day(clause.day)?;
        let is_weighed = matches!(line.task, Task::Soak | Task::Feed);
        let is_done = clause.of == crate::words::Opening::Done;
        if clause.cause.is_some() {
            return Err(Halt::ask(self.text("t-cause-elsewhere")));
        }
        let kilo = self.beside(clause, Unit::Kilo);
        let kilo = kilo.or_else(|| clause.bare.first().filter(|_| is_weighed && !is_done));
        if (!is_weighed && kilo.is_some()) || (!is_weighed && !is_done && !clause.bare.is_empty()) {
            return Err(Halt::ask(self.language().with("t-by-line", "task", of_task)));
        }
        let given = kilo.map(|f| self.measured(f)).transpose()?;
        let trays = self.beside(clause, Unit::Tray);
        let trays = trays.map(|f| self.counted(f, "t-whole-trays")).transpose()?;
        if let (Some(given), Some(usual)) = (given, line.grams)
            && is_far(given, usual)
        {
            let args = [("value", amount(given).into()), ("usual", amount(usual).into())];
            self.sure(at, || self.language().say("t-far-kg", &args))?;
        }
        if given == Some(0) {
            return Err(self.missing("t-ask-kg"));
        }
        let grams = given.or(line.grams).filter(|_| is_weighed && trays.is_none());
        let what = What::Work { task: line.task, n: line.n, grams, trays, line: line.line.clone() };
        Ok(Record { farm: farm.code.clone(), date, what })
    }

    /// Fodder with mould or of held seed is not fed, and held seed not soaked, by a text.
    fn check_caution(&self, farm: &Farm, line: &Line) -> Result<(), Halt> {
        let batch = line.batch.as_deref().map(|b| short(b, &farm.code)).unwrap_or_default();
        let key = match (line.task, line.caution) {
            (Task::Feed, Some(Caution::Mould)) => "t-never-mould",
            (Task::Feed | Task::Soak | Task::Spread, Some(Caution::Held)) => "t-never-held",
            (Task::Feed, Some(Caution::OverAge)) => "t-never-old",
            _ => return Ok(()),
        };
        Err(Halt::refuse(self.language().with(key, "batch", batch)))
    }
}
