//! What is to be written, prepared before any transaction begins: a transaction may run again.

use crate::random::Rng;
use serde_json::{Map, Value as Json};
use traybook_app::records::txn::{REASON, Txn};
use traybook_app::{Actor, AppError};
use traybook_domain::people::authz::Action;
use traybook_domain::record::Record;
use traybook_domain::value::Instant;
use traybook_domain::{Kind, Value};
use uuid::Uuid;

/// One change of one record.
#[derive(Clone, Debug)]
pub(crate) enum Write {
    Create {
        kind: Kind,
        id: Uuid,
        /// Values in the order of the kind's fields.
        values: Vec<Value>,
    },
    /// A correction of the first version of a record.
    Correct {
        kind: Kind,
        id: Uuid,
        /// What changes.
        patch: Map<String, Json>,
    },
}

impl Write {
    /// Applies it inside a transaction.
    pub(crate) fn apply(&self, txn: &mut Txn<'_, '_>, actor: &Actor) -> Result<(), AppError> {
        match self {
            Self::Create { kind, id, values } => {
                let visible = actor.visible(Action::Create, *kind)?;
                txn.create_values(*kind, *id, values.clone(), &visible).map(drop)
            }
            Self::Correct { kind, id, patch } => txn.correct(*kind, *id, 1, patch).map(drop),
        }
    }
}

/// Collects what is to be written, and makes the ids.
pub(crate) struct Out {
    /// What is to be written, in order of dependence.
    pub(crate) writes: Vec<Write>,
    ids: Rng,
}

impl Out {
    /// An empty one.
    pub(crate) fn new(seed: u64) -> Self {
        Self { writes: Vec::new(), ids: Rng::of(seed, "ids", 0) }
    }

    /// A new id whose time is `at`.
    pub(crate) fn id(&mut self, at: Instant) -> Uuid {
        let millis = u64::try_from(at.0).unwrap_or(0);
        uuid::Builder::from_unix_timestamp_millis(millis, &self.ids.id_bits()).into_uuid()
    }

    /// Adds a record that came about at `at`; returns its id.
    pub(crate) fn add<R: Record>(&mut self, at: Instant, record: R) -> Uuid {
        let id = self.id(at);
        self.add_as(id, record);
        id
    }

    /// Adds a record under an id made before.
    pub(crate) fn add_as<R: Record>(&mut self, id: Uuid, record: R) {
        let mut values = record.into_values();
        for (value, field) in values.iter_mut().zip(R::KIND.spec().fields) {
            // Filled in from the parent record when it is made.
            if field.derived {
                *value = Value::Null;
            }
        }
        self.writes.push(Write::Create { kind: R::KIND, id, values });
    }

    /// Adds a correction of the first version of a record.
    pub(crate) fn correct(
        &mut self,
        kind: Kind,
        id: Uuid,
        fields: Vec<(&str, Json)>,
        reason: Option<&str>,
    ) {
        let mut patch: Map<String, Json> =
            fields.into_iter().map(|(name, value)| (name.to_owned(), value)).collect();
        if let Some(reason) = reason {
            patch.insert(REASON.to_owned(), Json::from(reason));
        }
        self.writes.push(Write::Correct { kind, id, patch });
    }
}
