//! What is known of a number when its text is read: its farms, from the records as they stand.

use crate::error::AppError;
use crate::planning::{FarmDay, OVER_AGE_CAUTION, farm_days};
use crate::{Actor, Coop};
use chrono::{Datelike as _, NaiveDate};
use std::collections::{BTreeMap, HashMap};
use traybook_answers::planning::work::{WorkLine, WorkState};
use traybook_domain::effects::{DayRecord, Measure, counting, day_record, day_total};
use traybook_domain::kinds::{HOLD_CAUTION, MOULD_CAUTION, gives_milk, lays_eggs};
use traybook_domain::people::authz::Role;
use traybook_domain::time::{local_date, minus_days};
use traybook_domain::value::Instant;
use traybook_domain::{Kind, Month, Value};
use traybook_speech::Language;
use traybook_storage::records::farm_rows::{self, GroupRow};
use traybook_storage::records::{self, Filter, Visible};
use traybook_storage::texts::{Number, Turn};
use traybook_storage::{Conn, savings::report_rows};
use traybook_texts::{
    Animal, Caution, Farm, Group, Line, MonthSoFar, Pending, Record, Scene, Session, Standing,
    State, Task, Written,
};
use uuid::Uuid;

/// Days from which the usual and what is written are read.
const DAYS: u64 = 14;
/// Days that make the usual.
const WEEK: usize = 7;
/// Fewest of them.
const DAYS_MIN: usize = 3;
/// Records of a group in so many days.
const RECORDS_MAX: usize = 100;
/// Farms of one number.
const FARMS_MAX: usize = 5;
/// Milliseconds after which a number that was silent hears no money until it is verified again.
pub(super) const SILENT_MS: i64 = 180 * 24 * 60 * 60 * 1_000;

/// What is known of a number, with the records behind the names.
pub(super) struct Known {
    pub scene: Scene,
    /// Who acts, by code of the farm.
    pub actors: HashMap<String, Actor>,
    /// Farms by code.
    pub farms: HashMap<String, Uuid>,
    /// Groups by code.
    pub groups: HashMap<String, Uuid>,
    /// Batches by the names that texts give them.
    pub batches: HashMap<String, Uuid>,
    /// Lines that are on today's lists.
    pub today: Vec<String>,
    /// Held seed lots that each farm has or grows from, by code.
    pub held: HashMap<String, Vec<String>>,
}

/// A list that was sent.
#[derive(serde::Serialize, serde::Deserialize)]
pub(super) struct Sent {
    /// Code of its farm.
    pub farm: String,
    pub lines: Vec<Line>,
}

/// What the last recorded text made.
#[derive(Clone, Default, serde::Serialize, serde::Deserialize)]
pub(super) struct Last {
    /// As it was echoed.
    pub said: Vec<Record>,
    /// Kind, id and version of each record, in the order in which they were made.
    pub made: Vec<(String, Uuid, i64)>,
    /// Records that they replaced, with their version after that.
    pub replaced: Vec<(String, Uuid, i64)>,
}

/// Whether a number may hear money: it agreed, was verified, and was not silent for long.
pub(super) fn may_money(link: &Number, now: Instant) -> bool {
    let is_heard = link.heard_at.is_none_or(|at| now.0 - at < SILENT_MS);
    link.purposes[3] && link.verified_at.is_some() && is_heard
}

/// Who acts for a number: the member of its link.
pub(super) fn actor(conn: &mut Conn, coop: &Coop, link: &Number) -> Result<Actor, AppError> {
    let spec = Kind::Person.spec();
    let of = spec.index("member_id").map(|at| (at, Value::Id(link.member)));
    let filter = Filter { equals: of.into_iter().collect(), ..Filter::default() };
    let people = records::page(conn, coop.number, Kind::Person, &Visible::All, &filter, None, 1)?;
    Ok(Actor {
        coop: coop.clone(),
        // A member without an account is known by the link.
        person: people.first().map_or(link.id, |p| p.id),
        name: link.number.clone(),
        language: link.language.clone(),
        role: Role::Member,
        family: None,
        member: Some(link.member),
        areas: Vec::new(),
        proved: None,
        notice: None,
    })
}

/// The farms of a link, oldest code first.
fn farms_of(conn: &mut Conn, coop: &Coop, link: &Number) -> Result<Vec<(String, Uuid)>, AppError> {
    let spec = Kind::Farm.spec();
    let of = spec.index("member_id").map(|at| (at, Value::Id(link.member)));
    let filter = Filter { equals: of.into_iter().collect(), ..Filter::default() };
    let seen = Visible::Member(link.member);
    let found = match link.farm {
        Some(farm) => {
            let found = records::find(conn, coop.number, Kind::Farm, farm)?;
            let is_own = |r: &records::Record| {
                r.withdrawn_at.is_none()
                    && spec.get(&r.values, "member_id").as_id() == Some(link.member)
            };
            found.into_iter().filter(is_own).collect()
        }
        None => records::page(conn, coop.number, Kind::Farm, &seen, &filter, None, FARMS_MAX)?,
    };
    let code = |r: &records::Record| spec.get(&r.values, "code").as_text().map(str::to_owned);
    Ok(found.iter().filter_map(|r| Some((code(r)?, r.id))).collect())
}

