//! Cases in a file: scenes and texts with what they must give.

use chrono::NaiveDate;
use serde_json::{Map, Value as Json, json};
use traybook_speech::Language;
use traybook_texts::{
    Again, Animal, Caution, Farm, Group, Line, Outcome, Query, Reading, Record, Scene, Session,
    Standing, State, Task, What, Written, batches, gsm, read, same_text, work,
};

/// What is off in a case; empty where all is as it must be.
pub fn off(base: &Json, case: &Json) -> Vec<String> {
    let mut scene = scene(base, &case["scene"]);
    let mut off = Vec::new();
    for exchange in case["exchanges"].as_array().into_iter().flatten() {
        let text = exchange["in"].as_str();
        let reading = read(text, &scene);
        off.extend(unlike(exchange, &reading).into_iter().map(|what| format!("{text:?}: {what}")));
        go_on(&mut scene, text, &reading);
    }
    off
}

/// The scene after a text, as the server keeps it.
pub fn go_on(scene: &mut Scene, text: Option<&str>, reading: &Reading) {
    scene.pending.clone_from(&reading.pending);
    match reading.outcome {
        Outcome::Record => {
            scene.last.clone_from(&reading.records);
            scene.recent.extend(text.map(same_text));
        }
        Outcome::Undo => {
            scene.last.clear();
            scene.recent.clear();
        }
        Outcome::Stop => scene.stopped = true,
        Outcome::Start => scene.stopped = false,
        Outcome::Answer => {
            scene.listed |= reading.asked.as_ref().is_some_and(|a| a.query == Query::Work);
        }
        _ => {}
    }
}

fn unlike(exchange: &Json, reading: &Reading) -> Vec<String> {
    let mut off = Vec::new();
    let wanted = exchange["outcome"].as_str().unwrap_or_default();
    if wanted != reading.outcome.text() {
        off.push(format!("outcome {}, must be {wanted}", reading.outcome.text()));
    }
    let records: Vec<Json> = reading.records.iter().map(record).collect();
    if exchange["records"] != json!(records) {
        let wanted = &exchange["records"];
        off.push(format!("records {}, must be {wanted}", json!(records)));
    }
    match gsm::septets(&reading.answer) {
        Some(n) if n <= gsm::SEGMENT && n > 0 => {}
        n => off.push(format!("answer of {n:?} septets: {}", reading.answer)),
    }
    off
}

/// A record as cases write it.
pub fn record(record: &Record) -> Json {
    let kind = match record.what {
        What::Milk { .. } => "milk_record",
        What::Eggs { .. } => "egg_record",
        What::Harvest { .. } | What::Discard { .. } => "batch_event",
        What::Work { .. } => "work",
    };
    let mut out = json!({ "kind": kind, "farm": record.farm, "date": record.date.to_string() });
    let more = match &record.what {
        What::Milk { group, ml, animals, session, again, .. } => json!({
            "group": group, "v": ml, "animals": animals, "session": session.text(),
            "corrects": again.is_some(),
        }),
        What::Eggs { group, eggs, animals, cracked, again, .. } => json!({
            "group": group, "v": eggs, "animals": animals, "cracked": cracked,
            "corrects": again.is_some(),
        }),
        What::Harvest { batch, grams, trays, .. } => json!({
            "event": "harvested", "batch": batch, "kg": grams.map_or(json!("none"), |g| json!(g)),
            "trays": trays,
        }),
        What::Discard { batch, grams, trays, cause, .. } => json!({
            "event": "discarded", "batch": batch, "kg": grams, "trays": trays, "cause": cause,
        }),
        What::Work { task, n, grams, trays, .. } => json!({
            "event": task.text(), "n": n, "kg": grams, "trays": trays,
        }),
    };
    let (Some(out_map), Some(more)) = (out.as_object_mut(), more.as_object()) else { return out };
    for (name, value) in more {
        // What is not known is left out, but for the kg of a harvest.
        if !value.is_null() && *value != json!(false) {
            let value = if *value == json!("none") { Json::Null } else { value.clone() };
            out_map.insert(name.clone(), value);
        }
    }
    out
}

/// The scene of a case: the base, and what differs from it.
pub fn scene(base: &Json, differs: &Json) -> Scene {
    let empty = Map::new();
    let differs = differs.as_object().unwrap_or(&empty);
    let of = |name: &str| differs.get(name).unwrap_or(&base[name]);
    let farms: Vec<Farm> = list(of("farms")).map(farm).collect();
    let today = NaiveDate::from_ymd_opt(2026, 11, 27).unwrap_or_default();
    let written = of("day").as_object().into_iter().flatten();
    let coops = of("coops").as_u64().unwrap_or(1);
    let last = list(of("last")).filter_map(|r| said(r, &farms)).collect();
    Scene {
        known: of("known").as_bool().unwrap_or(true),
        language: Language::parse(of("lang").as_str().unwrap_or("sw")).unwrap_or_default(),
        today,
        written: written.filter_map(|(key, amount)| written_of(key, amount)).collect(),
        farms,
        pending: None,
        last,
        listed: of("listed").as_bool().unwrap_or(false),
        stopped: of("stopped").as_bool().unwrap_or(false),
        coops: (1..=coops).map(|n| format!("Ushirika {n}")).collect(),
        members: usize::try_from(of("members").as_u64().unwrap_or(1)).unwrap_or(1),
        may_money: true,
        recent: Vec::new(),
    }
}

