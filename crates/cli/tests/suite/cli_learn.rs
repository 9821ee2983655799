//! The program learning: `--params`, `learn`, `log`, `friction` of a log, `fit-rate`.

use crate::program::{directory, file, json, number, pointage, refusal, run, text};
use serde_json::Value;
use std::fs;
use std::path::PathBuf;

const DEMO: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../../data/demo/stall-log.csv");
const HEADER: &str = "kind,flour_g,water_g,yeast,yeast_g,temperature_c,hours,seen\n";

fn path(name: &str) -> PathBuf {
    directory().join(name)
}

fn gone(name: &str) -> &str {
    let _ = fs::remove_file(path(name));
    name
}

fn own(values: &str) -> String {
    format!(
        "format = 1\nid = \"kitchen\"\ntitle = \"Our poolish\"\nobserved = \"nights\"\n\
         source = \"our log\"\nlocus = \"all\"\nstanding = \"derived\"\n{values}"
    )
}

fn warned(answer: &Value, says: &str) -> bool {
    let warnings = answer["warnings"].as_array().unwrap();
    warnings
        .iter()
        .any(|w| w["text"].as_str().or(w.as_str()).unwrap().contains(says))
}

#[test]
fn every_command_takes_own_numbers_and_says_so() {
    let half = own("[values.poolish_ml_per_100g]\nvalue = 105.3\nlog_sd = 0.05\n");
    let params = format!("--params {}", file("half.toml", half.as_bytes()));
    let ready = "ready --kind poolish --dose 0.3% --at 21 --yeast fresh";
    let (shipped, own) = (json(ready), json(&format!("{ready} {params}")));
    // Half the gas at the end point is made sooner.
    assert!(number(&own["ready_h"]) < 0.8 * number(&shipped["ready_h"]));
    assert!(
        own["notes"]
            .to_string()
            .contains("half.toml: Our poolish (our log)")
    );
    // A smaller uncertainty makes a narrower range.
    let width = |a: &Value| number(&a["range_h"][1]) / number(&a["range_h"][0]);
    assert!(width(&own) < width(&shipped));

    let dose = "dose --kind poolish --for 12h --at 21 --yeast fresh";
    let (shipped, own) = (json(dose), json(&format!("{params} {dose}")));
    assert!(number(&own["dose_percent"]) < number(&shipped["dose_percent"]));

    let market = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/../../data/demo/market-poolish.toml"
    );
    let day = "--first-out 09:00 --date 2026-11-28 --zone UTC";
    for command in [
        format!("plan {market} {day}"),
        format!("compare {market} {day} --vary room=20..22..2"),
    ] {
        let with = text(&format!("{command} {params}")).replace("\n  ", " ");
        assert!(
            with.contains("Fermentation parameters of half.toml"),
            "{command}: {with}"
        );
        assert_ne!(with, text(&command));
    }
    let out = pointage(&format!("adjust {market} {day} {params}"))
        .args(["--measured", "mix 27C 04:20"])
        .output()
        .unwrap();
    assert!(String::from_utf8_lossy(&out.stdout).contains("Fermentation parameters"));
}

#[test]
fn a_bad_parameter_file_is_named_by_line() {
    let ready = "ready --kind poolish --dose 0.3% --at 21 --params";
    for (name, content, says) in [
        (
            "typo.toml",
            own("[values.polish_ml_per_100g]\nvalue = 1.0\nlog_sd = 0.1\n"),
            "typo.toml: line 8: [values.polish_ml_per_100g]: unknown parameter",
        ),
        (
            "range.toml",
            own("\n[values.kept]\nvalue = 4.0\nlog_sd = 0.1\n"),
            "range.toml: line 9: [values.kept]: kept is 4",
        ),
        (
            "form.toml",
            "format = 1\nid = kitchen\n".into(),
            "form.toml: line 2",
        ),
    ] {
        let said = refusal(&format!("{ready} {}", file(name, content.as_bytes())), 2);
        assert!(said.starts_with(&format!("ready: {says}")), "{said}");
    }
    let said = refusal(&format!("{ready} no-such.toml"), 3);
    assert!(
        said.contains("no-such.toml: there is no such file"),
        "{said}"
    );
}

