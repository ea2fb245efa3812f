//! Workbooks (XLSX): values as the workbook keeps them, of formulas the last value.

use crate::{COLUMNS_MAX, Cell, Grid, Row, Unreadable, of_file, too_large};
use calamine::{DataRef, ExcelDateTime, Reader as _, SheetVisible, Xlsx};
use chrono::{NaiveDate, NaiveTime, TimeDelta, Timelike as _};
use std::io::{Cursor, Read as _};

/// Most bytes that a workbook may have unpacked: its text is that long in memory while it is read.
const UNPACKED_MAX: u64 = 400 * 1024 * 1024;
/// Most sheets of a workbook that are looked at.
const SHEETS_MAX: usize = 40;

fn broken() -> Unreadable {
    (0, of_file("workbook_broken", "this workbook can not be read: save it again as XLSX"))
}

/// Unpacks all of it once and keeps nothing: what says it is small may be large.
fn unpacks_within(bytes: &[u8], bytes_max: u64) -> Result<(), Unreadable> {
    let mut packed = zip::ZipArchive::new(Cursor::new(bytes)).ok().ok_or_else(broken)?;
    let mut left = bytes_max;
    for at in 0..packed.len() {
        let entry = packed.by_index(at).ok().ok_or_else(broken)?;
        // One more than is left tells that there is more.
        let read = std::io::copy(&mut entry.take(left + 1), &mut std::io::sink());
        let read = read.ok().ok_or_else(broken)?;
        left = left.checked_sub(read).ok_or_else(too_large)?;
    }
    Ok(())
}

/// Reads the sheets that are to be seen and hold something.
///
/// # Errors
/// When it is no workbook, holds nothing, or is larger than `cells_max`.
pub fn read(bytes: &[u8], cells_max: usize) -> Result<Vec<Grid>, Unreadable> {
    unpacks_within(bytes, UNPACKED_MAX)?;
    let mut book = Xlsx::new(Cursor::new(bytes)).ok().ok_or_else(broken)?;
    let seen = |s: &&calamine::Sheet| s.visible == SheetVisible::Visible;
    let sheets = book.sheets_metadata().iter().filter(seen).take(SHEETS_MAX);
    let names: Vec<String> = sheets.map(|s| s.name.clone()).collect();
    let mut left = Left { cells: cells_max, bytes: UNPACKED_MAX };
    let mut grids = Vec::new();
    for name in names {
        // A sheet that is a chart has no cells.
        let Ok(mut cells) = book.worksheet_cells_reader(&name) else { continue };
        let mut rows: Vec<Row> = Vec::new();
        while let Some(cell) = cells.next_cell().ok().ok_or_else(broken)? {
            let (line, column) = cell.get_position();
            let Some(value) = value(cell.get_value()) else { continue };
            left.take(&value)?;
            put(&mut rows, u64::from(line) + 1, usize::try_from(column).unwrap_or(0), value)?;
        }
        if !rows.is_empty() {
            grids.push(Grid { name, separator: None, rows });
        }
    }
    if grids.is_empty() {
        return Err((1, of_file("empty", "the workbook is empty: one line must name the columns")));
    }
    Ok(grids)
}

/// What may still be kept.
struct Left {
    cells: usize,
    bytes: u64,
}

impl Left {
    fn take(&mut self, cell: &Cell) -> Result<(), Unreadable> {
        let bytes = u64::try_from(cell.text.len()).unwrap_or(u64::MAX);
        self.cells = self.cells.checked_sub(1).ok_or_else(too_large)?;
        self.bytes = self.bytes.checked_sub(bytes).ok_or_else(too_large)?;
        Ok(())
    }
}

fn put(rows: &mut Vec<Row>, line: u64, column: usize, cell: Cell) -> Result<(), Unreadable> {
    if column >= COLUMNS_MAX {
        let text = "this line has too many columns: remove those on the right";
        return Err((line, of_file("columns_many", text)));
    }
    if rows.last().is_none_or(|row| row.line != line) {
        rows.push(Row { line, width: None, cells: Vec::new() });
    }
    if let Some(row) = rows.last_mut() {
        let cells = &mut row.cells;
        cells.resize_with(cells.len().max(column + 1), Cell::default);
        if let Some(slot) = cells.get_mut(column) {
            *slot = cell;
        }
    }
    Ok(())
}

/// What a cell says; nothing of an empty one.
fn value(data: &DataRef<'_>) -> Option<Cell> {
    let exact = |text: String| Some(Cell { text, is_exact: true });
    match data {
        DataRef::Int(v) => exact(v.to_string()),
        DataRef::Float(v) => exact(number(*v)),
        DataRef::Bool(v) => exact(if *v { "yes" } else { "no" }.to_owned()),
        DataRef::DateTime(at) => exact(moment(*at)),
        DataRef::DateTimeIso(text) => exact(text.replace('T', " ")),
        DataRef::String(text) => Some(Cell::text(text)),
        DataRef::SharedString(text) => Some(Cell::text(text)),
        // "#N/A" and the like: shown as it stands, and refused by the field.
        DataRef::Error(error) => Some(Cell::text(&error.to_string())),
        DataRef::DurationIso(text) => Some(Cell::text(text)),
        DataRef::Empty => None,
    }
    .filter(|cell| !cell.text.is_empty())
}

