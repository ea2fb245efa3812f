//! A co-operative: its number, currency, zone and growing guide.

use crate::error::AppError;
use chrono::NaiveDate;
use chrono_tz::Tz;
use std::collections::{HashMap, HashSet};
use traybook_domain::field::ReadCtx;
use traybook_domain::kinds::Cooperative;
use traybook_domain::planning::guide::Guide;
use traybook_domain::record::Record as _;
use traybook_domain::savings::money::currency_digits;
use traybook_domain::time::{local_date, parse_zone};
use traybook_domain::value::Instant;
use traybook_domain::{Kind, Value};
use traybook_storage::Conn;
use traybook_storage::records::{self, Filter, Visible, guide};
use uuid::Uuid;

/// A co-operative as every use case needs it.
#[derive(Clone, Debug)]
pub struct Coop {
    /// Its short number, which leads all keys.
    pub number: i64,
    pub id: Uuid,
    pub name: String,
    /// ISO 4217 code.
    pub currency: String,
    /// Digits of the currency.
    pub digits: u8,
    /// Zone of its days.
    pub zone: Tz,
}

impl Coop {
    /// Loads a co-operative.
    ///
    /// # Errors
    /// `NotFound` when there is none with this id.
    pub fn load(conn: &mut Conn, number: i64, id: Uuid) -> Result<Self, AppError> {
        let record = records::find(conn, number, Kind::Cooperative, id)?;
        let record = record.filter(|r| r.withdrawn_at.is_none()).ok_or(AppError::NotFound)?;
        let c = Cooperative::from_values(&record.values).ok_or(AppError::NotFound)?;
        Self::new(number, id, &c)
    }

    /// From its record.
    ///
    /// # Errors
    /// `Internal` when its currency or zone is unknown.
    pub fn new(number: i64, id: Uuid, c: &Cooperative) -> Result<Self, AppError> {
        let digits = currency_digits(&c.currency);
        let zone = parse_zone(&c.zone);
        let (Some(digits), Some(zone)) = (digits, zone) else {
            return Err(AppError::Internal("unknown currency or zone".to_owned()));
        };
        let (name, currency) = (c.name.clone(), c.currency.clone());
        Ok(Self { number, id, name, currency, digits, zone })
    }

    /// Today here.
    #[must_use]
    pub fn today(&self, now: Instant) -> NaiveDate {
        local_date(now, self.zone)
    }

    /// How fields are read here and now.
    #[must_use]
    pub fn read_ctx(&self, now: Instant) -> ReadCtx {
        ReadCtx { now, today: self.today(now), money_digits: self.digits }
    }

    pub fn guide(&self, conn: &mut Conn) -> Result<Guide, AppError> {
        Ok(guide::guide(conn, self.number)?)
    }
}

/// The areas below each area.
pub fn area_children(conn: &mut Conn, number: i64) -> Result<HashMap<Uuid, Vec<Uuid>>, AppError> {
    let mut children: HashMap<Uuid, Vec<Uuid>> = HashMap::new();
    let all =
        records::page(conn, number, Kind::Area, &Visible::All, &Filter::default(), None, 100_000)?;
    for area in all {
        let parent = Kind::Area.spec().get(&area.values, "parent_id");
        if let Value::Id(parent) = parent {
            children.entry(*parent).or_default().push(area.id);
        }
    }
    Ok(children)
}

/// An area with everything below it.
pub(crate) fn areas_below(
    conn: &mut Conn,
    number: i64,
    area: Uuid,
) -> Result<HashSet<Uuid>, AppError> {
    let children = area_children(conn, number)?;
    let (mut seen, mut next) = (HashSet::new(), vec![area]);
    while let Some(area) = next.pop() {
        if seen.insert(area) {
            next.extend(children.get(&area).into_iter().flatten());
        }
    }
    Ok(seen)
}
