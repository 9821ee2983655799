//! A plan as a chart (SVG): ripeness against its window, over the clock.
//!
//! One height means the same for every dough: 1 is the end point of its stage, the band is the window.
//! Nothing hangs on colour: lines differ in their dashes and carry their names. A preferment's night is
//! narrower than the day; the two have a clock axis each.

mod labels;

use super::Told;
use super::steps::{capital, preferment_name};
use labels::{Labels, Rect, rows, width};
use pointage::ferment::Window;
use pointage::plan::{Load, Point, Trace};
use svg::Document;
use svg::node::element::{Circle, Description, Group, Line, Path, Rectangle, Text, Title};

const WIDTH: f64 = 720.0;
const LEFT: f64 = 70.0;
const RIGHT: f64 = 708.0;
/// Between night and day.
const GAP: f64 = 26.0;
/// Room at the right of a frame for the flag of the last load: when it is a number, and for any.
const MARGINS: [f64; 2] = [34.0, 82.0];

const BODY: f64 = 22.0;
const SMALL: f64 = 20.0;
const HEAD: f64 = 28.0;
const ROW: f64 = 26.0;
/// From a flag's line to its text.
const FLAG: f64 = 5.0;

const TOP: f64 = 122.0;
const RIPENESS: f64 = 370.0;
const TEMPERATURE: f64 = 140.0;

const INK: &str = "#1a1a1a";
const BAND: &str = "#e6e1d3";
const GRID: &str = "#cfcfcf";

/// Texts and lines drawn so far.
#[derive(Default)]
struct Drawing {
    lines: Group,
    labels: Labels,
}

/// A stretch of the clock between two edges of the drawing.
#[derive(Debug, Clone, Copy)]
struct Frame {
    left: f64,
    right: f64,
    from: f64,
    to: f64,
}

impl Frame {
    fn x(&self, hour: f64) -> f64 {
        self.left + (hour - self.from) / (self.to - self.from) * (self.right - self.left)
    }

    fn per_hour(&self) -> f64 {
        (self.right - self.left) / (self.to - self.from)
    }
}

/// A vertical scale.
#[derive(Debug, Clone, Copy)]
struct Scale {
    top: f64,
    bottom: f64,
    low: f64,
    high: f64,
}

impl Scale {
    fn y(&self, value: f64) -> f64 {
        let share = (value - self.low) / (self.high - self.low);
        self.bottom - share.clamp(0.0, 1.0) * (self.bottom - self.top)
    }
}

/// A line's dashes; each kind of dough has its own.
#[derive(Debug, Clone, Copy)]
struct Style {
    dashes: &'static str,
    width: f64,
}

const PREFERMENT: Style = Style {
    dashes: "none",
    width: 3.0,
};
const BULK: Style = Style {
    dashes: "12 5",
    width: 3.0,
};
const PROOF: Style = Style {
    dashes: "none",
    width: 2.0,
};
const ROOM: Style = Style {
    dashes: "2 5",
    width: 2.5,
};

/// Draws the chart of a plan that carries its curves.
pub fn chart(told: Told<'_>) -> String {
    let none = Trace::default();
    let trace = told.plan.trace.as_ref().unwrap_or(&none);
    let window = told.window;
    let frames = frames(told, trace);
    let day = frames[frames.len() - 1];
    let mut drawing = Drawing::default();

    let ripeness = ripeness_scale(told, trace);
    let temperature_top = TOP + RIPENESS + 2.0 * ROW + 52.0;
    let temperature = Scale {
        top: temperature_top,
        bottom: temperature_top + TEMPERATURE,
        ..temperature_scale(trace)
    };
    head(&mut drawing, told);
    for frame in &frames {
        drawing.frame(frame, &ripeness, window);
        drawing.hours(told, frame, &ripeness, &temperature);
        drawing.edges(frame, &temperature);
    }
    ripeness_axis(&mut drawing, &ripeness, window);
    drawing.labels.fix(
        "Temperature of dough and place, °C",
        BODY,
        LEFT,
        temperature_top - 12.0,
    );
    temperature_axis(&mut drawing, &temperature, &frames);
    ripeness_curves(&mut drawing, told, trace, &frames, &ripeness, window);
    temperature_curves(&mut drawing, told, trace, &frames, &temperature);
    let hanging = flags(&mut drawing, told, &day, temperature.bottom);
    let height = temperature.bottom + hanging + 16.0;

    let name = &told.bake.name;
    let mut texts = Group::new();
    for label in &drawing.labels.placed {
        let mut text = Text::new(label.text.clone())
            .set("x", round(label.x))
            .set("y", round(label.baseline))
            .set("font-size", label.size);
        if label.size == HEAD {
            text = text.set("font-weight", "bold");
        }
        texts = texts.add(text);
    }
    Document::new()
        .set("viewBox", format!("0 0 {WIDTH} {}", round(height)))
        .set("role", "img")
        .set("aria-labelledby", "title description")
        .set("font-family", "Helvetica, Arial, sans-serif")
        .set("fill", INK)
        .add(Title::new(format!("{}: ripeness against its window", plain(name))).set("id", "title"))
        .add(
            Description::new()
                .set("id", "description")
                .add(svg::node::Text::new(description(told, window))),
        )
        .add(
            Rectangle::new()
                .set("width", WIDTH)
                .set("height", round(height))
                .set("fill", "white"),
        )
        .add(drawing.lines)
        .add(texts)
        .to_string()
        + "\n"
}

