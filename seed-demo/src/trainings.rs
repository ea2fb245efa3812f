//! Trainings and who came.

use crate::calendar::at;
use crate::farm::Farm;
use crate::generate::World;
use crate::random::Rng;
use crate::story::AREAS;
use crate::writes::Out;
use traybook_domain::kinds::{Attendance, Training};

const TOPICS: [&str; 6] = [
    "Keeping trays clean",
    "Clean seed and the germination test",
    "How many trays for how many animals",
    "Writing records that can be trusted",
    "Seeing mould early, and what to do with it",
    "Shade, air and slope of the shed",
];

/// Every second month a training, area by area.
pub(crate) fn train(world: &World, number: usize, farms: &[Farm], out: &mut Out) {
    let mut rng = Rng::of(world.plan.seed, "training", number);
    let date = world.calendar.day(number, rng.int(8, 22));
    if number.is_multiple_of(2) || date > world.calendar.today {
        return;
    }
    let turn = number / 2;
    let area = turn % AREAS.len();
    let place = AREAS.get(area).copied().unwrap_or_default();
    let training = Training {
        code: format!("T-{}-{place}", world.calendar.month(number)),
        topic: TOPICS.get(turn % TOPICS.len()).copied().unwrap_or_default().to_owned(),
        date,
        place: Some(format!("Meeting place, {place}")),
        area_id: Some(world.catalog.area(area)),
        trainer_id: Some(world.catalog.officer(area)),
        note: None,
    };
    let training_id = out.add(at(date, 10 * 60), training);
    for farm in farms.iter().filter(|f| f.story.enrolled <= number) {
        // Some come from other areas.
        if rng.chance(if farm.story.area == area { 0.7 } else { 0.12 }) {
            out.add(at(date, 10 * 60), Attendance { training_id, member_id: farm.member });
        }
    }
}
