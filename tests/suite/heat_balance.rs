//! The heat balance against figures from elsewhere.

use pointage::heat::balance::{Mixing, Rest, ThermalMass};
use pointage::heat::dough_body::{Body, DoughProperties, Place, Shape};
use pointage::heat::ice;
use pointage::heat::properties::ThermalProperties;
use pointage::units::{Hours, Mass, Temperature};
use proptest::prelude::*;

fn c(value: f64) -> Temperature {
    Temperature::celsius(value).unwrap()
}

fn kg(value: f64) -> Mass {
    Mass::kilograms(value).unwrap()
}

fn part(mass_kg: f64, heat_capacity: f64, celsius: f64) -> ThermalMass {
    ThermalMass::new(kg(mass_kg), heat_capacity, c(celsius)).unwrap()
}

/// Flour and water with the shipped heat capacities.
fn plain(flour: ThermalMass, water: Mass) -> Mixing {
    Mixing::new(flour, water, ThermalProperties::shipped().unwrap())
}

fn water_c(mix: &Mixing, dough_c: f64) -> f64 {
    mix.water_for_dough(c(dough_c)).unwrap().water.as_celsius()
}

/// 50 kg of warm flour with salt and cold yeast, 30 kg of water.
fn summer_dough(flour_c: f64, mixing: f64) -> Mixing {
    Mixing {
        with_water: vec![part(1.0, 0.88, 30.0), part(1.0, 3.2, 5.0)],
        hydration_kj_per_kg: 15.1,
        mixing_kj_per_kg: mixing,
        ..plain(part(50.0, 1.80, flour_c), kg(30.0))
    }
}

/// Expectations of the next four tests: printed by tests/reference/mixing_chain.py (enthalpy
/// bookkeeping and bisection). 1e-5 °C and 1e-5 kg are far below a thermometer or a scale and far
/// above rounding.
const CLOSE: f64 = 1e-5;

#[test]
fn water_for_a_wanted_dough() {
    let flour = part(1.0, 1.80, 20.0);
    let bare = plain(flour, kg(0.65));
    assert!((water_c(&bare, 26.0) - 29.969_275).abs() < CLOSE);

    let salted = Mixing {
        with_water: vec![part(0.02, 0.88, 20.0)],
        hydration_kj_per_kg: 15.1,
        mixing_kj_per_kg: 6.0,
        ..bare
    };
    assert!((water_c(&salted, 26.0) - 20.775_846).abs() < CLOSE);

    let poolish = Mixing {
        with_water: vec![part(6.0, 3.05, 21.0), part(0.2, 0.88, 22.0)],
        hydration_kj_per_kg: 15.1,
        mixing_kj_per_kg: 8.0,
        ..plain(part(7.0, 1.80, 22.0), kg(3.8))
    };
    assert!((water_c(&poolish, 25.5) - 18.293_397).abs() < CLOSE);
    assert!((water_c(&summer_dough(32.0, 39.6), 24.0) - -13.161_013).abs() < CLOSE);
    assert!((water_c(&summer_dough(30.0, 12.0), 24.0) - 6.294_314).abs() < CLOSE);
}

#[test]
fn ice_for_a_wanted_dough() {
    for (mix, tap_c, ice_c, expected_kg) in [
        (summer_dough(32.0, 39.6), 10.0, -5.0, 7.540_795),
        (summer_dough(32.0, 39.6), 15.0, -5.0, 8.696_783),
        (summer_dough(30.0, 12.0), 18.0, 0.0, 3.594_589),
        (summer_dough(30.0, 12.0), 18.0, -5.0, 3.506_696),
        (summer_dough(30.0, 12.0), 18.0, -18.0, 3.297_088),
    ] {
        let want = mix.water_for_dough(c(24.0)).unwrap().water;
        let capacities = ThermalProperties::shipped().unwrap();
        let pour = ice::split(mix.water, c(tap_c), want, c(ice_c), &capacities).unwrap();
        assert!(
            (pour.ice.as_kilograms() - expected_kg).abs() < CLOSE,
            "tap {tap_c}, ice {ice_c}"
        );
    }
}

