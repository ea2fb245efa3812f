//! Emptying what is personal of a record, in all its versions.

use super::Txn;
use crate::error::AppError;
use serde_json::{Map, Value as Json};
use traybook_domain::Kind;
use traybook_domain::records::personal::empty_json;
use traybook_domain::value::Value;
use traybook_storage::Writing;
use traybook_storage::records::{self, Record};

/// What an emptying changed of one record.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Emptied {
    /// Whether the record has a new version.
    pub is_new: bool,
    /// Earlier versions in which it was emptied.
    pub versions: usize,
}

impl<'c> Txn<'_, 'c> {
    /// Writes a record with other values, and empties its earlier versions. No rule is asked: what
    /// is emptied may lack what a new record needs.
    pub(crate) fn empty(
        &mut self,
        kind: Kind,
        old: &Record,
        values: Vec<Value>,
        withdrawn_at: Option<i64>,
        number: &str,
    ) -> Result<Emptied, AppError> {
        let is_new = values != old.values || withdrawn_at != old.withdrawn_at;
        if is_new {
            let new = Record {
                values,
                version: old.version + 1,
                changed_at: self.now.0,
                changed_by: self.actor.person,
                withdrawn_at,
                ..old.clone()
            };
            self.replace(kind, old, &new, "erased", None)?;
        }
        let emptied = |body: &str| empty_body(kind, body, number);
        let versions = records::empty_history(self.writing, kind, old.id, emptied)?;
        Ok(Emptied { is_new, versions })
    }

    /// The transaction, for a statement that writes what is no record.
    pub(crate) const fn writing(&mut self) -> &mut Writing<'c> {
        self.writing
    }
}

/// A kept version with its personal fields emptied.
fn empty_body(kind: Kind, body: &str, number: &str) -> String {
    let Ok(Json::Object(mut body)) = serde_json::from_str::<Json>(body) else {
        return Json::Object(Map::new()).to_string();
    };
    empty_json(kind, &mut body, number);
    if kind == Kind::Person {
        body.insert("code".to_owned(), Json::from(number));
    }
    Json::Object(body).to_string()
}
