//! Farms that grow fodder and record nothing.

use super::{Finding, ReviewCtx};
use crate::kind::Kind;
use crate::kinds::GrowingPause;
use crate::planning::guide::GuideName;
use crate::time::plus_days;
use chrono::NaiveDate;
use serde_json::json;
use std::collections::HashMap;
use uuid::Uuid;

/// A farm as the rule sees it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct FarmDays {
    pub farm: Uuid,
    pub code: String,
    /// Day of the first soak.
    pub started_on: Option<NaiveDate>,
    /// Day on which the member left.
    pub left_on: Option<NaiveDate>,
    /// Last day of any record that the farm makes of itself; none where there is none.
    pub last_on: Option<NaiveDate>,
}

/// Farms without a record for the guide's `silent_days`, counted by the day a record is about.
///
/// A farm counts as growing from its first soak; not while it pauses (a pause without an end means
/// that it stopped), nor after its member has left. After a pause the days count from its end. A
/// phone without signal looks the same as a farm that gave up: the list asks, it does not tell.
#[must_use]
pub fn silent(
    farms: &[FarmDays],
    pauses: &HashMap<Uuid, Vec<GrowingPause>>,
    ctx: &ReviewCtx<'_>,
) -> Vec<Finding> {
    let days = ctx.guide.value(GuideName::SilentDays, None, ctx.today) / 1_000;
    let mut found = Vec::new();
    for f in farms {
        let Some(started) = f.started_on.filter(|day| *day <= ctx.today) else { continue };
        if f.left_on.is_some_and(|day| day <= ctx.today) {
            continue;
        }
        let none = Vec::new();
        let pauses = pauses.get(&f.farm).unwrap_or(&none);
        let begun = || pauses.iter().filter(|p| p.first_day <= ctx.today);
        if begun().any(|p| p.last_day.is_none_or(|last| last >= ctx.today)) {
            continue;
        }
        let resumed = begun().filter_map(|p| p.last_day).max();
        let last = [f.last_on, resumed, Some(started)].into_iter().flatten().max();
        let last = last.unwrap_or(started);
        let quiet = (ctx.today - last).num_days();
        if quiet < days {
            continue;
        }
        let what = match f.last_on {
            Some(day) if day == last => format!("its last record is of {last}"),
            _ => format!("there is none since {last}"),
        };
        found.push(Finding {
            rule: "silent_farm",
            farm: Some(f.farm),
            finding: format!("silent_farm:{}", f.farm),
            subject: Some(f.code.clone()),
            evidence: format!("none after {last}"),
            figures: vec![
                ("last_record_on", json!(f.last_on)),
                ("days", json!(quiet)),
                ("silent_days", json!(days)),
            ],
            records: vec![(Kind::Farm, f.farm)],
            problem: format!("Farm {} has recorded nothing for {quiet} days; {what}.", f.code),
            fix: "Ask whether records wait on a phone, or enter a pause if the farm has stopped.",
            since: plus_days(last, u64::try_from(days).unwrap_or(0)),
            weight: 1.0,
        });
    }
    found
}
