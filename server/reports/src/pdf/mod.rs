//! PDF documents (ISO 32000): pages of headings, paragraphs, tables and pictures.
//!
//! [`Paper`] lays out, [`draw`] writes. Documents are tagged, so that a screen reader knows headings,
//! tables and what pictures show; letters are embedded, since names carry letters that the standard
//! fonts lack (ĩ, ũ). No clock and no chance: the same input is the same bytes.

mod draw;
mod font;
mod paper;
mod table;

pub use paper::{About, PADDING, Paper};
pub use table::{Align, Cell, Column, Row, Table};

#[cfg(test)]
mod tests;
