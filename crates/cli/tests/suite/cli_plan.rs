//! `plan`, `adjust` and `compare` through the program.

use crate::program::{directory, file, json, number, pointage, refusal, refusal_of, run, text};
use serde_json::Value;

const ROOT: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/../..");

fn demo(name: &str) -> String {
    format!("{ROOT}/data/demo/{name}.toml")
}

/// Seconds since 1970 of an RFC 3339 time with offset, by hand.
fn seconds(time: &Value) -> i64 {
    let t = time.as_str().unwrap();
    let n = |range: std::ops::Range<usize>| t[range].parse::<i64>().unwrap();
    assert!(
        t.len() == 25 && &t[10..11] == "T" && &t[22..23] == ":",
        "{t}"
    );
    let (y, m, d) = (n(0..4), n(5..7), n(8..10));
    // Days from the civil date (H. Hinnant's algorithm, public).
    let y = if m <= 2 { y - 1 } else { y };
    let era = y.div_euclid(400);
    let doy = (153 * ((m + 9) % 12) + 2) / 5 + d - 1;
    let yoe = y - era * 400;
    let days = era * 146_097 + yoe * 365 + yoe / 4 - yoe / 100 + doy - 719_468;
    let sign = if &t[19..20] == "-" { -1 } else { 1 };
    let offset = sign * (n(20..22) * 3600 + n(23..25) * 60);
    days * 86_400 + n(11..13) * 3600 + n(14..16) * 60 + n(17..19) - offset
}

#[test]
fn every_anchor_plans_every_demo() {
    for name in ["market-poolish", "winter-biga", "summer-tin"] {
        let bake = demo(name);
        let when = "--date 2026-11-28 --zone Europe/Vienna";
        let first = json(&format!("plan {bake} --first-out 07:30 {when}"));
        assert_eq!(
            first["loads"][0]["oven_out"], "2026-11-28T07:30:00+01:00",
            "{name}"
        );
        let stages = first["stages"].as_array().unwrap();
        for pair in stages.windows(2) {
            assert_eq!(pair[0]["end"], pair[1]["start"], "{name}");
            assert!(
                seconds(&pair[0]["start"]) < seconds(&pair[0]["end"]),
                "{name}"
            );
        }
        for load in first["loads"].as_array().unwrap() {
            assert!((0.85..=1.20).contains(&number(&load["ripeness"])), "{name}");
        }
        let pieces: f64 = first["loads"]
            .as_array()
            .unwrap()
            .iter()
            .map(|l| number(&l["pieces"]))
            .sum();
        let mass: f64 = first["ingredients"]
            .as_array()
            .unwrap()
            .iter()
            .map(|i| number(&i["mass_g"]))
            .sum();
        assert!(
            (mass - number(&first["dough_g"])).abs() < 1e-6 && pieces > 0.0,
            "{name}"
        );
        if !first["preferment"].is_null() {
            let p = &first["preferment"];
            let used = seconds(&p["used"]);
            assert!(
                seconds(&p["window"][0]) <= used && used <= seconds(&p["window"][1]),
                "{name}"
            );
        }
        assert!(
            first["water"]["heat_balance"]["water_c"].is_number(),
            "{name}"
        );
        assert_eq!(first["feasible"], true);
        // The last load end_point_from_recipe where it was gives the same plan, to a second.
        let last = first["loads"].as_array().unwrap().last().unwrap()["oven_out"].clone();
        let clock = &last.as_str().unwrap()[11..16];
        let again = json(&format!("plan {bake} --last-out {clock} {when}"));
        for (a, b) in stages.iter().zip(again["stages"].as_array().unwrap()) {
            assert!(
                (seconds(&a["start"]) - seconds(&b["start"])).abs() <= 60,
                "{name}"
            );
        }
        for anchor in ["--start-at", "--come-in-at", "--mix-at"] {
            let plan = json(&format!("plan {bake} {anchor} 18:00 {when}"));
            assert!(
                plan["stages"].as_array().unwrap().len() >= 7,
                "{name} {anchor}"
            );
        }
    }
}

#[test]
fn the_demo_says_that_it_is_one() {
    assert!(text("plan").contains("built-in demo bake"));
    assert_eq!(json("plan")["demo"], true);
    let words = text("plan")
        .split_whitespace()
        .collect::<Vec<_>>()
        .join(" ");
    assert!(words.contains("Local food and safety rules come first"));
}

