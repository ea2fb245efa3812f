//! Which conditions can be compared, and what stands where one was not recorded.

use super::{Condition, ConditionStatus, Counts, WhyBatch, WhyRules};
use crate::limits::CONDITIONS_MAX;
use std::collections::BTreeSet;

/// One batch as the arithmetic sees it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Row {
    pub farm: usize,
    pub n: f64,
    pub d: f64,
}

/// Batches, farms and columns: the first column is 1, the others are the conditions that can be
/// compared.
#[derive(Debug, Clone, Default)]
pub(super) struct Data {
    pub rows: Vec<Row>,
    /// Numbers of the farms, ascending.
    pub farms: Vec<u32>,
    /// Row by row.
    pub x: Vec<f64>,
    pub width: usize,
}

impl Data {
    pub fn trays(&self) -> f64 {
        self.rows.iter().map(|r| r.n).sum()
    }

    pub fn lost(&self) -> f64 {
        self.rows.iter().map(|r| r.d).sum()
    }

    pub fn row(&self, j: usize) -> &[f64] {
        &self.x[j * self.width..(j + 1) * self.width]
    }
}

/// The data, and what is said of every condition before anything is fitted.
pub(super) struct Table {
    pub data: Data,
    pub conditions: Vec<Condition>,
    /// Positions of the conditions in the columns.
    pub used: Vec<usize>,
}

impl Table {
    pub fn new(
        batches: &[WhyBatch],
        kept: &[usize],
        conditions: &[Vec<Option<bool>>],
        rules: &WhyRules,
    ) -> Self {
        let farms: BTreeSet<u32> = kept.iter().map(|j| batches[*j].farm).collect();
        let farms: Vec<u32> = farms.into_iter().collect();
        let row = |j: &usize| {
            let b = &batches[*j];
            let farm = farms.binary_search(&b.farm).unwrap_or(0);
            Row { farm, n: f64::from(b.started), d: f64::from(b.discarded) }
        };
        let rows: Vec<Row> = kept.iter().map(row).collect();
        let mut data = Data { rows, farms, x: Vec::new(), width: 1 };
        let (mut answers, mut used, mut columns) = (Vec::new(), Vec::new(), Vec::new());
        for (k, condition) in conditions.iter().enumerate() {
            let known: Vec<Option<bool>> =
                kept.iter().map(|j| condition.get(*j).copied().flatten()).collect();
            let sides = Sides::of(&data, &known);
            if used.len() < CONDITIONS_MAX && sides.can_be_compared(&data, rules) {
                used.push(k);
                columns.push(filled(&data, &known));
            }
            let counts = sides.counts();
            let status = ConditionStatus::TooFew;
            answers.push(Condition { status, counts, effect: None });
        }
        data.width = 1 + columns.len();
        for j in 0..data.rows.len() {
            data.x.push(1.0);
            data.x.extend(columns.iter().map(|c| c[j]));
        }
        Self { data, conditions: answers, used }
    }
}

/// Batches, farms and trays on one side of a condition.
#[derive(Default)]
struct Side {
    batches: usize,
    trays: f64,
    farms: BTreeSet<usize>,
}

struct Sides {
    with: Side,
    without: Side,
}

impl Sides {
    fn of(data: &Data, known: &[Option<bool>]) -> Self {
        let mut sides = Self { with: Side::default(), without: Side::default() };
        for (row, known) in data.rows.iter().zip(known) {
            let side = match known {
                Some(true) => &mut sides.with,
                Some(false) => &mut sides.without,
                None => continue,
            };
            side.batches += 1;
            side.trays += row.n;
            side.farms.insert(row.farm);
        }
        sides
    }

    fn can_be_compared(&self, data: &Data, rules: &WhyRules) -> bool {
        let share = data.lost() / data.trays();
        let known = (self.with.batches + self.without.batches) as f64 / data.rows.len() as f64;
        let is_enough = |side: &Side| {
            side.batches >= rules.batches_min
                && side.trays >= rules.trays_min
                && side.farms.len() >= rules.farms_min
                && share * side.trays >= rules.lost_min
        };
        known >= rules.known_min && is_enough(&self.with) && is_enough(&self.without)
    }

    fn counts(&self) -> Counts {
        Counts {
            with: self.with.batches,
            without: self.without.batches,
            farms_with_both: self.with.farms.intersection(&self.without.farms).count(),
        }
    }
}

/// The condition of every batch; where it was not recorded the mean of the farm's own, else of all.
fn filled(data: &Data, known: &[Option<bool>]) -> Vec<f64> {
    let mut farms = vec![(0.0, 0.0); data.farms.len()];
    let (mut count, mut sum) = (0.0, 0.0);
    for (row, known) in data.rows.iter().zip(known) {
        let Some(known) = known else { continue };
        let x = f64::from(u8::from(*known));
        farms[row.farm] = (farms[row.farm].0 + 1.0, farms[row.farm].1 + x);
        (count, sum) = (count + 1.0, sum + x);
    }
    let mean = |farm: usize| {
        let (n, of) = farms[farm];
        if n > 0.0 { of / n } else { sum / count }
    };
    let value = |(row, known): (&Row, &Option<bool>)| match known {
        Some(known) => f64::from(u8::from(*known)),
        None => mean(row.farm),
    };
    data.rows.iter().zip(known).map(value).collect()
}
