//! The first sheet: totals by month and area, formulas over the sheets of the areas.

use super::areas::{AreaSheet, Block, FarmRow, HIGH, LOW, column, rows};
use super::names::quoted;
use super::{FIRST_ROW, Figure, Style, day, figure, set_up};
use rust_xlsxwriter::utility::{column_number_to_name, row_col_to_cell};
use rust_xlsxwriter::{Format, Formula, Worksheet, XlsxError};
use std::collections::BTreeMap;
use traybook_answers::savings::SavingsReport;
use traybook_domain::value::real;

/// What a column holds.
enum Holds {
    /// How many rows: with a number, that saved, that lost, without a number.
    Count,
    /// A sum over the rows with a number; of a fact over all rows.
    Sum { figure: Figure, is_money: bool },
    /// One figure of the row by another: money for one of it, else per cent.
    Ratio { of: Figure, by: Figure, is_money: bool },
}

/// A column: name from which the heading's key is made, width, what it holds.
type Column = (&'static str, f64, Holds);

const fn sum(figure: Figure, width: f64) -> Column {
    (figure.name, width, Holds::Sum { figure, is_money: false })
}

const fn money(figure: Figure, width: f64) -> Column {
    (figure.name, width, Holds::Sum { figure, is_money: true })
}

/// Columns after month and area.
const COLUMNS: &[Column] = &[
    ("farms_included", 9.0, Holds::Count),
    ("farms_saving", 9.0, Holds::Count),
    ("farms_losing", 9.0, Holds::Count),
    ("farms_left_out", 10.0, Holds::Count),
    sum(figure!(money animal_days), 11.0),
    money(figure!(money baseline_cost), 16.0),
    money(figure!(money eaten_cost), 16.0),
    money(figure!(money feed_saving), 16.0),
    money(figure!(money seed_cost), 15.0),
    money(figure!(money other_cost), 15.0),
    money(figure!(money depreciation), 14.0),
    money(figure!(money saving), 16.0),
    (
        "saving_percent_of_baseline",
        10.0,
        Holds::Ratio {
            of: figure!(money saving),
            by: figure!(money baseline_cost),
            is_money: false,
        },
    ),
    money(figure!(bought_cost), 16.0),
    sum(figure!(fresh_fodder_fed_kg), 12.0),
    sum(figure!(trays_fed_unweighed), 10.0),
    sum(figure!(trays_started), 9.0),
    sum(figure!(trays_discarded), 10.0),
    (
        "trays_discarded_percent",
        10.0,
        Holds::Ratio { of: figure!(trays_discarded), by: figure!(trays_started), is_money: false },
    ),
    sum(figure!(milk_litres), 12.0),
    sum(figure!(eggs), 10.0),
];
/// The first of these columns.
const FIRST: u16 = 2;

/// Where a column stands.
fn at(name: &str) -> u16 {
    let at = COLUMNS.iter().position(|c| c.0 == name).unwrap_or(0);
    FIRST + u16::try_from(at).unwrap_or(0)
}

fn headings(style: &Style, currency: &str) -> Vec<(String, f64)> {
    let l = style.language;
    let first = [(l.text("doc-month"), 9.0), (l.text("sheet-area"), 24.0)];
    let rest = COLUMNS.iter().map(|(name, width, holds)| {
        let is_money = match holds {
            Holds::Sum { is_money, .. } | Holds::Ratio { is_money, .. } => *is_money,
            Holds::Count => false,
        };
        (style.heading(name, is_money.then_some(currency)), *width)
    });
    first.into_iter().chain(rest).collect()
}

/// What a row's formulas give, kept with them for programs that do not compute.
#[derive(Clone, Default)]
struct Results {
    counts: [i64; 4],
    /// In thousandths or minor units, as the column has it: exact sums. None where no farm
    /// recorded anything.
    sums: BTreeMap<&'static str, i64>,
}

impl Results {
    fn of(farms: &[FarmRow], money: f64) -> Self {
        let mut r = Self::default();
        for row in farms {
            let recorded = row.recorded();
            let has_number = recorded.money.saving.is_some();
            let low = recorded.money.saving_interval.is_some_and(|i| i.low.is_positive());
            let high = recorded.money.saving_interval.is_some_and(|i| i.high.is_negative());
            let each = [has_number, low, high, !has_number];
            for (count, holds) in r.counts.iter_mut().zip(each) {
                *count += i64::from(holds);
            }
            for (name, _, holds) in COLUMNS {
                let Holds::Sum { figure, is_money } = holds else { continue };
                if !has_number && !figure.is_fact() {
                    continue;
                }
                if let Some(value) = (figure.of)(&recorded) {
                    *r.sums.entry(name).or_default() += whole(value * scale(*is_money, money));
                }
            }
        }
        r
    }

    fn add(&mut self, other: &Self) {
        for (a, b) in self.counts.iter_mut().zip(other.counts) {
            *a += b;
        }
        for (name, sum) in &other.sums {
            *self.sums.entry(name).or_default() += sum;
        }
    }

    /// A sum as the cell shows it.
    fn sum(&self, name: &str, money: f64) -> Option<f64> {
        let (.., holds) = COLUMNS.iter().find(|c| c.0 == name)?;
        let Holds::Sum { is_money, .. } = holds else { return None };
        Some(real(*self.sums.get(name)?) / scale(*is_money, money))
    }
}

/// What a value is multiplied by to be whole: minor units of money, thousandths of the rest.
fn scale(is_money: bool, money: f64) -> f64 {
    if is_money { money } else { 1_000.0 }
}

/// The nearest whole number; sums of money and grams are far below 2^53.
fn whole(value: f64) -> i64 {
    #[expect(clippy::as_conversions, reason = "rounded, and far below 2^53")]
    {
        value.round() as i64
    }
}

/// What a row's formulas are made of.
enum Source<'a> {
    /// The rows of a month on an area's sheet.
    Block(&'a Block<'a>, &'a str),
    /// Rows of this sheet that follow each other: first and last.
    Rows(u32, u32),
    /// Rows of this sheet that do not.
    Each(&'a [u32]),
}

impl Source<'_> {
    fn count(&self, kind: usize, at: u16) -> String {
        let Self::Block(block, sheet) = self else { return format!("SUM({})", self.cells(at)) };
        let of = |figure| span(block, sheet, column(figure));
        match kind {
            0 => format!("COUNT({})", of(figure!(money saving))),
            1 => format!("COUNTIF({},\">0\")", of(LOW)),
            2 => format!("COUNTIF({},\"<0\")", of(HIGH)),
            _ => format!("COUNTBLANK({})", of(figure!(money saving))),
        }
    }

    /// The sum of what there is; an empty text where there is nothing.
    fn sum(&self, at: u16, figure: Figure) -> String {
        let (some, sum) = match self {
            Self::Block(block, sheet) => {
                let of = |figure| span(block, sheet, column(figure));
                let (what, number) = (of(figure), of(figure!(money saving)));
                if figure.is_fact() {
                    (format!("COUNT({what})"), format!("SUM({what})"))
                } else {
                    (
                        format!("COUNTIFS({number},\"<>\",{what},\"<>\")"),
                        format!("SUMIFS({what},{number},\"<>\")"),
                    )
                }
            }
            _ => (format!("COUNT({})", self.cells(at)), format!("SUM({})", self.cells(at))),
        };
        format!("IF({some}=0,\"\",{sum})")
    }

    /// Cells of this sheet.
    fn cells(&self, at: u16) -> String {
        match self {
            Self::Block(..) => String::new(),
            Self::Rows(first, last) => {
                format!("{}:{}", row_col_to_cell(*first, at), row_col_to_cell(*last, at))
            }
            Self::Each(rows) => {
                let cells: Vec<String> = rows.iter().map(|r| row_col_to_cell(*r, at)).collect();
                cells.join(",")
            }
        }
    }
}

/// The cells of a column in a block.
fn span(block: &Block, sheet: &str, at: u16) -> String {
    let column = column_number_to_name(at);
    // Rows count from 1 in formulas.
    let (first, last) = (block.row + 1, block.row + rows(block).max(1));
    format!("{sheet}!${column}${first}:${column}${last}")
}

struct Writer<'a> {
    sheet: &'a mut Worksheet,
    style: &'a Style,
    /// Minor units of the currency in one of it.
    money: f64,
    row: u32,
}

