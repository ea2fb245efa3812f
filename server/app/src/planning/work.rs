//! The work list of a farm, a shed, an area or an officer's round.

use super::board::{self, Board, FarmBoard};
use super::by_farm::ByFarm;
use super::lines::{SEED_DAYS, feeding, seed_note, warnings, work_line};
use crate::coop::areas_below;
use crate::error::AppError;
use crate::savings::area_names;
use crate::{Actor, App, Coop};
use std::collections::{BTreeMap, HashSet};
use std::sync::Arc;
use traybook_answers::planning::work::{FarmWork, Work, WorkChanges};
use traybook_domain::limits::WORK_DAYS_AHEAD_MAX;
use traybook_domain::people::authz::Task as May;
use traybook_domain::time::parse_date;
use traybook_domain::value::Instant;
use traybook_domain::{FieldError, Kind};
use traybook_planning::work::{Asked, Line, State, Task};
use traybook_planning::{Day, Plan, Standards, day_of};
use traybook_storage::Conn;
use traybook_storage::records::{self, Visible, changes};
use uuid::Uuid;

/// What is asked for, as it came.
#[derive(Clone, Debug, Default)]
pub struct WorkQuery {
    /// Day; today where none is given.
    pub date: Option<String>,
    pub farm_id: Option<String>,
    pub shed_id: Option<String>,
    /// One area with everything below it.
    pub area_id: Option<String>,
    pub task: Option<String>,
}

/// What is asked for, as values.
#[derive(Clone, Debug)]
struct Wanted {
    date: chrono::NaiveDate,
    farm: Option<Uuid>,
    shed: Option<Uuid>,
    area: Option<Uuid>,
    task: Option<Task>,
}

impl WorkQuery {
    fn read(&self, today: chrono::NaiveDate) -> Result<Wanted, AppError> {
        let mut errors = Vec::new();
        let mut id = |name: &str, text: &Option<String>| {
            let text = text.as_ref()?;
            let id = Some(text).filter(|t| t.len() == 36).and_then(|t| Uuid::try_parse(t).ok());
            if id.is_none() {
                errors.push(FieldError::new(name, "type", "give the id of a record (a UUID)"));
            }
            id
        };
        let farm = id("farm_id", &self.farm_id);
        let shed = id("shed_id", &self.shed_id);
        let area = id("area_id", &self.area_id);
        let date = self.date.as_deref().map_or(Some(today), parse_date);
        if date.is_none() {
            errors.push(FieldError::new("date", "type", "give a day as YYYY-MM-DD"));
        }
        let date = date.unwrap_or(today);
        let ahead = (date - today).num_days();
        if !(-36_500..=WORK_DAYS_AHEAD_MAX).contains(&ahead) {
            let detail =
                format!("give a day of the past, or up to {WORK_DAYS_AHEAD_MAX} days ahead");
            errors.push(FieldError::new("date", "range", detail));
        }
        let task = self.task.as_deref().map(Task::parse);
        if task == Some(None) {
            let detail = format!("give one of {}", Task::ALL.map(Task::text).join(", "));
            errors.push(FieldError::new("task", "choice", detail));
        }
        let task = task.flatten();
        if errors.is_empty() {
            Ok(Wanted { date, farm, shed, area, task })
        } else {
            Err(AppError::Invalid(errors))
        }
    }
}

impl App {
    /// The work of a day: of a farm, a shed, an area, or all that the person looks after.
    ///
    /// # Errors
    /// `Forbidden`; `Invalid` for wrong parameters; `NotFound` for a farm, shed or area that is
    /// not there for this person.
    pub async fn work(&self, actor: &Actor, query: &WorkQuery) -> Result<Work, AppError> {
        let visible = actor.task(May::Work)?;
        let (actor, now) = (actor.clone(), self.now());
        let read = query.read(actor.coop.today(now))?;
        let app = self.clone();
        let all = self
            .store
            .read(move |conn| list(conn, &app, &actor.coop, &visible, now, (&read, usize::MAX)));
        Ok(all.await?.0)
    }

    /// The same of today, of the few farms with the most that is late, and how many more have any
    /// work.
    pub async fn pressing_work(
        &self,
        actor: &Actor,
        farm: Option<String>,
        most: usize,
    ) -> Result<(Work, usize), AppError> {
        let visible = actor.task(May::Work)?;
        let (actor, now) = (actor.clone(), self.now());
        let query = WorkQuery { farm_id: farm, ..WorkQuery::default() };
        let read = query.read(actor.coop.today(now))?;
        let app = self.clone();
        self.store
            .read(move |conn| list(conn, &app, &actor.coop, &visible, now, (&read, most)))
            .await
    }

