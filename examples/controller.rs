//! A proofer's controller that survives a power cut: it saves where the dough stands, goes on from there, and
//! is put right by the jar beside it.
use pointage::ambient::{Ambient, TemperatureProfile};
use pointage::ferment::{EndPoint, Inoculum, Kind, Measurement, Parameters, Stage, State};
use pointage::units::Temperature;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let parameters = Parameters::shipped()?;
    let dough = Stage {
        composition: Kind::Dough.usual()?,
        yeast: Inoculum {
            added: 1.6,
            carried: 0.0,
        },
        end: EndPoint::Doubled,
        own_heat: None,
    };
    let ferment = dough.fermentation(&parameters)?;
    let proofer = Ambient::constant(Temperature::celsius(28.0)?)?;
    // The dough nears the proofer by two thirds in 0.6 h.
    let from_here = |state: &State| {
        let dough = Temperature::celsius(state.temperature_c())?;
        TemperatureProfile::following(&proofer, 0.0, dough, 0.6)
    };

    // An hour, minute by minute, each saved; then the power is cut.
    let mut saved = serde_json::to_string(&ferment.start_at(Temperature::celsius(24.0)?))?;
    for _ in 0..60 {
        let state: State = serde_json::from_str(&saved)?;
        let state = ferment.after(&state, &from_here(&state)?, 1.0 / 60.0)?;
        saved = serde_json::to_string(&state)?;
    }

    // Power again: the probe reads 26.5 °C, the jar stands at 1.4 times its volume.
    let state: State = serde_json::from_str(&saved)?;
    let state = ferment.corrected(
        &state,
        Measurement::Temperature(Temperature::celsius(26.5)?),
    )?;
    let state = ferment.corrected(&state, Measurement::VolumeRatio(1.4))?;
    let goal = dough.end_gas(&parameters, 26.5);
    let done = ferment
        .until_gas(&state, &from_here(&state)?, goal)?
        .ok_or("never doubled")?;
    println!(
        "doubled {:.1} h after the mix, {:.1} h from now",
        done.hours(),
        done.hours() - state.hours()
    );
    assert!((ferment.volume_ratio(&state) - 1.4).abs() < 1e-9);
    Ok(())
}
