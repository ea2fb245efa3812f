//! Farm-months of one enterprise, from a file of records or from a ready panel.

use super::args::{Enterprise, OutputChange};
use super::read::{Column, Names, Period, Row, Table};
use chrono::NaiveDate;
use traybook_analytics::limits::{LOG_OUTPUT_MAX, MONTHS_MAX};
use traybook_analytics::panel::Panel;
use traybook_analytics::records::{
    Covariates, DayKey, OutputRecord, farm_months, last_entered, stage_covariates,
};
use traybook_analytics::sentences::Measure;
use traybook_domain::Month;

/// A record far from its farm's median by more than this factor is left out.
const OUTLIER_RATIO: f64 = 4.0;

/// Farm-months and where they came from.
pub struct PanelFile {
    /// Farms by position.
    pub farms: Names,
    /// First period.
    pub first: Period,
    /// Distance of one period from the next.
    pub step: i64,
    /// Periods.
    pub months: usize,
    /// Logarithms of output; not-a-number where not observed.
    pub log_output: Vec<f64>,
    /// Records behind them.
    pub records: Vec<f64>,
    /// Start of each farm as the estimates take it.
    pub start: Vec<Option<u32>>,
    /// Start of each farm as the file has it.
    pub started: Vec<Option<Period>>,
    /// Stage of the animals, when enough is known.
    pub covariates: Option<Covariates>,
    /// What the sentences speak of.
    pub measure: Measure,
    /// Records, rather than a ready panel.
    pub is_records: bool,
    /// Records that could not be right.
    pub left_out: usize,
    /// Records replaced by a later one for the same farm and day.
    pub replaced: usize,
}

impl PanelFile {
    /// The panel of the estimates.
    ///
    /// # Errors
    /// When the file is larger than they take.
    pub fn panel(&self) -> Result<Panel<'_>, String> {
        let covariates = self.covariates.as_ref();
        let start = self.start.as_slice();
        let panel = Panel::new(self.months, &self.log_output, &self.records, start, covariates);
        panel.map_err(|e| e.to_string())
    }

    /// The period at a position.
    pub fn period(&self, position: usize) -> Period {
        let steps = i64::try_from(position).unwrap_or(i64::MAX);
        self.first.at(self.first.place().saturating_add(steps.saturating_mul(self.step)))
    }

    /// Farm-months with a value.
    pub fn observed(&self) -> usize {
        self.records.iter().filter(|n| **n > 0.0).count()
    }
}

/// Reads the file, and the file of starts if there is one.
///
/// # Errors
/// What is wrong, where, and what to do.
pub fn read(asked: &OutputChange) -> Result<PanelFile, String> {
    let table = Table::open(&asked.common.file)?;
    let mut starts = Starts::default();
    let start_column = match &asked.starts {
        Some(path) => {
            let second = Table::open(path)?;
            let farm = second.column(asked.id.as_deref().unwrap_or("farm"), "--id")?;
            let start = start_column(&second, asked)?;
            second.read(|row| starts.note(row, farm, Some(start)).map(drop))?;
            None
        }
        None => Some(start_column(&table, asked)?),
    };
    if asked.panel {
        panel(asked, &table, starts, start_column)
    } else {
        records(asked, &table, starts, start_column)
    }
}

fn start_column(table: &Table, asked: &OutputChange) -> Result<Column, String> {
    table.column(asked.group.as_deref().unwrap_or("started_on"), "--group, or --starts FILE")
}

/// Farms and their starts, as rows name them.
#[derive(Default)]
struct Starts {
    farms: Names,
    started: Vec<Option<Period>>,
    /// Where a start can not be compared with the panel's periods: the problem, by farm.
    places: Vec<Option<String>>,
}

impl Starts {
    /// The row's farm; its start, if it has one, must be the one of the farm's other rows.
    fn note(
        &mut self,
        row: &Row<'_>,
        farm: Column,
        start: Option<Column>,
    ) -> Result<usize, String> {
        let farm = self.farms.id(row.name(farm)?);
        self.started.resize(self.farms.len(), None);
        self.places.resize(self.farms.len(), None);
        let Some(column) = start else { return Ok(farm) };
        let Some(start) = start_of(row, column)? else { return Ok(farm) };
        match self.started[farm] {
            Some(held) if held != start => {
                let reason = "this farm has another start in an earlier row; give one start a farm";
                Err(row.bad(column, reason))
            }
            _ => {
                self.started[farm] = Some(start);
                let reason = "write the start as the periods are written: a whole number, or a day";
                self.places[farm] = Some(row.bad(column, reason));
                Ok(farm)
            }
        }
    }

