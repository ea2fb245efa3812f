//! Farms and what stands on them, as pages need them: read through the same use cases as the
//! interface, and named by their codes.

use super::blocks::Link;
use super::visit::Visit;
use serde_json::Value as Json;
use std::collections::{HashMap, HashSet};
use traybook_app::records::Query;
use traybook_app::records::rows::{Row, Rows};
use traybook_app::{Actor, AppError};
use traybook_domain::people::authz::Role;
use traybook_domain::record::Record;
use traybook_domain::{Kind, limits};
use uuid::Uuid;

/// A record's member as text; empty where there is none.
pub(super) fn text<'a>(record: &'a Json, name: &str) -> &'a str {
    record.get(name).and_then(Json::as_str).unwrap_or_default()
}

/// A record's member as an id.
pub(super) fn id(record: &Json, name: &str) -> Option<Uuid> {
    Uuid::try_parse(text(record, name)).ok()
}

/// Records of a kind that fit, the newest first, up to the largest page of a list.
pub(super) async fn list(
    visit: &Visit,
    kind: Kind,
    pairs: &[(&str, String)],
) -> Result<Vec<Json>, AppError> {
    let actor = visit.actor()?;
    Ok(page(visit, actor, kind, pairs).await?.0)
}

/// The same with the cursor of the next page.
pub(super) async fn page(
    visit: &Visit,
    actor: &Actor,
    kind: Kind,
    pairs: &[(&str, String)],
) -> Result<(Vec<Json>, Option<String>), AppError> {
    let page = visit.state.app.list(actor, kind, query(pairs)).await?;
    Ok((page.items, page.next))
}

/// Records of a kind that fit, as their own type, with the cursor of the next page.
pub(super) async fn rows<T: Record + Send + 'static>(
    visit: &Visit,
    pairs: &[(&str, String)],
) -> Result<Rows<T>, AppError> {
    visit.state.app.rows(visit.actor()?, query(pairs)).await
}

/// Of records those that came by text.
pub(super) async fn by_text(
    visit: &Visit,
    kind: Kind,
    records: &[Json],
) -> Result<HashSet<Uuid>, AppError> {
    let ids = records.iter().filter_map(|r| id(r, "id")).collect();
    visit.state.app.came_by_text(visit.actor()?, kind, ids).await
}

/// All that fit, page after page, up to the bound of [`all`].
pub(super) async fn all_rows<T: Record + Send + 'static>(
    visit: &Visit,
    pairs: &[(&str, String)],
) -> Result<Vec<Row<T>>, AppError> {
    let mut items = Vec::new();
    let mut cursor: Option<String> = None;
    for _ in 0..PAGES_MAX {
        let mut asked = pairs.to_vec();
        asked.extend(cursor.take().map(|c| ("cursor", c)));
        let more = rows(visit, &asked).await?;
        items.extend(more.items);
        match more.next {
            Some(next) => cursor = Some(next),
            None => break,
        }
    }
    Ok(items)
}

/// A record as its own type.
pub(super) async fn row<T>(visit: &Visit, id: Uuid) -> Result<Row<T>, AppError>
where
    T: Record + Send + 'static,
{
    visit.state.app.row(visit.actor()?, id).await
}

/// What a list is asked for; up to its largest page where no number is given.
fn query(pairs: &[(&str, String)]) -> Query {
    let mut query = Query::default();
    query.pairs.extend(pairs.iter().map(|(n, v)| ((*n).to_owned(), v.clone())));
    if !pairs.iter().any(|(n, _)| *n == "limit") {
        query.pairs.push(("limit".to_owned(), limits::PAGE_MAX.to_string()));
    }
    query
}

/// All records of a kind that fit, page after page, up to a bound that no co-operative's own
/// register reaches.
pub(super) async fn all(
    visit: &Visit,
    kind: Kind,
    pairs: &[(&str, String)],
) -> Result<Vec<Json>, AppError> {
    let actor = visit.actor()?;
    let mut items = Vec::new();
    let mut cursor: Option<String> = None;
    for _ in 0..PAGES_MAX {
        let mut asked = pairs.to_vec();
        asked.extend(cursor.take().map(|c| ("cursor", c)));
        let (more, next) = page(visit, actor, kind, &asked).await?;
        items.extend(more);
        match next {
            Some(next) => cursor = Some(next),
            None => break,
        }
    }
    Ok(items)
}

