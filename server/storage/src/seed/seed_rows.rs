//! Accounts of seed, what members delivered, and the last prices.

use crate::columns::{Instant, columns};
use crate::conn::{Bind, Conn};
use crate::error::StoreError;
use crate::records::farm_rows::{Farms, only};
use chrono::NaiveDate;
use std::collections::HashMap;
use traybook_domain::effects::DayRecord;
use uuid::Uuid;

/// What a farm was charged and paid, from its issues and payments.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct AccountSums {
    /// Issues on credit, minor units.
    pub credit_minor: i64,
    /// Those of them that are older, minor units: before each of the days that were asked for.
    pub older_minor: [i64; 2],
    /// Issues paid at once, minor units.
    pub paid_at_once_minor: i64,
    /// Payments, minor units.
    pub paid_minor: i64,
    /// Issues without a price.
    pub unpriced: i64,
    /// Seed handed out, grams.
    pub grams: i64,
}

/// The sums by farm, of one farm or all, of what happened before a day; issues on credit also before
/// two earlier days: what is kept of all days, without what happened since.
pub fn account_sums(
    conn: &mut Conn,
    coop: i64,
    farm: Option<Uuid>,
    (before, older): (NaiveDate, [NaiveDate; 2]),
) -> Result<HashMap<Uuid, AccountSums>, StoreError> {
    let mut sql = String::from("coop_id = ?");
    let mut binds = vec![Bind::int(coop)];
    only(farm.as_ref().map(std::slice::from_ref), "farm_id", &mut sql, &mut binds);
    let columns = columns!("seed_rows::account_sums" {
        farm: Uuid = "farm_id",
        credit_minor: i64,
        paid_at_once_minor: i64,
        unpriced: i64,
        grams: i64 = "issued_g",
        paid_minor: i64,
    } => (farm, AccountSums {
        credit_minor, older_minor: [credit_minor; 2], paid_at_once_minor, paid_minor, unpriced, grams,
    }));
    let sql = format!("SELECT {columns} FROM seed_accounts WHERE {sql}");
    let mut all: HashMap<Uuid, AccountSums> =
        conn.select(&columns, &sql, &binds)?.into_iter().collect();
    for (farm, since) in issued_since(conn, coop, farm, before)? {
        let sums = all.entry(farm).or_default();
        sums.credit_minor -= since.credit_minor;
        sums.paid_at_once_minor -= since.paid_at_once_minor;
        sums.unpriced -= since.unpriced;
        sums.grams -= since.grams;
    }
    for (farm, paid) in paid_since(conn, coop, farm, before)? {
        all.entry(farm).or_default().paid_minor -= paid;
    }
    for (farm, since) in charged_since(conn, coop, farm, older)? {
        let sums = all.entry(farm).or_default();
        for (old, since) in sums.older_minor.iter_mut().zip(since) {
            *old -= since;
        }
    }
    Ok(all)
}

/// What was charged: of all issues, or of some.
fn charged(when: &str) -> String {
    let condition = format!("payment = 'credit' {when}");
    format!("CAST(SUM(CASE WHEN {condition} THEN COALESCE(price, 0) ELSE 0 END) AS BIGINT)")
}

/// The rows of one farm or all from a day on, by farm.
fn since(coop: i64, farm: Option<Uuid>, (table, day): (&str, NaiveDate)) -> (String, Vec<Bind>) {
    let only = if farm.is_some() { "AND farm_id = ?" } else { "" };
    let mut binds = vec![Bind::int(coop), Bind::date(day)];
    binds.extend(farm.map(Bind::id));
    let sql = format!(
        "FROM {table} WHERE coop_id = ? AND date >= ? {only} AND withdrawn_at IS NULL \
         GROUP BY farm_id"
    );
    (sql, binds)
}

/// What was handed out from a day on, by farm.
fn issued_since(
    conn: &mut Conn,
    coop: i64,
    farm: Option<Uuid>,
    day: NaiveDate,
) -> Result<Vec<(Uuid, AccountSums)>, StoreError> {
    let columns = columns!("seed_rows::issued_since" {
        farm: Uuid = "farm_id",
        credit_minor: i64 = charged(""),
        paid_at_once_minor: i64 = "CAST(SUM(CASE WHEN payment = 'credit' THEN 0 \
            ELSE COALESCE(price, 0) END) AS BIGINT)",
        unpriced: i64 = "CAST(SUM(CASE WHEN price IS NULL THEN 1 ELSE 0 END) AS BIGINT)",
        grams: i64 = "CAST(SUM(kg) AS BIGINT)",
    } => (farm, AccountSums {
        credit_minor, paid_at_once_minor, unpriced, grams, ..AccountSums::default()
    }));
    let (sql, binds) = since(coop, farm, ("seed_issues", day));
    conn.select(&columns, &format!("SELECT {columns} {sql}"), &binds)
}

