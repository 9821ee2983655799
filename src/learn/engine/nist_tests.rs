//! The engine against certified answers: the nonlinear regression sets of the Statistical Reference
//! Datasets of NIST, in their original file form. One engine, one setting, both published starts.
//!
//! The log relative error `LRE = -log10(|found - certified| / |certified|)` counts matching digits; 11
//! are printed in the files, so it is cut at 11.

use super::Fit;
use crate::learn::random::Random;
use std::f64::consts::PI;

/// A file of the set.
struct Set {
    name: String,
    starts: [Vec<f64>; 2],
    certified: Vec<f64>,
    deviations: Vec<f64>,
    rss: f64,
    residual_sd: f64,
    /// Response first, then the predictors.
    rows: Vec<Vec<f64>>,
}

/// Reads the published form: a line `b1 = start1 start2 value deviation` for each parameter, and the
/// rows after the second line that begins with `Data:`.
fn read(text: &str) -> Set {
    let numbers = |s: &str| -> Vec<f64> {
        s.split_whitespace()
            .map(|w| w.parse().unwrap_or(f64::NAN))
            .collect()
    };
    let after = |label: &str| -> f64 {
        let line = text.lines().find(|l| l.starts_with(label)).unwrap();
        numbers(line.split(':').nth(1).unwrap())[0]
    };
    let name = text
        .lines()
        .find_map(|l| l.strip_prefix("Dataset Name:"))
        .unwrap();
    let table: Vec<Vec<f64>> = text
        .lines()
        .filter_map(|l| {
            let (left, right) = l.split_once('=')?;
            let index = left.trim().strip_prefix('b')?;
            let row = numbers(right);
            (index.parse::<usize>().is_ok() && row.len() == 4 && row.iter().all(|v| v.is_finite()))
                .then_some(row)
        })
        .collect();
    let column = |k: usize| table.iter().map(|r| r[k]).collect::<Vec<f64>>();
    let rows: Vec<Vec<f64>> = text
        .lines()
        .skip_while(|l| !l.starts_with("Data:"))
        .skip(1)
        .skip_while(|l| !l.starts_with("Data:"))
        .skip(1)
        .map(numbers)
        .filter(|r| !r.is_empty())
        .collect();
    let observations = after("Number of Observations") as usize;
    assert_eq!(rows.len(), observations, "{name}");
    let freedom = after("Degrees of Freedom") as usize;
    assert_eq!(observations - table.len(), freedom, "{name}");
    Set {
        name: name.split_whitespace().next().unwrap().to_owned(),
        starts: [column(0), column(1)],
        certified: column(2),
        deviations: column(3),
        rss: after("Residual Sum of Squares"),
        residual_sd: after("Residual Standard Deviation"),
        rows,
    }
}

type Model = fn(&[f64], &[f64]) -> f64;

fn misra1a(b: &[f64], x: &[f64]) -> f64 {
    b[0] * (1.0 - (-b[1] * x[0]).exp())
}

fn misra1b(b: &[f64], x: &[f64]) -> f64 {
    b[0] * (1.0 - (1.0 + b[1] * x[0] / 2.0).powi(-2))
}

fn misra1c(b: &[f64], x: &[f64]) -> f64 {
    b[0] * (1.0 - (1.0 + 2.0 * b[1] * x[0]).powf(-0.5))
}

fn misra1d(b: &[f64], x: &[f64]) -> f64 {
    b[0] * b[1] * x[0] / (1.0 + b[1] * x[0])
}

fn chwirut(b: &[f64], x: &[f64]) -> f64 {
    (-b[0] * x[0]).exp() / (b[1] + b[2] * x[0])
}

fn danwood(b: &[f64], x: &[f64]) -> f64 {
    b[0] * x[0].powf(b[1])
}

fn lanczos(b: &[f64], x: &[f64]) -> f64 {
    (0..3)
        .map(|k| b[2 * k] * (-b[2 * k + 1] * x[0]).exp())
        .sum()
}

fn gauss(b: &[f64], x: &[f64]) -> f64 {
    let peak = |h: f64, at: f64, w: f64| h * (-(x[0] - at).powi(2) / w.powi(2)).exp();
    b[0] * (-b[1] * x[0]).exp() + peak(b[2], b[3], b[4]) + peak(b[5], b[6], b[7])
}

fn kirby2(b: &[f64], x: &[f64]) -> f64 {
    let x = x[0];
    (b[0] + b[1] * x + b[2] * x * x) / (1.0 + b[3] * x + b[4] * x * x)
}

fn hahn1(b: &[f64], x: &[f64]) -> f64 {
    let x = x[0];
    let above = b[0] + x * (b[1] + x * (b[2] + x * b[3]));
    above / (1.0 + x * (b[4] + x * (b[5] + x * b[6])))
}

/// The response is log y.
fn nelson(b: &[f64], x: &[f64]) -> f64 {
    b[0] - b[1] * x[0] * (-b[2] * x[1]).exp()
}