/// The farms of all links by code, and who acts for each.
#[expect(clippy::type_complexity, reason = "farms, and actors by their code")]
fn own_farms(
    conn: &mut Conn,
    coop: &Coop,
    links: &[Number],
) -> Result<(Vec<(String, Uuid)>, HashMap<String, Actor>), AppError> {
    let mut actors = HashMap::new();
    let mut farms: Vec<(String, Uuid)> = Vec::new();
    for link in links {
        let own = farms_of(conn, coop, link)?;
        let actor = actor(conn, coop, link)?;
        for (code, id) in own {
            if actors.insert(code.clone(), actor.clone()).is_none() {
                farms.push((code, id));
            }
        }
    }
    farms.sort();
    farms.truncate(FARMS_MAX);
    Ok((farms, actors))
}

/// Reads what is known. `with_work` where the text may be about work or batches.
pub(super) fn known(
    conn: &mut Conn,
    coop: &Coop,
    links: &[Number],
    turn: &Turn,
    (now, with_work): (Instant, bool),
) -> Result<Known, AppError> {
    let today = coop.today(now);
    let (farms, actors) = own_farms(conn, coop, links)?;
    let ids: Vec<Uuid> = farms.iter().map(|f| f.1).collect();
    let rows = farm_rows::groups(conn, coop.number, Month::of(today), Some(&ids))?;
    let mut groups = HashMap::new();
    let (mut of_farm, mut written) = (HashMap::<Uuid, Vec<Group>>::new(), Vec::new());
    for row in rows.iter().filter(|r| gives_milk(&r.class) || lays_eggs(&r.class)) {
        groups.insert(row.code.clone(), row.group);
        let group = group(conn, coop, row, today, &mut written)?;
        of_farm.entry(row.farm).or_default().push(group);
    }
    let days =
        if with_work && !ids.is_empty() { farm_days(conn, coop, now, &ids)? } else { Vec::new() };
    let mut batches = HashMap::new();
    let mut lines_of_today = Vec::new();
    let mut held = HashMap::new();
    let mut all: Vec<Farm> = Vec::new();
    for (code, id) in &farms {
        let mut farm = Farm {
            code: code.clone(),
            groups: of_farm.remove(id).unwrap_or_default(),
            ..Farm::default()
        };
        if let Some(day) = days.iter().find(|d| d.work.farm_id == *id) {
            standing(&mut farm, day, coop, &mut batches);
            held.insert(code.clone(), day.work.held_lots.clone());
            lines_of_today.extend(farm.lines.iter().map(|l| l.line.clone()));
        }
        if with_work {
            farm.month = month(conn, coop, *id, today)?;
        }
        all.push(farm);
    }
    let listed = number_lines(&mut all, turn, today);
    let language = links.first().and_then(|l| Language::parse(&l.language)).unwrap_or_default();
    let mut members: Vec<Uuid> = links.iter().map(|l| l.member).collect();
    members.sort_unstable();
    members.dedup();
    let scene = Scene {
        known: !links.is_empty(),
        language,
        today,
        farms: all,
        written,
        pending: turn.pending.as_ref().and_then(|p| serde_json::from_str::<Pending>(&p.0).ok()),
        last: Vec::new(),
        listed,
        stopped: links.iter().any(|l| l.state == "stopped"),
        coops: Vec::new(),
        members: members.len(),
        may_money: !links.is_empty() && links.iter().all(|l| may_money(l, now)),
        recent: Vec::new(),
    };
    let farms = farms.into_iter().collect();
    Ok(Known { scene, actors, farms, groups, batches, today: lines_of_today, held })
}

const fn animal(class: &str) -> Animal {
    match class.as_bytes() {
        b"goats" => Animal::Goats,
        b"sheep" => Animal::Sheep,
        b"dairy_cows" => Animal::Cows,
        _ => Animal::Hens,
    }
}

