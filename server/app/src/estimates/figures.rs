//! The figures of a co-operative: what they are, as they are stored, and how they are made.

use super::stored::{Prices, Years, coop, farms};
use super::{lots, output, spoilage};
use crate::Coop;
use crate::error::AppError;
use crate::planning::{BadLots, service_prices};
use crate::rations;
use crate::savings::{
    Basis, Effect, Effects, Extras, FeedPrices, KeptTotal, Made, YearSoFar, kept_cells,
};
use crate::seed::compare_suppliers;
use chrono::NaiveDate;
use serde::de::IgnoredAny;
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, HashMap};
use traybook_analytics::spoilage::{LOT_BAD, Shared};
use traybook_answers::estimates::{
    AreaOutputChange, AsOf, Comparison, Enterprise, LotVerdict, OutputFigures, OutputStatus,
    ProgrammeOutputChange, ProgrammeSaving, SavingFigures, SavingMonth, SpoilageFigures, Verdict,
};
use traybook_answers::planning::ServicePrices;
use traybook_answers::rations::FeedValues;
use traybook_answers::savings::{OutputChange, SavingsReport, SinceStart};
use traybook_answers::seed::SupplierComparison;
use traybook_answers::wire;
use traybook_domain::Month;
use traybook_domain::value::{Instant, real};
use traybook_reports::savings::{self, Report};
use traybook_storage::estimates::snapshots::{self, CoopSnapshot, MonthSnapshot, State};
use traybook_storage::records::Visible;
use traybook_storage::records::farm_rows;
use traybook_storage::savings::programme_rows::Cell;
use traybook_storage::{Conn, records::changes};
use uuid::Uuid;

/// Version of the form of the stored bodies. Where it is another, the figures are made anew.
pub(super) const FORMAT: i64 = 9;

/// What is said of one farm, as it is stored.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub(crate) struct FarmFigures {
    #[serde(skip_serializing_if = "Option::is_none")]
    pub milk: Option<OutputFigures>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub eggs: Option<OutputFigures>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub spoilage: Option<SpoilageFigures>,
    /// How its seed lots do on other farms.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub lots: Vec<LotShare>,
    #[serde(skip_serializing_if = "Option::is_none")]
    pub saving: Option<SavingFigures>,
    /// What its baselines rest on.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub basis: Vec<Basis>,
    /// What was said of its output at the making that began the day.
    #[serde(skip_serializing_if = "Kept::is_empty")]
    pub kept: Kept,
}

/// Directions that were given at the making that began a day: the next day's keeps them a little
/// longer.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub(crate) struct Kept {
    #[serde(skip_serializing_if = "Option::is_none")]
    milk: Option<Verdict>,
    #[serde(skip_serializing_if = "Option::is_none")]
    eggs: Option<Verdict>,
}

impl Kept {
    const fn is_empty(&self) -> bool {
        self.milk.is_none() && self.eggs.is_none()
    }

    const fn of(&self, enterprise: Enterprise) -> Option<Verdict> {
        match enterprise {
            Enterprise::Milk => self.milk,
            Enterprise::Eggs => self.eggs,
        }
    }
}

/// A farm's row as far as memory asks; whatever else its form was.
#[derive(Default, Deserialize)]
#[serde(default)]
struct Remembered {
    kept: Kept,
}

/// What is said of the co-operative, as it is stored.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub(crate) struct CoopFigures {
    pub milk: CoopOutput,
    pub eggs: CoopOutput,
    pub charts: SharedCharts,
    /// Every farm with batches, the strongest evidence first: whether it is recurring.
    pub spoiling: Vec<(Uuid, bool)>,
    pub lots: Lots,
    pub first_month: Option<wire::Month>,
    pub saving: ProgrammeSaving,
    /// Median prices of feeds.
    pub prices: FeedPrices,
    /// Years so far, by their last month.
    pub years: Vec<YearSoFar>,
    pub suppliers: SupplierComparison,
    /// What a kg of fodder costs that is wasted, or missing; none without purchases.
    pub service_prices: Option<ServicePrices>,
    /// What feeds and fodder cost, in the running month and in the one before.
    pub feed_values: Vec<FeedValues>,
}