fn mgh17(b: &[f64], x: &[f64]) -> f64 {
    b[0] + b[1] * (-x[0] * b[3]).exp() + b[2] * (-x[0] * b[4]).exp()
}

fn enso(b: &[f64], x: &[f64]) -> f64 {
    let wave = |c: f64, s: f64, period: f64| {
        let angle = 2.0 * PI * x[0] / period;
        c * angle.cos() + s * angle.sin()
    };
    b[0] + wave(b[1], b[2], 12.0) + wave(b[4], b[5], b[3]) + wave(b[7], b[8], b[6])
}

fn roszman1(b: &[f64], x: &[f64]) -> f64 {
    b[0] - b[1] * x[0] - (b[2] / (x[0] - b[3])).atan() / PI
}

macro_rules! sets {
    ($($file:literal => $model:expr),* $(,)?) => {
        [$((include_str!(concat!("../../../tests/reference/nist/", $file, ".dat")), $model as Model)),*]
    };
}

fn sets() -> [(&'static str, Model); 19] {
    sets![
        "Misra1a" => misra1a, "Misra1b" => misra1b, "Misra1c" => misra1c, "Misra1d" => misra1d,
        "Chwirut1" => chwirut, "Chwirut2" => chwirut, "DanWood" => danwood,
        "Lanczos1" => lanczos, "Lanczos2" => lanczos, "Lanczos3" => lanczos,
        "Gauss1" => gauss, "Gauss2" => gauss, "Gauss3" => gauss,
        "Kirby2" => kirby2, "Hahn1" => hahn1, "Nelson" => nelson, "MGH17" => mgh17,
        "ENSO" => enso, "Roszman1" => roszman1,
    ]
}

fn response(set: &Set, row: &[f64]) -> f64 {
    if set.name == "Nelson" {
        row[0].ln()
    } else {
        row[0]
    }
}

/// Places of terms that are alike, so that a sum of them is the same in any order; the first tells them apart.
fn like_terms(name: &str) -> &'static [&'static [usize]] {
    match name {
        "Lanczos1" | "Lanczos2" | "Lanczos3" => &[&[1, 0], &[3, 2], &[5, 4]],
        "Gauss1" | "Gauss2" | "Gauss3" => &[&[3, 2, 4], &[6, 5, 7]],
        "MGH17" => &[&[3, 1], &[4, 2]],
        "ENSO" => &[&[3, 4, 5], &[6, 7, 8]],
        _ => &[],
    }
}

/// Where each certified parameter is among those found.
fn places(set: &Set, found: &[f64]) -> Vec<usize> {
    let mut places: Vec<usize> = (0..found.len()).collect();
    let sorted = |values: &[f64]| {
        let mut terms = like_terms(&set.name).to_vec();
        terms.sort_by(|a, b| values[a[0]].total_cmp(&values[b[0]]));
        terms.concat()
    };
    for (certified, found) in sorted(&set.certified).into_iter().zip(sorted(found)) {
        places[certified] = found;
    }
    places
}

fn lre(found: f64, certified: f64) -> f64 {
    let error = ((found - certified) / certified).abs();
    if error == 0.0 {
        11.0
    } else {
        (-error.log10()).clamp(0.0, 11.0)
    }
}

/// First the models themselves: at the certified values they give the certified sum of squares.
#[test]
fn models_give_the_certified_sum_of_squares() {
    for (text, model) in sets() {
        let set = read(text);
        let rss: f64 = set
            .rows
            .iter()
            .map(|r| (model(&set.certified, &r[1..]) - response(&set, r)).powi(2))
            .sum();
        // Values are printed to 11 digits. Lanczos1 has residuals of 1e-13, below what they carry.
        if set.name != "Lanczos1" {
            assert!(lre(rss, set.rss) > 5.0, "{}: {rss}", set.name);
        }
    }
}