/// Two digits after the point are finer than any eye.
fn round(value: f64) -> f64 {
    (value * 100.0).round() / 100.0
}

/// Without characters that XML does not know.
fn plain(text: &str) -> String {
    text.chars()
        .map(|c| {
            if c.is_control() || matches!(c, '\u{fffe}' | '\u{ffff}') {
                ' '
            } else {
                c
            }
        })
        .collect()
}

/// The night of a preferment, if there is one, and the day of the dough.
fn frames(told: Told<'_>, trace: &Trace) -> Vec<Frame> {
    let plan = told.plan;
    let first = |points: &[Point]| points.first().map(|p| p.hour);
    let last = |points: &[Point]| points.last().map(|p| p.hour);
    let dough = plan.stages.iter().find(|s| s.name != "preferment");
    let from = dough.map_or(0.0, |s| s.start_h);
    let to = plan
        .loads
        .last()
        .map_or(from, |l| l.oven_in_h)
        .max(from + 1.0);
    let night = first(&trace.preferment).zip(last(&trace.preferment));
    let Some((start, end)) = night.filter(|(a, b)| b > a) else {
        return vec![Frame::with_margin(LEFT, RIGHT, from, to, &plan.loads)];
    };
    let share = ((end - start) / (end - start + to - from)).clamp(0.28, 0.40);
    let split = LEFT + share * (RIGHT - LEFT - GAP);
    vec![
        Frame {
            left: LEFT,
            right: split,
            from: start,
            to: end,
        },
        Frame::with_margin(split + GAP, RIGHT, from, to, &plan.loads),
    ]
}

impl Frame {
    /// A frame that goes on a little beyond its last hour, so that the flags of the loads have room.
    fn with_margin(left: f64, right: f64, from: f64, to: f64, loads: &[Load]) -> Self {
        let [narrow, wide] = MARGINS.map(|margin| Self {
            left,
            right,
            from,
            to: from + (to - from) * (right - left) / (right - left - margin),
        });
        let ends = |l: &Load| narrow.x(l.oven_in_h) + FLAG + width(&oven_flag(l), SMALL);
        if loads.iter().all(|l| ends(l) <= WIDTH) {
            narrow
        } else {
            wide
        }
    }
}

fn ripeness_scale(told: Told<'_>, trace: &Trace) -> Scale {
    let curves = trace.proofs.iter().chain([&trace.preferment, &trace.bulk]);
    let points = curves.flatten().map(|p| p.ripeness);
    let reached = points.chain(told.plan.loads.iter().map(|l| l.ripeness));
    let ranges = told.plan.loads.iter();
    let ranges = ranges.filter_map(|l| l.ripeness_range.map(|r| r.1));
    // Beyond twice the end point, a bar need not be seen to its end.
    let likely = ranges.fold(1.3, f64::max).min(2.1);
    Scale {
        top: TOP,
        bottom: TOP + RIPENESS,
        low: 0.0,
        high: 1.06 * reached.fold(likely, f64::max),
    }
}

fn temperature_scale(trace: &Trace) -> Scale {
    let curves = trace.proofs.iter().chain([&trace.preferment, &trace.bulk]);
    let both = curves.flatten().flat_map(|p| [p.dough_c, p.room_c]);
    let (low, high) = both.fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), t| {
        (a.min(t), b.max(t))
    });
    let (low, high) = if low > high { (0.0, 30.0) } else { (low, high) };
    // A fifth of the height is room for a name above the warmest.
    let high = high + 0.22 * (high - low).max(10.0);
    Scale {
        top: 0.0,
        bottom: 1.0,
        low: 5.0 * ((low - 1.0) / 5.0).floor(),
        high: 5.0 * (high / 5.0).ceil(),
    }
}

