//! Work on paper and in calendars.

use super::board::{self, FarmBoard};
use super::work::{Round, WorkQuery};
use crate::error::AppError;
use crate::{Actor, App};
use chrono::Datelike as _;
use std::collections::BTreeMap;
use std::sync::Arc;
use traybook_answers::planning::work::{
    CalendarLink, CalendarLinks, FarmWork, NewCalendarLink, WorkLine, WorkState,
};
use traybook_answers::wire::Time;
use traybook_domain::limits::SHEET_DAYS_MAX;
use traybook_domain::people::authz::Task as May;
use traybook_domain::time::{local_date, plus_days, to_utc};
use traybook_domain::value::Instant;
use traybook_domain::{Kind, limits};
use traybook_reports::calendar::{Entry, calendar};
use traybook_reports::work_sheet::{self, Page, Row, Sheet, Texts};
use traybook_storage::planning::calendar_links;
use traybook_storage::{Conn, people::logins};
use uuid::Uuid;

pub const CALENDAR_DAYS: u64 = 14;

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SheetForm {
    /// A page to print.
    Html,
    /// One line of work a line.
    Csv,
}

/// How a sheet speaks: the texts of the sheet, and its work in a reader's language.
pub trait SheetWords: Send + Sync {
    /// What the sheet itself says.
    fn texts(&self) -> Texts;
    /// A line of work: what to do, why it is late or moved, the cautions beside it. `today` and
    /// the zone tell for how long it is late.
    fn line(&self, line: &WorkLine, today: chrono::NaiveDate, zone: chrono_tz::Tz) -> Worded;
    /// What to know before the work.
    fn warnings(&self, farm: &FarmWork) -> Vec<String>;
}

/// A line of work in a reader's language.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Worded {
    pub sentence: String,
    /// Why it is late or moved; empty where nothing is to be said.
    pub why: String,
    pub cautions: Vec<String>,
}

/// The style that the page carries, for the policy that lets it apply.
pub const SHEET_STYLE: &str = work_sheet::STYLE;

impl App {
    /// The work of some days as a sheet to print.
    ///
    /// # Errors
    /// As [`App::work`]; `Invalid` for too many days.
    pub async fn work_sheet(
        &self,
        actor: &Actor,
        query: &WorkQuery,
        days: Option<String>,
        form: SheetForm,
        words: &dyn SheetWords,
    ) -> Result<String, AppError> {
        let sheet = self.sheet(actor, query, days, words).await?;
        Ok(match form {
            SheetForm::Html => work_sheet::html(&sheet),
            SheetForm::Csv => work_sheet::csv(&sheet),
        })
    }

    async fn sheet(
        &self,
        actor: &Actor,
        query: &WorkQuery,
        days: Option<String>,
        words: &dyn SheetWords,
    ) -> Result<Sheet, AppError> {
        let count = days.as_deref().map_or(Some(1), |text| text.parse::<u64>().ok());
        let count = count.filter(|n| (1..=SHEET_DAYS_MAX).contains(n)).ok_or_else(|| {
            AppError::field("days", "range", format!("give 1 to {SHEET_DAYS_MAX}"))
        })?;
        let now = self.now();
        let (coop, mut pages) = (&actor.coop, Vec::new());
        let first = self.work(actor, query).await?;
        let date = first.date;
        let mut days = vec![first];
        for later in 1..count {
            let date = Some(plus_days(date, later).to_string());
            days.push(self.work(actor, &WorkQuery { date, ..query.clone() }).await?);
        }
        let texts = words.texts();
        for work in days {
            let weekday = usize::try_from(work.date.weekday().num_days_from_monday()).unwrap_or(0);
            let weekday = texts.weekdays.get(weekday).cloned().unwrap_or_default();
            let page = |farm: FarmWork| Page {
                date: work.date.to_string(),
                weekday: weekday.clone(),
                warnings: words.warnings(&farm),
                area: farm.area.unwrap_or_default(),
                farm: farm.farm,
                member: farm.member_name,
                place: farm.place.unwrap_or_default(),
                rows: farm
                    .lines
                    .into_iter()
                    .map(|line| row(words.line(&line, work.today, coop.zone), line, coop.zone))
                    .collect(),
            };
            pages.extend(work.farms.into_iter().map(page));
        }
        // The days of one farm lie together.
        pages.sort_by(|a, b| (&a.area, &a.farm, &a.date).cmp(&(&b.area, &b.farm, &b.date)));
        let made_at = to_utc(now).with_timezone(&coop.zone).format("%Y-%m-%d %H:%M").to_string();
        Ok(Sheet { texts, cooperative: coop.name.clone(), made_at, pages })
    }

