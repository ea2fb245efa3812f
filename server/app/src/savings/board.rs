//! The paper for a meeting of the board, or of all members.

use super::YearSoFar;
use super::report::Reader;
use super::reports::MonthTotal;
use crate::error::AppError;
use crate::estimates::years_so_far;
use crate::rations::feed_values;
use crate::review::Asked;
use crate::savings::{area_names, read_month};
use crate::seed::accounts;
use crate::{Actor, App, Coop};
use chrono::NaiveDate;
use std::cmp::Reverse;
use std::collections::{BTreeMap, HashMap};
use std::sync::Arc;
use traybook_answers::rations::FeedValues;
use traybook_answers::savings::board::{
    BoardArea, BoardDebt, BoardDecision, BoardFeed, BoardPaper, BoardPeriod, BoardQuestion,
    BoardSeed, BoardSpan, BoardSpoiling,
};
use traybook_answers::savings::{Interval, Money, SavingsReport, Total};
use traybook_answers::seed::SeedAccounts;
use traybook_answers::{Decimal, wire};
use traybook_domain::kinds::{CHECK_OFFS, Flag, SeedPayment};
use traybook_domain::limits::BOARD_NAMES_MAX;
use traybook_domain::people::authz::Task;
use traybook_domain::record::Record as _;
use traybook_domain::savings::money::mul_div;
use traybook_domain::time::{plus_days, start_of_day};
use traybook_domain::{Kind, Month};
use traybook_reports::savings::{Between, added};
use traybook_storage::Conn;
use traybook_storage::records::farm_rows::{self, FarmRow};
use traybook_storage::records::{self, Filter, Visible};
use uuid::Uuid;

/// What a month's paper is made of, all read as of one moment.
struct Facts {
    feeds: FeedValues,
    report: Arc<SavingsReport>,
    /// What the months came to that are read, this one the last.
    totals: Vec<MonthTotal>,
    years: Vec<YearSoFar>,
    accounts: SeedAccounts,
    paid: (i64, i64),
    flags: Vec<Flag>,
    farms: HashMap<Uuid, Arc<FarmRow>>,
    areas: BTreeMap<Uuid, String>,
}

impl App {
    /// The paper of a month for those who run the co-operative; `is_anonymous` leaves out the names
    /// of members and farms, for a meeting of all.
    ///
    /// # Errors
    /// `Forbidden`; `Invalid` for what is no month or has not begun.
    pub async fn board_paper(
        &self,
        actor: &Actor,
        month: &str,
        is_anonymous: bool,
    ) -> Result<BoardPaper, AppError> {
        actor.task(Task::CloseMonth)?;
        let of = read_month(month, &actor.coop, self.now())?;
        let few = Asked { items_max: Some(0), ..Asked::default() };
        let findings = self.review(actor, few).await?.findings;
        let (coop, kept, now) = (actor.coop.clone(), Arc::clone(&self.reports), self.now());
        let today = coop.today(now);
        let day = today.min(of.last_day());
        let read = self.store.read(move |conn| {
            let reader = Reader { coop: &coop, kept: &kept, visible: &Visible::All, now };
            let totals = months_of(of).into_iter().map(|month| reader.total(conn, month));
            let totals = totals.collect::<Result<_, _>>()?;
            let farms = farm_rows::farms(conn, coop.number, None)?;
            Ok::<_, AppError>(Facts {
                feeds: feed_values(conn, &coop, &Visible::All, (of, None))?,
                report: reader.read(conn, of)?,
                totals,
                years: years_so_far(conn, &coop, now)?,
                accounts: accounts(conn, &coop, &farms, day)?,
                paid: paid(conn, &coop, (of.first_day(), day))?,
                flags: flags(conn, &coop, (of.first_day(), today))?,
                farms: farms.into_iter().map(|f| (f.farm, f)).collect(),
                areas: area_names(conn, coop.number)?,
            })
        });
        let read = read.await?;
        Ok(paper(&read, (of, day), findings, is_anonymous))
    }
}

/// The months that are read: the year's up to this one, and the one before.
fn months_of(month: Month) -> Vec<Month> {
    let first = month.year_start().min(month.plus(-1));
    first.to(month).collect()
}

