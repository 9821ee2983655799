//! What `plan` writes: calendar, chart and sheet, whole or not at all.

use crate::program::{directory, file, folder, json, pointage, refusal, run, text};
use std::collections::HashSet;
use std::fs;
use std::path::Path;
use std::sync::atomic::{AtomicU32, Ordering};

const MARKET: &str = concat!(
    env!("CARGO_MANIFEST_DIR"),
    "/../../data/demo/market-poolish.toml"
);
const WINTER: &str = concat!(
    env!("CARGO_MANIFEST_DIR"),
    "/../../data/demo/winter-biga.toml"
);
const SUMMER: &str = concat!(
    env!("CARGO_MANIFEST_DIR"),
    "/../../data/demo/summer-tin.toml"
);
const WHEN: &str = "--first-out 09:00 --date 2026-11-28 --zone Europe/Vienna";

/// Twelve loads, and a name with everything that markup, folding and escaping can trip over.
fn twelve() -> &'static str {
    file(
        "twelve.toml",
        r#"format = 1
name = "Brötchen & <Weck>, \"süß\"; a\\b 24 °C — été 老虎"
[formula]
pieces = 72
piece_g = 900
hydration_percent = 70
yeast_percent = 0.15
[preferment]
kind = "poolish"
flour_percent = 25
ripe_after_h = 13
[kitchen]
room_c = 19
[process]
dough_c = 23
friction_factor_c = 9
bulk_rise = 1.8
folds_min = [40, 80, 120]
hold_later_loads = ["shape-later", "retarder", "divide-later"]
retarder_c = 5
[oven]
pieces_per_load = 6
bake_min = 40
oven_recovery_min = 8
"#
        .as_bytes(),
    )
}

fn names(folder: &Path) -> Vec<String> {
    let entries = fs::read_dir(folder).unwrap();
    let mut names: Vec<_> = entries
        .map(|e| e.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    names
}

/// What `plan` writes for a flag.
fn written(flag: &str, bake: &str, when: &str) -> String {
    static COUNT: AtomicU32 = AtomicU32::new(0);
    let name = format!("out{flag}-{}", COUNT.fetch_add(1, Ordering::Relaxed));
    let path = directory().join(&name);
    let _ = fs::remove_file(&path);
    text(&format!("plan {bake} {when} {flag} {name}"));
    fs::read_to_string(path).unwrap()
}

/// The lines of a calendar, unfolded (RFC 5545, 3.1), as names and values.
fn unfolded(calendar: &str) -> Vec<(String, String)> {
    let lines = calendar.strip_suffix("\r\n").unwrap().split("\r\n");
    assert!(lines.clone().all(|l| l.len() <= 75 && !l.contains('\n')));
    let whole = lines.collect::<Vec<_>>().join("\r\n").replace("\r\n ", "");
    whole
        .split("\r\n")
        .map(|line| {
            let (name, value) = line.split_once(':').unwrap();
            (name.to_owned(), value.to_owned())
        })
        .collect()
}

/// Undoes the escapes of a text (RFC 5545, 3.3.11).
fn unescaped(text: &str) -> String {
    let mut out = String::new();
    let mut chars = text.chars();
    while let Some(c) = chars.next() {
        assert!(!matches!(c, ',' | ';'), "unescaped {c} in {text}");
        out.push(match c {
            '\\' => chars
                .next()
                .map(|c| if c == 'n' { '\n' } else { c })
                .unwrap(),
            c => c,
        });
    }
    out
}

/// Start (UTC) and summary of each event; each must carry all that RFC 5545 (3.6.1, 3.6.6) demands.
fn events(calendar: &str) -> Vec<(String, String)> {
    let mut events = Vec::new();
    let mut uids = HashSet::new();
    let mut open: Vec<String> = Vec::new();
    let mut seen: Vec<(String, String)> = Vec::new();
    for (name, value) in unfolded(calendar) {
        match name.as_str() {
            "BEGIN" => open.push(value),
            "END" => {
                assert_eq!(open.pop().as_ref(), Some(&value));
                if value == "VEVENT" {
                    let one = |key: &str| {
                        let mut all = seen.iter().filter(|(k, _)| k == key);
                        let found = all.next().unwrap_or_else(|| panic!("no {key}"));
                        assert!(all.next().is_none(), "two of {key}");
                        found.1.clone()
                    };
                    let start = one("VEVENT DTSTART");
                    assert!(
                        start.len() == 16
                            && start.ends_with('Z')
                            && one("VEVENT DTSTAMP").ends_with('Z')
                    );
                    assert!(one("VEVENT DTEND") > start);
                    assert!(uids.insert(one("VEVENT UID")));
                    let summary = unescaped(&one("VEVENT SUMMARY"));
                    assert_eq!(one("VALARM ACTION"), "DISPLAY");
                    assert!(one("VALARM TRIGGER").starts_with("-PT"));
                    assert_eq!(unescaped(&one("VALARM DESCRIPTION")), summary);
                    events.push((start, summary));
                    unescaped(&one("VEVENT DESCRIPTION"));
                    seen.clear();
                }
            }
            _ => {
                let component = open.last().unwrap();
                if component == "VEVENT" || component == "VALARM" {
                    seen.push((format!("{component} {name}"), value));
                }
            }
        }
    }
    assert!(open.is_empty());
    events
}

/// The steps of an event: the first, and what is done on the same walk.
fn steps_of(summary: &str) -> impl Iterator<Item = &str> {
    summary.split("; ")
}

fn start_of<'a>(events: &'a [(String, String)], summary: &str) -> &'a str {
    let found = events
        .iter()
        .find(|(_, s)| steps_of(s).any(|s| s == summary));
    &found
        .unwrap_or_else(|| panic!("no {summary:?} in {events:?}"))
        .0
}

