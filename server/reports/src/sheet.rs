//! An answer's list as CSV, and as a table for the terminal.

use crate::csv_text;
use traybook_answers::Sheet;

/// The list as CSV with a header. What is not known is an empty cell.
#[must_use]
pub fn csv<S: Sheet>(sheet: &S) -> String {
    lines(sheet).iter().map(|line| csv_text::line(line)).collect()
}

/// The list as a table for reading, columns apart by two spaces.
#[must_use]
pub fn table<S: Sheet>(sheet: &S) -> String {
    let mut lines = lines(sheet);
    for name in lines.iter_mut().take(1).flatten() {
        *name = name.replace('_', " ");
    }
    let width = |at: usize| {
        let cells = lines.iter().filter_map(|l| l.get(at));
        cells.map(|c| c.chars().count()).max().unwrap_or(0)
    };
    let widths: Vec<usize> = (0..S::columns().len()).map(width).collect();
    let mut out = String::new();
    for line in &lines {
        let cells = line.iter().zip(&widths).map(|(c, w)| format!("{c:<w$}"));
        out.push_str(cells.collect::<Vec<_>>().join("  ").trim_end());
        out.push('\n');
    }
    out
}

/// The heading and the rows.
fn lines<S: Sheet>(sheet: &S) -> Vec<Vec<String>> {
    let columns = S::columns();
    let mut lines = vec![columns.iter().map(|c| c.name.to_owned()).collect()];
    for row in sheet.rows() {
        lines.push(columns.iter().map(|c| (c.cell)(row)).collect());
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;
    use traybook_answers::{Column, columns};

    #[derive(serde::Serialize)]
    struct Line {
        a: &'static str,
        b: Option<i64>,
        c: Option<f64>,
    }

    #[derive(serde::Serialize)]
    struct Lines(Vec<Line>);

    impl Sheet for Lines {
        type Row = Line;
        fn rows(&self) -> &[Line] {
            &self.0
        }
        fn columns() -> Vec<Column<Line>> {
            columns!(Line: a, b, c)
        }
    }

    #[test]
    fn a_sheet_is_csv_and_a_table() {
        let lines = Lines(vec![
            Line { a: "=1", b: None, c: Some(2.5) },
            Line { a: "x, y", b: None, c: None },
        ]);
        assert_eq!(csv(&lines), "a,b,c\r\n'=1,,2.5\r\n\"x, y\",,\r\n");
        assert_eq!(table(&lines), "a     b  c\n=1       2.5\nx, y\n");
    }
}
