//! What animals, sheds and batches are called. A member reads words ("your 2 cows"), and a code
//! only where two things would be confused; everybody else reads codes.

use super::farms::{Names, all, all_rows, list, text};
use super::page::Page;
use super::visit::Visit;
use serde_json::Value as Json;
use std::collections::HashMap;
use traybook_answers::planning::work::WorkLine;
use traybook_app::AppError;
use traybook_domain::Kind;
use traybook_domain::herd::{HeadEvent, head_runs};
use traybook_domain::kinds::{AnimalGroup, HeadCount};
use traybook_domain::people::authz::Role;
use uuid::Uuid;

/// Batches among which those of today's work are looked for.
const NEWEST: &str = "120";

/// What the things of one or several farms are called.
pub(super) struct Called {
    /// Groups of animals, by id.
    pub groups: Names,
    /// Sheds, by id.
    pub sheds: Names,
    is_own: bool,
}

impl Called {
    /// What stands on the farms that fit: for the member, whose they are, in words.
    pub async fn of(visit: &Visit, pairs: &[(&str, String)]) -> Result<Self, AppError> {
        let is_own = visit.actor()?.role == Role::Member;
        if !is_own {
            let groups = Names::of(visit, Kind::AnimalGroup, "code", pairs).await?;
            let sheds = Names::of(visit, Kind::Shed, "code", pairs).await?;
            return Ok(Self { groups, sheds, is_own });
        }
        let groups = own_groups(visit, pairs).await?;
        let sheds = own_sheds(&visit.page(), &all(visit, Kind::Shed, pairs).await?);
        Ok(Self { groups, sheds, is_own })
    }

    /// What a shed is called within a line; none where there is none.
    pub fn shed(&self, page: &Page, id: Option<Uuid>, code: Option<&str>) -> Option<String> {
        let own = id.map(|id| self.sheds.get(&id.to_string()).to_owned());
        match own.filter(|name| self.is_own && !name.is_empty()) {
            Some(name) => Some(name),
            None => code.map(|code| page.with("shed", "code", code)),
        }
    }

    /// What batches that stand beside each other are called, in their order.
    pub fn batches(&self, page: &Page, all: &[Json]) -> Vec<String> {
        if !self.is_own {
            return all.iter().map(|batch| by_code(page, batch)).collect();
        }
        let soaked = |b: &Json| (page.day(&b["soaked_at"]), text(b, "crop").to_owned());
        let soaks: Vec<(String, String)> = all.iter().map(soaked).collect();
        let mut alike: HashMap<&(String, String), usize> = HashMap::new();
        for soak in &soaks {
            *alike.entry(soak).or_default() += 1;
        }
        let name = |(batch, soak): (&Json, &(String, String))| {
            let code = text(batch, "code");
            let crop = page.crop(text(batch, "crop")).into();
            let args = [("crop", crop), ("day", page.weekday(&batch["soaked_at"]).into())];
            let words = page.tell("batch-soaked", &args);
            let is_alone = alike.get(soak).is_none_or(|count| *count < 2);
            if is_alone || code.is_empty() { words } else { format!("{words} ({code})") }
        };
        all.iter().zip(&soaks).map(name).collect()
    }
}

/// A batch by its code, else by the day of its soak.
pub(super) fn by_code(page: &Page, batch: &Json) -> String {
    match text(batch, "code") {
        "" => page.with("batch-of", "date", page.day(&batch["soaked_at"])),
        code => page.with("batch", "code", code),
    }
}

/// What a batch is called on a page of its own.
pub(super) async fn alone(
    visit: &Visit,
    called: &Called,
    batch: &Json,
) -> Result<String, AppError> {
    let page = visit.page();
    if !called.is_own {
        return Ok(by_code(&page, batch));
    }
    let of_farm = [("farm_id", text(batch, "farm_id").to_owned())];
    let among = list(visit, Kind::Batch, &of_farm).await?;
    let at = among.iter().position(|b| b["id"] == batch["id"]);
    let named = at.and_then(|at| called.batches(&page, &among).into_iter().nth(at));
    Ok(named.unwrap_or_else(|| called.batches(&page, std::slice::from_ref(batch)).concat()))
}

