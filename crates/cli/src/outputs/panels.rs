//! Small panels, one above the other: how several numbers move with one condition (SVG).

use svg::Document;
use svg::node::element::{Circle, Description, Group, Line, Path, Text, Title};

/// A panel: a name with its unit, and points.
pub struct Panel {
    pub name: String,
    /// Condition and number, by rising condition.
    pub points: Vec<(f64, f64)>,
}

const WIDTH: f64 = 720.0;
const LEFT: f64 = 96.0;
const RIGHT: f64 = 690.0;
const HEAD: f64 = 64.0;
const HEIGHT: f64 = 170.0;
const PLOT: f64 = 110.0;
const INK: &str = "#1a1a1a";
const GRID: &str = "#cfcfcf";

/// Draws the panels over a common axis of the condition.
pub fn panels(title: &str, axis: &str, panels: &[Panel]) -> String {
    let drawn: Vec<&Panel> = panels.iter().filter(|p| p.points.len() > 1).collect();
    let all = drawn.iter().flat_map(|p| p.points.iter().map(|x| x.0));
    let (from, to) = all.fold((f64::MAX, f64::MIN), |(a, b), x| (a.min(x), b.max(x)));
    let height = HEAD + HEIGHT * drawn.len() as f64 + 40.0;
    let x = |value: f64| LEFT + (value - from) / (to - from).max(1e-9) * (RIGHT - LEFT);
    let mut group = Group::new();
    group = group.add(text(title, 16.0, 34.0, 26.0, "start").set("font-weight", "bold"));
    for (i, panel) in drawn.iter().enumerate() {
        group = group.add(one(panel, HEAD + HEIGHT * i as f64, &x));
    }
    let bottom = height - 14.0;
    for value in [from, 0.5 * (from + to), to]
        .into_iter()
        .filter(|v| v.is_finite())
    {
        group = group.add(text(
            &number(value),
            x(value),
            bottom - 24.0,
            20.0,
            "middle",
        ));
    }
    group = group.add(text(axis, 0.5 * (LEFT + RIGHT), bottom, 20.0, "middle"));
    let names: Vec<&str> = drawn.iter().map(|p| p.name.as_str()).collect();
    Document::new()
        .set("viewBox", (0.0, 0.0, WIDTH, height.round()))
        .set("role", "img")
        .set("font-family", "sans-serif")
        .add(Title::new(title))
        .add(Description::new().add(svg::node::Text::new(format!(
            "{} against {axis}.",
            names.join(", ")
        ))))
        .add(group)
        .to_string()
}

fn one(panel: &Panel, top: f64, x: &dyn Fn(f64) -> f64) -> Group {
    let values = panel.points.iter().map(|p| p.1);
    let (low, high) = values.fold((f64::MAX, f64::MIN), |(a, b), y| (a.min(y), b.max(y)));
    // A number that hardly moves must not look as if it did.
    let room = (0.1 * high.abs()).max(0.08 * (high - low)).max(1e-6);
    let (low, high) = if high - low < room {
        (low - room, high + room)
    } else {
        (low, high)
    };
    let (upper, lower) = (top + 40.0, top + 40.0 + PLOT - 8.0);
    let y = |value: f64| lower - (value - low) / (high - low) * (lower - upper);
    let mut group = Group::new().add(text(&panel.name, LEFT, top + 22.0, 20.0, "start"));
    for value in [low, high] {
        group = group
            .add(
                Line::new()
                    .set("x1", LEFT)
                    .set("x2", RIGHT)
                    .set("y1", y(value))
                    .set("y2", y(value))
                    .set("stroke", GRID),
            )
            .add(text(
                &number(value),
                LEFT - 8.0,
                y(value) + 7.0,
                18.0,
                "end",
            ));
    }
    let mut path = String::new();
    for (i, &(a, b)) in panel.points.iter().enumerate() {
        path += &format!("{}{:.1} {:.1} ", if i == 0 { "M" } else { "L" }, x(a), y(b));
        group = group.add(
            Circle::new()
                .set("cx", x(a))
                .set("cy", y(b))
                .set("r", 4)
                .set("fill", INK),
        );
    }
    group.add(
        Path::new()
            .set("d", path.trim_end())
            .set("fill", "none")
            .set("stroke", INK)
            .set("stroke-width", 2),
    )
}

fn text(words: &str, x: f64, y: f64, size: f64, anchor: &str) -> Text {
    Text::new(words)
        .set("x", (x * 10.0).round() / 10.0)
        .set("y", (y * 10.0).round() / 10.0)
        .set("font-size", size)
        .set("fill", INK)
        .set("text-anchor", anchor)
}

/// Three digits that count.
fn number(value: f64) -> String {
    match value.abs() {
        v if v >= 100.0 => format!("{value:.0}"),
        v if v >= 10.0 => format!("{value:.1}"),
        v if v >= 0.1 => format!("{value:.2}"),
        _ => format!("{value:.3}"),
    }
}
