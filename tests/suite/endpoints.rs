//! The end points are what published recipes imply; here they are refitted and compared with what is
//! shipped. This is calibration: passing shows that the fit is reproducible, not that it predicts.

use pointage::ambient::TemperatureProfile;
use pointage::ferment::{Composition, EndPoint, Inoculum, Kind, Parameters, Perturbations, Stage};
use pointage::table::{self, Purpose, Row, Standing};
use pointage::units::Temperature;

fn c(t: f64) -> Temperature {
    Temperature::celsius(t).unwrap()
}

fn fit_rows(table: &str) -> Vec<&'static Row> {
    table::get(table)
        .unwrap()
        .rows
        .iter()
        .filter(|r| r.purpose == Purpose::Fit)
        .collect()
}

/// Hours until a recipe's dough has made so much gas, at the recipe's mid-points.
fn hours(p: &Parameters, row: &Row, gas: f64) -> f64 {
    let composition = Composition::lean(row.hydration_percent.unwrap(), row.salt_percent.unwrap());
    let yeast = Inoculum {
        added: row.dose_percent.unwrap().middle(),
        carried: 0.0,
    };
    let stage = Stage {
        composition,
        yeast,
        end: EndPoint::Gas(gas),
        own_heat: None,
    };
    stage
        .ready(p, &TemperatureProfile::held(c(row.temperature_c.middle())))
        .unwrap()
        .hours
}

/// Errors in log time: the model's hours over the recipe's.
fn log_errors(p: &Parameters, rows: &[&Row], gas: f64) -> Vec<f64> {
    rows.iter()
        .map(|r| (hours(p, r, gas) / r.hours.middle()).ln())
        .collect()
}

fn rms(errors: &[f64]) -> f64 {
    (errors.iter().map(|e| e * e).sum::<f64>() / errors.len() as f64).sqrt()
}

/// The level with the least squares of log time, by golden section in the logarithm of the level.
fn fitted(p: &Parameters, rows: &[&Row]) -> f64 {
    let cost = |log_gas: f64| rms(&log_errors(p, rows, log_gas.exp()));
    let (mut a, mut b) = (20f64.ln(), 1500f64.ln());
    let golden = 0.5 * (5f64.sqrt() - 1.0);
    while b - a > 1e-7 {
        let (x, y) = (b - golden * (b - a), a + golden * (b - a));
        if cost(x) < cost(y) { b = y } else { a = x }
    }
    (0.5 * (a + b)).exp()
}

/// Every level is within 0.5 % of the fit (it is shipped rounded), and every scatter that rests on
/// enough rows within 0.005 of it.
#[test]
fn shipped_levels_are_those_that_the_recipes_imply() {
    let p = Parameters::shipped().unwrap();
    for (table, kind) in [
        ("poolish", Kind::Poolish),
        ("biga", Kind::Biga),
        ("sponge", Kind::Sponge),
        ("straight-dough", Kind::Dough),
    ] {
        let rows = fit_rows(table);
        let gas = fitted(&p, &rows);
        let scatter = rms(&log_errors(&p, &rows, gas));
        let shipped = p.level(kind);
        println!(
            "{table}: {} rows, level {gas:.1} mL (shipped {}), rms error {scatter:.3} in log time (shipped {})",
            rows.len(),
            shipped.gas,
            shipped.log_sd
        );
        assert!((shipped.gas / gas - 1.0).abs() < 0.005, "{table}: {gas}");
        // One or two recipes of one school have no scatter to believe: they take that of the poolish.
        let scatter = if matches!(kind, Kind::Poolish | Kind::Dough) {
            scatter
        } else {
            p.level(Kind::Poolish).log_sd
        };
        assert!(
            (shipped.log_sd - scatter).abs() < 0.005,
            "{table}: {scatter}"
        );
        let memory = table::get(table)
            .unwrap()
            .rows
            .iter()
            .filter(|r| r.standing == Standing::FromMemory);
        assert!(
            memory.into_iter().all(|r| r.purpose != Purpose::Fit),
            "{table}: a row from memory in the fit"
        );
    }
}

