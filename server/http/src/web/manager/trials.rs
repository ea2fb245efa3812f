//! Trials: what ways to start farms could show, a random order of starts, months with and without
//! fodder on one farm.

use crate::web::blocks::{
    Block, Cell, Column, Field, Form, Input, Item, Leaf, Link, Refusal, Table,
};
use crate::web::page::{Page, figure};
use crate::web::site::{Shown, go};
use crate::web::visit::Visit;
use traybook_answers::estimates::Enterprise;
use traybook_answers::trials::{
    NewOnOffOrder, NewStartOrder, OnOffOrder, StartOrder, StartPlaceLine, TrialOption, TrialPower,
    TrialStatus,
};
use traybook_app::AppError;
use traybook_domain::Kind;
use traybook_domain::Month;
use traybook_domain::kinds::starts;
use traybook_domain::people::authz::Task;
use traybook_domain::value::real;
use traybook_reports::charts::{self, Months, Series, Words};

/// Farms of an order that the page lists; the interface gives all.
const FARMS_MAX: usize = 60;

pub(crate) async fn show_trials(visit: Visit) -> Shown {
    page(&visit, None).await
}

async fn page(visit: &Visit, refusal: Option<&Refusal>) -> Shown {
    let (page, actor) = (visit.page(), visit.actor()?);
    actor.task(Task::CloseMonth)?;
    let app = &visit.state.app;
    let mut leaf =
        Leaf::new(page.clone(), page.say("trials-title")).back("/office", page.say("office-title"));
    leaf.saved(visit);
    leaf.text("trials-about");
    leaf.text("trials-about-lot");
    let enterprise = asked(visit);
    // The forms that draw have a field of the same name.
    let typed = visit.field("starts").filter(|_| refusal.is_none());
    let power = match asked_starts(typed) {
        Ok(starts) => app.trial_power(actor, enterprise.text(), starts).await,
        Err(error) => Err(error),
    };
    let (power, asked_wrong) = match power {
        Ok(power) => (power, None),
        Err(error @ AppError::Invalid(_)) => {
            let wrong = Refusal::of(visit, "ways", error)?;
            (app.trial_power(actor, enterprise.text(), None).await?, Some(wrong))
        }
        Err(other) => return Err(other),
    };
    leaf.form(visit, asked_wrong.as_ref(), choose(&page, enterprise));
    ways(&mut leaf, &page, &power);
    leaf.heading("trials-draw");
    leaf.text("trials-draw-about");
    leaf.form(visit, refusal, draw_form(visit, &page, enterprise)?);
    let orders = app.start_orders(actor).await?;
    if !orders.items.is_empty() {
        leaf.heading("trials-drawn");
        let item = |o: &traybook_answers::trials::StartOrderLine| Item {
            title: o.name.clone(),
            href: Some(format!("/trials/{}", o.id)),
            mark: o.is_withdrawn.then(|| page.say("trials-withdrawn")),
            lines: vec![page.with("trials-drawn-on", "date", page.date(o.drawn_on))],
            ..Item::default()
        };
        leaf.add(Block::List(orders.items.iter().map(item).collect()));
    }
    leaf.heading("on-off-title");
    leaf.text("on-off-about");
    leaf.form(visit, refusal, on_off_form(visit, &page, enterprise)?);
    leaf.answer(refusal.or(asked_wrong.as_ref()))
}

fn asked(visit: &Visit) -> Enterprise {
    visit.field("enterprise").and_then(Enterprise::parse).unwrap_or(Enterprise::Milk)
}

/// The farms to start in each month; none where nothing was typed.
fn asked_starts(text: Option<&str>) -> Result<Option<Vec<u64>>, AppError> {
    let Some(text) = text.filter(|text| !text.trim().is_empty()) else { return Ok(None) };
    let numbers = starts(text).ok_or_else(|| {
        AppError::field("starts", "type", "give the farms of each month, such as 5 5 4")
    })?;
    Ok(Some(numbers.into_iter().map(|n| n as u64).collect()))
}

fn kinds(page: &Page) -> Input {
    let option = |e: &Enterprise| (e.text().to_owned(), page.word("trials-of", e.text()));
    Input::Choice(Enterprise::ALL.iter().map(option).collect())
}

