//! What a farm saved, whether its output changed, and whether its trays keep spoiling: a chart and
//! one plain sentence each, losses and "cannot tell yet" as plainly as gains.

use crate::web::blocks::{Block, Field, Form, Input, Leaf, Link};
use crate::web::called::title;
use crate::web::farms::{chosen, other_farms, text};
use crate::web::losses;
use crate::web::output_words::{output_notes, output_sentence};
use crate::web::page::{Page, figure};
use crate::web::site::Shown;
use crate::web::visit::Visit;
use crate::web::waits;
use serde_json::Value as Json;
use traybook_answers::Decimal;
use traybook_answers::estimates::{Enterprise, OutputFigures};
use traybook_answers::savings::{FarmLine, Interval as Between, Money, SinceStart};
use traybook_app::AppError;
use traybook_app::savings::{FarmMonth, Output};
use traybook_domain::Month;
use traybook_domain::people::authz::Role;
use traybook_domain::time::parse_date;
use traybook_reports::charts::{self, Months, Series, Start, Words};
use traybook_reports::savings::{Said as _, sentence};
use uuid::Uuid;

/// Months that the chart of savings shows.
const MONTHS: i32 = 12;

pub(crate) async fn show_result(visit: Visit) -> Shown {
    let farm = chosen(&visit).await?;
    let (page, actor) = (visit.page(), visit.actor()?);
    let month = visit.month(actor)?;
    let farm_id = text(&farm, "id");
    let others = other_farms(&visit, "/result", &farm).await?;
    let title = title(&page, others.is_empty(), ["nav-result", "result-title"], &farm);
    let mut leaf = Leaf::new(page.clone(), title);
    if actor.role != Role::Member {
        leaf = leaf.back(format!("/farms/{farm_id}"), text(&farm, "code"));
    }
    let app = &visit.state.app;
    let line = app.farm_saving(actor, visit_id(farm_id)?, month).await?;
    leaf.add(Block::Heading(
        page.with("saving-of", "month", page.month(month)),
        "saving".to_owned(),
    ));
    match &line {
        Some(line) => {
            saving(&mut leaf, &page, line);
            let back = format!("/result?farm={farm_id}&month={month}");
            let links = waits::links(&page, line.farm_id, &line.waits, month, &back);
            let how = format!("/farms/{farm_id}/how?month={month}");
            let how = std::iter::once(Link::to(how, page.say("how-link")));
            leaf.add(Block::Links(links.into_iter().chain(how).collect()));
        }
        None => drop(leaf.text("saving-none")),
    }
    if let Some(chart) = chart(&visit, &page, &farm, month).await? {
        leaf.add(Block::Chart(chart));
    }
    leaf.add(Block::Form(choose(&page, farm_id, month)));
    let pdf = format!("/farms/{farm_id}/report.pdf?month={month}");
    let mut links = vec![
        Link::to(pdf, page.say("report-to-print")),
        Link::to(format!("/farms/{farm_id}/book"), page.say("book-link")),
        Link::to(format!("/ask?farm={farm_id}"), page.say("ask-title")),
    ];
    links.extend(others);
    leaf.add(Block::Links(links));
    leaf.heading("output-title");
    let changes = changes(&visit, visit_id(farm_id)?).await?;
    if changes.is_empty() {
        leaf.text("output-none");
    }
    for (enterprise, change) in &changes {
        if let Some(chart) = output_chart(&visit, &page, &farm, *enterprise, month).await? {
            leaf.add(Block::Chart(chart));
        }
        leaf.add(Block::Lead(output_sentence(&page, *enterprise, change)));
        for line in output_notes(&page, *enterprise, change) {
            leaf.add(Block::Text(line));
        }
    }
    spoilage(&visit, &page, &mut leaf, visit_id(farm_id)?).await?;
    leaf.add(Block::Caution(page.say("caution-rations")));
    leaf.show()
}

/// Whether trays keep spoiling, and what goes with it.
async fn spoilage(visit: &Visit, page: &Page, leaf: &mut Leaf, farm: Uuid) -> Result<(), AppError> {
    leaf.heading("spoilage-title");
    let spoiling = visit.state.app.farm_spoilage(visit.actor()?, farm).await;
    match spoiling {
        Ok(spoiling) => {
            leaf.add(Block::Text(losses::sentence(page, &spoiling.farm.figures)));
            losses::counted(page, leaf, &spoiling.farm.figures);
            leaf.add(Block::Text(page.figures_of(spoiling.as_of)));
            losses::of_farm(visit, page, leaf, farm).await?;
        }
        Err(AppError::NotFound) => {
            leaf.text("spoilage-none");
        }
        Err(other) => return Err(other),
    }
    Ok(())
}

