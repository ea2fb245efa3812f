//! The savings report as a workbook (ISO/IEC 29500, SpreadsheetML).
//!
//! One sheet an area with a row a farm and month; a first sheet whose totals are formulas over
//! those sheets, so that whoever opens it sees where each number comes from; a last sheet with
//! method, units and cautions. What was not recorded is an empty cell. Names are always text.

mod areas;
mod names;
mod notes;
mod totals;

use rust_xlsxwriter::{
    DocProperties, ExcelDateTime, Format, FormatAlign, FormatBorder, Workbook, Worksheet, XlsxError,
};
use traybook_answers::Decimal;
use traybook_answers::savings::{Figures, SavingsReport, Status};
use traybook_domain::value::real;
use traybook_speech::Language;

/// Colour behind headings, and of the line below them: grey on any printer.
const HEAD_FILL: u32 = 0x00EC_E7DB;
/// First row of data; above it stand title, units, a gap and the headings.
const FIRST_ROW: u32 = 4;
/// Row of the headings.
const HEAD_ROW: u32 = 3;
/// Last column that is printed: up to the saving as a share. All columns on one page would be too
/// small to read; the screen shows the others.
const PRINTED: u16 = 16;
/// A4 in the file format's list of papers (ISO/IEC 29500-1, 18.3.1.63).
const PAPER_A4: u8 = 9;

/// How cells look.
struct Looks {
    title: Format,
    plain: Format,
    head: Format,
    text: Format,
    /// Text that a program might take for a formula when somebody edits the cell.
    guarded: Format,
    wrapped: Format,
    month: Format,
    money: Format,
    money_bold: Format,
    fine: Format,
    fine_bold: Format,
    whole: Format,
    whole_bold: Format,
    tenth: Format,
    tenth_bold: Format,
    thousandth: Format,
    bold: Format,
    month_bold: Format,
}

impl Looks {
    fn new(digits: u8) -> Self {
        let top = || Format::new().set_align(FormatAlign::VerticalCenter);
        let number = |digits: u8| {
            let point = if digits > 0 { "." } else { "" };
            let zeros = "0".repeat(usize::from(digits));
            top().set_num_format(format!("#,##0{point}{zeros}"))
        };
        let sum = |f: Format| f.set_bold().set_border_top(FormatBorder::Thin);
        let month = || top().set_num_format("yyyy-mm").set_align(FormatAlign::Left);
        Self {
            title: Format::new().set_bold().set_font_size(14),
            plain: Format::new(),
            head: Format::new()
                .set_bold()
                .set_text_wrap()
                .set_align(FormatAlign::Bottom)
                .set_border_bottom(FormatBorder::Medium)
                .set_background_color(HEAD_FILL),
            text: top(),
            guarded: top().set_quote_prefix(),
            wrapped: top().set_text_wrap(),
            month: month(),
            money: number(digits),
            money_bold: sum(number(digits)),
            fine: number(digits.saturating_add(2)),
            fine_bold: sum(number(digits.saturating_add(2))),
            whole: number(0),
            whole_bold: sum(number(0)),
            tenth: number(1),
            tenth_bold: sum(number(1)),
            thousandth: number(3),
            bold: sum(top()),
            month_bold: sum(month()),
        }
    }

    /// How a text looks: names that begin like a formula stay text even when they are edited.
    fn of_text(&self, text: &str) -> &Format {
        if text.starts_with(['=', '+', '-', '@']) { &self.guarded } else { &self.text }
    }
}

/// A month as a day that spreadsheets know.
fn day(report: &SavingsReport) -> Result<ExcelDateTime, XlsxError> {
    ExcelDateTime::parse_from_str(&report.month.0.first_day().format("%Y-%m-%d").to_string())
}

/// How a workbook is written: its looks and its language.
struct Style {
    looks: Looks,
    language: Language,
    /// Title of every sheet.
    title: String,
}

impl Style {
    /// The heading of a column; of money with its currency.
    fn heading(&self, key: &str, currency: Option<&str>) -> String {
        let what = self.language.text(&format!("sheet-{}", key.replace('_', "-")));
        let Some(currency) = currency else { return what };
        self.language.say("sheet-money", &[("what", what.into()), ("currency", currency.into())])
    }

    /// The title of a part.
    fn title_of(&self, part: &str) -> String {
        let args = [("title", self.title.as_str().into()), ("part", part.into())];
        self.language.say("sheet-of", &args)
    }

    /// The foot of a printed page: codes for its number and how many they are.
    fn foot(&self) -> String {
        self.language.say("sheet-page", &[("page", "&P".into()), ("pages", "&N".into())])
    }

    /// A class of animals in a word.
    fn class(&self, enterprise: &str) -> String {
        self.language.text(&format!("class-{enterprise}"))
    }

    /// A status as cells have it.
    fn status(&self, status: Status) -> String {
        self.language.text(&format!("sheet-status-{}", status.text()))
    }
}

