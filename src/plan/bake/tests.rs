use super::keys::names;
use super::*;
use crate::Error;
use crate::ferment::Kind;
use crate::formula::{MixStage, Role, YeastKind};
use crate::heat::dough_body::Place;
use proptest::prelude::*;
use std::time::Duration;

/// A seeded round on a poolish, in a room that follows the day.
const MEADOW: &str = r#"format = 1
name = "Meadow round"

[formula]
pieces = 36
piece_g = 720
scrap_percent = 1.5
bake_loss_percent = 14
hydration_percent = 74
salt_percent = 2.1
yeast_percent = 0.25
bassinage_percent = 4

[[formula.flour]]
name = "light wheat"
share_percent = 80
[[formula.flour]]
name = "spelt"
share_percent = 20

[[formula.extra]]
name = "toasted seeds"
percent = 12
water_percent = 8

[preferment]
kind = "poolish"
flour_percent = 28
flour = "light wheat"
ripe_after_h = 13
dough_c = 21
joins = "autolyse"
stands_in = "insulated-box"
mixing_heat_kj_per_kg = 1.5
room_record = "cellar.csv"
room_record_from = "18:00"
room_record_days_before = 1

[kitchen]
yeast = "active-dry"
room_mean_c = 20
room_amplitude_c = 3.5
room_warmest = "15:30"
flour_c = 18
tap_c = 11
yeast_c = 5
ice_c = -6
scale_step_g = 0.1
altitude_m = 640
flour_moisture_percent = 13.2

[process]
dough_c = 25
base_c = 56
mixing_heat_kj_per_kg = 7
autolyse_min = 30
mix_min = 12
bassinage_c = 6
bulk_rise = 1.9
bulk_c = 26
bulk_in = "dry-proofer"
folds_min = [30, 60]
divide_min = 15
bench_rest_min = 25
bench_rest_max_min = 70
shape_min = 15
proof = "hearth"
proof_c = 24
proof_in = "humid-proofer"
loaf_length_to_diameter = 1.2
hold_later_loads = ["shape-later", "retarder"]
retarder_c = 7
cool_min = 90

[oven]
pieces_per_load = 12
bake_min = 45
oven_recovery_min = 10
"#;

/// A tin loaf on old dough, with every default and the dose of the mix to be found.
const HARBOUR: &str = r#"
format = 1
name = "Harbour tin"
[formula]
pieces = 8
piece_g = 900
hydration_percent = 62
[formula.old_dough]
percent = 15
[kitchen]
room_c = 29
[process]
dough_c = 26
friction_factor_c = 12
bulk_h = 2.5
proof = "tin"
[oven]
bake_min = 35
"#;

/// A winter bread on a stiff preferment with a dose of its own.
const QUARRY: &str = r#"
format = 1
name = "Quarry bread"
[formula]
pieces = 14
piece_g = 1100
hydration_percent = 66
[preferment]
kind = "biga"
flour_percent = 40
dose_percent = 1
[kitchen]
yeast = "fresh"
room_record = "winter.csv"
[process]
dough_c = 24
bulk_min = 60
[oven]
bake_min = 60
"#;

fn c(celsius: f64) -> Temperature {
    Temperature::celsius(celsius).unwrap()
}
fn pct(percent: f64) -> Percent {
    Percent::new(percent).unwrap()
}
fn min(minutes: u64) -> Duration {
    Duration::from_secs(60 * minutes)
}
fn refusal(text: &str) -> String {
    Bake::from_toml(text).unwrap_err().to_string()
}
/// The message when one line of the meadow round is another.
fn changed(from: &str, to: &str) -> String {
    assert_eq!(MEADOW.matches(from).count(), 1, "{from}");
    refusal(&MEADOW.replace(from, to))
}

