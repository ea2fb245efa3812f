//! Farms whose trays keep spoiling, the evidence chart behind a flag, and the verdict on seed
//! lots.

use crate::web::blocks::{
    Block, Cell, Column, Field, Form, Input, Item, Leaf, Link, Refusal, Table,
};
use crate::web::echo::saved_record;
use crate::web::farms::{held_lots, list, text};
use crate::web::forms::{choices, correct, or_none};
use crate::web::losses;
use crate::web::page::{Page, shown};
use crate::web::site::{Shown, go};
use crate::web::visit::Visit;
use chrono::Datelike as _;
use serde_json::{Value as Json, json};
use std::collections::HashSet;
use traybook_answers::estimates::{
    BatchNotCounted, ChartedBatch, FarmChart, FarmSpoilage, LotEvidence, NotCountedReason,
    SeedLotEvidence, ShedSpoilage, SpoilageFigures, SpoilageStatus,
};
use traybook_domain::Kind;
use traybook_domain::kinds::LOSS_CAUSES;
use traybook_domain::people::authz::Action;
use traybook_domain::value::real;
use traybook_reports::charts::{self, Path, PathPoint, Words};

/// Farms in the table.
const FARMS_MAX: usize = 100;
/// Batches of the table behind a chart, the newest.
const BATCHES_MAX: usize = 40;
/// Batches that the chart draws, the newest: more would be points on points.
const POINTS_MAX: usize = 90;

/// The list, the strongest evidence first.
pub(crate) async fn show_spoilage(visit: Visit) -> Shown {
    let (page, actor) = (visit.page(), visit.actor()?);
    let spoiling = visit.state.app.most_spoiling(actor, FARMS_MAX).await?;
    let lots = visit.state.app.seed_lot_evidence(actor).await?;
    let mut leaf = Leaf::new(page.clone(), page.say("spoilage-list-title"));
    leaf.text("spoilage-about");
    leaf.add(Block::Caution(page.say("caution-mould")));
    leaf.add(Block::Text(page.figures_of(spoiling.as_of)));
    let row = |f: &FarmSpoilage| {
        let figures = &f.figures;
        let status = figures.status.text().replace('_', "-");
        vec![
            Cell::link(
                format!("{} · {}", f.of.farm, f.of.member_name),
                format!("/spoilage/{}", f.of.farm_id),
            ),
            f.of.area.clone().unwrap_or_default().into(),
            page.say(&format!("spoilage-word-{status}")).into(),
            points_at(&page, figures).into(),
            figures.batches_counted.to_string().into(),
            left_out(figures).to_string().into(),
            share(figures).into(),
        ]
    };
    leaf.add(Block::Table(Table {
        caption: page.say("spoilage-farms"),
        columns: vec![
            Column::text(page.say("farm-title")),
            Column::text(page.say("area")),
            Column::text(page.say("spoilage-status")),
            Column::text(page.say("evidence-points-at")),
            Column::number(page.say("batches-counted")),
            Column::number(page.say("batches-not-counted")),
            Column::number(page.say("trays-lost-percent")),
        ],
        rows: spoiling.farms.iter().map(row).collect(),
        total: None,
    }));
    losses::of_all(&page, &mut leaf, &visit.state.app.spoilage_conditions(actor).await?);
    leaf.heading("lots-title");
    verdict(&page, &mut leaf, &lots, &held_lots(&visit).await?);
    leaf.show()
}

pub(super) fn points_at(page: &Page, figures: &SpoilageFigures) -> String {
    figures.points_at.map_or_else(String::new, |to| page.word("points-at", to.text()))
}

fn share(figures: &SpoilageFigures) -> String {
    let (begun, lost) = (real(figures.trays_begun), real(figures.trays_lost));
    if begun > 0.0 { crate::web::page::figure(100.0 * lost / begun, 1) } else { String::new() }
}

