//! Reading the figures: as they were last made, within what the person may see.

use super::figures::SharedCharts;
use super::figures::{self, CoopFigures, CoopOutput, FarmFigures, Judged};
use super::spoilage::{Charts, FarmTrays};
use super::stored::{self, Programmes};
use super::{lots, output, spoilage, why};
use crate::error::AppError;
use crate::savings::area_names;
use crate::{Actor, App};
use std::collections::{BTreeMap, HashMap};
use std::sync::Arc;
use traybook_analytics::spoilage::LOT_BAD;
use traybook_answers::estimates::{
    AreaOutputChange, AsOf, BatchNotCounted, ChartedBatch, Enterprise, FarmChart, FarmConditions,
    FarmOfMember, FarmOutputChange, FarmSavingEstimate, FarmSpoilage, GrowingAt, LotEvidence,
    NotCountedReason, OutputChange, ProgrammeOutputChange, SavingEstimates, SeedLotEvidence,
    ShedSpoilage, Spoilage, SpoilageConditions, SpoilageFigures, Verdict,
};
use traybook_domain::people::authz::Task;
use traybook_domain::time::local_date;
use traybook_storage::planning::batch_trays::BatchTrays;
use traybook_storage::records::Visible;
use traybook_storage::records::farm_rows::{self, FarmRow};
use traybook_storage::{Conn, estimates::spoilage_rows};
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
        let figures = stored::farms(conn, coop, of)?;
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

/// The change in output of the co-operative, and the farms that have an estimate of their own.
pub(crate) type ProgrammeOutput = (ProgrammeOutputChange, Vec<Uuid>);

/// The change in output of milk and of eggs; none before the figures were first made.
pub(crate) fn programme_outputs(
    conn: &mut Conn,
    coop: i64,
) -> Result<Option<[ProgrammeOutput; 2]>, AppError> {
    let made = stored::coop::<CoopFigures>(conn, coop)?.1;
    let one = |of: CoopOutput| {
        let farms = of.farms.iter().filter(|f| !f.is_held()).map(|f| f.farm);
        (of.programme.clone(), farms.collect())
    };
    Ok(made.map(|made| [one(made.milk), one(made.eggs)]))
}

/// Farms of one kind: how many there are, and the first few.
#[derive(Clone, Debug, Default)]
pub struct Few {
    pub count: usize,
    /// The first.
    pub farms: Vec<FarmOutputChange>,
}

/// What a page says of the change in output.
#[derive(Clone, Debug)]
pub struct OutputInShort {
    /// Which state it is of.
    pub as_of: AsOf,
    pub areas: Vec<AreaOutputChange>,
    /// The co-operative; none before the figures were first made.
    pub programme: Option<ProgrammeOutputChange>,
    /// Farms that are held back by a jump.
    pub held: Few,
    /// Farms that give less, the largest loss first.
    pub lower: Few,
    /// Farms that give more, the largest gain first.
    pub higher: Few,
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
            let (as_of, made) = stored::coop::<CoopFigures>(conn, actor.coop.number)?;
            let seen = Seen::of(conn, actor.coop.number, visible)?;
            let all = made.map(|made| made.output(enterprise).clone());
            let named = |(id, area): &(Uuid, AreaOutputChange)| AreaOutputChange {
                area: seen.names.get(id).cloned(),
                ..area.clone()
            };
            let areas = all.iter().flat_map(|o| &o.areas);
            let areas = areas.filter(|(id, _)| visible.sees_area(id));
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

