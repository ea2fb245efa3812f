//! Reads the CSV files of `analyse`, and says where they are wrong and what to do.

use chrono::NaiveDate;
use std::collections::HashMap;
use std::path::Path;
use traybook_domain::time::parse_date;
use traybook_domain::{Month, limits};

/// Problems told at once: enough to see what they have in common.
const PROBLEMS_MAX: usize = 20;

/// Largest number in a cell: more is a misplaced digit, and the estimates do not take it.
const NUMBER_MAX: f64 = 1e12;

/// A CSV file with named columns.
pub struct Table {
    name: String,
    header: Vec<String>,
    rows: Vec<(u64, Vec<String>)>,
}

/// A column that was found.
#[derive(Clone, Copy)]
pub struct Column(usize);

impl Table {
    /// Opens and cuts a file.
    ///
    /// # Errors
    /// What is wrong with the file, and what to do.
    pub fn open(path: &Path) -> Result<Self, String> {
        let name = path.display().to_string();
        let bytes = std::fs::read(path).map_err(|e| format!("{name}: {e}; check the path"))?;
        let grid = traybook_sheets::text::read(&bytes, limits::IMPORT_CELLS_MAX)
            .map_err(|(line, e)| format!("{name}:{line}: {}", e.detail))?;
        let cells = |row: traybook_sheets::Row| row.cells.into_iter().map(|c| c.text).collect();
        let mut rows = grid.rows.into_iter().map(|row| (row.line, cells(row)));
        let header: Vec<String> = rows.next().map(|(_, header)| header).unwrap_or_default();
        for (at, column) in header.iter().enumerate() {
            if !column.is_empty() && header.iter().take(at).any(|h| h == column) {
                let place = at + 1;
                return Err(format!(
                    "{name}:1: column {place} ({column}): there are two columns of this name; \
                     rename one"
                ));
            }
        }
        Ok(Self { name, header, rows: rows.collect() })
    }

    /// The file as it was named.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// A column that must be there; `option` names it where it is called otherwise.
    ///
    /// # Errors
    /// When it is not there: which columns are, and what to do.
    pub fn column(&self, name: &str, option: &str) -> Result<Column, String> {
        let found = self.header.iter().position(|h| h == name);
        found.map(Column).ok_or_else(|| {
            format!(
                "{}:1: there is no column \"{name}\"; the columns are {}; name the right one with \
                 {option}, or add it",
                self.name,
                self.header.join(", ")
            )
        })
    }

    /// A column that may be missing unless it was asked for by name.
    ///
    /// # Errors
    /// As [`Self::column`], for a name that was given.
    pub fn optional(
        &self,
        given: Option<&str>,
        default: &str,
        option: &str,
    ) -> Result<Option<Column>, String> {
        match given {
            Some(name) => self.column(name, option).map(Some),
            None => Ok(self.header.iter().position(|h| h == default).map(Column)),
        }
    }

    /// Reads every row; all bad rows are told together.
    ///
    /// # Errors
    /// One line a bad row: file, line, column, and what to do.
    pub fn read<'a, T>(
        &'a self,
        mut row: impl FnMut(&Row<'a>) -> Result<T, String>,
    ) -> Result<Vec<T>, String> {
        let (mut read, mut problems, mut count) = (Vec::new(), Vec::new(), 0_usize);
        for (line, cells) in &self.rows {
            let whole = Row { table: self, line: *line, cells };
            match whole.check().and_then(|()| row(&whole)) {
                Ok(value) => read.push(value),
                Err(problem) => {
                    count += 1;
                    if problems.len() < PROBLEMS_MAX {
                        problems.push(problem);
                    }
                }
            }
        }
        if count > problems.len() {
            problems.push(format!("and {} more bad rows", count - problems.len()));
        }
        if problems.is_empty() { Ok(read) } else { Err(problems.join("\n")) }
    }
}

/// One row of a table.
pub struct Row<'a> {
    table: &'a Table,
    line: u64,
    cells: &'a [String],
}