#[test]
fn what_was_learned_moves_every_answer() {
    let out = format!("--out {} --date 2026-11-25", gone("kitchen.toml"));
    let learned = json(&format!("learn {DEMO} {out}"));
    assert_eq!(learned["rows_used"], 10);
    assert_eq!(learned["written"][0], "kitchen.toml");
    for p in learned["estimates"].as_array().unwrap() {
        assert!(number(&p["standard_error"]) < number(&p["prior_sd"]), "{p}");
    }
    assert!(number(&learned["estimates"][0]["value"]) < number(&learned["estimates"][0]["prior"]));
    assert_eq!(learned["largest"].as_array().unwrap().len(), 3);
    assert!(
        number(&learned["next_bake"]["log_sd_then"]) < number(&learned["next_bake"]["log_sd_now"])
    );

    // Line 3 of the log was ripe after 11.25 h, sooner than the shipped numbers say.
    let ready = "ready --kind poolish --dose 0.3% --at 21 --yeast fresh";
    let before = number(&json(ready)["ready_h"]);
    let after = json(&format!("{ready} --params kitchen.toml"));
    let now = number(&after["ready_h"]);
    assert!(
        before > 12.0 && (now - 11.25).abs() < (before - 11.25).abs(),
        "{now}"
    );
    // The file gives what the report gives, to its six digits.
    let row = &learned["rows"][0];
    assert!(
        (number(&row["predicted_h"]) / now - 1.0).abs() < 1e-4,
        "{row}"
    );
    assert!(
        after["notes"]
            .to_string()
            .contains("stall-log.csv, learned 2026-11-25")
    );
    let written = fs::read_to_string(path("kitchen.toml")).unwrap();
    for part in [
        "10 rows",
        "lines 3 to 12",
        concat!("Pointage ", env!("CARGO_PKG_VERSION")),
    ] {
        assert!(written.contains(part), "{written}");
    }

    // Only what is offered is advised.
    let next = &json(&format!("learn {DEMO} --offer-at 17,19 --offer-dose 0.25%"))["next_bake"];
    assert!(
        next["temperature_c"] == 17.0 || next["temperature_c"] == 19.0,
        "{next}"
    );
    assert_eq!(next["fresh_percent"], 0.25);

    // Never overwritten unasked.
    let said = refusal(&format!("learn {DEMO} {out} --scatter 10%"), 2);
    assert!(said.contains("kitchen.toml: the file exists"), "{said}");
    assert_eq!(fs::read_to_string(path("kitchen.toml")).unwrap(), written);
    text(&format!("learn {DEMO} {out} --scatter 10% --force"));
    assert_ne!(fs::read_to_string(path("kitchen.toml")).unwrap(), written);
    let copy = file("copy.csv", &fs::read(DEMO).unwrap());
    let said = refusal(&format!("learn {copy} --out {copy} --force"), 2);
    assert!(said.contains("already in use"), "{said}");
}

/// What a first log taught is still there when a second one, of another kind, begins from it.
#[test]
fn learning_from_a_second_log_keeps_the_first() {
    let date = "--date 2026-11-25";
    text(&format!("learn {DEMO} {date} --out {}", gone("first.toml")));
    let mut first = fs::read_to_string(path("first.toml")).unwrap();
    first.push_str("\n[values.kept]\nvalue = 0.45\nlog_sd = 0.1\n");
    first.push_str("\n[values.window_open]\nvalue = 0.8\njudged = true\nnote = \"by judgement\"\n");
    file("first.toml", first.as_bytes());
    let rows = "dough,7700,5000,instant,44,25,2.1,doubled\n";
    let second = file("second.csv", format!("{HEADER}{rows}").as_bytes());
    let out = gone("second.toml");
    let said = json(&format!(
        "learn {second} --params first.toml --out {out} {date}"
    ));
    assert_eq!(said["notes"][1]["code"], "carried-over", "{said}");
    let parsed =
        |name: &str| -> toml::Table { fs::read_to_string(path(name)).unwrap().parse().unwrap() };
    let (before, after) = (parsed("first.toml"), parsed(out));
    let note = after["note"].as_str().unwrap();
    assert!(note.contains("the numbers of first.toml ("), "{note}");
    assert!(!note.contains("with the shipped table as prior"), "{note}");
    let kept = &after["values"]["kept"];
    assert_eq!(before["values"]["kept"]["value"], kept["value"]);
    assert_eq!(before["values"]["kept"]["log_sd"], kept["log_sd"]);
    assert!(note.contains("carried over from first.toml"), "{note}");
    let open = &after["values"]["window_open"];
    assert_eq!(open["judged"].as_bool(), Some(true));
    assert_eq!(open["note"].as_str().unwrap(), "by judgement");
    // The first log ties the poolish to slope and growth, of which the second tells a little.
    let poolish =
        |t: &toml::Table, key: &str| t["values"]["poolish_ml_per_100g"][key].as_float().unwrap();
    let moved = (poolish(&after, "value") / poolish(&before, "value")).ln();
    let (old, new) = (poolish(&before, "log_sd"), poolish(&after, "log_sd"));
    assert!(
        moved.abs() < 0.2 * old && new < 1.001 * old,
        "{moved} {old} {new}"
    );
    let first_log = &after["values"]["kept"]["source"];
    assert!(first_log.as_str().unwrap().contains("stall-log.csv"));
    assert_ne!(
        before["values"]["dough_ml_per_100g"]["value"],
        after["values"]["dough_ml_per_100g"]["value"]
    );
    // A third begins from the second: what it carries is as the first had it.
    let third = gone("third.toml");
    text(&format!(
        "learn {second} --params {out} --out {third} {date}"
    ));
    assert_eq!(&parsed(third)["values"]["kept"], kept);
}

