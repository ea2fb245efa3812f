//! Shelves of records that are kept by lists and forms: which kinds stand on each, where it is,
//! and how its fields and values read.

use super::farms::{one, text};
use super::page::{NONE, Page, figure, shown};
use super::visit::Visit;
use serde_json::{Value as Json, json};
use traybook_app::{Actor, AppError};
use traybook_domain::Kind;
use traybook_domain::field::{FieldKind, FieldSpec};
use traybook_domain::people::authz::Action;
use uuid::Uuid;

#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Shelf {
    /// What a farm bought, spent, got and paid.
    Book,
    /// A farm's sheds, and days on which nothing is grown.
    Sheds,
    /// Days on which somebody plans to visit a farm.
    Visits,
    /// The co-operative's seed, suppliers and feeds.
    Store,
    /// What must be there before the first farm and the first visit.
    Setup,
}

impl Shelf {
    /// All of them. A kind that stands on two is corrected on the first.
    pub const ALL: [Self; 5] = [Self::Book, Self::Sheds, Self::Visits, Self::Store, Self::Setup];

    /// What stands on it, in the order of its page.
    pub const fn kinds(self) -> &'static [Kind] {
        match self {
            Self::Book => &[
                Kind::FeedPurchase,
                Kind::FeedCount,
                Kind::OtherCost,
                Kind::Asset,
                Kind::BaselineRation,
                Kind::FodderPlan,
                Kind::SeedIssue,
                Kind::SeedPayment,
                Kind::Deduction,
                Kind::SeedAdjustment,
            ],
            Self::Sheds => &[Kind::Shed, Kind::RestDay, Kind::GrowingPause, Kind::PlannedHead],
            Self::Visits => &[Kind::VisitPlan],
            Self::Store => &[
                Kind::SeedPurchase,
                Kind::SeedLot,
                Kind::SeedAdjustment,
                Kind::Supplier,
                Kind::Feed,
            ],
            Self::Setup => &[Kind::Area, Kind::ChecklistItem],
        }
    }

    /// Whether a kind stands on one of them.
    pub fn holds(kind: Kind) -> bool {
        Self::ALL.iter().any(|shelf| shelf.kinds().contains(&kind))
    }

    const fn is_of_farm(self) -> bool {
        matches!(self, Self::Book | Self::Sheds | Self::Visits)
    }

    /// Whether a person opens it: the co-operative's own, whoever keeps what stands on it first.
    pub fn may_open(self, actor: &Actor) -> bool {
        let first = self.kinds().first();
        self.is_of_farm() || first.is_some_and(|k| actor.visible(Action::Create, *k).is_ok())
    }
}

/// A shelf of a farm or of the co-operative.
pub(super) struct Book {
    pub shelf: Shelf,
    pub farm: Option<Json>,
}

impl Book {
    /// The one that the address names.
    pub async fn of(visit: &Visit) -> Result<Self, AppError> {
        let path = visit.here.split('?').next().unwrap_or_default();
        if !visit.parts.contains_key("id") {
            let shelf = if path.starts_with("/setup") { Shelf::Setup } else { Shelf::Store };
            return Ok(Self { shelf, farm: None });
        }
        let shelf = match path.split('/').nth(3) {
            Some("sheds") => Shelf::Sheds,
            Some("visits") => Shelf::Visits,
            _ => Shelf::Book,
        };
        Ok(Self { shelf, farm: Some(one(visit, Kind::Farm, visit.id("id")?).await?) })
    }

    /// The one that a record stands on.
    pub async fn with(visit: &Visit, kind: Kind, record: &Json) -> Result<Self, AppError> {
        let farm = Uuid::try_parse(text(record, "farm_id")).ok();
        let holds =
            |shelf: &Shelf| shelf.kinds().contains(&kind) && shelf.is_of_farm() == farm.is_some();
        let shelf = Shelf::ALL.into_iter().find(holds).ok_or(AppError::NotFound)?;
        let farm = match farm {
            Some(id) => Some(one(visit, Kind::Farm, id).await?),
            None => None,
        };
        Ok(Self { shelf, farm })
    }

    /// The farm's id.
    pub fn farm_id(&self) -> Option<&str> {
        self.farm.as_ref().map(|f| text(f, "id"))
    }

    /// Address of its page.
    pub fn path(&self) -> String {
        let of_farm = |name: &str| format!("/farms/{}/{name}", self.farm_id().unwrap_or_default());
        match self.shelf {
            Shelf::Book => of_farm("book"),
            Shelf::Sheds => of_farm("sheds"),
            Shelf::Visits => of_farm("visits"),
            Shelf::Store => "/store".to_owned(),
            Shelf::Setup => "/setup".to_owned(),
        }
    }

