//! One seed lot: the farms that have it, for a recall; where it came from; a hold on it.

use crate::web::blocks::{Block, Cell, Column, Field, Form, Input, Leaf, Link, Refusal, Table};
use crate::web::echo::saved_record;
use crate::web::farms::{all, list, text};
use crate::web::forms::correct;
use crate::web::page::{Page, shown};
use crate::web::site::{Shown, file, go};
use crate::web::visit::Visit;
use serde_json::json;
use std::collections::{BTreeSet, HashMap};
use traybook_answers::Decimal;
use traybook_answers::estimates::{GrowingAt, LotEvidence};
use traybook_answers::seed::seed_trace::{LotTrace, TraceEvent, TraceLine};
use traybook_app::AppError;
use traybook_domain::Kind;
use traybook_domain::kinds::{Farm, Member};
use traybook_domain::people::authz::Action;
use traybook_reports::csv_text::line;
use uuid::Uuid;

/// Lines of the trace that the page shows; the interface gives all.
const LINES_MAX: usize = 200;

/// A farm that had seed of a lot.
struct Recalled {
    farm: Uuid,
    code: String,
    name: String,
    phone: String,
    got_kg: Decimal,
    left_kg: Option<Decimal>,
    /// Batches of it that are not over.
    growing: usize,
    /// Groups of animals that were fed from it.
    animals: String,
}

/// The farms that had seed of a lot, those first where some of it is left or grows.
async fn recall(visit: &Visit, lot: Uuid, trace: &LotTrace) -> Result<Vec<Recalled>, AppError> {
    let (app, actor) = (&visit.state.app, visit.actor()?);
    let ids: Vec<Uuid> = trace.farms.iter().map(|f| f.farm_id).collect();
    let farms = app.rows_of::<Farm>(actor, ids).await?;
    let members = farms.iter().map(|f| f.value.member_id).collect();
    let members = app.rows_of::<Member>(actor, members).await?;
    let members: HashMap<Uuid, &Member> = members.iter().map(|m| (m.id, &m.value)).collect();
    let of_farm = |farm: Uuid| farms.iter().find(|f| f.id == farm).map(|f| f.value.member_id);
    let mut growing: HashMap<String, usize> = HashMap::new();
    for batch in all(visit, Kind::Batch, &[("seed_lot_id", lot.to_string())]).await? {
        if text(&batch, "stage") != "finished" {
            *growing.entry(text(&batch, "farm_id").to_owned()).or_default() += 1;
        }
    }
    let recalled = |f: &traybook_answers::seed::seed_trace::FarmTrace| {
        let member = of_farm(f.farm_id).and_then(|id| members.get(&id));
        let fed = trace.lines.iter().filter(|l| l.what == TraceEvent::FedOut);
        let fed = fed.filter(|l| l.farm_id == Some(f.farm_id));
        let animals: BTreeSet<&str> = fed.filter_map(|l| l.animal_group.as_deref()).collect();
        let left = trace.stock.iter().find(|s| s.farm_id == Some(f.farm_id));
        Recalled {
            farm: f.farm_id,
            code: f.farm.clone(),
            name: member.map(|m| m.name.clone()).unwrap_or_default(),
            phone: member.and_then(|m| m.phone.clone()).unwrap_or_default(),
            got_kg: f.issued_kg,
            left_kg: left.map(|s| s.stock_kg),
            growing: growing.get(&f.farm_id.to_string()).copied().unwrap_or(0),
            animals: animals.into_iter().collect::<Vec<_>>().join(", "),
        }
    };
    let mut all: Vec<Recalled> = trace.farms.iter().map(recalled).collect();
    let has_some = |r: &Recalled| r.growing > 0 || r.left_kg.is_some_and(|kg| kg.units > 0);
    all.sort_by(|a, b| (!has_some(a), &a.name).cmp(&(!has_some(b), &b.name)));
    Ok(all)
}

