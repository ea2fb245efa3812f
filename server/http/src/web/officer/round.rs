//! Whom to visit next and why, by area, with what to bring.

use super::farm::plans_to_come;
use crate::web::blocks::{Block, Item, Leaf, Link};
use crate::web::nothing_bought;
use crate::web::page::{Page, figure, shown};
use crate::web::site::Shown;
use crate::web::visit::Visit;
use crate::web::waits;
use std::collections::BTreeMap;
use traybook_answers::estimates::{FarmToVisit, Reason, VisitReason};
use traybook_answers::planning::forecast::FarmNeed;
use traybook_answers::savings::FarmLine;
use traybook_app::AppError;
use traybook_app::records::rows::Row;
use traybook_domain::kinds::{CorrectionRequest, Farm, VisitPlan};
use traybook_domain::planning::way::{self, DEGREE_DIGITS, Position};

/// Farms that one page lists: more than a fortnight of visits helps nobody.
const FARMS_MAX: usize = 60;

pub(crate) async fn show_round(visit: Visit) -> Shown {
    let (page, actor) = (visit.page(), visit.actor()?);
    let app = &visit.state.app;
    let (list, count) = app.first_visits(actor, FARMS_MAX).await?;
    let seed = app.seed_to_bring(actor, list.iter().map(|f| f.farm_id).collect()).await?;
    let wishes = app.open_wishes(actor).await?;
    let mut leaf = Leaf::new(page.clone(), page.say("round-title"));
    nothing_bought::echo(&visit, &mut leaf).await?;
    planned(&visit, &page, &mut leaf).await?;
    let left = count.saturating_sub(list.len());
    let by_way = visit.field("order") == Some("way");
    let mut areas: BTreeMap<&str, Vec<(usize, &FarmToVisit)>> = BTreeMap::new();
    for (rank, farm) in list.iter().enumerate() {
        areas.entry(farm.area.as_deref().unwrap_or_default()).or_default().push((rank, farm));
    }
    if list.is_empty() {
        leaf.text("round-nobody");
    } else {
        leaf.text(if by_way { "round-about-way" } else { "round-about" });
        let (to, key) = match by_way {
            true => ("/round", "round-by-need"),
            false => ("/round?order=way", "round-by-way"),
        };
        leaf.add(Block::Links(vec![Link::to(to, page.say(key))]));
    }
    // The area with the most pressing farm comes first.
    let mut areas: Vec<_> = areas.into_iter().collect();
    areas.sort_by_key(|(_, farms)| farms.first().map(|(rank, _)| *rank));
    let farms = areas.into_iter().flat_map(|(_, farms)| farms);
    let farms: Vec<&FarmToVisit> = farms.map(|(_, farm)| farm).collect();
    let farms = if by_way { on_the_way(&list) } else { farms.iter().map(|f| (*f, None)).collect() };
    let items = farms.into_iter().map(|(farm, metres)| {
        let mut item = item(&page, farm, &seed, &wishes);
        let km = metres.map(|metres| figure(metres / 1_000.0, 1));
        item.lines.extend(km.map(|km| page.with("round-further", "km", km)));
        item
    });
    leaf.add(Block::List(items.collect()));
    if left > 0 {
        let count = i64::try_from(left).unwrap_or(0);
        leaf.add(Block::Text(page.with("round-more", "count", count)));
    }
    if !wishes.is_empty() {
        leaf.heading("wishes-title");
        leaf.add(Block::List(wishes_of(&visit, &page, &wishes).await?));
    }
    let month = visit.last_month(actor);
    let report = app.savings_report(actor, month).await?;
    let waiting = waits::waiting(&report);
    if !waiting.is_empty() {
        leaf.add(Block::Heading(page.say("waits-title"), "waits".to_owned()));
        let args = [
            ("count", i64::try_from(waiting.len()).unwrap_or(i64::MAX).into()),
            ("month", page.month(month).into()),
        ];
        leaf.add(Block::Text(page.tell("waits-count", &args)));
        let item = |l: &FarmLine| waits::item(&page, l, month, "/round");
        leaf.add(Block::List(waiting.into_iter().take(waits::FARMS_MAX).map(item).collect()));
    }
    leaf.add(Block::Links(vec![Link::to("/review", page.say("review-title"))]));
    leaf.show()
}

