//! Batches of a farm: a history, and the life of each.

use crate::web::blocks::{Block, Item, Leaf, Link};
use crate::web::called::{Called, alone, title};
use crate::web::farms::{by_text, chosen, list, one, other_farms, page as records, text};
use crate::web::page::{NONE, Page, capital, counted, shown};
use crate::web::site::{Shown, query};
use crate::web::visit::Visit;
use crate::work_words::caution;
use serde_json::Value as Json;
use traybook_app::Actor;
use traybook_domain::Kind;
use traybook_domain::people::authz::Role;
use traybook_domain::time::{local_date, parse_date, parse_instant};
use traybook_domain::value::Instant;
use traybook_reports::charts::{self, Event, Lane, Mark, Now, Segment, Stage, Timeline, Words};

/// Batches on one page.
const ON_PAGE: &str = "20";
/// Milliseconds of a day.
const DAY_MS: f64 = 86_400_000.0;

/// The history, the newest first.
pub(crate) async fn show_batches(visit: Visit) -> Shown {
    let farm = chosen(&visit).await?;
    let (page, actor) = (visit.page(), visit.actor()?);
    let farm_id = text(&farm, "id").to_owned();
    let mut asked = vec![("farm_id", farm_id.clone()), ("limit", ON_PAGE.to_owned())];
    asked.extend(visit.field("after").map(|c| ("cursor", c.to_owned())));
    let (batches, next) = records(&visit, actor, Kind::Batch, &asked).await?;
    let called = Called::of(&visit, &[("farm_id", farm_id.clone())]).await?;
    let others = other_farms(&visit, "/batches", &farm).await?;
    let title = title(&page, others.is_empty(), ["nav-batches", "batches-title"], &farm);
    let mut leaf = Leaf::new(page.clone(), title);
    if actor.role != Role::Member {
        leaf = leaf.back(format!("/farms/{farm_id}"), text(&farm, "code"));
    }
    if batches.is_empty() {
        leaf.text("batches-none");
    }
    let names = called.batches(&page, &batches);
    let items = batches.iter().zip(&names).map(|(b, name)| item(&page, b, name, &called));
    leaf.add(Block::List(items.collect()));
    if !others.is_empty() {
        leaf.add(Block::Links(others));
    }
    if let Some(next) = next {
        let to = format!("/batches?{}", query(&[("farm", &farm_id), ("after", &next)]));
        leaf.add(Block::Links(vec![Link::to(to, page.say("older"))]));
    }
    leaf.show()
}

fn item(page: &Page, batch: &Json, name: &str, called: &Called) -> Item {
    let crop = page.crop(text(batch, "crop"));
    let group = called.groups.of_member(batch, "animal_group_id");
    let seed = [("kg", shown(&batch["seed_kg"], 2).into()), ("crop", crop.into())];
    let mut lines = vec![page.tell("seed-of-crop", &seed)];
    if !group.is_empty() {
        lines[0] = format!("{} · {group}", lines.first().cloned().unwrap_or_default());
    }
    let trays = [
        ("spread", counted(&batch["trays_spread"], 0)),
        ("harvested", shown(&batch["trays_harvested"], 0).into()),
        ("discarded", shown(&batch["trays_discarded"], 0).into()),
    ];
    lines.push(page.tell("trays-of-batch", &trays));
    if batch["harvested_kg"].as_f64().is_some_and(|kg| kg > 0.0) {
        lines.push(page.with("harvested-kg", "kg", shown(&batch["harvested_kg"], 1)));
    }
    let stage = text(batch, "stage");
    Item {
        title: match page.role {
            Some(Role::Member) => capital(name),
            _ => format!("{} · {name}", page.day(&batch["soaked_at"])),
        },
        href: Some(format!("/batches/{}", text(batch, "id"))),
        mark: (!stage.is_empty()).then(|| page.word("stage", stage)),
        lines,
        cautions: cautions(page, batch),
        ..Item::default()
    }
}

/// Cautions of a batch in the reader's language.
pub(crate) fn cautions(page: &Page, batch: &Json) -> Vec<String> {
    let all = batch["cautions"].as_array().into_iter().flatten();
    all.filter_map(Json::as_str).map(|text| caution(page.language, text)).collect()
}