/// Shortens a text with an ellipsis until it fits.
fn fitting(text: &str, size: f64, room: f64) -> String {
    let mut chars: Vec<char> = text.chars().collect();
    if width(text, size) <= room {
        return text.to_owned();
    }
    loop {
        chars.pop();
        let short = chars.iter().collect::<String>().trim_end().to_owned() + "…";
        if chars.is_empty() || width(&short, size) <= room {
            return short;
        }
    }
}

fn head(drawing: &mut Drawing, told: Told<'_>) {
    let name = fitting(&plain(&told.bake.name), HEAD, WIDTH - 24.0);
    drawing.labels.fix(&name, HEAD, 12.0, 36.0);
    let what = "How ripe: 1 is the end point of a stage,";
    drawing.labels.fix(what, BODY, 12.0, 70.0);
    let band = "the grey band its window; bars: 4 times out of 5";
    drawing.labels.fix(band, BODY, 12.0, 97.0);
}

impl Drawing {
    fn add(&mut self, node: impl Into<Box<dyn svg::Node>>) {
        self.lines = std::mem::take(&mut self.lines).add(node);
    }

    fn line(&mut self, (x1, y1): (f64, f64), (x2, y2): (f64, f64), ink: &str, width: f64) {
        self.add(
            Line::new()
                .set("x1", round(x1))
                .set("y1", round(y1))
                .set("x2", round(x2))
                .set("y2", round(y2))
                .set("stroke", ink)
                .set("stroke-width", width),
        );
    }

    fn curve(&mut self, points: &[(f64, f64)], style: Style) {
        let mut d = String::new();
        for (i, (x, y)) in points.iter().enumerate() {
            let letter = if i == 0 { 'M' } else { 'L' };
            d += &format!("{letter}{} {} ", round(*x), round(*y));
        }
        self.add(
            Path::new()
                .set("d", d.trim_end())
                .set("fill", "none")
                .set("stroke", INK)
                .set("stroke-width", style.width)
                .set("stroke-dasharray", style.dashes)
                .set("stroke-linejoin", "round"),
        );
        self.labels.keep_clear(points);
    }

    /// The window and the edges of a frame.
    fn frame(&mut self, frame: &Frame, scale: &Scale, window: Window) {
        let (top, bottom) = (scale.y(window.close), scale.y(window.open));
        self.add(
            Rectangle::new()
                .set("x", round(frame.left))
                .set("y", round(top))
                .set("width", round(frame.right - frame.left))
                .set("height", round(bottom - top))
                .set("fill", BAND),
        );
        self.line((frame.left, top), (frame.right, top), INK, 1.0);
        self.line((frame.left, bottom), (frame.right, bottom), INK, 1.0);
        let end = scale.y(1.0);
        self.line((frame.left, end), (frame.right, end), GRID, 1.0);
        self.edges(frame, scale);
    }

    fn edges(&mut self, frame: &Frame, scale: &Scale) {
        self.line(
            (frame.left, scale.top),
            (frame.left, scale.bottom),
            INK,
            1.0,
        );
        self.line(
            (frame.left, scale.bottom),
            (frame.right, scale.bottom),
            INK,
            1.5,
        );
    }

    /// Hours of the clock below the ripeness, with the day beneath; their grid runs through both scales.
    fn hours(&mut self, told: Told<'_>, frame: &Frame, ripeness: &Scale, temperature: &Scale) {
        let baseline = ripeness.bottom + 28.0;
        let room = width("00:00", SMALL) + 8.0;
        let step = [1, 2, 3, 4, 6, 12, 24]
            .into_iter()
            .find(|&n| f64::from(n) * frame.per_hour() >= room)
            .unwrap_or(24);
        let mut hour = frame.from.ceil();
        while hour <= frame.to {
            let local = told.calendar.at(hour);
            if i32::from(local.hour()) % step == 0 {
                let x = frame.x(hour);
                for scale in [ripeness, temperature] {
                    self.line((x, scale.bottom), (x, scale.bottom + 6.0), INK, 1.5);
                    self.line((x, scale.top), (x, scale.bottom), GRID, 0.7);
                }
                let text = told.calendar.time(hour);
                let wide = width(&text, SMALL);
                let left = (x - wide / 2.0).clamp(0.0, WIDTH - wide);
                if self.labels.free(&text, SMALL, left - 4.0, baseline) {
                    self.labels.fix(&text, SMALL, left, baseline);
                }
            }
            hour += 1.0;
        }
        // A day's name stands at its midnight, the first one's at the edge if that leaves room.
        let first = (frame.from / 24.0).floor() * 24.0 + 24.0;
        let midnights = std::iter::successors(Some(first), |h| Some(h + 24.0));
        let midnights = midnights.take_while(|h| *h < frame.to);
        for hour in midnights.chain([frame.from]) {
            let day = told.calendar.at(hour + 1e-3).strftime("%a %-d %b");
            let day = day.to_string();
            let x = frame.x(hour);
            let right = x + width(&day, SMALL);
            if right <= WIDTH && self.labels.free(&day, SMALL, x, baseline + ROW) {
                self.labels.fix(&day, SMALL, x, baseline + ROW);
            }
        }
    }
}

