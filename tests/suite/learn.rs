//! Learning from a log, held against simulated kitchens of which the truth is known.

use super::noise::Noise;
use pointage::Error;
use pointage::ferment::{Kind, Parameters, Rates, Uncertain};
use pointage::learn::Termination;
use pointage::learn::fit::{Diagnostic, Learned, Offers, learn};
use pointage::learn::log::{History, Log, LoggedDough, LoggedPlace, Observation, Seen};
use pointage::table::{self, Table};
use pointage::units::Temperature;

/// Scatter of the simulated times, in log time.
const SCATTER: f64 = 0.10;

fn shipped() -> Parameters {
    Parameters::shipped().unwrap()
}

/// A kitchen whose parameters lie `z` prior standard deviations from the shipped ones: level of every
/// kind, tilt, growth; and of two that are not learnt, growth cap and lag.
fn kitchen(z: [f64; 5]) -> Parameters {
    let mut p = shipped();
    for level in &mut p.levels {
        // No kitchen waits for more than most of the sugar, 1750 mL.
        level.gas = (level.gas * (z[0] * level.log_sd).exp()).min(1500.0);
    }
    let rates = p.kinetics.rates();
    p.kinetics = p
        .kinetics
        .with_tilt(z[1] * p.spread.tilt, p.spread.tilt_about)
        .unwrap()
        .with_rates(Rates {
            growth_rate: rates.growth_rate * (z[2] * p.spread.growth_rate).exp(),
            growth_cap: rates.growth_cap * (z[3] * p.spread.growth_cap).exp(),
            lag27_h: rates.lag27_h * (z[4] * p.spread.lag).exp(),
            ..rates
        })
        .unwrap();
    p
}

fn hours(p: &Parameters, bake: &LoggedDough) -> f64 {
    bake.ready(p).unwrap()
}

/// A dough of the kind as bakers make it, at a dose and temperature drawn from the usual.
fn bake(noise: &mut Noise, kind: Kind) -> LoggedDough {
    let (least, most, coldest, warmest) = match kind {
        Kind::Poolish => (0.1, 1.0, 17.0, 27.0),
        Kind::Biga => (0.3, 1.5, 16.0, 22.0),
        _ => (0.6, 2.5, 20.0, 28.0),
    };
    LoggedDough {
        kind,
        composition: kind.usual().unwrap(),
        fresh_percent: least * f64::powf(most / least, noise.uniform()),
        history: History::default(),
        place: LoggedPlace::Held(Temperature::celsius(noise.between(coldest, warmest)).unwrap()),
        rise: None,
    }
}

fn observe(
    noise: &mut Noise,
    truth: &Parameters,
    line: u64,
    bake: LoggedDough,
    scatter: f64,
) -> Observation {
    Observation {
        line,
        hours: hours(truth, &bake) * (scatter * noise.normal()).exp(),
        bake,
        seen: Seen::Ready,
        rise: None,
        date: String::new(),
    }
}

const HEADER: &str = "kind,flour_g,water_g,salt_g,yeast,yeast_g,temperature_c,hours,seen";

fn read(rows: &str) -> Vec<Observation> {
    let log = Log::from_csv(&format!("{HEADER}\n{rows}"), |name| {
        Err(table::get(name).unwrap_err())
    });
    let log = log.unwrap();
    assert!(log.refused.is_empty(), "{:?}", log.refused);
    log.observations
}

fn learned(rows: &str) -> Learned {
    learn(&read(rows), &shipped(), None).unwrap()
}

/// The temperature that all rows are said to be about.
fn one_temperature(learned: &Learned) -> Option<f64> {
    learned.findings.iter().find_map(|d| match d {
        Diagnostic::OneTemperature { about_c } => Some(*about_c),
        _ => None,
    })
}

fn says(learned: &Learned, found: &Diagnostic) -> bool {
    learned.findings.contains(found)
}

fn estimate<'l>(learned: &'l Learned, name: &str) -> &'l pointage::learn::fit::LearnedParameter {
    learned.estimates.iter().find(|e| e.name == name).unwrap()
}

