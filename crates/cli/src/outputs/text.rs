//! A plan as text for a terminal.

use super::PlanView;
use crate::CARE;
use crate::render::{Page, mass, temperature};
use pointage::plan::{Finding, Reason};
use pointage_api::Sentence;

/// Longest name that stands beside its weights.
const NAME: usize = 36;

/// The plan in words; `explain` adds what moves its times, `written` are the files it went to.
pub fn text(view: PlanView<'_>, is_demo: bool, explain: bool, written: &[String]) -> String {
    let (answer, calendar) = (view.answer, view.calendar);
    let mut page = Page::default();
    page.say(format!("{}: {}", view.bake.name, view.pieces()));
    page.say(view.summary());
    if is_demo {
        page.say("(A built-in demo bake. Your own: pointage plan BAKE.toml --first-out 07:30)");
    }
    for change in &answer.changes {
        page.item("Changed: ", &change.to_string());
    }
    if let Some(problem) = &view.plan.problem {
        let findings = problem.findings.iter().map(|f| f.sentence().to_string());
        page.item("Does not fit: ", &findings.collect::<Vec<_>>().join(" "));
        for way in &answer.nearest {
            page.item("Try: ", &way.to_string());
        }
    }
    page.gap();
    let actions = view.listed().map(|step| step.text.to_string());
    let wide = actions.map(|action| action.chars().count()).max();
    let wide = wide.unwrap_or(0);
    let mut day = String::new();
    for step in view.listed() {
        let today = calendar.weekday(step.start);
        let weekday = if today == day { "" } else { &today };
        let time = calendar.time(step.start);
        let label = format!("{weekday:<3} {time}  {:<wide$}  ", step.text);
        page.item(&label, &view.details(step));
        day = today;
    }
    weights(&mut page, view);
    if explain {
        explained(&mut page, view);
    }
    // The stages beside those of the reference are one note; what the plan does not know stands behind its own.
    let is_stage = |note: &&Finding| matches!(note, Finding::FromReference { .. });
    let (stages, own): (Vec<_>, Vec<_>) = view.plan.notes.iter().partition(is_stage);
    let words = |note: &Finding| note.sentence().to_string();
    let stages: Vec<String> = stages.into_iter().map(words).collect();
    let stages = (!stages.is_empty()).then(|| stages.join(" "));
    let others = answer.notes.iter().skip(view.plan.notes.len());
    let others = others.map(ToString::to_string);
    let own = own.into_iter().map(words);
    let notes: Vec<String> = stages.into_iter().chain(own).chain(others).collect();
    page.cautions(&answer.warnings, &notes);
    page.gap();
    let more = if explain { "" } else { " More: --explain" };
    let judge = "Likely times hold 4 times in 5. Judge the dough, not the clock.";
    page.say(format!("{judge}{more}"));
    page.item("Safety: ", CARE);
    if !written.is_empty() {
        page.gap();
        page.item("Written: ", &written.join(", "));
    }
    page.finish()
}

fn weights(page: &mut Page, view: PlanView<'_>) {
    let weights = view.weights();
    let names = weights.rows.iter().map(|(name, _)| name.chars().count());
    let wide = names.filter(|n| *n <= NAME).max().unwrap_or(0).max(8);
    let widths = weights.columns.iter().map(|c| c.chars().count().max(10));
    let line = |name: &str, cells: &mut dyn Iterator<Item = &str>| {
        let cells = cells.zip(widths.clone());
        let cells: String = cells.map(|(c, w)| format!("  {c:>w$}")).collect();
        format!("{name:<wide$}{cells}")
    };
    page.gap();
    page.line(line(
        "Weigh",
        &mut weights.columns.iter().map(String::as_str),
    ));
    for (name, cells) in &weights.rows {
        let mut cells = cells.iter().map(String::as_str);
        if name.chars().count() > NAME {
            page.say(name);
            page.line(line("", &mut cells));
        } else {
            page.line(line(name, &mut cells));
        }
    }
    for slurry in view.steps.iter().filter_map(|s| s.slurry) {
        page.say(slurry.sentence().to_string());
    }
}

/// What moves the times, what hides behind the temperature of a large dough, and both ways to the water.
fn explained(page: &mut Page, view: PlanView<'_>) {
    let (plan, answer) = (view.plan, view.answer);
    page.gap();
    page.line("What moves these times most");
    for reason in &plan.reasons {
        page.item(&format!("  {:<10} ", reason.stage), &causes(reason));
    }
    if !plan.cores.is_empty() {
        page.gap();
        page.line("The dough is too thick to be one temperature");
    }
    for core in &plan.cores {
        let time = view.calendar.time(core.hour);
        let (core_c, surface_c, mean_c) = (core.core_c, core.surface_c, core.mean_c);
        page.item(
            &format!("  {time}  {:<9} ", core.stage),
            &format!("at its end {core_c:.1} °C in the middle, {surface_c:.1} °C at the surface, {mean_c:.1} °C on average"),
        );
    }
    let (balance, rule) = (&answer.water.heat_balance, &answer.water.ddt_formula);
    if let (Some(b), Some(r)) = (balance, rule) {
        let (balance, rule) = (temperature(b.water_c), temperature(r.water_c));
        page.gap();
        page.say(format!(
            "Water of the dough by the heat balance {balance}, which counts; by the desired-dough-temperature (DDT) formula {rule}: the formula weighs flour, room and water alike, the balance by their heat. 1 °C in the water moves the dough by {:.2} °C.",
            b.dough_per_water
        ));
    }
    let yeast = &answer.yeast;
    let doses = [("preferment", &yeast.preferment), ("mix", &yeast.mix)].into_iter();
    let per_litre = doses.filter_map(|(name, dose)| {
        let g = dose.as_ref()?.per_litre_g?;
        Some(format!("{name} {}", mass(g)))
    });
    let per_litre: Vec<String> = per_litre.collect();
    if !per_litre.is_empty() {
        let all = per_litre.join(", ");
        page.gap();
        page.item("Yeast to a litre of its own water: ", &format!("{all}."));
    }
}

/// `1 K warmer room: 9 min sooner; ...`
fn causes(reason: &Reason) -> String {
    let causes = reason.causes.iter().map(|cause| {
        // Below a minute, the size matters less than that it is small.
        let size = match cause.minutes.abs() {
            small if small < 1.0 => "less than 1 min".to_owned(),
            minutes => format!("{minutes:.0} min"),
        };
        let way = if cause.minutes < 0.0 {
            "sooner"
        } else {
            "later"
        };
        format!("{}: {size} {way}", cause.change.sentence())
    });
    causes.collect::<Vec<_>>().join("; ") + "."
}