fn recall_table(page: &Page, farms: &[Recalled]) -> Table {
    let row = |r: &Recalled| -> Vec<Cell> {
        let phone = Link::telephone(&r.phone);
        let phone = match r.phone.is_empty() {
            true => String::new().into(),
            false => Cell::link(phone.text, phone.href),
        };
        vec![
            Cell::link(format!("{} · {}", r.name, r.code), format!("/farms/{}", r.farm)),
            phone,
            shown(&r.got_kg, 1).into(),
            r.left_kg.map_or_else(String::new, |kg| shown(&kg, 1)).into(),
            r.growing.to_string().into(),
            r.animals.clone().into(),
        ]
    };
    Table {
        caption: page.say("recall-title"),
        columns: vec![
            Column::text(page.say("trace-farm")),
            Column::text(page.say("phone-number")),
            Column::number(page.say("recall-got-kg")),
            Column::number(page.say("recall-left-kg")),
            Column::number(page.say("recall-growing")),
            Column::text(page.say("recall-animals")),
        ],
        rows: farms.iter().map(row).collect(),
        total: None,
    }
}

/// The farms that had seed of a lot, as CSV.
pub(crate) async fn farms_csv(visit: Visit) -> Shown {
    let lot = visit.id("id")?;
    let trace = visit.state.app.lot_trace(visit.actor()?, lot).await?;
    let mut out =
        line(&["farm", "member", "phone", "got_kg", "left_kg", "batches_growing", "animals_fed"]);
    for r in recall(&visit, lot, &trace).await? {
        let left = r.left_kg.map(|kg| kg.to_string()).unwrap_or_default();
        let (got, growing) = (r.got_kg.to_string(), r.growing.to_string());
        out.push_str(&line(&[r.code, r.name, r.phone, got, left, growing, r.animals]));
    }
    Ok(file("lot-farms.csv", "text/csv; charset=utf-8", out.into_bytes()))
}

/// What is held against a lot: that it spoils on other farms, and whose flags it stands for.
fn held_against(page: &Page, leaf: &mut Leaf, of: &LotEvidence) {
    if of.spoils_elsewhere() {
        let times = crate::web::page::figure(of.multiplier, 1);
        leaf.add(Block::Lead(page.with("lot-spoils-elsewhere", "times", times)));
        leaf.add(Block::Caution(page.say("caution-mould")));
    }
    if of.carries_flags_at.is_empty() {
        return;
    }
    leaf.text("lot-carries-flags");
    let to = |f: &GrowingAt| Link::to(format!("/spoilage/{}", f.farm_id), f.farm.clone());
    leaf.add(Block::Links(of.carries_flags_at.iter().map(to).collect()));
}

/// One seed lot: where it came from, where it went, and a hold on it.
pub(crate) async fn show_lot(visit: Visit) -> Shown {
    lot(&visit, None).await
}

async fn lot(visit: &Visit, refusal: Option<&Refusal>) -> Shown {
    let lot_id = visit.id("id")?;
    let (page, actor) = (visit.page(), visit.actor()?);
    let record = crate::web::farms::one(visit, Kind::SeedLot, lot_id).await?;
    let trace = visit.state.app.lot_trace(actor, lot_id).await?;
    let mut leaf =
        Leaf::new(page.clone(), page.with("task-soak-lot", "lot", text(&record, "code")))
            .back("/spoilage", page.say("spoilage-list-title"));
    leaf.saved(visit);
    let holds = list(visit, Kind::LotHold, &[("seed_lot_id", lot_id.to_string())]).await?;
    let held = holds.iter().find(|h| h["released_on"].is_null());
    if held.is_some() {
        leaf.add(Block::Caution(page.say("caution-held")));
    }
    leaf.add(Block::Facts(vec![(page.say("crop"), page.crop(text(&record, "crop")))]));
    let farms = recall(visit, lot_id, &trace).await?;
    leaf.add(Block::Table(recall_table(&page, &farms)));
    let csv = Link::to(format!("/lots/{lot_id}/farms.csv"), page.say("as-csv"));
    leaf.add(Block::Links(vec![csv]));
    let evidence = visit.state.app.seed_lot_evidence(actor).await?;
    if let Some(of) = evidence.seed_lots.iter().find(|l| l.seed_lot_id == Some(lot_id)) {
        held_against(&page, &mut leaf, of);
    }
    let today = actor.coop.today(visit.state.app.now()).to_string();
    if let Some(hold) = held {
        let form =
            Form::new(format!("/holds/{}", text(hold, "id")), "release", page.say("hold-end"))
                .hide("version", shown(&hold["version"], 0))
                .field(Field::new("finding", page.say("flag-finding"), Input::Long).required());
        leaf.add(Block::Text(page.with("hold-because", "why", text(hold, "reason"))));
        if actor.visible(Action::Correct, Kind::LotHold).is_ok() {
            leaf.form(visit, refusal, form);
        }
    }
    if held.is_none() && actor.visible(Action::Create, Kind::LotHold).is_ok() {
        let form = Form::new(format!("/lots/{lot_id}/hold"), "hold", page.say("hold-do"))
            .id("id", visit.state.app.new_id()?)
            .field(
                Field::new("reason", page.say("hold-why"), Input::Text)
                    .required()
                    .group(page.say("hold-title")),
            )
            .field(
                Field::new("held_from", page.say("hold-from"), Input::Date).value(today).required(),
            );
        leaf.form(visit, refusal, form);
    }
    leaf.add(Block::Table(trace_table(&page, &trace.lines)));
    leaf.answer(refusal)
}

