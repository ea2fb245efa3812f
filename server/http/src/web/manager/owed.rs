//! Seed that members owe for: who, how much, since when; as a list for a check-off run.

use crate::web::blocks::{Block, Cell, Column, Leaf, Link, Table};
use crate::web::page::{Page, shown};
use crate::web::site::{Shown, file};
use crate::web::visit::Visit;
use traybook_answers::Decimal;
use traybook_answers::seed::FarmBalance;
use traybook_domain::limits::OWED_DAYS;
use traybook_reports::csv_text::line;

/// Members that this page and that of a payment run list; their files have all.
pub(super) const MEMBERS_MAX: usize = 100;

pub(crate) async fn show_owed(visit: Visit) -> Shown {
    let page = visit.page();
    let (accounts, listed) = visit.state.app.seed_owed(visit.actor()?, MEMBERS_MAX).await?;
    let mut leaf = Leaf::new(page.clone(), page.say("owed-title"));
    let owing = || accounts.items.iter().filter(|a| a.balance.is_positive());
    let members = owing().count();
    let count = i64::try_from(members).unwrap_or(i64::MAX);
    let args = [("count", count.into()), ("amount", page.money(&accounts.owed).into())];
    leaf.add(Block::Lead(page.tell("owed-lead", &args)));
    leaf.add(Block::Facts(vec![
        (over(&page, 0), page.money(&accounts.owed_over_30_days)),
        (over(&page, 1), page.money(&accounts.owed_over_90_days)),
    ]));
    let over = owing().filter(|a| a.over_limit.is_some_and(Decimal::is_positive)).count();
    if let Some(limit) = accounts.credit_limit.filter(|_| over > 0) {
        let args = [
            ("count", i64::try_from(over).unwrap_or(i64::MAX).into()),
            ("amount", page.money(&limit).into()),
        ];
        leaf.add(Block::Caution(page.tell("owed-over-limit", &args)));
    }
    let unpriced: i64 = accounts.items.iter().map(|a| a.issues_without_price).sum();
    if unpriced > 0 {
        leaf.add(Block::Caution(page.with("account-unpriced", "count", unpriced)));
    }
    if !listed.is_empty() {
        leaf.add(Block::Table(table(&page, &listed)));
        leaf.more_in_file(members - listed.len());
    }
    leaf.text("owed-about");
    leaf.add(Block::Links(vec![
        Link::to("/pay-run", page.say("pay-run-title")),
        Link::to("/owed.csv", page.say("as-csv")),
    ]));
    leaf.show()
}

/// What a part of a debt is called, by its age.
fn over(page: &Page, which: usize) -> String {
    let days = OWED_DAYS.get(which).copied().unwrap_or_default();
    page.with("owed-over", "days", days.to_string())
}

fn table(page: &Page, owing: &[FarmBalance]) -> Table {
    let row = |a: &FarmBalance| -> Vec<Cell> {
        vec![
            Cell::link(
                format!("{} · {}", a.member_name, a.member_number),
                format!("/account?farm={}", a.farm_id),
            ),
            shown(&a.balance, 0).into(),
            shown(&a.owed_over_30_days, 0).into(),
            shown(&a.owed_over_90_days, 0).into(),
            page.day(&a.last_on).into(),
        ]
    };
    Table {
        caption: page.with("owed-table", "currency", page.currency.as_str()),
        columns: vec![
            Column::text(page.say("member-title")),
            Column::number(page.say("owed-now")),
            Column::number(over(page, 0)),
            Column::number(over(page, 1)),
            Column::text(page.say("owed-last")),
        ],
        rows: owing.iter().map(row).collect(),
        total: None,
    }
}

/// The list for a payment run, as CSV.
pub(crate) async fn csv(visit: Visit) -> Shown {
    let (accounts, owing) = visit.state.app.seed_owed(visit.actor()?, usize::MAX).await?;
    let mut out = line(&[
        "member_number",
        "member",
        "farm",
        "seed_due",
        "over_30_days",
        "over_90_days",
        "over_limit",
        "currency",
        "day",
    ]);
    for a in owing {
        out.push_str(&line(&[
            a.member_number,
            a.member_name,
            a.farm,
            a.balance.to_string(),
            a.owed_over_30_days.to_string(),
            a.owed_over_90_days.to_string(),
            a.over_limit.map(|over| over.to_string()).unwrap_or_default(),
            accounts.currency.clone(),
            accounts.day.to_string(),
        ]));
    }
    Ok(file("seed-owed.csv", "text/csv; charset=utf-8", out.into_bytes()))
}
