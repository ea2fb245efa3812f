//! Records as their own types, for pages: what is stored, without what lists put beside it.

use super::single::{Query, find_page};
use super::txn::find_visible;
use crate::error::AppError;
use crate::{Actor, App};
use traybook_domain::kinds::CorrectionRequest;
use traybook_domain::people::authz::Action;
use traybook_domain::record::Record as Declared;
use traybook_domain::{Kind, limits};
use traybook_storage::records::farm_rows;
pub use traybook_storage::records::farm_rows::FoundFarm;
use traybook_storage::records::{self, Filter, Record};
use uuid::Uuid;

/// A record of a kind.
#[derive(Clone, Debug, PartialEq)]
pub struct Row<T> {
    pub id: Uuid,
    /// Its version, for a correction.
    pub version: i64,
    /// When it was made, ms since 1970.
    pub created_at: i64,
    pub value: T,
}

/// One page of rows.
#[derive(Clone, Debug)]
pub struct Rows<T> {
    pub items: Vec<Row<T>>,
    /// Where the next page begins.
    pub next: Option<String>,
}

fn row<T: Declared>(record: &Record) -> Result<Row<T>, AppError> {
    let (id, version, created_at) = (record.id, record.version, record.created_at);
    let unlike = || AppError::Internal(format!("{} {id} is not of its kind", T::KIND.spec().one));
    Ok(Row { id, version, created_at, value: T::from_values(&record.values).ok_or_else(unlike)? })
}

/// A text that is looked for.
pub(super) fn searched(text: &str) -> Result<String, AppError> {
    let text = text.trim();
    if text.chars().count() > 100 || text.chars().any(char::is_control) {
        return Err(AppError::field("q", "length", "give at most 100 plain characters"));
    }
    Ok(text.to_owned())
}

impl App {
    /// One record, withdrawn or not.
    ///
    /// # Errors
    /// `Forbidden`, `NotFound`.
    pub async fn row<T>(&self, actor: &Actor, id: Uuid) -> Result<Row<T>, AppError>
    where
        T: Declared + Send + 'static,
    {
        let visible = actor.visible(Action::Read, T::KIND)?;
        let actor = actor.clone();
        self.store.read(move |conn| row(&find_visible(conn, &actor, T::KIND, id, &visible)?)).await
    }

    /// One page of a list, as [`App::list`] reads it.
    pub async fn rows<T>(&self, actor: &Actor, query: Query) -> Result<Rows<T>, AppError>
    where
        T: Declared + Send + 'static,
    {
        let find = find_page(actor, T::KIND, &query, self.now())?;
        self.store
            .read(move |conn| {
                let (found, next) = find(conn)?;
                let items: Result<Vec<Row<T>>, AppError> = found.iter().map(row).collect();
                Ok(Rows { items: items?, next })
            })
            .await
    }

    /// Farms by the member's name, those that fit a text: name, number, code or telephone.
    ///
    /// # Errors
    /// `Forbidden`; `Invalid` for a text that is too long.
    pub async fn find_farms(
        &self,
        actor: &Actor,
        text: &str,
        (skip, limit): (usize, usize),
    ) -> Result<Vec<FoundFarm>, AppError> {
        let visible = actor.visible(Action::Read, Kind::Farm)?;
        let text = searched(text)?;
        let coop = actor.coop.number;
        self.store
            .read(move |conn| {
                Ok(farm_rows::search(
                    conn,
                    coop,
                    &visible,
                    &text,
                    (skip, limit.min(limits::PAGE_MAX)),
                )?)
            })
            .await
    }

    /// Those of some records that the person may see and that are not withdrawn, by id.
    ///
    /// # Errors
    /// `Forbidden`.
    pub async fn rows_of<T>(
        &self,
        actor: &Actor,
        mut ids: Vec<Uuid>,
    ) -> Result<Vec<Row<T>>, AppError>
    where
        T: Declared + Send + 'static,
    {
        let visible = actor.visible(Action::Read, T::KIND)?;
        let number = actor.coop.number;
        ids.sort_unstable();
        ids.dedup();
        self.store
            .read(move |conn| {
                let mut found = Vec::with_capacity(ids.len());
                for r in records::by_reference(conn, number, T::KIND, "id", &ids)? {
                    if records::is_visible(conn, number, T::KIND, &r.values, r.id, &visible)? {
                        found.push(row(&r)?);
                    }
                }
                Ok(found)
            })
            .await
    }

    /// The wishes for corrections that are not answered, the newest first.
    ///
    /// # Errors
    /// `Forbidden`.
    pub async fn open_wishes(
        &self,
        actor: &Actor,
    ) -> Result<Vec<Row<CorrectionRequest>>, AppError> {
        let kind = Kind::CorrectionRequest;
        let visible = actor.visible(Action::Read, kind)?;
        let number = actor.coop.number;
        let filter = Filter { unset: kind.spec().index("answer"), ..Filter::default() };
        self.store
            .read(move |conn| {
                let most = limits::WISHES_MAX;
                let found = records::page(conn, number, kind, &visible, &filter, None, most)?;
                found.iter().map(row).collect()
            })
            .await
    }
}
