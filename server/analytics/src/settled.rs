//! Answers of a second kind: each rests on an assumption that the records cannot prove.

use serde::Serialize;

use crate::linear::quadratic;
use crate::member_effect::{MemberEffects, MemberStatus};
use crate::panel::{Panel, fit_untreated};
use crate::records::Covariates;
use crate::stats::{LogEstimate, student_t_critical_95};

/// Months after a start from which an effect is taken for settled.
pub const SETTLED_MONTHS: i64 = 7;
/// Settled months a farm must have to lend its changes.
const LENT_MONTHS_MIN: usize = 6;
/// Change a month, two errors wide, below which settled farms are called steady.
const STEADY_WIDTH: f64 = 0.004;

/// Farm-months with those of settled farms once more, as farms of their own that never start.
#[derive(Debug, Clone)]
pub struct SettledPanel {
    months: usize,
    log_output: Vec<f64>,
    records: Vec<f64>,
    start: Vec<Option<u32>>,
    covariates: Option<Covariates>,
    /// Farms that lend their changes; their rows follow those of all farms, in this order.
    pub lent: Vec<usize>,
}

impl SettledPanel {
    /// Adds the settled farms. `true_start` may lie before the data.
    ///
    /// # Units
    /// As the panel's.
    ///
    /// # Shape
    /// The panel's farms first. No settled farm: the panel as it was.
    pub fn new(panel: &Panel, true_start: &[Option<i64>], held: &[bool]) -> Self {
        let months = panel.months();
        let mut settled = Self {
            months,
            log_output: Vec::new(),
            records: Vec::new(),
            start: panel.starts().to_vec(),
            covariates: None,
            lent: Vec::new(),
        };
        for farm in 0..panel.farms() {
            settled.copy(panel, farm, i64::MIN);
        }
        for (farm, start) in true_start.iter().enumerate().take(panel.farms()) {
            let is_held = held.get(farm).is_some_and(|held| *held);
            let Some(first) = start.filter(|_| !is_held).map(|g| g + SETTLED_MONTHS) else {
                continue;
            };
            let months = (0..months).filter(|t| *t as i64 >= first);
            let seen = months.filter(|t| panel.observed(farm, *t).is_some()).count();
            if seen >= LENT_MONTHS_MIN {
                settled.copy(panel, farm, first);
                settled.start.push(None);
                settled.lent.push(farm);
            }
        }
        settled.covariates = panel.all_covariates().map(|x| x.with_rows(&settled.lent, months));
        settled
    }

    fn copy(&mut self, panel: &Panel, farm: usize, first: i64) {
        for t in 0..self.months {
            let seen = panel.observed(farm, t).filter(|_| t as i64 >= first);
            self.log_output.push(seen.map_or(f64::NAN, |(y, _)| y));
            self.records.push(seen.map_or(0.0, |(_, n)| n));
        }
    }

    /// The panel to estimate from.
    pub fn panel(&self) -> Result<Panel<'_>, crate::error::ShapeError> {
        let covariates = self.covariates.as_ref();
        Panel::new(self.months, &self.log_output, &self.records, &self.start, covariates)
    }

    /// What is known of the farms, followed by the same of those that lend.
    pub fn extend<T: Copy>(&self, of_farms: &[T]) -> Vec<T> {
        let lent = self.lent.iter().filter_map(|farm| of_farms.get(*farm));
        of_farms.iter().chain(lent).copied().collect()
    }
}

/// Whether settled farms still move against farms that have not started.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize)]
#[serde(rename_all = "snake_case")]
pub enum DriftStatus {
    /// They move: answers that rest on them are withheld.
    Drifting,
    /// They do not.
    Steady,
    /// It cannot be known.
    NotKnown,
}

/// Slope of settled farms against farms that have not started.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Drift {
    pub status: DriftStatus,
    /// Settled farms in it.
    pub farms: usize,
    /// Change of the logarithm of output a month, and its standard error.
    pub slope: Option<(f64, f64)>,
}

