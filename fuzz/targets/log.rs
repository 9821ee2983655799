//! The logs that are learnt from: of fermentations, of mixes, of speeds.
#![no_main]

use libfuzzer_sys::fuzz_target;
use pointage::Result;
use pointage::ambient::Ambient;
use pointage::ferment::Parameters;
use pointage::learn::fit::learn;
use pointage::learn::{friction, log::Log, rate_fit};
use pointage::units::Temperature;
use pointage_fuzz::answered;

fuzz_target!(|text: &str| {
    let record =
        |_: &str| -> Result<Ambient> { Temperature::celsius(19.0).and_then(Ambient::constant) };
    if let Some(log) = answered(Log::from_csv(text, record)) {
        assert!(log.refused.iter().all(|r| !r.to_string().contains('\n')));
        // A fit of many rows takes seconds, which is no finding.
        if log.observations.len() <= 6 {
            if let Some(p) = answered(Parameters::shipped()) {
                answered(learn(&log.observations, &p, None));
            }
        }
    }
    if let Some(log) = answered(friction::MixLog::from_csv(text)) {
        answered(friction::friction(
            &log.mixes,
            &log.speeds,
            friction::Method::SumScale,
        ));
    }
    if let Some((points, _)) = answered(rate_fit::read_speeds(text)) {
        if points.len() <= 12 {
            answered(rate_fit::fit_rate(
                &points,
                rate_fit::FitLaw::Cardinal,
                rate_fit::Transform::Sqrt,
            ));
        }
    }
});