/// How well one level serves the poolish rows.
pub struct PoolishFit {
    pub rows: usize,
    pub sources: usize,
    /// Root mean square in log time, of all rows fitted together.
    pub all: f64,
    /// The same for each source predicted from the others.
    pub left_out: f64,
}

pub fn poolish_fit() -> PoolishFit {
    let p = Parameters::shipped().unwrap();
    let rows = fit_rows("poolish");
    let mut sources: Vec<&str> = rows.iter().map(|r| source_of(r)).collect();
    sources.dedup();
    let mut left_out = Vec::new();
    for source in &sources {
        let (test, train): (Vec<&Row>, Vec<&Row>) =
            rows.iter().partition(|r| source_of(r) == *source);
        left_out.extend(log_errors(&p, &test, fitted(&p, &train)));
    }
    PoolishFit {
        rows: rows.len(),
        sources: sources.len(),
        all: rms(&log_errors(&p, &rows, fitted(&p, &rows))),
        left_out: rms(&left_out),
    }
}

/// How many recipes stand behind biga, sponge and final proof.
pub fn recipes_behind() -> [usize; 3] {
    let p = Parameters::shipped().unwrap();
    [
        fit_rows("biga").len(),
        fit_rows("sponge").len(),
        pairs(&p).len(),
    ]
}

/// One level for all ten poolish rows leaves at most 0.30 in log time: stated beforehand, as what one
/// curve can do for tables that disagree by a third among themselves.
#[test]
fn one_level_serves_the_poolish_tables() {
    let fit = poolish_fit();
    assert_eq!(
        (fit.rows, fit.sources),
        (10, 5),
        "P1, P3, P5, P7 and P8, row by row"
    );
    println!(
        "poolish: rms error {:.3} in log time; each source predicted from the others {:.3}",
        fit.all, fit.left_out
    );
    assert!(fit.all <= 0.30);
    // Predicting an unseen source may cost more than fitting it, but one level must still carry over.
    assert!(fit.left_out < 1.3 * 0.30);
}

/// `P1a` belongs to the source `P1`.
fn source_of(row: &Row) -> &str {
    row.id.trim_end_matches(|c: char| c.is_ascii_lowercase())
}

/// How many of the published hours lie in the 10-90 % range that the product prints. The fitted rows
/// are calibration; that the ranges are not too narrow for them is all that this shows.
#[test]
fn ranges_cover_the_published_hours() {
    let p = Parameters::shipped().unwrap();
    let (mut inside, mut all) = (0, 0);
    for (table, kind) in [
        ("poolish", Kind::Poolish),
        ("biga", Kind::Biga),
        ("straight-dough", Kind::Dough),
    ] {
        for row in fit_rows(table) {
            let (low, high) = Perturbations::new(p.clone())
                .range(EndPoint::Ripe(kind), |p| {
                    Ok(hours(p, row, p.level(kind).gas))
                })
                .unwrap()
                .unwrap();
            let seen = row.hours.middle();
            all += 1;
            inside += usize::from(low <= seen && seen <= high);
        }
    }
    println!("10-90 % ranges: {inside} of {all} published recipes inside (calibration)");
    // 80 % of 14 rows are 11; four fewer would be too narrow at the 2 % level (binomial).
    assert!(inside >= 8, "{inside} of {all}");
}

/// A recipe with a bulk and a final proof.
struct Pair {
    name: &'static str,
    dose: f64,
    bulk_h: f64,
    bulk_c: f64,
    /// Dividing, rest, shaping.
    handling_h: [f64; 3],
    proof_c: f64,
    proof_h: f64,
    hydration: f64,
    tin: bool,
}

/// Handling as a plan has it where nothing else is said: dividing, rest, shaping.
fn usual_handling() -> [f64; 3] {
    let usual = table::get("bake-file").unwrap();
    ["divide_min", "bench_rest_min", "shape_min"].map(|name| usual.number(name).unwrap() / 60.0)
}

