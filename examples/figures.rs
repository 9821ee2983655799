//! Draws the figures of the guide from the shipped data: `cargo run --example figures`.
//!
//! `figures.md` holds the same pictures as links, for the documentation is read where no file lies beside it.
use pointage::ferment::Parameters;
use pointage::learn::published::{self, PublishedFit};
use pointage::units::Temperature;
use pointage::{Error, Result, table};

/// From the middle of a normal distribution to its 90 %.
const NORMAL_90: f64 = 1.2816;

/// A pair of axes, and what has been drawn in them.
struct Panel {
    left: f64,
    width: f64,
    height: f64,
    x: Axis,
    y: Axis,
    svg: String,
}

/// From where to where an axis goes, by logarithms or not, and where it has ticks.
struct Axis {
    from: f64,
    to: f64,
    logarithmic: bool,
    ticks: &'static [f64],
}

impl Axis {
    /// A place on the axis, 0 to 1.
    fn share(&self, value: f64) -> f64 {
        let scale = |v: f64| if self.logarithmic { v.ln() } else { v };
        (scale(value) - scale(self.from)) / (scale(self.to) - scale(self.from))
    }
}

const TOP: f64 = 50.0;

impl Panel {
    fn new(
        left: f64,
        [width, height]: [f64; 2],
        x: Axis,
        y: Axis,
        title: &str,
        below: &str,
    ) -> Self {
        let svg = String::new();
        let mut panel = Self {
            left,
            width,
            height,
            x,
            y,
            svg,
        };
        let bottom = TOP + height;
        for &tick in panel.x.ticks {
            let [px, _] = panel.at([tick, panel.y.from]);
            panel.line([px, TOP], [px, bottom], "lightgrey", "");
            panel.text([px, bottom + 18.0], "middle", &tick.to_string());
        }
        for &tick in panel.y.ticks {
            let [_, py] = panel.at([panel.x.from, tick]);
            panel.line([left, py], [left + width, py], "lightgrey", "");
            panel.text([left - 6.0, py + 4.0], "end", &tick.to_string());
        }
        panel.line([left, bottom], [left + width, bottom], "black", "");
        panel.text([left + width / 2.0, bottom + 38.0], "middle", below);
        panel.text([left - 30.0, TOP - 18.0], "start", title);
        panel
    }

    fn at(&self, [x, y]: [f64; 2]) -> [f64; 2] {
        [
            self.left + self.width * self.x.share(x),
            TOP + self.height * (1.0 - self.y.share(y)),
        ]
    }

    fn line(&mut self, [x, y]: [f64; 2], [to_x, to_y]: [f64; 2], colour: &str, dashes: &str) {
        self.svg += &format!(
            "<path d='M{x:.0} {y:.0} L{to_x:.0} {to_y:.0}' stroke='{colour}' stroke-dasharray='{dashes}'/>\n"
        );
    }

    fn text(&mut self, [x, y]: [f64; 2], anchor: &str, text: &str) {
        self.svg += &format!("<text x='{x:.0}' y='{y:.0}' text-anchor='{anchor}'>{text}</text>\n");
    }

    /// A curve through those of its points that lie inside.
    fn curve(&mut self, points: impl Iterator<Item = [f64; 2]>, dashes: &str) {
        let inside = points.filter(|&[_, y]| y >= self.y.from);
        let places: Vec<String> = inside
            .map(|point| self.at(point))
            .map(|[x, y]| format!("{x:.1} {y:.1}"))
            .collect();
        self.svg += &format!(
            "<path d='M{}' fill='none' stroke='black' stroke-width='2' stroke-dasharray='{dashes}'/>\n",
            places.join(" L")
        );
    }

    /// A mark: a circle, square, triangle or diamond of one size.
    fn mark(&mut self, [x, y]: [f64; 2], path: &str, fill: &str) {
        self.svg += &format!(
            "<path d='{path}' transform='translate({x:.0} {y:.0})' fill='{fill}' stroke='black' stroke-width='1.5'/>\n"
        );
    }
}

const CIRCLE: &str = "M-4 0 a4 4 0 1 0 8 0 a4 4 0 1 0 -8 0 z";
const SQUARE: &str = "M-4 -4 h8 v8 h-8 z";
const TRIANGLE: &str = "M0 -5 L5 4 L-5 4 z";
const DIAMOND: &str = "M0 -6 L5 0 L0 6 L-5 0 z";

