//! Reading spreadsheets: a preview that shows bad rows in place and keeps nothing, then the
//! import, which takes each good file whole and leaves the others for later.

use crate::web::blocks::{Block, Cell, Column, Field, Form, Input, Leaf, Refusal, Table};
use crate::web::page::Page;
use crate::web::site::{Shown, go};
use crate::web::visit::Visit;
use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};
use traybook_app::records::import::{FileReport, Source, kind_of_file};
use traybook_app::{Actor, AppError};
use traybook_domain::authz::Task;
use traybook_domain::{FieldError, limits};
use uuid::Uuid;

/// Bad rows shown of one file.
const ROWS_SHOWN: usize = 50;
/// Characters of a row that are shown.
const ROW_CHARS: usize = 160;

/// Files that were looked through and wait to be taken, by a name that only their person knows.
#[derive(Default)]
pub struct Waiting(Mutex<HashMap<Uuid, Files>>);

struct Files {
    coop: Uuid,
    person: Uuid,
    at: i64,
    files: Vec<Source>,
}

impl Waiting {
    /// Keeps files for a while; what is too old, and the oldest where there are too many, goes.
    fn keep(&self, name: Uuid, files: Files) {
        let mut all = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let since = files.at - limits::IMPORT_WAITS_MS;
        all.retain(|_, f| f.at >= since && (f.coop, f.person) != (files.coop, files.person));
        while all.len() >= limits::IMPORTS_WAITING_MAX {
            let oldest = all.iter().min_by_key(|(_, f)| f.at).map(|(name, _)| *name);
            let Some(oldest) = oldest else { break };
            all.remove(&oldest);
        }
        all.insert(name, files);
    }

    fn find(&self, actor: &Actor, name: Uuid) -> Option<Vec<Source>> {
        let all = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let own = |f: &&Files| (f.coop, f.person) == (actor.coop.id, actor.person);
        all.get(&name).filter(own).map(|f| f.files.clone())
    }

    fn drop_one(&self, name: Uuid) {
        self.0.lock().unwrap_or_else(PoisonError::into_inner).remove(&name);
    }
}

/// The form.
pub(crate) async fn show_import(visit: Visit) -> Shown {
    page(&visit, None, None)
}

fn page(visit: &Visit, refusal: Option<&Refusal>, done: Option<&[FileReport]>) -> Shown {
    visit.actor()?.task(Task::Import)?;
    let page = visit.page();
    let mut leaf =
        Leaf::new(page.clone(), page.say("import-title")).back("/office", page.say("nav-office"));
    if let Some(reports) = done {
        leaf.add(Block::Notice(page.say("import-done")));
        leaf.add(Block::Table(summary(&page, reports)));
        for report in reports.iter().filter(|r| r.bad_count > 0) {
            leaf.add(Block::Caution(page.with("import-not-taken", "file", report.file.as_str())));
        }
    }
    leaf.text("import-intro");
    let form = Form::new("/import", "import", page.say("import-look")).field(
        Field::new("files", page.say("import-files"), Input::File(".csv,text/csv", true))
            .hint(page.say("import-hint"))
            .required(),
    );
    leaf.form(visit, refusal, form);
    leaf.answer(refusal)
}

/// Looks files through.
pub(crate) async fn preview(visit: Visit) -> Shown {
    let actor = visit.actor()?;
    actor.task(Task::Import)?;
    let files = match read(&visit) {
        Ok(files) => files,
        Err(error) => {
            let refusal = Refusal::of(&visit, "import", error)?;
            return page(&visit, Some(&refusal), None);
        }
    };
    let app = &visit.state.app;
    let reports = app.import(actor, files.clone(), true).await?;
    let name = app.new_id()?;
    let waiting =
        Files { coop: actor.coop.id, person: actor.person, at: app.now().0, files: files.clone() };
    visit.state.imports.keep(name, waiting);
    let page = visit.page();
    let mut leaf = Leaf::new(page.clone(), page.say("import-preview"))
        .back("/import", page.say("import-title"));
    leaf.text("import-nothing-kept");
    leaf.add(Block::Table(summary(&page, &reports)));
    for (report, (_, bytes)) in reports.iter().zip(&files) {
        if report.bad_count > 0 {
            leaf.add(Block::Heading(report.file.clone(), report.file.clone()));
            leaf.add(Block::Table(bad_rows(&page, report, bytes)));
        }
    }
    let good = reports.iter().filter(|r| r.bad_count == 0).count();
    if good > 0 {
        let count = i64::try_from(good).unwrap_or(0);
        let form = Form::new("/import/take", "take", page.with("import-take", "count", count))
            .hide("name", name.to_string());
        leaf.add(Block::Form(form));
    } else {
        leaf.add(Block::Caution(page.say("import-none-good")));
    }
    leaf.show()
}

/// Takes the files that were looked through.
pub(crate) async fn take(visit: Visit) -> Shown {
    let actor = visit.actor()?;
    actor.task(Task::Import)?;
    let name = visit.form_id("name")?;
    let Some(files) = visit.state.imports.find(actor, name) else {
        return Ok(go("/import"));
    };
    let reports = visit.state.app.import(actor, files, false).await?;
    visit.state.imports.drop_one(name);
    page(&visit, None, Some(&reports))
}

/// The files of the form, by kind, in the order of dependence.
fn read(visit: &Visit) -> Result<Vec<Source>, AppError> {
    let mut found: Vec<Source> = Vec::new();
    let mut errors = Vec::new();
    for file in visit.files.iter().filter(|f| f.field == "files" && !f.bytes.is_empty()) {
        match kind_of_file(&file.name) {
            Some(kind) if found.iter().any(|(k, _)| *k == kind) => {
                let detail = format!("two files hold {}; send one", kind.spec().path);
                let error = FieldError::new("files", "repeated", detail);
                errors.push(error.naming("file", &file.name));
            }
            Some(kind) => found.push((kind, Arc::new(file.bytes.clone()))),
            None => {
                let detail = format!(
                    "{}: no record kind has this name; call the file members.csv, milk_records.csv \
                     or the like",
                    file.name
                );
                let error = FieldError::new("files", "choice", detail);
                errors.push(error.naming("file", &file.name));
            }
        }
    }
    if found.is_empty() && errors.is_empty() {
        errors.push(FieldError::new("files", "required", "choose one or more CSV files"));
    }
    found.sort_by_key(|(kind, _)| *kind);
    if errors.is_empty() { Ok(found) } else { Err(AppError::Invalid(errors)) }
}

fn summary(page: &Page, reports: &[FileReport]) -> Table {
    let row = |r: &FileReport| -> Vec<Cell> {
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
        rows: reports.iter().map(row).collect(),
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

/// Bad rows with what stands in them.
fn bad_rows(page: &Page, report: &FileReport, bytes: &[u8]) -> Table {
    let text = String::from_utf8_lossy(bytes);
    let lines: Vec<&str> = text.lines().collect();
    let row = |bad: &traybook_app::records::import::BadRow| -> Vec<Cell> {
        let at = usize::try_from(bad.line).unwrap_or(0).checked_sub(1);
        let line = at.and_then(|at| lines.get(at)).copied().unwrap_or_default();
        let line: String = line.chars().take(ROW_CHARS).collect();
        vec![
            bad.line.to_string().into(),
            column_text(page, &bad.name).into(),
            page.refusal(&bad.error).into(),
            line.into(),
        ]
    };
    let left = report.bad_count.saturating_sub(u64::try_from(ROWS_SHOWN).unwrap_or(0));
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