/// One batch: its timeline, its events, what became of its trays.
pub(crate) async fn show_batch(visit: Visit) -> Shown {
    let batch = one(&visit, Kind::Batch, visit.id("id")?).await?;
    let (page, actor) = (visit.page(), visit.actor()?);
    let (id, farm_id) = (text(&batch, "id").to_owned(), text(&batch, "farm_id").to_owned());
    let events = list(&visit, Kind::BatchEvent, &[("batch_id", id.clone())]).await?;
    let called = Called::of(&visit, &[("farm_id", farm_id.clone())]).await?;
    let lot = match crate::web::farms::id(&batch, "seed_lot_id") {
        Some(lot) => text(&one(&visit, Kind::SeedLot, lot).await?, "code").to_owned(),
        None => NONE.to_owned(),
    };
    let mut leaf = Leaf::new(page.clone(), capital(&alone(&visit, &called, &batch).await?))
        .back(format!("/batches?farm={farm_id}"), page.say("nav-batches"));
    for caution in cautions(&page, &batch) {
        leaf.add(Block::Caution(caution));
    }
    let stage = text(&batch, "stage");
    if !stage.is_empty() {
        leaf.add(Block::Lead(stage_sentence(&page, &batch, stage)));
    }
    if let Some(chart) = timeline(&page, actor, &batch, &events, visit.state.app.now()) {
        leaf.add(Block::Chart(chart));
    }
    leaf.saved(&visit);
    leaf.add(Block::Facts(facts(&page, &batch, &called, &lot)));
    leaf.heading("what-happened");
    let by_text = by_text(&visit, Kind::BatchEvent, &events).await?;
    let item = |e: &Json| {
        let is_text = crate::web::farms::id(e, "id").is_some_and(|id| by_text.contains(&id));
        Item { mark: is_text.then(|| page.say("by-text")), ..event(&page, e, &called) }
    };
    leaf.add(Block::List(events.iter().rev().map(item).collect()));
    let mut links = vec![
        Link::to(format!("/batches/{id}/events"), page.say("batch-record")),
        Link::to(format!("/batches/{id}/correct"), page.say("batch-correct")),
    ];
    if actor.role == Role::Member {
        let to = format!("/ask?{}", query(&[("farm", &farm_id), ("batch_id", &id)]));
        links.push(Link::to(to, page.say("ask-title")));
    }
    leaf.add(Block::Links(links));
    leaf.show()
}

fn stage_sentence(page: &Page, batch: &Json, stage: &str) -> String {
    let on = page.day(&batch["harvest_on"]);
    let word = page.word("stage", stage);
    match stage {
        "soaking" | "incubating" | "on_trays" => {
            page.tell("stage-until", &[("stage", word.into()), ("date", on.into())])
        }
        _ => word,
    }
}

fn facts(page: &Page, batch: &Json, called: &Called, lot: &str) -> Vec<(String, String)> {
    let mut facts = vec![
        (page.say("crop"), page.crop(text(batch, "crop"))),
        (page.say("seed-lot"), lot.to_owned()),
        (page.say("for-group"), called.groups.of_member(batch, "animal_group_id")),
        (page.say("in-shed"), called.sheds.of_member(batch, "shed_id")),
    ];
    facts.retain(|(_, value)| !value.is_empty());
    let mut number = |key: &str, member: &str, digits: usize| {
        // A figure that is still to come says nothing.
        if batch[member].as_f64().is_some_and(|n| n != 0.0) {
            facts.push((page.say(key), shown(&batch[member], digits)));
        }
    };
    number("seed-soaked-kg", "seed_kg", 2);
    number("trays-spread", "trays_spread", 0);
    number("trays-harvested", "trays_harvested", 0);
    number("trays-lost", "trays_discarded", 0);
    number("fresh-kg", "harvested_kg", 1);
    number("fresh-expected-kg", "expected_kg", 1);
    number("fed-kg", "fed_kg", 1);
    number("germinated-percent", "germinated_percent", 0);
    facts
}

fn event(page: &Page, event: &Json, called: &Called) -> Item {
    let when = page.moment(&event["at"]);
    let mut parts = Vec::new();
    let trays = event["trays"].as_i64();
    parts.extend(trays.map(|n| page.with("count-trays", "trays", n)));
    if !event["kg"].is_null() {
        parts.push(page.with("count-kg", "kg", shown(&event["kg"], 2)));
    }
    if !text(event, "cause").is_empty() {
        parts.push(page.word("cause", text(event, "cause")));
    }
    let group = called.groups.of_member(event, "animal_group_id");
    if !group.is_empty() {
        parts.push(group);
    }
    let mut lines = vec![when];
    lines.extend((!parts.is_empty()).then(|| parts.join(" · ")));
    for member in ["reason", "note"] {
        lines.extend((!text(event, member).is_empty()).then(|| text(event, member).to_owned()));
    }
    let mould = event["mould_seen"].as_bool() == Some(true) || text(event, "cause") == "mould";
    Item {
        title: page.word("event", text(event, "event")),
        cautions: if mould { vec![page.say("caution-mould")] } else { Vec::new() },
        lines,
        ..Item::default()
    }
}

