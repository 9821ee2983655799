//! When a plan cannot be: which load does not fit, and the nearest plan that can.

use super::bake::{Bake, HoldLaterLoads};
use super::{Anchor, Load, Plan};
use crate::error::Result;
use crate::ferment::Parameters;
use crate::plan::environment::Environment;
use crate::table;
use crate::units::{Percent, Temperature, as_hours};

/// What does not fit, and what would.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Problem {
    /// Numbers of the loads outside their window, or resting too long.
    pub loads: Vec<u32>,
    /// What is wrong, in words.
    pub what: String,
    /// The nearest plan that can be met, in words.
    pub nearest: String,
}

/// The problem of a plan, if some load is outside its window, or rests too long before it is shaped.
pub(super) fn problem(
    plan: &Plan,
    bake: &Bake,
    places: &Environment,
    anchor: Anchor,
    p: &Parameters,
) -> Result<Option<Problem>> {
    let window = p.window;
    let all = plan.loads.len();
    let which = |loads: &[&Load]| match numbers(loads.iter().map(|l| l.number)) {
        one if loads.len() == 1 => format!("load {one} of {all}"),
        several => format!("loads {several} of {all}"),
    };
    let outside: Vec<&Load> = plan.loads.iter().filter(|l| !l.in_window).collect();
    let (rest, rest_max) = (as_hours(bake.process.rest), as_hours(bake.process.rest_max));
    let rested = |l: &Load| rest + l.waits_h[1];
    let weary: Vec<&Load> = plan
        .loads
        .iter()
        .filter(|l| rested(l) > rest_max + 1e-6)
        .collect();
    let mut what = Vec::new();
    if let Some(worst) = outside
        .iter()
        .max_by(|a, b| a.ripeness.total_cmp(&b.ripeness))
    {
        what.push(format!(
            "{} would enter the oven at up to {:.2} of the proof, outside the window from {:.2} to {:.2}",
            which(&outside), worst.ripeness, window.open, window.close
        ));
    }
    let longest = weary.iter().map(|l| rested(l)).fold(0.0, f64::max);
    if !weary.is_empty() {
        what.push(format!(
            "{} would rest up to {:.0} min until the hands are free to shape them, longer than bench_rest_max_min, {:.0} min",
            which(&weary), 60.0 * longest, 60.0 * rest_max
        ));
    }
    if what.is_empty() {
        return Ok(None);
    }
    let mut nearest = nearest(bake, places, anchor, p)?;
    if nearest.is_none() && outside.is_empty() {
        nearest = Some(format!(
            "it works if the pieces may rest {:.0} min (bench_rest_max_min), or with more hands at the shaping",
            (60.0 * longest).ceil()
        ));
    }
    let nearest = nearest.unwrap_or_else(|| {
        "no plan near this one works; use less yeast, a colder dough or a colder proof place"
            .to_owned()
    });
    let fails = |l: &&Load| !l.in_window || rested(l) > rest_max + 1e-6;
    Ok(Some(Problem {
        loads: plan.loads.iter().filter(fails).map(|l| l.number).collect(),
        what: what.join("; "),
        nearest,
    }))
}

