//! A farm's plan: places, trays, seed, water and work a day, and day by day.

use super::board;
use super::lines::{crop_name, feed_note, reason, seed_note, soak_reason};
use crate::error::AppError;
use crate::{Actor, App};
use std::collections::BTreeMap;
use traybook_answers::Decimal;
use traybook_answers::planning::{
    FarmPlan, GroupPlan, PlanDay, PlannedFeed, PlannedSoak, ShedPlan, SteadyState,
};
use traybook_domain::FieldError;
use traybook_domain::kinds::ANIMAL_CLASSES;
use traybook_domain::limits::PLAN_DAYS_MAX;
use traybook_domain::people::authz::Task as May;
use traybook_domain::planning::guide::{GuideName, animals_per_tray_is_derived};
use traybook_domain::time::parse_date;
use traybook_planning::steady::{GroupDay, steady};
use traybook_planning::work::{Asked, Scene};
use traybook_planning::{Day, Feed, Growing, Plan, Short, Soak, Standards, date_of, day_of, words};
use uuid::Uuid;

/// Days of a plan where none are asked for.
pub const DAYS: usize = 28;

impl App {
    /// The plan of a farm from today on. `start` is the first day of soaking of a farm that has
    /// not begun; today where none is given.
    ///
    /// # Errors
    /// `Forbidden`, `NotFound`; `Invalid` for wrong parameters.
    pub async fn farm_plan(
        &self,
        actor: &Actor,
        farm: Uuid,
        days: Option<String>,
        start: Option<String>,
    ) -> Result<FarmPlan, AppError> {
        let visible = actor.task(May::Work)?;
        let (actor, now, app) = (actor.clone(), self.now(), self.clone());
        let today = actor.coop.today(now);
        let (days, start) = read(days, start, today)?;
        self.store
            .read(move |conn| {
                let board = board::today(conn, &app, &actor.coop, now)?;
                let found = board.farm(farm).ok_or(AppError::NotFound)?;
                if !visible.sees(found.row.area, found.row.member) {
                    return Err(AppError::NotFound);
                }
                let first = day_of(today);
                let standards = Standards::new(&board.guide, first, days);
                let is_held = |lot: Uuid| board.held.contains_key(&lot);
                let asked =
                    Asked { standards: &standards, now, days: &board.days, is_held: &is_held };
                let mut scene = found.scene.clone();
                let is_started = scene.farm.started_on.is_some();
                if !is_started || start.is_some() {
                    scene.farm.started_on = Some(start.map_or(first, day_of));
                }
                let plan = scene.plan(&asked, days);
                let seed = seed_note(&scene, &board, &plan, first, days);
                let view = View { scene: &scene, asked: &asked, plan: &plan, first, days };
                Ok(FarmPlan {
                    farm_id: farm,
                    farm: found.row.code.clone(),
                    from: today,
                    days,
                    is_started,
                    soaks_from: scene.farm.started_on.map(date_of),
                    first_feed_on: plan.first_feed.map(date_of),
                    data_version: board.seq,
                    units: UNITS.to_owned(),
                    groups: view.groups(&board.guide),
                    sheds: view.sheds(),
                    steady_state: view.total(),
                    seed,
                    notes: view.notes(),
                    schedule: view.schedule(&scene.growing(&asked)),
                    caution: RATION_CAUTION.to_owned(),
                })
            })
            .await
    }
}

/// What is said beside every plan of feed.
pub const RATION_CAUTION: &str = "a plan, not a ration: ask the local livestock service what \
    your animals need besides green fodder";

const UNITS: &str = "kg are dry seed or fresh fodder as named; places are tray places; water in \
    litres; work in minutes";

fn read(
    days: Option<String>,
    start: Option<String>,
    today: chrono::NaiveDate,
) -> Result<(usize, Option<chrono::NaiveDate>), AppError> {
    let mut errors = Vec::new();
    let count = days.as_deref().map_or(Some(DAYS), |text| text.parse::<usize>().ok());
    let count = count.filter(|n| (1..=PLAN_DAYS_MAX).contains(n));
    if count.is_none() {
        errors.push(FieldError::new("days", "range", format!("give 1 to {PLAN_DAYS_MAX}")));
    }
    let first = start.as_deref().map(parse_date);
    match first {
        Some(None) => {
            errors.push(FieldError::new("start", "type", "give a day as YYYY-MM-DD"));
        }
        Some(Some(day)) if day < today => {
            errors.push(FieldError::new("start", "range", "give today or a day to come"));
        }
        _ => {}
    }
    match count {
        Some(count) if errors.is_empty() => Ok((count, first.flatten())),
        _ => Err(AppError::Invalid(errors)),
    }
}

