//! Tables of documents.

/// Which side the text of a column stands on.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Align {
    /// Words.
    Left,
    /// Numbers.
    Right,
}

#[derive(Clone, Debug)]
pub struct Column {
    pub title: String,
    /// Width, points.
    pub width: f64,
    /// Side.
    pub align: Align,
}

#[derive(Clone, Debug)]
pub struct Cell {
    pub text: String,
    /// How many columns it takes.
    pub span: usize,
}

#[derive(Clone, Debug, Default)]
pub struct Row {
    pub cells: Vec<Cell>,
    /// Whether its letters are bold.
    pub bold: bool,
    /// Whether a dark line stands below.
    pub ruled: bool,
    /// Whether it stays on a page with the next rows.
    pub stays: bool,
    /// Empty room below its letters, points: to write by hand.
    pub room: f64,
}

impl Row {
    /// A row of one cell a column.
    #[must_use]
    pub fn of(texts: impl IntoIterator<Item = String>) -> Self {
        let cells = texts.into_iter().map(|text| Cell { text, span: 1 }).collect();
        Self { cells, ..Self::default() }
    }

    /// The row in bold letters.
    #[must_use]
    pub fn bold(self) -> Self {
        Self { bold: true, ..self }
    }
}

#[derive(Clone, Debug)]
pub struct Table {
    pub columns: Vec<Column>,
    pub rows: Vec<Row>,
    /// Size of letters, points.
    pub size: f64,
}

impl Table {
    /// Without rows yet: heading, width and side of each column.
    #[must_use]
    pub fn new(columns: &[(&str, f64, Align)]) -> Self {
        let column = |(title, width, align): &(&str, f64, Align)| Column {
            title: (*title).to_owned(),
            width: *width,
            align: *align,
        };
        Self { columns: columns.iter().map(column).collect(), rows: Vec::new(), size: 8.5 }
    }

    /// Width over all columns.
    #[must_use]
    pub fn width(&self) -> f64 {
        self.columns.iter().map(|c| c.width).sum()
    }

    /// The row of headings; none where no column has one.
    pub(super) fn head(&self) -> Option<Row> {
        let named = self.columns.iter().any(|c| !c.title.is_empty());
        let head = Row::of(self.columns.iter().map(|c| c.title.clone()));
        named.then_some(Row { bold: true, ruled: true, ..head })
    }
}
