//! The validation table and the README's line, which must be those of this run.

use super::{Case, Outcome, Role, Standing, held_out, outcomes, root, subjects};
use std::fmt::Write;
use std::fs;

const HEAD: &str = "\
# Validation

Written by `POINTAGE_BLESS=1 cargo test golden`; do not edit. Cases and their sources: the files beside this one.

Errors are relative to the expected value, or to 1 in its own unit where that is smaller; where a range is
expected they count from its nearer end. A case is missed when it lies outside the tolerance that is
written, with its reason, beside it.

";

fn percent(share: f64) -> String {
    match 100.0 * share {
        p if p >= 10.0 => format!("{p:.0} %"),
        p if p >= 0.1 => format!("{p:.1} %"),
        _ => "< 0.1 %".to_owned(),
    }
}

fn validation() -> String {
    let mut text = HEAD.to_owned();
    text += "| subject | cases | held out | median error | largest error | missed |\n";
    text += "|---|---|---|---|---|---|\n";
    let mut misses = String::new();
    for subject in subjects() {
        let here: Vec<&(_, &Case, Outcome)> = outcomes()
            .iter()
            .filter(|o| o.0.subject == subject.subject)
            .collect();
        let mut errors: Vec<f64> = here.iter().map(|o| o.2.error).collect();
        errors.sort_by(f64::total_cmp);
        let held_out = here.iter().filter(|o| o.1.role == Role::HeldOut).count();
        let missed: Vec<_> = here.iter().filter(|o| !o.2.missed.is_empty()).collect();
        writeln!(
            text,
            "| {} | {} | {held_out} | {} | {} | {} |",
            subject.subject,
            here.len(),
            percent(errors[errors.len() / 2]),
            percent(errors[errors.len() - 1]),
            missed.len()
        )
        .unwrap();
        for (_, case, outcome) in missed {
            let why = case.known_miss.as_deref().unwrap_or("not yet explained");
            let what = outcome.missed.join("; ");
            writeln!(misses, "* `{}` ({}): {what}. {why}", case.id, case.source).unwrap();
        }
    }
    let of = |standing| {
        outcomes()
            .iter()
            .filter(|o| o.1.standing == standing)
            .count()
    };
    writeln!(
        text,
        "\n{}. Expectations quoted {}, derived from what is quoted or computed elsewhere {}, common practice \
         without a source {}, from memory {}.\n\n## Missed\n\n{misses}",
        counts(),
        of(Standing::Quoted),
        of(Standing::Derived),
        of(Standing::CommonPractice),
        of(Standing::FromMemory)
    )
    .unwrap();
    text.trim_end().to_owned() + "\n"
}

fn counts() -> String {
    let missed = outcomes().iter().filter(|o| !o.2.missed.is_empty());
    format!(
        "{} cases, {} held-out, {} missed",
        outcomes().len(),
        held_out().count(),
        missed.count()
    )
}

#[test]
fn the_validation_table_is_of_this_run() {
    let path = root().join("tests/golden/VALIDATION.md");
    let now = validation();
    if std::env::var_os("POINTAGE_BLESS").is_some() {
        fs::write(&path, &now).unwrap();
    }
    let kept = fs::read_to_string(&path)
        .unwrap_or_default()
        .replace('\r', "");
    assert!(
        kept == now,
        "tests/golden/VALIDATION.md is stale; write it anew with POINTAGE_BLESS=1 cargo test golden"
    );
}

#[test]
fn the_readme_quotes_it() {
    let readme = fs::read_to_string(root().join("README.md")).unwrap();
    let (_, trust) = readme.split_once("## How far to trust").unwrap();
    let trust = trust.split("\n## ").next().unwrap();
    assert!(
        trust.contains(&counts()),
        "README, How far to trust: should say \"{}\"",
        counts()
    );
}
