//! Officers' visits: checks, readings, follow-ups.

use crate::calendar::{at, later};
use crate::farm::Farm;
use crate::generate::World;
use crate::prices::{WEATHER_DAYS, heat, weather};
use crate::random::{Rng, round};
use crate::setup::Question;
use crate::writes::Out;
use chrono::{Datelike as _, NaiveDate};
use serde_json::json;
use traybook_domain::kinds::{CorrectionRequest, FollowUp, Reading, Visit, VisitCheck};
use traybook_domain::value::Instant;
use traybook_domain::{Kind, Month};
use uuid::Uuid;

/// A follow-up that is open.
pub(crate) struct Open {
    id: Uuid,
    agreed: NaiveDate,
    due: NaiveDate,
}

/// Topics that make sense on a farm without a shed.
const WITHOUT_SHED: [&str; 2] = ["water", "records"];
/// How much warmer the bad shed is, degrees Celsius.
pub(crate) const BAD_SHED_WARM: f64 = 2.5;
/// Topics in which the bad shed fails.
const BAD_SHED: [&str; 3] = ["shelves", "shed", "trays"];

impl Farm {
    /// The month's visit, if there is one, and what became of earlier follow-ups.
    pub(crate) fn be_visited(&mut self, world: &World, number: usize, out: &mut Out) {
        self.follow_up(world, number, out);
        let (growing, others) = world.plan.size.visit_chance();
        let chance = if self.shed.is_some() { growing } else { others };
        let rng = &mut self.streams.visits;
        let comes = rng.chance(chance);
        let day = world.calendar.day(number, rng.int(3, 27));
        let begin = rng.int(8 * 60 + 30, 14 * 60);
        let (from, until) = (at(day, begin), at(day, begin + rng.int(30, 80)));
        if comes && until <= world.calendar.now() {
            self.visit(world, day, (from, until), out);
        }
        if self.shed.is_some() && !world.plan.size.measures() {
            self.read_weathers(world, number, out);
        }
        self.ask(world, number, out);
    }

    /// In the last two months some members ask for a correction; the earlier wishes were answered.
    fn ask(&self, world: &World, number: usize, out: &mut Out) {
        let months_left = world.plan.history().saturating_sub(number + 1);
        let asks = self.story.number % 5 == 1 + months_left;
        let day = world.calendar.day(number, 4);
        if months_left > 1 || !asks || self.shed.is_none() || at(day, 0) > world.calendar.now() {
            return;
        }
        let milk = self.story.number.is_multiple_of(2);
        let (about, wish) = match milk {
            true => ("milk", "Two days ago it was 14 litres, not 41."),
            false => {
                ("batch", "One tray of the last batch was thrown away; it is not in the list.")
            }
        };
        let answered = (months_left == 1).then(|| later(day, 3));
        let wish = CorrectionRequest {
            farm_id: self.id,
            about: about.to_owned(),
            batch_id: None,
            asked_on: day,
            wish: wish.to_owned(),
            answer: answered.map(|_| "Put right with the member; thank you.".to_owned()),
            answered_on: answered,
        };
        out.add(at(day, 18 * 60), wish);
    }

    fn visit(&mut self, world: &World, day: NaiveDate, time: (Instant, Instant), out: &mut Out) {
        let (from, until) = time;
        let visit_id = out.id(from);
        let answers = self.answers(world);
        let failed = answers.iter().find(|(_, answer)| *answer == "no").map(|(q, _)| *q);
        let rng = &mut self.streams.visits;
        let note = if self.story.bad_shed {
            "Trays at the back stay wet; the shed is close and damp."
        } else if self.shed.is_none() {
            rng.pick(&[
                "Looked at the animals and the feed store; the member wants to see a shed first.",
                "Talked about where a shed could stand.",
            ])
        } else {
            rng.pick(&[
                "Mats even and white-rooted. Records up to date.",
                "Work goes well; the children water at midday.",
                "One shelf a little low at the back.",
                "Member asks how many trays to start for the new animals.",
            ])
        };
        let visit = Visit {
            code: None,
            farm_id: self.id,
            officer_id: world.catalog.officer(self.story.area),
            started_at: from,
            ended_at: Some(until),
            latitude: None,
            longitude: None,
            note: Some(note.to_owned()),
            advice: failed.map(|q| format!("{}.", q.action)),
        };
        out.add_as(visit_id, visit);
        for (question, answer) in answers {
            let check = VisitCheck {
                visit_id,
                farm_id: Uuid::nil(),
                checklist_item_id: question.id,
                answer: answer.to_owned(),
                note: None,
            };
            out.add(from, check);
        }
        if let Some(shed) = self.shed {
            self.read(world, (day, from), shed, Some(visit_id), out);
        }
        if let Some(question) = failed {
            self.agree(day, until, visit_id, question.action, out);
        }
    }

