//! A proofer that re-plans each minute: its sensor says how warm it was, the model how far the dough
//! is, and the set point is moved so that the dough has doubled when the oven is free.
use pointage::ambient::{Ambient, TemperatureProfile};
use pointage::ferment::{EndPoint, Fermentation, Inoculum, Kind, Parameters, Stage, State};
use pointage::units::Temperature;

/// The oven is free after these hours.
const OVEN_H: f64 = 2.5;
/// The dough nears the proofer by two thirds in these hours.
const TAU_H: f64 = 0.6;
/// What the proofer can do, °C.
const COOLEST_C: f64 = 6.0;
const WARMEST_C: f64 = 36.0;

fn main() -> pointage::Result<()> {
    let numbers = Parameters::shipped()?;
    let dough = Stage {
        composition: Kind::Dough.usual()?,
        yeast: Inoculum {
            added: 1.6,
            carried: 0.0,
        },
        end: EndPoint::Doubled,
        own_heat: None,
    };
    let ferment = dough.fermentation(&numbers)?;
    let goal = numbers.gas_at(dough.end);

    let mut state = ferment.start();
    let mut dough_c = 25.0;
    let mut proofer_c = 27.0;
    let mut set_c = 27.0;
    let minute_h = 1.0 / 60.0;
    for minute in 0.. {
        // The last minute, as the sensor saw it.
        let before_c = proofer_c;
        proofer_c = sensor(minute, proofer_c, set_c);
        let past = Ambient::ramps(&[(0.0, before_c), (minute_h, proofer_c)])?;
        let course =
            TemperatureProfile::following(&past, 0.0, Temperature::celsius(dough_c)?, TAU_H)?;
        state = ferment.after(&state, &course, minute_h)?;
        dough_c = state.temperature_c;

        // From here on: the set point that makes it double at the hour.
        let left_h = OVEN_H - state.hours;
        if state.gas >= goal || left_h <= minute_h {
            break;
        }
        set_c = set_point(&ferment, &state, goal, left_h)?;
        if minute % 15 == 0 {
            println!(
                "{minute:3} min  proofer {proofer_c:4.1} °C, dough {dough_c:4.1} °C, {:3.0} % of doubled; set {set_c:4.1} °C",
                100.0 * state.gas / goal
            );
        }
    }
    println!(
        "{:3.0} min  the oven is free; the dough is at {:.0} % of doubled",
        60.0 * state.hours,
        100.0 * state.gas / goal
    );
    assert!((state.gas / goal - 1.0).abs() < 0.02);
    Ok(())
}

/// The temperature of the proofer with which the dough comes to `goal` in `left_h`, by halving.
fn set_point(
    ferment: &Fermentation<'_>,
    now: &State,
    goal: f64,
    left_h: f64,
) -> pointage::Result<f64> {
    let (mut low, mut high) = (COOLEST_C, WARMEST_C);
    for _ in 0..12 {
        let middle = f64::midpoint(low, high);
        let place = Ambient::constant(Temperature::celsius(middle)?)?;
        let dough = Temperature::celsius(now.temperature_c)?;
        let course = TemperatureProfile::following(&place, 0.0, dough, TAU_H)?;
        if ferment.after(now, &course, left_h)?.gas < goal {
            low = middle;
        } else {
            high = middle;
        }
    }
    Ok(f64::midpoint(low, high))
}

/// A stand-in for the real sensor: the proofer nears its set point, and its door stands open for a
/// while.
fn sensor(minute: u32, now_c: f64, set_c: f64) -> f64 {
    let pull_c = if (50..65).contains(&minute) {
        17.0
    } else {
        set_c
    };
    now_c + (pull_c - now_c) * 0.12
}
