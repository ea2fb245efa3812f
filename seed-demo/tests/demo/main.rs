//! The demo as it stands in a store.
#![expect(clippy::expect_used, reason = "a test fails by it")]

mod review;
mod small;
mod support;