/// Times in which no dough is ripe, or every one is: each row is more likely mistyped than true, and the answer is one
/// of numbers all the same.
#[test]
fn times_beyond_any_dough_are_answered() {
    for (name, hours, seen) in [
        ("past.csv", "0.2", "past"),
        ("early5.csv", "400", "not-yet"),
    ] {
        let row = format!("poolish,3000,3000,fresh,9,21,{hours},{seen}\n");
        let log = file(name, format!("{HEADER}{}", row.repeat(5)).as_bytes());
        let out = gone("limit.toml");
        let answer = json(&format!("learn {log} --out {out}"));
        assert!(warned(&answer, "does not fit the others") || warned(&answer, "did not settle"));
        text(&format!(
            "ready --kind poolish --dose 0.3% --at 21 --params {out}"
        ));
    }
}

/// Where the log says nothing about a parameter, forecast and file both leave it about where it was.
#[test]
fn the_file_forecasts_what_the_report_forecasts() {
    let rows = "poolish,1000,1000,fresh,3,24,4,ripe\n".repeat(2);
    let log = file("few.csv", format!("{HEADER}{rows}").as_bytes());
    let out = gone("few.toml");
    let answer = json(&format!("learn {log} --out {out}"));
    let untold: Vec<&Value> = answer["estimates"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|e| e["standard_error"].is_null())
        .collect();
    assert!(!untold.is_empty(), "{answer}");
    for e in untold {
        assert!(number(&e["moved"]).abs() < 0.5, "{e}");
    }
    let ready = json(&format!(
        "ready --kind poolish --dose 0.3% --at 24 --yeast fresh --params {out}"
    ));
    let (file, report) = (
        number(&ready["ready_h"]),
        number(&answer["forecasts"][0]["now_h"]),
    );
    assert!((file / report - 1.0).abs() < 1e-5, "{file} {report}");
}

/// One is one, and what is far off is given in hours.
#[test]
fn counts_and_lengths_read_well() {
    let row = "poolish,1000,1000,fresh,3,21,30,ripe\n";
    let log = file("single.csv", format!("{HEADER}{row}").as_bytes());
    let words = text(&format!("learn {log} --out {}", gone("single.toml")));
    assert!(words.contains("Largest differences: line 2, "), "{words}");
    assert!(!words.contains(" min"), "{words}");
    let written = fs::read_to_string(path("single.toml")).unwrap();
    assert!(written.contains("\"1 row: 1 seen ready"), "{written}");
    assert!(text(&format!("log check {log}")).contains("1 row good"));
    let mix = "flour_g,flour_c,water_g,water_c,room_c,dough_c,slow_min,fast_min\n\
               10000,21,6500,12,21,24,4,0\n";
    let mix = file("single-mix.csv", mix.as_bytes());
    let words = text(&format!("friction {mix} --sum"));
    assert!(words.contains(": 1 mix."), "{words}");
}

/// A mistyped row is named, with the slip of a digit that would explain it.
#[test]
fn a_mistyped_row_is_named() {
    let ripe = "poolish,1000,1000,fresh,3,21,12,ripe\n".repeat(6);
    let said = |row: &str, words: &str| {
        let log = file("advice.csv", format!("{HEADER}{ripe}{row}").as_bytes());
        let answer = json(&format!("learn {log}"));
        assert!(
            warned(&answer, "Check line 8: it does not fit the others"),
            "{answer}"
        );
        assert!(warned(&answer, words), "{answer}");
    };
    said(
        "poolish,1000,1000,fresh,3,21,120,ripe\n",
        "With a tenth of the hours",
    );
    said(
        "poolish,1000,1000,fresh,3,21,1.2,ripe\n",
        "With ten times the hours",
    );
    said(
        "poolish,1000,1000,fresh,30,21,12,ripe\n",
        "With a tenth of the yeast",
    );
}

