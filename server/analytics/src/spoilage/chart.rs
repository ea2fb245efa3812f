//! One chart: a likelihood ratio that batches raise and good batches bring down.

use super::beta_binomial::{Evidence, Memo};
use super::shared::SERIAL_DAYS;
use super::{
    BATCHES_MIN, Batch, FLAG_BATCHES_MIN, QUIET_DAYS, RECENT_DAYS, RESET_DAYS, Shared,
    SpoilageStatus, TRAYS_MIN, WINDOW_DAYS,
};
use serde::Serialize;

/// False flags of a farm in order that are accepted a year.
const FLAGS_A_YEAR: f64 = 0.10;
/// Limits of the value that raises the flag.
const THRESHOLD: (f64, f64) = (4.0, 10.0);
/// Fewest days that the information of a year is told from.
const SPAN_MIN: i64 = 28;
/// Share of the threshold that one batch adds at the most: no fewer than three raise a flag.
const STEP_SHARE: f64 = 1.0 / 3.0;
/// How far a chart goes above its threshold.
const OVER: f64 = 3.0;
/// Evidence against a flag that clears it: good batches are 33 times as likely.
const CLEAR_AT: f64 = 3.5;
/// What one good batch adds to it at the most.
const CLEAR_STEP: f64 = 1.0;
/// A last batch less likely than this is called out by itself.
const ONE_BAD_P: f64 = 0.001;
/// Weight of bad weeks: half more than their estimate, which is rough.
const SERIAL_FACTOR: f64 = 1.5;

/// A chart after one batch.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Step {
    /// Chart value.
    pub value: f64,
    /// Information of a year of such batches, nats.
    pub information: f64,
    /// Logarithm of the likelihood ratio of the batch; 0 where it was skipped.
    pub evidence: f64,
}

impl Step {
    /// What raises the flag: the chart value that batches in order of a year reach so rarely.
    #[must_use]
    pub fn threshold(&self) -> f64 {
        threshold(self.information)
    }
}

/// What raises the flag, by the information of a year.
fn threshold(information: f64) -> f64 {
    (information / FLAGS_A_YEAR).ln().max(THRESHOLD.0).min(THRESHOLD.1)
}

/// A chart as it stands.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Chart {
    /// What is said; never `RecurringLot`.
    pub status: SpoilageStatus,
    /// Chart value now.
    pub value: f64,
    /// Evidence that a flag is over.
    pub clearing: f64,
    /// What raises the flag; none without a batch.
    pub threshold: Option<f64>,
    /// First batch that counts towards the flag that is up, and the one that raised it.
    pub raised_by: Option<(usize, usize)>,
    /// Batch that raised the first flag ever.
    pub flagged_first: Option<usize>,
    /// Batch that cleared the last flag.
    pub cleared: Option<usize>,
    /// Flags ever.
    pub onsets: usize,
    /// Batches used since the chart began.
    pub batches_used: usize,
    /// Batches and trays of the last 180 days since the chart began.
    pub recent: (usize, u64),
    /// Probability of at least so many lost as in the last used batch, on a farm in order; 1
    /// without one.
    pub last_p: f64,
    /// Last batch after which the chart was at 0.
    pub zero: Option<usize>,
}

impl Chart {
    /// Batches that raised the flag that is up.
    ///
    /// # Shape
    /// Positions of batches, used or not; none without a flag.
    #[must_use]
    pub fn raised(&self) -> Option<std::ops::RangeInclusive<usize>> {
        self.raised_by.map(|(from, to)| from..=to)
    }

    /// Batch that raised the flag that is up.
    #[must_use]
    pub fn flagged_since(&self) -> Option<usize> {
        self.raised_by.map(|(_, to)| to)
    }
}

/// One step: the batch's evidence, at most `step_max`, added to what stands, within 0 and `top`.
///
/// # Source
/// Page 1954; the cap after Lucas & Crosier 1982.
#[must_use]
pub fn step(value: f64, evidence: f64, step_max: f64, top: f64) -> f64 {
    (value + evidence.min(step_max)).max(0.0).min(top)
}

