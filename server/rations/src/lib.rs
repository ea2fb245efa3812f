//! What feeds are worth, computed: numbers in, numbers and plain sentences out.
//!
//! Prices of nutrients ([`feeds`]), the Pearson square of two feeds ([`square`]), the least-cost
//! mix of many ([`mix`]), partial budgets ([`budget`]) and at which price, yield or spoilage fodder
//! pays ([`break_even`]). Nothing here reads a file, a clock or a database. `NOTES.md` beside this
//! crate says methods, units, sources and edge cases. Start with [`feeds`].
//!
//! # Safety
//! Whatever comes out is for advice together with the local livestock service: every answer
//! carries [`CAUTION`].

pub mod break_even;
pub mod budget;
pub mod feeds;
pub mod limits;
pub mod lp;
pub mod mix;
pub mod read;
pub mod request;
pub mod square;
pub mod words;

/// The line that stands with every ration.
pub const CAUTION: &str = "For advice together with the local livestock service: a least-cost \
    ration is no feeding plan. Change feeds slowly, keep water and salt at hand, and never feed \
    mouldy feed or treated seed.";

/// What is said beside every figure per kg as fed of fresh fodder.
pub const FRESH_IS_MISLEADING: &str = "misleading for fresh fodder, which is mostly water: \
    compare feeds per kg of dry matter, protein or energy";