fn ripeness_axis(drawing: &mut Drawing, scale: &Scale, window: Window) {
    let mut right_aligned = |value: f64, text: String| {
        let x = LEFT - 8.0 - width(&text, SMALL);
        let baseline = scale.y(value) + 0.35 * SMALL;
        if drawing.labels.free(&text, SMALL, x, baseline) {
            drawing.labels.fix(&text, SMALL, x, baseline);
        }
    };
    right_aligned(window.open, format!("{:.2}", window.open));
    right_aligned(window.close, format!("{:.2}", window.close));
    let step = if scale.high > 3.0 { 1.0 } else { 0.5 };
    let steps = std::iter::successors(Some(0.0), |v| Some(v + step));
    for value in steps.take_while(|v| *v <= scale.high) {
        right_aligned(value, format!("{value}"));
    }
}

fn temperature_axis(drawing: &mut Drawing, scale: &Scale, frames: &[Frame]) {
    let span = scale.high - scale.low;
    let step = if span > 25.0 { 10.0 } else { 5.0 };
    let mut value = (scale.low / step).ceil() * step;
    while value <= scale.high {
        let y = scale.y(value);
        for frame in frames {
            drawing.line((frame.left, y), (frame.right, y), GRID, 0.7);
        }
        let text = format!("{value:.0}");
        let x = LEFT - 8.0 - width(&text, SMALL);
        if drawing.labels.free(&text, SMALL, x, y + 0.35 * SMALL) {
            drawing.labels.fix(&text, SMALL, x, y + 0.35 * SMALL);
        }
        value += step;
    }
}

fn points(
    points: &[Point],
    frame: &Frame,
    scale: &Scale,
    value: impl Fn(&Point) -> f64,
) -> Vec<(f64, f64)> {
    let place = |p: &Point| (frame.x(p.hour), scale.y(value(p)));
    points.iter().map(place).collect()
}

fn area(frame: &Frame, scale: &Scale) -> Rect {
    Rect {
        left: frame.left + 2.0,
        top: scale.top - 8.0,
        right: frame.right + 6.0,
        bottom: scale.bottom - 2.0,
    }
}

/// Shares of a curve, from its middle outward.
const MIDDLE: [f64; 11] = [0.6, 0.5, 0.7, 0.4, 0.8, 0.3, 0.9, 0.2, 0.1, 1.0, 0.0];
/// Shares of a curve, from its end backward.
const END: [f64; 11] = [1.0, 0.95, 0.9, 0.8, 0.7, 0.6, 0.5, 0.4, 0.3, 0.2, 0.1];

/// Environment for a name near some shares of a curve: above left and below right of it, above and below.
fn beside(curve: &[(f64, f64)], text: &str, size: f64, shares: [f64; 11]) -> Vec<(f64, f64)> {
    let wide = width(text, size);
    let mut places = Vec::new();
    for share in shares {
        // A share of a list is a place in it.
        #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
        let i = (share * curve.len().saturating_sub(1) as f64) as usize;
        if let Some(&(x, y)) = curve.get(i) {
            places.extend([
                (x - wide - 10.0, y - 6.0),
                (x + 10.0, y + size),
                (x + 10.0, y - 6.0),
                (x - wide - 10.0, y + size),
                (x - wide / 2.0, y - 12.0),
                (x - wide / 2.0, y + size + 8.0),
            ]);
        }
    }
    places
}