fn choose(page: &Page, enterprise: Enterprise) -> Form {
    Form::new("/trials", "ways", page.say("show"))
        .question()
        .field(
            Field::new("enterprise", page.say("trials-enterprise"), kinds(page))
                .value(enterprise.text()),
        )
        .field(
            Field::new("starts", page.say("trials-starts"), Input::Text)
                .hint(page.say("trials-starts-hint")),
        )
}

fn count(n: u64) -> f64 {
    real(i64::try_from(n).unwrap_or(i64::MAX))
}

/// Ways to start, and what each could show.
fn ways(leaf: &mut Leaf, page: &Page, power: &TrialPower) {
    let args = [
        ("farms", i64::try_from(power.farms).unwrap_or(0).into()),
        ("months", i64::try_from(power.months_before).unwrap_or(0).into()),
    ];
    leaf.add(Block::Text(page.tell("trials-farms", &args)));
    if power.farms == 0 {
        return;
    }
    let smallest = |percent: Option<f64>, option: &TrialOption| match option.status {
        TrialStatus::Judged => {
            percent.map_or_else(|| page.say("cannot-tell-yet"), |p| format!("{} %", figure(p, 0)))
        }
        status => page.word("trials-status", status.text()),
    };
    let row = |o: &TrialOption| -> Vec<Cell> {
        vec![
            in_words(page, o).into(),
            figure(count(o.waiting), 0).into(),
            smallest(o.programme_percent, o).into(),
            smallest(o.member_percent, o).into(),
            figure(count(o.waiting_farm_months), 0).into(),
            o.saving_forgone.map_or_else(String::new, |s| page.money(&s)).into(),
        ]
    };
    leaf.add(Block::Table(Table {
        caption: page.with("trials-ways", "of", figure(count(power.shown_of_100), 0)),
        columns: vec![
            Column::text(page.say("trials-start")),
            Column::number(page.say("trials-waiting")),
            Column::number(page.say("trials-programme")),
            Column::number(page.say("trials-member")),
            Column::number(page.say("trials-wait-months")),
            Column::number(page.say("trials-forgone")),
        ],
        rows: power.options.iter().map(row).collect(),
        total: None,
    }));
    leaf.text("trials-read");
    // The picture is of the way asked for, else of the first that lets farms wait.
    let shown = power.options.iter().find(|o| o.waiting > 0 && o.starts.len() > 1);
    if let Some(chart) = shown.and_then(|o| picture(page, o)) {
        leaf.add(Block::Chart(chart));
    }
}

/// "all at once", or the numbers by month.
fn in_words(page: &Page, option: &TrialOption) -> String {
    let starts: Vec<String> = option.starts.iter().map(u64::to_string).collect();
    if option.waiting == 0 && starts.len() == 1 {
        return page.say("trials-at-once");
    }
    let months = i64::try_from(starts.len()).unwrap_or(0);
    page.tell(
        "trials-by-month",
        &[("numbers", starts.join(", ").into()), ("months", months.into())],
    )
}

/// Farms that feed and farms that wait, month by month.
fn picture(page: &Page, option: &TrialOption) -> Option<String> {
    let all = option.starts.iter().sum::<u64>() + option.waiting;
    let feeding: Vec<u64> = option
        .starts
        .iter()
        .scan(0, |sum, n| {
            *sum += n;
            Some(*sum)
        })
        .collect();
    let values = |of: &dyn Fn(&u64) -> u64| feeding.iter().map(|n| Some(count(of(n)))).collect();
    let number = |m: usize| (m + 1).to_string();
    charts::months(&Months {
        words: Words {
            id: "trial-starts".to_owned(),
            title: page.say("trials-chart"),
            description: page.say("trials-chart-text"),
        },
        axis: page.say("farms-count"),
        months: (0..feeding.len()).map(number).collect(),
        series: vec![
            Series { label: page.say("trials-feeding"), values: values(&|n| *n), band: Vec::new() },
            Series {
                label: page.say("trials-waiting"),
                values: values(&|n| all - *n),
                band: Vec::new(),
            },
        ],
        start: None,
        from_zero: true,
        open_label: String::new(),
    })
}

fn next_month(visit: &Visit) -> Result<String, AppError> {
    let today = visit.actor()?.coop.today(visit.state.app.now());
    Ok(Month::of(today).plus(1).to_string())
}

