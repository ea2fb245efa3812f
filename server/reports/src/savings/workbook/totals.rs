//! The first sheet: totals by month and area, formulas over the sheets of the areas.

use super::super::{FarmLine, Published};
use super::areas::{AreaSheet, Block, STATUS, column, rows};
use super::names::quoted;
use super::{FIRST_ROW, Looks, day, set_up};
use rust_xlsxwriter::utility::{column_number_to_name, row_col_to_cell};
use rust_xlsxwriter::{Format, Formula, Worksheet, XlsxError};

/// Sums: column here, name in the report, whether it is money.
const SUMS: &[(u16, &str, bool)] = &[
    (6, "animal_days", false),
    (7, "baseline_cost", true),
    (8, "feed_cost", true),
    (9, "seed_cost", true),
    (10, "other_cost", true),
    (11, "depreciation", true),
    (12, "saving", true),
    (15, "fresh_fodder_fed_kg", false),
    (16, "trays_started", false),
    (17, "trays_discarded", false),
    (19, "milk_litres", false),
    (20, "eggs", false),
];
const COUNTED: u16 = 2;
const SAVING: u16 = 12;

fn headings(currency: &str) -> Vec<(String, f64)> {
    let money = |name: &str| format!("{name}, {currency}");
    vec![
        ("Month".to_owned(), 9.0),
        ("Area".to_owned(), 24.0),
        ("Farms counted".to_owned(), 9.0),
        ("Farms that save".to_owned(), 9.0),
        ("Farms that lose".to_owned(), 9.0),
        ("Farms without a number".to_owned(), 10.0),
        ("Animal-days".to_owned(), 11.0),
        (money("Ration before fodder"), 16.0),
        (money("Feed bought"), 16.0),
        (money("Seed"), 15.0),
        (money("Other costs"), 15.0),
        (money("Depreciation"), 14.0),
        (money("Saving (loss -)"), 16.0),
        ("Saving, % of ration before".to_owned(), 10.0),
        (money("Saving per animal-day"), 12.0),
        ("Fresh fodder fed, kg".to_owned(), 12.0),
        ("Trays spread".to_owned(), 9.0),
        ("Trays discarded".to_owned(), 10.0),
        ("Trays discarded, %".to_owned(), 10.0),
        ("Milk, litres".to_owned(), 12.0),
        ("Eggs".to_owned(), 10.0),
    ]
}

/// What a row's formulas give, kept with them for programs that do not compute.
#[derive(Clone, Default)]
struct Results {
    counts: [i64; 4],
    /// In thousandths or minor units, as the column has it: exact sums.
    sums: Vec<i64>,
}

impl Results {
    fn of(farms: &[&FarmLine], scales: &[f64]) -> Self {
        let mut r = Self { counts: [0; 4], sums: vec![0; SUMS.len()] };
        for farm in farms {
            if !farm.is_estimated() {
                r.counts[3] += 1;
                continue;
            }
            r.counts[0] += 1;
            let saving = farm.figures.get("saving").unwrap_or(0.0);
            r.counts[1] += i64::from(saving > 0.0);
            r.counts[2] += i64::from(saving < 0.0);
            for ((sum, (_, name, _)), scale) in r.sums.iter_mut().zip(SUMS).zip(scales) {
                *sum += whole(farm.figures.get(name).unwrap_or(0.0) * scale);
            }
        }
        r
    }

    fn add(&mut self, other: &Self) {
        for (a, b) in self.counts.iter_mut().zip(other.counts) {
            *a += b;
        }
        self.sums.resize(SUMS.len(), 0);
        for (a, b) in self.sums.iter_mut().zip(&other.sums) {
            *a += b;
        }
    }
}

/// The nearest whole number; sums of money and grams are far below 2^53.
fn whole(value: f64) -> i64 {
    #[expect(clippy::as_conversions, reason = "rounded, and far below 2^53")]
    {
        value.round() as i64
    }
}