/// What stands in a line of work, in the words of the member whose work it is.
pub(super) struct OwnWork {
    called: Called,
    batches: HashMap<Uuid, String>,
}

impl OwnWork {
    /// Of all farms of the member who is signed in; none for others.
    pub async fn of(visit: &Visit) -> Result<Option<Self>, AppError> {
        if visit.actor()?.role != Role::Member {
            return Ok(None);
        }
        let (page, called) = (visit.page(), Called::of(visit, &[]).await?);
        let newest = list(visit, Kind::Batch, &[("limit", NEWEST.to_owned())]).await?;
        let names = newest.iter().zip(called.batches(&page, &newest));
        let batches = names.filter_map(|(b, name)| Some((super::farms::id(b, "id")?, name)));
        let batches = batches.collect();
        Ok(Some(Self { called, batches }))
    }

    /// A group's name; its code where it is not known.
    pub fn group(&self, id: Uuid, code: &str) -> String {
        match self.called.groups.get(&id.to_string()) {
            "" => code.to_owned(),
            name => name.to_owned(),
        }
    }

    /// A line that names its animals in words.
    pub fn line(&self, page: &Page, line: &WorkLine) -> WorkLine {
        let code = line.animal_group.clone().unwrap_or_else(|| page.say("your-animals"));
        let group = line.animal_group_id.map(|id| self.group(id, &code));
        WorkLine { animal_group: Some(group.unwrap_or(code)), ..line.clone() }
    }

    /// The batch of a line.
    pub fn batch(&self, line: &WorkLine) -> Option<String> {
        self.batches.get(&line.batch_id?).cloned()
    }

    /// The shed of a line.
    pub fn shed(&self, page: &Page, line: &WorkLine) -> Option<String> {
        self.called.shed(page, line.shed_id, line.shed.as_deref())
    }
}

/// "your 2 cows": class and head of the register; the code beside it where two groups of one class
/// stand on the farms.
async fn own_groups(visit: &Visit, pairs: &[(&str, String)]) -> Result<Names, AppError> {
    let page = visit.page();
    let groups = all_rows::<AnimalGroup>(visit, pairs).await?;
    let mut counts = all_rows::<HeadCount>(visit, pairs).await?;
    counts.sort_by_key(|row| (row.value.date, row.created_at));
    let mut events: HashMap<Uuid, Vec<HeadEvent>> = HashMap::new();
    for HeadCount { animal_group_id, date, reason, head, .. } in
        counts.into_iter().map(|row| row.value)
    {
        events.entry(animal_group_id).or_default().push(HeadEvent { date, reason, head });
    }
    let name = |id: Uuid, group: &AnimalGroup| {
        let runs = events.get(&id).map(|events| head_runs(events)).unwrap_or_default();
        let head = runs.last().map_or(0, |(_, head)| *head);
        let words = page.with(&format!("own-{}", group.animal_class), "count", head);
        let same = groups.iter().filter(|g| g.value.animal_class == group.animal_class).count();
        if same < 2 { words } else { format!("{words} ({})", group.code) }
    };
    Ok(Names::new(groups.iter().map(|g| (g.id.to_string(), name(g.id, &g.value)))))
}

fn own_sheds(page: &Page, sheds: &[Json]) -> Names {
    let name = |shed: &Json| match sheds.len() {
        1 => page.say("your-shed"),
        _ => page.with("shed", "code", text(shed, "code")),
    };
    Names::new(sheds.iter().map(|s| (text(s, "id").to_owned(), name(s))))
}

/// The heading of a page about a farm: whose page it is where the member has one farm.
pub(super) fn title(page: &Page, is_only: bool, keys: [&str; 2], farm: &Json) -> String {
    match page.role == Some(Role::Member) && is_only {
        true => page.say(keys[0]),
        false => page.with(keys[1], "farm", text(farm, "code")),
    }
}
