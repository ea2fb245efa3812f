//! Indicators for funders: what each means, what it is in each co-operative, and why one is not
//! shown.

use super::blocks::{Block, Item, Leaf, Link};
use super::page::{Page, plain_money, shown};
use super::site::{Shown, file, query};
use super::totals::name;
use super::visit::Visit;
use traybook_answers::programme::{
    CooperativeIndicators, Indicator, IndicatorLine, Indicators, NotShown,
};
use traybook_app::AppError;
use traybook_app::savings::indicators::{DROPPED_MONTHS, GREW_MONTHS};
use traybook_domain::Month;
use traybook_reports::csv_text::line;
use traybook_reports::plain_sheet::{self, Entry};

/// Media type of a workbook.
const XLSX: &str = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet";

/// Months that a page or a file is of.
async fn read(visit: &Visit) -> Result<Indicators, AppError> {
    let actor = visit.actor()?;
    let month = visit.month(actor)?;
    let from = visit.month_named("from")?.unwrap_or(month);
    visit.state.app.indicators(actor, (from, month)).await
}

/// Adds the indicators to the page of totals.
pub(super) async fn show(
    visit: &Visit,
    leaf: &mut Leaf,
    months: (Month, Month),
) -> Result<(), AppError> {
    let all = visit.state.app.indicators(visit.actor()?, months).await?;
    let page = visit.page();
    leaf.heading("indicators-title");
    leaf.add(Block::Text(page.with("indicators-hidden", "count", all.members_min)));
    let items = Indicator::ALL.iter().map(|indicator| item(&page, &all, *indicator));
    leaf.add(Block::List(items.collect()));
    let months = [months.0, months.1].map(|m| m.to_string());
    let [from, month] = &months;
    let to = query(&[("from", from), ("month", month)]);
    leaf.add(Block::Links(vec![
        Link::to(format!("/indicators.csv?{to}"), page.say("as-csv")),
        Link::to(format!("/indicators.xlsx?{to}"), page.say("as-workbook")),
    ]));
    Ok(())
}

/// One indicator: what it means, and a line a co-operative.
fn item(page: &Page, all: &Indicators, indicator: Indicator) -> Item {
    let mut lines = vec![means(page, indicator)];
    for coop in &all.cooperatives {
        let own: Vec<&IndicatorLine> =
            coop.lines.iter().filter(|l| l.indicator == indicator).collect();
        // Hidden groups are named together: the reason is one.
        let is_hidden = |l: &&&IndicatorLine| {
            l.not_shown == Some(NotShown::FewPeople) && l.month.is_none() && l.group != "all"
        };
        let shown = own.iter().filter(|l| !is_hidden(l));
        let mut facts: Vec<String> = shown.map(|l| fact(page, coop, l)).collect();
        let hidden: Vec<String> =
            own.iter().filter(is_hidden).map(|l| name(page, &l.group)).collect();
        if !hidden.is_empty() {
            facts.push(page.with("not-shown-groups", "groups", hidden.join(", ")));
        }
        lines.push(format!("{}: {}", coop.cooperative, facts.join(" · ")));
    }
    Item { title: page.word("indicator", indicator.text()), lines, ..Item::default() }
}

/// The definition.
fn means(page: &Page, indicator: Indicator) -> String {
    let args =
        [("silent", i64::from(DROPPED_MONTHS).into()), ("grew", i64::from(GREW_MONTHS).into())];
    page.tell(&format!("indicator-means-{}", indicator.text()), &args)
}

fn fact(page: &Page, coop: &CooperativeIndicators, l: &IndicatorLine) -> String {
    let of = match l.month {
        Some(month) => page.month(month.0),
        None if l.group == "all" => String::new(),
        None => name(page, &l.group),
    };
    let value = match (l.value, l.not_shown) {
        (Some(value), _) if l.indicator == Indicator::Saving => {
            format!("{} {}", coop.currency, plain_money(value.real()))
        }
        (Some(value), _) => shown(&value, 1),
        (None, _) => why(page, l),
    };
    let between = l.interval.map(|i| {
        let (low, high) = i.ends();
        let args = [("low", plain_money(low).into()), ("high", plain_money(high).into())];
        format!(" ({})", page.tell("low-to-high", &args))
    });
    format!("{of} {value}{}", between.unwrap_or_default()).trim_start().to_owned()
}

fn why(page: &Page, l: &IndicatorLine) -> String {
    // Where a share of groups is hidden, a hidden group is the reason; else it is the figure's own.
    let shares = [Indicator::WomenTrainedPercent, Indicator::WomenGrowingPercent];
    let is_own = l.group == "all" && !shares.contains(&l.indicator);
    match l.not_shown.unwrap_or(NotShown::NotKnown) {
        NotShown::FewPeople if is_own => page.say("not-shown-few-in-all"),
        reason => page.word("not-shown", reason.text()),
    }
}

/// The indicators as CSV, with the definition beside each figure.
pub(super) async fn csv(visit: Visit) -> Shown {
    let (all, page) = (read(&visit).await?, visit.page());
    let mut out = line(&[
        "from",
        "until",
        "cooperative",
        "currency",
        "indicator",
        "definition",
        "group",
        "month",
        "value",
        "low",
        "high",
        "not_shown",
    ]);
    for coop in &all.cooperatives {
        for l in &coop.lines {
            let text = |value: Option<String>| value.unwrap_or_default();
            out.push_str(&line(&[
                all.from.0.to_string(),
                all.month.0.to_string(),
                coop.cooperative.clone(),
                coop.currency.clone(),
                l.indicator.text().to_owned(),
                means(&page, l.indicator),
                l.group.clone(),
                text(l.month.map(|m| m.0.to_string())),
                text(l.value.map(|v| v.to_string())),
                text(l.interval.map(|i| i.low.to_string())),
                text(l.interval.map(|i| i.high.to_string())),
                text(l.not_shown.map(|n| n.text().to_owned())),
            ]));
        }
    }
    let name = format!("indicators-{}.csv", all.month.0);
    Ok(file(&name, "text/csv; charset=utf-8", out.into_bytes()))
}

/// The same as a workbook, in words.
pub(super) async fn workbook(visit: Visit) -> Shown {
    let (all, page) = (read(&visit).await?, visit.page());
    let keys = [
        "cooperative",
        "indicator",
        "indicator-definition",
        "totals-group",
        "month",
        "indicator-value",
        "indicator-low",
        "indicator-high",
        "note",
    ];
    let header = keys.map(|key| page.say(key));
    let mut rows = Vec::new();
    for coop in &all.cooperatives {
        for l in &coop.lines {
            let real = |d: Option<traybook_answers::Decimal>| Entry::Number(d.map(|d| d.real()));
            let remark = l.not_shown.map(|_| why(&page, l));
            let unit = (l.indicator == Indicator::Saving).then(|| coop.currency.clone());
            rows.push(vec![
                Entry::Text(coop.cooperative.clone()),
                Entry::Text(page.word("indicator", l.indicator.text())),
                Entry::Text(means(&page, l.indicator)),
                Entry::Text(name(&page, &l.group)),
                Entry::Text(l.month.map(|m| page.month(m.0)).unwrap_or_default()),
                real(l.value),
                real(l.interval.map(|i| i.low)),
                real(l.interval.map(|i| i.high)),
                Entry::Text(remark.or(unit).unwrap_or_default()),
            ]);
        }
    }
    let bytes = plain_sheet::figures(&page.say("indicators-title"), &header, &rows)
        .map_err(|e| AppError::Internal(e.to_string()))?;
    Ok(file(&format!("indicators-{}.xlsx", all.month.0), XLSX, bytes))
}