/// Paid for seed over some days: by check-off, otherwise.
fn paid(
    conn: &mut Conn,
    coop: &Coop,
    (from, to): (NaiveDate, NaiveDate),
) -> Result<(i64, i64), AppError> {
    let from = Some((from, start_of_day(from, coop.zone).0));
    let filter = Filter { from, to: ends(to, coop), ..Filter::default() };
    let kind = Kind::SeedPayment;
    let all = records::page(conn, coop.number, kind, &Visible::All, &filter, None, RECORDS_MAX)?;
    let mut sums = (0_i64, 0_i64);
    for payment in all.iter().filter_map(|r| SeedPayment::from_values(&r.values)) {
        let sum =
            if CHECK_OFFS.contains(&payment.paid_by.as_str()) { &mut sums.0 } else { &mut sums.1 };
        *sum = sum.saturating_add(payment.amount);
    }
    Ok(sums)
}

/// A last day, and the instant at which it ends.
fn ends(day: NaiveDate, coop: &Coop) -> Option<(NaiveDate, i64)> {
    Some((day, start_of_day(plus_days(day, 1), coop.zone).0))
}

/// More payments or flags than a co-operative has in a month.
const RECORDS_MAX: usize = 100_000;

/// The flags that stood on a day of these, the oldest first.
fn flags(
    conn: &mut Conn,
    coop: &Coop,
    (from, to): (NaiveDate, NaiveDate),
) -> Result<Vec<Flag>, AppError> {
    let filter = Filter { to: ends(to, coop), ..Filter::default() };
    let all =
        records::page(conn, coop.number, Kind::Flag, &Visible::All, &filter, None, RECORDS_MAX)?;
    let mut flags: Vec<Flag> = all.iter().filter_map(|r| Flag::from_values(&r.values)).collect();
    flags.retain(|f| f.cleared_on.is_none_or(|day| day >= from));
    flags.sort_by_key(|f| (f.raised_on, f.farm_id));
    Ok(flags)
}

fn paper(
    read: &Facts,
    (month, day): (Month, NaiveDate),
    findings: usize,
    is_anonymous: bool,
) -> BoardPaper {
    let (report, feeds) = (&*read.report, &read.feeds);
    let digits = report.digits();
    let total = report.total.as_ref();
    let name = |flag: &Flag| (!is_anonymous).then(|| read.farms.get(&flag.farm_id)).flatten();
    let spoiling = |flag: &Flag| BoardSpoiling {
        farm: name(flag).map(|f| f.code.clone()),
        member_name: name(flag).map(|f| f.name.clone()),
        area: read.farms.get(&flag.farm_id).and_then(|f| read.areas.get(&f.area)).cloned(),
        raised_on: flag.raised_on,
        points_at: flag.points_at.clone(),
        seen_on: flag.seen_on,
        cause: flag.cause.clone(),
        finding: flag.finding.clone().filter(|_| !is_anonymous),
        cleared_on: flag.cleared_on,
    };
    let seed = seed(&read.accounts, read.paid, digits, is_anonymous);
    let waiting = report.farms.iter().filter(|l| l.asks_for_records()).count();
    let unseen = read.flags.iter().filter(|f| f.seen_on.is_none() && f.cleared_on.is_none());
    let decisions = decisions(report, &seed, waiting, unseen.count());
    BoardPaper {
        cooperative: report.cooperative.clone(),
        month: wire::Month(month),
        currency: report.currency.clone(),
        is_closed: report.is_closed,
        is_running: report.is_running,
        is_anonymous,
        day,
        periods: periods((&read.totals, &read.years), month, digits),
        since_start: total.and_then(|t| t.since_start),
        areas: report.areas.iter().map(area).collect(),
        fodder_cost_per_kg_dry_matter: feeds.fodder.cost_per_kg_dry_matter,
        fodder_farms: feeds.fodder.farms,
        feeds: priced(feeds),
        seed,
        spoiling: read.flags.iter().take(BOARD_NAMES_MAX).map(spoiling).collect(),
        spoiling_count: read.flags.len(),
        missing: total.map(|t| t.left_out_by_status.clone()).unwrap_or_default(),
        waiting,
        findings,
        decisions,
    }
}

fn area(total: &Total) -> BoardArea {
    BoardArea {
        name: total.name.clone(),
        farms_included: total.farms_included,
        farms_left_out: total.farms_left_out,
        saving: total.figures.money.saving.filter(|_| total.farms_included > 0),
        saving_interval: total.figures.money.saving_interval,
        trays_discarded_percent: total.figures.trays_discarded_percent,
    }
}