/// In Vienna the clock goes back on 2026-10-25 at 03:00 and forward on 2027-03-28 at 02:00: the night is an
/// hour longer, or shorter, on the wall, and the dough does not know.
#[test]
fn a_night_when_the_clock_changes_keeps_its_hours() {
    let lengths = |date: &str| -> Vec<i64> {
        let plan = json(&format!(
            "plan --first-out 09:00 --date {date} --zone Europe/Vienna"
        ));
        assert!(
            plan["loads"][0]["oven_out"]
                .as_str()
                .unwrap()
                .starts_with(&format!("{date}T09:00:00"))
        );
        plan["stages"]
            .as_array()
            .unwrap()
            .iter()
            .map(|s| seconds(&s["end"]) - seconds(&s["start"]))
            .collect()
    };
    let plain = lengths("2026-11-28");
    for date in ["2026-10-25", "2027-03-28"] {
        for (a, b) in plain.iter().zip(lengths(date)) {
            assert!((a - b).abs() <= 1, "{date}");
        }
    }
    let autumn = json("plan --first-out 09:00 --date 2026-10-25 --zone Europe/Vienna");
    assert!(
        autumn["preferment"]["mixed"]
            .as_str()
            .unwrap()
            .ends_with("+02:00")
    );
    assert!(
        autumn["loads"][0]["oven_in"]
            .as_str()
            .unwrap()
            .ends_with("+01:00")
    );
}

/// Clocks went back on 2026-10-25 at 03:00 in Vienna, and Samoa left out 2011-12-30 (IANA time zone database).
#[test]
fn repeated_and_missing_hours_are_said() {
    let night = "plan --mix-at 02:30 --date 2026-10-25 --zone Europe/Vienna";
    let said = text(night);
    assert!(said.contains("02:30 (+02:00)  Mix the dough"), "{said}");
    assert!(said.contains("02:30 comes twice on that day"), "{said}");
    // An hour later the clock shows the same again.
    let compared =
        text("compare --mix-at 02:30 --date 2026-10-25 --zone Europe/Vienna --vary room=20..21..1");
    assert!(!compared.contains("(+01:00)"), "{compared}");
    let codes = |line: &str| {
        let answer = json(line);
        let notes = answer["notes"].as_array().unwrap().iter();
        notes
            .map(|note| note["code"].as_str().unwrap().to_owned())
            .collect::<Vec<_>>()
    };
    assert!(codes(night).contains(&"repeated-hour".to_owned()));
    let samoa = "plan --mix-at 09:00 --date 2011-12-30 --zone Pacific/Apia";
    assert!(codes(samoa).contains(&"no-such-day".to_owned()));
    let spring = "plan --mix-at 02:30 --date 2027-03-28 --zone Europe/Vienna";
    assert!(codes(spring).contains(&"no-such-hour".to_owned()));
    assert!(
        !codes("plan --mix-at 02:30 --date 2026-10-26 --zone Europe/Vienna")
            .contains(&"repeated-hour".to_owned())
    );
}

#[test]
fn an_unknown_zone_is_refused_wherever_it_is_named() {
    for mut command in [
        pointage("plan --zone Mars/Olympus"),
        pointage("plan"),
        pointage("compare --vary room=20..21"),
    ] {
        let said = refusal_of(command.env("TZ", "Mars/Olympus"), 2);
        assert!(said.contains("unknown time zone"), "{said}");
    }
}

/// Without a date, one bake has one day, whichever command is asked.
#[test]
fn compare_takes_the_day_of_plan() {
    for hour in ["00:30", "06:00", "12:00", "18:00", "23:30"] {
        let plan = json(&format!("plan --first-out {hour}"));
        let compared = json(&format!("compare --first-out {hour} --vary room=21..21..1"));
        let day = |time: &Value| time.as_str().unwrap()[..10].to_owned();
        assert_eq!(
            day(&plan["loads"][0]["oven_out"]),
            day(&compared["rows"][0]["first_out"])
        );
    }
}

