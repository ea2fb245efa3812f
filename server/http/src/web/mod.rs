//! The pages, made by the server. They work without script; forms are protected by a token that
//! follows from the sign-in, and by the browser's word on where a form came from.
//!
//! [`routes`] are the addresses, [`site`] how each is answered, [`visit`] what a page is asked,
//! [`blocks`] what pages are made of, [`forms`] what forms
//! share. Pages ask the same use cases as the interface and decide nothing by themselves.

mod assets;
mod blocks;
mod farms;
mod forms;
mod manager;
mod member;
mod officer;
mod output;
mod page;
mod requests;
pub mod routes;
mod sign_in;
mod site;
mod today;
mod totals;
mod visit;

pub use manager::import::Waiting;
