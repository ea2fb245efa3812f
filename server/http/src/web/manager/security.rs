//! The security log of the co-operative, and for the operator what concerns none.

use crate::web::blocks::{Block, Cell, Column, Leaf, Link, Table};
use crate::web::page::Page;
use crate::web::site::Shown;
use crate::web::visit::Visit;
use traybook_answers::people::security::SecurityLine;
use traybook_app::AppError;
use traybook_domain::limits::SECURITY_LOG_MS;
use traybook_domain::people::authz::Role;

/// Signs of a keyed hash that are shown: enough to see which lines belong together.
const SHOWN: usize = 8;

pub(crate) async fn show_log(visit: Visit) -> Shown {
    let (page, actor) = (visit.page(), visit.actor()?);
    let of_none = visit.field("of").is_some();
    let before = visit.field("before").map(str::parse).transpose();
    let detail = "open the page anew";
    let before = before.ok().ok_or_else(|| AppError::field("before", "type", detail))?;
    let log = visit.state.app.security_log(actor, before, of_none).await?;
    let mut leaf = Leaf::new(page.clone(), page.say("security-title"));
    let days = SECURITY_LOG_MS / 86_400_000;
    leaf.add(Block::Text(page.with("security-about", "days", days)));
    if actor.role == Role::Operator {
        let (to, key) = match of_none {
            true => ("/security", "security-own"),
            false => ("/security?of=none", "security-none"),
        };
        leaf.add(Block::Links(vec![Link::to(to, page.say(key))]));
    }
    leaf.add(Block::Table(Table {
        caption: page.say(if of_none { "security-none" } else { "security-title" }),
        columns: ["security-at", "security-event", "security-by", "security-whom", "security-more"]
            .map(|key| Column::text(page.say(key)))
            .into(),
        rows: log.items.iter().map(|line| row(&page, line)).collect(),
        total: None,
    }));
    if let Some(next) = log.next {
        let of = if of_none { "&of=none" } else { "" };
        let to = format!("/security?before={next}{of}");
        leaf.add(Block::Links(vec![Link::to(to, page.say("more"))]));
    }
    leaf.show()
}

fn row(page: &Page, line: &SecurityLine) -> Vec<Cell> {
    let short = |key: &str, hash: &Option<String>| {
        let hash = hash.as_ref()?.get(..SHOWN)?;
        Some(page.with(key, "hash", hash))
    };
    let more = [
        line.detail.clone(),
        short("security-account", &line.account),
        short("security-address", &line.address),
    ];
    vec![
        page.moment(&line.at).into(),
        page.word("security", line.event.text()).into(),
        line.by.clone().unwrap_or_default().into(),
        line.about.clone().unwrap_or_default().into(),
        more.into_iter().flatten().collect::<Vec<_>>().join(" · ").into(),
    ]
}
