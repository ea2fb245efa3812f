//! A sheet with a header and one row, to be filled in.

use rust_xlsxwriter::{Format, Workbook, XlsxError};

/// Widest column, characters.
const WIDTH_MAX: usize = 40;

/// The workbook. All cells are text, so that a member number keeps its zeros.
///
/// # Errors
/// Those of the workbook.
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
