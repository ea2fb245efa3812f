//! The service level of plans with what each level costs.

use super::board;
use crate::error::AppError;
use crate::{Actor, App};
use traybook_answers::Decimal;
use traybook_answers::planning::{ServiceLevel, ServiceLevels};
use traybook_domain::authz::Action;
use traybook_domain::guide::GuideName;
use traybook_domain::{Kind, value::real};
use traybook_planning::service::{LADDER, Level, level_of};
use traybook_planning::steady::steady;
use traybook_planning::{Standards, day_of};

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
                    levels: levels.iter().map(answer).collect(),
                })
            })
            .await
    }
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
