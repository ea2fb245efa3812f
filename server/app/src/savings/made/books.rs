//! What is recorded of farms: groups with their heads, rations, purchases, store counts.

use super::axis::Axis;
use crate::error::AppError;
use chrono::NaiveDate;
use std::collections::{HashMap, HashSet};
use std::sync::Arc;
use traybook_domain::Kind;
use traybook_domain::herd::{HeadEvent, head_runs};
use traybook_domain::kinds::ReviewAcceptance;
use traybook_domain::record::Record as _;
use traybook_domain::records::import_id::import_id;
use traybook_domain::savings::money::format_decimal;
use traybook_storage::Conn;
use traybook_storage::records::farm_rows::{FarmRow, Farms};
use traybook_storage::records::{self, Filter, Visible};
use traybook_storage::savings::saving_rows::{self, CountRow, PurchaseRow, RationRow};
use uuid::Uuid;

pub(super) struct Group {
    pub id: Uuid,
    /// Class of animal.
    pub class: String,
    /// Days from which a head count holds, in order; none where nobody counted.
    pub runs: Vec<(i32, f64)>,
}

/// What is recorded of one farm.
pub(super) struct Book {
    pub farm: Arc<FarmRow>,
    pub groups: Vec<Group>,
    pub rations: Vec<RationRow>,
    pub purchases: Vec<PurchaseRow>,
    pub counts: Vec<CountRow>,
}

/// What is recorded of farms, in their order.
pub(super) struct Books {
    pub axis: Axis,
    pub books: Vec<Book>,
    /// Purchases that somebody accepted as they are.
    pub accepted: HashSet<Uuid>,
}

impl Books {
    /// Reads farms, all or these.
    pub fn read(
        conn: &mut Conn,
        coop: i64,
        today: NaiveDate,
        farms: &[Arc<FarmRow>],
        of: Farms<'_>,
    ) -> Result<Self, AppError> {
        let purchases = saving_rows::purchases(conn, coop, today, of)?;
        let first = purchases.iter().map(|p| p.on).min();
        let started = farms.iter().filter_map(|f| f.started_on).min();
        let counts = saving_rows::heads(conn, coop, of)?;
        let counted = counts.iter().map(|(_, event)| event.date).min();
        let axis = Axis::new([first, started, counted].into_iter().flatten().min(), today);
        let mut books = Self::empty(farms);
        let index: HashMap<Uuid, usize> =
            farms.iter().enumerate().map(|(i, f)| (f.farm, i)).collect();
        let mut put = |farm: Uuid, into: &mut dyn FnMut(&mut Book)| {
            // A withdrawn farm has no book.
            if let Some(book) = index.get(&farm).and_then(|i| books.get_mut(*i)) {
                into(book);
            }
        };
        let accepted = accepted(conn, coop, &purchases)?;
        for row in purchases {
            put(row.farm, &mut |book| book.purchases.push(row));
        }
        for row in saving_rows::counts(conn, coop, today, of)? {
            put(row.farm, &mut |book| book.counts.push(row));
        }
        for row in saving_rows::rations(conn, coop, of)? {
            put(row.farm, &mut |book| book.rations.push(row));
        }
        let mut heads: HashMap<Uuid, Vec<HeadEvent>> = HashMap::new();
        for (group, event) in counts {
            heads.entry(group).or_default().push(event);
        }
        for (farm, id, class) in saving_rows::groups(conn, coop, of)? {
            let events = heads.remove(&id).unwrap_or_default();
            let runs = head_runs(&events);
            let runs = runs.into_iter().map(|(day, head)| (axis.day(day), real(head)));
            let mut group = Some(Group { id, class, runs: runs.collect() });
            put(farm, &mut |book| book.groups.extend(group.take()));
        }
        Ok(Self { axis, books, accepted })
    }

    fn empty(farms: &[Arc<FarmRow>]) -> Vec<Book> {
        let book = |farm: &Arc<FarmRow>| Book {
            farm: Arc::clone(farm),
            groups: Vec::new(),
            rations: Vec::new(),
            purchases: Vec::new(),
            counts: Vec::new(),
        };
        farms.iter().map(book).collect()
    }
}

impl Book {
    /// What stands for the records before the farm's start, which its baseline is made of.
    pub fn records_before(&self, axis: &Axis) -> Uuid {
        let Some(start) = self.farm.started_on else { return Uuid::nil() };
        let mut text = start.to_string();
        for p in self.purchases.iter().filter(|p| p.on < start) {
            text.push_str(&format!(";{} {} {:?} {} {}", p.on, p.feed, p.group, p.grams, p.minor));
        }
        for c in self.counts.iter().filter(|c| c.on < start) {
            text.push_str(&format!(";{} {} {:?} {}", c.on, c.feed, c.group, c.grams));
        }
        for r in &self.rations {
            text.push_str(&format!(";{} {} {} {}", r.group, r.feed, r.grams, r.on));
        }
        for g in &self.groups {
            let before = g.runs.iter().take_while(|r| r.0 < axis.day(start));
            let runs = before.map(|(day, head)| format!("{} {head}", axis.date(*day)));
            text.push_str(&format!(";{} {}", g.id, runs.collect::<Vec<_>>().join(",")));
        }
        import_id(&self.farm.farm.to_string(), "baseline", &text, 0)
    }
}

fn real(value: i64) -> f64 {
    traybook_domain::value::real(value)
}

/// Rules of the review list whose acceptance lifts what holds a purchase back.
pub(crate) const HOLDS: [&str; 3] = ["feed_price", "feed_kg", "feed_gap"];

/// A finding as the review list names it.
pub(crate) fn finding(rule: &str, purchase: Uuid) -> String {
    format!("{rule} {purchase}")
}

/// What an acceptance holds for: day, kg and cost. Never a median, which moves with others'
/// purchases.
pub(crate) fn evidence(p: &PurchaseRow) -> String {
    format!("{} {} kg {}", p.on, format_decimal(p.grams, 3), p.minor)
}

/// The purchases that somebody accepted as they are now.
fn accepted(
    conn: &mut Conn,
    coop: i64,
    purchases: &[PurchaseRow],
) -> Result<HashSet<Uuid>, AppError> {
    let (all, filter) = (Visible::All, Filter::default());
    let found = records::page(conn, coop, Kind::ReviewAcceptance, &all, &filter, None, 100_000)?;
    let each = found.iter().filter_map(|r| ReviewAcceptance::from_values(&r.values));
    let each = each.filter(|a| HOLDS.contains(&a.rule.as_str()));
    let known: HashSet<(String, String)> = each.map(|a| (a.finding, a.evidence)).collect();
    if known.is_empty() {
        return Ok(HashSet::new());
    }
    let is_accepted = |p: &&PurchaseRow| {
        HOLDS.iter().any(|rule| known.contains(&(finding(rule, p.id), evidence(p))))
    };
    Ok(purchases.iter().filter(is_accepted).map(|p| p.id).collect())
}