    /// Starts as positions: 0 before the data, none when not started by the last period.
    fn positions(
        &self,
        first: Period,
        step: i64,
        months: usize,
    ) -> Result<Vec<Option<u32>>, String> {
        let mut positions = Vec::with_capacity(self.started.len());
        for (start, place) in self.started.iter().zip(&self.places) {
            let Some(start) = start else {
                positions.push(None);
                continue;
            };
            if !start.is_like(first) && months > 0 {
                return Err(place.clone().unwrap_or_default());
            }
            let ahead = (start.place() - first.place()).max(0);
            let position = (ahead + step - 1) / step;
            let position = u32::try_from(position).ok();
            positions.push(position.filter(|g| usize::try_from(*g).is_ok_and(|g| g < months)));
        }
        Ok(positions)
    }
}

/// A start; nothing, `0` and `Inf` (as statistics programs write it) are none.
fn start_of(row: &Row<'_>, column: Column) -> Result<Option<Period>, String> {
    if row.text(column).is_some_and(|t| t.eq_ignore_ascii_case("inf")) {
        return Ok(None);
    }
    Ok(row.period(column)?.filter(|p| *p != Period::Number(0)))
}

/// Periods from the first to the last.
fn span(table: &Table, first: i64, last: i64, step: i64) -> Result<usize, String> {
    let months = usize::try_from((last - first) / step).unwrap_or(usize::MAX).saturating_add(1);
    if months > MONTHS_MAX {
        return Err(format!(
            "{}: first and last period are {months} periods apart, more than {MONTHS_MAX}; look \
             for a wrong date, or cut the file",
            table.name()
        ));
    }
    Ok(months)
}

struct RecordRow {
    farm: usize,
    date: NaiveDate,
    entered: i64,
    output: Option<f64>,
    animals: Option<f64>,
    stage: Option<f64>,
}

fn records(
    asked: &OutputChange,
    table: &Table,
    mut starts: Starts,
    start: Option<Column>,
) -> Result<PanelFile, String> {
    let named = |given: &Option<String>, default: &str, option: &str| {
        table.column(given.as_deref().unwrap_or(default), option)
    };
    let farm = named(&asked.id, "farm", "--id")?;
    let day = named(&asked.period, "date", "--period")?;
    let output = Some(named(&asked.value, "output", "--value")?);
    let animals = Some(named(&asked.animals, "animals", "--animals")?);
    let stage = table.optional(asked.stage.as_deref(), "stage", "--stage")?;
    let entered = table.optional(asked.entered.as_deref(), "entered", "--entered")?;
    let rows = table.read(|row| {
        let farm = starts.note(row, farm, start)?;
        row.name(day)?;
        let date = row.date(day)?.unwrap_or_default();
        let entered = row.whole(entered)?.unwrap_or(0);
        let (output, animals) = (row.amount(output)?, row.amount(animals)?);
        Ok(RecordRow { farm, date, entered, output, animals, stage: row.amount(stage)? })
    })?;
    let keys: Vec<DayKey> = rows.iter().map(day_key).collect();
    let kept = last_entered(&keys);
    let replaced = rows.len() - kept.len();
    let place = |row: &RecordRow| Month::of(row.date).number();
    let first = rows.iter().map(place).min().unwrap_or(0);
    let last = rows.iter().map(place).max();
    let months = last.map_or(Ok(0), |last| span(table, first, last, 1))?;
    let record = |row: &RecordRow| OutputRecord {
        farm: row.farm,
        month: usize::try_from(place(row) - first).unwrap_or(usize::MAX),
        output: row.output,
        animals: row.animals,
        stage: row.stage,
    };
    let used: Vec<OutputRecord> = kept.iter().map(|k| record(&rows[*k])).collect();
    let cells = farm_months(&used, starts.farms.len(), months, OUTLIER_RATIO);
    let cells = cells.map_err(|e| format!("{}: {e}", table.name()))?;
    let enterprise = asked.enterprise.unwrap_or(Enterprise::Milk);
    let first = Month::from_number(first).map_or(Period::Number(0), Period::Month);
    Ok(PanelFile {
        first,
        step: 1,
        months,
        start: starts.positions(first, 1, months)?,
        started: starts.started,
        farms: starts.farms,
        covariates: stage_covariates(&cells, enterprise.output()),
        measure: Measure::from(enterprise.output()),
        is_records: true,
        left_out: cells.dropped,
        replaced,
        log_output: cells.log_output,
        records: cells.records,
    })
}

