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