/// The batches of a farm that are not over, among as many of the newest as a farm with several
/// soaks a day begins in the weeks that a batch lives.
pub(super) async fn growing(visit: &Visit, farm: &str) -> Result<Vec<Json>, AppError> {
    let newest = [("farm_id", farm.to_owned()), ("limit", NEWEST.to_string())];
    let mut batches = list(visit, Kind::Batch, &newest).await?;
    batches.retain(|b| text(b, "stage") != "finished");
    Ok(batches)
}

/// Batches among which those that grow are looked for.
const NEWEST: usize = 120;

/// Pages of a list that one page of ours may read.
const PAGES_MAX: usize = 20;

/// What ids stand for.
pub(super) struct Names(HashMap<String, String>);

impl Names {
    /// Of records of a kind, by a member that names them.
    pub async fn of(
        visit: &Visit,
        kind: Kind,
        member: &str,
        pairs: &[(&str, String)],
    ) -> Result<Self, AppError> {
        let records = all(visit, kind, pairs).await?;
        Ok(Self::from_records(&records, member))
    }

    /// Of ids and names at hand.
    pub fn new(pairs: impl Iterator<Item = (String, String)>) -> Self {
        Self(pairs.collect())
    }

    /// The same of records at hand.
    pub fn from_records(records: &[Json], member: &str) -> Self {
        let pair = |r: &Json| (text(r, "id").to_owned(), text(r, member).to_owned());
        Self(records.iter().map(pair).collect())
    }

    /// The name of an id; empty where it is not known.
    pub fn get(&self, id: &str) -> &str {
        self.0.get(id).map(String::as_str).unwrap_or_default()
    }

    /// The name of what a record's member refers to.
    pub fn of_member(&self, record: &Json, member: &str) -> String {
        self.get(text(record, member)).to_owned()
    }

    /// Ids and names for a list to choose from, by name.
    pub fn options(&self) -> Vec<(String, String)> {
        let mut all: Vec<(String, String)> =
            self.0.iter().map(|(id, name)| (id.clone(), name.clone())).collect();
        all.sort_by(|a, b| a.1.cmp(&b.1));
        all
    }
}

/// The farms of the member who is signed in.
pub(super) async fn own(visit: &Visit) -> Result<Vec<Json>, AppError> {
    list(visit, Kind::Farm, &[]).await
}

/// The farm that a page is about: the one that the address names, else the member's first.
pub(super) async fn chosen(visit: &Visit) -> Result<Json, AppError> {
    match visit.field("farm") {
        Some(text) => {
            let id = Uuid::try_parse(text).ok().ok_or(AppError::NotFound)?;
            one(visit, Kind::Farm, id).await
        }
        None => own(visit).await?.into_iter().next().ok_or(AppError::NotFound),
    }
}

/// Seed lots that are held now, by id.
pub(super) async fn held_lots(visit: &Visit) -> Result<HashSet<String>, AppError> {
    let holds = all(visit, Kind::LotHold, &[]).await?;
    let open = holds.iter().filter(|h| h["released_on"].is_null());
    Ok(open.map(|h| text(h, "seed_lot_id").to_owned()).collect())
}

/// Links to the same page of the other farms, for a member who has several.
pub(super) async fn other_farms(
    visit: &Visit,
    page: &str,
    shown: &Json,
) -> Result<Vec<Link>, AppError> {
    if visit.actor()?.role != Role::Member {
        return Ok(Vec::new());
    }
    let own = own(visit).await?;
    let others = own.iter().filter(|f| text(f, "id") != text(shown, "id"));
    Ok(others
        .map(|f| Link::to(format!("{page}?farm={}", text(f, "id")), text(f, "code")))
        .collect())
}

pub(super) async fn one(visit: &Visit, kind: Kind, id: Uuid) -> Result<Json, AppError> {
    Ok(visit.state.app.get(visit.actor()?, kind, id).await?.json)
}
