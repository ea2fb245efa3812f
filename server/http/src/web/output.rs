//! Milk and eggs of today, two fields a group.

use super::farms::{list, text};
use super::forms::version;
use super::page::{Page, counted, shown};
use super::site::{Shown, go, show};
use super::visit::{Visit, number};
use actix_web::http::StatusCode;
use askama::Template;
use serde_json::{Map, Value as Json, json};
use traybook_app::AppError;
use traybook_app::records::Query;
use traybook_domain::time::parse_date;
use traybook_domain::{Kind, kinds};

#[derive(Template)]
#[template(path = "output.html")]
struct OutputPage {
    page: Page,
    saved: bool,
    error: Option<String>,
    groups: Vec<GroupView>,
}

struct GroupView {
    id: String,
    /// What was recorded last: day and amount, and where it is taken back.
    recent: Vec<RecentView>,
    day: String,
    record: String,
    amount_label: String,
    animals_label: String,
    amount: String,
    animals: String,
    /// Days in milk or age of the flock, asked once a month.
    stage: Option<StageView>,
}

struct StageView {
    label: String,
    hint: String,
    /// What the last answer has become by today.
    value: String,
}

struct RecentView {
    id: String,
    kind: &'static str,
    version: String,
    words: String,
}

/// Records of a group that the page lists.
const RECENT: usize = 5;
/// Records of a group that are read, to find the stage that was given last.
const READ: &str = "50";
/// Days after which a stage is asked anew without a guess.
const STAGE_DAYS_MAX: i64 = 120;

/// The page.
pub(super) async fn show_output(visit: Visit) -> Shown {
    let saved = visit.field("saved").is_some();
    page(&visit, saved, None, StatusCode::OK).await
}

/// Records a group's milk or eggs of today.
pub(super) async fn record(visit: Visit) -> Shown {
    let actor = visit.actor()?;
    let app = &visit.state.app;
    let given = |name: &str| visit.field(name).unwrap_or_default().to_owned();
    let group = groups(&visit).await?.into_iter().find(|g| g["id"] == json!(given("group")));
    let group = group.ok_or(AppError::NotFound)?;
    // A phone that was without signal says which day it was.
    let day = visit.field("date").map(str::to_owned);
    let today = day.unwrap_or_else(|| actor.coop.today(app.now()).to_string());
    let mut body = Map::new();
    let mut put = |name: &str, value: Json| drop(body.insert(name.to_owned(), value));
    put("id", json!(given("id")));
    put("animal_group_id", group["id"].clone());
    put("date", json!(today));
    let stage = given("stage");
    if !stage.trim().is_empty() {
        put(stage_member(&group), number(&stage));
    }
    let kind = if gives_milk(&group) {
        put("session", json!("day"));
        put("litres", number(&given("amount")));
        put("animals_in_milk", number(&given("animals")));
        Kind::MilkRecord
    } else {
        put("eggs", number(&given("amount")));
        put("hens_present", number(&given("animals")));
        Kind::EggRecord
    };
    match app.create(actor, kind, body).await {
        Ok(_) => Ok(go("/output?saved=1")),
        Err(error) if visit.from_phone => Err(error),
        Err(error) => {
            let (words, status) = visit.page().in_one_line(error)?;
            page(&visit, false, Some(words), status).await
        }
    }
}

fn gives_milk(group: &Json) -> bool {
    group["animal_class"].as_str().is_some_and(kinds::gives_milk)
}

fn lays_eggs(group: &Json) -> bool {
    group["animal_class"].as_str().is_some_and(kinds::lays_eggs)
}

/// The groups that give milk or eggs, of the person's own farms: a page holds at most 50.
async fn groups(visit: &Visit) -> Result<Vec<Json>, AppError> {
    let query = Query { pairs: Vec::new() };
    let page = visit.state.app.list(visit.actor()?, Kind::AnimalGroup, query).await?;
    Ok(page.items.into_iter().filter(|g| gives_milk(g) || lays_eggs(g)).collect())
}