/// Batches that are not counted at all.
fn left_out(figures: &SpoilageFigures) -> u64 {
    let lines = figures.not_counted.iter();
    let whole = lines.filter(|line| line.reason != NotCountedReason::ThrownUnweighed);
    whole.map(|line| line.batches).sum()
}

fn verdict(page: &Page, leaf: &mut Leaf, lots: &SeedLotEvidence, held: &HashSet<String>) {
    let Some(verdict) = lots.verdict else { return };
    let verdict = verdict.text().replace('_', "-");
    leaf.add(Block::Lead(page.say(&format!("lots-{verdict}"))));
    if lots.seed_lots.is_empty() {
        return;
    }
    let row = |l: &LotEvidence| {
        let growing: Vec<&str> = l.growing_at.iter().map(|f| f.farm.as_str()).collect();
        let id = l.seed_lot_id.map(|id| id.to_string()).unwrap_or_default();
        vec![
            Cell::link(l.seed_lot.clone().unwrap_or_default(), format!("/lots/{id}")),
            page.crop(l.crop.as_deref().unwrap_or_default()).into(),
            l.supplier.clone().unwrap_or_default().into(),
            match (held.contains(&id), l.is_suspect || l.spoils_elsewhere()) {
                (true, _) => page.say("lot-is-held"),
                (false, true) => page.say("lot-suspect"),
                (false, false) => page.say("lot-not-suspect"),
            }
            .into(),
            l.batches.to_string().into(),
            l.farms.to_string().into(),
            growing.join(", ").into(),
        ]
    };
    leaf.add(Block::Table(Table {
        caption: page.say("lots-table"),
        columns: vec![
            Column::text(page.say("seed-lot")),
            Column::text(page.say("crop")),
            Column::text(page.say("supplier")),
            Column::text(page.say("spoilage-status")),
            Column::number(page.say("batches-counted")),
            Column::number(page.say("farms-count")),
            Column::text(page.say("growing-at")),
        ],
        rows: lots.seed_lots.iter().map(row).collect(),
        total: None,
    }));
}

/// One farm's evidence.
pub(crate) async fn show_evidence(visit: Visit) -> Shown {
    evidence(&visit, None).await
}

async fn evidence(visit: &Visit, refusal: Option<&Refusal>) -> Shown {
    let farm = visit.id("id")?;
    let (page, actor) = (visit.page(), visit.actor()?);
    let spoiling = visit.state.app.farm_spoilage(actor, farm).await?;
    let figures = &spoiling.farm.figures;
    let name = format!("{} · {}", spoiling.farm.of.farm, spoiling.farm.of.member_name);
    let mut leaf = Leaf::new(page.clone(), page.with("evidence-of", "farm", name))
        .back("/spoilage", page.say("spoilage-list-title"));
    leaf.saved(visit);
    leaf.add(Block::Lead(losses::sentence(&page, figures)));
    if figures.status.is_flagged() || figures.status == SpoilageStatus::RecurringLot {
        leaf.add(Block::Caution(page.say("caution-mould")));
        let points = points_at(&page, figures);
        if !points.is_empty() {
            leaf.add(Block::Text(page.with("evidence-to", "what", points)));
        }
    }
    losses::counted(&page, &mut leaf, figures);
    if let Some(chart) = chart(&page, &spoiling) {
        leaf.add(Block::Chart(chart));
    }
    losses::of_farm(visit, &page, &mut leaf, farm).await?;
    let flags = list(visit, Kind::Flag, &[("farm_id", farm.to_string())]).await?;
    let open = flags.iter().find(|f| f["cleared_on"].is_null());
    if let Some(flag) = open.filter(|_| actor.visible(Action::Correct, Kind::Flag).is_ok()) {
        leaf.form(visit, refusal, flag_form(&page, flag));
    }
    if !spoiling.sheds.is_empty() {
        leaf.add(Block::Table(sheds(&page, &spoiling)));
    }
    let old: Vec<&Json> = flags.iter().filter(|f| !f["cleared_on"].is_null()).collect();
    if !old.is_empty() {
        leaf.heading("flags-before");
        let item = |f: &&Json| {
            let args = [
                ("from", page.day(&f["raised_on"]).into()),
                ("to", page.day(&f["cleared_on"]).into()),
            ];
            let found = text(f, "finding");
            Item {
                title: page.tell("flag-period", &args),
                lines: if found.is_empty() { Vec::new() } else { vec![found.to_owned()] },
                ..Item::default()
            }
        };
        leaf.add(Block::List(old.iter().map(item).collect()));
    }
    if !spoiling.not_counted_batches.is_empty() {
        leaf.add(Block::Table(not_counted(&page, &spoiling)));
    }
    leaf.add(Block::Table(batches(&page, &spoiling)));
    leaf.heading("method-title");
    leaf.text("spoilage-method");
    leaf.add(Block::Links(vec![Link::to(format!("/farms/{farm}"), page.say("see-farm"))]));
    leaf.answer(refusal)
}

