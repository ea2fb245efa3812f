//! How much seed the plans will take: by crop and week, by issue point, and what to buy when.

use super::board::{self, Board, FarmBoard};
use super::lines::crop_name;
use super::needs::{self, Need};
use crate::error::AppError;
use crate::savings::area_names;
use crate::{Actor, App};
use std::collections::{BTreeMap, HashMap, HashSet};
use std::sync::Arc;
use traybook_answers::Decimal;
use traybook_answers::planning::forecast::{
    CropNeed, FarmNeed, IssuePoint, SeedForecast, StoreNeed,
};
use traybook_domain::kinds::CROPS;
use traybook_domain::limits::FORECAST_WEEKS_MAX;
use traybook_domain::people::authz::Task as May;
use traybook_domain::planning::guide::GuideName;
use traybook_domain::seed::seed_stock::{DailyUse, bags, daily_history, safety_stock_g};
use traybook_domain::time::plus_days;
use traybook_planning::forecast::{ByCropAndDay, CROP_SLOTS, SeedNeed, StoreOutlook, add, outlook};
use traybook_planning::work::Asked;
use traybook_planning::{Day, Standards, date_of, day_of};
use traybook_storage::Conn;
use traybook_storage::planning::planning_rows;
use traybook_storage::records::Visible;
use traybook_storage::records::farm_rows::FarmRow;
use uuid::Uuid;

/// Weeks of a forecast where none are asked for.
pub const WEEKS: usize = 8;
/// Days of soaks, up to yesterday, from which the variation of use is taken.
const HISTORY_DAYS: i32 = 21;

const METHOD: &str = "soaks of every farm's plan from today on, less the seed on the farm, day by \
    day; an area is where its farms fetch seed. Order by: the first day on which the store holds \
    less than what is issued until the delivery and the safety stock. Safety stock: normal point of \
    the service level times the standard deviation of a day's soaks over the last three weeks, over \
    lead time and one day. Held lots count as nothing";

impl App {
    /// How much seed the plans will take in the next weeks, and what to buy.
    ///
    /// # Errors
    /// `Forbidden`; `Invalid` for a wrong number of weeks.
    pub async fn seed_forecast(
        &self,
        actor: &Actor,
        weeks: Option<String>,
    ) -> Result<SeedForecast, AppError> {
        let visible = actor.task(May::SeedForecast)?;
        let count = weeks.as_deref().map_or(Some(WEEKS), |text| text.parse::<usize>().ok());
        let count = count.filter(|n| (1..=FORECAST_WEEKS_MAX).contains(n)).ok_or_else(|| {
            AppError::field("weeks", "range", format!("give 1 to {FORECAST_WEEKS_MAX}"))
        })?;
        let (actor, app) = (actor.clone(), self.clone());
        self.store
            .read(move |conn| {
                let store = visible == Visible::All;
                app.forecast(conn, &actor, count, (&|f| visible.sees(f.area, f.member), store))
            })
            .await
    }

    /// Seed to bring to these farms for the coming week, beyond what they have.
    ///
    /// # Errors
    /// `Forbidden`.
    pub async fn seed_to_bring(
        &self,
        actor: &Actor,
        farms: HashSet<Uuid>,
    ) -> Result<Vec<FarmNeed>, AppError> {
        let visible = actor.task(May::SeedForecast)?;
        let (actor, app) = (actor.clone(), self.clone());
        let forecast = self.store.read(move |conn| {
            let is_asked = |f: &FarmRow| farms.contains(&f.farm) && visible.sees(f.area, f.member);
            app.forecast(conn, &actor, 1, (&is_asked, false))
        });
        let mut farms = forecast.await?.farms;
        farms.retain(|farm| farm.to_issue_kg.units > 0);
        Ok(farms)
    }

    /// The forecast of the farms that are asked for, with or without the store.
    fn forecast(
        &self,
        conn: &mut Conn,
        actor: &Actor,
        weeks: usize,
        (is_asked, with_store): (&dyn Fn(&FarmRow) -> bool, bool),
    ) -> Result<SeedForecast, AppError> {
        let (coop, now) = (&actor.coop, self.now());
        let board = board::today(conn, self, coop, now)?;
        let areas = area_names(conn, coop.number)?;
        let store = board.store.as_deref().filter(|_| with_store);
        let leads = planning_rows::lead_times(conn, coop.number)?;
        let farms: Vec<&Arc<FarmBoard>> = board.farms.iter().filter(|f| is_asked(&f.row)).collect();
        let view = View { board: &board, areas: &areas, weeks };
        let standards = Standards::new(&board.guide, day_of(board.day), weeks * 7);
        let is_held = |lot: Uuid| board.held.contains_key(&lot);
        let asked = Asked { standards: &standards, now, days: &board.days, is_held: &is_held };
        let needs = needs::of(self, coop, &board, &farms, (weeks, &asked))?;
        Ok(view.forecast(&farms, &needs, store, &leads))
    }
}

