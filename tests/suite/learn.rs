//! Learning from a log, held against simulated kitchens of which the truth is known.

use super::noise::Noise;
use pointage::Error;
use pointage::ferment::{
    Composition, Correlations, EndPoint, Kind, Parameters, Perturbations, Rates, Uncertain,
};
use pointage::learn::Termination;
use pointage::learn::fit::{Diagnostic, Learned, LearnedInterval, Offers, Options, learn};
use pointage::learn::log::{Log, LoggedDough, LoggedPlace, Observation, Seen};
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
        place: LoggedPlace::Held(Temperature::celsius(noise.between(coldest, warmest)).unwrap()),
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
    }
}

fn median(mut v: Vec<f64>) -> f64 {
    v.sort_by(f64::total_cmp);
    v[v.len() / 2]
}

/// What a thousand simulated logs of so many rows come to.
pub struct Outcome {
    pub median_error: f64,
    coverage: f64,
}

fn simulate(seed: u64, rows: u64, draw: impl Fn(&mut Noise) -> [f64; 3]) -> Outcome {
    let mut noise = Noise::seeded(seed);
    let prior = shipped();
    let (mut errors, mut inside) = (Vec::new(), 0);
    for k in 0..1000 {
        let kind = [Kind::Poolish, Kind::Biga, Kind::Dough][k % 3];
        let [level, tilt, growth] = draw(&mut noise);
        let truth = kitchen([level, tilt, growth, 0.0, 0.0]);
        let log: Vec<Observation> = (0..rows)
            .map(|i| {
                let b = bake(&mut noise, kind);
                observe(&mut noise, &truth, i + 2, b, SCATTER)
            })
            .collect();
        let learned = learn(&log, &prior, Options::default()).unwrap();
        assert!((learned.stop == Termination::Converged));
        let unseen = bake(&mut noise, kind);
        let predicted = learned.predict(&unseen).unwrap();
        let true_hours = hours(&truth, &unseen);
        errors.push((predicted.hours / true_hours).ln().abs());
        let seen = true_hours * (SCATTER * noise.normal()).exp();
        inside += u32::from((predicted.low_h..=predicted.high_h).contains(&seen));
    }
    Outcome {
        median_error: median(errors),
        coverage: f64::from(inside) / 1000.0,
    }
}

/// Logs of so many rows from kitchens drawn from the prior.
pub fn kitchens_from_the_prior(rows: u64) -> Outcome {
    simulate(100 + rows, rows, |noise| {
        std::array::from_fn(|_| noise.normal())
    })
}

fn sign(noise: &mut Noise) -> f64 {
    if noise.uniform() < 0.5 { -1.0 } else { 1.0 }
}

/// Truths drawn from the prior, and every parameter one and two prior standard deviations away, to
/// either side; a thousand logs each. Median error of the predicted time at an unseen dose and
/// temperature, and how many new observations, scatter included, the 80 % range holds.
fn check_kitchens(name: &str, draw: impl Fn(&mut Noise) -> f64) {
    let mut missed = Vec::new();
    for (rows, most) in [(3, 0.15), (10, 0.08), (30, 0.05)] {
        let outcome = simulate(100 + rows, rows, |noise| {
            std::array::from_fn(|_| draw(noise))
        });
        println!(
            "truth {name}, {rows:>2} rows: median error {:.1} %, 80 % range holds {:.1} %",
            100.0 * outcome.median_error,
            100.0 * outcome.coverage
        );
        if outcome.median_error > most || !(0.75..=0.85).contains(&outcome.coverage) {
            missed.push(rows);
        }
    }
    assert!(missed.is_empty(), "{name}: {missed:?}");
}

#[test]
fn kitchens_drawn_from_the_prior_are_learned() {
    check_kitchens("from the prior", |noise| noise.normal());
}

#[test]
fn kitchens_one_deviation_away_are_learned() {
    check_kitchens("1 deviation away", sign);
}

#[test]
fn kitchens_two_deviations_away_are_learned() {
    check_kitchens("2 deviations away", |noise| 2.0 * sign(noise));
}

