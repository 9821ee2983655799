//! The help of every command: its examples run as they stand.

use crate::program::{folder, text};
use std::fs;
use std::process::Command;

/// The commands below one, from its own help; none below a command without any.
fn below(command: &str) -> Vec<String> {
    let help = text(format!("{command} --help").trim());
    let listed = help.lines().skip_while(|line| *line != "Commands:").skip(1);
    let listed = listed.take_while(|line| line.starts_with("  "));
    // What goes on below a name is its meaning.
    let names = listed.filter(|line| !line.starts_with("   "));
    let names = names.filter_map(|line| line.split_whitespace().next());
    let names = names.filter(|name| *name != "help");
    names
        .map(|name| format!("{command} {name}").trim().to_owned())
        .collect()
}

/// The examples of a page of help, each as one command of the shell: a line that begins with two blanks, and those that
/// it goes on in.
fn examples(help: &str) -> Vec<String> {
    let lines = help.lines().skip_while(|line| !line.starts_with("Example"));
    let mut found: Vec<String> = Vec::new();
    for line in lines {
        if line.starts_with("      ") {
            let last = found.last_mut().unwrap();
            *last += "\n";
            *last += line;
        } else if line.starts_with("  ") {
            found.push(line.to_owned());
        }
    }
    found
}

/// A recipe's time at another temperature by a Q10 of the baker's own: 12 h / 2.2^0.3 = 12 h / 1.267 = 9 h 28; its dose for
/// the same time: 0.5 % / 1.267 = 0.395 %.
#[test]
fn an_explanation_puts_the_numbers_in() {
    let words = |line: &str| text(line).split_whitespace().collect::<Vec<_>>().join(" ");
    let said = words("ready --from-time 12h --from-at 21 --at 24 --q10 2.2 --explain");
    assert!(
        said.contains("12 h / 2.20^((24.0 - 21.0)/10) = 9 h 28."),
        "{said}"
    );
    let recipe = "--from-dose 0.5% --from-time 8h --from-at 22 --yeast fresh";
    let said = words(&format!("dose {recipe} --at 25 --q10 2.2 --explain"));
    assert!(
        said.contains("8 h / 8 h / 2.20^((25.0 - 22.0)/10) = 0.395 %."),
        "{said}"
    );
    // A dough that is followed ends at the gas of its end point, and nothing has risen at its mix.
    let said = text("ready --kind poolish --dose 0.3% --yeast fresh --at 21 --explain");
    let rows: Vec<&str> = said
        .lines()
        .filter(|line| line.ends_with("-fold"))
        .collect();
    assert!(
        rows.len() == 5 && rows[0].ends_with(" 0 mL  1.00-fold"),
        "{said}"
    );
}

#[test]
fn every_example_of_every_page_runs_as_pasted() {
    let place = folder("help-examples");
    let bake = text("new --pieces 24 --piece 780g --per-load 8");
    let log = concat!(env!("CARGO_MANIFEST_DIR"), "/../../data/demo/stall-log.csv");
    fs::write(place.join("stall.toml"), &bake).unwrap();
    fs::write(place.join("rolls.toml"), &bake).unwrap();
    fs::write(place.join("my.toml"), &bake).unwrap();
    fs::copy(log, place.join("log.csv")).unwrap();
    let mixes = "flour_g,flour_c,water_g,water_c,room_c,dough_c,slow_min,fast_min\n\
        10000,21,6500,12,21,21.3,4,5\n10000,20,6500,14,20,19.8,4,2\n10000,22,6500,10,22,20.6,8,2\n";
    fs::write(place.join("mixes.csv"), mixes).unwrap();
    let rates = "temperature_c,rate\n8,0.05\n14,0.13\n20,0.26\n26,0.41\n32,0.5\n36,0.44\n40,0.1\n";
    fs::write(place.join("rates.csv"), rates).unwrap();
    let program = std::path::Path::new(env!("CARGO_BIN_EXE_pointage"));
    let path = std::env::join_paths(
        [program.parent().unwrap().to_owned()]
            .into_iter()
            .chain(std::env::split_paths(&std::env::var_os("PATH").unwrap())),
    );
    let path = path.unwrap();
    let mut commands = below("");
    assert!(commands.len() >= 15, "{commands:?}");
    commands.extend(commands.clone().iter().flat_map(|command| below(command)));
    // They help in setting up, and the list of commands leaves them out.
    commands.extend(["completions", "man"].map(str::to_owned));
    for command in commands {
        let help = text(&format!("{command} --help"));
        let examples = examples(&help);
        // A command of commands leaves its examples to them.
        assert!(
            !examples.is_empty() || help.contains("\nCommands:"),
            "{command}"
        );
        for example in examples {
            let script = format!("set -eu\n{example}\n");
            let out = Command::new("bash")
                .args(["-c", &script])
                .current_dir(&place)
                .env("PATH", &path)
                .env("HOME", &place)
                .output()
                .unwrap();
            let said = String::from_utf8_lossy(&out.stderr);
            // A plan may not fit the day it is pasted on; nothing else may go wrong.
            assert!(
                out.status.success() || said.contains("does not fit"),
                "{example}\n{said}"
            );
            assert!(
                example.lines().all(|line| line.chars().count() <= 80),
                "{example}"
            );
        }
    }
}
