//! Trajectories computed by other means: mpmath at 40 digits and scipy's DOP853 (see
//! `tests/reference/README.md`). The tolerances are those promised for the library, stated before the
//! run: 1e-9 h for times to a target, 1e-6 for the coupled systems.

use pointage::ambient::{Ambient, TemperatureProfile};
use pointage::ferment::{
    Composition, Fermentation, GasSpace, Inoculum, Kinetics, Medium, OwnHeat, Rates, Volume,
    equivalent_hours, time_to_equivalent,
};
use pointage::rate::RateLaw;
use pointage::units::{Temperature, TemperatureDifference};
use serde_json::Value;

const ODE: &str = include_str!("../reference/reference_ode.json");
const FERMENTATION: &str = include_str!("../reference/reference_fermentation.json");

/// A number, also one written as text to keep its digits.
fn num(v: &Value) -> f64 {
    v.as_f64()
        .or_else(|| v.as_str().and_then(|s| s.parse().ok()))
        .unwrap_or_else(|| panic!("no number: {v}"))
}

fn c(t: f64) -> Temperature {
    Temperature::celsius(t).unwrap()
}

fn law(name: &str) -> RateLaw {
    match name {
        "q10" => RateLaw::q10(2.3, 24.0, [-20.0, 60.0]).unwrap(),
        "ctmi" => RateLaw::cardinal(3.0, 32.0, 45.0, 24.0).unwrap(),
        other => panic!("{other}"),
    }
}

fn sinusoid(v: &Value) -> Ambient {
    Ambient::daily(
        c(num(&v["mean"])),
        TemperatureDifference::kelvin(num(&v["amplitude"])).unwrap(),
        num(&v["period_h"]),
        num(&v["phase_h"]),
    )
    .unwrap()
}

fn knots(v: &Value) -> Ambient {
    let knots: Vec<(f64, f64)> = v
        .as_array()
        .unwrap()
        .iter()
        .map(|k| (num(&k[0]), num(&k[1])))
        .collect();
    Ambient::ramps(&knots).unwrap()
}

#[test]
fn time_to_target_over_every_course() {
    let all: Value = serde_json::from_str(ODE).unwrap();
    let cases = all["time_to_target"].as_array().unwrap();
    assert!(cases.len() >= 18);
    let mut worst: f64 = 0.0;
    for case in cases {
        let name = case["course"].as_str().unwrap();
        let room = match case["kind"].as_str().unwrap() {
            "piecewise_linear" => knots(&all["inputs"]["piecewise_linear"][name]),
            "sinusoid" => sinusoid(&all["inputs"]["sinusoid"][name]),
            other => panic!("{other}"),
        };
        let law = law(case["rate"].as_str().unwrap());
        let course = TemperatureProfile::of_room(&room, 0.0);
        let target = num(&case["target_h_at_ref"]);
        let t = time_to_equivalent(&law, &course, target).unwrap().unwrap();
        worst = worst.max((t - num(&case["t_h"])).abs());
        assert!(
            (t - num(&case["t_h"])).abs() < 1e-9,
            "{name}: {t} for {}",
            case["t_h"]
        );
        let eight = equivalent_hours(&law, &course, 8.0).unwrap();
        assert!(
            (eight - num(&case["integral_0_to_8h"])).abs() < 1e-9,
            "{name}: {eight}"
        );
    }
    println!(
        "time to target: {} cases, worst difference {worst:.1e} h",
        cases.len()
    );
}

#[test]
fn published_values_of_the_laws() {
    let all: Value = serde_json::from_str(ODE).unwrap();
    let cardinal = RateLaw::cardinal(3.0, 32.0, 45.0, 32.0).unwrap();
    for (t, value) in all["closed_forms"]["ctmi_values_mu_opt_1"]
        .as_object()
        .unwrap()
    {
        let rate = cardinal.relative_rate(c(t.parse().unwrap())).unwrap();
        assert!((rate - num(value)).abs() < 1e-14, "{t} °C: {rate}");
    }
    for (t, value) in all["closed_forms"]["q10_values"].as_object().unwrap() {
        let rate = law("q10").relative_rate(c(t.parse().unwrap())).unwrap();
        assert!((rate / num(value) - 1.0).abs() < 1e-14, "{t} °C: {rate}");
    }
}

/// Any gas space, for cases that do not look at volume.
pub(crate) fn some_volume() -> Volume {
    GasSpace {
        molar_volume: 24_465.0,
        solubility: 0.034,
        solubility_slope_k: 2400.0,
        flour_density: 1.45,
        air_free: 0.94,
        flour_moisture_percent: 14.0,
        retention: 0.95,
        full_to_ratio: 2.75,
        none_from_ratio: 5.0,
    }
    .of(&Composition::lean(62.0, 0.0), 0.0)
}