/// Ranges that `ready --params` draws from a file of learnt numbers, for truths from the prior, cap and lag
/// too. New observations, scatter included, lie inside four times of five; the bounds are four
/// standard errors of 1000 draws (1.3 % each) to either side. Without the correlations the same ranges
/// would be wider.
#[test]
fn ranges_drawn_from_a_file_hold_what_they_promise() {
    let mut missed = Vec::new();
    for rows in [3, 10, 30] {
        let mut noise = Noise::seeded(300 + rows);
        let (mut inside, mut wider) = (0, Vec::new());
        for k in 0..1000 {
            let kind = [Kind::Poolish, Kind::Biga, Kind::Dough][k % 3];
            let truth = kitchen(std::array::from_fn(|_| noise.normal()));
            let log: Vec<Observation> = (0..rows)
                .map(|i| {
                    let b = bake(&mut noise, kind);
                    observe(&mut noise, &truth, i + 2, b, SCATTER)
                })
                .collect();
            let learned = learn(&log, &shipped(), Options::default()).unwrap();
            let own = shipped().with_table(&learned.table().unwrap()).unwrap();
            let unseen = bake(&mut noise, kind);
            let of = |p: &Parameters| {
                Perturbations::new(p.clone())
                    .range(EndPoint::Ripe(unseen.kind), |p| unseen.ready(p))
                    .unwrap()
                    .unwrap()
            };
            let (low, high) = of(&own);
            let seen = hours(&truth, &unseen) * (SCATTER * noise.normal()).exp();
            inside += u32::from((low..=high).contains(&seen));
            let mut alone = own.clone();
            alone.correlations = Correlations::default();
            let (wide_low, wide_high) = of(&alone);
            wider.push((wide_high / wide_low).ln() / (high / low).ln());
        }
        let coverage = f64::from(inside) / 1000.0;
        let wider = median(wider);
        println!(
            "from a file, {rows:>2} rows: 80 % range holds {:.1} %; without correlations {wider:.2} times as wide",
            100.0 * coverage
        );
        if !(0.75..=0.85).contains(&coverage) || wider < 1.0 {
            missed.push((rows, coverage, wider));
        }
    }
    assert!(missed.is_empty(), "{missed:?}");
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
    learn(&read(rows), &shipped(), Options::default()).unwrap()
}

/// The temperature that all rows are said to be about.
fn one_temperature(learned: &Learned) -> Option<f64> {
    learned.cannot_tell.iter().find_map(|d| match d {
        Diagnostic::OneTemperature { about_c } => Some(*about_c),
        _ => None,
    })
}

