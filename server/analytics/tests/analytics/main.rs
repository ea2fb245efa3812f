//! Tests of the estimates: against the reference, against published values, against known
//! truths, and for what must hold whatever comes in. One program, so that it links once.

mod error_model;
mod made_up;
mod members;
mod properties;
mod published;
mod records;
mod reference;
mod saving;
mod sentences;
mod simulation;
mod spoilage;
