//! Bad files and command lines, `tests/bad/cases.toml`: each is refused with its exit code and its one
//! line, which says what is wrong, where, and what to do.

use crate::program::{directory, refusal_of};
use serde::Deserialize;
use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Table {
    case: Vec<Case>,
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct Case {
    id: String,
    args: Vec<String>,
    /// A file of 100 MB of zeros, made here: it takes no room on the disk.
    sparse: Option<String>,
    exit: i32,
    /// The line without `pointage: `; one that ends in `…` goes on.
    line: String,
}

/// A copy of `tests/bad`, so that large files need not lie in the repository.
fn workplace() -> PathBuf {
    let from = Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/../..")).join("tests/bad");
    let to = directory().join("bad");
    fs::create_dir_all(&to).unwrap();
    for entry in fs::read_dir(from).unwrap() {
        let entry = entry.unwrap();
        fs::copy(entry.path(), to.join(entry.file_name())).unwrap();
    }
    to
}

#[test]
fn every_bad_case_gives_its_line() {
    let place = workplace();
    let text = fs::read_to_string(place.join("cases.toml")).unwrap();
    let table: Table = toml::from_str(&text).unwrap();
    assert!(table.case.len() >= 60, "{} cases", table.case.len());
    let mut ids = BTreeSet::new();
    let mut wrong = Vec::new();
    for case in &table.case {
        assert!(ids.insert(&case.id), "{} is there twice", case.id);
        if let Some(name) = &case.sparse {
            let file = fs::File::create(place.join(name)).unwrap();
            file.set_len(100 << 20).unwrap();
        }
        let mut program = Command::new(env!("CARGO_BIN_EXE_pointage"));
        program.args(&case.args).current_dir(&place);
        let said = refusal_of(&mut program, case.exit);
        let right = match case.line.strip_suffix('…') {
            Some(begin) => said.starts_with(begin),
            None => said == case.line,
        };
        if !right {
            wrong.push(format!(
                "{}:\n  {said}\n  instead of\n  {}",
                case.id, case.line
            ));
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

/// No file lies about that no case names.
#[test]
fn every_bad_file_has_a_case() {
    let folder = Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/../..")).join("tests/bad");
    let table = fs::read_to_string(folder.join("cases.toml")).unwrap();
    for entry in fs::read_dir(folder).unwrap() {
        let name = entry.unwrap().file_name().into_string().unwrap();
        assert!(
            name == "cases.toml" || table.contains(&format!("\"{name}\"")),
            "{name}"
        );
    }
}
