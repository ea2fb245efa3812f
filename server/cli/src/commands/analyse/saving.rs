//! What was really saved on feed.

use super::answer::{Answer, interval};
use super::args::Saving as Asked;
use super::read::{Column, Names, Row, Table};
use serde_json::{Value, json};
use std::collections::HashMap;
use traybook_analytics::eaten::{PricedPurchase, price_medians};
use traybook_analytics::feed_saving::{
    BaselineStatus, FarmBaseline, FeedSavings, Months, Rules, SavingPanel, feed_saving,
};
use traybook_analytics::limits::MONTHS_MAX;
use traybook_analytics::sentences::saving_sentence;
use traybook_analytics::stats::Interval;
use traybook_domain::Month;

const METHOD: &str = "what the feeds eaten before the start would cost at each month's prices, times \
    an index of farms not yet started, less what was eaten and the other costs; 95 % intervals \
    from how months before a start scattered";

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

/// The book as the estimates take it: farms x feeds x months, and farms x months.
struct Arrays {
    first: Month,
    months: usize,
    kg: Vec<f64>,
    price: Vec<f64>,
    other_cost: Vec<f64>,
    animal_days: Vec<f64>,
    is_known: Vec<bool>,
    output: Vec<f64>,
    start: Vec<Option<u32>>,
    prices_given: usize,
    prices_filled: usize,
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
    let mixed_share = vec![0.0; farms * arrays.months];
    let first = u32::try_from(arrays.first.number().rem_euclid(12)).unwrap_or(0);
    let of_year: Vec<u32> = (first..).take(arrays.months).map(|m| m % 12).collect();
    let panel = SavingPanel {
        feeds,
        months: arrays.months,
        kg: &arrays.kg,
        price: &arrays.price,
        animal_days: &arrays.animal_days,
        is_known: &arrays.is_known,
        mixed_share: &mixed_share,
        start: &arrays.start,
        month_of_year: Some(&of_year),
        ..SavingPanel::default()
    };
    let savings = feed_saving(&panel, &Rules::default());
    let savings = savings.map_err(|e| format!("{}: {e}", table.name()))?;
    let estimated = |f: &&FarmBaseline| f.status == BaselineStatus::Ok;
    let numbers = json!({
        "farms": farms,
        "farms_started": arrays.start.iter().flatten().count(),
        "farms_estimated": savings.farms.iter().filter(estimated).count(),
        "months": arrays.months,
        "first_month": (arrays.months > 0).then(|| arrays.first.to_string()),
        "feeds": feeds,
        "farm_months": book.months.len(),
        "prices_given": arrays.prices_given,
        "prices_filled": arrays.prices_filled,
        "months_with_index": savings.shared.index.iter().flatten().count(),
        "relative_variance": savings.shared.variance,
    });
    let c = &asked.currency;
    let units = json!({
        "saving": c,
        "per_animal_day": format!("{c} per animal-day"),
        "per_unit": format!("{c} per litre or egg"),
    });
    let rows: Vec<Value> =
        (0..farms).map(|farm| farm_row(&book, &arrays, farm, &savings, c)).collect();
    Ok(Answer::new("saving", METHOD, units, numbers)
        .with("farms", Value::Array(rows))
        .with("programme", programme_row(&arrays, &savings, c))
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
    let at = |month: i64| usize::try_from(month - first).unwrap_or(usize::MAX);
    let mut arrays = Arrays {
        first: Month::from_number(first).unwrap_or(Month::of(chrono::NaiveDate::MIN)),
        months,
        kg: vec![0.0; cells * feeds],
        price: vec![f64::NAN; cells * feeds],
        other_cost: vec![f64::NAN; cells],
        animal_days: vec![0.0; cells],
        is_known: vec![false; cells],
        output: vec![f64::NAN; cells],
        start: Vec::new(),
        prices_given: 0,
        prices_filled: 0,
    };
    for ((farm, month), values) in &book.months {
        let cell = farm * months + at(*month);
        arrays.other_cost[cell] = values.other_cost.unwrap_or(f64::NAN);
        arrays.animal_days[cell] = values.animal_days.unwrap_or(0.0);
        arrays.output[cell] = values.output.unwrap_or(f64::NAN);
        // A month counts when every feed of the file has a quantity.
        let has_all = (0..feeds).all(|feed| {
            let fed = book.feed_months.get(&(*farm, *month, feed));
            fed.is_some_and(|f| f.quantity.is_some())
        });
        arrays.is_known[cell] = has_all && feeds > 0 && values.animal_days.is_some();
    }
    let mut priced = Vec::new();
    for ((farm, month, feed), FeedMonth { quantity, price, .. }) in &book.feed_months {
        let cell = (farm * feeds + feed) * months + at(*month);
        arrays.kg[cell] = quantity.unwrap_or(0.0);
        arrays.price[cell] = price.unwrap_or(f64::NAN);
        arrays.prices_given += usize::from(price.is_some());
        let cost = price.unwrap_or(0.0);
        priced.push(PricedPurchase { feed: *feed, month: at(*month), kg: 1.0, cost });
    }
    let medians = price_medians(&priced, feeds, months);
    for ((farm, month, feed), FeedMonth { price, .. }) in &book.feed_months {
        let median = medians.get(feed * months + at(*month)).copied().flatten();
        if let (None, Some(median)) = (price, median) {
            arrays.price[(farm * feeds + feed) * months + at(*month)] = median;
            arrays.prices_filled += 1;
        }
    }
    let start = |start: &Option<Month>| {
        let ahead = usize::try_from((start.as_ref()?.number() - first).max(0)).ok()?;
        u32::try_from(ahead).ok().filter(|_| ahead < months)
    };
    arrays.start = book.started.iter().map(start).collect();
    Ok(arrays)
}

impl Arrays {
    /// The months of a farm that have a number and a cost of fodder.
    fn numbers(&self, savings: &FeedSavings, farm: usize) -> Vec<bool> {
        let has = |t: usize| {
            savings.cell(farm, t).is_some() && self.other_cost[farm * self.months + t].is_finite()
        };
        (0..self.months).map(has).collect()
    }
}

/// Sums over the months of a farm that have a number.
#[derive(Default)]
struct Sums {
    months: usize,
    animal_days: f64,
    baseline: f64,
    eaten: f64,
    other_cost: f64,
    /// Saving and output of the months that have both.
    both: (f64, f64),
}

impl Sums {
    fn of(arrays: &Arrays, savings: &FeedSavings, farm: usize, numbers: &[bool]) -> Self {
        let mut sums = Self::default();
        for t in (0..arrays.months).filter(|t| numbers[*t]) {
            let Some(number) = savings.cell(farm, t) else { continue };
            let cell = farm * arrays.months + t;
            sums.months += 1;
            sums.animal_days += arrays.animal_days[cell];
            sums.baseline += number.baseline;
            sums.eaten += number.eaten;
            sums.other_cost += arrays.other_cost[cell];
            if arrays.output[cell] > 0.0 {
                sums.both.0 += number.saving - arrays.other_cost[cell];
                sums.both.1 += arrays.output[cell];
            }
        }
        sums
    }