#[test]
fn every_key_is_read() {
    let bake = Bake::from_toml(MEADOW).unwrap();
    assert_eq!((bake.name.as_str(), bake.pieces), ("Meadow round", 36));
    assert_eq!(bake.piece.as_grams(), 720.0);
    assert_eq!((bake.scrap, bake.bake_loss), (pct(1.5), Some(pct(14.0))));
    let f = &bake.formula;
    assert_eq!(
        (f.hydration, f.salt, f.bassinage),
        (pct(74.0), pct(2.1), pct(4.0))
    );
    assert_eq!(
        (f.yeast, f.yeast_kind),
        (Some(pct(0.25)), YeastKind::ActiveDry)
    );
    assert_eq!(
        (f.flours[1].name.as_str(), f.flours[1].share),
        ("spelt", pct(20.0))
    );
    assert_eq!(
        (f.extras[0].percent, f.extras[0].water),
        (pct(12.0), Some(pct(8.0)))
    );
    let made_of = f.preferment.as_ref().unwrap();
    assert_eq!((made_of.kind, made_of.share), (Kind::Poolish, pct(28.0)));
    assert_eq!((made_of.hydration, made_of.dose), (pct(100.0), None));
    let held = bake.preferment.as_ref().unwrap();
    assert_eq!(held.ripe_after, Some(min(13 * 60)));
    assert_eq!(
        (held.dough, held.joins, held.mixing_heat_kj_per_kg),
        (c(21.0), Joins::Autolyse, 1.5)
    );
    assert_eq!(held.stands_in, Place::InsulatedBox);
    let process = &bake.process;
    assert_eq!(
        (
            process.bulk_in,
            process.proof_in,
            process.loaf_length_to_diameter
        ),
        (Place::DryProofer, Place::HumidProofer, 1.2)
    );
    let room = Room::Record {
        file: "cellar.csv".into(),
        from: Some(ClockTime::new(18, 0).unwrap()),
        days_before: 1,
    };
    assert_eq!(held.room, Some(room));
    let daily = Room::Daily {
        mean: c(20.0),
        amplitude: TemperatureDifference::kelvin(3.5).unwrap(),
        warmest: ClockTime::new(15, 30).unwrap(),
    };
    let k = &bake.kitchen;
    assert_eq!(k.room, daily);
    assert_eq!(
        (k.flour, k.tap, k.yeast, k.ice),
        (Some(c(18.0)), c(11.0), Some(c(5.0)), c(-6.0))
    );
    assert_eq!((k.scale_step.as_grams(), k.altitude_m), (0.1, 640.0));
    assert_eq!(k.flour_moisture, pct(13.2));
    let p = &bake.process;
    assert_eq!(
        (p.dough, p.friction_factor, p.base_c),
        (c(25.0), None, Some(56.0))
    );
    assert_eq!(
        (p.mixing_heat_kj_per_kg, p.autolyse, p.mix),
        (Some(7.0), min(30), min(12))
    );
    assert_eq!(
        (
            p.bassinage,
            p.bulk_time,
            p.bulk_dose_for,
            p.bulk_rise,
            p.bulk_place
        ),
        (Some(c(6.0)), None, None, 1.9, Some(c(26.0)))
    );
    assert_eq!(p.folds, [min(30), min(60)]);
    assert_eq!(
        (p.divide, p.rest, p.rest_max, p.shape),
        (min(15), min(25), min(70), min(15))
    );
    assert_eq!(
        (p.proof, p.proof_place, p.retarder),
        (ProofKind::Hearth, Some(c(24.0)), Some(c(7.0)))
    );
    assert_eq!(
        p.hold_later_loads,
        [HoldLaterLoads::ShapeLater, HoldLaterLoads::Retarder]
    );
    assert_eq!(p.cool, min(90));
    let o = &bake.oven;
    assert_eq!(
        (o.pieces_per_load, o.bake, o.recover),
        (Some(12), min(45), min(10))
    );
    assert_eq!(bake.pieces_per_load(), 12);
}

