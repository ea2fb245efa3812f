//! Indicators for funders: what each means, what it is in each co-operative, and why one is not
//! shown.

use super::blocks::{Block, Field, Input, Item, Leaf, Link};
use super::page::{Page, plain_money, shown};
use super::site::{Shown, file, query};
use super::totals::name;
use super::visit::Visit;
use traybook_answers::savings::programme::{
    CooperativeIndicators, Indicator, IndicatorLine, Indicators, NotShown,
};
use traybook_app::AppError;
use traybook_app::savings::indicators::{DROPPED_MONTHS, GREW_MONTHS};
use traybook_domain::Month;
use traybook_domain::savings::small_years::Period;
use traybook_reports::csv_text::line;
use traybook_reports::plain_sheet::{self, Entry};

/// Media type of a workbook.
const XLSX: &str = "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet";

/// Periods that the person may ask for, where not any may be.
type Periods = Option<Vec<(Month, Month)>>;

/// Months that a page or a file is of.
async fn read(visit: &Visit) -> Result<(Indicators, bool), AppError> {
    let (actor, app) = (visit.actor()?, &visit.state.app);
    let periods = app.indicator_periods(actor)?;
    let latest = periods.as_ref().and_then(|p| p.first()).copied();
    let months = match latest {
        Some(latest) if visit.field("month").is_none() => latest,
        _ => {
            let month = visit.month(actor)?;
            (visit.month_named("from")?.unwrap_or(month), month)
        }
    };
    Ok((app.indicators(actor, months).await?, is_so_far(periods.as_ref(), months)))
}

/// Whether what the quarters of the period would give away is hidden, too.
fn is_so_far(periods: Option<&Vec<(Month, Month)>>, (from, to): (Month, Month)) -> bool {
    periods.is_some() && matches!(Period::of(from, to), Some(Period::SoFar(_)))
}

/// The choice of a period in the form of the page; none where the months of the page are it.
pub(super) fn field(visit: &Visit) -> Result<Option<Field>, AppError> {
    let Some(periods) = visit.state.app.indicator_periods(visit.actor()?)? else { return Ok(None) };
    let page = visit.page();
    let chosen = chosen(visit, &periods)?.map(|period| name_of(&period)).unwrap_or_default();
    let choice = |period: &(Month, Month)| {
        // In digits: a choice is no wider than a field of a telephone.
        let args = [("from", period.0.to_string().into()), ("to", period.1.to_string().into())];
        (name_of(period), page.tell("indicators-period", &args))
    };
    let choices = Input::Choice(periods.iter().map(choice).collect());
    Ok(Some(Field::new("period", page.say("indicators-of"), choices).value(chosen)))
}

fn name_of((from, to): &(Month, Month)) -> String {
    format!("{from}_{to}")
}

/// The period that is chosen: by the form, else by the months of the page, else the latest.
fn chosen(visit: &Visit, periods: &[(Month, Month)]) -> Result<Option<(Month, Month)>, AppError> {
    if let Some(name) = visit.field("period") {
        let known = periods.iter().find(|p| name_of(p) == name);
        let unknown = || AppError::field("period", "choice", "choose one of the periods");
        return known.copied().map(Some).ok_or_else(unknown);
    }
    let months = visit.month_named("from")?.zip(visit.month_named("month")?);
    Ok(months.filter(|m| periods.contains(m)).or_else(|| periods.first().copied()))
}

/// Adds the indicators to the page of totals.
pub(super) async fn show(
    visit: &Visit,
    leaf: &mut Leaf,
    months: (Month, Month),
) -> Result<(), AppError> {
    let (actor, app, page) = (visit.actor()?, &visit.state.app, visit.page());
    let periods: Periods = app.indicator_periods(actor)?;
    let months = match &periods {
        Some(periods) => chosen(visit, periods)?,
        None => Some(months),
    };
    let Some(months) = months else { return Ok(()) };
    let all = app.indicators(actor, months).await?;
    leaf.heading("indicators-title");
    if periods.is_some() {
        let args = [("from", page.month(months.0).into()), ("to", page.month(months.1).into())];
        leaf.add(Block::Text(page.tell("indicators-of-period", &args)));
    }
    leaf.add(Block::Text(page.with("indicators-hidden", "count", all.members_min)));
    let is_so_far = is_so_far(periods.as_ref(), months);
    if is_so_far {
        leaf.text("indicators-so-far");
    }
    let items = Indicator::ALL.iter().map(|indicator| item(&page, (&all, is_so_far), *indicator));
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
fn item(page: &Page, (all, is_so_far): (&Indicators, bool), indicator: Indicator) -> Item {
    let mut lines = vec![means(page, indicator)];
    for coop in &all.cooperatives {
        let own: Vec<&IndicatorLine> =
            coop.lines.iter().filter(|l| l.indicator == indicator).collect();
        // Hidden groups are named together: the reason is one.
        let is_hidden = |l: &&&IndicatorLine| {
            l.not_shown == Some(NotShown::FewPeople) && l.month.is_none() && l.group != "all"
        };
        let shown = own.iter().filter(|l| !is_hidden(l));
        let mut facts: Vec<String> = shown.map(|l| fact(page, coop, (l, is_so_far))).collect();
        let hidden: Vec<String> =
            own.iter().filter(is_hidden).map(|l| name(page, &l.group)).collect();
        if !hidden.is_empty() {
            let key = if is_so_far { "not-shown-groups-so-far" } else { "not-shown-groups" };
            facts.push(page.with(key, "groups", hidden.join(", ")));
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

fn fact(
    page: &Page,
    coop: &CooperativeIndicators,
    (l, is_so_far): (&IndicatorLine, bool),
) -> String {
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
        (None, _) => why(page, l, is_so_far),
    };
    let between = l.interval.map(|i| {
        let (low, high) = i.ends();
        let args = [("low", plain_money(low).into()), ("high", plain_money(high).into())];
        format!(" ({})", page.tell("low-to-high", &args))
    });
    format!("{of} {value}{}", between.unwrap_or_default()).trim_start().to_owned()
}

fn why(page: &Page, l: &IndicatorLine, is_so_far: bool) -> String {
    let counts = [
        Indicator::PeopleTrained,
        Indicator::WomenTrainedPercent,
        Indicator::FarmsGrowing,
        Indicator::WomenGrowingPercent,
        Indicator::FarmsActive,
    ];
    if is_so_far && l.not_shown == Some(NotShown::FewPeople) && counts.contains(&l.indicator) {
        return page.say("not-shown-so-far");
    }
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
    let ((all, _), page) = (read(&visit).await?, visit.page());
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
    let ((all, is_so_far), page) = (read(&visit).await?, visit.page());
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
            let remark = l.not_shown.map(|_| why(&page, l, is_so_far));
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
