//! Milk and eggs.

use super::{Cx, Halt, is_far};
use crate::answers::{amount, animals_word};
use crate::clauses::Clause;
use crate::scene::{Again, Farm, Group, Question, Record, What};
use crate::words::{Animal, Session, Unit};
use chrono::NaiveDate;
use traybook_domain::kinds::MILLILITRES_PER_ANIMAL_MAX;
use traybook_domain::records::collected::MUCH_MILK;

/// Eggs of a full egg tray. *Common practice, no source.*
const EGG_TRAY: i64 = 30;

/// What is written of the milking already, in thousandths.
struct Before {
    amount: i64,
    session: Session,
}

impl Cx<'_> {
    pub(super) fn milk(&self, at: usize, clause: &Clause) -> Result<Record, Halt> {
        let (farm, group) = self.group(at, clause, false)?;
        let date = self.day(clause.day)?;
        let Some(figure) = self.figure(clause, Unit::Litre) else {
            return Err(self.missing("t-ask-milk"));
        };
        let ml = self.measured(figure)?;
        let animals = self.animals(at, clause, group)?;
        if ml > animals.saturating_mul(MILLILITRES_PER_ANIMAL_MAX) {
            let args = [
                ("litres", amount(ml).into()),
                ("animals", animals_word(self.language(), group.animal, animals).into()),
            ];
            return Err(Halt::refuse(self.language().say("t-much-milk", &args)));
        }
        let session = clause.session.unwrap_or(Session::Day);
        let before = self.before(&group.code, date, session);
        let said = ml;
        let (ml, again) = self.again(at, ml, before.as_ref(), date)?;
        let session = match (&before, again) {
            (Some(before), Some(Again::Add)) if before.session != session => Session::Day,
            _ => session,
        };
        let usual = self.usual(group, animals);
        // One milking may be most of the day's milk, and is seldom less than a tenth of it.
        let least = if session == Session::Day { 1 } else { 2 };
        let is_far = usual.is_some_and(|u| is_far(ml.saturating_mul(least).min(ml.max(u)), u));
        let is_much = usual.is_none() && much_milk(group.animal).is_some_and(|l| ml > animals * l);
        let is_sure = (is_far || ml == 0 || is_much)
            && self.sure(at, || self.far("t-far-milk", ml, usual))?;
        let what = What::Milk {
            group: group.code.clone(),
            animal: group.animal,
            ml,
            said,
            animals,
            session,
            again,
            is_sure,
        };
        Ok(Record { farm: farm.code.clone(), date, what })
    }

    pub(super) fn eggs(&self, at: usize, clause: &Clause) -> Result<Record, Halt> {
        let (farm, group) = self.group(at, clause, true)?;
        let date = self.day(clause.day)?;
        let Some(figure) = self.figure(clause, Unit::Tray) else {
            return Err(self.missing("t-ask-eggs"));
        };
        let in_trays = self.beside(clause, Unit::Tray).is_some();
        let mut eggs = if in_trays {
            let eggs = self.measured(figure)? * EGG_TRAY;
            if eggs % 1_000 != 0 {
                return Err(self.not_clear(figure));
            }
            eggs / 1_000
        } else {
            self.counted(figure, "t-whole-eggs")?
        };
        let hens = self.animals(at, clause, group)?;
        let cracked =
            clause.cracked.as_ref().map(|f| self.counted(f, "t-whole-eggs")).transpose()?;
        if cracked.is_some_and(|cracked| cracked > eggs) {
            return Err(Halt::refuse(self.language().with("t-cracked", "eggs", eggs)));
        }
        let too_many = |eggs: i64| eggs * 2 > hens * 3;
        let refuse = |eggs: i64| {
            let args = [("eggs", eggs.into()), ("hens", hens.into())];
            Halt::refuse(self.language().say("t-many-eggs", &args))
        };
        if too_many(eggs) {
            return Err(refuse(eggs));
        }
        if in_trays {
            let args = [("trays", figure.raw.as_str().into()), ("eggs", eggs.into())];
            self.sure(at, || self.language().say("t-egg-trays", &args))?;
        }
        let before = self.before(&group.code, date, Session::Day);
        let said = eggs * 1_000;
        let (sum, again) = self.again(at, said, before.as_ref(), date)?;
        eggs = sum / 1_000;
        if too_many(eggs) {
            return Err(refuse(eggs));
        }
        let usual = self.usual(group, hens);
        let is_far = eggs == 0 || usual.is_some_and(|u| is_far(sum, u));
        let is_sure = is_far && self.sure(at, || self.far("t-far-eggs", sum, usual))?;
        let what = What::Eggs {
            group: group.code.clone(),
            eggs: sum,
            said,
            animals: hens,
            cracked,
            again,
            is_sure,
        };
        Ok(Record { farm: farm.code.clone(), date, what })
    }

    /// The group that is meant.
    fn group(&self, at: usize, clause: &Clause, lays: bool) -> Result<(&Farm, &Group), Halt> {
        let wanted = clause.animals.as_ref().map(|(animal, _)| *animal);
        let all: Vec<(&Farm, &Group)> = self
            .farms()
            .flat_map(|farm| farm.groups.iter().map(move |group| (farm, group)))
            .filter(|(_, group)| (group.animal == Animal::Hens) == lays)
            .filter(|(_, group)| clause.group.as_ref().is_none_or(|code| *code == group.code))
            .filter(|(_, group)| wanted.is_none_or(|animal| animal == group.animal))
            .collect();
        match all.as_slice() {
            [one] => return Ok(*one),
            [] => {
                let key = if lays { "t-no-hens" } else { "t-no-cows" };
                return Err(Halt::ask(self.text(key)));
            }
            _ => self.farm_of(&all)?,
        }
        let name = |(_, group): &(&Farm, &Group)| group.code.clone();
        let label = |(farm, group): &(&Farm, &Group)| crate::scene::short(&group.code, &farm.code);
        self.choose(("group", at, "t-which-group"), &all, name, label).copied()
    }

    /// Animals in milk or hens: as written, or those of the group.
    fn animals(&self, at: usize, clause: &Clause, group: &Group) -> Result<i64, Halt> {
        let Some((animal, Some(figure))) = &clause.animals else {
            if group.animals < 1 {
                let key = if group.animal == Animal::Hens { "t-no-head-hens" } else { "t-no-head" };
                return Err(Halt::ask(self.text(key)));
            }
            return Ok(group.animals);
        };
        let animals = self.counted(figure, "t-odd-figure")?;
        if animals < 1 {
            return Err(self.not_clear(figure));
        }
        if group.animals > 0 && animals > group.animals {
            let word = |n: i64| animals_word(self.language(), *animal, n);
            let args = [("now", word(animals).into()), ("known", word(group.animals).into())];
            self.sure(at, || self.language().say("t-more-animals", &args))?;
        }
        Ok(animals)
    }

    /// What so many animals of a group usually give, in thousandths.
    fn usual(&self, group: &Group, animals: i64) -> Option<i64> {
        let usual = group.usual.filter(|u| *u > 0)?;
        let animals = animals.min(group.animals.max(1));
        Some(usual * animals / group.animals.max(1))
    }

    fn far(&self, key: &str, value: i64, usual: Option<i64>) -> String {
        let Some(usual) = usual else {
            return self.language().with("t-far", "value", amount(value));
        };
        let args = [("value", amount(value).into()), ("usual", amount(usual).into())];
        self.language().say(key, &args)
    }

    /// What is written of the milking: the same one, or the whole day where either is that.
    fn before(&self, group: &str, date: NaiveDate, session: Session) -> Option<Before> {
        let is_about = |s: Session| s == session || s == Session::Day || session == Session::Day;
        let all = self.scene.written.iter();
        let all = all.filter(|w| w.group == group && w.date == date && is_about(w.session));
        all.fold(None, |sum: Option<Before>, w| {
            let same = sum.as_ref().is_none_or(|s| s.session == w.session);
            let amount = sum.map_or(0, |s| s.amount) + w.amount;
            Some(Before { amount, session: if same { w.session } else { Session::Day } })
        })
    }

    /// The amount beside what is written already: on top of it or instead, as was answered.
    fn again(
        &self,
        at: usize,
        new: i64,
        before: Option<&Before>,
        date: NaiveDate,
    ) -> Result<(i64, Option<Again>), Halt> {
        let Some(before) = before else { return Ok((new, None)) };
        let said = self.answered("again", at);
        match (said, self.adds) {
            (Some("add"), _) | (None, true) => Ok((before.amount + new, Some(Again::Add))),
            (Some(_), _) => Ok((new, Some(Again::Instead))),
            (None, false) => {
                let args = [
                    ("was", amount(before.amount).into()),
                    ("sum", amount(before.amount + new).into()),
                    ("new", amount(new).into()),
                    ("day", crate::answers::day(self.language(), self.scene.today, date).into()),
                ];
                let options = vec!["add".to_owned(), "instead".to_owned()];
                let key = format!("again.{at}");
                let halt = Halt::ask(self.language().say("t-again", &args));
                Err(halt.with(Question::Choice { key, options }))
            }
        }
    }
}

/// Ml an animal and day that are asked back where nothing is known of the group.
fn much_milk(animal: Animal) -> Option<i64> {
    let class = match animal {
        Animal::Cows => "dairy_cows",
        Animal::Goats => "goats",
        Animal::Sheep => "sheep",
        Animal::Hens => return None,
    };
    MUCH_MILK.iter().find(|(of, _)| *of == class).map(|(_, litres)| litres * 1_000)
}
