//! The pages, made by the server. They work without script; forms are protected by a token that
//! follows from the sign-in, and by the browser's word on where a form came from.
//!
//! [`site`] routes and signs in, [`today`] and [`output`] are pages, [`speech`] speaks English
//! and Kiswahili. Pages ask the same use cases as the interface and decide nothing by themselves.

mod output;
mod page;
pub mod site;
pub mod speech;
mod today;
