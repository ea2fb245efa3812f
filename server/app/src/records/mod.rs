//! Records of any kind: read, made, corrected and withdrawn, one by one, together, from phones and
//! from files. Start at [`txn`].

pub mod archive;
pub mod changes;
pub mod check;
mod codes;
pub mod collected;
pub mod export;
mod fill;
pub mod import;
pub mod nothing_bought;
pub mod photos;
mod pictures;
pub mod put_back;
pub mod represent;
pub mod rows;
pub mod single;
pub mod sync;
pub mod together;
pub mod trainings;
pub mod txn;

pub use represent::{Presenter, body_json};
pub(crate) use single::versions;
pub use single::{LIST_PARAMETERS, Page, Query, Shown, filter_fields};
pub(crate) use together::Piece;
pub(crate) use txn::{Txn, Written, clean_reason, find_visible, normal_login};
