//! A payment run for milk or eggs: what was sold, what is due for seed, what is paid out.

use super::account::accounts;
use crate::days::span;
use crate::error::AppError;
use crate::records::Piece;
use crate::savings::seen_farms;
use crate::{Actor, App, Coop};
use chrono::NaiveDate;
use serde_json::{Map, json};
use std::collections::HashMap;
use traybook_answers::Decimal;
use traybook_answers::seed::pay_run::{PaymentLine, PaymentRun};
use traybook_domain::Kind;
use traybook_domain::effects::{DayRecord, counting};
use traybook_domain::people::authz::{Action, Task};
use traybook_domain::records::import_id::import_id;
use traybook_domain::savings::money::mul_div;
use traybook_domain::time::start_of_day;
use traybook_storage::Conn;
use traybook_storage::records::Visible;
use traybook_storage::seed::seed_rows::{self, SoldRow};
use uuid::Uuid;

/// Longest run, days: two months.
pub const RUN_DAYS_MAX: i64 = 62;
/// Days of a run where no first day is given: half a month.
const RUN_DAYS: u64 = 14;
const LITRE_ML: i64 = 1_000;

/// What a farm sold: of milk and of eggs the amount and its value.
#[derive(Clone, Copy, Default)]
struct Sold {
    milk: (i64, i64),
    eggs: (i64, i64),
    without_price: usize,
}

impl App {
    /// What each member sold on some days, what is due for seed, and what is left to pay out.
    ///
    /// # Errors
    /// `Forbidden`; `Invalid` for wrong or too many days.
    pub async fn payment_run(
        &self,
        actor: &Actor,
        from: Option<String>,
        to: Option<String>,
    ) -> Result<PaymentRun, AppError> {
        let visible = actor.task(Task::SeedAccounts)?;
        let today = actor.coop.today(self.now());
        let days = span(from.as_deref(), to.as_deref(), today, RUN_DAYS, RUN_DAYS_MAX)?;
        if days.1 > today {
            return Err(AppError::field("to", "future", "give a day up to today"));
        }
        let coop = actor.coop.clone();
        self.store.read(move |conn| run(conn, &coop, &visible, days, today)).await
    }

    /// Keeps back what a payment run says is due for seed: a payment for each member. `expected` is
    /// the sum that the person saw; where the records say another one by now, nothing is written.
    ///
    /// # Errors
    /// As for [`App::payment_run`]; `Invalid` on `expected` where the sum is another.
    pub async fn keep_back(
        &self,
        actor: &Actor,
        from: String,
        to: String,
        expected: &str,
    ) -> Result<PaymentRun, AppError> {
        actor.visible(Action::Create, Kind::SeedPayment)?;
        let run = self.payment_run(actor, Some(from), Some(to)).await?;
        if run.keep_back.to_string() != expected {
            let detail = "the records have changed since: look at the list again";
            return Err(AppError::field("expected", "changed", detail));
        }
        let at = start_of_day(run.to, actor.coop.zone).0;
        let coop = actor.coop.id.to_string();
        let due = run.items.iter().filter(|l| l.keep_back.is_positive());
        let pieces = due.map(|line| {
            // The same run pressed twice makes the same records; a later one of what is left, others.
            let key = format!("run {} {} {} {}", run.from, run.to, line.farm_id, line.kept_back);
            let is_milk = line.milk_value.units >= line.eggs_value.units;
            let mut body = Map::new();
            body.insert("farm_id".to_owned(), json!(line.farm_id));
            body.insert("date".to_owned(), json!(run.to));
            body.insert("amount".to_owned(), json!(line.keep_back));
            let by = if is_milk { "milk_check_off" } else { "egg_check_off" };
            body.insert("paid_by".to_owned(), json!(by));
            Piece::new(Kind::SeedPayment, import_id(&coop, "seed_payment", &key, at), body)
        });
        self.create_together(actor, pieces.collect()).await?;
        Ok(run)
    }
}

fn run(
    conn: &mut Conn,
    coop: &Coop,
    visible: &Visible,
    days: (NaiveDate, NaiveDate),
    today: NaiveDate,
) -> Result<PaymentRun, AppError> {
    let (number, digits) = (coop.number, coop.digits);
    let mut sold: HashMap<Uuid, Sold> = HashMap::new();
    for is_milk in [true, false] {
        for row in counted(seed_rows::sold(conn, number, is_milk, days)?) {
            add(sold.entry(row.farm).or_default(), is_milk, &row);
        }
    }
    let other = seed_rows::kept_back(conn, number, false, days)?;
    let kept = seed_rows::kept_back(conn, number, true, days)?;
    let money = |minor: i64| Decimal::new(minor, digits);
    let of = |map: &HashMap<Uuid, i64>, farm: Uuid| map.get(&farm).copied().unwrap_or(0);
    let (mut items, mut sums, mut owing_without_sales) = (Vec::new(), [0_i64; 3], 0);
    let farms = seen_farms(conn, number, visible)?.0;
    for account in accounts(conn, coop, &farms, today)?.items {
        let farm = account.farm_id;
        let s = sold.get(&farm).copied().unwrap_or_default();
        let (other, kept) = (of(&other, farm), of(&kept, farm));
        let value = s.milk.1 + s.eggs.1;
        let due = account.balance.units.max(0);
        let left = value - other - kept;
        let keep = due.min(left.max(0));
        if value == 0 && other == 0 && kept == 0 && s.without_price == 0 {
            owing_without_sales += usize::from(due > 0);
            continue;
        }
        let net = left - keep;
        for (sum, part) in sums.iter_mut().zip([value, keep, net]) {
            *sum += part;
        }
        items.push(PaymentLine {
            farm_id: farm,
            farm: account.farm,
            member_number: account.member_number,
            member_name: account.member_name,
            milk_litres: Decimal::new(s.milk.0, 3),
            milk_value: money(s.milk.1),
            eggs: s.eggs.0,
            eggs_value: money(s.eggs.1),
            sold: money(value),
            sold_without_price: s.without_price,
            seed_due: money(due),
            other: money(other),
            kept_back: money(kept),
            keep_back: money(keep),
            net: money(net),
        });
    }
    let [value, keep, net] = sums.map(money);
    Ok(PaymentRun {
        from: days.0,
        to: days.1,
        currency: coop.currency.clone(),
        sold: value,
        keep_back: keep,
        net,
        owing_without_sales,
        items,
    })
}

/// The records that count, of each group and day: a second entry of a milking takes the place of
/// the first.
fn counted(rows: Vec<SoldRow>) -> Vec<SoldRow> {
    let same = |a: &SoldRow, b: &SoldRow| (a.group, a.date) == (b.group, b.date);
    let mut counted = Vec::new();
    for day in rows.chunk_by(same) {
        let records: Vec<DayRecord> = day.iter().map(|r| r.day.clone()).collect();
        let ids = counting(&records);
        counted.extend(day.iter().filter(|r| ids.contains(&r.day.id)).cloned());
    }
    counted
}

fn add(sold: &mut Sold, is_milk: bool, row: &SoldRow) {
    let Some(amount) = row.sold.filter(|amount| *amount > 0) else { return };
    let Some(price) = row.price else {
        sold.without_price += 1;
        return;
    };
    let part = if is_milk { &mut sold.milk } else { &mut sold.eggs };
    let value = mul_div(amount, price, if is_milk { LITRE_ML } else { 1 });
    part.0 = part.0.saturating_add(amount);
    part.1 = part.1.saturating_add(value.unwrap_or(i64::MAX));
}
