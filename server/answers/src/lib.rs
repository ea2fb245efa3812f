//! What use cases answer: one struct an answer.
//!
//! JSON, CSV, pages, workbook, PDF, terminal and the OpenAPI document are all made of these
//! structs, so a renamed member is a compile error at every door. Units stand in the names or in
//! the doc line of a member; a status is an enum. No prose: sentences are made last, in `speech`
//! and `reports`, except where a published answer carries an English sentence of its own.

#[macro_use]
mod choice;
mod decimal;
pub mod estimates;
pub mod people;
pub mod planning;
pub mod rations;
pub mod records;
pub mod review;
pub mod savings;
pub mod seed;
pub mod server;
pub mod sheet;
pub mod texts;
pub mod trials;
pub mod wire;

pub use decimal::Decimal;
pub use sheet::{Column, Sheet};
