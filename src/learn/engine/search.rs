//! The road to the minimum: Levenberg-Marquardt, variable projection, other starts, and the last digits.

use super::derivative::Derivative;
use super::{NO_NUMBER, Problem, Stop, linear};
use crate::learn::random::Random;
use argmin::core::{CostFunction, Executor, State};
use argmin::solver::neldermead::NelderMead;
use argmin_math::{ArgminAdd, ArgminMul, ArgminSub};
use levenberg_marquardt::{LeastSquaresProblem, LevenbergMarquardt, TerminationReason};
use nalgebra::{DMatrix, DVector, Dyn, storage::Owned};

/// A place in the free variables and how it was left.
pub(super) struct Minimum {
    pub(super) u: Vec<f64>,
    pub(super) rss: f64,
    pub(super) stop: Stop,
}

/// Two sums of squares closer than this share are the same minimum.
const SAME: f64 = 1e-6;
/// Sums below this share of that at the start are a perfect fit, and their last digits noise.
const EXACT: f64 = 1e-24;
/// A fit that leaves more than this share of the sum of squares at its start may be on a plain.
const PLAIN: f64 = 0.5;
/// Evaluations allowed to one Levenberg-Marquardt run, per parameter and one.
const PATIENCE: usize = 400;
/// Other starts tried when the first roads disagree.
const OTHER_STARTS: usize = 24;

pub(super) fn minimum(problem: &Problem<'_, '_>, start: &[f64], search: bool) -> Minimum {
    if !search {
        return descend(problem, start, 100.0);
    }
    let plain = polished(problem, descend(problem, start, 100.0));
    let at_start = problem.sum_of_squares(start);
    let linear = linear_parameters(problem, start);
    let projected = Projected::new(problem, linear);
    let second = match &projected {
        Some(p) => p.from(start),
        None => polished(problem, descend(problem, start, 0.1)),
    };
    let agree =
        (plain.rss - second.rss).abs() <= SAME * plain.rss.min(second.rss) + EXACT * at_start;
    let settled = plain.stop.converged() && second.stop.converged();
    let mut best = better(plain, second);
    // A start far from a peak or a step sits on a plain: both roads end there, and hardly lower.
    let lowered = match &projected {
        Some(p) => best.rss <= PLAIN * problem.sum_of_squares(&p.complete(&p.others_of(start))),
        None => true,
    };
    if !(agree && settled && lowered && has_full_rank(problem, &best.u)) {
        best = widely(problem, projected.as_ref(), start, best);
    }
    match &projected {
        Some(p) => p.in_order_of(start, best),
        None => best,
    }
}

fn better(a: Minimum, b: Minimum) -> Minimum {
    let worth = |m: &Minimum| m.stop != Stop::NotANumber && m.rss.is_finite();
    match (worth(&a), worth(&b)) {
        (true, false) => a,
        (false, true) => b,
        // Of two roads to the same minimum the one that says it has arrived.
        _ if (a.rss - b.rss).abs() <= 1e-9 * a.rss && a.stop != b.stop => {
            if a.stop.converged() {
                a
            } else {
                b
            }
        }
        _ if b.rss < a.rss => b,
        _ => a,
    }
}

fn has_full_rank(problem: &Problem<'_, '_>, u: &[f64]) -> bool {
    problem
        .jacobian(u)
        .is_some_and(|j| linear::covariance(j).undetermined.iter().all(|lost| !lost))
}

/// A simplex from the start, then starts scattered about it and about the best so far.
fn widely(
    problem: &Problem<'_, '_>,
    projected: Option<&Projected<'_, '_, '_>>,
    start: &[f64],
    mut best: Minimum,
) -> Minimum {
    let run = |from: &[f64]| match projected {
        Some(p) => p.from(from),
        None => polished(problem, descend(problem, from, 100.0)),
    };
    let simplex = match projected {
        Some(p) => p.simplex(start),
        None => simplex(start, &|u| problem.sum_of_squares(u)),
    };
    best = better(best, run(&simplex));
    let mut random = Random::seeded(1);
    for k in 0..OTHER_STARTS {
        let from = scattered(start, &problem.scales, spread(k), &mut random);
        best = better(best, run(&from));
    }
    best
}

/// How far other start `k` lies off, as a deviation of the logarithm: near and far in turns.
fn spread(k: usize) -> f64 {
    0.25 * (1.0 + (k % 8) as f64 / 2.0)
}

/// A start that lies off the given one.
fn scattered(start: &[f64], scales: &[super::Scale], spread: f64, random: &mut Random) -> Vec<f64> {
    start
        .iter()
        .zip(scales)
        .map(|(&u, scale)| match scale {
            super::Scale::Relative(usual) if u == 0.0 => usual * spread * random.normal(),
            super::Scale::Relative(_) => u * (spread * random.normal()).exp(),
            super::Scale::Absolute => u + 0.5 * spread * random.normal(),
        })
        .collect()
}

/// Levenberg-Marquardt from a start; `bound` is the first step's length in that of the start.
fn descend(problem: &Problem<'_, '_>, start: &[f64], bound: f64) -> Minimum {
    let target = Target {
        residuals: &|u| problem.residuals(u),
        jacobian: &|u| problem.jacobian(u),
        at: DVector::from_row_slice(start),
    };
    run(target, bound, problem.fit.tolerance)
}

