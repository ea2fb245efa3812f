//! Closed months: what was reported, what the records say now, and what a close freezes.

use super::Made;
use super::frozen::{Baseline, ClosedMonth};
use crate::error::AppError;
use std::collections::{BTreeMap, BTreeSet, HashMap, HashSet};
use traybook_analytics::net::{AdjustmentLine, adjustments};
use traybook_answers::savings::VERSION;
use traybook_domain::Month;
use traybook_domain::value::real;
use traybook_reports::savings::{Adjustment, whole};
use traybook_storage::records::farm_rows::Farms;
use traybook_storage::savings::months::{self, Reported};
use traybook_storage::{Conn, savings::report_rows};
use uuid::Uuid;

/// A change of at least this share of the row's baseline has a line of its own.
const LINE_SHARE: f64 = 0.01;

/// A month, farm and class of animals.
type Key = (Month, Uuid, String);

/// What was said last of a farm, class and month.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
struct Said {
    saving: Option<i64>,
    baseline: Option<i64>,
}

/// The closed months.
#[derive(Default)]
pub(super) struct Past {
    /// Version of each closed month's report.
    closed: BTreeMap<Month, i64>,
    said: HashMap<Key, Said>,
    /// Savings that the closed months' own reports print.
    printed: HashMap<Key, i64>,
    /// Sum of what the earlier method reported of a month.
    earlier: BTreeMap<Month, Option<i64>>,
    /// Codes of farms, withdrawn ones too.
    codes: HashMap<Uuid, String>,
}

impl Past {
    /// Reads what was closed and reported.
    pub fn read(conn: &mut Conn, coop: i64) -> Result<Self, AppError> {
        let mut past =
            Self { closed: months::versions(conn, coop)?.into_iter().collect(), ..Self::default() };
        if past.closed.is_empty() {
            return Ok(past);
        }
        let of: Farms<'_> = None;
        for line in months::reported(conn, coop, of)? {
            if line.method == VERSION {
                let said = Said { saving: line.saving_minor, baseline: line.baseline_minor };
                if let Some(saving) = line.saving_minor.filter(|_| line.reported_in == line.month) {
                    past.printed.insert((line.month, line.farm, line.enterprise.clone()), saving);
                }
                // Rows come in the order in which they were reported.
                past.said.insert((line.month, line.farm, line.enterprise), said);
            } else {
                let sum = past.earlier.entry(line.month).or_insert(None);
                if let Some(minor) = line.saving_minor {
                    *sum = Some(sum.unwrap_or(0) + minor);
                }
            }
        }
        let codes = report_rows::farm_codes(conn, coop)?;
        past.codes = codes.into_iter().map(|f| (f.0, f.1)).collect();
        Ok(past)
    }

    /// Whether a month was closed by the earlier method.
    pub fn is_earlier(&self, month: Month) -> bool {
        self.closed.get(&month).is_some_and(|version| *version < VERSION)
    }

    /// Whether a month was closed by this method.
    pub fn is_closed(&self, month: Month) -> bool {
        self.closed.get(&month).is_some_and(|version| *version == VERSION)
    }

    /// What was said last of the months of farms that are withdrawn by now: savings and how many.
    pub fn withdrawn(&self, standing: &BTreeSet<Uuid>) -> (i64, i64) {
        let gone = self.said.iter().filter(|(key, _)| !standing.contains(&key.1));
        let savings = gone.filter_map(|(_, said)| said.saving);
        savings.fold((0, 0), |(sum, rows), saving| (sum + saving, rows + 1))
    }

    /// What a closed month's own report prints of a row.
    pub fn printed(&self, of: &Key) -> Option<i64> {
        self.printed.get(of).copied()
    }