#[test]
fn one_row_moves_little_and_says_what_it_cannot_tell() {
    let l = learned("poolish,1000,1000,,fresh,3,21,10,ripe\n");
    assert!(says(&l, &Diagnostic::SingleRow));
    assert_eq!(one_temperature(&l), Some(21.0));
    let level = estimate(&l, "poolish_ml_per_100g");
    assert!(level.moved < 0.0 && level.standard_error.unwrap() < level.prior_sd);
    // Nothing is claimed of the other kinds.
    assert!(!l.estimates.iter().any(|e| e.name.starts_with("biga")));
}

#[test]
fn identical_rows_teach_the_level_and_nothing_of_slope() {
    let l = learned(&"poolish,1000,1000,,fresh,3,24,9,ripe\n".repeat(8));
    assert_eq!(one_temperature(&l), Some(24.0));
    let kind = Kind::Poolish;
    assert!(says(&l, &Diagnostic::OneDose { kind }));
    // The slope turns about 24 °C: at 24 °C it has no effect on the speed of gas.
    let tilt = estimate(&l, "gas_tilt_per_10k");
    assert!(
        tilt.learned_share < 0.05 && tilt.moved.abs() < 0.05,
        "{tilt:?}"
    );
    // Rows that agree to the last digit do not make the scatter vanish.
    assert!(l.scatter > 0.05 && l.scatter < 0.10);
    assert!(l.rows.iter().all(|r| r.residual_min.unwrap().abs() < 60.0));
}

#[test]
fn rows_at_one_temperature_leave_the_slope_alone() {
    let l = learned(
        "poolish,1000,1000,,fresh,3,24,9,ripe\npoolish,1000,1000,,fresh,6,24,6.2,ripe\npoolish,1000,1000,,fresh,1.5,24,12.5,ripe\n",
    );
    assert_eq!(one_temperature(&l), Some(24.0));
    let tilt = estimate(&l, "gas_tilt_per_10k");
    assert!(
        tilt.standard_error.is_none() || tilt.learned_share < 0.1,
        "{tilt:?}"
    );
}

#[test]
fn contradictory_rows_are_named() {
    let l = learned(
        "poolish,1000,1000,,fresh,3,21,14,ripe\npoolish,1000,1000,,fresh,3,21,7,ripe\npoolish,1000,1000,,fresh,3,21,13,not-yet\n",
    );
    for (lines, hours) in [([2, 3], [14.0, 7.0]), ([3, 4], [7.0, 13.0])] {
        let kind = Kind::Poolish;
        assert!(says(&l, &Diagnostic::Contradiction { lines, kind, hours }));
    }
    assert!(l.scatter > 0.15, "{}", l.scatter);
    assert_eq!(l.largest.len(), 3);
}

#[test]
fn rows_of_one_side_only_push_and_claim_no_scatter() {
    let l = learned(
        "poolish,1000,1000,,fresh,3,21,15,not-yet\npoolish,1000,1000,,fresh,2,24,14,not-yet\n",
    );
    assert!(says(&l, &Diagnostic::NoRipeRow));
    let level = estimate(&l, "poolish_ml_per_100g");
    assert!(
        level.moved > 0.3,
        "it takes longer than the table says: {level:?}"
    );
    assert!((l.scatter - 0.12).abs() < 1e-9);
    assert!(l.rows.iter().all(|r| r.residual_min.is_none()));
    let l = learned("poolish,1000,1000,,fresh,3,21,9.5,past\n");
    let level = estimate(&l, "poolish_ml_per_100g");
    assert!(level.moved < -0.3, "{level:?} {:?}", l.rows);
    // A row that says nothing new moves nothing.
    let l = learned("poolish,1000,1000,,fresh,3,21,2,not-yet\n");
    let level = estimate(&l, "poolish_ml_per_100g");
    assert!(
        level.moved.abs() < 1e-3 && level.standard_error.is_none(),
        "{level:?}"
    );
    let parameter = "poolish_ml_per_100g";
    assert!(says(&l, &Diagnostic::NotInformed { parameter }));
}

