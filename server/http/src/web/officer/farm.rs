//! Farms: finding one, and one at a glance before knocking at the gate.

use super::round::reason;
use crate::web::blocks::{Block, Column, Field, Form, Input, Item, Leaf, Link, Table};
use crate::web::called::by_code;
use crate::web::farms::{Names, growing, id, list, one, rows, text};
use crate::web::figures::Figure as _;
use crate::web::losses;
use crate::web::member::batches;
use crate::web::member::result::changes;
use crate::web::output_words::output_sentence;
use crate::web::page::{Page, counted, figure, shown};
use crate::web::site::{Shown, query};
use crate::web::visit::Visit;
use crate::work_words;
use crate::work_words::soak_why;
use chrono::NaiveDate;
use serde_json::Value as Json;
use std::collections::BTreeMap;
use traybook_answers::Decimal;
use traybook_answers::estimates::VisitReason;
use traybook_answers::planning::work::{FarmWork, WorkState};
use traybook_answers::planning::{FarmPlan, PlanDay, PlannedFeed, PlannedSoak};
use traybook_app::AppError;
use traybook_app::planning::{SheetForm, WorkQuery};
use traybook_app::records::rows::{FoundFarm, Row};
use traybook_domain::Kind;
use traybook_domain::kinds::VisitPlan;
use traybook_domain::people::authz::{Role, Task};
use traybook_reports::charts::{self, Shelf, ShelfAge, Words};
use uuid::Uuid;

/// Farms on one page.
const ON_PAGE: usize = 30;

/// The list by name, with a search.
pub(crate) async fn show_farms(visit: Visit) -> Shown {
    let (page, actor) = (visit.page(), visit.actor()?);
    let asked = visit.field("q").unwrap_or_default().to_owned();
    let skip = visit.skip()?;
    let mut farms = visit.state.app.find_farms(actor, &asked, (skip, ON_PAGE + 1)).await?;
    let is_more = farms.len() > ON_PAGE;
    farms.truncate(ON_PAGE);
    let areas = Names::of(&visit, Kind::Area, "name", &[]).await?;
    let mut leaf = Leaf::new(page.clone(), page.say("farms-title"));
    let find = Field::new("q", page.say("find-farm"), Input::Text).value(&*asked);
    leaf.form(&visit, None, Form::new("/farms", "find", page.say("find")).question().field(find));
    leaf.add(Block::Links(vec![
        Link::to("/farms/new", page.say("register-title")),
        Link::to("/texts", page.say("texts-title")),
    ]));
    if farms.is_empty() {
        leaf.text("farms-none");
    }
    let item = |farm: &FoundFarm| {
        let area = areas.get(&farm.area.to_string()).to_owned();
        let place = farm.place.clone();
        Item {
            title: format!("{} · {}", farm.name, farm.code),
            href: Some(format!("/farms/{}", farm.farm)),
            mark: farm.started_on.is_none().then(|| page.say("not-started")),
            lines: vec![std::iter::once(area).chain(place).collect::<Vec<_>>().join(" · ")],
            links: farm.phone.as_deref().map(Link::telephone).into_iter().collect(),
            ..Item::default()
        }
    };
    leaf.add(Block::List(farms.iter().map(item).collect()));
    if is_more {
        let next = (skip + ON_PAGE).to_string();
        let to = format!("/farms?{}", query(&[("q", &asked), ("skip", &next)]));
        leaf.add(Block::Links(vec![Link::to(to, page.say("more"))]));
    }
    leaf.show()
}

/// What the glance is made of.
struct Glance {
    farm: Json,
    member: Json,
    groups: Vec<Json>,
    sheds: Vec<Json>,
    /// Those that are not over.
    batches: Vec<Json>,
    work: Option<FarmWork>,
}

async fn read(visit: &Visit, farm_id: Uuid) -> Result<Glance, AppError> {
    let farm = one(visit, Kind::Farm, farm_id).await?;
    let member = one(visit, Kind::Member, id(&farm, "member_id").unwrap_or_default()).await?;
    let of = [("farm_id", farm_id.to_string())];
    let groups = list(visit, Kind::AnimalGroup, &of).await?;
    let sheds = list(visit, Kind::Shed, &of).await?;
    let batches = growing(visit, text(&farm, "id")).await?;
    let asked = WorkQuery { farm_id: Some(farm_id.to_string()), ..WorkQuery::default() };
    let work = visit.state.app.work(visit.actor()?, &asked).await?.farms.into_iter().next();
    Ok(Glance { farm, member, groups, sheds, batches, work })
}

