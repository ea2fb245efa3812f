//! Saving and seed debt in one segment: the figures and the verdict of the closed month's report,
//! and the balance of the seed account.

use crate::Coop;
use crate::error::AppError;
use chrono::Datelike as _;
use traybook_answers::Decimal;
use traybook_answers::savings::{FarmLine, Interval, SavingsReport};
use traybook_domain::Month;
use traybook_domain::time::{minus_days, plus_days};
use traybook_domain::value::Instant;
use traybook_speech::{Language, number};
use traybook_storage::savings::months::Close;
use traybook_storage::{Conn, records::changes, savings::months, seed::seed_rows};
use traybook_texts::Query;
use uuid::Uuid;

/// Days back in which the last line of an account is looked for.
const ACCOUNT_DAYS: u64 = 366;

/// What is answered; none where there is nothing to say.
pub(super) fn said(
    conn: &mut Conn,
    coop: &Coop,
    query: Query,
    farms: &[Uuid],
    language: Language,
    now: Instant,
) -> Result<Option<String>, AppError> {
    match query {
        Query::Saving => saving(conn, coop, farms, language),
        _ => account(conn, coop, farms, language, now),
    }
}

fn amount(coop: &Coop, value: Decimal) -> String {
    format!("{} {}", coop.currency, number(value.real().abs(), 0))
}

/// The month that was closed last; none where there is none yet.
pub(super) fn closed_last(conn: &mut Conn, coop: i64) -> Result<Option<Close>, AppError> {
    let closed = changes::counters(conn, coop)?.closed_until;
    match Month::from_number(closed).filter(|_| closed > 0) {
        Some(month) => Ok(months::find(conn, coop, month)?),
        None => Ok(None),
    }
}

fn name(month: Month, language: Language) -> String {
    let first = month.first_day();
    language.month(first.year(), first.month())
}

/// What a closed month's report says of a farm; none where it says nothing.
pub(super) fn result(
    coop: &Coop,
    close: &Close,
    farm: Uuid,
    language: Language,
) -> Result<Option<String>, AppError> {
    let line = SavingsReport::read_farm(close.report_version, &close.report_json, farm);
    let line = line.map_err(AppError::Internal)?;
    Ok(line.map(|line| sentence(coop, &line, name(close.month, language), language)))
}

fn saving(
    conn: &mut Conn,
    coop: &Coop,
    farms: &[Uuid],
    language: Language,
) -> Result<Option<String>, AppError> {
    let (Some(close), Some(farm)) = (closed_last(conn, coop.number)?, farms.first()) else {
        return Ok(None);
    };
    let first = result(coop, &close, *farm, language)?;
    let open = language.with("t-saving-open", "month", name(close.month.plus(1), language));
    Ok(first.map(|first| format!("{first} {open}")))
}

fn sentence(coop: &Coop, line: &FarmLine, month: String, language: Language) -> String {
    let money = &line.figures.money;
    let Some(saving) = money.saving else {
        let reason = language.text(&format!("doc-reason-{}", line.status.text()));
        let args = [("month", month.into()), ("reason", reason.into())];
        return language.say("t-saving-none", &args);
    };
    let between = money.saving_interval.map(|interval| {
        let (low, high) = interval.ends();
        let args = [("low", number(low, 0).into()), ("high", number(high, 0).into())];
        language.say("t-saving-interval", &args)
    });
    // As in the report: an interval that reaches zero allows neither word.
    let is_unclear = money.saving_interval.is_none_or(Interval::holds_zero);
    let key = match (is_unclear, saving.is_negative()) {
        (true, _) => "t-saving-unclear",
        (false, true) => "t-saving-loss",
        (false, false) => "t-saving-gain",
    };
    let sign = if is_unclear && saving.is_negative() { "-" } else { "" };
    let args = [
        ("month", month.into()),
        ("money", format!("{sign}{}", amount(coop, saving)).into()),
        ("interval", between.unwrap_or_default().into()),
    ];
    language.say(key, &args)
}

fn account(
    conn: &mut Conn,
    coop: &Coop,
    farms: &[Uuid],
    language: Language,
    now: Instant,
) -> Result<Option<String>, AppError> {
    let (today, digits) = (coop.today(now), coop.digits);
    let after = plus_days(today, 1);
    let (mut balance, mut last) = (0, None);
    for farm in farms {
        let sums = seed_rows::account_sums(conn, coop.number, Some(*farm), (after, [after; 2]))?;
        balance += sums.get(farm).map_or(0, |s| s.credit_minor - s.paid_minor);
        let days = (minus_days(today, ACCOUNT_DAYS), today);
        let lines = seed_rows::account_lines(conn, coop.number, *farm, days)?;
        let newest = lines.into_iter().max_by_key(|l| l.date);
        last = last.into_iter().chain(newest).max_by_key(|l: &seed_rows::AccountLine| l.date);
    }
    if balance == 0 && last.is_none() {
        return Ok(None);
    }
    let sign = if balance < 0 { "-" } else { "" };
    let text = format!("{sign}{}", amount(coop, Decimal::new(balance, digits)));
    let mut said = language.with("t-account", "balance", text);
    if let Some(last) = last {
        let entry = if last.seed.is_some() { "t-entry-issue" } else { "t-entry-payment" };
        let money = last.minor.map(|m| amount(coop, Decimal::new(m, digits)));
        let args = [
            ("date", format!("{}/{}", last.date.day(), last.date.month()).into()),
            ("entry", language.text(entry).into()),
            ("money", money.unwrap_or_default().into()),
        ];
        said = format!("{said} {}", language.say("t-account-last", &args));
    }
    Ok(Some(said))
}
