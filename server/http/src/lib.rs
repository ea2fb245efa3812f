//! The REST interface.
//!
//! [`ops`] is the one table of operations: routes, permissions to ask for, the OpenAPI document
//! and the tests' coverage all come from it, so that nothing is served that is not described.
//! [`web`] are the pages for people, in the languages of `traybook-speech`. [`serve`] turns the
//! table into an actix application; [`request`] is what a handler gets, [`problem`] what it answers
//! when it can not.

pub mod api;
pub mod connections;
pub mod metrics;
mod noted;
pub mod openapi;
pub mod ops;
pub mod problem;
pub mod request;
pub mod schema;
pub mod serve;
pub mod shape;
pub mod web;
pub mod work_words;

pub use serve::{Settings, State, configure};
