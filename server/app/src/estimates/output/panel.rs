//! Records to farm-months: sums by half octave, without slips.

use super::{Ground, MONTHS};
use crate::error::AppError;
use crate::estimates::{grouped, put};
use std::collections::HashMap;
use std::sync::Arc;
use traybook_analytics::records::{Bin, FarmMonths, Output, cells_from_bins};
use traybook_answers::estimates::Enterprise;
use traybook_domain::Month;
use traybook_domain::value::real;
use traybook_storage::Conn;
use traybook_storage::estimates::estimate_rows::{OutputRow, output_days, output_rows};
use traybook_storage::records::farm_rows::FarmRow;
use uuid::Uuid;

/// The farms of one enterprise, and their months.
pub(super) struct FarmPanel {
    pub enterprise: Enterprise,
    /// What the analytics call it.
    pub output: Output,
    pub farms: Vec<Arc<FarmRow>>,
    pub first: Month,
    pub last: Month,
    pub months: FarmMonths,
    /// Start as a month of the panel; 0 where it came before.
    pub start: Vec<Option<u32>>,
    /// The same where it may lie before the panel.
    pub true_start: Vec<Option<i64>>,
    pub left: Vec<LeftOut>,
}

/// What a farm's months do not hold.
#[derive(Clone, Default)]
pub(super) struct LeftOut {
    /// Whole days left out as slips.
    pub slips: f64,
    /// Days with one milking only.
    pub half_days: i64,
    /// Months most of whose days are far from the farm's usual.
    pub shifted: Vec<Month>,
    /// Whether most observed months have no stage.
    pub is_stage_missing: bool,
}

impl FarmPanel {
    /// Reads the last [`MONTHS`] months; none without a record.
    pub(super) fn read(
        conn: &mut Conn,
        enterprise: Enterprise,
        ground: &Ground<'_>,
    ) -> Result<Option<Self>, AppError> {
        let is_milk = enterprise == Enterprise::Milk;
        let running = Month::of(ground.today);
        let since = running.plus(1 - MONTHS);
        let mut rows = output_rows(conn, ground.coop.number, is_milk, since)?;
        rows.retain(|r| r.month <= running);
        let months = || rows.iter().map(|r| r.month);
        let Some((first, last)) = months().min().zip(months().max()) else { return Ok(None) };
        let days = output_days(conn, ground.coop.number, is_milk, since)?;
        let bins: HashMap<Uuid, Vec<OutputRow>> = grouped(rows, |r| r.farm).collect();
        let farms: Vec<Arc<FarmRow>> =
            ground.farms.iter().filter(|f| bins.contains_key(&f.farm)).cloned().collect();
        let count = usize::try_from(last.number() - first.number() + 1).unwrap_or(0);
        let size = farms.len() * count;
        let mut panel = Self {
            enterprise,
            output: if is_milk { Output::Milk } else { Output::Eggs },
            first,
            last,
            months: FarmMonths {
                months: count,
                log_output: vec![f64::NAN; size],
                records: vec![0.0; size],
                stage: vec![f64::NAN; size],
                dropped: 0,
            },
            start: Vec::new(),
            true_start: Vec::new(),
            left: Vec::new(),
            farms: Vec::new(),
        };
        for farm in farms {
            let rows = bins.get(&farm.farm).map_or(&[][..], Vec::as_slice);
            panel.add(&farm, rows, ground, days.get(&farm.farm).copied().unwrap_or(0));
            panel.farms.push(farm);
        }
        Ok(Some(panel))
    }

    fn add(&mut self, farm: &FarmRow, rows: &[OutputRow], ground: &Ground<'_>, days: i64) {
        let unit = if self.enterprise == Enterprise::Milk { 1000.0 } else { 1.0 };
        let bin = |r: &OutputRow| {
            let month = usize::try_from(r.month.number() - self.first.number()).ok()?;
            let bin = Bin {
                half_octave: i32::try_from(r.half_octave).ok()?,
                records: real(r.bin.records),
                output: real(r.bin.amount) / unit,
                animals: real(r.bin.animals),
                stage: real(r.bin.stage),
                stage_animals: real(r.bin.stage_animals),
            };
            Some((month, bin))
        };
        let bins: Vec<(usize, Bin)> = rows.iter().filter_map(bin).collect();
        let count = self.months.months;
        let cells = cells_from_bins(&bins, count);
        let row = self.farms.len() * count;
        let (mut observed, mut staged) = (0_usize, 0_usize);
        for (t, (y, records, stage)) in cells.cells.iter().enumerate() {
            put(&mut self.months.log_output, row + t, *y);
            put(&mut self.months.records, row + t, *records);
            put(&mut self.months.stage, row + t, *stage);
            observed += usize::from(!y.is_nan());
            staged += usize::from(!y.is_nan() && !stage.is_nan());
        }
        let started = farm.started_on.filter(|day| *day <= ground.today).map(Month::of);
        let true_start = started.map(|month| month.number() - self.first.number());
        // A start after the last month with a record is none that the panel could show.
        let inside = true_start.filter(|_| started.is_none_or(|month| month <= self.last));
        self.start.push(inside.map(|g| u32::try_from(g).unwrap_or(0)));
        self.true_start.push(true_start);
        let whole: i64 = rows.iter().map(|r| r.bin.records).sum();
        let shifted = self.first.to(self.last).zip(&cells.is_shifted);
        self.left.push(LeftOut {
            slips: cells.left_out.iter().sum(),
            half_days: (days - whole).max(0),
            shifted: shifted.filter(|(_, is)| **is).map(|(month, _)| month).collect(),
            is_stage_missing: 2 * staged < observed,
        });
    }
}
