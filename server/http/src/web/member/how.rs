//! How a farm's figure of a month came about: term by term, down to the purchases.

use crate::web::blocks::{Block, Cell, Column, Leaf, Table};
use crate::web::page::{NONE, Page, figure, plain_money, shown};
use crate::web::site::Shown;
use crate::web::visit::Visit;
use traybook_answers::Decimal;
use traybook_answers::savings::{EnterpriseAccount, FeedAccount, LotAccount, Money};
use traybook_domain::people::authz::Role;
use traybook_reports::savings::TERMS;

pub(crate) async fn show_how(visit: Visit) -> Shown {
    let (page, actor) = (visit.page(), visit.actor()?);
    let (farm, month) = (visit.id("id")?, visit.month(actor)?);
    let account = visit.state.app.saving_account(actor, farm, &month.to_string()).await?;
    let result = match actor.role {
        Role::Member => page.say("nav-result"),
        _ => page.with("result-title", "farm", account.farm.as_str()),
    };
    let args = [("farm", account.farm.as_str().into()), ("month", page.month(month).into())];
    let back = format!("/result?farm={farm}&month={month}");
    let mut leaf = Leaf::new(page.clone(), page.tell("how-title", &args)).back(back, result);
    leaf.add(Block::Text(page.figures_of(account.as_of)));
    for e in &account.enterprises {
        let anchor = format!("class-{}", e.enterprise);
        leaf.add(Block::Heading(page.word("class", &e.enterprise), anchor));
        basis(&mut leaf, &page, e);
        leaf.add(Block::Table(feeds(&page, e)));
        for f in e.feeds.iter().filter(|f| !f.lots.is_empty()) {
            leaf.add(Block::Table(lots(&page, f)));
        }
        if let Some(money) = &e.money {
            leaf.add(Block::Table(sums(&page, money)));
        }
    }
    if account.enterprises.is_empty() {
        leaf.text("how-none");
    }
    let words = TERMS.iter().map(|term| page.say(&format!("term-{term}")));
    leaf.add(Block::Folded(page.say("how-words"), words.collect()));
    leaf.show()
}

/// What the baseline is made of, in sentences.
fn basis(leaf: &mut Leaf, page: &Page, e: &EnterpriseAccount) {
    if let Some(status) = e.status {
        leaf.add(Block::Text(page.word("saving-status", status.text())));
    }
    let args = [
        ("days", figure(shown_number(e.animal_days), 0).into()),
        ("months", e.months_before.into()),
        ("weight", figure(e.ration_weight_percent, 0).into()),
    ];
    leaf.add(Block::Text(page.tell("how-basis", &args)));
    leaf.add(Block::Text(match e.index {
        Some(index) => page.with("how-index", "index", figure(index, 3)),
        None => page.say("how-no-index"),
    }));
}

fn shown_number(count: i64) -> f64 {
    traybook_domain::value::real(count)
}

fn amount(value: Option<Decimal>) -> Cell {
    value.map_or_else(|| NONE.to_owned(), |v| plain_money(v.real())).into()
}

/// Each feed: price, what would have been eaten, what was eaten.
fn feeds(page: &Page, e: &EnterpriseAccount) -> Table {
    let row = |f: &FeedAccount| {
        vec![
            f.feed.as_str().into(),
            shown(&f.price_per_kg, 2).into(),
            shown(&f.baseline_kg, 1).into(),
            amount(f.baseline_cost),
            shown(&f.eaten_kg, 1).into(),
            amount(f.eaten_cost),
            figure(f.covered_percent, 0).into(),
        ]
    };
    let sum = |of: fn(&FeedAccount) -> Option<Decimal>| {
        let known: Vec<f64> = e.feeds.iter().filter_map(of).map(Decimal::real).collect();
        if known.is_empty() { NONE.to_owned() } else { plain_money(known.iter().sum()) }
    };
    Table {
        caption: page.with("how-feeds", "currency", page.currency.as_str()),
        columns: vec![
            Column::text(page.say("book-feed-id")),
            Column::number(page.say("how-price")),
            Column::number(page.say("how-baseline-kg")),
            Column::number(page.say("how-baseline-cost")),
            Column::number(page.say("how-eaten-kg")),
            Column::number(page.say("how-eaten-cost")),
            Column::number(page.say("how-covered")),
        ],
        rows: e.feeds.iter().map(row).collect(),
        total: Some(vec![
            page.say("all-together").into(),
            "".into(),
            "".into(),
            sum(|f| f.baseline_cost).into(),
            "".into(),
            sum(|f| f.eaten_cost).into(),
            "".into(),
        ]),
    }
}

/// The lots that were eaten in the month, each with its purchase.
fn lots(page: &Page, f: &FeedAccount) -> Table {
    let row = |l: &LotAccount| {
        let days = [("from", page.date(l.from).into()), ("until", page.date(l.until).into())];
        let days = page.tell("how-days", &days);
        let first = match l.purchase_id {
            Some(id) => Cell::link(days, format!("/book/feed-purchases/{id}")),
            None => days.into(),
        };
        vec![
            first,
            shown(&l.bought_kg, 1).into(),
            amount(l.paid),
            figure(l.kg_per_animal_day, 2).into(),
            page.say(if l.is_in_use { "yes" } else { "no" }).into(),
        ]
    };
    Table {
        caption: page.with("how-lots", "feed", f.feed.as_str()),
        columns: vec![
            Column::text(page.say("how-lot-days")),
            Column::number(page.say("how-bought")),
            Column::number(page.say("how-paid")),
            Column::number(page.say("how-rate")),
            Column::text(page.say("how-in-use")),
        ],
        rows: f.lots.iter().map(row).collect(),
        total: None,
    }
}

/// The subtraction, each difference in a row of its own.
fn sums(page: &Page, money: &Money) -> Table {
    let line = |key: &str, value: Option<Decimal>| vec![page.say(key).into(), amount(value)];
    let bold = |key: &str, value: Option<Decimal>, is_clear: bool| {
        let cell = amount(value);
        vec![page.say(key).into(), if is_clear { cell.bold() } else { cell }]
    };
    let is_clear = money.saving_interval.is_some_and(|i| !i.holds_zero());
    let mut rows = vec![
        line("baseline-cost", money.baseline_cost),
        line("feed-cost", money.eaten_cost),
        line("feed-saving", money.feed_saving),
        line("seed-cost", money.seed_cost),
        line("other-cost", money.other_cost),
        line("depreciation", money.depreciation),
        bold("saving", money.saving, is_clear),
    ];
    if let Some(i) = money.saving_interval {
        rows.push(line("how-low", Some(i.low)));
        rows.push(line("how-high", Some(i.high)));
    }
    if money.net.is_some() {
        rows.push(line("output-value", money.output_value));
        let is_clear = money.net_interval.is_some_and(|i| !i.holds_zero());
        rows.push(bold("net-result", money.net, is_clear));
    }
    Table {
        caption: page.with("how-sums", "currency", page.currency.as_str()),
        columns: vec![Column::text(page.say("how-term")), Column::number(page.say("how-amount"))],
        rows,
        total: None,
    }
}
