//! A month in which a farm bought none of a feed. No record is no answer: a purchase may
//! be forgotten. The answer is a purchase of 0 kg on the first of the month. Where none was left
//! either, a count of 0 kg on that morning says so.

use super::together::{Piece, create_all, following};
use super::txn::Txn;
use crate::error::AppError;
use crate::{Actor, App};
use serde_json::{Map, Value as Json, json};
use traybook_domain::kinds::{FeedCount, FeedPurchase};
use traybook_domain::people::authz::Action;
use traybook_domain::record::Record;
use traybook_domain::savings::money::format_decimal;
use traybook_domain::{Kind, Month, Value};
use traybook_storage::records::{self, Filter};
use uuid::Uuid;

/// Records of one feed in one month that are looked at.
const RECORDS_MAX: usize = 1_000;

/// What somebody says of a farm's month.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct NothingBought {
    pub farm: Uuid,
    pub feed: Uuid,
    /// The animals, where those of two classes could eat it.
    pub group: Option<Uuid>,
    pub month: Month,
    /// Whether none was left when it began, so that none was used.
    pub is_used_up: bool,
}

impl NothingBought {
    /// Whether a record is about the same animals; one that names none is about all.
    fn is_about(&self, group: Option<Uuid>) -> bool {
        group == self.group || group.is_none() || self.group.is_none()
    }

    /// The members of a record of 0 kg.
    fn body(&self) -> Map<String, Json> {
        let members = [
            ("farm_id", json!(self.farm)),
            ("feed_id", json!(self.feed)),
            ("date", json!(self.month.first_day())),
            ("kg", json!(0)),
        ];
        let group = self.group.map(|group| ("animal_group_id", json!(group)));
        members.into_iter().chain(group).map(|(name, value)| (name.to_owned(), value)).collect()
    }
}

impl App {
    /// Records that none of a feed was bought in a month. What is recorded already is not recorded
    /// again. `id` is that of the purchase of 0 kg.
    ///
    /// # Errors
    /// `Conflict` where the records say that some was bought, or that another amount was left;
    /// `Forbidden`; `Invalid`.
    pub async fn nothing_bought(
        &self,
        actor: &Actor,
        id: Uuid,
        said: NothingBought,
    ) -> Result<(), AppError> {
        actor.visible(Action::Create, Kind::FeedPurchase)?;
        let by = actor.clone();
        self.change(actor, move |txn| {
            let first = said.month.first_day();
            let bought: Vec<FeedPurchase> = standing(txn, &by, &said)?;
            if let Some(some) = bought.iter().find(|p| p.kg > 0 && said.is_about(p.animal_group_id))
            {
                let (kg, day) = (format_decimal(some.kg, 3), some.date);
                let detail = format!(
                    "by the records {kg} kg of this feed were bought on {day}: choose another feed \
                     or month, or correct that purchase"
                );
                return Err(AppError::conflict("feed_bought", detail));
            }
            let left: Vec<FeedCount> = standing(txn, &by, &said)?;
            let left = left.iter().filter(|c| c.date == first && said.is_about(c.animal_group_id));
            let left: Vec<&FeedCount> = left.collect();
            if let Some(other) = left.iter().find(|c| (c.kg == 0) != said.is_used_up) {
                let kg = format_decimal(other.kg, 3);
                let detail = format!(
                    "by the records {kg} kg of this feed were left on {first}: correct or take \
                     back that count first"
                );
                return Err(AppError::conflict("feed_left", detail));
            }
            let mut pieces = Vec::new();
            let is_said = |p: &FeedPurchase| p.date == first && p.animal_group_id == said.group;
            if !bought.iter().any(is_said) {
                let mut body = said.body();
                body.insert("cost".to_owned(), json!(0));
                pieces.push(Piece::new(Kind::FeedPurchase, id, body));
            }
            if said.is_used_up && !left.iter().any(|c| c.animal_group_id == said.group) {
                let count = following(&by, id, Kind::FeedCount, "used up");
                pieces.push(Piece::new(Kind::FeedCount, count, said.body()));
            }
            create_all(txn, &pieces)
        })
        .await
    }
}

/// Records of a kind about a farm's feed in a month.
fn standing<T: Record>(
    txn: &mut Txn<'_, '_>,
    actor: &Actor,
    said: &NothingBought,
) -> Result<Vec<T>, AppError> {
    let (kind, spec) = (T::KIND, T::KIND.spec());
    let is = |name: &str, id: Uuid| Some((spec.index(name)?, Value::Id(id)));
    let equals = [is("farm_id", said.farm), is("feed_id", said.feed)].into_iter().flatten();
    let filter = Filter {
        equals: equals.collect(),
        from: Some((said.month.first_day(), 0)),
        to: Some((said.month.last_day(), 0)),
        ..Filter::default()
    };
    let visible = actor.visible(Action::Read, kind)?;
    let number = actor.coop.number;
    let found = records::page(txn.conn(), number, kind, &visible, &filter, None, RECORDS_MAX)?;
    Ok(found.iter().filter_map(|r| T::from_values(&r.values)).collect())
}
