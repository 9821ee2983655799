//! A tiny builder for tests of the program.

use serde_json::Value;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};
use std::sync::LazyLock;

/// Where the program runs and the files of these tests lie: a folder of this run, so that two may run at once. What
/// runs of the day before left is taken away.
pub fn directory() -> &'static Path {
    static OWN: LazyLock<PathBuf> = LazyLock::new(|| {
        let all = Path::new(env!("CARGO_TARGET_TMPDIR"));
        for old in fs::read_dir(all).into_iter().flatten().flatten() {
            let is_ours = old.file_name().to_string_lossy().starts_with("suite-");
            let age = old.metadata().and_then(|m| m.modified()).ok();
            let age = age.and_then(|made| made.elapsed().ok());
            if is_ours && age.is_some_and(|age| age.as_secs() > 24 * 3600) {
                let _ = fs::remove_dir_all(old.path());
            }
        }
        let own = all.join(format!("suite-{}", std::process::id()));
        // A process of this number may have been here before.
        let _ = fs::remove_dir_all(&own);
        fs::create_dir_all(&own).unwrap();
        own
    });
    &OWN
}

/// An empty folder among the files of these tests.
pub fn folder(name: &str) -> PathBuf {
    let path = directory().join(name);
    let _ = fs::remove_dir_all(&path);
    fs::create_dir_all(&path).unwrap();
    path
}

/// `line` split at blanks; no argument of these tests holds one.
pub fn pointage(line: &str) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_pointage"));
    command.current_dir(directory());
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
    let path = directory().join(name);
    let own = path.with_extension(format!("{:?}", std::thread::current().id()));
    fs::write(&own, content).unwrap();
    fs::rename(own, path).unwrap();
    name
}