/// One farm at a glance.
pub(crate) async fn show_farm(visit: Visit) -> Shown {
    let farm_id = visit.id("id")?;
    let glance = read(&visit, farm_id).await?;
    let (page, actor) = (visit.page(), visit.actor()?);
    let code = text(&glance.farm, "code");
    let title = format!("{code} · {}", text(&glance.member, "name"));
    let is_own = actor.role == Role::Member;
    let mut leaf = Leaf::new(page.clone(), if is_own { code } else { title.as_str() });
    if !is_own {
        leaf = leaf.back("/farms", page.say("nav-farms"));
    }
    leaf.saved(&visit);
    let phone = text(&glance.member, "phone");
    if !is_own && !phone.is_empty() {
        leaf.add(Block::Links(vec![Link::telephone(phone)]));
    }
    if !is_own {
        reasons(&visit, &page, &mut leaf, farm_id).await?;
        leaf.add(Block::Links(vec![
            Link::to(format!("/farms/{farm_id}/visit"), page.say("log-visit")),
            Link::to(format!("/today?farm_id={farm_id}"), page.say("nav-today")),
        ]));
    }
    leaf.add(Block::Facts(facts(&page, &glance, &areas(&visit).await?)));
    if let Some(work) = &glance.work {
        leaf.add(Block::Text(work_line(&page, work)));
        for lot in &work.held_lots {
            leaf.add(Block::Caution(page.with("lot-held", "lot", lot.as_str())));
        }
    }
    for batch in &glance.batches {
        for caution in batches::cautions(&page, batch) {
            leaf.add(Block::Caution(format!("{}: {caution}", by_code(&page, batch))));
        }
    }
    for shed in &glance.sheds {
        leaf.add(Block::Heading(
            page.with("shelf-title", "shed", text(shed, "code")),
            format!("shed-{}", text(shed, "id")),
        ));
        match shelf(&page, &glance, shed) {
            Some(chart) => leaf.add(Block::Chart(chart)),
            None => leaf.text("shelf-empty"),
        };
    }
    estimates(&visit, &page, &mut leaf, farm_id).await?;
    visits(&visit, &page, &mut leaf, farm_id).await?;
    leaf.add(Block::Links(links(&page, farm_id)));
    let member = id(&glance.farm, "member_id").filter(|_| actor.task(Task::PersonalCopy).is_ok());
    if let Some(member) = member {
        leaf.add(Block::Links(vec![Link::to(
            format!("/members/{member}/held"),
            page.say("held-link"),
        )]));
    }
    leaf.show()
}

fn links(page: &Page, farm: Uuid) -> Vec<Link> {
    vec![
        Link::to(format!("/batches?farm={farm}"), page.say("nav-batches")),
        Link::to(format!("/result?farm={farm}"), page.say("farm-result")),
        Link::to(format!("/account?farm={farm}"), page.say("nav-account")),
        Link::to(format!("/farms/{farm}/batch"), page.say("batch-start")),
        Link::to(format!("/farms/{farm}/plan"), page.say("plan-title")),
        Link::to(format!("/farms/{farm}/book"), page.say("book-link")),
        Link::to(format!("/farms/{farm}/sheds"), page.say("sheds-title")),
        Link::to(format!("/farms/{farm}/visits"), page.say("visits-planned")),
        Link::to(format!("/farms/{farm}/sheet"), page.say("sheet-print")),
        Link::to(format!("/farms/{farm}/calendar"), page.say("calendar-title")),
        Link::to(format!("/farms/{farm}/animals"), page.say("animals-title")),
        Link::to(format!("/farms/{farm}/labels"), page.say("labels-title")),
    ]
}

async fn areas(visit: &Visit) -> Result<Names, AppError> {
    Names::of(visit, Kind::Area, "name", &[]).await
}

/// Why to visit. What was agreed on and not done has a list of its own further down.
async fn reasons(visit: &Visit, page: &Page, leaf: &mut Leaf, farm: Uuid) -> Result<(), AppError> {
    let found = visit.state.app.visit_reasons(visit.actor()?, farm).await?;
    let said = found.iter().flat_map(|f| &f.reasons);
    for why in said.filter(|why| why.reason != VisitReason::FollowUpOverdue) {
        let is_flag = why.reason == VisitReason::Flag;
        let why = reason(page, why);
        leaf.add(if is_flag { Block::Caution(why) } else { Block::Text(why) });
    }
    Ok(())
}

