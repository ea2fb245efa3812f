//! What was really saved on feed: the old ration at today's prices less what was spent.

use serde::Serialize;

use crate::feed_panel::FeedPanel;
use crate::limits::AMOUNT_MAX;
use crate::parallel::{map_chunks, map_items};
use crate::prices::{IndexRules, month_index};
use crate::saving_programme::{ProgrammeSaving, programme_saving};
use crate::stats::{CriticalPoints, Interval, finite, median};

/// Rules of the saving. [`SavingRules::default`] is the house rule.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SavingRules {
    /// Reported months before the start that make the baseline, at most.
    pub baseline_months_max: u32,
    /// Reported months before the start a baseline needs.
    pub baseline_months_min: usize,
    /// Correlation of the baseline noise from one month to the next.
    pub correlation: f64,
    /// Prior degrees of freedom of that noise.
    pub prior_degrees: f64,
    /// Whether costs are set against the month index.
    pub is_seasonal: bool,
    /// Rules of the month index.
    pub index: IndexRules,
}

impl Default for SavingRules {
    fn default() -> Self {
        Self {
            baseline_months_max: 12,
            baseline_months_min: 2,
            correlation: 0.3,
            prior_degrees: 4.0,
            is_seasonal: true,
            index: IndexRules::default(),
        }
    }
}

/// Why a farm has a saving or has none.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum SavingStatus {
    /// The member has not started.
    NotStarted,
    /// No reported month before the start.
    NoBaseline,
    /// Too few reported months before the start.
    InsufficientBaseline,
    /// No reported month after the start.
    NoPostMonths,
    /// There is a saving, set against the month index.
    Estimated,
    /// There is a saving, but a month index was missing: seasons are not taken out.
    EstimatedUnadjusted,
}

/// One month after the start.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct SavingMonth {
    /// Month of the panel.
    pub month: usize,
    /// What an animal-day would have cost with the old ration at this month's prices.
    pub counterfactual_per_day: f64,
    /// What an animal-day cost.
    pub actual_per_day: f64,
    /// Money saved in the month.
    pub saving: f64,
    /// Standard error of the saving per animal-day.
    pub standard_error_per_day: Option<f64>,
}

/// An amount with its error.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Amount {
    /// The amount.
    pub value: f64,
    /// Standard error; none without any cost to judge noise by.
    pub standard_error: Option<f64>,
    /// 95 % interval.
    pub interval: Option<Interval>,
}

/// Price indices of the last month after the start against baseline unit values.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct PriceIndices {
    /// Old ration repriced.
    pub laspeyres: Option<f64>,
    /// New ration repriced.
    pub paasche: Option<f64>,
    /// Geometric mean of both.
    pub fisher: Option<f64>,
    /// Saving per animal-day by quantities alone, at the mean of old and new prices.
    pub bennet_quantity: f64,
}

/// One farm's saving.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FarmSaving {
    /// Months after the start, ascending.
    pub months: Vec<SavingMonth>,
    /// Reported months in the baseline.
    pub baseline_months: usize,
    /// Money saved in all those months.
    pub total: Amount,
    /// Money the old ration would have cost in them.
    pub counterfactual_total: f64,
    /// Saving per animal-day.
    pub per_day: Amount,
    /// Total over all outputs known in those months, per litre or egg.
    pub per_unit: Option<f64>,
    /// The same over months that have an output only; differs when one is missing.
    pub per_unit_matched: Option<f64>,
    /// Saving in per cent of the counterfactual.
    pub percent: Option<f64>,
    /// Degrees of freedom of the intervals.
    pub degrees_of_freedom: f64,
    /// Animal-days in those months.
    pub animal_days: f64,
    /// Output known in those months.
    pub output: f64,
    /// Price indices.
    pub prices: PriceIndices,
}

/// One farm's answer.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct FarmAnswer {
    /// Whether there is a saving.
    pub status: SavingStatus,
    /// The saving, when there is one.
    pub saving: Option<FarmSaving>,
}

/// All farms' savings and what they share.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Savings {
    /// One answer a farm, in the panel's order.
    pub farms: Vec<FarmAnswer>,
    /// Month index; 1 throughout without seasons.
    pub month_index: Vec<Option<f64>>,
    /// Reference price of each feed: median over reported farm-months.
    pub price_reference: Vec<Option<f64>>,
    /// Pooled relative variance of a baseline month.
    pub relative_variance: f64,
    /// The programme; none under two estimated farms.
    pub programme: Option<ProgrammeSaving>,
}

