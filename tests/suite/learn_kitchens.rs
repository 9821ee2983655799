//! Learning held against simulated kitchens, of the model's own family and of others.

use super::noise::Noise;
use pointage::ambient::TemperatureProfile;
use pointage::ferment::{EndPoint, Inoculum, Kind, Parameters, Rates, Stage};
use pointage::learn::fit::{Diagnostic, learn};
use pointage::learn::log::{History, LoggedDough, LoggedPlace, Observation, Seen};
use pointage::table;
use pointage::units::Temperature;

fn shipped() -> Parameters {
    Parameters::shipped().unwrap()
}

/// Where the times of a kitchen come from.
#[derive(Clone, Copy, Debug, PartialEq)]
enum World {
    /// The model; level, tilt and growth drawn from their priors.
    Own,
    /// The same, growth cap and lag too.
    OwnAll,
    /// `dose x time^b = constant`, b 1 to 1.7, and a Q10 of 1.8 to 3, about the time of the model in the middle.
    TradeRule,
    /// The model with a yeast that does not grow.
    NoGrowth,
}

/// The hours of a dough in one kitchen.
type Kitchen = Box<dyn Fn(&LoggedDough) -> f64>;

fn celsius(bake: &LoggedDough) -> f64 {
    match bake.place {
        LoggedPlace::Held(t) => t.as_celsius(),
        _ => unreachable!(),
    }
}

fn of_prior(noise: &mut Noise, rest: f64) -> Parameters {
    let mut p = shipped();
    // A kitchen whose biga wants more gas than its sugar gives (1750 mL) has no log: it is drawn again.
    while {
        let level = noise.normal();
        for (own, usual) in p.levels.iter_mut().zip(shipped().levels) {
            own.gas = usual.gas * (level * usual.log_sd).exp();
        }
        p.levels.iter().any(|own| own.gas > 1700.0)
    } {}
    let (rates, spread) = (p.kinetics.rates(), p.spread);
    let rates = Rates {
        growth_rate: rates.growth_rate * (noise.normal() * spread.growth_rate).exp(),
        growth_cap: rates.growth_cap * (rest * noise.normal() * spread.growth_cap).exp(),
        lag27_h: rates.lag27_h * (rest * noise.normal() * spread.lag).exp(),
        ..rates
    };
    let tilt = noise.normal() * spread.tilt;
    let tilted = p.kinetics.with_tilt(tilt, spread.tilt_about).unwrap();
    p.kinetics = tilted.with_rates(rates).unwrap();
    p
}

fn kitchen(world: World, kind: Kind, noise: &mut Noise) -> Kitchen {
    let mut p = of_prior(noise, f64::from(u8::from(world == World::OwnAll)));
    match world {
        World::Own | World::OwnAll => {}
        World::NoGrowth => {
            let rates = Rates {
                growth_rate: 0.0,
                ..p.kinetics.rates()
            };
            p.kinetics = p.kinetics.with_rates(rates).unwrap();
        }
        World::TradeRule => {
            let (b, q10) = (noise.between(1.0, 1.7), noise.between(1.8, 3.0));
            let (least, most, coldest, warmest) = range_of(kind);
            let (dose, at) = (f64::sqrt(least * most), 0.5 * (coldest + warmest));
            let middle = dough(kind, dose, at).ready(&p).unwrap();
            return Box::new(move |bake| {
                let of_dose = (bake.fresh_percent / dose).powf(-1.0 / b);
                middle * of_dose * f64::powf(q10, (at - celsius(bake)) / 10.0)
            });
        }
    }
    Box::new(move |bake| bake.ready(&p).unwrap())
}

/// Doses and temperatures that bakers give a kind.
fn range_of(kind: Kind) -> (f64, f64, f64, f64) {
    match kind {
        Kind::Poolish => (0.1, 1.0, 17.0, 27.0),
        Kind::Biga => (0.3, 1.5, 16.0, 22.0),
        _ => (0.6, 2.5, 20.0, 28.0),
    }
}