fn facts(page: &Page, glance: &Glance, areas: &Names) -> Vec<(String, String)> {
    let (farm, member) = (&glance.farm, &glance.member);
    let mut facts = vec![
        (page.say("area"), areas.of_member(farm, "area_id")),
        (page.say("place"), text(farm, "place").to_owned()),
        (page.say("member-number"), text(member, "number").to_owned()),
        (page.say("speaks"), page.word("language-name", text(member, "language"))),
    ];
    let started = match farm["fodder_started_on"].is_null() {
        true => page.say("not-started"),
        false => page.day(&farm["fodder_started_on"]),
    };
    facts.push((page.say("started-on"), started));
    let classes = glance.groups.iter();
    let classes = classes
        .map(|g| format!("{} ({})", text(g, "code"), page.word("class", text(g, "animal_class"))));
    facts.push((page.say("animals"), classes.collect::<Vec<_>>().join(", ")));
    if let Some(seed) = glance.work.as_ref().map(|w| &w.seed) {
        let text = match (&seed.on_farm_kg, seed.days_left) {
            (Some(kg), Some(days)) => {
                page.tell("seed-kg-days", &[("kg", kg.to_string().into()), ("days", days.into())])
            }
            (Some(kg), None) => page.with("count-kg", "kg", kg.to_string()),
            (None, _) => page.say("not-known"),
        };
        facts.push((page.say("seed-on-the-farm"), text));
    }
    facts.retain(|(_, value)| !value.is_empty());
    facts
}

fn work_line(page: &Page, work: &FarmWork) -> String {
    let count = |state: WorkState| work.lines.iter().filter(|l| l.state == state).count();
    let args = [
        ("late", count(WorkState::Late).into()),
        ("open", count(WorkState::Open).into()),
        ("done", count(WorkState::Done).into()),
    ];
    page.tell("work-of-today", &args)
}

/// Stages in which trays stand on a shelf, the one that asks for most last.
const STAGES: [&str; 3] = ["on_trays", "ready", "overdue"];

/// Batches on the shelves of a shed, with their trays.
fn standing<'a>(glance: &'a Glance, shed: &'a Json) -> impl Iterator<Item = (&'a Json, u32)> {
    let here = glance.batches.iter().filter(|b| text(b, "shed_id") == text(shed, "id"));
    here.filter(|b| STAGES.contains(&text(b, "stage"))).filter_map(|batch| {
        let count = |member: &str| batch[member].as_i64().unwrap_or(0);
        let standing = count("trays_spread") - count("trays_harvested") - count("trays_discarded");
        Some((batch, u32::try_from(standing).ok()?))
    })
}

fn places(shed: &Json) -> Option<u32> {
    shed["tray_places"].as_i64().and_then(|p| u32::try_from(p).ok())
}

/// The most trays or places of a shed of the farm: their charts stand below each other and have
/// one scale.
fn most(glance: &Glance) -> u32 {
    let of = |shed: &Json| {
        let trays: u32 = standing(glance, shed).map(|(_, trays)| trays).sum();
        trays.max(places(shed).unwrap_or(0))
    };
    glance.sheds.iter().map(of).max().unwrap_or(0)
}

/// Trays on the shelves of a shed by age.
fn shelf(page: &Page, glance: &Glance, shed: &Json) -> Option<String> {
    let mut by_age: BTreeMap<i64, (u32, &str)> = BTreeMap::new();
    for (batch, standing) in standing(glance, shed) {
        let age = batch["age_days"].as_i64().unwrap_or(0);
        let stage = text(batch, "stage");
        let (trays, asks_most) = by_age.entry(age).or_insert((0, stage));
        *trays += standing;
        // Of several batches of one age, the stage that asks for most stands for the day.
        let urgency = |stage: &str| STAGES.iter().position(|s| *s == stage);
        if urgency(stage) > urgency(asks_most) {
            *asks_most = stage;
        }
    }
    let total: u32 = by_age.values().map(|(trays, _)| trays).sum();
    let places = places(shed);
    let over = places.map_or(0, |places| total.saturating_sub(places));
    let ages =
        by_age.into_iter().filter(|(_, (trays, _))| *trays > 0).map(|(age, (trays, stage))| {
            let key = if stage == "overdue" { "age-days-over" } else { "age-days" };
            ShelfAge { label: page.with(key, "days", age), trays, ready: stage == "ready" }
        });
    charts::shelf(&Shelf {
        words: Words {
            id: format!("shelf-{}", text(shed, "code")),
            title: page.with("shelf-title", "shed", text(shed, "code")),
            description: page.say("shelf-text"),
        },
        total_label: page.say("all-trays"),
        places,
        places_label: page.with("shelf-places", "places", places.map_or(0, i64::from)),
        over_label: if over > 0 {
            page.with("shelf-over", "trays", i64::from(over))
        } else {
            String::new()
        },
        ready_label: page.say("shelf-ready"),
        most: most(glance),
        ages: ages.collect(),
    })
}

