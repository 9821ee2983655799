//! The program itself: its flags, keys, exit codes and lines.

use crate::program::{directory, file, json, number, pointage, refusal, text};
use serde_json::Value;
use std::fs;
use std::io::Read;
use std::process::Stdio;
const COLD_NIGHT: &str = "hours,temperature_c\n0,21\n2,18.5\n5,16\n9,14.5\n12,14\n";

/// A small roll on a poolish.
const ROLLS: &str = r#"format = 1
name = "Quay rolls"
[formula]
pieces = 40
piece_g = 90
scrap_percent = 2
hydration_percent = 66
yeast_percent = 0.4
[preferment]
kind = "poolish"
flour_percent = 25
dose_percent = 0.1
[kitchen]
room_c = 20
[process]
dough_c = 25
[oven]
bake_min = 18
"#;

#[test]
fn water_by_the_rule_of_the_trade() {
    // Flags, and water in their unit. 0.05 of the unit is the last digit bakers print.
    let c = |f: f64| (f - 32.0) / 1.8;
    for (flags, water_c) in [
        // course note CAP boulangerie, hodyacademy.com/post/cap-temperature: 72 - 43
        ("--dough 24 --flour 20 --room 21 --friction 2", 29.0),
        // Wihlfahrt, A Treatise on Baking: 82 and 100 °F
        ("--dough 78F --flour 67F --room 85F --friction 0F", c(82.0)),
        ("--dough 78F --flour 62F --room 72F --friction 0F", c(100.0)),
        // Lehmann, Pizza Today 2018-06 p. 29: 240 - 175
        ("--dough 80F --flour 65F --room 75F --friction 35F", c(65.0)),
        // teaching table without friction, sdartisanbread.com: 225 - 139
        ("--dough 75F --flour 68F --room 71F --friction 0", c(86.0)),
        // quoted on pizzamaking.com, 2 °F for each of 8 minutes: 234 - 146
        ("--dough 78F --flour 60F --room 70F --friction 16F", c(88.0)),
        // with a preferment (arithmetic): 4 * 75 - 71 - 71 - 70 - 20 = 68 °F
        (
            "--dough 75F --flour 71F --room 71F --preferment 70F --friction 20F",
            20.0,
        ),
        // base 60, flour 5, room 6: Dufour as told by Dewalque, boulangerienet.fr
        ("--base 60 --flour 5 --room 6", 49.0),
        ("--base 204F --flour 41F --room 42.8F", 49.0),
        // base 48: ottmarkick.fr/cuisine/temperature-de-base
        ("--base 48 --flour 21 --room 21", 6.0),
        // the same reporter's hottest day (arithmetic on it)
        ("--base 60 --flour 30 --room 30", 0.0),
    ] {
        let answer = json(&format!("water {flags}"));
        let got = number(&answer["ddt_formula"]["water_c"]);
        assert!((got - water_c).abs() < 0.05 / 1.8, "{flags}: {got}");
        assert!(answer["heat_balance"].is_null() && answer["warnings"].is_array());
    }
    // Printed without the digits of binary fractions.
    let printed = text("water --dough 24 --flour 20 --room 21 --friction 2 --json");
    assert!(printed.contains(r#""water_c":29.0,"#), "{printed}");
}

#[test]
fn water_by_the_balance() {
    let masses = "--flour-mass 1kg --water-mass 650g";
    // 26 + 1.80 * 6 / (0.65 * 4.186) and the same with salt and both heats: mixing_chain.py
    for (flags, water_c) in [
        ("--hydration-heat 0 --mixing-heat 0", 29.969_275),
        (
            "--salt-mass 20g --salt 20 --hydration-heat 15.1 --mixing-heat 6",
            20.775_846,
        ),
    ] {
        let answer = json(&format!("water --dough 26 --flour 20 {masses} {flags}"));
        let got = number(&answer["heat_balance"]["water_c"]);
        assert!((got - water_c).abs() < 1e-5, "{flags}: {got}");
        assert!(answer["ddt_formula"].is_null());
    }
    // W7 of mixing_chain.py: ice of -5 °C
    let answer = json(
        "water --dough 24 --flour 30 --room 28 --friction 10 --flour-mass 50kg --water-mass 30kg \
         --salt-mass 1kg --yeast-mass 1kg --yeast-temp 5 --hydration-heat 15.1 --mixing-heat 12 \
         --tap 18 --ice-temp -5",
    );
    let (rule, pour) = (&answer["ddt_formula"], &answer);
    assert!((number(&pour["ice_g"]) - 3506.696).abs() < 1e-2);
    assert!((number(&pour["ice_g"]) + number(&pour["tap_g"]) - 30e3).abs() < 1e-6);
    assert!((number(&rule["water_c"]) - 4.0).abs() < 1e-9);

    // Every flag at once is understood.
    let answer = json(
        "water --dough 25.5 --flour 22 --room 22 --friction 10 --flour-mass 7kg --water-mass 3.8kg \
         --salt-mass 200g --salt 20 --preferment-mass 6kg --preferment 21 \
         --preferment-heat-capacity 3.05 --yeast-mass 250g --yeast-temp 4 --flour-moisture 14% \
         --mixing-heat 6 --bowl-mass 40kg --bowl 20 --rest 25min --rest-room 21 \
         --bassinage 40g --bassinage-temp 6 --tap 20 --ice-temp -5",
    );
    assert!(answer["heat_balance"]["rest_end_c"].is_number());
    assert_eq!(answer["ddt_formula"]["terms"], 4);
}

#[test]
fn ice_and_friction() {
    // 40 * 10 / (20 + 79.7): 4.00 to 4.02 kg by any published melting heat
    let answer = json("ice --total 40kg --tap 20 --want 10");
    let ice_g = number(&answer["ice_g"]);
    assert!((4000.0..4020.0).contains(&ice_g), "{ice_g}");
    assert!((ice_g + number(&answer["tap_g"]) - 40e3).abs() < 1e-6);
    let below = json("ice --total 40kg --tap 68F --want -5 --ice-temp -5");
    assert!(number(&below["ice_g"]) > ice_g);
    assert_eq!(below["warnings"].as_array().unwrap().len(), 1);
    let error = refusal("ice --total 40kg --tap 20 --want -90", 1);
    assert!(
        error.starts_with("ice: water of -90.0 °C cannot be met"),
        "{error}"
    );

    // Lehmann, Pizza Today 2018-06 p. 29, read backwards: 240 - 205 = 35 °F
    let answer = json("friction --dough 80F --flour 65F --room 75F --water 65F");
    assert!((number(&answer["friction_factor_c"]) * 1.8 - 35.0).abs() < 1e-6);
    assert!((number(&answer["real_rise_c"]) * 5.4 - 35.0).abs() < 1e-6);
    // 3 * 24 - 62
    let answer = json("friction --base 62 --dough 24");
    assert!((number(&answer["friction_factor_c"]) - 10.0).abs() < 1e-9);
}

#[test]
fn dose_with_all_its_keys() {
    let answer = json("dose --kind poolish --for 12h --at 21 --flour-mass 500g --yeast instant");
    let dose = number(&answer["dose_percent"]);
    // instant does the work of three times its mass of fresh: factor 0.33 of data/yeast
    assert!((dose / number(&answer["fresh_percent"]) - 0.33).abs() < 1e-6);
    assert!((number(&answer["yeast_g"]) - 5.0 * dose).abs() < 1e-6);
    let range = answer["range_percent"].as_array().unwrap();
    assert!(number(&range[0]) < dose && dose < number(&range[1]));
    assert!(number(&answer["proportional_percent"]) > dose);
    let weigh = &answer["weigh"];
    let part = number(&weigh["take_g"]) * number(&weigh["yeast_g"])
        / (number(&weigh["yeast_g"]) + number(&weigh["water_g"]));
    // whole grams: half a step in 20
    assert!(
        (part / number(&answer["yeast_g"]) - 1.0).abs() < 0.03,
        "{part}"
    );
    let fine =
        json("dose --kind poolish --for 720min --at 69.8F --flour-mass 0.5kg --scale-step 0.01g");
    assert!(fine["weigh"].is_null());
    assert!((number(&fine["dose_percent"]) - dose).abs() < 1e-6);
    let doubled =
        json("dose --kind poolish --for 12h --at 21 --until doubled --salt 1% --hydration 90%");
    assert_eq!(doubled["until"], "doubled");
    assert!(doubled["yeast_g"].is_null());
}

#[test]
fn a_working_recipe_anchors_the_dose() {
    let from = "--kind poolish --from-dose 0.5% --from-time 8h --from-at 22 --yeast fresh";
    let itself = json(&format!("dose {from} --for 8h --at 22"));
    assert!((number(&itself["dose_percent"]) - 0.5).abs() < 1e-6);
    let longer = json(&format!("dose {from} --for 14h --at 22"));
    let plain = number(&longer["proportional_percent"]);
    assert!((plain - 0.5 * 8.0 / 14.0).abs() < 1e-8);
    assert!(number(&longer["dose_percent"]) < plain);
    let colder = json(&format!("dose {from} --for 14h --at 20"));
    assert!(number(&colder["dose_percent"]) > number(&longer["dose_percent"]));
    assert_eq!(colder["range_percent"].as_array().unwrap().len(), 2);
    assert_eq!(colder["notes"][0]["code"], "recipe-elsewhere");
}

#[test]
fn ready_held_drifting_and_by_record() {
    let held = json("ready --kind poolish --dose 0.5% --at 22 --yeast fresh");
    let ready = number(&held["ready_h"]);
    // 0.5 % ripens in 8 h at about this temperature, say the sources of data/dose-time/poolish.toml
    assert!((6.0..11.0).contains(&ready), "{ready}");
    for key in ["range_h", "window_h"] {
        let span = held[key].as_array().unwrap();
        assert!(
            number(&span[0]) < ready && ready < number(&span[1]),
            "{key}"
        );
    }
    let drifting = json("ready --kind poolish --dose 0.5% --mixed-at 25 --room 19 --yeast fresh");
    let end_c = number(&drifting["dough_end_c"]);
    assert!(19.0 < end_c && end_c < 25.0);

    let record = file("cold_night.csv", COLD_NIGHT.as_bytes());
    let by_hours = json(&format!(
        "ready --kind poolish --dose 0.3% --room-record {record}"
    ));
    // The same night by the calendar, with a byte order mark, as a spreadsheet saves it.
    let stamped = "\u{feff}timestamp,temperature_c\r\n2026-11-28T21:00+01:00,21\r\n\
        2026-11-28T23:00+01:00,18.5\r\n2026-11-29T02:00+01:00,16\r\n\
        2026-11-29T06:00+01:00,14.5\r\n2026-11-29T09:00+01:00,14\r\n";
    let stamped = file("cold_night_stamped.csv", stamped.as_bytes());
    let by_calendar = json(&format!(
        "ready --kind poolish --dose 0.3% --room-record {stamped}"
    ));
    assert_eq!(by_hours["ready_h"], by_calendar["ready_h"]);

    // The dose for that time is the dose it was asked with.
    let back = json(&format!(
        "dose --kind poolish --for {:.6}h --room-record {record}",
        number(&by_hours["ready_h"])
    ));
    assert!((number(&back["dose_percent"]) - 0.3).abs() < 1e-5);
}

#[test]
fn scale_adds_up() {
    let rolls = file("rolls.toml", ROLLS.as_bytes());
    let answer = json(&format!("scale {rolls} --pieces 24 --piece 250g"));
    let all: f64 = answer["ingredients"]
        .as_array()
        .unwrap()
        .iter()
        .map(|i| {
            assert!(i["name"].is_string() && i["stage"].is_string());
            number(&i["mass_g"])
        })
        .sum();
    let dough = number(&answer["dough_g"]);
    assert!((all - dough).abs() < 1e-6);
    assert!((dough - number(&answer["scrap_g"]) - 6000.0).abs() < 1e-6);
    // At the file's own number and mass: 40 * 90 g, of which the scrap is 2 % on top.
    let own = json(&format!("scale {rolls}"));
    assert!((number(&own["dough_g"]) - 3600.0 / 0.98).abs() < 1e-6);
}

/// A bound in a number, an error, an exact number, and a judgement that the note tells.
#[test]
fn tables_tell_how_far_a_value_may_be_off() {
    let kinds = text("tables kinds");
    assert!(
        kinds.contains("instant = 0.33, 10 to 90 %: 0.3 to 0.4"),
        "{kinds}"
    );
    assert!(kinds.contains("fresh = 1\n"), "{kinds}");
    let growth = text("tables zakhartsev2015");
    assert!(
        growth.contains("t_min_c = 2.6 °C, standard error 1.6"),
        "{growth}"
    );
    assert!(text("tables fitted").contains("mL per 100 g flour, log-sd 0.1"));
    let steel = text("tables properties");
    let (_, steel) = steel.split_once("c_steel_kj_per_kg_k = ").unwrap();
    let (first, rest) = steel.split_once('\n').unwrap();
    assert!(
        first.ends_with("its uncertainty is judged below"),
        "{first}"
    );
    assert!(rest.contains("by judgement 0.46 to 0.50"), "{rest}");
}

#[test]
fn tables_tell_the_origin_of_every_value() {
    let all = json("tables");
    let ids = all["tables"]
        .as_array()
        .unwrap()
        .iter()
        .map(|t| t["id"].as_str().unwrap());
    for id in ids {
        let table = json(&format!("tables {id}"));
        for value in table["values"].as_array().unwrap() {
            assert!(value["source"].is_string() && value["standing"].is_string());
        }
        assert!(text(&format!("tables {id}")).starts_with(id));
    }
}

#[test]
fn words_lead_with_the_answer_and_fit_a_terminal() {
    let record = file("words.csv", COLD_NIGHT.as_bytes());
    let rolls = file("words.toml", ROLLS.as_bytes());
    for (line, begins) in [
        (
            "water --dough 24 --flour 20 --room 21 --friction 2",
            "Pour the dough water at 29.0 °C (84 °F).\n",
        ),
        (
            "water --dough 26 --flour 20 --room 21 --friction 9 --flour-mass 1kg --water-mass 650g --tap 12",
            "Pour the dough water at ",
        ),
        (
            "ice --total 40kg --tap 20 --want 10",
            "Weigh 4012 g of ice and 35.99 kg of tap water.\n",
        ),
        (
            "friction --base 62 --dough 24",
            "Friction factor: 10.0 °C (18.0 °F)",
        ),
        (
            "dose --kind poolish --for 12h --at 21 --flour-mass 500g",
            "Take 0.",
        ),
        (
            "ready --kind biga --dose 0.4% --at 18",
            "The biga is ripe after ",
        ),
        (
            &format!("ready --kind dough --dose 0.5% --room-record {record}"),
            "The dough has doubled after ",
        ),
        (&format!("scale {rolls}"), "Quay rolls: 40 pieces of 90.0 g"),
        ("tables", "slator1906 "),
        ("tables defaults", "defaults: "),
        ("--help", "Times dough fermentation by temperature"),
    ] {
        let said = text(line);
        assert!(said.starts_with(begins), "{line}: {said}");
        for row in said.lines() {
            // An address of the web cannot be broken.
            assert!(
                row.chars().count() <= 80 || row.contains("http"),
                "{line}: {row}"
            );
        }
        assert!(!said.contains("_c "), "a key where a flag would do: {said}");
    }
}

#[test]
fn every_command_shows_an_example_that_is_its_own() {
    for command in [
        "scale", "water", "ice", "friction", "dose", "ready", "plan", "tables",
    ] {
        let help = text(&format!("{command} --help"));
        assert!(help.contains("Example"), "{help}");
        assert!(help.contains(&format!("  pointage {command} ")), "{help}");
        assert!(help.contains("--json"), "{help}");
    }
}

#[test]
fn flags_and_values_that_are_not_understood() {
    for (line, says) in [
        ("", "no command given; say one of new, keys, scale, water,"),
        (
            "watr --dough 24",
            "unknown command \"watr\"; did you mean \"water\"?",
        ),
        (
            "ready --kinds poolish",
            "ready: unknown flag --kinds; did you mean --kind?",
        ),
        ("ready --kind poolish", "ready: --at is missing: give it"),
        (
            "ready --kind polish --dose 1",
            "ready: --kind: unknown kind \"polish\"; did you mean \"poolish\"?",
        ),
        (
            "dose --kind poolish --at 21 --for 12",
            "dose: --for: cannot read length of time from \"12\"; write it with its unit, such as 12h, 90min or 1h30",
        ),
        (
            "dose --kind poolish --at 21 --for",
            "dose: --for: the value is missing",
        ),
        (
            "dose --kind poolish --for --at 21",
            "dose: --for: the value is missing",
        ),
        (
            "dose --kind poolish --for 1h90 --at 21",
            "dose: --for: cannot read",
        ),
        (
            "water --dough nan",
            "water: --dough: cannot read temperature from \"nan\"",
        ),
        (
            "water --mixing-heat NaN",
            "water: --mixing-heat: cannot read number from \"NaN\"",
        ),
        (
            "water --base infF",
            "water: --base: cannot read base temperature",
        ),
        (
            "water --flour-mass -5g",
            "water: --flour-mass: mass is -5 g, but must lie between 0 and",
        ),
        (
            "water --flour 300",
            "water: --flour: temperature is 300 °C, but must lie between -100 and 150 °C",
        ),
        ("water 24", "water: \"24\" belongs to no flag"),
        (
            "water --flour 20 --flour 21",
            "water: --flour is given twice",
        ),
        (
            "tables poolis",
            "tables: unknown table \"poolis\"; did you mean \"poolish\"?",
        ),
    ] {
        let said = refusal(line, 2);
        assert!(said.starts_with(says), "{line}: {said}");
    }
}

#[test]
fn what_is_missing_or_does_not_go_together() {
    for (line, says) in [
        ("water --flour 20", "water: --dough is missing"),
        (
            "water --dough 24 --flour 20 --friction 2",
            "water: --room is missing",
        ),
        (
            "water --dough 24 --flour 5 --room 6 --base 60 --friction 2",
            "water: --friction and --base both",
        ),
        (
            "friction --base 60 --dough 24 --flour 20",
            "friction: --base and --flour both",
        ),
        ("ready --kind poolish --dose 0.5", "ready: --at is missing"),
        (
            "ready --kind poolish --dose 0.5 --at 20 --room 19",
            "ready: --at and --room both",
        ),
        (
            "ready --kind poolish --dose 0.5 --mixed-at 20",
            "ready: --room is missing",
        ),
        (
            "ready --kind poolish --dose 0 --at 20",
            "ready: --dose: dose as fresh yeast is 0 % of flour, but must lie between 0.0001 and 20",
        ),
        (
            "ready --kind poolish --dose 1 --at 20 --hydration 10",
            "ready: --hydration: hydration is 10 %",
        ),
        (
            "dose --kind poolish --for 12h --at 21 --from-dose 0.5%",
            "dose: --from-time is missing",
        ),
        (
            "dose --kind poolish --for 12h --at 21 --from-dose 0.5% --from-time 8h",
            "dose: --from-at is missing",
        ),
        (
            "dose --kind poolish --for 12h --at 21 --flour-mass 1kg --scale-step 0g",
            "dose: --scale-step: scale step is 0 g",
        ),
        (
            "dose --kind poolish --for 1s --at 21",
            "dose: --for: time is 0.000278 h, but must lie between 0.05 and 504 h",
        ),
    ] {
        let said = refusal(line, 2);
        assert!(said.starts_with(says), "{line}: {said}");
    }
}

#[test]
fn an_aim_out_of_reach_is_exit_1() {
    for (line, says) in [
        (
            "ready --kind poolish --dose 0.5% --at -8",
            "ready: ripeness cannot be met: after three weeks",
        ),
        (
            "ready --kind poolish --dose 0.5% --mixed-at 4 --room -10",
            "ready: ripeness cannot be met",
        ),
        (
            "dose --kind biga --for 1h --at 6",
            "dose: a dose for 1.0 h cannot be met: with 20 % fresh yeast",
        ),
        (
            "dose --kind dough --for 90h --at 30",
            "dose: a dose for 90.0 h cannot be met",
        ),
        (
            "water --dough 24 --flour 60 --room 60 --friction 40 --tap 15",
            "water: DDT formula: water of -88.0 °C cannot be met",
        ),
        (
            "water --dough 10 --flour 30 --room 30 --friction 0",
            "water: water of -30.0 °C cannot be met: that is a pour with ice",
        ),
    ] {
        let said = refusal(line, 1);
        assert!(said.starts_with(says), "{line}: {said}");
        assert!(said.contains(';'), "no remedy: {said}");
    }
}

#[test]
fn files_that_cannot_be_read_are_exit_3() {
    for command in ["scale", "ready --kind poolish --dose 1 --room-record"] {
        let said = refusal(&format!("{command} no/such/file"), 3);
        assert!(
            said.contains("no/such/file: there is no such file"),
            "{said}"
        );
        let said = refusal(&format!("{command} ."), 3);
        assert!(said.contains("it is a directory"), "{said}");
    }
}

#[test]
fn files_that_make_no_sense_are_named_with_their_line() {
    let zeros = "zeros";
    let path = directory().join(zeros);
    // Sparse: it takes no room on the disk. Where that is certain it is larger than any memory, so that it
    // cannot have been read.
    let length = if cfg!(target_os = "linux") {
        1 << 40
    } else {
        100 << 20
    };
    fs::File::create(&path).unwrap().set_len(length).unwrap();
    for (command, most) in [
        ("scale", "1 MiB"),
        ("ready --kind biga --dose 1 --room-record", "16 MiB"),
    ] {
        let said = refusal(&format!("{command} {zeros}"), 2);
        assert!(
            said.contains(&format!("{zeros}: larger than {most}")),
            "{said}"
        );
    }
    fs::remove_file(&path).unwrap();

    let record = |name: &str, content: &[u8]| {
        let path = file(name, content);
        let said = refusal(
            &format!("ready --kind poolish --dose 1 --room-record {path}"),
            2,
        );
        let rest = said.strip_prefix(&format!("ready: {path}: "));
        rest.unwrap_or_else(|| panic!("the file is not named: {said}"))
            .to_owned()
    };
    let header = "hours,temperature_c\n";
    for (content, says) in [
        (String::new(), "the file is empty"),
        (header.to_owned(), "the record has no rows"),
        (
            format!("{header}0,20\n3,19\n2,18\n"),
            "line 4, column hours: 2 h comes after 3 h",
        ),
        (
            format!("{header}0,300\n"),
            "line 2, column temperature_c: temperature is 300 °C",
        ),
        (
            format!("{header}0,nan\n"),
            "line 2, column temperature_c: cannot read",
        ),
        (
            "hours,temp\n0,20\n".to_owned(),
            "line 1: no column temperature_c",
        ),
        (
            "timestamp,temperature_c\nyesterday,20\n".to_owned(),
            "line 2, column timestamp: cannot read timestamp",
        ),
        (
            "timestamp,temperature_c\n2026-11-28T20:00,20\n2026-11-28T21:00Z,20\n".to_owned(),
            "line 3, column timestamp: \"2026-11-28T21:00Z\" and the first row do not go together",
        ),
        ("\0\0\0\0".to_owned(), "line 1: zero bytes"),
    ] {
        let said = record("bad.csv", content.as_bytes());
        assert!(said.starts_with(says), "{said}");
    }
    let said = record("latin1.csv", b"hours,temperature_c\n0,20\n# K\xfcche\n");
    assert!(
        said.starts_with("line 3: not UTF-8 text; save the file as UTF-8"),
        "{said}"
    );

    let path = file("typo.toml", ROLLS.replace("piece_g", "peice_g").as_bytes());
    let said = refusal(&format!("scale {path}"), 2);
    assert!(said.starts_with(&format!("scale: {path}: ")), "{said}");
    assert!(said.contains("did you mean \"piece_g\"?"), "{said}");
}

#[test]
fn a_reader_that_has_seen_enough_is_no_fault() {
    let mut child = pointage("tables --json")
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut first = [0; 1];
    let mut pipe = child.stdout.take().unwrap();
    pipe.read_exact(&mut first).unwrap();
    drop(pipe);
    let out = child.wait_with_output().unwrap();
    assert!(out.status.success() && out.stderr.is_empty());
}

#[cfg(unix)]
#[test]
fn an_argument_that_is_no_text_is_refused() {
    use std::os::unix::ffi::OsStrExt;
    let out = pointage("water --dough")
        .arg(std::ffi::OsStr::from_bytes(b"2\xff"))
        .output()
        .unwrap();
    assert_eq!(out.status.code(), Some(2));
    assert_eq!(String::from_utf8(out.stderr).unwrap().lines().count(), 1);
}

#[test]
fn completions_and_manual_pages_follow_the_commands() {
    let commands = [
        "scale", "water", "ice", "friction", "dose", "ready", "plan", "adjust", "compare",
        "tables", "call",
    ];
    for shell in ["bash", "elvish", "fish", "powershell", "zsh"] {
        let script = text(&format!("completions {shell}"));
        for word in commands.iter().chain(&["first-out", "flour-moisture"]) {
            assert!(script.contains(word), "{shell} {word}");
        }
    }
    let page = text("man");
    for part in commands.iter().chain(&[".TH pointage 1", "Exit codes"]) {
        assert!(page.contains(part), "{part}");
    }
    let page = text("man plan");
    for part in ["pointage\\-plan", "\\-\\-first\\-out", "Example"] {
        assert!(page.contains(part), "{part}");
    }
    assert!(refusal("completions tcsh", 2).contains("tcsh"));
    assert!(refusal("man brew", 2).contains("unknown command"));
    // They help in setting up and are no command of the day: the list of commands leaves them out.
    assert!(!text("--help").contains("\n  man"));
}

#[test]
fn every_help_has_an_example_and_the_exit_codes_are_told() {
    for command in [
        "scale",
        "water",
        "ice",
        "friction",
        "dose",
        "ready",
        "plan",
        "adjust",
        "compare",
        "tables",
        "call",
        "completions",
        "man",
    ] {
        let help = text(&format!("{command} --help"));
        assert!(help.contains("Example"), "{command}");
        // The parser does not break its line of usage.
        let mut text = help.lines().filter(|l| !l.starts_with("Usage"));
        assert!(text.all(|l| l.chars().count() <= 80), "{command}");
    }
    let help = text("--help");
    for code in ["0  fine", "1  the aim", "2  bad input", "3  a file"] {
        assert!(help.contains(code), "{code}");
    }
}

#[test]
fn call_takes_turns() {
    use std::io::{BufRead, BufReader, Write};
    let mut held = pointage("call")
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let mut requests = held.stdin.take().unwrap();
    let mut answers = BufReader::new(held.stdout.take().unwrap()).lines();
    for want_c in [2, 5, 9] {
        // The next question depends on the answer: nothing may stay in a buffer.
        let request = format!(
            r#"{{"version": 1, "command": "ice", "total_g": 4000, "tap_c": 18, "want_c": {want_c}}}"#
        );
        writeln!(requests, "{request}").unwrap();
        let answer: Value = serde_json::from_str(&answers.next().unwrap().unwrap()).unwrap();
        assert_eq!(answer["version"], 1);
        let by_flags = json(&format!("ice --total 4kg --tap 18 --want {want_c}"));
        assert_eq!(answer["ice_g"], by_flags["ice_g"]);
    }
    drop(requests);
    assert!(answers.next().is_none() && held.wait().unwrap().success());
}

#[test]
fn the_program_answers_requests_like_the_library() {
    use std::io::Write;
    let requests = include_str!("../../../../tests/requests.jsonl");
    let mut program = pointage("call")
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let mut input = program.stdin.take().unwrap();
    let writer = std::thread::spawn(move || input.write_all(requests.as_bytes()).unwrap());
    let output = String::from_utf8(program.wait_with_output().unwrap().stdout).unwrap();
    writer.join().unwrap();
    let expected: Vec<String> = requests.lines().map(pointage_api::call).collect();
    assert_eq!(output.lines().collect::<Vec<_>>(), expected);
}

#[test]
fn a_request_has_the_keys_that_the_flags_have() {
    let answered = |request: &str| -> Value {
        let mut answer: Value = serde_json::from_str(&pointage_api::call(request)).unwrap();
        assert_eq!(
            answer.as_object_mut().unwrap().remove("version"),
            Some(1.into())
        );
        answer.as_object_mut().unwrap().remove("made_by");
        answer
    };
    let dir = concat!(env!("CARGO_MANIFEST_DIR"), "/../../data/demo");
    let market = Value::from(include_str!("../../../../data/demo/market-poolish.toml"));
    for (flags, request) in [
        (
            "water --dough 24 --flour 20 --room 21 --friction 2".to_owned(),
            r#"{"version": 1, "command": "water", "dough_c": 24, "flour_c": 20, "room_c": 21, "friction_factor_c": 2}"#.to_owned(),
        ),
        (
            "friction --base 62 --dough 24".to_owned(),
            r#"{"version": 1, "command": "friction", "base_c": 62, "dough_c": 24}"#.to_owned(),
        ),
        (
            "dose --kind poolish --for 12h --at 21 --flour-mass 500g --yeast instant".to_owned(),
            r#"{"version": 1, "command": "dose", "kind": "poolish", "for_h": 12, "at_c": 21, "flour_mass_g": 500, "yeast": "instant"}"#.to_owned(),
        ),
        (
            "ready --kind biga --dose 0.35% --mixed-at 20 --room 17 --flour-mass 5kg".to_owned(),
            r#"{"version": 1, "command": "ready", "kind": "biga", "dose_percent": 0.35, "mixed_at_c": 20, "room_c": 17, "flour_mass_g": 5000}"#.to_owned(),
        ),
        (
            "tables poolish".to_owned(),
            r#"{"version": 1, "command": "tables", "id": "poolish"}"#.to_owned(),
        ),
        (
            format!("scale {dir}/market-poolish.toml --pieces 12 --piece 500g"),
            format!(r#"{{"version": 1, "command": "scale", "bake_toml": {market}, "pieces": 12, "piece_g": 500}}"#),
        ),
        (
            format!("plan {dir}/market-poolish.toml --first-out 09:00 --date 2026-11-28 --zone Europe/Vienna"),
            format!(r#"{{"version": 1, "command": "plan", "bake_toml": {market}, "first_out": "09:00", "date": "2026-11-28", "utc_offset": "+01:00"}}"#),
        ),
    ] {
        let mut by_flags = json(&flags);
        // What only the program does, and says beside the answer: its demo bake, the files it has written.
        for own in ["demo", "written"] {
            by_flags.as_object_mut().unwrap().remove(own);
        }
        assert_eq!(answered(&request), by_flags, "{flags}");
    }
}

#[test]
fn messages_name_what_is_wrong_in_its_own_words() {
    for (line, words) in [
        (
            "ready --kind poolish --q10 abc",
            "cannot read number from \"abc\"; write a plain number",
        ),
        ("log", "say one of add, check"),
        ("log foo", "known: add, check"),
        ("learn missing.csv --scatter 0%", "there is no such file"),
    ] {
        let code = if line.starts_with("learn") { 3 } else { 2 };
        let said = refusal(line, code);
        assert!(
            said.contains(words) && !said.contains("fit-published"),
            "{said}"
        );
    }
    let log = concat!(env!("CARGO_MANIFEST_DIR"), "/../../data/demo/stall-log.csv");
    let said = refusal(&format!("learn {log} --scatter 0%"), 2);
    assert!(
        said.contains("scatter is 0 %, but must lie between 0.1 and 200 %"),
        "{said}"
    );
}