/// A day that is not as it should be: day, grams missing and left over, the sentence.
type Note = (Day, i64, i64, String);

struct View<'a> {
    scene: &'a Scene,
    asked: &'a Asked<'a>,
    plan: &'a Plan,
    first: Day,
    days: usize,
}

impl View<'_> {
    fn steady(&self) -> Vec<GroupDay> {
        steady(&self.scene.farm, self.asked.standards, self.first)
    }

    fn groups(&self, guide: &traybook_domain::planning::guide::Guide) -> Vec<GroupPlan> {
        let day = date_of(self.first);
        let group = |g: GroupDay| {
            let of = self.scene.farm.groups.get(g.group)?;
            let class = ANIMAL_CLASSES.get(of.class).copied()?;
            let set = guide.since(GuideName::AnimalsPerTray, Some(class), day).is_some();
            let crop = of.setting_on(self.first).and_then(|s| s.crop).or(of.crop);
            Some(GroupPlan {
                animal_group_id: of.id,
                animal_group: of.code.clone(),
                animal_class: class.to_owned(),
                shed: self.shed(g.shed),
                crop: crop.and_then(crop_name),
                head: g.head,
                animals_per_tray: Decimal::new(g.per_tray_milli, 3),
                animals_per_tray_is_derived: !set && animals_per_tray_is_derived(class),
                harvest_age_days: g.age.into(),
                incubate_days: g.incubate_days.into(),
                trays_a_day: g.trays,
                seed_kg_a_tray: Decimal::kg(g.seed_per_tray_g),
                seed_kg_a_day: Decimal::kg(g.seed_g),
                places: g.places,
                fresh_kg_a_day: Decimal::kg(g.fresh_g),
                surplus_kg_a_day: Decimal::kg(g.surplus_g),
                water_litres_a_day: Decimal::new(g.water_ml, 3),
                work_minutes_a_day: Decimal::new(g.labour_milli_minutes, 3),
            })
        };
        self.steady().into_iter().filter_map(group).collect()
    }

    fn group(&self, at: usize) -> Option<String> {
        self.scene.farm.groups.get(at).map(|g| g.code.clone())
    }

    fn shed(&self, at: usize) -> Option<String> {
        self.scene.farm.sheds.get(at).map(|s| s.code.clone())
    }

    fn sheds(&self) -> Vec<ShedPlan> {
        let steady = self.steady();
        let sheds = self.scene.farm.sheds.iter().zip(&self.plan.sheds).enumerate();
        sheds
            .map(|(at, (shed, plan))| {
                let needed = steady.iter().filter(|g| g.shed == at).map(|g| g.places).sum();
                let wanted = plan.places_wanted;
                ShedPlan {
                    shed_id: shed.id,
                    shed: shed.code.clone(),
                    places: shed.places,
                    places_in_steady_state: needed,
                    places_wanted_at_most: wanted,
                    // Where trays may carry more than a full load, what is wanted is not what is
                    // missing.
                    places_missing: match self.scene.farm.learned {
                        Some(_) => plan.places_missing,
                        None => (wanted - shed.places).max(0),
                    },
                    places_spare: (shed.places - wanted).max(0),
                    places_taken_at_most: plan.standing.iter().max().copied(),
                }
            })
            .collect()
    }

    fn total(&self) -> SteadyState {
        let steady = self.steady();
        let sum = |of: fn(&GroupDay) -> i64| -> i64 { steady.iter().map(of).sum() };
        SteadyState {
            trays_a_day: sum(|g| g.trays),
            places: sum(|g| g.places),
            seed_kg_a_day: Decimal::kg(sum(|g| g.seed_g)),
            seed_kg_in_30_days: Decimal::kg(sum(|g| g.seed_g) * 30),
            fresh_kg_a_day: Decimal::kg(sum(|g| g.fresh_g)),
            water_litres_a_day: Decimal::new(sum(|g| g.water_ml), 3),
            work_minutes_a_day: Decimal::new(sum(|g| g.labour_milli_minutes), 3),
        }
    }

    /// Who goes short or has too much, by reason: one sentence for days in a row.
    fn notes(&self) -> Vec<String> {
        let mut runs: BTreeMap<(usize, &str), Vec<Note>> = BTreeMap::new();
        for feed in &self.plan.feeds {
            let reason = match feed.short {
                Some(Short::BeforeFirstHarvest) => continue,
                Some(short) => words::why(short),
                None => "",
            };
            let missing = feed.fresh_g(feed.short_g());
            let over = feed.fresh_g(feed.surplus_g());
            let group = self.scene.farm.groups.get(feed.group);
            let sentence = group.and_then(|g| words::feed_sentence(feed, &g.code));
            if let Some(sentence) = sentence.filter(|_| missing > 0 || over > 0) {
                let run = runs.entry((feed.group, reason)).or_default();
                run.push((feed.day, missing, over, sentence));
            }
        }
        let mut notes = Vec::new();
        for ((group, reason), run) in runs {
            let code = self.scene.farm.groups.get(group).map_or("", |g| g.code.as_str());
            match run.as_slice() {
                [(_, _, _, sentence)] => notes.push(sentence.clone()),
                [(first, ..), .., (last, ..)] => {
                    let (missing, over) =
                        run.iter().fold((0, 0), |(m, o), (_, a, b, _)| (m + a, o + b));
                    let (from, to, days) = (date_of(*first), date_of(*last), run.len());
                    notes.push(if missing > 0 {
                        let missing = words::kg(missing);
                        format!(
                            "{code} goes short of {missing} fresh fodder in all on {days} days from \
                             {from} to {to}: {reason}"
                        )
                    } else {
                        let over = words::kg(over);
                        format!(
                            "{over} fresh fodder in all are left over for {code} on {days} days \
                             from {from} to {to}"
                        )
                    });
                }
                [] => {}
            }
        }
        notes
    }

    /// Day by day: soaks, feeding, places, seed, water and work.
    fn schedule(&self, growing: &[Growing]) -> Vec<PlanDay> {
        let water = self.water(growing);
        let labour = self.asked.standards.common(self.first).labour_milli_minutes;
        (0..self.days)
            .map(|at| {
                let day = self.first + i32::try_from(at).unwrap_or(0);
                let soaks = self.plan.soaks.iter().filter(|s| s.day == day);
                let feeds = self.plan.feeds.iter().filter(|f| f.day == day);
                let seed: i64 = soaks.clone().map(|s| s.seed_g).sum();
                let standing = self.plan.sheds.iter().map(|s| s.standing.get(at).copied());
                let places_taken: Vec<i64> = standing.map(Option::unwrap_or_default).collect();
                let all: i64 = places_taken.iter().sum();
                PlanDay {
                    day: date_of(day),
                    is_rest_day: self.scene.farm.rest.contains(day),
                    soaks: soaks.map(|s| self.soak(s)).collect(),
                    feeding: feeds.map(|f| self.feed(f)).collect(),
                    places_taken,
                    seed_kg: Decimal::kg(seed),
                    water_litres: Decimal::new(water.get(at).copied().unwrap_or(0), 3),
                    work_minutes: Decimal::new(all * labour, 3),
                }
            })
            .collect()
    }

    fn soak(&self, s: &Soak) -> PlannedSoak {
        PlannedSoak {
            animal_group: self.group(s.group),
            shed: self.shed(s.shed),
            crop: s.crop.and_then(crop_name),
            trays: s.trays,
            kg: Decimal::kg(s.seed_g),
            spread_on: date_of(s.spread_on),
            feed_on: date_of(s.feed_on),
            moved_from: s.moved_from.map(date_of),
            is_late: s.is_late,
            soak: self.scene.soak_why(s, self.asked, self.plan).as_ref().map(soak_reason),
        }
    }

    fn feed(&self, f: &Feed) -> PlannedFeed {
        let kg = |seed_g: i64| Decimal::kg(f.fresh_g(seed_g));
        PlannedFeed {
            animal_group: self.group(f.group),
            head: f.head,
            need_kg: kg(f.need_g),
            growing_kg: kg(f.growing_g),
            planned_kg: kg(f.planned_g),
            short_kg: kg(f.short_g()),
            surplus_kg: kg(f.surplus_g()),
            reason: f.short.map(reason),
            note: feed_note(f, self.scene).map(|n| n.sentence),
        }
    }

    /// Water a day, ml: that of a batch's fresh fodder, spread evenly over its days on the tray.
    fn water(&self, growing: &[Growing]) -> Vec<i64> {
        let mut water = vec![0; self.days];
        let mut add = |spread_on: Day, feed_on: Day, seed_g: i64| {
            let common = self.asked.standards.common(spread_on);
            let days = i64::from((feed_on - spread_on).max(1));
            let mul = traybook_domain::savings::money::mul_div;
            let fresh = mul(seed_g, common.yield_g_per_kg, 1_000).unwrap_or(0);
            let a_day = mul(fresh, common.water_ml_per_kg, 1_000 * days).unwrap_or(0);
            for day in spread_on..feed_on {
                let at = usize::try_from(day - self.first).ok();
                if let Some(slot) = at.and_then(|at| water.get_mut(at)) {
                    *slot += a_day;
                }
            }
        };
        for batch in growing {
            add(batch.spread_on, batch.feed_on, batch.seed_g);
        }
        for soak in &self.plan.soaks {
            add(soak.spread_on, soak.feed_on, soak.seed_g);
        }
        water
    }
}