fn visit_id(text: &str) -> Result<Uuid, AppError> {
    Uuid::try_parse(text).ok().ok_or(AppError::NotFound)
}

fn saving(leaf: &mut Leaf, page: &Page, line: &FarmLine) {
    leaf.add(Block::Lead(match line.figures.money.saving {
        Some(_) => saving_sentence(page, &line.figures.money),
        None => page.word("saving-status", line.status.text()),
    }));
    if let Some(net) = net_sentence(page, &line.figures.money) {
        leaf.add(Block::Text(net));
    }
    if let Some(since) = line.since_start {
        let tell = since.months_to_tell(line.enterprises.len()).map(|months| tell(page, months));
        let said = since_start_sentence(page, since);
        leaf.add(Block::Text(
            [Some(said), tell].into_iter().flatten().collect::<Vec<_>>().join(" "),
        ));
    }
    let missing = missing(page, line);
    if !missing.is_empty() {
        leaf.add(Block::Text(page.with("saving-missing", "what", missing.join("; "))));
    }
    for note in &line.notes {
        leaf.add(Block::Text(sentence(&note.said(page.language))));
    }
    let figures = line.recorded();
    let money = &figures.money;
    let facts = [
        ("baseline-cost", money.baseline_cost),
        ("feed-cost", money.eaten_cost),
        ("feed-saving", money.feed_saving),
        ("seed-cost", money.seed_cost),
        ("other-cost", money.other_cost),
        ("depreciation", money.depreciation),
        ("saving", money.saving),
        ("output-value", money.output_value),
        ("net-result", money.net),
        ("bought-cost", figures.bought_cost),
        ("saving-per-litre", figures.saving_per_litre),
        ("saving-per-egg", figures.saving_per_egg),
    ];
    let fact = |(key, cost): (&str, Option<Decimal>)| Some((page.say(key), page.money(&cost?)));
    leaf.add(Block::Facts(facts.into_iter().filter_map(fact).collect()));
}

/// What a line of the report lacks, in the reader's language.
pub(crate) fn missing(page: &Page, line: &FarmLine) -> Vec<String> {
    waits::said(page, &line.waits)
}

/// Months of a farm beyond which no number of them is said.
const TELL_MONTHS_MAX: f64 = 60.0;

/// A saving or a loss in one sentence, with its interval where there is one.
pub(crate) fn saving_sentence(page: &Page, money: &Money) -> String {
    let keys = ["saving-saved", "saving-lost", "saving-unclear", "saving-unclear-loss"];
    match money.saving {
        Some(saving) => amount_sentence(page, keys, saving, money.saving_interval),
        None => page.say("saving-total-none"),
    }
}

/// The saving with what milk or eggs gained or lost in one sentence; none without a price.
pub(crate) fn net_sentence(page: &Page, money: &Money) -> Option<String> {
    let keys = ["net-gained", "net-lost", "net-unclear", "net-unclear-loss"];
    Some(amount_sentence(page, keys, money.net?, money.net_interval))
}

/// An amount in words. An interval that reaches zero allows neither of the first two, which say
/// that money was gained or lost.
fn amount_sentence(
    page: &Page,
    [gained, lost, unclear, unclear_loss]: [&str; 4],
    amount: Decimal,
    interval: Option<Between>,
) -> String {
    let is_unclear = interval.is_some_and(|i| i.holds_zero());
    let key = match (is_unclear, amount.real() < 0.0) {
        (true, false) => unclear,
        (true, true) => unclear_loss,
        (false, true) => lost,
        (false, false) => gained,
    };
    let sentence = page.with(key, "amount", page.money(&amount.real().abs()));
    let Some((low, high)) = interval.map(Between::ends) else {
        return format!("{sentence} {}", page.say("saving-no-interval"));
    };
    let between = [("low", page.money(&low).into()), ("high", page.money(&high).into())];
    format!("{sentence} {}", page.tell("saving-between", &between))
}

/// What was saved since the start, beside how many months it is of.
pub(crate) fn since_start_sentence(page: &Page, since: SinceStart) -> String {
    let Some(between) = since.saving_interval else { return page.say("since-none") };
    let (low, high) = between.ends();
    let saving = since.saving.real();
    let key = match (between.holds_zero(), saving < 0.0) {
        (true, _) => "since-unclear",
        (false, true) => "since-lost",
        (false, false) => "since-saved",
    };
    let args = [
        ("amount", page.money(&saving.abs()).into()),
        ("low", page.money(&low).into()),
        ("high", page.money(&high).into()),
        ("months", since.farm_months.into()),
        ("of", since.of_farm_months.into()),
    ];
    page.tell(key, &args)
}