/// The pairs: D1 and Lowe as hearth loaves, D2 and the army's card as tin loaves. The dose of each is the
/// one that doubles the dough in the time it gives for its bulk: only the proof in proportion to the bulk
/// is used, and the scatter of the levels does not enter a second time (two of them print no dose anyway).
fn pairs(p: &Parameters) -> Vec<Pair> {
    let table = table::get("straight-dough").unwrap();
    let row = |id: &str| table.rows.iter().find(|r| r.id == id).unwrap();
    let doubling_dose = |hours: f64, t: f64| {
        let stage = Stage {
            composition: Composition::lean(62.0, 2.0),
            yeast: Inoculum::default(),
            end: EndPoint::Doubled,
            own_heat: None,
        };
        stage
            .dose_for(p, &TemperatureProfile::held(c(t)), hours)
            .unwrap()
    };
    let of_row = |id: &'static str, tin: bool, handling_h: [f64; 3]| {
        let r = row(id);
        let (bulk_h, bulk_c) = (r.hours.middle(), r.temperature_c.middle());
        Pair {
            name: id,
            dose: doubling_dose(bulk_h, bulk_c),
            bulk_h,
            bulk_c,
            handling_h,
            proof_c: r.proof_temperature_c.unwrap().middle(),
            proof_h: r.proof_hours.unwrap().middle(),
            hydration: r.hydration_percent.unwrap_or(62.0),
            tin,
        }
    };
    // "The first rise takes about 70 % of the total fermentation", at 26 to 32 °C: a loaf at home, here
    // 2 h at 29 °C, punched and shaped at once (5 min, assumed), the rest of the 30 % in its second rise.
    let share = table.number("first_rise_share").unwrap();
    let shaping = 5.0 / 60.0;
    let lowe = Pair {
        name: "Lowe",
        dose: doubling_dose(2.0, 29.0),
        bulk_h: 2.0,
        bulk_c: 29.0,
        handling_h: [0.0, 0.0, shaping],
        proof_c: 29.0,
        proof_h: 2.0 * (1.0 - share) / share - shaping,
        hydration: 62.0,
        tin: false,
    };
    // The card rests 15 min after the punch and 8 to 10 min after making up.
    let usual = usual_handling();
    let card = [0.0, 15.0 / 60.0, usual[2] + 9.0 / 60.0];
    vec![
        of_row("D1", false, usual),
        of_row("D2", true, usual),
        of_row("D3", true, card),
        lowe,
    ]
}

fn proof_hours(p: &Parameters, pair: &Pair, kept: f64, ratio: f64) -> f64 {
    let composition = Composition::lean(pair.hydration, 2.0);
    let yeast = Inoculum {
        added: pair.dose,
        carried: 0.0,
    };
    let stage = Stage {
        composition,
        yeast,
        end: EndPoint::Doubled,
        own_heat: None,
    };
    let f = stage.fermentation(p).unwrap();
    let warm = TemperatureProfile::held(c(pair.bulk_c));
    let bulk = f.after(&f.start(), &warm, pair.bulk_h).unwrap();
    let [divide, rest, shape] = pair.handling_h;
    let divided = f.handled(&f.after(&bulk, &warm, divide).unwrap(), kept);
    let shaped = f.handled(&f.after(&divided, &warm, rest + shape).unwrap(), kept);
    let proofed = f
        .until(&shaped, &TemperatureProfile::held(c(pair.proof_c)), &|s| {
            f.volume_ratio(s) - ratio
        })
        .unwrap();
    (proofed.unwrap().hours() - shaped.hours()).max(0.05)
}