fn flag_form(page: &Page, flag: &Json) -> Form {
    let causes = or_none(choices(page, "cause", LOSS_CAUSES));
    let label = page.with("flag-raised", "date", page.day(&flag["raised_on"]));
    Form::new(format!("/flags/{}", text(flag, "id")), "flag", page.say("save"))
        .hide("version", shown(&flag["version"], 0))
        .field(
            Field::new("seen_on", page.say("flag-seen"), Input::Date)
                .value(text(flag, "seen_on"))
                .group(label),
        )
        .field(
            Field::new("cause", page.say("flag-cause"), Input::Choice(causes))
                .value(text(flag, "cause")),
        )
        .field(
            Field::new("finding", page.say("flag-finding"), Input::Long)
                .value(text(flag, "finding")),
        )
}

/// Notes when a flagged farm was seen, and what was found.
pub(crate) async fn note_flag(visit: Visit) -> Shown {
    let id = visit.id("id")?;
    let mut patch = visit.record(Kind::Flag, &["seen_on", "cause", "finding"]);
    for name in ["seen_on", "cause", "finding"] {
        patch.entry(name).or_insert(Json::Null);
    }
    match correct(&visit, Kind::Flag, id, patch).await {
        Ok(flag) => {
            let saved = saved_record(Kind::Flag, &flag);
            Ok(go(&format!("/spoilage/{}?{saved}", text(&flag, "farm_id"))))
        }
        Err(error) => {
            let refusal = Refusal::of(&visit, "flag", error)?;
            let flag = crate::web::farms::one(&visit, Kind::Flag, id).await?;
            let mut visit = visit;
            visit.parts.insert("id".to_owned(), text(&flag, "farm_id").to_owned());
            evidence(&visit, Some(&refusal)).await
        }
    }
}

fn chart(page: &Page, spoiling: &FarmChart) -> Option<String> {
    let all = &spoiling.path;
    // From the batches that raised the flag on, or the newest where none is up.
    let newest = all.len().saturating_sub(POINTS_MAX);
    let first = all.iter().position(|b| b.raised_the_flag).unwrap_or(newest).min(newest);
    let day = |date: chrono::NaiveDate| f64::from(date.num_days_from_ce());
    let mut points: Vec<PathPoint> = all
        .iter()
        .skip(first)
        .map(|b| PathPoint {
            label: page.short_day(&json!(b.ended_on)),
            day: day(b.ended_on),
            value: b.chart_value,
            counted: !b.is_skipped,
            raised: b.raised_the_flag,
        })
        .collect();
    let begins = points.first().map_or(f64::MAX, |p| p.day);
    let left_out = spoiling.not_counted_batches.iter().filter_map(|b| b.soaked_on);
    for soaked_on in left_out.filter(|date| day(*date) >= begins) {
        let before = points.iter().rev().find(|p| p.day <= day(soaked_on));
        points.push(PathPoint {
            label: page.short_day(&json!(soaked_on)),
            day: day(soaked_on),
            value: before.map_or(0.0, |p| p.value),
            counted: false,
            raised: false,
        });
    }
    points.sort_by(|a, b| a.day.total_cmp(&b.day));
    charts::path(&Path {
        words: Words {
            id: "evidence".to_owned(),
            title: page.say("evidence-chart"),
            description: page.say("evidence-chart-text"),
        },
        axis: page.say("evidence-axis"),
        across: page.say("evidence-across"),
        threshold: spoiling.farm.figures.flag_at.unwrap_or_default(),
        threshold_label: page.say("evidence-threshold"),
        raised_label: page.say("evidence-raised"),
        uncounted_label: page.say("evidence-uncounted"),
        points,
    })
}

