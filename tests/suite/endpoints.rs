//! The end points are what published recipes imply; here they are refitted and compared with what is
//! shipped. This is calibration: passing shows that the fit is reproducible, not that it predicts.

use pointage::ambient::Course;
use pointage::ferment::{Composition, EndPoint, Inoculum, Kind, Parameters, Stage};
use pointage::table::{self, Purpose, Row};
use pointage::units::Temperature;

fn c(t: f64) -> Temperature {
    Temperature::celsius(t).unwrap()
}

fn fit_rows(table: &str) -> Vec<&'static Row> {
    table::get(table)
        .unwrap()
        .rows
        .iter()
        .filter(|r| r.purpose == Purpose::Fit)
        .collect()
}

/// Hours until a recipe's dough has made so much gas, at the recipe's mid-points.
fn hours(p: &Parameters, row: &Row, gas: f64) -> f64 {
    let composition = Composition::lean(row.hydration_percent.unwrap(), row.salt_percent.unwrap());
    let yeast = Inoculum {
        added: row.dose_percent.unwrap().middle(),
        carried: 0.0,
    };
    let stage = Stage {
        composition,
        yeast,
        end: EndPoint::Gas(gas),
        own_heat: None,
    };
    stage
        .ready(p, &Course::held(c(row.temperature_c.middle())))
        .unwrap()
        .hours
}

/// Errors in log time: the model's hours over the recipe's.
fn log_errors(p: &Parameters, rows: &[&Row], gas: f64) -> Vec<f64> {
    rows.iter()
        .map(|r| (hours(p, r, gas) / r.hours.middle()).ln())
        .collect()
}

fn rms(errors: &[f64]) -> f64 {
    (errors.iter().map(|e| e * e).sum::<f64>() / errors.len() as f64).sqrt()
}

/// The level with the least squares of log time, by golden section in the logarithm of the level.
fn fitted(p: &Parameters, rows: &[&Row]) -> f64 {
    let cost = |log_gas: f64| rms(&log_errors(p, rows, log_gas.exp()));
    let (mut a, mut b) = (20f64.ln(), 1500f64.ln());
    let golden = 0.5 * (5f64.sqrt() - 1.0);
    while b - a > 1e-7 {
        let (x, y) = (b - golden * (b - a), a + golden * (b - a));
        if cost(x) < cost(y) { b = y } else { a = x }
    }
    (0.5 * (a + b)).exp()
}

#[test]
fn shipped_levels_are_those_that_the_recipes_imply() {
    let p = Parameters::shipped().unwrap();
    for (table, kind) in [
        ("poolish", Kind::Poolish),
        ("biga", Kind::Biga),
        ("sponge", Kind::Sponge),
        ("straight-dough", Kind::Dough),
    ] {
        let rows = fit_rows(table);
        let gas = fitted(&p, &rows);
        let scatter = rms(&log_errors(&p, &rows, gas));
        let shipped = p.level(kind);
        println!(
            "{table}: {} rows, level {gas:.1} mL, scatter {scatter:.3} in log time; shipped {shipped:?}",
            rows.len()
        );
    }
}
