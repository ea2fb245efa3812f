//! What feeds are worth: prices of nutrients, mixes and break-even, with figures from the records.
//!
//! The pure crate computes; here is who may ask, and what the records fill in. What a request
//! gives itself is never overwritten.

mod figures;

pub use traybook_rations::{break_even, budget, limits, mix, request, square};

use crate::error::AppError;
use crate::estimates::kept_feed_values;
use crate::savings::read_month;
use crate::{Actor, App, Coop};
use figures::{Figures, load};
use serde_json::{Map, Value as Json, json};
use std::sync::Arc;
use traybook_answers::rations::{FeedValue, FeedValues};
use traybook_answers::{Decimal, wire};
use traybook_domain::people::authz::Task;
use traybook_domain::value::Instant;
use traybook_domain::{FieldError, Month};
use traybook_rations::break_even::{Fodder, FodderBreakEven};
use traybook_rations::mix::{Outcome, Request, solve};
use traybook_rations::square::Square;
use traybook_rations::{CAUTION, FRESH_IS_MISLEADING};
use traybook_storage::Conn;
use traybook_storage::records::Visible;
use traybook_storage::records::farm_rows::FarmRow;
use uuid::Uuid;

const METHOD: &str = "price of a kg as fed: the farm's own this month, else the \
    co-operative's median this month, else its last median within three \
    months; divided by dry matter, protein and energy";

/// Which month and farm the figures come from.
#[derive(Clone, Debug, Default)]
struct Asked {
    month: Option<Month>,
    farm: Option<Uuid>,
}

/// Takes `month` and `farm_id` out of a request; what is wrong with them is noted.
fn take_asked(
    body: &mut Map<String, Json>,
    coop: &Coop,
    now: Instant,
    errors: &mut Vec<FieldError>,
) -> Asked {
    let mut asked = Asked::default();
    match body.remove("month") {
        None | Some(Json::Null) => {}
        Some(Json::String(text)) => match read_month(&text, coop, now) {
            Ok(month) => asked.month = Some(month),
            Err(AppError::Invalid(list)) => errors.extend(list),
            Err(_) => {}
        },
        Some(_) => errors.push(FieldError::new("month", "type", "give a month as YYYY-MM")),
    }
    match body.remove("farm_id") {
        None | Some(Json::Null) => {}
        Some(value) => match value.as_str().and_then(|t| Uuid::try_parse(t).ok()) {
            Some(farm) if asked.month.is_some() => asked.farm = Some(farm),
            Some(_) => {
                let detail = "give the month whose records are meant";
                errors.push(FieldError::new("month", "required", detail));
            }
            None => errors.push(FieldError::new("farm_id", "type", "give the id of a farm")),
        },
    }
    asked
}

/// Fills what a feed does not give itself from the record that `feed_id` names.
fn fill_feed(
    feed: &mut Map<String, Json>,
    at: &str,
    figures: &Figures,
    digits: u8,
    errors: &mut Vec<FieldError>,
) {
    let id = match feed.remove("feed_id") {
        None | Some(Json::Null) => return,
        Some(value) => value.as_str().and_then(|t| Uuid::try_parse(t).ok()),
    };
    let pointer = format!("{at}/feed_id");
    let Some(known) = id.and_then(|id| figures.feeds.iter().find(|f| f.id == id)) else {
        let detail = "give the id of a feed of the co-operative";
        errors.push(FieldError::at(pointer, "unknown_reference", detail));
        return;
    };
    let number = |value: Option<Decimal>| value.map(|v| json!(v));
    let filled = [
        ("name", Some(json!(known.name))),
        ("price", number(figures.price(known.id).map(|p| p.per_kg(digits)))),
        ("dry_matter_percent", number(known.dry_matter())),
        ("crude_protein_percent", number(known.crude_protein())),
        ("energy_mj_per_kg", number(known.energy())),
    ];
    for (name, value) in filled {
        if feed.get(name).is_none_or(Json::is_null)
            && let Some(value) = value
        {
            feed.insert(name.to_owned(), value);
        }
    }
}

