//! Charts (SVG) in black and white: the day of a plan, a comparison, a log; and the pen they share.

mod day;
mod panels;

pub use day::day;
pub use panels::{Subplot, panels};

use maud::{Markup, PreEscaped, html};

pub const INK: &str = "#1a1a1a";
pub const GRID: &str = "#d4d4d4";
const BLOCK: &str = "#dcdcdc";
pub const WIDTH: f64 = 720.0;
/// Sizes of type: on a phone, half as wide, 20 is still 10.
pub const SIZE: f64 = 20.0;
const HEAD: f64 = 26.0;

/// Two digits after the point are finer than any eye.
fn round(value: f64) -> f64 {
    (value * 100.0).round() / 100.0
}

/// Without characters that XML does not know.
fn plain(text: &str) -> String {
    let bad = |c: char| c.is_control() || matches!(c, '\u{fffe}' | '\u{ffff}');
    text.replace(bad, " ")
}

/// About the width of a text in a sans-serif face; on the wide side, since the face is the reader's.
pub fn width(text: &str, size: f64) -> f64 {
    let em = |c: char| match c {
        'i' | 'j' | 'l' | 't' | 'f' | 'r' | 'I' | ' ' | '.' | ',' | ':' | ';' | '-' => 0.42,
        'm' | 'w' | 'M' | 'W' | '%' | '@' => 1.0,
        'A'..='Z' => 0.77,
        c if u32::from(c) < 0x250 => 0.66,
        // Other scripts may be as wide as high.
        _ => 1.0,
    };
    size * text.chars().map(em).sum::<f64>()
}

/// Shortens a text with an ellipsis until it fits.
fn fitting(text: &str, size: f64, room: f64) -> String {
    let mut short = plain(text);
    while width(&short, size) > room {
        let mut chars: Vec<char> = short.trim_end_matches('…').chars().collect();
        chars.pop();
        short = chars.iter().collect::<String>().trim_end().to_owned() + "…";
    }
    short
}

/// A scale between two edges of the drawing.
#[derive(Debug, Clone, Copy)]
pub struct Axis {
    /// Values at its ends.
    pub from: f64,
    pub to: f64,
    /// Where its ends are drawn.
    pub edges: [f64; 2],
    /// Between two of its round values; nothing on a logarithmic axis.
    pub step: f64,
}

impl Axis {
    /// An axis over some values with round ends; what hardly moves must not look as if it did.
    pub fn over(values: impl Iterator<Item = f64>, edges: [f64; 2]) -> Self {
        let (low, high) = values.fold((f64::MAX, f64::MIN), |(a, b), v| (a.min(v), b.max(v)));
        let (low, high) = if low > high { (0.0, 30.0) } else { (low, high) };
        let room = (0.1 * high.abs()).max(1e-6);
        let (low, high) = if high - low < room {
            (low - room, high + room)
        } else {
            (low, high)
        };
        let step = round_step(high - low);
        Self {
            from: (low / step + 1e-9).floor() * step,
            to: (high / step - 1e-9).ceil() * step,
            edges,
            step,
        }
    }

    pub fn at(&self, value: f64) -> f64 {
        let of = |v: f64| if self.step > 0.0 { v } else { v.ln() };
        let share = (of(value) - of(self.from)) / (of(self.to) - of(self.from));
        self.edges[0] + share.clamp(0.0, 1.0) * (self.edges[1] - self.edges[0])
    }

    /// Its round values, each with its label.
    pub fn ticks(&self) -> impl Iterator<Item = (f64, String)> {
        let Self { from, to, step, .. } = *self;
        // Steps are between 1e-6 and 1e6.
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        let digits = (-(step * 1.001).log10().floor()).max(0.0) as usize;
        let values = std::iter::successors(Some(from), move |v| Some(v + step));
        let values = values.take_while(move |v| *v <= to + 1e-9 * step);
        values.map(move |v| (v, format!("{v:.digits$}")))
    }
}

/// 1, 2 or 5 times a power of ten that divides a span into at most four parts.
fn round_step(span: f64) -> f64 {
    let rough = span / 4.0 * 0.999;
    let power = 10_f64.powf(rough.log10().floor());
    let steps = [1.0, 2.0, 5.0].map(|n| n * power);
    let step = steps.into_iter().find(|s| *s >= rough);
    step.unwrap_or(10.0 * power)
}

/// What is drawn so far.
#[derive(Default)]
pub struct Drawing(String);