fn dough(kind: Kind, fresh_percent: f64, celsius: f64) -> LoggedDough {
    LoggedDough {
        kind,
        composition: kind.usual().unwrap(),
        fresh_percent,
        history: History::default(),
        place: LoggedPlace::Held(Temperature::celsius(celsius).unwrap()),
        rise: None,
    }
}

fn any_dough(noise: &mut Noise, kind: Kind) -> LoggedDough {
    let (least, most, coldest, warmest) = range_of(kind);
    let dose = least * f64::powf(most / least, noise.uniform());
    dough(kind, dose, noise.between(coldest, warmest))
}

fn observe(noise: &mut Noise, truth: &Kitchen, line: u64, kind: Kind, scatter: f64) -> Observation {
    let bake = any_dough(noise, kind);
    let hours = truth(&bake) * (scatter * noise.normal()).exp();
    Observation {
        line,
        bake,
        hours: hours.min(504.0),
        seen: Seen::Ready,
        rise: None,
        date: String::new(),
    }
}

/// What is wrong with one row of a log.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Slip {
    None,
    Yeast,
    Hours,
}

/// What many logs of so many rows come to.
#[derive(Default)]
struct Outcome {
    errors: Vec<f64>,
    inside: u32,
    /// Logs in which the mistyped row was named, and rows that were named without being it.
    named: u32,
    wrongly: u32,
}

impl Outcome {
    fn median_percent(&mut self) -> f64 {
        self.errors.sort_by(f64::total_cmp);
        100.0 * self.errors[self.errors.len() / 2]
    }

    fn share(&self, count: u32) -> f64 {
        100.0 * f64::from(count) / self.errors.len() as f64
    }
}

fn simulate(
    world: World,
    kinds: &[Kind],
    rows: usize,
    scatter: f64,
    slip: Slip,
    logs: usize,
) -> Outcome {
    let mut noise = Noise::seeded(1000 + rows as u64);
    let prior = shipped();
    let mut outcome = Outcome::default();
    for k in 0..logs {
        let kind = kinds[k % kinds.len()];
        let truth = kitchen(world, kind, &mut noise);
        let mut log: Vec<Observation> = Vec::new();
        for line in 2..2 + rows as u64 {
            log.push(observe(&mut noise, &truth, line, kind, scatter));
        }
        let wrong = (noise.uniform() * rows as f64) as usize;
        match slip {
            Slip::None => {}
            Slip::Yeast => log[wrong].bake.fresh_percent *= 10.0,
            Slip::Hours => log[wrong].hours = (10.0 * log[wrong].hours).min(504.0),
        }
        let learned = learn(&log, &prior, None).unwrap();
        for finding in &learned.findings {
            if let Diagnostic::Mistyped { line, .. } = finding {
                if *line == log[wrong].line && slip != Slip::None {
                    outcome.named += 1;
                } else {
                    outcome.wrongly += 1;
                }
            }
        }
        let unseen = any_dough(&mut noise, kind);
        let predicted = learned.predict(&unseen).unwrap();
        let hours = truth(&unseen);
        outcome
            .errors
            .push((predicted.hours / hours).ln().abs().exp_m1());
        let seen = hours * (scatter * noise.normal()).exp();
        outcome.inside += u32::from((predicted.low_h..=predicted.high_h).contains(&seen));
    }
    outcome
}

const ALL: [Kind; 3] = [Kind::Poolish, Kind::Biga, Kind::Dough];

/// Logs of each world in the suite; six hundred are asked of each by [`six_hundred_logs_of_each_world`].
const LOGS: usize = 150;