    fn saving(&self) -> f64 {
        self.baseline - self.eaten - self.other_cost
    }
}

fn farm_row(
    book: &Book,
    arrays: &Arrays,
    farm: usize,
    savings: &FeedSavings,
    currency: &str,
) -> Value {
    let of = savings.farms[farm];
    let numbers = arrays.numbers(savings, farm);
    let sums = Sums::of(arrays, savings, farm, &numbers);
    let error = savings.farm_error(farm, Months::Same(&numbers));
    let has_number = sums.months > 0;
    let known = |value: f64| Some(value).filter(|v| has_number && v.is_finite());
    let saving = sums.saving();
    let half = of.critical * error;
    let range = has_number.then_some(Interval { lower: saving - half, upper: saving + half });
    let per_day = range
        .map(|i| Interval { lower: i.lower / sums.animal_days, upper: i.upper / sums.animal_days });
    let over = match sums.months {
        1 => "over 1 month".to_owned(),
        months => format!("over {months} months"),
    };
    let mut sentence = saving_sentence(range.map(|i| (saving, i)), currency, &over);
    if has_number && !of.is_adjusted {
        sentence.push_str("; seasons are not taken out");
    }
    json!({
        "farm": book.farms.name(farm),
        "status": match of.status {
            BaselineStatus::Ok | BaselineStatus::RationOnly => "estimated",
            BaselineStatus::NotStarted => "not_started",
            BaselineStatus::NoMonths => "no_months",
            BaselineStatus::NoBaseline => "no_baseline",
        },
        "is_season_removed": of.is_adjusted,
        "started": book.started.get(farm).copied().flatten().map(|m| m.to_string()),
        "months_before": of.months,
        "months_after": sums.months,
        "animal_days": known(sums.animal_days),
        "baseline": known(sums.baseline),
        "eaten": known(sums.eaten),
        "feed_saving": known(sums.baseline - sums.eaten),
        "other_cost": known(sums.other_cost),
        "saving": known(saving),
        "standard_error": known(error),
        "interval": interval(range.as_ref()),
        "saving_percent": known(100.0 * saving / sums.baseline),
        "per_animal_day": known(saving / sums.animal_days),
        "per_animal_day_interval": interval(per_day.as_ref()),
        "output": known(sums.both.1),
        "per_unit": known(sums.both.0 / sums.both.1),
        "degrees_of_freedom": known(of.degrees_of_freedom),
        "sentence": sentence,
    })
}

fn programme_row(arrays: &Arrays, savings: &FeedSavings, currency: &str) -> Value {
    let farms = savings.farms.len();
    let numbers: Vec<Vec<bool>> = (0..farms).map(|f| arrays.numbers(savings, f)).collect();
    let total = savings.total(&vec![true; farms], Months::Cells(&numbers.concat()));
    let sums = numbers.iter().enumerate().map(|(f, n)| Sums::of(arrays, savings, f, n));
    let (saving, days) =
        sums.fold((0.0, 0.0), |(s, d), sums| (s + sums.saving(), d + sums.animal_days));
    let fodder = total.saving - saving;
    let range = (total.rows > 0).then_some(Interval {
        lower: total.interval.lower - fodder,
        upper: total.interval.upper - fodder,
    });
    let known = |value: f64| Some(value).filter(|v| total.rows > 0 && v.is_finite());
    let over = format!("over all farms with a number, {}", total.farms);
    json!({
        "status": if total.rows > 0 { "estimated" } else { "not_estimable" },
        "saving": known(saving),
        "standard_error": known(total.standard_error),
        "interval": interval(range.as_ref()),
        "per_animal_day": known(saving / days),
        "animal_days": known(days),
        "farms": total.farms,
        "farm_months": total.rows,
        "sentence": saving_sentence(range.map(|i| (saving, i)), currency, &over),
    })
}

fn month_rows(book: &Book, arrays: &Arrays, savings: &FeedSavings) -> Value {
    let mut rows = Vec::new();
    for farm in 0..savings.farms.len() {
        let numbers = arrays.numbers(savings, farm);
        for t in (0..arrays.months).filter(|t| numbers[*t]) {
            let Some(number) = savings.cell(farm, t) else { continue };
            let other_cost = arrays.other_cost[farm * arrays.months + t];
            let ahead = i32::try_from(t).unwrap_or(i32::MAX);
            rows.push(json!({
                "farm": book.farms.name(farm),
                "month": arrays.first.plus(ahead).to_string(),
                "baseline": number.baseline,
                "eaten": number.eaten,
                "other_cost": other_cost,
                "saving": number.saving - other_cost,
                "standard_error": number.standard_error,
            }));
        }
    }
    Value::Array(rows)
}
