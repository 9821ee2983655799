//! What a piece loses in the oven: three questions to one equation.

use super::{cases, close};
use pointage::formula::loss::{MAX_LOSS_PERCENT, bake_loss, baked_mass, piece_for_baked};
use pointage::units::{Mass, Percent};
use proptest::prelude::*;

fn g(grams: f64) -> Mass {
    Mass::grams(grams).unwrap()
}

fn percent(value: f64) -> Percent {
    Percent::new(value).unwrap()
}

proptest! {
    #![proptest_config(cases(256))]

    /// Dough to loaf and back, and the loss from the two. A few roundings: 1e-14 of a mass; of a small loss they
    /// count in the 100 % that it is taken from, 1e-13 of a percent.
    #[test]
    fn dough_loaf_and_loss_are_one_equation(dough in 0.1..5e4f64, loss in 0.0..60.0f64) {
        let baked = baked_mass(g(dough), percent(loss)).unwrap();
        prop_assert!(close(piece_for_baked(baked, percent(loss)).unwrap().as_grams(), dough, 1e-14));
        prop_assert!((bake_loss(g(dough), baked).unwrap().as_percent() - loss).abs() < 1e-13);
        // Forth again from a loaf.
        let piece = piece_for_baked(g(dough), percent(loss)).unwrap();
        prop_assert!(close(baked_mass(piece, percent(loss)).unwrap().as_grams(), dough, 1e-14));
        prop_assert!((bake_loss(piece, g(dough)).unwrap().as_percent() - loss).abs() < 1e-13);
    }

    /// More loss leaves less and takes a larger piece; more dough leaves more; the size itself does not matter.
    #[test]
    fn more_loss_leaves_less(dough in 1.0..5e4f64, loss in 0.0..59.0f64, more in 0.001..1.0f64, times in 0.01..100.0f64) {
        let (less, more) = (percent(loss), percent(loss + more));
        prop_assert!(baked_mass(g(dough), more).unwrap() < baked_mass(g(dough), less).unwrap());
        prop_assert!(piece_for_baked(g(dough), more).unwrap() > piece_for_baked(g(dough), less).unwrap());
        prop_assert!(baked_mass(g(dough), less).unwrap() <= g(dough));
        let of = |mass: f64| baked_mass(g(mass), less).unwrap().as_grams();
        prop_assert!(close(of(times * dough), times * of(dough), 1e-14));
        prop_assert!(of(1.01 * dough) > of(dough));
    }

    /// A loss beyond the limit, a loaf heavier than its dough and a piece of nothing are refused, nothing else is.
    #[test]
    fn what_cannot_be_is_refused(a in 0.0..2e3f64, b in 0.0..2e3f64, loss in 0.0..1000.0f64) {
        let allowed = loss <= MAX_LOSS_PERCENT;
        prop_assert_eq!(baked_mass(g(a), percent(loss)).is_ok(), allowed);
        prop_assert_eq!(piece_for_baked(g(a), percent(loss)).is_ok(), allowed);
        prop_assert_eq!(bake_loss(g(a), g(b)).is_ok(), b <= a);
        prop_assert!(bake_loss(g(0.0), g(b)).is_err());
        // Nothing is left of it: two roundings.
        prop_assert!(close(bake_loss(g(a + 1.0), g(0.0)).unwrap().as_percent(), 100.0, 1e-15));
    }
}