/// A figure of the report that has columns of its own.
#[derive(Clone, Copy)]
struct Figure {
    /// Its name, from which the heading's key is made.
    name: &'static str,
    /// Its value.
    of: fn(&Figures) -> Option<f64>,
}

impl Figure {
    /// Whether the rows without a number have it as well: a fact, not an estimate.
    fn is_fact(self) -> bool {
        !COUNTED.contains(&self.name)
    }
}

/// Figures that only rows with a number have.
const COUNTED: [&str; 14] = [
    "animal_days",
    "baseline_cost",
    "eaten_cost",
    "feed_saving",
    "seed_cost",
    "other_cost",
    "depreciation",
    "saving",
    "output_value",
    "net",
    "low",
    "high",
    "net_low",
    "net_high",
];

/// A number of the report.
trait Number {
    fn number(self) -> f64;
}

impl Number for Decimal {
    fn number(self) -> f64 {
        self.real()
    }
}

impl Number for i64 {
    fn number(self) -> f64 {
        real(self)
    }
}

/// A figure by its member, so that one that is renamed does not compile.
macro_rules! figure {
    ($member:ident) => {
        $crate::savings::workbook::Figure {
            name: stringify!($member),
            of: |figures| figures.$member.map($crate::savings::workbook::Number::number),
        }
    };
    (money $member:ident) => {
        $crate::savings::workbook::Figure {
            name: stringify!($member),
            of: |figures| figures.money.$member.map($crate::savings::workbook::Number::number),
        }
    };
}
use figure;

/// Headings, paper and what repeats on every printed page.
fn set_up(
    sheet: &mut Worksheet,
    style: &Style,
    (title, under): (&str, &str),
    columns: &[(String, f64)],
    (frozen, rows): (u16, u32),
) -> Result<(), XlsxError> {
    let looks = &style.looks;
    sheet.write_string_with_format(0, 0, title, &looks.title)?;
    sheet.write_string_with_format(1, 0, under, &looks.plain)?;
    for (at, (name, width)) in (0_u16..).zip(columns) {
        sheet.write_string_with_format(HEAD_ROW, at, name, &looks.head)?;
        sheet.set_column_width(at, *width)?;
    }
    sheet.set_row_height(HEAD_ROW, 62)?;
    sheet.set_freeze_panes(FIRST_ROW, frozen)?;
    sheet.set_repeat_rows(HEAD_ROW, HEAD_ROW)?;
    sheet.set_landscape().set_paper_size(PAPER_A4).set_print_fit_to_pages(1, 0);
    // An ampersand begins a code in footers.
    let name = title.replace('&', "&&");
    let columns = u16::try_from(columns.len()).unwrap_or(1);
    sheet.set_print_area(0, 0, rows.max(FIRST_ROW), columns.min(PRINTED + 1).saturating_sub(1))?;
    sheet.set_footer(format!("&L{name}&R{}", style.foot()));
    Ok(())
}

/// The reports of one or more months as a workbook, in the order given; the same bytes for the same
/// reports.
///
/// # Errors
/// A text that says what is wrong: no month, or more than a sheet holds.
pub fn workbook(reports: &[SavingsReport], language: Language) -> Result<Vec<u8>, String> {
    let Some(last) = reports.last() else { return Err("no month is given".to_owned()) };
    write(reports, last, language).map_err(|e| e.to_string())
}

fn write(
    reports: &[SavingsReport],
    last: &SavingsReport,
    l: Language,
) -> Result<Vec<u8>, XlsxError> {
    let mut book = Workbook::new();
    let first = reports.first().unwrap_or(last);
    let span = if reports.len() > 1 {
        let ends = [first, last].map(|r| r.month.to_string().into());
        let [from, to] = ends;
        l.say("doc-span", &[("from", from), ("to", to)])
    } else {
        last.month.to_string()
    };
    let args = [("cooperative", last.cooperative.clone().into()), ("month", span.into())];
    let title = l.say("doc-title", &args);
    let properties = DocProperties::new()
        .set_title(&title)
        .set_author(&last.cooperative)
        .set_creation_datetime(&day(last)?);
    book.set_properties(&properties);
    let style = Style { looks: Looks::new(last.digits()), language: l, title };
    let sheets = areas::gather(reports, &l.text("doc-no-area"));
    let own = ["sheet-totals", "sheet-notes", "sheet-adjustments"].map(|key| l.text(key));
    let areas = sheets.iter().map(|s| s.name.as_str()).collect::<Vec<_>>();
    let names = names::sheets(&areas, &own, &l.text("sheet-area"));
    totals::write(book.add_worksheet(), &style, reports, &sheets, &names)?;
    for (sheet, name) in sheets.iter().zip(&names) {
        areas::write(book.add_worksheet(), &style, sheet, name, reports)?;
    }
    notes::adjustments(&mut book, &style, reports)?;
    notes::write(book.add_worksheet(), &style, last, reports)?;
    book.save_to_buffer()
}

#[cfg(test)]
mod tests;
