//! The console blocks of the README and of the guide are what the program prints.
//!
//! A document is read from top to bottom in a folder of its own that holds `data/demo`. A block ```` ```toml NAME ````
//! is written to that file. In a block ```` ```console ```` a line after `$ ` is run: quotes hold words together, `> FILE`
//! takes the answer, `echo TEXT |` gives the input, and a `\` at the end goes on. Lines `...` at the end of a block stand for
//! what is left out. `POINTAGE_BLESS=1 cargo test -p pointage-cli --test suite documents` writes the answers anew.

use super::program;
use std::fs;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

const LEFT_OUT: &str = "...";

fn root() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../..")
}

/// The words of a command line, as a shell has them.
fn words(line: &str) -> Vec<String> {
    let (mut words, mut quote, mut inside) = (Vec::new(), None, false);
    for c in line.chars() {
        match (c, quote) {
            ('\'' | '"', None) => quote = Some(c),
            (c, Some(q)) if c == q => quote = None,
            (c, None) if c.is_whitespace() => {
                inside = false;
                continue;
            }
            (c, _) => {
                if !inside {
                    words.push(String::new());
                }
                inside = true;
                words.last_mut().unwrap().push(c);
            }
        }
    }
    words
}

/// What a command line prints, run in a folder.
fn answer(line: &str, folder: &Path) -> String {
    let mut words = words(&line.replace("\\\n", " "));
    let mut input = String::new();
    if words[0] == "echo" {
        assert_eq!(words[2], "|", "{line}");
        input = words[1].clone();
        words.drain(..3);
    }
    let kept = words.iter().position(|w| w == ">").map(|at| {
        let file = folder.join(&words[at + 1]);
        words.truncate(at);
        file
    });
    assert_eq!(
        words[0], "pointage",
        "a console block calls the program: {line}"
    );
    let mut program = Command::new(env!("CARGO_BIN_EXE_pointage"))
        .args(&words[1..])
        .current_dir(folder)
        .env("TZ", "Europe/Vienna")
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    // The handle is dropped here, which ends the input.
    let mut handle = program.stdin.take().unwrap();
    handle.write_all(input.as_bytes()).unwrap();
    drop(handle);
    let output = program.wait_with_output().unwrap();
    assert_eq!(String::from_utf8_lossy(&output.stderr), "", "{line}");
    let printed = String::from_utf8(output.stdout).unwrap();
    match kept {
        Some(file) => {
            fs::write(file, printed).unwrap();
            String::new()
        }
        None => printed,
    }
}

/// A console block with the answers of today. What is cut at `...` stays as long as it was.
fn console(block: &[&str], folder: &Path) -> String {
    let mut text = String::new();
    let mut lines = block.iter().peekable();
    while let Some(line) = lines.next() {
        let mut command = line.strip_prefix("$ ").unwrap().to_owned();
        while command.ends_with('\\') {
            command += &format!("\n{}", lines.next().unwrap());
        }
        let mut kept = Vec::new();
        while let Some(line) = lines.next_if(|line| !line.starts_with("$ ")) {
            kept.push(*line);
        }
        let printed = answer(&command, folder);
        let mut printed: Vec<&str> = printed.trim_end().lines().collect();
        if kept.last() == Some(&LEFT_OUT) {
            printed.truncate(kept.len() - 1);
            printed.push(LEFT_OUT);
        }
        text += &format!("$ {command}\n");
        text.extend(printed.iter().map(|line| format!("{line}\n")));
    }
    text
}

/// A document with the answers of today, and how many of its blocks were asked.
fn replayed(text: &str, folder: &Path) -> (String, usize) {
    let (mut now, mut blocks) = (String::new(), 0);
    let mut lines = text.lines();
    while let Some(line) = lines.next() {
        now += &format!("{line}\n");
        let Some(fence) = line.strip_prefix("```").filter(|fence| !fence.is_empty()) else {
            continue;
        };
        let block: Vec<&str> = lines.by_ref().take_while(|line| *line != "```").collect();
        let mut body: String = block.iter().map(|line| format!("{line}\n")).collect();
        if let Some(name) = fence.strip_prefix("toml ") {
            fs::write(folder.join(name), &body).unwrap();
        } else if fence == "console" {
            body = console(&block, folder);
            blocks += 1;
        }
        now += &format!("{body}```\n");
    }
    (now, blocks)
}

#[test]
fn every_console_block_is_real() {
    let mut documents = vec![root().join("README.md")];
    let guide = fs::read_dir(root().join("src/guide")).unwrap();
    documents.extend(guide.map(|file| file.unwrap().path()));
    documents.retain(|path| path.extension().is_some_and(|e| e == "md"));
    let mut blocks = 0;
    for (i, path) in documents.iter().enumerate() {
        let folder = program::folder(&format!("document-{i}"));
        let demo = folder.join("data/demo");
        fs::create_dir_all(&demo).unwrap();
        for file in fs::read_dir(root().join("data/demo")).unwrap() {
            let file = file.unwrap();
            fs::copy(file.path(), demo.join(file.file_name())).unwrap();
        }
        let kept = fs::read_to_string(path).unwrap().replace('\r', "");
        let (now, asked) = replayed(&kept, &folder);
        blocks += asked;
        // Another test may be writing its own part of a document that is right here.
        if std::env::var_os("POINTAGE_BLESS").is_some() && now != kept {
            fs::write(path, &now).unwrap();
        } else if let Some((is, was)) = now.lines().zip(kept.lines()).find(|(a, b)| a != b) {
            panic!("{}: prints {is:?}, not {was:?}", path.display());
        } else {
            assert_eq!(
                now.lines().count(),
                kept.lines().count(),
                "{}",
                path.display()
            );
        }
    }
    assert!(blocks >= 20, "{blocks}");
}

/// The chart that the README shows is the program's. `docs/draw` draws the picture of the sheet as well.
#[test]
fn the_picture_of_the_chart_is_current() {
    let folder = program::folder("pictures");
    let demo = root().join("data/demo/market-poolish.toml");
    let chart = folder.join("chart.svg");
    let out = Command::new(env!("CARGO_BIN_EXE_pointage"))
        .arg("plan")
        .arg(demo)
        .args("--first-out 10:00 --date 2026-11-28 --zone Europe/Vienna --chart".split(' '))
        .arg(&chart)
        .output()
        .unwrap();
    assert!(out.status.success());
    let drawn = fs::read_to_string(chart).unwrap();
    let shown = root().join("docs/chart.svg");
    if std::env::var_os("POINTAGE_BLESS").is_some() {
        fs::write(&shown, &drawn).unwrap();
    }
    let kept = fs::read_to_string(&shown).unwrap_or_default();
    assert!(
        kept.replace('\r', "") == drawn,
        "docs/chart.svg is stale; docs/draw draws it anew"
    );
}
