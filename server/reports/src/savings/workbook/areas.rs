//! A sheet an area: a row a farm and month.

use super::super::{FarmLine, Published};
use super::{FIRST_ROW, Looks, day, set_up};
use rust_xlsxwriter::{Format, Worksheet, XlsxError};

/// The rows of an area.
pub struct AreaSheet<'a> {
    /// Name of the area.
    pub name: String,
    /// By month: which of the reports, first row, farms.
    pub blocks: Vec<Block<'a>>,
}

/// The farms of an area in a month.
pub struct Block<'a> {
    /// Which of the reports.
    pub report: usize,
    /// First row.
    pub row: u32,
    /// Farms.
    pub farms: Vec<&'a FarmLine>,
}

/// The rows of all areas, areas by name.
pub fn gather(reports: &[Published]) -> Vec<AreaSheet<'_>> {
    let mut sheets: Vec<AreaSheet> = Vec::new();
    for (report, published) in reports.iter().enumerate() {
        for (area, farms) in published.by_area() {
            let name = area.unwrap_or("No area");
            let at = sheets.iter().position(|s| s.name == name).unwrap_or_else(|| {
                sheets.push(AreaSheet { name: name.to_owned(), blocks: Vec::new() });
                sheets.len() - 1
            });
            if let Some(sheet) = sheets.get_mut(at) {
                let end = |b: &Block| b.row + rows(b);
                let row = sheet.blocks.last().map_or(FIRST_ROW, end);
                sheet.blocks.push(Block { report, row, farms });
            }
        }
    }
    sheets.sort_by(|a, b| a.name.cmp(&b.name));
    sheets
}

/// How many rows a block has.
pub fn rows(block: &Block) -> u32 {
    u32::try_from(block.farms.len()).unwrap_or(u32::MAX)
}

/// Column of the status, which sums ask for.
pub const STATUS: u16 = 4;
/// Column of the first figure.
const FIGURES: u16 = 6;

/// How a figure is written.
#[derive(Clone, Copy)]
enum Look {
    Money,
    Fine,
    Whole,
    Tenth,
    Thousandth,
}

/// Figures in columns: name in the report, heading, width, form. The interval stands after the
/// saving, what the estimates say and words at the end.
const COLUMNS: &[(&str, &str, f64, Look)] = &[
    ("animal_days", "Animal-days", 10.0, Look::Whole),
    ("baseline_cost", "Ration before fodder", 14.0, Look::Money),
    ("feed_cost", "Feed bought", 14.0, Look::Money),
    ("seed_cost", "Seed", 13.0, Look::Money),
    ("other_cost", "Other costs", 13.0, Look::Money),
    ("depreciation", "Depreciation", 12.0, Look::Money),
    ("saving", "Saving (loss -)", 14.0, Look::Money),
    ("low", "Saving, low end", 14.0, Look::Money),
    ("high", "Saving, high end", 14.0, Look::Money),
    ("saving_percent_of_baseline", "Saving, % of ration before", 10.0, Look::Tenth),
    ("saving_per_animal_day", "Saving per animal-day", 11.0, Look::Fine),
    ("saving_per_litre", "Saving per litre", 11.0, Look::Fine),
    ("saving_per_egg", "Saving per egg", 11.0, Look::Fine),
    ("fresh_fodder_fed_kg", "Fresh fodder fed, kg", 11.0, Look::Thousandth),
    ("fodder_cost_per_kg_dry_matter", "Fodder cost per kg dry matter", 12.0, Look::Fine),
    ("trays_started", "Trays spread", 9.0, Look::Whole),
    ("trays_discarded", "Trays discarded", 10.0, Look::Whole),
    ("trays_discarded_percent", "Trays discarded, %", 10.0, Look::Tenth),
    ("milk_litres", "Milk, litres", 11.0, Look::Thousandth),
    ("litres_per_cow_day", "Litres per cow-day", 9.0, Look::Thousandth),
    ("eggs", "Eggs", 9.0, Look::Whole),
    ("hen_day_percent", "Eggs per 100 hen-days", 10.0, Look::Tenth),
    ("output", "Output change, %", 9.0, Look::Tenth),
    ("output_low", "Output change, low end", 9.0, Look::Tenth),
    ("output_high", "Output change, high end", 9.0, Look::Tenth),
];

/// The column of a figure.
pub fn column(name: &str) -> u16 {
    let at = COLUMNS.iter().position(|c| c.0 == name).unwrap_or(0);
    FIGURES + u16::try_from(at).unwrap_or(0)
}