    /// The work lists of today that changed since a cursor; all of them without one, on another
    /// day, and where what changed concerns all.
    ///
    /// # Errors
    /// `Forbidden`; `Cursor` for one that is not of this list.
    pub async fn work_changes(
        &self,
        actor: &Actor,
        after: Option<&str>,
    ) -> Result<WorkChanges, AppError> {
        let visible = actor.task(May::Work)?;
        let (actor, now, app) = (actor.clone(), self.now(), self.clone());
        let after = after.map(|text| read_cursor(text).ok_or(AppError::Cursor { gone: false }));
        let after = after.transpose()?;
        self.store
            .read(move |conn| {
                let (coop, number) = (&actor.coop, actor.coop.number);
                let today = coop.today(now);
                let board = board::today(conn, &app, coop, now)?;
                let counters = changes::counters(conn, number)?;
                let (access, epoch) = (counters.access_version, counters.epoch);
                // The board may be younger than the state that is read here: what changed since
                // comes from the next cursor on.
                let seq = counters.change_seq.min(board.seq);
                // A time of another day or one to come never was in a list of today.
                let after = after.filter(|c| {
                    let is_of_today = c.day == today && coop.today(c.at) == today;
                    is_of_today && c.access == access && c.epoch == epoch && c.at <= now
                });
                let changed = match &after {
                    Some(cursor) => board::changed(conn, number, cursor.seq)?,
                    None => None,
                };
                let round = Round::new(conn, (Some(&app), coop), board, now, today)?;
                let all = round.board.farms.iter().map(Arc::clone).collect::<Vec<_>>();
                let is_moved = |farm: &Arc<FarmBoard>| {
                    after.as_ref().is_some_and(|c| round.is_moved_since(farm, c.at))
                };
                let is_asked = |farm: &&Arc<FarmBoard>| {
                    visible.sees(farm.row.area, farm.row.member)
                        && changed
                            .as_ref()
                            .is_none_or(|c| c.contains(&farm.row.farm) || is_moved(farm))
                };
                let farms: Vec<FarmWork> = all
                    .iter()
                    .filter(is_asked)
                    .map(|farm| round.farm(farm, None, None))
                    .filter(is_worth_telling)
                    .collect();
                let shown: HashSet<Uuid> = farms.iter().map(|f| f.farm_id).collect();
                let mut without = Vec::new();
                for id in changed.iter().flatten().filter(|id| !shown.contains(id)) {
                    let is_seen = match all.iter().find(|f| f.row.farm == *id) {
                        Some(farm) => visible.sees(farm.row.area, farm.row.member),
                        // One that was withdrawn is on no board: who saw it hears that it is gone.
                        None => was_seen(conn, number, *id, &visible)?,
                    };
                    without.extend(is_seen.then_some(*id));
                }
                without.sort_unstable();
                Ok(WorkChanges {
                    is_complete: changed.is_none(),
                    farms,
                    without_work: without,
                    next: format!("{today}.{seq}.{access}.{}.{epoch}", now.0),
                })
            })
            .await
    }
}

/// Where a device is: the day, the last change and the time of its lists, who saw what, and in
/// which life of the records.
struct Cursor {
    day: chrono::NaiveDate,
    seq: i64,
    access: i64,
    at: Instant,
    epoch: i64,
}

fn read_cursor(text: &str) -> Option<Cursor> {
    let mut parts = text.split('.');
    let day = parse_date(parts.next()?)?;
    let mut number = || parts.next()?.parse().ok();
    let (seq, access, at) = (number()?, number()?, Instant(number()?));
    let epoch = parts.next().map_or(Ok(0), str::parse).ok()?;
    parts.next().is_none().then_some(Cursor { day, seq, access, at, epoch })
}

fn was_seen(conn: &mut Conn, coop: i64, farm: Uuid, visible: &Visible) -> Result<bool, AppError> {
    let found = records::find(conn, coop, Kind::Farm, farm)?;
    let spec = Kind::Farm.spec();
    let place = |name: &str| found.as_ref().and_then(|f| spec.get(&f.values, name).as_id());
    Ok(place("area_id").zip(place("member_id")).is_some_and(|(area, m)| visible.sees(area, m)))
}

