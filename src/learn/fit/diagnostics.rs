//! What was learned, and what was not.

use super::{FittedRow, LEARNED, Learned, LearnedParameter, USUAL_SCATTER, on_log_scale};
use crate::ferment::{Kind, LEARNABLE, LEARNT_NAMES, Uncertain};
use crate::learn::log::{LoggedDough, Observation, Seen};
use std::collections::BTreeMap;

/// What a log cannot tell, or what is odd about it. A `parameter` has its name in a parameter file.
#[derive(Debug, Clone, PartialEq, serde::Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[cfg_attr(feature = "schema", schemars(rename = "LearnDiagnostic"))]
#[serde(tag = "code", rename_all = "kebab-case")]
#[non_exhaustive]
#[allow(missing_docs)]
pub enum Diagnostic {
    /// The doses and temperatures of a kind that the log holds: beyond them forecasts are less sure.
    Covers {
        kind: Kind,
        fresh_percent: [f64; 2],
        temperature_c: [f64; 2],
    },
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
    /// A parameter moved by more prior standard deviations than is likely.
    MovedFar {
        parameter: &'static str,
        deviations: f64,
    },
    /// The log tells two parameters only together.
    MoveTogether {
        parameters: [&'static str; 2],
        correlation: f64,
    },
    /// The fit did not settle: nothing has an error, and a file of the parameters keeps what was before.
    NotSettled,
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
    /// A row that does not fit the others and does not count. With this factor on what stands in that column, as
    /// when a digit slipped, it would fit.
    Mistyped {
        line: u64,
        #[serde(skip_serializing_if = "Option::is_none")]
        fits_with: Option<(&'static str, f64)>,
    },
    /// Doughs with twice the yeast take so much longer than forecast, as a share.
    ResidualsFollowDose { longer_per_doubling: f64 },
    /// Doughs 5 °C warmer take so much longer than forecast, as a share.
    ResidualsFollowTemperature { longer_per_5_c: f64 },
    /// The rows of one day took so much longer than forecast, as a share.
    OddDay { date: String, longer: f64 },
    /// Single times scatter by twice the usual or more.
    LargeScatter { scatter: f64 },
}

/// Correlation from which it is worth a sentence: half of the variance is shared.
const WORTH_TELLING: f64 = 0.7;
/// Rows farther off than so many scatters, and parameters farther off than so many deviations, are odd.
const ODD: f64 = 3.0;
/// Below this probability of being sound a row is called mistyped.
const DOUBTED: f64 = 0.5;
/// And with another number it would fit, when it is this near, in scatters.
const FITS: f64 = 2.5;
/// Residuals follow something when chance does this in one log of a hundred, in standard errors.
const FOLLOWS: f64 = 2.5;
/// Rows that a trend of the residuals takes.
const TREND_ROWS: usize = 5;
/// Temperatures closer than this teach nothing about the slope, K.
const ONE_TEMPERATURE_K: f64 = 2.0;
/// Doses closer than this factor teach little about growth.
const ONE_DOSE: f64 = 1.5;

impl Learned {
    /// Fills in the report.
    pub(super) fn report(&mut self, scatter_is_known: bool) {
        let estimate = |j: usize| {
            let (which, learned_share) = (LEARNABLE[j], self.learned_share(j));
            let sd = self.prior.spread_of(which);
            let has_error = learned_share >= LEARNED && self.is_sound();
            LearnedParameter {
                name: LEARNT_NAMES[j],
                prior: self.prior.learnt_value(which),
                prior_sd: sd,
                value: self.parameters.learnt_value(which),
                standard_error: has_error.then(|| sd * self.found.covariance[(j, j)].sqrt()),
                on_log_scale: on_log_scale(which),
                moved: self.found.z[j],
                learned_share,
            }
        };
        self.estimates = self.concerned().map(estimate).collect();
        let off = |r: &FittedRow| (r.standardised.abs(), r.line);
        let mut farthest: Vec<(f64, u64)> = self.rows.iter().map(off).collect();
        farthest.retain(|(off, _)| *off > 0.0);
        farthest.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
        self.largest = farthest.iter().take(3).map(|(_, line)| *line).collect();
        let mut findings = coverage(&self.observations);
        findings.extend(self.of_parameters());
        findings.extend(contradictions(&self.observations));
        findings.extend(self.mistyped());
        findings.extend(self.trends());
        if !scatter_is_known && self.scatter > 2.0 * USUAL_SCATTER {
            let scatter = self.scatter;
            findings.push(Diagnostic::LargeScatter { scatter });
        }
        self.findings = findings;
    }

    fn of_parameters(&self) -> Vec<Diagnostic> {
        let mut found = Vec::new();
        if !self.is_sound() {
            found.push(Diagnostic::NotSettled);
        }
        if self.estimates.is_empty() {
            found.push(Diagnostic::NothingToLearn);
        }
        let concerned: Vec<usize> = self.concerned().collect();
        for (n, (&j, e)) in concerned.iter().zip(&self.estimates).enumerate() {
            let (parameter, deviations) = (e.name, e.moved.abs());
            let by_itself = matches!(
                LEARNABLE[j],
                Uncertain::Level(_) | Uncertain::Tilt | Uncertain::GrowthRate
            );
            if e.standard_error.is_none() && self.is_sound() && by_itself {
                found.push(Diagnostic::NotInformed { parameter });
            }
            if deviations > ODD {
                found.push(Diagnostic::MovedFar {
                    parameter,
                    deviations,
                });
            }
            let c = &self.found.covariance;
            for &k in &concerned[n + 1..] {
                let correlation = c[(j, k)] / (c[(j, j)] * c[(k, k)]).sqrt();
                if correlation.abs() >= WORTH_TELLING {
                    found.push(Diagnostic::MoveTogether {
                        parameters: [parameter, LEARNT_NAMES[k]],
                        correlation,
                    });
                }
            }
        }
        for (which, parameter) in LEARNABLE.into_iter().zip(LEARNT_NAMES) {
            let logged = |kind| self.observations.iter().any(|o| o.bake.kind == kind);
            let is_exact = self.prior.spread_of(which) == 0.0;
            if is_exact && matches!(which, Uncertain::Level(kind) if logged(kind)) {
                found.push(Diagnostic::Exact { parameter });
            }
        }
        found
    }

    /// Rows that are more likely mistyped than not, and the slip of a digit with which they would fit.
    fn mistyped(&self) -> impl Iterator<Item = Diagnostic> {
        let doubted = self.rows.iter().zip(&self.observations);
        let doubted = doubted.filter(|(row, _)| row.weight < DOUBTED);
        doubted.map(|(row, o)| {
            let off = |column: &str, factor: f64| {
                let mut bake = o.bake.clone();
                let mut hours = o.hours;
                match column {
                    "hours" => hours *= factor,
                    _ => bake.fresh_percent *= factor,
                }
                let predicted = bake.ready(&self.parameters).ok()?;
                Some((hours / predicted).ln().abs() / self.scatter)
            };
            let slips = ["yeast_g", "hours"]
                .into_iter()
                .flat_map(|c| [(c, 0.1), (c, 10.0)]);
            let near = slips.filter_map(|(c, factor)| Some((off(c, factor)?, (c, factor))));
            let best = near.min_by(|a, b| a.0.total_cmp(&b.0));
            let fits = best.filter(|(off, _)| o.seen == Seen::Ready && *off < FITS);
            Diagnostic::Mistyped {
                line: row.line,
                fits_with: fits.map(|(_, slip)| slip),
            }
        })
    }

    /// What the residuals go with.
    fn trends(&self) -> Vec<Diagnostic> {
        let rows = self.rows.iter().zip(&self.observations);
        let rows: Vec<(f64, &Observation)> = rows
            .filter(|(row, o)| o.seen == Seen::Ready && row.weight >= DOUBTED)
            .map(|(row, o)| (row.standardised, o))
            .collect();
        let longer = |standardised: f64| (standardised * self.scatter).exp_m1();
        // The slope of the residuals, where it is more than chance.
        let slope = |of: fn(&Observation) -> f64| {
            let mean = rows.iter().map(|(_, o)| of(o)).sum::<f64>() / rows.len() as f64;
            let square: f64 = rows.iter().map(|(_, o)| (of(o) - mean).powi(2)).sum();
            let slope = rows
                .iter()
                .map(|(off, o)| off * (of(o) - mean))
                .sum::<f64>()
                / square;
            (rows.len() >= TREND_ROWS && slope.abs() * square.sqrt() > FOLLOWS).then_some(slope)
        };
        let mut found = Vec::new();
        if let Some(slope) = slope(|o| o.bake.dose().log2()) {
            found.push(Diagnostic::ResidualsFollowDose {
                longer_per_doubling: longer(slope),
            });
        }
        if let Some(slope) = slope(|o| o.bake.place.about_c(o.hours)) {
            found.push(Diagnostic::ResidualsFollowTemperature {
                longer_per_5_c: longer(5.0 * slope),
            });
        }
        let mut days: BTreeMap<&str, (f64, f64)> = BTreeMap::new();
        for (off, o) in &rows {
            let (count, sum) = days.entry(&o.date).or_default();
            (*count, *sum) = (*count + 1.0, *sum + off);
        }
        let several = days.len() > 1;
        for (day, (count, sum)) in days
            .into_iter()
            .filter(|(day, _)| several && !day.is_empty())
        {
            if count > 1.0 && f64::abs(sum) > FOLLOWS * f64::sqrt(count) {
                found.push(Diagnostic::OddDay {
                    date: day.to_owned(),
                    longer: longer(sum / count),
                });
            }
        }
        found
    }
}

/// What the log holds of a kind.
pub(super) struct Span {
    fresh_percent: [f64; 2],
    temperature_c: [f64; 2],
}

impl Span {
    pub fn of<'o>(rows: impl Iterator<Item = &'o Observation> + Clone, kind: Kind) -> Option<Self> {
        let of_kind = rows.filter(|o| o.bake.kind == kind);
        let ends = |of: fn(&Observation) -> f64| {
            let all = of_kind.clone().map(of);
            Some([all.clone().reduce(f64::min)?, all.reduce(f64::max)?])
        };
        Some(Self {
            fresh_percent: ends(|o| o.bake.dose())?,
            temperature_c: ends(|o| o.bake.place.about_c(o.hours))?,
        })
    }

    /// How far a dough lies beyond: log dose and K.
    pub fn beyond(&self, bake: &LoggedDough, hours: f64) -> (f64, f64) {
        let outside = |x: f64, [low, high]: [f64; 2]| (low - x).max(x - high).max(0.0);
        let dose = outside(bake.dose().ln(), self.fresh_percent.map(f64::ln));
        (dose, outside(bake.place.about_c(hours), self.temperature_c))
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
    for kind in Kind::ALL {
        let Some(Span {
            fresh_percent,
            temperature_c,
        }) = Span::of(rows.iter(), kind)
        else {
            continue;
        };
        found.push(Diagnostic::Covers {
            kind,
            fresh_percent,
            temperature_c,
        });
        // A dough is always made with about the same; its stages are no place to learn growth.
        let whole = !matches!(kind, Kind::Bulk | Kind::Proof);
        let several = rows.iter().filter(|o| o.bake.kind == kind).count() > 1;
        if whole && several && fresh_percent[1] < ONE_DOSE * fresh_percent[0] {
            found.push(Diagnostic::OneDose { kind });
        }
    }
    let about = |o: &Observation| o.bake.place.about_c(o.hours);
    let coldest = rows.iter().map(about).fold(f64::INFINITY, f64::min);
    let warmest = rows.iter().map(about).fold(f64::NEG_INFINITY, f64::max);
    if warmest - coldest < ONE_TEMPERATURE_K {
        let about_c = about(&rows[0]);
        found.push(Diagnostic::OneTemperature { about_c });
    }
    found
}

/// Rows that say different things about the same dough; no more than three pairs.
fn contradictions(rows: &[Observation]) -> Vec<Diagnostic> {
    // The difference of two times scatters by sqrt(2) times the scatter of one.
    let far = ODD * 2f64.sqrt() * USUAL_SCATTER;
    // What two doughs have alike that are the same, and by how much it may differ; all pairs are looked at.
    const NEAR: [f64; 4] = [0.05, 0.5, 3.0, 0.3];
    let traits = rows.iter().map(|o| {
        let (bake, made) = (&o.bake, &o.bake.composition);
        let about_c = bake.place.about_c(o.hours);
        [
            bake.dose().ln(),
            about_c,
            made.hydration_percent,
            made.salt_percent,
        ]
    });
    let traits: Vec<[f64; 4]> = traits.collect();
    let same = |i: usize, k: usize| {
        let near = |j: usize| (traits[i][j] - traits[k][j]).abs() <= NEAR[j];
        (0..4).all(near)
            && rows[i].bake.kind == rows[k].bake.kind
            && rows[i].bake.rise == rows[k].bake.rise
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
    let pairs = (0..rows.len()).flat_map(|i| (i + 1..rows.len()).map(move |k| (i, k)));
    let clashing = pairs.filter(|&(i, k)| same(i, k) && clash(&rows[i], &rows[k]));
    let found = clashing.take(3).map(|(i, k)| Diagnostic::Contradiction {
        lines: [rows[i].line, rows[k].line],
        kind: rows[i].bake.kind,
        hours: [rows[i].hours, rows[k].hours],
    });
    found.collect()
}
