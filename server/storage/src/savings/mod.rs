//! What months came to: their rows for the report, closed months, sums for programmes.

pub mod months;
pub mod programme_rows;
pub mod report_rows;
pub mod saving_rows;
