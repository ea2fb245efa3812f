//! What the pages of farms, flags and the co-operative say of spoilage: in a sentence, what was
//! counted and what not, and what goes with losses.

use crate::web::blocks::{Block, Item, Leaf};
use crate::web::page::Page;
use crate::web::visit::Visit;
use traybook_answers::estimates::{
    Condition, ConditionStatus, NotCounted, SpoilageConditions, SpoilageFigures,
};
use traybook_app::AppError;
use traybook_reports::conditions;
use traybook_speech::Arg;
use uuid::Uuid;

/// Conditions of a farm that stand open; a page of a telephone holds no more beside the rest.
const OPEN_MAX: usize = 2;

fn count(n: u64) -> i64 {
    i64::try_from(n).unwrap_or(i64::MAX)
}

/// Whether trays keep spoiling, in one sentence.
pub(super) fn sentence(page: &Page, figures: &SpoilageFigures) -> String {
    let said = page.say(&format!("spoilage-{}", figures.status.text().replace('_', "-")));
    match &figures.shed {
        Some(shed) => format!("{} {said}", page.with("spoilage-in-shed", "shed", shed.as_str())),
        None => said,
    }
}

/// How many batches counted and how many not, and why.
pub(super) fn counted(page: &Page, leaf: &mut Leaf, figures: &SpoilageFigures) {
    let args: [(&'static str, Arg); 3] = [
        ("batches", count(figures.batches_counted).into()),
        ("lost", figures.trays_lost.into()),
        ("begun", figures.trays_begun.into()),
    ];
    leaf.add(Block::Text(page.tell("spoilage-counted", &args)));
    for line in &figures.not_counted {
        leaf.add(Block::Text(not_counted(page, line)));
    }
}

fn not_counted(page: &Page, line: &NotCounted) -> String {
    let args: [(&'static str, Arg); 2] =
        [("batches", count(line.batches).into()), ("trays", line.trays.into())];
    page.tell(&format!("not-counted-{}", line.reason.text().replace('_', "-")), &args)
}

/// What goes with losses on one farm.
pub(super) async fn of_farm(
    visit: &Visit,
    page: &Page,
    leaf: &mut Leaf,
    farm: Uuid,
) -> Result<(), AppError> {
    let of = visit.state.app.farm_conditions(visit.actor()?, farm).await?;
    let Some(made_on) = of.made_on else { return Ok(()) };
    leaf.heading("conditions-title");
    if of.conditions.is_empty() {
        leaf.text("conditions-none");
    }
    let item = |c: &traybook_answers::estimates::FarmCondition| Item {
        title: conditions::own_sentence(page.language, c, of.has_one_shed),
        lines: vec![conditions::sentence(page.language, &c.of_all)],
        ..Item::default()
    };
    leaf.add(Block::List(of.conditions.iter().take(OPEN_MAX).map(item).collect()));
    let more = of.conditions.iter().skip(OPEN_MAX).map(item);
    let more: Vec<String> = more.flat_map(|i| std::iter::once(i.title).chain(i.lines)).collect();
    if !more.is_empty() {
        leaf.add(Block::Folded(page.say("conditions-others"), more));
    }
    leaf.add(Block::Text(conditions::caution(page.language)));
    leaf.add(Block::Text(page.with("conditions-made", "date", page.date(made_on))));
    Ok(())
}

/// What goes with losses over the co-operative: all conditions, those linked first.
pub(super) fn of_all(page: &Page, leaf: &mut Leaf, of: &SpoilageConditions) {
    let Some(made_on) = of.made_on else { return };
    leaf.heading("conditions-title");
    let args: [(&'static str, Arg); 2] =
        [("batches", count(of.batches).into()), ("farms", count(of.farms).into())];
    leaf.add(Block::Text(page.tell("conditions-basis", &args)));
    if of.batches_of_bad_lots > 0 {
        let left_out = page.with("conditions-left-out", "batches", count(of.batches_of_bad_lots));
        leaf.add(Block::Text(left_out));
    }
    if !of.is_estimated {
        leaf.text("conditions-too-few");
    }
    let is_linked = |c: &&Condition| c.status == ConditionStatus::Linked;
    let item =
        |c: &Condition| Item { title: conditions::sentence(page.language, c), ..Item::default() };
    let linked: Vec<Item> = of.conditions.iter().filter(is_linked).map(item).collect();
    if linked.is_empty() {
        leaf.text("conditions-none");
    }
    leaf.add(Block::List(linked));
    leaf.add(Block::Text(conditions::caution(page.language)));
    let others: Vec<Item> = of.conditions.iter().filter(|c| !is_linked(c)).map(item).collect();
    if !others.is_empty() {
        leaf.heading("conditions-others");
        leaf.add(Block::List(others));
    }
    leaf.add(Block::Text(page.with("conditions-made", "date", page.date(made_on))));
}