    fn agree(&mut self, day: NaiveDate, until: Instant, visit: Uuid, action: &str, out: &mut Out) {
        let due_on = later(day, self.streams.visits.int(7, 21));
        let record = FollowUp {
            farm_id: self.id,
            visit_id: Some(visit),
            action: action.to_owned(),
            due_on,
            outcome: None,
            ended_on: None,
            note: None,
        };
        let id = out.add(until, record);
        self.follow_ups.push(Open { id, agreed: day, due: due_on });
    }

    /// Some of the follow-ups of earlier months end; the others stay open and become overdue.
    fn follow_up(&mut self, world: &World, number: usize, out: &mut Out) {
        let first = world.calendar.day(number, 1);
        let rng = &mut self.streams.visits;
        for open in std::mem::take(&mut self.follow_ups) {
            let ended = later(open.agreed.max(first), rng.int(4, 24));
            let outcome = match rng.int(0, 9) {
                0 => "not_needed",
                1 => "not_done",
                _ => "done",
            };
            let overdue = open.due < first;
            if ended > world.calendar.today || rng.chance(if overdue { 0.5 } else { 0.3 }) {
                self.follow_ups.push(open);
                continue;
            }
            let end = vec![("outcome", json!(outcome)), ("ended_on", json!(ended.to_string()))];
            out.correct(Kind::FollowUp, open.id, end, None);
        }
    }

    fn answers<'w>(&mut self, world: &'w World) -> Vec<(&'w Question, &'static str)> {
        let rng = &mut self.streams.visits;
        let has_shed = self.shed.is_some();
        let mut asked: Vec<&Question> = world.catalog.questions.iter().collect();
        asked.retain(|q| has_shed || WITHOUT_SHED.contains(&q.topic));
        rng.shuffle(&mut asked);
        if self.story.bad_shed {
            // Where trays keep spoiling, the officer looks there first.
            asked.sort_by_key(|q| !BAD_SHED.contains(&q.topic));
        }
        asked.truncate(world.plan.size.checks());
        let answer = |q: &Question, rng: &mut Rng| {
            let bad = self.story.bad_shed && BAD_SHED.contains(&q.topic);
            let slack = if bad { 0.7 } else { self.story.slack };
            match rng.unit() {
                u if u < slack => "no",
                u if u < slack + 0.05 => "not_seen",
                _ => "yes",
            }
        };
        asked.into_iter().map(|q| (q, answer(q, rng))).collect()
    }

    fn read(
        &mut self,
        world: &World,
        (day, at): (NaiveDate, Instant),
        shed: Uuid,
        visit: Option<Uuid>,
        out: &mut Out,
    ) {
        let heat = heat(world.plan.seed, day);
        let rng = &mut self.streams.visits;
        let (warm, humid) = weather(Month::of(day));
        let bad = self.story.bad_shed;
        let (more_warm, more_humid) = if bad { (BAD_SHED_WARM, 16.0) } else { (0.0, 0.0) };
        let temperature = warm + more_warm + heat + 0.6 * rng.normal();
        let humidity = (humid + more_humid + 6.0 * rng.normal()).clamp(30.0, 99.0);
        let reading = Reading {
            farm_id: self.id,
            shed_id: Some(shed),
            visit_id: visit,
            at,
            temperature_c: round(temperature * 10.0),
            humidity_percent: Some(round(humidity) * 10),
        };
        out.add(at, reading);
    }

    /// Farms read the thermometer in every weather.
    fn read_weathers(&mut self, world: &World, number: usize, out: &mut Out) {
        let Some(shed) = self.shed else { return };
        for day in world.calendar.days(number) {
            let since = self.story.start.map_or(-1, |(_, start)| (day - start).num_days());
            let when = at(day, 11 * 60 + 20);
            let is_second = day.num_days_from_ce().rem_euclid(WEATHER_DAYS) == 1;
            if since >= 0 && is_second && when <= world.calendar.now() {
                self.read(world, (day, when), shed, None, out);
            }
        }
    }
}
