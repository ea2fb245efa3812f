//! A member's own page of the savings report, to be printed and handed over.

use super::wording::{between, is_open, money, money_or, month_name, or_dash, reason, sentence};
use super::{FarmLine, Figures, Published};
use crate::charts::number;
use crate::pdf::{About, Align, Paper, Row, Table};

/// The page of a farm's member as PDF; `None` where the farm is not in the report.
///
/// # Errors
/// A text that says what went wrong in writing.
pub fn member_pdf(report: &Published, farm_id: &str) -> Result<Option<Vec<u8>>, String> {
    let Some(farm) = report.farms.iter().find(|f| f.farm_id == farm_id) else { return Ok(None) };
    let mut paper = Paper::new(About {
        title: format!("{}: {}, {}", report.cooperative, farm.member_name, report.month),
        author: report.cooperative.clone(),
        language: "en".to_owned(),
        day: report.month.last_day(),
        page_of: "page {page} of {pages}".to_owned(),
    })?;
    paper.heading(1, &format!("{}: {}", farm.member_name, month_name(report)));
    let area = farm.area.as_deref().map_or(String::new(), |a| format!(", {a}"));
    paper.paragraph(&format!(
        "{}. Member {}, farm {}{area}. {} animals on average.",
        report.cooperative,
        farm.member_number,
        farm.farm,
        or_dash(farm.animals, 1, "")
    ));
    paper.strong(&headline(report, farm));
    if let Some(said) = farm.is_estimated().then(|| certainty(&farm.figures)) {
        paper.paragraph(&said);
    }
    paper.heading(2, &format!("Where the money went, {}", report.currency));
    paper.table(&amounts(&farm.figures, report.digits));
    rest(&mut paper, report, farm);
    paper.finish().map(Some)
}

fn headline(report: &Published, farm: &FarmLine) -> String {
    let currency = &report.currency;
    match farm.figures.get("saving").filter(|_| farm.is_estimated()) {
        None => format!("There is {}.", reason(farm)),
        Some(s) if s < 0.0 => format!("You lost {currency} {} this month.", money(s.abs())),
        Some(s) => format!("You saved {currency} {} this month.", money(s)),
    }
}

fn certainty(figures: &Figures) -> String {
    let Some(range) = between(figures.interval) else {
        return "How sure this is can not be said: too few months before fodder were recorded."
            .to_owned();
    };
    if is_open(figures) {
        format!(
            "The 95 % interval is {range}. Zero lies within it, so it can not be told yet whether \
             this was a saving or a loss."
        )
    } else {
        format!("The 95 % interval is {range}.")
    }
}

fn amounts(figures: &Figures, currency_digits: u8) -> Table {
    // As many digits as the report gives: an egg saves a small part of a small coin.
    let digits = usize::from(currency_digits) + 2;
    let mut table = Table::new(&[("", 340.0, Align::Left), ("", 140.0, Align::Right)]);
    table.size = 11.0;
    let lines = [
        ("What the ration before fodder would have cost", "baseline_cost"),
        ("Feed bought", "feed_cost"),
        ("Seed soaked", "seed_cost"),
        ("Other costs of fodder", "other_cost"),
        ("Wear of shed and trays (depreciation)", "depreciation"),
    ];
    for (name, figure) in lines {
        table.rows.push(Row::of([name.to_owned(), money_or(figures.get(figure))]));
    }
    let saving = Row::of(["Saved (minus: lost)".to_owned(), money_or(figures.get("saving"))]);
    table.rows.push(Row { ruled: true, ..saving.bold() });
    for (name, figure) in [
        ("· for each litre of milk", "saving_per_litre"),
        ("· for each egg", "saving_per_egg"),
        ("· for each animal and day", "saving_per_animal_day"),
    ] {
        if let Some(value) = figures.get(figure) {
            table.rows.push(Row::of([name.to_owned(), number(value, digits)]));
        }
    }
    table
}

/// Output, spoilage, what is missing, cautions.
fn rest(paper: &mut Paper, report: &Published, farm: &FarmLine) {
    let figures = &farm.figures;
    paper.heading(2, "Milk and eggs");
    let mut said = Vec::new();
    if let Some(litres) = figures.get("litres_per_cow_day") {
        said.push(format!("{} litres a cow a day.", number(litres, 1)));
    }
    if let Some(eggs) = figures.get("hen_day_percent") {
        said.push(format!("{} eggs a day for 100 hens.", number(eggs, 1)));
    }
    if said.is_empty() {
        said.push("No milk or eggs were recorded.".to_owned());
    }
    if let Some(output) = &farm.output {
        said.push(format!("Since fodder began: {}.", output.sentence.trim_end_matches('.')));
    }
    paper.paragraph(&said.join(" "));
    paper.heading(2, "Trays");
    let spread = figures.get("trays_started");
    let mut said = match spread {
        None => vec!["No trays were recorded.".to_owned()],
        Some(spread) => vec![format!(
            "{} trays spread, {} thrown away ({}).",
            number(spread, 0),
            or_dash(figures.get("trays_discarded"), 0, ""),
            or_dash(figures.get("trays_discarded_percent"), 1, " %"),
        )],
    };
    if farm.seed_is_suspect() {
        let text = "Trays keep spoiling, and the evidence points at the seed lot: keep it apart and ask \
                    your officer.";
        said.push(text.to_owned());
    } else if farm.keeps_spoiling() {
        said.push("Trays keep spoiling: go through the checklist with your officer.".to_owned());
    }
    paper.paragraph(&said.join(" "));
    let open: Vec<&str> = farm.missing.iter().chain(&farm.notes).map(String::as_str).collect();
    if !open.is_empty() {
        paper.heading(2, "What the records lack");
        paper.paragraph(&format!(
            "{}. What is not recorded is not counted as zero.",
            open.join("; ")
        ));
    }
    paper.heading(2, "Cautions");
    paper.paragraph(&sentence(&report.caution));
    paper.aside(&sentence(&report.method));
}
