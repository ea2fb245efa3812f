//! Rows that the review list looks through, and the cases that it keeps.

pub mod review_cases;
pub mod review_rows;