const MARKS: [(Mark, &str); 6] = [
    (Mark::Soaked, "soaked"),
    (Mark::Spread, "spread"),
    (Mark::Watered, "watered"),
    (Mark::Harvested, "harvested"),
    (Mark::Fed, "fed_out"),
    (Mark::Discarded, "discarded"),
];

/// The picture of a batch's life, in days from its soak.
pub(crate) fn timeline(
    page: &Page,
    actor: &Actor,
    batch: &Json,
    events: &[Json],
    now: Instant,
) -> Option<String> {
    let soaked = parse_instant(text(batch, "soaked_at"))?;
    let day = |at: Instant| days(at.0 - soaked.0);
    let first = |event: &str| {
        let of = events.iter().filter(|e| text(e, "event") == event);
        of.filter_map(|e| parse_instant(text(e, "at"))).map(|at| at.0).min()
    };
    let last = |names: &[&str]| {
        let of = events.iter().filter(|e| names.contains(&text(e, "event")));
        of.filter_map(|e| parse_instant(text(e, "at"))).map(|at| at.0).max()
    };
    let spread = first("spread").map(|at| days(at - soaked.0));
    let ready = parse_date(text(batch, "harvest_on"))
        .map(|on| (on - local_date(soaked, actor.coop.zone)).num_days())
        .and_then(|d| i32::try_from(d).ok())
        .map(f64::from);
    let is_over = text(batch, "stage") == "finished";
    let today = day(now);
    let end = if is_over {
        last(&["harvested", "fed_out", "discarded"]).map(|at| days(at - soaked.0))
    } else {
        Some(today)
    };
    let end = end?;
    let drained = SOAK_DAYS.min(end);
    let mut segments = Vec::new();
    let mut stage = |stage: Stage, key: &str, from: f64, to: f64| {
        if to > from {
            segments.push(Segment { stage, label: page.word("stage", key), from, to });
        }
    };
    let on_trays = spread.unwrap_or(end).min(end);
    stage(Stage::Soaked, "soaking", 0.0, drained.min(on_trays));
    stage(Stage::Incubating, "incubating", drained.min(on_trays), on_trays);
    let ripe = ready.unwrap_or(end).clamp(on_trays, end.max(on_trays));
    stage(Stage::OnTrays, "on_trays", on_trays, ripe);
    stage(Stage::Ready, "ready", ripe, end);
    let lanes = MARKS.iter().filter_map(|(mark, name)| {
        let of = events.iter().filter(|e| text(e, "event") == *name);
        let events: Vec<Event> = of
            .filter_map(|e| {
                let at = parse_instant(text(e, "at"))?;
                Some(Event { day: day(at), text: mark_text(page, e) })
            })
            .collect();
        let label = page.word("event", name);
        (!events.is_empty()).then_some(Lane { mark: *mark, label, events })
    });
    charts::timeline(&Timeline {
        words: Words {
            id: "life".to_owned(),
            title: page.say("timeline-title"),
            description: timeline_text(page, batch, spread, ready),
        },
        axis: page.say("timeline-axis"),
        lanes: lanes.collect(),
        segments,
        now: (!is_over).then(|| Now { day: today, label: page.say("now") }),
    })
}

/// Days of the soak as the picture draws it: four hours, the trade's common practice.
const SOAK_DAYS: f64 = 4.0 / 24.0;

fn days(ms: i64) -> f64 {
    // A batch's life is far below what a float holds exactly.
    let seconds = i32::try_from(ms / 1000).unwrap_or(i32::MAX);
    f64::from(seconds) * 1000.0 / DAY_MS
}

fn mark_text(page: &Page, event: &Json) -> String {
    let lost = text(event, "event") == "discarded";
    match event["trays"].as_i64() {
        Some(trays) if lost => {
            let cause = page.word("cause", text(event, "cause"));
            format!("{trays}: {cause}")
        }
        Some(trays) => trays.to_string(),
        None => String::new(),
    }
}

fn timeline_text(page: &Page, batch: &Json, spread: Option<f64>, ready: Option<f64>) -> String {
    let day = |d: Option<f64>| d.map_or_else(|| NONE.to_owned(), |d| format!("{d:.0}"));
    let args = [
        ("spread", day(spread).into()),
        ("ready", day(ready).into()),
        ("lost", shown(&batch["trays_discarded"], 0).into()),
    ];
    page.tell("timeline-text", &args)
}
