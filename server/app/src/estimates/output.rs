//! Did output per animal and day really change after the start?

use super::{Estimates, Version, farms, grouped, is_asked, merge, put, real, rests_on, version};
use crate::ctx::{Actor, App};
use crate::error::AppError;
use crate::savings::area_names;
use serde_json::{Value as Json, json};
use std::collections::BTreeMap;
use std::sync::{Arc, OnceLock};
use traybook_analytics::callaway::{Control, group_times};
use traybook_analytics::limits::PRE_START_EVENTS;
use traybook_analytics::member_effect::{MemberEffect, MemberEffects, MemberRules, member_effects};
use traybook_analytics::panel::Panel;
use traybook_analytics::programme::{
    Averaging, ProgrammeEffect, Reference, imputation_effect, programme_effect, programmes_disagree,
};
use traybook_analytics::records::{Covariates, FarmMonths, Output, stage_covariates};
use traybook_analytics::sentences::{output_change_sentence, programme_sentence, warning_sentence};
use traybook_analytics::stats::LogEstimate;
use traybook_domain::authz::Task;
use traybook_domain::{Kind, Month};
use traybook_reports::savings::Change;
use traybook_storage::estimate_rows::OutputCell;
use traybook_storage::farm_rows::FarmRow;
use traybook_storage::records::Visible;
use traybook_storage::{Conn, estimate_rows};
use uuid::Uuid;

/// What is compared.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Enterprise {
    /// Litres per cow-day.
    Milk,
    /// Eggs per hen-day.
    Eggs,
}

impl Enterprise {
    /// Reads a name.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        match text {
            "milk" => Some(Self::Milk),
            "eggs" => Some(Self::Eggs),
            _ => None,
        }
    }

    /// Its name.
    #[must_use]
    pub const fn text(self) -> &'static str {
        match self {
            Self::Milk => "milk",
            Self::Eggs => "eggs",
        }
    }

    const fn output(self) -> Output {
        match self {
            Self::Milk => Output::Milk,
            Self::Eggs => Output::Eggs,
        }
    }
}

const METHOD: &str = "change in output per animal-day after the farm's start, net of what farms that \
    had not started did in the same months; months without five such farms are not used; members \
    are pulled towards the group where data are few (empirical Bayes); 95 % intervals. From month \
    sums: output over animals of the days with a record";
const UNITS: &str = "per cent of what output per animal-day would have been; months and records \
    (group-days) used";

/// The estimate of one enterprise.
struct OutputChange {
    /// Farms with a record of the enterprise.
    farms: Vec<Arc<FarmRow>>,
    names: BTreeMap<Uuid, String>,
    /// What it was made from; none without any record.
    made: Option<Made>,
    /// Farms, in their order.
    effects: Vec<MemberEffect>,
    /// The programme's, made when somebody asks for it: farms' pages do not.
    programme: OnceLock<Option<ProgrammeEffect>>,
    /// See [`OutputChange::programme`].
    checks: OnceLock<Checks>,
}

/// Farms by months, and the fit of all farms.
struct Made {
    months: (Month, Month),
    sums: FarmMonths,
    start: Vec<Option<u32>>,
    covariates: Option<Covariates>,
    effects: MemberEffects,
}

/// Areas, and what the programme's estimate is checked against.
#[derive(Default)]
struct Checks {
    areas: Vec<(Uuid, Option<ProgrammeEffect>)>,
    cross_check: Option<LogEstimate>,
    before_start: Vec<(i64, LogEstimate)>,
}

impl Made {
    fn panel(&self) -> Option<Panel<'_>> {
        let (sums, covariates) = (&self.sums, self.covariates.as_ref());
        // It was whole when the farms' effects were made.
        Panel::new(sums.months, &sums.log_output, &sums.records, &self.start, covariates).ok()
    }
}

impl App {
    /// The output change of every farm the person may see, of areas and of the co-operative.
    ///
    /// # Errors
    /// `Forbidden`; `Invalid` for another enterprise.
    pub async fn output_change(&self, actor: &Actor, enterprise: &str) -> Result<Json, AppError> {
        let visible = actor.task(Task::Estimates)?;
        let enterprise = Enterprise::parse(enterprise)
            .ok_or_else(|| AppError::field("enterprise", "choice", "give milk or eggs"))?;
        let (actor, app, today) = (actor.clone(), self.clone(), actor.coop.today(self.now()));
        self.store
            .read(move |conn| {
                let number = actor.coop.number;
                let version = version(conn, number, today)?;
                let made = get(conn, &app.estimates, number, enterprise, (version, today))?;
                Ok(made.json(enterprise, version.0, &visible))
            })
            .await
    }
}

