//! Linear least squares, and covariance from a Jacobian.

use crate::error::{Error, Result};
use nalgebra::{DMatrix, DVector, SVD};

/// Singular values below this share of the largest count as zero. Columns have unit length then, and
/// differenced derivatives carry ten digits.
const RANK: f64 = 1e-9;
/// Share of a lost direction from which a parameter counts as lost with it.
const INVOLVED: f64 = 1e-4;

/// The outcome of a linear fit.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct LinearReport {
    /// The coefficients; of all that fit equally well, those of the least length.
    pub values: Vec<f64>,
    /// Their standard errors, `sqrt(diag((XᵀX)⁻¹) RSS/(n - k))`; `None` where the rows do not tell the
    /// coefficient apart, or leave no degree of freedom.
    pub standard_errors: Vec<Option<f64>>,
    /// `(XᵀX)⁻¹`, zero in rows and columns of coefficients that are not told apart.
    pub unscaled_covariance: Vec<Vec<f64>>,
    /// True for coefficients that the rows do not tell apart.
    pub undetermined: Vec<bool>,
    /// Sum of squares.
    pub rss: f64,
    /// `sqrt(RSS/(n - rank))`; `None` without a degree of freedom.
    pub residual_sd: Option<f64>,
    /// Independent columns.
    pub rank: usize,
}

/// Least squares of `y = X b`; `x` row by row.
///
/// # Errors
/// No row, no column, or rows of unequal length; a number that is not finite.
///
/// ```
/// use pointage::learn::engine::linear;
/// // y = 1 + 2 t
/// let fit = linear(&[vec![1.0, 0.0], vec![1.0, 1.0], vec![1.0, 2.0]], &[1.0, 3.0, 5.0])?;
/// assert!((fit.values[1] - 2.0).abs() < 1e-12);
/// # Ok::<(), pointage::Error>(())
/// ```
pub fn linear(x: &[Vec<f64>], y: &[f64]) -> Result<LinearReport> {
    let n = x.first().map_or(0, Vec::len);
    if n == 0 || x.len() != y.len() || x.iter().any(|row| row.len() != n) {
        return Err(Error::contradiction(
            "a linear fit needs one row of equal length for each observation",
        ));
    }
    if !x.iter().flatten().chain(y).all(|v| v.is_finite()) {
        return Err(Error::NotFinite {
            what: "a number of a linear fit".into(),
        });
    }
    let design = DMatrix::from_fn(x.len(), n, |i, j| x[i][j]);
    let observed = DVector::from_row_slice(y);
    let values = solve(&design, &observed);
    let rss = (&design * &values - &observed).norm_squared();
    let found = covariance(design);
    let residual_sd = (x.len() > found.rank).then(|| (rss / (x.len() - found.rank) as f64).sqrt());
    Ok(LinearReport {
        standard_errors: (0..n)
            .map(|j| match residual_sd {
                Some(sd) if !found.undetermined[j] => Some(sd * found.covariance[(j, j)].sqrt()),
                _ => None,
            })
            .collect(),
        unscaled_covariance: (0..n)
            .map(|i| (0..n).map(|j| found.covariance[(i, j)]).collect())
            .collect(),
        values: values.iter().copied().collect(),
        undetermined: found.undetermined,
        rss,
        residual_sd,
        rank: found.rank,
    })
}

/// A solution of least squares; where there are several, the one of least length.
pub(super) fn solve(a: &DMatrix<f64>, y: &DVector<f64>) -> DVector<f64> {
    let n = a.ncols();
    let norms = lengths(a);
    let mut scaled = a.clone();
    for (j, mut column) in scaled.column_iter_mut().enumerate() {
        column.unscale_mut(norms[j]);
    }
    let Some(svd) = decompose(scaled.clone()) else {
        return DVector::zeros(n);
    };
    let largest = svd.singular_values.max();
    if svd.singular_values.iter().all(|&s| s > RANK * largest) && largest > 0.0 {
        let solved = |y: &DVector<f64>| {
            let mut b = svd.solve(y, 0.0).unwrap_or_else(|_| DVector::zeros(n));
            for j in 0..n {
                b[j] /= norms[j];
            }
            b
        };
        // One step of refinement: the residual of the solution, solved again.
        let b = solved(y);
        let rest = y - a * &b;
        return &b + solved(&rest);
    }
    // The least length is meant in the unscaled coefficients.
    match decompose(a.clone()) {
        Some(svd) => {
            let cut = RANK * svd.singular_values.max();
            svd.solve(y, cut).unwrap_or_else(|_| DVector::zeros(n))
        }
        None => DVector::zeros(n),
    }
}

