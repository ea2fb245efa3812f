//! What feeds are worth, against published values, hand-computed ones and what must always hold.
//!
//! Tags beside checks: [READ] printed by the source, [ARITH] plain arithmetic on quoted inputs,
//! [MEM] from memory, [MADE] made up for testing.

#![expect(clippy::unwrap_used, clippy::panic, reason = "a test stops at the first thing amiss")]

mod mixes;
mod properties;
mod published;
mod refusals;