#[test]
fn dough_from_a_given_water() {
    let bare = plain(part(1.0, 1.80, 20.0), kg(0.65));
    let dough = bare.dough_from_water(c(30.0)).unwrap().dough;
    assert!((dough.as_celsius() - 26.018_492).abs() < CLOSE);

    // 10 kg of flour with 15.1 kJ/kg, and 81 kJ of mixing into 16.2 kg of dough
    let ten = Mixing {
        with_water: vec![part(0.2, 0.88, 22.0)],
        hydration_kj_per_kg: 15.1,
        mixing_kj_per_kg: 5.0,
        ..plain(part(10.0, 1.80, 22.0), kg(6.0))
    };
    let dough = ten.dough_from_water(c(10.0)).unwrap().dough;
    assert!((dough.as_celsius() - 20.397_117).abs() < CLOSE);
}

#[test]
fn a_rest_and_a_bassinage() {
    let mix = Mixing {
        with_water: vec![part(4.0, 2.993, 19.0)],
        bowl: Some(part(25.0, 0.50, 18.0)),
        rest: Some(Rest {
            length: Hours::new(0.75).unwrap().into(),
            room: c(27.0),
            time_constant_h: Some(3.4),
        }),
        after_rest: vec![
            part(0.25, 0.88, 21.0),
            part(0.08, 3.2, 5.0),
            part(0.6, 4.186, 4.0),
        ],
        hydration_kj_per_kg: 9.9,
        mixing_kj_per_kg: 9.0,
        ..plain(part(10.0, 1.80, 22.0), kg(5.2))
    };
    // tests/reference/mixing_chain.py, "autolyse and bassinage"
    let got = mix.water_for_dough(c(25.0)).unwrap();
    let [start, end] = got.rest.unwrap();
    assert!((got.water.as_celsius() - 21.783_224_450).abs() < 1e-8);
    assert!((start.as_celsius() - 22.130_222_718).abs() < 1e-8);
    assert!((end.as_celsius() - 23.094_210_389).abs() < 1e-8);
    assert!((got.dough_per_water - 0.259_692_780).abs() < 1e-8);
}

#[test]
fn a_textbook_problem_in_both_its_readings() {
    // Cengel and Boles, Thermodynamics, 8th ed., problem 5-157: 2 kg of flour and 1 kg of water
    // become a dough of 15 °C, heat of hydration 15 kJ/kg, c_water 4.18. A published solution
    // takes 15 kJ per kg of flour and prints 7.82 °C; per kg of dough it is 4.2 °C (the printed
    // answer, from memory). Digits by tests/reference/mixing_chain.py.
    let book = Mixing {
        capacities: ThermalProperties {
            c_water_kj_per_kg_k: 4.18,
            ..ThermalProperties::shipped().unwrap()
        },
        ..plain(part(2.0, 1.80, 15.0), kg(1.0))
    };
    let of_flour = Mixing {
        hydration_kj_per_kg: 15.0,
        ..book.clone()
    };
    let of_dough = Mixing {
        mixing_kj_per_kg: 15.0,
        ..book
    };
    assert!((water_c(&of_flour, 15.0) - 7.822_967).abs() < CLOSE);
    assert!((water_c(&of_dough, 15.0) - 4.234_450).abs() < CLOSE);
}

#[test]
fn sensitivity_of_the_dough_to_its_water() {
    // Arithmetic, h 4.186 / (c_flour + h 4.186), printed to four digits for c_flour 1.6, 1.8, 2.0.
    for (hydration, expected) in [
        (0.5, [0.5667, 0.5376, 0.5114]),
        (0.6, [0.6109, 0.5825, 0.5567]),
        (0.65, [0.6297, 0.6018, 0.5764]),
        (0.7, [0.6468, 0.6195, 0.5943]),
        (0.8, [0.6767, 0.6504, 0.6261]),
        (1.0, [0.7235, 0.6993, 0.6767]),
    ] {
        for (c_flour, expected) in [1.6, 1.8, 2.0].into_iter().zip(expected) {
            let mix = plain(part(1.0, c_flour, 20.0), kg(hydration));
            let got = mix.dough_from_water(c(20.0)).unwrap().dough_per_water;
            assert!(
                (got - expected).abs() < 1e-4,
                "{hydration} {c_flour}: {got}"
            );
        }
    }
    // T. Lehmann, Pizza Today 2018-06 p. 28: 5 °F of water move the dough by about 2 °F (0.40);
    // the DDT formula has 1/3, flour and water alone up to 0.65. A steel bowl of the usual weight
    // (half the dough's, or more in small machines) keeps a dough inside that band.
    for hydration in [0.55, 0.65, 0.75] {
        for bowl_kg in [0.0, 0.8, 2.0] {
            let mix = Mixing {
                bowl: Some(part(bowl_kg, 0.5, 20.0)),
                ..plain(part(1.0, 1.80, 20.0), kg(hydration))
            };
            let got = mix.dough_from_water(c(20.0)).unwrap().dough_per_water;
            assert!((0.33..=0.65).contains(&got), "{hydration} {bowl_kg}: {got}");
        }
    }
}

