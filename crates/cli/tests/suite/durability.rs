//! What many runs at once, and runs that are killed, leave behind.

use crate::program::{directory, file, folder, json, pointage, refusal, text};
use std::fs;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Duration;

const ROW: &str =
    "--kind poolish --flour-mass 1kg --hydration 100% --yeast fresh --dose 0.3% --at 21";

/// Forty at once, through three names of one log: a link to its folder, a hard link and its own.
#[cfg(unix)]
#[test]
fn a_log_takes_rows_from_many_hands_by_any_name() {
    let own = folder("busy");
    text(&format!("log add busy/log.csv {ROW} --after 8h"));
    std::os::unix::fs::symlink(&own, directory().join("busy-link")).unwrap();
    fs::hard_link(own.join("log.csv"), own.join("other.csv")).unwrap();
    let names = ["busy/log.csv", "busy-link/log.csv", "busy/other.csv"];
    std::thread::scope(|scope| {
        for i in 0..40 {
            let minutes = 480 + i;
            scope.spawn(move || {
                text(&format!(
                    "log add {} {ROW} --after {minutes}min",
                    names[i % 3]
                ))
            });
        }
    });
    let rows = fs::read_to_string(own.join("log.csv")).unwrap();
    assert_eq!(rows.lines().count(), 42, "{rows}");
    assert_eq!(json("log check busy/other.csv")["rows_good"], 41);
}

/// Byte-order mark, line ends, mode and links of a log are the baker's.
#[cfg(unix)]
#[test]
fn a_log_keeps_its_form() {
    use std::os::unix::fs::{MetadataExt, PermissionsExt};
    let header = "\u{feff}kind,flour_g,water_g,yeast,yeast_g,temperature_c,hours,seen\r\n";
    let log = directory().join(file("form.csv", header.as_bytes()));
    fs::set_permissions(&log, fs::Permissions::from_mode(0o640)).unwrap();
    fs::hard_link(&log, directory().join("form-too.csv")).unwrap();
    let before = fs::metadata(&log).unwrap();
    text(&format!("log add form.csv {ROW} --after 8h"));
    let after = fs::metadata(&log).unwrap();
    let about = |m: &fs::Metadata| (m.ino(), m.nlink(), m.mode(), m.uid(), m.gid());
    assert_eq!(about(&before), about(&after));
    let row = "poolish,1000,1000,fresh,3,21,8,ripe\r\n";
    assert_eq!(fs::read_to_string(&log).unwrap(), format!("{header}{row}"));
}

/// A table may not be answered onto itself, whatever it is called and with force.
#[cfg(unix)]
#[test]
fn no_command_writes_over_what_it_reads() {
    let rows = b"kind,dose,at\npoolish,0.3%,21\n";
    let table = directory().join(file("self.csv", rows));
    let _ = fs::remove_file(directory().join("self-too.csv"));
    fs::hard_link(&table, directory().join("self-too.csv")).unwrap();
    file(
        "self",
        include_bytes!("../../../../data/demo/summer-tin.toml"),
    );
    for line in [
        "batch self.csv --command ready --out self.csv --force",
        "batch self.csv --command ready --out self-too.csv --force",
        "compare self --first-out 09:00 --vary room=18..20 --chart self --force",
        "plan self --first-out 09:00 --chart self --force",
    ] {
        assert!(refusal(line, 2).contains("already in use"), "{line}");
    }
    let from_input = pointage("batch - --command ready --out self.csv --force")
        .stdin(fs::File::open(&table).unwrap())
        .output();
    assert_eq!(from_input.unwrap().status.code(), Some(2));
    let onto_itself = pointage("batch self.csv --command ready")
        .stdout(fs::File::options().append(true).open(&table).unwrap())
        .output();
    assert_eq!(onto_itself.unwrap().status.code(), Some(2));
    assert_eq!(fs::read(&table).unwrap(), rows);
}

/// Kills runs at any moment of their life. Every row that was said to be added is there, every row is whole, and the
/// next run leaves no unfinished file.
fn kill(count: u64) {
    let own = folder("kills");
    let name = |name: &str| format!("{}/{name}", own.display());
    let questions = "kind,dose,at\n".to_owned() + &"poolish,0.3%,21\n".repeat(3000);
    fs::write(name("rows.csv"), questions).unwrap();
    let lines = [
        format!("log add kills/log.csv {ROW} --after 8h"),
        "batch kills/rows.csv --command ready --out kills/answers.csv --force".to_owned(),
        "plan --calendar kills/day.ics --sheet kills/day.html --force --date 2026-11-28".to_owned(),
    ];
    let quiet = |line: &str| -> Command {
        let mut command = pointage(line);
        command.stdout(Stdio::null()).stderr(Stdio::null());
        command
    };
    let mut added = 0;
    let mut state = 1_u64;
    for i in 0..count {
        // Marsaglia's xorshift (2003): delays that spread over the life of a run.
        state ^= state << 13;
        state ^= state >> 7;
        state ^= state << 17;
        let which = usize::try_from(i % 3).unwrap();
        let mut run = quiet(&lines[which]).spawn().unwrap();
        std::thread::sleep(Duration::from_micros(state % 60_000));
        let _ = run.kill();
        added += usize::from(run.wait().unwrap().success() && which == 0);
    }
    for line in &lines {
        assert!(quiet(line).status().unwrap().success());
    }
    let mut left: Vec<_> = fs::read_dir(&own)
        .unwrap()
        .map(|entry| entry.unwrap().file_name())
        .collect();
    left.sort();
    assert_eq!(
        left,
        ["answers.csv", "day.html", "day.ics", "log.csv", "rows.csv"]
    );
    let checked = json("log check kills/log.csv");
    assert_eq!(checked["refused"].as_array().unwrap().len(), 0);
    let good = usize::try_from(checked["rows_good"].as_u64().unwrap()).unwrap();
    assert!(good > added, "{added} said to be added, {good} are there");
    assert_eq!(
        fs::read_to_string(Path::new(&name("answers.csv")))
            .unwrap()
            .lines()
            .count(),
        3001
    );
}

#[test]
fn twelve_kills() {
    kill(12);
}

/// `cargo test -p pointage-cli --test suite a_thousand_kills -- --ignored`
#[test]
#[ignore = "takes a minute"]
fn a_thousand_kills() {
    kill(1000);
}