#[test]
fn a_dough_that_the_model_cannot_ripen_is_refused_by_line() {
    let rows = read(
        "poolish,1000,1000,,fresh,3,21,12,ripe\npoolish,1000,1000,,fresh,0.01,-4,300,not-yet\n",
    );
    let l = learn(&rows, &shipped(), None).unwrap();
    assert_eq!(l.refused[0].line, 3);
    assert!(l.refused[0].why.contains("ripeness cannot be met"));
    let error = learn(&rows[1..], &shipped(), None).unwrap_err();
    assert!(error.to_string().starts_with("the log has no usable row"));
    assert!(learn(&[], &shipped(), None).is_err());
}

fn simulated_rows(seed: u64, count: u64) -> (Parameters, Vec<Observation>) {
    let mut noise = Noise::seeded(seed);
    let truth = kitchen([0.8, -0.7, 0.5, 0.0, 0.0]);
    let rows = (0..count)
        .map(|i| {
            let kind = [Kind::Poolish, Kind::Dough][i as usize % 2];
            let b = bake(&mut noise, kind);
            let mut row = observe(&mut noise, &truth, i + 2, b, SCATTER);
            match i % 7 {
                3 => (row.seen, row.hours) = (Seen::NotYet, 0.9 * row.hours),
                5 => (row.seen, row.hours) = (Seen::Past, 1.1 * row.hours),
                _ => {}
            }
            row
        })
        .collect();
    (truth, rows)
}

fn shuffled(rows: &[Observation], noise: &mut Noise) -> Vec<Observation> {
    let mut shuffled = rows.to_vec();
    for i in (1..shuffled.len()).rev() {
        shuffled.swap(i, (noise.uniform() * (i + 1) as f64) as usize);
    }
    shuffled
}

/// What does not count between two answers: a sum of squares is flat to its last bits where it is least, so that
/// its place is known to 1e-7, a millionth of the tenth by which single times scatter.
const FLAT: f64 = 1e-7;
/// An error rests on the slopes at that place, which move with it by their own curvature, some ten times as far.
const FLAT_ERROR: f64 = 1e-6;

/// Two reports say the same.
fn assert_same(a: &Learned, b: &Learned, of: &str) {
    let within = |flat: f64, x: f64, y: f64| (x - y).abs() <= flat * x.abs().max(0.1);
    let near = |x: f64, y: f64| within(FLAT, x, y);
    for (x, y) in a.estimates.iter().zip(&b.estimates) {
        let name = x.name;
        assert!(
            near(x.value, y.value),
            "{of}, {name}: {} {}",
            x.value,
            y.value
        );
        match (x.standard_error, y.standard_error) {
            (Some(x), Some(y)) => {
                assert!(within(FLAT_ERROR, x, y), "{of}, error of {name}: {x} {y}");
            }
            (x, y) => assert_eq!(x, y, "{of}, error of {name}"),
        }
    }
    assert!(
        near(a.scatter, b.scatter),
        "{of}: {} {}",
        a.scatter,
        b.scatter
    );
    let lines = |l: &Learned| l.rows.iter().map(|r| r.line).max();
    assert_eq!(lines(a), lines(b));
}

#[test]
fn a_shuffled_log_gives_the_same_answer() {
    let (_, rows) = simulated_rows(21, 20);
    let other = shuffled(&rows, &mut Noise::seeded(9));
    let a = learn(&rows, &shipped(), None).unwrap();
    let b = learn(&other, &shipped(), None).unwrap();
    assert_same(&a, &b, "shuffled");
    assert_eq!(a.largest, b.largest);
    {
        let offers = Offers {
            kinds: vec![Kind::Poolish, Kind::Dough],
            ..Offers::default()
        };
        let next = |l: &Learned| l.next_bake(&offers).unwrap().unwrap();
        let (a, b) = (next(&a), next(&b));
        assert_eq!(
            (a.kind, a.fresh_percent, a.temperature_c),
            (b.kind, b.fresh_percent, b.temperature_c)
        );
    }
}