impl App {
    /// The output change of one farm: none where it has no record of the enterprise, or is out of
    /// reach. The same line as in [`App::output_change`].
    ///
    /// # Errors
    /// `Forbidden`.
    pub async fn farm_output_change(
        &self,
        actor: &Actor,
        enterprise: Enterprise,
        farm: Uuid,
    ) -> Result<Option<Json>, AppError> {
        self.changed(actor, enterprise, move |made, visible| {
            let mut lines = made.farms.iter().zip(&made.effects);
            let line = lines.find(|(f, _)| f.farm == farm && visible.sees(f.area, f.member));
            line.map(|(f, effect)| made.farm(f, effect, enterprise.output()))
        })
        .await
    }

    /// The output change of the co-operative: the same figures as in [`App::output_change`], without
    /// what they are checked against.
    ///
    /// # Errors
    /// `Forbidden`.
    pub async fn programme_output_change(
        &self,
        actor: &Actor,
        enterprise: Enterprise,
    ) -> Result<Json, AppError> {
        self.changed(actor, enterprise, move |made, _| {
            let (head, figures) = made.headline(enterprise.output());
            merge(head, figures)
        })
        .await
    }

    async fn changed<T: Send + 'static>(
        &self,
        actor: &Actor,
        enterprise: Enterprise,
        read: impl FnOnce(&OutputChange, &Visible) -> T + Send + 'static,
    ) -> Result<T, AppError> {
        let visible = actor.task(Task::Estimates)?;
        let (number, app, today) = (actor.coop.number, self.clone(), actor.coop.today(self.now()));
        self.store
            .read(move |conn| {
                let version = version(conn, number, today)?;
                let made = get(conn, &app.estimates, number, enterprise, (version, today))?;
                Ok(read(&made, &visible))
            })
            .await
    }
}

/// The published change of every farm or of one, milk before eggs.
pub(super) fn of_farms(
    conn: &mut Conn,
    kept: &Estimates,
    coop: i64,
    today: chrono::NaiveDate,
    of: Option<Uuid>,
) -> Result<Vec<(Uuid, Change)>, AppError> {
    let version = version(conn, coop, today)?;
    let mut all = Vec::new();
    for enterprise in [Enterprise::Eggs, Enterprise::Milk] {
        let made = get(conn, kept, coop, enterprise, (version, today))?;
        let lines = made.farms.iter().zip(&made.effects);
        for (farm, effect) in lines.filter(|(f, _)| is_asked(of, f.farm)) {
            let percent = effect.published().and_then(LogEstimate::percent);
            let tenth = |v: f64| (v * 10.0).round() / 10.0;
            let change = Change {
                enterprise: enterprise.text(),
                percent: percent
                    .map(|p| (tenth(p.value), tenth(p.interval.lower), tenth(p.interval.upper))),
                sentence: output_change_sentence(effect, enterprise.output()),
            };
            all.push((farm.farm, change));
        }
    }
    Ok(all)
}

/// The estimate as kept, or made now.
fn get(
    conn: &mut Conn,
    kept: &Estimates,
    coop: i64,
    enterprise: Enterprise,
    (version, today): (Version, chrono::NaiveDate),
) -> Result<Arc<OutputChange>, AppError> {
    let kinds: (&[Kind], &[Kind]) = match enterprise {
        Enterprise::Milk => (rests_on!(MilkRecord), &[Kind::MilkRecord]),
        Enterprise::Eggs => (rests_on!(EggRecord), &[Kind::EggRecord]),
    };
    kept.follow(conn, (coop, enterprise.text()), version, kinds.0, |conn| {
        make(conn, (kept, coop), (enterprise, kinds), (version, today))
    })
}