/// When it could be told at the soonest, where it goes on as it did.
fn tell(page: &Page, months: f64) -> String {
    if months > TELL_MONTHS_MAX {
        return page.with("since-tell-long", "years", figure(TELL_MONTHS_MAX / 12.0, 0));
    }
    page.with("since-tell", "months", figure(months, 0))
}

/// Output change of a farm, milk and eggs, where it has records of them.
pub(crate) async fn changes(
    visit: &Visit,
    farm: Uuid,
) -> Result<Vec<(Enterprise, OutputFigures)>, AppError> {
    let mut found = Vec::new();
    for enterprise in Enterprise::ALL.iter().copied() {
        let change = visit.state.app.farm_output_change(visit.actor()?, enterprise, farm).await?;
        found.extend(change.map(|c| (enterprise, c.figures)));
    }
    Ok(found)
}

fn choose(page: &Page, farm: &str, month: Month) -> Form {
    let field = Field::new("month", page.say("month"), Input::Month).value(month.to_string());
    Form::new("/result", "month", page.say("show")).question().hide("farm", farm).field(field)
}

/// Savings of the last months as a line, the start of fodder marked.
async fn chart(
    visit: &Visit,
    page: &Page,
    farm: &Json,
    last: Month,
) -> Result<Option<String>, AppError> {
    let (app, actor) = (&visit.state.app, visit.actor()?);
    let savings = app.farm_savings(actor, visit_id(text(farm, "id"))?, last, MONTHS).await?;
    let first = last.plus(1 - MONTHS);
    let adjusted = |m: &FarmMonth| if m.is_adjusted { "*" } else { "" };
    let name = |m: &FarmMonth| format!("{}{}", page.short_month(m.month), adjusted(m));
    let names = savings.iter().map(name).collect::<Vec<_>>();
    let values = savings.iter().map(|m| m.saving.map(Decimal::real)).collect::<Vec<_>>();
    let band = savings.iter().map(|m| m.interval.map(Between::ends)).collect::<Vec<_>>();
    if values.iter().flatten().count() < 2 {
        return Ok(None);
    }
    let started = parse_date(text(farm, "fodder_started_on")).map(Month::of);
    let start = started.and_then(|m| usize::try_from(m.number() - first.number()).ok());
    let start = start.filter(|i| *i < names.len());
    Ok(charts::months(&Months {
        words: Words {
            id: "saving-months".to_owned(),
            title: page.say("saving-chart"),
            description: page.with("saving-chart-text", "months", i64::from(MONTHS)),
        },
        axis: page.currency.clone(),
        months: names,
        series: vec![Series { label: page.say("saving"), values, band }],
        start: start.map(|index| Start { index, label: page.say("start-of-fodder") }),
        from_zero: true,
        open_label: page.say("chart-cannot-tell"),
    }))
}

/// Milk or eggs of the last months as a line with the start marked; none without two months.
async fn output_chart(
    visit: &Visit,
    page: &Page,
    farm: &Json,
    enterprise: Enterprise,
    last: Month,
) -> Result<Option<String>, AppError> {
    let (app, actor) = (&visit.state.app, visit.actor()?);
    let output = app.farm_output(actor, visit_id(text(farm, "id"))?, last, MONTHS).await?;
    let of = |o: &Output| if enterprise == Enterprise::Milk { o.litres } else { o.eggs };
    let values: Vec<Option<f64>> = output.iter().map(of).collect();
    if values.iter().flatten().count() < 2 {
        return Ok(None);
    }
    let started = parse_date(text(farm, "fodder_started_on")).map(Month::of);
    let start = started.and_then(|m| output.iter().position(|o| o.month == m));
    let enterprise = enterprise.text();
    let label = page.word("output-of", enterprise);
    Ok(charts::months(&Months {
        words: Words {
            id: format!("output-{enterprise}"),
            title: page.word("output-question", enterprise),
            description: page.say("output-chart-text"),
        },
        axis: page.word("output-unit", enterprise),
        months: output.iter().map(|o| page.short_month(o.month)).collect(),
        series: vec![Series { label, values, band: Vec::new() }],
        start: start.map(|index| Start { index, label: page.say("start-of-fodder") }),
        from_zero: true,
        open_label: String::new(),
    }))
}