/// Holds a world to its bars after 3, 10 and 30 rows: the median error of a time at an unseen dose and temperature,
/// in percent, and that the 80 % range holds 70 to 90 % of new observations, 65 or more after three rows, where as yet
/// nothing bounds it above. Bars are those of an endless run. The median of so many logs is known to 1.17/sqrt(logs) of
/// itself, a share of 80 % to sqrt(0.16/logs): two of these are allowed.
fn hold(name: &str, world: World, scatter: f64, slip: Slip, bars: [f64; 3], logs: usize) {
    let mut missed = Vec::new();
    let root = (logs as f64).sqrt();
    let (wider, off) = (1.0 + 2.0 * 1.17 / root, 2.0 * 40.0 / root);
    for (rows, bar) in [3, 10, 30].into_iter().zip(bars) {
        let mut o = simulate(world, &ALL, rows, scatter, slip, logs);
        let (error, inside) = (o.median_percent(), o.share(o.inside));
        let (named, wrongly) = (o.share(o.named), o.share(o.wrongly));
        println!(
            "{name}, {rows:>2} rows: median error {error:.1} % (bar {bar:.1}), the 80 % range holds {inside:.0} %; mistyped named in {named:.0} %, another row in {wrongly:.1} %"
        );
        let (least, most) = if rows == 3 {
            (65.0, 100.0)
        } else {
            (70.0, 90.0)
        };
        let held = (least - off..=most + off).contains(&inside);
        let names = match (slip, rows) {
            (Slip::None, _) => true,
            (_, 3) => named >= 80.0 - off && wrongly <= 2.0 + 0.5 * off,
            _ => named >= 95.0 - off && wrongly <= 2.0 + 0.5 * off,
        };
        if error > bar * wider || !held || !names {
            missed.push(rows);
        }
    }
    assert!(missed.is_empty(), "{name}: {missed:?}");
}

fn own_family(logs: usize) {
    let bars = [5.8, 4.0, 2.2];
    hold("own family", World::Own, 0.1, Slip::None, bars, logs);
    // Five numbers drawn where the bars were set with three: a tenth more.
    let bars = bars.map(|bar| 1.1 * bar);
    let name = "own family, cap and lag drawn too";
    hold(name, World::OwnAll, 0.1, Slip::None, bars, logs);
}

fn other_laws(logs: usize) {
    let bars = [11.0, 5.5, 3.5];
    hold("trade rule", World::TradeRule, 0.1, Slip::None, bars, logs);
    let bars = [20.0, 6.0, 3.5];
    hold("no growth", World::NoGrowth, 0.1, Slip::None, bars, logs);
}

fn wide_scatter(logs: usize) {
    let bars = [10.0, 6.5, 4.5];
    hold("25 % scatter", World::Own, 0.25, Slip::None, bars, logs);
}

fn mistyped(logs: usize) {
    let bars = [9.0, 4.0, 2.5];
    hold("one weight x10", World::Own, 0.1, Slip::Yeast, bars, logs);
    hold("one time x10", World::Own, 0.1, Slip::Hours, bars, logs);
}

#[test]
fn kitchens_of_the_own_family_are_learned() {
    own_family(LOGS);
}

#[test]
fn kitchens_of_other_laws_are_learned() {
    other_laws(LOGS);
}

#[test]
fn kitchens_that_scatter_are_learned() {
    wide_scatter(LOGS);
}

#[test]
fn a_mistyped_row_is_named_and_does_not_count() {
    mistyped(LOGS);
}

/// `cargo test -p pointage --test suite six_hundred -- --ignored --nocapture`, a minute or two.
#[test]
#[ignore = "takes a minute or two"]
fn six_hundred_logs_of_each_world() {
    own_family(600);
    other_laws(600);
    wide_scatter(600);
    mistyped(600);
}

/// Median error after ten rows in kitchens of the own family, as a share: what README and DEVELOPERS.md say.
pub fn median_error_of_ten_rows() -> f64 {
    0.01 * simulate(World::Own, &ALL, 10, 0.1, Slip::None, 600).median_percent()
}