/// The same for logs of every sort: few rows or many, mistyped ones, scatter from none to wild.
#[test]
fn any_shuffled_log_gives_the_same_answer() {
    let mut noise = Noise::seeded(33);
    for k in 0..60 {
        let truth = kitchen(std::array::from_fn(|_| noise.normal()));
        let scatter = [0.01, 0.1, 0.3][k % 3];
        let rows: Vec<Observation> = (0..3 + k as u64 / 3)
            .map(|i| {
                let kind = [Kind::Poolish, Kind::Biga, Kind::Dough][(i as usize + k) % 3];
                let b = bake(&mut noise, kind);
                let mut row = observe(&mut noise, &truth, i + 2, b, scatter);
                match (noise.uniform() * 12.0) as u32 {
                    0 => (row.seen, row.hours) = (Seen::NotYet, 0.9 * row.hours),
                    1 => (row.seen, row.hours) = (Seen::Past, 1.1 * row.hours),
                    2 => row.hours *= 3.0,
                    _ => {}
                }
                row
            })
            .collect();
        let other = shuffled(&rows, &mut noise);
        let of = |rows: &[Observation]| learn(rows, &shipped(), None).unwrap();
        let (a, b) = (of(&rows), of(&other));
        assert!(a.is_sound() && b.is_sound(), "log {k}");
        assert_same(&a, &b, &format!("log {k}"));
    }
}

#[test]
fn other_units_change_nothing() {
    let a = read(
        "poolish,1000,1000,0,fresh,3,21,11,ripe\ndough,1000,650,20,instant,5,25,2.5,doubled\n",
    );
    let text = "kind,flour_kg,water_kg,salt_kg,yeast,yeast_kg,temperature_f,minutes,seen\n\
                poolish,1,1,0,fresh,0.003,69.8,660,ripe\ndough,1,0.65,0.02,instant,0.005,77,150,doubled\n";
    let b = Log::from_csv(text, |name| Err(table::get(name).unwrap_err())).unwrap();
    let of = |rows: &[Observation]| learn(rows, &shipped(), None).unwrap();
    assert_same(&of(&a), &of(&b.observations), "other units");
}

/// One row in which 10 was typed as 100 moves the level by less than its error, and is named with what it would be
/// if a digit slipped: hours of a tenth, or a tenth of the yeast.
#[test]
fn a_mistyped_row_is_named_and_does_not_decide() {
    let (_, rows) = simulated_rows(22, 14);
    let level = |rows: &[Observation]| {
        let l = learn(rows, &shipped(), None).unwrap();
        let e = estimate(&l, "poolish_ml_per_100g").clone();
        (e.value.ln(), e.standard_error.unwrap(), l)
    };
    let (clean, error, _) = level(&rows);
    let k = rows.iter().position(|o| o.seen == Seen::Ready).unwrap();
    for (column, factor) in [("hours", 0.1), ("yeast_g", 0.1), ("yeast_g", 10.0)] {
        let mut typo = rows.clone();
        match column {
            "hours" => typo[k].hours /= factor,
            _ => typo[k].bake.fresh_percent /= factor,
        }
        let (level, _, l) = level(&typo);
        assert!((level - clean).abs() < error, "{clean} {level} ({error})");
        assert_eq!(l.largest[0], typo[k].line);
        let named = |d: &Diagnostic| match d {
            // Of the two slips that explain a long time the log may find the other one nearer.
            Diagnostic::Mistyped {
                line,
                fits_with: Some((found, by)),
            } => *line == typo[k].line && *by == factor && (column != "hours" || *found == column),
            _ => false,
        };
        assert!(l.findings.iter().any(named), "{column}: {:?}", l.findings);
        assert!(l.rows[k].weight < 0.01);
    }
}

/// The kitchen that made a log of 40 rows, two of seven of them one-sided, is found within three
/// standard errors, and its levels and slope better than the table had them.
#[test]
fn a_long_log_finds_the_kitchen() {
    let (truth, rows) = simulated_rows(23, 40);
    let l = learn(&rows, &shipped(), None).unwrap();
    for (name, truth) in [
        ("poolish_ml_per_100g", truth.level(Kind::Poolish).gas.ln()),
        ("dough_ml_per_100g", truth.level(Kind::Dough).gas.ln()),
        ("gas_tilt_per_10k", truth.kinetics.tilt()),
        ("growth_rate_per_h", truth.kinetics.rates().growth_rate.ln()),
    ] {
        let e = estimate(&l, name);
        let value = if e.on_log_scale {
            e.value.ln()
        } else {
            e.value
        };
        let error = e.standard_error.unwrap();
        assert!(
            (value - truth).abs() < 3.0 * error,
            "{}: {value} for {truth}",
            e.name
        );
    }
    assert!(l.scatter > 0.07 && l.scatter < 0.14);
    assert_eq!(l.rows.len(), 40);
}