fn draw_form(visit: &Visit, page: &Page, enterprise: Enterprise) -> Result<Form, AppError> {
    Ok(Form::new("/trials", "draw", page.say("trials-draw-do"))
        .id("id", visit.state.app.new_id()?)
        .hide("what", "starts")
        .field(Field::new("name", page.say("trials-name"), Input::Text).required())
        .field(
            Field::new("enterprise", page.say("trials-enterprise"), kinds(page))
                .value(enterprise.text())
                .required(),
        )
        .field(
            Field::new("first_month", page.say("trials-first"), Input::Month)
                .value(next_month(visit)?)
                .required(),
        )
        .field(
            Field::new("starts", page.say("trials-starts"), Input::Text)
                .hint(page.say("trials-starts-hint"))
                .required(),
        ))
}

fn on_off_form(visit: &Visit, page: &Page, enterprise: Enterprise) -> Result<Form, AppError> {
    let whole = |name: &str, key: &str, value: &str| {
        Field::new(name, page.say(key), Input::Whole).value(value).required()
    };
    Ok(Form::new("/trials", "on-off", page.say("trials-draw-do"))
        .id("id", visit.state.app.new_id()?)
        .hide("what", "on-off")
        .field(Field::new("farm", page.say("farm-code"), Input::Text).required())
        .field(
            Field::new("enterprise", page.say("trials-enterprise"), kinds(page))
                .value(enterprise.text())
                .required(),
        )
        .field(
            Field::new("first_month", page.say("trials-first"), Input::Month)
                .value(next_month(visit)?)
                .required(),
        )
        .field(whole("blocks", "on-off-blocks", "4"))
        .field(whole("block_months", "on-off-months", "2"))
        .field(whole("unused_months", "on-off-unused", "1").hint(page.say("on-off-unused-hint"))))
}

pub(crate) async fn draw(visit: Visit) -> Shown {
    visit.actor()?.task(Task::CloseMonth)?;
    let is_starts = visit.field("what") == Some("starts");
    let drawn = if is_starts { draw_starts(&visit).await } else { draw_on_off(&visit).await };
    match drawn {
        Ok(to) => Ok(go(&to)),
        Err(error) => {
            let form = if is_starts { "draw" } else { "on-off" };
            let refusal = Refusal::of(&visit, form, error)?;
            page(&visit, Some(&refusal)).await
        }
    }
}

fn enterprise_of(visit: &Visit) -> Result<Enterprise, AppError> {
    let found = visit.field("enterprise").and_then(Enterprise::parse);
    found.ok_or_else(|| AppError::field("enterprise", "choice", "give milk or eggs"))
}

async fn draw_starts(visit: &Visit) -> Result<String, AppError> {
    let numbers = asked_starts(visit.field("starts"))?;
    let id = visit.form_id("id")?;
    let asked = NewStartOrder {
        id: Some(id),
        name: visit.field("name").unwrap_or_default().to_owned(),
        enterprise: enterprise_of(visit)?,
        first_month: visit.field("first_month").unwrap_or_default().to_owned(),
        starts: numbers.unwrap_or_default(),
    };
    let drawn = visit.state.app.draw_start_order(visit.actor()?, id, asked).await?;
    Ok(format!("/trials/{}?saved=order", drawn.id))
}

async fn draw_on_off(visit: &Visit) -> Result<String, AppError> {
    let (actor, code) = (visit.actor()?, visit.field("farm").unwrap_or_default().trim());
    let farm = visit.state.app.find_code(actor, Kind::Farm, code).await?;
    let whole = |name: &str| {
        let number = visit.field(name).and_then(|text| text.trim().parse::<i64>().ok());
        number.ok_or_else(|| AppError::field(name, "type", "give a whole number"))
    };
    let id = visit.form_id("id")?;
    let asked = NewOnOffOrder {
        id: Some(id),
        farm_id: farm,
        enterprise: enterprise_of(visit)?,
        first_month: visit.field("first_month").unwrap_or_default().to_owned(),
        blocks: whole("blocks")?,
        block_months: whole("block_months")?,
        unused_months: whole("unused_months")?,
    };
    let drawn = visit.state.app.draw_on_off(actor, id, asked).await?;
    Ok(format!("/trials/on-off/{}?saved=order", drawn.id))
}