struct Target<'t> {
    residuals: &'t dyn Fn(&[f64]) -> DVector<f64>,
    jacobian: &'t dyn Fn(&[f64]) -> Option<DMatrix<f64>>,
    at: DVector<f64>,
}

impl LeastSquaresProblem<f64, Dyn, Dyn> for Target<'_> {
    type ResidualStorage = Owned<f64, Dyn>;
    type JacobianStorage = Owned<f64, Dyn, Dyn>;
    type ParameterStorage = Owned<f64, Dyn>;

    fn set_params(&mut self, u: &DVector<f64>) {
        self.at.copy_from(u);
    }

    fn params(&self) -> DVector<f64> {
        self.at.clone()
    }

    fn residuals(&self) -> Option<DVector<f64>> {
        Some((self.residuals)(self.at.as_slice()))
    }

    fn jacobian(&self) -> Option<DMatrix<f64>> {
        (self.jacobian)(self.at.as_slice())
    }
}

fn run(target: Target<'_>, bound: f64, tolerance: f64) -> Minimum {
    let start = target.at.clone();
    let first = (target.residuals)(start.as_slice());
    if first.iter().any(|r| r.abs() >= NO_NUMBER) {
        return Minimum {
            u: start.iter().copied().collect(),
            rss: f64::INFINITY,
            stop: Stop::NotANumber,
        };
    }
    let solver = LevenbergMarquardt::new()
        .with_stepbound(bound)
        .with_patience(PATIENCE);
    let solver = if tolerance > 0.0 {
        solver.with_tol(tolerance)
    } else {
        solver
    };
    let (end, report) = solver.minimize(target);
    let stop = match report.termination {
        TerminationReason::ResidualsZero
        | TerminationReason::Orthogonal
        | TerminationReason::Converged { .. }
        | TerminationReason::NoImprovementPossible(_) => Stop::Converged,
        _ => Stop::OutOfSteps,
    };
    // The solver leaves its last trial in the target where that trial was refused.
    let rss = (end.residuals)(end.at.as_slice()).norm_squared();
    let (u, rss) = if rss.is_finite() && rss <= first.norm_squared() {
        (end.at, rss)
    } else {
        (start, first.norm_squared())
    };
    Minimum {
        u: u.iter().copied().collect(),
        rss,
        stop,
    }
}

/// Gauss-Newton steps for the last digits, as long as each is shorter than the one before and the sum
/// does not grow.
fn polished(problem: &Problem<'_, '_>, from: Minimum) -> Minimum {
    let mut best = from;
    if best.stop == Stop::NotANumber {
        return best;
    }
    let mut last = f64::INFINITY;
    for _ in 0..60 {
        let Some(jacobian) = problem.jacobian(&best.u) else {
            break;
        };
        let residuals = problem.residuals(&best.u);
        let step = linear::solve(&jacobian, &-residuals);
        let length = step
            .iter()
            .zip(&best.u)
            .map(|(s, u)| (s / u.abs().max(1e-300)).abs())
            .fold(0.0, f64::max);
        if length.is_nan() || length >= last {
            break;
        }
        let next: Vec<f64> = best.u.iter().zip(&step).map(|(u, s)| u + s).collect();
        let rss = problem.sum_of_squares(&next);
        // Near the minimum the sum is flat to its last bits; a step down in length is what counts.
        let grew = rss.is_nan() || rss > best.rss * (1.0 + 1e-11);
        if grew && rss > 1e-300 {
            break;
        }
        last = length;
        best = Minimum {
            u: next,
            rss,
            stop: best.stop,
        };
        if length < 1e-7 {
            best.stop = Stop::Converged;
        }
        if length < 1e-14 {
            break;
        }
    }
    best
}

/// Parameters in which the residuals are jointly linear, found by trial: along every direction in
/// them the second difference vanishes, at two places. A bounded parameter does not count.
fn linear_parameters(problem: &Problem<'_, '_>, start: &[f64]) -> Vec<usize> {
    let mut found: Vec<usize> = Vec::new();
    for j in 0..start.len() {
        if !matches!(problem.maps[j], super::Map::Free) {
            continue;
        }
        let mut with = found.clone();
        with.push(j);
        if (0..3).all(|seed| is_linear(problem, start, &with, seed)) {
            found = with;
        }
    }
    found
}

fn is_linear(problem: &Problem<'_, '_>, start: &[f64], set: &[usize], seed: u64) -> bool {
    let mut random = Random::seeded(seed + 17);
    let size = |j: usize| match problem.scales[j] {
        super::Scale::Relative(usual) => usual,
        super::Scale::Absolute => 1.0,
    };
    let place: Vec<f64> = (0..start.len())
        .map(|j| {
            start[j]
                + if seed == 0 {
                    0.0
                } else {
                    0.02 * size(j) * random.normal()
                }
        })
        .collect();
    let mut step = vec![0.0; start.len()];
    for &j in set {
        step[j] = size(j) * (0.5 + random.uniform());
    }
    let at = |k: f64| {
        let u: Vec<f64> = place.iter().zip(&step).map(|(u, s)| u + k * s).collect();
        let mut out = vec![0.0; problem.rows()];
        problem.raw(&u, &mut out);
        out
    };
    let (low, middle, high) = (at(-1.0), at(0.0), at(1.0));
    let (mut bend, mut change) = (0.0_f64, 0.0_f64);
    for i in 0..middle.len() {
        bend += (low[i] - 2.0 * middle[i] + high[i]).powi(2);
        change += (high[i] - low[i]).powi(2) + 1e-20 * middle[i].powi(2);
    }
    bend.is_finite() && change > 0.0 && bend <= 1e-18 * change
}

