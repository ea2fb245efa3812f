//! Trainings and their registers: who was there, changed person by person, so that two who mark
//! the same training lose nothing of each other's.

use super::rows::{Row, searched};
use super::together::following;
use super::txn::Txn;
use crate::coop::areas_below;
use crate::error::AppError;
use crate::{Actor, App};
use serde_json::{Map, json};
use std::collections::HashMap;
use traybook_domain::kinds::Training;
use traybook_domain::people::authz::Action;
use traybook_domain::record::Record as _;
use traybook_domain::{Kind, Value, limits};
pub use traybook_storage::records::training_rows::Trainee;
use traybook_storage::records::training_rows::{self, Listed};
use traybook_storage::records::{self, Filter, Visible};
use uuid::Uuid;

/// Members on one page of a register.
pub const ON_PAGE: usize = 40;
/// Attendances that one member may have at one training; a second is one by mistake.
const SAME_MAX: usize = 100;

#[derive(Clone, Debug)]
pub struct Register {
    pub training: Row<Training>,
    /// How many people came, whoever may see their names.
    pub came: i64,
    /// Those on this page, by name.
    pub listed: Vec<Trainee>,
    /// Whether there are more.
    pub is_more: bool,
    /// Those who came and may be seen, by name.
    pub present: Vec<Trainee>,
}

impl App {
    /// How many people came to each of some trainings.
    ///
    /// # Errors
    /// `Forbidden`.
    pub async fn training_counts(
        &self,
        actor: &Actor,
        trainings: Vec<Uuid>,
    ) -> Result<HashMap<Uuid, i64>, AppError> {
        actor.visible(Action::Read, Kind::Attendance)?;
        let coop = actor.coop.number;
        self.store
            .read(move |conn| {
                Ok(training_rows::came(conn, coop, &trainings)?.into_iter().collect())
            })
            .await
    }

    /// The register of a training. Without a text it lists the members of the training's area,
    /// else the members whose name, number or telephone fit, of whatever area.
    ///
    /// # Errors
    /// `Forbidden`, `NotFound`; `Invalid` for a text that is too long.
    pub async fn register(
        &self,
        actor: &Actor,
        training: Uuid,
        text: &str,
        skip: usize,
    ) -> Result<Register, AppError> {
        let visible = actor.visible(Action::Read, Kind::Member)?;
        actor.visible(Action::Read, Kind::Attendance)?;
        let text = searched(text)?;
        let row: Row<Training> = self.row(actor, training).await?;
        let coop = actor.coop.number;
        self.store
            .read(move |conn| {
                let area = row.value.area_id.filter(|_| text.is_empty());
                let areas = area.map(|area| areas_below(conn, coop, area)).transpose()?;
                let areas: Option<Vec<Uuid>> = areas.map(|a| a.into_iter().collect());
                let invited = Listed::Invited(areas.as_deref(), row.value.date, &text);
                let page = (skip, ON_PAGE + 1);
                let mut listed =
                    training_rows::trainees(conn, coop, &visible, (training, &invited), page)?;
                let is_more = listed.len() > ON_PAGE;
                listed.truncate(ON_PAGE);
                let all = (0, limits::PAGE_MAX);
                let present = (training, &Listed::Present);
                let present = training_rows::trainees(conn, coop, &visible, present, all)?;
                let came = training_rows::came(conn, coop, &[training])?;
                let came = came.first().map_or(0, |(_, people)| *people);
                Ok(Register { training: row, came, listed, is_more, present })
            })
            .await
    }

    /// Marks members present at a training, or no longer present. Marking twice changes nothing;
    /// what is unmarked stays in the history.
    ///
    /// # Errors
    /// `Forbidden`, `NotFound`; `Invalid` before the day of the training and for members whom the
    /// person may not see.
    pub async fn mark_present(
        &self,
        actor: &Actor,
        training: Uuid,
        (come, gone): (Vec<Uuid>, Vec<Uuid>),
    ) -> Result<(), AppError> {
        let today = actor.coop.today(self.now());
        let visible = actor.visible(Action::Create, Kind::Attendance)?;
        let by = actor.clone();
        self.change(actor, move |txn| {
            let of = txn.find_visible(Kind::Training, training, &visible)?;
            if of.withdrawn_at.is_some() {
                return Err(AppError::NotFound);
            }
            let date = Training::from_values(&of.values).map(|t| t.date);
            if date.is_some_and(|date| date > today) {
                let detail = "the register opens on the day of the training";
                return Err(AppError::field("date", "too_early", detail));
            }
            for member in &come {
                arrive(txn, &by, (training, *member), &visible)?;
            }
            for member in &gone {
                leave(txn, (training, *member))?;
            }
            Ok(())
        })
        .await
    }
}

/// The attendances of a member at a training that count.
fn standing(
    txn: &mut Txn<'_, '_>,
    (training, member): (Uuid, Uuid),
) -> Result<Vec<records::Record>, AppError> {
    let (kind, number) = (Kind::Attendance, txn.coop());
    let of = [("training_id", training), ("member_id", member)];
    let equals = of.iter().filter_map(|(f, id)| Some((kind.spec().index(f)?, Value::Id(*id))));
    let filter = Filter { equals: equals.collect(), ..Filter::default() };
    Ok(records::page(txn.conn(), number, kind, &Visible::All, &filter, None, SAME_MAX)?)
}

fn arrive(
    txn: &mut Txn<'_, '_>,
    actor: &Actor,
    of: (Uuid, Uuid),
    visible: &Visible,
) -> Result<(), AppError> {
    if !standing(txn, of)?.is_empty() {
        return Ok(());
    }
    let (kind, (training, member), number) = (Kind::Attendance, of, txn.coop());
    let id = following(actor, training, kind, &member.to_string());
    match records::find(txn.conn(), number, kind, id)? {
        Some(before) => txn.put_back(kind, id, before.version, visible)?,
        None => {
            let mut body = Map::new();
            body.insert("training_id".to_owned(), json!(training));
            body.insert("member_id".to_owned(), json!(member));
            txn.create(kind, id, &body)?
        }
    };
    Ok(())
}

fn leave(txn: &mut Txn<'_, '_>, of: (Uuid, Uuid)) -> Result<(), AppError> {
    for there in standing(txn, of)? {
        let reason = Some("not present".to_owned());
        txn.withdraw(Kind::Attendance, there.id, there.version, reason)?;
    }
    Ok(())
}