/// `kept` and the two ratios: least squares of log proof time, with the scatter of the straight-dough
/// bulks, and published expansions and losses as priors. Four pairs and three numbers: a judgement made
/// repeatable, not a measurement.
#[test]
fn shipped_proof_is_what_the_pairs_imply() {
    let p = Parameters::shipped().unwrap();
    let pairs = pairs(&p);
    let scatter = p.level(Kind::Dough).log_sd;
    let table = table::get("proof").unwrap();
    let prior = |ratio: f64, name: &str| {
        let value = table.value(name).unwrap();
        ((ratio / value.value).ln() / value.log_sd().unwrap()).powi(2)
    };
    let cost = |x: &[f64; 3]| {
        let errors = pairs.iter().map(|pair| {
            let model = proof_hours(&p, pair, x[0], if pair.tin { x[2] } else { x[1] });
            ((model / pair.proof_h).ln() / scatter).powi(2)
        });
        errors.sum::<f64>()
            + prior(x[0], "kept_prior")
            + prior(x[1], "hearth_prior")
            + prior(x[2], "tin_prior")
    };
    // Three numbers and a smooth cost: halving steps along each of them in turn.
    let bounds: [(f64, f64); 3] = [(0.1, 0.9), (1.5, 3.0), (2.0, 4.0)];
    let mut x: [f64; 3] = [0.5, 2.0, 3.0];
    let mut step = 0.1;
    while step > 1e-4 {
        let mut better = false;
        for i in 0..3 {
            for sign in [-1.0, 1.0_f64] {
                let mut y = x;
                y[i] = (y[i] + sign * step).clamp(bounds[i].0, bounds[i].1);
                if cost(&y) < cost(&x) {
                    (x, better) = (y, true);
                }
            }
        }
        if !better {
            step *= 0.5;
        }
    }
    let mut errors = Vec::new();
    for pair in &pairs {
        let model = proof_hours(&p, pair, x[0], if pair.tin { x[2] } else { x[1] });
        errors.push((model / pair.proof_h).ln());
        println!(
            "proof {}: {:.2} h published, {model:.2} h fitted",
            pair.name, pair.proof_h
        );
    }
    println!(
        "kept {:.3}, hearth {:.3}, tin {:.3}; rms {:.2} in log time; shipped {:?}",
        x[0],
        x[1],
        x[2],
        rms(&errors),
        (p.kept, p.hearth_ratio, p.tin_ratio)
    );
    // Shipped rounded to two digits.
    assert!((p.kept - x[0]).abs() < 0.01);
    assert!((p.hearth_ratio - x[1]).abs() < 0.02);
    assert!((p.tin_ratio - x[2]).abs() < 0.02);
}

/// Bands set beforehand from common practice: a straight dough of 1.5 to 2 % fresh yeast and 2 % salt at
/// 25 to 27 °C doubles in 1.4 to 3 h and, shaped, proofs at 25 °C in 30 to 80 min.
#[test]
fn a_straight_dough_keeps_to_common_practice() {
    let p = Parameters::shipped().unwrap();
    let bulk_h = |dose: f64, t: f64| {
        let stage = Stage {
            composition: Kind::Dough.usual().unwrap(),
            yeast: Inoculum {
                added: dose,
                carried: 0.0,
            },
            end: EndPoint::Doubled,
            own_heat: None,
        };
        stage
            .ready(&p, &TemperatureProfile::held(c(t)))
            .unwrap()
            .hours
    };
    let proof_h = |dose: f64, t: f64, proof_c: f64| {
        let pair = Pair {
            name: "",
            dose,
            bulk_h: bulk_h(dose, t),
            bulk_c: t,
            handling_h: usual_handling(),
            proof_c,
            proof_h: 0.0,
            hydration: 65.0,
            tin: false,
        };
        proof_hours(&p, &pair, p.kept, p.hearth_ratio)
    };
    for dose in [1.5, 1.75, 2.0] {
        for t in [25.0, 26.0, 27.0] {
            let (bulk, proof) = (bulk_h(dose, t), proof_h(dose, t, 25.0));
            println!(
                "{dose} % at {t} °C: doubled in {bulk:.2} h, proofed at 25 °C in {:.0} min",
                60.0 * proof
            );
            assert!(
                (1.4..=3.0).contains(&bulk),
                "{dose} % at {t} °C doubles in {bulk} h"
            );
            assert!(
                (0.5..=80.0 / 60.0).contains(&proof),
                "{dose} % at {t} °C proofs in {proof} h"
            );
        }
    }
    let bulk = bulk_h(2.0, 20.0) / bulk_h(2.0, 25.0);
    let proof = proof_h(2.0, 25.0, 20.0) / proof_h(2.0, 25.0, 25.0);
    println!("at 20 °C instead of 25: bulk {bulk:.2} times as long, proof {proof:.2} times");
    assert!(bulk > 1.2 && proof > 1.2);
}
