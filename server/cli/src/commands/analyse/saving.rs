//! What was really saved on feed.

use super::answer::{Answer, interval};
use super::args::Saving as Asked;
use super::read::{Column, Names, Row, Table};
use serde_json::{Value, json};
use std::collections::HashMap;
use traybook_analytics::feed_panel::{FeedPanel, FeedSlices};
use traybook_analytics::limits::MONTHS_MAX;
use traybook_analytics::prices::fill_prices;
use traybook_analytics::saving::{FarmAnswer, FarmSaving, SavingRules, Savings, feed_saving};
use traybook_analytics::sentences::{saving_programme_sentence, saving_sentence};
use traybook_analytics::stats::Interval;
use traybook_domain::Month;

const METHOD: &str = "ration before the start repriced (Laspeyres) and set against a month index \
    from farms not yet started, less what was spent; Student's t on moderated baseline noise; \
    programme by ratio to animal-days (Cochran 1977); 95 % intervals";

struct Columns {
    farm: Column,
    month: Column,
    feed: Column,
    quantity: Column,
    price: Column,
    other_cost: Column,
    animal_days: Column,
    started_on: Column,
    output: Option<Column>,
}

/// Values of a farm-month, given in one or several of its rows.
#[derive(Clone, Copy, Default)]
struct FarmMonth {
    other_cost: Option<f64>,
    animal_days: Option<f64>,
    output: Option<f64>,
}

/// What a farm fed of one feed in a month, and the line that says so.
struct FeedMonth {
    quantity: Option<f64>,
    price: Option<f64>,
    line: u64,
}

#[derive(Default)]
struct Book {
    farms: Names,
    feeds: Names,
    months: HashMap<(usize, i64), FarmMonth>,
    /// By farm, month and feed.
    feed_months: HashMap<(usize, i64, usize), FeedMonth>,
    started: Vec<Option<Month>>,
}

/// The book as the estimates take it.
struct Arrays {
    first: Month,
    months: usize,
    quantity: Vec<f64>,
    price: Vec<f64>,
    other_cost: Vec<f64>,
    animal_days: Vec<f64>,
    output: Vec<f64>,
    start: Vec<Option<u32>>,
    prices_given: usize,
}

/// Reads, estimates and answers.
///
/// # Errors
/// What is wrong with the file, and what to do.
pub fn answer(asked: &Asked) -> Result<Answer, String> {
    let table = Table::open(&asked.common.file)?;
    let book = read(asked, &table)?;
    let arrays = arrays(&table, &book)?;
    let (farms, feeds) = (book.farms.len(), book.feeds.len());
    let price = fill_prices(&arrays.price, farms, arrays.months, feeds);
    let price = price.map_err(|e| format!("{}: {e}", table.name()))?;
    let slices = FeedSlices {
        quantity: &arrays.quantity,
        price: &price,
        other_cost: &arrays.other_cost,
        animal_days: &arrays.animal_days,
        output: &arrays.output,
        start: &arrays.start,
    };
    let panel = FeedPanel::new(arrays.months, feeds, slices);
    let panel = panel.map_err(|e| format!("{}: {e}", table.name()))?;
    let savings = feed_saving(&panel, &SavingRules::default());
    let filled = price.iter().filter(|p| !p.is_nan()).count();
    let numbers = json!({
        "farms": farms,
        "farms_started": arrays.start.iter().flatten().count(),
        "farms_estimated": savings.farms.iter().filter(|f| f.saving.is_some()).count(),
        "months": arrays.months,
        "first_month": (arrays.months > 0).then(|| arrays.first.to_string()),
        "feeds": feeds,
        "farm_months": book.months.len(),
        "prices_given": arrays.prices_given,
        "prices_filled": filled - arrays.prices_given,
        "months_with_index": savings.month_index.iter().flatten().count(),
        "relative_variance": savings.relative_variance,
    });
    let c = &asked.currency;
    let units = json!({
        "saving": c,
        "per_animal_day": format!("{c} per animal-day"),
        "per_unit": format!("{c} per litre or egg"),
    });
    let rows = savings.farms.iter().enumerate();
    let rows: Vec<Value> = rows.map(|(farm, a)| farm_row(&book, &arrays, farm, a, c)).collect();
    Ok(Answer::new("saving", METHOD, units, numbers)
        .with("farms", Value::Array(rows))
        .with("programme", programme_row(&savings, c))
        .with("months", month_rows(&book, &arrays, &savings)))
}