#[test]
fn the_report_in_words() {
    let asked = "--explain --scatter 10% --force --chart";
    let words = text(&format!("learn {DEMO} {asked} seen.svg"));
    for part in [
        "10 rows used",
        "A single time scatters by 10 %",
        "gas of a ripe poolish",
        "Largest differences: line",
        "Log next: a",
    ] {
        assert!(words.replace('\n', " ").contains(part), "{part}: {words}");
    }
    assert!(words.lines().all(|l| l.chars().count() <= 80));
    let svg = fs::read_to_string(path("seen.svg")).unwrap();
    let chart = roxmltree::Document::parse(&svg).unwrap();
    let count = |tag| chart.descendants().filter(|n| n.has_tag_name(tag)).count();
    let open = |n: &roxmltree::Node| n.has_tag_name("path") && n.attribute("fill") == Some("white");
    let triangles = chart.descendants().filter(open).count();
    assert_eq!((count("circle"), triangles), (8, 2));
    assert!(!svg.contains("NaN"));
    // Round ends on both axes, and no path in the title.
    let texts = chart.descendants().filter(|n| n.has_tag_name("text"));
    let texts: Vec<&str> = texts.filter_map(|n| n.text()).collect();
    assert_eq!(texts[0], "stall-log.csv: hours observed and predicted");
    for end in ["2", "16"] {
        assert_eq!(texts.iter().filter(|t| **t == end).count(), 2, "{texts:?}");
    }
}

#[test]
fn bad_rows_are_named_and_the_rest_is_used() {
    let rows = "poolish,1000,1000,fresh,3,21,11.5,ripe\npoolish,1000,1000,fresh,3,21,two,ripe\n";
    let name = file("odd.csv", format!("{HEADER}{rows}").as_bytes());
    let words = text(&format!("learn {name}"));
    assert!(words.contains("1 row used"), "{words}");
    assert!(
        words.contains("Not used: line 3, column hours: cannot read"),
        "{words}"
    );
    let answer = json(&format!("learn {name}"));
    assert_eq!(answer["refused"][0]["line"], 3);
    assert!(warned(&answer, "one row"));

    // What is not told has no error bar.
    let censored = format!("{HEADER}poolish,1000,1000,fresh,3,21,0.2,not-yet\n");
    let name = file("early.csv", censored.as_bytes());
    assert!(text(&format!("learn {name} --explain")).contains("as before"));

    for (name, content, says) in [
        (
            "none.csv",
            HEADER.to_owned(),
            "none.csv: the log has no usable row",
        ),
        ("empty.csv", String::new(), "empty.csv: the file is empty"),
        (
            "all.csv",
            format!("{HEADER}polish,1000,1000,fresh,3,21,12,ripe\n"),
            "all.csv: the log has no usable row; the first that is at fault: line 2, column kind",
        ),
        (
            "head.csv",
            HEADER.replace("water_g", "wtaer_g"),
            "head.csv: line 1: unknown column \"wtaer_g\"",
        ),
    ] {
        let said = refusal(&format!("learn {}", file(name, content.as_bytes())), 2);
        assert!(said.starts_with(&format!("learn: {says}")), "{said}");
    }
    refusal("learn no-such.csv", 3);
}

#[test]
fn a_rooms_record_lies_beside_the_log() {
    fs::create_dir_all(path("logs")).unwrap();
    file("logs/night.csv", b"hours,temperature_c\n0,21\n12,18\n");
    let header = HEADER.replace("temperature_c", "temperature_c,room_record");
    let rows = "poolish,1000,1000,fresh,3,21,night.csv,13,ripe\npoolish,1000,1000,fresh,3,21,lost.csv,13,ripe\n";
    let log = file("logs/rooms.csv", format!("{header}{rows}").as_bytes());
    let answer = json(&format!("learn {log}"));
    assert_eq!(answer["rows_used"], 1);
    let refused = &answer["refused"][0];
    assert_eq!(
        (&refused["line"], &refused["column"]),
        (&3.into(), &"room_record".into())
    );
    assert!(refused["why"].as_str().unwrap().contains("no such file"));
}