    /// Its heading.
    pub fn title(&self, page: &Page) -> String {
        let of_farm = |key: &str| {
            let farm = self.farm.as_ref().map(|f| text(f, "code")).unwrap_or_default();
            page.with(key, "farm", farm)
        };
        match self.shelf {
            Shelf::Book => of_farm("book-of"),
            Shelf::Sheds => of_farm("sheds-of"),
            Shelf::Visits => of_farm("visits-of"),
            Shelf::Store => page.say("store-title"),
            Shelf::Setup => page.say("setup-title"),
        }
    }

    /// Fields of a kind that are asked for: the farm is known, and what is derived is not sent.
    pub fn fields(&self, kind: Kind) -> impl Iterator<Item = &'static FieldSpec> {
        kind.spec().fields.iter().filter(|f| !f.derived && f.name != "farm_id")
    }
}

/// A value that refers to nothing, as it reads; money with its currency.
pub(super) fn reads_alone(page: &Page, kind: Kind, field: &FieldSpec, record: &Json) -> String {
    let value = &record[field.name];
    if value.is_null() {
        return NONE.to_owned();
    }
    match field.kind {
        FieldKind::Choice(_) => page.word(set(kind, field), text(record, field.name)),
        FieldKind::Date { .. } => page.day(value),
        FieldKind::Instant => page.moment(value),
        FieldKind::Money => {
            let amount = value.as_f64().map_or_else(|| NONE.to_owned(), exact);
            format!("{} {amount}", page.currency)
        }
        FieldKind::Bool => page.say(if value == &json!(true) { "yes" } else { "no" }),
        FieldKind::Decimal { .. } | FieldKind::Int { .. } => shown(value, 3),
        FieldKind::Year => shown(value, 0).replace(char::is_whitespace, ""),
        _ => text(record, field.name).to_owned(),
    }
}

/// Money as it was written down: a book is not rounded.
pub(super) fn exact(amount: f64) -> String {
    let is_whole = (amount - amount.round()).abs() < 0.000_5;
    figure(amount, if is_whole { 0 } else { 2 })
}

/// The set of words that a field chooses from.
pub(super) fn set(kind: Kind, field: &FieldSpec) -> &'static str {
    match (kind, field.name) {
        (_, "crop") => "crop",
        (_, "session") => "session",
        (_, "event") => "event",
        (_, "cause") => "cause",
        (_, "outcome") => "outcome",
        (_, "topic") => "topic",
        (_, "weekday") => "weekday",
        (_, "water_source") => "water",
        (Kind::CorrectionRequest, "about") => "subject",
        (Kind::GrowingGuideValue, "name") => "guide",
        (Kind::WorkRecord, "task") => "worked",
        (_, "animal_class") => "class",
        (Kind::HeadCount, "reason") => "head",
        (_, "paid_by") => "paid-by",
        (Kind::SeedAdjustment, "reason") => "adjustment",
        (_, "category") => "cost",
        (_, "payment") => "payment",
        (_, "role") => "role",
        (_, "sex") => "sex",
        (_, "language") => "language-name",
        (_, "points_at") => "points-at",
        (_, "rule") => "rule",
        (_, "answer") => "answer",
        (_, "enterprise") => "enterprise",
        _ => "tray-load",
    }
}

/// What a field is called: by its kind where the name alone does not say enough.
pub(super) fn label(page: &Page, kind: Kind, field: &FieldSpec) -> String {
    let name = field.name.replace('_', "-");
    let own = format!("book-{}-{name}", kind.spec().one.replace('_', "-"));
    let text = page.language.known(&own, &[]);
    let text = text.unwrap_or_else(|| page.say(&format!("book-{name}")));
    if field.kind == FieldKind::Money { format!("{text}, {}", page.currency) } else { text }
}

#[cfg(test)]
mod tests {
    use super::*;
    use traybook_speech::Language;

    /// What is saved is said back field by field, so every word of every kind needs a text.
    #[test]
    fn every_word_of_a_record_can_be_read() {
        let mut missing = Vec::new();
        for kind in Kind::ALL {
            for field in kind.spec().fields {
                let FieldKind::Choice(words) = field.kind else { continue };
                for language in Language::ALL {
                    let key = |word: &&&str| format!("{}-{word}", set(*kind, field));
                    let lacks = words.iter().filter(|w| language.known(&key(w), &[]).is_none());
                    missing
                        .extend(lacks.map(|w| format!("{} {} {w}", kind.spec().one, field.name)));
                }
            }
        }
        assert!(missing.is_empty(), "{missing:#?}");
    }

    /// What is kept about a member is listed by kind.
    #[test]
    fn every_kind_of_a_farm_has_a_name() {
        let of_member = [Kind::Member, Kind::Person, Kind::Attendance, Kind::Farm];
        let of_farm = Kind::ALL.iter().filter(|k| k.spec().index("farm_id").is_some());
        for kind in of_farm.chain(&of_member) {
            for language in Language::ALL {
                let key = format!("kind-{}", kind.spec().one);
                assert!(language.known(&key, &[]).is_some(), "{key} in {}", language.tag());
            }
        }
    }
}
