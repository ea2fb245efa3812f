//! Work and plans in plain English sentences. The sentences are made from codes and numbers that
//! stand beside them, so that another language can say the same.

use crate::farm::{Day, date_of};
use crate::plan::{Feed, Short};
use crate::work::{Line, Reason, Scene, SoakWhy, State, Task};
use traybook_domain::kinds::{CROPS, HOLD_CAUTION};
use traybook_domain::savings::money::format_decimal;

/// Grams as kg, to the tenth of a kg above 10 kg.
#[must_use]
pub fn kg(grams: i64) -> String {
    let (value, scale) = match grams.abs() {
        0..=999 => (grams, 3),
        1_000..=9_999 => ((grams + 5) / 10, 2),
        _ => ((grams + 50) / 100, 1),
    };
    format!("{} kg", format_decimal(value, scale))
}

/// So many trays.
#[must_use]
pub fn trays(count: i64) -> String {
    if count == 1 { "1 tray".to_owned() } else { format!("{count} trays") }
}

/// What to do, in one sentence. `lot` is the number of the seed lot.
#[must_use]
pub fn sentence(line: &Line, scene: &Scene, lot: Option<&str>) -> String {
    let group = line.group.and_then(|g| scene.farm.groups.get(g)).map(|g| g.code.as_str());
    let shed = scene.farm.sheds.get(line.shed).map_or("", |s| s.code.as_str());
    let batch = line.batch.and_then(|b| scene.batches.get(b)).and_then(|b| b.code.as_deref());
    let batch = batch.map(|code| format!(" of batch {code}")).unwrap_or_default();
    let crop = line.crop.and_then(|c| CROPS.get(c)).copied().unwrap_or("seed");
    let lot = lot.map(|lot| format!(" of lot {lot}")).unwrap_or_default();
    let amount = line.grams.map(kg);
    let count = line.trays.map(trays).unwrap_or_default();
    let on = line.feed_on.map(|day| date_of(day).to_string()).unwrap_or_default();
    let of = |what: &str| amount.as_ref().map(|a| format!("{a} {what}"));
    let to = group.map(|g| format!(" for {g}")).unwrap_or_default();
    let is_done = matches!(line.state, State::Done(_));
    if is_done {
        let weight = of("fresh fodder").map(|w| format!(", {w}")).unwrap_or_default();
        return match line.task {
            Task::Soak => format!("{}{lot} soaked{to}, fed on {on}", of(crop).unwrap_or_default()),
            Task::Drain => format!("{}{batch} drained", of(crop).unwrap_or_default()),
            Task::Spread => format!("{count}{batch} spread in {shed}"),
            Task::Water => format!("{count} watered in {shed}"),
            Task::Harvest => format!("{count}{batch} harvested in {shed}{to}{weight}"),
            Task::Feed => {
                let what = of("fresh fodder").or_else(|| line.trays.map(trays));
                format!("{} fed{to}", what.unwrap_or_else(|| "fresh fodder".to_owned()))
            }
            Task::Discard if line.trays.is_none() => {
                let what = of("fresh fodder").unwrap_or_else(|| "fresh fodder".to_owned());
                format!("{what}{batch} thrown away after the harvest")
            }
            Task::Discard => format!("{count}{batch} discarded in {shed}"),
            Task::Clean => format!("{count} cleaned in {shed}"),
        };
    }
    match line.task {
        Task::Soak => {
            let each = match (line.grams, line.trays) {
                (Some(grams), Some(count)) if count > 1 => {
                    format!(", {} on each", kg((grams + count / 2) / count))
                }
                _ => String::new(),
            };
            let what = of(crop).unwrap_or_default();
            format!("soak {what}{lot} in {shed}{to}: {count}{each}, fed on {on}")
        }
        Task::Drain => {
            format!("drain {}{batch} and keep it dark and moist", of(crop).unwrap_or_default())
        }
        Task::Spread => {
            format!("spread {}{batch} on {count} in {shed}", of(crop).unwrap_or_default())
        }
        Task::Water => {
            let (number, times) = line.watering.unwrap_or((1, 1));
            format!("water {count} in {shed}, round {number} of {times}")
        }
        Task::Harvest if line.early.is_some() => {
            let expected = of("expected").map(|e| format!(", {e}")).unwrap_or_default();
            let days = line.early.unwrap_or(1);
            let days = if days == 1 { "1 day".to_owned() } else { format!("{days} days") };
            format!(
                "harvest {count}{batch} in {shed} {days} early{to}{expected}: today's harvest \
                 falls short"
            )
        }
        Task::Harvest => {
            let expected = of("expected").map(|e| format!(", {e}")).unwrap_or_default();
            // Beside the caution of a held lot nothing may ask to feed it.
            let then = match line.cautions.contains(&HOLD_CAUTION) {
                true => "keep it apart",
                false => "feed it the same day",
            };
            format!("harvest {count}{batch} in {shed}{to}{expected}; {then}")
        }
        Task::Feed => feed_out(line, &harvested(line), &batch, &to),
        Task::Discard if line.harvested_on.is_some() => {
            format!("throw away {}{batch}: bury or compost away from animals", harvested(line))
        }
        Task::Discard => {
            format!("discard {count}{batch} in {shed}: bury or compost away from animals")
        }
        Task::Clean => format!("scrub, disinfect, rinse and dry {count} in {shed}"),
    }
}