#[test]
fn a_log_is_kept_row_by_row() {
    let log = gone("kept.csv");
    let poolish =
        "--kind poolish --flour-mass 1kg --hydration 100% --yeast fresh --dose 0.3% --at 21";
    let added = json(&format!(
        "log add {log} {poolish} --after 11h30 --date 2026-11-25"
    ));
    assert_eq!(added["line"], 2);
    // Over midnight: from 22:15 to 09:45 is eleven hours and a half.
    let over = json(&format!(
        "log add {log} {poolish} --started 22:15 --ended 09:45 --seen past"
    ));
    assert_eq!(number(&over["hours"]), 11.5);
    let before = fs::read_to_string(path(log)).unwrap();
    assert_eq!(before.lines().count(), 3);
    assert_eq!(
        before.lines().nth(1).unwrap(),
        "2026-11-25,poolish,1000,1000,,fresh,3,,,21,,,11.5,ripe,,"
    );
    assert_eq!(json(&format!("learn {log}"))["rows_used"], 2);

    // A row that would be refused is not added.
    for (flags, column) in [
        ("--after 11h30 --seen doubled", "column seen"),
        ("--after 1min", "column hours"),
    ] {
        let said = refusal(&format!("log add {log} {poolish} {flags}"), 2);
        assert!(said.contains("line 4") && said.contains(column), "{said}");
    }
    refusal(&format!("log add {log} {poolish}"), 2);
    // Two temperatures say different things of one dough.
    let two = refusal(
        &format!("log add {log} {poolish} --mixed-at 24 --after 11h30"),
        2,
    );
    assert!(two.contains("--mixed-at") && two.contains("--at"), "{two}");
    let said = refusal(
        &format!("log add {log} {poolish} --started 23:40 --ended 23:40"),
        2,
    );
    assert!(said.contains("are the same time"), "{said}");
    assert_eq!(fs::read_to_string(path(log)).unwrap(), before);

    // A note is a row's last word, not another row.
    let mut noted = pointage(&format!("log add {log} {poolish} --after 12h"));
    noted.args(["--note", "late\nand\rwarm"]);
    assert!(noted.status().unwrap().success());
    assert_eq!(json(&format!("learn {log}"))["rows_used"], 3);
    let kept = fs::read_to_string(path(log)).unwrap();
    assert!(
        kept.lines()
            .nth(3)
            .unwrap()
            .ends_with(",ripe,,late and warm")
    );

    // The header stays, with its order, units and line ends.
    let header = "seen,minutes,temperature_f,yeast_oz,yeast,water_lb,flour_kg,kind\r\n";
    let own = file("own.csv", header.as_bytes());
    text(&format!("log add {own} {poolish} --after 12h"));
    let kept = fs::read_to_string(path(own)).unwrap();
    assert!(
        kept.starts_with(header) && kept.ends_with("poolish\r\n"),
        "{kept}"
    );
    let answer = json(&format!("learn {own}"));
    assert_eq!(answer["rows"][0]["seen_h"], 12.0);
    let said = refusal(
        &format!("log add {own} {poolish} --after 12h --salt-mass 20g"),
        2,
    );
    assert!(said.contains("no column for salt"), "{said}");
}

/// Minutes of the day of an RFC 3339 time.
fn clock_min(time: &str) -> f64 {
    let [hours, minutes] = [11..13, 14..16].map(|digits| time[digits].parse::<f64>().unwrap());
    60.0 * hours + minutes
}

/// A preferment counts from its own mixing, where that is given; else from the plan's, and the row says so.
#[test]
fn a_logged_preferment_counts_from_its_mix() {
    let bake = "format = 1\nname = \"x\"\n[formula]\npieces = 8\npiece_g = 600\nhydration_percent = 67\nyeast_percent = 1\n\
                [preferment]\nkind = \"poolish\"\nflour_percent = 30\nripe_after_h = 12\n[kitchen]\nyeast = \"fresh\"\n\
                room_c = 21\n[process]\ndough_c = 24\nmix_min = 10\n[oven]\nbake_min = 40\npieces_per_load = 8\n";
    let (log, bake) = (gone("ahead.csv"), file("ahead.toml", bake.as_bytes()));
    let add = |more: &str| {
        let mut program = pointage(&format!(
            "log add {log} --bake {bake} --date 2026-11-25 --json {more}"
        ));
        for reading in ["mix 24C 06:10", "preferment ripe 05:00"] {
            program.args(["--measured", reading]);
        }
        serde_json::from_slice::<Value>(&program.output().unwrap().stdout).unwrap()
    };
    // Mixed at 18:00 by the plan, for a mix at 6:00.
    let planned = add("");
    assert!((number(&planned["hours"]) - 11.0).abs() < 0.01, "{planned}");
    let own = add("--preferment-mixed 17:30");
    assert!((number(&own["hours"]) - 11.5).abs() < 0.01, "{own}");
    let text = fs::read_to_string(path(log)).unwrap();
    let notes: Vec<&str> = text
        .lines()
        .skip(1)
        .filter_map(|line| line.rsplit(',').next())
        .collect();
    assert_eq!(notes, ["mixed at 18:00 by the plan", ""]);
}

