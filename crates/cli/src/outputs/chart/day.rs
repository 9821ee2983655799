//! The day of a plan: when to look, when to act, and how warm it is.
//!
//! A row for each stage that the dough ends, with a line while it is likely ready, a block while it is good and a dot
//! for the plan. A preferment's night is narrower than the day; each has its own clock.

use super::{Axis, Drawing, GRID, INK, SIZE, WIDTH, width};
use crate::outputs::PlanView;
use pointage::plan::{Load, Trace, TracePoint};

const LEFT: f64 = 236.0;
const RIGHT: f64 = 706.0;
/// Right edges of the times left of the rows: when to look, when to act.
const TIMES: [f64; 2] = [156.0, 222.0];
/// Between night and day.
const GAP: f64 = 24.0;
const TEMPERATURE: f64 = 130.0;
/// Room for an hour at the foot.
const HOUR: f64 = 34.0;
/// Longest time that is shown after the last plan, h.
const AFTER: f64 = 3.0;

/// When a dough is ready, and when it is used.
struct Bar {
    name: String,
    planned: f64,
    likely: Option<[f64; 2]>,
    /// It stays usable when there is no end.
    usable: Option<(f64, Option<f64>)>,
}

/// Draws the chart of a plan that carries its curves.
pub fn day(view: PlanView<'_>) -> String {
    let none = Trace::default();
    let trace = view.plan.trace.as_ref().unwrap_or(&none);
    let (preferment, rows) = rows(view, trace);
    let frames = frames(view, preferment.as_ref(), &rows);
    let day = frames[frames.len() - 1];
    let mut drawing = Drawing::default();
    let key = "Line: likely ready, 4 times in 5. Block: good. Dot: planned.";
    let top = drawing.head(&view.bake.name, &[key]) + 42.0;
    for (title, right) in ["look", "act"].into_iter().zip(TIMES) {
        drawing.text(title, [right, top - 8.0], "end");
    }
    let high = if rows.len() > 13 { 27.0 } else { 38.0 };
    let count = rows.len() + usize::from(preferment.is_some());
    let axis = top + high * count as f64;
    let (warm, bottom) = (axis + 116.0, axis + 116.0 + TEMPERATURE);
    for frame in &frames {
        hours(&mut drawing, view, frame, [top, axis, warm, bottom]);
    }
    let row_frames = preferment.iter().map(|row| (row, frames[0]));
    let all: Vec<(&Bar, Axis)> = row_frames.chain(rows.iter().map(|r| (r, day))).collect();
    for (i, (row, frame)) in all.iter().enumerate() {
        let y = top + high * (i as f64 + 0.5);
        drawing.text(&row.name, [12.0, y + 7.0], "start");
        let times = [row.likely.map(|l| l[0]), Some(row.planned)];
        for (hour, right) in times.into_iter().zip(TIMES) {
            let time = hour.map_or(String::new(), |h| view.calendar.clock(h));
            drawing.text(&time, [right, y + 7.0], "end");
        }
        if let Some((from, until)) = row.usable {
            let until = until.unwrap_or(frame.to);
            drawing.block([frame.at(from), frame.at(until)], y, 18.0);
        }
        if let Some([low, high]) = row.likely {
            let end = frame.at(high);
            drawing.line([frame.at(low), y, end, y], INK, 2.5);
            if high > frame.to {
                let tip = [(end - 8.0, y - 7.0), (end, y), (end - 8.0, y + 7.0)];
                drawing.curve(tip.into_iter(), "none", 2.5);
            }
        }
        let time = view.calendar.time(row.planned);
        drawing.dot(frame.at(row.planned), y, &time);
    }
    temperatures(&mut drawing, trace, &frames, [warm, bottom]);
    let sentences: Vec<String> = all.iter().map(|(row, _)| described(view, row)).collect();
    let title = format!("{}: when to look, when to act", view.bake.name);
    drawing.finish(&title, &sentences.join(" "), bottom + 16.0)
}