#[test]
fn the_calendar_holds_each_hands_on_step() {
    let calendar = written("--calendar", MARKET, WHEN);
    let events = events(&calendar);
    for summary in [
        "Mix the poolish",
        "Autolyse 25 min",
        "Mix the dough 9 min",
        "Fold 1 of 2",
        "Fold 2 of 2",
        "Divide and pre-shape",
        "Shape load 1",
        "Load 1 into the oven",
        "Load 3 out of the oven",
    ] {
        start_of(&events, summary);
    }
    assert!(events.iter().any(|(_, s)| s.contains("into the retarder")));
    assert!(events.windows(2).all(|pair| pair[0].0 <= pair[1].0));
    assert!(calendar.contains("\r\nTRIGGER:-PT10M\r\n"));
    // Nothing of it comes from the clock or from chance.
    assert_eq!(calendar, written("--calendar", MARKET, WHEN));
    let earlier = written("--calendar", MARKET, &format!("{WHEN} --alarm 1h30"));
    assert!(earlier.contains("\r\nTRIGGER:-PT90M\r\n") && !earlier.contains("PT10M"));
}

/// Vienna is UTC+2 until 2026-10-25 01:00 UTC and from 2027-03-28 01:00 UTC, UTC+1 between (EU directive
/// 2000/84/EC). The poolish of the demo stands for twelve hours, whatever the wall says.
#[test]
fn the_calendar_is_right_when_the_clock_changes() {
    for (date, out, hour_before) in [
        ("2026-10-25", "20261025T080000Z", "CEST"),
        ("2027-03-28", "20270328T070000Z", "CET"),
        ("2026-11-28", "20261128T080000Z", "CET"),
    ] {
        let when = format!("--first-out 09:00 --date {date} --zone Europe/Vienna");
        let events = events(&written("--calendar", MARKET, &when));
        assert_eq!(
            start_of(&events, "Load 1 out of the oven"),
            out,
            "{date} {hour_before}"
        );
        let minutes = |summary: &str| {
            let time = &start_of(&events, summary)[9..13];
            time[..2].parse::<i32>().unwrap() * 60 + time[2..].parse::<i32>().unwrap()
        };
        let stood = (minutes("Autolyse 25 min") - minutes("Mix the poolish")).rem_euclid(24 * 60);
        // Both hours are shown to the minute.
        assert!((stood - 12 * 60).abs() <= 1, "{date}: {stood} min");
    }
}

#[test]
fn any_name_survives_the_calendar() {
    let calendar = written("--calendar", twelve(), WHEN);
    assert_eq!(
        events(&calendar)
            .iter()
            .flat_map(|(_, s)| steps_of(s))
            .filter(|s| s.ends_with("into the oven"))
            .count(),
        12
    );
    let notes: Vec<String> = unfolded(&calendar)
        .into_iter()
        .filter(|(name, _)| name == "DESCRIPTION")
        .map(|(_, text)| unescaped(&text))
        .collect();
    let name = "Brötchen & <Weck>, \"süß\"; a\\b 24 °C — été 老虎\n";
    assert!(notes.iter().any(|note| note.starts_with(name)), "{notes:?}");
}