/// A day's bulk and proof, measured by the clock, are rows of the log: 70 min of bulk to 1.6-fold, then 10 min of dividing,
/// 20 of rest and 15 of shaping, and 35 of proof. After some of these days a plan ends its stages there and not where
/// published recipes do.
#[test]
fn whole_bakes_are_logged_and_planned_by() {
    let bake = "format = 1\nname = \"x\"\n[formula]\npieces = 8\npiece_g = 600\nhydration_percent = 67\nyeast_percent = 2\n\
                [kitchen]\nyeast = \"fresh\"\nroom_c = 24\n[process]\ndough_c = 25\nmix_min = 10\ndivide_min = 10\n\
                bench_rest_min = 20\nshape_min = 15\n[oven]\nbake_min = 40\npieces_per_load = 8\n";
    let (log, bake) = (gone("bakes.csv"), file("own-bake.toml", bake.as_bytes()));
    let add = |log: &str, measured: &[&str]| {
        let mut program = pointage(&format!(
            "log add {log} --bake {bake} --date 2026-11-25 --json"
        ));
        for reading in measured {
            program.args(["--measured", reading]);
        }
        program.output().unwrap()
    };
    let mix = "mix 25C 23:10";
    let day = [
        mix,
        "bulk ready 00:20",
        "bulk 1.6x 00:20",
        "proof ready 01:40",
    ];
    for _ in 0..4 {
        let added = add(log, &day);
        assert!(added.status.success(), "{added:?}");
        let added: Value = serde_json::from_slice(&added.stdout).unwrap();
        let near = |hours: &Value, wanted: f64| (number(hours) - wanted).abs() < 1e-3;
        assert!(near(&added["hours"], 70.0 / 60.0), "{added}");
        assert!(near(&added["more"][0]["hours"], 35.0 / 60.0), "{added}");
    }
    // Beside its plan: the stages of the plan by the clock, and what the log has of them.
    let compared = json(&format!("log compare {log} {bake}"));
    assert_eq!(compared["date"], "2026-11-25");
    let plan = json(&format!("plan {bake} --mix-at 06:00 --date 2026-11-25"));
    let stages = compared["stages"].as_array().unwrap();
    assert_eq!(stages.len(), 8);
    for (stage, (name, actual, rise)) in stages.iter().zip(
        [("bulk", 70.0, Some(1.6)), ("proof", 35.0, None)]
            .into_iter()
            .cycle(),
    ) {
        let planned = plan["stages"].as_array().unwrap().iter();
        let planned = planned.clone().find(|s| s["name"] == name).unwrap();
        let [from, until] = ["start", "end"].map(|end| clock_min(planned[end].as_str().unwrap()));
        let [min, was, more] =
            ["planned_min", "actual_min", "difference_min"].map(|key| number(&stage[key]));
        // The clock of a plan is to the second.
        assert!(
            (min - (until - from)).abs() < 1.01 && (was - actual).abs() < 0.1,
            "{stage}"
        );
        assert!((more - (was - min)).abs() < 1e-9, "{stage}");
        assert_eq!(
            (&stage["stage"], stage["actual_rise"].as_f64()),
            (&name.into(), rise)
        );
        let [ends, means] = [
            ["dough_start_c", "dough_end_c"].map(|end| number(&planned[end])),
            ["planned_dough_c", "actual_dough_c"].map(|key| number(&stage[key])),
        ];
        let between = ends[0].min(ends[1]) - 0.1..=ends[0].max(ends[1]) + 0.1;
        assert!(
            means.iter().all(|mean| between.contains(mean)),
            "{stage} {ends:?}"
        );
        let risen = number(&stage["planned_rise"]);
        assert!(
            if name == "bulk" {
                (risen - 2.0).abs() < 1e-4
            } else {
                risen > 1.2
            },
            "{stage}"
        );
    }
    let said = text(&format!("log compare {log} {bake} --date 2026-11-25"));
    assert!(
        said.lines().all(|line| line.chars().count() <= 80),
        "{said}"
    );
    refusal(&format!("log compare {log} {bake} --date 2026-11-26"), 2);
    let answer = json(&format!("learn {log} --out bakes.toml --force"));
    // The jar's rise is a row of its own.
    let rises = answer["rows"].as_array().unwrap().iter();
    assert_eq!(rises.filter(|row| row["rise"] == 1.6).count(), 4);
    let learned = answer["estimates"].as_array().unwrap();
    for name in ["bulk_ml_per_100g", "proof_ml_per_100g", "dough_ml_per_100g"] {
        assert!(learned.iter().any(|e| e["name"] == name), "{name}");
    }
    let codes = |plan: &Value| -> Vec<String> {
        let said = ["notes", "warnings"].map(|list| plan[list].as_array().unwrap().iter());
        said.into_iter()
            .flatten()
            .filter_map(|n| n["code"].as_str().map(str::to_owned))
            .collect()
    };
    let minutes = |plan: &Value, name: &str| {
        let mut stages = plan["stages"].as_array().unwrap().iter();
        let stage = stages.find(|s| s["name"] == name).unwrap();
        let [from, until] = ["start", "end"].map(|end| clock_min(stage[end].as_str().unwrap()));
        until - from
    };
    let asked = format!("plan {bake} --mix-at 08:00 --date 2026-11-25");
    let (published, own) = (json(&asked), json(&format!("{asked} --params bakes.toml")));
    assert!(codes(&published).contains(&"published-times".to_owned()));
    let said = codes(&own);
    assert_eq!(said.iter().filter(|code| *code == "from-log").count(), 2);
    assert!(!said.contains(&"published-times".to_owned()));
    for (name, min) in [("bulk", 70.0), ("proof", 35.0)] {
        let [before, now] = [&published, &own].map(|plan| minutes(plan, name));
        assert!(
            (now / min).ln().abs() < 0.1 && f64::ln(before / min).abs() > 0.15,
            "{name}: {now} {before}"
        );
    }

    // Four days that agree to the minute leave a narrower range than other people's recipes.
    let [before, now] = [&published, &own].map(|plan| {
        let stages = plan["stages"].as_array().unwrap();
        let bulk = stages.iter().find(|s| s["name"] == "bulk").unwrap();
        let [low, high] = [0, 1].map(|i| clock_min(bulk["end_range"][i].as_str().unwrap()));
        high - low
    });
    assert!(now < 0.8 * before, "{now} {before}");

    // What makes no row leaves the log as it was.
    let kept = fs::read_to_string(path(log)).unwrap();
    for (measured, why) in [
        (&["bulk ready 00:20"][..], "count from its mix"),
        (&[mix, "preferment ripe 22:50"], "no preferment"),
        (
            &[mix, "bulk ready 02:20", "proof ready 02:30"],
            "had not begun",
        ),
        (&[mix, "proof 1.5x 03:00"], "teaches nothing by itself"),
    ] {
        let refused = add(log, measured);
        let said = String::from_utf8_lossy(&refused.stderr).into_owned();
        assert!(
            refused.status.code() == Some(2) && said.contains(why),
            "{said}"
        );
    }
    let old = file(
        "old-columns.csv",
        format!("date,salt_g,{HEADER}").as_bytes(),
    );
    let said = String::from_utf8_lossy(&add(old, &day).stderr).into_owned();
    assert!(said.contains("no column for before_hours"), "{said}");
    assert_eq!(fs::read_to_string(path(log)).unwrap(), kept);
}

