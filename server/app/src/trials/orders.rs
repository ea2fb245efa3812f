//! The random order of starts, and months with and without fodder: drawn once, stored at once, and
//! drawn again by whoever reads them.

use super::followed::follow;
use super::judge::{area_codes, candidates, checked, percent, setting};
use crate::error::AppError;
use crate::estimates::scatter;
use crate::records::together::Piece;
use crate::savings::area_names;
use crate::{Actor, App};
use chrono::NaiveDate;
use serde_json::{Value as Json, json};
use std::collections::HashMap;
use traybook_analytics::trial::{Switchback, start_order, switchback, switchback_power};
use traybook_answers::estimates::Enterprise;
use traybook_answers::trials::{
    NewOnOffOrder, NewStartOrder, OnOffMonth, OnOffOrder, StartOrder, StartOrderLine, StartOrders,
    StartPlaceLine,
};
use traybook_answers::wire;
use traybook_domain::kinds::{OnOffPlan, StartPlace, StartPlan, starts};
use traybook_domain::people::authz::{Action, Task};
use traybook_domain::record::Record as _;
use traybook_domain::value::real;
use traybook_domain::{Kind, Month};
use traybook_storage::records::{self, Filter, Record, Visible};
use traybook_storage::{Conn, records::farm_rows};
use uuid::Uuid;

/// How anybody draws an order again.
const HOW: &str = "Take the farms by place, group them by area (ascending id) and, inside an area, \
    by third of the animals (ascending, ties by place). Shuffle each group from its end (Fisher-Yates) \
    with SplitMix64 from the seed, number modulo places left. Lay the groups end to end. Give each \
    place the month that is furthest behind its share so far; the earliest on a tie, waiting last.";
/// Start orders of one answer.
const ORDERS_MAX: usize = 100;
/// Farms of one order.
const PLACES_MAX: usize = 100_000;

impl App {
    /// Draws who starts when, with a seed of the system's own randomness, and stores seed and list.
    /// The same id again draws nothing: it gives what was drawn.
    ///
    /// # Errors
    /// `Forbidden`; `Invalid`; `Conflict`.
    pub async fn draw_start_order(
        &self,
        actor: &Actor,
        plan: Uuid,
        asked: NewStartOrder,
    ) -> Result<StartOrder, AppError> {
        actor.task(Task::CloseMonth)?;
        match self.start_order(actor, plan).await {
            Err(AppError::NotFound) => {}
            drawn => return drawn,
        }
        let (coop, today) = (actor.coop.clone(), actor.coop.today(self.now()));
        let month = first_month(&asked.first_month, today)?;
        let (seed, enterprise) = (self.random_seed()?, asked.enterprise);
        let read = move |conn: &mut Conn| candidates(conn, coop.number, enterprise, today);
        let farms = self.store.read(read).await?;
        let numbers = checked(&asked.starts, farms.len())?;
        let ids: Vec<Uuid> = farms.iter().map(|f| f.farm.area).collect();
        let sizes: Vec<f64> = farms.iter().map(|f| real(f.head)).collect();
        let (areas, _) = area_codes(&ids);
        let order = start_order(&areas, &sizes, &numbers, seed)
            .ok_or_else(|| AppError::Internal("an order could not be drawn".to_owned()))?;
        let text: Vec<String> = numbers.iter().map(usize::to_string).collect();
        let body = json!({ "name": asked.name, "enterprise": enterprise.text(),
            "first_month": month.first_day(), "starts": text.join(" "), "seed": seed.to_string(),
            "drawn_on": today });
        let mut pieces = vec![piece(Kind::StartPlan, plan, body)];
        for (place, (farm, month)) in farms.iter().zip(order).enumerate() {
            let mut body = json!({ "start_plan_id": plan, "farm_id": farm.farm.farm,
                "place": place, "area_id": farm.farm.area, "head": farm.head });
            if let (Some(month), Json::Object(body)) = (month, &mut body) {
                body.insert("month".to_owned(), json!(month));
            }
            pieces.push(piece(Kind::StartPlace, self.new_id()?, body));
        }
        self.create_together(actor, pieces).await?;
        self.start_order(actor, plan).await
    }

    /// All start orders, the newest first.
    ///
    /// # Errors
    /// `Forbidden`.
    pub async fn start_orders(&self, actor: &Actor) -> Result<StartOrders, AppError> {
        let visible = actor.visible(Action::Read, Kind::StartPlan)?;
        let number = actor.coop.number;
        self.store
            .read(move |conn| {
                let filter = Filter { withdrawn: true, ..Filter::default() };
                let kind = Kind::StartPlan;
                let mut found =
                    records::page(conn, number, kind, &visible, &filter, None, ORDERS_MAX)?;
                found.sort_by_key(|r| std::cmp::Reverse((r.created_at, r.id)));
                Ok(StartOrders { items: found.iter().filter_map(line).collect() })
            })
            .await
    }

