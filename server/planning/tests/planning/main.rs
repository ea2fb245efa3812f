//! Tests of the planner and the work list: against common practice, published values, a shed
//! simulated day by day, and a day's work gone through by hand. One program, so that it links once.
#![expect(clippy::expect_used, reason = "a test fails by it")]

mod harvests;
mod noise;
mod plan;
mod simulated;
mod simulator;
mod support;
mod work;
