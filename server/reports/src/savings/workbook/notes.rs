//! The last sheets: what changed in closed months, and method, units and cautions.

use super::super::publish::{CAUTION, METHOD, UNITS};
use super::super::wording::own;

use super::{FIRST_ROW, PAPER_A4, Style, day, set_up};
use rust_xlsxwriter::{Workbook, Worksheet, XlsxError};
use traybook_answers::savings::SavingsReport;

/// Changes of closed months, where there are any.
pub fn adjustments(
    book: &mut Workbook,
    style: &Style,
    reports: &[SavingsReport],
) -> Result<(), XlsxError> {
    if reports.iter().all(|r| r.adjustments.is_empty()) {
        return Ok(());
    }
    let (looks, l) = (&style.looks, style.language);
    let sheet = book.add_worksheet();
    sheet.set_name(l.text("sheet-adjustments"))?;
    let currency = reports.last().map_or("", |r| r.currency.as_str());
    let money = |key: &str| {
        l.say("sheet-money", &[("what", l.text(key).into()), ("currency", currency.into())])
    };
    let columns = [
        (l.text("sheet-reported-in"), 10.0),
        (l.text("sheet-closed-month"), 10.0),
        (l.text("doc-farm"), 12.0),
        (money("doc-reported"), 18.0),
        (money("doc-now"), 18.0),
        (money("doc-change"), 18.0),
    ];
    let title = style.title_of(&l.text("sheet-adjustments-part"));
    let under = l.text("sheet-adjustments-about");
    let count: usize = reports.iter().map(|r| r.adjustments.len()).sum();
    let rows = FIRST_ROW + u32::try_from(count).unwrap_or(0);
    set_up(sheet, style, (&title, &under), &columns, (3, rows))?;
    let all = reports.iter().flat_map(|r| r.adjustments.iter().map(move |a| (r, a)));
    for (row, (report, a)) in (FIRST_ROW..).zip(all) {
        sheet.write_datetime_with_format(row, 0, &day(report)?, &looks.month)?;
        sheet.write_string_with_format(row, 1, a.month.to_string(), &looks.text)?;
        sheet.write_string_with_format(row, 2, &a.farm, looks.of_text(&a.farm))?;
        for (at, value) in [(3, a.reported), (4, a.now), (5, Some(a.change))] {
            if let Some(value) = value {
                sheet.write_number_with_format(row, at, value.real(), &looks.money)?;
            }
        }
    }
    Ok(())
}

/// Method, units and cautions.
pub fn write(
    sheet: &mut Worksheet,
    style: &Style,
    last: &SavingsReport,
    reports: &[SavingsReport],
) -> Result<(), XlsxError> {
    let (looks, l) = (&style.looks, style.language);
    sheet.set_name(l.text("sheet-notes"))?;
    sheet.set_column_width(0, 22)?;
    sheet.set_column_width(1, 100)?;
    sheet.set_landscape().set_paper_size(PAPER_A4).set_print_fit_to_pages(1, 0);
    sheet.set_footer(format!("&R{}", style.foot()));
    sheet.write_string_with_format(0, 0, l.text("sheet-how-to-read"), &looks.title)?;
    let open: Vec<String> =
        reports.iter().filter(|r| !r.is_closed).map(|r| r.month.to_string()).collect();
    let open = if open.is_empty() {
        l.text("sheet-all-closed")
    } else {
        l.with("sheet-still-open", "months", open.join(", "))
    };
    let units = if last.units == UNITS { l.text("doc-units") } else { last.units.clone() };
    let units = [("units", units.into()), ("currency", last.currency.clone().into())];
    let dry = l.with("doc-dry-matter", "percent", last.fodder_dry_matter_percent.to_string());
    let lines = [
        ("sheet-note-method", own(l, &last.method, METHOD, "doc-method")),
        ("sheet-note-units", format!("{} {dry}", l.say("sheet-units", &units))),
        ("sheet-note-empty", l.text("sheet-empty")),
        ("sheet-status", l.text("sheet-status-about")),
        ("sheet-note-intervals", l.text("sheet-intervals")),
        ("sheet-note-losses", l.text("sheet-losses")),
        ("sheet-note-months", open),
        ("doc-cautions", own(l, &last.caution, CAUTION, "doc-caution")),
    ];
    for (row, (name, text)) in (2_u32..).zip(lines) {
        sheet.write_string_with_format(row, 0, l.text(name), &looks.text)?;
        sheet.write_string_with_format(row, 1, text, &looks.wrapped)?;
    }
    Ok(())
}