/// Doses against temperature for fixed times: each row is the plan of the bake that asks for these times in its file.
#[test]
fn compare_finds_doses_for_times() {
    let bake = |room: &str, preferment: &str, yeast: &str, bulk: &str| {
        format!(
            "format = 1\nname = \"x\"\n[formula]\npieces = 8\npiece_g = 600\nhydration_percent = 67\n{yeast}\n[preferment]\n\
             kind = \"poolish\"\nflour_percent = 30\n{preferment}\n[kitchen]\nroom_c = {room}\n[process]\ndough_c = 24\n{bulk}\n\
             [oven]\nbake_min = 40\n"
        )
    };
    let own = bake(
        "22",
        "dose_percent = 0.1",
        "yeast_percent = 0.3",
        "bulk_min = 80",
    );
    let own = file("compared-bake.toml", own.as_bytes());
    let when = "--mix-at 08:00 --date 2026-11-28";
    let asked = format!("compare {own} {when} --vary room=18..26..4 --ripe-after 13h --bulk 2h30");
    let rows = json(&asked)["rows"].as_array().unwrap().clone();
    assert_eq!(rows.len(), 3);
    for (row, room) in rows.iter().zip(["18", "22", "26"]) {
        let timed = bake(room, "ripe_after_h = 13", "", "bulk_h = 2.5");
        let name = format!("timed-{room}.toml");
        let timed = file(&name, timed.as_bytes());
        let plan = json(&format!("plan {timed} {when}"));
        assert!((number(&row["preferment_h"]) - 13.0).abs() < 1e-3, "{row}");
        assert!((number(&row["bulk_h"]) - 2.5).abs() < 1e-6, "{row}");
        for (dose, of) in [
            ("preferment_dose_percent", "preferment"),
            ("yeast_percent", "mix"),
        ] {
            let [dose, planned] = [&row[dose], &plan["yeast"][of]["dose_percent"]].map(number);
            assert!((dose / planned - 1.0).abs() < 1e-6, "{dose} {planned}");
        }
    }
    // A warmer room takes less of both.
    for dose in ["preferment_dose_percent", "yeast_percent"] {
        let doses = rows.iter().map(|row| number(&row[dose]));
        assert!(
            doses
                .clone()
                .zip(doses.skip(1))
                .all(|(cool, warm)| warm < 0.95 * cool),
            "{dose}"
        );
    }
    let said = text(&asked);
    assert!(
        said.lines().all(|line| line.chars().count() <= 80),
        "{said}"
    );
    assert!(said.contains("at mix %"), "{said}");
    let summer = demo("summer-tin");
    for (asked, flag) in [
        (
            format!("compare {own} {when} --vary room=18..26 --ripe-after 200h"),
            "--ripe-after",
        ),
        (
            format!("compare {summer} {when} --vary room=18..26 --ripe-after 12h"),
            "--ripe-after",
        ),
        (
            format!("compare {own} {when} --vary room=18..26 --bulk 5min"),
            "--bulk",
        ),
        (
            format!("compare {own} {when} --vary yeast=0.1..0.4 --bulk 2h"),
            "--vary",
        ),
    ] {
        assert!(refusal(&asked, 2).contains(flag), "{asked}");
    }
}

#[test]
fn a_record_with_dates_is_tied_by_them() {
    let winter = std::fs::read_to_string(demo("winter-biga")).unwrap();
    let bake = winter
        .replace("winter-room.csv", "dated-room.csv")
        .replace("room_record_from = \"06:00\"\n", "")
        .replace("room_record_days_before = 1\n", "");
    let rows: String = (0..=30)
        .map(|h| {
            let (day, hour) = (27 + (12 + h) / 24, (12 + h) % 24);
            format!(
                "2026-11-{day}T{hour:02}:00,{:.1}\n",
                14.0 - 0.1 * f64::from(h)
            )
        })
        .collect();
    file(
        "dated-room.csv",
        format!("timestamp,temperature_c\n{rows}").as_bytes(),
    );
    let name = file("dated.toml", bake.as_bytes());
    let when = "--date 2026-11-28 --zone Europe/Vienna";
    let plan = json(&format!("plan {name} --first-out 09:00 {when}"));
    assert!(!plan["preferment"].is_null());
    // The same bake with the tie of an hourly record left in contradicts itself.
    let both = file(
        "both.toml",
        winter
            .replace("winter-room.csv", "dated-room.csv")
            .as_bytes(),
    )
    .to_owned();
    assert!(
        refusal(&format!("plan {both} --first-out 09:00 {when}"), 2)
            .contains("leave room_record_from out")
    );
    let missing = file(
        "missing-record.toml",
        winter.replace("winter-room.csv", "nowhere.csv").as_bytes(),
    );
    assert!(
        refusal(&format!("plan {missing} --first-out 09:00"), 3)
            .contains("nowhere.csv: there is no such file")
    );
}

