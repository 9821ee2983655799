//! Linear least squares, and covariance from a Jacobian.

use crate::error::{Error, Result};
use nalgebra::{DMatrix, DVector};

/// A column whose part that is new beside the others is below this share of the longest counts as explained
/// by them. Columns have unit length then, and differenced derivatives carry ten digits.
const RANK: f64 = 1e-9;
/// Share of a lost direction from which a parameter counts as lost with it.
const INVOLVED: f64 = 1e-4;

/// The outcome of a linear fit.
#[derive(Debug)]
pub(crate) struct LinearReport {
    /// The coefficients; of all that fit equally well, those of the least length.
    pub(crate) values: DVector<f64>,
    /// `sqrt(diag((XᵀX)⁻¹) RSS/(n - k))`; `None` where the rows do not tell the coefficient apart, or leave no
    /// degree of freedom.
    pub(crate) standard_errors: Vec<Option<f64>>,
    /// `sqrt(RSS/(n - rank))`; `None` without a degree of freedom.
    pub(crate) residual_sd: Option<f64>,
    pub(crate) covariance: Covariance,
}

/// Least squares of `y = X b`.
///
/// # Errors
/// A number that is not finite.
pub(crate) fn linear(x: &DMatrix<f64>, y: &DVector<f64>) -> Result<LinearReport> {
    let finite = Some(x.clone()).filter(|_| y.iter().all(|v| v.is_finite()));
    let what = "a number of a linear fit".into();
    let covariance = finite
        .and_then(covariance)
        .ok_or(Error::NotFinite { what })?;
    let values = solve(x, y);
    let freedom = x.nrows().saturating_sub(covariance.rank);
    let rss = (x * &values - y).norm_squared();
    let residual_sd = (freedom > 0).then(|| (rss / freedom as f64).sqrt());
    let mut standard_errors = Vec::new();
    for (j, lost) in covariance.undetermined.iter().enumerate() {
        let sd = residual_sd.filter(|_| !lost);
        standard_errors.push(sd.map(|sd| sd * covariance.matrix[(j, j)].sqrt()));
    }
    Ok(LinearReport {
        standard_errors,
        values,
        residual_sd,
        covariance,
    })
}

/// A solution of least squares; where there are several, the one of least length; zero where there is none.
pub(super) fn solve(a: &DMatrix<f64>, y: &DVector<f64>) -> DVector<f64> {
    let (scaled, lengths) = with_unit_columns(a.clone());
    let solution = Orthogonal::of(scaled, None).and_then(|parts| {
        if parts.rank < a.ncols() {
            // The least length is meant in the unscaled coefficients.
            return Orthogonal::of(a.clone(), Some(parts.rank))?.solve(y);
        }
        let solved = |y: &DVector<f64>| Some(parts.solve(y)?.component_div(&lengths));
        // One step of refinement: the residual of the solution, solved again.
        let b = solved(y)?;
        let rest = y - a * &b;
        Some(b + solved(&rest)?)
    });
    solution.unwrap_or_else(|| DVector::zeros(a.ncols()))
}

/// A matrix as `Q Rᵀ Vᵀ`: `Q` and `V` with orthonormal columns, as many as the rank, `R` an upper triangle
/// (complete orthogonal decomposition, from a QR decomposition with pivoting and a second one of its
/// triangle). Unlike nalgebra's singular values it is as good where columns move together.
struct Orthogonal {
    q: DMatrix<f64>,
    r: DMatrix<f64>,
    v: DMatrix<f64>,
    rank: usize,
}

