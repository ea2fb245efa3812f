//! Reading the figures: as they were last made, within what the person may see.

use super::figures::{self, CoopFigures, FarmFigures};
use super::spoilage::Charts;
use super::{lots, output, spoilage};
use crate::error::AppError;
use crate::savings::area_names;
use crate::{Actor, App};
use std::collections::{BTreeMap, HashMap, HashSet};
use std::sync::Arc;
use traybook_answers::estimates::{
    AreaOutputChange, AsOf, ChartedBatch, Enterprise, FarmChart, FarmOfMember, FarmOutputChange,
    FarmSavingEstimate, FarmSpoilage, GrowingAt, LotEvidence, OutputChange, ProgrammeOutputChange,
    SavingEstimates, SeedLotEvidence, Spoilage, SpoilageFigures,
};
use traybook_domain::authz::Task;
use traybook_domain::time::local_date;
use traybook_domain::value::Instant;
use traybook_storage::farm_rows::{self, FarmRow};
use traybook_storage::records::Visible;
use traybook_storage::{Conn, snapshots};
use uuid::Uuid;

/// Farms that are read by name rather than with all others.
const FEW: usize = 8;

/// Farms with what they and their areas are called.
struct Seen {
    farms: Vec<Arc<FarmRow>>,
    names: BTreeMap<Uuid, String>,
    figures: HashMap<Uuid, FarmFigures>,
}

impl Seen {
    /// The farms of a person with their figures.
    fn of(conn: &mut Conn, coop: i64, visible: &Visible) -> Result<Self, AppError> {
        let few = farm_rows::few(conn, coop, visible, FEW)?;
        Self::among(conn, coop, visible, few.as_deref())
    }

    fn among(
        conn: &mut Conn,
        coop: i64,
        visible: &Visible,
        of: Option<&[Uuid]>,
    ) -> Result<Self, AppError> {
        let mut farms = farm_rows::farms(conn, coop, of)?;
        farms.retain(|f| visible.sees(f.area, f.member));
        let figures = figures::farms(conn, coop, of)?;
        Ok(Self { farms, names: area_names(conn, coop)?, figures })
    }

    fn farm(&self, f: &FarmRow) -> FarmOfMember {
        FarmOfMember {
            farm_id: f.farm,
            farm: f.code.clone(),
            member_number: f.number.clone(),
            member_name: f.name.clone(),
            area: self.names.get(&f.area).cloned(),
        }
    }

    fn spoilage(&self, f: &FarmRow, figures: SpoilageFigures) -> FarmSpoilage {
        FarmSpoilage { of: self.farm(f), figures }
    }

    fn output(&self, enterprise: Enterprise) -> Vec<FarmOutputChange> {
        let line = |f: &Arc<FarmRow>| {
            Some(FarmOutputChange {
                of: self.farm(f),
                fodder_started_on: f.started_on,
                figures: self.figures.get(&f.farm)?.output(enterprise)?.clone(),
            })
        };
        self.farms.iter().filter_map(line).collect()
    }

    fn savings(&self) -> Vec<FarmSavingEstimate> {
        let line = |f: &Arc<FarmRow>| {
            Some(FarmSavingEstimate {
                of: self.farm(f),
                fodder_started_on: f.started_on,
                figures: self.figures.get(&f.farm)?.saving.clone()?,
            })
        };
        self.farms.iter().filter_map(line).collect()
    }
}

