//! The panel of one class of animals over all farms, and what the estimate says of it.

use super::axis::Axis;
use super::eaten::{Enterprise, FarmUse};
use super::frozen::{Frozen, Version};
use crate::error::AppError;
use std::collections::{BTreeMap, HashMap};
use std::sync::Arc;
use traybook_analytics::eaten::{Cells, MonthUse, Rules, UseSlices, cells};
use traybook_analytics::feed_saving::{FeedSavings, FrozenBaseline, SavingPanel, feed_saving};
use traybook_domain::Month;
use traybook_storage::records::farm_rows::FarmRow;
use uuid::Uuid;

/// What is estimated of one class of animals.
pub(super) struct Panel {
    pub class: String,
    /// Farms by their position among all, in order.
    pub farms: Vec<usize>,
    pub savings: FeedSavings,
    pub cells: Cells,
    /// Feeds, in the order of the panel.
    pub feeds: Vec<Uuid>,
    months: usize,
}

/// All panels, and where each farm's class stands in them.
#[derive(Default)]
pub(super) struct Panels {
    pub all: Vec<Panel>,
    /// By farm and class: which panel, and which of its farms.
    places: HashMap<(usize, String), (usize, usize)>,
}

/// What panels are made of.
pub(super) struct Source<'a> {
    pub axis: &'a Axis,
    pub farms: &'a [Arc<FarmRow>],
    pub uses: &'a [FarmUse],
    pub medians: &'a HashMap<Uuid, Vec<Option<f64>>>,
    pub frozen: &'a Frozen,
    pub version: Version,
    /// What stands for each farm's records before its start.
    pub records: &'a HashMap<Uuid, Uuid>,
    pub rules: &'a Rules,
}

impl Panels {
    /// Estimates every class of animals.
    ///
    /// # Errors
    /// `Internal` where slices do not fit each other.
    pub fn make(source: &Source<'_>) -> Result<Self, AppError> {
        let mut by_class: BTreeMap<&str, Vec<(usize, &Enterprise)>> = BTreeMap::new();
        for (at, farm) in source.uses.iter().enumerate() {
            for e in &farm.enterprises {
                by_class.entry(&e.class).or_default().push((at, e));
            }
        }
        let mut panels = Self::default();
        for (class, rows) in by_class {
            for (row, (farm, _)) in rows.iter().enumerate() {
                panels.places.insert((*farm, class.to_owned()), (panels.all.len(), row));
            }
            panels.all.push(Panel::make(source, class, &rows)?);
        }
        Ok(panels)
    }

    /// The panel of a farm's class, and the farm's row in it.
    pub fn of(&self, farm: usize, class: &str) -> Option<(&Panel, usize)> {
        let (panel, row) = self.places.get(&(farm, class.to_owned()))?;
        Some((self.all.get(*panel)?, *row))
    }
}

/// Slices of a panel in the making.
struct Slices {
    uses: Vec<MonthUse>,
    days: Vec<f64>,
    needed: Vec<bool>,
    animal_days: Vec<f64>,
    ration: Vec<f64>,
}

