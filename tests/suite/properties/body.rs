//! How fast a dough follows its room, the heat of wetting, and the cautions.

use super::{c, cases, close};
use pointage::heat::Caution;
use pointage::heat::cautions::Limits;
use pointage::heat::dough_body::{Body, DoughProperties, Shape};
use pointage::heat::properties::ThermalProperties;
use pointage::units::{Mass, Percent};
use proptest::prelude::*;

/// A few roundings of numbers of one sign.
const ROUNDING: f64 = 1e-13;

fn dough() -> impl Strategy<Value = DoughProperties> {
    (0.1..0.6f64, 400.0..1200.0f64, 2.0..3.5f64).prop_map(|(k, rho, c)| DoughProperties {
        conductivity_w_per_m_k: k,
        density_kg_per_m3: rho,
        heat_capacity_kj_per_kg_k: c,
    })
}

fn shape() -> impl Strategy<Value = Shape> {
    prop_oneof![
        Just(Shape::Sphere),
        (0.02..50.0f64).prop_map(|height_to_diameter| Shape::Cylinder { height_to_diameter }),
        (0.001..1.0f64).prop_map(|half_thickness_m| Shape::Slab { half_thickness_m }),
    ]
}

fn body(grams: f64, shape: Shape, dough: DoughProperties) -> Body {
    Body::new(Mass::grams(grams).unwrap(), shape, dough).unwrap()
}

/// The shape with lengths twice as large.
fn twice(shape: Shape) -> Shape {
    match shape {
        Shape::Slab { half_thickness_m } => Shape::Slab {
            half_thickness_m: 2.0 * half_thickness_m,
        },
        other => other,
    }
}