/// Where the lot came from and where it went, the oldest first.
fn trace_table(page: &Page, lines: &[TraceLine]) -> Table {
    let columns = ["date", "what", "farm", "batch", "animal_group", "kg", "trays"];
    let row = |r: &TraceLine| -> Vec<Cell> {
        let or_empty = |text: &Option<String>| text.clone().unwrap_or_default();
        vec![
            page.day(&r.date).into(),
            page.word("trace-what", r.what.text()).into(),
            or_empty(&r.farm).into(),
            or_empty(&r.batch).into(),
            or_empty(&r.animal_group).into(),
            r.kg.map_or_else(String::new, |kg| shown(&kg, 2)).into(),
            r.trays.map_or_else(String::new, |trays| shown(&trays, 2)).into(),
        ]
    };
    Table {
        caption: page.say("lot-trace"),
        columns: columns
            .iter()
            .map(|c| Column::text(page.say(&format!("trace-{}", c.replace('_', "-")))))
            .collect(),
        rows: lines.iter().take(LINES_MAX).map(row).collect(),
        total: None,
    }
}

/// Lets a held lot go, with what was found.
pub(crate) async fn release(visit: Visit) -> Shown {
    let (actor, id) = (visit.actor()?, visit.id("id")?);
    let mut patch = visit.record(Kind::LotHold, &["finding"]);
    patch.insert("released_on".to_owned(), json!(actor.coop.today(visit.state.app.now())));
    match correct(&visit, Kind::LotHold, id, patch).await {
        Ok(hold) => {
            let saved = saved_record(Kind::LotHold, &hold);
            Ok(go(&format!("/lots/{}?{saved}", text(&hold, "seed_lot_id"))))
        }
        Err(error) => {
            let refusal = Refusal::of(&visit, "release", error)?;
            let hold = crate::web::farms::one(&visit, Kind::LotHold, id).await?;
            let mut visit = visit;
            visit.parts.insert("id".to_owned(), text(&hold, "seed_lot_id").to_owned());
            lot(&visit, Some(&refusal)).await
        }
    }
}

/// Holds a lot.
pub(crate) async fn hold(visit: Visit) -> Shown {
    let (actor, lot_id) = (visit.actor()?, visit.id("id")?);
    let mut body = visit.record(Kind::LotHold, &["reason", "held_from"]);
    body.insert("id".to_owned(), json!(visit.form_id("id")?));
    body.insert("seed_lot_id".to_owned(), json!(lot_id));
    match visit.state.app.create(actor, Kind::LotHold, body).await {
        Ok(done) => Ok(go(&format!("/lots/{lot_id}?{}", saved_record(Kind::LotHold, &done.json)))),
        Err(error) => {
            let refusal = Refusal::of(&visit, "hold", error)?;
            lot(&visit, Some(&refusal)).await
        }
    }
}
