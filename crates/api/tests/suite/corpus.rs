//! The texts that fuzzing begins with and found, each through what its target in `fuzz/targets` asks. The folder is
//! no part of the published package; without it there is nothing to replay.

use pointage::ambient::Ambient;
use pointage::ferment::{Kind, Parameters};
use pointage::learn::fit::learn;
use pointage::learn::{friction, log::Log, rate_fit};
use pointage::plan::{Anchor, Detail, bake::Bake, plan};
use pointage::table;
use pointage::units::{ClockTime, Hours, Mass, Percent, Temperature, TemperatureDifference};
use pointage::{Error, Result};
use pointage_api::call;
use std::fs;
use std::path::Path;

/// Every text of a target's corpus; what is no UTF-8 the targets do not see either.
fn replay(target: &str, ask: impl Fn(&str)) {
    let corpus = Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/../..")).join("fuzz/corpus");
    if !corpus.is_dir() {
        println!("no {}: nothing to replay", corpus.display());
        return;
    }
    let files = fs::read_dir(corpus.join(target)).unwrap();
    let mut count = 0;
    for file in files {
        if let Ok(text) = String::from_utf8(fs::read(file.unwrap().path()).unwrap()) {
            ask(&text);
            count += 1;
        }
    }
    assert!(count > 0, "{target} has no text");
    println!("{target}: {count} texts");
}

/// The answer, if there is one; a refusal is one line that says something.
fn answered<T>(answer: Result<T>) -> Option<T> {
    if let Err(e) = &answer {
        let text = e.to_string();
        assert!(
            !text.trim().is_empty() && !text.chars().any(char::is_control),
            "{text:?}"
        );
    }
    answer.ok()
}

fn steady(_: &str) -> Result<Ambient> {
    Temperature::celsius(20.0).and_then(Ambient::constant)
}

#[test]
fn bakes_are_planned_or_refused() {
    let p = Parameters::shipped().unwrap();
    replay("bake", |text| {
        let Some(bake) = answered(Bake::from_toml(text)) else {
            return;
        };
        answered(bake.batch());
        let Some(places) = answered(bake.places(steady)) else {
            return;
        };
        for anchor in [
            Anchor::StartAt(20.0),
            Anchor::FirstOut(7.5),
            Anchor::LastOut(31.5),
            Anchor::MixAt(-3.0),
        ] {
            let detail = Detail {
                trace: true,
                ..Detail::default()
            };
            let plan = plan(&bake, &places, anchor, &p, detail);
            assert!(!matches!(plan, Err(Error::NotFinite { .. })), "{plan:?}");
            let Some(plan) = answered(plan) else {
                continue;
            };
            assert!(!plan.loads.is_empty());
            for stage in &plan.stages {
                assert!(
                    stage.start_h.is_finite() && stage.start_h <= stage.end_h + 1e-9,
                    "{stage:?}"
                );
            }
            assert!(
                plan.loads
                    .iter()
                    .all(|l| l.ripeness.is_finite() && l.oven_in_h <= l.oven_out_h)
            );
        }
    });
}

#[test]
fn records_are_courses_or_refused() {
    replay("record", |text| {
        answered(Ambient::from_csv(text));
        let hours_of = |stamp: &str| stamp.parse().map(Hours::as_hours);
        if let Some(room) = answered(Ambient::from_csv_with(text, hours_of)) {
            for [hours, temperature_c] in room.knots().unwrap() {
                // A ramp may be so steep that the last digit of the hour counts.
                assert!((room.at(*hours).as_celsius() - temperature_c).abs() < 1e-6);
            }
        }
    });
}

#[test]
fn logs_are_learnt_from_or_refused() {
    let p = Parameters::shipped().unwrap();
    replay("log", |text| {
        if let Some(log) = answered(Log::from_csv(text, steady)) {
            let few = &log.observations[..log.observations.len().min(6)];
            answered(learn(few, &p, None));
        }
        if let Some(log) = answered(friction::MixLog::from_csv(text)) {
            answered(friction::friction(
                &log.mixes,
                &log.speeds,
                friction::Method::SumScale,
            ));
        }
        if let Some((points, _)) = answered(rate_fit::read_speeds(text)) {
            answered(rate_fit::fit_rate(
                &points,
                rate_fit::FitLaw::Cardinal,
                rate_fit::Transform::Sqrt,
            ));
        }
    });
}

#[test]
fn parameters_are_taken_or_refused() {
    let p = Parameters::shipped().unwrap();
    replay("parameters", |text| {
        if let Some(own) = answered(table::parse(text)) {
            assert!(
                own.values
                    .iter()
                    .all(|v| v.value.is_finite() && v.log_sd().is_none_or(|sd| sd >= 0.0))
            );
            if let Some(p) = answered(p.clone().with_table(&own)) {
                assert!(p.level(Kind::Poolish).gas > 0.0);
            }
        }
    });
}

#[test]
fn quantities_are_read_or_refused() {
    replay("units", |text| {
        answered(text.parse::<Temperature>());
        answered(text.parse::<TemperatureDifference>());
        answered(text.parse::<Percent>());
        assert!(answered(text.parse::<Mass>()).is_none_or(|m| m.as_grams() >= 0.0));
        if let Some(clock) = answered(text.parse::<ClockTime>()) {
            assert_eq!(clock.to_string().parse(), Ok(clock));
        }
        assert!(answered(text.parse::<Hours>()).is_none_or(|t| t.as_hours() <= 504.0));
    });
}

#[test]
fn requests_are_answered() {
    replay("request", |text| {
        let answer = call(text);
        assert!(!answer.contains('\n'), "{answer}");
        let answer: serde_json::Value = serde_json::from_str(&answer).unwrap();
        assert!(answer.is_object(), "{answer}");
    });
}