impl Writer<'_> {
    fn line(
        &mut self,
        report: Option<&SavingsReport>,
        name: &str,
        source: &Source,
        r: &Results,
    ) -> Result<(), XlsxError> {
        let (row, looks) = (self.row, &self.style.looks);
        let is_sum = !matches!(source, Source::Block(..));
        let pick = |plain, bold| if is_sum { bold } else { plain };
        if let Some(report) = report {
            let look = pick(&looks.month, &looks.month_bold);
            self.sheet.write_datetime_with_format(row, 0, &day(report)?, look)?;
        }
        let look = if is_sum { &looks.bold } else { looks.of_text(name) };
        self.sheet.write_string_with_format(row, 1, name, look)?;
        let whole = pick(&looks.whole, &looks.whole_bold);
        let money_look = pick(&looks.money, &looks.money_bold);
        let tenth = pick(&looks.tenth, &looks.tenth_bold);
        let fine = pick(&looks.fine, &looks.fine_bold);
        for (index, (name, _, holds)) in COLUMNS.iter().enumerate() {
            let (formula, result, look) = match holds {
                Holds::Count => {
                    let count = r.counts.get(index).copied().map(real);
                    (source.count(index, at(name)), count, whole)
                }
                Holds::Sum { figure, is_money } => {
                    let look = if *is_money { money_look } else { whole };
                    let formula = source.sum(at(name), *figure);
                    (formula, r.sum(name, self.money), look)
                }
                Holds::Ratio { of, by, is_money } => {
                    let (top, bottom) = (r.sum(of.name, self.money), r.sum(by.name, self.money));
                    let result = top.zip(bottom).filter(|(_, bottom)| *bottom > 0.0);
                    let (times, look) = if *is_money { ("", fine) } else { ("*100", tenth) };
                    let times_number = if *is_money { 1.0 } else { 100.0 };
                    let result = result.map(|(top, bottom)| top / bottom * times_number);
                    (self.ratio(of.name, by.name, times), result, look)
                }
            };
            self.formula(at(name), &formula, result, look)?;
        }
        self.row += 1;
        Ok(())
    }

    fn ratio(&self, of: &str, by: &str, times: &str) -> String {
        let (a, b) = (row_col_to_cell(self.row, at(of)), row_col_to_cell(self.row, at(by)));
        format!("IF(AND(N({b})>0,ISNUMBER({a})),{a}/{b}{times},\"\")")
    }

    /// A formula with what it gives; none is an empty text.
    fn formula(
        &mut self,
        at: u16,
        formula: &str,
        result: Option<f64>,
        look: &Format,
    ) -> Result<(), XlsxError> {
        let result = result.map_or(String::new(), |r| r.to_string());
        let formula = Formula::new(format!("={formula}")).set_result(result);
        self.sheet.write_formula_with_format(self.row, at, formula, look)?;
        Ok(())
    }
}

