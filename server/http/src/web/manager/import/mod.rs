//! Reading spreadsheets: where the columns go, a preview that shows what each row becomes and
//! keeps nothing, then the import; refused rows come back as a file.

mod columns;
mod preview;
mod templates;

pub(crate) use columns::{choose, show_columns};
pub(crate) use templates::{show_template, show_templates};

use crate::web::blocks::{Block, Field, Form, Input, Leaf, Link, Refusal};
use crate::web::page::Page;
use crate::web::site::{Shown, file, go, query};
use crate::web::visit::Visit;
use actix_web::http::header::REFRESH;
use preview::{show_preview, summary};
use std::collections::HashMap;
use std::sync::atomic::Ordering;
use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;
use traybook_app::records::import::{BadRow, FileReport, Source, refused_file};
use traybook_app::{Actor, AppError};
use traybook_domain::authz::Task;
use traybook_domain::{FieldError, Kind, limits};
use uuid::Uuid;

/// Files that were looked through and wait to be taken, by a name that only their person knows.
#[derive(Default)]
pub struct Waiting(Mutex<HashMap<Uuid, Files>>);

#[derive(Clone)]
struct Files {
    coop: Uuid,
    person: Uuid,
    at: i64,
    files: Vec<Source>,
    /// What was last said of them.
    reports: Vec<FileReport>,
    state: Taking,
}

/// Whether files are being taken.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Taking {
    /// They wait for somebody to say so.
    Waits,
    /// They are being written.
    Runs,
    /// They are written, or refused.
    Done,
    /// They could not be written, and may be sent again.
    Failed,
}

impl Waiting {
    /// Keeps files for a while; what is too old, and the oldest where there are too many, goes.
    fn keep(&self, name: Uuid, files: Files) {
        let mut all = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let since = files.at - limits::IMPORT_WAITS_MS;
        all.retain(|_, f| f.at >= since && (f.coop, f.person) != (files.coop, files.person));
        while all.len() >= limits::IMPORTS_WAITING_MAX {
            let first = |f: &Files| (f.state == Taking::Runs, f.at);
            let oldest = all.iter().min_by_key(|(_, f)| first(f)).map(|(name, _)| *name);
            let Some(oldest) = oldest else { break };
            all.remove(&oldest);
        }
        all.insert(name, files);
    }

    /// Begins to take files; false where that has begun, however often the button is tapped.
    fn begin(&self, name: Uuid) -> bool {
        let mut all = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let files = all.get_mut(&name).filter(|f| f.state != Taking::Runs);
        files.map(|f| f.state = Taking::Runs).is_some()
    }

    fn end(&self, name: Uuid, done: Result<Vec<FileReport>, AppError>) {
        let mut all = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let Some(files) = all.get_mut(&name) else { return };
        match done {
            Ok(reports) => (files.state, files.reports) = (Taking::Done, reports),
            Err(error) => {
                tracing::warn!(%error, "files could not be taken");
                files.state = Taking::Failed;
            }
        }
    }

    fn find(&self, actor: &Actor, name: Uuid) -> Option<Files> {
        let all = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let own = |f: &&Files| (f.coop, f.person) == (actor.coop.id, actor.person);
        all.get(&name).filter(own).cloned()
    }
}

/// Keeps files of this visit under a name.
fn keep(
    visit: &Visit,
    name: Uuid,
    files: Vec<Source>,
    reports: Vec<FileReport>,
) -> Result<(), AppError> {
    let actor = visit.actor()?;
    let at = visit.state.app.now().0;
    let (coop, person, state) = (actor.coop.id, actor.person, Taking::Waits);
    let waiting = Files { coop, person, at, files, reports, state };
    visit.state.imports.keep(name, waiting);
    Ok(())
}

/// The files that the form or address names; none where they do not wait any more.
fn waiting(visit: &Visit) -> Result<Option<(Uuid, Files)>, AppError> {
    let actor = visit.actor()?;
    actor.task(Task::Import)?;
    let name = visit.form_id("name")?;
    Ok(visit.state.imports.find(actor, name).map(|files| (name, files)))
}

