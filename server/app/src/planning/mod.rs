//! What to do today, and how much seed: plans, the work list, and recording work as done.
//!
//! [`board`] keeps every farm with what grows on it in memory, under the number of the
//! co-operative's last change: after a change only the farms that it concerns are read again.

pub mod board;
pub mod boards;
mod by_farm;
mod done;
mod forecast;
mod lines;
mod needs;
mod plans;
mod sheets;
mod work;

pub use done::Done;
pub use forecast::SeedForecast;
pub use lines::{FarmWork, Work, WorkLine};
pub use sheets::{SHEET_STYLE, SheetForm, SheetWords, Worded};
pub use traybook_planning::work::OVER_AGE_CAUTION;
pub use traybook_reports::work_sheet::Texts as SheetTexts;
pub use work::WorkQuery;

/// Tasks of the work list, for the interface's description.
pub const TASKS: [&str; 8] = {
    let mut all = [""; 8];
    let mut at = 0;
    while at < 8 {
        all[at] = traybook_planning::work::Task::ALL[at].text();
        at += 1;
    }
    all
};
/// Reasons for which a group goes short, for the interface's description.
pub const REASONS: [&str; 7] = {
    use traybook_planning::Short;
    use traybook_planning::words::code as of;
    [
        of(Short::BeforeFirstHarvest),
        of(Short::NotSoaked),
        of(Short::TooLittleSoaked),
        of(Short::NoPlaces),
        of(Short::RestDays),
        of(Short::AgeTooLow),
        of(Short::NoShed),
    ]
};