/// Straight-line depreciation a month: `(cost - salvage) / life`.
///
/// # Units
/// Money and months.
///
/// # Shape
/// None for a life of no months or an amount that is no number.
///
/// # Source
/// CIMMYT 1988, From Agronomic Data to Farmer Recommendations (partial budgets).
///
/// # Example
/// ```
/// use traybook_analytics::saving::depreciation_per_month;
///
/// assert_eq!(depreciation_per_month(1_200.0, 0.0, 24), Some(50.0));
/// assert_eq!(depreciation_per_month(1_200.0, 0.0, 0), None);
/// ```
pub fn depreciation_per_month(cost: f64, salvage: f64, life_months: u32) -> Option<f64> {
    // Divided by no months it is not a number, which `finite` turns into none.
    finite((cost - salvage) / f64::from(life_months))
}

/// Compares what each farm spent after its start with its old ration at current prices.
///
/// The old ration is what an animal-day took in the last reported months before the start,
/// freed of the month index. Herd size enters only through animal-days. The interval carries
/// the noise of a baseline month, moderated over farms, and the error of the baseline itself.
///
/// # Units
/// Money in the panel's currency; animal-days; litres or eggs.
///
/// # Shape
/// One answer a farm. Baseline of at least `baseline_months_min` months and one month after
/// the start; what is missing is in the status. Single months have wide intervals: show totals.
///
/// # Source
/// SPEC C: Laspeyres repricing; CIMMYT 1988 (partial budgets); Fisher 1922; Bennet 1920, J. R.
/// Stat. Soc. 83:455; Cochran 1977, Sampling Techniques, ch. 6 (ratio estimator).
pub fn feed_saving(panel: &FeedPanel, rules: &SavingRules) -> Savings {
    feed_saving_at(panel, rules, price_level(panel, rules))
}

/// What prices were, and how dear each month: what all farms' savings share.
#[derive(Debug, Clone, PartialEq)]
pub struct PriceLevel {
    /// Reference price of each feed: median over reported farm-months.
    pub reference: Vec<Option<f64>>,
    /// Month index; 1 throughout without seasons.
    pub month_index: Vec<Option<f64>>,
}

/// The price level of a panel. It comes from feed, prices, animal-days and starts alone: where only
/// other costs or outputs differ, that of before holds.
///
/// # Units
/// Money per unit of feed; index without unit.
///
/// # Shape
/// One price a feed, one index a month; none where nothing was reported.
///
/// # Source
/// SPEC C; [`month_index`].
pub fn price_level(panel: &FeedPanel, rules: &SavingRules) -> PriceLevel {
    let reference = reference_prices(panel);
    let month_index = if rules.is_seasonal {
        let costs = untreated_costs(panel, &known_prices(&reference));
        month_index(&costs, panel.animal_days, panel.months, &rules.index)
    } else {
        vec![Some(1.0); panel.months]
    };
    PriceLevel { reference, month_index }
}

fn known_prices(reference: &[Option<f64>]) -> Vec<f64> {
    reference.iter().map(|p| p.unwrap_or(0.0)).collect()
}

/// [`feed_saving`] at a price level that is known.
///
/// # Units
/// As of [`feed_saving`].
///
/// # Shape
/// As of [`feed_saving`], where `level` is the [`price_level`] of this panel; months or feeds that
/// it lacks have no index and weigh nothing.
///
/// # Source
/// As of [`feed_saving`].
pub fn feed_saving_at(panel: &FeedPanel, rules: &SavingRules, mut level: PriceLevel) -> Savings {
    level.reference.resize(panel.feeds, None);
    level.month_index.resize(panel.months, None);
    let PriceLevel { reference: price_reference, month_index } = level;
    let prices = known_prices(&price_reference);
    let work = Work { panel, rules, prices: &prices, index: &month_index };
    let drafts: Vec<Result<Draft, SavingStatus>> =
        map_chunks(panel.farms(), |farms| farms.map(|farm| work.draft(farm)).collect::<Vec<_>>())
            .into_iter()
            .flatten()
            .collect();
    let relative_variance = pooled_variance(drafts.iter().flatten());
    let farms: Vec<FarmAnswer> = map_chunks(drafts.len(), |range| {
        let mut critical = CriticalPoints::default();
        let answer = |d: &Result<Draft, SavingStatus>| match d {
            Err(status) => FarmAnswer { status: *status, saving: None },
            Ok(draft) => work.answer(draft, relative_variance, &mut critical),
        };
        drafts[range].iter().map(answer).collect::<Vec<_>>()
    })
    .into_iter()
    .flatten()
    .collect();
    let programme = programme_saving(panel, &farms);
    Savings { farms, month_index, price_reference, relative_variance, programme }
}

