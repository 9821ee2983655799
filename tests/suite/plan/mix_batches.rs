//! More dough than the mixer takes.

use super::*;
use pointage::formula::MixStage;

/// 24 pieces of 800 g in four loads, with a poolish, and a mixer that takes so much.
fn bake(mixer: &str, more: &str) -> String {
    format!(
        "format = 1\nname = \"x\"\n[formula]\npieces = 24\npiece_g = 800\nscrap_percent = 0\nhydration_percent = 68\n\
         yeast_percent = 0.3\n{POOLISH}[kitchen]\nroom_c = 22\n{mixer}\n[process]\ndough_c = 24\nautolyse_min = 20\n\
         mix_min = 12\ndivide_min = 24\nfolds_min = [30]\n{more}\n[oven]\npieces_per_load = 6\nbake_min = 40\n\
         oven_recovery_min = 10\n"
    )
}

/// By hand: 19.2 kg are two batches of 9.6 kg for a mixer of 10 kg, and four of a load each for one of 5 or 8 kg; 15 pieces a
/// load of ten are one of 10 and one of 5. A load that the mixer does not take stays one dough.
#[test]
fn as_few_batches_as_the_mixer_allows() {
    let batches = |mixer_kg: f64| -> Vec<Vec<u32>> {
        let plan = planned(
            &bake(&format!("mixer_kg = {mixer_kg}"), ""),
            Anchor::MixAt(4.0),
        );
        let pieces = |own: &Plan| own.own_loads().iter().map(|l| l.pieces).collect();
        plan.batches().map(pieces).collect()
    };
    assert_eq!(batches(20.0), [[6; 4]]);
    assert_eq!(batches(19.2), [[6; 4]]);
    assert_eq!(batches(10.0), [[6; 2]; 2]);
    // Three batches would be of two, one and one loads, and the first too large.
    assert_eq!(batches(9.0), [[6]; 4]);
    assert_eq!(batches(4.8), [[6]; 4]);
    assert_eq!(batches(4.7), [[6; 4]]);
    let text = bake("mixer_kg = 8", "").replace("pieces = 24", "pieces = 15");
    let text = text.replace("pieces_per_load = 6", "pieces_per_load = 10");
    let plan = planned(&text, Anchor::MixAt(4.0));
    let kg = plan.batches().map(|own| own.batch.dough.as_kilograms());
    let kg: Vec<f64> = kg.collect();
    assert!(
        (kg[0] - 8.0).abs() < 1e-9 && (kg[1] - 4.0).abs() < 1e-9 && kg.len() == 2,
        "{kg:?}"
    );
    // Dividing takes its share of the time.
    let divide = plan
        .batches()
        .map(|own| 60.0 * stage(own, "divide").hours());
    for (min, by_hand) in divide.zip([16.0, 8.0]) {
        assert!((min - by_hand).abs() < 1e-6, "{min}");
    }
}

/// Mixer, oven and hands do one thing at a time; each dough has the length of its own work, and all are made of one
/// preferment.
#[test]
fn batches_follow_each_other() {
    for (mixer_kg, room) in [(10.0, 22), (5.0, 22), (5.0, 28), (10.0, 17)] {
        for anchor in [
            Anchor::MixAt(4.0),
            Anchor::FirstOut(9.0),
            Anchor::LastOut(12.0),
            Anchor::StartAt(-9.0),
        ] {
            let text = bake(&format!("mixer_kg = {mixer_kg}"), "")
                .replace("room_c = 22", &format!("room_c = {room}"));
            let plan = planned(&text, anchor);
            let doughs: Vec<&Plan> = plan.batches().collect();
            assert!(doughs.len() > 1);
            assert_eq!(
                plan.loads.iter().map(|l| l.number).collect::<Vec<_>>(),
                [1, 2, 3, 4]
            );
            for pair in doughs.windows(2) {
                let wetted = stage(pair[1], "autolyse").start_h;
                assert!(
                    wetted >= stage(pair[0], "mix").end_h - 1e-6,
                    "{anchor:?} {wetted}"
                );
            }
            for pair in plan.loads.windows(2) {
                let cycle = pair[1].oven_in_h - pair[0].oven_in_h;
                assert!(cycle >= 50.0 / 60.0 - 0.02, "{anchor:?} {cycle}");
            }
            let mut hands: Vec<(f64, f64)> = Vec::new();
            for step in plan.hands_on() {
                if matches!(step.task, Task::Divide | Task::Shape) {
                    hands.push((step.start_h, step.end_h));
                }
            }
            for pair in hands.windows(2) {
                assert!(
                    pair[1].0 >= pair[0].1 - 0.02,
                    "{mixer_kg} {room} {anchor:?} {hands:?}"
                );
            }
            for own in &doughs {
                assert!((60.0 * stage(own, "mix").hours() - 12.0).abs() < 1e-6);
                assert!((60.0 * stage(own, "autolyse").hours() - 20.0).abs() < 1e-6);
                assert!((own.folds_h[0] - stage(own, "mix").end_h - 0.5).abs() < 1e-6);
                assert!((own.bulk_rise - 2.0).abs() < 1e-3, "{}", own.bulk_rise);
            }
            // The preferment is made once, for all: 30 % of the flour and as much water of 19.2 kg.
            let mixes = plan
                .hands_on()
                .into_iter()
                .filter(|s| s.task == Task::Preferment);
            assert_eq!(mixes.count(), 1);
            let share = |own: &Plan| own.batch.stage_mass(MixStage::Preferment).as_grams();
            let all: f64 = doughs.iter().map(|own| share(own)).sum();
            assert!((share(&plan) * plan.preferment_times - all).abs() < 1e-6 * all);
            let hour = match anchor {
                Anchor::LastOut(_) => plan.loads[3].oven_out_h,
                Anchor::FirstOut(_) => plan.loads[0].oven_out_h,
                Anchor::MixAt(_) => stage(&plan, "mix").start_h,
                _ => plan.preferment.as_ref().unwrap().mixed_h,
            };
            assert!((hour - anchor.hour()).abs() < 1e-3, "{anchor:?} {hour}");
        }
    }
}

