//! The first steps of a new co-operative, in order, each ticked when it is done.

use crate::web::blocks::{Block, Item, Leaf, Link};
use crate::web::farms::list;
use crate::web::site::Shown;
use crate::web::visit::Visit;
use traybook_app::AppError;
use traybook_domain::Kind;
use traybook_domain::people::authz::Task;

/// A step: what is done when a record of this kind is there, and where that is done.
struct Step {
    /// Word of its texts.
    name: &'static str,
    kind: Kind,
    /// What the record must also have.
    of: Option<(&'static str, &'static str)>,
    path: &'static str,
    /// Whether a first farm can be registered without it.
    may_wait: bool,
}

const fn step(name: &'static str, kind: Kind, path: &'static str, may_wait: bool) -> Step {
    Step { name, kind, of: None, path, may_wait }
}

const STEPS: [Step; 9] = [
    step("areas", Kind::Area, "/setup/areas", false),
    step("guide", Kind::GrowingGuideValue, "/guide", true),
    step("feeds", Kind::Feed, "/store/feeds", false),
    step("supplier", Kind::Supplier, "/store/suppliers", false),
    step("lot", Kind::SeedLot, "/store/seed-lots", false),
    step("seed", Kind::SeedPurchase, "/store/seed-purchases", false),
    Step {
        of: Some(("role", "officer")),
        ..step("officers", Kind::Person, "/people?role=officer#person", false)
    },
    step("farms", Kind::Farm, "/farms/new", false),
    step("questions", Kind::ChecklistItem, "/setup/checklist-items", true),
];

/// Whether the co-operative has a record of a kind.
async fn has(
    visit: &Visit,
    kind: Kind,
    of: Option<(&'static str, &'static str)>,
) -> Result<bool, AppError> {
    let mut pairs = vec![("limit", "1".to_owned())];
    pairs.extend(of.map(|(name, value)| (name, value.to_owned())));
    Ok(!list(visit, kind, &pairs).await?.is_empty())
}

/// Whether the co-operative has no farm yet: its manager begins with the first steps.
pub(super) async fn is_new(visit: &Visit) -> Result<bool, AppError> {
    Ok(!has(visit, Kind::Farm, None).await?)
}

pub(crate) async fn show_first(visit: Visit) -> Shown {
    visit.actor()?.task(Task::CloseMonth)?;
    let page = visit.page();
    let mut leaf = Leaf::new(page.clone(), page.say("first-title"));
    leaf.text("first-about");
    let mut items = Vec::new();
    let (mut done, mut next) = (0_i64, None);
    for (at, step) in STEPS.iter().enumerate() {
        let is_done = has(&visit, step.kind, step.of).await?;
        done += i64::from(is_done);
        if !is_done && !step.may_wait && next.is_none() {
            next = Some(step);
        }
        let mark = match (is_done, step.may_wait) {
            (true, _) => Some(page.say("first-done")),
            (false, true) => Some(page.say("first-may-wait")),
            (false, false) => None,
        };
        items.push(Item {
            title: format!("{}. {}", at + 1, page.word("first", step.name)),
            href: Some(step.path.to_owned()),
            mark,
            lines: vec![page.say(&format!("first-{}-about", step.name))],
            ..Item::default()
        });
    }
    let all = i64::try_from(STEPS.len()).unwrap_or(0);
    let count = [("done", done.into()), ("all", all.into())];
    leaf.add(Block::Lead(page.tell("first-count", &count)));
    if let Some(next) = next {
        let text = page.with("first-next", "step", page.word("first", next.name));
        leaf.add(Block::Links(vec![Link::to(next.path, text)]));
    }
    leaf.add(Block::List(items));
    leaf.heading("first-files");
    leaf.text("first-files-about");
    leaf.add(Block::Links(vec![
        Link::to("/import", page.say("import-title")),
        Link::to("/month", page.say("nav-month")),
    ]));
    leaf.show()
}
