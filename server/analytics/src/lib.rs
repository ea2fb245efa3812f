//! Estimates of the record server: did output really change, who keeps spoiling, what was
//! really saved.
//!
//! This crate is arithmetic only: slices of numbers in, structs out. It reads no clock, file or
//! database, never panics on an input and puts no "not a number" into an answer: what cannot be
//! said is `None` or a status. Nothing of ours lies below it. It is not the place for rounding
//! or storage, and words are in `sentences` only.
//!
//! Start at the question: [`records`] (records to farm-months), [`panel`] (month effects),
//! [`member_effect`] (one member), [`programme`] and [`callaway`] (all members), [`spoilage`]
//! (who keeps spoiling), [`why`] (what goes with it), [`lots`] (seed lot or farm), [`eaten`] (purchases to feed eaten),
//! [`feed_saving`] (feed cost) with [`season`], [`net`] (the partial budget); [`sentences`] says
//! the answers in words.
//! `NOTES.md` beside the sources says where the specification was unclear and what was chosen.

pub mod area_shock;
pub mod callaway;
mod core;
pub mod eaten;
pub mod error;
pub mod errors;
pub mod feed_rules;
pub mod feed_saving;
pub mod level;
pub mod limits;
mod linear;
pub mod lots;
pub mod member_effect;
pub mod net;
pub mod panel;
mod parallel;
pub mod programme;
pub mod records;
pub mod season;
pub mod sentences;
pub mod settled;
pub mod shrinkage;
pub mod spoilage;
pub mod stats;
pub mod trial;
pub mod variance;
pub mod why;