#[test]
fn what_is_left_out_has_its_default() {
    let bake = Bake::from_toml(HARBOUR).unwrap();
    assert_eq!(
        (bake.scrap, bake.bake_loss, &bake.preferment),
        (pct(1.0), None, &None)
    );
    let f = &bake.formula;
    assert_eq!(
        (f.salt, f.yeast, f.yeast_kind),
        (pct(2.0), None, YeastKind::Instant)
    );
    let old = f.old_dough.as_ref().unwrap();
    assert_eq!(
        (old.hydration, old.salt, old.yeast),
        (pct(66.0), pct(2.0), pct(1.5))
    );
    let k = &bake.kitchen;
    assert_eq!(
        (&k.room, k.flour, k.tap, k.ice),
        (&Room::Constant(c(29.0)), None, c(15.0), c(0.0))
    );
    assert_eq!(
        (k.scale_step.as_grams(), k.flour_moisture, k.altitude_m),
        (1.0, pct(14.0), 0.0)
    );
    let p = &bake.process;
    let friction = TemperatureDifference::kelvin(12.0).unwrap();
    assert_eq!((p.friction_factor, p.base_c), (Some(friction), None));
    assert_eq!(
        (p.bulk_time, p.bulk_dose_for, p.proof),
        (None, Some(min(150)), ProofKind::Tin)
    );
    assert_eq!(
        (p.autolyse, p.mix, p.divide, p.rest, p.rest_max),
        (min(0), min(10), min(10), min(20), min(60))
    );
    assert_eq!(
        (p.shape, p.cool, p.mixing_heat_kj_per_kg),
        (min(10), min(60), None)
    );
    assert_eq!(
        (p.hold_later_loads.as_slice(), p.retarder),
        (&[HoldLaterLoads::ShapeLater][..], None)
    );
    assert_eq!(
        (bake.oven.pieces_per_load, bake.pieces_per_load()),
        (None, 8)
    );

    let bake = Bake::from_toml(QUARRY).unwrap();
    let made_of = bake.formula.preferment.as_ref().unwrap();
    assert_eq!(
        (made_of.hydration, made_of.salt, made_of.dose),
        (pct(45.0), pct(0.0), Some(pct(1.0)))
    );
    let held = bake.preferment.as_ref().unwrap();
    assert_eq!(
        (held.dough, held.joins, held.mixing_heat_kj_per_kg),
        (c(22.0), Joins::Mix, 2.0)
    );
    assert_eq!(held.stands_in, Place::StillRoom);
    let process = &bake.process;
    assert_eq!(
        (
            process.bulk_in,
            process.proof_in,
            process.loaf_length_to_diameter
        ),
        (Place::StillRoom, Place::StillRoom, 3.0)
    );
    assert_eq!((held.ripe_after, &held.room), (None, &None));
    assert_eq!(
        (
            bake.process.bulk_time,
            bake.process.friction_factor,
            bake.process.base_c
        ),
        (Some(min(60)), None, None)
    );
    let room = Room::Record {
        file: "winter.csv".into(),
        from: None,
        days_before: 1,
    };
    assert_eq!(bake.kitchen.room, room);
}

#[test]
fn pieces_can_be_changed_and_scrap_stays() {
    let bake = Bake::from_toml(QUARRY).unwrap();
    let more = bake
        .with_pieces(Some(20), Some(Mass::grams(495.0).unwrap()))
        .unwrap();
    // 20 x 495 g at 1 % scrap is 10 kg.
    assert!((more.batch().unwrap().dough.as_grams() - 10_000.0).abs() < 1e-9);
    assert_eq!(bake.with_pieces(None, None).unwrap(), bake);
    assert!(bake.with_pieces(Some(0), None).is_err());
    assert!(
        bake.with_pieces(None, Some(Mass::grams(0.0).unwrap()))
            .is_err()
    );
    let batch = more.batch().unwrap();
    let share = batch.percent_of_flour(batch.mass_of(Role::Flour, MixStage::Preferment));
    assert!((share - 40.0).abs() < 1e-9);
}

#[test]
fn an_unknown_key_is_named_with_its_line_and_the_nearest() {
    let text = changed("salt_percent = 2.1", "salt_percnt = 2.1");
    assert!(
        text.starts_with(
            "line 10: [formula]: unknown key \"salt_percnt\"; did you mean \"salt_percent\"? known: "
        ),
        "{text}"
    );
    assert!(
        changed("share_percent = 20", "share = 20")
            .starts_with("line 19: [formula.flour]: unknown key")
    );
    assert_eq!(
        changed("bake_min = 45", "bake_min = 45\ntap_c = 12"),
        "line 78: [oven] tap_c: belongs in [kitchen]; move it there"
    );
    assert!(changed("[oven]", "[ovens]").contains("did you mean \"oven\"?"));
}

