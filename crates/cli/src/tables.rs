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

fn one(answer: &TableAnswer) -> String {
    let t = &answer.table;
    let mut page = Page::default();
    page.say(format!("{}: {}", t.id, t.title));
    page.item("  source:   ", &format!("{}; {}", t.source, t.locus));
    page.item("  observed: ", &t.observed);
    page.item("  standing: ", t.standing.name());
    if !t.note.is_empty() {
        page.item("  note:     ", &t.note);
    }
    // What is said of a value: the value, where it comes from, a note.
    let told = |page: &mut Page, value: String, source: String, note: &str| {
        page.gap();
        page.say(value);
        page.item("  ", &source);
        if !note.is_empty() {
            page.item("  ", note);
        }
    };
    for v in &t.values {
        let unit = if v.unit == "1" { "" } else { v.unit };
        let sure = match v.uncertainty {
            Uncertainty::StandardError { se } => format!(", standard error {se}"),
            Uncertainty::LogSd { log_sd } => format!(", log-sd {log_sd}"),
            Uncertainty::Range { low, high } => format!(", 10 to 90 %: {low} to {high}"),
            Uncertainty::Exact => String::new(),
            Uncertainty::Judged => ", its uncertainty is judged below".to_owned(),
        };
        let value = format!("{} = {} {unit}", v.name, v.value);
        let source = format!("{}: {}; {}", v.standing.name(), v.source, v.locus);
        let value = format!("{}{sure}", value.trim_end());
        told(&mut page, value, source, &v.note);
    }
    if !t.knots.is_empty() {
        page.gap();
    }
    for k in &t.knots {
        let (c, rate) = (k.temperature_c, k.relative_rate);
        page.line(format!("{c:6.1} °C  relative rate {rate}"));
    }
    if !t.points.is_empty() {
        let (count, id) = (t.points.len(), &t.id);
        page.gap();
        page.say(format!(
            "{count} measured points: pointage tables {id} --json"
        ));
    }
    for r in &t.rows {
        let span = |i: Interval| match i.low == i.high {
            true => format!("{}", i.low),
            false => format!("{} to {}", i.low, i.high),
        };
        let dose = r.dose_percent.map(span);
        let dose = dose.map_or(String::new(), |d| format!("{d} % fresh yeast, "));
        let (hours, c) = (span(r.hours), span(r.temperature_c));
        let value = format!("{}: {dose}{hours} h at {c} °C", r.id);
        let source = format!("{}: {}; {}", r.standing.name(), r.source, r.locus);
        told(&mut page, value, source, &r.note);
    }
    page.cautions(&answer.warnings, NONE);
    page.finish()
}