impl Drawing {
    pub fn add(&mut self, element: Markup) {
        self.0.push_str(&element.into_string());
    }

    pub fn line(&mut self, ends: [f64; 4], ink: &str, width: f64) {
        let [x1, y1, x2, y2] = ends.map(round);
        self.add(html! {
            line x1=(x1) y1=(y1) x2=(x2) y2=(y2) stroke=(ink) stroke-width=(width) {}
        });
    }

    pub fn curve(&mut self, points: impl Iterator<Item = (f64, f64)>, dashes: &str, width: f64) {
        let points = points.map(|(x, y)| format!("{} {}", round(x), round(y)));
        let points: Vec<String> = points.collect();
        if points.is_empty() {
            return;
        }
        self.add(html! {
            path d={ "M" (points.join(" L")) } fill="none" stroke=(INK) stroke-width=(width)
                stroke-dasharray=(dashes) stroke-linejoin="round" {}
        });
    }

    pub fn block(&mut self, [left, right]: [f64; 2], middle: f64, height: f64) {
        let [x, y, width] = [left, middle - height / 2.0, right - left].map(round);
        self.add(
            html! { rect x=(x) y=(y) width=(width) height=(height) fill=(BLOCK) stroke=(INK) {} },
        );
    }

    pub fn dot(&mut self, x: f64, y: f64, name: &str) {
        self.add(html! { circle cx=(round(x)) cy=(round(y)) r="5.5" { title { (name) } } });
    }

    pub fn text(&mut self, words: &str, [x, y]: [f64; 2], anchor: &str) {
        let words = plain(words);
        self.add(html! {
            text x=(round(x)) y=(round(y)) text-anchor=(anchor) font-size=(SIZE)
                stroke="white" stroke-width="4" paint-order="stroke" { (words) }
        });
    }

    /// The title and lines below it; returns where they end.
    pub fn head(&mut self, title: &str, lines: &[&str]) -> f64 {
        let title = fitting(title, HEAD, WIDTH - 24.0);
        self.add(html! {
            text x="12" y="34" text-anchor="start" font-size=(HEAD) font-weight="bold" { (title) }
        });
        let mut y = 34.0;
        for line in lines {
            y += 28.0;
            self.text(line, [12.0, y], "start");
        }
        y
    }

    /// Values beside a vertical axis, with lines across.
    pub fn side(&mut self, axis: &Axis, [left, right]: [f64; 2]) {
        for (value, label) in axis.ticks() {
            let y = axis.at(value);
            self.line([left, y, right, y], GRID, 1.0);
            self.text(&label, [left - 8.0, y + 7.0], "end");
        }
    }

    /// The whole drawing, with a title and a description for those who hear it.
    pub fn finish(self, title: &str, description: &str, height: f64) -> String {
        let height = round(height);
        let svg = html! {
            svg xmlns="http://www.w3.org/2000/svg" viewBox={ "0 0 " (WIDTH) " " (height) } role="img"
                aria-labelledby="title description" font-family="Helvetica, Arial, sans-serif" fill=(INK)
            {
                title id="title" { (plain(title)) }
                desc id="description" { (plain(description)) }
                rect width=(WIDTH) height=(height) fill="white" {}
                g { (PreEscaped(self.0)) }
            }
        };
        svg.into_string() + "\n"
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_axis_has_round_ends_around_its_values() {
        for (low, high, ends) in [
            (18.0, 26.0, (18.0, 26.0)),
            (18.3, 28.8, (15.0, 30.0)),
            (0.057, 0.142, (0.05, 0.15)),
            // What hardly moves lies flat, in the middle.
            (113.0, 113.4, (100.0, 130.0)),
        ] {
            let axis = Axis::over([low, high].into_iter(), [0.0, 100.0]);
            assert!((axis.from - ends.0).abs() < 1e-9, "{axis:?}");
            assert!((axis.to - ends.1).abs() < 1e-9, "{axis:?}");
            let ticks: Vec<_> = axis.ticks().collect();
            assert!((3..=6).contains(&ticks.len()), "{ticks:?}");
            assert!((axis.at(ticks[ticks.len() - 1].0) - 100.0).abs() < 1e-6);
        }
    }

    #[test]
    fn a_long_title_ends_in_an_ellipsis() {
        assert_eq!(fitting("short", 20.0, 200.0), "short");
        let cut = fitting(&"long ".repeat(40), 20.0, 200.0);
        assert!(cut.ends_with('…') && width(&cut, 20.0) <= 200.0, "{cut}");
    }
}
