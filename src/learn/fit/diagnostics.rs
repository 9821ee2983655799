//! What was learned, and what was not.

use super::model::{COUNT, Model, NAMES, TILT, level_of, on_log_scale, value_of};
use super::{FittedRow, Learned, LearnedParameter, USUAL_SCATTER, is_at_limit, is_told};
use crate::ferment::Kind;
use crate::learn::log::{Observation, Seen};

/// Two parameters that go together in this log.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[non_exhaustive]
pub struct Together {
    /// One.
    pub a: &'static str,
    /// The other.
    pub b: &'static str,
    /// Their correlation after the fit.
    pub correlation: f64,
}

/// What a log cannot tell, or what is odd about it. A `parameter` has its name in a parameter file.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[cfg_attr(feature = "schema", schemars(rename = "LearnDiagnostic"))]
#[serde(tag = "code", rename_all = "kebab-case")]
#[non_exhaustive]
#[allow(missing_docs)]
pub enum Diagnostic {
    /// Every row tells one side only: the scatter is the usual one.
    NoRipeRow,
    /// One row cannot be checked against another.
    SingleRow,
    /// All rows are at about one temperature: little is learned of the slope.
    OneTemperature { about_c: f64 },
    /// All rows of a kind have about the same dose: little is learned of growth.
    OneDose { kind: Kind },
    /// The log says nothing about a parameter, which keeps value and error from before.
    NotInformed { parameter: &'static str },
    /// A parameter was pushed as far as it may go: nothing has an error.
    AtLimit { parameter: &'static str },
    /// A parameter moved by more prior standard deviations than is likely.
    MovedFar {
        parameter: &'static str,
        deviations: f64,
    },
    /// The fit did not settle: nothing has an error.
    NotSettled,
    /// Nothing has an error, so a file of the parameters keeps what was before.
    FileKeepsPrior,
    /// Every parameter that this log concerns is exact.
    NothingToLearn,
    /// A parameter of this log is exact, and not learned.
    Exact { parameter: &'static str },
    /// Two rows say different things about the same dough.
    Contradiction {
        lines: [u64; 2],
        kind: Kind,
        hours: [f64; 2],
    },
    /// Rows that do not fit the others; the robust loss holds them back where `robust_helps`.
    OddRows { lines: Vec<u64>, robust_helps: bool },
    /// Single times scatter by twice the usual or more.
    LargeScatter { scatter: f64 },
}

/// Correlation from which it is worth a sentence.
const WORTH_TELLING: f64 = 0.5;
/// Rows farther off than so many scatters are odd.
const ODD: f64 = 3.0;
/// Temperatures closer than this teach nothing about the slope, K.
const ONE_TEMPERATURE_K: f64 = 2.0;
/// Doses closer than this factor teach little about growth.
const ONE_DOSE: f64 = 1.5;

impl Learned {
    /// Fills in the report.
    pub(super) fn tell(&mut self, model: &Model<'_>) {
        let seen: Vec<usize> = self.concerned(model).collect();
        let estimate = |&j: &usize| {
            let before = model.variance(j).sqrt();
            let is_told = is_told(self.told[j]) && self.sound;
            LearnedParameter {
                name: NAMES[j],
                prior: model.prior_value(j),
                prior_sd: model.sd(j) * before,
                value: value_of(&self.parameters, j),
                standard_error: is_told.then(|| model.sd(j) * self.found.covariance[(j, j)].sqrt()),
                on_log_scale: on_log_scale(j),
                moved: self.told_z[j] / before,
                told: self.told[j],
                at_limit: is_at_limit(self.found.z[j]),
            }
        };
        self.estimates = seen.iter().map(estimate).collect();
        let off = |r: &FittedRow| (r.standardised.abs(), r.line);
        let mut farthest: Vec<(f64, u64)> = self.rows.iter().map(off).collect();
        farthest.retain(|(off, _)| *off > 0.0);
        farthest.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
        self.largest = farthest.iter().take(3).map(|(_, line)| *line).collect();
        self.together = self.pairs(&seen);
        self.cannot_tell = self.limits(&seen);
    }

    /// The parameters that this log can move: those of its kinds, what all kinds share, and a level
    /// without a row where the numbers before tie it to the others.
    pub(super) fn concerned(&self, model: &Model<'_>) -> impl Iterator<Item = usize> {
        (0..COUNT).filter(|&j| {
            let logged = || self.observations.iter().any(|o| level_of(o.bake.kind) == j);
            model.is_free(j) && (j >= TILT || logged() || is_told(self.told[j]))
        })
    }

    fn pairs(&self, seen: &[usize]) -> Vec<Together> {
        let c = &self.found.covariance;
        let mut inside = seen.to_vec();
        inside.retain(|&j| !is_at_limit(self.found.z[j]));
        let mut pairs = Vec::new();
        for (k, &i) in inside.iter().enumerate() {
            for &j in &inside[k + 1..] {
                let [a, b] = [NAMES[i], NAMES[j]];
                let correlation = c[(i, j)] / (c[(i, i)] * c[(j, j)]).sqrt();
                if correlation.abs() >= WORTH_TELLING {
                    pairs.push(Together { a, b, correlation });
                }
            }
        }
        pairs.sort_by(|a, b| b.correlation.abs().total_cmp(&a.correlation.abs()));
        pairs
    }

    fn limits(&self, seen: &[usize]) -> Vec<Diagnostic> {
        let rows = &self.observations;
        let mut found = coverage(rows);
        for estimate in &self.estimates {
            let (parameter, deviations) = (estimate.name, estimate.moved.abs());
            if estimate.standard_error.is_none() && self.sound {
                found.push(Diagnostic::NotInformed { parameter });
            }
            if estimate.at_limit {
                found.push(Diagnostic::AtLimit { parameter });
            } else if deviations > ODD {
                found.push(Diagnostic::MovedFar {
                    parameter,
                    deviations,
                });
            }
        }
        if !self.stop.converged() {
            found.push(Diagnostic::NotSettled);
        }
        if !self.sound {
            found.push(Diagnostic::FileKeepsPrior);
        }
        if seen.is_empty() {
            found.push(Diagnostic::NothingToLearn);
        } else {
            for kind in Kind::ALL {
                let parameter = NAMES[level_of(kind)];
                let logged = rows.iter().any(|o| o.bake.kind == kind);
                if logged && !seen.contains(&level_of(kind)) {
                    found.push(Diagnostic::Exact { parameter });
                }
            }
        }
        found.extend(contradictions(rows));
        let odd: Vec<&FittedRow> = self
            .rows
            .iter()
            .filter(|r| r.standardised.abs() > ODD)
            .collect();
        if !odd.is_empty() {
            // Huber's loss holds back rows seen ready, and those alone.
            let ready = odd.iter().all(|r| r.seen == Seen::Ready);
            found.push(Diagnostic::OddRows {
                lines: odd.iter().map(|r| r.line).collect(),
                robust_helps: !self.options.robust && ready,
            });
        }
        if self.options.scatter.is_none() && self.scatter > 2.0 * USUAL_SCATTER {
            let scatter = self.scatter;
            found.push(Diagnostic::LargeScatter { scatter });
        }
        found
    }
}

/// What the rows leave open by what they are.
fn coverage(rows: &[Observation]) -> Vec<Diagnostic> {
    let mut found = Vec::new();
    if rows.iter().all(|o| o.seen != Seen::Ready) {
        found.push(Diagnostic::NoRipeRow);
    }
    if rows.len() == 1 {
        found.push(Diagnostic::SingleRow);
    }
    let span = |v: &[f64]| {
        let most = v.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        most - v.iter().copied().fold(f64::INFINITY, f64::min)
    };
    let about: Vec<f64> = rows.iter().map(|o| o.bake.place.about_c(o.hours)).collect();
    if let Some(&about_c) = about.first().filter(|_| span(&about) < ONE_TEMPERATURE_K) {
        found.push(Diagnostic::OneTemperature { about_c });
    }
    for kind in Kind::ALL {
        let of_kind = rows.iter().filter(|o| o.bake.kind == kind);
        let doses: Vec<f64> = of_kind.map(|o| o.bake.fresh_percent.ln()).collect();
        if doses.len() > 1 && span(&doses) < ONE_DOSE.ln() {
            found.push(Diagnostic::OneDose { kind });
        }
    }
    found
}

/// Rows that say different things about the same dough; no more than three pairs.
fn contradictions(rows: &[Observation]) -> Vec<Diagnostic> {
    // The difference of two times scatters by sqrt(2) times the scatter of one.
    let far = ODD * 2f64.sqrt() * USUAL_SCATTER;
    let near = |x: f64, y: f64, by: f64| (x - y).abs() <= by;
    let same = |a: &Observation, b: &Observation| {
        let ((x, y), (p, q)) = (
            (&a.bake, &b.bake),
            (&a.bake.composition, &b.bake.composition),
        );
        x.kind == y.kind
            && near(x.fresh_percent.ln(), y.fresh_percent.ln(), 0.05)
            && near(p.hydration_percent, q.hydration_percent, 3.0)
            && near(p.salt_percent, q.salt_percent, 0.3)
            && near(x.place.about_c(a.hours), y.place.about_c(b.hours), 0.5)
    };
    let clash = |a: &Observation, b: &Observation| {
        let longer = (a.hours / b.hours).ln();
        match (a.seen, b.seen) {
            (Seen::Ready, Seen::Ready) => longer.abs() > far,
            (Seen::NotYet, Seen::Ready | Seen::Past) | (Seen::Ready, Seen::Past) => longer > far,
            (Seen::Ready | Seen::Past, Seen::NotYet) | (Seen::Past, Seen::Ready) => longer < -far,
            _ => false,
        }
    };
    let mut found = Vec::new();
    for (k, a) in rows.iter().enumerate() {
        for b in rows[k + 1..].iter().filter(|b| clash(a, b) && same(a, b)) {
            found.push(Diagnostic::Contradiction {
                lines: [a.line, b.line],
                kind: a.bake.kind,
                hours: [a.hours, b.hours],
            });
        }
    }
    found.truncate(3);
    found
}

#[cfg(test)]
mod tests {
    use super::super::model::GROWTH;
    use super::super::model::tests::{bake, learned_together};
    use super::super::{Options, learn};
    use super::*;
    use crate::ferment::Parameters;
    use crate::learn::log::{LoggedDough, LoggedPlace};
    use crate::units::Temperature;

    fn seen_after(line: u64, kind: Kind, celsius: f64, hours: f64, seen: Seen) -> Observation {
        Observation {
            line,
            bake: bake(kind, celsius, 0.3),
            hours,
            seen,
        }
    }

    /// Two kinds, temperatures and doses, one row a little off.
    fn rows() -> Vec<Observation> {
        let mut rows = vec![
            seen_after(2, Kind::Poolish, 18.0, 14.0, Seen::Ready),
            seen_after(3, Kind::Poolish, 24.0, 8.5, Seen::Ready),
            seen_after(5, Kind::Biga, 18.0, 14.0, Seen::Past),
            seen_after(7, Kind::Poolish, 21.0, 6.0, Seen::NotYet),
        ];
        rows[1].bake.fresh_percent = 0.6;
        rows
    }

    fn learned(prior: &Parameters) -> Learned {
        learn(&rows(), prior, Options::default()).unwrap()
    }

    /// Before the log, growth has the deviation 0.7 of its logarithm; cap and lag being what they are, and
    /// going with it by 0.5 and 0 and with each other by -0.3, `1 - 0.25/(1 - 0.09)` of its square is left.
    #[test]
    fn the_deviation_before_is_that_with_cap_and_lag_known() {
        let prior = learned_together();
        let l = learned(&prior);
        let growth = l
            .estimates
            .iter()
            .find(|e| e.name == "growth_rate_per_h")
            .unwrap();
        let before = 0.7 * (1.0 - 0.25 / 0.91_f64).sqrt();
        assert!((growth.prior_sd - before).abs() < 1e-9, "{growth:?}");
        let way = (growth.value / growth.prior).ln();
        assert!(way != 0.0 && (growth.moved - way / before).abs() < 1e-9);
        let error = growth.standard_error.unwrap();
        assert!((error / before - (1.0 - growth.told).sqrt()).abs() < 1e-9);
    }

    /// The rows farthest off, on either side; of equals the first line; those that are not off at all not.
    #[test]
    fn the_farthest_rows_are_named() {
        let prior = Parameters::shipped().unwrap();
        let model_rows = rows();
        let model = Model::new(&prior, &model_rows).unwrap();
        let mut l = learned(&prior);
        for (off, lines) in [
            ([0.0, 0.5, 0.0, -2.0], vec![7, 3]),
            ([1.0, -1.0, 3.5, 0.5], vec![5, 2, 3]),
            ([0.0; 4], vec![]),
        ] {
            for (row, off) in l.rows.iter_mut().zip(off) {
                row.standardised = off;
            }
            l.tell(&model);
            assert_eq!(l.largest, lines);
        }
    }

    /// Correlations by hand: 5.7/sqrt(4 · 9) = 0.95, -1.4/sqrt(4 · 1) = -0.7, 0.9/sqrt(9 · 1) = 0.3. Each
    /// pair is told once, the closest first.
    #[test]
    fn pairs_are_told_once_by_their_correlation() {
        let mut l = learned(&Parameters::shipped().unwrap());
        l.found.z = [0.0; COUNT];
        l.found.covariance.fill(0.0);
        for (i, j, c) in [
            (0, 0, 4.0),
            (3, 3, 9.0),
            (TILT, TILT, 1.0),
            (0, 3, 5.7),
            (0, TILT, -1.4),
            (3, TILT, 0.9),
        ] {
            l.found.covariance[(i, j)] = c;
            l.found.covariance[(j, i)] = c;
        }
        let pairs = l.pairs(&[0, 3, TILT]);
        let names: Vec<_> = pairs.iter().map(|p| (p.a, p.b)).collect();
        assert_eq!(names, [(NAMES[0], NAMES[3]), (NAMES[0], NAMES[TILT])]);
        assert!((pairs[0].correlation - 0.95).abs() < 1e-15);
        assert!((pairs[1].correlation + 0.7).abs() < 1e-15);
        // What was pushed to its limit goes with nothing, nor what has no variance.
        l.found.z[0] = 6.0;
        assert!(l.pairs(&[0, 3, TILT]).is_empty());
        l.found.z[0] = 0.0;
        l.found.covariance.row_mut(3).fill(0.0);
        l.found.covariance.column_mut(3).fill(0.0);
        assert_eq!(l.pairs(&[0, 3, TILT]).len(), 1);
    }

    #[test]
    fn what_is_odd_is_said_and_nothing_else() {
        let prior = Parameters::shipped().unwrap();
        let concerned = [0, 1, TILT, GROWTH];
        let fresh = || {
            let mut l = learned(&prior);
            assert_eq!(l.estimates.len(), concerned.len());
            l.scatter = 0.1;
            for row in &mut l.rows {
                row.standardised = 0.0;
            }
            for e in &mut l.estimates {
                (e.moved, e.at_limit, e.standard_error) = (0.0, false, Some(0.1));
            }
            l
        };
        assert_eq!(fresh().limits(&concerned), []);
        // A parameter that moved by more than three deviations, either way.
        for (moved, odd) in [
            (3.5, true),
            (-3.5, true),
            (3.0, false),
            (2.5, false),
            (-2.5, false),
        ] {
            let mut l = fresh();
            l.estimates[2].moved = moved;
            let far = Diagnostic::MovedFar {
                parameter: "gas_tilt_per_10k",
                deviations: 3.5,
            };
            let expected: Vec<_> = odd.then_some(far).into_iter().collect();
            assert_eq!(l.limits(&concerned), expected, "{moved}");
        }
        // At its limit it says that, and not how far it moved.
        let mut l = fresh();
        l.estimates[0].at_limit = true;
        l.estimates[0].moved = 6.0;
        let parameter = "poolish_ml_per_100g";
        assert_eq!(l.limits(&concerned), [Diagnostic::AtLimit { parameter }]);
        // A row more than three scatters off.
        for (off, odd) in [(3.1, true), (-3.1, true), (3.0, false), (-2.9, false)] {
            for robust in [false, true] {
                let mut l = fresh();
                l.rows[1].standardised = off;
                l.options.robust = robust;
                let rows = Diagnostic::OddRows {
                    lines: vec![3],
                    robust_helps: !robust,
                };
                let expected: Vec<_> = odd.then_some(rows).into_iter().collect();
                assert_eq!(l.limits(&concerned), expected, "{off}");
            }
        }
        // More than twice the usual scatter, 0.1, where it was learned.
        for (scatter, known, told) in [
            (0.25, None, true),
            (0.19, None, false),
            (0.25, Some(0.25), false),
        ] {
            let mut l = fresh();
            (l.scatter, l.options.scatter) = (scatter, known);
            let large = Diagnostic::LargeScatter { scatter };
            let expected: Vec<_> = told.then_some(large).into_iter().collect();
            assert_eq!(l.limits(&concerned), expected);
        }
    }

    #[test]
    fn a_level_that_was_given_as_exact_is_named() {
        let l = learned(&Parameters::shipped().unwrap());
        let exact = |seen: &[usize]| -> Vec<Diagnostic> {
            let found = l.limits(seen).into_iter();
            found
                .filter(|d| matches!(d, Diagnostic::Exact { .. } | Diagnostic::NothingToLearn))
                .collect()
        };
        let named = |parameter| Diagnostic::Exact { parameter };
        assert_eq!(exact(&[0, 1, TILT, GROWTH]), []);
        assert_eq!(exact(&[0, TILT, GROWTH]), [named("biga_ml_per_100g")]);
        assert_eq!(exact(&[1, TILT]), [named("poolish_ml_per_100g")]);
        assert_eq!(exact(&[TILT]).len(), 2);
        assert_eq!(exact(&[]), [Diagnostic::NothingToLearn]);
    }

    #[test]
    fn one_temperature_and_one_dose_are_told() {
        let said = |celsius: [f64; 2], percent: [f64; 2]| {
            let rows: Vec<Observation> = (0..2)
                .map(|i| Observation {
                    line: 2 + i as u64,
                    bake: bake(Kind::Poolish, celsius[i], percent[i]),
                    hours: 11.0,
                    seen: Seen::Ready,
                })
                .collect();
            let prior = Parameters::shipped().unwrap();
            let l = learn(&rows, &prior, Options::default()).unwrap();
            (
                l.cannot_tell
                    .iter()
                    .any(|d| matches!(d, Diagnostic::OneTemperature { .. })),
                l.cannot_tell.contains(&Diagnostic::OneDose {
                    kind: Kind::Poolish,
                }),
            )
        };
        // Two kelvins apart tell of the slope, a factor of one and a half of growth.
        assert_eq!(said([21.0, 21.0], [0.3, 0.3]), (true, true));
        assert_eq!(said([21.0, 22.9], [0.3, 0.44]), (true, true));
        assert_eq!(said([21.0, 23.1], [0.3, 0.44]), (false, true));
        assert_eq!(said([22.9, 21.0], [0.46, 0.3]), (true, false));
        assert_eq!(said([22.0, 20.0], [1.0, 1.5]), (false, false));
    }

    /// A row says that it is ready no later (ready, past) or no sooner (ready, not yet) than its time. Two
    /// contradict each other when the one has it no sooner than well after the other has it no later: by three
    /// times sqrt(2) scatters of 0.1, a factor of 1.53.
    #[test]
    fn contradictions_are_by_what_was_seen() {
        use Seen::{NotYet, Past, Ready};
        let pair = |a: Seen, b: Seen, times: f64| {
            contradictions(&[
                seen_after(2, Kind::Poolish, 21.0, 6.0 * times, a),
                seen_after(3, Kind::Poolish, 21.0, 6.0, b),
            ])
        };
        let no_sooner = |s: Seen| s != Past;
        let no_later = |s: Seen| s != NotYet;
        for a in [NotYet, Ready, Past] {
            for b in [NotYet, Ready, Past] {
                let longer = no_sooner(a) && no_later(b);
                let shorter = no_sooner(b) && no_later(a);
                let case = format!("{a:?} {b:?}");
                assert_eq!(pair(a, b, 1.54).len(), usize::from(longer), "{case}");
                assert_eq!(pair(a, b, 1.0 / 1.54).len(), usize::from(shorter), "{case}");
                assert!(pair(a, b, 1.52).is_empty(), "{case}");
                assert!(pair(a, b, 1.0 / 1.52).is_empty(), "{case}");
            }
        }
        assert_eq!(
            pair(Ready, Ready, 2.0),
            [Diagnostic::Contradiction {
                lines: [2, 3],
                kind: Kind::Poolish,
                hours: [12.0, 6.0],
            }]
        );
    }

    #[test]
    fn only_the_same_dough_contradicts_itself() {
        let first = seen_after(2, Kind::Poolish, 21.0, 12.0, Seen::Ready);
        let clash = |change: &dyn Fn(&mut LoggedDough)| {
            let mut second = seen_after(3, Kind::Poolish, 21.0, 6.0, Seen::Ready);
            change(&mut second.bake);
            !contradictions(&[first.clone(), second]).is_empty()
        };
        let warm = |t: f64| LoggedPlace::Held(Temperature::celsius(t).unwrap());
        // As near as it may be, and a little farther, in one thing at a time.
        assert!(clash(&|_| {}));
        assert!(clash(&|b| b.fresh_percent *= 1.04));
        assert!(!clash(&|b| b.fresh_percent *= 1.06));
        assert!(!clash(&|b| b.fresh_percent /= 1.06));
        assert!(clash(&|b| b.composition.hydration_percent -= 2.9));
        assert!(!clash(&|b| b.composition.hydration_percent -= 3.1));
        assert!(clash(&|b| b.composition.salt_percent += 0.29));
        assert!(!clash(&|b| b.composition.salt_percent += 0.31));
        assert!(clash(&|b| b.place = warm(21.4)));
        assert!(!clash(&|b| b.place = warm(21.6)));
        assert!(!clash(&|b| b.place = warm(20.4)));
        assert!(!clash(&|b| b.kind = Kind::Sponge));
        // Of many no more than three are told.
        let many: Vec<Observation> = [2.0, 4.0, 8.0, 16.0]
            .into_iter()
            .zip(2..)
            .map(|(hours, line)| seen_after(line, Kind::Poolish, 21.0, hours, Seen::Ready))
            .collect();
        assert_eq!(contradictions(&many[..3]).len(), 3);
        assert_eq!(contradictions(&many).len(), 3);
    }

    /// From one half on it is worth a sentence: 1/sqrt(4 · 1).
    #[test]
    fn a_pair_is_told_from_one_half_on() {
        let mut l = learned(&Parameters::shipped().unwrap());
        l.found.z = [0.0; COUNT];
        let mut told = |variance: f64, both: f64| {
            l.found.covariance.fill(0.0);
            (l.found.covariance[(0, 0)], l.found.covariance[(3, 3)]) = (variance, 1.0);
            (l.found.covariance[(0, 3)], l.found.covariance[(3, 0)]) = (both, both);
            let pairs = l.pairs(&[0, 3]);
            pairs.first().map(|p| p.correlation)
        };
        assert_eq!(told(4.0, 0.99), None);
        assert_eq!(told(4.0, 1.0), Some(0.5));
        assert_eq!(told(16.0, 3.6), Some(0.9));
    }

    #[test]
    fn what_is_not_told_is_named() {
        let prior = Parameters::shipped().unwrap();
        for j in [0, TILT, GROWTH] {
            let mut l = learned(&prior);
            for e in &mut l.estimates {
                e.standard_error = (e.name != NAMES[j]).then_some(0.1);
            }
            let found = l.limits(&[0, 1, TILT, GROWTH]).into_iter();
            let named: Vec<_> = found
                .filter(|d| matches!(d, Diagnostic::NotInformed { .. }))
                .collect();
            let parameter = NAMES[j];
            assert_eq!(named, [Diagnostic::NotInformed { parameter }]);
        }
    }

    /// A caller tells findings apart by their code, and reads their numbers.
    #[test]
    fn a_finding_has_a_code_and_its_numbers() {
        let found = Diagnostic::OddRows {
            lines: vec![3, 7],
            robust_helps: true,
        };
        let table = toml::Value::try_from(&found).unwrap();
        assert_eq!(table["code"].as_str(), Some("odd-rows"));
        assert_eq!(table["lines"].as_array().map(Vec::len), Some(2));
        assert_eq!(table["robust_helps"].as_bool(), Some(true));
    }
}