/// A request with what the records fill in.
struct Filled {
    body: Map<String, Json>,
    figures: Figures,
    errors: Vec<FieldError>,
}

fn fill(
    conn: &mut Conn,
    coop: &Coop,
    now: Instant,
    visible: &Visible,
    mut body: Map<String, Json>,
) -> Result<Filled, AppError> {
    let mut errors = Vec::new();
    let asked = take_asked(&mut body, coop, now, &mut errors);
    let figures = match load(conn, coop, visible, asked.month, asked.farm) {
        Err(AppError::Invalid(list)) => {
            errors.extend(list);
            load(conn, coop, visible, asked.month, None)?
        }
        other => other?,
    };
    if let Some(Json::Array(list)) = body.get_mut("feeds") {
        for (index, feed) in list.iter_mut().enumerate() {
            if let Json::Object(feed) = feed {
                fill_feed(feed, &format!("/feeds/{index}"), &figures, coop.digits, &mut errors);
            }
        }
    }
    if let Some(Json::Object(feed)) = body.get_mut("replaces") {
        fill_feed(feed, "/replaces", &figures, coop.digits, &mut errors);
    }
    if body.get("currency").is_none_or(Json::is_null) {
        body.insert("currency".to_owned(), json!(coop.currency));
    }
    Ok(Filled { body, figures, errors })
}

/// What was read, or all errors together.
fn joined<T>(read: Result<T, Vec<FieldError>>, mut errors: Vec<FieldError>) -> Result<T, AppError> {
    match read {
        Ok(value) if errors.is_empty() => Ok(value),
        Ok(_) => Err(AppError::Invalid(errors)),
        Err(more) => {
            errors.extend(more);
            Err(AppError::Invalid(errors))
        }
    }
}

/// What the nutrients of every feed cost in a month, and what the fodder of these farms did: of all
/// farms as figures were last made, where they were made of the month.
pub(crate) fn feed_values(
    conn: &mut Conn,
    coop: &Coop,
    visible: &Visible,
    (month, farm): (Month, Option<Uuid>),
) -> Result<FeedValues, AppError> {
    if *visible == Visible::All
        && farm.is_none()
        && let Some(kept) = kept_feed_values(conn, coop.number, month)?
    {
        return Ok(kept);
    }
    feed_values_now(conn, coop, visible, (month, farm), None)
}

/// The same as records are now. Whoever has read all farms gives them.
pub(crate) fn feed_values_now(
    conn: &mut Conn,
    coop: &Coop,
    visible: &Visible,
    (month, farm): (Month, Option<Uuid>),
    all: Option<Vec<Arc<FarmRow>>>,
) -> Result<FeedValues, AppError> {
    let mut figures = load(conn, coop, visible, Some(month), farm)?;
    figures.read_farms(conn, coop, visible, all)?;
    let row = |f: &figures::KnownFeed| figures.feed_row(f, coop.digits);
    Ok(FeedValues {
        month: wire::Month(month),
        farm_id: farm,
        currency: coop.currency.clone(),
        data_version: figures.data_version,
        method: METHOD.to_owned(),
        units: "currency units a kg, and a MJ".to_owned(),
        feeds: figures.feeds.iter().map(row).collect(),
        fodder: figures.fodder_row(coop.digits),
        fresh_cost_is: FRESH_IS_MISLEADING.to_owned(),
        caution: CAUTION.to_owned(),
    })
}

impl App {
    /// What the nutrients of every feed cost in a month, and the co-operative's or a farm's own
    /// fodder beside them.
    ///
    /// # Errors
    /// `Forbidden`, `Invalid`.
    pub async fn feed_values(
        &self,
        actor: &Actor,
        month: &str,
        farm: Option<&str>,
    ) -> Result<FeedValues, AppError> {
        let visible = actor.task(Task::Rations)?;
        let month = read_month(month, &actor.coop, self.now())?;
        let farm = farm.map(|text| {
            let unknown = || AppError::field("farm_id", "type", "give the id of a farm");
            Uuid::try_parse(text).ok().ok_or_else(unknown)
        });
        let farm = farm.transpose()?;
        let coop = actor.coop.clone();
        self.store.read(move |conn| feed_values(conn, &coop, &visible, (month, farm))).await
    }

