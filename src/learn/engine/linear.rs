//! Linear least squares, and covariance from a Jacobian.

use crate::error::{Error, Result};
use nalgebra::{DMatrix, DVector};

/// A column whose part that is new beside the others is below this share of the longest counts as told
/// by them. Columns have unit length then, and
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
    let Some(parts) = Parts::of(scaled, None) else {
        return DVector::zeros(n);
    };
    if parts.rank == n {
        let solved = |y: &DVector<f64>| {
            let mut b = parts.solve(y);
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
    match Parts::of(a.clone(), Some(parts.rank)) {
        Some(parts) => parts.solve(y),
        None => DVector::zeros(n),
    }
}

/// A matrix as `Q R' V'`: `Q` and `V` with orthonormal columns, as many as the rank, `R` an upper triangle
/// (complete orthogonal decomposition, from a QR decomposition with pivoting and a second one of its
/// triangle). Unlike the library's singular values it is as good where columns move together.
struct Parts {
    q: DMatrix<f64>,
    r: DMatrix<f64>,
    v: DMatrix<f64>,
    rank: usize,
}

impl Parts {
    /// `None` for a matrix that is not finite. The rank is found when it is not given.
    fn of(a: DMatrix<f64>, rank: Option<usize>) -> Option<Self> {
        if !a.iter().all(|v| v.is_finite()) {
            return None;
        }
        let pivoted = a.col_piv_qr();
        let (q, triangle) = (pivoted.q(), pivoted.r());
        let most = triangle.nrows().min(triangle.ncols());
        let longest = triangle.get((0, 0)).map_or(0.0, |r| r.abs());
        let rank = rank.unwrap_or_else(|| {
            let new = |k: &usize| triangle[(*k, *k)].abs() > RANK * longest;
            (0..most).take_while(new).count()
        });
        let second = triangle.rows(0, rank).transpose().qr();
        let mut v = second.q();
        pivoted.p().inv_permute_rows(&mut v);
        Some(Self {
            q: q.columns(0, rank).into_owned(),
            r: second.r(),
            v,
            rank,
        })
    }

    /// Of the solutions of least squares that of least length.
    fn solve(&self, y: &DVector<f64>) -> DVector<f64> {
        let seen = self.q.tr_mul(y);
        match self.r.tr_solve_upper_triangular(&seen) {
            Some(w) => &self.v * w,
            None => DVector::zeros(self.v.nrows()),
        }
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
    let Some(parts) = Parts::of(jacobian, None) else {
        return out;
    };
    let Some(root) = parts.r.solve_upper_triangular(&parts.v.transpose()) else {
        return out;
    };
    out.rank = parts.rank;
    for j in 0..n {
        // What of the parameter lies in the directions that are lost.
        let lost = 1.0 - parts.v.row(j).norm_squared();
        out.undetermined[j] = lost > INVOLVED * INVOLVED;
    }
    let covariance = root.tr_mul(&root);
    for i in 0..n {
        for j in 0..n {
            if !out.undetermined[i] && !out.undetermined[j] {
                out.covariance[(i, j)] = covariance[(i, j)] / (norms[i] * norms[j]);
            }
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
        // Of ones and t alone: sum t = 10, sum t² = 30, so 30/(5·30 - 10²) = 0.6. The rest is not told.
        for (i, row) in fit.unscaled_covariance.iter().enumerate() {
            for (j, c) in row.iter().enumerate() {
                let expected = if (i, j) == (0, 0) { 0.6 } else { 0.0 };
                assert!((c - expected).abs() < 1e-12, "{i} {j}: {c}");
            }
        }
    }

    /// `a s` more than one column gives another one: `(s, 1, -1)` leads nowhere. The first coefficient is lost
    /// with the others from a share of 1e-4 of that direction on.
    #[test]
    fn a_small_share_in_what_is_lost_is_not_told() {
        for (share, lost) in [(1e-3, true), (2e-4, true), (5e-5, false), (0.0, false)] {
            let s = share * 2f64.sqrt();
            let x = vec![
                vec![1.0, 0.0, s],
                vec![0.0, 1.0, 1.0],
                vec![0.0, 0.0, 0.0],
                vec![0.0, 0.0, 0.0],
            ];
            let fit = linear(&x, &[1.0, 2.0, 0.5, 0.25]).unwrap();
            assert_eq!(fit.rank, 2);
            assert_eq!(fit.undetermined, [lost, true, true], "{share}");
            assert_eq!(fit.standard_errors[0].is_none(), lost, "{share}");
        }
    }

    #[test]
    fn columns_of_zeros_tell_nothing() {
        let fit = linear(&vec![vec![0.0, 0.0]; 3], &[1.0, 2.0, 3.0]).unwrap();
        assert_eq!((fit.rank, fit.values), (0, vec![0.0, 0.0]));
        assert_eq!(fit.undetermined, [true, true]);
        assert_eq!(fit.standard_errors, [None, None]);
        assert_eq!(fit.unscaled_covariance, vec![vec![0.0; 2]; 2]);
        // 1 + 4 + 9 over three rows.
        assert!((fit.residual_sd.unwrap() - (14.0 / 3.0_f64).sqrt()).abs() < 1e-15);
    }

    /// Least squares leave a residual that no column sees, whatever the columns have in common: identical
    /// rows, columns that are multiples of each other, sums of others, or more columns than rows.
    #[test]
    fn any_rank_is_solved() {
        let mut random = crate::learn::random::Random::seeded(11);
        for k in 0..200 {
            let (rows, columns) = (2 + k % 7, 2 + k % 3);
            let mut x: Vec<Vec<f64>> = (0..rows)
                .map(|_| (0..columns).map(|_| random.normal() + 3.0).collect())
                .collect();
            let first = x[0].clone();
            for row in &mut x {
                match k % 5 {
                    0 => row.clone_from(&first),
                    1 => (1..columns).for_each(|j| row[j] = (j + 1) as f64 * row[0]),
                    2 => row[columns - 1] = row[..columns - 1].iter().sum(),
                    3 => row[0] *= 1e-6,
                    _ => {}
                }
            }
            let y: Vec<f64> = (0..rows).map(|_| random.normal()).collect();
            let fit = linear(&x, &y).unwrap();
            let rest: Vec<f64> = x
                .iter()
                .zip(&y)
                .map(|(row, y)| y - row.iter().zip(&fit.values).map(|(x, b)| x * b).sum::<f64>())
                .collect();
            for j in 0..columns {
                let seen: f64 = x.iter().zip(&rest).map(|(row, r)| row[j] * r).sum();
                let size: f64 = x.iter().map(|row| row[j] * row[j]).sum::<f64>().sqrt();
                assert!(
                    seen.abs() < 1e-9 * size,
                    "case {k}: column {j} still sees {seen}"
                );
            }
            let rank = match k % 5 {
                0 | 1 => 1,
                2 => columns - 1,
                _ => columns,
            };
            assert_eq!(fit.rank, rank.min(rows), "case {k}");
        }
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

    /// Rows of which the last two weigh ten thousand or a million times the others, and a cubic through all of
    /// them: the columns alone leave 1e-9 to 1e-7 of the weights' rounding, which the refinement takes away.
    #[test]
    fn heavy_rows_do_not_drown_the_others() {
        let truth = DVector::from_row_slice(&[3.0, -2.0, 5.0, -1.0]);
        for weight in [1.0, 1e4, 1e6] {
            let a = DMatrix::from_fn(9, 4, |i, j| {
                let weight = if i >= 7 { weight } else { 1.0 };
                weight * [1, i + 1, (i + 1).pow(2), (i + 1).pow(3)][j] as f64
            });
            let off = (solve(&a, &(&a * &truth)) - &truth).amax();
            assert!(off < 1e-11, "{weight}: {off}");
        }
    }

    #[test]
    fn rows_that_do_not_fit_together_are_refused() {
        let row = |x: &[f64]| x.to_vec();
        for (x, y) in [
            (vec![], vec![]),
            (vec![row(&[]), row(&[])], vec![1.0, 2.0]),
            (vec![row(&[1.0]), row(&[2.0])], vec![1.0]),
            (vec![row(&[1.0]), row(&[2.0])], vec![1.0, 2.0, 3.0]),
            (vec![row(&[1.0, 2.0]), row(&[2.0])], vec![1.0, 2.0]),
            (vec![row(&[1.0]), row(&[f64::NAN])], vec![1.0, 2.0]),
            (vec![row(&[1.0]), row(&[2.0])], vec![1.0, f64::INFINITY]),
        ] {
            assert!(linear(&x, &y).is_err(), "{x:?} {y:?}");
        }
    }

    /// A column of zeros is not told, and takes nothing from its neighbour: the mean of 1, 2 and 6.
    #[test]
    fn a_column_of_zeros_leaves_the_others() {
        let fit = linear(&vec![vec![1.0, 0.0]; 3], &[1.0, 2.0, 6.0]).unwrap();
        assert_eq!(fit.undetermined, [false, true]);
        assert!((fit.values[0] - 3.0).abs() < 1e-12 && fit.values[1] == 0.0);
        // Squares 4 + 1 + 9 over two degrees of freedom, and three rows: 7/3.
        let error = fit.standard_errors[0].unwrap();
        assert!((error - (7.0 / 3.0_f64).sqrt()).abs() < 1e-12);
    }
}
