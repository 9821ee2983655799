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

/// Minutes of a curve and the mean of its dough, by trapezia with the slopes at both ends (Euler and Maclaurin).
fn minutes_and_mean(curve: &[TracePoint]) -> (f64, f64) {
    let steps = curve.windows(2);
    let sum: f64 = steps
        .map(|s| (s[1].hour - s[0].hour) * 0.5 * (s[0].dough_c + s[1].dough_c))
        .sum();
    let hours = curve.last().unwrap().hour - curve[0].hour;
    let slope = |a: &TracePoint, b: &TracePoint, c: &TracePoint| {
        (-1.5 * a.dough_c + 2.0 * b.dough_c - 0.5 * c.dough_c) / (b.hour - a.hour)
    };
    let (step, last) = (curve[1].hour - curve[0].hour, curve.len() - 1);
    let first = slope(&curve[0], &curve[1], &curve[2]);
    let end = slope(&curve[last], &curve[last - 1], &curve[last - 2]);
    let sum = sum - step * step / 12.0 * (end - first);
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
        .map(|(name, curve)| (name, minutes_and_mean(curve).0, minutes_and_mean(curve).1))
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
        let kitchen = kitchen.warmer(0.0);
        let mut last = stages(&kitchen.bake(&own));
        for warmer in [2.0, 4.0] {
            let now = stages(&kitchen.warmer(warmer).bake(&own));
            for (cold, warm) in last.iter().zip(&now) {
                // The hours of a preferment may be fixed, and its dose found for them.
                if cold.0 == "preferment" && kitchen.preferment.contains("ripe_after") {
                    continue;
                }
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
        // Above 30 °C the pieces are done before they are shaped.
        let warmest = kitchen.dough_c.max(kitchen.room_c);
        let at_most = |k: f64| kitchen.warmer(k.clamp(20.0 - kitchen.dough_c, 30.0 - warmest));
        let (near, far) = (at_most(warmer), at_most(2.0 * warmer));
        for (there, most) in [(kitchen, 0.65), (near, 0.8), (far, 1.0)] {
            let (without, with) = (widths(&there.bake("")), widths(&there.bake(&own)));
            for (without, with) in without.iter().zip(with) {
                prop_assert!(with <= most * without, "{with} {without} {}\n{own}", there.bake(""));
            }
        }
    }
}

/// A straight dough whose reference says so much more.
fn own(yeast: f64, lines: &str) -> String {
    let reference = format!("[reference]\n{lines}\n");
    straight(&format!("yeast_percent = {yeast}"), "", "", &reference, "")
}

/// The minutes of a stage beside those of the reference, and the mean of the dough.
fn beside(plan: &Plan, name: &str) -> (f64, f64) {
    let found = plan.notes.iter().find_map(|finding| match finding {
        Finding::FromReference {
            stage,
            min,
            dough_c,
            ..
        } if *stage == name => Some((*min, *dough_c)),
        _ => None,
    });
    found.unwrap()
}

/// What a plan says of a stage is what its curve shows; without a reference it says what is missing, once.
#[test]
fn a_plan_says_what_it_starts_from() {
    let anchor = Anchor::MixAt(30.0);
    let text = own(
        0.4,
        "bulk_min = 60\nbulk_c = 24\nproof_min = 45\nproof_c = 23",
    );
    let plan = with_detail(&text, anchor);
    for ((name, min, c), shown) in stages(&text).into_iter().zip(["bulk", "proof"]) {
        let (said_min, said_c) = beside(&plan, name);
        assert!(name == shown && (said_min - min).abs() < 1e-6 && (said_c - c).abs() < 0.01);
    }
    assert!(!has!(plan.warnings, Finding::PublishedTimes { .. }));
    assert!(!has!(plan.warnings, Finding::UnusualBulk { .. }));
    assert!(stage(&plan, "bulk").rise.is_none());
    let plain = with_detail(&straight(YEAST, "", "", "", ""), anchor);
    let wider = find!(plain.warnings, Finding::PublishedTimes { wider } => *wider).unwrap();
    let with = widths(&own(
        0.4,
        &reference(&stages(&straight(YEAST, "", "", "", "")), None),
    ));
    let without = widths(&straight(YEAST, "", "", "", ""));
    assert!((without[1] / with[1] / wider - 1.0).abs() < 0.05, "{wider}");
    assert_eq!(
        plain
            .warnings
            .iter()
            .filter(|n| matches!(n, Finding::PublishedTimes { .. }))
            .count(),
        1
    );
}

/// Gas goes with the yeast while none of it grows: half of it takes about twice as long to the same end point.
#[test]
fn tonight_may_have_another_dose_than_the_reference() {
    let text = |yeast: f64| own(yeast, "bulk_min = 60\nbulk_c = 24\nyeast_percent = 0.8");
    let minutes = |yeast: f64| beside(&planned(&text(yeast), Anchor::MixAt(8.0)), "bulk").0;
    let ratio = minutes(0.4) / minutes(0.8);
    assert!((1.7..2.05).contains(&ratio), "{ratio}");
    // Without a dose of its own the reference has that of the file, and keeps it where the yeast varies.
    let (bake, places) = demo(&own(0.8, "bulk_min = 60\nbulk_c = 24"));
    let vary = pointage::plan::compare(
        &bake,
        &places,
        Anchor::MixAt(8.0),
        &shipped(),
        pointage::plan::Condition::Yeast,
        &[0.4, 0.8],
    );
    let varied = vary
        .unwrap()
        .into_iter()
        .map(|one| bulk_h(&one.plan.unwrap()) * 60.0);
    for (varied, given) in varied.zip([minutes(0.4), minutes(0.8)]) {
        assert!((varied - given).abs() < 0.01, "{varied} {given}");
    }
}

/// A rise that a jar has shown after the minutes of the reference is the rise of every plan, and the speed of its proof.
#[test]
fn a_rise_of_the_reference_is_what_a_jar_shows() {
    let anchor = Anchor::MixAt(8.0);
    let known = "bulk_min = 60\nbulk_c = 24\nbulk_rise = 1.6";
    for yeast in [0.4, 0.8] {
        let plan = planned(&own(yeast, known), anchor);
        assert!((plan.bulk_rise - 1.6).abs() < 1e-6, "{}", plan.bulk_rise);
        assert!((stage(&plan, "bulk").rise.unwrap() - 1.6).abs() < 1e-6);
        let (min, c) = beside(&plan, "bulk");
        let again = own(
            yeast,
            &format!("bulk_min = {min}\nbulk_c = {c}\nbulk_rise = 1.6"),
        );
        assert!((beside(&planned(&again, anchor), "bulk").0 - min).abs() < SECOND);
    }
    let proof = |lines| stage(&planned(&own(0.4, lines), anchor), "proof").hours();
    // It rises further in the hour than published yeast does, so that the proof is faster too.
    assert!(proof(known) < 0.7 * proof("bulk_rise = 1.6"));
    let slow = "bulk_min = 5\nbulk_c = 18\nbulk_rise = 3.9";
    let (bake, places) = demo(&own(0.1, slow));
    let error = plan(&bake, &places, anchor, &shipped(), Detail::default()).unwrap_err();
    assert!(
        error.to_string().starts_with("[reference] bulk_rise"),
        "{error}"
    );
}

/// A bulk by the clock stays by the clock; the reference of its proof counts from there.
#[test]
fn minutes_of_the_process_are_by_the_clock() {
    let text = own(
        0.5,
        "bulk_min = 60\nbulk_c = 24\nproof_min = 45\nproof_c = 24",
    )
    .replace("[process]", "[process]\nbulk_min = 90");
    let plan = planned(&text, Anchor::MixAt(8.0));
    assert!((60.0 * bulk_h(&plan) - 90.0).abs() < 1e-6);
    assert!(!has!(
        plan.notes,
        Finding::FromReference { stage: "bulk", .. }
    ));
    // It has gone on for longer than the reference, so that less is left of the proof.
    assert!(beside(&plan, "proof").0 < 45.0);
}

#[test]
fn half_a_reference_is_refused() {
    let refused = |lines: &str| Bake::from_toml(&own(0.4, lines)).unwrap_err().to_string();
    for (lines, why) in [
        (
            "bulk_min = 60",
            "[reference] bulk_min: bulk_min needs bulk_c",
        ),
        (
            "proof_c = 24",
            "[reference] proof_c: proof_c needs proof_min",
        ),
        (
            "preferment_h = 8\npreferment_c = 22",
            "needs a [preferment]",
        ),
        ("bulk_min = 2\nbulk_c = 24", "between 5 and 5760 min"),
    ] {
        let error = refused(lines);
        assert!(error.contains(why), "{error}");
    }
    let both = own(0.4, "bulk_rise = 1.5").replace("[process]", "[process]\nbulk_rise = 1.8");
    let error = Bake::from_toml(&both).unwrap_err().to_string();
    assert!(
        error.contains("[process] bulk_rise") && error.contains("keep one"),
        "{error}"
    );
    let found = own(0.4, "bulk_min = 60\nbulk_c = 24").replace("yeast_percent = 0.4", "");
    let found = found.replace("[process]", "[process]\nbulk_h = 2");
    let error = Bake::from_toml(&found).unwrap_err().to_string();
    assert!(error.contains("yeast_percent"), "{error}");
}

/// A jar tells the speed of a dough whose rise is known, and nothing of one that goes by minutes alone.
#[test]
fn a_rise_is_read_beside_a_known_one() {
    let minutes = "bulk_min = 60\nbulk_c = 24";
    let (bake, places) = demo(&own(0.4, minutes));
    let seen = [observed(Checkpoint::BulkRise(1.4), 9.0)];
    let refused = adjust(&bake, &places, Anchor::MixAt(8.0), &shipped(), &seen);
    assert!(refused.unwrap_err().to_string().contains("add bulk_rise"));
    // Further than the reference at the end of its own minutes: faster.
    let text = own(0.4, &format!("{minutes}\nbulk_rise = 1.6"));
    let end = stage(&planned(&text, Anchor::MixAt(8.0)), "bulk").end_h;
    let faster = adjusted(
        &text,
        Anchor::MixAt(8.0),
        &[observed(Checkpoint::BulkRise(1.75), end)],
    );
    let speed = find!(faster.changes, Finding::DoughSpeed { speed_percent, .. } => *speed_percent);
    assert!((105.0..130.0).contains(&speed.unwrap()), "{speed:?}");
    let same = adjusted(
        &text,
        Anchor::MixAt(8.0),
        &[observed(Checkpoint::BulkRise(1.6), end)],
    );
    let speed = find!(same.changes, Finding::DoughSpeed { speed_percent, .. } => *speed_percent);
    assert!((speed.unwrap() - 100.0).abs() < 1e-3, "{speed:?}");
}
