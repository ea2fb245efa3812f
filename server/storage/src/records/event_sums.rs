//! What a batch's events add up to, worded once for every query that groups them by batch.

/// Sum of a column over the events of a kind; none told is 0.
#[must_use]
pub fn sum(event: &str, column: &str) -> String {
    format!(
        "CAST(SUM(CASE WHEN event = '{event}' THEN COALESCE({column}, 0) ELSE 0 END) AS BIGINT)"
    )
}

/// The same, null where none of them tells.
#[must_use]
pub fn sum_known(event: &str, column: &str) -> String {
    format!("CAST(SUM(CASE WHEN event = '{event}' THEN {column} END) AS BIGINT)")
}

/// Number of events of a kind.
#[must_use]
pub fn count(event: &str) -> String {
    format!("CAST(SUM(CASE WHEN event = '{event}' THEN 1 ELSE 0 END) AS BIGINT)")
}

/// Number of events of a kind without a column.
#[must_use]
pub fn without(event: &str, column: &str) -> String {
    format!(
        "CAST(SUM(CASE WHEN event = '{event}' AND {column} IS NULL THEN 1 ELSE 0 END) AS BIGINT)"
    )
}

/// When the first event of a kind was.
#[must_use]
pub fn first(event: &str) -> String {
    format!("MIN(CASE WHEN event = '{event}' THEN at END)")
}

/// When the last event of a kind was.
#[must_use]
pub fn last(event: &str) -> String {
    format!("MAX(CASE WHEN event = '{event}' THEN at END)")
}

/// Of the events that say that there was mould, this; as
/// [`saw_mould`](traybook_domain::kinds::BatchEvent::saw_mould).
#[must_use]
pub fn of_mould(then: &str) -> String {
    format!("CASE WHEN mould_seen OR cause = 'mould' OR mould_trays > 0 THEN {then} END")
}