fn picture([width, height]: [f64; 2], about: &str, inside: &str) -> String {
    format!(
        "<svg xmlns='http://www.w3.org/2000/svg' viewBox='0 0 {width} {height}' width='{width}' height='{height}' \
         font-family='sans-serif' font-size='13' role='img'>\n<title>{about}</title>\n\
         <rect width='{width}' height='{height}' fill='white'/>\n{inside}</svg>\n"
    )
}

/// Both temperature curves over the published points.
fn curves(p: &Parameters) -> Result<String> {
    const SPEEDS: &[f64] = &[0.02, 0.05, 0.1, 0.2, 0.5, 1.0, 2.0];
    let panel = |left, title| {
        let x = Axis {
            from: -5.0,
            to: 50.0,
            logarithmic: false,
            ticks: &[0.0, 10.0, 20.0, 30.0, 40.0],
        };
        let y = Axis {
            from: 0.01,
            to: 2.0,
            logarithmic: true,
            ticks: SPEEDS,
        };
        Panel::new(left, [290.0, 290.0], x, y, title, "°C")
    };
    // By tenths of a degree, for a curve ends steeply.
    let draw = |panel: &mut Panel,
                law: &pointage::rate::RateLaw,
                one: f64,
                kept: std::ops::Range<i32>,
                dashes| {
        let points: Result<Vec<[f64; 2]>> = kept
            .step_by(3)
            .map(|tenth| f64::from(tenth) / 10.0)
            .map(|t| Ok([t, law.relative_rate(Temperature::celsius(t)?)? / one]))
            .collect();
        points.map(|points| panel.curve(points.into_iter(), dashes))
    };
    let mut gas = panel(45.0, "Gas making, 1 at 30 °C");
    let law = p.kinetics.gas();
    let at_30 = law.relative_rate(Temperature::celsius(30.0)?)?;
    draw(&mut gas, law, at_30, -40..51, "4 4")?;
    draw(&mut gas, law, at_30, 50..471, "")?;
    for knot in &table::get("slator1906")?.knots {
        let place = gas.at([knot.temperature_c, knot.relative_rate]);
        gas.mark(place, CIRCLE, "black");
    }
    let mut growth = panel(400.0, "Growth, 1 at its best temperature");
    let law = p.kinetics.growth();
    let best = table::get("zakhartsev2015")?.number("t_opt_c")?;
    let at_best = law.relative_rate(Temperature::celsius(best)?)?;
    draw(&mut growth, law, at_best, 26..51, "4 4")?;
    draw(&mut growth, law, at_best, 50..414, "")?;
    for (id, path, fill) in [
        ("caspeta2015", SQUARE, "white"),
        ("zakhartsev2015", CIRCLE, "black"),
    ] {
        let measured = table::get(id)?;
        let one = measured.number("growth_rate_per_h")?;
        for point in measured
            .points
            .iter()
            .filter(|point| point.growth_rate_per_h > 0.0)
        {
            let place = growth.at([point.temperature_c, point.growth_rate_per_h / one]);
            growth.mark(place, path, fill);
        }
    }
    for (i, (path, fill, text)) in [
        (CIRCLE, "black", "Slator 1906; Zakhartsev 2015, without air"),
        (SQUARE, "white", "Caspeta 2015, with air, for comparison"),
    ]
    .into_iter()
    .enumerate()
    {
        let x = 50.0 + 330.0 * i as f64;
        growth.mark([x, 401.0], path, fill);
        growth.text([x + 12.0, 406.0], "start", text);
    }
    let about =
        "Speed of gas making and of growth against temperature; dashed: beyond the coldest point";
    Ok(picture([710.0, 420.0], about, &(gas.svg + &growth.svg)))
}