/// A text of a drawing: where it stands by the widths of a common wide face (DejaVu Sans: digits and
/// most small letters below 0.64 of the size, m and w below 0.98, narrow letters below 0.42).
struct Shown {
    text: String,
    left: f64,
    right: f64,
    top: f64,
    bottom: f64,
}

fn shown(node: roxmltree::Node<'_, '_>) -> Shown {
    let number = |name: &str| node.attribute(name).unwrap().parse::<f64>().unwrap();
    let text = node.text().unwrap().trim().to_owned();
    let (mut x, y, size) = (number("x"), number("y"), number("font-size"));
    let em = |c: char| match c {
        'i' | 'j' | 'l' | 't' | 'f' | 'r' | ' ' | '.' | ',' | ':' | ';' => 0.42,
        'm' | 'w' | 'M' | 'W' => 0.98,
        'A'..='Z' => 0.75,
        _ => 0.64,
    };
    let width = size * text.chars().map(em).sum::<f64>();
    x -= width
        * match node.attribute("text-anchor") {
            Some("middle") => 0.5,
            Some("end") => 1.0,
            _ => 0.0,
        };
    Shown {
        left: x,
        right: x + width,
        top: y - 0.76 * size,
        bottom: y + 0.2 * size,
        text,
    }
}

#[test]
fn the_chart_is_well_formed_and_no_text_hides_another() {
    // In Havana midnight comes twice on that day.
    let twice = "--first-out 09:00 --date 2026-11-01 --zone America/Havana";
    let bakes = [MARKET, WINTER, SUMMER, twelve()].map(|bake| (bake, WHEN));
    for (bake, when) in bakes
        .into_iter()
        .chain([(MARKET, twice), (twelve(), twice)])
    {
        let chart = written("--chart", bake, when);
        let document = roxmltree::Document::parse(&chart).unwrap();
        let root = document.root_element();
        let size: Vec<f64> = root
            .attribute("viewBox")
            .unwrap()
            .split(' ')
            .map(|n| n.parse().unwrap())
            .collect();
        let children = |name: &str| {
            root.descendants()
                .filter(|n| n.has_tag_name(("http://www.w3.org/2000/svg", name)))
                .collect::<Vec<_>>()
        };
        let said = children("desc")[0].text().unwrap();
        assert!(said.contains("load 1: planned at") && said.contains("likely ready from"));
        assert_eq!(root.attribute("role"), Some("img"));
        assert!(children("script").is_empty() && !chart.contains("href") && !chart.contains("NaN"));
        // Black and white and what lies between.
        for ink in chart.split('#').skip(1).map(|rest| &rest[..6]) {
            assert!(ink[..2] == ink[2..4] && ink[2..4] == ink[4..], "#{ink}");
        }
        let texts: Vec<Shown> = children("text").into_iter().map(shown).collect();
        for wanted in ["bulk", "load 1", "dough", "its place"] {
            assert!(
                texts.iter().any(|t| t.text == wanted),
                "{bake}: no {wanted}"
            );
        }
        for (i, a) in texts.iter().enumerate() {
            assert!(
                a.left >= 0.0 && a.right <= size[2] + 1.0 && a.top >= 0.0 && a.bottom <= size[3],
                "{bake}: {:?} leaves the chart",
                a.text
            );
            for b in &texts[..i] {
                assert!(
                    a.left >= b.right
                        || b.left >= a.right
                        || a.top >= b.bottom
                        || b.top >= a.bottom,
                    "{bake}: {:?} and {:?}",
                    a.text,
                    b.text
                );
            }
        }
        // A dot for each row: the preferment, the bulk and the loads.
        let plan = json(&format!("plan {bake} {when}"));
        let loads = plan["loads"].as_array().unwrap().len();
        let ahead = usize::from(!plan["preferment"].is_null());
        assert_eq!(children("circle").len(), loads + 1 + ahead, "{bake}");
    }
}

