//! Did milk or eggs change: the co-operative, its areas, the farms of which it can be said, those
//! that are held back, and the weaker answers.

use crate::web::blocks::{Block, Item, Leaf, Link};
use crate::web::output_words::{in_short, output_sentence, programme_notes, programme_sentence};
use crate::web::page::{Page, figure};
use crate::web::site::Shown;
use crate::web::visit::Visit;
use traybook_answers::estimates::{
    DoseStatus, Enterprise, FarmOutputChange, ProgrammeOutputChange,
};
use traybook_app::estimates::{Few, OutputInShort};
use traybook_domain::people::authz::Task;

/// Farms that are listed of each kind; the interface gives all.
const FARMS_MAX: usize = 12;

pub(crate) async fn show_output_change(visit: Visit) -> Shown {
    let (page, actor) = (visit.page(), visit.actor()?);
    actor.task(Task::CloseMonth)?;
    let leaf = Leaf::new(page.clone(), page.say("output-title"));
    let mut leaf = leaf.back("/month", page.say("nav-month"));
    leaf.text("output-about");
    for (place, enterprise) in Enterprise::ALL.iter().copied().enumerate() {
        let of = visit.state.app.output_in_short(actor, enterprise, FARMS_MAX).await?;
        if place == 0 {
            leaf.add(Block::Text(page.figures_of(of.as_of)));
        }
        one(&mut leaf, &page, enterprise, &of);
    }
    leaf.show()
}

fn one(leaf: &mut Leaf, page: &Page, enterprise: Enterprise, of: &OutputInShort) {
    let name = page.word("output-of", enterprise.text());
    leaf.add(Block::Heading(name, format!("of-{}", enterprise.text())));
    leaf.add(Block::Lead(programme_sentence(page, enterprise, of.programme.as_ref())));
    let Some(programme) = &of.programme else { return };
    for note in programme_notes(page, programme) {
        leaf.add(Block::Text(note));
    }
    without(leaf, page, programme);
    farms(leaf, page, enterprise, "output-held", &of.held);
    farms(leaf, page, enterprise, "output-lower-farms", &of.lower);
    farms(leaf, page, enterprise, "output-higher-farms", &of.higher);
    if !of.areas.is_empty() {
        leaf.heading("areas-title");
        let line = |a: &traybook_answers::estimates::AreaOutputChange| {
            let short = in_short(page, a.percent, a.low.zip(a.high));
            (a.area.clone().unwrap_or_default(), short)
        };
        leaf.add(Block::Facts(of.areas.iter().map(line).collect()));
    }
    weaker(leaf, page, enterprise, programme);
}

/// How many farms have no number, and why.
fn without(leaf: &mut Leaf, page: &Page, programme: &ProgrammeOutputChange) {
    if programme.not_estimated.is_empty() {
        return;
    }
    let line = |n: &traybook_answers::estimates::NotEstimated| {
        let farms = figure(traybook_domain::value::real(i64::try_from(n.farms).unwrap_or(0)), 0);
        (page.word("output-without", n.status.text()), farms)
    };
    leaf.add(Block::Text(page.say("output-without-title")));
    leaf.add(Block::Facts(programme.not_estimated.iter().map(line).collect()));
}

fn farms(leaf: &mut Leaf, page: &Page, enterprise: Enterprise, heading: &str, of: &Few) {
    if of.count == 0 {
        return;
    }
    let number = |of: usize| i64::try_from(of).unwrap_or(i64::MAX);
    let title = page.with(heading, "farms", number(of.count));
    leaf.add(Block::Heading(title, format!("{heading}-{}", enterprise.text())));
    let is_held = heading == "output-held";
    let item = |f: &FarmOutputChange| Item {
        title: format!("{} · {}", f.of.farm, f.of.member_name),
        href: Some(if is_held {
            format!("/review?farm={}", f.of.farm_id)
        } else {
            format!("/result?farm={}", f.of.farm_id)
        }),
        lines: vec![if is_held {
            output_sentence(page, enterprise, &f.figures)
        } else {
            in_short(page, f.figures.percent, f.figures.low.zip(f.figures.high))
        }],
        ..Item::default()
    };
    leaf.add(Block::List(of.farms.iter().map(item).collect()));
    let more = of.count.saturating_sub(of.farms.len());
    if more > 0 {
        leaf.add(Block::Text(page.with("output-more", "farms", number(more))));
    }
}

fn weaker(leaf: &mut Leaf, page: &Page, enterprise: Enterprise, of: &ProgrammeOutputChange) {
    let of = &of.weaker;
    let is_dose = of.dose.status == DoseStatus::Estimated;
    if !is_dose && of.farms_by_settled == 0 {
        return;
    }
    let heading = format!("weaker-{}", enterprise.text());
    leaf.add(Block::Heading(page.say("output-weaker"), heading));
    if of.farms_by_settled > 0 {
        let farms = i64::try_from(of.farms_by_settled).unwrap_or(i64::MAX);
        leaf.add(Block::Text(page.with("output-settled", "farms", farms)));
        leaf.add(Block::Text(page.word("output-drift", of.settled_farms.text())));
    }
    if is_dose {
        let at_mean = of.dose.at_mean;
        let args = [
            ("what", page.word("output-of", enterprise.text()).into()),
            ("dose", figure(of.dose.mean_dose_kg.unwrap_or(0.0), 2).into()),
            ("change", in_short(page, at_mean.percent, at_mean.low.zip(at_mean.high)).into()),
        ];
        leaf.add(Block::Text(page.tell("output-dose", &args)));
    }
    leaf.add(Block::Links(vec![Link::to("/trials", page.say("trials-title"))]));
}