/// What was paid from a day on, by farm.
fn paid_since(
    conn: &mut Conn,
    coop: i64,
    farm: Option<Uuid>,
    day: NaiveDate,
) -> Result<Vec<(Uuid, i64)>, StoreError> {
    let columns = columns!("seed_rows::paid_since" {
        farm: Uuid = "farm_id",
        minor: i64 = "CAST(SUM(amount) AS BIGINT)",
    } => (farm, minor));
    let (sql, binds) = since(coop, farm, ("seed_payments", day));
    conn.select(&columns, &format!("SELECT {columns} {sql}"), &binds)
}

/// What was charged from each of two days on, by farm.
fn charged_since(
    conn: &mut Conn,
    coop: i64,
    farm: Option<Uuid>,
    days: [NaiveDate; 2],
) -> Result<Vec<(Uuid, [i64; 2])>, StoreError> {
    let columns = columns!("seed_rows::charged_since" {
        farm: Uuid = "farm_id",
        first: i64 = charged("AND date >= ?"),
        second: i64 = charged("AND date >= ?"),
    } => (farm, [first, second]));
    let [first, second] = days;
    let (sql, of) = since(coop, farm, ("seed_issues", first.min(second)));
    let binds = [vec![Bind::date(first), Bind::date(second)], of].concat();
    conn.select(&columns, &format!("SELECT {columns} {sql}"), &binds)
}

/// The last day with an issue or payment, of these farms or of all.
pub fn last_days(
    conn: &mut Conn,
    coop: i64,
    of: Farms<'_>,
) -> Result<HashMap<Uuid, NaiveDate>, StoreError> {
    let columns = columns!("seed_rows::last_days" {
        farm: Uuid = "farm_id",
        last: NaiveDate = "MAX(date)",
    } => (farm, last));
    let mut all: HashMap<Uuid, NaiveDate> = HashMap::new();
    for table in ["seed_issues", "seed_payments"] {
        let mut sql =
            format!("SELECT {columns} FROM {table} WHERE coop_id = ? AND withdrawn_at IS NULL");
        let mut binds = vec![Bind::int(coop)];
        only(of, "farm_id", &mut sql, &mut binds);
        sql.push_str(" GROUP BY farm_id");
        for (farm, last) in conn.select(&columns, &sql, &binds)? {
            let known = all.entry(farm).or_insert(last);
            *known = last.max(*known);
        }
    }
    Ok(all)
}

/// What a farm sold of one group on one day, as one record has it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SoldRow {
    pub group: Uuid,
    pub farm: Uuid,
    pub date: NaiveDate,
    /// The record, to find out whether it counts.
    pub day: DayRecord,
    /// ml or eggs sold; none where that was not written down.
    pub sold: Option<i64>,
    /// Price of a litre or an egg, minor units.
    pub price: Option<i64>,
}

/// Milk (or eggs) of some days, all records of them.
pub fn sold(
    conn: &mut Conn,
    coop: i64,
    is_milk: bool,
    (from, to): (NaiveDate, NaiveDate),
) -> Result<Vec<SoldRow>, StoreError> {
    let (table, session, amount, sold, price) = match is_milk {
        true => ("milk_records", "session", "litres", "sold_litres", "price_per_litre"),
        false => ("egg_records", "'day'", "eggs", "sold_eggs", "price_per_egg"),
    };
    let columns = columns!("seed_rows::sold" {
        group: Uuid = "animal_group_id",
        farm: Uuid = "farm_id",
        date: NaiveDate,
        id: Uuid,
        entered: Instant = "created_at",
        session: String = session,
        amount: i64 = amount,
        sold: Option<i64> = sold,
        price: Option<i64> = price,
    } => {
        let (entered, animals, cracked, stage) = (entered, 0, 0, None);
        let day = DayRecord { id, entered, session, amount, animals, cracked, stage };
        SoldRow { group, farm, date, day, sold, price }
    });
    let sql = format!(
        "SELECT {columns} FROM {table} WHERE coop_id = ? AND date >= ? AND date <= ? \
         AND withdrawn_at IS NULL ORDER BY farm_id, animal_group_id, date, id"
    );
    conn.select(&columns, &sql, &[Bind::int(coop), Bind::date(from), Bind::date(to)])
}

