//! Linear problems, through the library microlp, with multipliers that the library does not give.
//!
//! # Method
//! The library answers with a corner of what is allowed, checked against every row. At a corner
//! `x` the best multipliers `y` are exactly those that meet the dual problem and complementary
//! slackness: 0 for every row that is not binding, and no reduced cost for any column in use.
//! Where several sets of multipliers are best (a degenerate corner), a question such as "what does
//! it save to loosen this limit" has an answer that is right in one direction only; it is the
//! smallest multiplier of the set, which is one more linear problem ([`least`]).
//!
//! # Source
//! Duality, complementary slackness and one-sided derivatives of the optimal value: Schrijver 1986,
//! Theory of Linear and Integer Programming, ch. 7 and 10.

use microlp::{ComparisonOp, Error, OptimizationDirection, Problem, SolveOptions, Variable};
use std::time::Duration;

/// How far a scaled row may be missed: a hundredth of what answers promise.
const FEASIBILITY: f64 = 1e-9;
/// From where on a scaled row counts as binding and a scaled column as used. Corners meet their
/// binding rows to about 1e-12.
const ON: f64 = 1e-8;
/// A multiplier as large as this has no bound: scaled, it would make a kg worth that many mixes.
/// The small one keeps round-off small; where the multipliers do not fit below it, the large one.
const HUGE: [f64; 2] = [1e4, 1e8];
/// Longest time for one problem: far more than the largest request takes, so that no request can
/// keep a processor for ever.
const TIME_MAX: Duration = Duration::from_secs(2);

/// Which side of a row is allowed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Sense {
    /// Left side at least the right side.
    AtLeast,
    AtMost,
    Equal,
}

#[derive(Clone, Debug, PartialEq)]
pub struct Row {
    /// One factor a column.
    pub factors: Vec<f64>,
    /// Which side is allowed.
    pub sense: Sense,
    /// Right side.
    pub right: f64,
}

/// Least cost over columns that are not negative.
#[derive(Clone, Debug, PartialEq)]
pub struct Linear {
    /// Cost of each column.
    pub costs: Vec<f64>,
    pub rows: Vec<Row>,
}

/// What the solver found.
#[derive(Clone, Debug, PartialEq)]
pub enum Found {
    /// A best corner.
    Best(Vec<f64>),
    /// No point meets all rows.
    Impossible,
    /// It can always be made cheaper.
    Unbounded,
}

/// The solver could not answer in a way that stands a check.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("compute a reliable answer: {0}")]
pub struct Unreliable(pub String);

/// A multiplier, or why there is none.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Least {
    /// The smallest value.
    Value(f64),
    /// There is no smallest value.
    Unbounded,
}

impl Row {
    /// Left side at a point.
    #[must_use]
    pub fn left(&self, x: &[f64]) -> f64 {
        self.factors.iter().zip(x).map(|(a, x)| a * x).sum()
    }

    /// Largest factor, without its sign.
    fn size(&self) -> f64 {
        self.factors.iter().fold(0.0, |m: f64, a| m.max(a.abs()))
    }
}

/// Finds a best corner.
///
/// # Errors
/// When the solver fails or its answer does not stand the check.
pub fn minimise(problem: &Linear) -> Result<Found, Unreliable> {
    let bounds = vec![(0.0, f64::INFINITY); problem.costs.len()];
    let ask = |scale: f64| {
        let costs: Vec<f64> = problem.costs.iter().map(|c| c / scale).collect();
        solve(&costs, &bounds, &problem.rows)
    };
    let largest = problem.costs.iter().fold(0.0, |m: f64, c| m.max(c.abs()));
    let found = ask(nonzero(largest))?;
    let Found::Best(x) = &found else { return Ok(found) };
    // The dearest column may be far from what is spent: tolerances must mean what is spent.
    let spent = cost(&problem.costs, x);
    if spent > 0.0 && largest / spent > 10.0 { ask(spent) } else { Ok(found) }
}

/// Cost of a point.
fn cost(costs: &[f64], x: &[f64]) -> f64 {
    costs.iter().zip(x).map(|(c, x)| c * x).sum()
}

/// How the library is asked: it may fail on a corner where many rows meet, and then finds its way
/// from another side. Whichever way answers first is checked like any other.
const WAYS: [(bool, bool); 4] = [(true, false), (false, false), (true, true), (false, true)];