/// Writes the sheet.
pub fn write(
    sheet: &mut Worksheet,
    style: &Style,
    reports: &[SavingsReport],
    areas: &[AreaSheet],
    names: &[String],
) -> Result<(), XlsxError> {
    sheet.set_name(style.language.text("sheet-totals"))?;
    let Some(last) = reports.last() else { return Ok(()) };
    let l = style.language;
    let under = l.text("sheet-totals-about");
    // A row a month and area, and a sum and a gap a month.
    let blocks: usize = areas.iter().map(|a| a.blocks.len()).sum();
    let rows = FIRST_ROW + u32::try_from(blocks + 2 * reports.len()).unwrap_or(0);
    let headings = headings(style, &last.currency);
    set_up(sheet, style, (&style.title, &under), &headings, (2, rows))?;
    // What a formula gives where it gives no number.
    sheet.set_formula_result_default("");
    let money = 10_f64.powi(i32::from(last.digits()));
    let mut w = Writer { sheet, style, money, row: FIRST_ROW };
    let mut months: Vec<u32> = Vec::new();
    let mut all = Results::default();
    for (index, report) in reports.iter().enumerate() {
        let first = w.row;
        let mut sum = Results::default();
        for (area, name) in areas.iter().zip(names) {
            let Some(block) = area.blocks.iter().find(|b| b.report == index) else { continue };
            let results = Results::of(&block.farms, money);
            w.line(Some(report), &area.name, &Source::Block(block, &quoted(name)), &results)?;
            sum.add(&results);
        }
        if w.row > first {
            let source = Source::Rows(first, w.row - 1);
            months.push(w.row);
            w.line(Some(report), &l.text("sheet-all-areas"), &source, &sum)?;
            all.add(&sum);
            w.row += 1;
        }
    }
    if months.len() > 1 {
        w.line(None, &l.text("sheet-all-months"), &Source::Each(&months), &all)?;
    }
    Ok(())
}