struct View<'a> {
    board: &'a Board,
    areas: &'a BTreeMap<Uuid, String>,
    weeks: usize,
}

/// What the farms need together.
struct Sums {
    need: ByCropAndDay,
    issue: ByCropAndDay,
    on_farms: Vec<i64>,
    points: HashMap<Uuid, (ByCropAndDay, Vec<i64>)>,
}

const fn kg(grams: i64) -> Decimal {
    Decimal::kg(grams)
}

fn by_week(days: &[i64]) -> Vec<Decimal> {
    days.chunks(7).map(|week| kg(week.iter().sum())).collect()
}

fn of(all: &ByCropAndDay, crop: usize) -> &[i64] {
    all.get(crop).map_or(&[], Vec::as_slice)
}

impl View<'_> {
    fn forecast(
        &self,
        farms: &[&Arc<FarmBoard>],
        needs: &[Arc<Need>],
        store: Option<&[(Uuid, i64)]>,
        leads: &[(Uuid, i64)],
    ) -> SeedForecast {
        let today = day_of(self.board.day);
        let days = self.weeks * 7;
        let none = || vec![vec![0; days]; CROP_SLOTS];
        let mut sums = Sums {
            need: none(),
            issue: none(),
            on_farms: vec![0; CROP_SLOTS],
            points: HashMap::new(),
        };
        let mut told = Vec::new();
        for (farm, need) in farms.iter().zip(needs) {
            let need = &need.plan;
            add(&mut sums.need, &need.need);
            add(&mut sums.issue, &need.issue);
            let point = sums.points.entry(farm.row.area);
            let (at, count) = point.or_insert_with(|| (none(), vec![0; CROP_SLOTS]));
            add(at, &need.issue);
            for crop in 0..CROP_SLOTS {
                let on_farm = need.on_farm.get(crop).copied().unwrap_or(0);
                put(&mut sums.on_farms, crop, on_farm);
                put(count, crop, i64::from(of(&need.issue, crop).iter().any(|g| *g > 0)));
                told.extend(farm_need(farm, need, crop));
            }
        }
        let guide = |name| self.board.guide.value(name, None, self.board.day);
        let bag = guide(GuideName::SeedBagKg);
        let usage = usage(needs, today);
        let crops = (0..CROP_SLOTS).filter_map(|crop| {
            let store = store.map(|lots| self.store(crop, lots, leads, &sums, usage.get(&crop)));
            self.crop(crop, &sums, store, bag)
        });
        SeedForecast {
            from: self.board.day,
            weeks: self.weeks,
            data_version: self.board.seq,
            method: METHOD.to_owned(),
            bag_kg: kg(bag),
            service_percent: Decimal::new(guide(GuideName::SeedServicePercent), 3),
            crops: crops.collect(),
            farms: told,
        }
    }

    fn crop(
        &self,
        crop: usize,
        sums: &Sums,
        store: Option<StoreNeed>,
        bag: i64,
    ) -> Option<CropNeed> {
        let (need, issue) = (of(&sums.need, crop), of(&sums.issue, crop));
        let total = |days: &[i64]| days.iter().sum::<i64>();
        let on_farms = sums.on_farms.get(crop).copied().unwrap_or(0);
        let has_store = store.as_ref().is_some_and(|s| s.stock_kg != kg(0) || s.held_kg != kg(0));
        if total(need) == 0 && on_farms == 0 && !has_store {
            return None;
        }
        let mut points: Vec<IssuePoint> = sums
            .points
            .iter()
            .filter(|(_, (days, _))| of(days, crop).iter().any(|g| *g > 0))
            .map(|(area, (days, farms))| IssuePoint {
                area_id: *area,
                area: self.areas.get(area).cloned(),
                farms: farms.get(crop).copied().unwrap_or(0),
                to_issue_kg: kg(total(of(days, crop))),
                to_issue_kg_by_week: by_week(of(days, crop)),
                to_issue_bags: bags(total(of(days, crop)), bag),
            })
            .collect();
        points.sort_by(|a, b| (&a.area, a.area_id).cmp(&(&b.area, b.area_id)));
        Some(CropNeed {
            crop: crop_name(crop),
            need_kg: kg(total(need)),
            need_kg_by_week: by_week(need),
            on_farms_kg: kg(on_farms),
            to_issue_kg: kg(total(issue)),
            to_issue_kg_by_week: by_week(issue),
            store,
            issue_points: points,
        })
    }

    fn store(
        &self,
        crop: usize,
        lots: &[(Uuid, i64)],
        leads: &[(Uuid, i64)],
        sums: &Sums,
        usage: Option<&DailyUse>,
    ) -> StoreNeed {
        let is_of = |lot: &Uuid| {
            let known = self.board.lots.get(lot);
            known.is_some_and(|l| CROPS.get(crop) == Some(&l.crop.as_str()))
        };
        let sum = |held: bool| -> i64 {
            let of_crop = lots.iter().filter(|(lot, _)| is_of(lot));
            of_crop.filter(|(lot, _)| self.board.held.contains_key(lot) == held).map(|l| l.1).sum()
        };
        let (stock, held) = (sum(false), sum(true));
        let guide = |name| self.board.guide.value(name, None, self.board.day);
        // The slowest of those who delivered this crop: seed must last also when they deliver.
        let lead = leads.iter().filter(|(lot, _)| is_of(lot)).map(|(_, days)| *days).max();
        let lead = lead.unwrap_or_else(|| guide(GuideName::SeedLeadDays) / 1_000);
        let safety = usage.map(|u| safety_stock_g(u, lead, guide(GuideName::SeedServicePercent)));
        let issues = of(&sums.issue, crop);
        let lead_days = usize::try_from(lead).unwrap_or(0);
        let StoreOutlook { empty_on, order_on } =
            outlook(stock, issues, lead_days, safety.unwrap_or(0));
        let day = |at: usize| plus_days(self.board.day, u64::try_from(at).unwrap_or(0));
        let wanted: i64 = issues.iter().sum();
        let buy = match wanted {
            0 => 0,
            wanted => (wanted + safety.unwrap_or(0) - stock).max(0),
        };
        StoreNeed {
            stock_kg: kg(stock),
            held_kg: kg(held),
            lead_time_days: lead,
            safety_stock_kg: safety.map(kg),
            lasts_until: empty_on.map(day),
            order_by: order_on.map(day),
            to_buy_kg: kg(buy),
            to_buy_bags: bags(buy, guide(GuideName::SeedBagKg)),
        }
    }
}

