//! What to do today, and how much seed: plans, the work list, and recording work as done.
//!
//! [`board`] keeps every farm with what grows on it in memory, under the number of the
//! co-operative's last change: after a change only the farms that it concerns are read again.

pub mod board;
pub mod boards;
mod by_farm;
mod done;
mod forecast;
mod learned;
mod line_key;
mod lines;
mod needs;
mod plans;
mod service;
mod sheets;
mod work;

pub use boards::Boards;
pub use done::Done;
pub(crate) use done::record_line;
pub use forecast::WEEKS;
pub(crate) use learned::{BadLots, make_due as learn_due};
pub use plans::DAYS as PLAN_DAYS;
pub(crate) use service::service_prices;
pub use sheets::{SHEET_STYLE, SheetForm, SheetWords, Worded};
pub use traybook_planning::work::OVER_AGE_CAUTION;
pub use traybook_reports::work_sheet::Texts as SheetTexts;
pub use work::WorkQuery;
pub(crate) use work::{FarmDay, farm_days};