fn make(
    conn: &mut Conn,
    (kept, coop): (&Estimates, i64),
    (enterprise, kinds): (Enterprise, (&[Kind], &[Kind])),
    (version, today): (Version, chrono::NaiveDate),
) -> Result<OutputChange, AppError> {
    let is_milk = enterprise == Enterprise::Milk;
    let name = if is_milk { "milk by month" } else { "eggs by month" };
    let cells = kept.by_farm(conn, (coop, name), version, kinds, |conn, of| {
        let rows = estimate_rows::output_cells(conn, coop, is_milk, of)?;
        let cells = grouped(rows, |c: &OutputCell| c.farm);
        Ok(cells.map(|(farm, cells)| (farm, Arc::<[OutputCell]>::from(cells))).collect())
    })?;
    let (all, names) = (farms(conn, kept, coop, version)?, area_names(conn, coop)?);
    // A farm without any record of this enterprise is not asked about it.
    let farms: Vec<Arc<FarmRow>> =
        all.iter().filter(|f| cells.contains_key(&f.farm)).cloned().collect();
    let months = || cells.values().flat_map(|c| c.iter()).map(|c| c.month);
    // The running month is not over: its sums are those of some days only, which is no bias.
    let Some((first, last)) = months().min().zip(months().max()) else {
        return Ok(OutputChange::empty(Vec::new(), names));
    };
    let count = usize::try_from(last.number() - first.number() + 1).unwrap_or(0);
    let size = farms.len() * count;
    let mut sums = FarmMonths {
        months: count,
        log_output: vec![f64::NAN; size],
        records: vec![0.0; size],
        stage: vec![f64::NAN; size],
        dropped: 0,
    };
    let of_farms = farms.iter().enumerate().filter_map(|(at, f)| Some((at, cells.get(&f.farm)?)));
    for (farm, cell) in of_farms.flat_map(|(at, cells)| cells.iter().map(move |c| (at, c))) {
        let month = usize::try_from(cell.month.number() - first.number()).unwrap_or(0);
        let at = farm * count + month;
        let (amount, animals) = (real(cell.amount), real(cell.animal_days));
        if amount > 0.0 && animals > 0.0 {
            let unit = if is_milk { 1000.0 } else { 1.0 };
            put(&mut sums.log_output, at, (amount / unit / animals).ln());
            put(&mut sums.records, at, real(cell.records));
        }
        if cell.stage.1 > 0 {
            put(&mut sums.stage, at, real(cell.stage.0) / real(cell.stage.1));
        }
    }
    let start: Vec<Option<u32>> = farms.iter().map(|f| start(f, first, last, today)).collect();
    let covariates = stage_covariates(&sums, enterprise.output());
    let panel = Panel::new(count, &sums.log_output, &sums.records, &start, covariates.as_ref());
    let panel = panel.map_err(|e| AppError::Internal(e.to_string()))?;
    let mut effects = member_effects(&panel, &MemberRules::default());
    let members = std::mem::take(&mut effects.members);
    let made = Made { months: (first, last), sums, start, covariates, effects };
    let empty = OutputChange::empty(farms, names);
    Ok(OutputChange { made: Some(made), effects: members, ..empty })
}

/// Month of the first soak as a month of the panel; none when it has not come.
fn start(farm: &FarmRow, first: Month, last: Month, today: chrono::NaiveDate) -> Option<u32> {
    let started = farm.started_on.filter(|day| *day <= today)?;
    let month = Month::of(started);
    if month > last {
        return None;
    }
    Some(u32::try_from(month.number() - first.number()).unwrap_or(0))
}

fn by_area(
    panel: &Panel<'_>,
    effects: &MemberEffects,
    farms: &[Arc<FarmRow>],
    months: usize,
) -> Vec<(Uuid, Option<ProgrammeEffect>)> {
    let mut areas: Vec<Uuid> = farms.iter().map(|f| f.area).collect();
    areas.sort_unstable();
    areas.dedup();
    let effect = |area: Uuid| {
        let keep = |(at, is_post): (usize, &bool)| {
            *is_post && farms.get(at / months.max(1)).is_some_and(|f| f.area == area)
        };
        let cells: Vec<bool> = effects.post_cells.iter().enumerate().map(keep).collect();
        let (averaging, reference) = (Averaging::FarmEqual, Reference::Horizon);
        imputation_effect(panel, &effects.fit, &cells, averaging, reference)
    };
    areas.into_iter().map(|area| (area, effect(area))).collect()
}

fn round(value: f64) -> Json {
    json!((value * 100.0).round() / 100.0)
}

/// An estimate in per cent with its interval; nulls where there is none.
fn percent(estimate: Option<&LogEstimate>) -> Json {
    match estimate.and_then(LogEstimate::percent) {
        Some(p) => json!({
            "percent": round(p.value), "low": round(p.interval.lower),
            "high": round(p.interval.upper),
        }),
        None => json!({ "percent": null, "low": null, "high": null }),
    }
}