/// The problem with its linear parameters solved out.
struct Projected<'p, 'f, 'a> {
    problem: &'p Problem<'f, 'a>,
    linear: Vec<usize>,
    others: Vec<usize>,
}

impl<'p, 'f, 'a> Projected<'p, 'f, 'a> {
    fn new(problem: &'p Problem<'f, 'a>, linear: Vec<usize>) -> Option<Self> {
        let others: Vec<usize> = (0..problem.maps.len())
            .filter(|j| !linear.contains(j))
            .collect();
        (!linear.is_empty() && !others.is_empty()).then_some(Self {
            problem,
            linear,
            others,
        })
    }

    /// All variables for values of the others, with the linear ones at their best.
    fn complete(&self, others: &[f64]) -> Vec<f64> {
        let n = self.problem.maps.len();
        let mut u = vec![0.0; n];
        for (&j, &value) in self.others.iter().zip(others) {
            u[j] = value;
        }
        let rows = self.problem.rows();
        let mut base = DVector::zeros(rows);
        self.problem.raw(&u, base.as_mut_slice());
        let mut design = DMatrix::zeros(rows, self.linear.len());
        for (k, &j) in self.linear.iter().enumerate() {
            let unit = match self.problem.scales[j] {
                super::Scale::Relative(usual) => usual,
                super::Scale::Absolute => 1.0,
            };
            u[j] = unit;
            let mut moved = DVector::zeros(rows);
            self.problem.raw(&u, moved.as_mut_slice());
            u[j] = 0.0;
            design.set_column(k, &((moved - &base) / unit));
        }
        let solved = linear::solve(&design, &-base);
        for (&j, &value) in self.linear.iter().zip(solved.iter()) {
            u[j] = value;
        }
        u
    }

    fn others_of(&self, u: &[f64]) -> Vec<f64> {
        self.others.iter().map(|&j| u[j]).collect()
    }

    /// The fit in the others alone, then in all.
    fn from(&self, u: &[f64]) -> Minimum {
        let problem = self.problem;
        let residuals = |v: &[f64]| problem.residuals(&self.complete(v));
        let jacobian = |v: &[f64]| {
            let rows = problem.rows();
            let mut derivative = Derivative::new(rows);
            let mut out = DMatrix::zeros(rows, v.len());
            for (k, &j) in self.others.iter().enumerate() {
                let f = |v: &[f64], out: &mut [f64]| problem.raw(&self.complete(v), out);
                let column = derivative.column(v, k, problem.scales[j], &f)?;
                out.column_mut(k).copy_from_slice(column);
            }
            out.iter().all(|d| d.is_finite()).then_some(out)
        };
        let target = Target {
            residuals: &residuals,
            jacobian: &jacobian,
            at: DVector::from_vec(self.others_of(u)),
        };
        let reached = run(target, 100.0, 0.0);
        if reached.stop == Stop::NotANumber {
            return Minimum {
                u: u.to_vec(),
                rss: f64::INFINITY,
                stop: Stop::NotANumber,
            };
        }
        let all = self.complete(&reached.u);
        polished(problem, descend(problem, &all, 100.0))
    }

    /// A model of like terms, such as a sum of exponentials, is the same with its terms exchanged. The
    /// answer is then told in the order of the start.
    fn in_order_of(&self, start: &[f64], best: Minimum) -> Minimum {
        let problem = self.problem;
        let mut best = best;
        for (a, &i) in self.others.iter().enumerate() {
            for &k in &self.others[a + 1..] {
                if (start[i] - start[k]) * (best.u[i] - best.u[k]) >= 0.0 {
                    continue;
                }
                let mut exchanged = best.u.clone();
                exchanged.swap(i, k);
                let exchanged = self.complete(&self.others_of(&exchanged));
                let rss = problem.sum_of_squares(&exchanged);
                if (rss - best.rss).abs() <= SAME * best.rss {
                    let stop = best.stop;
                    let from = Minimum {
                        u: exchanged,
                        rss,
                        stop,
                    };
                    best = polished(problem, from);
                }
            }
        }
        best
    }

    fn simplex(&self, start: &[f64]) -> Vec<f64> {
        let cost = |v: &[f64]| self.problem.sum_of_squares(&self.complete(v));
        self.complete(&simplex(&self.others_of(start), &cost))
    }
}

/// The sum of squares as the simplex method wants it.
struct Cost<'c> {
    cost: &'c dyn Fn(&[f64]) -> f64,
}

impl CostFunction for Cost<'_> {
    type Param = Corner;
    type Output = f64;

    fn cost(&self, u: &Corner) -> Result<f64, argmin::core::Error> {
        let cost = (self.cost)(&u.0);
        Ok(if cost.is_finite() { cost } else { f64::MAX })
    }
}

/// A corner of the simplex, with the arithmetic that the method asks for. (The ready-made one for
/// vectors would bring a random-number generator of the operating system with it.)
#[derive(Debug, Clone)]
struct Corner(Vec<f64>);

impl Corner {
    fn with(&self, other: &Self, f: impl Fn(f64, f64) -> f64) -> Self {
        Self(
            self.0
                .iter()
                .zip(&other.0)
                .map(|(a, b)| f(*a, *b))
                .collect(),
        )
    }
}

