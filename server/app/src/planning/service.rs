//! The service level of plans with what each level costs.

use super::board;
use crate::error::AppError;
use crate::estimates::kept_service_prices;
use crate::{Actor, App, Coop, review};
use chrono::NaiveDate;
use std::collections::HashMap;
use traybook_answers::Decimal;
use traybook_answers::planning::{ServiceLevel, ServiceLevels, ServicePrices};
use traybook_domain::kinds::{Feed, SeedPurchase};
use traybook_domain::people::authz::Action;
use traybook_domain::planning::guide::GuideName;
use traybook_domain::{Kind, Month, value::real};
use traybook_planning::service::{LADDER, Level, level_of, worth_days};
use traybook_planning::steady::steady;
use traybook_planning::{Standards, day_of};
use traybook_storage::{Conn, savings::report_rows};
use uuid::Uuid;

impl App {
    /// The service level in force and the steps to choose from, each with the days that go short,
    /// the fodder thrown away and the seed of all farms with a plan.
    ///
    /// # Errors
    /// `Forbidden` for those who may not set the growing guide.
    pub async fn service_levels(&self, actor: &Actor) -> Result<ServiceLevels, AppError> {
        actor.visible(Action::Create, Kind::GrowingGuideValue)?;
        let (actor, now, app) = (actor.clone(), self.now(), self.clone());
        let today = actor.coop.today(now);
        self.store
            .read(move |conn| {
                let board = board::today(conn, &app, &actor.coop, now)?;
                let standards = Standards::new(&board.guide, day_of(today), 1);
                let (mut seed, mut fresh) = (0, 0);
                for farm in board.farms.iter().filter(|f| f.scene.farm.started_on.is_some()) {
                    for group in steady(&farm.scene.farm, &standards, day_of(today)) {
                        seed += group.need_g;
                        fresh += group.fresh_g - group.surplus_g;
                    }
                }
                let prices = match kept_service_prices(conn, actor.coop.number)? {
                    Some(made) => made,
                    None => service_prices(conn, &actor.coop, today)?,
                };
                let set = board.guide.value(GuideName::ShortDaysPercent, None, today);
                let in_force = level_of(real(set) / 1_000.0);
                let steps = LADDER.into_iter().filter(|l| !is_same(l, &in_force));
                let mut levels: Vec<Level> = steps.chain([in_force]).collect();
                levels.sort_by(|a, b| b.short_days.total_cmp(&a.short_days));
                let answer = |level: &Level| ServiceLevel {
                    short_days: tenths(level.short_days),
                    short_tenth_days: tenths(level.short_tenth_days),
                    wasted_kg_a_day: Decimal::kg(part(fresh, level.wasted)),
                    seed_kg_a_day: Decimal::kg(part(seed, level.seed)),
                    is_in_force: is_same(level, &in_force),
                };
                Ok(ServiceLevels {
                    short_days: Decimal::new(set, 3),
                    need_kg_a_day: Decimal::kg(fresh),
                    prices,
                    levels: levels.iter().map(answer).collect(),
                })
            })
            .await
    }
}

/// Months of purchases that prices are taken from, this one among them.
const PRICE_MONTHS: i32 = 12;

/// What a kg of fodder costs when it is wasted, and when it is missing; none without purchases.
///
/// # Units
/// Minor units. Feed of as much dry matter stands in for fodder; what else animals need is not in it.
pub(crate) fn service_prices(
    conn: &mut Conn,
    coop: &Coop,
    today: NaiveDate,
) -> Result<Option<ServicePrices>, AppError> {
    let guide = coop.guide(conn)?;
    let last = Month::of(today);
    let first = last.plus(1 - PRICE_MONTHS);
    let (mut seed_g, mut seed_minor) = (0, 0);
    for (_, seed) in review::all::<SeedPurchase>(conn, coop.number)? {
        if Month::of(seed.date) >= first {
            seed_g += seed.kg;
            seed_minor += seed.price + seed.transport.unwrap_or(0);
        }
    }
    let feeds: HashMap<Uuid, Feed> = review::all::<Feed>(conn, coop.number)?.into_iter().collect();
    let (mut dry_kg, mut feed_minor) = (0.0, 0);
    for (feed, grams, minor) in report_rows::feeds_of_all(conn, coop.number, (first, last))? {
        let percent = feeds.get(&feed).and_then(|f| f.dry_matter_percent);
        if let Some(percent) = percent {
            dry_kg += real(grams) / 1_000.0 * real(percent) / 10_000.0;
            feed_minor += minor;
        }
    }
    if seed_g <= 0 || dry_kg <= 0.0 {
        return Ok(None);
    }
    let fresh = real(guide.value(GuideName::FreshKgPerKgSeed, None, today)) / 1_000.0;
    let dry = real(guide.fodder_dry_matter(today)) / 10_000.0;
    let wasted = real(seed_minor) / (real(seed_g) / 1_000.0) / fresh;
    let missing = real(feed_minor) / dry_kg * dry;
    Ok(worth_days(wasted, missing).map(|days| ServicePrices {
        wasted_per_kg: Decimal::new(wasted.round() as i64, coop.digits),
        missing_per_kg: Decimal::new(missing.round() as i64, coop.digits),
        short_days: tenths(days),
    }))
}

fn is_same(a: &Level, b: &Level) -> bool {
    (a.short_days - b.short_days).abs() < 1e-9
}

fn tenths(days: f64) -> Decimal {
    Decimal::new((days * 10.0).round() as i64, 1)
}

fn part(of: i64, share: f64) -> i64 {
    (real(of) * share).round() as i64
}
