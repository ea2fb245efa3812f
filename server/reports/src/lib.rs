//! Reports: rows in, bytes out. Pure: no database, no HTTP, no clock.
//!
//! [`savings`] computes the monthly savings report and writes it as JSON and CSV; [`table`] writes
//! it for a terminal; [`csv_text`] is how all our CSV is quoted.

pub mod calendar;
pub mod charts;
pub mod conditions;
pub mod csv_text;
pub mod labels;
pub mod pdf;
pub mod plain_sheet;
pub mod savings;
pub mod sheet;
pub mod table;
pub mod work_sheet;