/// In Vienna the hour from 02:00 comes twice on 2026-10-25, and its second time has its offset.
#[test]
fn an_hour_that_comes_again_is_marked() {
    let chart = |date: &str| {
        let when = format!("--first-out 09:00 --date {date} --zone Europe/Vienna");
        written("--chart", MARKET, &when)
    };
    assert_eq!(chart("2026-10-25").matches("02 (+01:00)").count(), 1);
    let havana = "--first-out 09:00 --date 2026-11-01 --zone America/Havana";
    assert!(written("--chart", MARKET, havana).contains("00 (-05:00)"));
    assert!(!chart("2026-10-24").contains("(+0"));
    let when = "--first-out 04:30 --date 2026-10-25 --zone Europe/Vienna";
    let sheet = written("--sheet", MARKET, when);
    assert!(sheet.contains("<small>+0"), "{sheet}");
    assert!(sheet.contains("The clock goes back by 60 min"), "{sheet}");
    // What only concerns the plan is not for the wall.
    assert!(!sheet.contains("need hands at night") && !sheet.contains("[reference]"));
}

/// The sheet is written as well-formed as XML needs it, but for what HTML leaves open.
#[test]
fn the_sheet_is_a_timeline_and_needs_nothing_else() {
    for bake in [MARKET, WINTER, SUMMER, twelve()] {
        let sheet = written("--sheet", bake, WHEN);
        let body = &sheet[sheet.find("<body>").unwrap()..sheet.find("</html>").unwrap()];
        let document = roxmltree::Document::parse(body).unwrap();
        let texts = |name: &str| -> Vec<&str> {
            let all = document.descendants().filter(|n| n.has_tag_name(name));
            all.filter_map(|n| n.text()).collect()
        };
        assert_eq!(texts("h1").len(), 1);
        assert_eq!(texts("h2"), ["Measured, °C", "Cautions"]);
        let titles = texts("th");
        for title in ["Weigh", "Water", "Done", "Time", "What to do", "Actual"] {
            assert!(titles.contains(&title), "{title}: {titles:?}");
        }
        for th in document.descendants().filter(|n| n.has_tag_name("th")) {
            assert!(matches!(
                th.attribute("scope"),
                Some("row" | "col" | "rowgroup")
            ));
        }
        let blanks = document
            .descendants()
            .filter(|n| n.has_tag_name("td") && n.text().is_none_or(str::is_empty));
        assert!(blanks.count() >= 10);
        assert!(
            sheet.starts_with("<!DOCTYPE html><html lang=\"en\">") && sheet.contains("<title>")
        );
        for foreign in ["<script", "http", "src=", "url(", "@import"] {
            assert!(!sheet.contains(foreign), "{foreign}");
        }
        for care in [
            "Do not taste raw dough",
            "Local food and safety rules come first",
        ] {
            assert!(sheet.contains(care));
        }
        assert_eq!(sheet, written("--sheet", bake, WHEN));
    }
}

/// One list, told four times: text, sheet and calendar say of each step what the JSON answer says.
#[test]
fn every_output_tells_the_same_steps() {
    for bake in [MARKET, WINTER, SUMMER, twelve()] {
        let answer = json(&format!("plan {bake} {WHEN}"));
        let steps = answer["steps"].as_array().unwrap();
        let plain = text(&format!("plan {bake} {WHEN}"));
        let sheet = written("--sheet", bake, WHEN);
        let calendar = events(&written("--calendar", bake, WHEN));
        for step in steps {
            let (said, code) = (
                step["text"].as_str().unwrap(),
                step["action"]["code"].as_str(),
            );
            // These stand in the line of the step that they follow.
            if !matches!(code, Some("load-out" | "bench-rest" | "into-retarder")) {
                assert!(plain.contains(said), "{said}: {plain}");
                assert!(sheet.contains(said), "{said}");
            }
            let shown = calendar.iter().any(|(_, s)| steps_of(s).any(|s| s == said));
            assert_eq!(shown, step["hands"] == true, "{said}");
        }
        // One offset: the times compare as text.
        let start = |s: &serde_json::Value| s["start"].as_str().unwrap().to_owned();
        assert!(steps.windows(2).all(|s| start(&s[0]) <= start(&s[1])));
    }
}

/// What goes in at all steps together is the dough: slurry for yeast, less water for what it brings.
#[test]
fn the_amounts_of_the_steps_make_the_dough() {
    for bake in [MARKET, WINTER, SUMMER, twelve()] {
        let answer = json(&format!("plan {bake} {WHEN}"));
        let amounts = answer["steps"].as_array().unwrap().iter();
        let amounts = amounts.flat_map(|s| s["amounts"].as_array().unwrap());
        let ripe = ["poolish", "biga", "sponge"];
        let all: f64 = amounts
            .filter(|a| !ripe.contains(&a["name"].as_str().unwrap()))
            .map(|a| a["mass_g"].as_f64().unwrap())
            .sum();
        // A slurry holds the dose to a step of the scale.
        let dough = answer["dough_g"].as_f64().unwrap();
        assert!((all - dough).abs() < 1.0, "{bake}: {all} g of {dough} g");
    }
}

