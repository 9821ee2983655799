//! Learning from a log: which changes of it change nothing, and by how much the others do.

use super::{c, cases, close, is_one_line};
use pointage::ferment::{Kind, Parameters};
use pointage::learn::fit::{Learned, Offers, learn};
use pointage::learn::log::{History, LoggedDough, LoggedPlace, Observation, Seen};
use proptest::prelude::*;
use std::sync::OnceLock;

/// A sum of squares is flat to its last bits within 1e-7 of a prior deviation: a number found is good for this.
const FOUND: f64 = 1e-6;

fn shipped() -> &'static Parameters {
    static P: OnceLock<Parameters> = OnceLock::new();
    P.get_or_init(|| Parameters::shipped().unwrap())
}

/// A dough as bakers make it, and how far its time is off what the shipped table says, in log time.
fn row() -> impl Strategy<Value = (LoggedDough, f64)> {
    let kind = prop::sample::select(vec![
        (Kind::Poolish, 0.1, 17.0),
        (Kind::Biga, 0.3, 16.0),
        (Kind::Dough, 0.6, 20.0),
    ]);
    (kind, 1.0..4.0f64, 0.0..8.0f64, -0.3..0.3f64).prop_map(
        |((kind, least, coldest), times, warmer, off)| {
            let bake = LoggedDough {
                kind,
                composition: kind.usual().unwrap(),
                fresh_percent: least * times,
                history: History::default(),
                place: LoggedPlace::Held(c(coldest + warmer)),
                rise: None,
            };
            (bake, off)
        },
    )
}

fn hours(bake: &LoggedDough) -> f64 {
    bake.ready(shipped()).unwrap()
}

/// A log of doughs that were seen ripe.
fn ripe() -> impl Strategy<Value = Vec<Observation>> {
    prop::collection::vec(row(), 1..7).prop_map(|rows| {
        let seen = |(line, (bake, off)): (u64, (LoggedDough, f64))| Observation {
            line,
            hours: hours(&bake) * off.exp(),
            bake,
            seen: Seen::Ready,
            rise: None,
            date: String::new(),
        };
        (2..).zip(rows).map(seen).collect()
    })
}

/// The same with some that were only looked at too soon or too late.
fn mixed() -> impl Strategy<Value = Vec<Observation>> {
    let seen = prop::sample::select(vec![Seen::Ready, Seen::Ready, Seen::NotYet, Seen::Past]);
    (ripe(), prop::collection::vec(seen, 7)).prop_map(|(mut log, seen)| {
        log.iter_mut().zip(seen).for_each(|(o, seen)| o.seen = seen);
        log
    })
}

fn scatter() -> impl Strategy<Value = Option<f64>> {
    prop::sample::select(vec![None, Some(0.08)])
}

/// Values, errors and scatter of the two are the same.
fn same(a: &Learned, b: &Learned) -> std::result::Result<(), TestCaseError> {
    prop_assert_eq!(a.estimates.len(), b.estimates.len());
    for (a, b) in a.estimates.iter().zip(&b.estimates) {
        prop_assert_eq!(a.name, b.name);
        prop_assert!((a.moved - b.moved).abs() < FOUND, "{:?} and {:?}", a, b);
        prop_assert!(
            (a.learned_share - b.learned_share).abs() < FOUND,
            "{:?} and {:?}",
            a,
            b
        );
        prop_assert_eq!(a.standard_error.is_some(), b.standard_error.is_some());
        if let (Some(a), Some(b)) = (a.standard_error, b.standard_error) {
            prop_assert!(close(a, b, 10.0 * FOUND), "{} and {}", a, b);
        }
    }
    Ok(())
}