/// The bought feeds, the cheapest dry matter first.
fn priced(feeds: &FeedValues) -> Vec<BoardFeed> {
    let mut all: Vec<BoardFeed> = feeds
        .feeds
        .iter()
        .filter_map(|f| {
            Some(BoardFeed {
                feed: f.feed.clone(),
                cost_per_kg_dry_matter: f.cost_per_kg_dry_matter?,
                price_month: f.price_month,
            })
        })
        .collect();
    all.sort_by(|a, b| a.cost_per_kg_dry_matter.total_cmp(&b.cost_per_kg_dry_matter));
    all.truncate(BOARD_NAMES_MAX);
    all
}

fn seed(accounts: &SeedAccounts, paid: (i64, i64), digits: u8, is_anonymous: bool) -> BoardSeed {
    let mut owing: Vec<_> = accounts.items.iter().filter(|a| a.balance.is_positive()).collect();
    let members = owing.len();
    owing.sort_by_key(|a| Reverse((a.balance.units, a.owed_over_90_days.units)));
    owing.truncate(if is_anonymous { 0 } else { BOARD_NAMES_MAX });
    let is_over = |over: Option<Decimal>| over.is_some_and(Decimal::is_positive);
    BoardSeed {
        owed: accounts.owed,
        members,
        owed_over_30_days: accounts.owed_over_30_days,
        owed_over_90_days: accounts.owed_over_90_days,
        credit_limit: accounts.credit_limit,
        over_limit: accounts.items.iter().filter(|a| is_over(a.over_limit)).count(),
        paid_by_check_off: Decimal::new(paid.0, digits),
        paid_otherwise: Decimal::new(paid.1, digits),
        most: owing
            .into_iter()
            .map(|a| BoardDebt {
                member_number: a.member_number.clone(),
                member_name: a.member_name.clone(),
                balance: a.balance,
                owed_over_90_days: a.owed_over_90_days,
            })
            .collect(),
    }
}

/// The columns of the paper: the month, the one before, the year so far.
fn periods(
    (months, years): (&[MonthTotal], &[YearSoFar]),
    month: Month,
    digits: u8,
) -> Vec<BoardPeriod> {
    let of = |from: Month, span: BoardSpan, to: Month| {
        let chosen = months.iter().filter(|m| (from..=to).contains(&m.month));
        // A month that is not over has no saving, and its losses are not whole.
        let over = chosen.filter(|m| !m.is_running || span == BoardSpan::Month);
        let totals: Vec<&Total> = over.filter_map(|m| m.total.as_ref()).collect();
        let mut period = period(&totals, span, (from, to), digits);
        if span == BoardSpan::Year {
            put_interval(&mut period.money, years.iter().find(|y| y.month.0 == to), digits);
        }
        period
    };
    // The year ends with the last month that is over.
    let is_running = months.last().is_some_and(|m| m.is_running);
    let last = if is_running { month.plus(-1) } else { month };
    vec![
        of(month, BoardSpan::Month, month),
        of(month.plus(-1), BoardSpan::Before, month.plus(-1)),
        of(month.year_start(), BoardSpan::Year, last.max(month.year_start())),
    ]
}

/// Sums over months; null where no month has the figure.
fn period(
    totals: &[&Total],
    span: BoardSpan,
    (from, to): (Month, Month),
    digits: u8,
) -> BoardPeriod {
    let sum = |of: fn(&Total) -> i64| totals.iter().map(|t| of(t)).sum();
    let trays = |of: fn(&Total) -> Option<i64>| -> Option<i64> {
        totals.iter().filter_map(|t| of(t)).reduce(|a, b| a + b)
    };
    let (started, discarded) =
        (trays(|t| t.figures.trays_started), trays(|t| t.figures.trays_discarded));
    let share = match (started, discarded) {
        (Some(started), Some(discarded)) if started > 0 => {
            mul_div(discarded, 10_000, started).map(Decimal::percent)
        }
        _ => None,
    };
    let fodder = totals.iter().filter_map(|t| t.figures.fresh_fodder_fed_kg);
    let fodder = fodder.map(|kg| kg.units_of(3)).reduce(|a, b| a + b);
    let has_number = |t: &&&Total| t.figures.money.saving.is_some();
    let months = totals.iter().filter(has_number).count();
    BoardPeriod {
        span,
        from: wire::Month(from),
        to: wire::Month(to),
        months_with_number: i64::try_from(months).unwrap_or(i64::MAX),
        money: money(totals, digits),
        farms_included: sum(|t| t.farms_included),
        farms_saving: sum(|t| t.farms_saving),
        farms_losing: sum(|t| t.farms_losing),
        farms_unclear: sum(|t| t.farms_unclear),
        fresh_fodder_fed_kg: fodder.map(Decimal::kg),
        trays_started: started,
        trays_discarded: discarded,
        trays_discarded_percent: share,
    }
}

