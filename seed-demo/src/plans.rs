//! What members have told of the days to come, and the small work of today and yesterday.

use crate::calendar::{Calendar, at, later};
use crate::farm::Farm;
use crate::generate::World;
use crate::writes::Out;
use chrono::NaiveDate;
use traybook_domain::kinds::{FodderPlan, GrowingPause, PlannedHead, RestDay, WorkRecord};
use uuid::Uuid;

/// Writes it for the farms that grow fodder.
pub(crate) fn plan(world: &World, farms: &[Farm], out: &mut Out) {
    let calendar = &world.calendar;
    let today = calendar.today;
    let growing = farms.iter().filter_map(|f| Some((f, f.shed?, f.story.start?.1)));
    for (at_number, (farm, shed, start)) in growing.enumerate() {
        if start > today {
            continue;
        }
        beside(farm, start, out);
        if at_number % 6 == 1 {
            let weekday = Some("sunday".to_owned());
            let note = Some("Day of worship".to_owned());
            out.add(before_noon(today), RestDay { farm_id: farm.id, weekday, day: None, note });
        }
        if at_number % 7 == 2 {
            let head = farm.main_head(today) + 1;
            let group = farm.groups.first().map(|g| g.id).unwrap_or_default();
            expect(group, today, head, out);
        }
        if at_number % 11 == 5 {
            let (first_day, last_day) = (later(today, 18), Some(later(today, 24)));
            let note = Some("The family is away".to_owned());
            let pause = GrowingPause { farm_id: farm.id, first_day, last_day, note };
            out.add(before_noon(today), pause);
        }
        if at_number % 2 == 0 {
            small_work(farm.id, shed, calendar, out);
        }
    }
}

fn before_noon(today: NaiveDate) -> traybook_domain::value::Instant {
    at(today, 11 * 60)
}

/// Fodder is grown for the main group only; the animals beside it graze.
fn beside(farm: &Farm, start: NaiveDate, out: &mut Out) {
    for group in farm.groups.iter().skip(1) {
        let record = FodderPlan {
            animal_group_id: group.id,
            farm_id: Uuid::nil(),
            valid_from: start,
            shed_id: None,
            crop: None,
            harvest_age_days: None,
            tray_load: None,
            is_grown: Some(false),
            note: Some("They graze".to_owned()),
        };
        out.add(at(start, 11 * 60), record);
    }
}

fn expect(group: Uuid, today: NaiveDate, head: i64, out: &mut Out) {
    let (date, note) = (later(today, 12), Some("One more is to be bought".to_owned()));
    let record = PlannedHead { animal_group_id: group, farm_id: Uuid::nil(), date, head, note };
    out.add(before_noon(today), record);
}

/// The waterings of yesterday and today, and yesterday's cleaning.
fn small_work(farm: Uuid, shed: Uuid, calendar: &Calendar, out: &mut Out) {
    let today = calendar.today;
    let Some(yesterday) = today.pred_opt() else { return };
    let done = [
        ("watered", yesterday, 7 * 60 + 5, Some(1)),
        ("cleaned", yesterday, 9 * 60 + 20, None),
        ("watered", yesterday, 12 * 60 + 10, Some(2)),
        ("watered", yesterday, 17 * 60 + 15, Some(3)),
        ("watered", today, 7 * 60 + 10, Some(1)),
        ("watered", today, 12 * 60 + 5, Some(2)),
        ("watered", today, 17 * 60 + 10, Some(3)),
    ];
    for (task, day, minutes, watering) in done {
        let record = WorkRecord {
            farm_id: farm,
            shed_id: Some(shed),
            batch_id: None,
            task: task.to_owned(),
            at: at(day, minutes),
            watering,
            trays: None,
            note: None,
        };
        out.add(at(day, minutes), record);
    }
}