#[test]
fn a_plan_that_does_not_fit_is_shown_and_told() {
    let market = std::fs::read_to_string(demo("market-poolish")).unwrap();
    let text = market
        .replace("pieces = 24", "pieces = 48")
        .replace("pieces_per_load = 8", "pieces_per_load = 4")
        .replace(
            "hold_later_loads = [\"shape-later\", \"retarder\"]\nretarder_c = 4",
            "hold_later_loads = [\"shape-later\"]",
        );
    let name = file("overfull.toml", text.as_bytes());
    let out = run(&format!("plan {name} --first-out 09:00 --json"));
    assert_eq!(out.status.code(), Some(1));
    let answer: Value = serde_json::from_slice(&out.stdout).unwrap();
    assert_eq!(answer["feasible"], false);
    let problem = &answer["problem"][0];
    assert!(problem["code"] == "outside-window" && problem["of"] == 12);
    let nearest = answer["nearest"].as_array().unwrap().last().unwrap();
    assert!(nearest["code"] == "several-doughs" && nearest["doughs"] == 6);
    let said = String::from_utf8(out.stderr).unwrap();
    assert!(
        said.matches('\n').count() == 1 && said.contains("does not fit"),
        "{said}"
    );
    let words = run(&format!("plan {name} --first-out 09:00")).stdout;
    let words = String::from_utf8(words).unwrap().replace(['\n', ' '], "");
    let way = nearest["text"].as_str().unwrap().replace(' ', "");
    assert!(words.contains(&format!("Try:{way}")), "{words}");
}

#[test]
fn hours_that_are_missing_contradict_or_make_no_sense() {
    let market = demo("market-poolish");
    for (line, says) in [
        (
            format!("plan {market}"),
            "no hour to plan for; give one of --first-out",
        ),
        (
            format!("plan {market} --first-out 07:30 --last-out 09:00 --mix-at 03:00"),
            "keep one or two",
        ),
        (
            format!("plan {market} --first-out 25:00"),
            "--first-out: cannot read time of day",
        ),
        (
            format!("plan {market} --first-out 07:30 --zone Mars/Olympus"),
            "--zone: unknown time zone",
        ),
        (
            format!("plan {market} --first-out 07:30 --date tomorrow"),
            "--date: cannot read date",
        ),
        (
            "plan nowhere.toml --first-out 07:30 --zone Mars/Olympus".into(),
            "--zone",
        ),
        (
            "adjust --measured soup".into(),
            "--measured: cannot read measurement",
        ),
        ("adjust".into(), "--measured"),
        (
            "compare --vary room=18".into(),
            "--vary: cannot read what varies",
        ),
        (
            "compare --vary roam=18..20".into(),
            "did you mean \"room\"?",
        ),
    ] {
        let said = refusal(&line, 2);
        assert!(said.contains(says), "{line}: {said}");
    }
    assert!(
        refusal("plan nowhere.toml --first-out 07:30", 3)
            .contains("nowhere.toml: there is no such file")
    );
    assert!(
        refusal("adjust --measured preferment --date 2026-11-28", 2)
            .contains("preferment ripe 04:10")
    );
}

/// The text of a flag with blanks in it.
fn adjust(measured: &str) -> Value {
    let mut command = pointage("adjust --date 2026-11-28 --zone Europe/Vienna --json --measured");
    let out = command.arg(measured).output().unwrap();
    assert!(
        out.status.success(),
        "{measured}: {}",
        String::from_utf8_lossy(&out.stderr)
    );
    serde_json::from_slice(&out.stdout).unwrap()
}

