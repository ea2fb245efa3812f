//! Tests of the estimates: against the reference, against published values, against known
//! truths, and for what must hold whatever comes in. One program, so that it links once.

#[path = "../../examples/run_case/cases.rs"]
mod cases;
#[path = "../../examples/run_case/cases_money.rs"]
mod cases_money;
#[path = "../../examples/run_case/cases_output.rs"]
mod cases_output;
#[path = "../../examples/run_case/cases_plan.rs"]
mod cases_plan;
#[path = "../../examples/run_case/cases_saving.rs"]
mod cases_saving;
#[path = "../../examples/run_case/cases_spoilage.rs"]
mod cases_spoilage;

mod eaten;
mod error_model;
mod feed_saving;
mod lots;
mod made_up;
mod members;
mod net;
mod properties;
mod published;
mod records;
mod reference;
mod screens;
mod sentences;
mod simulation;
mod spoilage;
mod spoilage_promises;
mod why;