/// `dT/dt = k (room - T) + heat x f(T)`, `dx/dt = mu f(T) x`, `dI/dt = f(T)`: a fermentation without
/// lag, cap or salt, in which gas and growth follow one curve.
#[test]
fn coupled_dough_and_yeast() {
    let all: Value = serde_json::from_str(ODE).unwrap();
    let cases = all["coupled"].as_array().unwrap();
    assert!(cases.len() >= 4);
    for case in cases {
        let p = &case["parameters"];
        let law = law(case["rate"].as_str().unwrap());
        let at = |t: f64| law.relative_rate(c(t)).unwrap();
        let heat = num(&p["heat_K_per_h_per_x"]);
        // One mL per unit of x and reference hour, which warms by `heat`.
        let rates = Rates {
            specific_gas_rate: at(30.0),
            growth_rate: num(&p["mu_ref_per_h"]),
            growth_cap: f64::INFINITY,
            lag27_h: 0.0,
        };
        let kinetics = Kinetics::new(law.clone(), law.clone(), rates).unwrap();
        let ambient = &p["ambient"];
        let room = match ambient["kind"].as_str().unwrap() {
            "constant" => Ambient::constant(c(num(&ambient["value"]))).unwrap(),
            "sinusoid" => sinusoid(ambient),
            other => panic!("{other}"),
        };
        let yeast = Inoculum {
            carried: num(&p["x0"]),
            added: 0.0,
        };
        let ferment = Fermentation::new(&kinetics, Medium::NEUTRAL, some_volume(), yeast)
            .unwrap()
            .with_own_heat(OwnHeat {
                kelvin_per_ml: heat,
            });
        let dough =
            TemperatureProfile::following(&room, 0.0, c(num(&p["T0"])), 1.0 / num(&p["k_per_h"]))
                .unwrap();
        let at_27 = at(27.0); // lag_hours are hours at 27 °C
        for point in case["solution"].as_array().unwrap() {
            let s = ferment
                .after(&ferment.start(), &dough, num(&point["t_h"]))
                .unwrap();
            let name = format!("{} {} at {} h", case["name"], case["rate"], point["t_h"]);
            assert!(
                (s.temperature_c() - num(&point["T_C"])).abs() < 1e-6,
                "{name}: {} °C",
                s.temperature_c()
            );
            assert!(
                (s.yeast() - num(&point["x"])).abs() < 1e-6,
                "{name}: x {}",
                s.yeast()
            );
            assert!(
                (s.lag_hours() * at_27 - num(&point["I_h"])).abs() < 1e-6,
                "{name}: I"
            );
        }
        let t = ferment
            .until(&ferment.start(), &dough, &|s| s.lag_hours() * at_27 - 3.0)
            .unwrap()
            .unwrap()
            .hours();
        assert!(
            (t - num(&case["t_when_I_is_3h"])).abs() < 1e-6,
            "{}: {t}",
            case["name"]
        );
    }
}

#[test]
fn fermentations_with_growth_lag_salt_and_own_heat() {
    let all: Value = serde_json::from_str(FERMENTATION).unwrap();
    let meta = &all["meta"];
    let (g, x) = (&meta["gas_law"], &meta["growth_law"]);
    let gas = RateLaw::square_root(
        num(&g["t_min_c"]),
        num(&g["t_max_c"]),
        num(&g["c_per_k"]),
        num(&g["reference_c"]),
    );
    let growth = RateLaw::cardinal(
        num(&x["t_min_c"]),
        num(&x["t_opt_c"]),
        num(&x["t_max_c"]),
        num(&x["t_opt_c"]),
    );
    let rates = Rates {
        specific_gas_rate: num(&meta["q30"]),
        growth_rate: num(&meta["mu_per_h"]),
        growth_cap: num(&meta["D"]),
        lag27_h: num(&meta["lag27_h"]),
    };
    let kinetics = Kinetics::new(gas.unwrap(), growth.unwrap(), rates).unwrap();
    let close = |a: f64, b: f64| (a / b - 1.0).abs() < 1e-6;
    let mut points = 0;
    for case in all["cases"].as_array().unwrap() {
        let name = case["name"].as_str().unwrap();
        let medium = Medium {
            gas_factor: num(&case["gas_factor"]),
            growth_factor: num(&case["growth_factor"]),
            ..Medium::NEUTRAL
        };
        let yeast = Inoculum {
            added: num(&case["yeast0_g_per_100g"]),
            carried: 0.0,
        };
        let room = knots(&case["room_knots"]);
        let mut ferment = Fermentation::new(&kinetics, medium, some_volume(), yeast).unwrap();
        let mut course = TemperatureProfile::of_room(&room, 0.0);
        let heat = &case["own_heat"];
        if !heat.is_null() {
            let (kg, c_dough) = (
                num(&heat["kg_dough_per_100g_flour"]),
                num(&heat["c_kJ_per_kgK"]),
            );
            ferment = ferment.with_own_heat(OwnHeat::new(50.0, 24_465.0, kg, c_dough).unwrap());
            course = TemperatureProfile::following(
                &room,
                0.0,
                c(num(&heat["T0_c"])),
                num(&heat["tau_h"]),
            )
            .unwrap();
        }
        for point in case["solution"].as_array().unwrap() {
            let s = ferment
                .after(&ferment.start(), &course, num(&point["t_h"]))
                .unwrap();
            let at = format!("{name} at {} h: {s:?}", point["t_h"]);
            assert!(close(s.gas(), num(&point["gas_ml_per_100g"])), "{at}");
            assert!(close(s.yeast(), num(&point["yeast_g_per_100g"])), "{at}");
            assert!(
                close(s.temperature_c(), num(&point["temperature_c"])),
                "{at}"
            );
            points += 1;
        }
        let target = num(&case["gas_target"]);
        let t = ferment
            .until_gas(&ferment.start(), &course, target)
            .unwrap()
            .unwrap()
            .hours();
        assert!(close(t, num(&case["target_h"])), "{name}: {t}");
    }
    assert!(points >= 40);
}
