//! The savings report for the board: a PDF that says on its first page what the month was.

use super::wording::{
    bar, bars, between, count, is_open, money, money_or, month_name, or_dash, reason, sentence,
    verdict,
};
use super::{FarmLine, Figures, Published};
use crate::charts::{Interval, intervals_picture};
use crate::pdf::{About, Align, Cell, Paper, Row, Table};

/// Bars on one page of charts.
const BARS: usize = 22;
/// Bars in all: beyond this many members the ends are shown and the middle is left to the table.
const BARS_MAX: usize = 44;

/// The report of a month as PDF; the same bytes for the same report.
///
/// # Errors
/// A text that says what went wrong in writing.
pub fn board_pdf(report: &Published) -> Result<Vec<u8>, String> {
    let mut paper = Paper::new(About {
        title: format!("{}: savings of {}", report.cooperative, report.month),
        author: report.cooperative.clone(),
        language: "en".to_owned(),
        day: report.month.last_day(),
        page_of: "page {page} of {pages}".to_owned(),
    })?;
    glance(&mut paper, report);
    area_chart(&mut paper, report);
    members(&mut paper, report);
    member_chart(&mut paper, report);
    adjustments(&mut paper, report);
    method(&mut paper, report);
    paper.finish()
}

/// The first page: the month at a glance.
fn glance(paper: &mut Paper, report: &Published) {
    paper.heading(1, &format!("Savings of {}", month_name(report)));
    let state = if report.is_closed {
        "The month is closed: later corrections show as adjustments of later months."
    } else {
        "The month is still open: numbers change with what is recorded or corrected."
    };
    paper.paragraph(&format!("{}. {state}", report.cooperative));
    let Some(total) = &report.total else {
        paper.paragraph("This copy holds single farms only, without totals.");
        return;
    };
    paper.strong(&headline(report, total));
    paper.paragraph(&meaning(total));
    paper.heading(2, "The month at a glance");
    let mut table = Table::new(&[("", 290.0, Align::Left), ("", 150.0, Align::Right)]);
    for (name, value) in facts(report, total) {
        let is_saving = name.starts_with("Saving,");
        let row = Row::of([name, value]);
        table.rows.push(if is_saving { row.bold() } else { row });
    }
    paper.table(&table);
}

fn headline(report: &Published, total: &Figures) -> String {
    let counted = count(total.get("farms_included"), "farm", "farms");
    match total.get("saving") {
        None => "No farm has a number this month.".to_owned(),
        Some(s) if s < 0.0 => {
            format!("{counted} together lost {} {}.", report.currency, money(s.abs()))
        }
        Some(s) => format!("{counted} together saved {} {}.", report.currency, money(s)),
    }
}

fn meaning(total: &Figures) -> String {
    let Some(range) = between(total.interval) else {
        return "There is no interval yet: two farms with a number are needed to judge how far \
                chance may have moved the sum."
            .to_owned();
    };
    let told = if is_open(total) {
        "Zero lies within it: whether the farms as a whole save or lose can not be told yet."
    } else {
        "Zero lies outside it: this is more than chance."
    };
    format!("The 95 % interval of the sum is {range}. {told}")
}

fn facts(report: &Published, total: &Figures) -> Vec<(String, String)> {
    let currency = &report.currency;
    let plain = |name: &str| or_dash(total.get(name), 0, "");
    let mut facts = vec![
        (
            format!("Ration before fodder at this month's prices, {currency}"),
            money_or(total.get("baseline_cost")),
        ),
        (format!("Feed bought, {currency}"), money_or(total.get("feed_cost"))),
        (
            format!("Seed, other costs and depreciation of fodder, {currency}"),
            money_or(total.fodder_cost()),
        ),
        (format!("Saving, {currency} (minus: loss)"), money_or(total.get("saving"))),
        (
            "Saving as a share of the ration before fodder".to_owned(),
            or_dash(total.get("saving_percent_of_baseline"), 1, " %"),
        ),
        ("Farms with a number".to_owned(), plain("farms_included")),
        ("· of these saving".to_owned(), plain("farms_saving")),
        ("· of these losing".to_owned(), plain("farms_losing")),
    ];
    let open = report.farms.iter().filter(|f| f.is_estimated() && is_open(&f.figures)).count();
    facts.push(("· of these so near zero that it can not be told".to_owned(), open.to_string()));
    facts.push(("Farms without a number".to_owned(), plain("farms_left_out")));
    facts.extend(output(report, total));
    facts.push(("Trays spread".to_owned(), plain("trays_started")));
    let share = or_dash(total.get("trays_discarded_percent"), 1, " %");
    facts.push(("Trays thrown away".to_owned(), format!("{} ({share})", plain("trays_discarded"))));
    let keeps = report.farms.iter().filter(|f| f.keeps_spoiling());
    facts.push(("Farms where trays keep spoiling".to_owned(), keeps.count().to_string()));
    let seed = report.farms.iter().filter(|f| f.seed_is_suspect()).count();
    facts.push(("· of these the evidence points at a seed lot".to_owned(), seed.to_string()));
    facts
}