/// Each counted time, predicted by a fit without its source, with the range that holds 4 times in 5.
fn times(fit: &PublishedFit) -> String {
    const HOURS: &[f64] = &[1.0, 2.0, 4.0, 8.0, 16.0, 32.0];
    let axis = || Axis {
        from: 0.8,
        to: 64.0,
        logarithmic: true,
        ticks: HOURS,
    };
    let title = "Predicted without its source, h; the line holds 4 times in 5";
    let mut panel = Panel::new(45.0, [420.0, 420.0], axis(), axis(), title, "Published, h");
    let [from, to] = [0.8, 64.0].map(|h| panel.at([h, h]));
    panel.line(from, to, "black", "4 4");
    let kinds = [
        ("poolish", CIRCLE, "black"),
        ("biga", DIAMOND, "white"),
        ("sponge", SQUARE, "white"),
        ("dough", TRIANGLE, "black"),
    ];
    for row in &fit.rows {
        let Some((predicted, sd)) = row.left_out else {
            continue;
        };
        let Some(&(_, path, fill)) = kinds.iter().find(|kind| kind.0 == row.stage) else {
            continue;
        };
        let [low, high] = [-1.0, 1.0]
            .map(|side: f64| panel.at([row.observed, predicted * (side * NORMAL_90 * sd).exp()]));
        panel.line(low, high, "grey", "");
        let place = panel.at([row.observed, predicted]);
        panel.mark(place, path, fill);
    }
    for (i, (kind, path, fill)) in kinds.into_iter().enumerate() {
        let y = 75.0 + 20.0 * i as f64;
        panel.mark([65.0, y], path, fill);
        panel.text([77.0, y + 4.0], "start", kind);
    }
    let about = "Published times against what a fit without their source predicts";
    picture([490.0, 520.0], about, &panel.svg)
}

/// The same as a table, by source.
fn table_of_times(fit: &PublishedFit) -> String {
    let mut rows: Vec<_> = fit
        .rows
        .iter()
        .filter_map(|row| Some((row, row.left_out?)))
        .collect();
    rows.sort_by(|a, b| (&a.0.source, &a.0.id).cmp(&(&b.0.source, &b.0.id)));
    let mut text = String::from(
        "\n| source | row | published, h | predicted without it, h | 80 % range, h | |\n|---|---|---|---|---|---|\n",
    );
    for (row, (predicted, sd)) in rows {
        let reach = NORMAL_90 * sd;
        let [low, high] = [-reach, reach].map(|by| predicted * by.exp());
        let miss = if (row.observed / predicted).ln().abs() <= reach {
            ""
        } else {
            "outside"
        };
        text += &format!(
            "| `{}` | `{}` | {:.1} | {predicted:.1} | {low:.1} to {high:.1} | {miss} |\n",
            row.source, row.id, row.observed
        );
    }
    text + "\n"
}

/// Where the table stands in the chapter on trust.
pub const TABLE: [&str; 2] = [
    "<!-- written by cargo run --example figures -->\n",
    "<!-- to here -->\n",
];

/// A chapter with the table between its marks.
pub fn with_table(chapter: &str, fit: &PublishedFit) -> Option<String> {
    let (before, rest) = chapter.split_once(TABLE[0])?;
    let (_, after) = rest.split_once(TABLE[1])?;
    Some([before, TABLE[0], &table_of_times(fit), TABLE[1], after].concat())
}

/// The files of the figures in `src/guide`, and what stands in them.
pub fn drawn(fit: &PublishedFit) -> Result<[(&'static str, String); 3]> {
    let (curves, times) = (curves(&Parameters::shipped()?)?, times(fit));
    let link = |name: &str, svg: &str| {
        let address = svg
            .replace('<', "%3C")
            .replace('>', "%3E")
            .replace('\n', "");
        format!("[{name}]: <data:image/svg+xml;charset=utf-8,{address}>\n")
    };
    let links = link("curves", &curves) + &link("times", &times) + "\n";
    Ok([
        ("curves.svg", curves),
        ("times.svg", times),
        ("figures.md", links),
    ])
}

fn main() -> Result<()> {
    let path = |name: &str| concat!(env!("CARGO_MANIFEST_DIR"), "/src/guide/").to_owned() + name;
    let failed = |e: std::io::Error| Error::contradiction(e.to_string());
    let fit = published::fit()?;
    for (name, text) in drawn(&fit)? {
        std::fs::write(path(name), text).map_err(failed)?;
    }
    let chapter = std::fs::read_to_string(path("trust.md")).map_err(failed)?;
    match with_table(&chapter, &fit) {
        Some(chapter) => std::fs::write(path("trust.md"), chapter).map_err(failed),
        None => Err(Error::contradiction("trust.md has no place for the table")),
    }
}