/// What a Jacobian says about its parameters.
pub(super) struct Covariance {
    /// `(JᵀJ)⁻¹`, zero in rows and columns of undetermined parameters.
    pub(super) covariance: DMatrix<f64>,
    pub(super) undetermined: Vec<bool>,
    pub(super) rank: usize,
}

pub(super) fn covariance(mut jacobian: DMatrix<f64>) -> Covariance {
    let n = jacobian.ncols();
    let norms = lengths(&jacobian);
    for (j, mut column) in jacobian.column_iter_mut().enumerate() {
        column.unscale_mut(norms[j]);
    }
    let mut out = Covariance {
        covariance: DMatrix::zeros(n, n),
        undetermined: vec![true; n],
        rank: 0,
    };
    let Some(svd) = decompose(jacobian) else {
        return out;
    };
    let Some(v_t) = svd.v_t else { return out };
    let largest = svd.singular_values.max();
    if largest == 0.0 {
        return out;
    }
    out.undetermined.fill(false);
    let known: Vec<bool> = (0..n)
        .map(|k| {
            svd.singular_values
                .get(k)
                .is_some_and(|&s| s > RANK * largest)
        })
        .collect();
    out.rank = known.iter().filter(|k| **k).count();
    for (k, known) in known.iter().enumerate() {
        for j in 0..n {
            let missing = k >= v_t.nrows() || (!known && v_t[(k, j)].abs() > INVOLVED);
            out.undetermined[j] |= missing;
        }
    }
    for i in 0..n {
        for j in 0..n {
            if out.undetermined[i] || out.undetermined[j] {
                continue;
            }
            let sum: f64 = (0..v_t.nrows())
                .filter(|&k| known[k])
                .map(|k| v_t[(k, i)] * v_t[(k, j)] / svd.singular_values[k].powi(2))
                .sum();
            out.covariance[(i, j)] = sum / (norms[i] * norms[j]);
        }
    }
    out
}

/// The inverse of a symmetric positive definite matrix; zero where it has none.
pub(crate) fn inverse(matrix: &[Vec<f64>]) -> Vec<Vec<f64>> {
    let n = matrix.len();
    let m = DMatrix::from_fn(n, n, |i, j| matrix[i][j]);
    let inverse = m.cholesky().map(|c| c.inverse());
    (0..n)
        .map(|i| {
            (0..n)
                .map(|j| inverse.as_ref().map_or(0.0, |m| m[(i, j)]))
                .collect()
        })
        .collect()
}

/// Lengths of the columns; one where a column is zero.
fn lengths(a: &DMatrix<f64>) -> Vec<f64> {
    a.column_iter()
        .map(|c| c.norm())
        .map(|l| if l > 0.0 { l } else { 1.0 })
        .collect()
}

fn decompose(a: DMatrix<f64>) -> Option<SVD<f64, nalgebra::Dyn, nalgebra::Dyn>> {
    if !a.iter().all(|v| v.is_finite()) {
        return None;
    }
    SVD::try_new(a, true, true, f64::EPSILON, 10_000)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_that_move_together_are_named() {
        // The third column is twice the second.
        let x: Vec<Vec<f64>> = (0..5)
            .map(|t| vec![1.0, f64::from(t), 2.0 * f64::from(t)])
            .collect();
        let y: Vec<f64> = (0..5).map(|t| 1.0 + 5.0 * f64::from(t)).collect();
        let fit = linear(&x, &y).unwrap();
        assert_eq!(fit.undetermined, [false, true, true]);
        assert!(fit.standard_errors[0].is_some() && fit.standard_errors[1].is_none());
        // Of all b + 2 c = 5 the shortest is (1, 2).
        for (got, expected) in fit.values.iter().zip([1.0, 1.0, 2.0]) {
            assert!((got - expected).abs() < 1e-12, "{got}");
        }
        assert_eq!(fit.rank, 2);
    }

    #[test]
    fn the_error_of_a_mean_is_the_textbook_one() {
        let y = [1.0, 2.0, 4.0, 5.0];
        let fit = linear(&vec![vec![1.0]; 4], &y).unwrap();
        // mean 3, squares 4 + 1 + 1 + 4 = 10, sd sqrt(10/3), error of the mean sd/2
        assert!((fit.values[0] - 3.0).abs() < 1e-14);
        let error = fit.standard_errors[0].unwrap();
        assert!((error - (10.0 / 3.0_f64).sqrt() / 2.0).abs() < 1e-14);
    }
}
