//! Times seen against times reckoned (SVG), both on a logarithmic scale.

use pointage::learn::log::Seen;
use pointage_api::learn::LearnAnswer;
use svg::Document;
use svg::node::element::{Circle, Line, Path, Text, Title};

const SIZE: f64 = 560.0;
const LEFT: f64 = 70.0;
const TOP: f64 = 50.0;
const PLOT: f64 = 440.0;
const INK: &str = "#1a1a1a";
const GRID: &str = "#cfcfcf";

/// Hours that carry a line.
const TICKS: [f64; 12] = [
    0.1, 0.25, 0.5, 1.0, 2.0, 4.0, 8.0, 16.0, 32.0, 64.0, 128.0, 504.0,
];

/// The chart of a log. Full points were seen ready; open triangles point to where the time lies.
pub fn chart(log: &str, answer: &LearnAnswer) -> String {
    let hours = || answer.rows.iter().flat_map(|r| [r.seen_h, r.predicted_h]);
    let low = hours().fold(f64::INFINITY, f64::min) / 1.25;
    let high = hours().fold(0.0, f64::max) * 1.25;
    let share = |h: f64| (h / low).ln() / (high / low).ln();
    let (x, y) = (
        |h: f64| LEFT + PLOT * share(h),
        |h: f64| TOP + PLOT * (1.0 - share(h)),
    );
    let mut doc = Document::new()
        .set("viewBox", (0, 0, SIZE, SIZE))
        .set("font-family", "sans-serif")
        .set("font-size", 14)
        .set("fill", INK)
        .add(Title::new(format!("{log}: times seen and reckoned")))
        .add(
            Text::new(format!("{log}: seen against reckoned, hours"))
                .set("x", LEFT)
                .set("y", 28),
        );
    let line = |from: (f64, f64), to: (f64, f64), colour: &str, dashes: &str| {
        Line::new()
            .set("x1", round(from.0))
            .set("y1", round(from.1))
            .set("x2", round(to.0))
            .set("y2", round(to.1))
            .set("stroke", colour)
            .set("stroke-dasharray", dashes)
    };
    for tick in TICKS.into_iter().filter(|t| (low..=high).contains(t)) {
        doc = doc
            .add(line((x(tick), y(low)), (x(tick), y(high)), GRID, "none"))
            .add(line((x(low), y(tick)), (x(high), y(tick)), GRID, "none"))
            .add(
                Text::new(format!("{tick}"))
                    .set("x", round(x(tick)))
                    .set("y", TOP + PLOT + 20.0)
                    .set("text-anchor", "middle"),
            )
            .add(
                Text::new(format!("{tick}"))
                    .set("x", LEFT - 8.0)
                    .set("y", round(y(tick)) + 5.0)
                    .set("text-anchor", "end"),
            );
    }
    // The line of agreement, and a scatter to either side of it.
    for (factor, dashes) in [
        (1.0, "none"),
        (answer.scatter.exp(), "4 4"),
        ((-answer.scatter).exp(), "4 4"),
    ] {
        let (from, to) = (low.max(low / factor), high.min(high / factor));
        doc = doc.add(line(
            (x(from), y(from * factor)),
            (x(to), y(to * factor)),
            INK,
            dashes,
        ));
    }
    for row in &answer.rows {
        let (px, py) = (round(x(row.predicted_h)), round(y(row.seen_h)));
        let name = Title::new(format!("line {}", row.line));
        doc = match row.seen {
            Seen::Ready => doc.add(
                Circle::new()
                    .set("cx", px)
                    .set("cy", py)
                    .set("r", 5)
                    .add(name),
            ),
            Seen::NotYet | Seen::Past => {
                let tip = if row.seen == Seen::NotYet { -9.0 } else { 9.0 };
                doc.add(
                    Path::new()
                        .set("d", format!("M{} {py}h12l-6 {tip}z", px - 6.0))
                        .set("fill", "white")
                        .set("stroke", INK)
                        .add(name),
                )
            }
        };
        if answer.largest.contains(&row.line) {
            doc = doc.add(
                Text::new(format!("line {}", row.line))
                    .set("x", px + 9.0)
                    .set("y", py + 5.0),
            );
        }
    }
    let middle = LEFT + PLOT / 2.0;
    doc.add(
        Text::new("reckoned, h; dashed: one scatter")
            .set("x", middle)
            .set("y", SIZE - 22.0)
            .set("text-anchor", "middle"),
    )
    .add(
        Text::new("seen, h (triangle up: takes longer, down: took less)")
            .set(
                "transform",
                format!("translate(18 {})rotate(-90)", TOP + PLOT / 2.0),
            )
            .set("text-anchor", "middle"),
    )
    .to_string()
}

fn round(value: f64) -> f64 {
    (value * 10.0).round() / 10.0
}
