//! Listing, reading and changing records of any kind.

use super::represent::Presenter;
use super::txn::{Written, find_visible};
use crate::error::AppError;
use crate::{Actor, App};
use serde_json::{Map, Value as Json};
use sha2::{Digest, Sha256};
use traybook_answers::records::{RecordAction, RecordHistory, RecordOrigin, RecordVersion};
use traybook_answers::wire::{AnyRecord, Time};
use traybook_domain::field::FieldKind;
use traybook_domain::people::authz::Action;
use traybook_domain::time::{parse_date, plus_days, start_of_day};
use traybook_domain::value::Instant;
use traybook_domain::{ColumnType, FieldError, Kind, Value, limits};
use traybook_storage::Conn;
use traybook_storage::records::{self, After, Filter, Record};
use traybook_storage::schema::order_field;
use uuid::Uuid;

/// A record as it is answered.
#[derive(Clone, Debug)]
pub struct Shown {
    pub json: Json,
    pub version: i64,
    /// Whether it was made by this request.
    pub is_new: bool,
}

/// One page of a list.
#[derive(Clone, Debug)]
pub struct Page {
    pub items: Vec<Json>,
    /// Where the next page begins.
    pub next: Option<String>,
}

/// What a list is asked for, as it came.
#[derive(Clone, Debug, Default)]
pub struct Query {
    /// Names and values, in the order given.
    pub pairs: Vec<(String, String)>,
}

/// Query parameters of every list besides the kind's own.
pub const LIST_PARAMETERS: &[&str] = &["limit", "cursor", "withdrawn", "from", "to", "q"];

/// Fields of a kind that a list can be filtered by.
pub fn filter_fields(kind: Kind) -> impl Iterator<Item = &'static traybook_domain::FieldSpec> {
    kind.spec()
        .fields
        .iter()
        .filter(|f| matches!(f.kind, FieldKind::Ref(_) | FieldKind::Choice(_) | FieldKind::Code))
}

struct Asked {
    filter: Filter,
    limit: usize,
    after: Option<After>,
    fingerprint: String,
}

fn ask(actor: &Actor, kind: Kind, query: &Query, now: Instant) -> Result<Asked, AppError> {
    let spec = kind.spec();
    let ctx = actor.coop.read_ctx(now);
    let mut errors = Vec::new();
    let mut asked = Asked {
        filter: Filter::default(),
        limit: limits::PAGE_DEFAULT,
        after: None,
        fingerprint: fingerprint(kind, query),
    };
    let mut seen: Vec<&str> = Vec::new();
    for (name, text) in &query.pairs {
        if seen.contains(&name.as_str()) {
            errors.push(FieldError::new(name, "repeated", "give this once"));
            continue;
        }
        seen.push(name);
        let day = |later: u64| {
            parse_date(text).map(|d| (d, start_of_day(plus_days(d, later), actor.coop.zone).0))
        };
        match name.as_str() {
            "limit" => match text.parse::<usize>() {
                Ok(n) if (1..=limits::PAGE_MAX).contains(&n) => asked.limit = n,
                _ => {
                    let detail = format!("give 1 to {}", limits::PAGE_MAX);
                    errors.push(FieldError::new(name, "range", detail));
                }
            },
            "cursor" => asked.after = Some(read_cursor(kind, text, &asked.fingerprint)?),
            "withdrawn" => match text.as_str() {
                "true" => asked.filter.withdrawn = true,
                "false" => {}
                _ => errors.push(FieldError::new(name, "type", "give true or false")),
            },
            "from" | "to" if spec.date.is_some() => {
                let bound = day(u64::from(name == "to"));
                if bound.is_none() {
                    errors.push(FieldError::new(name, "type", "give a day as YYYY-MM-DD"));
                }
                let Filter { from, to, .. } = &mut asked.filter;
                *if name == "from" { from } else { to } = bound;
            }
            "q" if spec.code.is_some() && (1..=100).contains(&text.chars().count()) => {
                if text.chars().any(char::is_control) {
                    errors.push(FieldError::new(name, "characters", "remove control characters"));
                }
                asked.filter.search = Some(text.clone());
            }
            "q" if spec.code.is_some() => {
                errors.push(FieldError::new(name, "length", "give 1 to 100 characters"));
            }
            _ => match filter_fields(kind).find(|f| f.name == name) {
                Some(field) => match field.read_text(text, &ctx) {
                    Ok(value) if !value.is_null() => {
                        let index = spec.index(field.name).unwrap_or(0);
                        asked.filter.equals.push((index, value));
                    }
                    Ok(_) => errors.push(FieldError::new(name, "required", "give a value")),
                    Err(error) => errors.push(error),
                },
                None => {
                    let own: Vec<&str> = filter_fields(kind).map(|f| f.name).collect();
                    let detail = format!("remove this; this list knows {}", own.join(", "));
                    errors.push(FieldError::new(name, "unknown_parameter", detail));
                }
            },
        }
    }
    if errors.is_empty() { Ok(asked) } else { Err(AppError::Invalid(errors)) }
}