/// Looks whether settled farms still drift, while at least five untreated farms report.
///
/// # Units
/// Natural logarithm a month.
///
/// # Shape
/// `effects` are those of `panel` without settled rows. Fewer than five settled farms with four
/// months beside enough untreated farms: not known.
pub fn settled_drift(panel: &Panel, effects: &MemberEffects, true_start: &[Option<i64>]) -> Drift {
    let (view, fit) = (effects.view(panel), &effects.fit);
    let mut farms = Vec::new();
    for (farm, member) in effects.members.iter().enumerate() {
        let Some(start) = true_start.get(farm).copied().flatten() else { continue };
        if member.status == MemberStatus::CheckLevel {
            continue;
        }
        let months = (0..view.months()).filter(|t| {
            effects.is_month_usable[*t] && *t as i64 >= start.saturating_add(SETTLED_MONTHS)
        });
        let cells: Vec<_> = months.filter_map(|t| fit.cell(&view, farm, t)).collect();
        if cells.len() >= 4 {
            farms.push((farm, start, cells));
        }
    }
    let count = farms.len();
    if count < 5 {
        return Drift { status: DriftStatus::NotKnown, farms: count, slope: None };
    }
    // Month since start and residual, both about the farm's own weighted mean.
    let centred: Vec<_> = farms
        .iter()
        .flat_map(|(farm, start, cells)| {
            let total: f64 = cells.iter().map(|c| c.weight).sum();
            let since = |c: &crate::panel::Cell| (c.month as i64 - start) as f64;
            let left = |c: &crate::panel::Cell| c.y - fit.fitted(&view, *farm, c.month);
            let mean = |f: &dyn Fn(&crate::panel::Cell) -> f64| {
                cells.iter().map(|c| c.weight / total * f(c)).sum::<f64>()
            };
            let (mean_x, mean_y) = (mean(&since), mean(&left));
            let centre = move |c: &crate::panel::Cell| {
                let x = (c.month as i64 - start) as f64 - mean_x;
                (*farm, c.month, c.weight, x, c.y - fit.fitted(&view, *farm, c.month) - mean_y)
            };
            cells.iter().map(centre)
        })
        .collect();
    let square: f64 = centred.iter().map(|(_, _, w, x, _)| w * x * x).sum();
    let slope: f64 = centred.iter().map(|(_, _, w, x, y)| w * x * y).sum::<f64>() / square;
    let mut scores = vec![0.0; view.farms()];
    let mut design = vec![0.0; fit.inverse.nrows()];
    for (farm, month, w, x, y) in &centred {
        scores[*farm] += w * x * (y - slope * x);
        design[*month] += w * x / square;
        let stage = view.covariates(*farm, *month).iter();
        let parts = design[view.months()..].iter_mut().zip(stage);
        parts.for_each(|(d, covariate)| *d += w * x / square * covariate);
    }
    let farms = count as f64;
    let own: f64 = scores.iter().map(|s| s * s).sum::<f64>() * farms / (farms - 1.0);
    let error = (own / (square * square) + quadratic(&fit.covariance, &design)).sqrt();
    let status = if slope.abs() > 2.0 * error {
        DriftStatus::Drifting
    } else if 2.0 * error <= STEADY_WIDTH {
        DriftStatus::Steady
    } else {
        DriftStatus::NotKnown
    };
    if slope.is_finite() && error.is_finite() {
        Drift { status, farms: count, slope: Some((slope, error)) }
    } else {
        Drift { status: DriftStatus::NotKnown, farms: count, slope: None }
    }
}

/// What feeding more or less says, among farms that feed.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(tag = "status", rename_all = "snake_case")]
pub enum DoseResponse {
    /// Fewer than 30 farm-months.
    InsufficientDoseData,
    /// The farms feed nearly the same each month.
    NoDoseVariation {
        /// Spread of the dose within farms.
        sd_within: f64,
        mean_dose: f64,
    },
    /// Next month's dose goes with this month's output: feed follows milk, not the other way.
    DoseFollowsOutput(DoseEffect),
    /// There is an estimate.
    Estimated(DoseEffect),
}

/// The slope and what it makes at the mean dose.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct DoseEffect {
    /// Change of the logarithm of output a kg of dry matter an animal and day.
    pub slope: LogEstimate,
    /// The same at the mean dose.
    pub at_mean: LogEstimate,
    pub degrees_of_freedom: f64,
    pub mean_dose: f64,
    /// Spread of the dose within farms.
    pub sd_within: f64,
    pub farms: usize,
    /// Slope of next month's dose beside it, and its standard error.
    pub lead: Option<(f64, f64)>,
}

