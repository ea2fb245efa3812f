//! Rows of plans and of the day's work, and what plans have learned.

pub mod batch_trays;
pub mod calendar_links;
pub mod learned_rows;
pub mod planning_rows;