/// Visits that are planned, by day.
async fn planned(visit: &Visit, page: &Page, leaf: &mut Leaf) -> Result<(), AppError> {
    let plans = plans_to_come(visit, None).await?;
    if plans.is_empty() {
        return Ok(());
    }
    let ids = plans.iter().map(|p| p.value.farm_id).collect();
    let farms = visit.state.app.rows_of::<Farm>(visit.actor()?, ids).await?;
    leaf.heading("visits-planned");
    let item = |row: &Row<VisitPlan>| {
        let plan = &row.value;
        let farm = farms.iter().find(|f| f.id == plan.farm_id);
        let code = farm.map_or("", |f| f.value.code.as_str());
        Item {
            title: format!("{} · {code}", page.date(plan.planned_on)),
            href: Some(format!("/book/visit-plans/{}", row.id)),
            lines: plan.note.iter().cloned().collect(),
            links: vec![Link::to(format!("/farms/{}/visit", plan.farm_id), page.say("log-visit"))],
            ..Item::default()
        }
    };
    leaf.add(Block::List(plans.iter().map(item).collect()));
    leaf.heading("round-title");
    Ok(())
}

/// The farms from the most pressing on, always to the nearest, with the metres to each.
fn on_the_way(list: &[FarmToVisit]) -> Vec<(&FarmToVisit, Option<f64>)> {
    let place = |f: &FarmToVisit| {
        Some((f.latitude?.units_of(DEGREE_DIGITS), f.longitude?.units_of(DEGREE_DIGITS)))
    };
    let places: Vec<Option<Position>> = list.iter().map(place).collect();
    let order = way::round(&places).into_iter();
    order.filter_map(|(index, metres)| Some((list.get(index)?, metres))).collect()
}

async fn wishes_of(
    visit: &Visit,
    page: &Page,
    wishes: &[Row<CorrectionRequest>],
) -> Result<Vec<Item>, AppError> {
    let ids = wishes.iter().map(|w| w.value.farm_id).collect();
    let farms = visit.state.app.rows_of::<Farm>(visit.actor()?, ids).await?;
    let item = |row: &Row<CorrectionRequest>| {
        let wish = &row.value;
        let farm = farms.iter().find(|f| f.id == wish.farm_id);
        let code = farm.map_or("", |f| f.value.code.as_str());
        Item {
            title: format!("{code} · {}", wish.wish),
            href: Some(format!("/requests/{}", row.id)),
            mark: Some(page.word("subject", &wish.about)),
            lines: vec![page.with("asked-on", "date", page.date(wish.asked_on))],
            ..Item::default()
        }
    };
    Ok(wishes.iter().map(item).collect())
}

fn item(
    page: &Page,
    farm: &FarmToVisit,
    seed: &[FarmNeed],
    wishes: &[Row<CorrectionRequest>],
) -> Item {
    let farm_id = farm.farm_id.to_string();
    let mut lines: Vec<String> = farm.reasons.iter().map(|r| reason(page, r)).collect();
    if wishes.iter().any(|w| w.value.farm_id == farm.farm_id) {
        lines.push(page.say("reason-wish"));
    }
    let seed = seed.iter().filter(|need| need.farm_id == farm.farm_id);
    let bring = bring(page, &farm.reasons, seed);
    if !bring.is_empty() {
        lines.push(page.with("bring", "what", bring.join(", ")));
    }
    let last = match farm.last_visit_on {
        None => page.say("never-visited"),
        Some(day) => page.with("last-visit", "date", page.date(day)),
    };
    let whereabouts = farm.area.iter().chain(&farm.place).map(String::as_str);
    lines.push(whereabouts.chain([last.as_str()]).collect::<Vec<_>>().join(" · "));
    let flagged = farm.reasons.iter().any(|r| r.reason == VisitReason::Flag);
    Item {
        title: format!("{} · {}", farm.farm, farm.member_name),
        href: Some(format!("/farms/{farm_id}")),
        mark: flagged.then(|| page.say("flag")),
        lines,
        links: vec![Link::to(format!("/farms/{farm_id}/visit"), page.say("log-visit"))],
        ..Item::default()
    }
}

/// A reason to visit, in the reader's language.
pub(crate) fn reason(page: &Page, reason: &Reason) -> String {
    let key = format!("reason-{}", reason.reason.text().replace('_', "-"));
    let action = reason.action.clone().unwrap_or_default();
    page.tell(&key, &[("date", page.date(reason.since).into()), ("action", action.into())])
}

/// What to take along.
fn bring<'a>(
    page: &Page,
    reasons: &[Reason],
    seed: impl Iterator<Item = &'a FarmNeed>,
) -> Vec<String> {
    let mut bring = Vec::new();
    let has = |kind: VisitReason| reasons.iter().any(|r| r.reason == kind);
    if has(VisitReason::Flag) {
        bring.push(page.say("bring-for-flag"));
    }
    if has(VisitReason::NewStarter) {
        bring.push(page.say("bring-for-starter"));
    }
    for need in seed {
        let crop = page.crop(need.crop.as_deref().unwrap_or_default());
        let args = [("kg", shown(&need.to_issue_kg, 0).into()), ("crop", crop.into())];
        bring.push(page.tell("bring-seed", &args));
    }
    bring
}
