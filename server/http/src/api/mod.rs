//! The handlers, one file a group of operations.

pub mod estimates;
pub mod health;
pub mod photos;
pub mod planning;
pub mod privacy;
pub mod rations;
pub mod records;
pub mod reports;
pub mod review;
pub mod seed;
pub mod session;
pub mod sync;
pub mod texts;
pub mod trials;
