//! What members owe for seed: balances, and a farm's statement.

use crate::ctx::{Actor, App};
use crate::error::AppError;
use crate::savings::seen_farms;
use crate::seed::lots;
use crate::sheet::{Sheet, span};
use serde_json::{Value as Json, json};
use std::collections::HashMap;
use traybook_domain::authz::Task;
use traybook_domain::field::json_decimal;
use traybook_domain::kinds::SeedLot;
use traybook_domain::time::plus_days;
use traybook_storage::seed_rows::{self, AccountLine, AccountSums};
use uuid::Uuid;

/// Longest statement, days: ten years.
const STATEMENT_DAYS_MAX: i64 = 3_660;
/// Days of a statement where no first day is given.
const STATEMENT_DAYS: u64 = 365;
/// Lines of one statement: thirty years of one hand-out and one check-off a day.
const LINES_MAX: usize = 22_000;
const BALANCES: &[&str] = &[
    "farm",
    "member_number",
    "member_name",
    "charged",
    "paid_off",
    "balance",
    "paid_at_once",
    "issued_kg",
    "issues_without_price",
    "last_on",
];
const LINES: &[&str] = &[
    "date",
    "entry",
    "seed_lot",
    "kg",
    "price",
    "paid_by",
    "amount",
    "change",
    "balance",
    "is_priced",
    "note",
    "record_id",
];

impl App {
    /// What every farm owes for seed today, by farm code. A positive balance is owed by the
    /// member, a negative one by the co-operative.
    ///
    /// # Errors
    /// `Forbidden`.
    pub async fn seed_accounts(&self, actor: &Actor) -> Result<Sheet, AppError> {
        let visible = actor.task(Task::SeedAccounts)?;
        let (actor, today) = (actor.clone(), actor.coop.today(self.now()));
        self.store
            .read(move |conn| {
                let (number, digits) = (actor.coop.number, actor.coop.digits);
                let after = plus_days(today, 1);
                let sums: HashMap<Uuid, AccountSums> =
                    seed_rows::account_sums(conn, number, None, after)?.into_iter().collect();
                let money = |minor: i64| json_decimal(minor, digits);
                let (mut items, mut total) = (Vec::new(), 0_i64);
                for farm in seen_farms(conn, number, &visible)?.0 {
                    let s = sums.get(&farm.farm).copied().unwrap_or_default();
                    let balance = s.credit_minor - s.paid_minor;
                    total += balance;
                    items.push(json!({
                        "farm_id": farm.farm,
                        "farm": farm.code,
                        "member_number": farm.number,
                        "member_name": farm.name,
                        "charged": money(s.credit_minor),
                        "paid_off": money(s.paid_minor),
                        "balance": money(balance),
                        "paid_at_once": money(s.paid_at_once_minor),
                        "issued_kg": json_decimal(s.grams, 3),
                        "issues_without_price": s.unpriced,
                        "last_on": s.last_on,
                    }));
                }
                let json = json!({
                    "day": today,
                    "currency": actor.coop.currency,
                    "balance": money(total),
                    "items": items,
                });
                Ok(Sheet { json, rows: "items", columns: BALANCES })
            })
            .await
    }

    /// A farm's statement: opening balance, every issue and payment with the balance after it,
    /// closing balance. Issues on credit add, payments subtract, issues paid at once leave the
    /// balance as it is, and so do issues without a price, which are marked.
    ///
    /// # Errors
    /// `Forbidden`; `NotFound` for a farm out of reach; `Invalid` for wrong or too many days.
    pub async fn seed_account(
        &self,
        actor: &Actor,
        farm: Uuid,
        from: Option<String>,
        to: Option<String>,
    ) -> Result<Sheet, AppError> {
        let visible = actor.task(Task::SeedAccounts)?;
        let today = actor.coop.today(self.now());
        let days = span(from.as_deref(), to.as_deref(), today, STATEMENT_DAYS, STATEMENT_DAYS_MAX)?;
        let actor = actor.clone();
        self.store
            .read(move |conn| {
                let (number, digits) = (actor.coop.number, actor.coop.digits);
                let farms = seen_farms(conn, number, &visible)?.0;
                let found = farms.into_iter().find(|f| f.farm == farm);
                let found = found.ok_or(AppError::NotFound)?;
                let sums = seed_rows::account_sums(conn, number, Some(farm), days.0)?;
                let sums = sums.first().map(|s| s.1).unwrap_or_default();
                let opening = sums.credit_minor - sums.paid_minor;
                let lines = seed_rows::account_lines(conn, number, farm, days)?;
                if lines.len() > LINES_MAX {
                    let detail = format!("more than {LINES_MAX} lines; give fewer days");
                    return Err(AppError::field("to", "range", detail));
                }
                let unpriced =
                    lines.iter().filter(|l| l.seed.is_some() && l.minor.is_none()).count();
                let lots = lots(conn, number)?;
                let (lines, closing) = statement(&lines, opening, &lots, digits);
                let json = json!({
                    "farm_id": farm,
                    "farm": found.code,
                    "member_number": found.number,
                    "member_name": found.name,
                    "from": days.0,
                    "to": days.1,
                    "currency": actor.coop.currency,
                    "opening_balance": json_decimal(opening, digits),
                    "lines": lines,
                    "closing_balance": json_decimal(closing, digits),
                    "issues_without_price": unpriced,
                    "sentence": sentence(closing, unpriced),
                });
                Ok(Sheet { json, rows: "lines", columns: LINES })
            })
            .await
    }
}

fn statement(
    lines: &[AccountLine],
    opening: i64,
    lots: &HashMap<Uuid, SeedLot>,
    digits: u8,
) -> (Vec<Json>, i64) {
    let mut balance = opening;
    let money = |minor: i64| json_decimal(minor, digits);
    let mut all = Vec::with_capacity(lines.len());
    for l in lines {
        let minor = l.minor.unwrap_or(0);
        let (entry, change) = match (l.seed, l.how.as_str()) {
            (None, _) => ("payment", -minor),
            (Some(_), "credit") => ("issue_on_credit", minor),
            (Some(_), _) => ("issue_paid_at_once", 0),
        };
        balance += change;
        let is_payment = l.seed.is_none();
        all.push(json!({
            "date": l.date,
            "entry": entry,
            "record_id": l.id,
            "seed_lot_id": l.seed.map(|s| s.0),
            "seed_lot": l.seed.and_then(|s| lots.get(&s.0)).map(|lot| &lot.code),
            "kg": l.seed.map(|s| json_decimal(s.1, 3)),
            "price": l.minor.filter(|_| !is_payment).map(money),
            "amount": l.minor.filter(|_| is_payment).map(money),
            "paid_by": is_payment.then_some(&l.how),
            "change": money(change),
            "balance": money(balance),
            "is_priced": l.minor.is_some(),
            "note": l.note,
        }));
    }
    (all, balance)
}

fn sentence(closing: i64, unpriced: usize) -> String {
    let stands = match closing.signum() {
        1 => "The member owes this balance for seed.",
        -1 => "The co-operative owes the member this balance: more was paid than charged.",
        _ => "Nothing is owed for seed.",
    };
    match unpriced {
        0 => stands.to_owned(),
        1 => format!("{stands} One issue has no price and is not counted; add its price."),
        n => format!("{stands} {n} issues have no price and are not counted; add their prices."),
    }
}
