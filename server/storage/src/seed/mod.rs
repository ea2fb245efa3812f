//! Seed: accounts of members, deliveries, lots.

pub mod lot_rows;
pub mod seed_rows;