/// The bake named as the next to log shrinks the error of predictions more than the worst offer, and
/// after many bakes at 21 °C it is one elsewhere.
#[test]
fn the_next_bake_is_where_the_log_is_blind() {
    use pointage::learn::fit::Offers;
    let l = learned(&"poolish,1000,1000,,fresh,3,21,12,ripe\n".repeat(10));
    let next = l
        .next_bake(&Offers {
            kinds: vec![Kind::Poolish],
            ..Offers::default()
        })
        .unwrap()
        .unwrap();
    println!("{next:?}");
    assert!((next.temperature_c - 21.0).abs() > 2.0);
    assert!(next.log_sd_then < next.log_sd_now);
    assert!((0.75..=24.0).contains(&next.expected_h));
    // A kind that was never logged is the most to learn from, when it is offered.
    let next = l
        .next_bake(&Offers {
            kinds: vec![Kind::Poolish, Kind::Dough],
            ..Offers::default()
        })
        .unwrap()
        .unwrap();
    assert_eq!(next.kind, Kind::Dough);
}

#[test]
fn a_parameter_file_holds_what_was_learned() {
    let (_, rows) = simulated_rows(25, 12);
    let l = learn(&rows, &shipped(), None).unwrap();
    let read = l.table().unwrap();
    let kitchen = shipped().with_table(&read).unwrap();
    assert_eq!(
        kitchen.level(Kind::Poolish).gas,
        read.number("poolish_ml_per_100g").unwrap()
    );
    assert_eq!(
        kitchen.kinetics.tilt(),
        read.number("gas_tilt_per_10k").unwrap()
    );
    assert_eq!(
        kitchen.kinetics.rates().growth_rate,
        read.number("growth_rate_per_h").unwrap()
    );
    // A kind that was not logged keeps the table's level.
    assert_eq!(kitchen.level(Kind::Biga), shipped().level(Kind::Biga));
    // And the predictions are those of the fit, to the digits printed.
    for row in &rows {
        let (a, b) = (hours(&l.parameters, &row.bake), hours(&kitchen, &row.bake));
        assert!((a / b - 1.0).abs() < 1e-5);
    }
    // It serves as the prior of the next log.
    let again = learn(&rows, &kitchen, None).unwrap();
    assert!(again.stop == Termination::Converged);
}

/// A row that says nothing, learnt from a file again and again, teaches nothing: no error shrinks and no
/// range of the file widens.
#[test]
fn a_row_that_says_nothing_changes_nothing() {
    let (_, rows) = simulated_rows(27, 12);
    let mut table = learn(&rows, &shipped(), None).unwrap().table().unwrap();
    // Hours before any of them could be ripe.
    let nothing =
        read("poolish,1000,1000,0,fresh,3,21,1,not-yet\nbiga,1000,500,0,fresh,3,18,1,not-yet\n");
    let sd = |table: &Table| {
        let value = table.value("poolish_ml_per_100g").unwrap();
        value.log_sd().unwrap()
    };
    let first = sd(&table);
    for _ in 0..3 {
        let own = shipped().with_table(&table).unwrap();
        let learned = learn(&nothing, &own, None).unwrap();
        for e in &learned.estimates {
            // But for the chance that the row itself is mistyped.
            assert!(
                e.standard_error.is_none() && e.learned_share < 1e-4,
                "{e:?}"
            );
            assert!(e.moved.abs() < 1e-3, "{e:?}");
        }
        table = learned.table().unwrap();
        assert!((sd(&table) / first - 1.0).abs() < 1e-4, "{table:?}");
    }
}