    /// What the nutrients of every feed cost in a month.
    ///
    /// # Errors
    /// `Forbidden`; `Invalid` for a month that has not begun.
    pub async fn feed_prices(
        &self,
        actor: &Actor,
        month: &str,
    ) -> Result<Vec<FeedValue>, AppError> {
        let visible = actor.task(Task::Rations)?;
        let month = read_month(month, &actor.coop, self.now())?;
        let coop = actor.coop.clone();
        self.store
            .read(move |conn| {
                let figures = load(conn, &coop, &visible, Some(month), None)?;
                Ok(figures.feeds.iter().map(|f| figures.feed_row(f, coop.digits)).collect())
            })
            .await
    }

    /// The Pearson square of two feeds.
    ///
    /// # Errors
    /// `Forbidden`; `Invalid` with everything that is wrong.
    pub async fn pearson_square(
        &self,
        actor: &Actor,
        body: Map<String, Json>,
    ) -> Result<square::Answer, AppError> {
        let visible = actor.task(Task::Rations)?;
        let (coop, now) = (actor.coop.clone(), self.now());
        self.store
            .read(move |conn| {
                let filled = fill(conn, &coop, now, &visible, body)?;
                let square = joined(Square::read(&filled.body), filled.errors)?;
                let outside = "give a target between the two feeds";
                let answer = square.answer();
                answer.ok_or_else(|| AppError::field("target", "outside", outside))
            })
            .await
    }

    /// The least-cost mix of feeds, or which limits clash.
    ///
    /// # Errors
    /// `Forbidden`; `Invalid` with everything that is wrong, or `unreliable` where no answer stands
    /// the check.
    pub async fn feed_mix(
        &self,
        actor: &Actor,
        body: Map<String, Json>,
    ) -> Result<Outcome, AppError> {
        let visible = actor.task(Task::Rations)?;
        let (coop, now) = (actor.coop.clone(), self.now());
        self.store
            .read(move |conn| {
                let filled = fill(conn, &coop, now, &visible, body)?;
                let request = joined(Request::read(&filled.body), filled.errors)?;
                solve(&request).map_err(|error| {
                    let detail = format!("change a limit a little: {error}");
                    AppError::field("limits", "unreliable", detail)
                })
            })
            .await
    }

    /// What changes bring, and which of several choices to take.
    ///
    /// # Errors
    /// `Forbidden`; `Invalid` with everything that is wrong.
    pub fn partial_budget(
        &self,
        actor: &Actor,
        mut body: Map<String, Json>,
    ) -> Result<budget::Answer, AppError> {
        actor.task(Task::Rations)?;
        if body.get("currency").is_none_or(Json::is_null) {
            body.insert("currency".to_owned(), json!(actor.coop.currency));
        }
        Ok(budget::Request::read(&body).map_err(AppError::Invalid)?.answer())
    }

    /// At which price, yield or spoilage fodder pays.
    ///
    /// # Errors
    /// `Forbidden`; `Invalid` with everything that is wrong.
    pub async fn fodder_break_even(
        &self,
        actor: &Actor,
        body: Map<String, Json>,
    ) -> Result<FodderBreakEven, AppError> {
        let visible = actor.task(Task::Rations)?;
        let (coop, now) = (actor.coop.clone(), self.now());
        self.store
            .read(move |conn| {
                let mut filled = fill(conn, &coop, now, &visible, body)?;
                filled.figures.read_farms(conn, &coop, &visible, None)?;
                let mut from_records = Vec::new();
                for (name, value) in filled.figures.fodder_figures(coop.digits) {
                    if filled.body.get(name).is_none_or(Json::is_null) {
                        filled.body.insert(name.to_owned(), json!(value));
                        from_records.push(name.to_owned());
                    }
                }
                let fodder = joined(Fodder::read(&filled.body), filled.errors)?;
                let (answer, used) = (fodder.answer(), filled.body);
                Ok(FodderBreakEven { answer, used, from_records })
            })
            .await
    }
}