/// 6 °C above the room, then 4.1 after two hours: 2 h/ln(6/4.1) = 5.2525 h, which a bake takes.
#[test]
fn two_readings_of_a_tub_tell_how_fast_it_follows() {
    let asked = "learn --reading 0min=25 --reading 2h=23.1 --room 19";
    let answer = json(asked);
    assert!((number(&answer["tub_time_constant_h"]) - 5.2525).abs() < 1e-4);
    assert!(text(asked).contains("tub_time_constant_h = 5.25 in"));
    for asked in [
        "learn --reading 0min=25 --reading 2h=24.4 --room 19",
        "learn --reading 0min=25 --reading 2h=27 --room 19",
        "learn --reading 0min=25 --room 19",
        "learn --reading 0min=25 --reading 2h=23.1",
        "learn --reading 25 --reading 2h=23.1 --room 19",
        "learn log.csv --reading 0min=25 --reading 2h=23.1 --room 19",
    ] {
        refusal(asked, 2);
    }
}

/// A log with semicolons gets its new rows so, with decimal commas; a record in °F is one when its header says so.
#[test]
fn a_log_is_written_as_it_is_read() {
    let header = "kind;flour_kg;water_kg;yeast;yeast_g;temperature_c;room_record;hours;seen\n";
    let log = file(
        "semicolons.csv",
        format!("{header}poolish;1,5;1,5;fresh;4,5;21;;12,5;ripe\n").as_bytes(),
    );
    text(&format!(
        "log add {log} --kind poolish --flour-mass 1250g --hydration 100% --yeast fresh --dose 0.3% --at 21 --after 11h30"
    ));
    let kept = fs::read_to_string(path(log)).unwrap();
    assert!(
        kept.ends_with("\npoolish;1,25;1,25;fresh;3,75;21;;11,5;ripe\n"),
        "{kept}"
    );
    assert_eq!(json(&format!("learn {log}"))["rows"][0]["seen_h"], 12.5);
    let ready = |rows: &str| {
        let name = file("fahrenheit-room.csv", rows.as_bytes());
        format!("ready --kind poolish --dose 0.3% --room-record {name}")
    };
    let in_f = json(&ready("hours\ttemperature_f\n0\t68\n20\t68\n"))["ready_h"].clone();
    assert_eq!(
        in_f,
        json(&ready("hours;temperature_c\n0;20,0\n20;20\n"))["ready_h"]
    );
    let said = refusal(&ready("hours,temperature_c\n0,50\n20,55\n"), 2);
    assert!(said.contains("name the column temperature_f"), "{said}");
}