    /// Makes a secret address under which a farm's work can be subscribed to as a calendar. The
    /// secret is told once: none where an address of this id was made before, and so when a form
    /// comes again.
    ///
    /// # Errors
    /// `Forbidden`, `NotFound`; `Conflict` when the farm has many already.
    pub async fn add_calendar_link(
        &self,
        actor: &Actor,
        farm: Uuid,
        id: Uuid,
    ) -> Result<Option<NewCalendarLink>, AppError> {
        let visible = actor.task(May::Work)?;
        let secret = crate::people::within(actor.coop.number, &self.new_secret()?);
        let now = self.now();
        let (coop, person) = (actor.coop.number, actor.person);
        let actor = actor.clone();
        let hash = crate::people::digest(&secret);
        let link = calendar_links::CalendarLink { id, coop, farm, person, made_at: now.0 };
        let is_new = self
            .store
            .change(coop, move |conn| {
                // Two that send the same form wait for each other.
                crate::records::find_visible(conn, &actor, Kind::Farm, farm, &visible)?;
                if calendar_links::is_known(conn, coop, farm, id)? {
                    return Ok(false);
                }
                if calendar_links::of_farm(conn, coop, farm)?.len() >= limits::CALENDAR_LINKS_MAX {
                    let detail = "this farm has as many addresses as it may; revoke one first";
                    return Err(AppError::conflict("too_many", detail));
                }
                calendar_links::add(conn, &hash, &link)?;
                Ok(true)
            })
            .await?;
        Ok(is_new.then(|| NewCalendarLink {
            id,
            farm_id: farm,
            made_by: person,
            made_at: Time(now),
            path: format!("/calendar/{secret}"),
        }))
    }

    /// The addresses of a farm, without their secrets.
    ///
    /// # Errors
    /// `Forbidden`, `NotFound`.
    pub async fn calendar_links(
        &self,
        actor: &Actor,
        farm: Uuid,
    ) -> Result<CalendarLinks, AppError> {
        let visible = actor.task(May::Work)?;
        let actor = actor.clone();
        self.store
            .read(move |conn| {
                crate::records::find_visible(conn, &actor, Kind::Farm, farm, &visible)?;
                let links = calendar_links::of_farm(conn, actor.coop.number, farm)?;
                Ok(CalendarLinks { items: links.iter().map(shown).collect() })
            })
            .await
    }

    /// Revokes an address: the calendar is there no longer.
    ///
    /// # Errors
    /// `Forbidden`, `NotFound`.
    pub async fn revoke_calendar_link(
        &self,
        actor: &Actor,
        farm: Uuid,
        link: Uuid,
    ) -> Result<(), AppError> {
        let visible = actor.task(May::Work)?;
        let (actor, now) = (actor.clone(), self.now());
        self.store
            .write(move |conn| {
                crate::records::find_visible(conn, &actor, Kind::Farm, farm, &visible)?;
                let coop = actor.coop.number;
                match calendar_links::revoke(conn, coop, farm, link, now.0)? {
                    true => Ok(()),
                    false => Err(AppError::NotFound),
                }
            })
            .await
    }

    /// The calendar under a secret address: a fortnight of the farm's work.
    ///
    /// # Errors
    /// `NotFound` for an unknown or revoked secret, and where its maker may no longer see the farm.
    pub async fn calendar(&self, secret: &str) -> Result<String, AppError> {
        let coop = crate::people::coop_in(secret).map_err(hidden)?;
        let hash = crate::people::digest(secret);
        let (app, now) = (self.clone(), self.now());
        self.store.read(move |conn| subscribed(conn, &app, (coop, &hash), now)).await
    }
}

fn shown(link: &calendar_links::CalendarLink) -> CalendarLink {
    CalendarLink {
        id: link.id,
        farm_id: link.farm,
        made_by: link.person,
        made_at: Time(Instant(link.made_at)),
    }
}

