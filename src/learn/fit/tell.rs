//! What was learned, and what was not, in words.

use super::model::{COUNT, GROWTH, Model, NAMES, TILT, level_of, on_log_scale, value_of};
use super::{Learned, LearnedParameter, USUAL_SCATTER, is_at_limit, is_told};
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
    /// What that means.
    pub in_words: String,
}

/// Correlation from which it is worth a sentence.
const WORTH_TELLING: f64 = 0.5;
/// From here on two parameters cannot be told apart.
const NOT_APART: f64 = 0.9;
/// Rows farther off than so many scatters are odd.
const ODD: f64 = 3.0;
/// Temperatures closer than this teach nothing about the slope, K.
const ONE_TEMPERATURE_K: f64 = 2.0;
/// Doses closer than this factor teach little about growth.
const ONE_DOSE: f64 = 1.5;

fn spoken(j: usize) -> &'static str {
    [
        "the end point of the poolish",
        "the end point of the biga",
        "the end point of the sponge",
        "the end point of the dough",
        "the temperature slope",
        "the growth rate",
    ][j]
}

impl Learned {
    /// Fills in the report.
    pub(super) fn tell(&mut self, model: &Model<'_>) {
        let seen: Vec<usize> = self.concerned(model).collect();
        self.estimates = seen
            .iter()
            .map(|&j| {
                let before = model.variance(j).sqrt();
                let at_limit = is_at_limit(self.z[j]);
                LearnedParameter {
                    name: NAMES[j],
                    prior: model.prior_value(j),
                    prior_sd: model.sd(j) * before,
                    value: value_of(&self.parameters, j),
                    standard_error: (is_told(self.told[j]) && self.sound)
                        .then(|| model.sd(j) * self.covariance[j][j].sqrt()),
                    on_log_scale: on_log_scale(j),
                    moved: self.told_z[j] / before,
                    told: self.told[j],
                    at_limit,
                }
            })
            .collect();
        let mut farthest: Vec<(f64, u64)> = self
            .rows
            .iter()
            .map(|r| (r.standardised.abs(), r.line))
            .filter(|(off, _)| *off > 0.0)
            .collect();
        farthest.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
        self.largest = farthest.iter().take(3).map(|(_, line)| *line).collect();
        self.together = self.pairs(&seen);
        self.cannot_tell = self.limits(&seen);
    }

    /// The parameters that this log can move: those of its kinds, what all kinds share, and a level
    /// without a row where the numbers before tie it to the others.
    pub(super) fn concerned(&self, model: &Model<'_>) -> impl Iterator<Item = usize> {
        (0..COUNT)
            .filter(|&j| {
                let logged = || self.observations.iter().any(|o| level_of(o.bake.kind) == j);
                j >= TILT || logged() || is_told(self.told[j])
            })
            .filter(|&j| model.is_free(j))
    }

    fn pairs(&self, seen: &[usize]) -> Vec<Together> {
        let c = &self.covariance;
        let mut pairs = Vec::new();
        let inside: Vec<usize> = seen
            .iter()
            .copied()
            .filter(|&j| !is_at_limit(self.z[j]))
            .collect();
        for (k, &i) in inside.iter().enumerate() {
            for &j in &inside[k + 1..] {
                let correlation = c[i][j] / (c[i][i] * c[j][j]).sqrt();
                if correlation.is_nan() || correlation.abs() < WORTH_TELLING {
                    continue;
                }
                let how = if correlation.abs() >= NOT_APART {
                    "cannot be told apart"
                } else {
                    "are only partly told apart"
                };
                let trade = if correlation > 0.0 {
                    "a higher"
                } else {
                    "a lower"
                };
                pairs.push(Together {
                    a: NAMES[i],
                    b: NAMES[j],
                    correlation,
                    in_words: format!(
                        "{} and {} {how}: with {trade} value of the one, a higher value of the other explains the same rows",
                        spoken(i),
                        spoken(j)
                    ),
                });
            }
        }
        pairs.sort_by(|a, b| b.correlation.abs().total_cmp(&a.correlation.abs()));
        pairs
    }