#[test]
fn a_value_out_of_range_is_named_with_its_line() {
    assert_eq!(
        changed("tap_c = 11", "tap_c = 300"),
        "line 45: [kitchen] tap_c: the value is 300 °C, but must lie between 0 and 60 °C"
    );
    assert_eq!(
        changed("pieces = 36", "pieces = -3"),
        "line 5: [formula] pieces: the value is -3 pieces, but must lie between 1 and 100000 pieces"
    );
    assert_eq!(
        changed("piece_g = 720", "piece_g = nan"),
        "line 6: [formula] piece_g: the value is not a finite number; give an ordinary number"
    );
    assert_eq!(
        changed("pieces = 36", "pieces = 36.5"),
        "line 5: [formula] pieces: is 36.5, but must be a whole number"
    );
    assert!(changed("piece_g = 720", "piece_g = inf").contains("not a finite"));
    assert!(changed("piece_g = 720", "piece_g = 1e999").contains("not a finite"));
    assert!(
        changed("folds_min = [30, 60]", "folds_min = [-5]")
            .starts_with("line 62: [process] folds_min")
    );
}

#[test]
fn a_value_of_the_wrong_type_is_named_with_its_line() {
    assert_eq!(
        changed("tap_c = 11", "tap_c = \"11\""),
        "line 45: [kitchen] tap_c: must be a number, or text with a unit, such as tap_c = 12, but is text"
    );
    assert_eq!(
        changed("name = \"Meadow round\"", "name = 7"),
        "line 2: name: must be text in double quotes, such as name = \"Harvest round\", \
         but is a number"
    );
    assert!(changed("\"15:30\"", "15:30:00").contains("is a date or time"));
    assert!(changed("\"15:30\"", "\"25:30\"").contains("such as 07:30"));
    assert!(
        changed("folds_min = [30, 60]", "folds_min = 30")
            .contains("a list, such as folds_min = [30, 60]")
    );
    assert!(changed("\"active-dry\"", "\"activ-dry\"").contains("did you mean \"active-dry\"?"));
    assert!(refusal("format = 1\nname = \"x\"\noven = 3").contains("a section with its keys"));
    assert!(
        changed("[[formula.flour]]\nname = \"spelt\"", "[formula.flour]").starts_with("line 17")
    );
}

/// Text with a unit stands wherever a number of that kind does.
#[test]
fn a_number_may_carry_its_unit() {
    let bake = Bake::from_toml(MEADOW).unwrap();
    let text = [
        ("tap_c = 11", "tap_c = \"51.8F\""),
        ("piece_g = 720", "piece_g = \"0.72kg\""),
        ("bake_min = 45", "bake_min = \"45min\""),
        ("ripe_after_h = 13", "ripe_after_h = \"13h\""),
        ("folds_min = [30, 60]", "folds_min = [\"30min\", \"1h\"]"),
        ("room_amplitude_c = 3.5", "room_amplitude_c = \"6.3F\""),
        ("salt_percent = 2.1", "salt_percent = \"2.1%\""),
    ]
    .into_iter()
    .fold(MEADOW.to_owned(), |text, (from, to)| text.replace(from, to));
    let same = Bake::from_toml(&text).unwrap();
    assert!((same.kitchen.tap - bake.kitchen.tap).as_kelvin().abs() < 1e-12);
    let Room::Daily { amplitude, .. } = same.kitchen.room else {
        panic!("{:?}", same.kitchen.room);
    };
    assert!((amplitude.as_kelvin() - 3.5).abs() < 1e-12);
    assert_eq!(
        (same.piece, same.formula.salt),
        (bake.piece, bake.formula.salt)
    );
    assert_eq!(
        (&same.preferment, &same.oven),
        (&bake.preferment, &bake.oven)
    );
    assert_eq!(same.process.folds, bake.process.folds);
    assert!(changed("tap_c = 11", "tap_c = \"cold\"").contains("such as 24, 24C or 75F"));
    assert!(changed("tap_c = 11", "tap_c = \"200F\"").contains("between 0 and 60 °C"));
    assert!(changed("pieces = 36", "pieces = \"36 pieces\"").contains("a plain number"));
    assert!(changed("bake_min = 45", "bake_min = \"45g\"").contains("90min"));
}