/// The poolish of the demo joins the autolyse, and each tells so; a way to the fridge at the hour at which the next
/// load is shaped is part of that event, with its own hour.
#[test]
fn what_a_step_takes_is_told_with_it() {
    let calendar = written("--calendar", MARKET, WHEN);
    let lines = unfolded(&calendar);
    let texts = |name: &str| -> Vec<String> {
        let all = lines.iter().filter(|(n, _)| n == name);
        all.map(|(_, v)| unescaped(v)).collect()
    };
    let titles = texts("SUMMARY");
    let abouts = texts("DESCRIPTION");
    let about = |summary: &str| {
        let at = titles.iter().position(|t| t == summary);
        // The alarm of an event has its description too.
        abouts[2 * at.unwrap_or_else(|| panic!("no {summary}: {titles:?}"))].clone()
    };
    assert!(about("Autolyse 25 min").contains("poolish 66"));
    let answer = json(&format!("plan {MARKET} {WHEN}"));
    let steps = answer["steps"].as_array().unwrap();
    let second = steps.iter().find(|s| s["key"] == "retarder-2-in").unwrap();
    let hour = &second["start"].as_str().unwrap()[11..16];
    assert!(
        about("Shape load 3; Load 2 into the retarder")
            .contains(&format!("{hour} Load 2 into the retarder 4 °C, "))
    );
    // Half an hour from any other step.
    assert!(titles.iter().any(|t| t == "Load 3 into the retarder"));
    let fridge = |t: &String| t.matches("retarder").count();
    let moves = steps
        .iter()
        .filter(|s| s["text"].as_str().unwrap().contains("retarder"));
    assert_eq!(titles.iter().map(fridge).sum::<usize>(), moves.count());
}

/// Four bakes of 1, 3, 12 and 40 loads: sizes of type, and how many pages.
#[test]
fn a_sheet_is_read_at_arms_length() {
    let bake = |name| format!("{}/tests/bakes/{name}.toml", env!("CARGO_MANIFEST_DIR"));
    let style = include_str!("../../src/outputs/sheet/style.css");
    let sizes = style.split("font-size: ").skip(1);
    for size in sizes.map(|rest| rest.split([' ', '}']).next().unwrap()) {
        let times = size.trim_end_matches(['r', 'e', 'm', ';']).parse::<f64>();
        assert!(
            size.starts_with("max(9pt,") || times.is_ok_and(|n| n >= 1.0),
            "{size}"
        );
    }
    for (bake, loads, text, time) in [
        (bake("one"), 1, 11.0, 15.0),
        (MARKET.to_owned(), 3, 11.0, 15.0),
        (bake("twelve"), 12, 9.0, 11.0),
        (bake("forty"), 40, 9.0, 11.0),
    ] {
        let answer = json(&format!("plan {bake} {WHEN}"));
        assert_eq!(answer["loads"].as_array().unwrap().len(), loads);
        let sheet = written("--sheet", &bake, WHEN);
        let size = sheet
            .split("@media print { html { font-size: ")
            .nth(1)
            .unwrap();
        let size: f64 = size.split("pt").next().unwrap().parse().unwrap();
        // Times are larger still where one column fills a page.
        let single = sheet.contains("class=\"steps\"") && loads <= 12;
        let times = if single { 1.4 } else { 1.25 };
        assert!(size >= text && times * size >= time, "{bake}: {size} pt");
        assert_eq!(sheet.contains("class=\"one-page\""), loads <= 12, "{bake}");
    }
    // Rows are whole on any page.
    assert!(style.contains("break-inside: avoid"));
}

