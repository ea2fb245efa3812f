//! What the files would become: their first rows in words, and what is wrong with the others.

use super::{kind_name, outcome, refused_links};
use crate::web::blocks::{Block, Cell, Column, Form, Leaf, Link, Table};
use crate::web::page::Page;
use crate::web::site::{Shown, query};
use crate::web::visit::Visit;
use traybook_app::records::import::{BadRow, FileOutcome, FileReport, SampleRow, Source};
use traybook_domain::time::parse_date;
use traybook_domain::{FieldKind, Kind};
use traybook_sheets::columns::word_set;
use traybook_sheets::days::DayOrder;
use traybook_sheets::layout::target;
use traybook_sheets::words::label;
use uuid::Uuid;

/// Bad rows shown of one file.
const ROWS_SHOWN: usize = 50;
/// Characters of a row that are shown.
const ROW_CHARS: usize = 160;

/// Looks files through and shows what comes of it.
pub(super) async fn show_preview(visit: &Visit, name: Uuid, files: Vec<Source>) -> Shown {
    let reports = visit.state.app.import(visit.actor()?, files.clone(), true).await?;
    let page = visit.page();
    let outcomes = reports.iter().zip(&files).map(|(report, file)| outcome(&page, file, report));
    let outcomes: Vec<FileOutcome> = outcomes.collect();
    visit.state.app.keep_choice(visit.actor()?, name, &files, &outcomes).await?;
    let mut leaf = Leaf::new(page.clone(), page.say("import-preview"))
        .back("/import", page.say("import-title"));
    leaf.text("import-nothing-kept");
    leaf.add(Block::Table(summary(&page, &outcomes)));
    for (report, source) in reports.iter().zip(&files) {
        add_file(&mut leaf, &page, report, source);
    }
    let mut links = vec![Link::to(
        format!("/import/columns?{}", query(&[("name", &name.to_string())])),
        page.say("import-change-columns"),
    )];
    links.extend(refused_links(&page, name, &outcomes));
    leaf.add(Block::Links(links));
    let whole = reports.iter().filter(|r| r.bad_count == 0).count();
    let rows: u64 = reports.iter().map(|r| r.rows.saturating_sub(r.bad_count)).sum();
    let count = |n: usize| i64::try_from(n).unwrap_or(0);
    let mut buttons = Vec::new();
    if whole > 0 {
        buttons.push(("whole".to_owned(), page.with("import-take", "count", count(whole))));
    }
    if whole < reports.len() && rows > 0 {
        let rows = i64::try_from(rows).unwrap_or(0);
        buttons.push(("rows".to_owned(), page.with("import-take-rows", "count", rows)));
    }
    if buttons.is_empty() {
        leaf.add(Block::Caution(page.say("import-none-good")));
    } else {
        let form = Form::new("/import/take", "take", "").hide("name", name.to_string());
        leaf.add(Block::Form(form.answers("how", buttons)));
    }
    leaf.show()
}

fn add_file(leaf: &mut Leaf, page: &Page, report: &FileReport, source: &Source) {
    leaf.add(Block::Heading(report.file.clone(), report.file.clone()));
    if source.unreadable.is_none() {
        leaf.add(Block::Facts(facts(page, report, source)));
    }
    if !report.sample.is_empty() {
        leaf.add(Block::Table(sample(page, report)));
    }
    if !report.bad.is_empty() {
        leaf.add(Block::Table(bad_rows(page, report, source)));
    }
    if report.waiting > 0 {
        let count = i64::try_from(report.waiting).unwrap_or(0);
        leaf.add(Block::Text(page.with("import-waiting", "count", count)));
    }
}

/// How the file is read.
fn facts(page: &Page, report: &FileReport, source: &Source) -> Vec<(String, String)> {
    let layout = &source.layout;
    let line = source.grid.rows.get(layout.header).map_or(1, |row| row.line).to_string();
    let mut facts = vec![
        (page.say("import-rows-are"), kind_name(page, report.kind)),
        (page.say("import-columns"), page.with("import-header-line", "line", line)),
    ];
    if let Some(days) = layout.days.filter(|_| !layout.is_exported()) {
        facts
            .push((page.say("import-days"), page.say(&format!("import-{}", DayOrder::name(days)))));
    }
    for (target, text) in &layout.fixed {
        let name = label(page.language, layout.kind, target);
        let text = value(page, report.kind, target.name(), text);
        facts.push((page.with("import-fixed", "field", name), text));
    }
    if report.left_out > 0 {
        facts.push((page.say("import-left-out"), report.left_out.to_string()));
    }
    facts
}

