//! The way to the minimum: Levenberg-Marquardt, variable projection, other starts, and the last digits.

use super::{Fit, NO_NUMBER, Termination, linear};
use crate::learn::random::Random;
use levenberg_marquardt::{LeastSquaresProblem, LevenbergMarquardt, TerminationReason};
use nalgebra::{DMatrix, DVector, Dyn, storage::Owned};

/// Where a search ended.
#[derive(Debug)]
pub(crate) struct Minimum {
    pub(crate) x: DVector<f64>,
    pub(crate) rss: f64,
    pub(crate) stop: Termination,
}

/// Two sums of squares closer than this share are the same minimum.
const SAME: f64 = 1e-6;
/// Sums below this share of that at the start are a perfect fit, and their last digits noise.
const EXACT: f64 = 1e-24;
/// A fit that leaves more than this share of the sum of squares at its start may be on a plain.
const PLAIN: f64 = 0.5;
/// Evaluations allowed to one Levenberg-Marquardt run, per parameter and one.
const PATIENCE: usize = 400;
/// Length of the first step in that of the start: as far as the method itself would go, or cautiously.
pub(crate) const BOLD: f64 = 100.0;
const CAUTIOUS: f64 = 0.1;
/// Other starts tried when the first ways disagree.
const OTHER_STARTS: usize = 24;
/// Steps of the last digits.
const LAST_STEPS: usize = 60;

/// The fit in all parameters, and with the linear ones solved out; from other starts too where the two
/// disagree, hardly improve on the start, or leave a parameter without effect.
pub(super) fn multistart(fit: &Fit<'_>, start: &[f64]) -> Minimum {
    let projected = Projected::new(fit, linear_parameters(fit, start), start);
    let whole =
        |start: &[f64], step| gauss_newton_refine(fit, levenberg_marquardt(fit, start, step));
    let plain = whole(start, BOLD);
    let second = match &projected {
        Some(p) => p.minimum(start),
        None => whole(start, CAUTIOUS),
    };
    let at_start = fit.residuals(start).norm_squared();
    let agree =
        (plain.rss - second.rss).abs() <= SAME * plain.rss.min(second.rss) + EXACT * at_start;
    let settled = plain.stop.converged() && second.stop.converged();
    let mut best = better(plain, second);
    // A start far from a peak or a step sits on a plain: both ways end there, and hardly lower.
    let lowered = projected.as_ref().is_none_or(|p| {
        let solved = fit.residuals(&p.complete(&p.others_of(start)));
        best.rss <= PLAIN * solved.norm_squared()
    });
    if !(agree && settled && lowered && has_full_rank(fit, &best.x)) {
        let mut random = Random::seeded(1);
        for k in 0..OTHER_STARTS {
            // Near and far in turns.
            let spread = 0.25 * (1.0 + (k % 8) as f64 / 2.0);
            let moved = |&x: &f64| match spread * random.normal() {
                off if x == 0.0 => off,
                off => x * off.exp(),
            };
            let other: Vec<f64> = start.iter().map(moved).collect();
            let found = match &projected {
                Some(p) => p.minimum(&other),
                None => whole(&other, BOLD),
            };
            best = better(best, found);
        }
    }
    best
}

fn better(a: Minimum, b: Minimum) -> Minimum {
    let worth = |m: &Minimum| m.stop != Termination::NotANumber && m.rss.is_finite();
    // Of two ways to the same minimum the one that has arrived.
    let same = (a.rss - b.rss).abs() <= 1e-9 * a.rss && a.stop != b.stop;
    let second = match (worth(&a), worth(&b)) {
        (true, true) if same => b.stop.converged(),
        (true, true) => b.rss < a.rss,
        (_, worth) => worth,
    };
    if second { b } else { a }
}

fn has_full_rank(fit: &Fit<'_>, x: &DVector<f64>) -> bool {
    let found = fit.jacobian(x.as_slice()).and_then(linear::covariance);
    found.is_some_and(|f| f.undetermined.iter().all(|lost| !lost))
}

/// A problem as the solver wants it.
struct Target<'t, 'a> {
    fit: &'t Fit<'a>,
    at: DVector<f64>,
}

impl LeastSquaresProblem<f64, Dyn, Dyn> for Target<'_, '_> {
    type ResidualStorage = Owned<f64, Dyn>;
    type JacobianStorage = Owned<f64, Dyn, Dyn>;
    type ParameterStorage = Owned<f64, Dyn>;

    fn set_params(&mut self, x: &DVector<f64>) {
        self.at.copy_from(x);
    }