#[test]
fn a_measurement_moves_what_comes_after_it() {
    let plan = json("plan --date 2026-11-28 --zone Europe/Vienna");
    let stage = |plan: &Value, name: &str, key: &str| {
        let stages = plan["stages"].as_array().unwrap();
        stages.iter().find(|s| s["name"] == name).unwrap()[key].clone()
    };
    let clock = |time: &Value| time.as_str().unwrap()[11..16].to_owned();
    let divide = |plan: &Value| seconds(&stage(plan, "divide", "start"));
    let mixed = clock(&stage(&plan, "mix", "end"));
    let warm = adjust(&format!("mix 27.4C {mixed}"));
    assert!(divide(&warm["after"]) < divide(&warm["before"]));
    let change = &warm["changes"][0];
    assert_eq!(change["code"], "dough-off-mixer");
    assert!((change["warmer_c"].as_f64().unwrap() - 2.4).abs() < 1e-6);
    // What is to be done first is the first line, and is not past.
    assert_eq!(warm["now"]["code"], "chill");
    // The stay in the cold is among the steps of the day that it keeps.
    let steps = warm["kept"]["plan"]["steps"].as_array().unwrap();
    let moves = ["chill-in", "chill-out"].map(|key| steps.iter().find(|s| s["key"] == key));
    let [into, out] = moves.map(|step| seconds(&step.unwrap()["start"]));
    assert!(out - into >= 600);
    let slow = adjust("proof springs back at once 08:10");
    assert_eq!(slow["changes"][0]["code"], "proof-seen");
    let late = adjust("preferment ripe 05:30");
    assert_eq!(late, adjust("the preferment was ripe at 05:30"));
    assert_eq!(
        late["after"]["preferment"]["used"].as_str().unwrap(),
        "2026-11-28T05:30:00+01:00"
    );
    let used = clock(&plan["preferment"]["used"]);
    let unripe = adjust(&format!("preferment unripe {used}"));
    assert!(unripe["advice"].as_array().unwrap().len() >= 3);
    assert_eq!(
        before_and_after(&unripe),
        before_and_after(&adjust(&format!("preferment unripe {used}")))
    );
    let folded = clock(&plan["folds"][1]);
    let fast = adjust(&format!("bulk 1.65x {folded}"));
    assert!(divide(&fast["after"]) < divide(&fast["before"]));
    let nonsense = pointage("adjust --measured")
        .arg(format!("bulk 4.9x {mixed}"))
        .output()
        .unwrap();
    assert_eq!(nonsense.status.code(), Some(2));
}

fn before_and_after(answer: &Value) -> (Value, Value) {
    (answer["before"].clone(), answer["after"].clone())
}

#[test]
fn a_warmer_room_wants_colder_water() {
    let answer = json("compare --vary room=18..26..4 --zone Europe/Vienna");
    let rows = answer["rows"].as_array().unwrap();
    assert_eq!(rows.len(), 3);
    for pair in rows.windows(2) {
        assert!(number(&pair[1]["water_c"]) < number(&pair[0]["water_c"]));
        assert!(
            number(&pair[1]["preferment_dose_percent"])
                < number(&pair[0]["preferment_dose_percent"])
        );
    }
    assert!(directory().exists());
}

/// Two hours at once: what is changed is said, both hours are met; where that cannot be, the nearest hours and exit
/// code 1.
#[test]
fn two_hours_at_once_change_what_the_bake_allows() {
    let summer = demo("summer-tin");
    let when = "--date 2026-11-28 --zone Europe/Vienna";
    let natural = json(&format!("plan {summer} --come-in-at 10:00 {when}"));
    let out = natural["loads"].as_array().unwrap().last().unwrap()["oven_out"].clone();
    let later = seconds(&out) + 3600;
    let clock = format!("{:02}:{:02}", (later / 3600 + 1) % 24, later / 60 % 60);
    let both = json(&format!(
        "plan {summer} --come-in-at 10:00 --last-out {clock} {when}"
    ));
    let last = both["loads"].as_array().unwrap().last().unwrap()["oven_out"].clone();
    assert!((seconds(&last) - later).abs() < 120, "{last} {later}");
    assert!(
        both["changes"]
            .as_array()
            .is_some_and(|changes| !changes.is_empty())
    );
    assert_eq!(both["stages"][0]["start"], natural["stages"][0]["start"]);
    let tight = run(&format!(
        "plan {summer} --come-in-at 10:00 --last-out 11:00 {when}"
    ));
    assert_eq!(tight.status.code(), Some(1));
    let said = String::from_utf8(tight.stdout).unwrap();
    assert!(
        said.contains("Does not fit: When you come in at 10:00"),
        "{said}"
    );
}
