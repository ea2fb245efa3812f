//! The rows that were refused, to be mended and sent again.

use super::{FileReport, Source};
use std::borrow::Cow;
use std::collections::HashMap;
use traybook_reports::csv_text::{self, unguard};

/// A CSV file of the refused rows as they stood, with a column behind them that says why;
/// `heading` stands above it, `waits` in rows that only refer to a refused one, `more` where the
/// reason was not kept, and `say` words a reason.
#[must_use]
pub fn refused_file(
    source: &Source,
    report: &FileReport,
    (heading, waits, more): (&str, &str, &str),
    say: impl Fn(&super::BadRow) -> String,
) -> String {
    let mut reasons: HashMap<u64, Vec<String>> = HashMap::new();
    for bad in &report.bad {
        reasons.entry(bad.line).or_default().push(say(bad));
    }
    // What was said before is not said again.
    let kept = |at: &usize| {
        let place = source.layout.columns.get(*at);
        place.is_none_or(|p| !traybook_sheets::layout::is_reason(&p.header))
    };
    let columns: Vec<usize> = (0..source.layout.columns.len()).filter(kept).collect();
    let mut out = String::from("\u{FEFF}");
    let header = columns.iter().filter_map(|at| source.layout.columns.get(*at));
    let header: Vec<&str> = header.map(|p| p.header.as_str()).chain([heading]).collect();
    out.push_str(&csv_text::line(&header));
    let is_cut_short = report.bad.len() >= traybook_domain::limits::CSV_ERRORS_MAX;
    let (rows, _) = source.layout.rows(&source.grid);
    for row in rows.into_iter().filter(|row| report.bad_lines.contains(&row.line)) {
        let reason = reasons.get(&row.line).map(|all| all.join("; "));
        let reason = reason.unwrap_or_else(|| if is_cut_short { more } else { waits }.to_owned());
        // What was guarded when it was written is guarded once again, not twice.
        let text = |at: &usize| unguard(row.cells.get(*at).map_or("", |c| c.text.as_str()));
        let cells: Vec<Cow<'_, str>> =
            columns.iter().map(text).chain([reason.as_str().into()]).collect();
        out.push_str(&csv_text::line(&cells));
    }
    out
}