    fn params(&self) -> DVector<f64> {
        self.at.clone()
    }

    fn residuals(&self) -> Option<DVector<f64>> {
        Some(self.fit.residuals(self.at.as_slice()))
    }

    fn jacobian(&self) -> Option<DMatrix<f64>> {
        self.fit.jacobian(self.at.as_slice())
    }
}

/// Levenberg-Marquardt from a start.
pub(crate) fn levenberg_marquardt(fit: &Fit<'_>, start: &[f64], first_step: f64) -> Minimum {
    let at = DVector::from_row_slice(start);
    let first = fit.residuals(start);
    let at_start = |rss, stop| Minimum {
        x: DVector::from_row_slice(start),
        rss,
        stop,
    };
    if first.amax() >= NO_NUMBER {
        return at_start(f64::INFINITY, Termination::NotANumber);
    }
    let (Target { at: x, .. }, report) = LevenbergMarquardt::new()
        .with_stepbound(first_step)
        .with_patience(PATIENCE)
        .minimize(Target { fit, at });
    let stop = match report.termination {
        TerminationReason::ResidualsZero
        | TerminationReason::Orthogonal
        | TerminationReason::Converged { .. }
        | TerminationReason::NoImprovementPossible(_) => Termination::Converged,
        _ => Termination::OutOfSteps,
    };
    // The solver leaves its last trial in the target where that trial was refused.
    let rss = fit.residuals(x.as_slice()).norm_squared();
    if rss <= first.norm_squared() {
        Minimum { x, rss, stop }
    } else {
        at_start(first.norm_squared(), stop)
    }
}

/// Gauss-Newton steps for the last digits, as long as each is shorter than the one before and the sum
/// does not grow: near the minimum the sum is flat to its last bits, and a step's length is what tells.
fn gauss_newton_refine(fit: &Fit<'_>, from: Minimum) -> Minimum {
    let mut best = from;
    if best.stop == Termination::NotANumber {
        return best;
    }
    let mut last = f64::INFINITY;
    for _ in 0..LAST_STEPS {
        let Some(jacobian) = fit.jacobian(best.x.as_slice()) else {
            break;
        };
        let step = linear::solve(&jacobian, &-fit.residuals(best.x.as_slice()));
        let share = |(s, x): (&f64, &f64)| (s / x.abs().max(1e-300)).abs();
        let length = step.iter().zip(&best.x).map(share).fold(0.0, f64::max);
        let x = &best.x + step;
        let rss = fit.residuals(x.as_slice()).norm_squared();
        let grew = rss > best.rss * (1.0 + 1e-11) && rss > 1e-300;
        if length.is_nan() || length >= last || grew {
            break;
        }
        let stop = match length < 1e-7 {
            true => Termination::Converged,
            false => best.stop,
        };
        (last, best) = (length, Minimum { x, rss, stop });
        if length < 1e-14 {
            break;
        }
    }
    best
}

/// Size of a whole step in a parameter.
fn size(x: f64) -> f64 {
    if x == 0.0 { 1.0 } else { x.abs() }
}

/// Parameters in which the residuals are jointly linear, found by trial: along every direction in
/// them the second difference vanishes, at three places.
fn linear_parameters(fit: &Fit<'_>, start: &[f64]) -> Vec<usize> {
    let mut found: Vec<usize> = Vec::new();
    for j in 0..start.len() {
        found.push(j);
        if !(0..3).all(|seed| is_linear(fit, start, &found, seed)) {
            found.pop();
        }
    }
    found
}

fn is_linear(fit: &Fit<'_>, start: &[f64], set: &[usize], seed: u64) -> bool {
    let mut random = Random::seeded(seed + 17);
    let off = if seed == 0 { 0.0 } else { 0.02 };
    let mut place = DVector::from_row_slice(start);
    for x in place.iter_mut() {
        *x += off * size(*x) * random.normal();
    }
    let mut step = DVector::zeros(start.len());
    for &j in set {
        step[j] = size(start[j]) * (0.5 + random.uniform());
    }
    let at = |k: f64| fit.residuals((&place + &step * k).as_slice());
    let (low, middle, high) = (at(-1.0), at(0.0), at(1.0));
    let bend = (&low - &middle * 2.0 + &high).norm_squared();
    let change = (high - low).norm_squared() + 1e-20 * middle.norm_squared();
    middle.amax() < NO_NUMBER && change > 0.0 && bend <= 1e-18 * change
}