async fn page(visit: &Visit, saved: bool, error: Option<String>, status: StatusCode) -> Shown {
    let page = visit.page();
    let mut views = Vec::new();
    let sent = |group: &Json, name: &str| match visit.field("group") {
        Some(id) if json!(id) == group["id"] => visit.field(name).unwrap_or_default().to_owned(),
        _ => String::new(),
    };
    let today = visit.actor()?.coop.today(visit.state.app.now()).to_string();
    for group in groups(visit).await? {
        let code = group["code"].as_str().unwrap_or_default();
        let (amount, animals) = match gives_milk(&group) {
            true => ("milk-litres", "milk-cows"),
            false => ("eggs-count", "eggs-hens"),
        };
        let records = records_of(visit, &group).await?;
        let recent = recent(&page, &group, &records);
        let stage = stage(&page, &group, &records, &today, sent(&group, "stage"));
        views.push(GroupView {
            recent,
            day: match sent(&group, "date") {
                day if day.is_empty() => today.clone(),
                day => day,
            },
            id: group["id"].as_str().unwrap_or_default().to_owned(),
            // The same form sent twice is one record.
            record: visit.state.app.new_id()?.to_string(),
            amount_label: page.tell(amount, &[("group", code.into())]),
            animals_label: page.say(animals),
            amount: sent(&group, "amount"),
            animals: sent(&group, "animals"),
            stage,
        });
    }
    show(&OutputPage { page, saved, error, groups: views }, status)
}

fn kind_of(group: &Json) -> Kind {
    if gives_milk(group) { Kind::MilkRecord } else { Kind::EggRecord }
}

fn stage_member(group: &Json) -> &'static str {
    if gives_milk(group) { "mean_days_in_milk" } else { "flock_age_weeks" }
}

/// The last records of a group, the newest first.
async fn records_of(visit: &Visit, group: &Json) -> Result<Vec<Json>, AppError> {
    let of = [("animal_group_id", text(group, "id").to_owned()), ("limit", READ.to_owned())];
    list(visit, kind_of(group), &of).await
}

/// The stage of a group, unless it was given this month. What was given last has grown since.
fn stage(
    page: &Page,
    group: &Json,
    records: &[Json],
    today: &str,
    sent: String,
) -> Option<StageView> {
    let member = stage_member(group);
    let known = records.iter().find(|r| !r[member].is_null());
    let month = today.get(..7).unwrap_or(today);
    if sent.is_empty() && known.is_some_and(|r| text(r, "date").starts_with(month)) {
        return None;
    }
    let name = if gives_milk(group) { "milk" } else { "eggs" };
    let grown = known.and_then(|r| {
        let days = (parse_date(today)? - parse_date(text(r, "date"))?).num_days();
        let (was, a_day) = (r[member].as_i64()?, if gives_milk(group) { 1 } else { 7 });
        (0..=STAGE_DAYS_MAX).contains(&days).then(|| (was + days / a_day).to_string())
    });
    Some(StageView {
        label: page.word("stage", name),
        hint: page.word("stage-hint", name),
        value: if sent.is_empty() { grown.unwrap_or_default() } else { sent },
    })
}

/// What was recorded of a group last, the newest first.
fn recent(page: &Page, group: &Json, records: &[Json]) -> Vec<RecentView> {
    let kind = kind_of(group);
    let (member, key) =
        if gives_milk(group) { ("litres", "milk-recorded") } else { ("eggs", "eggs-recorded") };
    let view = |r: &Json| {
        let args = [("date", page.day(&r["date"]).into()), ("amount", counted(&r[member], 2))];
        RecentView {
            id: text(r, "id").to_owned(),
            kind: kind.spec().one,
            version: shown(&r["version"], 0),
            words: page.tell(key, &args),
        }
    };
    records.iter().take(RECENT).map(view).collect()
}

/// Takes a record of milk or eggs back; it stays in the history.
pub(super) async fn take_back(visit: Visit) -> Shown {
    let (actor, id) = (visit.actor()?, visit.id("id")?);
    let kind = match visit.field("kind") {
        Some("milk_record") => Kind::MilkRecord,
        Some("egg_record") => Kind::EggRecord,
        _ => return Err(AppError::NotFound),
    };
    let reason = visit.page().say("take-back");
    match visit.state.app.withdraw(actor, kind, id, version(&visit)?, Some(reason)).await {
        Ok(()) => Ok(go("/output?saved=1")),
        Err(AppError::Stale { .. }) if !visit.from_phone => {
            let text = visit.page().say("stale-short");
            page(&visit, false, Some(text), StatusCode::PRECONDITION_FAILED).await
        }
        Err(other) => Err(other),
    }
}
