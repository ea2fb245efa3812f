//! What members owe for seed: balances, and a farm's statement.

use crate::days::span;
use crate::error::AppError;
use crate::savings::seen_farms;
use crate::seed::lots;
use crate::{Actor, App, Coop};
use chrono::NaiveDate;
use std::cmp::Reverse;
use std::collections::HashMap;
use std::sync::Arc;
use traybook_answers::Decimal;
use traybook_answers::seed::{AccountEntry, AccountLine, FarmBalance, SeedAccount, SeedAccounts};
use traybook_domain::kinds::SeedLot;
use traybook_domain::limits::OWED_DAYS;
use traybook_domain::people::authz::Task;
use traybook_domain::planning::guide::{Guide, GuideName};
use traybook_domain::time::{minus_days, plus_days};
use traybook_storage::Conn;
use traybook_storage::records::farm_rows::{FarmRow, Farms};
use traybook_storage::seed::seed_rows;
use uuid::Uuid;

/// Digits of a value of the growing guide.
const GUIDE_DIGITS: u8 = 3;
/// Longest statement, days: ten years.
pub const STATEMENT_DAYS_MAX: i64 = 3_660;
/// Days of a statement where no first day is given.
const STATEMENT_DAYS: u64 = 365;
/// Lines of one statement: thirty years of one hand-out and one check-off a day.
const LINES_MAX: usize = 22_000;

impl App {
    /// What every farm owes for seed today, by farm code. A positive balance is owed by the
    /// member, a negative one by the co-operative.
    ///
    /// # Errors
    /// `Forbidden`.
    pub async fn seed_accounts(&self, actor: &Actor) -> Result<SeedAccounts, AppError> {
        let visible = actor.task(Task::SeedAccounts)?;
        let (coop, today) = (actor.coop.clone(), actor.coop.today(self.now()));
        self.store
            .read(move |conn| {
                let farms = seen_farms(conn, coop.number, &visible)?.0;
                let mut accounts = accounts(conn, &coop, &farms, today)?;
                put_last_days(conn, coop.number, &mut accounts.items, None)?;
                Ok(accounts)
            })
            .await
    }

    /// All accounts, and the farms that owe for seed, the most first, at most so many.
    ///
    /// # Errors
    /// `Forbidden`.
    pub async fn seed_owed(
        &self,
        actor: &Actor,
        most: usize,
    ) -> Result<(SeedAccounts, Vec<FarmBalance>), AppError> {
        let visible = actor.task(Task::SeedAccounts)?;
        let (coop, today) = (actor.coop.clone(), actor.coop.today(self.now()));
        self.store
            .read(move |conn| {
                let farms = seen_farms(conn, coop.number, &visible)?.0;
                let accounts = accounts(conn, &coop, &farms, today)?;
                let mut owing: Vec<&FarmBalance> =
                    accounts.items.iter().filter(|a| a.balance.is_positive()).collect();
                owing.sort_by_key(|a| (Reverse(a.balance.units), &a.member_name));
                let mut owing: Vec<FarmBalance> = owing.into_iter().take(most).cloned().collect();
                let farms: Vec<Uuid> = owing.iter().map(|a| a.farm_id).collect();
                let few = (most < accounts.items.len()).then_some(farms.as_slice());
                put_last_days(conn, coop.number, &mut owing, few)?;
                Ok((accounts, owing))
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
    ) -> Result<SeedAccount, AppError> {
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
                let sums =
                    seed_rows::account_sums(conn, number, Some(farm), (days.0, [days.0; 2]))?;
                let sums = sums.get(&farm).copied().unwrap_or_default();
                let opening = sums.credit_minor - sums.paid_minor;
                let lines = seed_rows::account_lines(conn, number, farm, days)?;
                if lines.len() > LINES_MAX {
                    let detail = format!("more than {LINES_MAX} lines; give fewer days");
                    return Err(AppError::field("to", "range", detail));
                }
                let unpriced =
                    lines.iter().filter(|l| l.seed.is_some() && l.minor.is_none()).count();
                let lots = lots(conn, number)?;
                let limit = credit_limit(&actor.coop.guide(conn)?, days.1, digits);
                let (lines, closing) = statement(&lines, opening, &lots, digits);
                Ok(SeedAccount {
                    farm_id: farm,
                    farm: found.code.clone(),
                    member_number: found.number.clone(),
                    member_name: found.name.clone(),
                    from: days.0,
                    to: days.1,
                    currency: actor.coop.currency.clone(),
                    opening_balance: Decimal::new(opening, digits),
                    lines,
                    closing_balance: Decimal::new(closing, digits),
                    over_limit: limit.map(|most| Decimal::new((closing - most).max(0), digits)),
                    issues_without_price: unpriced,
                    sentence: sentence(closing, unpriced),
                })
            })
            .await
    }
}

