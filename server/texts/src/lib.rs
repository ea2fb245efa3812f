//! What members write by text message: read into records, and answered in one segment.
//!
//! [`read`] takes a text and what is known of who writes ([`Scene`]), and says what is recorded and
//! what is answered. It reads no clock and writes nothing; `README.md` beside this crate tells how a
//! text goes through the program.

mod answers;
mod clauses;
pub mod figures;
pub mod gsm;
pub mod menu;
pub mod phone;
mod read;
mod records;
mod scene;
mod tokens;
mod words;

pub use answers::{batches, numbered, recorded, undone, work};
pub use read::{Asked, Outcome, Reading, chosen_coop, needs_work, read, read_of};
pub use records::DAYS_BACK_MAX;
pub use scene::{
    Again, Caution, Farm, Given, Group, Line, MonthSoFar, Pending, Question, Record, Scene,
    Standing, State, What, Written, same_text, short,
};
pub use words::{Animal, Query, Session, Task};