#[test]
fn nothing_is_overwritten_without_force() {
    let folder = folder("unforced");
    fs::write(folder.join("b.svg"), "mine").unwrap();
    let line = format!("plan {MARKET} {WHEN} --calendar unforced/a.ics --chart unforced/b.svg");
    let said = refusal(&line, 2);
    assert!(
        said.contains("unforced/b.svg") && said.contains("--force"),
        "{said}"
    );
    // All targets are looked at before any is written.
    assert_eq!(names(&folder), ["b.svg"]);
    assert_eq!(fs::read_to_string(folder.join("b.svg")).unwrap(), "mine");
    let told = text(&format!("{line} --force"));
    assert!(
        told.ends_with("Written: unforced/a.ics, unforced/b.svg\n"),
        "{told}"
    );
    assert_eq!(names(&folder), ["a.ics", "b.svg"]);
    assert!(
        fs::read_to_string(folder.join("b.svg"))
            .unwrap()
            .starts_with("<svg")
    );
    let answer = json(&format!("{line} --force"));
    assert_eq!(
        answer["written"],
        serde_json::json!(["unforced/a.ics", "unforced/b.svg"])
    );
}

#[test]
fn targets_that_cannot_be() {
    let folder = folder("impossible");
    let bake = fs::read(MARKET).unwrap();
    file("impossible/bake", &bake);
    for (flags, code, words) in [
        (
            "--chart impossible/none/a.svg",
            3,
            "no folder impossible/none",
        ),
        ("--sheet impossible", 3, "it is a directory"),
        (
            "--chart impossible/a --sheet impossible/./a",
            2,
            "a: this file is already in use",
        ),
        (
            "--force --sheet impossible/bake",
            2,
            "bake: this file is already in use",
        ),
        ("--alarm 5min", 2, "--calendar"),
        ("--calendar impossible/a.ics --alarm 25h", 2, "up to 24h"),
        ("--calendar impossible/a.ics --alarm soon", 2, "up to 24h"),
    ] {
        let said = refusal(&format!("plan impossible/bake {WHEN} {flags}"), code);
        assert!(said.contains(words), "{flags}: {said}");
    }
    assert_eq!(names(&folder), ["bake"]);
}

/// A disk that takes no more (a limit on the size of files stands in for it), and a process that is killed
/// in the middle of writing, as the same limit does to a process that does not catch its signal.
#[cfg(unix)]
#[test]
fn a_full_disk_or_a_killed_process_leaves_the_old_file_whole() {
    let folder = folder("full");
    let program = pointage("").get_program().to_str().unwrap().to_owned();
    let old = "old ".repeat(1000);
    for (trap, code) in [("trap '' XFSZ;", Some(3)), ("", None)] {
        fs::write(folder.join("a.svg"), &old).unwrap();
        let script = format!(
            "ulimit -f 1; {trap} exec {program} plan {MARKET} {WHEN} --force --chart full/a.svg --sheet full/b.html"
        );
        let out = std::process::Command::new("sh")
            .args(["-c", &script])
            .current_dir(directory())
            .output()
            .unwrap();
        assert_eq!(
            out.status.code(),
            code,
            "{}",
            String::from_utf8_lossy(&out.stderr)
        );
        assert_eq!(fs::read_to_string(folder.join("a.svg")).unwrap(), old);
        assert!(!folder.join("b.html").exists());
        if code.is_some() {
            assert_eq!(names(&folder), ["a.svg"], "nothing is left behind");
            let said = String::from_utf8(out.stderr).unwrap();
            assert!(said.contains("full/a.svg: it cannot be written"), "{said}");
        }
    }
}

#[cfg(unix)]
#[test]
fn a_link_stays_a_link_and_permissions_stay() {
    use std::os::unix::fs::{PermissionsExt, symlink};
    let folder = folder("linked");
    fs::write(folder.join("real.html"), "old").unwrap();
    fs::set_permissions(folder.join("real.html"), fs::Permissions::from_mode(0o640)).unwrap();
    symlink("real.html", folder.join("link.html")).unwrap();
    text(&format!(
        "plan {MARKET} {WHEN} --force --sheet linked/link.html"
    ));
    assert!(
        fs::symlink_metadata(folder.join("link.html"))
            .unwrap()
            .is_symlink()
    );
    let about = fs::metadata(folder.join("real.html")).unwrap();
    assert!(about.len() > 1000);
    assert_eq!(about.permissions().mode() & 0o777, 0o640);
}

