//! The validation table and what the guide says of it, which must be those of this run.

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

const BEGIN: &str = "<!-- written by POINTAGE_BLESS=1 cargo test golden -->\n";
const END: &str = "<!-- to here -->\n";

/// What the guide says of the cases: how many, and every missed one, a line a subject.
fn for_the_guide() -> String {
    let mut text = format!(
        "{}. {} Missed are (first what Pointage answers, then what the source says):\n\n",
        counts(),
        times_and_doses()
    );
    for subject in subjects() {
        let here = outcomes().iter().filter(|o| o.0.subject == subject.subject);
        let missed: Vec<String> = here
            .filter_map(|(_, case, outcome)| {
                let words = case.in_words.as_deref().unwrap_or(&case.id);
                let short = outcome.short.as_deref()?;
                Some(format!("{} (`{}`)", words.replace("{}", short), case.id))
            })
            .collect();
        if !missed.is_empty() {
            writeln!(text, "* {}: {}.", subject.subject, missed.join("; ")).unwrap();
        }
    }
    text + "\nEach one's source, and why it is missed, stands in `tests/golden/VALIDATION.md`.\n"
}

/// How near the hours and doses of doughs and preferments come: those of a demo of our own, and volumes, are
/// no such cases.
fn times_and_doses() -> String {
    let subjects = [
        "Poolish times",
        "Biga times",
        "Sponge times",
        "Straight dough and proof times",
    ];
    let of = |role: Option<Role>| -> (usize, usize) {
        let cases = outcomes().iter().filter(|(subject, case, _)| {
            let args = case.args.as_deref().unwrap_or("data/demo");
            subjects.contains(&subject.subject.as_str())
                && !args.contains("data/demo")
                && role.is_none_or(|role| role == case.role)
        });
        cases.fold((0, 0), |(within, all), o| {
            (within + usize::from(o.2.error <= 1.0 / 3.0), all + 1)
        })
    };
    let ((within, all), (held_within, held)) = (of(None), of(Some(Role::HeldOut)));
    format!(
        "{within} of {all} times and doses of others lie within a third, {held_within} of the {held} held-out ones."
    )
}

#[test]
fn the_guide_quotes_it() {
    let path = root().join("src/guide/trust.md");
    let chapter = fs::read_to_string(&path).unwrap().replace('\r', "");
    let (head, rest) = chapter.split_once(BEGIN).unwrap();
    let (kept, tail) = rest.split_once(END).unwrap();
    let now = for_the_guide();
    if std::env::var_os("POINTAGE_BLESS").is_some() {
        fs::write(&path, format!("{head}{BEGIN}{now}{END}{tail}")).unwrap();
    } else {
        assert!(
            kept == now,
            "src/guide/trust.md is stale; write it anew with POINTAGE_BLESS=1 cargo test golden"
        );
    }
    // What the chapter on learning says of the shipped numbers is the same count.
    let learn = include_str!("../../../../../src/guide/own_log.md");
    let share = times_and_doses();
    let share = share.split(" lie").next().unwrap();
    assert!(learn.contains(share), "src/guide/own_log.md: {share}");
}

#[test]
fn the_guide_tells_the_rise_of_a_sponge() {
    let cases = outcomes().iter().map(|o| o.1);
    let case = cases.into_iter().find(|c| c.id == "sponge-volume").unwrap();
    let times = super::at_path(&case.answers()[0], "times");
    let [low, high] = case.band["times"];
    assert_eq!([low, high], [4.0, 5.0], "four to five in a textbook");
    let chapter = include_str!("../../../../../src/guide/trust.md");
    let words = format!(
        "A sponge comes out at {times:.1} times its volume where a textbook has four to five"
    );
    assert!(chapter.contains(&words), "{words}");
}