/// A problem with its linear parameters solved out.
struct Projected<'p, 'a> {
    fit: &'p Fit<'a>,
    linear: Vec<usize>,
    others: Vec<usize>,
    units: Vec<f64>,
}

impl<'p, 'a> Projected<'p, 'a> {
    /// `None` where nothing can be solved out, or everything.
    fn new(fit: &'p Fit<'a>, linear: Vec<usize>, start: &[f64]) -> Option<Self> {
        let others: Vec<usize> = (0..start.len()).filter(|j| !linear.contains(j)).collect();
        let units = linear.iter().map(|&j| size(start[j])).collect();
        (!linear.is_empty() && !others.is_empty()).then_some(Self {
            fit,
            linear,
            others,
            units,
        })
    }

    /// All parameters for values of the others, with the linear ones at their best.
    fn complete(&self, others: &[f64]) -> Vec<f64> {
        let mut x = vec![0.0; self.linear.len() + self.others.len()];
        for (&j, &value) in self.others.iter().zip(others) {
            x[j] = value;
        }
        let base = self.fit.residuals(&x);
        let mut columns = Vec::new();
        for (&j, &unit) in self.linear.iter().zip(&self.units) {
            x[j] = unit;
            columns.push((self.fit.residuals(&x) - &base) / unit);
            x[j] = 0.0;
        }
        let solved = linear::solve(&DMatrix::from_columns(&columns), &-base);
        for (&j, &value) in self.linear.iter().zip(&solved) {
            x[j] = value;
        }
        x
    }

    fn others_of(&self, x: &[f64]) -> Vec<f64> {
        self.others.iter().map(|&j| x[j]).collect()
    }

