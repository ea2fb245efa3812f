//! What use cases answer: one struct an answer.
//!
//! JSON, CSV, pages, workbook, PDF, terminal and the OpenAPI document are all made of these
//! structs, so a renamed member is a compile error at every door. Units stand in the names or in
//! the doc line of a member; a status is an enum. No prose: sentences are made last, in `speech`
//! and `reports`, except where a published answer carries an English sentence of its own.

#[macro_use]
mod choice;
pub mod board;
mod decimal;
pub mod estimates;
pub mod forecast;
mod output;
pub mod pay_run;
pub mod planning;
pub mod privacy;
pub mod programme;
pub mod rations;
pub mod records;
pub mod review;
pub mod savings;
pub mod security;
pub mod seed;
pub mod seed_trace;
pub mod server;
pub mod sheet;
pub mod texts;
pub mod trials;
pub mod wire;
pub mod work;

pub use decimal::Decimal;
pub use sheet::{Column, Sheet};