#[test]
fn ranges_and_reasons_are_told() {
    let answer = json(&format!("plan {MARKET} {WHEN}"));
    let stages = answer["stages"].as_array().unwrap();
    let bulk = stages.iter().find(|s| s["name"] == "bulk").unwrap();
    let range: Vec<&str> = bulk["end_range"]
        .as_array()
        .unwrap()
        .iter()
        .map(|t| t.as_str().unwrap())
        .collect();
    // One offset: the times compare as text.
    assert!(range[0] < bulk["end"].as_str().unwrap() && bulk["end"].as_str().unwrap() < range[1]);
    assert!(stages[0]["end_range"].is_null());
    for load in answer["loads"].as_array().unwrap() {
        let chance = load["past_chance"].as_f64().unwrap();
        assert!((0.0..=1.0).contains(&chance));
        let ripeness = load["ripeness"].as_f64().unwrap();
        let range = load["ripeness_range"].as_array().unwrap();
        assert!(range[0].as_f64().unwrap() < ripeness && ripeness < range[1].as_f64().unwrap());
    }
    let reasons = answer["reasons"].as_array().unwrap();
    assert_eq!(
        reasons
            .iter()
            .map(|r| r["stage"].as_str().unwrap())
            .collect::<Vec<_>>(),
        ["preferment", "bulk", "proof"]
    );
    for reason in reasons {
        for cause in reason["causes"].as_array().unwrap() {
            // More yeast and more warmth are all that is tried: everything comes sooner.
            assert!(cause["minutes"].as_f64().unwrap() < 0.0, "{cause}");
        }
    }
    let told = text(&format!("plan {MARKET} {WHEN} --explain"));
    assert!(
        told.contains("room 1 °C warmer:") && told.contains(" min sooner"),
        "{told}"
    );
    assert!(!text(&format!("plan {MARKET} {WHEN}")).contains("sooner"));
}

#[test]
fn nothing_is_said_on_stderr_where_nobody_looks() {
    let out = run(&format!("plan {twelve} {WHEN}", twelve = twelve()));
    assert!(out.stderr.is_empty());
    assert!(!out.stdout.contains(&0x1b), "no colours");
}

/// One condition varied, as panels: each has its name and a point for each value, warmer rooms ask for
/// colder water and less yeast, and what exists is not overwritten.
#[test]
fn a_comparison_is_drawn_as_panels() {
    let path = directory().join("panels.svg");
    let _ = fs::remove_file(&path);
    let command = format!("compare {MARKET} {WHEN} --vary room=18..24..3 --chart panels.svg");
    text(&command);
    assert!(refusal(&command, 2).contains("--force"));
    let chart = fs::read_to_string(&path).unwrap();
    let document = roxmltree::Document::parse(&chart).unwrap();
    let named = |name: &str| -> Vec<_> {
        let all = document.descendants();
        all.filter(|n| n.tag_name().name() == name).collect()
    };
    let texts: Vec<&str> = named("text").iter().filter_map(|n| n.text()).collect();
    for wanted in ["water, °C", "bulk, min", "proof, min", "room, °C"] {
        assert!(
            texts.iter().any(|t| t.trim() == wanted),
            "no {wanted}: {texts:?}"
        );
    }
    let labels: Vec<f64> = texts.iter().filter_map(|t| t.trim().parse().ok()).collect();
    // Round values from end to end.
    assert_eq!(labels[labels.len() - 4..], [18.0, 20.0, 22.0, 24.0]);
    let number = |node: &roxmltree::Node, key: &str| -> f64 {
        node.attribute(key).unwrap().parse().unwrap()
    };
    let points: Vec<[f64; 2]> = named("circle")
        .iter()
        .map(|n| [number(n, "cx"), number(n, "cy")])
        .collect();
    assert_eq!(points.len(), 4 * 3);
    for panel in points.chunks(3) {
        assert!(panel.windows(2).all(|p| p[0][0] < p[1][0]), "{panel:?}");
    }
    // Downwards in the picture is less.
    for panel in points.chunks(3).take(2) {
        assert!(panel.windows(2).all(|p| p[0][1] < p[1][1]), "{panel:?}");
    }
}