/// Each key has its line in one word of English, and its own example is a value of it.
#[test]
fn the_example_of_each_key_is_one_of_its_values() {
    let [meadow, harbour] = [MEADOW, HARBOUR].map(|text| text.parse::<toml::Table>().unwrap());
    for (section, key) in keys() {
        assert!(key.meaning.trim().ends_with('.'), "{}", key.name);
        let given =
            toml::from_str::<toml::Table>(&format!("x = {}", key.example)).unwrap()["x"].clone();
        if given.is_str() || given.is_array() {
            continue;
        }
        let number = given
            .as_float()
            .or(given.as_integer().map(|whole| whole as f64))
            .unwrap();
        assert!(
            (key.low..=key.high).contains(&number),
            "[{section}] {}",
            key.name
        );
    }
    // Both bakes are written with keys of the list alone.
    for (name, value) in meadow.iter().chain(&harbour) {
        let Some(section) = value.as_table() else {
            continue;
        };
        for (key, _) in section.iter().filter(|(_, value)| !value.is_table()) {
            let listed = keys().any(|(path, listed)| path == name && listed.name == key);
            assert!(
                listed || ["flour", "extra"].contains(&key.as_str()),
                "[{name}] {key}"
            );
        }
    }
}

#[test]
fn what_is_missing_is_named_with_an_example() {
    assert_eq!(
        changed("hydration_percent = 74\n", ""),
        "line 4: [formula]: missing key \"hydration_percent\"; add a line such as hydration_percent = \
         70"
    );
    assert!(changed("bake_min = 45\n", "").contains("missing key \"bake_min\""));
    assert!(changed("room_warmest = \"15:30\"\n", "").contains("missing key \"room_warmest\""));
    assert!(changed("format = 1\n", "").contains("missing key \"format\""));
    assert_eq!(
        refusal("format = 1\nname = \"x\""),
        "line 1: [oven]: missing key \"bake_min\"; add a line such as bake_min = 40"
    );
    assert!(
        refusal(&HARBOUR.replace("room_c = 29", "")).contains("missing the room; add room_c = 20")
    );
}

#[test]
fn contradictions_name_both_keys() {
    assert_eq!(
        changed("ripe_after_h = 13", "ripe_after_h = 13\ndose_percent = 0.2"),
        "line 30: [preferment] ripe_after_h: dose_percent and ripe_after_h contradict each other; keep \
         one of them"
    );
    let neither = changed("ripe_after_h = 13\n", "");
    assert!(
        neither.contains("dose_percent") && neither.contains("ripe_after_h"),
        "{neither}"
    );
    for (from, to, keys) in [
        (
            "base_c = 56",
            "base_c = 56\nfriction_factor_c = 8",
            ["base_c", "friction_factor_c"],
        ),
        (
            "room_mean_c = 20",
            "room_mean_c = 20\nroom_c = 20",
            ["room_c", "room_mean_c"],
        ),
        (
            "bulk_rise = 1.9",
            "bulk_rise = 1.9\nbulk_min = 9",
            ["bulk_rise", "bulk_min"],
        ),
        ("bulk_rise = 1.9", "bulk_h = 3", ["yeast_percent", "bulk_h"]),
        ("retarder_c = 7\n", "", ["hold_later_loads", "retarder_c"]),
        (", \"retarder\"]", "]", ["hold_later_loads", "retarder_c"]),
        (
            "bench_rest_max_min = 70",
            "bench_rest_max_min = 20",
            ["bench_rest_max_min", "bench_rest_min"],
        ),
        ("autolyse_min = 30\n", "", ["autolyse_min", "joins"]),
        ("[30, 60]", "[60, 30]", ["folds_min", "order"]),
        (
            "bulk_rise = 1.9",
            "bulk_min = 45",
            ["folds_min", "end of the bulk"],
        ),
        (
            "room_record = \"cellar.csv\"\n",
            "",
            ["room_record_from", "room_record"],
        ),
        (
            "[\"shape-later\", \"retarder\"]",
            "[\"retarder\", \"retarder\"]",
            ["twice", "hold_later_loads"],
        ),
    ] {
        let text = changed(from, to);
        assert!(keys.iter().all(|key| text.contains(key)), "{text}");
        assert!(text.starts_with("line "), "{text}");
    }
    let none = refusal(&QUARRY.replace(
        "[preferment]\nkind = \"biga\"\nflour_percent = 40\ndose_percent = 1\n",
        "",
    ));
    assert!(none.contains("no yeast in this dough"), "{none}");
}