/// The output change of a co-operative and its areas.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub(crate) struct CoopOutput {
    pub first_month: Option<wire::Month>,
    pub last_month: Option<wire::Month>,
    pub is_stage_adjusted: bool,
    pub programme: ProgrammeOutputChange,
    pub areas: Vec<(Uuid, AreaOutputChange)>,
    /// The farms of which something is said, the largest gain first.
    pub farms: Vec<Judged>,
    /// How output wanders by itself, for planning a trial; none without enough comparisons.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub scatter: Option<Scatter>,
}

/// A farm with an estimate of its own, or one that is held back by a jump.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub(crate) struct Judged {
    pub farm: Uuid,
    /// None where it is held back.
    pub verdict: Option<Verdict>,
}

impl Judged {
    /// The farms of which something is said.
    pub(super) fn of(farms: &[(Uuid, OutputFigures)]) -> Vec<Self> {
        let is_held = |f: &OutputFigures| f.status == OutputStatus::CheckLevel;
        let said = |f: &OutputFigures| f.status == OutputStatus::Estimated || is_held(f);
        let mut judged: Vec<_> = farms.iter().filter(|(_, f)| said(f)).collect();
        judged.sort_by_key(|(_, f)| f.rank.unwrap_or(u64::MAX));
        let one = |(farm, f): &(Uuid, OutputFigures)| Self {
            farm: *farm,
            verdict: f.verdict.filter(|_| !is_held(f)),
        };
        judged.into_iter().map(one).collect()
    }

    pub(super) fn is_held(&self) -> bool {
        self.verdict.is_none()
    }
}

/// How output wanders by itself, logarithms.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub(crate) struct Scatter {
    /// Half mean squares by lag in months.
    pub half_squares: Vec<f64>,
    pub record_variance: f64,
    /// Variance of what an area shares in a month, and its correlation from month to month.
    pub area_variance: f64,
    pub area_correlation: f64,
    /// Records of a farm and month.
    pub records_a_month: f64,
    /// How far effects of members differ.
    pub effect_sd: f64,
    /// What a farm saved in a month so far, currency units; put in when it is read.
    #[serde(skip)]
    pub saving_a_farm_month: Option<f64>,
}

/// The years so far as last made; as the records stand where nothing was made.
pub(crate) fn years_so_far(
    conn: &mut Conn,
    of: &Coop,
    now: Instant,
) -> Result<Vec<YearSoFar>, AppError> {
    match coop::<Years>(conn, of.number)?.1 {
        Some(made) => Ok(made.years),
        None => Ok(Figures::make(conn, of, now)?.coop.years),
    }
}

/// How output of an enterprise wanders, as last made.
pub(crate) fn scatter(
    conn: &mut Conn,
    number: i64,
    enterprise: Enterprise,
) -> Result<Option<Scatter>, AppError> {
    let Some(made) = coop::<CoopFigures>(conn, number)?.1 else { return Ok(None) };
    let since = made.saving.since_start.filter(|s| s.farm_months > 0);
    let months = |s: &SinceStart| real(s.farm_months);
    let saving = since.map(|s| s.saving.real() / months(&s));
    let of = made.output(enterprise).scatter.clone();
    Ok(of.map(|of| Scatter { saving_a_farm_month: saving, ..of }))
}

/// What the charts of all farms share.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub(crate) struct SharedCharts {
    pub correlation: f64,
    pub serial: f64,
    pub share_ok: f64,
}

impl SharedCharts {
    /// Before the figures were first made: the house rules.
    pub(super) const NOTHING_KNOWN: Self = Self { correlation: 0.05, serial: 0.0, share_ok: 0.04 };

    pub(super) const fn of_charts(&self) -> Shared {
        let Self { correlation, serial, share_ok } = *self;
        Shared { correlation, serial, share_ok, class_multipliers: Vec::new() }
    }
}

/// How a lot of a farm does on other farms.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize)]
pub(crate) struct LotShare {
    pub lot: Uuid,
    pub multiplier: f64,
    pub other_farms: u32,
}

/// What is held against seed lots.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub(crate) struct Lots {
    pub verdict: LotVerdict,
    pub sentence: String,
    pub p_lots: Option<f64>,
    pub p_farms: Option<f64>,
    pub lots: Vec<Lot>,
}

/// One of the lots compared.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
pub(crate) struct Lot {
    pub lot: Uuid,
    pub is_suspect: bool,
    pub effect: Option<f64>,
    pub p: Option<f64>,
    /// How many times as many trays it lets expect, by all other farms, where it is highest.
    pub multiplier: f64,
    pub batches: u64,
    pub farms: u64,
    pub growing_at: Vec<Uuid>,
    /// Farms that would have a flag, were it not for this lot.
    pub carries_flags_at: Vec<Uuid>,
}

