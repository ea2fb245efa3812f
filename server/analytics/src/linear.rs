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
pub(crate) fn quadratic(m: &DMatrix<f64>, x: &[f64]) -> f64 {
    let mut total = 0.0;
    for (column, xj) in m.column_iter().zip(x) {
        let product: f64 = column.iter().zip(x).map(|(a, b)| a * b).sum();
        total += product * xj;
    }
    total
}
