//! A tiny builder for tests of the program.

use serde_json::Value;
use std::fs;
use std::path::PathBuf;
use std::process::{Command, Output};

/// Where the program runs and the files of these tests lie.
pub const DIRECTORY: &str = env!("CARGO_TARGET_TMPDIR");

/// `line` split at blanks; no argument of these tests holds one.
pub fn pointage(line: &str) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_pointage"));
    command.current_dir(DIRECTORY);
    command.args(line.split_whitespace());
    command
}

pub fn run(line: &str) -> Output {
    pointage(line).output().unwrap()
}

/// The text answer.
pub fn text(line: &str) -> String {
    let out = run(line);
    let said = String::from_utf8(out.stderr).unwrap();
    assert!(out.status.success() && said.is_empty(), "{line}: {said}");
    String::from_utf8(out.stdout).unwrap()
}

/// The one JSON object; `--json` is added.
pub fn json(line: &str) -> Value {
    let object: Value = serde_json::from_str(&text(&format!("{line} --json"))).unwrap();
    assert!(object.is_object(), "{line}");
    object
}

pub fn number(value: &Value) -> f64 {
    value
        .as_f64()
        .unwrap_or_else(|| panic!("no number: {value}"))
}

/// The one line on stderr without `pointage: `; nothing may stand on stdout.
pub fn refusal(line: &str, code: i32) -> String {
    refusal_of(&mut pointage(line), code)
}

/// The same of a command that is ready to run.
pub fn refusal_of(command: &mut Command, code: i32) -> String {
    let out = command.output().unwrap();
    let said = String::from_utf8(out.stderr).unwrap();
    assert_eq!(out.status.code(), Some(code), "{command:?}: {said}");
    assert!(out.stdout.is_empty(), "{command:?}");
    assert_eq!(said.matches('\n').count(), 1, "{command:?}: {said}");
    let said = said.trim_end();
    said.strip_prefix("pointage: ").unwrap().to_owned()
}

/// A file of these tests; its name is given back. Several may write the same one: it is never seen half written.
pub fn file<'n>(name: &'n str, content: &[u8]) -> &'n str {
    let path = PathBuf::from(DIRECTORY).join(name);
    let own = path.with_extension(format!("{:?}", std::thread::current().id()));
    fs::write(&own, content).unwrap();
    fs::rename(own, path).unwrap();
    name
}
