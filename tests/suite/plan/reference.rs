//! `[reference]`: every plan starts from the bake that works.

use super::*;
use pointage::plan::TracePoint;
use proptest::prelude::*;

/// A kitchen and what is made in it: one dough, with or without a poolish.
#[derive(Debug, Clone)]
struct Kitchen {
    room_c: f64,
    dough_c: f64,
    yeast: f64,
    hydration: f64,
    autolyse_min: u32,
    preferment: String,
    places: String,
    tin: bool,
}

impl Kitchen {
    fn bake(&self, reference: &str) -> String {
        let Self {
            room_c,
            dough_c,
            yeast,
            hydration,
            autolyse_min,
            preferment,
            places,
            tin,
        } = self;
        let proof = if *tin { "tin" } else { "hearth" };
        format!(
            "format = 1\nname = \"x\"\n[formula]\npieces = 8\npiece_g = 600\nhydration_percent = {hydration}\nyeast_percent = {yeast}\n{preferment}[reference]\n{reference}\n[kitchen]\nroom_c = {room_c}\n[process]\ndough_c = {dough_c}\nautolyse_min = {autolyse_min}\nproof = \"{proof}\"\n{places}[oven]\nbake_min = 40\n"
        )
    }

    fn warmer(&self, k: f64) -> Self {
        Self {
            room_c: self.room_c + k,
            dough_c: self.dough_c + k,
            places: String::new(),
            ..self.clone()
        }
    }
}

fn kitchens() -> impl Strategy<Value = Kitchen> {
    let preferment = prop_oneof![
        Just(String::new()),
        (15.0..40.0f64, 0.1..0.6f64).prop_map(|(flour, dose)| format!(
            "[preferment]\nkind = \"poolish\"\nflour_percent = {flour}\ndose_percent = {dose}\n"
        )),
        (15.0..40.0f64, 9.0..15.0f64).prop_map(|(flour, ripe)| format!(
            "[preferment]\nkind = \"poolish\"\nflour_percent = {flour}\nripe_after_h = {ripe}\n"
        )),
    ];
    let places = prop_oneof![
        Just(String::new()),
        (22.0..27.0f64, 23.0..30.0f64)
            .prop_map(|(bulk, proof)| format!("bulk_c = {bulk}\nproof_c = {proof}\n")),
    ];
    let dough = (18.0..27.0f64, 22.0..27.0f64, 0.2..0.9f64, 60.0..75.0f64);
    (dough, 0..40_u32, preferment, places, any::<bool>()).prop_map(
        |((room_c, dough_c, yeast, hydration), autolyse_min, preferment, places, tin)| Kitchen {
            room_c,
            dough_c,
            yeast,
            hydration,
            autolyse_min,
            preferment,
            places,
            tin,
        },
    )
}

/// Minutes of a curve and the mean of its dough, by trapezia.
fn told(curve: &[TracePoint]) -> (f64, f64) {
    let steps = curve.windows(2);
    let sum: f64 = steps
        .map(|s| (s[1].hour - s[0].hour) * 0.5 * (s[0].dough_c + s[1].dough_c))
        .sum();
    let hours = curve.last().unwrap().hour - curve[0].hour;
    (60.0 * hours, sum / hours)
}

/// Minutes and mean of preferment, bulk and proof; a preferment that there is none of is left out.
fn stages(text: &str) -> Vec<(&'static str, f64, f64)> {
    let plan = with_detail(text, Anchor::MixAt(30.0));
    let trace = plan.trace.unwrap();
    let curves = [
        ("preferment", &trace.preferment),
        ("bulk", &trace.bulk),
        ("proof", &trace.proofs[0]),
    ];
    let known = curves.into_iter().filter(|(_, curve)| curve.len() > 1);
    known
        .map(|(name, curve)| (name, told(curve).0, told(curve).1))
        .collect()
}

/// The reference that says so much of each stage.
fn reference(stages: &[(&str, f64, f64)], dose: Option<f64>) -> String {
    let keys = stages.iter().map(|(name, min, c)| match *name {
        "preferment" => format!("preferment_h = {}\npreferment_c = {c}\n", min / 60.0),
        name => format!("{name}_min = {min}\n{name}_c = {c}\n"),
    });
    let dose = dose.map(|dose| format!("preferment_dose_percent = {dose}\n"));
    keys.chain(dose).collect()
}

fn dose_of(text: &str) -> Option<f64> {
    let plan = planned(text, Anchor::MixAt(30.0));
    plan.preferment.map(|p| p.dose.as_percent())
}

/// Log widths of the likely ends of bulk and proof, counted from the mix, and of the preferment, from its own.
fn widths(text: &str) -> Vec<f64> {
    let plan = with_detail(text, Anchor::MixAt(30.0));
    let stages = ["bulk", "proof"].map(|name| {
        // A low end that is the stage's beginning may be lower still, so that the upper half counts.
        let stage = stage(&plan, name);
        ((stage.end_range_h.unwrap().1 - 30.0) / (stage.end_h - 30.0)).ln()
    });
    let ripe = plan.preferment.and_then(|p| {
        let (_, high) = p.ripe_range_h?;
        Some(((high - p.mixed_h) / (p.ripe_h - p.mixed_h)).ln())
    });
    stages.into_iter().chain(ripe).collect()
}

const SECOND: f64 = 1.0 / 60.0;

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    /// Whatever a kitchen does, told as its reference it is what the kitchen does.
    #[test]
    fn at_its_own_temperatures_a_plan_takes_its_own_minutes(kitchen in kitchens()) {
        let plain = kitchen.bake("");
        let of_plain = stages(&plain);
        let text = kitchen.bake(&reference(&of_plain, dose_of(&plain)));
        for (own, (name, min, c)) in of_plain.iter().zip(stages(&text)) {
            prop_assert!((own.1 - min).abs() < SECOND, "{name}: {} {min}\n{text}", own.1);
            prop_assert!((own.2 - c).abs() < 0.01, "{name}: {} {c}", own.2);
        }
    }

    /// Each stage is sooner where all is warmer, later where it is colder.
    #[test]
    fn warmer_than_the_reference_is_sooner(kitchen in kitchens(), bulk in 40.0..120.0f64, proof in 30.0..90.0f64) {
        let own = format!("bulk_min = {bulk}\nbulk_c = 24\nproof_min = {proof}\nproof_c = 25\n");
        let mut kitchen = kitchen.warmer(0.0);
        kitchen.preferment = String::new();
        let mut last = stages(&kitchen.bake(&own));
        for warmer in [2.0, 4.0] {
            let now = stages(&kitchen.warmer(warmer).bake(&own));
            for (cold, warm) in last.iter().zip(&now) {
                prop_assert!(warm.1 < cold.1, "{}: {} {}", cold.0, cold.1, warm.1);
            }
            last = now;
        }
    }

    /// A reference is one bake of this kitchen: the scatter of the sources and of their recipes goes.
    #[test]
    fn ranges_are_narrower_with_a_reference(kitchen in kitchens(), warmer in -5.0..5.0f64) {
        let plain = kitchen.bake("");
        let own = reference(&stages(&plain), dose_of(&plain));
        for (there, most) in [(kitchen.clone(), 0.65), (kitchen.warmer(warmer), 0.8)] {
            let (without, with) = (widths(&there.bake("")), widths(&there.bake(&own)));
            for (without, with) in without.iter().zip(with) {
                prop_assert!(with <= most * without, "{with} {without} {}\n{own}", there.bake(""));
            }
        }
    }
}
