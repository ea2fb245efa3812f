//! Seed in the store.

pub mod seed_stock;