fn solve(costs: &[f64], bounds: &[(f64, f64)], rows: &[Row]) -> Result<Found, Unreliable> {
    let mut scaled = Vec::with_capacity(rows.len());
    for row in rows {
        let size = row.size();
        if size <= 0.0 {
            // Nothing on the left side: the row holds or does not.
            let holds = match row.sense {
                Sense::AtLeast => row.right <= FEASIBILITY,
                Sense::AtMost => row.right >= -FEASIBILITY,
                Sense::Equal => row.right.abs() <= FEASIBILITY,
            };
            if !holds {
                return Ok(Found::Impossible);
            }
            continue;
        }
        let factors = row.factors.iter().map(|a| rounded(a / size)).collect();
        scaled.push(Row { factors, sense: row.sense, right: rounded(row.right / size) });
    }
    let mut failed = Unreliable("it was not tried".to_owned());
    for (presolve, is_backwards) in WAYS {
        match ask(costs, bounds, &scaled, presolve, is_backwards) {
            Ok(found) => return Ok(found),
            Err(error) => failed = error,
        }
    }
    Err(failed)
}

/// Without what is only round-off: limits that mean the same become the same to the last bit, and
/// rows that nearly depend on each other are where simplex methods fail.
fn rounded(value: f64) -> f64 {
    const GRID: f64 = 1_099_511_627_776.0; // 2^40, about 1e-12 beside factors of 1
    let on_grid = (value * GRID).round() / GRID;
    if value.abs() < 1e3 { on_grid } else { value }
}

/// Asks the library once, with columns and rows in order or backwards.
fn ask(
    costs: &[f64],
    bounds: &[(f64, f64)],
    rows: &[Row],
    presolve: bool,
    is_backwards: bool,
) -> Result<Found, Unreliable> {
    let turned = |mut order: Vec<usize>| {
        if is_backwards {
            order.reverse();
        }
        order
    };
    let order = turned((0..costs.len()).collect());
    let mut asked = Problem::new(OptimizationDirection::Minimize);
    let mut columns: Vec<(usize, Variable)> = Vec::with_capacity(order.len());
    for j in order {
        let (Some(cost), Some(range)) = (costs.get(j), bounds.get(j)) else { continue };
        columns.push((j, asked.add_var(*cost, *range)));
    }
    for i in turned((0..rows.len()).collect()) {
        let Some(row) = rows.get(i) else { continue };
        let factor = |j: usize| row.factors.get(j).copied().unwrap_or(0.0);
        let terms = columns.iter().map(|(j, v)| (*v, factor(*j))).filter(|t| t.1.abs() > 0.0);
        let sign = match row.sense {
            Sense::AtLeast => ComparisonOp::Ge,
            Sense::AtMost => ComparisonOp::Le,
            Sense::Equal => ComparisonOp::Eq,
        };
        asked.add_constraint(terms.collect::<Vec<_>>(), sign, row.right);
    }
    let mut options = SolveOptions::default();
    options.time_limit = Some(TIME_MAX);
    options.tolerances.feasibility = FEASIBILITY;
    options.presolve = presolve;
    let outcome = match asked.solve_with(options) {
        Ok(outcome) => outcome,
        Err(Error::Infeasible) => return Ok(Found::Impossible),
        Err(Error::Unbounded) => return Ok(Found::Unbounded),
        Err(other) => return Err(Unreliable(other.to_string())),
    };
    let Some(solution) = outcome.solution() else {
        return Err(Unreliable("it took too long".to_owned()));
    };
    let mut x = vec![0.0; costs.len()];
    for (j, variable) in &columns {
        if let Some(slot) = x.get_mut(*j) {
            *slot = solution.var_value(*variable);
        }
    }
    check(&x, bounds, rows)?;
    let tidy = |(x, (low, high)): (f64, &(f64, f64))| x.max(*low).min(*high);
    Ok(Found::Best(x.into_iter().zip(bounds).map(tidy).collect()))
}

/// The library checks its own answers; this holds it to that.
fn check(x: &[f64], bounds: &[(f64, f64)], rows: &[Row]) -> Result<(), Unreliable> {
    let inside = x.iter().zip(bounds).all(|(x, (low, high))| {
        x.is_finite() && *x >= low - 1e3 * FEASIBILITY && *x <= high + 1e3 * FEASIBILITY
    });
    let met = rows.iter().all(|row| {
        let over = row.left(x) - row.right;
        // Sums of large parts can not be held closer than their round-off.
        let parts: f64 = row.factors.iter().zip(x).map(|(a, x)| (a * x).abs()).sum();
        let within = 1e2 * FEASIBILITY * parts.max(row.right.abs()).max(1.0);
        match row.sense {
            Sense::AtLeast => over >= -within,
            Sense::AtMost => over <= within,
            Sense::Equal => over.abs() <= within,
        }
    });
    if inside && met { Ok(()) } else { Err(Unreliable("an answer misses its rows".to_owned())) }
}