fn says(learned: &Learned, found: &Diagnostic) -> bool {
    learned.cannot_tell.contains(found)
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
    assert!(tilt.told < 0.05 && tilt.moved.abs() < 0.05, "{tilt:?}");
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
    assert!(tilt.standard_error.is_none() || tilt.told < 0.1, "{tilt:?}");
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
    assert!((l.scatter - 0.10).abs() < 1e-9);
    assert!(l.rows.iter().all(|r| r.residual_min.is_none()));
    let l = learned("poolish,1000,1000,,fresh,3,21,8,past\n");
    assert!(estimate(&l, "poolish_ml_per_100g").moved < -0.3);
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
    let l = learn(&rows, &shipped(), Options::default()).unwrap();
    assert_eq!(l.refused[0].line, 3);
    assert!(l.refused[0].why.contains("ripeness cannot be met"));
    let error = learn(&rows[1..], &shipped(), Options::default()).unwrap_err();
    assert!(error.to_string().starts_with("the log has no usable row"));
    assert!(learn(&[], &shipped(), Options::default()).is_err());
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

/// Two reports say the same.
fn assert_same(a: &Learned, b: &Learned, of: &str) {
    let near = |x: f64, y: f64| (x - y).abs() <= FLAT * x.abs().max(0.1);
    for (x, y) in a.estimates.iter().zip(&b.estimates) {
        let name = x.name;
        assert!(
            near(x.value, y.value),
            "{of}, {name}: {} {}",
            x.value,
            y.value
        );
        match (x.standard_error, y.standard_error) {
            (Some(x), Some(y)) => assert!(near(x, y), "{of}, error of {name}: {x} {y}"),
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
    for options in [
        Options::default(),
        Options {
            robust: true,
            ..Options::default()
        },
    ] {
        let a = learn(&rows, &shipped(), options).unwrap();
        let b = learn(&other, &shipped(), options).unwrap();
        assert_same(&a, &b, "shuffled");
        assert_eq!(a.largest, b.largest);
        let near = |a: &[LearnedInterval], b: &[LearnedInterval]| {
            for (a, b) in a.iter().zip(b) {
                let close = |x: f64, y: f64| (x - y).abs() <= FLAT * x.abs().max(0.1);
                assert!(close(a.low, b.low) && close(a.high, b.high), "{a:?} {b:?}");
            }
        };
        near(
            &a.profile_intervals().unwrap(),
            &b.profile_intervals().unwrap(),
        );
        near(
            &a.bootstrap_intervals(40, 5).unwrap(),
            &b.bootstrap_intervals(40, 5).unwrap(),
        );
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

/// The same for logs of every sort: few rows or many, mistyped ones, scatter from none to wild, with and
/// without Huber's loss, where a row at the bend of the loss makes the last digits hard to come by.
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
        for options in [
            Options::default(),
            Options {
                robust: true,
                ..Options::default()
            },
        ] {
            let of = |rows: &[Observation]| learn(rows, &shipped(), options).unwrap();
            let (a, b) = (of(&rows), of(&other));
            assert!(
                (a.stop == Termination::Converged) && (b.stop == Termination::Converged),
                "log {k}"
            );
            assert_same(&a, &b, &format!("log {k}, robust {}", options.robust));
        }
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
    for options in [
        Options::default(),
        Options {
            robust: true,
            ..Options::default()
        },
    ] {
        let of = |rows: &[Observation]| learn(rows, &shipped(), options).unwrap();
        assert_same(&of(&a), &of(&b.observations), "other units");
    }
}

/// With Huber's loss one row in which 10 was typed as 100 moves the level by less than its error; with
/// plain squares it moves by more.
#[test]
fn one_mistyped_row_does_not_ruin_a_robust_fit() {
    let (_, rows) = simulated_rows(22, 14);
    let mut typo = rows.clone();
    let k = typo.iter().position(|o| o.seen == Seen::Ready).unwrap();
    typo[k].hours = (10.0 * typo[k].hours).min(400.0);
    let level = |rows: &[Observation], options| {
        let l = learn(rows, &shipped(), options).unwrap();
        let e = estimate(&l, "poolish_ml_per_100g").clone();
        (e.value.ln(), e.standard_error.unwrap(), l)
    };
    let (clean, error, _) = level(&rows, Options::default());
    let (robust, _, l) = level(
        &typo,
        Options {
            robust: true,
            ..Options::default()
        },
    );
    let (plain, ..) = level(&typo, Options::default());
    assert!((robust - clean).abs() < error, "{clean} {robust} ({error})");
    assert!((plain - clean).abs() > (robust - clean).abs());
    assert_eq!(l.largest[0], typo[k].line);
    let odd = Diagnostic::OddRows {
        lines: vec![typo[k].line],
        robust_helps: false,
    };
    assert!(says(&l, &odd));
    assert!(l.rows[k].weight < 0.5);
}

/// The kitchen that made a log of 40 rows, two of seven of them one-sided, is found within three
/// standard errors, and its levels and slope better than the table had them.
#[test]
fn a_long_log_finds_the_kitchen() {
    let (truth, rows) = simulated_rows(23, 40);
    let l = learn(&rows, &shipped(), Options::default()).unwrap();
    let truths = [
        truth.level(Kind::Poolish).gas.ln(),
        truth.level(Kind::Dough).gas.ln(),
        truth.kinetics.tilt(),
        truth.kinetics.rates().growth_rate.ln(),
    ];
    for (e, truth) in l.estimates.iter().zip(truths) {
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

/// Intervals of three makes agree about a log of ordinary size: the posterior is nearly normal there.
#[test]
fn profile_and_bootstrap_agree_with_the_curvature() {
    let (_, rows) = simulated_rows(24, 16);
    let l = learn(&rows, &shipped(), Options::default()).unwrap();
    let profile = l.profile_intervals().unwrap();
    let bootstrap = l.bootstrap_intervals(400, 7).unwrap();
    assert_eq!(bootstrap, l.bootstrap_intervals(400, 7).unwrap());
    for ((e, p), b) in l.estimates.iter().zip(&profile).zip(&bootstrap) {
        let width = |low: f64, high: f64| {
            if e.on_log_scale {
                (high / low).ln()
            } else {
                high - low
            }
        };
        // 1.28 standard errors to either side; Student's quantile widens the profile a little.
        let curvature = 2.0 * 1.2816 * e.standard_error.unwrap();
        println!(
            "{}: 80 % wide {curvature:.3} by curvature, {:.3} by profile, {:.3} by bootstrap",
            e.name,
            width(p.low, p.high),
            width(b.low, b.high)
        );
        assert!(
            (0.9..1.25).contains(&(width(p.low, p.high) / curvature)),
            "{}",
            e.name
        );
        // 400 rounds know a 10 % point to about 8 % of the deviation.
        assert!(
            (0.8..1.25).contains(&(width(b.low, b.high) / curvature)),
            "{}",
            e.name
        );
        assert!(p.low < e.value && e.value < p.high);
    }
}

/// A log made with a Q10 kitchen is best explained by the Q10 curve, given rows enough and little
/// scatter; the shipped curve bends.
#[test]
fn the_law_that_made_a_log_explains_it_best() {
    use pointage::ferment::Kinetics;
    use pointage::rate::RateLaw;
    let mut truth = shipped();
    let law = RateLaw::q10(2.3, 24.0, [-20.0, 60.0]).unwrap();
    truth.kinetics =
        Kinetics::new(law, truth.kinetics.growth().clone(), truth.kinetics.rates()).unwrap();
    let mut noise = Noise::seeded(31);
    let rows: Vec<Observation> = (0..40)
        .map(|i| {
            let t = 8.0 + f64::from(i % 10) * 2.6;
            let b = LoggedDough {
                kind: Kind::Poolish,
                composition: Composition::lean(100.0, 0.0),
                fresh_percent: 1.0,
                place: LoggedPlace::Held(Temperature::celsius(t).unwrap()),
            };
            observe(&mut noise, &truth, u64::from(i as u32) + 2, b, 0.03)
        })
        .collect();
    let l = learn(&rows, &shipped(), Options::default()).unwrap();
    let scores = l.compare_laws().unwrap();
    println!("{scores:#?}");
    assert_eq!(scores.len(), 4);
    assert_eq!(scores[0].law, "q10");
    assert!(scores.iter().all(|s| s.aicc.is_some()));
    assert!(scores[0].scatter < 0.06, "{}", scores[0].scatter);
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
    let l = learn(&rows, &shipped(), Options::default()).unwrap();
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
    let again = learn(&rows, &kitchen, Options::default()).unwrap();
    assert!(again.stop == Termination::Converged);
}

/// A row that says nothing, learnt from a file again and again, teaches nothing: no error shrinks and no
/// range of the file widens.
#[test]
fn a_row_that_says_nothing_changes_nothing() {
    let (_, rows) = simulated_rows(27, 12);
    let mut table = learn(&rows, &shipped(), Options::default())
        .unwrap()
        .table()
        .unwrap();
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
        let learned = learn(&nothing, &own, Options::default()).unwrap();
        for e in &learned.estimates {
            assert!(e.standard_error.is_none() && e.told < 1e-6, "{e:?}");
            assert_eq!(e.value, e.prior, "{}", e.name);
        }
        table = learned.table().unwrap();
        assert!((sd(&table) / first - 1.0).abs() < 1e-5, "{table:?}");
    }
}

/// A dough that was not yet ready after a time in which hardly any is: the numbers run to where none is
/// ever ready. That is told, without an error, a range, an interval or a number in a file.
#[test]
fn rows_beyond_any_dough_are_told_and_claim_nothing() {
    for rows in [
        "biga,1000,500,0,fresh,3,21,100,not-yet\n",
        "biga,1000,500,0,fresh,3,21,400,not-yet\n",
        "poolish,1000,1000,0,fresh,3,21,100,not-yet\nbiga,1000,500,0,fresh,3,21,400,not-yet\n",
        "poolish,1000,1000,0,fresh,3,21,1,past\n",
    ] {
        let l = learned(rows);
        assert!(!l.sound, "{rows}");
        assert!(
            l.estimates.iter().all(|e| e.standard_error.is_none()),
            "{rows}"
        );
        assert!(
            l.cannot_tell
                .iter()
                .any(|d| matches!(d, Diagnostic::AtLimit { .. } | Diagnostic::NotSettled)),
            "{rows}: {:?}",
            l.cannot_tell
        );
        assert!(l.profile_intervals().unwrap().is_empty());
        let table = l.table().unwrap();
        assert_eq!(shipped().with_table(&table).unwrap(), shipped());
    }
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
    let l = learn(&rows, &held, Options::default()).unwrap();
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
    let l = learn(&log.observations, &shipped(), Options::default()).unwrap();
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