/// Yeast may come with old dough alone, if there is old dough and yeast in it.
#[test]
fn old_dough_may_bring_the_yeast() {
    let with = |old: &str| {
        HARBOUR
            .replace("bulk_h = 2.5\n", "")
            .replace("percent = 15", old)
    };
    for old in ["percent = 15", "percent = 15\nyeast_percent = 0.1"] {
        let bake = Bake::from_toml(&with(old)).unwrap();
        assert_eq!(bake.formula.yeast, Some(pct(0.0)));
    }
    for old in [
        "percent = 0",
        "percent = 15\nyeast_percent = 0",
        "percent = 0\nyeast_percent = 0",
    ] {
        assert!(
            refusal(&with(old)).contains("no yeast in this dough"),
            "{old}"
        );
    }
}

#[test]
fn only_what_ripens_ahead_of_this_dough_is_a_preferment() {
    for kind in ["old-dough", "dough"] {
        let text = changed("kind = \"poolish\"", &format!("kind = \"{kind}\""));
        assert!(
            text.starts_with("line 27: [preferment] kind: unknown name")
                && text.ends_with("known: poolish, biga, sponge"),
            "{text}"
        );
    }
}

#[test]
fn a_formula_that_cannot_be_made_is_refused_at_once() {
    let text = changed("share_percent = 20", "share_percent = 25");
    assert!(
        text.starts_with("line 4: [formula]: the shares of the flours sum to 105 %"),
        "{text}"
    );
    assert!(
        changed("flour_percent = 28", "flour_percent = 78").contains("the preferment needs 78 %")
    );
}

#[test]
fn another_format_is_refused_by_name() {
    let text = changed("format = 1", "format = 2");
    assert!(
        text.starts_with("line 1: format: this is a bake file of format 2"),
        "{text}"
    );
}

#[test]
fn another_format_is_refused_before_its_keys() {
    assert!(refusal("format = 7\n[recipe]\nx = 1").contains("format 7"));
    assert!(refusal("fromat = 1").contains("did you mean \"format\"?"));
}

#[test]
fn a_file_from_another_system_is_read_too() {
    let bake = Bake::from_toml(MEADOW).unwrap();
    let windows = format!("\u{feff}{}", MEADOW.replace('\n', "\r\n"));
    assert_eq!(Bake::from_toml(&windows).unwrap(), bake);
}

#[test]
fn what_is_no_bake_file_is_refused_in_one_line() {
    assert!(refusal("").contains("missing key \"format\""));
    assert!(refusal(" \n\n").contains("missing key \"format\""));
    assert!(refusal("# only a remark\n").contains("missing key \"format\""));
    assert!(refusal("\0\0\0").starts_with("line 1: cannot be read"));
    for text in [
        "0".repeat(1 << 20),
        "[".repeat(1 << 20),
        "a = 1\na = 2".into(),
        "tap_c = 24,5".into(),
    ] {
        let message = refusal(&text);
        assert!(message.starts_with("line "), "{message}");
        assert!(
            message.chars().count() < 500 && !message.contains('\n'),
            "{message}"
        );
    }
    assert!(refusal("format = 1\na = 1\na = 2").starts_with("line 3: "));
}

#[test]
fn a_huge_file_is_refused_before_it_is_read() {
    // Whoever read it would find fault with its first line.
    let huge = "0".repeat(100_000_000);
    let error = Bake::from_toml(&huge).unwrap_err();
    assert!(matches!(error, Error::Malformed { .. }), "{error:?}");
    assert!(error.to_string().contains("100000000 bytes"));
}

#[test]
fn a_file_full_of_flours_is_refused_quickly() {
    let text = format!(
        "format = 1\nname = \"x\"\n[formula]\nhydration_percent = 70\n{}",
        "[[formula.flour]]\n".repeat(50_000)
    );
    assert!(
        refusal(&HARBOUR.replace("[formula.old_dough]", "[formula.oldest_dough]"))
            .contains("old_dough")
    );
    let full = format!("{text}[kitchen]\n[process]\n[oven]\nbake_min = 3\n");
    assert!(refusal(&full).contains("at most 100"));
}