/// Eight digits in the parameters and five in their deviations, from both starts; of Lanczos1 the
/// parameters alone, because its residuals are rounding of the data.
#[test]
fn certified_values_are_found_from_both_starts() {
    println!("set       start  parameters  deviations  residual sd  evaluations");
    let mut short = Vec::new();
    for (text, model) in sets() {
        let set = read(text);
        for (k, start) in set.starts.iter().enumerate() {
            let evaluations = std::cell::Cell::new(0);
            let fit = Fit::new(set.rows.len(), |b, out| {
                evaluations.set(evaluations.get() + 1);
                for (r, row) in out.iter_mut().zip(&set.rows) {
                    *r = model(b, &row[1..]) - response(&set, row);
                }
            });
            let report = fit.run(&vec!["b"; start.len()], start).unwrap();
            let least = |pairs: &mut dyn Iterator<Item = (f64, f64)>| {
                pairs.map(|(a, b)| lre(a, b)).fold(11.0, f64::min)
            };
            let places = places(&set, &report.values());
            let estimates = || places.iter().map(|&j| &report.estimates[j]);
            let values: Vec<f64> = estimates().map(|e| e.value).collect();
            let errors: Vec<f64> = estimates()
                .map(|e| e.standard_error.unwrap_or(f64::NAN))
                .collect();
            let digits = least(&mut values.iter().copied().zip(set.certified.iter().copied()));
            let sd_digits = least(&mut errors.iter().copied().zip(set.deviations.iter().copied()));
            let residual = lre(report.residual_sd.unwrap(), set.residual_sd);
            println!(
                "{:<10}{:>5}{digits:>12.1}{sd_digits:>12.1}{residual:>13.1}{:>13}",
                set.name,
                k + 1,
                evaluations.get()
            );
            let deviations_count = set.name != "Lanczos1";
            let enough = digits >= 8.0 && (!deviations_count || sd_digits >= 5.0);
            if !enough || !report.stop.converged() {
                short.push(format!(
                    "{} from start {}: {:?}",
                    set.name,
                    k + 1,
                    report.stop
                ));
            }
        }
    }
    assert!(short.is_empty(), "{short:?}");
}

/// A family of curves with true parameters and the x to see it at.
struct Family {
    name: &'static str,
    curve: Model,
    truth: &'static [f64],
    x: (f64, f64),
}

fn families() -> [Family; 8] {
    let f = |name, curve: Model, truth, x| Family {
        name,
        curve,
        truth,
        x,
    };
    [
        f(
            "logistic",
            |b, x| b[0] / (1.0 + (b[1] - b[2] * x[0]).exp()),
            &[9.0, 3.0, 0.2],
            (0.0, 40.0),
        ),
        f(
            "Gompertz",
            |b, x| b[0] * (-(b[1] - b[2] * x[0]).exp()).exp(),
            &[9.0, 1.5, 0.2],
            (0.0, 40.0),
        ),
        f(
            "saturation",
            |b, x| b[0] * (1.0 - (-b[1] * x[0]).exp()),
            &[20.0, 0.6],
            (0.5, 9.0),
        ),
        f(
            "peak",
            |b, x| b[0] * (-((x[0] - b[1]) / b[2]).powi(2)).exp(),
            &[5.0, 31.0, 4.0],
            (5.0, 60.0),
        ),
        f(
            "two decays",
            |b, x| b[0] * (-b[1] * x[0]).exp() + b[2] * (-b[3] * x[0]).exp(),
            &[4.0, 0.05, 7.0, 0.6],
            (0.0, 40.0),
        ),
        f(
            "Vogel",
            |b, x| b[0] * (b[1] / (x[0] - b[2])).exp(),
            &[0.2, 900.0, 140.0],
            (250.0, 400.0),
        ),
        f(
            "Hill",
            |b, x| b[0] * x[0].powf(b[1]) / (b[2].powf(b[1]) + x[0].powf(b[1])),
            &[3.0, 2.5, 8.0],
            (0.5, 30.0),
        ),
        f(
            "rational",
            |b, x| (b[0] + b[1] * x[0]) / (1.0 + b[2] * x[0] + b[3] * x[0] * x[0]),
            &[1.0, 0.8, 0.05, 0.004],
            (0.0, 40.0),
        ),
    ]
}

/// Usual curves from starts that are off by factors, with 1 % noise: what counts is that the least sum
/// of squares is reached, which is at most that of the truth.
#[test]
fn usual_curves_are_fitted_from_starts_off_by_factors() {
    let mut random = Random::seeded(11);
    for family in families() {
        let mut reached = 0;
        for _ in 0..40 {
            let rows: Vec<(f64, f64)> = (0..30)
                .map(|i| {
                    let x = family.x.0 + (family.x.1 - family.x.0) * f64::from(i) / 29.0;
                    let y = (family.curve)(family.truth, &[x]);
                    (x, y * (1.0 + 0.01 * random.normal()))
                })
                .collect();
            let curve = family.curve;
            let sum = |b: &[f64]| {
                rows.iter()
                    .map(|(x, y)| (curve(b, &[*x]) - y).powi(2))
                    .sum::<f64>()
            };
            let start: Vec<f64> = family
                .truth
                .iter()
                .map(|t| t * (0.7 * random.normal()).exp())
                .collect();
            let report = Fit::new(rows.len(), |b, out| {
                for (r, (x, y)) in out.iter_mut().zip(&rows) {
                    *r = curve(b, &[*x]) - y;
                }
            })
            .run(&vec!["b"; start.len()], &start)
            .unwrap();
            reached += u32::from(report.rss <= sum(family.truth) * (1.0 + 1e-9));
        }
        println!(
            "{}: {reached} of 40 starts reach the least sum",
            family.name
        );
        assert!(reached >= 38, "{}: {reached} of 40", family.name);
    }
}