/// Milk and eggs, and on how many farms they changed.
fn output(report: &Published, total: &Figures) -> Vec<(String, String)> {
    let mut facts = Vec::new();
    if let Some(litres) = total.get("litres_per_cow_day") {
        let litres = or_dash(Some(litres), 1, " litres");
        facts.push(("Milk a cow a day, farms with a number".to_owned(), litres));
    }
    if let Some(eggs) = total.get("hen_day_percent") {
        let eggs = or_dash(Some(eggs), 1, "");
        facts.push(("Eggs a day for 100 hens, farms with a number".to_owned(), eggs));
    }
    // Farms whose change has no number yet are among those of which it can not be told.
    let known = || report.farms.iter().filter(|f| f.is_estimated()).map(|f| f.output.as_ref());
    let percent = || known().filter_map(|o| o?.percent);
    let up = percent().filter(|p| p.1 > 0.0).count();
    let down = percent().filter(|p| p.2 < 0.0).count();
    let text = format!("{up} up, {down} down, {} cannot tell", known().count() - up - down);
    facts.push(("Milk or eggs since fodder began, farms".to_owned(), text));
    facts
}

fn area_chart(paper: &mut Paper, report: &Published) {
    let rows: Vec<Interval> =
        report.areas.iter().map(|(name, f)| bar(name, f, "no farm with a number")).collect();
    chart(paper, report, "Saving by area, with 95 % intervals", rows);
}

/// Charts in parts that fit a page.
fn chart(paper: &mut Paper, report: &Published, title: &str, rows: Vec<Interval>) {
    if !rows.iter().any(|r| r.number.is_some()) {
        return;
    }
    for (index, part) in rows.chunks(BARS).enumerate() {
        let Some(picture) = intervals_picture(&bars(title, &report.currency, part.to_vec())) else {
            continue;
        };
        paper.need(picture.height + 60.0);
        if index == 0 {
            paper.heading(2, title);
            paper.aside(
                "A filled mark: the whole interval lies on one side of zero. An open mark: zero \
                 lies inside, so it can not be told whether there is a saving or a loss.",
            );
        }
        let said: Vec<String> = part.iter().map(|r| format!("{}: {}", r.label, r.text)).collect();
        paper.picture(&picture, 1.0, &format!("{title}. {}.", said.join("; ")));
    }
}

fn member_chart(paper: &mut Paper, report: &Published) {
    let mut farms: Vec<(&FarmLine, f64)> = report
        .farms
        .iter()
        .filter(|f| f.is_estimated() && f.figures.interval.is_some())
        .filter_map(|f| Some((f, f.figures.get("saving")?)))
        .collect();
    farms.sort_by(|a, b| a.1.total_cmp(&b.1));
    let count = farms.len();
    let title = if count > BARS_MAX {
        let half = BARS_MAX / 2;
        farms.drain(half..count - half);
        format!("The {half} largest losses or smallest savings, and the {half} largest savings")
    } else {
        "Saving by member, largest loss first, with 95 % intervals".to_owned()
    };
    let rows = farms.iter().map(|(f, _)| {
        let label = format!("{} {}", f.member_number, f.member_name);
        bar(&label, &f.figures, "")
    });
    chart(paper, report, &title, rows.collect());
}

const MEMBER_COLUMNS: &[(&str, f64, Align)] = &[
    ("Number", 47.0, Align::Left),
    ("Member", 97.0, Align::Left),
    ("Animals", 44.0, Align::Right),
    ("Ration before", 59.0, Align::Right),
    ("Feed bought", 59.0, Align::Right),
    ("Fodder cost", 51.0, Align::Right),
    ("Saving (loss\u{a0}−)", 59.0, Align::Right),
    ("", 57.0, Align::Left),
    ("Trays lost", 38.0, Align::Right),
];

