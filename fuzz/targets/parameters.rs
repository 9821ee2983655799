//! A table, and the parameters that it changes.
#![no_main]

use libfuzzer_sys::fuzz_target;
use pointage::ferment::{EndPoint, Kind, Parameters};
use pointage::table;
use pointage_fuzz::answered;

fuzz_target!(|text: &str| {
    let Some(own) = answered(table::parse(text)) else {
        return;
    };
    for value in &own.values {
        assert!(value.value.is_finite(), "{value:?}");
        assert!(value.log_sd().is_none_or(|sd| sd >= 0.0), "{value:?}");
    }
    let Some(p) = answered(Parameters::shipped()) else {
        return;
    };
    if let Some(p) = answered(p.with_table(&own)) {
        assert!(p.level(Kind::Poolish).gas > 0.0);
    }
});
