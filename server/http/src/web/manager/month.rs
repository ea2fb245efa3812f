//! The month at a glance: saving, output, spoilage, seed; and the office's other pages.

use super::purchases::{WEEKS, crop_sentence};
use super::savings::{since_sentence, total_sentence};
use super::spoilage::points_at;
use crate::web::blocks::{Block, Field, Form, Input, Item, Leaf, Link};
use crate::web::output_words::programme_sentence;
use crate::web::page::{Page, figure, shown};
use crate::web::site::{Shown, go};
use crate::web::visit::Visit;
use crate::web::waits;
use traybook_answers::estimates::{Enterprise, FarmSpoilage, SpoilageStatus};
use traybook_answers::savings::Total;
use traybook_app::AppError;
use traybook_domain::Month;
use traybook_domain::people::authz::Task;
use traybook_domain::value::real;

/// Farms with recurring spoilage that the page names.
const FLAGGED_MAX: usize = 5;

pub(crate) async fn show_month(visit: Visit) -> Shown {
    let (page, actor) = (visit.page(), visit.actor()?);
    actor.task(Task::CloseMonth)?;
    if visit.field("month").is_none() && super::first::is_new(&visit).await? {
        return Ok(go("/first"));
    }
    let app = &visit.state.app;
    let month = visit.month(actor)?;
    let report = app.savings_report(actor, month).await?;
    let title = page.with("month-title", "month", page.month(month));
    let mut leaf = Leaf::new(page.clone(), title);
    leaf.saved(&visit);
    leaf.add(Block::Form(choose(&page, "/month", month)));
    leaf.heading("saving");
    leaf.add(Block::Lead(total_sentence(&page, &report)));
    leaf.add(Block::Text(since_sentence(&page, &report)));
    leaf.add(Block::Facts(report.total.as_ref().map(|t| counts(&page, t)).unwrap_or_default()));
    if !report.is_closed {
        // The same count as on the page that closes the month.
        let lacking = i64::try_from(waits::waiting(&report).len()).unwrap_or(0);
        let text = match lacking {
            0 => page.say("close-nothing-missing"),
            _ => page.with("close-missing-count", "count", lacking),
        };
        leaf.add(Block::Text(text));
    }
    if let Some(total) =
        report.adjustments_total.filter(|total| total.units != 0 || !report.adjustments.is_empty())
    {
        let count = i64::try_from(report.adjustments.len()).unwrap_or(0);
        let total = page.money(&total);
        let args = [("count", count.into()), ("amount", total.into())];
        leaf.add(Block::Text(page.tell("adjustments-in", &args)));
    }
    let changed = super::year::since_last(&visit, &page, month).await?;
    if !changed.is_empty() {
        leaf.add(Block::Text(changed));
    }
    leaf.add(Block::Links(vec![
        Link::to(format!("/savings?month={month}"), page.say("savings-see")),
        Link::to(format!("/year?month={month}"), page.say("year-title")),
        Link::to(format!("/board?month={month}"), page.say("board-title")),
        Link::to(
            format!("/close?month={month}"),
            page.say(if report.is_closed { "close-done-see" } else { "close-title" }),
        ),
    ]));
    leaf.heading("output-title");
    for enterprise in Enterprise::ALL.iter().copied() {
        let change = app.programme_output_change(actor, enterprise).await?;
        leaf.add(Block::Text(programme_sentence(&page, enterprise, change.as_ref())));
    }
    leaf.add(Block::Links(vec![Link::to("/output-change", page.say("output-see"))]));
    flagged(&visit, &page, &mut leaf).await?;
    leaf.heading("seed-title");
    let forecast = app.seed_forecast(actor, Some(WEEKS.to_owned())).await?;
    for crop in &forecast.crops {
        leaf.add(Block::Text(crop_sentence(&page, crop, WEEKS)));
    }
    leaf.add(Block::Links(vec![Link::to("/seed", page.say("nav-seed"))]));
    leaf.show()
}

