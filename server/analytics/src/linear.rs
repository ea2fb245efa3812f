//! Dense symmetric systems of the panel: inverse of the part that can be estimated.

use nalgebra::{Cholesky, DMatrix};

/// A covariate is dropped when, after the months and earlier covariates are taken out, less
/// than this share of its sum of squares is left: it then says nothing the months do not say.
const COLLINEAR_SHARE: f64 = 1e-10;

/// Inverse of `system` over `fixed` rows and as many of `optional` as are not collinear.
///
/// # Shape
/// Same size as `system`; rows and columns not used are 0. Also the optional rows that stay.
/// None when the fixed part is not positive definite.
pub(crate) fn inverse_of_part(
    system: &DMatrix<f64>,
    fixed: &[usize],
    optional: &[usize],
) -> Option<(DMatrix<f64>, Vec<usize>)> {
    let mut used = fixed.to_vec();
    let mut factor = factorize(system, &used)?;
    let mut kept = Vec::new();
    for &row in optional {
        used.push(row);
        match factorize(system, &used).filter(|f| is_independent(f, system[(row, row)])) {
            Some(wider) => {
                factor = wider;
                kept.push(row);
            }
            None => {
                used.pop();
            }
        }
    }
    let part = factor.inverse();
    let mut whole = DMatrix::zeros(system.nrows(), system.ncols());
    for (a, &row) in used.iter().enumerate() {
        for (b, &column) in used.iter().enumerate() {
            whole[(row, column)] = part[(a, b)];
        }
    }
    Some((whole, kept))
}

fn factorize(system: &DMatrix<f64>, used: &[usize]) -> Option<Cholesky<f64, nalgebra::Dyn>> {
    let size = used.len();
    let part = DMatrix::from_fn(size, size, |a, b| system[(used[a], used[b])]);
    Cholesky::new(part)
}

fn is_independent(factor: &Cholesky<f64, nalgebra::Dyn>, own_square: f64) -> bool {
    let last = factor.l_dirty().nrows().saturating_sub(1);
    let pivot = factor.l_dirty()[(last, last)];
    pivot * pivot > COLLINEAR_SHARE * own_square
}

/// Quadratic form `x' m x`.
///
/// # Shape
/// `m` is square, `x` as long as its side.
pub(crate) fn quadratic(m: &DMatrix<f64>, x: &[f64]) -> f64 {
    // Columns are contiguous. A member has few months in its contrast: the others weigh nothing.
    let columns = m.as_slice().chunks_exact(m.nrows().max(1));
    let used = columns.zip(x).filter(|(_, xj)| **xj != 0.0);
    used.map(|(column, xj)| xj * dot(column, x)).sum()
}

/// Sum of products, in four lanes that a processor adds at once.
fn dot(a: &[f64], b: &[f64]) -> f64 {
    let (a_fours, a_rest) = a.as_chunks::<4>();
    let (b_fours, b_rest) = b.as_chunks::<4>();
    let mut lanes = [0.0; 4];
    for (a, b) in a_fours.iter().zip(b_fours) {
        for lane in 0..4 {
            lanes[lane] += a[lane] * b[lane];
        }
    }
    let rest: f64 = a_rest.iter().zip(b_rest).map(|(a, b)| a * b).sum();
    (lanes[0] + lanes[1]) + (lanes[2] + lanes[3]) + rest
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: entry by entry, at sizes on both sides of the four lanes.
    #[test]
    fn quadratic_meets_the_sum_entry_by_entry() {
        for size in 0..=9 {
            let m = DMatrix::from_fn(size, size, |a, b| (a * 7 + b * 3) as f64 - 11.5);
            let x: Vec<f64> =
                (0..size).map(|i| if i == 2 { 0.0 } else { i as f64 - 3.25 }).collect();
            let mut sum = 0.0;
            for a in 0..size {
                for b in 0..size {
                    sum += x[a] * m[(a, b)] * x[b];
                }
            }
            assert!((quadratic(&m, &x) - sum).abs() <= 1e-9 * sum.abs(), "{size}");
        }
    }
}