/// A preferment for two doughs: whatever tells the baker what to weigh tells all of it, with this dough's
/// part beside it.
#[test]
fn a_preferment_for_two_doughs_is_weighed_for_both() {
    let alone = fs::read_to_string(MARKET).unwrap();
    let alone = alone.replace("scale_step_g = 1", "scale_step_g = 5");
    let both = alone.replace(
        "joins = \"autolyse\"",
        "joins = \"autolyse\"\nextra_preferment_g = 4000",
    );
    assert_ne!(alone, both);
    let both = file("both.toml", both.as_bytes());
    let answer = json(&format!("plan {both} {WHEN}"));
    let times = answer["preferment_times"].as_f64().unwrap();
    let own = |name: &str| -> f64 {
        let all = answer["ingredients"].as_array().unwrap();
        let of = |i: &&serde_json::Value| i["stage"] == "preferment" && i["name"] == name;
        all.iter().find(of).unwrap()["mass_g"].as_f64().unwrap()
    };
    let stage = answer["ingredients"].as_array().unwrap().iter();
    let stage = stage.filter(|i| i["stage"] == "preferment");
    let whole: f64 = stage.map(|i| i["mass_g"].as_f64().unwrap()).sum();
    // Times is printed with nine decimals: of some 6.6 kg that is 3e-6 g.
    assert!((whole * (times - 1.0) - 4000.0).abs() < 1e-5, "{times}");
    let close = |a: &serde_json::Value, b: f64| (a.as_f64().unwrap() / b - 1.0).abs() < 1e-9;
    assert!(close(
        &answer["preferment_water"]["water_g"],
        times * own("water")
    ));
    // The dilution holds the yeast of all of it, in the water of all of it.
    let dose = &answer["yeast"]["preferment"];
    let (yeast, water) = (times * own("instant yeast"), times * own("water"));
    assert!(close(&dose["yeast_g"], yeast));
    assert!(close(&dose["per_litre_g"], 1000.0 * yeast / water));
    let weigh = |g: f64, water: f64| {
        let mass = |g| pointage::units::Mass::grams(g).unwrap();
        let pinch =
            pointage::formula::yeast_slurry::weigh_in_water(mass(g), mass(5.0), mass(water));
        let pinch = pinch.unwrap().unwrap();
        let [yeast, water, take] = [pinch.yeast, pinch.water, pinch.take].map(|m| m.as_grams());
        format!("stir {yeast} g of yeast into {water} g of water, weigh {take} g of it in")
    };
    let told = dose["weigh"].as_str().unwrap();
    assert!(told.contains(&weigh(yeast, water)), "{told}");
    assert!(
        !told.contains(&weigh(yeast / times, water / times)),
        "{told}"
    );
    // On a scale of 5 g.
    let weighed = |g: f64| {
        let g = 5.0 * (g / 5.0).round();
        assert!(g < 10_000.0);
        format!("{g:.0} g")
    };
    let flour = weighed(times * own("strong white flour"));
    let beside = weighed(whole);
    let plain = text(&format!("plan {both} {WHEN} --explain"));
    let line = format!(
        "Yeast to a litre of its own water: preferment {:.2} g, mix",
        1000.0 * yeast / water
    );
    assert!(plain.contains(&line), "{line}: {plain}");
    let told = [
        plain,
        unescaped(&unfolded_text(both)),
        written("--sheet", both, WHEN),
    ];
    for told in told {
        assert!(told.contains(&flour), "{flour}: {told}");
        assert!(told.contains(&beside), "{beside}: {told}");
    }
}

/// The whole calendar with its lines unfolded.
fn unfolded_text(bake: &str) -> String {
    let lines = unfolded(&written("--calendar", bake, WHEN));
    let values = lines.into_iter().map(|(_, value)| value);
    values.collect::<Vec<_>>().join("\n")
}

/// The sheet keeps what to mind in the cold; yeast that two hours have changed stands in its weights only, and the text and
/// a comparison say it. What the scale cannot show is no nothing.
#[test]
fn what_was_changed_is_said_where_it_is_needed() {
    let new = text("new --kind poolish --pieces 8 --piece 210g --per-load 4");
    let cold = format!("{new}\n[cold]\nstage = \"proof\"\nhours = 10\nroom_c = 4\n");
    let cold = file("cold-sheet.toml", cold.as_bytes());
    run(&format!(
        "plan {cold} {WHEN} --sheet cold-sheet.html --force"
    ));
    let sheet = fs::read_to_string(directory().join("cold-sheet.html")).unwrap();
    assert!(sheet.contains("least sure"));
    let day = file("two-hours.toml", new.as_bytes());
    let two = "--come-in-at 06:00 --last-out 11:00 --date 2026-11-28";
    assert!(text(&format!("plan {day} {two}")).contains("Changed: Use "));
    assert!(!written("--sheet", day, two).contains("in place of"));
    let rooms = text(&format!("compare {day} {two} --vary room=20..24..2"));
    assert!(rooms.contains("Changed in all rows: Use "), "{rooms}");
    let one = text(&format!("plan {day} {WHEN} --pieces 1"));
    assert!(!one.contains(" 0 g"), "{one}");
}