impl<'a> Row<'a> {
    /// The line the row begins on.
    pub fn line(&self) -> u64 {
        self.line
    }

    fn check(&self) -> Result<(), String> {
        let (found, wanted) = (self.cells.len(), self.table.header.len());
        if found <= wanted {
            return Ok(());
        }
        Err(format!(
            "{}:{}: {found} cells under {wanted} column names; put a cell that holds the \
             separator in quotes",
            self.table.name, self.line
        ))
    }

    /// A problem with a cell of this row.
    pub fn bad(&self, column: Column, reason: &str) -> String {
        let name = self.table.header.get(column.0).map_or("", String::as_str);
        let (file, line, place) = (&self.table.name, self.line, column.0 + 1);
        format!("{file}:{line}: column {place} ({name}): {reason}")
    }

    /// A cell's text; none where it is empty.
    pub fn text(&self, column: Column) -> Option<&'a str> {
        self.cells.get(column.0).map(|c| c.trim()).filter(|c| !c.is_empty())
    }

    /// A cell that must not be empty.
    ///
    /// # Errors
    /// When it is empty.
    pub fn name(&self, column: Column) -> Result<&'a str, String> {
        self.text(column).ok_or_else(|| self.bad(column, "this cell is empty; fill it"))
    }

    /// A number; none where the cell is empty or there is no such column.
    ///
    /// # Errors
    /// For anything else than a number of believable size.
    pub fn number(&self, column: Option<Column>) -> Result<Option<f64>, String> {
        let Some((column, text)) = column.and_then(|c| Some((c, self.text(c)?))) else {
            return Ok(None);
        };
        match text.parse::<f64>() {
            Ok(number) if number.abs() <= NUMBER_MAX => Ok(Some(number)),
            _ => Err(self.bad(
                column,
                &format!(
                    "\"{text}\" is no number; write it like 12.5, or leave the cell empty where \
                     it is not known"
                ),
            )),
        }
    }

    /// A number that is not below 0.
    ///
    /// # Errors
    /// As [`Self::number`], and below 0.
    pub fn amount(&self, column: Option<Column>) -> Result<Option<f64>, String> {
        match (column, self.number(column)?) {
            (Some(column), Some(number)) if number < 0.0 => {
                Err(self.bad(column, "a number below 0 cannot be right; correct it"))
            }
            (_, number) => Ok(number),
        }
    }

    /// A count of trays; none where the cell is empty.
    ///
    /// # Errors
    /// For anything else than a whole number from 0 to a hundred thousand.
    pub fn count(&self, column: Column) -> Result<Option<u32>, String> {
        let Some(text) = self.text(column) else { return Ok(None) };
        let most = traybook_analytics::limits::TRAYS_MAX;
        let count = text.parse::<u32>().ok().filter(|n| *n <= most);
        let reason = || {
            format!(
                "\"{text}\" is no count; write a whole number from 0 to {most}, or leave the cell \
                 empty where it is not known"
            )
        };
        count.map(Some).ok_or_else(|| self.bad(column, &reason()))
    }

    /// A whole number; none where the cell is empty or there is no such column.
    ///
    /// # Errors
    /// For anything else.
    pub fn whole(&self, column: Option<Column>) -> Result<Option<i64>, String> {
        let Some((column, text)) = column.and_then(|c| Some((c, self.text(c)?))) else {
            return Ok(None);
        };
        let reason = || format!("\"{text}\" is no whole number; write one, like 12");
        text.parse().map(Some).map_err(|e| {
            let _: std::num::ParseIntError = e;
            self.bad(column, &reason())
        })
    }

    /// A day; none where the cell is empty.
    ///
    /// # Errors
    /// For anything else than `YYYY-MM-DD`.
    pub fn date(&self, column: Column) -> Result<Option<NaiveDate>, String> {
        let Some(text) = self.text(column) else { return Ok(None) };
        let reason = || format!("\"{text}\" is no day; write it as YYYY-MM-DD");
        let date =
            parse_date(text).filter(|d| Month::from_number(Month::of(*d).number()).is_some());
        date.map(Some).ok_or_else(|| self.bad(column, &reason()))
    }

    /// A month, as `YYYY-MM` or one of its days; none where the cell is empty.
    ///
    /// # Errors
    /// For anything else.
    pub fn month(&self, column: Column) -> Result<Option<Month>, String> {
        let Some(text) = self.text(column) else { return Ok(None) };
        let reason = || format!("\"{text}\" is no month; write it as YYYY-MM or YYYY-MM-DD");
        let month = month(text);
        month.map(Some).ok_or_else(|| self.bad(column, &reason()))
    }

    /// A period of a panel; none where the cell is empty.
    ///
    /// # Errors
    /// For anything else than a whole number or a month.
    pub fn period(&self, column: Column) -> Result<Option<Period>, String> {
        let Some(text) = self.text(column) else { return Ok(None) };
        let reason = || {
            format!(
                "\"{text}\" is no period; write a whole number (a year, or a running number) or a \
                 month as YYYY-MM"
            )
        };
        Period::parse(text).map(Some).ok_or_else(|| self.bad(column, &reason()))
    }
}