    fn limits(&self, seen: &[usize]) -> Vec<String> {
        let mut said = Vec::new();
        let rows = &self.observations;
        let ripe = rows.iter().filter(|o| o.seen == Seen::Ready).count();
        if ripe == 0 {
            said.push(
                "no row tells when a dough was ready, only that it was not yet or already past: the scatter is the usual one, and the parameters have one-sided evidence; log the moment it is ripe or doubled".to_owned(),
            );
        }
        if rows.len() == 1 {
            said.push("one row moves the end point a little and cannot be checked against another; log a second bake".to_owned());
        }
        let about: Vec<f64> = rows.iter().map(|o| o.bake.place.about_c(o.hours)).collect();
        let span = |v: &[f64]| {
            v.iter().copied().fold(f64::NEG_INFINITY, f64::max)
                - v.iter().copied().fold(f64::INFINITY, f64::min)
        };
        if span(&about) < ONE_TEMPERATURE_K {
            said.push(format!(
                "all rows are at about one temperature ({:.0} °C): they tell little or nothing of the temperature slope; log a bake 5 K colder or warmer",
                about.first().copied().unwrap_or(f64::NAN)
            ));
        }
        for kind in Kind::ALL {
            let doses: Vec<f64> = rows
                .iter()
                .filter(|o| o.bake.kind == kind)
                .map(|o| o.bake.fresh_percent.ln())
                .collect();
            if doses.len() > 1 && span(&doses) < ONE_DOSE.ln() {
                said.push(format!(
                    "every {kind} has about the same dose: they tell little or nothing of how growth changes the time; log one with half or twice the yeast"
                ));
            }
        }
        for (&j, estimate) in seen.iter().zip(&self.estimates) {
            if estimate.standard_error.is_none() && self.sound {
                let what = match j {
                    TILT => "a bake at another temperature",
                    GROWTH => "a bake with much less yeast",
                    _ => "a bake of that kind seen ripe",
                };
                said.push(format!(
                    "this log says nothing about {}: it keeps the value and the error of the table; log {what}",
                    spoken(j)
                ));
            }
            if estimate.at_limit {
                said.push(format!(
                    "{} was pushed as far from the table as it may go: nothing has an error here, and forecasts have no range; check the units and the readings of the log",
                    spoken(j)
                ));
            } else if estimate.moved.abs() > ODD {
                said.push(format!(
                    "{} moved {:.1} standard deviations from the table; check the yeast's kind and the temperatures before trusting it",
                    spoken(j),
                    estimate.moved.abs()
                ));
            }
        }
        if !self.stop.converged() {
            said.push("the fit did not settle: these rows pull the numbers to where such a dough is hardly ever ready; nothing has an error, and forecasts have no range; check the units and the readings of the log".to_owned());
        }
        if !self.sound {
            said.push("a file of these numbers (--out) leaves out what has no error: it keeps what was before".to_owned());
        }
        if seen.is_empty() {
            said.push(
                "every number that this log concerns is given as exact: nothing is left to learn"
                    .to_owned(),
            );
        }
        for kind in Kind::ALL {
            let level = level_of(kind);
            if rows.iter().any(|o| o.bake.kind == kind)
                && !seen.contains(&level)
                && !seen.is_empty()
            {
                said.push(format!(
                    "{} is given as exact and not learned",
                    spoken(level)
                ));
            }
        }
        said.extend(contradictions(rows));
        let odd: Vec<_> = self
            .rows
            .iter()
            .filter(|r| r.standardised.abs() > ODD)
            .collect();
        if !odd.is_empty() {
            let lines: Vec<String> = odd.iter().map(|r| r.line.to_string()).collect();
            let which = match lines.len() {
                1 => format!(
                    "the row in line {} does not fit the others; check it",
                    lines[0]
                ),
                _ => format!(
                    "the rows in lines {} do not fit the others; check them",
                    lines.join(", ")
                ),
            };
            // Huber's loss holds back rows seen ready, and those alone.
            let helps = !self.options.robust && odd.iter().all(|r| r.seen == Seen::Ready);
            let or = if helps {
                ", or learn with the robust loss"
            } else {
                ""
            };
            said.push(which + or);
        }
        if self.options.scatter.is_none() && self.scatter > 2.0 * USUAL_SCATTER {
            said.push(format!(
                "single times scatter by {:.0} %, twice the usual or more: the rows contradict each other, or something that is not logged changes from bake to bake",
                100.0 * self.scatter
            ));
        }
        said
    }
}

