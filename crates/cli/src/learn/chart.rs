//! Times observed against times predicted (SVG), both on a logarithmic scale.

use crate::outputs::chart::{Axis, Drawing, GRID, INK, SIZE, width};
use maud::html;
use pointage::learn::fit::FittedRow;
use pointage::learn::log::Seen;
use pointage_api::learn::LearnAnswer;

const EDGES: [f64; 2] = [84.0, 684.0];
const PLOT: f64 = 600.0;

/// Hours that carry a line.
const TICKS: [f64; 12] = [
    0.1, 0.25, 0.5, 1.0, 2.0, 4.0, 8.0, 16.0, 32.0, 64.0, 128.0, 504.0,
];

/// Where a label may stand beside its point, right and down; the best first.
const BESIDE: [(f64, f64); 6] = [
    (12.0, 7.0),
    (-12.0, 7.0),
    (12.0, 28.0),
    (-12.0, -14.0),
    (12.0, -14.0),
    (-12.0, 28.0),
];

/// The chart of a log. Full points were seen ready; open triangles point to where the time lies.
pub fn chart(log: &str, answer: &LearnAnswer) -> String {
    let hours = || answer.rows.iter().flat_map(|r| [r.seen_h, r.predicted_h]);
    let mut drawing = Drawing::default();
    let title = format!("{log}: hours observed and predicted");
    let keys = [
        "Up: observed. Right: predicted. Dashed: one scatter off.",
        "Triangle: the dough takes longer (up) or took less (down).",
    ];
    let top = drawing.head(&title, &keys) + 20.0;
    let (first, last) = (
        hours().fold(f64::MAX, f64::min),
        hours().fold(0.0, f64::max),
    );
    let before = TICKS.into_iter().rev().find(|tick| *tick < first);
    let x = Axis {
        from: before.unwrap_or(0.8 * first),
        to: (TICKS.into_iter().find(|tick| *tick > last)).unwrap_or(1.25 * last),
        edges: EDGES,
        step: 0.0,
    };
    let (low, high) = (x.from, x.to);
    let bottom = top + PLOT;
    let y = Axis {
        edges: [bottom, top],
        ..x
    };
    for tick in TICKS.into_iter().filter(|t| (low..=high).contains(t)) {
        drawing.line([x.at(tick), bottom, x.at(tick), top], GRID, 1.0);
        drawing.line([EDGES[0], y.at(tick), EDGES[1], y.at(tick)], GRID, 1.0);
        drawing.text(&tick.to_string(), [x.at(tick), bottom + 26.0], "middle");
        drawing.text(&tick.to_string(), [EDGES[0] - 8.0, y.at(tick) + 7.0], "end");
    }
    // The line of agreement, and a scatter to either side of it.
    let scatter = answer.scatter;
    for (factor, dashes) in [
        (1.0, "none"),
        (scatter.exp(), "5 5"),
        ((-scatter).exp(), "5 5"),
    ] {
        let (from, to) = (low.max(low / factor), high.min(high / factor));
        let ends = [from, to].map(|h| (x.at(h), y.at(h * factor)));
        drawing.curve(ends.into_iter(), dashes, 1.2);
    }
    let point = |row: &FittedRow| [x.at(row.predicted_h), y.at(row.seen_h)];
    let name = |row: &FittedRow| format!("line {}", row.line);
    for row in &answer.rows {
        let [px, py] = point(row);
        let name = name(row);
        match row.seen {
            Seen::Ready => drawing.dot(px, py, &name),
            Seen::NotYet | Seen::Past => {
                let tip = if row.seen == Seen::NotYet {
                    -11.0
                } else {
                    11.0
                };
                let d = format!("M{:.1} {py:.1}h14l-7 {tip}z", px - 7.0);
                drawing.add(html! { path d=(d) fill="white" stroke=(INK) { title { (name) } } });
            }
        }
    }
    let points: Vec<_> = answer.rows.iter().map(point).collect();
    let named = answer.rows.iter();
    let named = named.filter(|r| answer.largest.contains(&r.line));
    let named = named.map(|row| (point(row), name(row)));
    labels(&mut drawing, &points, named, [top, bottom]);
    let about = format!(
        "{} times observed against predicted, in hours.",
        answer.rows.len()
    );
    drawing.finish(&title, &about, bottom + 44.0)
}

/// Names some points, each beside its own, where no point and no other name stands.
fn labels(
    drawing: &mut Drawing,
    points: &[[f64; 2]],
    named: impl Iterator<Item = ([f64; 2], String)>,
    [top, bottom]: [f64; 2],
) {
    let around = |[x, y]: &[f64; 2]| [x - 8.0, y - 11.0, x + 8.0, y + 11.0];
    let mut taken: Vec<[f64; 4]> = points.iter().map(around).collect();
    for ([x, y], name) in named {
        let wide = width(&name, SIZE);
        let place = |(right, down): (f64, f64)| {
            let left = x + right - if right < 0.0 { wide } else { 0.0 };
            [left, y + down - 16.0, left + wide, y + down + 5.0]
        };
        let free = |beside: &(f64, f64)| {
            let [left, up, right, down] = place(*beside);
            let apart = |a: &[f64; 4]| left >= a[2] || a[0] >= right || up >= a[3] || a[1] >= down;
            let inside = left >= EDGES[0] && right <= EDGES[1] && up >= top && down <= bottom;
            inside && taken.iter().all(apart)
        };
        let beside = BESIDE.into_iter().find(free).unwrap_or(BESIDE[0]);
        let anchor = if beside.0 < 0.0 { "end" } else { "start" };
        drawing.text(&name, [x + beside.0, y + beside.1], anchor);
        taken.push(place(beside));
    }
}
