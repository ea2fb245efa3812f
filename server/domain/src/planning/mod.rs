//! Standards of growing, and what follows from them for a batch, its trays and the way to farms.

pub mod batch;
pub mod guide;
pub mod thi;
pub mod trays;
pub mod way;
