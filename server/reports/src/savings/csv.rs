//! The savings report as CSV.

use crate::csv_text;
use traybook_answers::Decimal;
use traybook_answers::savings::{
    Adjustment, FarmLine, Figures, Interval, Money, OutputChange, SavingsReport, SinceStart,
    Spoiling, Status, Total,
};
use traybook_answers::sheet::Cell;
use traybook_domain::Month;

/// A row of the file; cells that say nothing of it stay empty.
#[derive(Default)]
struct Row<'a> {
    kind: &'static str,
    month: String,
    area: &'a str,
    member_number: &'a str,
    member_name: &'a str,
    farm: &'a str,
    enterprise: &'a str,
    status: Option<Status>,
    animals: Option<Decimal>,
    figures: Figures,
    included: Option<i64>,
    left_out: Option<i64>,
    missing: String,
    notes: String,
    since: Option<SinceStart>,
    change: Option<&'a OutputChange>,
    spoilage: Option<Spoiling>,
}

/// The report as CSV: a row a farm, and one a class of animals where a farm has several; then areas,
/// the co-operative, and adjustments.
#[must_use]
pub fn csv(report: &SavingsReport) -> String {
    let month = report.month.0;
    let mut out = csv_text::line(&cells(&Row::default()).map(|(name, _)| name));
    let mut put = |row: Row<'_>| {
        out.push_str(&csv_text::line(&cells(&row).map(|(_, cell)| cell)));
    };
    for f in &report.farms {
        put(farm(f, month));
        enterprises(f, month).for_each(&mut put);
    }
    for t in &report.areas {
        put(Row { kind: "area", area: &t.name, ..total(t, month) });
    }
    if let Some(t) = &report.total {
        put(Row { kind: "cooperative", ..total(t, month) });
    }
    for a in &report.adjustments {
        put(adjustment(a));
    }
    if let Some(settled) = report.settled.filter(|s| s.units != 0) {
        let money = Money { saving: Some(settled), ..Money::default() };
        put(Row {
            kind: "settled",
            figures: Figures { money, ..Figures::default() },
            notes: "feed in use at the close, settled".to_owned(),
            ..Row::default()
        });
    }
    out
}

fn farm(f: &FarmLine, month: Month) -> Row<'_> {
    Row {
        kind: "farm",
        month: month.to_string(),
        area: f.area.as_deref().unwrap_or_default(),
        member_number: &f.member_number,
        member_name: &f.member_name,
        farm: &f.farm,
        enterprise: match f.enterprises.as_slice() {
            [one] => &one.enterprise,
            _ => "",
        },
        status: Some(f.status),
        animals: f.animals,
        figures: f.figures,
        missing: joined(&f.waits),
        notes: joined(&f.notes),
        since: f.since_start,
        change: f.output_change.as_ref(),
        spoilage: f.spoilage_status,
        ..Row::default()
    }
}

/// The classes of animals of a farm that has several.
fn enterprises(f: &FarmLine, month: Month) -> impl Iterator<Item = Row<'_>> {
    let several = if f.enterprises.len() > 1 { f.enterprises.as_slice() } else { &[] };
    several.iter().map(move |e| Row {
        kind: "enterprise",
        month: month.to_string(),
        area: f.area.as_deref().unwrap_or_default(),
        member_number: &f.member_number,
        member_name: &f.member_name,
        farm: &f.farm,
        enterprise: &e.enterprise,
        status: Some(e.status),
        figures: Figures { money: e.money, ..Figures::default() },
        ..Row::default()
    })
}

fn total(t: &Total, month: Month) -> Row<'_> {
    let reasons =
        t.left_out_by_status.iter().map(|(status, farms)| format!("{farms} {}", status.text()));
    Row {
        month: month.to_string(),
        figures: t.figures,
        included: Some(t.farms_included),
        left_out: Some(t.farms_left_out),
        missing: reasons.collect::<Vec<_>>().join("; "),
        since: t.since_start,
        ..Row::default()
    }
}