    /// A start order with its farms, as far as the person sees them, and whether drawing again gives
    /// the same.
    ///
    /// # Errors
    /// `Forbidden`; `NotFound`.
    pub async fn start_order(&self, actor: &Actor, id: Uuid) -> Result<StartOrder, AppError> {
        actor.visible(Action::Read, Kind::StartPlan)?;
        let visible = actor.visible(Action::Read, Kind::StartPlace)?;
        let (coop, today) = (actor.coop.clone(), actor.coop.today(self.now()));
        self.store
            .read(move |conn| {
                let found = records::find(conn, coop.number, Kind::StartPlan, id)?;
                let found = found.ok_or(AppError::NotFound)?;
                let plan = StartPlan::from_values(&found.values).ok_or(AppError::NotFound)?;
                let of_line = line(&found).ok_or(AppError::NotFound)?;
                let places = places(conn, coop.number, id)?;
                let names = area_names(conn, coop.number)?;
                let rows = farm_rows::farms(conn, coop.number, None)?;
                let by_id: HashMap<Uuid, _> = rows.into_iter().map(|f| (f.farm, f)).collect();
                let first = Month::of(plan.first_month);
                let farm = |p: &StartPlace| {
                    let row = by_id.get(&p.farm_id).filter(|f| visible.sees(f.area, f.member))?;
                    let month = p.month.and_then(|m| i32::try_from(m).ok()).map(|m| first.plus(m));
                    Some(StartPlaceLine {
                        place: p.place,
                        farm_id: p.farm_id,
                        farm: row.code.clone(),
                        member_name: row.name.clone(),
                        area: names.get(&p.area_id).cloned(),
                        head: p.head,
                        month: month.map(wire::Month),
                        started_on: row.started_on,
                        followed: follow(month, row.started_on, today),
                    })
                };
                let sees_all = matches!(visible, Visible::All);
                Ok(StartOrder {
                    id,
                    name: of_line.name,
                    enterprise: of_line.enterprise,
                    first_month: of_line.first_month,
                    starts: numbers(&plan.starts),
                    is_as_drawn: sees_all.then(|| is_as_drawn(&plan, &places)),
                    seed: plan.seed,
                    drawn_on: plan.drawn_on,
                    is_withdrawn: of_line.is_withdrawn,
                    how: HOW.to_owned(),
                    farms: places.iter().filter_map(farm).collect(),
                })
            })
            .await
    }

    /// Draws months with and without fodder for a farm that agreed, and stores them; the same id again
    /// draws nothing.
    ///
    /// # Errors
    /// `Forbidden`; `Invalid`; `NotFound` for a farm out of reach.
    pub async fn draw_on_off(
        &self,
        actor: &Actor,
        id: Uuid,
        asked: NewOnOffOrder,
    ) -> Result<OnOffOrder, AppError> {
        actor.task(Task::CloseMonth)?;
        match self.on_off_order(actor, id).await {
            Err(AppError::NotFound) => {}
            drawn => return drawn,
        }
        let today = actor.coop.today(self.now());
        let month = first_month(&asked.first_month, today)?;
        let seed = self.random_seed()?;
        let body = json!({ "farm_id": asked.farm_id, "enterprise": asked.enterprise.text(),
            "first_month": month.first_day(), "blocks": asked.blocks,
            "block_months": asked.block_months, "unused_months": asked.unused_months,
            "seed": seed.to_string(), "drawn_on": today });
        self.create_together(actor, vec![piece(Kind::OnOffPlan, id, body)]).await?;
        self.on_off_order(actor, id).await
    }