fn day_key(row: &RecordRow) -> DayKey {
    let day = i64::from(chrono::Datelike::num_days_from_ce(&row.date));
    DayKey { farm: row.farm, day, entered: row.entered }
}

struct PanelRow {
    farm: usize,
    period: Period,
    value: Option<f64>,
    records: Option<f64>,
    line: u64,
}

fn panel(
    asked: &OutputChange,
    table: &Table,
    mut starts: Starts,
    start: Option<Column>,
) -> Result<PanelFile, String> {
    let named = |given: &Option<String>, default: &str, option: &str| {
        table.column(given.as_deref().unwrap_or(default), option)
    };
    let farm = named(&asked.id, "farm", "--id")?;
    let period = named(&asked.period, "period", "--period")?;
    let value = named(&asked.value, "log_value", "--value")?;
    let records = table.optional(asked.records.as_deref(), "records", "--records")?;
    let mut form: Option<Period> = None;
    let rows = table.read(|row| {
        let farm = starts.note(row, farm, start)?;
        row.name(period)?;
        let at = row.period(period)?.unwrap_or(Period::Number(0));
        if !form.get_or_insert(at).is_like(at) {
            return Err(row.bad(period, "write all periods alike: whole numbers, or months"));
        }
        let number = row.number(Some(value))?;
        if number.is_some_and(|y| y.abs() > LOG_OUTPUT_MAX) {
            return Err(row.bad(value, "no logarithm is so large; give the logarithm of the value"));
        }
        let count = if records.is_some() { row.amount(records)? } else { Some(1.0) };
        Ok(PanelRow { farm, period: at, value: number, records: count, line: row.line() })
    })?;
    let (first, step) = scale(&rows);
    let last = rows.iter().map(|r| r.period.place()).max();
    let months = last.map_or(Ok(0), |last| span(table, first.place(), last, step))?;
    let cells = starts.farms.len() * months;
    let (mut log_output, mut counts) = (vec![f64::NAN; cells], vec![0.0; cells]);
    let mut lines = vec![0_u64; cells];
    for row in &rows {
        let position = usize::try_from((row.period.place() - first.place()) / step).unwrap_or(0);
        let cell = row.farm * months + position;
        if lines[cell] > 0 {
            let (name, line, earlier) = (table.name(), row.line, lines[cell]);
            return Err(format!(
                "{name}:{line}: this farm and period stand in line {earlier} already; keep one row"
            ));
        }
        lines[cell] = row.line;
        if let Some((y, n)) = row.value.zip(row.records).filter(|(_, n)| *n > 0.0) {
            log_output[cell] = y;
            counts[cell] = n;
        }
    }
    Ok(PanelFile {
        first,
        step,
        months,
        log_output,
        records: counts,
        start: starts.positions(first, step, months)?,
        started: starts.started,
        farms: starts.farms,
        covariates: None,
        measure: asked.enterprise.map_or(Measure::Value, |e| Measure::from(e.output())),
        is_records: false,
        left_out: 0,
        replaced: 0,
    })
}

/// First period, and the largest step that leads to all others.
fn scale(rows: &[PanelRow]) -> (Period, i64) {
    let Some(first) = rows.iter().map(|r| r.period).min() else { return (Period::Number(0), 1) };
    let step = match first {
        Period::Month(_) => 1,
        Period::Number(_) => {
            rows.iter().map(|r| r.period.place() - first.place()).fold(0, greatest_divisor).max(1)
        }
    };
    (first, step)
}

fn greatest_divisor(mut a: i64, mut b: i64) -> i64 {
    while b != 0 {
        (a, b) = (b, a % b);
    }
    a
}