fn subscribed(
    conn: &mut Conn,
    app: &App,
    secret: (Option<i64>, &str),
    now: Instant,
) -> Result<String, AppError> {
    let link = calendar_links::find(conn, secret)?.ok_or(AppError::NotFound)?;
    let cooperative = logins::coop_id(conn, link.coop)?.ok_or(AppError::NotFound)?;
    let actor = Actor::load(conn, link.coop, cooperative, link.person).map_err(hidden)?;
    let visible = actor.task(May::Work).map_err(hidden)?;
    let coop = &actor.coop;
    let board = board::today(conn, app, coop, now)?;
    let farm = board.farm(link.farm).map(Arc::clone).ok_or(AppError::NotFound)?;
    if !visible.sees(farm.row.area, farm.row.member) {
        return Err(AppError::NotFound);
    }
    let today = coop.today(now);
    let mut entries: BTreeMap<(i64, String), Entry> = BTreeMap::new();
    for later in 0..CALENDAR_DAYS {
        let date = plus_days(today, later);
        let round = Round::new(conn, (Some(app), coop), Arc::clone(&board), now, date)?;
        if later == 0 {
            let first = warned(&round.farm(&farm, None, None), coop, date);
            entries.extend(first.map(|entry| ((entry.at.0, entry.uid.clone()), entry)));
        }
        for entry in of_day(&round, &farm, coop, date) {
            entries.insert((entry.at.0, entry.uid.clone()), entry);
        }
    }
    let entries: Vec<Entry> = entries.into_values().collect();
    // Dated by the minute, so that a calendar program that asks twice finds nothing new.
    let minute = Instant(now.0 - now.0.rem_euclid(60_000));
    Ok(calendar(&format!("Work of {}", farm.row.code), minute, &entries))
}

/// Who may not see a farm any more is told no more than that there is nothing.
fn hidden(error: AppError) -> AppError {
    match error {
        AppError::Unauthenticated | AppError::Forbidden => AppError::NotFound,
        other => other,
    }
}

fn of_day(
    round: &Round,
    farm: &Arc<FarmBoard>,
    coop: &crate::Coop,
    date: chrono::NaiveDate,
) -> Vec<Entry> {
    let work = round.farm(farm, None, None);
    let todo = work.lines.into_iter().filter(|line| line.state != WorkState::Done);
    let entry = |line: WorkLine| {
        let due = line.due_at.0;
        // Late work stands on today.
        let at = match local_date(due, coop.zone) < date {
            true => traybook_domain::time::at_local(date, 6 * 60, coop.zone),
            false => due,
        };
        let mut about: Vec<String> = line.why.into_iter().collect();
        about.extend(line.cautions);
        // A batch of which some trays are taken early is harvested twice: each has its own name.
        let part = if line.early_days.is_some() { ".early" } else { "" };
        let uid = format!("{}{part}@{}", line.line, coop.id);
        Entry { uid, at, minutes: 30, summary: line.sentence, about: about.join("\n") }
    };
    todo.map(entry).collect()
}

/// What is to be known before the work of today; later days have warnings of their own by then.
fn warned(work: &FarmWork, coop: &crate::Coop, date: chrono::NaiveDate) -> Option<Entry> {
    let about = work.warnings.join("\n");
    let summary = match work.held_lots.as_slice() {
        [] => work.warnings.first()?.clone(),
        lots => format!("held: lot {}", lots.join(", ")),
    };
    Some(Entry {
        uid: format!("warnings.{date}.{}@{}", work.farm_id, coop.id),
        at: traybook_domain::time::at_local(date, 6 * 60, coop.zone),
        minutes: 30,
        summary,
        about,
    })
}

fn row(worded: Worded, line: WorkLine, zone: chrono_tz::Tz) -> Row {
    let Time(at) = line.done_at.unwrap_or(line.due_at);
    Row {
        task: line.task.text().to_owned(),
        state: line.state.text().to_owned(),
        time: to_utc(at).with_timezone(&zone).format("%H:%M").to_string(),
        shed: line.shed.unwrap_or_default(),
        group: line.animal_group.unwrap_or_default(),
        trays: line.trays.map(|t| t.to_string()).unwrap_or_default(),
        kg: line.kg.map(|kg| kg.to_string()).unwrap_or_default(),
        lot: line.seed_lot.unwrap_or_default(),
        feed_on: line.feed_on.map(|d| d.to_string()).unwrap_or_default(),
        sentence: worded.sentence,
        why: worded.why,
        cautions: worded.cautions,
    }
}