/// Makes charts that share what all farms share.
#[derive(Debug, Clone)]
pub struct Charter {
    shared: Shared,
    evidence: Evidence,
    memo: Memo,
    /// Sums before each batch: information, and trays that count.
    sums: Vec<(f64, u64)>,
    pub(super) steps: Vec<Step>,
}

impl Charter {
    /// For charts of farms that share this.
    #[must_use]
    pub fn new(shared: &Shared) -> Self {
        let shares = (shared.share_ok, shared.share_bad());
        let multipliers = std::iter::once(1.0).chain(shared.class_multipliers.iter().copied());
        Self {
            shared: shared.clone(),
            evidence: Evidence::new(shares, shared.correlation, multipliers),
            memo: Memo::default(),
            sums: Vec::new(),
            steps: Vec::new(),
        }
    }

    /// What the charts share.
    #[must_use]
    pub const fn shared(&self) -> &Shared {
        &self.shared
    }

    /// The chart after each batch of the last farm.
    #[must_use]
    pub fn steps(&self) -> &[Step] {
        &self.steps
    }

    /// Charts batches in order of day, then id. `level` gives the multiplier of a batch's expected
    /// share by position; none where the batch says nothing about the farm: then it moves nothing,
    /// but the farm is not quiet.
    pub fn chart(
        &mut self,
        batches: &[Batch],
        level: impl Fn(usize) -> Option<f64>,
        today: i32,
    ) -> Chart {
        self.steps.clear();
        self.sums.clear();
        self.sums.push((0.0, 0));
        self.memo.clear();
        let mut run = Run::default();
        for (j, batch) in batches.iter().enumerate() {
            let day = i64::from(batch.day);
            if j > 0 && day - i64::from(batches[j - 1].day) > RESET_DAYS {
                run = run.begin_anew(j);
            }
            let first = *run.first.get_or_insert_with(|| {
                run.window_from = j;
                day
            });
            let level = level(j).filter(|_| batch.is_valid());
            let Some(multiplier) = level else {
                self.push(0.0, 0);
                let information = self.steps.last().map_or(0.0, |s| s.information);
                self.steps.push(Step { value: run.value, information, evidence: 0.0 });
                continue;
            };
            while i64::from(batches[run.near].day) <= day - SERIAL_DAYS {
                run.near += 1;
            }
            let (d, n) = (batch.discarded, batch.started);
            let (evidence, information) = self.evidence.of(multiplier, d, n, &mut self.memo);
            let weeks = self.bad_weeks(run.near, n);
            let evidence = evidence / weeks;
            self.push(information / weeks, u64::from(n));
            while i64::from(batches[run.window_from].day) <= day - WINDOW_DAYS {
                run.window_from += 1;
            }
            let information = self.year(run.window_from, day - first + 1);
            run.take(j, evidence, information);
            run.last = Some((multiplier, d, n));
            self.steps.push(Step { value: run.value, information, evidence });
        }
        self.answer(batches, run, today, |j| level(j).is_some())
    }

    fn push(&mut self, information: f64, trays: u64) {
        let last = self.sums.last().copied().unwrap_or_default();
        self.sums.push((last.0 + information, last.1 + trays));
    }

    /// How much a batch of `n` trays says less because of those of the days before, from `near` on.
    fn bad_weeks(&self, near: usize, n: u32) -> f64 {
        if self.shared.serial <= 0.0 {
            return 1.0;
        }
        let trays = self.sums.last().map_or(0, |s| s.1) - self.sums[near].1;
        let own = 1.0 + (f64::from(n) - 1.0) * self.shared.correlation;
        1.0 + SERIAL_FACTOR * self.shared.serial * trays as f64 / own
    }

    /// Information of a year, from that of the days since `from`.
    fn year(&self, from: usize, days: i64) -> f64 {
        let span = days.clamp(SPAN_MIN, WINDOW_DAYS) as f64;
        let seen = self.sums.last().map_or(0.0, |s| s.0) - self.sums[from].0;
        365.0 / span * seen
    }