/// Puts the last days of accounts, read of these farms or of all.
fn put_last_days(
    conn: &mut Conn,
    number: i64,
    accounts: &mut [FarmBalance],
    of: Farms<'_>,
) -> Result<(), AppError> {
    let last = seed_rows::last_days(conn, number, of)?;
    for account in accounts {
        account.last_on = last.get(&account.farm_id).copied();
    }
    Ok(())
}

/// What farms owed for seed at the end of a day, without the last day of their accounts.
pub(crate) fn accounts(
    conn: &mut Conn,
    coop: &Coop,
    farms: &[Arc<FarmRow>],
    day: NaiveDate,
) -> Result<SeedAccounts, AppError> {
    let (number, digits) = (coop.number, coop.digits);
    let after = plus_days(day, 1);
    // A payment goes to the oldest issues: what was charged until a day and is not covered by all
    // payments is owed since then.
    let older = OWED_DAYS.map(|days| minus_days(after, days));
    let sums = seed_rows::account_sums(conn, number, None, (after, older))?;
    let money = |minor: i64| Decimal::new(minor, digits);
    let limit = credit_limit(&coop.guide(conn)?, day, digits);
    let (mut items, mut total, mut owed) = (Vec::new(), 0_i64, [0_i64; 3]);
    for farm in farms {
        let s = sums.get(&farm.farm).copied().unwrap_or_default();
        let balance = s.credit_minor - s.paid_minor;
        total += balance;
        let over = s.older_minor.map(|charged| (charged - s.paid_minor).max(0));
        for (sum, part) in owed.iter_mut().zip([balance.max(0), over[0], over[1]]) {
            *sum += part;
        }
        items.push(FarmBalance {
            farm_id: farm.farm,
            farm: farm.code.clone(),
            member_number: farm.number.clone(),
            member_name: farm.name.clone(),
            charged: money(s.credit_minor),
            paid_off: money(s.paid_minor),
            balance: money(balance),
            owed_over_30_days: money(over[0]),
            owed_over_90_days: money(over[1]),
            over_limit: limit.map(|most| money((balance - most).max(0))),
            paid_at_once: money(s.paid_at_once_minor),
            issued_kg: Decimal::kg(s.grams),
            issues_without_price: s.unpriced,
            last_on: None,
        });
    }
    let [owed, over_30, over_90] = owed.map(money);
    Ok(SeedAccounts {
        day,
        currency: coop.currency.clone(),
        balance: money(total),
        owed,
        owed_over_30_days: over_30,
        owed_over_90_days: over_90,
        credit_limit: limit.map(money),
        items,
    })
}

/// The most that a member may owe before there is a warning, minor units; none where none is set.
fn credit_limit(guide: &Guide, day: NaiveDate, digits: u8) -> Option<i64> {
    let set = guide.value(GuideName::SeedCreditMost, None, day);
    (set > 0).then(|| Decimal::new(set, GUIDE_DIGITS).units_of(digits))
}

fn statement(
    lines: &[seed_rows::AccountLine],
    opening: i64,
    lots: &HashMap<Uuid, SeedLot>,
    digits: u8,
) -> (Vec<AccountLine>, i64) {
    let mut balance = opening;
    let money = |minor: i64| Decimal::new(minor, digits);
    let mut all = Vec::with_capacity(lines.len());
    for l in lines {
        let minor = l.minor.unwrap_or(0);
        let (entry, change) = match (l.seed, l.how.as_str()) {
            (None, _) => (AccountEntry::Payment, -minor),
            (Some(_), "credit") => (AccountEntry::IssueOnCredit, minor),
            (Some(_), _) => (AccountEntry::IssuePaidAtOnce, 0),
        };
        balance += change;
        let is_payment = l.seed.is_none();
        all.push(AccountLine {
            date: l.date,
            entry,
            record_id: l.id,
            seed_lot_id: l.seed.map(|s| s.0),
            seed_lot: l.seed.and_then(|s| lots.get(&s.0)).map(|lot| lot.code.clone()),
            kg: l.seed.map(|s| Decimal::kg(s.1)),
            price: l.minor.filter(|_| !is_payment).map(money),
            amount: l.minor.filter(|_| is_payment).map(money),
            paid_by: is_payment.then(|| l.how.clone()),
            change: money(change),
            balance: money(balance),
            is_priced: l.minor.is_some(),
            note: l.note.clone(),
        });
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
