//! Today's work, one tap a line.

use super::blocks::Link;
use super::called::OwnWork;
use super::echo::{Echo, saved, saved_record};
use super::farms::one;
use super::forms::put;
use super::page::{Page, clock};
use super::site::{Shown, go, query, show};
use super::visit::Visit;
use crate::work_words::{about_kg, caution, open_why, task};
use actix_web::http::StatusCode;
use askama::Template;
use serde_json::{Map, Value as Json, json};
use traybook_answers::Decimal;
use traybook_answers::planning::work::{FarmWork, WorkKind, WorkLine, WorkState, WorkTask};
use traybook_app::{Actor, App, AppError};
use traybook_domain::kinds::{LOSS_CAUSES, MOULD_CAUTION};
use traybook_domain::people::authz::Role;
use traybook_domain::records::written::clear;
use traybook_domain::time::{format_instant, local_date};
use traybook_domain::value::Instant;
use traybook_domain::{FieldError, Kind};
use uuid::Uuid;

/// Farms on one page: more would be more than a few screens of a phone.
const FARMS_MAX: usize = 6;
/// Farms up to which all lines are shown, each with a form for trays that spoiled: of many farms
/// these would be most of the page.
const FEW: usize = 2;
/// Lines of each of many farms: the most pressing; the others are on the farm's own list.
const LINES_EACH: usize = 1;

#[derive(Template)]
#[template(path = "today.html")]
struct TodayPage {
    page: Page,
    heading: String,
    error: Option<String>,
    echo: Option<Echo>,
    farms: Vec<FarmView>,
    causes: Vec<(&'static str, String)>,
    more: Option<String>,
    /// Whether the person has a round, which lists all farms.
    has_round: bool,
    /// The one farm that the page is about; empty for all.
    only: String,
}

struct FarmView {
    id: String,
    name: String,
    shows_name: bool,
    warnings: Vec<String>,
    is_done: bool,
    lines: Vec<LineView>,
    /// Where the other lines are.
    rest: Option<Link>,
    seed: Option<String>,
}

struct LineView {
    key: String,
    state: &'static str,
    label: String,
    what: String,
    about: String,
    cautions: Vec<String>,
    can_be_done: bool,
    asks_kg: bool,
    asks_cause: bool,
    asks_reason: bool,
    /// The batch of which trays can be written off from this line, with the id of that event.
    spoils: Option<(String, String)>,
    cause: &'static str,
    /// What a phone sends along when the line is kept there, as the query of an address.
    along: String,
}

pub(super) async fn show_today(visit: Visit) -> Shown {
    page(&visit, None, StatusCode::OK).await
}

/// Records a line, or trays that spoiled, and shows the page again.
pub(super) async fn record(visit: Visit) -> Shown {
    let saved = match visit.field("batch_id") {
        Some(batch) => spoiled(&visit, batch).await,
        None => line_done(&visit).await,
    };
    match saved {
        Ok(saved) => {
            let farm = visit.field("farm").filter(|f| f.len() == 36).unwrap_or_default();
            let only = visit.field("only").filter(|f| f.len() == 36);
            let only = only.map(|f| format!("farm_id={f}&")).unwrap_or_default();
            Ok(go(&format!("/today?{only}{saved}#{farm}")))
        }
        Err(error) if visit.from_phone => Err(error),
        Err(error) => {
            let (words, status) = visit.page().in_one_line(error)?;
            page(&visit, Some(words), status).await
        }
    }
}

/// Trays that spoiled, thrown away now or when the phone says.
async fn spoiled(visit: &Visit, batch: &str) -> Result<String, AppError> {
    let actor = visit.actor()?;
    let mut body = visit.record(Kind::BatchEvent, &["trays", "cause"]);
    check_standing(visit, batch, body.get("trays").and_then(Json::as_i64)).await?;
    let at = visit.field("at").map_or_else(|| format_instant(visit.state.app.now()), str::to_owned);
    let members = [("event", json!("discarded")), ("at", json!(at)), ("batch_id", json!(batch))];
    put(&mut body, members);
    put(&mut body, [("id", json!(visit.form_id("id")?))]);
    if visit.field("cause") == Some("mould") {
        put(&mut body, [("mould_seen", json!(true))]);
    }
    let done = visit.state.app.create(actor, Kind::BatchEvent, body).await?;
    Ok(saved_record(Kind::BatchEvent, &done.json))
}

/// A batch loses no more trays than stand of it. A form that came before is no news.
async fn check_standing(visit: &Visit, batch: &str, trays: Option<i64>) -> Result<(), AppError> {
    let id = Uuid::try_parse(batch).ok().ok_or(AppError::NotFound)?;
    let batch = one(visit, Kind::Batch, id).await?;
    let count = |name: &str| batch[name].as_i64().unwrap_or(0);
    let spread = count("trays_spread");
    let standing = spread - count("trays_harvested") - count("trays_discarded");
    let event = visit.form_id("id")?;
    let is_new = || async { one(visit, Kind::BatchEvent, event).await.is_err() };
    if spread > 0 && trays.is_some_and(|t| t > standing) && is_new().await {
        let detail = format!("{standing} trays of this batch stand: give at most so many");
        let error = FieldError::new("trays", "beyond_standing", detail);
        return Err(AppError::Invalid(vec![error.naming("standing", standing)]));
    }
    Ok(())
}

/// The line as done; what the page that follows says of it.
async fn line_done(visit: &Visit) -> Result<String, AppError> {
    let actor = visit.actor()?;
    let mut body = Map::new();
    // A phone that was without signal sends the time and the line's figures along.
    for name in ["line", "cause", "reason", "at", "crop", "shed_id"] {
        if let Some(value) = visit.field(name) {
            body.insert(name.to_owned(), json!(value));
        }
    }
    body.extend(visit.record(Kind::BatchEvent, &["kg", "trays"]));
    let done = visit.state.app.record_work(actor, body).await?;
    // Of a soak the event says kg and day; the batch before it only where it grows.
    Ok(done.work.records.last().map_or_else(String::new, |r| saved(kind_of(r.kind), r.id)))
}

const fn kind_of(kind: WorkKind) -> Kind {
    match kind {
        WorkKind::Batch => Kind::Batch,
        WorkKind::BatchEvent => Kind::BatchEvent,
        WorkKind::WorkRecord => Kind::WorkRecord,
    }
}

async fn page(visit: &Visit, error: Option<String>, status: StatusCode) -> Shown {
    let actor = visit.actor()?;
    let only = visit.field("only").or(visit.field("farm_id")).map(str::to_owned);
    let app = &visit.state.app;
    let (work, left) = app.pressing_work(actor, only.clone(), FARMS_MAX).await?;
    let page = visit.page();
    let shows_name = actor.role != Role::Member;
    let own = OwnWork::of(visit).await?;
    let is_few = work.farms.len() <= FEW;
    let view = View { page: &page, actor, app, today: work.today, own, is_few };
    let farms = work.farms.iter().map(|f| view.farm(f, shows_name)).collect();
    let heading = page.with("today-title", "date", page.date(work.today));
    let more = (left > 0).then(|| page.with("more-farms", "count", left));
    let causes =
        LOSS_CAUSES.iter().map(|c| (*c, page.say(&format!("cause-{c}")))).collect::<Vec<_>>();
    let only = only.unwrap_or_default();
    let echo = visit.echo.clone();
    let has_round = shows_name;
    show(&TodayPage { page, heading, error, echo, farms, causes, more, has_round, only }, status)
}

struct View<'a> {
    page: &'a Page,
    actor: &'a Actor,
    app: &'a App,
    today: chrono::NaiveDate,
    /// The words of the member whose work it is.
    own: Option<OwnWork>,
    /// Whether all lines are shown, with a form for trays that spoiled.
    is_few: bool,
}