fn reference_prices(panel: &FeedPanel) -> Vec<Option<f64>> {
    let reported = map_chunks(panel.farms(), |farms| {
        let cells = farms.start * panel.months..farms.end * panel.months;
        cells.filter(|c| panel.is_reported(*c)).collect::<Vec<usize>>()
    });
    map_items(panel.feeds, |feed| {
        let of_cell = |cell: &usize| panel.price[cell * panel.feeds + feed];
        let mut prices: Vec<f64> = reported.iter().flatten().map(of_cell).collect();
        median(&mut prices)
    })
}

/// Cost per animal-day at reference prices; not-a-number where treated or not reported.
fn untreated_costs(panel: &FeedPanel, prices: &[f64]) -> Vec<f64> {
    let rows = map_chunks(panel.farms(), |farms| {
        let mut costs = Vec::with_capacity(farms.len() * panel.months);
        for farm in farms {
            for t in 0..panel.months {
                let cell = farm * panel.months + t;
                let is_used = t < panel.months_before(farm) && panel.is_reported(cell);
                let quantity = panel.feeds_of(panel.quantity, cell);
                let cost = || dot(quantity, prices) / panel.animal_days[cell];
                costs.push(if is_used { cost() } else { f64::NAN });
            }
        }
        costs
    });
    rows.concat()
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

/// One farm before the noise is pooled.
struct Draft {
    status: SavingStatus,
    months: Vec<SavingMonth>,
    animal_days: Vec<f64>,
    baseline_months: usize,
    /// Weighted sum of squared relative deviations of baseline months; none without cost.
    square: Option<f64>,
    /// What that sum is for variance 1.
    expected: f64,
    /// Variance of the baseline level for variance 1 of a month.
    level_variance: f64,
    output: f64,
    matched_saving: f64,
    prices: PriceIndices,
}

impl Draft {
    fn own_degrees(&self) -> f64 {
        self.baseline_months as f64 - 1.0
    }

    /// Relative variance of a baseline month, when the farm has one of its own.
    fn own_variance(&self) -> Option<f64> {
        let square = self.square.filter(|_| self.has_spread())?;
        finite(square / self.expected)
    }

    /// False for a baseline of one month, which has no spread of its own.
    fn has_spread(&self) -> bool {
        self.expected > 1e-9
    }

    /// False when nothing was fed in the baseline, so that its noise cannot be judged.
    fn is_noise_known(&self) -> bool {
        self.square.is_some() || !self.has_spread()
    }
}

fn pooled_variance<'a>(drafts: impl Iterator<Item = &'a Draft>) -> f64 {
    let own = drafts.filter_map(|d| Some((d.own_degrees(), d.own_variance()?)));
    let (sum, degrees) = own.fold((0.0, 0.0), |(s, n), (df, v)| (s + df * v, n + df));
    if degrees > 0.0 { sum / degrees } else { 0.0 }
}

/// `sum w_i w_j phi^|i - j|` over ascending months, month by month.
fn correlated_square(months: impl Iterator<Item = (usize, f64)>, phi: f64) -> f64 {
    let (mut square, mut carried, mut last) = (0.0, 0.0, None);
    for (month, weight) in months {
        let gap = last.map_or(0, |last| month - last);
        carried *= phi.powi(i32::try_from(gap).unwrap_or(i32::MAX));
        square += weight * weight + 2.0 * weight * carried;
        carried += weight;
        last = Some(month);
    }
    square
}

struct Work<'a> {
    panel: &'a FeedPanel<'a>,
    rules: &'a SavingRules,
    prices: &'a [f64],
    index: &'a [Option<f64>],
}