/// What the estimates say.
async fn estimates(
    visit: &Visit,
    page: &Page,
    leaf: &mut Leaf,
    farm: Uuid,
) -> Result<(), AppError> {
    leaf.heading("estimates-title");
    for (enterprise, change) in changes(visit, farm).await? {
        leaf.add(Block::Text(output_sentence(page, enterprise, &change)));
    }
    match visit.state.app.farm_spoilage(visit.actor()?, farm).await {
        Ok(spoiling) => {
            leaf.add(Block::Text(losses::sentence(page, &spoiling.farm.figures)));
            losses::counted(page, leaf, &spoiling.farm.figures);
            leaf.add(Block::Text(page.figures_of(spoiling.as_of)));
            let to = format!("/spoilage/{farm}");
            leaf.add(Block::Links(vec![Link::to(to, page.say("see-evidence"))]));
            losses::of_farm(visit, page, leaf, farm).await?;
        }
        Err(AppError::NotFound) => drop(leaf.text("spoilage-none")),
        Err(other) => return Err(other),
    }
    Ok(())
}

/// More make the page longer than six screens of a telephone where much stands on it.
const VISITS_SHOWN: &str = "1";

/// The last visit with what was advised, and what is still to be done.
async fn visits(visit: &Visit, page: &Page, leaf: &mut Leaf, farm: Uuid) -> Result<(), AppError> {
    let of = [("farm_id", farm.to_string()), ("limit", VISITS_SHOWN.to_owned())];
    let visits = list(visit, Kind::Visit, &of).await?;
    let follow = list(visit, Kind::FollowUp, &[("farm_id", farm.to_string())]).await?;
    let open: Vec<&Json> = follow.iter().filter(|f| f["outcome"].is_null()).collect();
    if !open.is_empty() {
        leaf.heading("follow-ups-open");
        let item = |f: &&Json| Item {
            title: text(f, "action").to_owned(),
            href: Some(format!("/follow-ups/{}", text(f, "id"))),
            lines: vec![page.with("due-on", "date", page.day(&f["due_on"]))],
            ..Item::default()
        };
        leaf.add(Block::List(open.iter().map(item).collect()));
    }
    for plan in plans_to_come(visit, Some(farm)).await? {
        let line = page.with("visit-planned", "date", page.date(plan.value.planned_on));
        leaf.add(Block::Lead(line));
    }
    leaf.heading("visits-last");
    if visits.is_empty() {
        leaf.text("never-visited");
    }
    let item = |v: &Json| {
        let mut lines = Vec::new();
        for (key, member) in [("visit-note", "note"), ("visit-advice", "advice")] {
            let said = text(v, member);
            lines.extend((!said.is_empty()).then(|| page.with(key, "text", said)));
        }
        Item {
            title: page.day(&v["started_at"]),
            href: Some(format!("/visits/{}", text(v, "id"))),
            lines,
            ..Item::default()
        }
    };
    leaf.add(Block::List(visits.iter().map(item).collect()));
    Ok(())
}

/// Visits that are planned for today or later, the next one first.
pub(crate) async fn plans_to_come(
    visit: &Visit,
    farm: Option<Uuid>,
) -> Result<Vec<Row<VisitPlan>>, AppError> {
    let today = visit.actor()?.coop.today(visit.state.app.now());
    let mut asked = vec![("from", today.to_string())];
    asked.extend(farm.map(|id| ("farm_id", id.to_string())));
    let mut plans = rows::<VisitPlan>(visit, &asked).await?.items;
    plans.sort_by_key(|p| p.value.planned_on);
    Ok(plans)
}

/// The work of the coming week on paper, for a member without a phone.
pub(crate) async fn show_sheet(visit: Visit) -> Shown {
    let query = WorkQuery { farm_id: Some(visit.id("id")?.to_string()), ..WorkQuery::default() };
    let (app, words) = (&visit.state.app, work_words::Words(visit.language));
    let days = Some(SHEET_DAYS.to_owned());
    let body = app.work_sheet(visit.actor()?, &query, days, SheetForm::Html, &words).await?;
    Ok(crate::api::planning::printed(body))
}

/// Days on the sheet.
const SHEET_DAYS: &str = "7";

