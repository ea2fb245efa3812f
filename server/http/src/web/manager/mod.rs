//! What a manager works with: the month, the savings report, spoilage, seed, and the office.

pub(super) mod board;
pub(super) mod close;
mod findings;
pub(super) mod first;
pub(super) mod guide;
pub mod import;
pub(super) mod invitations;
pub(super) mod labels;
pub(super) mod lot;
pub(super) mod month;
pub(super) mod output_change;
pub(super) mod owed;
pub(super) mod pay_run;
pub(super) mod people;
pub(super) mod purchases;
pub(super) mod rations;
pub(super) mod review;
pub(super) mod savings;
pub(super) mod security;
pub(super) mod server;
pub(super) mod service;
pub(super) mod spoilage;
pub(super) mod texts;
pub(super) mod trials;
pub(super) mod year;