fn list(value: &Json) -> impl Iterator<Item = &Json> {
    value.as_array().into_iter().flatten()
}

fn text(value: &Json) -> Option<String> {
    value.as_str().map(str::to_owned)
}

fn written_of(key: &str, amount: &Json) -> Option<Written> {
    let (group, date) = key.split_once('|')?;
    Some(Written {
        group: group.to_owned(),
        date: date.parse().ok()?,
        session: Session::Day,
        amount: amount.as_i64()?,
    })
}

fn farm(value: &Json) -> Farm {
    let group = |g: &Json| Group {
        code: text(&g["code"]).unwrap_or_default(),
        animal: if g["cls"] == "eggs" { Animal::Hens } else { Animal::Cows },
        animals: g["animals"].as_i64().unwrap_or(0),
        usual: g["typical"].as_i64(),
    };
    let standing = |s: &Json| Standing {
        batch: text(&s["batch"]).unwrap_or_default(),
        trays: s["trays"].as_i64().unwrap_or(0),
        harvest_on: s["harvest"].as_str().and_then(|d| d.parse().ok()),
    };
    Farm {
        code: text(&value["code"]).unwrap_or_default(),
        groups: list(&value["groups"]).map(group).collect(),
        lines: list(&value["lines"]).filter_map(line).collect(),
        standing: list(&value["standing"]).map(standing).collect(),
        month: None,
    }
}

fn line(l: &Json) -> Option<Line> {
    Some(Line {
        n: l["n"].as_i64(),
        task: Task::parse(l["task"].as_str()?)?,
        batch: text(&l["batch"]),
        group: text(&l["group"]),
        trays: l["trays"].as_i64(),
        grams: l["kg"].as_i64(),
        crop: text(&l["crop"]),
        watering: l["nr"].as_i64().zip(l["of"].as_i64()),
        state: match l["state"].as_str() {
            Some("late") => State::Late,
            Some("done") => State::Done,
            _ => State::Open,
        },
        caution: match l["caution"].as_str() {
            Some("mould") => Some(Caution::Mould),
            Some("held") => Some(Caution::Held),
            Some(_) => Some(Caution::OverAge),
            None => None,
        },
        line: text(&l["line"])?,
    })
}

/// A record of the last text, as a case writes it.
fn said(value: &Json, farms: &[Farm]) -> Option<Record> {
    let farm = text(&value["farm"])?;
    let group = text(&value["group"]).unwrap_or_default();
    let again = (value["corrects"] == true).then_some(Again::Instead);
    let animal = farms.iter().flat_map(|f| &f.groups).find(|g| g.code == group).map(|g| g.animal);
    let number = |name: &str| value[name].as_i64();
    let batch = text(&value["batch"]).unwrap_or_default();
    let what = match (value["kind"].as_str()?, value["event"].as_str().unwrap_or_default()) {
        ("milk_record", _) => What::Milk {
            group,
            animal: animal.unwrap_or(Animal::Cows),
            ml: number("v")?,
            said: number("v")?,
            animals: number("animals")?,
            session: Session::parse(value["session"].as_str()?)?,
            again,
            is_sure: false,
        },
        ("egg_record", _) => What::Eggs {
            group,
            eggs: number("v")?,
            said: number("v")?,
            animals: number("animals")?,
            cracked: number("cracked"),
            again,
            is_sure: false,
        },
        ("batch_event", "harvested") => What::Harvest {
            batch,
            grams: number("kg"),
            trays: number("trays"),
            line: None,
            is_mouldy: false,
        },
        ("batch_event", _) => What::Discard {
            batch,
            grams: number("kg"),
            trays: number("trays"),
            cause: text(&value["cause"])?,
            line: None,
        },
        ("work", task) => What::Work {
            task: Task::parse(task)?,
            n: number("n"),
            grams: number("kg"),
            trays: number("trays"),
            line: String::new(),
        },
        _ => return None,
    };
    Some(Record { farm, date: value["date"].as_str()?.parse().ok()?, what })
}

/// The answers that need the farm alone fit as well.
pub fn lists_fit(scene: &Scene) -> bool {
    let fits = |text: &str| gsm::septets(text).is_some_and(|n| n <= gsm::SEGMENT);
    scene.farms.iter().all(|f| fits(&work(scene, f)) && fits(&batches(scene, f)))
}

/// Prints what is answered.
pub fn say(base: &Json, case: &Json) {
    let mut scene = scene(base, &case["scene"]);
    for exchange in list(&case["exchanges"]) {
        let text = exchange["in"].as_str();
        let reading = read(text, &scene);
        println!("    {} -> {}", text.unwrap_or("(a call)"), reading.answer);
        go_on(&mut scene, text, &reading);
    }
}
