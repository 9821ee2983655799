//! Times observed against times predicted (SVG), both on a logarithmic scale.

use crate::outputs::chart::{Axis, Drawing, GRID, INK, WIDTH};
use maud::html;
use pointage::learn::log::Seen;
use pointage_api::learn::LearnAnswer;
use std::path::Path;

const EDGES: [f64; 2] = [84.0, 684.0];
const PLOT: f64 = 600.0;

/// Hours that carry a line.
const TICKS: [f64; 12] = [
    0.1, 0.25, 0.5, 1.0, 2.0, 4.0, 8.0, 16.0, 32.0, 64.0, 128.0, 504.0,
];

/// The chart of a log. Full points were seen ready; open triangles point to where the time lies.
pub fn chart(log: &str, answer: &LearnAnswer) -> String {
    let hours = || answer.rows.iter().flat_map(|r| [r.seen_h, r.predicted_h]);
    let mut drawing = Drawing::default();
    let name = Path::new(log).file_name();
    let name = name.map_or(log.into(), |n| n.to_string_lossy());
    let title = format!("{name}: hours observed and predicted");
    let keys = [
        "Up: observed. Right: predicted. Dashed: one scatter off.",
        "Triangle: the dough takes longer (up) or took less (down).",
    ];
    let top = drawing.head(&title, &keys) + 20.0;
    let x = Axis {
        from: hours().fold(f64::INFINITY, f64::min) / 1.25,
        to: hours().fold(0.0, f64::max) * 1.25,
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
    for row in &answer.rows {
        let (px, py) = (x.at(row.predicted_h), y.at(row.seen_h));
        let name = format!("line {}", row.line);
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
        if answer.largest.contains(&row.line) {
            // To the left where the right leaves no room.
            let (shift, anchor) = if px > WIDTH - 110.0 {
                (-11.0, "end")
            } else {
                (11.0, "start")
            };
            drawing.text(&name, [px + shift, py + 7.0], anchor);
        }
    }
    let about = format!(
        "{} times observed against predicted, in hours.",
        answer.rows.len()
    );
    drawing.finish(&title, &about, bottom + 44.0)
}