fn headings(currency: &str) -> Vec<(String, f64)> {
    let first = [
        ("Month", 9.0),
        ("Member number", 12.0),
        ("Member", 24.0),
        ("Farm", 10.0),
        ("Status", 12.0),
        ("Animals", 9.0),
    ];
    let first = first.iter().map(|(name, width)| ((*name).to_owned(), *width));
    let figures = COLUMNS.iter().map(|(_, name, width, look)| match look {
        Look::Money | Look::Fine => (format!("{name}, {currency}"), *width),
        _ => ((*name).to_owned(), *width),
    });
    let last = [("Spoilage", 12.0), ("What is missing, and notes", 48.0)];
    let last = last.iter().map(|(name, width)| ((*name).to_owned(), *width));
    first.chain(figures).chain(last).collect()
}

/// Writes the sheet of an area.
pub fn write(
    sheet: &mut Worksheet,
    looks: &Looks,
    title: &str,
    area: &AreaSheet,
    name: &str,
    reports: &[Published],
) -> Result<(), XlsxError> {
    sheet.set_name(name)?;
    let currency = reports.last().map_or("", |r| r.currency.as_str());
    let title = format!("{title}, {}", area.name);
    let under = "A row a farm. An empty cell was not recorded or can not be told; it is not zero.";
    let end = area.blocks.last().map_or(FIRST_ROW, |b| b.row + rows(b).saturating_sub(1));
    set_up(sheet, looks, (&title, under), &headings(currency), (4, end))?;
    columns(sheet, looks)?;
    for block in &area.blocks {
        let Some(report) = reports.get(block.report) else { continue };
        let day = day(report)?;
        for (row, farm) in (block.row..).zip(&block.farms) {
            sheet.write_datetime(row, 0, &day)?;
            for (at, text) in [
                (1, &farm.member_number),
                (2, &farm.member_name),
                (3, &farm.farm),
                (STATUS, &farm.status),
            ] {
                words(sheet, looks, (row, at), text)?;
            }
            if let Some(animals) = farm.animals {
                sheet.write_number(row, 5, animals)?;
            }
            figures(sheet, row, farm)?;
        }
    }
    Ok(())
}

/// How the cells of each column look; cells that say nothing of their own look like this, which
/// spares a look-up for each of them.
fn columns(sheet: &mut Worksheet, looks: &Looks) -> Result<(), XlsxError> {
    sheet.set_column_format(0, &looks.month)?;
    for at in 1..FIGURES - 1 {
        sheet.set_column_format(at, &looks.text)?;
    }
    sheet.set_column_format(FIGURES - 1, &looks.tenth)?;
    let mut end = FIGURES;
    for (_, _, _, look) in COLUMNS {
        sheet.set_column_format(end, form(looks, *look))?;
        end += 1;
    }
    sheet.set_column_format(end, &looks.text)?;
    sheet.set_column_format(end + 1, &looks.wrapped)?;
    Ok(())
}

/// A text that is never taken for a formula.
fn words(
    sheet: &mut Worksheet,
    looks: &Looks,
    (row, at): (u32, u16),
    text: &str,
) -> Result<(), XlsxError> {
    if text.starts_with(['=', '+', '-', '@']) {
        sheet.write_string_with_format(row, at, text, looks.of_text(text))?;
    } else {
        sheet.write_string(row, at, text)?;
    }
    Ok(())
}

fn figures(sheet: &mut Worksheet, row: u32, farm: &FarmLine) -> Result<(), XlsxError> {
    let percent = farm.output.as_ref().and_then(|o| o.percent);
    for (at, (name, ..)) in (FIGURES..).zip(COLUMNS) {
        let value = match *name {
            "low" => farm.figures.interval.map(|i| i.0),
            "high" => farm.figures.interval.map(|i| i.1),
            "output" => percent.map(|p| p.0),
            "output_low" => percent.map(|p| p.1),
            "output_high" => percent.map(|p| p.2),
            name => farm.figures.get(name),
        };
        if let Some(value) = value {
            sheet.write_number(row, at, value)?;
        }
    }
    let end = FIGURES + u16::try_from(COLUMNS.len()).unwrap_or(0);
    if let Some(status) = &farm.spoilage_status {
        sheet.write_string(row, end, status)?;
    }
    let said: Vec<&str> = farm.missing.iter().chain(&farm.notes).map(String::as_str).collect();
    if !said.is_empty() {
        sheet.write_string(row, end + 1, said.join("; "))?;
    }
    Ok(())
}

fn form(looks: &Looks, look: Look) -> &Format {
    match look {
        Look::Money => &looks.money,
        Look::Fine => &looks.fine,
        Look::Whole => &looks.whole,
        Look::Tenth => &looks.tenth,
        Look::Thousandth => &looks.thousandth,
    }
}