impl CoopFigures {
    pub(super) const fn output(&self, enterprise: Enterprise) -> &CoopOutput {
        match enterprise {
            Enterprise::Milk => &self.milk,
            Enterprise::Eggs => &self.eggs,
        }
    }
}

impl FarmFigures {
    pub(super) const fn output(&self, enterprise: Enterprise) -> Option<&OutputFigures> {
        match enterprise {
            Enterprise::Milk => self.milk.as_ref(),
            Enterprise::Eggs => self.eggs.as_ref(),
        }
    }

    /// What the savings report of a month says of the farm besides its own figures.
    fn extras(&self) -> Extras {
        let tenth = |v: f64| (v * 10.0).round() / 10.0;
        let change = |(enterprise, f): (Enterprise, &OutputFigures)| {
            // A weaker answer is a sentence in the report, and no number beside the others.
            let shown =
                |v: Option<f64>| v.filter(|_| f.comparison != Some(Comparison::Settled)).map(tenth);
            OutputChange {
                enterprise,
                percent: shown(f.percent),
                low: shown(f.low),
                high: shown(f.high),
                sentence: f.sentence.clone(),
            }
        };
        let milk = self.milk.as_ref().map(|f| (Enterprise::Milk, f));
        let eggs = self.eggs.as_ref().map(|f| (Enterprise::Eggs, f));
        Extras {
            output_change: milk.or(eggs).map(change),
            spoilage_status: self
                .spoilage
                .as_ref()
                .filter(|s| s.batches_counted > 0)
                .map(spoilage::for_report),
        }
    }
}

/// All figures of one state.
pub(crate) struct Figures {
    pub state: State,
    pub coop: CoopFigures,
    pub farms: BTreeMap<Uuid, FarmFigures>,
    /// Farms whose chart has a flag, for raising and clearing.
    pub standing: Vec<super::flags::Standing>,
    /// The feed saving of every month.
    pub savings: Made,
}

impl Figures {
    /// Makes all figures of a co-operative from its records.
    pub fn make(conn: &mut Conn, coop: &Coop, now: Instant) -> Result<Self, AppError> {
        let (number, day) = (coop.number, coop.today(now));
        let counters = changes::counters(conn, number)?;
        let state = State {
            revision: counters.revision,
            change_seq: counters.change_seq,
            made_at: now.0,
            day,
        };
        let farms = farm_rows::farms(conn, number, None)?;
        let mut all: BTreeMap<Uuid, FarmFigures> = BTreeMap::new();
        let mut savings = Made::make(conn, coop, day, &farms)?;
        let memory = Memory::read(conn, number, day)?;
        let ground = output::Ground {
            coop,
            today: day,
            farms: &farms,
            savings: &savings,
            parents: &output::parents(conn, number)?,
            accepted: &output::accepted(conn, number)?,
            kept: &memory.kept,
        };
        let milk = output::make(conn, Enterprise::Milk, &ground)?;
        let eggs = output::make(conn, Enterprise::Eggs, &ground)?;
        for (farm, figures) in milk.farms {
            all.entry(farm).or_default().milk = Some(figures);
        }
        for (farm, figures) in eggs.farms {
            all.entry(farm).or_default().eggs = Some(figures);
        }
        memory.keep(&mut all);
        let trays = spoilage::Charts::make(conn, coop, day, &farms)?;
        let lots = lots::compare(&trays, lots::names(conn, number)?);
        let spoiling = trays.figures();
        let standing = spoilage::standing(&spoiling);
        let order = spoilage::order(&spoiling);
        for ((farm, figures), of) in spoiling.into_iter().zip(&trays.farms) {
            let slot = all.entry(farm).or_default();
            slot.spoilage = Some(figures);
            slot.lots.clone_from(&of.lots);
        }
        savings.put_effects(effects(&all, [&milk.coop, &eggs.coop]));
        for (farm, figures, basis) in savings.farm_figures(coop.digits) {
            let slot = all.entry(farm).or_default();
            slot.saving = Some(figures);
            slot.basis = basis;
        }
        let suppliers = compare_suppliers(conn, coop, day, trays.shared().correlation)?;
        let service_prices = service_prices(conn, coop, day)?;
        let running = Month::of(day);
        let feed_values = [running.plus(-1), running].map(|month| {
            rations::feed_values_now(conn, coop, &Visible::All, (month, None), Some(farms.clone()))
        });
        let coop = CoopFigures {
            suppliers,
            service_prices,
            feed_values: feed_values.into_iter().collect::<Result<_, _>>()?,
            milk: milk.coop,
            eggs: eggs.coop,
            charts: trays.shared(),
            spoiling: order,
            lots,
            first_month: savings.first_month().map(wire::Month),
            saving: savings.programme(coop.digits),
            prices: savings.prices(),
            years: savings.years(),
        };
        Ok(Self { state, coop, farms: all, standing, savings })
    }

