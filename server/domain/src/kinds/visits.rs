//! Visits with their checks, follow-ups, readings and photos; trainings.

use crate::field::{
    FieldError, any_date, choice, code, decimal, flag, instant, past_date, reference, text,
};
use crate::kind::{Kind, Scope};
use crate::record::record;
use crate::value::Instant;
use chrono::NaiveDate;
use uuid::Uuid;

/// Answers to a checklist question.
pub const ANSWERS: &[&str] = &["yes", "no", "not_seen"];
/// How a follow-up ended.
pub const OUTCOMES: &[&str] = &["done", "not_done", "not_needed"];
/// What a member's wish for a correction can be about.
pub const REQUEST_SUBJECTS: &[&str] =
    &["batch", "milk", "eggs", "feed", "seed", "money", "animals", "visit", "other"];

record! {
    /// An officer's visit to a farm.
    Visit {
        one: "visit", path: "visits", scope: Scope::Farm, date: "started_at", code: "code";
        /// Short name, unique in the co-operative.
        code: Option<String> = code();
        /// The farm.
        farm_id: Uuid = reference(Kind::Farm).fixed();
        /// The officer.
        officer_id: Uuid = reference(Kind::Person);
        /// Begin.
        started_at: Instant = instant();
        /// End.
        ended_at: Option<Instant> = instant();
        /// Latitude, degrees north (WGS 84), where the officer shared it.
        latitude: Option<i64> = decimal(5, -9_000_000, 9_000_000);
        /// Longitude, degrees east (WGS 84).
        longitude: Option<i64> = decimal(5, -18_000_000, 18_000_000);
        /// What was seen.
        note: Option<String> = text(4_000);
        /// What was advised. Advice on rations and disease defers to the local livestock service.
        advice: Option<String> = text(4_000);
    }
    rules(self, _ctx, errors) {
        if self.ended_at.is_some_and(|end| end < self.started_at) {
            errors.push(FieldError::new("ended_at", "order", "give an instant after started_at"));
        }
    }
}

record! {
    /// A day on which somebody plans to visit a farm. The member is reminded the day before, where
    /// the number agreed to reminders.
    VisitPlan {
        one: "visit_plan", path: "visit-plans", scope: Scope::Farm, date: "planned_on";
        /// The farm.
        farm_id: Uuid = reference(Kind::Farm).fixed();
        /// The day.
        planned_on: NaiveDate = any_date();
        /// What for.
        note: Option<String> = text(500);
    }
}

record! {
    /// The answer to one checklist question at a visit.
    VisitCheck {
        one: "visit_check", path: "visit-checks", scope: Scope::Farm;
        /// The visit.
        visit_id: Uuid = reference(Kind::Visit).fixed();
        /// Its farm.
        farm_id: Uuid = reference(Kind::Farm).derived();
        /// The question.
        checklist_item_id: Uuid = reference(Kind::ChecklistItem).fixed();
        /// The answer; yes is good.
        answer: String = choice(ANSWERS);
        /// Remarks.
        note: Option<String> = text(1_000);
    }
}

record! {
    /// Something agreed on, with a day by which it should be done.
    FollowUp {
        one: "follow_up", path: "follow-ups", scope: Scope::Farm, date: "due_on";
        /// The farm.
        farm_id: Uuid = reference(Kind::Farm).fixed();
        /// The visit at which it was agreed.
        visit_id: Option<Uuid> = reference(Kind::Visit);
        /// What is to be done.
        action: String = text(500);
        /// By when.
        due_on: NaiveDate = any_date();
        /// How it ended; none while it is open.
        outcome: Option<String> = choice(OUTCOMES);
        /// Day on which it ended.
        ended_on: Option<NaiveDate> = past_date();
        /// Remarks.
        note: Option<String> = text(1_000);
    }
    rules(self, _ctx, errors) {
        if self.outcome.is_some() != self.ended_on.is_some() {
            let field = if self.outcome.is_some() { "ended_on" } else { "outcome" };
            errors.push(FieldError::new(field, "combination", "give both or neither"));
        }
    }
}