/// The range of a dough that stood at one temperature.
fn range(p: &Parameters, bake: &LoggedDough) -> (f64, f64) {
    let LoggedPlace::Held(at) = bake.place else {
        panic!("{bake:?}")
    };
    let yeast = Inoculum {
        added: bake.fresh_percent,
        carried: 0.0,
    };
    let stage = Stage {
        composition: bake.composition,
        yeast,
        end: EndPoint::Ripe(bake.kind),
        own_heat: None,
    };
    let (course, hours) = (TemperatureProfile::held(at), bake.ready(p).unwrap());
    let sure = stage
        .uncertainty(p, bake.kind, &course, hours, None)
        .unwrap();
    sure.of_hours(hours).unwrap()
}

/// Ranges that `ready --params` draws from a file of learnt numbers hold what they promise, growth cap and lag drawn
/// too: the same bars.
#[test]
fn ranges_drawn_from_a_file_hold_what_they_promise() {
    let mut missed = Vec::new();
    for rows in [3, 10, 30] {
        let mut noise = Noise::seeded(300 + rows);
        let mut inside = 0.0;
        for k in 0..LOGS {
            let kind = ALL[k % 3];
            let truth = kitchen(World::OwnAll, kind, &mut noise);
            let log: Vec<Observation> = (2..2 + rows)
                .map(|line| observe(&mut noise, &truth, line, kind, 0.1))
                .collect();
            let learned = learn(&log, &shipped(), None).unwrap();
            let own = shipped().with_table(&learned.table().unwrap()).unwrap();
            let new = observe(&mut noise, &truth, 0, kind, 0.1);
            let (low, high) = range(&own, &new.bake);
            inside += f64::from(u8::from((low..=high).contains(&new.hours)));
        }
        let (coverage, off) = (inside / LOGS as f64, 2.0 * 0.4 / (LOGS as f64).sqrt());
        println!(
            "from a file, {rows:>2} rows: 80 % range holds {:.1} %",
            100.0 * coverage
        );
        let least = if rows == 3 { 0.65 } else { 0.7 };
        if !(least - off..=0.9 + off).contains(&coverage) {
            missed.push((rows, coverage));
        }
    }
    assert!(missed.is_empty(), "{missed:?}");
}

/// Four bakes that came out alike, as any published recipe has them, lie inside the range that is printed for that bake.
#[test]
fn four_identical_bakes_lie_inside_their_range() {
    let mut missed = Vec::new();
    for (name, kind) in [
        ("poolish", Kind::Poolish),
        ("biga", Kind::Biga),
        ("sponge", Kind::Sponge),
        ("straight-dough", Kind::Dough),
    ] {
        let dosed = table::get(name)
            .unwrap()
            .rows
            .iter()
            .filter(|r| r.dose_percent.is_some());
        for row in dosed {
            let usual = kind.usual().unwrap();
            let mut bake = dough(
                kind,
                row.dose_percent.unwrap().middle(),
                row.temperature_c.middle(),
            );
            bake.composition.hydration_percent =
                row.hydration_percent.unwrap_or(usual.hydration_percent);
            bake.composition.salt_percent = row.salt_percent.unwrap_or(usual.salt_percent);
            let hours = row.hours.middle();
            let log: Vec<Observation> = (2..6)
                .map(|line| Observation {
                    line,
                    bake: bake.clone(),
                    hours,
                    seen: Seen::Ready,
                    rise: None,
                    date: String::new(),
                })
                .collect();
            let learned = learn(&log, &shipped(), None).unwrap();
            let p = learned.predict(&bake).unwrap();
            println!(
                "{name} {}: {hours:.1} h four times, {:.1} to {:.1} h printed; before {:.1} h",
                row.id,
                p.low_h,
                p.high_h,
                bake.ready(&shipped()).unwrap()
            );
            if !learned.is_sound() || !(p.low_h..=p.high_h).contains(&hours) {
                missed.push(row.id.clone());
            }
        }
    }
    assert!(missed.is_empty(), "{missed:?}");
}