fn text(kg: Option<Decimal>) -> String {
    kg.map(|kg| kg.to_string()).unwrap_or_default()
}

/// The figures of a line that recording needs when the line is no longer on the list.
fn along(line: &WorkLine) -> String {
    let trays = line.trays.map(|t| t.to_string()).unwrap_or_default();
    let kg = clear(&text(line.kg));
    let shed = line.shed_id.map(|s| s.to_string()).unwrap_or_default();
    let pairs = match line.task {
        WorkTask::Soak => {
            let crop = line.crop.clone().unwrap_or_default();
            vec![("kg", kg), ("crop", crop), ("shed_id", shed)]
        }
        WorkTask::Feed => vec![("kg", kg)],
        WorkTask::Drain => Vec::new(),
        WorkTask::Spread
        | WorkTask::Water
        | WorkTask::Clean
        | WorkTask::Harvest
        | WorkTask::Discard => vec![("trays", trays)],
    };
    let pairs: Vec<(&str, &str)> =
        pairs.iter().filter(|(_, v)| !v.is_empty()).map(|(n, v)| (*n, v.as_str())).collect();
    query(&pairs)
}

impl View<'_> {
    fn farm(&self, farm: &FarmWork, shows_name: bool) -> FarmView {
        let page = self.page;
        let mut warnings: Vec<String> = farm
            .held_lots
            .iter()
            .map(|lot| page.tell("lot-held", &[("lot", lot.as_str().into())]))
            .collect();
        for note in &farm.feeding {
            let short = note.reason.is_some();
            let kg = if short { &note.short_kg } else { &note.surplus_kg };
            let code = note.animal_group.as_str();
            let group = self.own.as_ref().map(|own| own.group(note.animal_group_id, code));
            let args = [
                ("group", group.unwrap_or_else(|| code.to_owned()).into()),
                ("kg", about_kg(*kg).to_string().into()),
            ];
            warnings.push(page.tell(if short { "short" } else { "surplus" }, &args));
        }
        let seed = match (&farm.seed.on_farm_kg, farm.seed.days_left) {
            (Some(_), Some(days)) => Some(page.tell("lasts-days", &[("days", days.into())])),
            (Some(kg), None) => Some(page.tell("seed-on-farm", &[("kg", kg.to_string().into())])),
            (None, _) => None,
        };
        let all = || farm.lines.iter();
        let shown: Vec<&WorkLine> = if self.is_few {
            all().collect()
        } else {
            all().filter(|l| l.state != WorkState::Done).take(LINES_EACH).collect()
        };
        let left = farm.lines.len() - shown.len();
        FarmView {
            id: farm.farm_id.to_string(),
            name: format!("{} · {}", farm.farm, farm.member_name),
            shows_name,
            warnings,
            is_done: !farm.lines.is_empty()
                && farm.lines.iter().all(|l| l.state == WorkState::Done),
            lines: shown.iter().map(|l| self.line(l)).collect(),
            rest: (left > 0).then(|| {
                let id = farm.farm_id.to_string();
                let to = query(&[("farm_id", &id)]);
                Link::to(format!("/today?{to}"), page.with("more-lines", "count", left))
            }),
            seed: seed.filter(|_| self.is_few),
        }
    }

    fn line(&self, line: &WorkLine) -> LineView {
        let page = self.page;
        let is_done = line.state == WorkState::Done;
        let cautions = line.cautions.iter().map(|text| caution(page.language, text)).collect();
        let is_mouldy = line.warns(MOULD_CAUTION);
        LineView {
            key: line.line.clone(),
            state: line.state.text(),
            label: match line.state {
                WorkState::Late => page.say("late"),
                WorkState::Done => page.say("done"),
                WorkState::Open => String::new(),
            },
            what: match &self.own {
                Some(own) => task(page.language, &own.line(page, line), |day| page.date(day)),
                None => task(page.language, line, |day| page.date(day)),
            },
            about: self.about(line),
            cautions,
            can_be_done: !is_done,
            // What was harvested without being weighed is thrown away by weight.
            asks_kg: line.task == WorkTask::Harvest
                || (line.task == WorkTask::Discard
                    && line.harvested_on.is_some()
                    && line.kg.is_none()),
            asks_cause: line.task == WorkTask::Discard,
            spoils: self.spoils(line),
            asks_reason: line.task == WorkTask::Feed && !line.cautions.is_empty(),
            cause: if is_mouldy { "mould" } else { "left_too_long" },
            along: along(line),
        }
    }

    /// Trays can spoil while a batch grows: after soaking, until it is cut.
    fn spoils(&self, line: &WorkLine) -> Option<(String, String)> {
        let grows = matches!(line.task, WorkTask::Spread | WorkTask::Water | WorkTask::Harvest);
        let grows = grows && self.is_few && line.harvested_on.is_none();
        let batch = line.batch_id.filter(|_| grows)?;
        Some((batch.to_string(), self.new_id()?))
    }

    /// The id of an event that a form may make.
    fn new_id(&self) -> Option<String> {
        self.app.new_id().ok().map(|id| id.to_string())
    }

    fn about(&self, line: &WorkLine) -> String {
        let page = self.page;
        let mut parts = Vec::new();
        let zone = self.actor.coop.zone;
        let time = |at: Instant| clock(at, zone);
        match (line.state, line.done_at) {
            (WorkState::Done, Some(at)) => {
                parts.push(page.tell("done-at", &[("time", time(at.0).into())]));
            }
            (WorkState::Late, _) => {
                let days = (self.today - local_date(line.due_at.0, zone)).num_days();
                let why = if days > 0 {
                    page.tell("why-due", &[("days", days.into())])
                } else {
                    page.say("why-passed")
                };
                parts.push(why);
            }
            _ => parts.push(page.tell("due-at", &[("time", time(line.due_at.0).into())])),
        }
        let tell = |key: &str, name: &'static str, value: &Option<String>| {
            value.as_ref().map(|v| page.tell(key, &[(name, v.as_str().into())]))
        };
        if line.state == WorkState::Open {
            parts.extend(open_why(page.language, line));
        }
        if line.task == WorkTask::Harvest && line.state != WorkState::Done && line.kg.is_some() {
            parts.push(page.tell("task-harvest-kg", &[("kg", text(line.kg.map(about_kg)).into())]));
        }
        if line.task == WorkTask::Soak {
            parts.extend(tell("task-soak-lot", "lot", &line.seed_lot));
            let on = line.feed_on.map(|d| page.date(d));
            parts.extend(tell("feed-on", "date", &on));
        }
        let own = self.own.as_ref();
        let batch = own.and_then(|own| own.batch(line));
        parts.extend(batch.or_else(|| tell("batch", "code", &line.batch)));
        let shed = own.and_then(|own| own.shed(page, line));
        parts.extend(shed.or_else(|| tell("shed", "code", &line.shed)));
        parts.join(" · ")
    }
}