proptest! {
    /// Any damage gives a bake or a refusal of one line, never a panic.
    #[test]
    fn a_damaged_file_is_read_or_refused(at in 0..1500_usize, cut in 0..40_usize, put in "\\PC{0,6}|[\\[\\]=\"0-9.\n-]{0,6}") {
        // The text is ASCII: any byte is a boundary.
        let at = at.min(MEADOW.len());
        let end = (at + cut).min(MEADOW.len());
        let text = format!("{}{put}{}", &MEADOW[..at], &MEADOW[end..]);
        if let Err(error) = Bake::from_toml(&text) {
            let message = error.to_string();
            prop_assert!(!message.contains('\n') && message.chars().count() < 800, "{message}");
            prop_assert!(!error.is_unreachable());
        }
    }
}

/// A name is one line of up to 200 characters, however many bytes these are.
#[test]
fn a_name_is_one_short_line() {
    let named = |name: &str| HARBOUR.replace("Harbour tin", name);
    for name in ["x", &"ö".repeat(200)] {
        assert_eq!(Bake::from_toml(&named(name)).unwrap().name, name);
    }
    for name in ["", " ", "two\\nlines", "a\\tstop", &"ö".repeat(201)] {
        let text = refusal(&named(name));
        assert!(
            text.starts_with("line 3: name: ") && text.contains("one line of 1 to 200 characters"),
            "{text}"
        );
    }
}

/// From below the sea to the highest town.
#[test]
fn a_kitchen_may_lie_below_the_sea() {
    let at = |metres: &str| MEADOW.replace("altitude_m = 640", &format!("altitude_m = {metres}"));
    for (metres, height) in [
        ("-430", -430.0),
        ("0", 0.0),
        ("120", 120.0),
        ("5100", 5100.0),
    ] {
        let bake = Bake::from_toml(&at(metres)).unwrap();
        assert_eq!(bake.kitchen.altitude_m, height);
    }
    for metres in ["-501", "6001"] {
        assert!(refusal(&at(metres)).contains("must lie between -500 and 6000 m"));
    }
}

/// A number is written as a baker writes it.
#[test]
fn a_number_is_written_in_tens() {
    for number in ["0x24", "0o44", "0b100100"] {
        let text = changed("pieces = 36", &format!("pieces = {number}"));
        assert!(
            text.starts_with("line 5: [formula] pieces: must be a plain number"),
            "{text}"
        );
    }
}

/// A hundred flours are a bake, one more is not.
#[test]
fn a_hundred_flours_may_be_listed() {
    let with = |n: u32| {
        let share = 100.0 / f64::from(n);
        let flours: String = (0..n)
            .map(|i| format!("[[formula.flour]]\nname = \"flour {i}\"\nshare_percent = {share}\n"))
            .collect();
        HARBOUR.replace("[kitchen]", &format!("{flours}[kitchen]"))
    };
    let bake = Bake::from_toml(&with(100)).unwrap();
    assert_eq!(bake.formula.flours.len(), 100);
    assert!(refusal(&with(101)).contains("at most 100"));
}

