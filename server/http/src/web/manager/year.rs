//! The last twelve months in small charts: the saving with its band, trays lost, farms with a
//! number; and what changed since the month before.

use crate::web::blocks::{Block, Leaf};
use crate::web::page::{Page, figure, shown};
use crate::web::site::Shown;
use crate::web::visit::Visit;
use traybook_answers::Decimal;
use traybook_answers::savings::{Interval, Total};
use traybook_app::AppError;
use traybook_app::savings::MonthTotal;
use traybook_domain::Month;
use traybook_domain::people::authz::Task;
use traybook_domain::value::real;
use traybook_reports::charts::{self, Months, Series, Words};

/// Months that the charts show.
const MONTHS: i32 = 12;
/// Months with a number from which on a line says something.
const LEAST: usize = 2;

/// A month of the charts.
struct Point {
    month: Month,
    saving: Option<f64>,
    band: Option<(f64, f64)>,
    lost_percent: Option<f64>,
    farms: Option<f64>,
}

fn farms_with_number(t: &Total) -> i64 {
    t.farms_saving + t.farms_losing + t.farms_unclear
}

fn point(of: &MonthTotal) -> Point {
    // A month that is not over has no saving, and its losses are not whole.
    let total = of.total.as_ref().filter(|_| !of.is_running);
    let money = total.map(|t| &t.figures.money);
    Point {
        month: of.month,
        saving: money.and_then(|m| m.saving).map(Decimal::real),
        band: money.and_then(|m| m.saving_interval).map(Interval::ends),
        lost_percent: total.and_then(|t| t.figures.trays_discarded_percent).map(Decimal::real),
        farms: total.map(|t| real(farms_with_number(t))),
    }
}

/// So many months up to one.
async fn points(visit: &Visit, last: Month, count: i32) -> Result<Vec<Point>, AppError> {
    let months: Vec<Month> = (1 - count..=0).map(|by| last.plus(by)).collect();
    let totals = visit.state.app.month_totals(visit.actor()?, months).await?;
    Ok(totals.iter().map(point).collect())
}

/// What changed since the month before, in words; nothing where one of them has no figures.
pub(super) async fn since_last(
    visit: &Visit,
    page: &Page,
    month: Month,
) -> Result<String, AppError> {
    Ok(change(page, &points(visit, month, 2).await?))
}

/// The page. It stands by itself: a telephone reads twelve months' charts when they are asked for.
pub(crate) async fn show_year(visit: Visit) -> Shown {
    let (page, actor) = (visit.page(), visit.actor()?);
    actor.task(Task::CloseMonth)?;
    let last = visit.month(actor)?;
    let mut leaf = Leaf::new(page.clone(), page.say("year-title"))
        .back(format!("/month?month={last}"), page.say("nav-month"));
    let points = points(&visit, last, MONTHS).await?;
    charts_of(&page, &mut leaf, &points);
    leaf.show()
}

fn charts_of(page: &Page, leaf: &mut Leaf, points: &[Point]) {
    let has_some = |p: &&Point| p.saving.is_some() || p.lost_percent.is_some();
    if points.iter().filter(has_some).count() < LEAST {
        leaf.text("year-none");
        return;
    }
    leaf.add(Block::Text(change(page, points)));
    let saving = Series {
        label: page.say("saving"),
        values: points.iter().map(|p| p.saving).collect(),
        band: points.iter().map(|p| p.band).collect(),
    };
    let lost = line(page.say("trays-lost-percent"), points.iter().map(|p| p.lost_percent));
    let farms = line(page.say("year-farms"), points.iter().map(|p| p.farms));
    for (key, axis, series) in [
        ("year-saving", page.currency.clone(), saving),
        ("year-lost", "%".to_owned(), lost),
        ("year-farms", page.say("year-farms-axis"), farms),
    ] {
        let chart = charts::months(&Months {
            words: Words {
                id: key.to_owned(),
                title: page.say(&format!("{key}-question")),
                description: page.say(&format!("{key}-text")),
            },
            axis,
            months: points.iter().map(|p| page.short_month(p.month)).collect(),
            series: vec![series],
            start: None,
            from_zero: true,
            open_label: page.say("chart-cannot-tell"),
        });
        if let Some(chart) = chart {
            leaf.heading(&format!("{key}-question"));
            leaf.add(Block::Chart(chart));
        }
    }
}

fn line(label: String, values: impl Iterator<Item = Option<f64>>) -> Series {
    Series { label, values: values.collect(), band: Vec::new() }
}

/// What changed since the month before: trays lost, and farms with a number. Of the saving only
/// that it can not be told apart, where the bands of both months meet.
fn change(page: &Page, points: &[Point]) -> String {
    let [.., before, now] = points else { return String::new() };
    let mut said = Vec::new();
    if let (Some(was), Some(is)) = (before.lost_percent, now.lost_percent) {
        let args = [("was", figure(was, 1).into()), ("is", figure(is, 1).into())];
        said.push(page.tell("year-change-lost", &args));
    }
    if let (Some(was), Some(is)) = (before.farms, now.farms) {
        let args = [("was", shown(&was, 0).into()), ("is", shown(&is, 0).into())];
        said.push(page.tell("year-change-farms", &args));
    }
    if let (Some(was), Some(is)) = (before.band, now.band) {
        let apart = was.1 < is.0 || is.1 < was.0;
        said.push(page.say(match (apart, is.0 > was.0) {
            (false, _) => "year-change-unclear",
            (true, true) => "year-change-more",
            (true, false) => "year-change-less",
        }));
    }
    said.join(" ")
}