    /// Farms with the lots of theirs that spoil on other farms too.
    pub fn bad_lots(&self) -> BadLots {
        let of = self.farms.iter().flat_map(|(farm, f)| f.lots.iter().map(|lot| (*farm, lot)));
        of.filter(|(_, lot)| lot.multiplier >= LOT_BAD).map(|(farm, lot)| (farm, lot.lot)).collect()
    }

    /// Jumps that hold an output change back, for the review list.
    pub fn level_findings(&self) -> Vec<traybook_domain::review::Finding> {
        let of = |(farm, f): (&Uuid, &FarmFigures)| {
            let milk = f.milk.as_ref().map(|f| (Enterprise::Milk, f));
            let eggs = f.eggs.as_ref().map(|f| (Enterprise::Eggs, f));
            let both = milk.into_iter().chain(eggs);
            both.filter_map(|(e, f)| output::level_jump(e, *farm, f)).collect::<Vec<_>>()
        };
        self.farms.iter().flat_map(of).collect()
    }

    /// The report of a month.
    pub fn report(&self, conn: &mut Conn, coop: &Coop, month: Month) -> Result<Report, AppError> {
        let extras = self.farms.iter().map(|(farm, f)| (*farm, f.extras()));
        self.savings.report(conn, coop, month, &extras.collect())
    }

    /// What is kept of an open month.
    pub fn month(
        &self,
        conn: &mut Conn,
        coop: &Coop,
        month: Month,
    ) -> Result<(MonthSnapshot, Vec<Cell>), AppError> {
        let report = self.report(conn, coop, month)?.publish(false);
        // Which state it is of is said when it is read: so a month that did not change is not
        // written again.
        let report = SavingsReport { data_version: 0, ..report };
        let body = savings::json(&report).map_err(AppError::Internal)?;
        let divisions = self.savings.divisions(conn, coop, month)?;
        let cells = match self.savings.is_divided(month) {
            true => kept_cells(conn, coop, (&report, &divisions), month)?,
            false => Vec::new(),
        };
        let total = KeptTotal::of(&report)?;
        Ok((MonthSnapshot { body, total, divisions: text(&divisions)? }, cells))
    }
}

/// What was said before, and whether this making begins a day.
struct Memory {
    kept: HashMap<(Enterprise, Uuid), Verdict>,
    is_first_of_day: bool,
}

impl Memory {
    fn read(conn: &mut Conn, coop: i64, day: NaiveDate) -> Result<Self, AppError> {
        let made = snapshots::of_coop(conn, coop)?;
        let mut kept = HashMap::new();
        for (farm, body) in snapshots::of_farms(conn, coop, None)? {
            let remembered: Remembered = serde_json::from_str(&body).unwrap_or_default();
            for enterprise in Enterprise::ALL.iter().copied() {
                let verdict = remembered.kept.of(enterprise);
                kept.extend(verdict.map(|verdict| ((enterprise, farm), verdict)));
            }
        }
        let is_first_of_day = made.is_none_or(|row| row.state.day < day);
        Ok(Self { kept, is_first_of_day })
    }

    /// Notes what is said now, at the first making of a day; later ones leave it as it is.
    fn keep(&self, farms: &mut BTreeMap<Uuid, FarmFigures>) {
        for (farm, figures) in farms {
            let said = |enterprise| {
                if !self.is_first_of_day {
                    return self.kept.get(&(enterprise, *farm)).copied();
                }
                let said = figures.output(enterprise).and_then(|f| f.verdict);
                said.filter(|verdict| *verdict != Verdict::Unclear)
            };
            figures.kept = Kept { milk: said(Enterprise::Milk), eggs: said(Enterprise::Eggs) };
        }
    }
}