/// A value as a page says it.
fn value(page: &Page, kind: Kind, name: &str, text: &str) -> String {
    let field = target(kind, name).and_then(|t| t.field());
    match field.map(|f| f.kind) {
        Some(FieldKind::Choice(of)) => {
            let set = word_set(of);
            let known = set.and_then(|set| page.language.known(&format!("{set}-{text}"), &[]));
            known.unwrap_or_else(|| text.replace('_', " "))
        }
        Some(FieldKind::Bool) => page.say(&format!("answer-{text}")),
        Some(FieldKind::Date { .. }) => {
            parse_date(text).map_or_else(|| text.to_owned(), |day| page.date(day))
        }
        Some(FieldKind::Instant) => {
            let at = traybook_domain::time::parse_instant(text);
            at.map_or_else(|| text.to_owned(), |at| page.moment(&at))
        }
        _ => text.to_owned(),
    }
}

/// The first rows as what they become.
fn sample(page: &Page, report: &FileReport) -> Table {
    let mut names: Vec<&str> = Vec::new();
    for (name, _) in report.sample.iter().flat_map(|row| &row.cells) {
        if !names.contains(name) {
            names.push(name);
        }
    }
    let heading = |name: &&str| {
        let target = target(report.kind, name);
        let text = target.map(|t| label(page.language, report.kind, &t));
        Column::text(text.unwrap_or_else(|| (*name).to_owned()))
    };
    let row = |row: &SampleRow| -> Vec<Cell> {
        let cell = |name: &&str| {
            let found = row.cells.iter().find(|(n, _)| n == name);
            found.map_or(String::new(), |(n, text)| value(page, report.kind, n, text)).into()
        };
        std::iter::once(row.line.to_string().into()).chain(names.iter().map(cell)).collect()
    };
    let columns = names.iter().map(heading);
    Table {
        caption: page.say("import-first-rows"),
        columns: std::iter::once(Column::number(page.say("import-line"))).chain(columns).collect(),
        rows: report.sample.iter().map(row).collect(),
        total: None,
    }
}

pub(super) fn summary(page: &Page, outcomes: &[FileOutcome]) -> Table {
    let row = |r: &FileOutcome| -> Vec<Cell> {
        let verdict = if r.bad_count == 0 { "import-good" } else { "import-bad" };
        vec![
            r.file.clone().into(),
            page.say(verdict).into(),
            r.rows.to_string().into(),
            r.made.to_string().into(),
            r.before.to_string().into(),
            r.bad_count.to_string().into(),
        ]
    };
    Table {
        caption: page.say("import-files"),
        columns: vec![
            Column::text(page.say("import-file")),
            Column::text(page.say("import-verdict")),
            Column::number(page.say("import-rows")),
            Column::number(page.say("import-new")),
            Column::number(page.say("import-before")),
            Column::number(page.say("import-bad-rows")),
        ],
        rows: outcomes.iter().map(row).collect(),
        total: None,
    }
}

/// A column by the name that it has in the file, and what that means where the name does not say
/// it.
fn column_text(page: &Page, name: &str) -> String {
    let label = page.field_name(&name.to_lowercase().replace(['-', ' '], "_"));
    let says_it = label.is_empty() || label.replace(' ', "_").eq_ignore_ascii_case(name);
    if says_it { name.to_owned() } else { format!("{name} ({label})") }
}

/// Bad rows with what stands in them, and how many others wait for each.
fn bad_rows(page: &Page, report: &FileReport, source: &Source) -> Table {
    let row = |bad: &BadRow| -> Vec<Cell> {
        let row = source.grid.rows.iter().find(|row| row.line == bad.line);
        let cells = row.map(|row| row.cells.iter().map(|c| c.text.as_str()).collect::<Vec<_>>());
        let line: String = cells.unwrap_or_default().join(", ").chars().take(ROW_CHARS).collect();
        let mut what = page.refusal(&bad.error);
        if bad.behind > 0 {
            let count = i64::try_from(bad.behind).unwrap_or(0);
            what = format!("{what} {}", page.with("import-behind", "count", count));
        }
        vec![
            bad.line.to_string().into(),
            column_text(page, &bad.name).into(),
            what.into(),
            line.into(),
        ]
    };
    let left = report.bad.len().saturating_sub(ROWS_SHOWN);
    let caption = match left {
        0 => page.say("import-bad-rows"),
        left => page.with("import-bad-more", "count", i64::try_from(left).unwrap_or(0)),
    };
    Table {
        caption,
        columns: vec![
            Column::number(page.say("import-line")),
            Column::text(page.say("import-column")),
            Column::text(page.say("import-what")),
            Column::text(page.say("import-row")),
        ],
        rows: report.bad.iter().take(ROWS_SHOWN).map(row).collect(),
        total: None,
    }
}
