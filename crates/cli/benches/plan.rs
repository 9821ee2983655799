//! A whole day with 2, 4 and 8 loads, with and without ranges, and the same day as JSON text.

use criterion::Criterion;
use pointage::ferment::Parameters;
use pointage::plan::bake::Bake;
use pointage::plan::{Anchor, Detail, plan};
use std::error::Error;
use std::hint::black_box;

/// The demo bake, a poolish overnight, with other numbers of loads: of 8 pieces, short in the oven, they wait in a
/// retarder for their turn.
fn bake(loads: u32) -> String {
    let pieces = format!("pieces = {}", 8 * loads);
    let text = pointage::plan::bake::DEMO.replace("pieces = 24", &pieces);
    let quick = text.replace("bake_min = 42", "bake_min = 30");
    quick.replace("shape_min = 15", "shape_min = 4")
}

fn main() -> Result<(), Box<dyn Error>> {
    let mut c = Criterion::default().configure_from_args();
    let p = Parameters::shipped()?;
    let anchor = Anchor::FirstOut(9.0);
    let mut group = c.benchmark_group("plan");
    for loads in [2, 4, 8] {
        let text = bake(loads);
        let day = Bake::from_toml(&text)?;
        let places = day.places(|file| Err(pointage::Error::NotFinite { what: file.into() }))?;
        let plain = Detail::default();
        let ranges = Detail {
            ranges: true,
            ..plain
        };
        let made = plan(&day, &places, anchor, &p, plain)?;
        assert_eq!(made.loads.len(), usize::try_from(loads)?);
        // A plan that does not fit looks for the nearest one that does, which is other work.
        assert!(made.problem.is_none(), "{loads} loads: {:?}", made.problem);
        for (detail, words) in [(plain, "plain"), (ranges, "ranges")] {
            group.bench_function(format!("loads_{loads}_{words}"), |b| {
                b.iter(|| plan(black_box(&day), black_box(&places), anchor, &p, detail))
            });
        }
        let request = serde_json::json!({
            "version": pointage_api::VERSION, "command": "plan", "bake_toml": text, "first_out": "09:00",
        })
        .to_string();
        group.bench_function(format!("loads_{loads}_json"), |b| {
            b.iter(|| pointage_api::call(black_box(&request)))
        });
    }
    group.finish();
    c.final_summary();
    Ok(())
}