    /// What closed months' reports print of farms that do not stand any more: savings and how many.
    pub fn printed_of_others(
        &self,
        standing: &HashSet<Uuid>,
        (from, to): (Month, Month),
    ) -> (i64, usize) {
        let is_in = |month: &Month| (from..=to).contains(month);
        let gone = self.printed.iter().filter(|(k, _)| is_in(&k.0) && !standing.contains(&k.1));
        gone.fold((0, 0), |(sum, rows), (_, saving)| (sum + saving, rows + 1))
    }

    /// The last closed month.
    pub fn last(&self) -> Option<Month> {
        self.closed.keys().next_back().copied()
    }
}

/// What changed in closed months.
pub(in crate::savings) struct Changes {
    /// Changes that have a line of their own.
    pub lines: Vec<Adjustment>,
    /// Sum of the others.
    pub settled: i64,
    /// All changed rows as they are now.
    now: Vec<(Month, Uuid, String, Said)>,
}

/// What a close writes besides the report.
pub(crate) struct Closing {
    /// What was reported.
    pub reported: Vec<Reported>,
    /// What is frozen of the month, JSON.
    pub month: String,
    /// Baselines: farm, class of animal, JSON.
    pub baselines: Vec<(Uuid, String, String)>,
}

impl Made {
    /// What the records say now of closed months, where it differs from what was said last.
    pub(in crate::savings) fn changes(&self, before: Month) -> Changes {
        let mut now: BTreeMap<Key, Said> = BTreeMap::new();
        let closed = |month: &Month| {
            *month < before && self.past.closed.get(month).is_some_and(|v| *v == VERSION)
        };
        let withdrawn: BTreeSet<Uuid> = {
            let standing: BTreeSet<Uuid> = self.farms.iter().map(|f| f.farm).collect();
            let said = self.past.said.keys().map(|k| k.1);
            said.filter(|farm| !standing.contains(farm)).collect()
        };
        for (farm, rows) in self.farms.iter().zip(&self.rows) {
            for row in rows {
                for (t, cell) in row.cells.iter().enumerate() {
                    let month = self.axis.month(t);
                    let Some(money) = cell.and_then(|c| c.money).filter(|_| closed(&month)) else {
                        continue;
                    };
                    let said =
                        Said { saving: Some(money.saving()), baseline: Some(money.baseline) };
                    now.insert((month, farm.farm, row.class.clone()), said);
                }
            }
        }
        // A withdrawn farm's months stay as they were reported.
        let gone = self.past.said.keys().filter(|k| closed(&k.0) && !withdrawn.contains(&k.1));
        for key in gone {
            now.entry(key.clone()).or_default();
        }
        self.compare(now)
    }

    fn compare(&self, now: BTreeMap<Key, Said>) -> Changes {
        let was = |key: &Key| self.past.said.get(key).copied().unwrap_or_default();
        let baseline = |key: &Key| was(key).baseline.or_else(|| now.get(key)?.baseline);
        let saving = |key: &Key, said: Said| (key.clone(), said.saving.map(real));
        let reported = now.keys().map(|key| saving(key, was(key))).collect();
        let standing = now.iter().map(|(key, is)| saving(key, *is)).collect();
        let limit = |key: &Key| LINE_SHARE * real(baseline(key).unwrap_or(0));
        let made = adjustments(&reported, &standing, limit);
        let line = |line: AdjustmentLine<Key>| {
            let (month, farm, enterprise) = line.key;
            let farm_code = self.past.codes.get(&farm).cloned().unwrap_or_default();
            let (reported_minor, now_minor) = (line.reported.map(whole), line.now.map(whole));
            Adjustment { month, farm, farm_code, enterprise, reported_minor, now_minor }
        };
        let lines = made.lines.into_iter().map(line).collect();
        let changed = now.iter().filter(|(key, is)| was(key).saving != is.saving);
        let changed = changed.map(|(key, is)| {
            let baseline = is.baseline.or(was(key).baseline);
            (key.0, key.1, key.2.clone(), Said { saving: is.saving, baseline })
        });
        Changes { lines, settled: whole(made.settled), now: changed.collect() }
    }