/// The first change, from the smallest on, with which every load fits.
fn nearest(
    bake: &Bake,
    places: &Environment,
    anchor: Anchor,
    p: &Parameters,
) -> Result<Option<String>> {
    // A change that leads to an error is simply no answer.
    let fits = |changed: &Bake| super::fits(changed, places, anchor, p).unwrap_or(false);
    let fridge_c = table::get("bake-file")?.number("fridge_c")?;
    let allows = |way: HoldLaterLoads| bake.process.hold_later_loads.contains(&way);
    let also = |ways: &[HoldLaterLoads]| {
        let mut changed = bake.clone();
        for way in ways {
            if !allows(*way) {
                changed.process.hold_later_loads.push(*way);
            }
        }
        if changed
            .process
            .hold_later_loads
            .contains(&HoldLaterLoads::Retarder)
            && changed.process.retarder.is_none()
        {
            changed.process.retarder = Temperature::celsius(fridge_c).ok();
        }
        changed
    };
    let retarder_c = bake
        .process
        .retarder
        .map_or(fridge_c, Temperature::as_celsius);
    let mut tries: Vec<(Bake, String)> = Vec::new();
    if !allows(HoldLaterLoads::ShapeLater) {
        tries.push((
            also(&[HoldLaterLoads::ShapeLater]),
            "shape the later loads later (hold_later_loads = [\"shape-later\"])".into(),
        ));
    }
    if !allows(HoldLaterLoads::DivideLater) {
        tries.push((
            also(&[HoldLaterLoads::DivideLater]),
            "divide the later loads later (add \"divide-later\" to hold_later_loads)".into(),
        ));
    }
    if !allows(HoldLaterLoads::Retarder) {
        tries.push((
            also(&[HoldLaterLoads::Retarder]),
            format!("hold the later loads at {retarder_c:.0} °C after shaping (add \"retarder\" to hold_later_loads, retarder_c = {retarder_c:.0})"),
        ));
        tries.push((
            also(&[HoldLaterLoads::DivideLater, HoldLaterLoads::Retarder]),
            format!("divide the later loads later and hold them at {retarder_c:.0} °C after shaping (add \"divide-later\" and \"retarder\" to hold_later_loads, retarder_c = {retarder_c:.0})"),
        ));
    }
    for (changed, words) in tries {
        if fits(&changed) {
            return Ok(Some(format!("it works if you {words}")));
        }
    }
    // Less yeast at the mix: everything slower, every window wider.
    if let Some(yeast) = bake.formula.yeast.filter(|y| y.as_percent() > 0.0) {
        for less in [0.75, 0.5, 0.35, 0.2] {
            let mut changed = bake.clone();
            changed.formula.yeast = Some(Percent::new(yeast.as_percent() * less)?);
            if fits(&changed) {
                return Ok(Some(format!(
                    "it works with less yeast at the mix, {:.3} % in place of {} % (yeast_percent), and an earlier start",
                    yeast.as_percent() * less,
                    yeast.as_percent()
                )));
            }
        }
    }
    // Fewer loads from one dough, and so several doughs. Fewer loads are never harder: halving the span.
    let each = bake.pieces_per_load().max(1);
    let loads = bake.pieces.div_ceil(each);
    let works = |n: u32| -> Result<bool> { Ok(fits(&bake.with_pieces(Some(n * each), None)?)) };
    if loads < 2 || !works(1)? {
        return Ok(None);
    }
    let (mut good, mut bad) = (1, loads);
    while bad - good > 1 {
        let middle = good + (bad - good) / 2;
        if works(middle)? {
            good = middle
        } else {
            bad = middle
        }
    }
    let doughs = loads.div_ceil(good);
    Ok(Some(format!(
        "it works as {doughs} doughs of at most {good} {} ({} pieces) each, every one begun {:.0} min after the one before",
        if good == 1 { "load" } else { "loads" },
        good * each,
        60.0 * f64::from(good) * super::cycle_of(bake)
    )))
}

/// Numbers in words: `2`, `2 to 5`, `2, 4 to 6`.
pub(super) fn numbers(numbers: impl Iterator<Item = u32>) -> String {
    let mut runs: Vec<(u32, u32)> = Vec::new();
    for n in numbers {
        match runs.last_mut() {
            Some(run) if run.1 + 1 == n => run.1 = n,
            _ => runs.push((n, n)),
        }
    }
    let words = runs.iter().map(|&(a, b)| {
        if a == b {
            a.to_string()
        } else {
            format!("{a} to {b}")
        }
    });
    words.collect::<Vec<_>>().join(", ")
}

#[cfg(test)]
mod tests {
    use super::numbers;

    #[test]
    fn neighbouring_numbers_are_told_as_a_run() {
        for (list, words) in [
            (&[] as &[u32], ""),
            (&[2], "2"),
            (&[2, 3], "2 to 3"),
            (&[1, 2, 3, 4], "1 to 4"),
            (&[2, 4, 5, 6, 9], "2, 4 to 6, 9"),
            (&[1, 3, 5], "1, 3, 5"),
        ] {
            assert_eq!(numbers(list.iter().copied()), words);
        }
    }
}