/// Farms whose trays keep spoiling, each with its reason.
async fn flagged(visit: &Visit, page: &Page, leaf: &mut Leaf) -> Result<(), AppError> {
    leaf.heading("spoilage-title");
    let spoiling = visit.state.app.most_spoiling(visit.actor()?, FLAGGED_MAX).await?;
    let first = spoiling.farms.iter();
    let flagged = first.filter(|f| f.figures.status == SpoilageStatus::Recurring);
    let count = i64::try_from(spoiling.recurring).unwrap_or(i64::MAX);
    leaf.add(Block::Text(page.with("spoilage-count", "count", count)));
    let item = |f: &FarmSpoilage| {
        let lost = f
            .figures
            .recent_percent
            .map(|p| page.with("spoilage-lost-lately", "percent", figure(p, 0)));
        let why = points_at(page, &f.figures);
        Item {
            title: format!("{} · {}", f.of.farm, f.of.member_name),
            href: Some(format!("/spoilage/{}", f.of.farm_id)),
            lines: vec![
                lost.into_iter()
                    .chain((!why.is_empty()).then_some(why))
                    .collect::<Vec<_>>()
                    .join(" · "),
            ],
            ..Item::default()
        }
    };
    leaf.add(Block::List(flagged.map(item).collect()));
    leaf.add(Block::Text(page.figures_of(spoiling.as_of)));
    leaf.add(Block::Links(vec![Link::to("/spoilage", page.say("nav-spoilage"))]));
    Ok(())
}

/// A form that leads to another month.
pub(crate) fn choose(page: &Page, action: &str, month: Month) -> Form {
    let field = Field::new("month", page.say("month"), Input::Month).value(month.to_string());
    Form::new(action, "choose", page.say("show")).question().field(field)
}

fn counts(page: &Page, total: &Total) -> Vec<(String, String)> {
    let farms = |count: i64| figure(real(count), 0);
    let mut facts = vec![
        (page.say("farms-saving"), farms(total.farms_saving)),
        (page.say("farms-losing"), farms(total.farms_losing)),
        (page.say("farms-unclear"), farms(total.farms_unclear)),
        (page.say("farms-unknown"), farms(total.farms_left_out)),
    ];
    for (status, count) in &total.left_out_by_status {
        facts.push((page.word("saving-status", status.text()), farms(*count)));
    }
    let lost = total.figures.trays_discarded_percent;
    facts.push((page.say("trays-lost-percent"), shown(&lost, 1)));
    facts
}

/// The office: everything that is not looked at every day.
pub(crate) async fn show_office(visit: Visit) -> Shown {
    visit.actor()?.task(Task::CloseMonth)?;
    let page = visit.page();
    let mut leaf = Leaf::new(page.clone(), page.say("office-title"));
    let item = |href: &str, key: &str| Item {
        title: page.say(key),
        href: Some(href.to_owned()),
        lines: vec![page.say(&format!("{key}-about"))],
        ..Item::default()
    };
    leaf.add(Block::List(vec![
        item("/savings", "savings-title"),
        item("/board", "board-title"),
        item("/close", "close-title"),
        item("/output-change", "output-see"),
        item("/trials", "trials-title"),
        item("/texts", "texts-title"),
        item("/review", "review-title"),
        item("/round", "round-title"),
        item("/trainings", "trainings-title"),
        item("/store", "store-title"),
        item("/owed", "owed-title"),
        item("/pay-run", "pay-run-title"),
        item("/suppliers", "suppliers-title"),
        item("/feed-value", "feed-value-title"),
        item("/feed-mix", "feed-mix-title"),
        item("/break-even", "break-even-title"),
        item("/totals", "indicators-title"),
        item("/people", "people-title"),
        item("/security", "security-title"),
        item("/guide", "guide-title"),
        item("/service", "service-title"),
        item("/import", "import-title"),
        item("/setup", "setup-title"),
        item("/first", "first-title"),
        item("/today", "work-title"),
    ]));
    leaf.show()
}
