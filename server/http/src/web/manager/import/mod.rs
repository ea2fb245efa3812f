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
use std::sync::Arc;
use std::time::Duration;
use traybook_app::AppError;
use traybook_app::records::import::{
    BadRow, FileOutcome, FileReport, Sent, Source, Taking, refused_file,
};
use traybook_domain::Kind;
use traybook_domain::people::authz::Task;
use uuid::Uuid;

/// The name and the files that the form or address names; none where they do not wait any more.
async fn waiting(visit: &Visit) -> Result<Option<(Uuid, Vec<Source>)>, AppError> {
    let name = visit.form_id("name")?;
    let found = visit.state.app.waiting_files(visit.actor()?, name).await?;
    Ok(found.map(|files| (name, files)))
}

/// What is kept of a report, with its refused rows in words.
fn outcome(page: &Page, source: &Source, report: &FileReport) -> FileOutcome {
    let [heading, waits, more] =
        ["import-refused-why", "import-refused-waits", "import-refused-more"].map(|k| page.say(k));
    let say = |bad: &BadRow| reason(page, bad);
    FileOutcome::of(report, || refused_file(source, report, (&heading, &waits, &more), say))
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

fn page(visit: &Visit, refusal: Option<&Refusal>, done: Option<(Uuid, &[FileOutcome])>) -> Shown {
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
fn refused_links(page: &Page, name: Uuid, outcomes: &[FileOutcome]) -> Vec<Link> {
    let has_rows = |(_, r): &(usize, &FileOutcome)| r.refused.is_some();
    let link = |(at, report): (usize, &FileOutcome)| {
        let pairs = [("name", name.to_string()), ("file", at.to_string())];
        let pairs = pairs.each_ref().map(|(n, v)| (*n, v.as_str()));
        let text = page.with("import-refused-rows", "file", report.file.as_str());
        Link::to(format!("/import/refused?{}", query(&pairs)), text)
    };
    outcomes.iter().enumerate().filter(has_rows).map(link).collect()
}

/// Looks files through, after a question where the columns do not say everything.
pub(crate) async fn preview(visit: Visit) -> Shown {
    let actor = visit.actor()?;
    actor.task(Task::Import)?;
    let name = visit.state.app.new_id()?;
    let sent = visit.files.iter().filter(|f| f.field == "files" && !f.bytes.is_empty());
    let sent = sent.map(|f| Sent { name: f.name.clone(), bytes: f.bytes.clone() }).collect();
    let files = match visit.state.app.keep_files(actor, name, sent).await {
        Ok(files) => files,
        Err(error) => {
            let refusal = Refusal::of(&visit, "import", error)?;
            return page(&visit, Some(&refusal), None);
        }
    };
    let is_sure = |s: &Source| s.unreadable.is_some() || s.layout.is_sure(&s.grid);
    if files.iter().all(is_sure) {
        return show_preview(&visit, name, files).await;
    }
    columns::page(&visit, name, &files, None)
}

/// Takes the files that were looked through: the good ones whole, or the good rows of all.
pub(crate) async fn take(visit: Visit) -> Shown {
    let (actor, name) = (visit.actor()?, visit.form_id("name")?);
    if let Some(files) = visit.state.app.begin_taking(actor, name).await? {
        let (state, actor) = (Arc::clone(&visit.state), actor.clone());
        let (page, is_rows) = (visit.page(), visit.field("how") == Some("rows"));
        // It goes on when nobody waits for it any more.
        let taking = actix_web::rt::spawn(async move {
            let keep = |source: &Source, report: &FileReport| outcome(&page, source, report);
            if let Err(error) = state.app.take_files(&actor, name, (files, is_rows), keep).await {
                tracing::warn!(%error, "what became of files could not be noted");
            }
        });
        // Most files are written at once.
        drop(actix_web::rt::time::timeout(TAKING_LOOK, taking).await);
    }
    show_running(visit).await
}

/// How long the person waits before the page says how far it is.
const TAKING_LOOK: Duration = Duration::from_millis(1500);
/// Seconds after which the page looks again.
const LOOK_AGAIN_S: &str = "2";

/// How far files are that are being written; what became of them when they are.
pub(crate) async fn show_running(visit: Visit) -> Shown {
    let (actor, name) = (visit.actor()?, visit.form_id("name")?);
    let Some((state, outcomes)) = visit.state.app.taking(actor, name).await? else {
        return Ok(go("/import"));
    };
    let leaf = || {
        let page = visit.page();
        let office = page.say("nav-office");
        Leaf::new(page.clone(), page.say("import-title")).back("/office", office)
    };
    match state {
        Taking::Done => page(&visit, None, Some((name, &outcomes))),
        Taking::Waits | Taking::Failed => {
            let mut leaf = leaf();
            leaf.text("import-failed");
            leaf.add(Block::Links(vec![Link::to("/import", visit.page().say("import-title"))]));
            leaf.answer(None)
        }
        Taking::Runs { rows_read, rows_all } => {
            let mut leaf = leaf();
            let args = [("rows", rows_read.into()), ("all", rows_all.into())];
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
    let (actor, name) = (visit.actor()?, visit.form_id("name")?);
    let found = visit.state.app.taking(actor, name).await?;
    let at: usize = visit.field("file").and_then(|f| f.parse().ok()).ok_or(AppError::NotFound)?;
    let outcome = found.and_then(|(_, mut all)| (at < all.len()).then(|| all.swap_remove(at)));
    let Some(FileOutcome { file: name, refused: Some(text), .. }) = outcome else {
        return Err(AppError::NotFound);
    };
    let stem: String = name.chars().map(plain).collect();
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