impl Work<'_> {
    fn cell(&self, farm: usize, month: usize) -> usize {
        farm * self.panel.months + month
    }

    fn draft(&self, farm: usize) -> Result<Draft, SavingStatus> {
        let panel = self.panel;
        if panel.start[farm].is_none() {
            return Err(SavingStatus::NotStarted);
        }
        let last = panel.months_before(farm);
        let window = self.rules.baseline_months_max as usize;
        let start = panel.start[farm].map_or(0, |g| g as usize);
        let first = start.saturating_sub(window).min(last);
        let is_reported = |t: &usize| panel.is_reported(self.cell(farm, *t));
        let before: Vec<usize> = (first..last).filter(is_reported).collect();
        if before.len() < self.rules.baseline_months_min.max(1) {
            let is_empty = before.is_empty();
            let short = SavingStatus::InsufficientBaseline;
            return Err(if is_empty { SavingStatus::NoBaseline } else { short });
        }
        let is_costed = |t: &usize| panel.other_cost[self.cell(farm, *t)].abs() <= AMOUNT_MAX;
        let after = panel.months_after(farm);
        let after: Vec<usize> = after.filter(is_reported).filter(is_costed).collect();
        if after.is_empty() {
            return Err(SavingStatus::NoPostMonths);
        }
        Ok(self.compare(farm, &before, &after))
    }

    fn compare(&self, farm: usize, before: &[usize], after: &[usize]) -> Draft {
        let is_indexed = |t: &usize| self.index[*t].is_some();
        let is_adjusted = before.iter().chain(after).all(is_indexed);
        let index = |t: usize| {
            if is_adjusted { self.index[t].unwrap_or(1.0) } else { 1.0 }
        };
        let ration = Ration::new(self, farm, before, &index);
        let (mut months, mut animal_days) = (Vec::new(), Vec::new());
        let (mut output, mut matched_saving) = (0.0, 0.0);
        for &month in after {
            let cell = self.cell(farm, month);
            let days = self.panel.animal_days[cell];
            let price = self.panel.feeds_of(self.panel.price, cell);
            let spent = dot(price, self.panel.feeds_of(self.panel.quantity, cell));
            let counterfactual_per_day = dot(price, &ration.per_day) * index(month);
            let actual_per_day = (spent + self.panel.other_cost[cell]) / days;
            let saving = (counterfactual_per_day - actual_per_day) * days;
            let standard_error_per_day = None;
            months.push(SavingMonth {
                month,
                counterfactual_per_day,
                actual_per_day,
                saving,
                standard_error_per_day,
            });
            animal_days.push(days);
            if self.panel.output[cell].abs() <= AMOUNT_MAX {
                output += self.panel.output[cell];
                matched_saving += saving;
            }
        }
        let is_plain = is_adjusted || !self.rules.is_seasonal;
        let unadjusted = SavingStatus::EstimatedUnadjusted;
        Draft {
            status: if is_plain { SavingStatus::Estimated } else { unadjusted },
            prices: self.price_indices(farm, after, &ration),
            months,
            animal_days,
            baseline_months: before.len(),
            square: ration.square,
            expected: ration.expected,
            level_variance: ration.level_variance,
            output,
            matched_saving,
        }
    }

    fn price_indices(&self, farm: usize, after: &[usize], ration: &Ration) -> PriceIndices {
        let cell = self.cell(farm, after[after.len() - 1]);
        let new_price = self.panel.feeds_of(self.panel.price, cell);
        let days = self.panel.animal_days[cell];
        let new: Vec<f64> =
            self.panel.feeds_of(self.panel.quantity, cell).iter().map(|q| q / days).collect();
        let (old, old_price) = (&ration.per_day, &ration.unit_value);
        let ratio = |basket: &[f64]| {
            let base = dot(old_price, basket);
            if base > 0.0 { finite(dot(new_price, basket) / base) } else { None }
        };
        let (laspeyres, paasche) = (ratio(old), ratio(&new));
        let product = laspeyres.zip(paasche).map(|(l, p)| (l * p).sqrt());
        let steps = old_price.iter().zip(new_price).zip(old.iter().zip(&new));
        let bennet = steps.map(|((p0, p1), (q0, q1))| -0.5 * (p0 + p1) * (q1 - q0));
        let (fisher, bennet_quantity) = (product.and_then(finite), bennet.sum());
        PriceIndices { laspeyres, paasche, fisher, bennet_quantity }
    }

    fn answer(&self, draft: &Draft, pooled: f64, points: &mut CriticalPoints) -> FarmAnswer {
        let (d0, own) = (self.rules.prior_degrees, draft.own_degrees());
        let degrees_of_freedom = d0 + own;
        let own_variance = draft.own_variance().unwrap_or(pooled);
        let variance = finite((d0 * pooled + own * own_variance) / degrees_of_freedom);
        let variance = variance.unwrap_or(pooled);
        let critical = points.at(degrees_of_freedom);
        let month_factor = (variance * (1.0 + draft.level_variance)).sqrt();
        let is_known = draft.is_noise_known();
        let with_error = |m: &SavingMonth| {
            let error = m.counterfactual_per_day * month_factor;
            SavingMonth { standard_error_per_day: is_known.then_some(error), ..*m }
        };
        let months: Vec<SavingMonth> = draft.months.iter().map(with_error).collect();
        let costs = || {
            let cost = |(m, n): (&SavingMonth, &f64)| (m.month, n * m.counterfactual_per_day);
            draft.months.iter().zip(&draft.animal_days).map(cost)
        };
        let counterfactual_total: f64 = costs().map(|(_, c)| c).sum();
        let total: f64 = months.iter().map(|m| m.saving).sum();
        let animal_days: f64 = draft.animal_days.iter().sum();
        let shares = costs().map(|(t, c)| (t, c / counterfactual_total));
        let spread = correlated_square(shares, self.rules.correlation) + draft.level_variance;
        let has_cost = counterfactual_total > 0.0;
        let error =
            (is_known && has_cost).then(|| counterfactual_total * (variance * spread).sqrt());
        let error = error.and_then(finite);
        let amount = |scale: f64| {
            let (value, standard_error) = (total / scale, error.map(|e| e / scale));
            let interval = standard_error.map(|e| Interval::around(value, critical * e));
            Amount { value, standard_error, interval }
        };
        let has_output = draft.output > 0.0;
        let saving = FarmSaving {
            baseline_months: draft.baseline_months,
            total: amount(1.0),
            per_day: amount(animal_days),
            per_unit: has_output.then(|| total / draft.output).and_then(finite),
            per_unit_matched: has_output
                .then(|| draft.matched_saving / draft.output)
                .and_then(finite),
            percent: has_cost.then(|| 100.0 * total / counterfactual_total).and_then(finite),
            months,
            counterfactual_total,
            degrees_of_freedom,
            animal_days,
            output: draft.output,
            prices: draft.prices,
        };
        FarmAnswer { status: draft.status, saving: Some(saving) }
    }
}