/// The plan of a farm: trays, places, seed and water a day, and how the shelf fills.
pub(crate) async fn show_plan(visit: Visit) -> Shown {
    let farm_id = visit.id("id")?;
    let (page, actor) = (visit.page(), visit.actor()?);
    let days = visit.field("days").unwrap_or("21").to_owned();
    let plan = visit.state.app.farm_plan(actor, farm_id, Some(days), None).await?;
    let mut leaf = Leaf::new(page.clone(), page.with("plan-of", "farm", plan.farm.as_str()))
        .back(format!("/farms/{farm_id}"), plan.farm.as_str());
    leaf.saved(&visit);
    let steady = &plan.steady_state;
    let facts = [
        ("trays-a-day", shown(&steady.trays_a_day, 0)),
        ("places-needed", shown(&steady.places, 0)),
        ("seed-kg-a-day", shown(&steady.seed_kg_a_day, 2)),
        ("seed-kg-in-30-days", shown(&steady.seed_kg_in_30_days, 0)),
        ("fresh-kg-a-day", shown(&steady.fresh_kg_a_day, 1)),
        ("water-litres-a-day", shown(&steady.water_litres_a_day, 0)),
        ("work-minutes-a-day", shown(&steady.work_minutes_a_day, 0)),
    ];
    leaf.add(Block::Facts(facts.map(|(key, value)| (page.say(key), value)).into()));
    if plan.groups.iter().any(|g| g.animals_per_tray_is_derived) {
        leaf.text("plan-derived");
    }
    for shed in &plan.sheds {
        let missing = shed.places_missing;
        let args = [
            ("shed", shed.shed.as_str().into()),
            ("places", counted(&shed.places, 0)),
            ("missing", missing.into()),
            ("spare", shown(&shed.places_spare, 0).into()),
        ];
        let line = page.tell(if missing > 0 { "shed-too-small" } else { "shed-spare" }, &args);
        leaf.add(if missing > 0 { Block::Caution(line) } else { Block::Text(line) });
    }
    if let Some(day) = first_feed(&plan) {
        leaf.add(Block::Lead(page.with("first-feed", "date", page.date(day))));
    }
    leaf.add(Block::Table(schedule(&page, &plan)));
    leaf.add(Block::Caution(page.say("caution-rations")));
    leaf.show()
}

/// The first day with feed, of a farm that has none yet.
fn first_feed(plan: &FarmPlan) -> Option<NaiveDate> {
    let fed = |day: &PlanDay| {
        day.feeding.iter().any(|f| f.growing_kg.units > 0 || f.planned_kg.units > 0)
    };
    let first = plan.schedule.iter().position(fed).filter(|at| *at > 0)?;
    plan.schedule.get(first).map(|day| day.day)
}

fn schedule(page: &Page, plan: &FarmPlan) -> Table {
    let kg = |grams: i64| figure(Decimal::kg(grams).number().unwrap_or_default(), 1);
    let mut rows = Vec::new();
    for day in &plan.schedule {
        let soak = |s: &PlannedSoak| {
            let args = [
                ("kg", shown(&s.kg, 2).into()),
                ("crop", page.crop(s.crop.as_deref().unwrap_or_default()).into()),
                ("trays", s.trays.into()),
                ("group", s.animal_group.clone().unwrap_or_default().into()),
            ];
            let line = page.tell("plan-soak", &args);
            match s.soak.as_ref().and_then(|soak| soak_why(page.language, soak)) {
                Some(why) => format!("{line} ({why})"),
                None => line,
            }
        };
        let soaks: Vec<String> = day.soaks.iter().map(soak).collect();
        let sum = |of: fn(&PlannedFeed) -> Decimal| -> i64 {
            day.feeding.iter().map(|f| of(f).units).sum()
        };
        let (need, short) = (sum(|f| f.need_kg), sum(|f| f.short_kg));
        let places: i64 = day.places_taken.iter().sum();
        rows.push(vec![
            page.date(day.day).into(),
            soaks.join("; ").into(),
            places.to_string().into(),
            kg(need - short).into(),
            kg(short).into(),
        ]);
    }
    Table {
        caption: page.say("plan-days"),
        columns: vec![
            Column::text(page.say("day")),
            Column::text(page.say("to-soak")),
            Column::number(page.say("places-taken")),
            Column::number(page.say("feed-kg")),
            Column::number(page.say("short-kg")),
        ],
        rows,
        total: None,
    }
}

/// The name of a batch with its stage, for lists to choose from.
pub(crate) fn batch_option(page: &Page, batch: &Json) -> (String, String) {
    let stage = page.word("stage", text(batch, "stage"));
    (text(batch, "id").to_owned(), format!("{} · {stage}", by_code(page, batch)))
}