/// What a cursor is bound to: the kind and all conditions but the page size and the cursor itself.
fn fingerprint(kind: Kind, query: &Query) -> String {
    let mut pairs: Vec<String> = query
        .pairs
        .iter()
        .filter(|(name, _)| name != "cursor" && name != "limit")
        .map(|(name, value)| format!("{name}={value}"))
        .collect();
    pairs.sort();
    let digest = Sha256::digest(format!("{}?{}", kind.spec().path, pairs.join("&")));
    digest.iter().take(6).map(|b| format!("{b:02x}")).collect()
}

fn write_cursor(kind: Kind, record: &Record, fingerprint: &str) -> String {
    let spec = kind.spec();
    let order = order_field(kind).map(|d| match spec.get(&record.values, d) {
        Value::Instant(ms) => ms.to_string(),
        Value::Date(date) => date.to_string(),
        _ => String::new(),
    });
    format!("{fingerprint}.{}.{}", record.id.simple(), order.unwrap_or_default())
}

fn read_cursor(kind: Kind, text: &str, fingerprint: &str) -> Result<After, AppError> {
    let foreign = || AppError::Cursor { gone: false };
    let mut parts = text.splitn(3, '.');
    if parts.next() != Some(fingerprint) {
        return Err(foreign());
    }
    let id = parts.next().and_then(|t| Uuid::try_parse(t).ok()).ok_or_else(foreign)?;
    let rest = parts.next().unwrap_or_default();
    let order = match order_field(kind).and_then(|d| kind.spec().field(d)) {
        None => None,
        Some(field) if field.column() == ColumnType::Instant => {
            Some(Value::Instant(rest.parse().ok().ok_or_else(foreign)?))
        }
        Some(_) => Some(Value::Date(parse_date(rest).ok_or_else(foreign)?)),
    };
    Ok(After { order, id })
}

/// Reads the records of one page, and where the next page begins.
type FindPage = dyn Fn(&mut Conn) -> Result<(Vec<Record>, Option<String>), AppError> + Send;

/// Reads what a list is asked for: one page of it, found when the store is read.
///
/// # Errors
/// `Forbidden`; `Invalid` for unknown or wrong parameters; `Cursor` for one of another list.
pub(crate) fn find_page(
    actor: &Actor,
    kind: Kind,
    query: &Query,
    now: Instant,
) -> Result<Box<FindPage>, AppError> {
    let visible = actor.visible(Action::Read, kind)?;
    let asked = ask(actor, kind, query, now)?;
    let coop = actor.coop.number;
    Ok(Box::new(move |conn| {
        let (filter, after) = (&asked.filter, asked.after.as_ref());
        let mut found = records::page(conn, coop, kind, &visible, filter, after, asked.limit + 1)?;
        let more = found.len() > asked.limit;
        found.truncate(asked.limit);
        let last = found.last().filter(|_| more);
        let next = last.map(|r| write_cursor(kind, r, &asked.fingerprint));
        Ok((found, next))
    }))
}

impl App {
    /// One page of the records of a kind that the person may see.
    ///
    /// # Errors
    /// `Forbidden`; `Invalid` for unknown or wrong parameters; `Cursor` for one of another list.
    pub async fn list(&self, actor: &Actor, kind: Kind, query: Query) -> Result<Page, AppError> {
        let now = self.now();
        let find = find_page(actor, kind, &query, now)?;
        let actor = actor.clone();
        self.store
            .read(move |conn| {
                let (found, next) = find(conn)?;
                let items = Presenter::new(&actor.coop, now).many(conn, kind, found)?;
                Ok(Page { items, next })
            })
            .await
    }

    /// One record, withdrawn or not.
    ///
    /// # Errors
    /// `Forbidden`, `NotFound`.
    pub async fn get(&self, actor: &Actor, kind: Kind, id: Uuid) -> Result<Shown, AppError> {
        let visible = actor.visible(Action::Read, kind)?;
        let (actor, now) = (actor.clone(), self.now());
        self.store
            .read(move |conn| {
                let record = find_visible(conn, &actor, kind, id, &visible)?;
                let version = record.version;
                let json = Presenter::new(&actor.coop, now).one(conn, kind, record)?;
                Ok(Shown { json, version, is_new: false })
            })
            .await
    }