impl App {
    /// Reads estimates within what the person may see.
    async fn estimated<T: Send + 'static>(
        &self,
        actor: &Actor,
        read: impl FnOnce(&mut Conn, &Actor, &Visible) -> Result<T, AppError> + Send + 'static,
    ) -> Result<T, AppError> {
        let visible = actor.task(Task::Estimates)?;
        let actor = actor.clone();
        self.store.read(move |conn| read(conn, &actor, &visible)).await
    }

    /// The output change of every farm the person may see, of areas and of the co-operative.
    ///
    /// # Errors
    /// `Forbidden`; `Invalid` for another enterprise.
    pub async fn output_change(
        &self,
        actor: &Actor,
        enterprise: &str,
    ) -> Result<OutputChange, AppError> {
        let enterprise = Enterprise::parse(enterprise)
            .ok_or_else(|| AppError::field("enterprise", "choice", "give milk or eggs"))?;
        self.estimated(actor, move |conn, actor, visible| {
            let (as_of, made) = figures::coop(conn, actor.coop.number)?;
            let seen = Seen::of(conn, actor.coop.number, visible)?;
            let all = made.map(|made| made.output(enterprise).clone());
            let named = |(id, area): &(Uuid, AreaOutputChange)| AreaOutputChange {
                area: seen.names.get(id).cloned(),
                ..area.clone()
            };
            let sees = |id: &Uuid| match visible {
                Visible::All => true,
                Visible::Areas(areas) => areas.contains(id),
                Visible::Member(_) => false,
            };
            let areas = all.iter().flat_map(|o| &o.areas).filter(|(id, _)| sees(id));
            Ok(OutputChange {
                enterprise,
                method: output::METHOD.to_owned(),
                units: output::UNITS.to_owned(),
                as_of,
                first_month: all.as_ref().and_then(|o| o.first_month),
                last_month: all.as_ref().and_then(|o| o.last_month),
                is_stage_adjusted: all.as_ref().is_some_and(|o| o.is_stage_adjusted),
                areas: areas.map(named).collect(),
                programme: all.map(|o| o.programme),
                farms: seen.output(enterprise),
            })
        })
        .await
    }

    /// The output change of one farm: none where it has no record of the enterprise, or is out of
    /// reach.
    ///
    /// # Errors
    /// `Forbidden`.
    pub async fn farm_output_change(
        &self,
        actor: &Actor,
        enterprise: Enterprise,
        farm: Uuid,
    ) -> Result<Option<FarmOutputChange>, AppError> {
        self.estimated(actor, move |conn, actor, visible| {
            let seen = Seen::among(conn, actor.coop.number, visible, Some(&[farm]))?;
            Ok(seen.output(enterprise).pop())
        })
        .await
    }

    /// The output change of the co-operative; none before the figures were first made.
    ///
    /// # Errors
    /// `Forbidden`.
    pub async fn programme_output_change(
        &self,
        actor: &Actor,
        enterprise: Enterprise,
    ) -> Result<Option<ProgrammeOutputChange>, AppError> {
        self.estimated(actor, move |conn, actor, _| {
            let made = figures::coop(conn, actor.coop.number)?.1;
            Ok(made.map(|made| made.output(enterprise).programme.clone()))
        })
        .await
    }

    /// Every farm's spoilage, the strongest evidence first.
    ///
    /// # Errors
    /// `Forbidden`.
    pub async fn spoilage(&self, actor: &Actor) -> Result<Spoilage, AppError> {
        self.most_spoiling(actor, usize::MAX).await
    }

    /// The same of the first few farms.
    ///
    /// # Errors
    /// `Forbidden`.
    pub async fn most_spoiling(&self, actor: &Actor, most: usize) -> Result<Spoilage, AppError> {
        self.estimated(actor, move |conn, actor, visible| {
            let number = actor.coop.number;
            let (as_of, made) = figures::coop(conn, number)?;
            let order = made.as_ref().map_or(&[][..], |m| m.spoiling.as_slice());
            let mut farms = farm_rows::farms(conn, number, None)?;
            farms.retain(|f| visible.sees(f.area, f.member));
            let by_id: HashMap<Uuid, Arc<FarmRow>> =
                farms.into_iter().map(|f| (f.farm, f)).collect();
            let own = || order.iter().filter(|(farm, _)| by_id.contains_key(farm));
            let shown: Vec<Uuid> = own().take(most).map(|(farm, _)| *farm).collect();
            let of = (shown.len() <= BY_NAME_MAX).then_some(shown.as_slice());
            let mut figures = figures::farms(conn, number, of)?;
            let seen = Seen {
                farms: Vec::new(),
                names: area_names(conn, number)?,
                figures: HashMap::new(),
            };
            let line = |farm: &Uuid| {
                Some(seen.spoilage(by_id.get(farm)?, figures.remove(farm)?.spoilage?))
            };
            Ok(Spoilage {
                method: spoilage::METHOD.to_owned(),
                units: "trays; chart values are log likelihood ratios, a flag goes up at 6"
                    .to_owned(),
                caution: spoilage::CAUTION.to_owned(),
                as_of,
                tray_correlation: made.as_ref().map(|m| spoilage::round(m.charts.correlation)),
                recurring: u64::try_from(own().filter(|(_, r)| *r).count()).unwrap_or(u64::MAX),
                farms: shown.iter().filter_map(line).collect(),
            })
        })
        .await
    }

    /// One farm's chart with the batches behind it, as they are now.
    ///
    /// # Errors
    /// `Forbidden`; `NotFound` for a farm out of reach.
    pub async fn farm_spoilage(&self, actor: &Actor, farm: Uuid) -> Result<FarmChart, AppError> {
        let now = self.now();
        self.estimated(actor, move |conn, actor, visible| {
            let coop = &actor.coop;
            let seen = Seen::among(conn, coop.number, visible, Some(&[farm]))?;
            let row = seen.farms.first().ok_or(AppError::NotFound)?;
            let (as_of, made) = figures::coop(conn, coop.number)?;
            let shared = made.as_ref().map(|m| m.charts.clone()).unwrap_or_default();
            let suspects: HashSet<Uuid> = made.iter().flat_map(CoopFigures::suspects).collect();
            let charts = Charts::of_farm(conn, coop, coop.today(now), farm, &shared)?;
            let Some((_, line)) = charts.figures(&suspects).pop() else {
                return Err(AppError::NotFound);
            };
            let names = lots::names(conn, coop.number)?;
            Ok(FarmChart {
                farm: seen.spoilage(row, line),
                path: path(&charts, &names, coop.zone),
                method: spoilage::METHOD.to_owned(),
                caution: spoilage::CAUTION.to_owned(),
                as_of,
            })
        })
        .await
    }

    /// Whether the evidence of the last 90 days points at seed lots, at farms, or at both; the
    /// suspect lots and where else they are in use.
    ///
    /// # Errors
    /// `Forbidden`.
    pub async fn seed_lot_evidence(&self, actor: &Actor) -> Result<SeedLotEvidence, AppError> {
        self.estimated(actor, |conn, actor, visible| {
            let number = actor.coop.number;
            let (as_of, made) = figures::coop(conn, number)?;
            let lots = made.map(|m| m.lots);
            let names = lots::names(conn, number)?;
            let grows: Vec<Uuid> = lots
                .iter()
                .flat_map(|l| &l.lots)
                .flat_map(|l| l.growing_at.iter().copied())
                .collect();
            let farms = farm_rows::farms(
                conn,
                number,
                Some(&grows).filter(|g| g.len() <= BY_NAME_MAX).map(Vec::as_slice),
            )?;
            let at = |farm: &Uuid| {
                let row = farms.iter().find(|f| f.farm == *farm)?;
                let is_seen = visible.sees(row.area, row.member);
                is_seen.then(|| GrowingAt { farm_id: row.farm, farm: row.code.clone() })
            };
            let line = |l: &figures::Lot| {
                let known = names.get(&l.lot);
                LotEvidence {
                    seed_lot_id: Some(l.lot),
                    seed_lot: known.map(|(lot, _)| lot.code.clone()),
                    crop: known.map(|(lot, _)| lot.crop.clone()),
                    supplier: known.and_then(|(_, supplier)| supplier.clone()),
                    is_suspect: l.is_suspect,
                    effect: l.effect,
                    p: l.p,
                    batches: l.batches,
                    farms: l.farms,
                    growing_at: l.growing_at.iter().filter_map(at).collect(),
                }
            };
            Ok(SeedLotEvidence {
                method: spoilage::METHOD.to_owned(),
                units: "effect on the arcsine root of the share of trays discarded".to_owned(),
                caution: spoilage::CAUTION.to_owned(),
                as_of,
                verdict: lots.as_ref().map(|l| l.verdict),
                p_lots: lots.as_ref().and_then(|l| l.p_lots),
                p_farms: lots.as_ref().and_then(|l| l.p_farms),
                seed_lots: lots.iter().flat_map(|l| &l.lots).map(line).collect(),
                sentence: lots.map(|l| l.sentence),
            })
        })
        .await
    }

    /// Every farm's saving since its start, within what the person may see, and the programme's.
    ///
    /// # Errors
    /// `Forbidden`.
    pub async fn saving_estimates(&self, actor: &Actor) -> Result<SavingEstimates, AppError> {
        self.estimated(actor, |conn, actor, visible| {
            let coop = &actor.coop;
            let (as_of, made) = figures::coop(conn, coop.number)?;
            let seen = Seen::of(conn, coop.number, visible)?;
            Ok(SavingEstimates {
                method: traybook_reports::savings::METHOD.to_owned(),
                units: "money in currency units".to_owned(),
                currency: coop.currency.clone(),
                as_of,
                first_month: made.as_ref().and_then(|m| m.first_month),
                programme: made.map(|m| m.saving),
                farms: seen.savings(),
            })
        })
        .await
    }

    /// Which state the co-operative's figures are of.
    ///
    /// # Errors
    /// Those of the store.
    pub async fn figures_as_of(&self, actor: &Actor) -> Result<AsOf, AppError> {
        let number = actor.coop.number;
        let state = self.store.read(move |conn| snapshots::state(conn, number)).await?;
        Ok(figures::as_of(state))
    }
}

/// Farms whose rows are asked for by name; of more all are read.
const BY_NAME_MAX: usize = 200;

fn path(charts: &Charts, names: &lots::LotNames, zone: chrono_tz::Tz) -> Vec<ChartedBatch> {
    let Some(farm) = charts.farms.first() else { return Vec::new() };
    let raised = farm.chart.raised_by();
    let batches = farm.grown.over.iter().zip(&farm.chart.path).enumerate();
    let batch = batches.map(|(i, (b, value))| ChartedBatch {
        batch_id: b.batch,
        soaked_on: local_date(Instant(b.soaked_at), zone),
        trays_spread: b.spread,
        trays_discarded: b.discarded,
        seed_lot: b.lot.and_then(|l| names.get(&l)).map(|l| l.0.code.clone()),
        chart_value: spoilage::round(*value),
        raised_the_flag: raised.as_ref().is_some_and(|r| r.contains(&i)),
    });
    batch.collect()
}
