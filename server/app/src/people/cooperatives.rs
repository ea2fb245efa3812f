//! Making a co-operative, with the operator who made it as its first person.

use crate::error::AppError;
use crate::records::Presenter;
use crate::records::Shown;
use crate::records::Txn;
use crate::{Actor, App, Coop};
use serde_json::{Map, Value as Json};
use traybook_domain::field::{ReadCtx, read_object};
use traybook_domain::kinds::{Cooperative, Person};
use traybook_domain::record::Record as _;
use traybook_domain::time::local_date;
use traybook_domain::value::Instant;
use traybook_domain::{Kind, Value, limits};
use traybook_storage::people::{accounts, logins};
use traybook_storage::records::changes::{self, Change};
use traybook_storage::records::{self, Record, Visible};
use traybook_storage::{Conn, in_coop};
use uuid::Uuid;

/// Makes a co-operative inside a transaction. Repeating it with the same id and body is harmless.
///
/// # Errors
/// `Invalid`; `Conflict` when the id stands for another one.
pub fn create_in(
    conn: &mut Conn,
    id: Uuid,
    body: &Map<String, Json>,
    by: Uuid,
    now: Instant,
) -> Result<(Coop, Record, bool), AppError> {
    let today = local_date(now, chrono_tz::UTC).succ_opt().unwrap_or_default();
    let ctx = ReadCtx { now, today, money_digits: 0 };
    let values = read_object(Kind::Cooperative.spec().fields, body, None, &["id"], &ctx)
        .map_err(AppError::Invalid)?;
    let millis = traybook_domain::records::import_id::v7_millis(id);
    if millis.is_none_or(|ms| ms > now.0 + limits::ID_SKEW_MS_MAX) {
        return Err(AppError::field("id", "id_version", "give a UUID of version 7 (RFC 9562)"));
    }
    let cooperative = Cooperative::from_values(&values)
        .ok_or_else(|| AppError::Internal("an unreadable co-operative".to_owned()))?;
    if let Some(number) = logins::coop_number(conn, id)? {
        let stored =
            records::find(conn, number, Kind::Cooperative, id)?.ok_or(AppError::NotFound)?;
        if stored.values == values {
            return Ok((Coop::new(number, id, &cooperative)?, stored, false));
        }
        let detail = "this id stands for another co-operative; make a new id";
        return Err(AppError::conflict("id_taken", detail));
    }
    let number = changes::new_cooperative(conn, id)?;
    let record = Record {
        id,
        values,
        version: 1,
        created_at: now.0,
        created_by: by,
        changed_at: now.0,
        changed_by: by,
        withdrawn_at: None,
    };
    let kind = Kind::Cooperative;
    in_coop(conn, number, |writing| {
        records::insert(writing, kind, &record)?;
        let seq = writing.next_change();
        let change = Change { seq, kind, id, farm_id: None, version: 1, withdrawn: false };
        Ok::<(), AppError>(changes::append(writing, &[change])?)
    })?;
    Ok((Coop::new(number, id, &cooperative)?, record, true))
}

impl App {
    /// Makes a co-operative; the operator who makes it can sign in to it at once.
    ///
    /// # Errors
    /// `Forbidden`, `Invalid`, `Conflict`.
    pub async fn create_cooperative(
        &self,
        actor: &Actor,
        id: Uuid,
        body: Map<String, Json>,
    ) -> Result<Shown, AppError> {
        let (actor, now, person_id) = (actor.clone(), self.now(), self.new_id()?);
        self.store
            .write(move |conn| {
                let (coop, record, is_new) = create_in(conn, id, &body, actor.person, now)?;
                if is_new {
                    let stored =
                        records::find(conn, actor.coop.number, Kind::Person, actor.person)?;
                    let me = stored.and_then(|r| Person::from_values(&r.values));
                    let me = me.ok_or(AppError::Unauthenticated)?;
                    let machine = Actor::machine(coop.clone());
                    let values: Vec<Value> = me.into_values();
                    in_coop(conn, coop.number, |writing| {
                        let mut txn = Txn::begin(writing, &machine, now)?;
                        txn.create_values(Kind::Person, person_id, values, &Visible::All)?;
                        txn.finish()
                    })?;
                    let (from, to) = ((actor.coop.number, actor.person), (coop.number, person_id));
                    accounts::copy_password(conn, from, to, now.0)?;
                }
                let version = record.version;
                let show = Presenter::new(&coop, now);
                Ok(Shown { json: show.one(conn, Kind::Cooperative, record)?, version, is_new })
            })
            .await
    }

    /// Makes a co-operative from the machine itself: first start, import, demo.
    pub async fn found(&self, id: Uuid, body: Map<String, Json>) -> Result<Coop, AppError> {
        let now = self.now();
        self.store.write(move |conn| Ok(create_in(conn, id, &body, Uuid::nil(), now)?.0)).await
    }

    /// The co-operative on which a command of the machine itself works: the only one, or the one
    /// whose id or name is given.
    ///
    /// # Errors
    /// `NotFound`; `Conflict` when there are several and none was named.
    pub async fn choose_cooperative(&self, wanted: Option<String>) -> Result<Coop, AppError> {
        self.store
            .read(move |conn| {
                let mut all = Vec::new();
                for (number, id) in logins::cooperatives(conn)? {
                    all.push(Coop::load(conn, number, id)?);
                }
                let fits = |c: &Coop| match &wanted {
                    None => true,
                    Some(text) => *text == c.name || *text == c.id.to_string(),
                };
                let mut fitting: Vec<Coop> = all.into_iter().filter(fits).collect();
                match (fitting.pop(), fitting.is_empty()) {
                    (Some(coop), true) => Ok(coop),
                    (None, _) => Err(AppError::NotFound),
                    (Some(_), false) => {
                        let text = "there are several co-operatives; name one by --cooperative";
                        Err(AppError::conflict("several_cooperatives", text))
                    }
                }
            })
            .await
    }
}