/// A recipe of 1000 g of flour by the gram is the same as by its percentages, by hand.
#[test]
fn grams_are_percentages_of_the_flour() {
    let of = |formula: &str, preferment: &str| {
        Bake::from_toml(&format!(
            "format = 1\nname = \"x\"\n[formula]\npieces = 8\npiece_g = 210\n{formula}\n[preferment]\nkind = \"poolish\"\n{preferment}\n[kitchen]\nyeast = \"fresh\"\nroom_c = 22\n[process]\ndough_c = 24\n[oven]\nbake_min = 25\n"
        ))
    };
    let percent = of(
        "hydration_percent = 70\nsalt_percent = 2\nyeast_percent = 0.5\nbassinage_percent = 5\n[formula.old_dough]\npercent = 10\n[[formula.extra]]\nname = \"seeds\"\npercent = 12",
        "flour_percent = 30\nhydration_percent = 110\ndose_percent = 0.2",
    )
    .unwrap();
    for (formula, preferment) in [
        (
            "flour_g = 1000\nwater_g = 700\nsalt_g = \"20g\"\nyeast_g = 5\nbassinage_g = 50\n[formula.old_dough]\nmass_g = 100\n[[formula.extra]]\nname = \"seeds\"\nmass_g = 120",
            "flour_g = 300\nwater_g = 330\nyeast_g = 0.6",
        ),
        // Freely mixed.
        (
            "flour_g = 500\nhydration_percent = 70\nsalt_g = 10\nyeast_percent = 0.5\nbassinage_g = 25\n[formula.old_dough]\npercent = 10\n[[formula.extra]]\nname = \"seeds\"\nmass_g = 60",
            "flour_percent = 30\nwater_g = 165\ndose_percent = 0.2",
        ),
    ] {
        let mut grams = of(formula, preferment).unwrap();
        let flour = grams.recipe_flour.take().unwrap();
        let names = |bake: &Bake| {
            bake.batch()
                .unwrap()
                .ingredients
                .iter()
                .map(|i| i.mass.as_grams())
                .collect::<Vec<_>>()
        };
        for (a, b) in names(&grams).iter().zip(names(&percent)) {
            assert!((a - b).abs() < 1e-9, "{a} {b}");
        }
        assert!(flour.as_grams() == 1000.0 || flour.as_grams() == 500.0);
    }
    // Flour by flour the sum is all of it.
    let flours = "water_g = 650\nyeast_g = 4\n[[formula.flour]]\nname = \"wheat\"\nflour_g = 800\n[[formula.flour]]\nname = \"rye\"\nflour_g = 200";
    let bake = of(flours, "flour_g = 250\nyeast_g = 0.5").unwrap();
    assert_eq!(bake.formula.flours[1].share, pct(20.0));
    assert_eq!(bake.formula.hydration, pct(65.0));
    assert_eq!(bake.formula.preferment.unwrap().dose, Some(pct(0.2)));
    let refused =
        |formula: &str, preferment: &str| of(formula, preferment).unwrap_err().to_string();
    let poolish = "flour_percent = 30\ndose_percent = 0.2";
    for (formula, preferment, why) in [
        (
            "water_g = 700\nyeast_percent = 0.5",
            poolish,
            "[formula] water_g: grams need the flour of the recipe",
        ),
        (
            "flour_g = 1000\nwater_g = 700\nhydration_percent = 70",
            poolish,
            "contradict each other",
        ),
        (
            "flour_g = 1000\nwater_g = 700\nsalt_g = 200",
            poolish,
            "[formula] salt_g: the value is 20 %, but must lie between 0 and 8 %",
        ),
        (
            "flour_g = 1000\nwater_g = 700",
            "flour_g = 300\nyeast_g = 1\nripe_after_h = 12",
            "contradict each other",
        ),
    ] {
        let error = refused(formula, preferment);
        assert!(error.contains(why), "{error}");
    }
}

/// What a baker means by a name that is none leads to the key that it is.
#[test]
fn a_wrong_key_leads_to_what_is_meant() {
    for (from, to, why) in [
        (
            "ripe_after_h = 13",
            "yeast_percent = 0.1",
            "[preferment] yeast_percent: is no key here; write dose_percent",
        ),
        (
            "cool_min = 90",
            "proof_min = 45",
            "[process] proof_min: is no key here; write [reference] proof_min",
        ),
        (
            "cool_min = 90",
            "room_c = 20",
            "belongs in [preferment], [preferment.cold], [kitchen], [cold]",
        ),
        (
            "pieces_per_load = 12",
            "pieces = 12",
            "write pieces_per_load",
        ),
        (
            "cool_min = 90",
            "cool_mins = 90",
            "did you mean \"cool_min\"?",
        ),
    ] {
        let error = changed(from, to);
        assert!(error.contains(why), "{error}");
    }
    // What is meant is a key.
    for (section, wrong, meant) in keys::MEANT {
        assert!(!names().any(|known| known == (section, wrong)), "{wrong}");
        let named = |word: &str| keys().any(|(_, key)| key.name == word.trim_end_matches(','));
        assert!(meant.split(' ').any(named), "{meant}");
    }
    for (section, percent, grams) in keys::WEIGHED {
        for name in [percent, grams] {
            assert!(
                keys().any(|(path, key)| (path, key.name) == (section, name)),
                "{name}"
            );
        }
    }
}
