//! What was saved or taken back, said on the page that follows. What was taken back can be put
//! back with one tap.

use super::blocks::{Block, Form, Leaf, Link};
use super::farms::text;
use super::page::{Page, shown};
use super::shelf::{Shelf, reads_alone};
use super::site::{Shown, go, own_address};
use super::visit::Visit;
use serde_json::Value as Json;
use traybook_app::AppError;
use traybook_domain::field::FieldKind;
use traybook_domain::{FieldSpec, Kind};
use uuid::Uuid;

/// What happened to a record, as the next page's address says it.
#[derive(Clone, Copy, PartialEq, Eq)]
enum What {
    Saved,
    Taken,
}

/// What the next page says.
#[derive(Clone)]
pub(super) struct Echo {
    pub text: String,
    /// What is missing.
    pub more: Vec<String>,
    /// Where the record is mended, and the text of the link.
    pub see: Option<Link>,
    undo: Option<(String, String)>,
}

/// The pair of an address that says which record was saved.
pub(super) fn saved(kind: Kind, id: impl std::fmt::Display) -> String {
    format!("saved={}.{id}", kind.spec().path)
}

/// The same of a record at hand.
pub(super) fn saved_record(kind: Kind, record: &Json) -> String {
    saved(kind, text(record, "id"))
}

/// The pair of an address that says which record was taken back.
pub(super) fn taken(kind: Kind, id: impl std::fmt::Display) -> String {
    format!("taken={}.{id}", kind.spec().path)
}

fn named(text: &str) -> Option<(Kind, Uuid)> {
    let (path, id) = text.split_once('.')?;
    let kind = Kind::ALL.iter().copied().find(|k| k.spec().path == path)?;
    Some((kind, Uuid::try_parse(id).ok()?))
}

impl Echo {
    /// What the address says of a record that this person may see.
    pub async fn of(visit: &Visit) -> Option<Self> {
        let saved = visit.field("saved").map(|text| (What::Saved, text));
        let (what, text) = saved.or(visit.field("taken").map(|text| (What::Taken, text)))?;
        let (kind, id) = named(text)?;
        let record = visit.state.app.get(visit.actor().ok()?, kind, id).await.ok()?.json;
        let page = visit.page();
        let is_withdrawn = !record["withdrawn_at"].is_null();
        let facts = facts(&page, kind, &record);
        if what == What::Saved || !is_withdrawn {
            let text = page.with("saved-what", "what", facts);
            let mut more = missing(&page, kind, &record);
            more.extend(over_limit(visit, &page, kind, &record).await);
            return Some(Self { text, more, see: mended_at(&page, kind, id), undo: None });
        }
        let path = format!("/put-back/{}/{id}", kind.spec().path);
        let undo = can_come_back(kind).then(|| (path, shown(&record["version"], 0)));
        let text = page.with("taken-what", "what", facts);
        Some(Self { text, more: Vec::new(), see: None, undo })
    }

    /// Adds it to a page.
    pub fn show(&self, visit: &Visit, leaf: &mut Leaf) {
        leaf.add(Block::Notice(self.text.clone()));
        if let Some(see) = &self.see {
            leaf.add(Block::Links(vec![see.clone()]));
        }
        for line in &self.more {
            leaf.add(Block::Caution(line.clone()));
        }
        if let Some((path, version)) = &self.undo {
            let form = Form::new(path, "put-back", leaf.page.say("put-back"))
                .hide("version", version)
                .hide("to", visit.here.split('?').next().unwrap_or_default())
                .plain();
            leaf.form(visit, None, form);
        }
    }
}

/// The page on which a record is corrected or taken back.
fn mended_at(page: &Page, kind: Kind, id: Uuid) -> Option<Link> {
    let path = kind.spec().path;
    let (to, key) = match kind {
        Kind::BatchEvent => (format!("/events/{id}"), "correct-it"),
        Kind::Batch => (format!("/batches/{id}/correct"), "correct-it"),
        Kind::MilkRecord | Kind::EggRecord => {
            (format!("/output/{id}/back?kind={path}"), "take-back")
        }
        _ if Shelf::holds(kind) => (format!("/book/{path}/{id}"), "correct-it"),
        _ => return None,
    };
    Some(Link::to(to, page.say(key)))
}