#[test]
fn a_log_is_checked() {
    let good = format!("log check {DEMO}");
    assert_eq!(json(&good)["rows_good"], 10);
    let rows =
        "poolish,1000,1000,fresh,3,21,12,ripe\npoolish,1000,1000,fresh,3,99,12,ripe\npoolish\n";
    let name = file("check.csv", format!("{HEADER}{rows}").as_bytes());
    let out = run(&format!("log check {name}"));
    assert_eq!(out.status.code(), Some(2));
    let listed = String::from_utf8(out.stdout).unwrap();
    assert!(
        listed.contains("line 3, column temperature_c: temperature is 99"),
        "{listed}"
    );
    assert!(listed.contains("line 4: 1 cell"), "{listed}");
    assert_eq!(String::from_utf8(out.stderr).unwrap().lines().count(), 1);
}

#[test]
fn the_heat_of_a_mixer_from_a_log() {
    // Sum scale, dough = mean of the three + 0.2 slow + 0.5 fast (arithmetic).
    let mut log = "flour_g,flour_c,water_g,water_c,room_c,dough_c,slow_min,fast_min\n".to_owned();
    for (flour, water, room, slow, fast) in [
        (21, 12, 21, 4, 5),
        (20, 14, 20, 4, 2),
        (22, 10, 22, 8, 2),
        (20, 16, 24, 2, 7),
    ] {
        let dough =
            f64::from(flour + water + room) / 3.0 + 0.2 * f64::from(slow) + 0.5 * f64::from(fast);
        log.push_str(&format!(
            "10000,{flour},6500,{water},{room},{dough},{slow},{fast}\n"
        ));
    }
    let name = file("mixes.csv", log.as_bytes());
    let sum = json(&format!("friction {name} --sum"));
    for (heat, value) in sum["heats"].as_array().unwrap().iter().zip([0.2, 0.5]) {
        assert!((number(&heat["value"]) - value).abs() < 1e-9, "{heat}");
        assert_eq!(heat["unit"], "K/min");
    }
    assert_eq!(sum["terms"], 3);
    let balance = json(&format!("friction {name}"));
    assert_eq!(balance["heats"][1]["unit"], "kJ/(kg min)");
    assert!(balance["heats"][1]["standard_error"].is_number());
    assert!(text(&format!("friction {name} --sum")).contains("slow"));

    let locked: String = log
        .lines()
        .take(1)
        .map(|l| format!("{l}\n"))
        .collect::<String>()
        + "10000,21,6500,12,22,24.5,4,5\n10000,21,6500,13,22,25,4,5\n10000,21,6500,11,22,25,8,10\n";
    let name = file("locked.csv", locked.as_bytes());
    let answer = json(&format!("friction {name}"));
    assert!(warned(&answer, "always move together"), "{answer}");
    assert!(answer["heats"][0]["standard_error"].is_null());

    refusal(&format!("friction {name} --dough 24"), 2);
    refusal("friction --sum", 2);
    refusal(&format!("friction {name} --sum --learn-wetting"), 2);
}

#[test]
fn a_law_is_fitted_to_speeds() {
    // Exactly doubling for 10 K (arithmetic).
    let name = file("speeds.csv", b"temperature_c,rate\n10,1\n20,2\n30,4\nx,1\n");
    for flags in ["", "--sqrt"] {
        let fit = json(&format!("fit-rate {name} --law q10 {flags}"));
        assert!((number(&fit["parameters"][0]["value"]) - 2.0).abs() < 1e-6);
        assert!((number(&fit["parameters"][1]["value"]) - 2.0).abs() < 1e-6);
        assert_eq!(fit["refused"][0]["column"], "temperature_c");
    }
    assert!(text(&format!("fit-rate {name} --law arrhenius")).contains("activation_j_per_mol"));
    let said = refusal(&format!("fit-rate {name} --law cardinal"), 2);
    assert!(
        said.contains("4 parameters and there are 3 points"),
        "{said}"
    );
    let said = refusal(&format!("fit-rate {name} --law carnidal"), 2);
    assert!(said.contains("did you mean \"cardinal\"?"), "{said}");
}

#[test]
fn help_shows_an_example() {
    for command in ["learn", "friction", "fit-rate", "log add", "log check"] {
        let help = text(&format!("{command} --help"));
        assert!(help.contains(&format!("pointage {command}")), "{help}");
        assert!(help.contains("--params"), "{help}");
    }
}
