//! What is meant where nothing is said, as documented at `Bake` and at `Kind::usual`: the same as with the number
//! written down, and to be seen in the answer. The numbers are those of the documentation; where one has a
//! source it stands in `data/plan/bake-file.toml` or `data/ferment/compositions.toml`.

use pointage::ambient::TemperatureProfile;
use pointage::ferment::{Composition, EndPoint, Inoculum, Kind, Parameters, Stage};
use pointage::formula::yeast_slurry::weigh_in_water;
use pointage::plan::bake::Bake;
use pointage::plan::{Anchor, Detail, Plan, plan};
use pointage::units::{Mass, Temperature};

/// Every key that has a number of its own, with the number that is documented for it.
const DOCUMENTED: [(&str, &[(&str, f64)]); 4] = [
    ("formula", &[("scrap_percent", 1.0), ("salt_percent", 2.0)]),
    (
        "preferment",
        &[("dough_c", 22.0), ("mixing_heat_kj_per_kg", 2.0)],
    ),
    (
        "kitchen",
        &[
            ("tap_c", 15.0),
            ("scale_step_g", 1.0),
            ("flour_moisture_percent", 14.0),
        ],
    ),
    (
        "process",
        &[
            ("mixing_heat_kj_per_kg", 6.0),
            ("mix_min", 10.0),
            ("divide_min", 10.0),
            ("bench_rest_min", 20.0),
            ("bench_rest_max_min", 60.0),
            ("shape_min", 10.0),
            ("loaf_length_to_diameter", 3.0),
            ("cool_min", 60.0),
        ],
    ),
];

/// A hot kitchen, so that the dough needs ice and warms up in its proof.
const BARE: &str = "format = 1
name = \"bare\"
[formula]
pieces = 8
piece_g = 600
hydration_percent = 65
[preferment]
kind = \"poolish\"
flour_percent = 20
ripe_after_h = 12
[kitchen]
room_c = 29
[process]
dough_c = 24
proof_c = 35
[oven]
pieces_per_load = 4
bake_min = 40
";

fn planned(text: &str) -> (Bake, Plan) {
    let bake = Bake::from_toml(text).unwrap();
    let places = bake.places(|file| panic!("no record is named, but {file}"));
    let p = Parameters::shipped().unwrap();
    let plan = plan(
        &bake,
        &places.unwrap(),
        Anchor::FirstOut(18.0),
        &p,
        Detail::default(),
    )
    .unwrap();
    (bake, plan)
}

#[test]
fn a_key_left_out_is_the_documented_one() {
    let (bare, planned_bare) = planned(BARE);
    let mut text = BARE.to_owned();
    for (section, keys) in DOCUMENTED {
        let head = format!("[{section}]\n");
        let keys: String = keys.iter().map(|(k, v)| format!("{k} = {v}\n")).collect();
        text = text.replace(&head, &format!("{head}{keys}"));
    }
    let (written, planned_written) = planned(&text);
    assert_eq!(bare, written);
    assert_eq!(planned_bare, planned_written);
}

#[test]
fn what_is_left_out_shows_in_the_plan() {
    let (bake, plan) = planned(BARE);
    let stage = |name: &str| plan.stages.iter().find(|s| s.name == name).unwrap();
    for (name, minutes) in [
        ("mix", 10.0),
        ("divide", 10.0),
        ("rest", 20.0),
        ("shape", 10.0),
        ("cool", 60.0),
    ] {
        let s = stage(name);
        let found = 60.0 * (s.end_h - s.start_h);
        assert!((found - minutes).abs() < 1e-6, "{name}: {found}");
    }
    assert_eq!(stage("preferment").dough_start_c, Some(22.0));
    // One percent of the dough stays in the tub and on the hands.
    let dough = plan.batch.dough.as_grams();
    assert!((dough * 0.99 - 8.0 * 600.0).abs() < 1e-6, "{dough}");
    // The trade's rule for ice, W (tap - wanted) / (tap + 80), from tap water of 15 °C; the 80 is melting
    // over warming, 333.6 / 4.186.
    let water = &plan.water;
    let wanted = water.balance.unwrap().water.as_celsius();
    let ice = water.water.as_grams() * (15.0 - wanted) / (15.0 + 333.6 / 4.186);
    let found = water.balance_pour.unwrap().ice.as_grams();
    assert!(
        ice > 50.0 && (found / ice - 1.0).abs() < 1e-3,
        "{found} {ice}"
    );
    // Whatever is weighed for a pinch is a whole number of grams.
    let (dose, at_hand) = (Mass::grams(0.4).unwrap(), Mass::grams(600.0).unwrap());
    let pinch = weigh_in_water(dose, bake.kitchen.scale_step, at_hand)
        .unwrap()
        .unwrap();
    for mass in [pinch.yeast, pinch.water, pinch.take, pinch.left] {
        assert_eq!(mass.as_grams().fract(), 0.0, "{pinch:?}");
    }
}

/// The fridge that a plan proposes when a bake names no retarder is one of 4 °C, as fridges are set. The
/// time in the oven is so long that at 4 °C the last load just keeps, and at 4.2 °C no longer.
#[test]
fn the_fridge_proposed_for_waiting_loads_is_one_of_four_degrees() {
    let bake = |ways: &str| {
        planned(&format!(
            "format = 1
name = \"slow oven\"
[formula]
pieces = 16
piece_g = 700
hydration_percent = 66
yeast_percent = 0.385
[kitchen]
room_c = 24
[process]
dough_c = 25
proof_c = 28
hold_later_loads = [\"shape-later\"{ways}
[oven]
pieces_per_load = 4
bake_min = 240
"
        ))
        .1
    };
    let colder = |c: f64| bake(&format!(", \"retarder\"]\nretarder_c = {c}"));
    assert!(colder(4.0).problem.is_none());
    assert!(colder(4.2).problem.is_some());
    let nearest = bake("]").problem.unwrap().nearest;
    let way = pointage::plan::Finding::HoldLaterLoads {
        shape_later: false,
        divide_later: false,
        retarder_c: Some(4.0),
    };
    assert_eq!(nearest, way);
}

/// A dough of which no more than its kind is said ripens as one with the documented water and salt.
#[test]
fn a_kind_without_a_word_on_it_is_the_documented_one() {
    let p = Parameters::shipped().unwrap();
    let course = TemperatureProfile::held(Temperature::celsius(22.0).unwrap());
    for (kind, water, salt) in [
        (Kind::Poolish, 100.0, 0.0),
        (Kind::Biga, 45.0, 0.0),
        (Kind::Sponge, 62.0, 0.0),
        (Kind::OldDough, 66.0, 2.0),
        (Kind::Dough, 65.0, 2.0),
    ] {
        let hours = |composition: Composition| {
            let yeast = Inoculum {
                added: 0.6,
                carried: 0.0,
            };
            let stage = Stage {
                composition,
                yeast,
                end: EndPoint::Gas(150.0),
                own_heat: None,
            };
            stage.ready(&p, &course).unwrap().hours
        };
        let documented = hours(Composition::lean(water, salt));
        assert_eq!(hours(kind.usual().unwrap()), documented, "{kind}");
        // Neither more salt nor, where there is salt to thin, more water would do.
        assert!(hours(Composition::lean(water, salt + 0.1)) > documented);
        if salt > 0.0 {
            assert!(hours(Composition::lean(water + 1.0, salt)) < documented);
        }
    }
}
