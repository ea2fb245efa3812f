//! Types, rules, policy and units of the record server. Pure: no I/O, no clock, no randomness.
//!
//! Start with [`kinds`]: it declares every record kind once. The JSON shape, the CSV columns, the
//! database columns, the OpenAPI schema and the permission of a kind all follow from that
//! declaration. [`field`] says what a field can be, [`effects`] which month sums a record moves,
//! [`people::authz`] who may do what.
//!
//! Nothing below this crate: it depends on no other crate of the workspace.

pub mod effects;
pub mod field;
mod field_error;
pub mod herd;
pub mod kind;
pub mod kinds;
pub mod limits;
pub mod month;
pub mod people;
pub mod planning;
pub mod rations;
pub mod record;
pub mod records;
pub mod review;
pub mod savings;
pub mod seed;
pub mod time;
pub mod value;

pub use field::{FieldError, FieldKind, FieldSpec};
pub use field_error::two_readings;
pub use kind::{Kind, KindSpec, Scope};
pub use month::Month;
pub use value::{ColumnType, Value};
