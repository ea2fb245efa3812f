//! What feeds are worth, the cheapest mix, and when fodder pays, with the co-operative's own prices.

use super::month::choose;
use crate::web::blocks::{Block, Cell, Column, Field, Form, Input, Leaf, Link, Refusal, Table};
use crate::web::forms::stands;
use crate::web::page::{NONE, Page, figure, plain_money, shown};
use crate::web::site::Shown;
use crate::web::visit::Visit;
use serde_json::{Map, Value as Json, json};
use traybook_answers::Decimal;
use traybook_answers::rations::{FeedMissing, FeedValue};
use traybook_app::AppError;
use traybook_app::rations::break_even::{BreakEven, FodderBreakEven, Point};
use traybook_app::rations::mix::{FeedPart, Mix, Outcome, Worth};
use traybook_domain::FieldError;
use traybook_domain::Month;
use traybook_domain::people::authz::Task;
use traybook_domain::records::written::{Reading, read};

/// Decimals that are read of a number that is typed.
const DECIMALS: u8 = 3;
/// What the name of a feed's price begins with.
const PRICE: &str = "price-";
/// What is asked of fodder, with the text of its label.
const FODDER: [(&str, &str); 7] = [
    ("seed_price", "ration-seed-price"),
    ("seed_kg", "ration-seed-kg"),
    ("seed_dry_matter_percent", "ration-seed-dry"),
    ("fresh_kg", "ration-fresh-kg"),
    ("fodder_dry_matter_percent", "ration-fodder-dry"),
    ("other_cost", "ration-other-cost"),
    ("spoiled_percent", "ration-spoiled"),
];

/// The month asked for, by those who run the co-operative.
fn month(visit: &Visit) -> Result<Month, AppError> {
    let actor = visit.actor()?;
    actor.task(Task::CloseMonth)?;
    visit.month(actor)
}

/// Prices of a kg, of dry matter, of protein and of energy.
pub(crate) async fn show_values(visit: Visit) -> Shown {
    let (month, page) = (month(&visit)?, visit.page());
    let values = visit.state.app.feed_values(visit.actor()?, &month.to_string(), None).await?;
    let mut leaf = leaf(&page, "feed-value-title");
    leaf.add(Block::Form(choose(&page, "/feed-value", month)));
    leaf.text("feed-value-prices");
    let row = |f: &FeedValue| -> Vec<Cell> {
        let money = |v: Option<f64>| v.map_or_else(|| NONE.to_owned(), plain_money);
        vec![
            f.feed.clone().into(),
            money(f.cost_per_kg_fresh).into(),
            money(f.cost_per_kg_dry_matter).into(),
            money(f.cost_per_kg_protein).into(),
            money(f.cost_per_mj).into(),
            priced(&page, f).into(),
        ]
    };
    let names = ["ration-each-kg", "ration-each-dry", "ration-each-protein", "ration-each-mj"];
    let mut columns = vec![Column::text(page.say("ration-each-feed"))];
    columns.extend(names.map(|key| Column::number(page.with(key, "currency", &*page.currency))));
    columns.push(Column::text(page.say("ration-price-of")));
    let rows = values.feeds.iter().map(row).collect();
    let caption = page.with("ration-table", "month", page.month(month));
    leaf.add(Block::Table(Table { caption, columns, rows, total: None }));
    let fodder = &values.fodder;
    let text = match fodder.cost_per_kg_dry_matter {
        Some(cost) => page.with("ration-fodder-costs", "amount", page.money(&cost)),
        None => page.say("ration-fodder-unknown"),
    };
    leaf.add(Block::Text(text));
    caution(&mut leaf);
    leaf.add(Block::Links(vec![
        Link::to(format!("/feed-mix?month={month}"), page.say("feed-mix-title")),
        Link::to(format!("/break-even?month={month}"), page.say("break-even-title")),
    ]));
    leaf.show()
}

fn leaf(page: &Page, key: &str) -> Leaf {
    Leaf::new(page.clone(), page.say(key)).back("/office", page.say("office-title"))
}

fn caution(leaf: &mut Leaf) {
    let text = leaf.page.say("ration-caution");
    leaf.add(Block::Caution(text));
}

/// Where a price comes from, and what is not known of a feed.
fn priced(page: &Page, f: &FeedValue) -> String {
    let from = f.price_month.map(|m| page.month(m.0));
    let missing = f.missing.iter().map(|m| page.say(missing_key(*m)));
    from.into_iter().chain(missing).collect::<Vec<_>>().join(" · ")
}

const fn missing_key(missing: FeedMissing) -> &'static str {
    match missing {
        FeedMissing::Price => "ration-no-price",
        FeedMissing::DryMatter => "ration-no-dry",
        FeedMissing::CrudeProtein => "ration-no-protein",
        FeedMissing::Energy => "ration-no-energy",
    }
}

