//! Small panels, one above the other: how several numbers move with one condition.

use super::{Axis, Drawing};

/// A panel: a name with its unit, and points.
pub struct Subplot {
    pub name: &'static str,
    /// Condition and number, by rising condition.
    pub points: Vec<(f64, f64)>,
}

const EDGES: [f64; 2] = [96.0, 696.0];
const HEIGHT: f64 = 150.0;
const PLOT: f64 = 94.0;

/// Draws the panels over a common axis of the condition.
pub fn panels(title: &str, axis: &str, panels: &[Subplot]) -> String {
    let mut drawing = Drawing::default();
    let drawn: Vec<&Subplot> = panels.iter().filter(|p| p.points.len() > 1).collect();
    let values = drawn.iter().flat_map(|p| p.points.iter().map(|v| v.0));
    let x = Axis::over(values, EDGES);
    let mut bottom = drawing.head(title, &[]);
    for panel in &drawn {
        drawing.text(panel.name, [EDGES[0], bottom + 38.0], "start");
        bottom += HEIGHT;
        let y = Axis::over(panel.points.iter().map(|p| p.1), [bottom, bottom - PLOT]);
        drawing.side(&y, EDGES);
        let points = panel.points.iter().map(|&(a, b)| (x.at(a), y.at(b)));
        drawing.curve(points.clone(), "none", 2.0);
        for ((px, py), (a, b)) in points.zip(&panel.points) {
            drawing.dot(px, py, &format!("{a}: {b:.3}"));
        }
    }
    for (value, label) in x.ticks() {
        drawing.text(&label, [x.at(value), bottom + 30.0], "middle");
    }
    let middle = 0.5 * (EDGES[0] + EDGES[1]);
    drawing.text(axis, [middle, bottom + 58.0], "middle");
    let names: Vec<&str> = drawn.iter().map(|p| p.name).collect();
    let about = format!("{} against {axis}.", names.join("; "));
    drawing.finish(title, &about, bottom + 74.0)
}