/// A dough that was not yet ready after a time in which every one is: more likely mistyped than true, it is named,
/// and moves the numbers by no more than the rows that made the table scatter.
#[test]
fn rows_beyond_any_dough_are_named_and_decide_nothing() {
    for rows in [
        "biga,1000,500,0,fresh,3,21,400,not-yet\n",
        "poolish,1000,1000,0,fresh,3,21,100,not-yet\n",
        "poolish,1000,1000,0,fresh,3,21,1,past\n",
    ] {
        let l = learned(rows);
        let named = |d: &Diagnostic| matches!(d, Diagnostic::Mistyped { line: 2, .. });
        assert!(
            l.is_sound() && l.findings.iter().any(named),
            "{rows}: {l:?}"
        );
        assert!(
            l.estimates.iter().all(|e| e.moved.abs() < 1.0),
            "{rows}: {l:?}"
        );
    }
}

/// Beyond its doses and temperatures a log says so, and the range is wider: by 0.2 for each factor e of the dose
/// and 0.15 for 10 K, in squares of the log time.
#[test]
fn beyond_the_log_a_forecast_is_less_sure() {
    let l = learned(
        "poolish,1000,1000,,fresh,3,20,12,ripe\npoolish,1000,1000,,fresh,5,24,7,ripe\npoolish,1000,1000,,fresh,4,22,9.5,ripe\n",
    );
    let covers = Diagnostic::Covers {
        kind: Kind::Poolish,
        fresh_percent: [0.3, 0.5],
        temperature_c: [20.0, 24.0],
    };
    assert!(says(&l, &covers), "{:?}", l.findings);
    let of = |dose: f64, celsius: f64| {
        let mut bake = read("poolish,1000,1000,,fresh,4,22,9,ripe\n")
            .remove(0)
            .bake;
        bake.fresh_percent = dose;
        bake.place = LoggedPlace::Held(Temperature::celsius(celsius).unwrap());
        l.predict(&bake).unwrap()
    };
    assert!(!of(0.4, 22.0).beyond_log && !of(0.3, 24.0).beyond_log);
    for (dose, celsius) in [(0.1, 22.0), (1.5, 22.0), (0.4, 14.0), (0.4, 30.0)] {
        let p = of(dose, celsius);
        let edge = of(dose.clamp(0.3, 0.5), celsius.clamp(20.0, 24.0));
        let (x, k) = (
            (dose / dose.clamp(0.3, 0.5)).ln(),
            celsius - celsius.clamp(20.0, 24.0),
        );
        let more = (0.2 * x).powi(2) + (0.015 * k).powi(2);
        assert!(
            p.beyond_log && p.log_sd.powi(2) > 0.99 * more,
            "{p:?} {more}"
        );
        assert!(
            p.high_h / p.low_h > edge.high_h / edge.low_h,
            "{p:?} {edge:?}"
        );
    }
}

/// Residuals that go with the day are told with the day: three bakes of a hot kitchen that the thermometer missed.
#[test]
fn an_odd_day_is_told() {
    let log = |slow: f64| {
        let mut rows = simulated_rows(28, 30).1;
        rows.retain(|o| o.bake.kind == Kind::Poolish);
        for (i, row) in rows.iter_mut().enumerate() {
            row.seen = Seen::Ready;
            row.hours = hours(&shipped(), &row.bake) * (0.02 * f64::sin(i as f64)).exp();
            row.date = format!("{} May", i / 3);
        }
        for row in &mut rows[6..9] {
            row.hours *= slow;
        }
        learn(&rows, &shipped(), Some(0.08)).unwrap()
    };
    let days = |l: &Learned| {
        let day = |d: &Diagnostic| match d {
            Diagnostic::OddDay { date, longer } => Some((date.clone(), *longer)),
            _ => None,
        };
        l.findings.iter().filter_map(day).collect::<Vec<_>>()
    };
    assert_eq!(days(&log(1.0)), []);
    let odd = days(&log(1.3));
    assert_eq!(odd.len(), 1, "{odd:?}");
    assert!(
        odd[0].0 == "2 May" && (0.1..0.3).contains(&odd[0].1),
        "{odd:?}"
    );
}