#[test]
fn the_rest_follows_a_covered_tub_when_nothing_is_said() {
    // A bigger mass forgets its water more slowly, a heavy bowl slows it further.
    let rested = |flour_kg: f64, bowl_kg: f64| {
        let mix = Mixing {
            bowl: Some(part(bowl_kg, 0.5, 30.0)),
            rest: Some(Rest {
                length: Hours::new(1.0).unwrap().into(),
                room: c(15.0),
                time_constant_h: None,
            }),
            ..plain(part(flour_kg, 1.80, 30.0), kg(0.65 * flour_kg))
        };
        let [start, end] = mix.dough_from_water(c(30.0)).unwrap().rest.unwrap();
        assert!((start.as_celsius() - 30.0).abs() < 1e-9);
        (end.as_celsius() - 15.0) / 15.0
    };
    assert!(rested(50.0, 0.0) > rested(1.0, 0.0));
    assert!(rested(1.0, 2.0) > rested(1.0, 0.0));
    // 1.65 kg in a tub, still air: time constant about 2.3 h (1 kg has 1.85 h at h 7 without
    // conduction, and it grows as the cube root of mass), so two thirds are left after an hour.
    assert!(
        (0.6..0.72).contains(&rested(1.0, 0.0)),
        "{}",
        rested(1.0, 0.0)
    );
}

#[test]
fn what_cannot_be_had_is_refused_in_words() {
    let bare = plain(part(10.0, 1.80, 40.0), kg(1.0));
    let cold = bare.water_for_dough(c(5.0)).unwrap_err();
    assert!(cold.is_unreachable() && cold.to_string().contains("cool the flour"));
    let bare = plain(part(10.0, 1.80, 0.0), kg(1.0));
    let hot = bare.water_for_dough(c(40.0)).unwrap_err();
    assert!(hot.is_unreachable() && hot.to_string().contains("boils"));

    // a rest of three weeks forgets the water altogether
    let forgotten = Mixing {
        rest: Some(Rest {
            length: Hours::new(504.0).unwrap().into(),
            room: c(25.0),
            time_constant_h: Some(0.1),
        }),
        ..plain(part(1.0, 1.80, 20.0), kg(0.65))
    };
    assert!(
        forgotten
            .water_for_dough(c(24.0))
            .unwrap_err()
            .is_unreachable()
    );

    // the bassinage is hot: the first mix would have to be ice
    let frozen = Mixing {
        rest: Some(Rest {
            length: Hours::new(0.5).unwrap().into(),
            room: c(20.0),
            time_constant_h: Some(3.0),
        }),
        after_rest: vec![part(3.0, 4.186, 60.0)],
        ..plain(part(2.0, 1.80, 10.0), kg(1.0))
    };
    let error = frozen.water_for_dough(c(30.0)).unwrap_err();
    assert!(error.is_unreachable() && error.to_string().contains("freezes"));

    let nonsense = Mixing {
        hydration_kj_per_kg: f64::NAN,
        ..plain(part(1.0, 1.80, 20.0), kg(0.65))
    };
    assert!(nonsense.water_for_dough(c(24.0)).is_err());
    let dry = plain(part(1.0, 1.80, 20.0), kg(0.0));
    assert!(dry.water_for_dough(c(24.0)).is_err());
}

/// Any chain a bakery might run, scaled by `scale`.
fn chain(scale: f64, temps: [f64; 6], hydration: f64, mixing: f64, rest_h: f64) -> Mixing {
    let [flour, preferment, bowl, salt, second, room] = temps;
    Mixing {
        with_water: vec![part(2.0 * scale, 2.99, preferment)],
        bowl: Some(part(1.5 * scale, 0.5, bowl)),
        rest: Some(Rest {
            length: Hours::new(rest_h).unwrap().into(),
            room: c(room),
            time_constant_h: Some(2.5),
        }),
        after_rest: vec![
            part(0.06 * scale, 0.88, salt),
            part(0.3 * scale, 4.186, second),
        ],
        hydration_kj_per_kg: hydration,
        mixing_kj_per_kg: mixing,
        ..plain(part(3.0 * scale, 1.80, flour), kg(1.5 * scale))
    }
}

