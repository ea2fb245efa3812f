//! The last sheets: what changed in closed months, and method, units and cautions.

use super::super::Published;
use super::{FIRST_ROW, Looks, PAPER_A4, day, set_up};
use rust_xlsxwriter::{Workbook, Worksheet, XlsxError};

/// Changes of closed months, where there are any.
pub fn adjustments(
    book: &mut Workbook,
    looks: &Looks,
    title: &str,
    reports: &[Published],
) -> Result<(), XlsxError> {
    if reports.iter().all(|r| r.adjustments.is_empty()) {
        return Ok(());
    }
    let sheet = book.add_worksheet();
    sheet.set_name("Adjustments")?;
    let currency = reports.last().map_or("", |r| r.currency.as_str());
    let columns = [
        ("Reported in".to_owned(), 10.0),
        ("Closed month".to_owned(), 10.0),
        ("Farm".to_owned(), 12.0),
        (format!("Reported so far, {currency}"), 18.0),
        (format!("Records say now, {currency}"), 18.0),
        (format!("Change, {currency}"), 18.0),
    ];
    let title = format!("{title}, adjustments");
    let under = "Corrections of months that had been closed. They are not in the totals.";
    let count: usize = reports.iter().map(|r| r.adjustments.len()).sum();
    let rows = FIRST_ROW + u32::try_from(count).unwrap_or(0);
    set_up(sheet, looks, (&title, under), &columns, (3, rows))?;
    let all = reports.iter().flat_map(|r| r.adjustments.iter().map(move |a| (r, a)));
    for (row, (report, a)) in (FIRST_ROW..).zip(all) {
        sheet.write_datetime_with_format(row, 0, &day(report)?, &looks.month)?;
        sheet.write_string_with_format(row, 1, &a.month, &looks.text)?;
        sheet.write_string_with_format(row, 2, &a.farm, looks.of_text(&a.farm))?;
        for (at, value) in [(3, a.reported), (4, a.now), (5, a.change)] {
            if let Some(value) = value {
                sheet.write_number_with_format(row, at, value, &looks.money)?;
            }
        }
    }
    Ok(())
}

/// Method, units and cautions.
pub fn write(
    sheet: &mut Worksheet,
    looks: &Looks,
    last: &Published,
    reports: &[Published],
) -> Result<(), XlsxError> {
    sheet.set_name("Notes")?;
    sheet.set_column_width(0, 22)?;
    sheet.set_column_width(1, 100)?;
    sheet.set_landscape().set_paper_size(PAPER_A4).set_print_fit_to_pages(1, 0);
    sheet.set_footer("&RPage &P of &N");
    sheet.write_string_with_format(0, 0, "How to read this workbook", &looks.title)?;
    let open: Vec<String> =
        reports.iter().filter(|r| !r.is_closed).map(|r| r.month.to_string()).collect();
    let open = if open.is_empty() {
        "All months are closed: later corrections show as adjustments.".to_owned()
    } else {
        format!("Still open, so the numbers may change: {}.", open.join(", "))
    };
    let dry = last
        .dry_matter_percent
        .map_or(String::new(), |p| format!(" Fresh fodder is counted as {p} % dry matter."));
    let lines = [
        ("Method", last.method.clone()),
        ("Units", format!("{}; money in {}.{dry}", last.units, last.currency)),
        (
            "Empty cells",
            "Not recorded, or it can not be told. The status says why a farm has no number; the \
             last column says what is missing. Empty is not zero."
                .to_owned(),
        ),
        (
            "Status",
            "estimated: there is a number; not_started: no fodder yet; start_month: fodder began \
             in this month; missing: something was not recorded. Sums count estimated farms only."
                .to_owned(),
        ),
        (
            "Intervals",
            "Low and high end of a 95 % interval. Where zero lies between them it can not be told \
             whether the farm saves or loses."
                .to_owned(),
        ),
        ("Losses", "A negative saving is a loss.".to_owned()),
        ("Months", open),
        ("Cautions", format!("{}.", last.caution)),
    ];
    for (row, (name, text)) in (2_u32..).zip(lines) {
        sheet.write_string_with_format(row, 0, name, &looks.text)?;
        sheet.write_string_with_format(row, 1, text, &looks.wrapped)?;
    }
    Ok(())
}