fn read(asked: &Asked, table: &Table) -> Result<Book, String> {
    let columns = Columns {
        farm: table.column(&asked.farm, "--farm")?,
        month: table.column(&asked.month, "--month")?,
        feed: table.column(&asked.feed, "--feed")?,
        quantity: table.column(&asked.quantity, "--quantity")?,
        price: table.column(&asked.price, "--price")?,
        other_cost: table.column(&asked.other_cost, "--other-cost")?,
        animal_days: table.column(&asked.animal_days, "--animal-days")?,
        started_on: table.column(&asked.started_on, "--started-on")?,
        output: table.optional(asked.output.as_deref(), "output", "--output")?,
    };
    let mut book = Book::default();
    table.read(|row| book.note(row, &columns))?;
    Ok(book)
}

impl Book {
    fn note(&mut self, row: &Row<'_>, columns: &Columns) -> Result<(), String> {
        let farm = self.farms.id(row.name(columns.farm)?);
        self.started.resize(self.farms.len(), None);
        if let Some(start) = row.month(columns.started_on)? {
            if self.started[farm].is_some_and(|held| held != start) {
                let reason = "this farm has another start in an earlier row; give one start a farm";
                return Err(row.bad(columns.started_on, reason));
            }
            self.started[farm] = Some(start);
        }
        row.name(columns.month)?;
        let month = row.month(columns.month)?.map_or(0, Month::number);
        let held = self.months.entry((farm, month)).or_default();
        keep(&mut held.other_cost, row, columns.other_cost)?;
        keep(&mut held.animal_days, row, columns.animal_days)?;
        if let Some(column) = columns.output {
            keep(&mut held.output, row, column)?;
        }
        let (quantity, price) = (Some(columns.quantity), Some(columns.price));
        let (quantity, price) = (row.amount(quantity)?, row.amount(price)?);
        let Some(feed) = row.text(columns.feed) else {
            if quantity.is_some() || price.is_some() {
                return Err(row.bad(columns.feed, "name the feed of this quantity and price"));
            }
            return Ok(());
        };
        let key = (farm, month, self.feeds.id(feed));
        if let Some(FeedMonth { line, .. }) = self.feed_months.get(&key) {
            let reason = format!(
                "this farm, month and feed stand in line {line} already; add the quantities up \
                 into one row"
            );
            return Err(row.bad(columns.feed, &reason));
        }
        self.feed_months.insert(key, FeedMonth { quantity, price, line: row.line() });
        Ok(())
    }
}

/// A value of the farm-month: rows may repeat it, not contradict it.
fn keep(held: &mut Option<f64>, row: &Row<'_>, column: Column) -> Result<(), String> {
    let Some(value) = row.amount(Some(column))? else { return Ok(()) };
    match held {
        Some(earlier) if (*earlier - value).abs() > 0.0 => {
            let reason = format!(
                "an earlier row of this farm and month says {earlier}; give one value a month, or \
                 the same one in all its rows"
            );
            Err(row.bad(column, &reason))
        }
        _ => {
            *held = Some(value);
            Ok(())
        }
    }
}

fn arrays(table: &Table, book: &Book) -> Result<Arrays, String> {
    let places = || book.months.keys().map(|(_, month)| *month);
    let first = places().min().unwrap_or(0);
    let months = places().max().map_or(0, |last| last - first + 1);
    let months = usize::try_from(months).unwrap_or(usize::MAX);
    if months > MONTHS_MAX {
        return Err(format!(
            "{}: first and last month are {months} months apart, more than {MONTHS_MAX}; look for \
             a wrong month, or cut the file",
            table.name()
        ));
    }
    let feeds = book.feeds.len();
    let cells = book.farms.len() * months;
    let place = |farm: usize, month: i64| {
        farm * months + usize::try_from(month - first).unwrap_or(usize::MAX)
    };
    let unknown = |count: usize| vec![f64::NAN; count];
    let mut arrays = Arrays {
        first: Month::from_number(first).unwrap_or(Month::of(chrono::NaiveDate::MIN)),
        months,
        quantity: unknown(cells * feeds),
        price: unknown(cells * feeds),
        other_cost: unknown(cells),
        animal_days: unknown(cells),
        output: unknown(cells),
        start: Vec::new(),
        prices_given: 0,
    };
    for ((farm, month), values) in &book.months {
        let cell = place(*farm, *month);
        arrays.other_cost[cell] = values.other_cost.unwrap_or(f64::NAN);
        arrays.animal_days[cell] = values.animal_days.unwrap_or(f64::NAN);
        arrays.output[cell] = values.output.unwrap_or(f64::NAN);
    }
    for ((farm, month, feed), FeedMonth { quantity, price, .. }) in &book.feed_months {
        let cell = place(*farm, *month) * feeds + feed;
        arrays.quantity[cell] = quantity.unwrap_or(f64::NAN);
        arrays.price[cell] = price.unwrap_or(f64::NAN);
        arrays.prices_given += usize::from(price.is_some());
    }
    let start = |start: &Option<Month>| {
        let ahead = usize::try_from((start.as_ref()?.number() - first).max(0)).ok()?;
        u32::try_from(ahead).ok().filter(|_| ahead < months)
    };
    arrays.start = book.started.iter().map(start).collect();
    Ok(arrays)
}