/// A number of a form; none where nothing was typed.
fn number(visit: &Visit, name: &str) -> Result<Option<Json>, AppError> {
    let Some(text) = visit.field(name) else { return Ok(None) };
    let value = match read(text, DECIMALS) {
        Reading::One(number) => number.parse::<f64>().ok(),
        Reading::Two(whole, part) => {
            let error = traybook_domain::two_readings(name, text, &whole, &part);
            return Err(AppError::Invalid(vec![error]));
        }
        Reading::Empty => return Ok(None),
        Reading::Not => None,
    };
    let wrong = || FieldError::new(name, "type", "give a number");
    value.map(|v| Some(json!(v))).ok_or_else(|| AppError::Invalid(vec![wrong()]))
}

/// A form that is answered on its own page.
fn ask(page: &Page, action: &str, month: Month) -> Form {
    Form::new(action, "ask", page.say("ration-reckon")).question().hide("month", month.to_string())
}

/// The least-cost mix: prices are filled in, a feed without one is left out.
pub(crate) async fn show_mix(visit: Visit) -> Shown {
    let (month, page) = (month(&visit)?, visit.page());
    let feeds = visit.state.app.feed_prices(visit.actor()?, &month.to_string()).await?;
    let is_asked = visit.field("dry_matter_kg").is_some();
    let mut form = ask(&page, "/feed-mix", month)
        .field(typed(&visit, &page, "dry_matter_kg", "ration-mix-kg").required())
        .field(typed(&visit, &page, "protein", "ration-mix-protein").required())
        .field(typed(&visit, &page, "energy", "ration-mix-energy"));
    let mut group = page.with("ration-prices", "currency", &*page.currency);
    for f in feeds.iter().filter(|f| can_mix(f, false)) {
        let name = format!("{PRICE}{}", f.feed_id);
        let known = f.cost_per_kg_fresh.map(|p| format!("{p:.2}")).unwrap_or_default();
        let value = if is_asked { visit.field(&name).unwrap_or_default() } else { &known };
        let field = Field::new(&*name, f.feed.clone(), Input::Decimal).value(value);
        form = form.field(field.group(std::mem::take(&mut group)).half());
    }
    let mut leaf = leaf(&page, "feed-mix-title");
    leaf.text("feed-mix-about");
    let (mut refusal, mut found) = (None, None);
    if is_asked {
        match mix(&visit, month, &feeds).await {
            Ok(outcome) => found = Some(outcome),
            Err(error) => refusal = Some(Refusal::of(&visit, "ask", error)?),
        }
    }
    match &found {
        Some(Outcome::Found(mix)) => cheapest(&page, &mut leaf, mix),
        Some(Outcome::Impossible(clash)) => {
            leaf.text("ration-clash");
            for limit in &clash.limits {
                let reach = limit.reachable.map_or_else(|| NONE.to_owned(), |r| shown(&r, 1));
                let args = [("asked", shown(&limit.asked, 1).into()), ("reach", reach.into())];
                leaf.add(Block::Text(page.tell(clash_key(&limit.pointer), &args)));
            }
        }
        None => {}
    }
    leaf.form(&visit, refusal.as_ref(), form);
    let out: Vec<String> = feeds
        .iter()
        .filter(|f| !can_mix(f, false))
        .map(|f| {
            let missing = f.missing.iter().filter(|m| **m != FeedMissing::Price);
            let missing: Vec<String> = missing.map(|m| page.say(missing_key(*m))).collect();
            format!("{}: {}", f.feed, missing.join(", "))
        })
        .collect();
    if !out.is_empty() {
        leaf.add(Block::Folded(page.say("ration-left-out"), out));
    }
    caution(&mut leaf);
    leaf.answer(refusal.as_ref())
}

/// Whether all is known of a feed that the limits ask for, but perhaps its price.
fn can_mix(f: &FeedValue, by_energy: bool) -> bool {
    let lacks = |m: FeedMissing| f.missing.contains(&m);
    let is_energy_known = !by_energy || !lacks(FeedMissing::Energy);
    !lacks(FeedMissing::DryMatter) && !lacks(FeedMissing::CrudeProtein) && is_energy_known
}

fn typed(visit: &Visit, page: &Page, name: &str, key: &str) -> Field {
    Field::new(name, page.say(key), Input::Decimal).value(visit.field(name).unwrap_or_default())
}

