//! Command lines and bakes that nobody thought of, from a seed: the program answers or refuses each in one line, and what
//! it writes agrees with itself.
//!
//! `cargo test --release -p pointage-cli --test suite random:: -- --ignored` takes a minute; `POINTAGE_SECONDS=3600` in
//! front of it makes it an hour.

use crate::program::{file, folder, json, pointage, text};
use pointage_api::Request;
use pointage_api::dose::DoseRequest;
use pointage_api::friction::FrictionRequest;
use pointage_api::ice::IceRequest;
use pointage_api::ready::ReadyRequest;
use pointage_api::tables::TablesRequest;
use pointage_api::water::WaterRequest;
use serde_json::Value;
use std::fs;
use std::time::{Duration, Instant};

/// Marsaglia's xorshift (2003): the same tries on every machine.
struct Random(u64);

impl Random {
    fn next(&mut self) -> u64 {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 7;
        self.0 ^= self.0 << 17;
        self.0
    }

    fn below(&mut self, n: usize) -> usize {
        usize::try_from(self.next() % n as u64).unwrap()
    }

    fn one<'a, T: ?Sized>(&mut self, of: &[&'a T]) -> &'a T {
        of[self.below(of.len())]
    }

    fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * (self.next() % 10_000) as f64 / 10_000.0
    }
}

/// Values as people and machines write them.
const VALUES: [&str; 44] = [
    "21",
    "24C",
    "75F",
    "-5F",
    "0",
    "1",
    "100",
    "1e3",
    "0.3%",
    "0.0001%",
    "20%",
    "500g",
    "1.2kg",
    "3lb",
    "8oz",
    "12h",
    "90min",
    "1h30",
    "53h",
    "504h",
    "2h30min",
    "poolish",
    "biga",
    "sponge",
    "dough",
    "old-dough",
    "fresh",
    "instant",
    "active-dry",
    "ripe",
    "doubled",
    "1.7x",
    "9x",
    "nan",
    "inf",
    "-1",
    "1,5",
    "",
    " ",
    "\u{202e}abc",
    "1e300",
    "5 %",
    "--",
    "\u{1f35e}",
];

/// A command with flags of its own table, most of them with a value that fits.
fn line(random: &mut Random) -> Vec<String> {
    fn flags<R: Request>() -> (&'static str, Vec<&'static str>) {
        let flags = R::FIELDS.iter().map(|field| field.flag);
        (R::COMMAND, flags.filter(|flag| !flag.is_empty()).collect())
    }
    let day = vec![
        "first-out",
        "last-out",
        "start-at",
        "mix-at",
        "date",
        "zone",
        "vary",
        "measured",
        "scatter",
        "law",
    ];
    let tables = [
        flags::<ReadyRequest>(),
        flags::<DoseRequest>(),
        flags::<WaterRequest>(),
        flags::<IceRequest>(),
        flags::<FrictionRequest>(),
        flags::<TablesRequest>(),
        ("plan", day.clone()),
        ("compare", day.clone()),
        ("adjust", day.clone()),
        ("scale", vec!["pieces", "piece"]),
    ];
    let (command, flags) = &tables[random.below(tables.len())];
    let mut line = vec![(*command).to_owned()];
    for _ in 0..random.below(9).min(9 * flags.len()) {
        let flag = flags[random.below(flags.len().max(1))];
        let fitting: &[&str] = match flag {
            "kind" => &["poolish", "biga", "sponge", "dough", "old-dough"],
            "yeast" => &["fresh", "instant", "active-dry"],
            "for" | "from-time" => &["12h", "90min", "1h30", "53h", "200h", "3min"],
            "first-out" | "last-out" | "start-at" | "mix-at" => {
                &["07:30", "00:00", "23:59", "02:30", "24:00"]
            }
            "date" => &[
                "2026-10-25",
                "2027-03-28",
                "2011-12-30",
                "0001-01-01",
                "9998-12-31",
            ],
            "zone" => &[
                "Europe/Vienna",
                "Pacific/Apia",
                "America/St_Johns",
                "Mars/Olympus",
            ],
            "vary" => &[
                "room=18..26",
                "dough=5..45..2",
                "tap=4..24",
                "yeast=0.1..2",
                "flour=26..18",
            ],
            "measured" => &[
                "mix 27.4C 04:52",
                "bulk 1.6x 06:00",
                "preferment ripe 04:10",
                "bulk 9x 12:00",
            ],
            _ => &[
                "21", "24C", "75F", "0.3%", "1kg", "500g", "62%", "2.2", "-3", "40",
            ],
        };
        let value = if random.below(4) == 0 {
            random.one(&VALUES)
        } else {
            random.one(fitting)
        };
        line.extend([format!("--{flag}"), value.to_owned()]);
    }
    if random.below(3) == 0 {
        line.push("--json".to_owned());
    }
    line
}