    fn answer(
        &self,
        batches: &[Batch],
        mut run: Run,
        today: i32,
        is_used: impl Fn(usize) -> bool,
    ) -> Chart {
        let today = i64::from(today);
        let quiet = batches.last().map(|b| today - i64::from(b.day));
        let is_over = quiet.is_none_or(|days| days > RESET_DAYS);
        if is_over {
            run.raised_by = None;
            run.value = 0.0;
        }
        let recent =
            batches.iter().enumerate().skip(run.begun).filter(|(j, b)| {
                i64::from(b.day) > today - RECENT_DAYS && b.is_valid() && is_used(*j)
            });
        let recent = recent.fold((0, 0), |(k, n), (_, b)| (k + 1, n + u64::from(b.started)));
        let last_p = run.last.map_or(1.0, |(m, d, n)| self.evidence.upper_tail(m, d, n));
        let threshold = self.steps.last().map(Step::threshold);
        let status = if run.raised_by.is_some() {
            let is_quiet = quiet.is_some_and(|days| days > QUIET_DAYS);
            if is_quiet { SpoilageStatus::RecurringQuiet } else { SpoilageStatus::Recurring }
        } else if is_over {
            SpoilageStatus::NothingCounted
        } else if recent.0 < BATCHES_MIN || recent.1 < TRAYS_MIN {
            SpoilageStatus::InsufficientData
        } else if last_p < ONE_BAD_P {
            SpoilageStatus::OneBadBatch
        } else if threshold.is_some_and(|h| run.value >= h / 2.0) {
            SpoilageStatus::Watch
        } else {
            SpoilageStatus::Ok
        };
        Chart {
            status,
            value: run.value,
            clearing: run.clearing,
            threshold,
            raised_by: run.raised_by,
            flagged_first: run.flagged_first,
            cleared: run.cleared,
            onsets: run.onsets,
            batches_used: run.used,
            recent,
            last_p,
            zero: run.zero,
        }
    }
}

/// A chart on its way.
#[derive(Default)]
struct Run {
    value: f64,
    clearing: f64,
    used: usize,
    raised_by: Option<(usize, usize)>,
    flagged_first: Option<usize>,
    cleared: Option<usize>,
    onsets: usize,
    zero: Option<usize>,
    /// Day of the first batch since the chart began.
    first: Option<i64>,
    /// First batch of the window of information, and of the days that hang together.
    window_from: usize,
    near: usize,
    begun: usize,
    last: Option<(f64, u32, u32)>,
}

impl Run {
    /// After a long gap, before batch `j`.
    fn begin_anew(self, j: usize) -> Self {
        Self {
            flagged_first: self.flagged_first,
            cleared: self.cleared,
            onsets: self.onsets,
            near: self.near,
            last: self.last,
            zero: j.checked_sub(1),
            begun: j,
            ..Self::default()
        }
    }

    fn take(&mut self, j: usize, evidence: f64, information: f64) {
        self.used += 1;
        let (least, next) = (THRESHOLD.0, self.value + evidence);
        if self.raised_by.is_none() && evidence <= STEP_SHARE * least && next < least {
            // Most batches: no threshold is so low that it would matter.
            self.value = next.max(0.0);
            if self.value <= 0.0 {
                self.zero = Some(j);
            }
            return;
        }
        let threshold = threshold(information);
        self.value = step(self.value, evidence, STEP_SHARE * threshold, threshold + OVER);
        if self.value <= 0.0 {
            self.zero = Some(j);
        }
        if self.raised_by.is_some() {
            self.clearing = (self.clearing + (-evidence).min(CLEAR_STEP)).max(0.0);
            if self.clearing >= CLEAR_AT {
                (self.value, self.clearing, self.raised_by) = (0.0, 0.0, None);
                (self.cleared, self.zero) = (Some(j), Some(j));
            }
        } else if self.value >= threshold && self.used >= FLAG_BATCHES_MIN {
            self.raised_by = Some((self.zero.map_or(0, |zero| zero + 1), j));
            self.flagged_first = self.flagged_first.or(Some(j));
            self.clearing = 0.0;
            self.onsets += 1;
        }
    }
}