impl Panel {
    fn make(
        source: &Source<'_>,
        class: &str,
        rows: &[(usize, &Enterprise)],
    ) -> Result<Self, AppError> {
        let (axis, months) = (source.axis, source.axis.months());
        let mut feeds: Vec<Uuid> =
            rows.iter().flat_map(|(_, e)| e.feeds.iter().map(|f| f.feed)).collect();
        feeds.sort_unstable();
        feeds.dedup();
        let slices = Slices::of(rows, &feeds, months);
        let none = || vec![None; months];
        let median: Vec<Option<f64>> = feeds
            .iter()
            .flat_map(|f| source.medians.get(f).cloned().unwrap_or_else(none))
            .collect();
        let wrong = |e: traybook_analytics::error::ShapeError| AppError::Internal(e.to_string());
        let use_slices = UseSlices {
            uses: &slices.uses,
            feed_animal_days: &slices.days,
            is_needed: &slices.needed,
            median: &median,
            animal_days: &slices.animal_days,
        };
        let cells = cells(&use_slices, feeds.len(), months, source.rules).map_err(wrong)?;
        let farm = |at: usize| source.farms.get(at);
        let start = |(at, _): &(usize, &Enterprise)| {
            let month = Month::of(farm(*at)?.started_on?);
            let t = month.number() - axis.first.number();
            u32::try_from(t.max(0)).ok().filter(|_| axis.at(month).is_some() || t < 0)
        };
        let start: Vec<Option<u32>> = rows.iter().map(start).collect();
        let of_month = |month: Month| axis.at(month).and_then(|t| u32::try_from(t).ok());
        let ration_month: Vec<Option<u32>> =
            rows.iter().map(|(_, e)| e.ration_month.and_then(of_month)).collect();
        let area = areas(rows, source.farms);
        let of_year = |t: usize| u32::try_from(axis.month(t).number() % 12).unwrap_or(0);
        let of_year: Vec<u32> = (0..months).map(of_year).collect();
        let is_over: Vec<bool> = (0..months).map(|t| axis.is_over(t)).collect();
        let gap_share: Vec<[f64; 2]> = rows.iter().map(|(_, e)| e.gap_share).collect();
        let frozen = frozen(source, class, rows, &feeds);
        let frozen_index = source.frozen.index(class, axis);
        let panel = SavingPanel {
            feeds: feeds.len(),
            months,
            kg: &cells.kg,
            price: &cells.price,
            animal_days: &slices.animal_days,
            is_known: &cells.is_known,
            mixed_share: &cells.mixed_share,
            open_share: Some(&cells.open_share),
            start: &start,
            ration: Some(&slices.ration),
            ration_month: &ration_month,
            area: Some(&area),
            month_of_year: Some(&of_year),
            is_complete: Some(&is_over),
            gap_share: Some(&gap_share),
            frozen: &frozen,
            frozen_index: Some(&frozen_index),
        };
        let savings = feed_saving(&panel, source.rules).map_err(wrong)?;
        let farms = rows.iter().map(|(at, _)| *at).collect();
        Ok(Self { class: class.to_owned(), farms, savings, cells, feeds, months })
    }

    /// Whether the feeds of a row's month are known.
    pub fn is_known(&self, row: usize, t: usize) -> bool {
        self.cells.is_known.get(row * self.months + t) == Some(&true)
    }

    /// Share of a row's month that was fed from the lot in use at the start.
    pub fn mixed(&self, row: usize, t: usize) -> f64 {
        self.cells.mixed_share.get(row * self.months + t).copied().unwrap_or(0.0)
    }
}

impl Slices {
    fn of(rows: &[(usize, &Enterprise)], feeds: &[Uuid], months: usize) -> Self {
        let cells = rows.len() * feeds.len() * months;
        let mut slices = Self {
            uses: vec![MonthUse::default(); cells],
            days: vec![0.0; cells],
            needed: vec![false; cells],
            animal_days: Vec::with_capacity(rows.len() * months),
            ration: vec![f64::NAN; rows.len() * feeds.len()],
        };
        for (row, (_, e)) in rows.iter().enumerate() {
            match &e.animal_days {
                Some(days) => slices.animal_days.extend(days),
                None => slices.animal_days.resize((row + 1) * months, 0.0),
            }
            for f in &e.feeds {
                let Ok(at) = feeds.binary_search(&f.feed) else { continue };
                let place = row * feeds.len() + at;
                let span = place * months..(place + 1) * months;
                copy(&mut slices.uses, span.clone(), &f.uses);
                copy(&mut slices.days, span.clone(), &f.days);
                copy(&mut slices.needed, span, &f.is_needed);
                if let (Some(slot), Some(kg)) = (slices.ration.get_mut(place), f.ration) {
                    *slot = kg;
                }
            }
        }
        slices
    }
}

fn copy<T: Copy>(into: &mut [T], span: std::ops::Range<usize>, from: &[T]) {
    for (slot, value) in into.get_mut(span).into_iter().flatten().zip(from) {
        *slot = *value;
    }
}

/// The baselines that closes froze.
fn frozen(
    source: &Source<'_>,
    class: &str,
    rows: &[(usize, &Enterprise)],
    feeds: &[Uuid],
) -> Vec<Option<FrozenBaseline>> {
    let of = |(at, _): &(usize, &Enterprise)| {
        let farm = source.farms.get(*at)?.farm;
        let records = source.records.get(&farm).copied().unwrap_or_default();
        source.frozen.baseline((farm, class, records), source.version, feeds, source.axis)
    };
    rows.iter().map(of).collect()
}

/// Areas by number.
fn areas(rows: &[(usize, &Enterprise)], farms: &[Arc<FarmRow>]) -> Vec<u32> {
    let mut known: BTreeMap<Uuid, u32> = BTreeMap::new();
    let mut number = |area: Uuid| {
        let next = u32::try_from(known.len()).unwrap_or(u32::MAX);
        *known.entry(area).or_insert(next)
    };
    rows.iter().map(|(at, _)| number(farms.get(*at).map(|f| f.area).unwrap_or_default())).collect()
}
