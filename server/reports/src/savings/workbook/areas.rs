//! A sheet an area: a row a farm, class of animals and month.

use super::super::wording::remarks;
use super::{FIRST_ROW, Figure, Looks, Style, day, figure, set_up};
use rust_xlsxwriter::{Format, Worksheet, XlsxError};
use traybook_answers::savings::{
    EnterpriseLine, FarmLine, Figures, Note, OutputChange, SavingsReport, Spoiling,
};
use traybook_speech::Language;

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
    /// Farms, each once for each class of its animals.
    pub farms: Vec<FarmRow<'a>>,
}

/// A farm with one class of its animals.
#[derive(Clone, Copy)]
pub struct FarmRow<'a> {
    pub farm: &'a FarmLine,
    /// The class of animals; none of a month closed by the earlier method.
    pub line: Option<&'a EnterpriseLine>,
    /// Whether it is the farm's first row, which has the facts of the farm.
    pub is_first: bool,
}

impl FarmRow<'_> {
    /// The figures of the row, without zeros that nobody recorded.
    pub fn recorded(&self) -> Figures {
        let farm = self.farm.recorded();
        let Some(line) = self.line else { return farm };
        let noted = |what: Note| self.farm.notes.contains(&what);
        let mut money = line.money;
        money.seed_cost = money.seed_cost.filter(|_| !noted(Note::NoSoak));
        money.other_cost = money.other_cost.filter(|_| !noted(Note::NoOtherCosts));
        let is_one = self.farm.enterprises.len() == 1;
        if is_one {
            return Figures { money, ..farm };
        }
        let facts = if self.is_first { farm } else { Figures::default() };
        Figures {
            money,
            saving_percent_of_baseline: None,
            saving_per_animal_day: None,
            saving_per_litre: None,
            saving_per_egg: None,
            ..facts
        }
    }
}

fn farm_rows(farm: &FarmLine) -> Vec<FarmRow<'_>> {
    if farm.enterprises.is_empty() {
        return vec![FarmRow { farm, line: None, is_first: true }];
    }
    let row = |(at, line)| FarmRow { farm, line: Some(line), is_first: at == 0 };
    farm.enterprises.iter().enumerate().map(row).collect()
}

