//! Types, rules, policy and units of the record server. Pure: no I/O, no clock, no randomness.
//!
//! Start with [`kinds`]: it declares every record kind once. The JSON shape, the CSV columns, the
//! database columns, the OpenAPI schema and the permission of a kind all follow from that
//! declaration. [`field`] says what a field can be, [`effects`] which month sums a record moves,
//! [`authz`] who may do what.
//!
//! Nothing below this crate: it depends on no other crate of the workspace.

pub mod authz;
pub mod batch;
pub mod collected;
pub mod effects;
pub mod feed;
pub mod field;
mod field_error;
pub mod guide;
pub mod half_octave;
pub mod herd;
pub mod import_id;
pub mod kind;
pub mod kinds;
pub mod limits;
pub mod money;
pub mod month;
pub mod personal;
pub mod record;
pub mod review;
pub mod seed_stock;
pub mod small_groups;
pub mod small_years;
pub mod thi;
pub mod time;
pub mod trays;
pub mod value;
pub mod way;
pub mod written;

pub use field::{FieldError, FieldKind, FieldSpec};
pub use field_error::two_readings;
pub use kind::{Kind, KindSpec, Scope};
pub use month::Month;
pub use value::{ColumnType, Value};