/// Compares months in which a farm fed more with months in which it fed less, after its start.
///
/// # Units
/// `dose` in kg of dry matter an animal and day, one a farm-month, not-a-number where not known;
/// `true_start` may lie before the data.
///
/// # Shape
/// Months with five farms, farms with four months, 30 cells.
pub fn dose_response(
    panel: &Panel,
    true_start: &[Option<i64>],
    dose: &[f64],
    kappa: f64,
) -> DoseResponse {
    let fit = |columns| DoseFit::new(panel, true_start, dose, (columns, kappa));
    let lead = fit(2).map(|f| f.coefficients[1]);
    let Some(fit) = fit(1) else {
        return DoseResponse::InsufficientDoseData;
    };
    let (beta, error) = fit.coefficients[0];
    let at = |cell: &usize| dose[*cell];
    let count = fit.cells.len() as f64;
    let mean_dose = fit.cells.iter().map(at).sum::<f64>() / count;
    let months = panel.months();
    let mut within = 0.0;
    for of_farm in fit.cells.chunk_by(|a, b| a / months == b / months) {
        let mean = of_farm.iter().map(at).sum::<f64>() / of_farm.len() as f64;
        within += of_farm.iter().map(|cell| (at(cell) - mean).powi(2)).sum::<f64>();
    }
    let sd_within = (within / count).sqrt();
    if sd_within < 0.05 * mean_dose.abs().max(1e-12) || error <= 0.0 {
        return DoseResponse::NoDoseVariation { sd_within, mean_dose };
    }
    let degrees_of_freedom = (fit.farms as f64 - 2.0).max(1.0);
    let critical = student_t_critical_95(degrees_of_freedom);
    let slope = LogEstimate::with_critical(beta, error, critical);
    let at_mean = LogEstimate::with_critical(beta * mean_dose, error * mean_dose, critical);
    let effect = DoseEffect {
        slope,
        at_mean,
        degrees_of_freedom,
        mean_dose,
        sd_within,
        farms: fit.farms,
        lead,
    };
    match lead {
        Some((lead, error)) if error > 0.0 && lead.abs() > 2.0 * error => {
            DoseResponse::DoseFollowsOutput(effect)
        }
        _ => DoseResponse::Estimated(effect),
    }
}

struct DoseFit {
    /// Cells used, ascending.
    cells: Vec<usize>,
    farms: usize,
    /// Slope and standard error of this month's dose and, if asked for, of next month's.
    coefficients: Vec<(f64, f64)>,
}

impl DoseFit {
    fn new(
        panel: &Panel,
        true_start: &[Option<i64>],
        dose: &[f64],
        (columns, kappa): (usize, f64),
    ) -> Option<Self> {
        let (farms, months) = (panel.farms(), panel.months());
        let value = |farm: usize, t: usize, column: usize| {
            let is_inside = t + column < months;
            let at = is_inside.then(|| dose.get(farm * months + t + column)).flatten();
            at.copied().filter(|d| d.is_finite())
        };
        let mut is_used = vec![false; farms * months];
        for farm in 0..farms {
            let start = true_start.get(farm).copied().flatten().unwrap_or(i64::MAX);
            for t in (0..months).filter(|t| *t as i64 > start) {
                is_used[farm * months + t] = panel.observed(farm, t).is_some()
                    && (0..columns).all(|column| value(farm, t, column).is_some());
            }
        }
        for t in 0..months {
            if (0..farms).filter(|farm| is_used[farm * months + t]).count() < 5 {
                (0..farms).for_each(|farm| is_used[farm * months + t] = false);
            }
        }
        for row in is_used.chunks_mut(months.max(1)) {
            if row.iter().filter(|used| **used).count() < 4 {
                row.fill(false);
            }
        }
        let cells: Vec<usize> = (0..is_used.len()).filter(|cell| is_used[*cell]).collect();
        if cells.len() < 30 {
            return None;
        }
        let mut log_output = vec![f64::NAN; farms * months];
        let mut records = vec![0.0; farms * months];
        let mut values = vec![0.0; farms * months * columns];
        for cell in &cells {
            let (farm, t) = (cell / months, cell % months);
            let (y, n) = panel.observed(farm, t)?;
            log_output[*cell] = y;
            records[*cell] = n;
            for column in 0..columns {
                values[cell * columns + column] = value(farm, t, column)?;
            }
        }
        let covariates = Covariates::new(columns, values).ok()?;
        let never = vec![None; farms];
        let own = Panel::new(months, &log_output, &records, &never, Some(&covariates)).ok()?;
        let fit = fit_untreated(&own, kappa);
        let coefficient = |column: usize| {
            let variance = fit.covariance[(months + column, months + column)];
            (fit.coefficients[column], variance.max(0.0).sqrt())
        };
        let farms = cells.chunk_by(|a, b| a / months == b / months).count();
        Some(Self { farms, coefficients: (0..columns).map(coefficient).collect(), cells })
    }
}