/// What the program promises for every line: an exit code, one line on stderr where it is not 0, and JSON that is JSON.
fn keeps_its_word(line: &[String]) -> Duration {
    let mut command = pointage("");
    let begun = Instant::now();
    let out = command.args(line).output().unwrap();
    let took = begun.elapsed();
    let code = out.status.code();
    assert!(matches!(code, Some(0..=3)), "{line:?}: {code:?}");
    let (said, answer) = (
        String::from_utf8(out.stderr).unwrap(),
        String::from_utf8(out.stdout).unwrap(),
    );
    let lines = if code == Some(0) { 0 } else { 1 };
    assert_eq!(said.matches('\n').count(), lines, "{line:?}: {said}");
    assert!(
        said.is_empty() || said.starts_with("pointage: "),
        "{line:?}: {said}"
    );
    assert!(
        !said.contains(['\u{1b}', '\u{202e}']) && !answer.contains("NaN"),
        "{line:?}: {said} {answer}"
    );
    if line.iter().any(|flag| flag == "--json") && !answer.is_empty() {
        let answer: Value = serde_json::from_str(&answer).unwrap();
        assert!(answer.is_object(), "{line:?}");
    }
    took
}

/// A demo with most of its numbers moved, and the same in °F.
fn bake(random: &mut Random) -> [String; 2] {
    let demos = [
        include_str!("../../../../data/demo/market-poolish.toml"),
        include_str!("../../../../data/demo/summer-tin.toml"),
    ];
    let mut bakes = [String::new(), String::new()];
    for line in random.one(&demos).lines() {
        let number = line.split_once(" = ").and_then(|(key, rest)| {
            let value = rest.split(['#', ' ']).next()?.parse::<f64>().ok()?;
            Some((key, value))
        });
        let written = match number {
            Some((key, value)) if key.ends_with("_c") => {
                // A degree of Fahrenheit and its degree of Celsius are both short.
                let c = (value + random.between(-2.0, 2.0)).round();
                [
                    format!("{key} = {c}"),
                    format!("{key} = \"{}F\"", c * 1.8 + 32.0),
                ]
            }
            Some((key @ "yeast_percent", value)) => {
                let value = value * random.between(0.8, 1.25);
                [format!("{key} = {value:.3}"), format!("{key} = {value:.3}")]
            }
            _ => [line.to_owned(), line.to_owned()],
        };
        for (bake, line) in bakes.iter_mut().zip(written) {
            bake.push_str(&(line + "\n"));
        }
    }
    bakes
}

