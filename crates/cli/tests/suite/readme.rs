//! The README's console blocks are what the program really prints.

use std::io::Write;
use std::process::{Command, Stdio};

const README: &str = include_str!("../../../../README.md");

#[test]
fn every_console_block_is_real() {
    let mut blocks = 0;
    for block in README.split("```console\n").skip(1) {
        let block = block.split("\n```").next().unwrap();
        let (command, expected) = block.split_once('\n').unwrap();
        let command = command.strip_prefix("$ ").unwrap();
        // `echo '...' | pointage call` brings its input along.
        let (input, line) = match command.strip_prefix("echo '") {
            Some(rest) => rest.split_once("' | ").unwrap(),
            None => ("", command),
        };
        let args = line
            .strip_prefix("pointage ")
            .expect("a console block calls the program");
        let mut program = Command::new(env!("CARGO_BIN_EXE_pointage"))
            .args(args.split_whitespace())
            .current_dir(concat!(env!("CARGO_MANIFEST_DIR"), "/../.."))
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::piped())
            .spawn()
            .unwrap();
        // The handle is dropped here, which ends the input.
        program
            .stdin
            .take()
            .unwrap()
            .write_all(input.as_bytes())
            .unwrap();
        let output = program.wait_with_output().unwrap();
        assert_eq!(String::from_utf8_lossy(&output.stderr), "", "{command}");
        let printed = String::from_utf8_lossy(&output.stdout);
        let without_hash = |text: &str| match text.split_once("\"parameters\":\"") {
            Some((before, after)) => before.to_owned() + &after[16..],
            None => text.to_owned(),
        };
        assert_eq!(
            without_hash(printed.trim_end()),
            without_hash(expected),
            "{command}"
        );
        blocks += 1;
    }
    assert!(blocks >= 4);
}