proptest! {
    #![proptest_config(cases(24))]

    /// The order of the rows says nothing, with rows of one side only.
    #[test]
    fn the_order_of_rows_does_not_matter(
        (log, other) in mixed().prop_flat_map(|log| (Just(log.clone()), Just(log).prop_shuffle())),
        scatter in scatter(),
    ) {
        let (a, b) = (learn(&log, shipped(), scatter).unwrap(), learn(&other, shipped(), scatter).unwrap());
        prop_assert!(close(a.scatter, b.scatter, FOUND));
        same(&a, &b)?;
        // Each row is told where it stood.
        let lines = |learned: &Learned| learned.rows.iter().map(|r| r.line).collect::<Vec<_>>();
        prop_assert_eq!(lines(&b), other.iter().map(|o| o.line).collect::<Vec<_>>());
        let (a, b) = (a.predict(&log[0].bake).unwrap(), b.predict(&log[0].bake).unwrap());
        prop_assert!(close(a.hours, b.hours, FOUND) && close(a.high_h, b.high_h, 10.0 * FOUND));
    }

    /// A log that says what the table says moves nothing, and takes error away.
    #[test]
    fn a_log_like_the_table_moves_nothing(log in ripe()) {
        let exact: Vec<Observation> = log.into_iter().map(|o| Observation { hours: hours(&o.bake), ..o }).collect();
        let learned = learn(&exact, shipped(), None).unwrap();
        for e in &learned.estimates {
            prop_assert!(e.moved.abs() < FOUND, "{:?}", e);
            prop_assert!(e.standard_error.is_none_or(|error| error < e.prior_sd), "{:?}", e);
        }
        for row in &learned.rows {
            prop_assert!(close(row.predicted_h, row.seen_h, FOUND), "{:?}", row);
        }
    }

    /// Times all longer by one factor never teach a shorter time than times as they are, and the other way round, where
    /// none is so far off that it may be mistyped.
    #[test]
    fn longer_times_teach_longer_times(log in ripe(), slower in 1.05..1.5f64) {
        let longer: Vec<Observation> = log.iter().map(|o| Observation { hours: slower * o.hours, ..o.clone() }).collect();
        let of = |log: &[Observation]| learn(log, shipped(), Some(0.3)).unwrap();
        let (a, b) = (of(&log), of(&longer));
        let sum = |l: &Learned| l.rows.iter().map(|r| r.predicted_h.ln()).sum::<f64>();
        prop_assert!(sum(&b) > sum(&a), "{} and {}", sum(&a), sum(&b));
        // But the table holds it back: by no more than the rows say.
        prop_assert!(sum(&b) - sum(&a) < log.len() as f64 * slower.ln() + FOUND);
    }

    /// Whatever is in the log: every number told is one, every range has its time inside, every share is a share.
    #[test]
    fn what_is_told_is_a_number(log in mixed(), far in prop::collection::vec(-3.0..3.0f64, 7), scatter in scatter()) {
        let wild = log.into_iter().zip(far).map(|(o, far)| {
            Observation { hours: (o.hours * far.exp()).clamp(0.1, 504.0), ..o }
        });
        let wild: Vec<Observation> = wild.collect();
        let learned = match learn(&wild, shipped(), scatter) {
            Ok(learned) => learned,
            Err(e) => {
                prop_assert!(is_one_line(&e), "{:?}", e);
                return Ok(());
            }
        };
        prop_assert!(learned.scatter.is_finite() && learned.scatter > 0.0);
        for e in &learned.estimates {
            prop_assert!(e.value.is_finite() && e.moved.is_finite() && (0.0..=1.0).contains(&e.learned_share), "{:?}", e);
            prop_assert!(e.standard_error.is_none_or(|s| s.is_finite() && s > 0.0), "{:?}", e);
        }
        for r in &learned.rows {
            prop_assert!(r.predicted_h > 0.0 && r.predicted_h.is_finite() && r.standardised.is_finite(), "{:?}", r);
            prop_assert!((0.0..=1.0).contains(&r.weight), "{:?}", r);
        }
        for found in &learned.findings {
            let all = format!("{found:?}");
            prop_assert!(!all.contains("NaN") && !all.contains(" inf"), "{}", all);
        }
        if let Ok(p) = learned.predict(&wild[0].bake) {
            prop_assert!(0.0 < p.low_h && p.low_h < p.hours && p.hours < p.high_h && p.high_h.is_finite(), "{:?}", p);
        }
    }

    /// The next bake is one of the offers, ready in the time one would wait, and makes forecasts surer; the order of
    /// the offers says nothing; without offers there is none.
    #[test]
    fn the_next_bake_is_an_offer_that_helps(log in ripe(), longest in 6.0..30.0f64, order in 0..6_usize) {
        let learned = learn(&log, shipped(), None).unwrap();
        let mut offers = Offers { kinds: vec![Kind::Poolish, Kind::Dough], ..Offers::default() };
        offers.fresh_percent = vec![0.2, 0.8];
        offers.temperatures.truncate(4);
        offers.longest_h = longest;
        let next = learned.next_bake(&offers).unwrap();
        if let Some(next) = &next {
            prop_assert!(offers.kinds.contains(&next.kind) && offers.fresh_percent.contains(&next.fresh_percent));
            prop_assert!(offers.temperatures.contains(&c(next.temperature_c)));
            prop_assert!(next.expected_h > 0.0 && next.expected_h <= longest);
            prop_assert!(next.log_sd_then > 0.0 && next.log_sd_then < next.log_sd_now, "{:?}", next);
        }
        offers.kinds.reverse();
        offers.temperatures.rotate_left(order % 4);
        let other = learned.next_bake(&offers).unwrap();
        prop_assert_eq!(other.is_some(), next.is_some());
        if let (Some(a), Some(b)) = (&next, &other) {
            prop_assert!(close(a.log_sd_then, b.log_sd_then, FOUND), "{:?} and {:?}", a, b);
        }
        offers.kinds.clear();
        prop_assert_eq!(learned.next_bake(&offers).unwrap(), None);
    }
}
