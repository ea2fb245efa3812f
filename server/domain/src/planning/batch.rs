//! A batch's stage, derived from its events and the clock.

use crate::kinds::{BatchEvent, MOULD_CAUTION, SORGHUM_CAUTION};
use crate::planning::guide::{Guide, GuideName};
use crate::time::{local_date, plus_days};
use crate::value::Instant;
use chrono::NaiveDate;
use chrono_tz::Tz;

/// Where a batch stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stage {
    /// No soak is recorded yet.
    NotSoaked,
    /// In water.
    Soaking,
    /// Drained, waiting for root tips.
    Incubating,
    /// Spread and growing.
    OnTrays,
    /// At its harvest age today.
    Ready,
    /// Past its harvest age with trays left.
    Overdue,
    /// All trays harvested or discarded.
    Finished,
}

impl Stage {
    /// The name on the wire.
    #[must_use]
    pub const fn text(self) -> &'static str {
        match self {
            Self::NotSoaked => "not_soaked",
            Self::Soaking => "soaking",
            Self::Incubating => "incubating",
            Self::OnTrays => "on_trays",
            Self::Ready => "ready",
            Self::Overdue => "overdue",
            Self::Finished => "finished",
        }
    }
}

/// What a batch's events add up to.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Progress {
    /// Where it stands.
    pub stage: Stage,
    /// First soak.
    pub soaked_at: Option<Instant>,
    /// Whole days since the day of the soak.
    pub age_days: Option<i64>,
    /// Day on which it reaches its harvest age.
    pub harvest_on: Option<NaiveDate>,
    /// Dry seed, grams.
    pub seed_g: i64,
    pub trays_spread: i64,
    pub trays_harvested: i64,
    pub trays_discarded: i64,
    /// Fresh fodder harvested, grams.
    pub harvested_g: i64,
    /// Fresh fodder fed out, grams.
    pub fed_g: i64,
    /// Whether mould was seen.
    pub mould_seen: bool,
    /// Cautions that stand beside the batch wherever it is shown.
    pub cautions: Vec<&'static str>,
}

/// What [`progress`] needs to know besides the events.
#[derive(Clone, Copy, Debug)]
pub struct ProgressCtx<'a> {
    pub guide: &'a Guide,
    /// Class of the animals it is grown for.
    pub class: Option<&'a str>,
    /// Harvest age set for this batch, days.
    pub harvest_age_days: Option<i64>,
    pub crop: &'a str,
    pub now: Instant,
    /// The co-operative's zone.
    pub zone: Tz,
}

/// Adds a batch's events up and derives its stage.
///
/// # Units
/// Ages are counted in calendar days of the co-operative's zone from the day of the first soak;
/// the guide's values are those of that day.
#[must_use]
pub fn progress(events: &[BatchEvent], ctx: &ProgressCtx<'_>) -> Progress {
    let soaked_at = events.iter().filter(|e| e.event == "soaked").map(|e| e.at).min();
    let trays = |event: &str| sum(events, event, |e| e.trays);
    let (spread, harvested, discarded) = (trays("spread"), trays("harvested"), trays("discarded"));
    let mould_seen = events.iter().any(BatchEvent::saw_mould);
    let today = local_date(ctx.now, ctx.zone);
    let soak_day = soaked_at.map(|at| local_date(at, ctx.zone));
    let harvest_on = soak_day.map(|day| {
        let age =
            ctx.harvest_age_days.unwrap_or_else(|| ctx.guide.harvest_age_days(ctx.class, day));
        plus_days(day, u64::try_from(age).unwrap_or(0))
    });
    // Seed that was lost before it was spread never stood on a tray.
    let spread_at = events.iter().filter(|e| e.event == "spread").map(|e| e.at).min();
    let before = |e: &&BatchEvent| spread_at.is_some_and(|at| e.at < at);
    let lost: i64 = events
        .iter()
        .filter(|e| e.event == "discarded")
        .filter(before)
        .filter_map(|e| e.trays)
        .sum();
    let done = spread > 0 && harvested + discarded - lost >= spread;
    let stage = match (soaked_at, soak_day, harvest_on) {
        _ if done => Stage::Finished,
        (Some(at), Some(day), Some(due)) => {
            let soak_ms = ctx.guide.value(GuideName::SoakHours, None, day) * 3_600;
            if spread > 0 && today > due {
                Stage::Overdue
            } else if spread > 0 && today == due {
                Stage::Ready
            } else if spread > 0 {
                Stage::OnTrays
            } else if ctx.now.0 < at.0 + soak_ms {
                Stage::Soaking
            } else {
                Stage::Incubating
            }
        }
        _ if spread > 0 => Stage::OnTrays,
        _ => Stage::NotSoaked,
    };
    let mut cautions = Vec::new();
    if mould_seen {
        cautions.push(MOULD_CAUTION);
    }
    if ctx.crop == "sorghum" {
        cautions.push(SORGHUM_CAUTION);
    }
    Progress {
        stage,
        soaked_at,
        age_days: soak_day.map(|day| (today - day).num_days()),
        harvest_on,
        seed_g: sum(events, "soaked", |e| e.kg),
        trays_spread: spread,
        trays_harvested: harvested,
        trays_discarded: discarded,
        harvested_g: sum(events, "harvested", |e| e.kg),
        fed_g: sum(events, "fed_out", |e| e.kg),
        mould_seen,
        cautions,
    }
}