impl Orthogonal {
    /// `None` for a matrix that is not finite. The rank is found when it is not given.
    fn of(a: DMatrix<f64>, rank: Option<usize>) -> Option<Self> {
        if !a.iter().all(|v| v.is_finite()) {
            return None;
        }
        let pivoted = a.col_piv_qr();
        let (q, triangle) = (pivoted.q(), pivoted.r());
        let rank = rank.unwrap_or_else(|| {
            let most = triangle.nrows().min(triangle.ncols());
            let new = |&k: &usize| triangle[(k, k)].abs() > RANK * triangle[(0, 0)].abs();
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
    fn solve(&self, y: &DVector<f64>) -> Option<DVector<f64>> {
        let seen = self.q.tr_mul(y);
        Some(&self.v * self.r.tr_solve_upper_triangular(&seen)?)
    }
}

/// What a Jacobian says about its parameters.
#[derive(Debug)]
pub(crate) struct Covariance {
    /// `(JᵀJ)⁻¹`, zero in rows and columns of undetermined parameters.
    pub(crate) matrix: DMatrix<f64>,
    pub(crate) undetermined: Vec<bool>,
    rank: usize,
}

/// `None` for a Jacobian that is not finite.
pub(super) fn covariance(jacobian: DMatrix<f64>) -> Option<Covariance> {
    let n = jacobian.ncols();
    let (scaled, lengths) = with_unit_columns(jacobian);
    let parts = Orthogonal::of(scaled, None)?;
    let root = parts.r.solve_upper_triangular(&parts.v.transpose())?;
    // What of each parameter lies in the directions that are lost.
    let lost = |v: nalgebra::RowDVector<f64>| 1.0 - v.norm_squared() > INVOLVED * INVOLVED;
    let undetermined: Vec<bool> = parts.v.row_iter().map(|v| lost(v.into_owned())).collect();
    let scaled = root.tr_mul(&root);
    Some(Covariance {
        matrix: DMatrix::from_fn(n, n, |i, j| {
            if undetermined[i] || undetermined[j] {
                0.0
            } else {
                scaled[(i, j)] / (lengths[i] * lengths[j])
            }
        }),
        undetermined,
        rank: parts.rank,
    })
}

/// The columns at unit length, those of nothing as they are, and how long they were.
fn with_unit_columns(mut a: DMatrix<f64>) -> (DMatrix<f64>, DVector<f64>) {
    let length = |norm: f64| if norm > 0.0 { norm } else { 1.0 };
    let lengths = DVector::from_iterator(a.ncols(), a.column_iter().map(|c| length(c.norm())));
    for (mut column, length) in a.column_iter_mut().zip(&lengths) {
        column.unscale_mut(*length);
    }
    (a, lengths)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn fit(x: &[Vec<f64>], y: &[f64]) -> LinearReport {
        let design = DMatrix::from_fn(x.len(), x[0].len(), |i, j| x[i][j]);
        linear(&design, &DVector::from_row_slice(y)).unwrap()
    }

    #[test]
    fn columns_that_move_together_are_named() {
        // The third column is twice the second.
        let x: Vec<Vec<f64>> = (0..5)
            .map(|t| vec![1.0, f64::from(t), 2.0 * f64::from(t)])
            .collect();
        let y: Vec<f64> = (0..5).map(|t| 1.0 + 5.0 * f64::from(t)).collect();
        let fit = fit(&x, &y);
        assert_eq!(fit.covariance.undetermined, [false, true, true]);
        assert!(fit.standard_errors[0].is_some() && fit.standard_errors[1].is_none());
        // Of all b + 2 c = 5 the shortest is (1, 2).
        for (got, expected) in fit.values.iter().zip([1.0, 1.0, 2.0]) {
            assert!((got - expected).abs() < 1e-12, "{got}");
        }
        assert_eq!(fit.covariance.rank, 2);
        // Of ones and t alone: sum t = 10, sum t² = 30, so 30/(5·30 - 10²) = 0.6. The rest is not told.
        let mut expected = DMatrix::zeros(3, 3);
        expected[(0, 0)] = 0.6;
        assert!((fit.covariance.matrix - expected).amax() < 1e-12);
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
            let fit = fit(&x, &[1.0, 2.0, 0.5, 0.25]);
            assert_eq!(fit.covariance.rank, 2);
            assert_eq!(fit.covariance.undetermined, [lost, true, true], "{share}");
            assert_eq!(fit.standard_errors[0].is_none(), lost, "{share}");
        }
    }

    #[test]
    fn columns_of_zeros_tell_nothing() {
        let fit = fit(&vec![vec![0.0, 0.0]; 3], &[1.0, 2.0, 3.0]);
        assert_eq!((fit.covariance.rank, fit.values.amax()), (0, 0.0));
        assert_eq!(fit.covariance.undetermined, [true, true]);
        assert_eq!(fit.standard_errors, [None, None]);
        assert_eq!(fit.covariance.matrix.amax(), 0.0);
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
            let fit = fit(&x, &y);
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
            assert_eq!(fit.covariance.rank, rank.min(rows), "case {k}");
        }
    }

    #[test]
    fn the_error_of_a_mean_is_the_textbook_one() {
        let y = [1.0, 2.0, 4.0, 5.0];
        let fit = fit(&vec![vec![1.0]; 4], &y);
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
    fn what_is_no_number_is_refused() {
        for (x, y) in [
            ([1.0, f64::NAN], [1.0, 2.0]),
            ([1.0, 2.0], [1.0, f64::INFINITY]),
        ] {
            let (x, y) = (
                DMatrix::from_row_slice(2, 1, &x),
                DVector::from_row_slice(&y),
            );
            assert!(linear(&x, &y).is_err(), "{x} {y}");
        }
    }

    /// A column of zeros is not told, and takes nothing from its neighbour: the mean of 1, 2 and 6.
    #[test]
    fn a_column_of_zeros_leaves_the_others() {
        let fit = fit(&vec![vec![1.0, 0.0]; 3], &[1.0, 2.0, 6.0]);
        assert_eq!(fit.covariance.undetermined, [false, true]);
        assert!((fit.values[0] - 3.0).abs() < 1e-12 && fit.values[1] == 0.0);
        // Squares 4 + 1 + 9 over two degrees of freedom, and three rows: 7/3.
        let error = fit.standard_errors[0].unwrap();
        assert!((error - (7.0 / 3.0_f64).sqrt()).abs() < 1e-12);
    }
}