    /// The fit in the others alone, then in all.
    fn minimum(&self, start: &[f64]) -> Minimum {
        let in_others = Fit::new(self.fit.rows, |others, out| {
            let residuals = self.fit.residuals(&self.complete(others));
            out.copy_from_slice(residuals.as_slice());
        });
        let mut reached = levenberg_marquardt(&in_others, &self.others_of(start), BOLD);
        if reached.stop == Termination::NotANumber {
            reached.x = DVector::from_row_slice(start);
            return reached;
        }
        let all = self.complete(reached.x.as_slice());
        gauss_newton_refine(self.fit, levenberg_marquardt(self.fit, &all, BOLD))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::cell::Cell;

    fn sum_of_squares(fit: &Fit<'_>, x: &[f64]) -> f64 {
        fit.residuals(x).norm_squared()
    }

    /// Where a search was left.
    fn left(fit: &Fit<'_>, x: &[f64], stop: Termination) -> Minimum {
        Minimum {
            x: DVector::from_row_slice(x),
            rss: sum_of_squares(fit, x),
            stop,
        }
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

    /// Counts the evaluations of a model, which the first row shows: one at the parameters and one at the
    /// truth.
    fn counted(asked: &Cell<usize>, t: f64, value: f64) -> f64 {
        let first = usize::from(t == 0.0);
        asked.set(asked.get() + first);
        value
    }

    fn decay(x: &[f64], t: f64) -> f64 {
        x[0] * (-x[1] * t).exp() + x[2]
    }

    #[test]
    fn linear_parameters_are_found_by_trial() {
        let linear = |model: fn(&[f64], f64) -> f64, start: &[f64]| {
            let truth = [1.0, 0.3, 2.0];
            let fit = fit_of(model, &truth, 0.1);
            linear_parameters(&fit, start)
        };
        let three = [2.0, 0.7, 0.5];
        assert_eq!(linear(decay, &three), [0, 2]);
        assert_eq!(linear(decay, &[0.0, 0.7, 0.0]), [0, 2]);
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
    }

    #[test]
    fn linear_parameters_are_solved_out() {
        let truth = [3.0, 0.4, -1.0];
        let fit = fit_of(decay, &truth, 0.0);
        let projected = Projected::new(&fit, vec![0, 2], &[1.0; 3]).unwrap();
        assert_eq!(projected.others_of(&truth), [0.4]);
        for (found, true_value) in projected.complete(&[0.4]).iter().zip(truth) {
            assert!((found - true_value).abs() < 1e-12);
        }
        // At another rate the residuals stand at right angles to what is linear.
        let other = projected.complete(&[0.9]);
        assert_eq!(other[1], 0.9);
        let r = fit.residuals(&other);
        assert!(r.norm() > 0.1);
        assert!(r.sum().abs() < 1e-12);
        let along: f64 = (0..ROWS)
            .map(|i| r[i] * (-0.9 * 0.5 * i as f64).exp())
            .sum();
        assert!(along.abs() < 1e-12);
        // Nothing to solve out, or nothing else.
        assert!(Projected::new(&fit, vec![], &[1.0; 3]).is_none());
        assert!(Projected::new(&fit, vec![0, 1, 2], &[1.0; 3]).is_none());
    }

    #[test]
    fn the_better_of_two_ways() {
        use Termination::{Converged, NotANumber, OutOfSteps};
        let first = |a: (f64, Termination), b: (f64, Termination)| {
            let at = |x, (rss, stop): (f64, Termination)| Minimum {
                x: DVector::from_element(1, x),
                rss,
                stop,
            };
            better(at(1.0, a), at(2.0, b)).x[0] == 1.0
        };
        for (good, bad) in [
            ((2.0, Converged), (3.0, Converged)),
            ((2.0, OutOfSteps), (3.0, Converged)),
            // Not a number, whatever the sum says.
            ((2.0, OutOfSteps), (1.0, NotANumber)),
            ((2.0, OutOfSteps), (f64::INFINITY, Converged)),
            ((2.0, OutOfSteps), (f64::NAN, Converged)),
            // The same minimum to the last digits: the way that has arrived.
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
        let near = [3.03, 0.405, -1.01];
        let from = left(&fit, &near, Termination::OutOfSteps);
        let found = gauss_newton_refine(&fit, from);
        assert_eq!(found.stop, Termination::Converged);
        assert_eq!(found.rss, sum_of_squares(&fit, found.x.as_slice()));
        // The slope of the sum of squares, by calculus.
        let r = fit.residuals(found.x.as_slice());
        let [a, b] = [found.x[0], found.x[1]];
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
        let kept = gauss_newton_refine(&fit, left(&fit, &[3.0], Termination::OutOfSteps));
        assert_eq!((kept.x[0], kept.stop), (3.0, Termination::OutOfSteps));
        // From nearer it comes in, and what has no number stays as it is.
        let found = gauss_newton_refine(&fit, left(&fit, &[0.9], Termination::OutOfSteps));
        assert!(found.x[0].abs() < 1e-12);
        let lost = gauss_newton_refine(&fit, left(&fit, &[0.9], Termination::NotANumber));
        assert_eq!((lost.x[0], lost.stop), (0.9, Termination::NotANumber));
    }

    #[test]
    fn unlike_terms_keep_their_places() {
        let truth = [2.0, 0.3, 1.0, 2.5];
        // Terms that are not alike keep their places, whatever the start.
        let unlike = |x: &[f64], t: f64| x[0] * (-x[1] * t).exp() + x[2] * t * (-x[3] * t).exp();
        let fit = fit_of(unlike, &truth, 0.0);
        let found = multistart(&fit, &[1.0, 2.0, 1.0, 0.2]);
        for (found, true_value) in found.x.iter().zip(truth) {
            assert!((found - true_value).abs() < 1e-6);
        }
    }

    /// Where two ways lead to the same place no other start is tried: 24 take some hundred evaluations each.
    #[test]
    fn the_search_is_wide_only_where_ways_disagree() {
        let truth = [3.0, 0.4, -1.0];
        let asked = Cell::new(0);
        let easy = |x: &[f64], t: f64| counted(&asked, t, decay(x, t));
        let found = multistart(&fit_of(easy, &truth, 0.05), &[2.0, 0.7, 0.0]);
        assert!(found.stop.converged());
        assert!(asked.replace(0) < 2000);
        // A peak far from the start: flat there, so that one way alone would stay.
        let peak = |x: &[f64], t: f64| counted(&asked, t, x[0] * (-(t - x[1]).powi(2) / 0.1).exp());
        let truth = [2.0, 1.0];
        let fit = fit_of(peak, &truth, 0.0);
        let far = multistart(&fit, &[1.0, 3.5]);
        assert!(asked.get() > 2000, "{}", asked.get());
        for (found, true_value) in far.x.iter().zip(truth) {
            assert!((found - true_value).abs() < 1e-9, "{}", far.x);
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
        let (mut off, mut steps) = ([0.0; 3], [0.0; 2]);
        let seeds = 400;
        for seed in 0..=seeds {
            asked.borrow_mut().clear();
            // The sum is straight, but for the last digits.
            is_linear(&fit, &start, &[0, 2], seed);
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
            is_linear(&fit, &[0.0], &[0], seed)
        };
        for seed in 0..20 {
            assert!(straight(6e-10, seed) && straight(-6e-10, seed));
            assert!(!straight(2.1e-9, seed) && !straight(-2.1e-9, seed));
        }
        // What moves nothing, and is nothing, tells nothing; what has no number is not straight.
        let never = |value: f64| {
            let fit = Fit::new(3, move |_, out| out.fill(value));
            is_linear(&fit, &[0.0], &[0], 0)
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
            let near = [0.31 * unit];
            let from = left(&fit, &near, Termination::OutOfSteps);
            let found = gauss_newton_refine(&fit, from);
            assert_eq!(found.stop, Termination::Converged, "{unit}");
            let off = found.x[0] / (0.3 * unit) - 1.0;
            assert!(off.abs() < 1e-12, "{unit}: {off}");
        }
    }

    /// Where even the best leaves most of what there was, the ways may have ended on a plain: other starts
    /// are tried, although both ways agree.
    #[test]
    fn a_fit_that_explains_little_is_sought_widely() {
        let evaluations = |error: f64| {
            let truth = [3.0, 0.4, -1.0];
            let asked = Cell::new(0);
            let model = |x: &[f64], t: f64| counted(&asked, t, decay(x, t));
            let found = multistart(&fit_of(model, &truth, error), &[2.0, 0.55, 0.0]);
            assert!(found.stop.converged());
            (asked.get(), found.rss)
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
                let asked = Cell::new(0);
                let model = |x: &[f64], t: f64| counted(&asked, t, unit * decay(x, t));
                multistart(&fit_of(model, &truth, unit * error), &[2.0, 0.55, 0.0]);
                let case = format!("{unit} {error}: {}", asked.get());
                assert_eq!(asked.get() > 2000, wide, "{case}");
            }
        }
    }

    /// A bump that lies beyond the data at the start changes nothing there, so that neither way moves it; all
    /// else fits well. Other starts bring it in.
    #[test]
    fn a_term_beyond_the_data_is_brought_in() {
        let bump = |x: &[f64], t: f64| {
            let off = 1.0 - (t - x[3]).powi(2);
            x[0] * (-x[1] * t).exp() + if off > 0.0 { x[2] * off * off } else { 0.0 }
        };
        let truth = [100.0, 0.4, 5.0, 3.2];
        let fit = fit_of(bump, &truth, 0.0);
        let found = multistart(&fit, &[50.0, 2.0, 1.0, 8.0]);
        for (found, true_value) in found.x.iter().zip(truth) {
            assert!(
                (found / true_value - 1.0).abs() < 1e-6,
                "{found} {true_value}"
            );
        }
    }

    /// By hand: Newton's step on 1/(x - 1/2) is x - 1/2, from 1 to 1.5 by half of 1 and from there by two thirds
    /// of 1.5, which is farther; on x² + 1 from 0.9 it is -1.81/1.8, and farther from there too. A way that
    /// runs away is left where it was, and does not say that it has arrived.
    #[test]
    fn a_step_that_is_longer_than_the_last_is_not_taken() {
        type Curve = fn(f64) -> [f64; 2];
        let away: Curve = |x| [(x - 0.5).recip(), -(x - 0.5).powi(-2)];
        let over: Curve = |x| [x * x + 1.0, 2.0 * x];
        for (curve, start, end) in [(away, 1.0, 1.5), (over, 0.9, 0.9 - 1.81 / 1.8)] {
            let fit = Fit::new(1, move |x, out| out[0] = curve(x[0])[0])
                .with_jacobian(move |x, out| out[0] = curve(x[0])[1]);
            let from = left(&fit, &[start], Termination::OutOfSteps);
            let found = gauss_newton_refine(&fit, from);
            assert!((found.x[0] - end).abs() < 1e-12, "{:?}", found.x);
            assert_eq!(found.stop, Termination::OutOfSteps);
        }
    }

    #[test]
    fn what_moves_nothing_is_straight() {
        let fit = Fit::new(3, |_, out| out.fill(2.0));
        for seed in 0..20 {
            assert!(is_linear(&fit, &[1.0], &[0], seed), "{seed}");
        }
    }

    /// Slopes of the wrong sign: every step leads upwards and is refused. The answer is the start, and not the
    /// last step that was tried.
    #[test]
    fn a_refused_step_is_not_the_answer() {
        let uphill = Fit::new(2, |u, out| out.copy_from_slice(u))
            .with_jacobian(|_, out| out.copy_from_slice(&[-1.0, 0.0, 0.0, -1.0]));
        let found = levenberg_marquardt(&uphill, &[3.0, -2.0], BOLD);
        assert_eq!((found.x.as_slice(), found.rss), (&[3.0, -2.0][..], 13.0));
    }
}