fn batches(page: &Page, spoiling: &FarmChart) -> Table {
    let all = &spoiling.path;
    let row = |b: &ChartedBatch| {
        vec![
            Cell::link(page.date(b.ended_on), format!("/batches/{}", b.batch_id)),
            b.seed_lot.clone().unwrap_or_default().into(),
            shown(&json!(b.trays_begun), 0).into(),
            shown(&json!(b.trays_lost), 0).into(),
            shown(&json!(b.chart_value), 1).into(),
            shown(&json!(b.flag_at), 1).into(),
            page.say(match (b.raised_the_flag, b.is_skipped) {
                (true, _) => "yes",
                (false, true) => "evidence-skipped",
                (false, false) => "no",
            })
            .into(),
        ]
    };
    // The newest, and those behind the flag however old they are.
    let newest = all.iter().rev().enumerate();
    let shown_rows = newest.filter(|(at, b)| *at < BATCHES_MAX || b.raised_the_flag);
    Table {
        caption: page.say("evidence-batches"),
        columns: vec![
            Column::text(page.say("batch-ended-on")),
            Column::text(page.say("seed-lot")),
            Column::number(page.say("trays-begun")),
            Column::number(page.say("trays-lost")),
            Column::number(page.say("evidence-axis")),
            Column::number(page.say("evidence-flag-at")),
            Column::text(page.say("evidence-raised")),
        ],
        rows: shown_rows.map(|(_, b)| row(b)).collect(),
        total: None,
    }
}

/// The sheds of a farm that has several.
fn sheds(page: &Page, spoiling: &FarmChart) -> Table {
    let row = |s: &ShedSpoilage| {
        let status = s.figures.status.text().replace('_', "-");
        vec![
            s.shed.clone().unwrap_or_default().into(),
            page.say(&format!("spoilage-word-{status}")).into(),
            s.figures.batches_counted.to_string().into(),
            left_out(&s.figures).to_string().into(),
            share(&s.figures).into(),
        ]
    };
    Table {
        caption: page.say("evidence-sheds"),
        columns: vec![
            Column::text(page.say("shed-title")),
            Column::text(page.say("spoilage-status")),
            Column::number(page.say("batches-counted")),
            Column::number(page.say("batches-not-counted")),
            Column::number(page.say("trays-lost-percent")),
        ],
        rows: spoiling.sheds.iter().map(row).collect(),
        total: None,
    }
}

/// Batches that are not counted, the newest, and why.
fn not_counted(page: &Page, spoiling: &FarmChart) -> Table {
    let row = |b: &BatchNotCounted| {
        let day = b.soaked_on.map_or_else(|| page.say("soak-not-recorded"), |day| page.date(day));
        let reason = format!("batch-not-counted-{}", b.reason.text().replace('_', "-"));
        vec![
            Cell::link(day, format!("/batches/{}", b.batch_id)),
            page.with(&reason, "trays", b.trays).into(),
        ]
    };
    let newest = spoiling.not_counted_batches.iter().rev().take(BATCHES_MAX);
    Table {
        caption: page.say("evidence-not-counted"),
        columns: vec![
            Column::text(page.say("soaked-on")),
            Column::text(page.say("evidence-why-not")),
        ],
        rows: newest.map(row).collect(),
        total: None,
    }
}