impl ArgminAdd<Corner, Corner> for Corner {
    fn add(&self, other: &Corner) -> Corner {
        self.with(other, |a, b| a + b)
    }
}

impl ArgminSub<Corner, Corner> for Corner {
    fn sub(&self, other: &Corner) -> Corner {
        self.with(other, |a, b| a - b)
    }
}

impl ArgminMul<f64, Corner> for Corner {
    fn mul(&self, factor: &f64) -> Corner {
        Corner(self.0.iter().map(|a| a * factor).collect())
    }
}

/// The best place of a Nelder-Mead simplex begun about the start.
fn simplex(start: &[f64], cost: &dyn Fn(&[f64]) -> f64) -> Vec<f64> {
    let mut corners = vec![Corner(start.to_vec())];
    for j in 0..start.len() {
        let mut corner = start.to_vec();
        corner[j] += if corner[j] == 0.0 {
            0.1
        } else {
            0.3 * corner[j]
        };
        corners.push(Corner(corner));
    }
    let steps = 200 * (start.len() as u64 + 1);
    let run = Executor::new(Cost { cost }, NelderMead::new(corners))
        .configure(|state| state.max_iters(steps))
        .run();
    match run {
        Ok(done) => done
            .state()
            .get_best_param()
            .map_or_else(|| start.to_vec(), |corner| corner.0.clone()),
        Err(_) => start.to_vec(),
    }
}

#[cfg(test)]
mod tests {
    use super::super::{Fit, Map, Parameter};
    use super::*;

    fn problem<'f, 'a>(fit: &'f Fit<'a>, parameters: &[Parameter]) -> Problem<'f, 'a> {
        Problem {
            fit,
            maps: parameters.iter().map(Map::of).collect(),
            scales: parameters.iter().map(Map::scale_of).collect(),
            evaluations: std::cell::Cell::new(0),
        }
    }

    fn free(starts: &[f64]) -> Vec<Parameter> {
        starts.iter().map(|&s| Parameter::free("x", s)).collect()
    }

    const ROWS: usize = 12;