fn list(
    conn: &mut Conn,
    app: &App,
    coop: &Coop,
    visible: &Visible,
    now: Instant,
    (read, most): (&Wanted, usize),
) -> Result<(Work, usize), AppError> {
    let today = coop.today(now);
    let board = if read.date >= today {
        board::today(conn, app, coop, now)?
    } else {
        let of = read.farm.map(|f| vec![f]);
        Arc::new(board::on_day(conn, coop, read.date, of.as_deref())?)
    };
    let area = match read.area {
        Some(area) if !area_names(conn, coop.number)?.contains_key(&area) => {
            return Err(AppError::NotFound);
        }
        Some(area) => Some(areas_below(conn, coop.number, area)?),
        None => None,
    };
    let is_asked = |farm: &FarmBoard| {
        visible.sees(farm.row.area, farm.row.member)
            && read.farm.is_none_or(|f| f == farm.row.farm)
            && read.shed.is_none_or(|s| farm.scene.farm.sheds.iter().any(|shed| shed.id == s))
            && area.as_ref().is_none_or(|a| a.contains(&farm.row.area))
    };
    let asked: Vec<Arc<FarmBoard>> =
        board.farms.iter().filter(|f| is_asked(f)).map(Arc::clone).collect();
    if asked.is_empty() && (read.farm.is_some() || read.shed.is_some()) {
        return Err(AppError::NotFound);
    }
    let seq = board.seq;
    let round = Round::new(conn, (Some(app), coop), board, now, read.date)?;
    let of = (read.shed, read.task);
    // Who asks for one farm hears of it also when there is nothing to do.
    let is_one = read.farm.is_some();
    let shown = |farm: &Arc<FarmBoard>| {
        Some(round.farm(farm, of.0, of.1)).filter(|f| is_one || is_worth_telling(f))
    };
    let (farms, left) = if is_one || most == usize::MAX {
        (asked.iter().filter_map(shown).collect(), 0)
    } else {
        let mut late: Vec<(usize, &Arc<FarmBoard>)> =
            asked.iter().filter_map(|f| Some((round.late(f, of)?, f))).collect();
        late.sort_by_key(|(late, _)| std::cmp::Reverse(*late));
        let left = late.len().saturating_sub(most);
        (late.into_iter().take(most).filter_map(|(_, farm)| shown(farm)).collect(), left)
    };
    Ok((Work { date: read.date, today, data_version: seq, farms }, left))
}

/// A farm's work of today, and what stands there.
pub(crate) struct FarmDay {
    pub work: FarmWork,
    /// Batches with trays that stand.
    pub standing: Vec<Standing>,
}

/// A batch with trays that stand.
pub(crate) struct Standing {
    pub batch: Uuid,
    /// Short name.
    pub code: Option<String>,
    pub trays: i64,
    /// First soak.
    pub soaked_at: Instant,
    /// Day on which it is harvested and fed.
    pub feed_on: chrono::NaiveDate,
}

/// The work of today of a few farms, read anew, with what stands there.
pub(crate) fn farm_days(
    conn: &mut Conn,
    coop: &Coop,
    now: Instant,
    farms: &[Uuid],
) -> Result<Vec<FarmDay>, AppError> {
    let today = coop.today(now);
    let board = Arc::new(board::on_day(conn, coop, today, Some(farms))?);
    let round = Round::new(conn, (None, coop), Arc::clone(&board), now, today)?;
    let is_held = |lot: Uuid| board.held.contains_key(&lot);
    let asked = round.asked(&is_held);
    let day = |farm: &Arc<FarmBoard>| {
        let standing = farm.scene.batches.iter().filter(|b| b.standing() > 0);
        let standing = standing.map(|b| Standing {
            batch: b.id,
            code: b.code.clone(),
            trays: b.standing(),
            soaked_at: b.soaked_at,
            feed_on: traybook_planning::date_of(farm.scene.feed_on(b, &asked)),
        });
        FarmDay { work: round.farm(farm, None, None), standing: standing.collect() }
    };
    Ok(board.farms.iter().map(day).collect())
}

/// Farms looked at on one day.
pub(super) struct Round {
    pub board: Arc<Board>,
    /// Today's plans of the farms, where it is today that is looked at.
    plans: Option<Arc<ByFarm<Plan>>>,
    standards: Standards,
    now: Instant,
    date: Day,
    areas: BTreeMap<Uuid, String>,
}

impl Round {
    /// `app` where the board is the one that it keeps.
    pub(super) fn new(
        conn: &mut Conn,
        (app, coop): (Option<&App>, &Coop),
        board: Arc<Board>,
        now: Instant,
        date: chrono::NaiveDate,
    ) -> Result<Self, AppError> {
        let plans = match app {
            Some(app) if date == board.day && date == coop.today(now) => {
                Some(ByFarm::kept(app, coop, &board, "plans of today"))
            }
            _ => None,
        };
        let today = day_of(coop.today(now));
        let (first, date) = (today.min(day_of(date)), day_of(date));
        let days = usize::try_from(date.max(today) - first + 1).unwrap_or(1) + SEED_DAYS;
        let standards = Standards::new(&board.guide, first, days);
        let areas = area_names(conn, coop.number)?;
        Ok(Self { board, plans, standards, now, date, areas })
    }