    /// Months with and without fodder of a farm, and what they could show.
    ///
    /// # Errors
    /// `Forbidden`; `NotFound`.
    pub async fn on_off_order(&self, actor: &Actor, id: Uuid) -> Result<OnOffOrder, AppError> {
        let visible = actor.visible(Action::Read, Kind::OnOffPlan)?;
        let number = actor.coop.number;
        self.store
            .read(move |conn| {
                let found = records::find(conn, number, Kind::OnOffPlan, id)?;
                let found = found.filter(|r| r.withdrawn_at.is_none()).ok_or(AppError::NotFound)?;
                let plan = OnOffPlan::from_values(&found.values).ok_or(AppError::NotFound)?;
                let row = farm_rows::farms(conn, number, Some(&[plan.farm_id]))?.pop();
                let row = row.filter(|f| visible.sees(f.area, f.member));
                let row = row.ok_or(AppError::NotFound)?;
                let enterprise = Enterprise::parse(&plan.enterprise).ok_or(AppError::NotFound)?;
                let known = scatter(conn, number, enterprise)?;
                let drawn = drawn_months(&plan);
                let power = known.and_then(|of| switchback_power(&drawn, &setting(&of, 0), 0.0));
                let first = Month::of(plan.first_month);
                let months = drawn.is_on.iter().zip(&drawn.is_used).zip(0..);
                let month = |((is_on, is_used), at): ((&bool, &bool), i32)| OnOffMonth {
                    month: wire::Month(first.plus(at)),
                    is_on: *is_on,
                    is_used: *is_used,
                };
                Ok(OnOffOrder {
                    id,
                    farm_id: plan.farm_id,
                    farm: row.code.clone(),
                    enterprise,
                    months: months.map(month).collect(),
                    months_without: super::judge::count(
                        drawn.is_on.iter().filter(|on| !**on).count(),
                    ),
                    smallest_percent: power.map(|p| percent(p.smallest)),
                    seed: plan.seed,
                    drawn_on: plan.drawn_on,
                })
            })
            .await
    }

    fn random_seed(&self) -> Result<u64, AppError> {
        let mut bytes = [0_u8; 8];
        self.random.fill(&mut bytes).map_err(AppError::Internal)?;
        Ok(u64::from_le_bytes(bytes))
    }
}

fn piece(kind: Kind, id: Uuid, body: Json) -> Piece {
    let Json::Object(body) = body else { return Piece::new(kind, id, serde_json::Map::new()) };
    Piece::new(kind, id, body)
}

/// The month of the first starts: the running one or a later one.
fn first_month(text: &str, today: NaiveDate) -> Result<Month, AppError> {
    let month = Month::parse(text)
        .ok_or_else(|| AppError::field("first_month", "type", "give a month, YYYY-MM"))?;
    if month < Month::of(today) {
        let detail = "give the running month or a later one: an order is drawn before it begins";
        return Err(AppError::field("first_month", "range", detail));
    }
    Ok(month)
}

fn drawn_months(plan: &OnOffPlan) -> Switchback {
    let count = |n: i64| usize::try_from(n).unwrap_or(0);
    let seed = plan.seed.parse().unwrap_or(0);
    switchback(count(plan.blocks), count(plan.block_months), seed, count(plan.unused_months))
}

fn line(record: &Record) -> Option<StartOrderLine> {
    let plan = StartPlan::from_values(&record.values)?;
    Some(StartOrderLine {
        id: record.id,
        name: plan.name,
        enterprise: Enterprise::parse(&plan.enterprise)?,
        first_month: wire::Month(Month::of(plan.first_month)),
        drawn_on: plan.drawn_on,
        is_withdrawn: record.withdrawn_at.is_some(),
    })
}

fn numbers(text: &str) -> Vec<u64> {
    starts(text).unwrap_or_default().into_iter().map(super::judge::count).collect()
}

/// The farms of a plan, by place.
pub(super) fn places(
    conn: &mut Conn,
    number: i64,
    plan: Uuid,
) -> Result<Vec<StartPlace>, AppError> {
    let spec = Kind::StartPlace.spec();
    let field = spec.index("start_plan_id").unwrap_or(0);
    let filter = Filter {
        equals: vec![(field, traybook_domain::Value::Id(plan))],
        withdrawn: true,
        ..Filter::default()
    };
    let all = Visible::All;
    let found = records::page(conn, number, Kind::StartPlace, &all, &filter, None, PLACES_MAX)?;
    let mut places: Vec<StartPlace> =
        found.iter().filter_map(|r| StartPlace::from_values(&r.values)).collect();
    places.sort_by_key(|p| p.place);
    Ok(places)
}

/// Whether the same draw gives the same list.
fn is_as_drawn(plan: &StartPlan, places: &[StartPlace]) -> bool {
    let (Some(starts), Ok(seed)) = (starts(&plan.starts), plan.seed.parse()) else { return false };
    let ids: Vec<Uuid> = places.iter().map(|p| p.area_id).collect();
    let sizes: Vec<f64> = places.iter().map(|p| real(p.head)).collect();
    let drawn = start_order(&area_codes(&ids).0, &sizes, &starts, seed);
    let same = |(place, month): (&StartPlace, Option<usize>)| {
        place.month == month.and_then(|m| i64::try_from(m).ok())
    };
    drawn.is_some_and(|drawn| places.iter().zip(drawn).all(same))
}