/// A size to divide by.
fn nonzero(size: f64) -> f64 {
    if size > 0.0 { size } else { 1.0 }
}

/// Whether a row holds with equality at a point of about unit size.
#[must_use]
pub fn is_binding(row: &Row, x: &[f64]) -> bool {
    let parts: f64 = row.factors.iter().zip(x).map(|(a, x)| (a * x).abs()).sum();
    // A row without factors that is just met binds too: a column that is held may still need it.
    (row.left(x) - row.right).abs() <= ON * nonzero(row.size()).max(parts)
}

/// Whether a column is in use at a point of about unit size.
#[must_use]
pub fn is_used(x: f64) -> bool {
    x > ON
}

/// The smallest value of `direction · y` over the best multipliers `y` of a problem at its best
/// corner `x`, with one column left out of the question where `without` names it.
///
/// A multiplier is what the cost grows by when the right side of its row grows by 1: not negative
/// for `AtLeast`, not positive for `AtMost`.
///
/// # Errors
/// When the multipliers do not stand the check of strong duality.
pub fn least(
    problem: &Linear,
    x: &[f64],
    without: Option<usize>,
    direction: &[f64],
) -> Result<Least, Unreliable> {
    let binding: Vec<usize> =
        problem.rows.iter().enumerate().filter(|(_, r)| is_binding(r, x)).map(|(i, _)| i).collect();
    // Each row is scaled to factors of about 1, and its multiplier with it.
    let size = |i: &usize| problem.rows.get(*i).map_or(1.0, |r| nonzero(r.size()));
    let sizes: Vec<f64> = binding.iter().map(size).collect();
    let of = |i: usize, j: usize| {
        problem.rows.get(i).and_then(|r| r.factors.get(j)).copied().unwrap_or(0.0)
    };
    let costs: Vec<f64> = binding
        .iter()
        .zip(&sizes)
        .map(|(i, size)| direction.get(*i).copied().unwrap_or(0.0) / size)
        .collect();
    let bounds: Vec<(f64, f64)> = binding
        .iter()
        .map(|i| match problem.rows.get(*i).map(|r| r.sense) {
            Some(Sense::AtLeast) => (0.0, 1.0),
            Some(Sense::AtMost) => (-1.0, 0.0),
            _ => (-1.0, 1.0),
        })
        .collect();
    // Multipliers are counted in what is spent, so that tolerances mean a share of it.
    let spent = cost(&problem.costs, x);
    let largest = problem.costs.iter().fold(0.0, |m: f64, c| m.max(c.abs()));
    let money = nonzero(if spent > 0.0 { spent } else { largest });
    let mut rows = Vec::new();
    for (j, cost) in problem.costs.iter().enumerate().filter(|(j, _)| Some(*j) != without) {
        let used = x.get(j).is_some_and(|x| is_used(*x));
        rows.push(Row {
            factors: binding.iter().zip(&sizes).map(|(i, size)| of(*i, j) / size).collect(),
            sense: if used { Sense::Equal } else { Sense::AtMost },
            right: *cost / money,
        });
    }
    let right = |i: &usize| problem.rows.get(*i).map_or(0.0, |r| r.right);
    let mut failed = Unreliable("there are no multipliers".to_owned());
    for huge in HUGE {
        let within: Vec<(f64, f64)> = bounds.iter().map(|(l, h)| (l * huge, h * huge)).collect();
        let y = match solve(&costs, &within, &rows) {
            Ok(Found::Best(y)) => y,
            Ok(_) => continue,
            Err(error) => {
                failed = error;
                continue;
            }
        };
        let terms = binding.iter().zip(&sizes).zip(&y).map(|((i, s), y)| right(i) / s * y);
        let terms: Vec<f64> = terms.collect();
        let (worth, parts): (f64, f64) = (terms.iter().sum(), terms.iter().map(|t| t.abs()).sum());
        let price = spent / money;
        if (worth - price).abs() > 1e-6 * price.abs().max(parts).max(1e-9) {
            failed = Unreliable("costs and multipliers do not agree".to_owned());
            continue;
        }
        let value = cost(&costs, &y);
        let is_open = value < -huge / 1e3;
        if is_open && huge < HUGE[1] {
            // Only large, perhaps; the wider room tells.
            failed = Unreliable("a multiplier without bound".to_owned());
            continue;
        }
        return Ok(if is_open { Least::Unbounded } else { Least::Value(value * money) });
    }
    Err(failed)
}
