//! The answer of `tables` in words.

use super::render::{NONE, Page};
use pointage::table::{Interval, Uncertainty};
use pointage_api::tables::{TableAnswer, TablesAnswer};

pub const EXAMPLES: &str = "Example: what the model of fermentation rests on
  pointage tables defaults";

pub fn words(answer: &TablesAnswer) -> String {
    match answer {
        TablesAnswer::All { tables, .. } => list(tables),
        TablesAnswer::One(table) => one(table),
    }
}

fn list(tables: &[TableAnswer]) -> String {
    let mut page = Page::default();
    for TableAnswer { table: t, .. } in tables {
        page.item(&format!("{:<24}", t.id), &t.title);
    }
    page.gap();
    page.say("pointage tables ID shows the values of one, with source and standing.");
    page.finish()
}

fn one(
    TableAnswer {
        table: t, warnings, ..
    }: &TableAnswer,
) -> String {
    let mut page = Page::default();
    page.say(format!("{}: {}", t.id, t.title));
    page.item("  source:   ", &format!("{}; {}", t.source, t.locus));
    page.item("  observed: ", &t.observed);
    page.item("  standing: ", t.standing.as_str());
    if !t.note.is_empty() {
        page.item("  note:     ", &t.note);
    }
    for v in &t.values {
        let unit = if v.unit == "1" { "" } else { v.unit };
        let sure = match v.uncertainty {
            Uncertainty::StandardError { se } => format!(", standard error {se}"),
            Uncertainty::LogSd { log_sd } => format!(", log-sd {log_sd}"),
            Uncertainty::Range { low, high } => format!(", 10 to 90 %: {low} to {high}"),
            Uncertainty::Exact => String::new(),
            Uncertainty::Judged => ", its uncertainty is judged below".to_owned(),
        };
        page.gap();
        let value = format!("{} {unit}", v.value);
        page.say(format!("{} = {}{sure}", v.name, value.trim_end()));
        page.item(
            "  ",
            &format!("{}: {}; {}", v.standing.as_str(), v.source, v.locus),
        );
        if !v.note.is_empty() {
            page.item("  ", &v.note);
        }
    }
    if !t.knots.is_empty() {
        page.gap();
        for k in &t.knots {
            page.line(format!(
                "{:6.1} °C  relative rate {}",
                k.temperature_c, k.relative_rate
            ));
        }
    }
    if !t.points.is_empty() {
        page.gap();
        page.say(format!(
            "{} measured points: pointage tables {} --json",
            t.points.len(),
            t.id
        ));
    }
    for r in &t.rows {
        let span = |i: Interval| {
            if i.low == i.high {
                format!("{}", i.low)
            } else {
                format!("{} to {}", i.low, i.high)
            }
        };
        let dose = r
            .dose_percent
            .map_or(String::new(), |d| format!("{} % fresh yeast, ", span(d)));
        page.gap();
        page.say(format!(
            "{}: {dose}{} h at {} °C",
            r.id,
            span(r.hours),
            span(r.temperature_c)
        ));
        page.item(
            "  ",
            &format!("{}: {}; {}", r.standing.as_str(), r.source, r.locus),
        );
        if !r.note.is_empty() {
            page.item("  ", &r.note);
        }
    }
    page.cautions(warnings, NONE);
    page.finish()
}