/// The preferment, and the stages of the dough.
fn rows(view: PlanView<'_>, trace: &Trace) -> (Option<Bar>, Vec<Bar>) {
    let plan = view.plan;
    let ready = |key: &str| {
        let step = view.steps.iter().find(|s| s.key == key);
        step.and_then(|s| s.ready.as_ref())
    };
    let own = view.bake.formula.preferment.as_ref();
    let preferment = own.zip(plan.preferment.as_ref()).map(|(own, p)| Bar {
        name: own.kind.name().into(),
        planned: p.used_h,
        likely: p.ripe_range_h.map(<[f64; 2]>::from),
        usable: Some((p.window_open_h, p.window_close_h)),
    });
    let bulk = plan.loads.first().map(|load| Bar {
        name: "bulk".into(),
        planned: load.divide_h,
        likely: ready("divide-1").and_then(|r| r.likely),
        usable: None,
    });
    let loads = plan.loads.iter().zip(&trace.proofs).map(|(load, curve)| {
        let known = ready(&format!("load-{}-in", load.number));
        Bar {
            name: format!("load {}", load.number),
            planned: load.oven_in_h,
            likely: known.and_then(|r| r.likely).or_else(|| likely(load, curve)),
            usable: reaches(curve, view.window.open)
                .map(|from| (from, reaches(curve, view.window.close))),
        }
    });
    (preferment, bulk.into_iter().chain(loads).collect())
}

/// When a load is likely at its end point: its whole curve runs faster or slower, as its range at the oven has it.
fn likely(load: &Load, curve: &[TracePoint]) -> Option<[f64; 2]> {
    let (low, high) = load.ripeness_range?;
    let at = |ripeness: f64| reaches(curve, load.ripeness / ripeness);
    Some([at(high)?, at(low)?])
}

/// When a curve reaches a share of the end point; beyond its last point it goes on as in its last half hour.
fn reaches(curve: &[TracePoint], share: f64) -> Option<f64> {
    let i = curve.partition_point(|p| p.ripeness < share);
    let [a, b] = match i {
        0 => return curve.first().map(|p| p.hour),
        i if i < curve.len() => [curve[i - 1], curve[i]],
        _ => [curve[curve.len().saturating_sub(7)], *curve.last()?],
    };
    let slope = (b.ripeness - a.ripeness) / (b.hour - a.hour);
    (slope > 1e-3).then(|| b.hour + (share - b.ripeness) / slope)
}

/// The night of a preferment, if there is one, and the day of the dough.
fn frames(view: PlanView<'_>, preferment: Option<&Bar>, rows: &[Bar]) -> Vec<Axis> {
    let end = |row: &Bar| {
        let shown = [row.usable.and_then(|u| u.1), row.likely.map(|l| l[1])];
        let shown = shown.into_iter().flatten();
        (shown.fold(row.planned + 0.2, f64::max)).min(row.planned + AFTER)
    };
    let step = 1.0;
    let axis = |from, to, edges| Axis {
        from,
        to,
        edges,
        step,
    };
    let dough = view.plan.stages.iter().find(|s| s.name != "preferment");
    let from = dough.map_or(0.0, |s| s.start_h);
    let to = rows.iter().map(end).fold(from + 1.0, f64::max);
    let Some((mixed, row)) = view.plan.preferment.as_ref().zip(preferment) else {
        return vec![axis(from, to, [LEFT, RIGHT])];
    };
    let night = end(row) - mixed.mixed_h;
    let share = (night / (night + to - from)).clamp(0.3, 0.42);
    let split = LEFT + share * (RIGHT - LEFT - GAP);
    vec![
        axis(mixed.mixed_h, end(row), [LEFT, split]),
        axis(from, to, [split + GAP, RIGHT]),
    ]
}