fn adjustment(a: &Adjustment) -> Row<'_> {
    let text = |v: Option<Decimal>| v.map_or("no number".to_owned(), |v| v.to_string());
    let money = Money { saving: Some(a.change), ..Money::default() };
    Row {
        kind: "adjustment",
        month: a.month.to_string(),
        farm: &a.farm,
        enterprise: a.enterprise.as_deref().unwrap_or_default(),
        figures: Figures { money, ..Figures::default() },
        notes: format!("reported {}, now {}", text(a.reported), text(a.now)),
        ..Row::default()
    }
}

fn joined<T: Cell>(texts: &[T]) -> String {
    texts.iter().map(T::cell).collect::<Vec<_>>().join("; ")
}

/// The columns with a row's cells.
fn cells(r: &Row<'_>) -> [(&'static str, String); 52] {
    let (f, m) = (&r.figures, &r.figures.money);
    let between = r.change.and_then(OutputChange::between);
    let tenth = |v: Option<f64>| v.map(|v| format!("{v:.1}")).unwrap_or_default();
    let low = |i: Option<Interval>| i.map(|i| i.low).cell();
    let high = |i: Option<Interval>| i.map(|i| i.high).cell();
    [
        ("month", r.month.clone()),
        ("row", r.kind.to_owned()),
        ("area", r.area.to_owned()),
        ("member_number", r.member_number.to_owned()),
        ("member_name", r.member_name.to_owned()),
        ("farm", r.farm.to_owned()),
        ("enterprise", r.enterprise.to_owned()),
        ("status", r.status.cell()),
        ("animals", r.animals.cell()),
        ("animal_days", m.animal_days.cell()),
        ("baseline_cost", m.baseline_cost.cell()),
        ("eaten_cost", m.eaten_cost.cell()),
        ("feed_saving", m.feed_saving.cell()),
        ("seed_cost", m.seed_cost.cell()),
        ("other_cost", m.other_cost.cell()),
        ("depreciation", m.depreciation.cell()),
        ("saving", m.saving.cell()),
        ("saving_low", low(m.saving_interval)),
        ("saving_high", high(m.saving_interval)),
        ("output_value", m.output_value.cell()),
        ("output_value_low", low(m.output_value_interval)),
        ("output_value_high", high(m.output_value_interval)),
        ("net", m.net.cell()),
        ("net_low", low(m.net_interval)),
        ("net_high", high(m.net_interval)),
        ("saving_percent_of_baseline", f.saving_percent_of_baseline.cell()),
        ("saving_per_animal_day", f.saving_per_animal_day.cell()),
        ("saving_per_litre", f.saving_per_litre.cell()),
        ("saving_per_egg", f.saving_per_egg.cell()),
        ("missing", r.missing.clone()),
        ("notes", r.notes.clone()),
        ("saving_since_start", r.since.map(|s| s.saving).cell()),
        ("saving_since_start_low", low(r.since.and_then(|s| s.saving_interval))),
        ("saving_since_start_high", high(r.since.and_then(|s| s.saving_interval))),
        ("farm_months", r.since.map(|s| s.farm_months).cell()),
        ("of_farm_months", r.since.map(|s| s.of_farm_months).cell()),
        ("farms_included", r.included.cell()),
        ("farms_left_out", r.left_out.cell()),
        ("bought_cost", f.bought_cost.cell()),
        ("fresh_fodder_fed_kg", f.fresh_fodder_fed_kg.cell()),
        ("dry_matter_fed_kg", f.dry_matter_fed_kg.cell()),
        ("fodder_cost_per_kg_dry_matter", f.fodder_cost_per_kg_dry_matter.cell()),
        ("trays_started", f.trays_started.cell()),
        ("trays_discarded", f.trays_discarded.cell()),
        ("trays_discarded_percent", f.trays_discarded_percent.cell()),
        ("litres_per_cow_day", f.litres_per_cow_day.cell()),
        ("hen_day_percent", f.hen_day_percent.cell()),
        ("output_change_percent", tenth(between.map(|c| c.0))),
        ("output_change_low", tenth(between.map(|c| c.1))),
        ("output_change_high", tenth(between.map(|c| c.2))),
        ("spoilage_status", r.spoilage.cell()),
        ("trays_fed_unweighed", f.trays_fed_unweighed.cell()),
    ]
}