    /// The output change of the co-operative and of areas, and the first few farms of each kind, of
    /// those the person may see.
    ///
    /// # Errors
    /// `Forbidden`.
    pub async fn output_in_short(
        &self,
        actor: &Actor,
        enterprise: Enterprise,
        most: usize,
    ) -> Result<OutputInShort, AppError> {
        self.estimated(actor, move |conn, actor, visible| {
            let number = actor.coop.number;
            let (as_of, made) = stored::coop::<CoopFigures>(conn, number)?;
            let of = made.map(|made| made.output(enterprise).clone());
            let names = area_names(conn, number)?;
            let seen = farm_rows::seen_ids(conn, number, visible)?;
            let mut judged: Vec<Judged> = of.iter().flat_map(|of| &of.farms).copied().collect();
            judged.retain(|f| seen.contains(&f.farm));
            let ids = |is: &dyn Fn(&Judged) -> bool| -> Vec<Uuid> {
                judged.iter().filter(|f| is(f)).map(|f| f.farm).collect()
            };
            let mut few = |all: Vec<Uuid>| -> Result<Few, AppError> {
                let first: Vec<Uuid> = all.iter().take(most).copied().collect();
                let rows = Seen::among(conn, number, visible, Some(&first))?.output(enterprise);
                let mut by_id: HashMap<Uuid, FarmOutputChange> =
                    rows.into_iter().map(|row| (row.of.farm_id, row)).collect();
                let farms = first.iter().filter_map(|farm| by_id.remove(farm)).collect();
                Ok(Few { count: all.len(), farms })
            };
            let held = few(ids(&Judged::is_held))?;
            let higher = few(ids(&|f| f.verdict == Some(Verdict::Increase)))?;
            let mut lower = ids(&|f| f.verdict == Some(Verdict::Decrease));
            lower.reverse();
            let lower = few(lower)?;
            let areas = of.iter().flat_map(|of| &of.areas);
            let areas = areas.filter(|(id, _)| visible.sees_area(id)).map(|(id, area)| {
                AreaOutputChange { area: names.get(id).cloned(), ..area.clone() }
            });
            let areas = areas.collect();
            let programme = of.map(|of| of.programme);
            Ok(OutputInShort { as_of, areas, programme, held, lower, higher })
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
            let made = stored::coop::<Programmes>(conn, actor.coop.number)?.1;
            Ok(made.map(|made| made.of(enterprise)))
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
            let (as_of, made) = stored::coop::<CoopFigures>(conn, number)?;
            let order = made.as_ref().map_or(&[][..], |m| m.spoiling.as_slice());
            let seen = farm_rows::seen_ids(conn, number, visible)?;
            let own = || order.iter().filter(|(farm, _)| seen.contains(farm));
            let shown: Vec<Uuid> = own().take(most).map(|(farm, _)| *farm).collect();
            let of = (shown.len() <= BY_NAME_MAX).then_some(shown.as_slice());
            let farms = farm_rows::farms(conn, number, of)?;
            let by_id: HashMap<Uuid, Arc<FarmRow>> =
                farms.into_iter().map(|f| (f.farm, f)).collect();
            let mut figures = stored::farms(conn, number, of)?;
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
                units: "trays; chart values are log likelihood ratios, a flag goes up at flag_at"
                    .to_owned(),
                caution: spoilage::CAUTION.to_owned(),
                as_of,
                tray_correlation: made.as_ref().map(|m| spoilage::round(m.charts.correlation)),
                accepted_percent: made.as_ref().map(|m| spoilage::round(100.0 * m.charts.share_ok)),
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
            let (as_of, made) = stored::coop::<stored::Charts>(conn, coop.number)?;
            let shared = made.map_or(SharedCharts::NOTHING_KNOWN, |m| m.charts);
            let shares = seen.figures.get(&farm).map(|f| f.lots.clone()).unwrap_or_default();
            let today = coop.today(now);
            let charts = Charts::of_farm(conn, coop, (farm, today), (&shared, shares))?;
            let of = charts.farms.first().ok_or(AppError::NotFound)?;
            let names = lots::names(conn, coop.number)?;
            let sheds = of.sheds.iter().map(|s| ShedSpoilage {
                shed_id: s.shed,
                shed: s.code.clone(),
                figures: s.figures(today),
            });
            Ok(FarmChart {
                farm: seen.spoilage(row, of.figures(today)),
                path: path(of, &names, coop.zone),
                not_counted_batches: not_counted(of, coop.zone),
                sheds: sheds.collect(),
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
            let (as_of, made) = stored::coop::<CoopFigures>(conn, number)?;
            let lots = made.map(|m| m.lots);
            let names = lots::names(conn, number)?;
            let grows: Vec<Uuid> = lots
                .iter()
                .flat_map(|l| &l.lots)
                .flat_map(|l| l.growing_at.iter().chain(&l.carries_flags_at).copied())
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
                    multiplier: l.multiplier,
                    batches: l.batches,
                    farms: l.farms,
                    growing_at: l.growing_at.iter().filter_map(at).collect(),
                    carries_flags_at: l.carries_flags_at.iter().filter_map(at).collect(),
                }
            };
            Ok(SeedLotEvidence {
                method: spoilage::METHOD.to_owned(),
                units: "effect on the arcsine root of the share of trays lost".to_owned(),
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

    /// Which conditions of batches go with losses, over the co-operative.
    ///
    /// # Errors
    /// `Forbidden`.
    pub async fn spoilage_conditions(&self, actor: &Actor) -> Result<SpoilageConditions, AppError> {
        self.estimated(actor, |conn, actor, _| {
            let stored = why::stored(conn, actor.coop.number)?;
            Ok(stored.map_or_else(why::empty, |why| why.answer))
        })
        .await
    }

    /// What goes with losses on one farm: its own ratio where it is told apart from none.
    ///
    /// # Errors
    /// `Forbidden`; `NotFound` for a farm out of reach.
    pub async fn farm_conditions(
        &self,
        actor: &Actor,
        farm: Uuid,
    ) -> Result<FarmConditions, AppError> {
        self.estimated(actor, move |conn, actor, visible| {
            let seen = Seen::among(conn, actor.coop.number, visible, Some(&[farm]))?;
            let row = seen.farms.first().ok_or(AppError::NotFound)?;
            let stored = why::stored(conn, actor.coop.number)?;
            let sheds = spoilage_rows::shed_codes(conn, actor.coop.number, Some(farm))?.len();
            Ok(why::of_farm(stored, (farm, sheds), seen.farm(row)))
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
            let (as_of, made) = stored::coop::<CoopFigures>(conn, coop.number)?;
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
}

/// Farms whose rows are asked for by name; of more all are read.
const BY_NAME_MAX: usize = 200;

fn path(of: &FarmTrays, names: &lots::LotNames, zone: chrono_tz::Tz) -> Vec<ChartedBatch> {
    let raised = of.raised();
    let sheds: HashMap<Uuid, &String> =
        of.sheds.iter().filter_map(|s| Some((s.shed, s.code.as_ref()?))).collect();
    let batches = of.grown.counted.iter().zip(&of.steps).enumerate();
    let batch = batches.map(|(i, (b, step))| {
        let share = of.lots.iter().find(|share| Some(share.lot) == b.of.lot);
        let multiplier = share.map_or(1.0, |share| share.multiplier);
        ChartedBatch {
            batch_id: b.of.batch,
            soaked_on: b.of.sums.soaked_at.map(|at| local_date(at, zone)),
            ended_on: b.ended_on,
            shed: sheds.get(&b.of.shed).map(|code| (*code).clone()),
            trays_begun: b.begun,
            trays_lost: b.lost,
            seed_lot: b.of.lot.and_then(|l| names.get(&l)).map(|l| l.0.code.clone()),
            lot_multiplier: spoilage::round(multiplier),
            is_skipped: multiplier >= LOT_BAD,
            chart_value: spoilage::round(step.value),
            flag_at: spoilage::round(step.threshold()),
            raised_the_flag: raised.as_ref().is_some_and(|r| r.contains(&i)),
        }
    });
    batch.collect()
}

fn not_counted(of: &FarmTrays, zone: chrono_tz::Tz) -> Vec<BatchNotCounted> {
    let batch = |(b, reason): &(BatchTrays, NotCountedReason)| BatchNotCounted {
        batch_id: b.batch,
        soaked_on: b.sums.soaked_at.map(|at| local_date(at, zone)),
        reason: *reason,
        trays: spoilage::open_trays(b, *reason),
    };
    let mut batches: Vec<BatchNotCounted> = of.grown.others.iter().map(batch).collect();
    batches.sort_by_key(|b| (b.soaked_on, b.batch_id));
    batches
}
