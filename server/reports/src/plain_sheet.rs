//! Sheets with a header: one row to be filled in, or rows of figures.

use rust_xlsxwriter::{Format, Workbook, XlsxError};

/// Widest column, characters.
const WIDTH_MAX: usize = 40;

/// The workbook. All cells are text, so that a member number keeps its zeros.
pub fn workbook(name: &str, header: &[String], row: &[String]) -> Result<Vec<u8>, XlsxError> {
    let mut book = Workbook::new();
    let sheet = book.add_worksheet();
    let name: String = name.chars().take(31).collect();
    sheet.set_name(&name)?;
    let (bold, text) = (Format::new().set_bold(), Format::new().set_num_format("@"));
    for (at, (title, value)) in (0_u16..).zip(header.iter().zip(row)) {
        let width = title.chars().count().max(value.chars().count()) + 2;
        sheet.set_column_width(at, u32::try_from(width.min(WIDTH_MAX)).unwrap_or(12))?;
        sheet.set_column_format(at, &text)?;
        sheet.write_string_with_format(0, at, title, &bold)?;
        sheet.write_string_with_format(1, at, value, &text)?;
    }
    sheet.set_freeze_panes(1, 0)?;
    book.save_to_buffer()
}

/// A cell of a sheet of figures.
pub enum Entry {
    Text(String),
    /// A number; nothing where there is none.
    Number(Option<f64>),
}

/// A workbook of figures that can be summed and filtered; it prints on the width of one page.
pub fn figures(name: &str, header: &[String], rows: &[Vec<Entry>]) -> Result<Vec<u8>, XlsxError> {
    let mut book = Workbook::new();
    let sheet = book.add_worksheet();
    let name: String = name.chars().take(31).collect();
    sheet.set_name(&name)?;
    let bold = Format::new().set_bold();
    let wrapped = Format::new().set_text_wrap();
    let mut widths: Vec<usize> = header.iter().map(|title| title.chars().count() + 2).collect();
    for (at, title) in (0_u16..).zip(header) {
        sheet.write_string_with_format(0, at, title, &bold)?;
    }
    for (line, row) in (1_u32..).zip(rows) {
        for ((at, entry), width) in (0_u16..).zip(row).zip(&mut widths) {
            match entry {
                Entry::Text(text) => {
                    *width = (*width).max(text.chars().count() + 2);
                    sheet.write_string_with_format(line, at, text, &wrapped)?;
                }
                Entry::Number(Some(number)) => {
                    sheet.write_number(line, at, *number)?;
                }
                Entry::Number(None) => {}
            }
        }
    }
    for (at, width) in (0_u16..).zip(widths) {
        sheet.set_column_width(at, u32::try_from(width.min(WIDTH_MAX)).unwrap_or(12))?;
    }
    sheet.set_freeze_panes(1, 0)?;
    sheet.set_landscape().set_print_fit_to_pages(1, 0).set_repeat_rows(0, 0)?;
    book.save_to_buffer()
}
