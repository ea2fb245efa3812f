//! Figures that were made, and the rows that they are made of.

pub mod estimate_rows;
pub mod snapshots;
pub mod spoilage_rows;
