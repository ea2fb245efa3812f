//! A payment run for milk or eggs: what each member sold, what is kept back, what is paid out.

use super::owed::MEMBERS_MAX;
use crate::web::blocks::{Block, Cell, Column, Field, Form, Input, Leaf, Link, Refusal, Table};
use crate::web::page::{Page, shown};
use crate::web::site::{Shown, file, go};
use crate::web::visit::Visit;
use traybook_answers::Decimal;
use traybook_answers::seed::pay_run::{PaymentLine, PaymentRun};
use traybook_app::AppError;
use traybook_domain::Kind;
use traybook_domain::people::authz::Action;
use traybook_reports::sheet;

async fn run(visit: &Visit) -> Result<PaymentRun, AppError> {
    let given = |name: &str| visit.field(name).map(str::to_owned);
    visit.state.app.payment_run(visit.actor()?, given("from"), given("to")).await
}

pub(crate) async fn show_pay_run(visit: Visit) -> Shown {
    page(&visit, None).await
}

async fn page(visit: &Visit, refusal: Option<&Refusal>) -> Shown {
    let page = visit.page();
    let run = run(visit).await?;
    let mut leaf =
        Leaf::new(page.clone(), page.say("pay-run-title")).back("/owed", page.say("owed-title"));
    if let Some(kept) = visit.field("kept") {
        leaf.add(Block::Notice(page.with("pay-run-kept", "amount", kept)));
    }
    let day = |name: &'static str, key: &str, day: chrono::NaiveDate| {
        Field::new(name, page.say(key), Input::Date).value(day.to_string()).required()
    };
    let choose = Form::new("/pay-run", "choose", page.say("show"))
        .question()
        .field(day("from", "pay-run-from", run.from))
        .field(day("to", "pay-run-to", run.to));
    leaf.add(Block::Form(choose));
    let args = [
        ("sold", page.money(&run.sold).into()),
        ("kept", page.money(&run.keep_back).into()),
        ("net", page.money(&run.net).into()),
    ];
    leaf.add(Block::Lead(page.tell("pay-run-lead", &args)));
    cautions(&page, &mut leaf, &run);
    if !run.items.is_empty() {
        leaf.add(Block::Table(table(&page, &run)));
        leaf.more_in_file(run.items.len().saturating_sub(MEMBERS_MAX));
    }
    leaf.text("pay-run-about");
    let days = format!("from={}&to={}", run.from, run.to);
    leaf.add(Block::Links(vec![
        Link::to(format!("/pay-run.csv?{days}"), page.say("as-csv")),
        Link::to("/guide", page.say("pay-run-limit")),
    ]));
    let may_keep = visit.actor()?.visible(Action::Create, Kind::SeedPayment).is_ok();
    if may_keep && run.keep_back.is_positive() {
        let amount = page.money(&run.keep_back);
        let form = Form::new("/pay-run", "keep", page.with("pay-run-do", "amount", amount))
            .hide("from", run.from.to_string())
            .hide("to", run.to.to_string())
            .hide("expected", run.keep_back.to_string());
        leaf.heading("pay-run-keep");
        leaf.text("pay-run-warning");
        leaf.form(visit, refusal, form);
    }
    leaf.answer(refusal)
}

fn cautions(page: &Page, leaf: &mut Leaf, run: &PaymentRun) {
    let count = |count: usize| i64::try_from(count).unwrap_or(i64::MAX);
    let unpriced: usize = run.items.iter().map(|l| l.sold_without_price).sum();
    let below = run.items.iter().filter(|l| l.net.is_negative()).count();
    for (key, number) in [
        ("pay-run-unpriced", unpriced),
        ("pay-run-below", below),
        ("pay-run-owing", run.owing_without_sales),
    ] {
        if number > 0 {
            leaf.add(Block::Caution(page.with(key, "count", count(number))));
        }
    }
}

fn table(page: &Page, run: &PaymentRun) -> Table {
    let money = |value: &Decimal| Cell::from(shown(value, 0));
    let row = |l: &PaymentLine| -> Vec<Cell> {
        vec![
            Cell::link(
                format!("{} · {}", l.member_name, l.member_number),
                format!("/account?farm={}", l.farm_id),
            ),
            money(&l.sold),
            money(&l.seed_due),
            money(&l.other),
            money(&l.kept_back),
            money(&l.keep_back),
            money(&l.net),
        ]
    };
    Table {
        caption: page.with("pay-run-table", "currency", page.currency.as_str()),
        columns: vec![
            Column::text(page.say("member-title")),
            Column::number(page.say("pay-run-sold")),
            Column::number(page.say("pay-run-due")),
            Column::number(page.say("pay-run-other")),
            Column::number(page.say("pay-run-was-kept")),
            Column::number(page.say("pay-run-keep-now")),
            Column::number(page.say("pay-run-net")),
        ],
        rows: run.items.iter().take(MEMBERS_MAX).map(row).collect(),
        total: None,
    }
}

/// Keeps back what is due for seed.
pub(crate) async fn keep(visit: Visit) -> Shown {
    let text = |name: &str| visit.field(name).unwrap_or_default().to_owned();
    let (from, to) = (text("from"), text("to"));
    let expected = text("expected");
    let kept = visit.state.app.keep_back(visit.actor()?, from.clone(), to.clone(), &expected).await;
    match kept {
        Ok(run) => {
            let amount = visit.page().money(&run.keep_back);
            let query = crate::web::site::query(&[("from", &from), ("to", &to), ("kept", &amount)]);
            Ok(go(&format!("/pay-run?{query}")))
        }
        Err(error) => {
            let refusal = Refusal::of(&visit, "keep", error)?;
            page(&visit, Some(&refusal)).await
        }
    }
}

/// The list, as CSV.
pub(crate) async fn csv(visit: Visit) -> Shown {
    let run = run(&visit).await?;
    let name = format!("payment-{}-{}.csv", run.from, run.to);
    Ok(file(&name, "text/csv; charset=utf-8", sheet::csv(&run).into_bytes()))
}
