//! Rate laws fitted to two published sets of growth rates, against answers worked out with 60 digits
//! (`tests/reference/reference_growth_fits.json`, which names its programs and conventions).

use pointage::learn::rate_fit::{Law, Speed, Transform, fit_rate};
use pointage::table;
use pointage::units::Temperature;
use serde_json::Value;

fn number(v: &Value) -> f64 {
    v.as_f64()
        .unwrap_or_else(|| v.as_str().unwrap().parse().unwrap())
}

fn numbers(v: &Value) -> Vec<f64> {
    v.as_array().unwrap().iter().map(number).collect()
}

fn law(name: &str) -> Law {
    match name {
        "ctmi" => Law::Cardinal,
        "ratkowsky1983" => Law::SquareRoot,
        "sharpe_schoolfield_high" => Law::SharpeSchoolfield,
        "q10" => Law::Q10,
        "arrhenius" => Law::Arrhenius,
        other => panic!("{other}"),
    }
}

/// Parameters to 6 digits, standard errors to 4, the two criteria to 1e-3, from starts that the data
/// themselves give.
#[test]
fn five_laws_on_two_sets_as_worked_out_elsewhere() {
    let text = include_str!("../reference/reference_growth_fits.json");
    let reference: Value = serde_json::from_str(text).unwrap();
    let mut fits = 0;
    for job in reference["fits"].as_array().unwrap() {
        let label = format!("{} {}", job["dataset"], job["model"]);
        let points: Vec<Speed> = numbers(&job["T_C"])
            .into_iter()
            .zip(numbers(&job["y"]))
            .map(|(t, rate)| Speed {
                temperature: Temperature::celsius(t).unwrap(),
                rate,
            })
            .collect();
        let transform = match job["transform"].as_str().unwrap() {
            "none" => Transform::None,
            "sqrt" => Transform::Sqrt,
            other => panic!("{other}"),
        };
        let fit = fit_rate(&points, law(job["model"].as_str().unwrap()), transform).unwrap();
        assert!(fit.report.stop.converged(), "{label}");
        let (values, errors) = (numbers(&job["params"]), numbers(&job["se"]));
        for ((e, value), error) in fit.report.estimates.iter().zip(&values).zip(&errors) {
            let miss = (e.value / value - 1.0).abs();
            assert!(miss < 1e-6, "{label} {}: {} for {value}", e.name, e.value);
            let se = e.standard_error.unwrap();
            assert!(
                (se / error - 1.0).abs() < 1e-4,
                "{label} {}: {se} for {error}",
                e.name
            );
        }
        assert!(
            (fit.aic - number(&job["aic_R"])).abs() < 1e-3,
            "{label}: {}",
            fit.aic
        );
        match (fit.aicc, number(&job["aicc_R"])) {
            (Some(ours), theirs) => assert!((ours - theirs).abs() < 1e-3, "{label}: {ours}"),
            (None, theirs) => assert!(theirs.is_nan(), "{label}"),
        }
        for (i, row) in job["correlation"].as_array().unwrap().iter().enumerate() {
            for (j, theirs) in numbers(row).iter().enumerate() {
                let ours = fit.report.correlation(i, j).unwrap();
                assert!((ours - theirs).abs() < 1e-4, "{label} {i} {j}: {ours}");
            }
        }
        fits += 1;
    }
    assert_eq!(fits, 10);
}

/// On the scale of square roots the cardinal law gives the figures that the table `zakhartsev2015`
/// prints with their standard errors: 2.6(1.6), 32.4(1.0), 41.3(0.6) °C and 0.292(0.016) per hour.
#[test]
fn the_shipped_growth_curve_is_this_fit() {
    let shipped = table::get("zakhartsev2015").unwrap();
    let points: Vec<Speed> = shipped
        .points
        .iter()
        .map(|p| Speed {
            temperature: Temperature::celsius(p.temperature_c).unwrap(),
            rate: p.growth_rate_per_h,
        })
        .collect();
    let fit = fit_rate(&points, Law::Cardinal, Transform::Sqrt).unwrap();
    let names = ["growth_rate_per_h", "t_min_c", "t_opt_c", "t_max_c"];
    for (e, name) in fit.report.estimates.iter().zip(names) {
        let value = shipped.value(name).unwrap();
        let table::Uncertainty::StandardError(se) = value.uncertainty else {
            panic!("{name}");
        };
        // Half a unit of the last printed digit.
        let half = if name == "growth_rate_per_h" {
            0.0005
        } else {
            0.05
        };
        assert!((e.value - value.value).abs() <= half, "{name}: {}", e.value);
        let ours = e.standard_error.unwrap();
        assert!((ours - se).abs() <= half, "{name}: {ours}");
    }
}