record! {
    /// What a member asks to have put right, in the member's own words. Whoever answers corrects
    /// the record itself, which keeps its earlier values.
    CorrectionRequest {
        one: "correction_request", path: "correction-requests", scope: Scope::Farm,
        date: "asked_on";
        /// The farm.
        farm_id: Uuid = reference(Kind::Farm).fixed();
        /// What it is about.
        about: String = choice(REQUEST_SUBJECTS).fixed();
        /// The batch, where it is about one.
        batch_id: Option<Uuid> = reference(Kind::Batch).fixed();
        /// Day on which it was asked.
        asked_on: NaiveDate = past_date().fixed();
        /// What is wrong, and what is right.
        wish: String = text(1_000).fixed();
        /// What was done about it; none while it is open.
        answer: Option<String> = text(1_000);
        /// Day of the answer.
        answered_on: Option<NaiveDate> = past_date();
    }
    rules(self, _ctx, errors) {
        if self.answer.is_some() != self.answered_on.is_some() {
            let field = if self.answer.is_some() { "answered_on" } else { "answer" };
            errors.push(FieldError::new(field, "combination", "give both or neither"));
        }
        if self.answered_on.is_some_and(|day| day < self.asked_on) {
            errors.push(FieldError::new("answered_on", "order", "give a day from asked_on on"));
        }
    }
}

record! {
    /// Air temperature and relative humidity in a shed.
    Reading {
        one: "reading", path: "readings", scope: Scope::Farm, date: "at";
        /// The farm.
        farm_id: Uuid = reference(Kind::Farm).fixed();
        /// The shed.
        shed_id: Option<Uuid> = reference(Kind::Shed);
        /// The visit at which it was read.
        visit_id: Option<Uuid> = reference(Kind::Visit);
        /// When.
        at: Instant = instant();
        /// Air temperature, degrees Celsius.
        temperature_c: i64 = decimal(1, -2_000, 2_000);
        /// Relative humidity, per cent.
        humidity_percent: Option<i64> = decimal(1, 0, 1_000);
    }
    rules(self, _ctx, errors) {
        if self.temperature_c > 550 || self.temperature_c < -300 {
            let detail = "give degrees Celsius (-30 to 55); this looks like degrees Fahrenheit: \
                subtract 32 and multiply by 5/9";
            errors.push(FieldError::new("temperature_c", "unit", detail));
        }
        if self.humidity_percent.is_some_and(|h| h > 0 && h <= 10) {
            let detail = "give per cent (0 to 100), not a fraction: 0.6 is written 60";
            errors.push(FieldError::new("humidity_percent", "unit", detail));
        }
    }
}

record! {
    /// A training that the co-operative gave.
    Training {
        one: "training", path: "trainings", scope: Scope::Cooperative, date: "date", code: "code";
        /// Short name, unique in the co-operative.
        code: String = code();
        /// What was taught.
        topic: String = text(200);
        /// Day.
        date: NaiveDate = any_date();
        /// Where.
        place: Option<String> = text(200);
        /// Area whose members are invited; none where all are.
        area_id: Option<Uuid> = reference(Kind::Area);
        /// The officer who taught.
        trainer_id: Option<Uuid> = reference(Kind::Person);
        /// Remarks.
        note: Option<String> = text(1_000);
    }
}

record! {
    /// A member's attendance at a training.
    Attendance {
        one: "attendance", path: "attendances", scope: Scope::Member;
        /// The training.
        training_id: Uuid = reference(Kind::Training).fixed();
        /// The member.
        member_id: Uuid = reference(Kind::Member).fixed();
    }
}

record! {
    /// A photo of a visit or of something that happened to a batch. Its bytes are sent and read
    /// under `/v1/photos/{id}/content`.
    Photo {
        one: "photo", path: "photos", scope: Scope::Farm, date: "taken_at";
        /// The farm.
        farm_id: Uuid = reference(Kind::Farm).fixed();
        /// The visit it belongs to.
        visit_id: Option<Uuid> = reference(Kind::Visit).fixed();
        /// The batch event it belongs to.
        batch_event_id: Option<Uuid> = reference(Kind::BatchEvent).fixed();
        /// When it was taken.
        taken_at: Instant = instant();
        /// What it shows.
        caption: Option<String> = text(300);
        /// Whether the place inside the picture file is kept; it is taken out otherwise.
        keep_location: bool = flag();
    }
    rules(self, _ctx, errors) {
        if self.visit_id.is_some() == self.batch_event_id.is_some() {
            let detail = "give the visit or the batch event, one of the two";
            errors.push(FieldError::new("visit_id", "combination", detail));
        }
    }
}