/// One start order.
pub(crate) async fn show_order(visit: Visit) -> Shown {
    let (page, actor) = (visit.page(), visit.actor()?);
    let order = visit.state.app.start_order(actor, visit.id("id")?).await?;
    let mut leaf = Leaf::new(page.clone(), order.name.clone());
    if actor.task(Task::CloseMonth).is_ok() {
        leaf = leaf.back("/trials", page.say("trials-title"));
    }
    leaf.saved(&visit);
    if order.is_withdrawn {
        leaf.add(Block::Caution(page.say("trials-withdrawn")));
    }
    facts(&mut leaf, &page, &order);
    let row = |f: &StartPlaceLine| -> Vec<Cell> {
        vec![
            Cell::link(format!("{} · {}", f.farm, f.member_name), format!("/farms/{}", f.farm_id)),
            f.area.clone().unwrap_or_default().into(),
            f.head.to_string().into(),
            f.month.map_or_else(|| page.say("trials-waits"), |m| page.month(m.0)).into(),
            page.word("trials-followed", f.followed.text()).into(),
        ]
    };
    let mut farms: Vec<&StartPlaceLine> = order.farms.iter().collect();
    farms.sort_by_key(|f| (f.month.is_none(), f.month.map(|m| m.0), f.place));
    leaf.add(Block::Table(Table {
        caption: page.say("trials-list"),
        columns: vec![
            Column::text(page.say("farm-title")),
            Column::text(page.say("area")),
            Column::number(page.say("trials-head")),
            Column::text(page.say("trials-month")),
            Column::text(page.say("trials-went")),
        ],
        rows: farms.iter().take(FARMS_MAX).map(|f| row(f)).collect(),
        total: None,
    }));
    if farms.len() > FARMS_MAX {
        let more = i64::try_from(farms.len() - FARMS_MAX).unwrap_or(i64::MAX);
        leaf.add(Block::Text(page.with("output-more", "farms", more)));
    }
    leaf.heading("trials-check");
    leaf.text("trials-how");
    leaf.show()
}

fn facts(leaf: &mut Leaf, page: &Page, order: &StartOrder) {
    let same = match order.is_as_drawn {
        Some(true) => Some(page.say("trials-same")),
        Some(false) => Some(page.say("trials-other")),
        None => None,
    };
    let mut facts = vec![
        (page.say("trials-enterprise"), page.word("trials-of", order.enterprise.text())),
        (page.say("trials-first"), page.month(order.first_month.0)),
        (page.say("trials-day"), page.date(order.drawn_on)),
        (page.say("trials-seed"), order.seed.clone()),
    ];
    facts.extend(same.map(|same| (page.say("trials-again"), same)));
    leaf.add(Block::Facts(facts));
}

/// Months with and without fodder of a farm.
pub(crate) async fn show_on_off(visit: Visit) -> Shown {
    let (page, actor) = (visit.page(), visit.actor()?);
    let order: OnOffOrder = visit.state.app.on_off_order(actor, visit.id("id")?).await?;
    let title = page.with("on-off-of", "farm", order.farm.clone());
    let mut leaf = Leaf::new(page.clone(), title);
    leaf.saved(&visit);
    leaf.text("on-off-agreed");
    if let Some(percent) = order.smallest_percent {
        leaf.add(Block::Text(page.with("on-off-smallest", "percent", figure(percent, 0))));
    }
    let line = |m: &traybook_answers::trials::OnOffMonth| {
        let word = page.say(if m.is_on { "on-off-on" } else { "on-off-off" });
        let unused = if m.is_used { String::new() } else { page.say("on-off-not-used") };
        (page.month(m.month.0), [word, unused].join(" ").trim_end().to_owned())
    };
    leaf.add(Block::Facts(order.months.iter().map(line).collect()));
    leaf.add(Block::Facts(vec![
        (page.say("trials-day"), page.date(order.drawn_on)),
        (page.say("trials-seed"), order.seed.clone()),
    ]));
    leaf.add(Block::Caution(page.say("caution-rations")));
    leaf.add(Block::Links(vec![Link::to(
        format!("/result?farm={}", order.farm_id),
        page.say("output-title"),
    )]));
    leaf.show()
}