fn ripeness_curves(
    drawing: &mut Drawing,
    told: Told<'_>,
    trace: &Trace,
    frames: &[Frame],
    scale: &Scale,
    window: Window,
) {
    let day = &frames[frames.len() - 1];
    let ripeness = |p: &Point| p.ripeness;
    let ahead = points(&trace.preferment, &frames[0], scale, ripeness);
    let bulk = points(&trace.bulk, day, scale, ripeness);
    let proofs: Vec<_> = trace
        .proofs
        .iter()
        .map(|proof| points(proof, day, scale, ripeness))
        .collect();
    drawing.curve(&ahead, PREFERMENT);
    drawing.curve(&bulk, BULK);
    for (proof, load) in proofs.iter().zip(&told.plan.loads) {
        drawing.curve(proof, PROOF);
        entry(drawing, load, day, scale);
    }
    // From the right, so that the longest name, the first, can give way to the left.
    for load in named(&told.plan.loads, day).into_iter().rev() {
        name_load(drawing, load, day, scale);
    }
    let name = preferment_name(told.bake);
    let places = beside(&ahead, name, BODY, MIDDLE);
    drawing
        .labels
        .place(name, BODY, &area(&frames[0], scale), &places);
    let places = beside(&bulk, "bulk", BODY, MIDDLE);
    drawing
        .labels
        .place("bulk", BODY, &area(day, scale), &places);
    // The band's name stands where the curves have not come yet.
    let middle = scale.y(0.5 * (window.open + window.close));
    let places: Vec<_> = frames
        .iter()
        .flat_map(|f| {
            [0.02, 0.1, 0.2, 0.3].map(|share| {
                (
                    f.left + 6.0 + share * (f.right - f.left),
                    middle + 0.35 * BODY,
                )
            })
        })
        .collect();
    let whole = Rect {
        left: LEFT,
        ..area(day, scale)
    };
    drawing.labels.place("window", BODY, &whole, &places);
}

/// A load enters the oven: a dot, and a bar from which to which ripeness it is likely to have.
fn entry(drawing: &mut Drawing, load: &Load, frame: &Frame, scale: &Scale) {
    let x = frame.x(load.oven_in_h);
    if let Some((low, high)) = load.ripeness_range {
        let (bottom, top) = (scale.y(low), scale.y(high));
        drawing.line((x, bottom), (x, top), INK, 1.2);
        for y in [bottom, top] {
            drawing.line((x - 5.0, y), (x + 5.0, y), INK, 1.2);
        }
        drawing.labels.keep_clear(&[(x, bottom), (x, top)]);
    }
    drawing.add(
        Circle::new()
            .set("cx", round(x))
            .set("cy", round(scale.y(load.ripeness)))
            .set("r", 5)
            .set("fill", INK),
    );
}

/// The loads that are named: all, or every second, third ... where they stand too close.
fn named<'a>(loads: &'a [Load], frame: &Frame) -> Vec<&'a Load> {
    let (Some(first), Some(last)) = (loads.first(), loads.last()) else {
        return Vec::new();
    };
    if loads.len() <= 4 {
        return loads.iter().collect();
    }
    let room = width(&last.number.to_string(), BODY) + 10.0;
    let mut named = vec![first];
    let mut x = frame.x(first.oven_in_h);
    for load in &loads[1..] {
        let here = frame.x(load.oven_in_h);
        // The last one is named in any case.
        let before_last = frame.x(last.oven_in_h) - here;
        if here - x >= room && (load.number == last.number || before_last >= room) {
            named.push(load);
            x = here;
        }
    }
    named
}

/// A load's name above its bar, or else below.
fn name_load(drawing: &mut Drawing, load: &Load, frame: &Frame, scale: &Scale) {
    let x = frame.x(load.oven_in_h);
    let (low, high) = load
        .ripeness_range
        .unwrap_or((load.ripeness, load.ripeness));
    let (top, bottom) = (scale.y(high) - 9.0, scale.y(low) + BODY);
    let text = match load.number {
        1 => "load 1".to_owned(),
        n => n.to_string(),
    };
    let wide = width(&text, BODY);
    let places = [
        (x - wide / 2.0, top),
        (x - wide + 8.0, top),
        (x - wide / 2.0, bottom),
        (x - wide / 2.0, top - ROW),
        (x - wide / 2.0, bottom + ROW),
    ];
    let area = area(frame, scale);
    drawing.labels.place(&text, BODY, &area, &places);
}