async fn mix(visit: &Visit, month: Month, known: &[FeedValue]) -> Result<Outcome, AppError> {
    let energy = number(visit, "energy")?;
    let mut feeds = Vec::new();
    for f in known.iter().filter(|f| can_mix(f, energy.is_some())) {
        if let Some(price) = number(visit, &format!("{PRICE}{}", f.feed_id))? {
            feeds.push(json!({ "feed_id": f.feed_id, "price": price }));
        }
    }
    let mut limits = Vec::new();
    let asked = [("crude_protein", number(visit, "protein")?), ("energy", energy)];
    for (nutrient, min) in asked.into_iter().filter_map(|(n, min)| Some((n, min?))) {
        limits.push(json!({ "nutrient": nutrient, "per": "kg_dry_matter", "min": min }));
    }
    let mut body = Map::new();
    body.insert("month".to_owned(), json!(month.to_string()));
    body.extend(number(visit, "dry_matter_kg")?.map(|kg| ("dry_matter_kg".to_owned(), kg)));
    body.insert("feeds".to_owned(), json!(feeds));
    body.insert("limits".to_owned(), json!(limits));
    visit.state.app.feed_mix(visit.actor()?, body).await
}

fn clash_key(pointer: &str) -> &'static str {
    match pointer.strip_prefix("/limits/").and_then(|rest| rest.chars().next()) {
        Some('0') => "ration-clash-protein",
        Some(_) => "ration-clash-energy",
        None => "ration-clash-weight",
    }
}

fn cheapest(page: &Page, leaf: &mut Leaf, mix: &Mix) {
    let cost = page.money(&mix.cost);
    let a_kg = page.money(&mix.cost_per_kg_dry_matter);
    leaf.add(Block::Lead(
        page.tell("ration-mix-costs", &[("cost", cost.into()), ("each", a_kg.into())]),
    ));
    let row = |f: &FeedPart| -> Vec<Cell> {
        let worth = match f.worth {
            Worth::UpTo { price_per_kg } => plain_money(price_per_kg),
            Worth::Needed => page.say("ration-worth-needed"),
            Worth::Never => page.say("ration-worth-never"),
        };
        vec![
            f.name.clone().into(),
            figure(f.as_fed_kg, 1).into(),
            figure(f.share_percent, 0).into(),
            plain_money(f.cost).into(),
            worth.into(),
        ]
    };
    let number = |key: &str| Column::number(page.with(key, "currency", &*page.currency));
    let columns = vec![
        Column::text(page.say("ration-each-feed")),
        number("ration-as-fed"),
        number("ration-share"),
        number("ration-cost"),
        number("ration-worth"),
    ];
    // What is in the mix comes first.
    let mut feeds: Vec<&FeedPart> = mix.feeds.iter().collect();
    feeds.sort_by(|a, b| b.as_fed_kg.total_cmp(&a.as_fed_kg));
    let rows = feeds.into_iter().map(row).collect();
    let caption = page.say("ration-mix-table");
    leaf.add(Block::Table(Table { caption, columns, rows, total: None }));
    leaf.text("ration-worth-about");
}

/// When fodder pays: the figures of the month are filled in and can be changed.
pub(crate) async fn show_break_even(visit: Visit) -> Shown {
    let (month, page) = (month(&visit)?, visit.page());
    let feeds = visit.state.app.feed_prices(visit.actor()?, &month.to_string()).await?;
    let known = |f: &&FeedValue| f.cost_per_kg_dry_matter.is_some();
    let options: Vec<(String, String)> =
        feeds.iter().filter(known).map(|f| (f.feed_id.to_string(), f.feed.clone())).collect();
    let mut leaf = leaf(&page, "break-even-title");
    leaf.add(Block::Form(choose(&page, "/break-even", month)));
    leaf.text("break-even-about");
    let feed = visit.field("feed").or(options.first().map(|(id, _)| id.as_str()));
    let Some(feed) = feed.map(str::to_owned) else {
        leaf.text("break-even-no-feed");
        caution(&mut leaf);
        return leaf.show();
    };
    let is_asked = visit.field("feed").is_some();
    let (mut used, mut refusal) = (Map::new(), None);
    match pays(&visit, month, &feed).await {
        Ok(answer) => {
            points(&page, &mut leaf, &answer);
            used = answer.used;
        }
        Err(AppError::Invalid(_)) if !is_asked => {
            leaf.text("break-even-fill");
        }
        Err(error) => refusal = Some(Refusal::of(&visit, "ask", error)?),
    }
    let replaces = Input::Choice(options);
    let mut form = ask(&page, "/break-even", month)
        .field(Field::new("feed", page.say("ration-replaces"), replaces).value(feed).required());
    for (name, key) in FODDER {
        let value = used.get(name).map(stands).unwrap_or_default();
        let value = visit.field(name).map_or(value, str::to_owned);
        form = form.field(Field::new(name, page.say(key), Input::Decimal).value(value).half());
    }
    leaf.form(&visit, refusal.as_ref(), form);
    caution(&mut leaf);
    leaf.answer(refusal.as_ref())
}

