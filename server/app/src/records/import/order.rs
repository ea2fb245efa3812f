//! The order in which rows that lie in one another are read in.

use std::collections::{HashMap, HashSet};
use traybook_sheets::Row;
use traybook_sheets::words::normal;

/// Rows in an order in which each stands after the row that it names as its parent; `name` and
/// `parent` are the columns of both. One pass over the rows, however deep they lie.
pub(super) fn parents_first(rows: Vec<&Row>, name: usize, parent: usize) -> Vec<&Row> {
    let cell =
        |row: &Row, at: usize| row.cells.get(at).map(|c| normal(&c.text)).unwrap_or_default();
    let mut below: HashMap<String, Vec<usize>> = HashMap::new();
    let names: HashSet<String> = rows.iter().map(|row| cell(row, name)).collect();
    let mut next: Vec<usize> = Vec::new();
    for (at, row) in rows.iter().enumerate() {
        let parent = cell(row, parent);
        if names.contains(&parent) {
            below.entry(parent).or_default().push(at)
        } else {
            next.push(at)
        }
    }
    // Tops first, then what lies in each; a row in a circle comes last and is refused there.
    let mut done = 0;
    while let Some(at) = next.get(done).copied() {
        let own = rows.get(at).map(|row| cell(row, name)).unwrap_or_default();
        next.extend(below.remove(&own).into_iter().flatten());
        done += 1;
    }
    let mut circles: Vec<usize> = below.into_values().flatten().collect();
    circles.sort_unstable();
    next.extend(circles);
    next.into_iter().filter_map(|at| rows.get(at).copied()).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use traybook_sheets::Cell;

    fn order(rows: &[(&str, &str)]) -> Vec<String> {
        let row = |((n, p), line): (&(&str, &str), u64)| Row {
            line,
            width: None,
            cells: vec![Cell::text(n), Cell::text(p)],
        };
        let rows: Vec<Row> = rows.iter().zip(1..).map(row).collect();
        let ordered = parents_first(rows.iter().collect(), 0, 1);
        ordered.into_iter().map(|row| row.cells[0].text.clone()).collect()
    }

    #[test]
    fn each_row_stands_after_its_parent() {
        assert_eq!(order(&[("c", "b"), ("b", "a"), ("a", "")]), ["a", "b", "c"]);
        assert_eq!(order(&[("x", "elsewhere"), ("y", "x")]), ["x", "y"]);
        assert_eq!(order(&[("a", "b"), ("b", "a"), ("t", "")]), ["t", "a", "b"], "circles last");
        let names: Vec<String> = (0..2_000).map(|n| format!("{n:04}")).collect();
        let mut deep: Vec<(&str, &str)> =
            names.windows(2).map(|w| (w[1].as_str(), w[0].as_str())).collect();
        deep.reverse();
        assert_eq!(order(&deep), names[1..]);
    }
}
