//! The invented demo co-operative: people, farms and figures that a seeded generator makes and
//! writes through the use cases, so that demo data obeys every rule. Nothing in it is a
//! measurement.
//!
//! The same size, seed and day give the same records to the byte. Start with [`generate`]; what
//! each farm is like stands in [`FarmTruth`].

mod batches;
mod calendar;
mod clock;
mod costs;
mod farm;
mod generate;
mod herd;
mod names;
mod output;
mod plans;
mod prices;
mod random;
mod setup;
mod sizes;
mod store;
mod story;
mod trainings;
mod visits;
mod writes;

pub use clock::ManualClock;
pub use generate::{Demo, Login, Plan, generate};
pub use sizes::Size;
pub use story::{FarmTruth, truth};
