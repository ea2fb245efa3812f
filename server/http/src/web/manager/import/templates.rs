//! Templates to fill in: a header in the reader's language and one example row.

use super::{kind_name, plain};
use crate::web::blocks::{Block, Leaf, Link};
use crate::web::site::{Shown, XLSX, file, query};
use crate::web::visit::Visit;
use traybook_app::AppError;
use traybook_domain::Kind;
use traybook_domain::people::authz::{Action, Task};
use traybook_reports::csv_text::line;
use traybook_reports::plain_sheet;
use traybook_sheets::columns::KEPT_IN_SHEETS;
use traybook_sheets::examples;

pub(crate) async fn show_templates(visit: Visit) -> Shown {
    let actor = visit.actor()?;
    actor.task(Task::Import)?;
    let page = visit.page();
    let mut leaf = Leaf::new(page.clone(), page.say("import-templates"))
        .back("/import", page.say("import-title"));
    leaf.text("import-templates-intro");
    for kind in KEPT_IN_SHEETS.iter().filter(|k| actor.visible(Action::Create, **k).is_ok()) {
        let of = |form: &str| {
            let pairs = [("kind", kind.spec().one), ("form", form)];
            format!("/import/template?{}", query(&pairs))
        };
        let name = kind_name(&page, *kind);
        let links = ["xlsx", "csv"].map(|form| {
            let text = format!("{name} ({})", form.to_uppercase());
            Link::to(of(form), text)
        });
        leaf.add(Block::Links(links.into_iter().collect()));
    }
    leaf.show()
}

pub(crate) async fn show_template(visit: Visit) -> Shown {
    let actor = visit.actor()?;
    actor.task(Task::Import)?;
    let kind = visit.field("kind").and_then(Kind::from_one).ok_or(AppError::NotFound)?;
    actor.visible(Action::Create, kind)?;
    let page = visit.page();
    let today = actor.coop.today(visit.state.app.now());
    let (header, row) = examples::template(page.language, kind, today);
    let name: String = kind_name(&page, kind).chars().map(plain).collect();
    if visit.field("form") == Some("csv") {
        let texts = |cells: &[String]| line(&cells.iter().map(String::as_str).collect::<Vec<_>>());
        let text = format!("\u{FEFF}{}{}", texts(&header), texts(&row));
        return Ok(file(&format!("{name}.csv"), "text/csv; charset=utf-8", text.into_bytes()));
    }
    let bytes = plain_sheet::workbook(&kind_name(&page, kind), &header, &row);
    let bytes = bytes.map_err(|e| AppError::Internal(e.to_string()))?;
    Ok(file(&format!("{name}.xlsx"), XLSX, bytes))
}