/// The interval of a year so far, as the method makes it of the year's rows. None where the rows that
/// it was made of do not add up to the sum that stands here: a month was closed since, or one of an
/// earlier method is in it.
fn put_interval(money: &mut Money, year: Option<&YearSoFar>, digits: u8) {
    let Some(saving) = money.saving.map(|s| s.units_of(digits)) else { return };
    let half = year.filter(|y| y.saving == saving).and_then(|y| y.half);
    let own = half.map(|half| Between { value: saving, low: saving - half, high: saving + half });
    let interval = |b: Between| Interval {
        low: Decimal::new(b.low, digits),
        high: Decimal::new(b.high, digits),
    };
    money.saving_interval = own.map(interval);
    // Milk and eggs of all months come from one estimate: their widths add up.
    let output = money.output_value.zip(money.output_value_interval).map(|(value, i)| Between {
        value: value.units_of(digits),
        low: i.low.units_of(digits),
        high: i.high.units_of(digits),
    });
    let net = own.zip(output).filter(|_| money.net.is_some());
    money.net_interval = net.map(|(own, output)| interval(added(own, output)));
}

/// Money of the months with a saving, added up, with the widths of intervals.
fn money(totals: &[&Total], digits: u8) -> Money {
    let all: Vec<&Money> =
        totals.iter().map(|t| &t.figures.money).filter(|m| m.saving.is_some()).collect();
    let sum = |of: fn(&Money) -> Option<Decimal>| -> Option<Decimal> {
        let values = all.iter().filter_map(|m| of(m)).map(|v| v.units_of(digits));
        values.reduce(i64::saturating_add).map(|units| Decimal::new(units, digits))
    };
    let around = |interval: fn(&Money) -> Option<Interval>| -> Option<Interval> {
        let ends: Option<Vec<Interval>> = all.iter().map(|m| interval(m)).collect();
        let ends = ends.filter(|e| !e.is_empty())?;
        let add = |of: fn(&Interval) -> Decimal| -> Decimal {
            Decimal::new(ends.iter().map(|i| of(i).units_of(digits)).sum(), digits)
        };
        Some(Interval { low: add(|i| i.low), high: add(|i| i.high) })
    };
    // A net of some months only would stand beside the saving of all.
    let has_net = !all.is_empty() && all.iter().all(|m| m.net.is_some());
    Money {
        animal_days: all.iter().filter_map(|m| m.animal_days).reduce(|a, b| a + b),
        baseline_cost: sum(|m| m.baseline_cost),
        eaten_cost: sum(|m| m.eaten_cost),
        feed_saving: sum(|m| m.feed_saving),
        seed_cost: sum(|m| m.seed_cost),
        other_cost: sum(|m| m.other_cost),
        depreciation: sum(|m| m.depreciation),
        saving: sum(|m| m.saving),
        saving_interval: around(|m| m.saving_interval),
        output_value: sum(|m| m.output_value).filter(|_| has_net),
        output_value_interval: around(|m| m.output_value_interval).filter(|_| has_net),
        net: sum(|m| m.net).filter(|_| has_net),
        net_interval: around(|m| m.net_interval).filter(|_| has_net),
    }
}

/// What there is to decide, in the order of the paper.
fn decisions(
    report: &SavingsReport,
    seed: &BoardSeed,
    waiting: usize,
    unseen: usize,
) -> Vec<BoardDecision> {
    let (of, with) = (
        |question, count: usize| BoardDecision { question, count: Some(count), amount: None },
        |question, amount: Decimal| BoardDecision { question, count: None, amount: Some(amount) },
    );
    let mut all = Vec::new();
    if !report.is_closed && !report.is_running {
        all.push(of(BoardQuestion::CloseMonth, waiting));
    }
    if waiting > 0 {
        all.push(of(BoardQuestion::Records, waiting));
    }
    if unseen > 0 {
        all.push(of(BoardQuestion::VisitSpoiling, unseen));
    }
    if seed.owed_over_90_days.is_positive() {
        all.push(with(BoardQuestion::OldDebts, seed.owed_over_90_days));
    }
    if seed.over_limit > 0 {
        all.push(of(BoardQuestion::CreditLimit, seed.over_limit));
    }
    if let Some(sum) = report.adjustments_total.filter(|sum| sum.units != 0) {
        all.push(with(BoardQuestion::Adjustments, sum));
    }
    all
}