/// The old ration of one farm and how much its baseline months vary.
struct Ration {
    /// Quantity of each feed per animal-day at month index 1.
    per_day: Vec<f64>,
    /// Mean price paid for each feed.
    unit_value: Vec<f64>,
    square: Option<f64>,
    expected: f64,
    level_variance: f64,
}

impl Ration {
    fn new(work: &Work, farm: usize, before: &[usize], index: &dyn Fn(usize) -> f64) -> Self {
        let (panel, feeds) = (work.panel, work.panel.feeds);
        let (mut used, mut paid, mut weight) = (vec![0.0; feeds], vec![0.0; feeds], 0.0);
        for &t in before {
            let cell = work.cell(farm, t);
            weight += panel.animal_days[cell] * index(t);
            let (quantity, price) =
                (panel.feeds_of(panel.quantity, cell), panel.feeds_of(panel.price, cell));
            for k in 0..feeds {
                used[k] += quantity[k];
                paid[k] += quantity[k] * price[k];
            }
        }
        let unit_value = paid.iter().zip(&used).map(|(p, q)| p / q.max(1e-12)).collect();
        let per_day: Vec<f64> = used.iter().map(|q| q / weight).collect();
        let mean = dot(&per_day, work.prices);
        let share = |t: usize| panel.animal_days[work.cell(farm, t)] * index(t) / weight;
        let relative = |t: usize| {
            let cell = work.cell(farm, t);
            let cost = dot(panel.feeds_of(panel.quantity, cell), work.prices);
            cost / panel.animal_days[cell] / index(t) / mean - 1.0
        };
        let square: f64 = before.iter().map(|t| share(*t) * relative(*t).powi(2)).sum();
        let shares = before.iter().map(|t| (*t, share(*t)));
        let level_variance = correlated_square(shares, work.rules.correlation);
        Self {
            per_day,
            unit_value,
            square: finite(square),
            expected: 1.0 - level_variance,
            level_variance,
        }
    }
}