/// Doses or temperatures that no bend within reason follows leave residuals that go with them.
#[test]
fn residuals_that_go_with_dose_or_temperature_are_told() {
    let log = |of: fn(&LoggedDough) -> f64| {
        let mut rows = simulated_rows(29, 40).1;
        rows.retain(|o| o.bake.kind == Kind::Poolish);
        for row in &mut rows {
            row.seen = Seen::Ready;
            row.hours = hours(&shipped(), &row.bake) * of(&row.bake).exp();
        }
        // A scatter as if the rows were sure to a few percent, and a table that is.
        let mut sure = shipped();
        sure.spread.tilt = 0.0;
        (
            sure.spread.growth_rate,
            sure.spread.growth_cap,
            sure.spread.lag,
        ) = (0.0, 0.0, 0.0);
        sure.spread.bend = [1e-3; 3];
        learn(&rows, &sure, Some(0.08)).unwrap().findings
    };
    let by_dose = log(|bake| 0.2 * bake.fresh_percent.ln());
    let found = by_dose.iter().find_map(|d| match d {
        Diagnostic::ResidualsFollowDose {
            longer_per_doubling,
        } => Some(*longer_per_doubling),
        _ => None,
    });
    // 2^0.2 is 1.15, and a row that is doubted leaves the rest a little steeper.
    assert!(
        found.is_some_and(|l| (0.12..0.2).contains(&l)),
        "{by_dose:?}"
    );
    let by_warmth = log(|bake| match bake.place {
        LoggedPlace::Held(t) => -0.03 * (t.as_celsius() - 22.0),
        _ => 0.0,
    });
    let found = by_warmth.iter().find_map(|d| match d {
        Diagnostic::ResidualsFollowTemperature { longer_per_5_c } => Some(*longer_per_5_c),
        _ => None,
    });
    // exp(-0.15) is 0.86.
    assert!(
        found.is_some_and(|l| (-0.18..-0.05).contains(&l)),
        "{by_warmth:?}"
    );
}

/// Correlations of a file: which pair, how strong, and whether all of them can be at once.
#[test]
fn bad_correlations_are_refused() {
    let file = |correlations: &str| {
        let value = |name: &str| format!("[values.{name}]\nvalue = 0.5\nlog_sd = 0.1\n");
        let text = format!(
            "format = 1\nid = \"k\"\ntitle = \"t\"\nobserved = \"o\"\nsource = \"s\"\nlocus = \"l\"\nstanding = \"derived\"\n\
             {}{}{}{correlations}",
            value("growth_rate_per_h"),
            value("growth_cap_g_per_100g"),
            value("lag27_h")
        );
        table::parse(&text).and_then(|t| shipped().with_table(&t))
    };
    let pair = |a: &str, b: &str, value: f64| {
        format!("[[correlations]]\nbetween = [\"{a}\", \"{b}\"]\nvalue = {value:?}\n")
    };
    let (rate, cap, lag) = ("growth_rate_per_h", "growth_cap_g_per_100g", "lag27_h");
    let good = file(&pair(rate, lag, -0.5)).unwrap();
    let known = good
        .correlations
        .between(Uncertain::Lag, Uncertain::GrowthRate);
    assert_eq!(known, -0.5);
    for (bad, says) in [
        (pair(rate, "lag", 0.1), "line 17: unknown value"),
        (pair(rate, rate, 0.1), "given already"),
        (
            pair(rate, lag, 0.1) + &pair(lag, rate, 0.1),
            "given already",
        ),
        (
            pair(rate, lag, 1.0),
            "must lie between -0.999999 and 0.999999",
        ),
        (
            pair(rate, cap, 0.9) + &pair(cap, lag, 0.9) + &pair(rate, lag, -0.9),
            "contradict each other",
        ),
    ] {
        let e = file(&bad).unwrap_err().to_string();
        assert!(e.contains(says), "{e}");
    }
}

