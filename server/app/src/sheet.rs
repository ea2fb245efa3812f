//! An answer that can be had as JSON or as CSV.

use crate::error::AppError;
use chrono::NaiveDate;
use serde_json::Value as Json;
use traybook_domain::time::parse_date;
use traybook_reports::csv_text;

/// A JSON answer, one of whose members is a list that makes a table.
#[derive(Clone, Debug)]
pub struct Sheet {
    /// The whole answer.
    pub json: Json,
    /// Member that is the list.
    pub rows: &'static str,
    /// Members of the list's objects, in the order of the columns.
    pub columns: &'static [&'static str],
}

impl Sheet {
    /// Of a typed answer whose list is named so.
    ///
    /// # Errors
    /// `Internal`.
    pub fn of<T: traybook_answers::Sheet>(
        answer: &T,
        rows: &'static str,
        columns: &'static [&'static str],
    ) -> Result<Self, AppError> {
        let json = serde_json::to_value(answer).map_err(|e| AppError::Internal(e.to_string()))?;
        Ok(Self { json, rows, columns })
    }

    /// The list as CSV with a header. What is not known is an empty cell.
    #[must_use]
    pub fn csv(&self) -> String {
        let mut out = csv_text::line(self.columns);
        let rows = self.json.get(self.rows).and_then(Json::as_array);
        for row in rows.into_iter().flatten() {
            let cells: Vec<String> = self.columns.iter().map(|c| cell(row.get(*c))).collect();
            out.push_str(&csv_text::line(&cells));
        }
        out
    }

    /// The list as a table for reading, columns apart by two spaces.
    #[must_use]
    pub fn table(&self) -> String {
        let rows = self.json.get(self.rows).and_then(Json::as_array);
        let mut lines: Vec<Vec<String>> =
            vec![self.columns.iter().map(|c| c.replace('_', " ")).collect()];
        for row in rows.into_iter().flatten() {
            lines.push(self.columns.iter().map(|c| cell(row.get(*c))).collect());
        }
        let width = |at: usize| {
            let cells = lines.iter().filter_map(|l| l.get(at));
            cells.map(|c| c.chars().count()).max().unwrap_or(0)
        };
        let widths: Vec<usize> = (0..self.columns.len()).map(width).collect();
        let mut out = String::new();
        for line in &lines {
            let cells = line.iter().zip(&widths).map(|(c, w)| format!("{c:<w$}"));
            out.push_str(cells.collect::<Vec<_>>().join("  ").trim_end());
            out.push('\n');
        }
        out
    }
}

fn cell(value: Option<&Json>) -> String {
    match value {
        None | Some(Json::Null) => String::new(),
        Some(Json::String(text)) => text.clone(),
        Some(other) => other.to_string(),
    }
}

/// A day of a query.
///
/// # Errors
/// `Invalid` when it is none.
pub(crate) fn day(name: &str, text: &str) -> Result<NaiveDate, AppError> {
    parse_date(text).ok_or_else(|| AppError::field(name, "type", "give a day as YYYY-MM-DD"))
}

/// A span of at most so many days, the last given or today, the first given or `days_default`
/// before the last.
///
/// # Errors
/// `Invalid` for what is no day, and for a span that runs backwards or is too long.
pub(crate) fn span(
    from: Option<&str>,
    to: Option<&str>,
    today: NaiveDate,
    days_default: u64,
    days_max: i64,
) -> Result<(NaiveDate, NaiveDate), AppError> {
    let to = to.map_or(Ok(today), |text| day("to", text))?;
    let before = to.checked_sub_days(chrono::Days::new(days_default)).unwrap_or(to);
    let from = from.map_or(Ok(before), |text| day("from", text))?;
    if !(0..=days_max).contains(&(to - from).num_days()) {
        let detail = format!("give a day up to {days_max} days after from");
        return Err(AppError::field("to", "range", detail));
    }
    Ok((from, to))
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    #[test]
    fn a_sheet_is_csv_and_a_table() {
        let json = json!({ "lines": [{ "a": "=1", "b": null, "c": 2.5 }, { "a": "x, y" }] });
        let sheet = Sheet { json, rows: "lines", columns: &["a", "b", "c"] };
        assert_eq!(sheet.csv(), "a,b,c\r\n'=1,,2.5\r\n\"x, y\",,\r\n");
        assert_eq!(sheet.table(), "a     b  c\n=1       2.5\nx, y\n");
    }
}
