//! Feed by its dry matter.

pub mod feed;
