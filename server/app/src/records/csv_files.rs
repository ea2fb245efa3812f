//! CSV files as co-operatives keep them in spreadsheets: one a record kind, people and things
//! named by their codes.

use crate::Coop;
use std::collections::HashMap;
use traybook_domain::field::FieldKind;
use traybook_domain::time::{at_local, format_instant, parse_date};
use traybook_domain::{FieldError, FieldSpec, Kind};

/// A column of a kind's file.
#[derive(Clone, Copy, Debug)]
pub struct Column {
    /// The field.
    pub field: &'static FieldSpec,
    /// Position among the kind's fields.
    pub index: usize,
}

/// Name of a field's column: references are named without `_id`, since they hold codes.
#[must_use]
pub fn column_name(field: &FieldSpec) -> &'static str {
    match field.kind {
        FieldKind::Ref(_) => field.name.strip_suffix("_id").unwrap_or(field.name),
        _ => field.name,
    }
}

/// The columns of a kind's file after `id`.
#[must_use]
pub fn columns(kind: Kind) -> Vec<Column> {
    let fields = kind.spec().fields.iter().enumerate().filter(|(_, f)| !f.derived);
    fields.map(|(index, field)| Column { field, index }).collect()
}

/// Name of a kind's file.
#[must_use]
pub fn file_name(kind: Kind) -> String {
    format!("{}.csv", kind.spec().table())
}

/// What may stand in a batch's own line of `batches.csv`, as spreadsheets have it: each group of
/// columns makes one event of the batch.
pub const BATCH_SHORTHAND: &[(&str, &str, &str, &str)] = &[
    // event, when, trays, kg
    ("soaked", "soaked_at", "", "seed_kg"),
    ("spread", "spread_at", "trays_spread", ""),
    ("harvested", "harvested_at", "trays_harvested", "harvested_kg"),
    // Before the feeding, so that mould is known when it is judged.
    ("discarded", "discarded_at", "trays_discarded", ""),
    ("fed_out", "fed_at", "", "fed_kg"),
];

/// The columns of [`BATCH_SHORTHAND`], the cause of discarded trays, and why it was fed although
/// mould was seen.
pub fn shorthand_columns() -> impl Iterator<Item = &'static str> {
    let all = BATCH_SHORTHAND.iter().flat_map(|(_, at, trays, kg)| [*at, *trays, *kg]);
    all.filter(|c| !c.is_empty()).chain(["discard_cause", "fed_reason"])
}

/// An instant as spreadsheets write it (`2026-01-31 06:30` or a day, both in the co-operative's
/// zone) as RFC 3339; other text as it came.
#[must_use]
pub fn instant_text(text: &str, coop: &Coop) -> String {
    let (day, clock) = text.split_once([' ', 'T']).unwrap_or((text, "12:00"));
    let minutes = clock.split_once(':').and_then(|(h, m)| {
        let two = |t: &str| (t.len() <= 2).then(|| t.parse::<u32>().ok()).flatten();
        let m = m.strip_suffix(":00").unwrap_or(m);
        Some((two(h)?, two(m)?)).filter(|(h, m)| *h < 24 && *m < 60)
    });
    match (parse_date(day), minutes) {
        (Some(date), Some((h, m))) => format_instant(at_local(date, h * 60 + m, coop.zone)),
        _ => text.to_owned(),
    }
}

/// A file cut into its header and rows, or why it can not be.
pub struct Sheet {
    /// Header cells.
    pub header: Vec<String>,
    /// Rows with the line they begin on.
    pub rows: Vec<(u64, Vec<String>)>,
}

/// What is wrong with a file as a whole: line, and what to do.
pub type SheetError = (u64, FieldError);

/// Cuts a file. Comma, semicolon and tab are told apart by the header.
///
/// # Errors
/// When it is no UTF-8 text, empty, or cut off inside a quoted cell.
pub fn sheet(bytes: &[u8]) -> Result<Sheet, SheetError> {
    let bytes = bytes.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(bytes);
    if bytes.starts_with(b"\xFF\xFE") || bytes.starts_with(b"\xFE\xFF") {
        return Err((1, of_file("letters", "this file is UTF-16: save it as \"CSV UTF-8\"")));
    }
    if bytes.starts_with(b"PK\x03\x04") {
        let text = "this is a workbook, not CSV: save it as \"CSV UTF-8\"";
        return Err((1, of_file("workbook", text)));
    }
    if let Err(e) = std::str::from_utf8(bytes) {
        let upto = bytes.get(..e.valid_up_to()).unwrap_or_default();
        let line = 1 + upto.iter().filter(|b| **b == b'\n').count();
        let text = "there are letters that are not UTF-8: save it as \"CSV UTF-8\"";
        return Err((u64::try_from(line).unwrap_or(1), of_file("letters", text)));
    }
    let quotes = bytes.iter().filter(|b| **b == b'"').count();
    if !quotes.is_multiple_of(2) {
        let lines = u64::try_from(bytes.iter().filter(|b| **b == b'\n').count()).unwrap_or(0);
        let text = "a quoted cell is not closed: the file may have been cut off; copy it again";
        return Err((lines + 1, of_file("quotes", text)));
    }
    let first = bytes.split(|b| *b == b'\n').next().unwrap_or_default();
    let count = |wanted: u8| first.iter().filter(|b| **b == wanted).count();
    let delimiter = [b',', b';', b'\t'].into_iter().max_by_key(|d| (count(*d), *d == b','));
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .delimiter(delimiter.unwrap_or(b','))
        .from_reader(bytes);
    let mut rows = Vec::new();
    let mut record = csv::StringRecord::new();
    loop {
        let more = reader.read_record(&mut record).map_err(|e| {
            let line = e.position().map_or(0, csv::Position::line);
            (line, of_file("unreadable", "this line can not be read"))
        })?;
        if !more {
            break;
        }
        let line = record.position().map_or(0, csv::Position::line);
        let cells: Vec<String> = record.iter().map(|c| c.trim().to_owned()).collect();
        if cells.iter().any(|c| !c.is_empty()) {
            rows.push((line, cells));
        }
    }
    if rows.is_empty() {
        let text = "the file is empty: the first line must name the columns";
        return Err((1, of_file("empty", text)));
    }
    let (_, header) = rows.remove(0);
    Ok(Sheet { header, rows })
}

fn of_file(code: &'static str, detail: &str) -> FieldError {
    FieldError::new("", code, detail)
}

/// Codes of records that were referred to, kept for the length of an import or export.
#[derive(Default)]
pub struct Codes {
    /// Code to id.
    pub ids: HashMap<(Kind, String), Option<uuid::Uuid>>,
    /// Id to code.
    pub codes: HashMap<(Kind, uuid::Uuid), Option<String>>,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sheet_tells_delimiters_and_damage() {
        let semicolons = sheet("a;b\r\n1;2,5\r\n\r\n".as_bytes()).map_err(|e| e.1);
        let semicolons = semicolons.expect("readable");
        assert_eq!((semicolons.header.len(), semicolons.rows.len()), (2, 1));
        assert_eq!(sheet(b"a,b\n1,\"x").err().map(|e| e.0), Some(2));
        assert_eq!(sheet(b"a\n\nb\n\xE9").err().map(|e| e.0), Some(4));
        assert!(sheet(b"").is_err() && sheet(b"PK\x03\x04").is_err());
        assert_eq!(
            sheet(b"\xEF\xBB\xBFname\nx\n").map(|s| s.header).ok(),
            Some(vec!["name".to_owned()])
        );
    }
}