/// Exact below 2^53.
fn real(value: i64) -> f64 {
    #[expect(clippy::as_conversions, reason = "exact below 2^53")]
    {
        value as f64
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
        let Self::Block(block, sheet) = self else { return self.sum(at, "") };
        let status = span(block, sheet, STATUS);
        let saving = span(block, sheet, column("saving"));
        match kind {
            0 => format!("COUNTIF({status},\"estimated\")"),
            1 => format!("COUNTIFS({status},\"estimated\",{saving},\">0\")"),
            2 => format!("COUNTIFS({status},\"estimated\",{saving},\"<0\")"),
            _ => format!("COUNTIF({status},\"<>estimated\")"),
        }
    }

    fn sum(&self, at: u16, name: &str) -> String {
        match self {
            Self::Block(block, sheet) => {
                let (what, status) = (span(block, sheet, column(name)), span(block, sheet, STATUS));
                format!("SUMIFS({what},{status},\"estimated\")")
            }
            Self::Rows(first, last) => {
                format!("SUM({}:{})", row_col_to_cell(*first, at), row_col_to_cell(*last, at))
            }
            Self::Each(rows) => {
                let cells: Vec<String> = rows.iter().map(|r| row_col_to_cell(*r, at)).collect();
                format!("SUM({})", cells.join(","))
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
    looks: &'a Looks,
    scales: Vec<f64>,
    row: u32,
}

impl Writer<'_> {
    fn line(
        &mut self,
        report: Option<&Published>,
        name: &str,
        source: &Source,
        r: &Results,
    ) -> Result<(), XlsxError> {
        let (row, looks) = (self.row, self.looks);
        let is_sum = !matches!(source, Source::Block(..));
        let pick = |plain, bold| if is_sum { bold } else { plain };
        if let Some(report) = report {
            let look = pick(&looks.month, &looks.month_bold);
            self.sheet.write_datetime_with_format(row, 0, &day(report)?, look)?;
        }
        let look = if is_sum { &looks.bold } else { looks.of_text(name) };
        self.sheet.write_string_with_format(row, 1, name, look)?;
        let whole = pick(&looks.whole, &looks.whole_bold);
        for (kind, (at, count)) in (COUNTED..).zip(r.counts).enumerate() {
            self.formula(at, &source.count(kind, at), Some(real(count)), whole)?;
        }
        let counted = row_col_to_cell(row, COUNTED);
        let has = r.counts[0] > 0;
        for (((at, name, is_money), sum), scale) in
            SUMS.iter().zip(&r.sums).zip(self.scales.clone())
        {
            let money = pick(&looks.money, &looks.money_bold);
            let look = if *is_money { money } else { whole };
            // No farm counted is no number, not zero.
            let formula = format!("IF({counted}=0,\"\",{})", source.sum(*at, name));
            self.formula(*at, &formula, has.then(|| real(*sum) / scale), look)?;
        }
        let tenth = pick(&looks.tenth, &looks.tenth_bold);
        let fine = pick(&looks.fine, &looks.fine_bold);
        self.ratio(13, (SAVING, 7, 100.0), r, tenth)?;
        self.ratio(14, (SAVING, 6, 1.0), r, fine)?;
        self.ratio(18, (17, 16, 100.0), r, tenth)?;
        self.row += 1;
        Ok(())
    }

    fn ratio(
        &mut self,
        at: u16,
        (top, bottom, times): (u16, u16, f64),
        r: &Results,
        look: &Format,
    ) -> Result<(), XlsxError> {
        let result = |column: u16| {
            let index = SUMS.iter().position(|s| s.0 == column)?;
            Some(real(*r.sums.get(index)?) / self.scales.get(index)?)
        };
        let result = result(top).zip(result(bottom)).filter(|(_, b)| *b > 0.0 && r.counts[0] > 0);
        let (a, b) = (row_col_to_cell(self.row, top), row_col_to_cell(self.row, bottom));
        let times_text = if times > 1.0 { format!("*{times}") } else { String::new() };
        let formula = format!("IF(N({b})>0,{a}/{b}{times_text},\"\")");
        self.formula(at, &formula, result.map(|(a, b)| a / b * times), look)
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
    looks: &Looks,
    title: &str,
    reports: &[Published],
    areas: &[AreaSheet],
    names: &[String],
) -> Result<(), XlsxError> {
    sheet.set_name("Totals")?;
    let Some(last) = reports.last() else { return Ok(()) };
    let under = "Sums over the farms with a number. Each cell is a formula over the sheets of the \
                 areas; method, units and cautions stand on the last sheet.";
    // A row a month and area, and a sum and a gap a month.
    let blocks: usize = areas.iter().map(|a| a.blocks.len()).sum();
    let rows = FIRST_ROW + u32::try_from(blocks + 2 * reports.len()).unwrap_or(0);
    set_up(sheet, looks, (title, under), &headings(&last.currency), (2, rows))?;
    // What a formula gives where it gives no number.
    sheet.set_formula_result_default("");
    let money = 10_f64.powi(i32::from(last.digits));
    let scales = SUMS.iter().map(|(_, _, is_money)| if *is_money { money } else { 1_000.0 });
    let mut w = Writer { sheet, looks, scales: scales.collect(), row: FIRST_ROW };
    let mut months: Vec<u32> = Vec::new();
    let mut all = Results::default();
    for (index, report) in reports.iter().enumerate() {
        let first = w.row;
        let mut sum = Results { sums: vec![0; SUMS.len()], ..Results::default() };
        for (area, name) in areas.iter().zip(names) {
            let Some(block) = area.blocks.iter().find(|b| b.report == index) else { continue };
            let results = Results::of(&block.farms, &w.scales);
            w.line(Some(report), &area.name, &Source::Block(block, &quoted(name)), &results)?;
            sum.add(&results);
        }
        if w.row > first {
            let source = Source::Rows(first, w.row - 1);
            months.push(w.row);
            w.line(Some(report), "All areas", &source, &sum)?;
            all.add(&sum);
            w.row += 1;
        }
    }
    if months.len() > 1 {
        w.line(None, "All months", &Source::Each(&months), &all)?;
    }
    Ok(())
}