/// Rows that say different things about the same dough.
fn contradictions(rows: &[Observation]) -> Vec<String> {
    // The difference of two times scatters by sqrt(2) times the scatter of one.
    let far = ODD * 2f64.sqrt() * USUAL_SCATTER;
    let same = |a: &Observation, b: &Observation| {
        let near = |x: f64, y: f64, by: f64| (x - y).abs() <= by;
        a.bake.kind == b.bake.kind
            && near(a.bake.fresh_percent.ln(), b.bake.fresh_percent.ln(), 0.05)
            && near(
                a.bake.composition.hydration_percent,
                b.bake.composition.hydration_percent,
                3.0,
            )
            && near(
                a.bake.composition.salt_percent,
                b.bake.composition.salt_percent,
                0.3,
            )
            && near(
                a.bake.place.about_c(a.hours),
                b.bake.place.about_c(b.hours),
                0.5,
            )
    };
    let mut said = Vec::new();
    for (k, a) in rows.iter().enumerate() {
        for b in &rows[k + 1..] {
            if said.len() == 3 {
                return said;
            }
            let longer = (a.hours / b.hours).ln();
            let clash = match (a.seen, b.seen) {
                (Seen::Ready, Seen::Ready) => longer.abs() > far,
                (Seen::NotYet, Seen::Ready | Seen::Past) | (Seen::Ready, Seen::Past) => {
                    longer > far
                }
                (Seen::Ready | Seen::Past, Seen::NotYet) | (Seen::Past, Seen::Ready) => {
                    longer < -far
                }
                _ => false,
            };
            if clash && same(a, b) {
                said.push(format!(
                    "lines {} and {} contradict each other: the same {} at {:.1} h and at {:.1} h",
                    a.line, b.line, a.bake.kind, a.hours, b.hours
                ));
            }
        }
    }
    said
}

#[cfg(test)]
mod tests {
    use super::super::model::tests::{bake, learned_together};
    use super::super::{Options, learn};
    use super::*;
    use crate::ferment::Parameters;
    use crate::learn::log::{Bake, Place};
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