/// Reads `YYYY-MM` or `YYYY-MM-DD`.
fn month(text: &str) -> Option<Month> {
    let day = || parse_date(text).map(Month::of).and_then(|m| Month::from_number(m.number()));
    Month::parse(text).or_else(day)
}

/// A period of a panel.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Period {
    /// A year, or a running number.
    Number(i64),
    /// A calendar month.
    Month(Month),
}

/// Running numbers of periods beyond this are not periods.
const PERIOD_MAX: i64 = 1_000_000_000;

impl Period {
    fn parse(text: &str) -> Option<Self> {
        if let Some(month) = month(text) {
            return Some(Self::Month(month));
        }
        let number = text.parse::<i64>().ok().or_else(|| {
            // Statistics programs write whole numbers with a point.
            let number = text.parse::<f64>().ok()?;
            let is_whole = number.fract().abs() <= 0.0 && number.abs() <= PERIOD_MAX as f64;
            is_whole.then_some(number as i64)
        })?;
        (-PERIOD_MAX..=PERIOD_MAX).contains(&number).then_some(Self::Number(number))
    }

    /// Place among periods of its kind.
    pub fn place(self) -> i64 {
        match self {
            Self::Number(number) => number,
            Self::Month(month) => month.number(),
        }
    }

    /// The period of the same kind at another place.
    pub fn at(self, place: i64) -> Self {
        match self {
            Self::Number(_) => Self::Number(place),
            Self::Month(month) => Month::from_number(place).map_or(Self::Month(month), Self::Month),
        }
    }

    /// Whether both are numbers or both are months.
    pub fn is_like(self, other: Self) -> bool {
        matches!(
            (self, other),
            (Self::Number(_), Self::Number(_)) | (Self::Month(_), Self::Month(_))
        )
    }

    /// As an answer shows it.
    pub fn json(self) -> serde_json::Value {
        match self {
            Self::Number(number) => number.into(),
            Self::Month(month) => month.to_string().into(),
        }
    }
}

/// Names by the order in which they first appear.
#[derive(Default)]
pub struct Names {
    list: Vec<String>,
    index: HashMap<String, usize>,
}

impl Names {
    /// The position of a name, which is new or was there.
    pub fn id(&mut self, name: &str) -> usize {
        if let Some(id) = self.index.get(name) {
            return *id;
        }
        let id = self.list.len();
        self.list.push(name.to_owned());
        self.index.insert(name.to_owned(), id);
        id
    }

    /// The name at a position.
    pub fn name(&self, id: usize) -> &str {
        self.list.get(id).map_or("", String::as_str)
    }

    /// How many there are.
    pub fn len(&self) -> usize {
        self.list.len()
    }
}
