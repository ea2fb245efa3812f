//! Money, and what small groups may be shown of it.

pub mod money;
pub mod small_groups;
pub mod small_years;
