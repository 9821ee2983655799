//! The README's console blocks are what the program really prints.

use std::process::Command;

const README: &str = include_str!("../../README.md");

#[test]
fn every_console_block_is_real() {
    let mut blocks = 0;
    for block in README.split("```console\n").skip(1) {
        let block = block.split("\n```").next().unwrap();
        let (command, expected) = block.split_once('\n').unwrap();
        let args = command
            .strip_prefix("$ pointage ")
            .expect("a console block calls the program");
        let output = Command::new(env!("CARGO_BIN_EXE_pointage"))
            .args(args.split_whitespace())
            .current_dir(env!("CARGO_MANIFEST_DIR"))
            .output()
            .unwrap();
        assert_eq!(String::from_utf8_lossy(&output.stderr), "", "{command}");
        assert_eq!(
            String::from_utf8_lossy(&output.stdout).trim_end(),
            expected,
            "{command}"
        );
        blocks += 1;
    }
    assert!(blocks >= 4);
}