/// What another dough gets of the preferment is made beside what all batches take.
#[test]
fn another_dough_has_its_part_of_the_preferment() {
    let extra = bake("mixer_kg = 5", "").replace(
        "dose_percent = 0.1",
        "dose_percent = 0.1\nextra_preferment_g = 3000",
    );
    let plan = planned(&extra, Anchor::MixAt(4.0));
    let (all, own) =
        find!(plan.warnings, Finding::ExtraPreferment { all_g, own_g } => (*all_g, *own_g))
            .unwrap();
    assert!((all - own - 3000.0).abs() < 1e-6, "{all} {own}");
    // 30 % of the flour and as much water: 60 parts of 170.3 in 19.2 kg, salt and yeast included.
    assert!((own / 19_200.0 - 60.0 / 170.3).abs() < 0.005, "{own}");
    let plain = planned(&bake("mixer_kg = 5", ""), Anchor::MixAt(4.0));
    assert!(!has!(plain.warnings, Finding::ExtraPreferment { .. }));
}

/// Loads that would be past their window from one dough are inside it from several.
#[test]
fn a_batch_of_its_own_is_as_fresh_as_the_first() {
    let one = planned(&bake("", "hold_later_loads = []"), Anchor::FirstOut(9.0));
    assert!(one.problem.is_some() && one.loads[3].ripeness > 1.3);
    let four = planned(
        &bake("mixer_kg = 5", "hold_later_loads = []"),
        Anchor::FirstOut(9.0),
    );
    assert!(four.problem.is_none(), "{:?}", four.problem);
    assert!(
        four.loads
            .iter()
            .all(|l| (l.ripeness - 1.0).abs() < 0.2 && l.in_window)
    );
    assert_eq!(
        four.loads.iter().map(|l| l.batch).collect::<Vec<_>>(),
        [1, 2, 3, 4]
    );
    let kg = find!(four.notes, Finding::MixBatches { batches: 4, mix_kg, .. } => *mix_kg).unwrap();
    assert!((kg - 4.8).abs() < 1e-9);
    // The poolish goes on: its last part is used some two and a half hours after the first, past its fall.
    let late =
        find!(four.warnings, Finding::LateBatches { from_batch, late_h } => (*from_batch, *late_h));
    let (from_batch, late_h) = late.unwrap();
    let close = four.preferment.as_ref().unwrap().window_close_h.unwrap();
    let after = |own: &Plan| stage(own, "mix").start_h - close;
    let after: Vec<f64> = four.batches().map(after).collect();
    assert!((after[3] - late_h).abs() < 1e-6, "{after:?} {late_h}");
    for (own, batch) in after.iter().zip(1..) {
        assert_eq!(*own > 1.0 / 60.0, batch >= from_batch, "{after:?}");
    }
}

/// A measurement of the first mix moves the batches behind it too; on plan it moves none. Two hours at once are refused.
#[test]
fn a_day_of_batches_is_adjusted() {
    let (bake, places) = demo(&bake("mixer_kg = 10", ""));
    let (p, anchor) = (shipped(), Anchor::MixAt(4.0));
    let mixed = |c: f64| {
        let what = Checkpoint::Mixed(Temperature::celsius(c).unwrap());
        let at = 4.2;
        adjust(&bake, &places, anchor, &p, &[Measured { what, at }]).unwrap()
    };
    let on_plan = mixed(24.0);
    for (a, b) in on_plan.before.loads.iter().zip(&on_plan.after.loads) {
        assert!((a.oven_in_h - b.oven_in_h).abs() < 1e-6);
    }
    let warm = mixed(27.0);
    assert_eq!((warm.before.loads.len(), warm.after.loads.len()), (4, 4));
    assert!(warm.after.loads[0].oven_in_h < warm.before.loads[0].oven_in_h - 0.2);
    assert!(warm.after.loads[3].oven_in_h < warm.before.loads[3].oven_in_h - 0.2);
    let two = reconcile(
        &bake,
        &places,
        &[Anchor::ComeInAt(4.0), Anchor::LastOut(13.0)],
        &p,
    );
    assert!(two.unwrap_err().to_string().contains("mixer_kg"));
}