/// All members by area.
fn members(paper: &mut Paper, report: &Published) {
    paper.new_page();
    paper.heading(2, "Members by area");
    paper.aside(&format!(
        "Amounts in whole {}. Fodder cost: seed, other costs and depreciation, spoiled trays \
         included. A dash: not recorded. “cannot tell”: the 95 % interval holds zero. \
         “no interval”: too little was recorded to say how sure the number is. \
         Counted: farms with a number, and how many they are.",
        report.currency
    ));
    let mut table = Table::new(MEMBER_COLUMNS);
    for (area, farms) in report.by_area() {
        let name = area.unwrap_or("No area").to_owned();
        let cells = vec![Cell { text: name.clone(), span: MEMBER_COLUMNS.len() }];
        table.rows.push(Row { cells, bold: true, ruled: true, stays: true });
        table.rows.extend(farms.iter().map(|f| member(f)));
        if let Some((_, total)) = report.areas.iter().find(|(n, _)| *n == name) {
            table.rows.push(sum(&format!("{name}, counted"), total));
        }
    }
    if let Some(total) = &report.total {
        table.rows.push(sum("All areas, counted", total));
    }
    paper.table(&table);
}

fn member(farm: &FarmLine) -> Row {
    let animals = or_dash(farm.animals, 1, "");
    let mut row = Row::of([farm.member_number.clone(), farm.member_name.clone(), animals]);
    if farm.is_estimated() {
        row.cells.extend(amounts(&farm.figures));
    } else {
        row.cells.push(Cell { text: reason(farm), span: 6 });
    }
    row
}

fn amounts(figures: &Figures) -> Vec<Cell> {
    let texts = [
        money_or(figures.get("baseline_cost")),
        money_or(figures.get("feed_cost")),
        money_or(figures.fodder_cost()),
        money_or(figures.get("saving")),
        verdict(figures).to_owned(),
        or_dash(figures.get("trays_discarded_percent"), 1, " %"),
    ];
    texts.map(|text| Cell { text, span: 1 }).to_vec()
}

fn sum(name: &str, total: &Figures) -> Row {
    let mut cells = vec![Cell { text: name.to_owned(), span: 2 }];
    cells.push(Cell { text: or_dash(total.get("farms_included"), 0, ""), span: 1 });
    cells.extend(amounts(total));
    Row { cells, bold: true, ruled: true, stays: false }
}

fn adjustments(paper: &mut Paper, report: &Published) {
    if report.adjustments.is_empty() {
        return;
    }
    paper.heading(2, "Corrections of closed months");
    paper.paragraph("They were reported otherwise before, and are not in this month's sums.");
    let mut table = Table::new(&[
        ("Month", 70.0, Align::Left),
        ("Farm", 120.0, Align::Left),
        ("Reported so far", 100.0, Align::Right),
        ("Records say now", 100.0, Align::Right),
        ("Change", 100.0, Align::Right),
    ]);
    for a in &report.adjustments {
        let number = |v: Option<f64>| v.map_or("no number".to_owned(), money);
        table.rows.push(Row::of([
            a.month.clone(),
            a.farm.clone(),
            number(a.reported),
            number(a.now),
            money_or(a.change),
        ]));
    }
    paper.table(&table);
}

/// The last page: how the numbers came about and what to beware of.
fn method(paper: &mut Paper, report: &Published) {
    paper.new_page();
    paper.heading(2, "How the numbers came about");
    paper.paragraph(&sentence(&report.method));
    let dry = report
        .dry_matter_percent
        .map_or(String::new(), |p| format!(" Fresh fodder is counted as {p} % dry matter."));
    paper.paragraph(&format!("Units: {}; money in {}.{dry}", report.units, report.currency));
    paper.paragraph(
        "A farm has a number only where all that it needs was recorded. What was not recorded is \
         not counted as zero; the table names it. Sums count farms with a number only.",
    );
    paper.paragraph(
        "Spoiled trays are inside the numbers, since their seed and costs were spent. A loss is \
         shown as plainly as a saving.",
    );
    paper.heading(2, "Cautions");
    paper.paragraph(&sentence(&report.caution));
}