/// What the rows of a kind are, in words.
fn kind_name(page: &Page, kind: Kind) -> String {
    let known = page.language.known(&format!("kind-{}", kind.spec().one), &[]);
    known.unwrap_or_else(|| kind.spec().path.replace('-', " "))
}

/// The form.
pub(crate) async fn show_import(visit: Visit) -> Shown {
    page(&visit, None, None)
}

fn page(visit: &Visit, refusal: Option<&Refusal>, done: Option<(Uuid, &[FileReport])>) -> Shown {
    visit.actor()?.task(Task::Import)?;
    let page = visit.page();
    let mut leaf =
        Leaf::new(page.clone(), page.say("import-title")).back("/office", page.say("nav-office"));
    if let Some((name, reports)) = done {
        leaf.add(Block::Notice(page.say("import-done")));
        leaf.add(Block::Table(summary(&page, reports)));
        for report in reports.iter().filter(|r| r.bad_count > 0) {
            let key = if report.made + report.before > 0 {
                "import-rows-not-taken"
            } else {
                "import-not-taken"
            };
            leaf.add(Block::Caution(page.with(key, "file", report.file.as_str())));
        }
        leaf.add(Block::Links(refused_links(&page, name, reports)));
    }
    leaf.text("import-intro");
    let take = ".csv,.tsv,.xlsx,text/csv,\
                application/vnd.openxmlformats-officedocument.spreadsheetml.sheet";
    let form = Form::new("/import", "import", page.say("import-look")).field(
        Field::new("files", page.say("import-files"), Input::File(take, true))
            .hint(page.say("import-hint"))
            .required(),
    );
    leaf.form(visit, refusal, form);
    leaf.add(Block::Links(vec![Link::to("/import/templates", page.say("import-templates"))]));
    leaf.answer(refusal)
}

/// A link to the refused rows of each file that has some.
fn refused_links(page: &Page, name: Uuid, reports: &[FileReport]) -> Vec<Link> {
    let has_rows = |(_, r): &(usize, &FileReport)| r.bad_count > 0 && r.rows > 0;
    let link = |(at, report): (usize, &FileReport)| {
        let pairs = [("name", name.to_string()), ("file", at.to_string())];
        let pairs = pairs.each_ref().map(|(n, v)| (*n, v.as_str()));
        let text = page.with("import-refused-rows", "file", report.file.as_str());
        Link::to(format!("/import/refused?{}", query(&pairs)), text)
    };
    reports.iter().enumerate().filter(has_rows).map(link).collect()
}

/// Looks files through, after a question where the columns do not say everything.
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
    let files = visit.state.app.read_as_before(actor, files).await?;
    let name = visit.state.app.new_id()?;
    let is_sure = |s: &Source| s.unreadable.is_some() || s.layout.is_sure(&s.grid);
    if files.iter().all(is_sure) {
        return show_preview(&visit, name, files).await;
    }
    keep(&visit, name, files.clone(), Vec::new())?;
    columns::page(&visit, name, &files, None)
}

/// Takes the files that were looked through: the good ones whole, or the good rows of all.
pub(crate) async fn take(visit: Visit) -> Shown {
    let actor = visit.actor()?;
    let Some((name, Files { files, .. })) = waiting(&visit)? else { return Ok(go("/import")) };
    if visit.state.imports.begin(name) {
        let (state, actor) = (Arc::clone(&visit.state), actor.clone());
        let is_rows = visit.field("how") == Some("rows");
        // It goes on when nobody waits for it any more.
        actix_web::rt::spawn(async move {
            let done = match is_rows {
                true => state.app.import_good_rows(&actor, files).await,
                false => state.app.import(&actor, files, false).await,
            };
            state.imports.end(name, done);
        });
    }
    // Most files are written at once.
    for _ in 0..TAKING_LOOKS {
        if visit.state.imports.find(actor, name).is_none_or(|f| f.state != Taking::Runs) {
            break;
        }
        actix_web::rt::time::sleep(TAKING_LOOK).await;
    }
    show_running(visit).await
}