/// Why today's soak is another than usual, in one sentence; none where nothing is owed.
#[must_use]
pub fn soak_why(why: &SoakWhy) -> Option<String> {
    let reasons: Vec<String> = why.reasons.iter().map(reason).collect();
    if reasons.is_empty() {
        return None;
    }
    let more = match why.trays_more() {
        more if more > 0 => format!("{} more", trays(more)),
        _ => format!("{} more seed", kg(why.sized.debt_g)),
    };
    let left_out = match why.sized.trays_left_out {
        0 => String::new(),
        count => format!("; {} found no place", trays(count)),
    };
    Some(format!("{more}: {}{left_out}", reasons.join("; ")))
}

fn reason(reason: &Reason) -> String {
    let on = |day: Day| date_of(day).format("%A").to_string();
    let were = |count: i64| if count == 1 { "was" } else { "were" };
    match *reason {
        Reason::Lost { trays: count, on: day } => {
            let last = if count == 1 { "" } else { ", the last" };
            format!("{} {} lost{last} on {}", trays(count), were(count), on(day))
        }
        Reason::Mould { trays: count } => {
            let has = if count == 1 { "has" } else { "have" };
            format!("{} {has} mould", trays(count))
        }
        Reason::TakenEarly { trays: count, on: day } => {
            format!("{} {} harvested early on {}", trays(count), were(count), on(day))
        }
        Reason::Missed { on: day } => format!("nothing was soaked on {}", on(day)),
        Reason::MoreAnimals { from, to } => format!("{to} animals where there were {from}"),
        Reason::TooLittle => "less stands than the animals need".to_owned(),
    }
}

/// What of a harvest is still there.
fn harvested(line: &Line) -> String {
    match (line.grams, line.trays) {
        (Some(grams), _) => format!("{} fresh fodder", kg(grams)),
        (None, Some(count)) => format!("the fresh fodder of {}", trays(count)),
        (None, None) => "what was harvested".to_owned(),
    }
}

fn feed_out(line: &Line, what: &str, batch: &str, to: &str) -> String {
    // Beside the caution of a held lot nothing may ask to feed it.
    if line.cautions.contains(&HOLD_CAUTION) {
        return format!("keep {what}{batch} apart");
    }
    match line.harvested_on.filter(|_| line.state == State::Late) {
        Some(day) => format!("feed {what}{batch}{to} of {}, or throw it away", date_of(day)),
        None => format!("feed {what}{batch}{to} today; it can not be stored"),
    }
}

/// Why a group goes short on a day.
#[must_use]
pub const fn why(short: Short) -> &'static str {
    match short {
        Short::BeforeFirstHarvest => "the first soak has not reached its harvest age",
        Short::NotSoaked => "no soak was recorded for this day, and it is too late for one",
        Short::TooLittleSoaked => "less was soaked, or is left of it, than its animals need",
        Short::NoPlaces => "the shed has too few places",
        Short::RestDays => "too many rest days in a row",
        Short::AgeTooLow => "the harvest age leaves no day on the tray",
        Short::NoShed => "the farm has no shed",
    }
}

/// The name of a reason on the wire.
#[must_use]
pub const fn code(short: Short) -> &'static str {
    match short {
        Short::BeforeFirstHarvest => "before_first_harvest",
        Short::NotSoaked => "not_soaked",
        Short::TooLittleSoaked => "too_little_soaked",
        Short::NoPlaces => "no_places",
        Short::RestDays => "rest_days",
        Short::AgeTooLow => "age_too_low",
        Short::NoShed => "no_shed",
    }
}

/// What a group gets on a day, in one sentence; none where it gets what it needs.
#[must_use]
pub fn feed_sentence(feed: &Feed, group: &str) -> Option<String> {
    let on = date_of(feed.day);
    let fresh = |seed: i64| kg(feed.fresh_g(seed));
    match (feed.short, feed.short_g(), feed.surplus_g()) {
        (Some(reason), missing, _) if missing > 0 => Some(format!(
            "{group} goes short of {} fresh fodder of {} on {on}: {}",
            fresh(missing),
            fresh(feed.need_g),
            why(reason)
        )),
        (_, _, over) if over > 0 => {
            Some(format!("{} fresh fodder are left over for {group} on {on}", fresh(over)))
        }
        _ => None,
    }
}