impl OutputChange {
    fn empty(farms: Vec<Arc<FarmRow>>, names: BTreeMap<Uuid, String>) -> Self {
        Self {
            farms,
            names,
            made: None,
            effects: Vec::new(),
            programme: OnceLock::new(),
            checks: OnceLock::new(),
        }
    }

    fn programme_effect(&self) -> Option<&ProgrammeEffect> {
        let made = || {
            let made = self.made.as_ref()?;
            programme_effect(&made.panel()?, &made.effects)
        };
        self.programme.get_or_init(made).as_ref()
    }

    fn checks(&self) -> &Checks {
        let made = || {
            let made = self.made.as_ref()?;
            let panel = made.panel()?;
            let times = group_times(&panel, Control::NotYetStarted);
            let (low, high) = PRE_START_EVENTS;
            let events = times.dynamic(1).by_event.into_iter();
            Some(Checks {
                before_start: events.filter(|e| (low..=high).contains(&e.0)).collect(),
                cross_check: times.simple(1),
                areas: by_area(&panel, &made.effects, &self.farms, made.sums.months),
            })
        };
        self.checks.get_or_init(|| made().unwrap_or_default())
    }

    fn json(&self, enterprise: Enterprise, data_version: i64, visible: &Visible) -> Json {
        let seen = |f: &FarmRow| visible.sees(f.area, f.member);
        let output = enterprise.output();
        let lines = self.farms.iter().zip(&self.effects).filter(|(f, _)| seen(f));
        let farms: Vec<Json> = lines.map(|(f, e)| self.farm(f, e, output)).collect();
        let areas: Vec<Json> = self
            .checks()
            .areas
            .iter()
            .filter(|(area, _)| match visible {
                Visible::All => true,
                Visible::Areas(areas) => areas.contains(area),
                Visible::Member(_) => false,
            })
            .map(|(area, effect)| {
                let head = json!({
                    "area": self.names.get(area),
                    "farms_estimated": effect.as_ref().map_or(0, |e| e.farms),
                    "sentence": programme_sentence(effect.as_ref(), output),
                });
                merge(head, percent(effect.as_ref().map(|e| &e.estimate)))
            })
            .collect();
        json!({
            "enterprise": enterprise.text(),
            "method": METHOD,
            "units": UNITS,
            "data_version": data_version,
            "first_month": self.made.as_ref().map(|m| m.months.0.to_string()),
            "last_month": self.made.as_ref().map(|m| m.months.1.to_string()),
            "is_stage_adjusted": self.made.as_ref().is_some_and(|m| m.covariates.is_some()),
            "programme": self.programme(output),
            "areas": areas,
            "farms": farms,
        })
    }

    fn programme(&self, output: Output) -> Json {
        let checks = self.checks();
        let headline = self.programme_effect().map(|p| &p.estimate);
        let both = headline.zip(checks.cross_check.as_ref());
        let more = json!({
            "cross_check": percent(checks.cross_check.as_ref()),
            "is_cross_check_apart": both.is_some_and(|(a, b)| programmes_disagree(a, b)),
            "warning": both.and_then(|(a, b)| warning_sentence(a, b)),
            "before_start": checks.before_start.iter().map(|(months, e)| {
                merge(json!({ "months_from_start": months }), percent(Some(e)))
            }).collect::<Vec<_>>(),
        });
        let (head, figures) = self.headline(output);
        merge(merge(head, more), figures)
    }

    /// The programme's estimate without what it is checked against, and its figures.
    fn headline(&self, output: Output) -> (Json, Json) {
        let programme = self.programme_effect();
        let head = json!({
            "farms_estimated": programme.map_or(0, |p| p.farms),
            "farm_months": programme.map_or(0, |p| p.cells),
            "sentence": programme_sentence(programme, output),
        });
        (head, percent(programme.map(|p| &p.estimate)))
    }

    fn farm(&self, f: &FarmRow, e: &MemberEffect, output: Output) -> Json {
        let head = json!({
            "farm_id": f.farm,
            "farm": f.code,
            "member_number": f.number,
            "member_name": f.name,
            "area": self.names.get(&f.area),
            "fodder_started_on": f.started_on,
            "status": e.status,
            "months_before": e.pre.months,
            "records_before": e.pre.records,
            "months_after": e.post.months,
            "records_after": e.post.records,
            "is_shrunken": e.shrunken.is_some(),
            "rank": e.rank,
            "verdict": e.verdict,
            "sentence": output_change_sentence(e, output),
        });
        merge(head, percent(e.published()))
    }
}
