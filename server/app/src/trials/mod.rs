//! Trials: what a plan could show, the random order of starts, months with and without fodder.

mod followed;
mod judge;
mod orders;

pub(crate) use followed::followed;