/// Amounts of some days by farm, minor units: deductions, or what was kept back for seed.
pub fn kept_back(
    conn: &mut Conn,
    coop: i64,
    is_seed: bool,
    (from, to): (NaiveDate, NaiveDate),
) -> Result<HashMap<Uuid, i64>, StoreError> {
    let (table, only) = match is_seed {
        true => ("seed_payments", "AND paid_by IN ('milk_check_off', 'egg_check_off')"),
        false => ("deductions", ""),
    };
    let columns = columns!("seed_rows::kept_back" {
        farm: Uuid = "farm_id",
        minor: i64 = "CAST(SUM(amount) AS BIGINT)",
    } => (farm, minor));
    let sql = format!(
        "SELECT {columns} FROM {table} WHERE coop_id = ? AND date >= ? AND date <= ? {only} \
         AND withdrawn_at IS NULL GROUP BY farm_id"
    );
    let binds = [Bind::int(coop), Bind::date(from), Bind::date(to)];
    Ok(conn.select(&columns, &sql, &binds)?.into_iter().collect())
}

/// The last prices of seed by lot since a day, grams and minor units for them: of issues, or of
/// purchases with their transport.
pub fn last_prices(
    conn: &mut Conn,
    coop: i64,
    is_issue: bool,
    since: NaiveDate,
) -> Result<HashMap<Uuid, (i64, i64)>, StoreError> {
    let (table, price) = match is_issue {
        true => ("seed_issues", "price"),
        false => ("seed_purchases", "price + COALESCE(transport, 0)"),
    };
    let columns = columns!("seed_rows::last_prices" {
        lot: Uuid = "seed_lot_id",
        grams: i64 = "kg",
        minor: i64 = price,
    } => (lot, (grams, minor)));
    let sql = format!(
        "SELECT {columns} FROM {table} WHERE coop_id = ? AND date >= ? AND price IS NOT NULL \
         AND kg > 0 AND withdrawn_at IS NULL ORDER BY date, id"
    );
    // The last of a lot stays.
    Ok(conn.select(&columns, &sql, &[Bind::int(coop), Bind::date(since)])?.into_iter().collect())
}

/// One line of a seed account: an issue, or with `paid_by` a payment.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct AccountLine {
    pub date: NaiveDate,
    pub id: Uuid,
    /// Lot and grams of an issue.
    pub seed: Option<(Uuid, i64)>,
    /// Price or amount, minor units; none for an issue without a price.
    pub minor: Option<i64>,
    /// `credit` or `paid` for an issue, how it was paid for a payment.
    pub how: String,
    /// Remarks.
    pub note: Option<String>,
}

/// A farm's issues and payments from one day to another, in the order of the day, issues before
/// payments, then as they were entered.
pub fn account_lines(
    conn: &mut Conn,
    coop: i64,
    farm: Uuid,
    days: (NaiveDate, NaiveDate),
) -> Result<Vec<AccountLine>, StoreError> {
    let binds = [Bind::int(coop), Bind::id(farm), Bind::date(days.0), Bind::date(days.1)];
    let condition = "coop_id = ? AND farm_id = ? AND date >= ? AND date <= ? AND \
                     withdrawn_at IS NULL ORDER BY date, created_at, id";
    let columns = columns!("seed_rows::account_lines, issues" {
        date: NaiveDate,
        id: Uuid,
        lot: Uuid = "seed_lot_id",
        grams: i64 = "kg",
        minor: Option<i64> = "price",
        how: String = "payment",
        note: Option<String>,
    } => AccountLine { date, id, seed: Some((lot, grams)), minor, how, note });
    let sql = format!("SELECT {columns} FROM seed_issues WHERE {condition}");
    let mut lines = conn.select(&columns, &sql, &binds)?;
    let columns = columns!("seed_rows::account_lines, payments" {
        date: NaiveDate,
        id: Uuid,
        amount: i64,
        how: String = "paid_by",
        note: Option<String>,
    } => AccountLine { date, id, seed: None, minor: Some(amount), how, note });
    let sql = format!("SELECT {columns} FROM seed_payments WHERE {condition}");
    lines.extend(conn.select(&columns, &sql, &binds)?);
    lines.sort_by_key(|l| l.date);
    Ok(lines)
}