fn sum(events: &[BatchEvent], event: &str, of: fn(&BatchEvent) -> Option<i64>) -> i64 {
    events.iter().filter(|e| e.event == event).filter_map(of).sum()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::time::parse_instant;
    use uuid::Uuid;

    fn event(event: &str, at: &str, trays: i64, kg: i64) -> BatchEvent {
        BatchEvent {
            batch_id: Uuid::nil(),
            farm_id: Uuid::nil(),
            event: event.to_owned(),
            at: parse_instant(at).expect("instant"),
            trays: (trays > 0).then_some(trays),
            kg: (kg > 0).then_some(kg),
            cause: None,
            mould_seen: None,
            mould_trays: None,
            germinated_percent: None,
            animal_group_id: None,
            reason: None,
            note: None,
        }
    }

    #[test]
    fn stage_follows_events_and_clock() {
        let guide = Guide::default();
        let soaked = event("soaked", "2026-03-01T04:00:00Z", 0, 4_000);
        let spread = event("spread", "2026-03-03T08:00:00Z", 2, 0);
        let harvested = event("harvested", "2026-03-09T06:00:00Z", 1, 12_000);
        let mut discarded = event("discarded", "2026-03-09T06:00:00Z", 1, 0);
        discarded.cause = Some("mould".to_owned());
        let stage = |events: &[BatchEvent], now: &str| {
            let ctx = ProgressCtx {
                guide: &guide,
                class: Some("dairy_cows"),
                harvest_age_days: None,
                crop: "barley",
                now: parse_instant(now).expect("instant"),
                zone: chrono_tz::Africa::Dar_es_Salaam,
            };
            progress(events, &ctx)
        };
        let some = [soaked.clone()];
        assert_eq!(stage(&[], "2026-03-01T05:00:00Z").stage, Stage::NotSoaked);
        assert_eq!(stage(&some, "2026-03-01T07:59:00Z").stage, Stage::Soaking);
        assert_eq!(stage(&some, "2026-03-01T08:00:00Z").stage, Stage::Incubating);
        let some = [soaked.clone(), spread.clone()];
        assert_eq!(stage(&some, "2026-03-08T20:59:00Z").stage, Stage::OnTrays);
        // 21:00 UTC is midnight in Dar es Salaam: the 9th, 8 days after the soak, begins.
        assert_eq!(stage(&some, "2026-03-08T21:00:00Z").stage, Stage::Ready);
        assert_eq!(stage(&some, "2026-03-09T21:00:00Z").stage, Stage::Overdue);
        // A tray's seed thrown away before it was spread is none of those that stand.
        let mut rotten = event("discarded", "2026-03-03T07:00:00Z", 1, 0);
        rotten.cause = Some("rot_at_drain_end".to_owned());
        let some = [soaked.clone(), rotten, spread.clone(), harvested.clone()];
        assert_eq!(stage(&some, "2026-03-09T20:00:00Z").stage, Stage::Ready);
        let all = [soaked, spread, harvested, discarded];
        let end = stage(&all, "2026-03-09T21:00:00Z");
        assert_eq!((end.stage, end.mould_seen), (Stage::Finished, true));
        assert_eq!(end.cautions, vec![MOULD_CAUTION]);
    }
}