async fn pays(visit: &Visit, month: Month, feed: &str) -> Result<FodderBreakEven, AppError> {
    let mut body = Map::new();
    body.insert("month".to_owned(), json!(month.to_string()));
    body.insert("replaces".to_owned(), json!({ "feed_id": feed }));
    for (name, _) in FODDER {
        body.extend(number(visit, name)?.map(|value| (name.to_owned(), value)));
    }
    visit.state.app.fodder_break_even(visit.actor()?, body).await
}

fn points(page: &Page, leaf: &mut Leaf, all: &FodderBreakEven) {
    let answer = &all.answer;
    let key = if answer.saving >= 0.0 { "break-even-saves" } else { "break-even-loses" };
    leaf.add(Block::Lead(page.tell(
        key,
        &[
            ("amount", page.money(&answer.saving.abs()).into()),
            ("cost", page.money(&answer.cost).into()),
            ("kg", figure(answer.replaces_kg, 0).into()),
            ("other", page.money(&answer.replaces_cost).into()),
        ],
    )));
    let point = |of: &BreakEven, key: &str, digits: usize| {
        let value = match of.point() {
            Point::At { value } => figure(value, digits),
            Point::Always => page.say("break-even-always"),
            Point::Never => page.say("break-even-never"),
        };
        (page.with(key, "currency", &*page.currency), value)
    };
    leaf.add(Block::Facts(vec![
        point(&answer.replaced_price, "break-even-price", 0),
        point(&answer.fresh_kg_per_kg_seed, "break-even-yield", 1),
        point(&answer.spoiled_percent, "break-even-spoiled", 0),
    ]));
}

/// Suppliers of seed beside each other.
pub(crate) async fn show_suppliers(visit: Visit) -> Shown {
    let page = visit.page();
    let named = |name: &str| visit.field(name).map(str::to_owned);
    let (app, actor) = (&visit.state.app, visit.actor()?);
    actor.task(Task::SupplierComparison)?;
    let (from, to) = (named("from"), named("to"));
    let (all, refusal) = match app.supplier_comparison(actor, from, to).await {
        Ok(all) => (Some(all), None),
        Err(error) => (None, Some(Refusal::of(&visit, "choose", error)?)),
    };
    let mut leaf = leaf(&page, "suppliers-title");
    let day = |name: &str, there: Option<String>| {
        visit.field(name).map(str::to_owned).or(there).unwrap_or_default()
    };
    let first = day("from", all.as_ref().map(|a| a.from.to_string()));
    let last = day("to", all.as_ref().map(|a| a.to.to_string()));
    let form = Form::new("/suppliers", "choose", page.say("show"))
        .question()
        .field(Field::new("from", page.say("totals-from"), Input::Date).value(first).half())
        .field(Field::new("to", page.say("totals-until"), Input::Date).value(last).half());
    leaf.form(&visit, refusal.as_ref(), form);
    leaf.text("suppliers-about");
    leaf.figures_of(all.as_ref().and_then(|all| all.made_at));
    let amount = |d: &Option<Decimal>| d.map_or_else(|| NONE.to_owned(), |d| plain_money(d.real()));
    let mut rows: Vec<Vec<Cell>> = Vec::new();
    for l in all.iter().flat_map(|a| &a.items) {
        let name = match &l.seed_lot {
            Some(lot) => format!("{} · {lot}", l.supplier),
            None => l.supplier.clone(),
        };
        let lot = l.seed_lot_id.map(|id| format!("/lots/{id}"));
        let spoiled = match (l.spoilage_percent, l.spoilage_low, l.spoilage_high) {
            (Some(share), Some(low), Some(high)) => {
                let args = [("low", figure(low, 0).into()), ("high", figure(high, 0).into())];
                format!("{} ({})", figure(share, 1), page.tell("low-to-high", &args))
            }
            _ => page.say("suppliers-too-few"),
        };
        rows.push(vec![
            lot.map_or_else(|| name.as_str().into(), |to| Cell::link(&*name, to)),
            shown(&l.kg, 0).into(),
            amount(&l.price_per_kg).into(),
            shown(&l.germination_percent, 0).into(),
            amount(&l.price_per_kg_viable).into(),
            spoiled.into(),
        ]);
    }
    if rows.is_empty() {
        leaf.text("suppliers-none");
    } else {
        let number = |key: &str| Column::number(page.with(key, "currency", &*page.currency));
        let mut columns = vec![Column::text(page.say("suppliers-name"))];
        columns.extend(
            [
                "suppliers-kg",
                "suppliers-price",
                "suppliers-germination",
                "suppliers-viable",
                "suppliers-spoiled",
            ]
            .map(number),
        );
        let caption = page.say("suppliers-title");
        leaf.add(Block::Table(Table { caption, columns, rows, total: None }));
    }
    leaf.answer(refusal.as_ref())
}
