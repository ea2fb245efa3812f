//! Answers whose list can be had as CSV or as a table for the terminal.

use serde::Serialize;

/// One column: its heading, and the cell of a row. An empty cell is not known.
pub struct Column<R> {
    /// Heading; the member's name.
    pub name: &'static str,
    /// The cell's text.
    pub cell: fn(&R) -> String,
}

/// An answer with one list that makes a table.
pub trait Sheet: Serialize {
    /// What a line shows.
    type Row: 'static;

    /// The lines.
    fn rows(&self) -> &[Self::Row];

    /// The columns, in their order.
    fn columns() -> Vec<Column<Self::Row>>;
}

/// Columns named after members of the row, so that a renamed member does not compile.
#[macro_export]
macro_rules! columns {
    ($row:ty: $($member:ident),+ $(,)?) => {
        vec![$($crate::Column {
            name: stringify!($member),
            cell: |row: &$row| $crate::sheet::Cell::cell(&row.$member),
        }),+]
    };
}

/// How a member is written into a cell.
pub trait Cell {
    /// Its text; empty where it is not known.
    fn cell(&self) -> String;
}

impl<T: Cell> Cell for Option<T> {
    fn cell(&self) -> String {
        self.as_ref().map_or_else(String::new, Cell::cell)
    }
}

macro_rules! cells {
    ($($type:ty),+) => {
        $(impl Cell for $type {
            fn cell(&self) -> String {
                self.to_string()
            }
        })+
    };
}

cells!(
    String,
    &'static str,
    bool,
    i32,
    i64,
    u32,
    u64,
    usize,
    uuid::Uuid,
    chrono::NaiveDate,
    crate::wire::Month,
    crate::wire::Time
);

impl Cell for f64 {
    /// As JSON writes it: `12.0`, not `12`.
    fn cell(&self) -> String {
        format!("{self:?}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[derive(Serialize)]
    struct Line {
        farm: String,
        kg: Option<f64>,
    }

    #[test]
    fn columns_are_members_and_the_unknown_is_empty() {
        let columns = columns!(Line: farm, kg);
        let line = Line { farm: "F1".to_owned(), kg: None };
        let cells: Vec<String> = columns.iter().map(|c| (c.cell)(&line)).collect();
        assert_eq!(columns.iter().map(|c| c.name).collect::<Vec<_>>(), ["farm", "kg"]);
        assert_eq!(cells, ["F1", ""]);
        assert_eq!(Cell::cell(&12.0), "12.0");
    }
}