/// A group with its usual day; what is written of the last days is added to `written`.
fn group(
    conn: &mut Conn,
    coop: &Coop,
    row: &GroupRow,
    today: NaiveDate,
    written: &mut Vec<Written>,
) -> Result<Group, AppError> {
    let animal = animal(&row.class);
    let is_milk = animal != Animal::Hens;
    let kind = if is_milk { Kind::MilkRecord } else { Kind::EggRecord };
    let spec = kind.spec();
    let equals = [("farm_id", row.farm), ("animal_group_id", row.group)];
    let equals = equals.into_iter().filter_map(|(f, id)| Some((spec.index(f)?, Value::Id(id))));
    let filter = Filter {
        equals: equals.collect(),
        from: Some((minus_days(today, DAYS), 0)),
        ..Filter::default()
    };
    let found = records::page(conn, coop.number, kind, &Visible::All, &filter, None, RECORDS_MAX)?;
    let mut days: BTreeMap<NaiveDate, Vec<DayRecord>> = BTreeMap::new();
    for record in &found {
        if let Some((.., date, day)) =
            day_record(kind, &record.values, record.id, record.created_at)
        {
            days.entry(date).or_default().push(day);
        }
    }
    let unit = if is_milk { 1 } else { 1_000 };
    for (date, day) in &days {
        let ids = counting(day);
        written.extend(day.iter().filter(|r| ids.contains(&r.id)).map(|r| Written {
            group: row.code.clone(),
            date: *date,
            session: Session::parse(&r.session).unwrap_or(Session::Day),
            amount: r.amount * unit,
        }));
    }
    let last = days.values().next_back().and_then(|day| day_total(day)).map(|d| d.animals);
    let head = row.herd.map(|h| h.closing_head).filter(|h| *h > 0);
    let animals = if is_milk { last.or(head) } else { head.or(last) }.unwrap_or(0);
    // The day itself is not over.
    let whole = days.iter().rev().filter(|(date, _)| **date < today);
    let whole = whole.filter_map(|(_, day)| day_total(day)).filter(|d| d.is_whole);
    let mut each: Vec<i64> =
        whole.take(WEEK).map(|d| d.amount * unit * animals.max(1) / d.animals.max(1)).collect();
    each.sort_unstable();
    let usual = if each.len() < DAYS_MIN { None } else { each.get(each.len() / 2).copied() };
    Ok(Group { code: row.code.clone(), animal, animals, usual })
}

/// Puts a farm's lines and batches in.
fn standing(farm: &mut Farm, day: &FarmDay, coop: &Coop, names: &mut HashMap<String, Uuid>) {
    let mut by_id: HashMap<Uuid, String> = HashMap::new();
    for s in &day.standing {
        let soaked = local_date(s.soaked_at, coop.zone);
        let plain = || format!("{}-{}{:02}", farm.code, soaked.month(), soaked.day());
        let name = s.code.clone().unwrap_or_else(plain);
        names.insert(name.clone(), s.batch);
        by_id.insert(s.batch, name.clone());
        farm.standing.push(Standing { batch: name, trays: s.trays, harvest_on: Some(s.feed_on) });
    }
    farm.standing.sort_by_key(|s| s.harvest_on);
    for line in &day.work.lines {
        let name = line.batch_id.map(|id| {
            let plain = || line.batch.clone().unwrap_or_else(|| id.simple().to_string());
            by_id.get(&id).cloned().unwrap_or_else(plain)
        });
        if let (Some(name), Some(id)) = (&name, line.batch_id) {
            names.insert(name.clone(), id);
        }
        farm.lines.extend(of_list(line, name));
    }
}

fn of_list(line: &WorkLine, batch: Option<String>) -> Option<Line> {
    let caution = [
        (MOULD_CAUTION, Caution::Mould),
        (HOLD_CAUTION, Caution::Held),
        (OVER_AGE_CAUTION, Caution::OverAge),
    ];
    Some(Line {
        n: None,
        task: Task::parse(line.task.text())?,
        batch,
        group: line.animal_group.clone(),
        trays: line.trays,
        grams: line.kg.map(|kg| kg.units_of(3)),
        crop: line.crop.clone(),
        watering: line.watering.zip(line.waterings),
        state: match line.state {
            WorkState::Late => State::Late,
            WorkState::Open => State::Open,
            WorkState::Done => State::Done,
        },
        caution: caution.into_iter().find(|(said, _)| line.warns(said)).map(|(_, c)| c),
        line: line.line.clone(),
    })
}

/// Fed and lost of a farm this month.
fn month(
    conn: &mut Conn,
    coop: &Coop,
    farm: Uuid,
    today: NaiveDate,
) -> Result<Option<MonthSoFar>, AppError> {
    let month = Month::of(today);
    let rows = report_rows::farm_sums(conn, coop.number, farm, (month, month))?;
    Ok(rows.first().map(|(_, sums)| {
        let of = |measure: Measure| sums.get(measure.index()).copied().unwrap_or(0);
        let lost = of(Measure::TraysDiscarded);
        MonthSoFar {
            grams: of(Measure::FedG),
            trays_lost: lost,
            trays: lost + of(Measure::TraysHarvested),
        }
    }))
}

/// Days for which the numbers of a list hold besides its own.
const LIST_DAYS: i64 = 1;

/// Puts the numbers of the list sent last on its lines; whether there is one that holds.
fn number_lines(farms: &mut [Farm], turn: &Turn, today: NaiveDate) -> bool {
    let Some((list, on)) = &turn.list else { return false };
    if (today - *on).num_days() > LIST_DAYS {
        return false;
    }
    let Ok(sent) = serde_json::from_str::<Sent>(list) else { return false };
    for line in sent.lines {
        let Some(farm) = farms.iter_mut().find(|f| f.code == sent.farm) else { return false };
        match farm.lines.iter_mut().find(|l| l.line == line.line) {
            Some(there) => there.n = line.n,
            // It is on no list of today: done since, or of yesterday.
            None => farm.lines.push(line),
        }
    }
    true
}
