//! Numbers that texts of the document speak of: a text names the constant in braces.

use traybook_app::{planning, rations, review, savings, seed};
use traybook_domain::limits;

/// A text with its numbers, thousands apart.
#[must_use]
pub fn filled(text: &str) -> String {
    let mut text = text.to_owned();
    for (name, value) in numbers() {
        text = text.replace(name, &apart(value));
    }
    text
}

fn apart(value: i64) -> String {
    match value / 1_000 {
        0 => value.to_string(),
        thousands => format!("{thousands},{:03}", value % 1_000),
    }
}

fn numbers() -> Vec<(&'static str, i64)> {
    let of = |n: usize| i64::try_from(n).unwrap_or(i64::MAX);
    let days = |n: u64| i64::try_from(n).unwrap_or(i64::MAX);
    vec![
        ("{ACCESS_TOKEN_MINUTES}", limits::ACCESS_TOKEN_S / 60),
        ("{CHANGES_PAGE_MAX}", of(limits::CHANGES_PAGE_MAX)),
        ("{FEED_KEPT_DAYS}", limits::FEED_KEPT_MS / 86_400_000),
        ("{FEEDS_MAX}", of(rations::limits::FEEDS_MAX)),
        ("{FINDINGS_MAX}", of(review::FINDINGS_MAX)),
        ("{FORECAST_WEEKS}", of(planning::WEEKS)),
        ("{FORECAST_WEEKS_MAX}", of(limits::FORECAST_WEEKS_MAX)),
        ("{LOT_DAYS}", traybook_app::estimates::LOT_DAYS),
        ("{INVITATION_DAYS}", limits::INVITATION_S / 86_400),
        ("{MEMBERS_MIN}", of(savings::programme::MEMBERS_MIN)),
        ("{MOVEMENT_DAYS_MAX}", seed::lots::MOVEMENT_DAYS_MAX),
        ("{PAGE_DEFAULT}", of(limits::PAGE_DEFAULT)),
        ("{PAGE_MAX}", of(limits::PAGE_MAX)),
        ("{PLAN_DAYS}", of(planning::PLAN_DAYS)),
        ("{PLAN_DAYS_MAX}", of(limits::PLAN_DAYS_MAX)),
        ("{PROOF_MINUTES}", limits::PROOF_MS / 60_000),
        ("{REFRESH_GRACE_S}", limits::REFRESH_GRACE_MS / 1000),
        ("{REVIEW_DAYS}", days(review::WINDOW_DAYS)),
        ("{RUN_DAYS_MAX}", seed::pay_run::RUN_DAYS_MAX),
        ("{SENT_KEPT_DAYS}", limits::SENT_KEPT_DAYS),
        ("{SHEET_DAYS_MAX}", days(limits::SHEET_DAYS_MAX)),
        ("{SECURITY_LOG_DAYS}", limits::SECURITY_LOG_MS / 86_400_000),
        ("{SIGN_IN_FAILURES_MAX}", i64::from(limits::SIGN_IN_FAILURES_MAX)),
        ("{SIGN_IN_MINUTES}", limits::SIGN_IN_WINDOW_MS / 60_000),
        ("{STATEMENT_YEARS_MAX}", seed::account::STATEMENT_DAYS_MAX / 366),
        ("{SUPPLIER_DAYS_MAX}", seed::suppliers::DAYS_MAX),
        ("{SYNC_MUTATIONS_MAX}", of(limits::SYNC_MUTATIONS_MAX)),
        ("{TRACE_LINES_MAX}", of(seed::trace::LINES_MAX)),
        ("{WORKBOOK_MONTHS_MAX}", limits::WORKBOOK_MONTHS_MAX),
        ("{WORK_DAYS_AHEAD_MAX}", limits::WORK_DAYS_AHEAD_MAX),
    ]
}