proptest! {
    #![proptest_config(cases(256))]

    /// Twice as large in every length: eight times the mass, twice the plain time constant `rho c V/(h A)` and twice
    /// both Biot numbers, which are lengths times `h/k`. A slab of eight times the mass and twice the thickness
    /// likewise: its area is four times as large.
    #[test]
    fn twice_the_size_doubles_what_goes_with_length(g in 1.0..1e6f64, shape in shape(), dough in dough(), h in 0.1..200.0f64) {
        prop_assume!(!matches!(shape, Shape::Slab { half_thickness_m } if half_thickness_m > 0.5));
        let (small, large) = (body(g, shape, dough), body(8.0 * g, twice(shape), dough));
        for ask in [Body::lumped_time_constant_h, Body::biot, Body::volume_biot] {
            let (one, two) = (ask(&small, h).unwrap(), ask(&large, h).unwrap());
            prop_assert!(one > 0.0 && close(two, 2.0 * one, ROUNDING), "{} and {}", one, two);
        }
        // With the way through the dough it is more than twice and less than four times.
        let (one, two) = (small.time_constant_h(h).unwrap(), large.time_constant_h(h).unwrap());
        prop_assert!(two > 2.0 * one * (1.0 - ROUNDING) && two < 4.0 * one * (1.0 + ROUNDING));
    }

    /// A slab does not know its area, so that its mass does not matter; any other body is slower when it is heavier.
    #[test]
    fn heavier_is_slower(g in 1.0..1e6f64, times in 1.01..10.0f64, shape in shape(), dough in dough(), h in 0.1..200.0f64) {
        let (light, heavy) = (body(g, shape, dough), body(times * g, shape, dough));
        for ask in [Body::time_constant_h, Body::lumped_time_constant_h, Body::biot, Body::volume_biot] {
            let (a, b) = (ask(&light, h).unwrap(), ask(&heavy, h).unwrap());
            if matches!(shape, Shape::Slab { .. }) {
                prop_assert!(close(a, b, ROUNDING));
            } else {
                prop_assert!(b > a, "{} and {}", a, b);
            }
        }
    }

    /// More exchange with the air is faster, but never faster than the dough conducts; both Biot numbers and the
    /// plain conductance go with it in proportion.
    #[test]
    fn more_exchange_is_faster(g in 1.0..1e6f64, shape in shape(), dough in dough(), h in 0.1..100.0f64, times in 1.01..2.0f64) {
        let b = body(g, shape, dough);
        let more = h * times;
        prop_assert!(b.time_constant_h(more).unwrap() < b.time_constant_h(h).unwrap());
        prop_assert!(close(b.lumped_time_constant_h(more).unwrap() * times, b.lumped_time_constant_h(h).unwrap(), ROUNDING));
        for biot in [Body::biot, Body::volume_biot] {
            prop_assert!(close(biot(&b, more).unwrap(), times * biot(&b, h).unwrap(), ROUNDING));
        }
        // The way inside only slows it: not at all where nothing is exchanged.
        let slower = b.time_constant_h(h).unwrap() / b.lumped_time_constant_h(h).unwrap();
        let bi = b.volume_biot(h).unwrap();
        prop_assert!(slower >= 1.0 - ROUNDING);
        // At most the factor `1 + h L/(n k)` of the deepest face, and none is deeper than the end of a cylinder 50 times
        // as high as wide: 101 times its volume over its surface, with n = 3.
        prop_assert!(slower <= 1.0 + 101.0 / 3.0 * bi, "{} at Bi {}", slower, bi);
    }

    /// The shapes of which the factor is known: `1 + Bi/5` for a ball, `1 + Bi/3` for a sheet. The volume of a ball
    /// over its surface is a third of its radius, that of a sheet half its thickness.
    #[test]
    fn ball_and_sheet_have_their_factors(g in 1.0..1e6f64, l in 0.001..1.0f64, dough in dough(), h in 0.1..200.0f64) {
        for (shape, n, part) in [(Shape::Sphere, 5.0, 3.0), (Shape::Slab { half_thickness_m: l }, 3.0, 1.0)] {
            let b = body(g, shape, dough);
            let bi = b.biot(h).unwrap();
            let factor = b.time_constant_h(h).unwrap() / b.lumped_time_constant_h(h).unwrap();
            prop_assert!(close(factor, 1.0 + bi / n, ROUNDING), "{} at Bi {}", factor, bi);
            prop_assert!(close(b.volume_biot(h).unwrap(), bi / part, ROUNDING));
        }
    }

    /// More heat to move takes longer in proportion; a better conductor is faster.
    #[test]
    fn properties_count_as_they_should(g in 1.0..1e6f64, shape in shape(), dough in dough(), h in 0.1..200.0f64, times in 1.01..1.4f64) {
        let tau = |dough| body(g, shape, dough).time_constant_h(h).unwrap();
        let fuller = DoughProperties { heat_capacity_kj_per_kg_k: times * dough.heat_capacity_kj_per_kg_k, ..dough };
        prop_assert!(close(tau(fuller), times * tau(dough), ROUNDING));
        let conducting = DoughProperties { conductivity_w_per_m_k: times * dough.conductivity_w_per_m_k, ..dough };
        prop_assert!(tau(conducting) < tau(dough));
    }

    /// Only sensible numbers make a body or a time constant.
    #[test]
    fn odd_bodies_are_refused(x in prop_oneof![prop::num::f64::ANY, -1.0..300.0f64], dough in dough()) {
        let b = body(500.0, Shape::Sphere, dough);
        let sensible = (0.1..=200.0).contains(&x);
        for ask in [Body::time_constant_h, Body::lumped_time_constant_h, Body::biot, Body::volume_biot] {
            prop_assert_eq!(ask(&b, x).is_ok(), sensible);
        }
        let mass = Mass::grams(500.0).unwrap();
        let new = |shape| Body::new(mass, shape, dough).is_ok();
        prop_assert_eq!(new(Shape::Cylinder { height_to_diameter: x }), (0.02..=50.0).contains(&x));
        prop_assert_eq!(new(Shape::Slab { half_thickness_m: x }), (0.001..=1.0).contains(&x));
        let odd = DoughProperties { density_kg_per_m3: x, ..dough };
        prop_assert_eq!(Body::new(mass, Shape::Sphere, odd).is_ok(), (50.0..=2000.0).contains(&x));
    }

    /// The heat of wetting falls with moisture as an exponential: the heat half way is the geometric mean. It is
    /// that of the table at the moisture of the table, and is told from 0 to 20 % only.
    #[test]
    fn wetter_flour_gives_less_heat(a in 0.0..20.0f64, b in 0.0..20.0f64, out in 20.001..1000.0f64) {
        let heat = ThermalProperties::shipped().unwrap();
        let at = |w: f64| heat.hydration_kj_per_kg(Percent::new(w).unwrap()).unwrap();
        prop_assume!((a - b).abs() > 1e-9);
        prop_assert_eq!(at(a) > at(b), a < b);
        prop_assert!(at(a) > 0.0 && at(a).is_finite());
        prop_assert!(close(at(0.5 * (a + b)).powi(2), at(a) * at(b), ROUNDING));
        prop_assert_eq!(at(heat.hydration_reference_percent), heat.hydration_heat_kj_per_kg);
        prop_assert!(heat.hydration_kj_per_kg(Percent::new(out).unwrap()).is_err());
    }

    /// Cautions come where a limit is passed and only there, with the temperature that passed it.
    #[test]
    fn cautions_come_past_their_limits(t in -100.0..150.0f64) {
        let limits = Limits::shipped().unwrap();
        let t = c(t);
        let water = limits.water_cautions(t);
        prop_assert_eq!(water.is_empty(), t >= limits.chilled_water_c && t <= limits.bare_yeast_c);
        let hot = |w: &Caution| matches!(w, Caution::WaterKillsYeast { water_c, .. } if *water_c == t.as_celsius());
        prop_assert_eq!(water.iter().any(hot), t > limits.bare_yeast_c);
        let iced = |w: &Caution| matches!(w, Caution::WaterBelowFreezing { .. });
        prop_assert_eq!(water.iter().any(iced), t.as_celsius() < 0.0);
        let instant = limits.instant_yeast_caution(t);
        prop_assert_eq!(instant.is_some(), t < limits.instant_yeast_c);
        let dough = limits.dough_cautions(t);
        prop_assert_eq!(dough.is_empty(), t <= limits.warm_dough_c);
        let hot = |d: &Caution| matches!(d, Caution::HotDough { dough_c, .. } if *dough_c == t.as_celsius());
        prop_assert_eq!(dough.iter().any(hot), t > limits.hot_dough_c);
    }
}