/// What was soaked of each crop on each of the last days.
fn usage(needs: &[Arc<Need>], today: Day) -> HashMap<usize, DailyUse> {
    let mut soaks: HashMap<usize, Vec<(chrono::NaiveDate, i64)>> = HashMap::new();
    for (crop, day, grams) in needs.iter().flat_map(|n| &n.soaks) {
        soaks.entry(*crop).or_default().push((*day, *grams));
    }
    let (from, to) = (date_of(today - HISTORY_DAYS), date_of(today - 1));
    let used = soaks.into_iter().filter_map(|(crop, soaks)| {
        let days = daily_history(soaks, from, to);
        let is_used = days.iter().any(|g| *g > 0);
        Some((crop, DailyUse::of(&days).filter(|_| is_used)?))
    });
    used.collect()
}

fn put(to: &mut [i64], crop: usize, value: i64) {
    if let Some(slot) = to.get_mut(crop) {
        *slot += value;
    }
}

fn farm_need(farm: &FarmBoard, need: &SeedNeed, crop: usize) -> Option<FarmNeed> {
    let total = |all: &ByCropAndDay| of(all, crop).iter().sum::<i64>();
    let wanted = total(&need.need);
    (wanted > 0).then(|| FarmNeed {
        farm_id: farm.row.farm,
        farm: farm.row.code.clone(),
        area_id: farm.row.area,
        crop: crop_name(crop),
        need_kg: kg(wanted),
        on_farm_kg: kg(need.on_farm.get(crop).copied().unwrap_or(0)),
        lasts_until: need.empty_on.get(crop).copied().flatten().map(date_of),
        to_issue_kg: kg(total(&need.issue)),
    })
}
