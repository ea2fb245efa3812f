//! Figures and texts as people write them, before and after they are records.

pub mod collected;
pub mod import_id;
pub mod personal;
pub mod written;