fn farm_row(
    book: &Book,
    arrays: &Arrays,
    farm: usize,
    answer: &FarmAnswer,
    currency: &str,
) -> Value {
    let saving = answer.saving.as_ref();
    let prices = saving.map(|s| s.prices);
    let unit_interval = saving.and_then(|s| per_unit_interval(arrays, farm, s));
    json!({
        "farm": book.farms.name(farm),
        "status": answer.status,
        "started": book.started.get(farm).copied().flatten().map(|m| m.to_string()),
        "months_before": saving.map(|s| s.baseline_months),
        "months_after": saving.map(|s| s.months.len()),
        "animal_days": saving.map(|s| s.animal_days),
        "saving": saving.map(|s| s.total.value),
        "standard_error": saving.and_then(|s| s.total.standard_error),
        "interval": interval(saving.and_then(|s| s.total.interval.as_ref())),
        "old_ration_cost": saving.map(|s| s.counterfactual_total),
        "saving_percent": saving.and_then(|s| s.percent),
        "per_animal_day": saving.map(|s| s.per_day.value),
        "per_animal_day_interval": interval(saving.and_then(|s| s.per_day.interval.as_ref())),
        "output": saving.map(|s| s.output),
        "per_unit": saving.and_then(|s| s.per_unit_matched),
        "per_unit_interval": interval(unit_interval.as_ref()),
        "degrees_of_freedom": saving.map(|s| s.degrees_of_freedom),
        "price_laspeyres": prices.and_then(|p| p.laspeyres),
        "price_paasche": prices.and_then(|p| p.paasche),
        "price_fisher": prices.and_then(|p| p.fisher),
        "bennet_quantity": prices.map(|p| p.bennet_quantity),
        "sentence": saving_sentence(answer, currency),
    })
}

/// Interval per litre or egg: only when every month counted has an output, since the total's
/// interval is over all of them.
fn per_unit_interval(arrays: &Arrays, farm: usize, saving: &FarmSaving) -> Option<Interval> {
    let has_output = |m: usize| !arrays.output[farm * arrays.months + m].is_nan();
    let is_whole = saving.months.iter().all(|m| has_output(m.month)) && saving.output > 0.0;
    let total = saving.total.interval.filter(|_| is_whole)?;
    Some(Interval { lower: total.lower / saving.output, upper: total.upper / saving.output })
}

fn programme_row(savings: &Savings, currency: &str) -> Value {
    let p = savings.programme.as_ref();
    json!({
        "status": if p.is_some() { "estimated" } else { "not_estimable" },
        "saving": p.map(|p| p.total),
        "standard_error": p.map(|p| p.total_standard_error),
        "interval": interval(p.map(|p| &p.total_interval)),
        "per_animal_day": p.map(|p| p.per_day),
        "per_animal_day_interval": interval(p.map(|p| &p.per_day_interval)),
        "saving_of_estimated_farms": p.map(|p| p.sample_total),
        "animal_days": p.map(|p| p.animal_days),
        "farms": p.map_or(0, |p| p.farms),
        "sentence": saving_programme_sentence(p, currency),
    })
}

fn month_rows(book: &Book, arrays: &Arrays, savings: &Savings) -> Value {
    let mut rows = Vec::new();
    for (farm, answer) in savings.farms.iter().enumerate() {
        for m in answer.saving.iter().flat_map(|s| &s.months) {
            let ahead = i32::try_from(m.month).unwrap_or(i32::MAX);
            rows.push(json!({
                "farm": book.farms.name(farm),
                "month": arrays.first.plus(ahead).to_string(),
                "saving": m.saving,
                "old_ration_per_animal_day": m.counterfactual_per_day,
                "spent_per_animal_day": m.actual_per_day,
                "standard_error_per_animal_day": m.standard_error_per_day,
            }));
        }
    }
    Value::Array(rows)
}