/// The rows of all areas, areas by name.
pub fn gather<'a>(reports: &'a [SavingsReport], no_area: &str) -> Vec<AreaSheet<'a>> {
    let mut sheets: Vec<AreaSheet> = Vec::new();
    for (report, published) in reports.iter().enumerate() {
        for (area, farms) in published.by_area() {
            let name = area.unwrap_or(no_area);
            let at = sheets.iter().position(|s| s.name == name).unwrap_or_else(|| {
                sheets.push(AreaSheet { name: name.to_owned(), blocks: Vec::new() });
                sheets.len() - 1
            });
            if let Some(sheet) = sheets.get_mut(at) {
                let end = |b: &Block| b.row + rows(b);
                let row = sheet.blocks.last().map_or(FIRST_ROW, end);
                let farms = farms.into_iter().flat_map(farm_rows).collect();
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

/// Column of the status.
const STATUS: u16 = 5;
/// Column of the first figure.
const FIGURES: u16 = 7;

/// How a figure is written.
#[derive(Clone, Copy)]
enum Look {
    Money,
    Fine,
    Whole,
    Tenth,
    Thousandth,
}

/// Figures in columns, with their width and form. The interval stands after the saving; what the
/// estimates say and words stand at the end.
const COLUMNS: &[(Figure, f64, Look)] = &[
    (figure!(money animal_days), 10.0, Look::Whole),
    (figure!(money baseline_cost), 14.0, Look::Money),
    (figure!(money eaten_cost), 14.0, Look::Money),
    (figure!(money feed_saving), 14.0, Look::Money),
    (figure!(money seed_cost), 13.0, Look::Money),
    (figure!(money other_cost), 13.0, Look::Money),
    (figure!(money depreciation), 12.0, Look::Money),
    (figure!(money saving), 14.0, Look::Money),
    (LOW, 14.0, Look::Money),
    (HIGH, 14.0, Look::Money),
    (figure!(money output_value), 14.0, Look::Money),
    (figure!(money net), 14.0, Look::Money),
    (NET_LOW, 14.0, Look::Money),
    (NET_HIGH, 14.0, Look::Money),
    (figure!(saving_percent_of_baseline), 10.0, Look::Tenth),
    (figure!(saving_per_animal_day), 11.0, Look::Fine),
    (figure!(saving_per_litre), 11.0, Look::Fine),
    (figure!(saving_per_egg), 11.0, Look::Fine),
    (figure!(bought_cost), 14.0, Look::Money),
    (figure!(fresh_fodder_fed_kg), 11.0, Look::Thousandth),
    (figure!(trays_fed_unweighed), 10.0, Look::Whole),
    (figure!(fodder_cost_per_kg_dry_matter), 12.0, Look::Fine),
    (figure!(trays_started), 9.0, Look::Whole),
    (figure!(trays_discarded), 10.0, Look::Whole),
    (figure!(trays_discarded_percent), 10.0, Look::Tenth),
    (figure!(milk_litres), 11.0, Look::Thousandth),
    (figure!(litres_per_cow_day), 9.0, Look::Thousandth),
    (figure!(eggs), 9.0, Look::Whole),
    (figure!(hen_day_percent), 10.0, Look::Tenth),
];
/// Ends of the interval of the saving.
pub const LOW: Figure =
    Figure { name: "low", of: |f| f.money.saving_interval.map(|i| i.low.real()) };
/// See [`LOW`].
pub const HIGH: Figure =
    Figure { name: "high", of: |f| f.money.saving_interval.map(|i| i.high.real()) };
/// Ends of the interval of the net result.
const NET_LOW: Figure =
    Figure { name: "net_low", of: |f| f.money.net_interval.map(|i| i.low.real()) };
/// See [`NET_LOW`].
const NET_HIGH: Figure =
    Figure { name: "net_high", of: |f| f.money.net_interval.map(|i| i.high.real()) };
/// Change in output, its lower and upper end.
const OUTPUT: [(&str, f64); 3] = [("output", 9.0), ("output_low", 9.0), ("output_high", 9.0)];

/// The column of a figure.
pub fn column(figure: Figure) -> u16 {
    let at = COLUMNS.iter().position(|c| c.0.name == figure.name).unwrap_or(0);
    FIGURES + u16::try_from(at).unwrap_or(0)
}

fn headings(style: &Style, currency: &str) -> Vec<(String, f64)> {
    let l = style.language;
    let first = [
        ("doc-month", 9.0),
        ("sheet-member-number", 12.0),
        ("sheet-member", 24.0),
        ("doc-farm", 10.0),
        ("sheet-enterprise", 14.0),
        ("sheet-status", 12.0),
        ("sheet-animals", 9.0),
    ];
    let last = [("sheet-spoilage", 12.0), ("sheet-said", 48.0)];
    let figures = COLUMNS.iter().map(|(figure, width, look)| match look {
        Look::Money | Look::Fine => (style.heading(figure.name, Some(currency)), *width),
        _ => (style.heading(figure.name, None), *width),
    });
    let output = OUTPUT.iter().map(|(name, width)| (style.heading(name, None), *width));
    let words = |(key, width): &(&str, f64)| (l.text(key), *width);
    first.iter().map(words).chain(figures).chain(output).chain(last.iter().map(words)).collect()
}

/// Writes the sheet of an area.
pub fn write(
    sheet: &mut Worksheet,
    style: &Style,
    area: &AreaSheet,
    name: &str,
    reports: &[SavingsReport],
) -> Result<(), XlsxError> {
    sheet.set_name(name)?;
    let currency = reports.last().map_or("", |r| r.currency.as_str());
    let (looks, title) = (&style.looks, style.title_of(&area.name));
    let under = style.language.text("sheet-area-about");
    let end = area.blocks.last().map_or(FIRST_ROW, |b| b.row + rows(b).saturating_sub(1));
    set_up(sheet, style, (&title, &under), &headings(style, currency), (4, end))?;
    columns(sheet, looks)?;
    for block in &area.blocks {
        let Some(report) = reports.get(block.report) else { continue };
        let day = day(report)?;
        for (row, of) in (block.row..).zip(&block.farms) {
            sheet.write_datetime(row, 0, &day)?;
            let farm = of.farm;
            let class = of.line.map(|l| style.class(&l.enterprise)).unwrap_or_default();
            for (at, text) in [
                (1, &farm.member_number),
                (2, &farm.member_name),
                (3, &farm.farm),
                (4, &class),
                (STATUS, &style.status(of.line.map_or(farm.status, |l| l.status))),
            ] {
                words(sheet, looks, (row, at), text)?;
            }
            if let Some(animals) = farm.animals.filter(|_| of.is_first) {
                sheet.write_number(row, FIGURES - 1, animals.real())?;
            }
            figures(sheet, style, row, of)?;
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
    for (_, _, look) in COLUMNS {
        sheet.set_column_format(end, form(looks, *look))?;
        end += 1;
    }
    for _ in OUTPUT {
        sheet.set_column_format(end, &looks.tenth)?;
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

fn figures(sheet: &mut Worksheet, style: &Style, row: u32, of: &FarmRow) -> Result<(), XlsxError> {
    let (farm, recorded) = (of.farm, of.recorded());
    let figures = COLUMNS.iter().map(|(figure, ..)| (figure.of)(&recorded));
    let change = farm.output_change.as_ref().filter(|_| of.is_first);
    let change = change.and_then(OutputChange::between);
    let output = [change.map(|c| c.0), change.map(|c| c.1), change.map(|c| c.2)];
    let mut at = FIGURES;
    for value in figures.chain(output) {
        if let Some(value) = value {
            sheet.write_number(row, at, value)?;
        }
        at += 1;
    }
    if !of.is_first {
        return Ok(());
    }
    if let Some(status) = farm.spoilage_status {
        sheet.write_string(row, at, spoilage(style.language, status))?;
    }
    let remarks = remarks(style.language, farm);
    if !remarks.is_empty() {
        sheet.write_string(row, at + 1, remarks)?;
    }
    Ok(())
}

/// Whether trays keep spoiling, in a word. English as it was published.
fn spoilage(language: Language, status: Spoiling) -> String {
    let word = match status {
        _ if language.is_source() => return status.text().to_owned(),
        Spoiling::RecurringSeedLot => Spoiling::Recurring,
        word => word,
    };
    let said = language.text(&format!("spoilage-word-{}", word.text().replace('_', "-")));
    if word == status { said } else { format!("{said} ({})", language.text("points-at-seed_lot")) }
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
