//! The seed account of a farm: what was handed out on credit, what was paid, what is owed.

use crate::web::blocks::{Block, Cell, Column, Leaf, Link, Table};
use crate::web::called::title;
use crate::web::farms::{chosen, id, other_farms, text};
use crate::web::page::{Page, shown};
use crate::web::site::Shown;
use crate::web::visit::Visit;
use traybook_answers::Decimal;
use traybook_answers::seed::SeedAccount;
use traybook_app::AppError;
use traybook_domain::people::authz::Role;

/// The statement.
pub(crate) async fn show_account(visit: Visit) -> Shown {
    let farm = chosen(&visit).await?;
    let farm_id = id(&farm, "id").ok_or(AppError::NotFound)?;
    let page = visit.page();
    let given = |name: &str| visit.field(name).map(str::to_owned);
    let actor = visit.actor()?;
    let account = visit.state.app.seed_account(actor, farm_id, given("from"), given("to")).await?;
    let others = other_farms(&visit, "/account", &farm).await?;
    let title = title(&page, others.is_empty(), ["nav-account", "account-title"], &farm);
    let mut leaf = Leaf::new(page.clone(), title);
    let balance = account.closing_balance;
    let key = match balance.units.signum() {
        1 => "account-owes",
        -1 => "account-ahead",
        _ => "account-even",
    };
    let amount = page.money(&Decimal { units: balance.units.abs(), ..balance });
    leaf.add(Block::Lead(page.with(key, "amount", amount)));
    if let Some(over) = account.over_limit.filter(|over| over.is_positive()) {
        leaf.add(Block::Caution(page.with("account-over-limit", "amount", page.money(&over))));
    }
    let unpriced = account.issues_without_price;
    if unpriced > 0 {
        leaf.add(Block::Caution(page.with("account-unpriced", "count", unpriced)));
    }
    let period = [("from", page.day(&account.from).into()), ("to", page.day(&account.to).into())];
    leaf.add(Block::Table(Table {
        caption: page.tell("account-period", &period),
        columns: vec![
            Column::text(page.say("day")),
            Column::text(page.say("entry")),
            Column::number(page.say("seed-kg")),
            Column::number(page.say("change")),
            Column::number(page.say("balance")),
        ],
        rows: rows(&page, &account),
        total: None,
    }));
    if actor.role == Role::Member {
        leaf.text("account-about");
        let ask = format!("/ask?farm={}", text(&farm, "id"));
        leaf.add(Block::Links(vec![Link::to(ask, page.say("ask-title"))]));
        leaf.add(Block::Links(others));
    }
    leaf.show()
}

/// The lines of the statement, the newest first.
fn rows(page: &Page, account: &SeedAccount) -> Vec<Vec<Cell>> {
    let mut rows = Vec::new();
    for line in account.lines.iter().rev() {
        let mut what = page.word("entry", line.entry.text());
        if let Some(lot) = &line.seed_lot {
            let lot = page.with("task-soak-lot", "lot", lot.as_str());
            what = format!("{what} · {lot}");
        }
        if let Some(how) = &line.paid_by {
            what = format!("{what} · {}", page.word("paid-by", how));
        }
        let change = match line.is_priced {
            false => page.say("no-price"),
            true => page.money(&line.change),
        };
        rows.push(vec![
            page.day(&line.date).into(),
            what.into(),
            shown(&line.kg, 1).into(),
            change.into(),
            page.money(&line.balance).into(),
        ]);
    }
    rows.push(vec![
        page.day(&account.from).into(),
        page.say("account-opening").into(),
        "".into(),
        "".into(),
        page.money(&account.opening_balance).into(),
    ]);
    rows
}