/// Whether a page offers to put a record of this kind back.
fn can_come_back(kind: Kind) -> bool {
    !matches!(kind, Kind::Person | Kind::OfficerArea)
}

/// A record in one line: what was filled in, by name.
pub(super) fn facts(page: &Page, kind: Kind, record: &Json) -> String {
    let is_said = |f: &&FieldSpec| {
        let is_plain = !matches!(f.kind, FieldKind::Ref(_) | FieldKind::Bool);
        is_plain && !record[f.name].is_null() && f.name != "note"
    };
    let fields = kind.spec().fields.iter().filter(is_said);
    let fact = |f: &FieldSpec| match (reads_alone(page, kind, f, record), f.kind) {
        // A day or a word of a fixed set says by itself what it is.
        (value, FieldKind::Date { .. } | FieldKind::Instant | FieldKind::Choice(_)) => value,
        (value, _) => format!("{} {value}", page.field_name(f.name)),
    };
    fields.map(fact).filter(|f| !f.is_empty()).collect::<Vec<_>>().join(" · ")
}

/// Says when seed was handed out on credit to a member who now owes more than the limit.
async fn over_limit(visit: &Visit, page: &Page, kind: Kind, record: &Json) -> Option<String> {
    if kind != Kind::SeedIssue || text(record, "payment") != "credit" {
        return None;
    }
    let farm = Uuid::try_parse(text(record, "farm_id")).ok()?;
    let account = visit.state.app.seed_account(visit.actor().ok()?, farm, None, None).await.ok()?;
    let over = account.over_limit.filter(|over| over.is_positive())?;
    Some(page.with("account-over-limit", "amount", page.money(&over)))
}

/// What a saved record lacks, though it may be saved without.
fn missing(page: &Page, kind: Kind, record: &Json) -> Vec<String> {
    let is_cut = kind == Kind::BatchEvent && text(record, "event") == "harvested";
    let lacks_kg = is_cut && record["kg"].is_null();
    lacks_kg.then(|| page.say("harvest-without-kg")).into_iter().collect()
}

/// Puts a record back that was taken back.
pub(super) async fn put_back(visit: Visit) -> Shown {
    let (actor, id) = (visit.actor()?, visit.id("id")?);
    let path = visit.parts.get("kind").map(String::as_str).unwrap_or_default();
    let kind = Kind::ALL.iter().copied().find(|k| k.spec().path == path && can_come_back(*k));
    let kind = kind.ok_or(AppError::NotFound)?;
    let version = super::forms::version(&visit)?;
    visit.state.app.put_back(actor, kind, id, version).await?;
    let to = visit.field("to").and_then(own_address).unwrap_or("/");
    Ok(go(&format!("{to}?{}", saved(kind, id))))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::web::shelf::set;
    use traybook_speech::Language;

    /// Kinds that pages save one by one.
    const SAVED: [Kind; 9] = [
        Kind::MilkRecord,
        Kind::EggRecord,
        Kind::Batch,
        Kind::BatchEvent,
        Kind::WorkRecord,
        Kind::HeadCount,
        Kind::AnimalGroup,
        Kind::CorrectionRequest,
        Kind::FollowUp,
    ];

    #[test]
    fn what_was_saved_has_its_words() {
        let known = |key: &str| Language::ALL.iter().all(|l| l.known(key, &[]).is_some());
        let shelves = Shelf::ALL.iter().flat_map(|shelf| shelf.kinds());
        let kinds = SAVED.iter().chain(&[Kind::GrowingGuideValue]).chain(shelves);
        for kind in kinds {
            for field in kind.spec().fields {
                if let FieldKind::Choice(words) = field.kind {
                    for word in words {
                        let key = format!("{}-{word}", set(*kind, field));
                        assert!(known(&key), "{} {}: {key}", kind.spec().one, field.name);
                    }
                }
                let is_named = matches!(
                    field.kind,
                    FieldKind::Int { .. } | FieldKind::Decimal { .. } | FieldKind::Money
                );
                let key = format!("field-{}", field.name);
                assert!(!is_named || known(&key), "{} {key}", kind.spec().one);
            }
        }
    }
}
