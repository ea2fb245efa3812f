//! Counts of animals that differ from what births, purchases and deaths give.

use super::{Finding, ReviewCtx};
use crate::herd::{HeadEvent, apply};
use crate::kind::Kind;
use serde_json::json;
use uuid::Uuid;

/// Difference in per cent of the animals expected from which a count is listed: flocks lose birds
/// that nobody writes down, and a fifth is more than that between two counts.
pub const JUMP_PERCENT: i64 = 20;
/// Difference in animals below which it is never listed: in a herd of four, one cow is a quarter.
pub const JUMP_HEAD_MIN: i64 = 3;

/// Changes of one group's head, in the order in which they apply.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct HerdEvents {
    pub group: Uuid,
    pub code: String,
    pub farm: Uuid,
    /// Head before the first of the events; none where nothing was known.
    pub opening: Option<i64>,
    /// The events with their records.
    pub events: Vec<(Uuid, HeadEvent)>,
}

/// Counts of a whole group that differ by [`JUMP_PERCENT`] and by [`JUMP_HEAD_MIN`] animals or more
/// from the head known before. The first count ever has nothing to differ from.
///
/// # Shape
/// One finding a count.
#[must_use]
pub fn jumps(herds: &[HerdEvents], ctx: &ReviewCtx<'_>) -> Vec<Finding> {
    let mut found = Vec::new();
    for herd in herds {
        let mut head = herd.opening;
        for (record, event) in &herd.events {
            let counted = (event.reason == "counted").then_some(event.head);
            if let (Some(was), Some(is)) = (head, counted) {
                let apart = (is - was).abs();
                let is_jump = apart >= JUMP_HEAD_MIN && apart * 100 >= was * JUMP_PERCENT;
                if is_jump && event.date <= ctx.today {
                    found.push(finding(herd, *record, (was, is), event));
                }
            }
            head = Some(apply(event, head.unwrap_or(0)).1);
        }
    }
    found
}

fn finding(herd: &HerdEvents, record: Uuid, (was, is): (i64, i64), event: &HeadEvent) -> Finding {
    Finding {
        rule: "head_jump",
        farm: Some(herd.farm),
        finding: format!("head_jump:{record}"),
        subject: Some(herd.code.clone()),
        evidence: format!("counted {is}, expected {was}"),
        figures: vec![("counted", json!(is)), ("expected", json!(was))],
        records: vec![(Kind::AnimalGroup, herd.group), (Kind::HeadCount, record)],
        problem: format!(
            "Group {}: {is} animals were counted on {}, where {was} were expected.",
            herd.code, event.date
        ),
        fix: "Add births, purchases, sales or deaths that are missing, or correct the count.",
        since: event.date,
        weight: 1.0,
    }
}