    /// Whether a farm's lines are others than at a time of the same day, or one has come due.
    fn is_moved_since(&self, farm: &Arc<FarmBoard>, then: Instant) -> bool {
        let (lines, ..) = self.lines(farm);
        let is_due = |line: &Line| {
            !matches!(line.state, State::Done(_)) && (then.0 + 1..=self.now.0).contains(&line.due.0)
        };
        lines.iter().any(is_due) || self.lines_at(farm, then).0 != lines
    }

    pub(super) fn lines(&self, farm: &Arc<FarmBoard>) -> (Vec<Line>, Arc<Plan>, Day, usize) {
        self.lines_at(farm, self.now)
    }

    fn lines_at(&self, farm: &Arc<FarmBoard>, now: Instant) -> (Vec<Line>, Arc<Plan>, Day, usize) {
        let is_held = |lot: Uuid| self.board.held.contains_key(&lot);
        let asked = Asked { now, ..self.asked(&is_held) };
        let today = asked.today();
        let days = usize::try_from(self.date - today + 1).unwrap_or(0).max(SEED_DAYS);
        // A plan is one of a day, whatever the hour.
        let make = |farm: &FarmBoard| farm.scene.plan(&asked, days);
        let plan = match &self.plans {
            Some(plans) => plans.get(farm, make),
            None if self.date >= today => Arc::new(make(farm)),
            None => Arc::default(),
        };
        (farm.scene.work(self.date, &asked, &plan), plan, today, days)
    }

    fn asked<'a>(&'a self, is_held: &'a dyn Fn(Uuid) -> bool) -> Asked<'a> {
        Asked { standards: &self.standards, now: self.now, days: &self.board.days, is_held }
    }

    /// How many lines of a farm, or of one shed or task of it, are late; none where there is
    /// nothing to do or to know.
    fn late(&self, farm: &Arc<FarmBoard>, of: (Option<Uuid>, Option<Task>)) -> Option<usize> {
        let (lines, ..) = self.lines(farm);
        let here: Vec<&Line> = lines.iter().filter(|l| is_of(l, farm, of)).collect();
        let late = here.iter().filter(|l| l.state == State::Late).count();
        // Only what is said of a farm without work is left to be looked at.
        let is_worth = || is_worth_telling(&self.farm(farm, of.0, of.1));
        (!here.is_empty() || is_worth()).then_some(late)
    }

    /// The work of a farm, or of one shed or task of it.
    pub(super) fn farm(
        &self,
        farm: &Arc<FarmBoard>,
        shed: Option<Uuid>,
        task: Option<Task>,
    ) -> FarmWork {
        let (lines, plan, today, days) = self.lines(farm);
        let scene = &farm.scene;
        let here = lines.iter().filter(|line| is_of(line, farm, (shed, task)));
        let lines = here.map(|l| work_line(l, scene, &self.board)).collect();
        let seed = seed_note(scene, &self.board, &plan, today, days);
        let is_held = |lot: Uuid| self.board.held.contains_key(&lot);
        let ((warnings, held_lots), feeding) = if self.date >= today {
            let asked = self.asked(&is_held);
            (warnings(farm, &self.board, &seed, &asked), feeding(scene, &plan, self.date))
        } else {
            ((Vec::new(), Vec::new()), Vec::new())
        };
        FarmWork {
            farm_id: farm.row.farm,
            farm: farm.row.code.clone(),
            area_id: farm.row.area,
            area: self.areas.get(&farm.row.area).cloned(),
            member_name: farm.row.name.clone(),
            place: farm.row.place.clone(),
            lines,
            warnings,
            held_lots,
            feeding,
            seed,
        }
    }
}

/// Whether a line is of a shed and of a task, where they are asked for.
fn is_of(line: &Line, farm: &FarmBoard, (shed, task): (Option<Uuid>, Option<Task>)) -> bool {
    let of = farm.scene.farm.sheds.get(line.shed).map(|s| s.id);
    shed.is_none_or(|s| of == Some(s)) && task.is_none_or(|t| t == line.task)
}

/// Whether there is anything to do or to know.
fn is_worth_telling(farm: &FarmWork) -> bool {
    !farm.lines.is_empty() || !farm.warnings.is_empty() || !farm.feeding.is_empty()
}