/// A number as spreadsheets show it: 15 digits count (ECMA-376 part 1, 18.3.1.96 keeps a double).
fn number(value: f64) -> String {
    let rounded: f64 = format!("{value:.14e}").parse().unwrap_or(value);
    rounded.to_string()
}

/// A day, a day with its clock, or a clock.
fn moment(at: ExcelDateTime) -> String {
    if at.is_duration() {
        return number(at.as_f64());
    }
    let (year, month, day, hour, minute, second, _) = at.to_ymd_hms_milli();
    let day = NaiveDate::from_ymd_opt(i32::from(year), u32::from(month), u32::from(day));
    let clock = NaiveTime::from_hms_opt(u32::from(hour), u32::from(minute), u32::from(second));
    let Some((day, clock)) = day.zip(clock) else { return number(at.as_f64()) };
    // 06:29:59 is 06:30 that was kept as part of a day.
    let moment = day.and_time(clock) + TimeDelta::seconds(30);
    let shape = match (at.as_f64() < 1.0, moment.hour() == 0 && moment.minute() == 0) {
        (true, _) => "%H:%M",
        (false, true) => "%Y-%m-%d",
        (false, false) => "%Y-%m-%d %H:%M",
    };
    moment.format(shape).to_string()
}

#[cfg(test)]
mod tests {
    use super::*;
    use rust_xlsxwriter::{ExcelDateTime as Written, Format, Formula, Workbook};

    fn code(bytes: &[u8], most: usize) -> Result<Vec<Grid>, &'static str> {
        read(bytes, most).map_err(|(_, e)| e.code)
    }

    /// Written by another program than the one that reads (rust_xlsxwriter).
    fn book() -> Vec<u8> {
        let mut book = Workbook::new();
        book.add_worksheet().set_name("Cover").expect("a name");
        let sheet = book.add_worksheet();
        sheet.set_name("Milk").expect("a name");
        let day = Format::new().set_num_format("dd/mm/yyyy");
        let clock = Format::new().set_num_format("dd/mm/yyyy hh:mm");
        sheet.write_string(0, 0, "Milk of March").expect("cell");
        for (at, name) in ["Day", "Litres", "Sum", "Soaked", "Sold"].into_iter().enumerate() {
            sheet.write_string(3, u16::try_from(at).expect("small"), name).expect("cell");
        }
        let on = Written::parse_from_str("2026-03-05").expect("a day");
        let at = Written::parse_from_str("2026-03-05T06:30:00").expect("an instant");
        sheet.write_datetime_with_format(6, 0, &on, &day).expect("cell");
        sheet.write_number(6, 1, 12.345).expect("cell");
        sheet
            .write_formula(6, 2, Formula::new("=0.1+0.2").set_result("0.30000000000000004"))
            .expect("cell");
        sheet.write_datetime_with_format(6, 3, &at, &clock).expect("cell");
        sheet.write_boolean(6, 4, true).expect("cell");
        let hidden = book.add_worksheet();
        hidden.set_name("Old").expect("a name").set_hidden(true);
        hidden.write_string(0, 0, "x").expect("cell");
        book.save_to_buffer().expect("saved")
    }

    #[test]
    fn days_are_days_and_numbers_numbers_at_their_rows() {
        let grids = code(&book(), 99).expect("read");
        assert_eq!(grids.iter().map(|g| g.name.as_str()).collect::<Vec<_>>(), ["Milk"]);
        let lines: Vec<u64> = grids[0].rows.iter().map(|r| r.line).collect();
        assert_eq!(lines, [1, 4, 7]);
        let cells = &grids[0].rows[2].cells;
        let texts: Vec<&str> = cells.iter().map(|c| c.text.as_str()).collect();
        assert_eq!(texts, ["2026-03-05", "12.345", "0.3", "2026-03-05 06:30", "yes"]);
        assert!(cells.iter().all(|c| c.is_exact));
        assert_eq!(code(&book(), 5), Err("sheet_too_large"));
    }

    #[test]
    fn what_unpacks_to_too_much_is_refused_before_it_is_read() {
        let mut bomb = zip::ZipWriter::new(Cursor::new(Vec::new()));
        let options = zip::write::SimpleFileOptions::default();
        bomb.start_file("xl/sharedStrings.xml", options).expect("an entry");
        std::io::copy(&mut std::io::repeat(b' ').take(3_000_000), &mut bomb).expect("written");
        let bytes = bomb.finish().expect("packed").into_inner();
        assert!(bytes.len() < 30_000);
        let error = unpacks_within(&bytes, 1_000_000).map_err(|(_, e)| e.code);
        assert_eq!(error, Err("sheet_too_large"));
        assert!(unpacks_within(&bytes, 3_000_000).is_ok());
        assert_eq!(code(&bytes, 99), Err("workbook_broken"), "a packed file that is no workbook");
        assert_eq!(code(b"PK\x03\x04", 99), Err("workbook_broken"));
    }
}