    /// Months closed by the earlier method, reported and now: until the first close by this one.
    pub(super) fn restated(&self, month: Month) -> Vec<(Month, Option<i64>, Option<i64>)> {
        if self.past.closed.values().any(|v| *v == VERSION) {
            return Vec::new();
        }
        let now = |of: Month| {
            let t = self.axis.at(of)?;
            let rows = self.rows.iter().flatten();
            let money = rows.filter_map(|r| r.cells.get(t).copied().flatten()?.money);
            money.map(|m| m.saving()).reduce(|a, b| a + b)
        };
        let earlier = self.past.earlier.iter().filter(|(of, _)| **of < month);
        earlier.map(|(of, reported)| (*of, *reported, now(*of))).collect()
    }

    /// What closing a month writes.
    pub(in crate::savings) fn closing(&self, month: Month) -> Result<Closing, AppError> {
        let t = self.axis.at(month);
        let mut reported = Vec::new();
        let line = |of: Month, farm, enterprise: &str, said: Said| Reported {
            month: of,
            farm,
            enterprise: enterprise.to_owned(),
            reported_in: month,
            method: VERSION,
            saving_minor: said.saving,
            baseline_minor: said.baseline,
        };
        for (farm, rows) in self.farms.iter().zip(&self.rows) {
            for row in rows {
                let money = t.and_then(|t| row.cells.get(t).copied().flatten()?.money);
                if let Some(m) = money {
                    let said = Said { saving: Some(m.saving()), baseline: Some(m.baseline) };
                    reported.push(line(month, farm.farm, &row.class, said));
                }
            }
        }
        for (of, farm, enterprise, said) in self.changes(month).now {
            reported.push(line(of, farm, &enterprise, said));
        }
        let text = |e: serde_json::Error| AppError::Internal(e.to_string());
        let mut closed = ClosedMonth::default();
        if let Some(t) = t {
            let price = |(feed, of): (&Uuid, &Vec<Option<f64>>)| Some((*feed, (*of.get(t)?)?));
            closed.medians = self.medians.iter().filter_map(price).collect();
            let index = |p: &super::Panel| {
                let value = *p.savings.shared.index.get(t)?;
                Some((p.class.clone(), value?))
            };
            closed.index = self.panels.all.iter().filter_map(index).collect();
        }
        let mut baselines = Vec::new();
        for (farm, class, kept) in self.to_freeze(month) {
            baselines.push((farm, class, serde_json::to_string(&kept).map_err(text)?));
        }
        let month = serde_json::to_string(&closed).map_err(text)?;
        Ok(Closing { reported, month, baselines })
    }

    /// The baselines of farms that started before a month and have none frozen, or other records
    /// before their start than when it was.
    fn to_freeze(&self, month: Month) -> Vec<(Uuid, String, Baseline)> {
        let mut all = Vec::new();
        for panel in &self.panels.all {
            for (row, i) in panel.farms.iter().enumerate() {
                let Some(farm) = self.farms.get(*i) else { continue };
                let has_started = farm.started_on.is_some_and(|d| Month::of(d) < month);
                let records = self.records.get(&farm.farm).copied().unwrap_or_default();
                if !has_started || self.frozen.has(farm.farm, &panel.class, records) {
                    continue;
                }
                let Some(b) = panel.savings.to_freeze(row) else { continue };
                let basket = panel.feeds.iter().copied().zip(b.basket);
                let weights = b.weights.into_iter().enumerate().filter(|(_, w)| *w != 0.0);
                let kept = Baseline {
                    basket: basket.filter(|(_, kg)| *kg != 0.0).collect(),
                    weights: weights.map(|(t, w)| (self.axis.month(t).number(), w)).collect(),
                    ration_weight: b.ration_weight,
                    is_adjusted: b.is_adjusted,
                    records,
                };
                all.push((farm.farm, panel.class.clone(), kept));
            }
        }
        all
    }
}