/// Hours of the clock below the rows, with the day beneath; their lines run through the temperatures too. One that comes
/// again has its offset above the rows.
fn hours(
    drawing: &mut Drawing,
    view: PlanView<'_>,
    frame: &Axis,
    [top, axis, warm, bottom]: [f64; 4],
) {
    let per_hour = (frame.edges[1] - frame.edges[0]) / (frame.to - frame.from);
    let steps = [1, 2, 3, 4, 6, 12, 24].into_iter();
    let step = steps.clone().find(|n| f64::from(*n) * per_hour >= HOUR);
    let [left, right] = frame.edges;
    for y in [axis, bottom] {
        drawing.line([left, y, right, y], INK, 1.5);
    }
    // Days are named at their first hour that is shown, where the one before leaves room.
    let (mut day, mut free) = (String::new(), 0.0);
    let hours = std::iter::successors(Some(frame.from.ceil()), |h| Some(h + 1.0));
    for hour in hours.take_while(|h| *h <= frame.to) {
        let (local, x) = (view.calendar.at(hour), frame.at(hour));
        if local.hour() == view.calendar.at(hour - 1.0).hour() {
            let again = local.strftime("%H (%:z)").to_string();
            let room = 0.5 * width(&again, SIZE);
            let middle = x.max(left + room).min(right - room);
            drawing.text(&again, [middle, top - 8.0], "middle");
            drawing.curve([(x, top), (x, axis)].into_iter(), "2 4", 1.5);
            continue;
        }
        if i32::from(local.hour()) % step.unwrap_or(24) != 0 {
            continue;
        }
        drawing.line([x, top, x, axis + 6.0], GRID, 1.0);
        drawing.line([x, warm, x, bottom], GRID, 1.0);
        let label = local.strftime("%H").to_string();
        drawing.text(&label, [x, axis + 26.0], "middle");
        let today = local.strftime("%a").to_string();
        if today != day && x >= free && x + 28.0 <= WIDTH {
            drawing.text(&today, [x - 12.0, axis + 52.0], "start");
            free = x + 52.0;
        }
        day = today;
    }
}

/// Dough and place, of the preferment, the bulk and the first and last load.
fn temperatures(drawing: &mut Drawing, trace: &Trace, frames: &[Axis], [warm, bottom]: [f64; 2]) {
    let day = frames[frames.len() - 1];
    let last = trace.proofs.last().filter(|_| trace.proofs.len() > 1);
    let proofs = trace.proofs.first().into_iter().chain(last);
    let curves: Vec<(&Vec<TracePoint>, Axis)> =
        [(&trace.preferment, frames[0]), (&trace.bulk, day)]
            .into_iter()
            .chain(proofs.map(|p| (p, day)))
            .collect();
    let points = curves.iter().flat_map(|c| c.0.iter());
    // A line on the axis itself would not be seen.
    let around = |p: &TracePoint| [p.dough_c.min(p.room_c) - 0.5, p.dough_c.max(p.room_c) + 0.5];
    let scale = Axis::over(points.flat_map(around), [bottom, warm]);
    drawing.side(&scale, [LEFT, RIGHT]);
    let key = warm - 16.0;
    drawing.text("°C", [TIMES[1], key], "end");
    for (name, x, dashes) in [("dough", LEFT, "none"), ("its place", LEFT + 150.0, "3 5")] {
        let sample = [(x, key - 6.0), (x + 40.0, key - 6.0)];
        drawing.curve(sample.into_iter(), dashes, 2.5);
        drawing.text(name, [x + 48.0, key], "start");
    }
    for (curve, frame) in curves {
        let of = |value: fn(&TracePoint) -> f64| {
            (curve.iter()).map(move |p| (frame.at(p.hour), scale.at(value(p))))
        };
        drawing.curve(of(|p| p.room_c), "3 5", 2.5);
        drawing.curve(of(|p| p.dough_c), "none", 2.5);
    }
}

/// A row in words, for those who hear it.
fn described(view: PlanView<'_>, row: &Bar) -> String {
    let beside = |h: f64| view.calendar.time_beside(h, row.planned);
    let mut text = format!("{}: planned at {}", row.name, beside(row.planned));
    if let Some([low, high]) = row.likely {
        text += &format!(", likely ready from {} to {}", beside(low), beside(high));
    }
    if let Some((from, until)) = row.usable {
        text += &format!(", good from {}", beside(from));
        text += &until.map_or(String::new(), |h| format!(" to {}", beside(h)));
    }
    text + "."
}