/// A bake is the same in °F, the same twice, a day later a day later, and its text, sheet and calendar have the minutes of
/// its JSON.
fn agrees_with_itself(random: &mut Random, name: &str) {
    folder(name);
    let [c, f] = bake(random);
    let names = [format!("{name}/c.toml"), format!("{name}/f.toml")];
    let [c, f] = [(&names[0], c), (&names[1], f)].map(|(name, bake)| file(name, bake.as_bytes()));
    let hour = random.one(&["06:00", "07:30", "09:00"]);
    let day = |bake: &str, date: &str| {
        format!("plan {bake} --first-out {hour} --date {date} --zone Europe/Vienna")
    };
    let run = |line: &str| {
        let out = pointage(&format!("{line} --json")).output().unwrap();
        assert!(
            matches!(out.status.code(), Some(0 | 1)),
            "{line}: {:?}",
            String::from_utf8_lossy(&out.stderr)
        );
        String::from_utf8(out.stdout).unwrap()
    };
    let plan = run(&day(c, "2026-06-10"));
    assert_eq!(plan, run(&day(c, "2026-06-10")));
    let Ok(answer) = serde_json::from_str::<Value>(&plan) else {
        return;
    };
    let hours = |plan: &str| -> Vec<String> {
        let answer: Value = serde_json::from_str(plan).unwrap();
        let stages = answer["stages"].as_array().unwrap().iter();
        stages
            .map(|s| s["start"].as_str().unwrap()[10..].to_owned())
            .collect()
    };
    let near = |a: &[String], b: &[String]| {
        let seconds = |t: &str| {
            t[1..9]
                .split(':')
                .fold(0_i64, |s, part| 60 * s + part.parse::<i64>().unwrap())
        };
        a.len() == b.len()
            && a.iter()
                .zip(b)
                .all(|(a, b)| (seconds(a) - seconds(b)).abs() <= 1)
    };
    assert!(
        near(&hours(&plan), &hours(&run(&day(f, "2026-06-10")))),
        "{c} {f}"
    );
    assert!(
        near(&hours(&plan), &hours(&run(&day(c, "2026-06-11")))),
        "{c}"
    );
    if answer["problem"].is_null() {
        let line = format!(
            "{} --sheet {name}/s.html --calendar {name}/s.ics",
            day(c, "2026-06-10")
        );
        let said = text(&line);
        let directory = crate::program::directory();
        let sheet = fs::read_to_string(directory.join(format!("{name}/s.html"))).unwrap();
        let calendar = fs::read_to_string(directory.join(format!("{name}/s.ics"))).unwrap();
        let steps = answer["steps"].as_array().unwrap().iter();
        let alarms = steps.filter(|s| s["alarm"] == true).count();
        assert!(
            alarms > 3 && calendar.matches("BEGIN:VEVENT").count() == alarms,
            "{line}"
        );
        for load in answer["loads"].as_array().unwrap() {
            let minute: jiff::Timestamp = load["oven_in"].as_str().unwrap().parse().unwrap();
            let minute =
                jiff::Timestamp::from_second((minute.as_second() + 30).div_euclid(60) * 60)
                    .unwrap();
            let clock = minute
                .in_tz("Europe/Vienna")
                .unwrap()
                .strftime("%H:%M")
                .to_string();
            assert!(
                said.contains(&clock) && sheet.contains(&clock),
                "{line}: {clock}"
            );
            assert!(
                calendar.contains(&format!("DTSTART:{}", minute.strftime("%Y%m%dT%H%M%SZ"))),
                "{line}: {clock}"
            );
        }
    }
}

#[test]
fn sixty_lines_are_answered_or_refused() {
    let mut random = Random(20_261_130);
    for _ in 0..60 {
        keeps_its_word(&line(&mut random));
    }
}

#[test]
fn four_bakes_agree_with_themselves() {
    let mut random = Random(7);
    for i in 0..4 {
        agrees_with_itself(&mut random, &format!("random-{i}"));
    }
}

#[test]
#[ignore = "a minute, or POINTAGE_SECONDS"]
fn a_minute_of_lines_and_bakes() {
    let seconds = std::env::var("POINTAGE_SECONDS")
        .ok()
        .and_then(|s| s.parse().ok());
    let end = Instant::now() + Duration::from_secs(seconds.unwrap_or(60));
    let mut random = Random(u64::from(std::process::id()).wrapping_mul(0x9e37_79b9_7f4a_7c15) | 1);
    println!("seed {}", random.0);
    let (mut lines, mut bakes, mut slowest) = (0, 0, (Duration::ZERO, Vec::new()));
    while Instant::now() < end {
        for _ in 0..20 {
            let line = line(&mut random);
            let took = keeps_its_word(&line);
            if took > slowest.0 {
                slowest = (took, line);
            }
            lines += 1;
        }
        agrees_with_itself(&mut random, "random-minute");
        bakes += 1;
    }
    println!("{lines} lines, {bakes} bakes, the slowest {slowest:?}");
    assert!(lines > 0 && json("tables")["tables"].is_array());
}