    fn says(said: &[String], part: &str) -> bool {
        said.iter().any(|s| s.contains(part))
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
        l.z = [0.0; COUNT];
        l.covariance = vec![vec![0.0; COUNT]; COUNT];
        for (i, j, c) in [
            (0, 0, 4.0),
            (3, 3, 9.0),
            (TILT, TILT, 1.0),
            (0, 3, 5.7),
            (0, TILT, -1.4),
            (3, TILT, 0.9),
        ] {
            l.covariance[i][j] = c;
            l.covariance[j][i] = c;
        }
        let pairs = l.pairs(&[0, 3, TILT]);
        let names: Vec<_> = pairs.iter().map(|p| (p.a, p.b)).collect();
        assert_eq!(names, [(NAMES[0], NAMES[3]), (NAMES[0], NAMES[TILT])]);
        assert!((pairs[0].correlation - 0.95).abs() < 1e-15);
        assert!((pairs[1].correlation + 0.7).abs() < 1e-15);
        let words = &pairs[0].in_words;
        assert!(words.contains("cannot be told apart: with a higher value"));
        let words = &pairs[1].in_words;
        assert!(words.contains("are only partly told apart: with a lower value"));
        // What was pushed to its limit goes with nothing, nor what has no variance.
        l.z[0] = 6.0;
        assert!(l.pairs(&[0, 3, TILT]).is_empty());
        l.z[0] = 0.0;
        l.covariance[3].fill(0.0);
        l.covariance.iter_mut().for_each(|row| row[3] = 0.0);
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
        assert_eq!(fresh().limits(&concerned), Vec::<String>::new());
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
            let said = l.limits(&concerned);
            let sentence = "the temperature slope moved 3.5 standard deviations";
            assert_eq!(says(&said, sentence), odd, "{moved}: {said:?}");
            assert_eq!(said.len(), usize::from(odd));
        }
        // At its limit it says that, and not how far it moved.
        let mut l = fresh();
        l.estimates[0].at_limit = true;
        l.estimates[0].moved = 6.0;
        let said = l.limits(&concerned);
        assert!(says(
            &said,
            "the end point of the poolish was pushed as far"
        ));
        assert_eq!(said.len(), 1);
        // A row more than three scatters off.
        for (off, line) in [(3.1, true), (-3.1, true), (3.0, false), (-2.9, false)] {
            let mut l = fresh();
            l.rows[1].standardised = off;
            let said = l.limits(&concerned);
            assert_eq!(says(&said, "the row in line 3 does not fit"), line, "{off}");
            assert_eq!(said.len(), usize::from(line));
        }
        // More than twice the usual scatter, 0.1, where it was learned.
        for (scatter, known, told) in [
            (0.25, None, true),
            (0.19, None, false),
            (0.25, Some(0.25), false),
        ] {
            let mut l = fresh();
            (l.scatter, l.options.scatter) = (scatter, known);
            let said = l.limits(&concerned);
            assert_eq!(says(&said, "single times scatter by 25 %"), told);
            assert_eq!(said.len(), usize::from(told));
        }
    }

    #[test]
    fn a_level_that_was_given_as_exact_is_named() {
        let l = learned(&Parameters::shipped().unwrap());
        let exact = |seen: &[usize]| -> Vec<String> {
            let said = l.limits(seen).into_iter();
            said.filter(|s| s.contains("as exact")).collect()
        };
        assert!(exact(&[0, 1, TILT, GROWTH]).is_empty());
        assert_eq!(
            exact(&[0, TILT, GROWTH]),
            ["the end point of the biga is given as exact and not learned"]
        );
        assert_eq!(
            exact(&[1, TILT]),
            ["the end point of the poolish is given as exact and not learned"]
        );
        assert_eq!(exact(&[TILT]).len(), 2);
        let all = exact(&[]);
        assert!(
            all.len() == 1 && all[0].starts_with("every number"),
            "{all:?}"
        );
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
                says(&l.cannot_tell, "all rows are at about one temperature"),
                says(&l.cannot_tell, "every poolish has about the same dose"),
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
            ["lines 2 and 3 contradict each other: the same poolish at 12.0 h and at 6.0 h"]
        );
    }

    #[test]
    fn only_the_same_dough_contradicts_itself() {
        let first = seen_after(2, Kind::Poolish, 21.0, 12.0, Seen::Ready);
        let clash = |change: &dyn Fn(&mut Bake)| {
            let mut second = seen_after(3, Kind::Poolish, 21.0, 6.0, Seen::Ready);
            change(&mut second.bake);
            !contradictions(&[first.clone(), second]).is_empty()
        };
        let warm = |t: f64| Place::Held(Temperature::celsius(t).unwrap());
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

    /// At one half it is worth a sentence, from nine tenths on they cannot be told apart: 1/sqrt(4 · 1) and
    /// 3.6/sqrt(16 · 1).
    #[test]
    fn a_pair_is_told_from_one_half_on() {
        let mut l = learned(&Parameters::shipped().unwrap());
        l.z = [0.0; COUNT];
        let mut told = |variance: f64, both: f64| {
            l.covariance = vec![vec![0.0; COUNT]; COUNT];
            (l.covariance[0][0], l.covariance[3][3]) = (variance, 1.0);
            (l.covariance[0][3], l.covariance[3][0]) = (both, both);
            let pairs = l.pairs(&[0, 3]);
            pairs
                .first()
                .map(|p| p.in_words.contains("cannot be told apart"))
        };
        assert_eq!(told(4.0, 0.99), None);
        assert_eq!(told(4.0, 1.0), Some(false));
        assert_eq!(told(16.0, 3.59), Some(false));
        assert_eq!(told(16.0, 3.6), Some(true));
    }

    /// What the log says nothing about is named, with the bake that would tell it.
    #[test]
    fn what_is_not_told_has_its_remedy() {
        let prior = Parameters::shipped().unwrap();
        for (j, sentence) in [
            (
                0,
                "nothing about the end point of the poolish: it keeps the value and the error of the table; log a bake of that kind seen ripe",
            ),
            (
                TILT,
                "nothing about the temperature slope: it keeps the value and the error of the table; log a bake at another temperature",
            ),
            (
                GROWTH,
                "nothing about the growth rate: it keeps the value and the error of the table; log a bake with much less yeast",
            ),
        ] {
            let mut l = learned(&prior);
            for e in &mut l.estimates {
                e.standard_error = (e.name != NAMES[j]).then_some(0.1);
            }
            let said = l.limits(&[0, 1, TILT, GROWTH]);
            let named: Vec<_> = said.iter().filter(|s| s.contains("says nothing")).collect();
            assert!(named.len() == 1 && named[0].ends_with(sentence), "{said:?}");
        }
    }
}