    /// All versions of a record, the current one last.
    ///
    /// # Errors
    /// `Forbidden`, `NotFound`.
    pub async fn history(
        &self,
        actor: &Actor,
        kind: Kind,
        id: Uuid,
    ) -> Result<RecordHistory, AppError> {
        let visible = actor.visible(Action::Read, kind)?;
        let actor = actor.clone();
        self.store
            .read(move |conn| {
                let record = find_visible(conn, &actor, kind, id, &visible)?;
                let (number, digits) = (actor.coop.number, actor.coop.digits);
                let items = versions(conn, number, digits, kind, &record)?;
                let archived_versions = items.first().map_or(0, |first| first.version - 1);
                Ok(RecordHistory { items, archived_versions })
            })
            .await
    }

    /// Makes a record; the id is the caller's or, where none is given, a new one.
    ///
    /// # Errors
    /// `Forbidden`, `Invalid`, `Conflict`.
    pub async fn create(
        &self,
        actor: &Actor,
        kind: Kind,
        body: Map<String, Json>,
    ) -> Result<Shown, AppError> {
        actor.visible(Action::Create, kind)?;
        let id = match body.get("id") {
            None => self.new_id()?,
            Some(given) => read_id(given)?,
        };
        if kind == Kind::Cooperative {
            return self.create_cooperative(actor, id, body).await;
        }
        let (coop, now) = (actor.coop.clone(), self.now());
        self.change(actor, move |txn| {
            let made = txn.create(kind, id, &body)?;
            let is_new = matches!(made, Written::Now(_));
            let record = made.record();
            let version = record.version;
            let show = Presenter::new(&coop, now);
            Ok(Shown { json: show.one(txn.conn(), kind, record)?, version, is_new })
        })
        .await
    }

    /// Corrects a record that still has the given version.
    ///
    /// # Errors
    /// `Forbidden`, `NotFound`, `Stale`, `Invalid`, `Conflict`.
    pub async fn correct(
        &self,
        actor: &Actor,
        kind: Kind,
        id: Uuid,
        version: i64,
        patch: Map<String, Json>,
    ) -> Result<Shown, AppError> {
        let (coop, now) = (actor.coop.clone(), self.now());
        self.change(actor, move |txn| {
            let record = txn.correct(kind, id, version, &patch)?.record();
            let version = record.version;
            let show = Presenter::new(&coop, now);
            Ok(Shown { json: show.one(txn.conn(), kind, record)?, version, is_new: false })
        })
        .await
    }

    /// Withdraws a record that still has the given version.
    ///
    /// # Errors
    /// `Forbidden`, `NotFound`, `Stale`, `Conflict`.
    pub async fn withdraw(
        &self,
        actor: &Actor,
        kind: Kind,
        id: Uuid,
        version: i64,
        reason: Option<String>,
    ) -> Result<(), AppError> {
        self.change(actor, move |txn| txn.withdraw(kind, id, version, reason.clone()).map(drop))
            .await
    }
}

/// Reads a client-made id.
///
/// # Errors
/// `Invalid` when it is no UUID.
pub fn read_id(given: &Json) -> Result<Uuid, AppError> {
    let text = given.as_str().filter(|t| t.len() == 36);
    let id = text.and_then(|t| Uuid::try_parse(t).ok());
    id.ok_or_else(|| AppError::field("id", "type", "give a UUID of version 7 (RFC 9562)"))
}

/// All versions of a record, the current one last.
pub(crate) fn versions(
    conn: &mut Conn,
    coop: i64,
    digits: u8,
    kind: Kind,
    record: &Record,
) -> Result<Vec<RecordVersion>, AppError> {
    let old = if record.version > 1 {
        records::history(conn, coop, kind, record.id)?
    } else {
        Vec::new()
    };
    let by_text = traybook_storage::texts::versions_by_text(conn, coop, kind, record.id)?;
    let origin = |version: i64| by_text.contains(&version).then_some(RecordOrigin::Text);
    // The action and reason that replaced one version are those that made the next.
    let first = old.first().map_or(record.version, |old| old.version);
    let unknown = if first > 1 { RecordAction::Archived } else { RecordAction::Created };
    let mut made_by = (unknown, None);
    let mut items = Vec::with_capacity(old.len() + 1);
    for version in old {
        let body = serde_json::from_str(&version.body).unwrap_or(Json::Null);
        items.push(RecordVersion {
            version: version.version,
            action: made_by.0,
            reason: made_by.1,
            at: Time(Instant(version.made_at)),
            by: version.made_by,
            origin: origin(version.version),
            record: AnyRecord(body),
        });
        let unknown = || AppError::Internal(format!("action {}", version.action));
        let action = RecordAction::parse(&version.action).ok_or_else(unknown)?;
        made_by = (action, version.reason);
    }
    let body = crate::records::represent::body_json(kind, &record.values, digits);
    items.push(RecordVersion {
        version: record.version,
        action: made_by.0,
        reason: made_by.1,
        at: Time(Instant(record.changed_at)),
        by: record.changed_by,
        origin: origin(record.version),
        record: AnyRecord(Json::Object(body)),
    });
    Ok(items)
}