/// Looks whether files are written, before the person is shown how far they are.
const TAKING_LOOKS: u32 = 60;
const TAKING_LOOK: Duration = Duration::from_millis(25);
/// Seconds after which the page looks again.
const LOOK_AGAIN_S: &str = "2";

/// How far files are that are being written; what became of them when they are.
pub(crate) async fn show_running(visit: Visit) -> Shown {
    let Some((name, Files { files, reports, state, .. })) = waiting(&visit)? else {
        return Ok(go("/import"));
    };
    let leaf = || {
        let page = visit.page();
        let office = page.say("nav-office");
        Leaf::new(page.clone(), page.say("import-title")).back("/office", office)
    };
    match state {
        Taking::Done => page(&visit, None, Some((name, &reports))),
        Taking::Waits | Taking::Failed => {
            let mut leaf = leaf();
            leaf.text("import-failed");
            leaf.add(Block::Links(vec![Link::to("/import", visit.page().say("import-title"))]));
            leaf.answer(None)
        }
        Taking::Runs => {
            let read: u64 = files.iter().map(|s| s.progress.load(Ordering::Relaxed)).sum();
            let all: usize = files.iter().map(|s| s.layout.rows(&s.grid).0.len()).sum();
            let all = i64::try_from(all).unwrap_or(i64::MAX);
            let rows = i64::try_from(read).unwrap_or(i64::MAX).min(all);
            let mut leaf = leaf();
            let args = [("rows", rows.into()), ("all", all.into())];
            let text = visit.page().tell("import-running", &args);
            leaf.add(Block::Notice(text));
            let mut shown = leaf.answer(None)?;
            let to = format!("{LOOK_AGAIN_S}; url=/import/running?name={name}");
            if let Ok(value) = to.parse() {
                shown.headers_mut().insert(REFRESH, value);
            }
            Ok(shown)
        }
    }
}

/// The refused rows of a file, to be mended and sent again.
pub(crate) async fn refused(visit: Visit) -> Shown {
    let found = waiting(&visit)?;
    let (_, Files { files, reports, .. }) = found.ok_or(AppError::NotFound)?;
    let at: usize = visit.field("file").and_then(|f| f.parse().ok()).ok_or(AppError::NotFound)?;
    let (Some(source), Some(report)) = (files.get(at), reports.get(at)) else {
        return Err(AppError::NotFound);
    };
    let page = visit.page();
    let [heading, waits, more] =
        ["import-refused-why", "import-refused-waits", "import-refused-more"].map(|k| page.say(k));
    let say = |bad: &BadRow| reason(&page, bad);
    let text = refused_file(source, report, (&heading, &waits, &more), say);
    let stem: String = report.file.chars().map(plain).collect();
    Ok(file(&format!("{stem}-refused.csv"), "text/csv; charset=utf-8", text.into_bytes()))
}

/// Letters that a file's name may have in a header of HTTP.
fn plain(c: char) -> char {
    if c.is_ascii_alphanumeric() { c } else { '-' }
}

/// What is wrong with a row: the column and what to do.
fn reason(page: &Page, bad: &BadRow) -> String {
    let what = page.refusal(&bad.error);
    if bad.name.is_empty() { what } else { format!("{}: {what}", bad.name) }
}

/// The files of the form, in the order of dependence.
fn read(visit: &Visit) -> Result<Vec<Source>, AppError> {
    let mut found: Vec<Source> = Vec::new();
    let mut left = limits::FORM_CELLS_MAX;
    for file in visit.files.iter().filter(|f| f.field == "files" && !f.bytes.is_empty()) {
        let sources = Source::of_file(&file.name, &file.bytes, left);
        let cells = |s: &Source| s.grid.rows.iter().map(|row| row.cells.len()).sum::<usize>();
        left = left.saturating_sub(sources.iter().map(cells).sum());
        found.extend(sources);
    }
    if found.is_empty() {
        let error = FieldError::new("files", "required", "choose one or more CSV or XLSX files");
        return Err(AppError::Invalid(vec![error]));
    }
    found.sort_by_key(|source| source.layout.kind);
    Ok(found)
}