proptest! {
    #[test]
    fn all_at_one_temperature_and_no_heat_wants_water_of_it(t in 1.0..40.0, rest_h in 0.0..2.0) {
        let mix = chain(1.0, [t; 6], 0.0, 0.0, rest_h);
        prop_assert!((water_c(&mix, t) - t).abs() < 1e-9);
    }

    #[test]
    fn a_batch_of_any_size_wants_the_same_water(
        temps in proptest::array::uniform6(15.0..30.0), scale in 0.01..100.0, mixing in 0.0..12.0,
    ) {
        let small = chain(1.0, temps, 9.9, mixing, 0.5).water_for_dough(c(24.0));
        let large = chain(scale, temps, 9.9, mixing, 0.5).water_for_dough(c(24.0));
        if let (Ok(small), Ok(large)) = (small, large) {
            prop_assert!((small.water.as_celsius() - large.water.as_celsius()).abs() < 1e-8);
        }
    }

    #[test]
    fn the_wanted_dough_comes_of_the_water_found(
        temps in proptest::array::uniform6(5.0..35.0), dough in 18.0..30.0,
        mixing in 0.0..20.0, rest_h in 0.0..2.0,
    ) {
        let mix = chain(1.0, temps, 9.9, mixing, rest_h);
        if let Ok(answer) = mix.water_for_dough(c(dough)) {
            let back = mix.dough_from_water(answer.water).unwrap();
            prop_assert!((back.dough.as_celsius() - dough).abs() < 1e-9);
            prop_assert!((back.dough_per_water - answer.dough_per_water).abs() < 1e-12);
        }
    }
}

/// The time constant of a mass grows with its heat capacity: a wet mix, (1.8 + 2 x 4.186)/3 = 3.391 kJ/(kg K),
/// forgets its water that much more slowly than a usual dough of its mass.
#[test]
fn the_rest_goes_by_the_heat_capacity_of_the_mix() {
    let usual = DoughProperties::shipped().unwrap();
    let still = Place::StillRoom.surface_w_per_m2_k().unwrap();
    let tub = Body::new(kg(3.0), Shape::TUB, usual).unwrap();
    let slower = (1.80 + 2.0 * 4.186) / 3.0 / usual.heat_capacity_kj_per_kg_k;
    let tau_h = slower * tub.time_constant_h(still).unwrap();
    assert!(slower > 1.1);
    let mix = Mixing {
        rest: Some(Rest {
            length: Hours::new(1.0).unwrap().into(),
            room: c(15.0),
            time_constant_h: None,
        }),
        ..plain(part(1.0, 1.80, 30.0), kg(2.0))
    };
    let [_, end] = mix.dough_from_water(c(30.0)).unwrap().rest.unwrap();
    assert!((end.as_celsius() - 15.0 - 15.0 * (-1.0 / tau_h).exp()).abs() < 1e-9);
}

/// A mix that comes to 0 °C does not freeze yet.
#[test]
fn a_mix_may_come_to_nought_degrees() {
    let cold = plain(part(1.0, 1.80, 0.0), kg(0.6));
    assert_eq!(cold.dough_from_water(c(0.0)).unwrap().dough, c(0.0));
    assert!((water_c(&cold, 0.0)).abs() < 1e-9);
    assert!(cold.dough_from_water(c(-0.1)).unwrap_err().is_unreachable());
}

/// The share of wetting in the dough is what the dough would lack without it, and that of the mixer likewise, also
/// after a rest in which some of the first is lost.
#[test]
fn each_heat_is_told_as_what_would_be_missing() {
    let mix = |hydration_kj_per_kg: f64, mixing_kj_per_kg: f64| {
        let mix = Mixing {
            rest: Some(Rest {
                length: Hours::new(1.0).unwrap().into(),
                room: c(20.0),
                time_constant_h: Some(2.0),
            }),
            after_rest: vec![part(0.02, 0.88, 20.0)],
            hydration_kj_per_kg,
            mixing_kj_per_kg,
            ..plain(part(1.0, 1.80, 20.0), kg(0.65))
        };
        mix.dough_from_water(c(25.0)).unwrap()
    };
    let (all, dry, idle) = (mix(15.0, 6.0), mix(0.0, 6.0), mix(15.0, 0.0));
    let wetting = all.dough.as_celsius() - dry.dough.as_celsius();
    let mixer = all.dough.as_celsius() - idle.dough.as_celsius();
    assert!(wetting > 1.0 && mixer > 1.0);
    assert!((all.hydration_rise.as_kelvin() - wetting).abs() < 1e-9);
    assert!((all.mixing_rise.as_kelvin() - mixer).abs() < 1e-9);
}