/// The changes in output of farms, areas and the co-operative. One is taken for an effect where
/// there was no change before the start and another method says the same.
fn effects(farms: &BTreeMap<Uuid, FarmFigures>, coop: [&CoopOutput; 2]) -> Effects {
    let mut made = Effects::default();
    for (enterprise, of) in Enterprise::ALL.iter().copied().zip(coop) {
        let checks = &of.programme.before_start;
        let is_clear = checks
            .iter()
            .all(|b| b.low.zip(b.high).is_none_or(|(low, high)| low <= 0.0 && high >= 0.0));
        let is_causal = !checks.is_empty()
            && is_clear
            && !of.programme.is_cross_check_apart
            && !of.programme.is_start_by_area;
        let of_kind = |is_causal| {
            move |percent: Option<f64>, low: Option<f64>, high: Option<f64>| {
                Some(Effect { percent: percent?, low: low?, high: high?, is_causal })
            }
        };
        let effect = of_kind(is_causal);
        let p = &of.programme;
        made.all.extend(effect(p.percent, p.low, p.high).map(|e| (enterprise, e)));
        for (area, a) in &of.areas {
            let e = effect(a.percent, a.low, a.high);
            made.areas.extend(e.map(|e| ((*area, enterprise), e)));
        }
        for (farm, f) in farms {
            // What rests on settled farms is the weaker answer.
            let e = f.output(enterprise).and_then(|f| {
                let is_weaker = f.comparison == Some(Comparison::Settled);
                of_kind(is_causal && !is_weaker)(f.percent, f.low, f.high)
            });
            made.farms.extend(e.map(|e| ((*farm, enterprise), e)));
        }
    }
    made
}

/// What a farm saved month by month: as it was last made, else as the records stand.
pub(crate) fn saving_months(
    conn: &mut Conn,
    of: &Coop,
    farm: Uuid,
    now: Instant,
) -> Result<Vec<SavingMonth>, AppError> {
    let is_made = coop::<IgnoredAny>(conn, of.number)?.1.is_some();
    let figures = if is_made {
        farms(conn, of.number, Some(&[farm]))?.remove(&farm)
    } else {
        Figures::make(conn, of, now)?.farms.remove(&farm)
    };
    Ok(figures.and_then(|f| f.saving).map(|s| s.months).unwrap_or_default())
}

/// What a farm's saving rests on: its baselines and the co-operative's prices, as they were last
/// made, else as the records stand.
pub(crate) fn saving_basis(
    conn: &mut Conn,
    of: &Coop,
    farm: Uuid,
    now: Instant,
) -> Result<(AsOf, Vec<Basis>, FeedPrices), AppError> {
    let (as_of, made) = coop::<Prices>(conn, of.number)?;
    if let Some(made) = made {
        let figures = farms(conn, of.number, Some(&[farm]))?.remove(&farm);
        return Ok((as_of, figures.map(|f| f.basis).unwrap_or_default(), made.prices));
    }
    let mut made = Figures::make(conn, of, now)?;
    let basis = made.farms.remove(&farm).map(|f| f.basis).unwrap_or_default();
    Ok((as_of, basis, made.coop.prices))
}

/// What is to be written of the farms' rows.
pub(super) struct ChangedRows {
    pub changed: Vec<(Uuid, String)>,
    /// Farms that have none any more.
    pub gone: Vec<Uuid>,
}

impl Figures {
    /// The co-operative's row.
    pub(super) fn row(&self) -> Result<CoopSnapshot, AppError> {
        Ok(CoopSnapshot { state: self.state, format: FORMAT, body: text(&self.coop)? })
    }

    /// The rows of the farms that differ from those that are stored, and the farms that have none
    /// any more.
    pub(super) fn changed(&self, stored: &HashMap<Uuid, String>) -> Result<ChangedRows, AppError> {
        let mut changed = Vec::new();
        for (farm, figures) in &self.farms {
            let body = text(figures)?;
            if stored.get(farm) != Some(&body) {
                changed.push((*farm, body));
            }
        }
        let gone = stored.keys().filter(|farm| !self.farms.contains_key(*farm)).copied();
        Ok(ChangedRows { changed, gone: gone.collect() })
    }
}

fn text<T: Serialize>(of: &T) -> Result<String, AppError> {
    serde_json::to_string(of).map_err(|e| AppError::Internal(e.to_string()))
}

/// The day after, for [`Figures::make`] and the making's due time.
pub(super) fn day_after(day: NaiveDate) -> NaiveDate {
    day.succ_opt().unwrap_or(day)
}