    /// Residuals of `model(x, t)` at `t` = 0, 0.5, .. against the same at the truth, with an error that
    /// alternates.
    fn fit_of<'a>(
        model: impl Fn(&[f64], f64) -> f64 + Copy + 'a,
        truth: &'a [f64],
        error: f64,
    ) -> Fit<'a> {
        Fit::new(ROWS, move |x, out| {
            for (i, r) in out.iter_mut().enumerate() {
                let t = 0.5 * i as f64;
                let wrong = if i % 2 == 0 { error } else { -error };
                *r = model(x, t) - model(truth, t) - wrong;
            }
        })
    }

    fn decay(x: &[f64], t: f64) -> f64 {
        x[0] * (-x[1] * t).exp() + x[2]
    }

    fn left(u: &[f64], rss: f64, stop: Stop) -> Minimum {
        let u = u.to_vec();
        Minimum { u, rss, stop }
    }

    #[test]
    fn linear_parameters_are_found_by_trial() {
        let linear = |model: fn(&[f64], f64) -> f64, parameters: &[Parameter]| {
            let truth = [1.0, 0.3, 2.0];
            let fit = fit_of(model, &truth, 0.1);
            let starts: Vec<f64> = parameters.iter().map(|p| p.start).collect();
            linear_parameters(&problem(&fit, parameters), &starts)
        };
        let three = free(&[2.0, 0.7, 0.5]);
        assert_eq!(linear(decay, &three), [0, 2]);
        assert_eq!(linear(decay, &free(&[0.0, 0.7, 0.0])), [0, 2]);
        // A product is linear in either factor, but not in both together.
        assert_eq!(linear(|x, t| x[0] * x[1] * t + x[2], &three), [0, 2]);
        // A bend that is small is one.
        assert_eq!(
            linear(|x, t| x[0] * t + 1e-4 * x[1] * x[1] + x[2], &three),
            [0, 2]
        );
        // Straight at the start, and bent elsewhere.
        let kink = |x: &[f64], t: f64| x[0] + (x[1] - 0.7).powi(3) * t + x[2] * t;
        assert_eq!(linear(kink, &three), [0, 2]);
        // What has a bound does not count.
        let mut bounded = three.clone();
        bounded[2] = Parameter::within("x", 0.5, 0.0, f64::INFINITY);
        assert_eq!(linear(decay, &bounded), [0]);
    }

    #[test]
    fn linear_parameters_are_solved_out() {
        let truth = [3.0, 0.4, -1.0];
        let fit = fit_of(decay, &truth, 0.0);
        let problem = problem(&fit, &free(&[1.0, 1.0, 1.0]));
        let projected = Projected::new(&problem, vec![0, 2]).unwrap();
        assert_eq!(projected.others_of(&truth), [0.4]);
        for (found, true_value) in projected.complete(&[0.4]).iter().zip(truth) {
            assert!((found - true_value).abs() < 1e-12);
        }
        // At another rate the residuals stand at right angles to what is linear.
        let other = projected.complete(&[0.9]);
        assert_eq!(other[1], 0.9);
        let r = problem.residuals(&other);
        assert!(r.norm() > 0.1);
        assert!(r.sum().abs() < 1e-12);
        let along: f64 = (0..ROWS)
            .map(|i| r[i] * (-0.9 * 0.5 * i as f64).exp())
            .sum();
        assert!(along.abs() < 1e-12);
        // Nothing to solve out, or nothing else.
        assert!(Projected::new(&problem, vec![]).is_none());
        assert!(Projected::new(&problem, vec![0, 1, 2]).is_none());
    }

    #[test]
    fn the_better_of_two_roads() {
        use Stop::{Converged, NotANumber, OutOfSteps};
        let first = |a: (f64, Stop), b: (f64, Stop)| {
            better(left(&[1.0], a.0, a.1), left(&[2.0], b.0, b.1)).u == [1.0]
        };
        for (good, bad) in [
            ((2.0, Converged), (3.0, Converged)),
            ((2.0, OutOfSteps), (3.0, Converged)),
            // Not a number, whatever the sum says.
            ((2.0, OutOfSteps), (1.0, NotANumber)),
            ((2.0, OutOfSteps), (f64::INFINITY, Converged)),
            ((2.0, OutOfSteps), (f64::NAN, Converged)),
            // The same minimum to the last digits: the road that has arrived.
            ((2.0, Converged), (2.0 - 1e-10, OutOfSteps)),
            ((2.0, OutOfSteps), (2.0 + 1e-8, Converged)),
            // These are digits of the sum, whatever its size.
            ((2e9, Converged), (2e9 - 0.1, OutOfSteps)),
            ((2e-9, OutOfSteps), (3e-9, Converged)),
        ] {
            assert!(first(good, bad), "{good:?} {bad:?}");
            assert!(!first(bad, good), "{bad:?} {good:?}");
        }
        // Of two that are alike the one before.
        assert!(first((2.0, Converged), (2.0, Converged)));
    }

    #[test]
    fn the_last_digits_are_those_of_a_minimum() {
        let truth = [3.0, 0.4, -1.0];
        let fit = fit_of(decay, &truth, 0.05);
        let problem = problem(&fit, &free(&truth));
        let near = [3.03, 0.405, -1.01];
        let from = left(&near, problem.sum_of_squares(&near), Stop::OutOfSteps);
        let found = polished(&problem, from);
        assert_eq!(found.stop, Stop::Converged);
        assert_eq!(found.rss, problem.sum_of_squares(&found.u));
        // The slope of the sum of squares, by calculus.
        let r = problem.residuals(&found.u);
        let [a, b] = [found.u[0], found.u[1]];
        let mut slope = [0.0; 3];
        for i in 0..ROWS {
            let t = 0.5 * i as f64;
            let fade = (-b * t).exp();
            slope[0] += r[i] * fade;
            slope[1] -= r[i] * a * t * fade;
            slope[2] += r[i];
        }
        assert!(slope.iter().all(|s| s.abs() < 1e-11), "{slope:?}");
    }

    /// Newton's step on atan jumps farther and farther from 1.4 on: it must not be taken.
    #[test]
    fn a_step_that_leads_upwards_is_not_taken() {
        let fit = Fit::new(1, |x, out| out[0] = x[0].atan());
        let problem = problem(&fit, &free(&[3.0]));
        let rss = problem.sum_of_squares(&[3.0]);
        let kept = polished(&problem, left(&[3.0], rss, Stop::OutOfSteps));
        assert_eq!((kept.u, kept.stop), (vec![3.0], Stop::OutOfSteps));
        // From nearer it comes in, and what has no number stays as it is.
        let rss = problem.sum_of_squares(&[0.9]);
        let found = polished(&problem, left(&[0.9], rss, Stop::OutOfSteps));
        assert!(found.u[0].abs() < 1e-12);
        let lost = polished(&problem, left(&[0.9], rss, Stop::NotANumber));
        assert_eq!((lost.u, lost.stop), (vec![0.9], Stop::NotANumber));
    }

    #[test]
    fn a_simplex_finds_the_bottom_of_a_bowl() {
        // No number on one side of it, as where a dough is never ready.
        let cost = |x: &[f64]| {
            let bowl = (x[0] - 1.0).powi(2) + 10.0 * (x[1] + 2.0).powi(2) + x[2].powi(2);
            if x[0] > 5.0 { f64::NAN } else { bowl }
        };
        let found = simplex(&[4.0, 0.0, -1.0], &cost);
        assert_eq!(found.len(), 3);
        for (x, bottom) in found.iter().zip([1.0, -2.0, 0.0]) {
            assert!((x - bottom).abs() < 1e-5, "{found:?}");
        }
    }

    #[test]
    fn like_terms_are_told_in_the_order_of_the_start() {
        let two = |x: &[f64], t: f64| x[0] * (-x[1] * t).exp() + x[2] * (-x[3] * t).exp();
        let truth = [2.0, 0.3, 1.0, 2.5];
        let fit = fit_of(two, &truth, 1e-3);
        let values = |starts: &[f64]| fit.run(&free(starts)).unwrap().values();
        let slow_first = values(&[1.0, 0.2, 1.0, 2.0]);
        let fast_first = values(&[1.0, 2.0, 1.0, 0.2]);
        for (k, exchanged) in [2, 3, 0, 1].into_iter().enumerate() {
            // The error moves them by some hundredths.
            assert!((slow_first[k] - truth[k]).abs() < 0.2, "{slow_first:?}");
            assert!((slow_first[k] - fast_first[exchanged]).abs() < 1e-7);
        }
        // Terms that are not alike keep their places, whatever the start.
        let unlike = |x: &[f64], t: f64| x[0] * (-x[1] * t).exp() + x[2] * t * (-x[3] * t).exp();
        let fit = fit_of(unlike, &truth, 0.0);
        let found = fit.run(&free(&[1.0, 2.0, 1.0, 0.2])).unwrap();
        for (found, true_value) in found.values().iter().zip(truth) {
            assert!((found - true_value).abs() < 1e-6);
        }
    }

    /// Where two roads lead to the same place no other start is tried: 24 take some hundred evaluations each.
    #[test]
    fn the_search_is_wide_only_where_roads_disagree() {
        let truth = [3.0, 0.4, -1.0];
        let fit = fit_of(decay, &truth, 0.05);
        let easy = fit.run(&free(&[2.0, 0.7, 0.0])).unwrap();
        assert!(easy.stop.converged());
        assert!(easy.evaluations < 2000, "{}", easy.evaluations);
        // A peak far from the start: flat there, so that one road alone would stay.
        let peak = |x: &[f64], t: f64| x[0] * (-(t - x[1]).powi(2) / 0.1).exp();
        let truth = [2.0, 1.0];
        let fit = fit_of(peak, &truth, 0.0);
        let far = fit.run(&free(&[1.0, 3.5])).unwrap();
        assert!(far.evaluations > 2000, "{}", far.evaluations);
        assert!((far.values()[0] - 2.0).abs() < 1e-9, "{:?}", far.values());
        assert!((far.values()[1] - 1.0).abs() < 1e-9, "{:?}", far.values());
    }

    /// Other starts lie about the first one: by 0.25 to 1.125 in the logarithm, of a zero by that share of
    /// its usual size, of an angle by half of it.
    #[test]
    fn other_starts_are_scattered_near_and_far() {
        use super::super::Scale::{Absolute, Relative};
        let spreads: Vec<f64> = (0..10).map(spread).collect();
        let by_hand = [
            0.25, 0.375, 0.5, 0.625, 0.75, 0.875, 1.0, 1.125, 0.25, 0.375,
        ];
        assert_eq!(spreads, by_hand);
        let scales = [Relative(9.0), Relative(9.0), Absolute];
        let start = [-3.0, 0.0, 7.0];
        for spread in [0.25, 1.125] {
            let mut random = Random::seeded(4);
            let mut same = Random::seeded(4);
            for _ in 0..5 {
                let from = scattered(&start, &scales, spread, &mut random);
                let off = [
                    (from[0] / -3.0).ln() / spread,
                    from[1] / 9.0 / spread,
                    (from[2] - 7.0) / 0.5 / spread,
                ];
                for off in off {
                    assert!((off - same.normal()).abs() < 1e-12, "{from:?}");
                }
            }
        }
    }

    #[test]
    fn a_simplex_begins_with_its_corners() {
        let asked = std::cell::RefCell::new(Vec::new());
        let cost = |x: &[f64]| {
            asked.borrow_mut().push(x.to_vec());
            x.iter().map(|x| x * x).sum()
        };
        let found = simplex(&[2.0, 0.0, -5.0], &cost);
        assert!(found.iter().all(|x| x.abs() < 1e-5), "{found:?}");
        // The start; then each by three tenths of itself, and a zero by a tenth.
        let asked = asked.into_inner();
        for corner in [
            [2.0, 0.0, -5.0],
            [2.6, 0.0, -5.0],
            [2.0, 0.1, -5.0],
            [2.0, 0.0, -6.5],
        ] {
            let near = |x: &&Vec<f64>| x.iter().zip(corner).all(|(x, c)| (x - c).abs() < 1e-12);
            assert!(asked[..4].iter().any(|x| near(&x)), "{:?}", &asked[..4]);
        }
    }

    /// Where linearity is tried: at the start, then about 2 % of the usual size off it in every parameter;
    /// there one step of half to one and a half usual sizes to either side, in the parameters of the set alone.
    #[test]
    fn linearity_is_tried_by_whole_steps_near_the_start() {
        let asked = std::cell::RefCell::new(Vec::new());
        let fit = Fit::new(1, |x, out| {
            asked.borrow_mut().push([x[0], x[1], x[2]]);
            out[0] = x[0] + x[1] + x[2];
        });
        let start = [1000.0, 0.0, 1e-3];
        let sizes = [1000.0, 1.0, 1e-3];
        let problem = problem(&fit, &free(&start));
        let (mut off, mut steps) = ([0.0; 3], [0.0; 2]);
        let seeds = 400;
        for seed in 0..=seeds {
            asked.borrow_mut().clear();
            // The sum is straight, but for the last digits.
            is_linear(&problem, &start, &[0, 2], seed);
            let at = asked.borrow();
            let &[low, middle, high] = at.as_slice() else {
                unreachable!("three places are asked");
            };
            for j in 0..3 {
                let share = (middle[j] - start[j]) / sizes[j];
                assert!(if seed == 0 {
                    share == 0.0
                } else {
                    share != 0.0
                });
                off[j] += share * share / seeds as f64;
                let (up, down) = (
                    (high[j] - middle[j]) / sizes[j],
                    (middle[j] - low[j]) / sizes[j],
                );
                assert!((up - down).abs() < 1e-9);
                assert!(if j == 1 {
                    up == 0.0
                } else {
                    (0.5..1.5).contains(&up)
                });
                if j != 1 {
                    steps[j / 2] += up / (seeds + 1) as f64;
                }
            }
        }
        // The root of a mean square of 400 is known to 1/sqrt(800), the mean of steps to 0.29/20: four times.
        for off in off {
            assert!((off.sqrt() / 0.02 - 1.0).abs() < 0.15, "{off}");
        }
        for step in steps {
            assert!((step - 1.0).abs() < 0.06, "{step}");
        }
    }

    /// `x + c x²` bends by `2 c h²` over a change of `2 h`; a share of 1e-9 of the change is a bend. Steps of
    /// 0.5 to 1.5 from zero: c h is below 1e-9 for c = 6e-10, and above for c = 2.1e-9.
    #[test]
    fn how_small_a_bend_is_one() {
        let straight = |bend: f64, seed: u64| {
            let fit = Fit::new(3, move |x, out| out.fill(x[0] + bend * x[0] * x[0]));
            is_linear(&problem(&fit, &free(&[0.0])), &[0.0], &[0], seed)
        };
        for seed in 0..20 {
            assert!(straight(6e-10, seed) && straight(-6e-10, seed));
            assert!(!straight(2.1e-9, seed) && !straight(-2.1e-9, seed));
        }
        // What moves nothing, and is nothing, tells nothing; what has no number is not straight.
        let never = |value: f64| {
            let fit = Fit::new(3, move |_, out| out.fill(value));
            is_linear(&problem(&fit, &free(&[0.0])), &[0.0], &[0], 0)
        };
        assert!(!never(0.0) && !never(f64::NAN));
    }

    /// Steps are measured against the parameters: a small one is polished as well as a large one.
    #[test]
    fn the_last_digits_do_not_depend_on_the_unit() {
        for unit in [1e-12, 1.0, 1e12] {
            let fit = Fit::new(6, |x, out| {
                for (i, r) in out.iter_mut().enumerate() {
                    let t = i as f64;
                    *r = (-x[0] / unit * t).exp() - (-0.3 * t).exp();
                }
            });
            let problem = problem(&fit, &free(&[0.3 * unit]));
            let near = [0.31 * unit];
            let from = left(&near, problem.sum_of_squares(&near), Stop::OutOfSteps);
            let found = polished(&problem, from);
            assert_eq!(found.stop, Stop::Converged, "{unit}");
            let off = found.u[0] / (0.3 * unit) - 1.0;
            assert!(off.abs() < 1e-12, "{unit}: {off}");
        }
    }

    #[test]
    fn exchanged_terms_are_put_back() {
        let two = |x: &[f64], t: f64| x[0] * (-x[1] * t).exp() + x[2] * (-x[3] * t).exp();
        let truth = [2.0, 0.3, 1.0, 2.5];
        let fit = fit_of(two, &truth, 1e-3);
        let start = [1.0, 0.2, 1.0, 2.0];
        let problem = problem(&fit, &free(&start));
        let projected = Projected::new(&problem, vec![0, 2]).unwrap();
        let at = |u: &[f64]| {
            let from = left(u, problem.sum_of_squares(u), Stop::Converged);
            polished(&problem, from)
        };
        let [in_order, exchanged] = [at(&truth), at(&[1.0, 2.5, 2.0, 0.3])];
        assert!(in_order.u[1] < 1.0 && exchanged.u[1] > 1.0);
        for found in [in_order, exchanged] {
            let told = projected.in_order_of(&start, found);
            for (u, true_value) in told.u.iter().zip(truth) {
                assert!((u - true_value).abs() < 0.2, "{:?}", told.u);
            }
        }
    }

    /// A tolerance ends the road sooner.
    #[test]
    fn a_coarse_road_is_shorter() {
        let truth = [3.0, 0.4, -1.0];
        let fit = |tolerance: f64| {
            let start = free(&[1.0, 2.0, 0.0]);
            let fit = fit_of(decay, &truth, 0.05).from_start_only(tolerance);
            fit.run(&start).unwrap()
        };
        let (coarse, fine) = (fit(0.1), fit(0.0));
        assert!(coarse.evaluations < fine.evaluations);
        assert!(coarse.rss >= fine.rss);
        // The slope against the offset is the sum of the residuals: zero at the end of the fine road.
        let sum = |x: &[f64]| -> f64 {
            (0..ROWS)
                .map(|i| {
                    let t = 0.5 * i as f64;
                    let wrong = if i % 2 == 0 { 0.05 } else { -0.05 };
                    decay(x, t) - decay(&truth, t) - wrong
                })
                .sum()
        };
        assert!(sum(&fine.values()).abs() < 1e-6);
    }

    /// Where even the best leaves most of what there was, the roads may have ended on a plain: other starts
    /// are tried, although both roads agree.
    #[test]
    fn a_fit_that_explains_little_is_sought_widely() {
        let evaluations = |error: f64| {
            let truth = [3.0, 0.4, -1.0];
            let fit = fit_of(decay, &truth, error);
            let found = fit.run(&free(&[2.0, 0.55, 0.0])).unwrap();
            assert!(found.stop.converged());
            (found.evaluations, found.rss)
        };
        let (few, _) = evaluations(0.05);
        let (many, rss) = evaluations(0.5);
        assert!(few < 2000, "{few}");
        assert!(many > 2000, "{many}");
        // Of the errors alone, 12 squares of 0.5, the fit takes a part.
        assert!(rss < 3.0, "{rss}");
    }

    /// A perfect fit, an easy one and one that explains little: whether other starts are tried does not depend
    /// on the unit of the residuals.
    #[test]
    fn the_search_is_as_wide_in_any_unit() {
        let truth = [3.0, 0.4, -1.0];
        for unit in [1e-6, 1.0, 1e6] {
            for (error, wide) in [(0.0, false), (0.05, false), (0.5, true)] {
                let fit = Fit::new(ROWS, move |x, out| {
                    for (i, r) in out.iter_mut().enumerate() {
                        let t = 0.5 * i as f64;
                        let wrong = if i % 2 == 0 { error } else { -error };
                        *r = unit * (decay(x, t) - decay(&truth, t) - wrong);
                    }
                });
                let found = fit.run(&free(&[2.0, 0.55, 0.0])).unwrap();
                let case = format!("{unit} {error}: {}", found.evaluations);
                assert_eq!(found.evaluations > 2000, wide, "{case}");
            }
        }
    }

    /// A bump that lies beyond the data at the start changes nothing there, so that neither road moves it; all
    /// else fits well. Other starts bring it in.
    #[test]
    fn a_term_beyond_the_data_is_brought_in() {
        let bump = |x: &[f64], t: f64| {
            let off = 1.0 - (t - x[3]).powi(2);
            x[0] * (-x[1] * t).exp() + if off > 0.0 { x[2] * off * off } else { 0.0 }
        };
        let truth = [100.0, 0.4, 5.0, 3.2];
        let fit = fit_of(bump, &truth, 0.0);
        let found = fit.run(&free(&[50.0, 2.0, 1.0, 8.0])).unwrap();
        for (found, true_value) in found.values().iter().zip(truth) {
            assert!(
                (found / true_value - 1.0).abs() < 1e-6,
                "{found} {true_value}"
            );
        }
    }

    /// Unlike terms cannot be exchanged, in whichever unit their sum is small.
    #[test]
    fn unlike_terms_are_not_exchanged_in_a_small_unit() {
        let unlike =
            |x: &[f64], t: f64| 1e-5 * (x[0] * (-x[1] * t).exp() + x[2] * t * (-x[3] * t).exp());
        let truth = [2.0, 0.3, 1.0, 2.5];
        let fit = fit_of(unlike, &truth, 1e-8);
        let start = [1.0, 2.0, 1.0, 0.2];
        let problem = problem(&fit, &free(&start));
        let projected = Projected::new(&problem, vec![0, 2]).unwrap();
        let best = left(&truth, problem.sum_of_squares(&truth), Stop::Converged);
        assert_eq!(projected.in_order_of(&start, best).u, truth);
    }

    /// By hand: Newton's step on 1/(x - 1/2) is x - 1/2, from 1 to 1.5 by half of 1 and from there by two thirds
    /// of 1.5, which is farther; on x² + 1 from 0.9 it is -1.81/1.8, and farther from there too. A road that
    /// runs away is left where it was, and does not say that it has arrived.
    #[test]
    fn a_step_that_is_longer_than_the_last_is_not_taken() {
        type Curve = fn(f64) -> [f64; 2];
        let away: Curve = |x| [(x - 0.5).recip(), -(x - 0.5).powi(-2)];
        let over: Curve = |x| [x * x + 1.0, 2.0 * x];
        for (curve, start, end) in [(away, 1.0, 1.5), (over, 0.9, 0.9 - 1.81 / 1.8)] {
            let fit = Fit::new(1, move |x, out| out[0] = curve(x[0])[0])
                .with_jacobian(move |x, out| out[0] = curve(x[0])[1]);
            let problem = problem(&fit, &free(&[start]));
            let from = left(&[start], problem.sum_of_squares(&[start]), Stop::OutOfSteps);
            let found = polished(&problem, from);
            assert!((found.u[0] - end).abs() < 1e-12, "{:?}", found.u);
            assert_eq!(found.stop, Stop::OutOfSteps);
        }
    }

    #[test]
    fn what_moves_nothing_is_straight() {
        let fit = Fit::new(3, |_, out| out.fill(2.0));
        let problem = problem(&fit, &free(&[1.0]));
        for seed in 0..20 {
            assert!(is_linear(&problem, &[1.0], &[0], seed), "{seed}");
        }
    }

    /// Of two tolerances the coarser one ends sooner.
    #[test]
    fn a_tolerance_is_kept_to() {
        let evaluations = |tolerance: f64| {
            let fit = fit_of(decay, &[3.0, 0.4, -1.0], 0.05).from_start_only(tolerance);
            fit.run(&free(&[1.0, 2.0, 0.0])).unwrap().evaluations
        };
        assert!(evaluations(0.1) < evaluations(1e-9));
    }

    /// Slopes of the wrong sign: every step leads upwards and is refused. The answer is the start, and not the
    /// last step that was tried.
    #[test]
    fn a_refused_step_is_not_the_answer() {
        let target = Target {
            residuals: &|u| DVector::from_row_slice(u),
            jacobian: &|u| Some(-DMatrix::identity(u.len(), u.len())),
            at: DVector::from_row_slice(&[3.0, -2.0]),
        };
        let found = run(target, 100.0, 0.0);
        assert_eq!((found.u, found.rss), (vec![3.0, -2.0], 13.0));
    }
}