fn temperature_curves(
    drawing: &mut Drawing,
    told: Told<'_>,
    trace: &Trace,
    frames: &[Frame],
    scale: &Scale,
) {
    let day = &frames[frames.len() - 1];
    let mut doughs = Vec::new();
    let mut places = Vec::new();
    let mut both = |curve: &[Point], frame: &Frame, dough: Style| {
        let dough_c = points(curve, frame, scale, |p| p.dough_c);
        let room_c = points(curve, frame, scale, |p| p.room_c);
        drawing.curve(&room_c, ROOM);
        drawing.curve(&dough_c, dough);
        doughs.push(dough_c);
        places.push(room_c);
    };
    both(&trace.preferment, &frames[0], PREFERMENT);
    both(&trace.bulk, day, BULK);
    if let Some(first) = trace.proofs.first() {
        both(first, day, PROOF);
    }
    // The last load shows how far waiting takes a dough from the first.
    let last = trace.proofs.last().filter(|_| trace.proofs.len() > 1);
    if let Some(last) = last {
        both(last, day, PROOF);
        let name = format!("load {}", told.plan.loads.len());
        let at = beside(&doughs[doughs.len() - 1], &name, SMALL, END);
        drawing.labels.place(&name, SMALL, &area(day, scale), &at);
    }
    for (name, curves) in [("dough", &doughs), ("place", &places)] {
        let of = |i: usize| beside(&curves[i], name, SMALL, MIDDLE);
        // On the day where it has room, else on the night.
        if !drawing.labels.place(name, SMALL, &area(day, scale), &of(1)) {
            drawing
                .labels
                .place(name, SMALL, &area(&frames[0], scale), &of(0));
        }
    }
}

/// What stands at a load's hour on the clock.
fn oven_flag(load: &Load) -> String {
    match load.number {
        1 => "oven 1".to_owned(),
        n => n.to_string(),
    }
}

/// Flags on the clock for the steps of the first load and each load's way into the oven. Returns how far
/// they hang down.
fn flags(drawing: &mut Drawing, told: Told<'_>, frame: &Frame, axis: f64) -> f64 {
    const NAMED: [&str; 7] = [
        "autolyse", "mix", "cold", "warm up", "divide", "shape", "proof",
    ];
    let stages = told.plan.stages.iter();
    let stages = stages.filter(|s| NAMED.contains(&s.name));
    let loads = &told.plan.loads;
    for load in loads {
        let x = frame.x(load.oven_in_h);
        drawing.line((x, axis), (x, axis + 10.0), INK, 1.0);
    }
    let loads = named(loads, frame).into_iter();
    let loads = loads.map(|l| (l.oven_in_h, oven_flag(l)));
    let mut flags: Vec<(f64, String)> = stages
        .map(|s| (s.start_h, s.name.to_owned()))
        .chain(loads)
        .collect();
    flags.sort_by(|a, b| a.0.total_cmp(&b.0));
    let extents: Vec<(f64, f64)> = flags
        .iter()
        .map(|(hour, text)| (frame.x(*hour), width(text, SMALL) + FLAG + 4.0))
        .collect();
    let rows = rows(&extents);
    let mut lowest = 0.0_f64;
    for (((_, text), (x, _)), row) in flags.iter().zip(&extents).zip(rows) {
        let baseline = axis + 32.0 + ROW * row as f64;
        drawing.line((*x, axis), (*x, baseline), INK, 1.0);
        drawing.labels.fix(text, SMALL, x + FLAG, baseline);
        lowest = lowest.max(baseline - axis);
    }
    lowest
}

/// The chart in words, for those who hear it.
fn description(told: Told<'_>, window: Window) -> String {
    let Told {
        bake,
        plan,
        calendar,
        ..
    } = told;
    let mut sentences = vec![format!(
        "The window is from {:.2} to {:.2} of the end point.",
        window.open, window.close
    )];
    if let Some(p) = &plan.preferment {
        sentences.push(format!(
            "{} is mixed at {} and used at {}.",
            capital(&format!("the {}", preferment_name(bake))),
            calendar.time(p.mixed_h),
            calendar.time(p.used_h)
        ));
    }
    sentences.push(format!(
        "The bulk comes to {:.2} of doubled.",
        plan.bulk_share
    ));
    for load in &plan.loads {
        let range = load.ripeness_range.map_or(String::new(), |(low, high)| {
            format!(", 4 times out of 5 between {low:.2} and {high:.2}")
        });
        sentences.push(format!(
            "Load {} enters the oven at {} with {:.2}{range}.",
            load.number,
            calendar.time(load.oven_in_h),
            load.ripeness
        ));
    }
    sentences.join(" ")
}
