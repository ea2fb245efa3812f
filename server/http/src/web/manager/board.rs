//! The paper for a meeting: what there is to decide, and the files to print.

use super::month::choose;
use crate::web::blocks::{Block, Item, Leaf, Link};
use crate::web::site::{Shown, file};
use crate::web::visit::Visit;
use traybook_reports::savings::asked;

pub(crate) async fn show_board(visit: Visit) -> Shown {
    let (page, actor) = (visit.page(), visit.actor()?);
    let month = visit.month(actor)?;
    let paper = visit.state.app.board_paper(actor, &month.to_string(), false).await?;
    let mut leaf = Leaf::new(page.clone(), page.say("board-title"))
        .back(format!("/month?month={month}"), page.say("nav-month"));
    leaf.add(Block::Form(choose(&page, "/board", month)));
    leaf.text("board-about");
    leaf.add(Block::Links(vec![
        Link::to(format!("/board.pdf?month={month}"), page.say("board-pdf")),
        Link::to(format!("/board.pdf?month={month}&anonymous=1"), page.say("board-pdf-all")),
    ]));
    leaf.heading("board-decide");
    if paper.decisions.is_empty() {
        leaf.text("board-none");
    }
    let item = |title: String| Item { title, ..Item::default() };
    leaf.add(Block::List(asked(&paper, page.language).into_iter().map(item).collect()));
    leaf.show()
}

/// The paper as PDF.
pub(crate) async fn pdf(visit: Visit) -> Shown {
    let actor = visit.actor()?;
    let month = visit.month(actor)?.to_string();
    let is_anonymous = visit.field("anonymous").is_some();
    let language = visit.page().language;
    let bytes = visit.state.app.board_pdf(actor, &month, is_anonymous, language).await?;
    Ok(file(&format!("board-{month}.pdf"), "application/pdf", bytes))
}