#[test]
fn a_bad_parameter_file_is_refused_by_name() {
    let file = |values: &str| {
        let head = "format = 1\nid = \"k\"\ntitle = \"t\"\nobserved = \"o\"\nsource = \"s\"\nlocus = \"l\"\nstanding = \"derived\"\n";
        table::parse(&format!("{head}{values}")).and_then(|t| shipped().with_table(&t))
    };
    let error = |values: &str| -> Error { file(values).unwrap_err() };
    let e = error("[values.polish_ml_per_100g]\nvalue = 200.0\nlog_sd = 0.1\n");
    assert!(
        e.to_string()
            .contains("did you mean \"poolish_ml_per_100g\""),
        "{e}"
    );
    let e = error("[values.gas_tilt_per_10k]\nvalue = 1.5\nse = 0.1\n");
    assert!(e.to_string().contains("must lie between -1 and 1"), "{e}");
    let e = error("[values.gas_tilt_per_10k]\nvalue = 0.1\nlog_sd = 0.1\n");
    assert!(e.to_string().contains("se = "), "{e}");
    // Ranges rest on the errors of these, so words will not do; of the others nothing asks it.
    let judged = |name: &str, value: f64| {
        format!(
            "[values.{name}]\nvalue = {value:?}\njudged = true\nnote = \"by judgement, half as much\"\n"
        )
    };
    for name in ["poolish_ml_per_100g", "growth_rate_per_h", "kept"] {
        let e = error(&judged(name, 1.0)).to_string();
        assert!(
            e.contains(name) && e.contains("uncertainty as a number"),
            "{e}"
        );
    }
    assert!(
        error(&judged("gas_tilt_per_10k", 0.1))
            .to_string()
            .contains("se = ")
    );
    assert_eq!(file(&judged("window_open", 0.8)).unwrap().window.open, 0.8);
    let e = error("[values.poolish_ml_per_100g]\nvalue = 0.0\nlog_sd = 0.1\n");
    assert!(
        e.to_string().contains("[values.poolish_ml_per_100g]"),
        "{e}"
    );
    // A value that is held exactly is not learned.
    let held = file("[values.growth_rate_per_h]\nvalue = 0.4\nexact = true\n").unwrap();
    let (_, rows) = simulated_rows(26, 10);
    let l = learn(&rows, &held, None).unwrap();
    assert!(!l.estimates.iter().any(|e| e.name == "growth_rate_per_h"));
    assert_eq!(l.parameters.kinetics.rates().growth_rate, 0.4);
}

/// A dough in a recorded room that never moves is a dough held at that temperature.
#[test]
fn a_level_record_is_a_held_temperature() {
    use pointage::ambient::Ambient;
    let text = "kind,flour_g,water_g,yeast,yeast_g,temperature_c,room_record,hours,seen\n\
                poolish,1000,1000,fresh,3,21,,12,ripe\npoolish,1000,1000,fresh,3,21,cellar,12,ripe\n\
                poolish,1000,1000,fresh,3,27,cellar,12,ripe\n";
    let log = Log::from_csv(text, |_| {
        Ambient::constant(Temperature::celsius(21.0).unwrap())
    })
    .unwrap();
    let h: Vec<f64> = log
        .observations
        .iter()
        .map(|o| hours(&shipped(), &o.bake))
        .collect();
    println!("{h:?}");
    assert!((h[0] / h[1] - 1.0).abs() < 1e-9);
    assert!(h[2] < h[1], "a dough that starts warm is sooner ripe");
    let l = learn(&log.observations, &shipped(), None).unwrap();
    assert_eq!(l.stop, Termination::Converged);
}

/// Lines are counted as an editor counts them, whatever ends them.
#[test]
fn lines_are_those_of_the_file() {
    let rows = [
        "# our log",
        HEADER,
        "",
        "poolish,1000,1000,,fresh,3,21,12,ripe",
        "# odd",
        "poolish,1000,1000,,fresh,x,21,12,ripe",
    ];
    for end in ["\n", "\r\n"] {
        let log =
            Log::from_csv(&rows.join(end), |name| Err(table::get(name).unwrap_err())).unwrap();
        assert_eq!(log.observations[0].line, 4, "{end:?}");
        assert_eq!(log.refused[0].line, 6, "{end:?}");
    }
}
