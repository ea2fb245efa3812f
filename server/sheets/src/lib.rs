//! Spreadsheets as people keep them: files into rows with their true lines, headers into columns
//! of a record kind, cells into what the records' rules read.
//!
//! Nothing is guessed silently: what could mean two things is said, and a person decides.

pub mod book;
pub mod columns;
pub mod days;
pub mod examples;
pub mod layout;
pub mod text;
pub mod values;
pub mod words;

use traybook_domain::FieldError;

/// Most columns of a sheet: no record kind has a tenth of it, and empty cells cost memory.
pub const COLUMNS_MAX: usize = 300;

#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Cell {
    /// What stands in it, without space around it.
    pub text: String,
    /// Whether the file says the value itself: a workbook's number, day or yes. Its number has a
    /// point, its day is ISO 8601.
    pub is_exact: bool,
}

impl Cell {
    /// A cell of text.
    #[must_use]
    pub fn text(text: &str) -> Self {
        Self { text: text.trim().to_owned(), is_exact: false }
    }
}

/// A row that is not empty.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Row {
    /// Line of the text, or row of the sheet, from 1.
    pub line: u64,
    /// Cells that a text's line was written with, empty ones at its end included.
    pub width: Option<usize>,
    /// Cells up to the last that is not empty.
    pub cells: Vec<Cell>,
}

/// A sheet.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Grid {
    /// Its name in the workbook; empty for a text file.
    pub name: String,
    /// What parts the cells of a text.
    pub separator: Option<char>,
    pub rows: Vec<Row>,
}

/// What is wrong with a file as a whole: line, and what to do.
pub type Unreadable = (u64, FieldError);

fn of_file(code: &'static str, detail: &str) -> FieldError {
    FieldError::new("", code, detail)
}

fn too_large() -> Unreadable {
    (0, of_file("sheet_too_large", "this file is too large to be read at once: cut it in two"))
}

/// Reads a file: the sheets of a workbook, or the one of a text. At most `cells_max` cells.
///
/// # Errors
/// Why it can not be read.
pub fn read(bytes: &[u8], cells_max: usize) -> Result<Vec<Grid>, Unreadable> {
    if bytes.starts_with(b"PK\x03\x04") {
        return book::read(bytes, cells_max);
    }
    if bytes.starts_with(b"\xD0\xCF\x11\xE0") {
        let text = "this is a workbook of an old form, or one with a password: save it as XLSX \
                    without a password";
        return Err((0, of_file("workbook_old", text)));
    }
    Ok(vec![text::read(bytes, cells_max)?])
}
