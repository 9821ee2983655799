//! The plan meets the dough: what was measured on the way, and what it means for the rest.
//!
//! A measurement replaces what the plan had forecast for that moment: the dough off the mixer is as warm
//! as it was measured, the preferment was ripe when it was seen to be, the dough in bulk makes gas as
//! fast as it has risen. Weights stay as they were weighed. A measurement equal to the forecast changes
//! nothing.

use super::bake::Bake;
use super::environment::Environment;
use super::process::{BulkResult, DoughProcess, Known, Ripening};
use super::{Anchor, Detail, Found, Plan, find, first_shares, loads};
use crate::error::{Error, Result, check};
use crate::ferment::Parameters;
use crate::formula::Stage;
use crate::numeric;
use crate::units::{Temperature, as_hours};

/// Something that was measured or seen; hours are on the plan's clock.
#[derive(Debug, Clone, Copy, PartialEq)]
#[non_exhaustive]
pub enum Measured {
    /// The preferment was ripe at this hour.
    PrefermentRipe {
        /// When.
        hour: f64,
    },
    /// The preferment is not ripe yet at the hour when it should be used.
    PrefermentUnripe {
        /// When.
        hour: f64,
    },
    /// The preferment is past its best at this hour.
    PrefermentPast {
        /// When.
        hour: f64,
    },
    /// The dough came off the mixer at this temperature.
    Mixed {
        /// How warm.
        dough: Temperature,
        /// When.
        hour: f64,
    },
    /// The dough in bulk has risen, in a straight-sided jar, to so many times its volume off the mixer.
    BulkRise {
        /// Volume over volume off the mixer, 1 to 5.
        ratio: f64,
        /// When.
        hour: f64,
    },
}

impl Measured {
    fn hour(self) -> f64 {
        match self {
            Self::PrefermentRipe { hour }
            | Self::PrefermentUnripe { hour }
            | Self::PrefermentPast { hour }
            | Self::Mixed { hour, .. }
            | Self::BulkRise { hour, .. } => hour,
        }
    }
}

/// A plan before and after what was measured.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Adjusted {
    /// As it was.
    pub before: Plan,
    /// As it is now.
    pub after: Plan,
    /// What changed, a line for each measurement.
    pub changes: Vec<String>,
    /// What to do.
    pub advice: Vec<String>,
    /// When the dough comes out of the cold because it is done there before its time.
    pub out_of_cold_h: Option<f64>,
}

/// Forecasts the rest of a plan from what was measured on the way.
///
/// # Errors
/// No measurement, one that cannot belong to this plan, or whatever planning refuses.
///
/// ```
/// # use pointage::ferment::Parameters;
/// use pointage::plan::{Anchor, Measured, adjust, bake::Bake};
/// use pointage::units::Temperature;
/// # let bake = Bake::from_toml("format = 1\nname = \"x\"\n[formula]\npieces = 4\npiece_g = 800\nhydration_percent = 68\nyeast_percent = 0.5\n[kitchen]\nroom_c = 22\n[process]\ndough_c = 25\n[oven]\nbake_min = 40\n")?;
/// # let places = bake.places(|f| Err(pointage::Error::NotFinite { what: f.into() }))?;
/// let p = Parameters::shipped()?;
/// let warm = Measured::Mixed { dough: Temperature::celsius(27.4)?, hour: 8.0 + 10.0 / 60.0 };
/// let adjusted = adjust(&bake, &places, Anchor::MixAt(8.0), &p, &[warm])?;
/// assert!(adjusted.after.loads[0].oven_in_h < adjusted.before.loads[0].oven_in_h);
/// # Ok::<(), pointage::Error>(())
/// ```
pub fn adjust(
    bake: &Bake,
    places: &Environment,
    anchor: Anchor,
    p: &Parameters,
    measured: &[Measured],
) -> Result<Adjusted> {
    if measured.is_empty() {
        return Err(Error::contradiction(
            "nothing was measured; say what, such as \"mix 27.4C 19:40\"",
        ));
    }
    let mut measured = measured.to_vec();
    measured.sort_by(|a, b| a.hour().total_cmp(&b.hour()));
    agree(&measured)?;
    last_of_each(&mut measured);
    let found = find(bake, places, anchor, p)?;
    let line = DoughProcess::new(bake, p, &found.rooms)?;
    let before = found.told(&line, p, Detail::default())?;
    let mut seen = Seen::new(&found.bulked);
    let (mut changes, mut advice) = (Vec::new(), Vec::new());
    for one in &measured {
        check(
            "hour of the measurement",
            one.hour(),
            found.start() - 24.0,
            found.end() + 24.0,
            "h of the plan",
        )?;
        seen.take(&line, &found, p, *one, &mut changes, &mut advice)?;
    }
    let line = line.faster(seen.speed)?;
    let bulked = seen.bulk(&line)?;
    // The first load at its best again, or sooner for the sake of the last one.
    let mut after = None;
    for share in first_shares(p) {
        let first = loads::first(&line, &bulked, share)?;
        let slots = loads::all(&line, &bulked, first, p.window)?;
        let now = Found {
            rooms: found.rooms.clone(),
            bulked: bulked.clone(),
            slots,
            share,
        };
        let fits = now.fits(&line);
        if fits || after.is_none() {
            after = Some(now);
        }
        if fits {
            break;
        }
    }
    let after = after.ok_or(Error::NotSettled {
        what: "the adjusted plan",
        steps: 4,
    })?;
    let after = after.told(&line, p, Detail::default())?;
    let out_of_cold_h = line.cut_short(&bulked);
    if let Some(end) = out_of_cold_h {
        advice.push(format!(
            "The dough is done before its time in the cold is over: end that {:.0} min sooner than planned.",
            60.0 * (line.cold_end(&bulked) - end)
        ));
    }
    advice.extend(what_to_do(&before, &after));
    Ok(Adjusted {
        out_of_cold_h,
        before,
        after,
        changes,
        advice,
    })
}

/// Refuses what cannot all have been seen of one dough, in this order.
fn agree(measured: &[Measured]) -> Result<()> {
    // How far a preferment is, in words, and the dough behind it.
    let step = |m: &Measured| match m {
        Measured::PrefermentUnripe { .. } => (0, "the preferment unripe"),
        Measured::PrefermentRipe { .. } => (1, "the preferment ripe"),
        Measured::PrefermentPast { .. } => (2, "the preferment past its best"),
        Measured::Mixed { .. } => (3, "the dough off the mixer"),
        Measured::BulkRise { .. } => (4, "the rise of the bulk"),
    };
    for pair in measured.windows(2) {
        let ((a, before), (b, after)) = (step(&pair[0]), step(&pair[1]));
        if a > b && pair[0].hour() < pair[1].hour() {
            return Err(Error::contradiction(format!(
                "{before} cannot come before {after}; check the hours"
            )));
        }
    }
    Ok(())
}

/// Of several readings of preferment, mix or bulk the last one counts: it holds what the others told.
fn last_of_each(measured: &mut Vec<Measured>) {
    let what = |m: &Measured| match m {
        Measured::PrefermentUnripe { .. }
        | Measured::PrefermentRipe { .. }
        | Measured::PrefermentPast { .. } => 0,
        Measured::Mixed { .. } => 1,
        Measured::BulkRise { .. } => 2,
    };
    let all = measured.clone();
    let mut at = 0;
    measured.retain(|m| {
        at += 1;
        all[at..].iter().all(|later| what(later) != what(m))
    });
}

/// What is known by now.
struct Seen {
    ripening: Option<Ripening>,
    mix: f64,
    known: Known,
    /// How much faster the dough makes gas than forecast.
    speed: f64,
}

impl Seen {
    fn new(bulked: &BulkResult) -> Self {
        let known = Known {
            added: Some(bulked.added),
            by_dough: true,
            out_when_done: true,
            ..Known::default()
        };
        Self {
            ripening: bulked.preferment,
            mix: bulked.mix[0],
            known,
            speed: 1.0,
        }
    }

    fn bulk(&self, line: &DoughProcess<'_>) -> Result<BulkResult> {
        line.bulk(self.mix, self.ripening, self.known)
    }

    fn take(
        &mut self,
        line: &DoughProcess<'_>,
        found: &Found,
        p: &Parameters,
        measured: Measured,
        changes: &mut Vec<String>,
        advice: &mut Vec<String>,
    ) -> Result<()> {
        match measured {
            Measured::PrefermentRipe { hour } => self.ripe_at(line, hour, 1.0, changes),
            Measured::PrefermentUnripe { hour } => {
                // Not ripe: at the most where its window opens, and not further than forecast.
                if self.forecast_share(line, hour)? <= p.window.open {
                    changes.push("The preferment is not ripe yet, as forecast.".into());
                    return Ok(());
                }
                self.not_ripe(line, hour, p, advice)?;
                let wait = self.ripe_hour_if(line, hour, p.window.open)?;
                self.ripe_at(line, wait, 1.0, changes)
            }
            Measured::PrefermentPast { hour } => {
                // At the least where its window closes, and not less far than forecast.
                let share = self.forecast_share(line, hour)?.max(p.window.close);
                let (planned, before) = (self.preferment()?, self.bulk(line)?);
                self.ripe_at(line, hour, share, changes)?;
                self.past(line, &planned, &before, advice)
            }
            Measured::Mixed { dough, hour } => {
                check("dough off the mixer", dough.as_celsius(), 0.0, 45.0, "°C")?;
                self.mix = hour - as_hours(line.bake.process.mix);
                if let Some(ripening) = self.ripening {
                    let start = self.mix - as_hours(line.bake.process.autolyse);
                    let used = if line.joins_autolyse() {
                        start
                    } else {
                        self.mix
                    };
                    self.ripening = Some(line.preferment_used_at(&ripening, used)?);
                }
                self.known.mixed = Some(dough);
                let k = dough.as_celsius() - line.bake.process.dough.as_celsius();
                changes.push(format!("The dough came off the mixer {}.", by_k(k)));
                if let Some(b) = found.bulked.water.balance.filter(|_| k.abs() >= 0.2) {
                    advice.push(format!(
                        "Next time the water {:.1} K {} brings it to {:.1} °C.",
                        (k / b.dough_per_water).abs(),
                        if k > 0.0 { "colder" } else { "warmer" },
                        line.bake.process.dough.as_celsius()
                    ));
                }
                Ok(())
            }
            Measured::BulkRise { ratio, hour } => {
                check(
                    "rise of the bulk",
                    ratio,
                    1.0,
                    5.0,
                    "times the volume off the mixer",
                )?;
                let plain = self.bulk(line)?;
                if hour <= plain.bulk_start() {
                    return Err(Error::contradiction(
                        "the bulk has not begun at the hour of this rise; check the hour, or give the mix first",
                    ));
                }
                let forecast = line.rise_at(&plain, hour)?;
                if ratio < NO_RISE || ratio.max(forecast) < LEAST_RISE {
                    changes.push(format!(
                        "A rise to {ratio:.2} times the volume, where {forecast:.2} was forecast, cannot tell yet how fast the dough works: its water still takes up the gas."
                    ));
                    advice.push(format!(
                        "Measure the rise again in {:.0} min.",
                        60.0 * wait_to_measure(line, &plain, hour)?
                    ));
                    return Ok(());
                }
                self.speed = self.speed_of_rise(line, ratio, hour)?;
                changes.push(format!(
                    "The dough has risen to {ratio:.2} times its volume where {forecast:.2} was forecast: it works {:.0} % as fast.",
                    100.0 * self.speed
                ));
                Ok(())
            }
        }
    }

    /// The preferment has been at a share of its end point at an hour, and is used then.
    fn ripe_at(
        &mut self,
        line: &DoughProcess<'_>,
        hour: f64,
        share: f64,
        changes: &mut Vec<String>,
    ) -> Result<()> {
        let ripening = self.preferment()?;
        let forecast = ripening.used;
        self.ripening = Some(line.preferment_seen(&ripening, hour, share)?);
        self.mix = line.mix_after(hour, true);
        let minutes = 60.0 * (hour - forecast);
        changes.push(if minutes.abs() < 0.5 {
            "The preferment is used when it was forecast.".into()
        } else {
            format!(
                "The preferment is used {:.0} min {} than forecast.",
                minutes.abs(),
                if minutes < 0.0 { "sooner" } else { "later" }
            )
        });
        Ok(())
    }

    /// Share of its end point that the preferment should have come to at an hour.
    fn forecast_share(&self, line: &DoughProcess<'_>, hour: f64) -> Result<f64> {
        let ripening = self.preferment()?;
        Ok(line.preferment_at(&ripening, hour)?.gas / line.preferment_end()?)
    }

    fn preferment(&self) -> Result<Ripening> {
        self.ripening.ok_or_else(|| {
            Error::contradiction("this bake has no preferment; leave the measurement of one out")
        })
    }

    /// When a preferment is ripe that is at a share of its end point at an hour.
    fn ripe_hour_if(&self, line: &DoughProcess<'_>, hour: f64, share: f64) -> Result<f64> {
        let ripening = self.preferment()?;
        let vigour = line.preferment_vigour(&ripening, hour, share)?;
        Ok(ripening.mixed + line.ripe_hours_as_if(&ripening, vigour)?)
    }

    /// The choices with a preferment that is not ripe when it should be.
    fn not_ripe(
        &self,
        line: &DoughProcess<'_>,
        hour: f64,
        p: &Parameters,
        advice: &mut Vec<String>,
    ) -> Result<()> {
        let wait = self.ripe_hour_if(line, hour, p.window.open)? - hour;
        advice.push(format!(
            "Wait: at this pace the preferment is ripe in {:.0} min; the times below wait for it.",
            60.0 * wait
        ));
        // Or go on now, with yeast at the mix for what the preferment does not bring.
        let plain = self.bulk(line)?;
        let ripening = self
            .ripening
            .map(|r| line.preferment_seen(&r, hour, p.window.open))
            .transpose()?;
        let goal = plain.bulk_h();
        let now = line.mix_after(hour, true);
        if let Some(grams) = self.more_yeast(line, ripening, now, &plain)? {
            advice.push(format!(
                "Or go on now with {grams:.1} g more {} yeast at the mix: the bulk then keeps its {:.0} min.",
                line.bake.formula.yeast_kind.name(),
                60.0 * goal
            ));
        }
        advice.push(
            "Or go on now as it is, and give the bulk longer: look at the dough, not the clock."
                .into(),
        );
        Ok(())
    }

    /// Yeast to add at the mix so that a bulk keeps its length, g; `None` where it needs no more.
    fn more_yeast(
        &self,
        line: &DoughProcess<'_>,
        ripening: Option<Ripening>,
        mix: f64,
        plain: &BulkResult,
    ) -> Result<Option<f64>> {
        let found = numeric::meet(plain.added.max(1e-3).ln(), |log_added: f64| {
            let known = Known {
                added: Some(log_added.exp().clamp(1e-4, 20.0)),
                ..self.known
            };
            let bulk = line.bulk(mix, ripening, known)?;
            Ok::<_, Error>((plain.bulk_h() / bulk.bulk_h()).ln())
        })?;
        let more = found.map_or(0.0, |log_added| log_added.exp() - plain.added);
        if more <= 0.0 {
            return Ok(None);
        }
        let grams = plain.batch.flour.as_grams() * line.dose(more)?.as_fraction();
        // What is told as 0.0 g is no advice.
        Ok(Some(grams).filter(|&grams| grams >= 0.05))
    }

    /// The choices with a preferment that is past its best.
    fn past(
        &self,
        line: &DoughProcess<'_>,
        planned: &Ripening,
        before: &BulkResult,
        advice: &mut Vec<String>,
    ) -> Result<()> {
        let (seen, now) = (self.preferment()?, self.bulk(line)?);
        advice.push(format!(
            "The preferment is past its best: use it now. With all of it the bulk takes {:.0} min; planned were {:.0}.",
            60.0 * now.bulk_h(),
            60.0 * before.bulk_h()
        ));
        // It has grown on: less of it brings the yeast that was planned.
        let less = 1.0 - planned.state.yeast / seen.state.yeast;
        if less > 0.0 {
            let grams = less * now.batch.stage_mass(Stage::Preferment).as_grams();
            let made_of = line.bake.formula.preferment.as_ref();
            let flour = grams / (1.0 + made_of.map_or(1.0, |p| p.hydration.as_fraction()));
            advice.push(format!(
                "Or, if it smells sharp or runs, use {grams:.0} g less of it, {:.0} %, with {flour:.0} g more flour and {:.0} g more water at the mix: it then brings the yeast that was planned.",
                100.0 * less,
                grams - flour
            ));
        }
        if let Some(grams) = self
            .more_yeast(line, self.ripening, self.mix, before)?
            .filter(|_| now.bulk_h() > before.bulk_h())
        {
            advice.push(format!(
                "Or add {grams:.1} g more {} yeast at the mix: the bulk then keeps its {:.0} min.",
                line.bake.formula.yeast_kind.name(),
                60.0 * before.bulk_h()
            ));
        }
        Ok(())
    }

    /// How fast the dough works, from its rise: the factor at which the forecast rise is the measured one.
    fn speed_of_rise(&self, line: &DoughProcess<'_>, ratio: f64, hour: f64) -> Result<f64> {
        let (slow, fast) = (0.2f64, 5.0f64);
        let mut fault = None;
        let mut miss = |log_speed: f64| -> f64 {
            let rise = line.clone().faster(log_speed.exp()).and_then(|faster| {
                let bulked = self.bulk(&faster)?;
                faster.rise_at(&bulked, hour)
            });
            match rise {
                Ok(rise) => rise - ratio,
                Err(e) => {
                    fault.get_or_insert(e);
                    f64::NAN
                }
            }
        };
        // A rise as forecast must leave everything as it was, to the last digit.
        if miss(0.0).abs() < 1e-9 {
            return Ok(1.0);
        }
        let found = numeric::root(miss, slow.ln(), fast.ln());
        match (found, fault) {
            (Some(log_speed), _) => Ok(log_speed.exp()),
            (None, Some(e)) => Err(e),
            (None, None) => Err(Error::contradiction(format!(
                "a rise to {ratio} times the volume at that hour does not go with this dough, not even if it worked {slow} or {fast} times as fast; check the jar and the hour"
            ))),
        }
    }
}

/// Below this a jar shows no rise, and any low speed would go with it (by judgement).
const NO_RISE: f64 = 1.02;
/// Below this a jar, read to a few hundredths, says little of the speed (by judgement).
const LEAST_RISE: f64 = 1.1;

/// How long to wait until a rise is forecast that tells something, by tens of minutes, h.
fn wait_to_measure(line: &DoughProcess<'_>, bulked: &BulkResult, hour: f64) -> Result<f64> {
    for tens in 2..=36 {
        let wait = f64::from(tens) / 6.0;
        if line.rise_at(bulked, hour + wait)? >= 2.0 * LEAST_RISE - 1.0 {
            return Ok(wait);
        }
    }
    Ok(6.0)
}

fn by_k(k: f64) -> String {
    if k.abs() < 0.05 {
        "as warm as planned".into()
    } else {
        format!(
            "{:.1} K {} than planned",
            k.abs(),
            if k > 0.0 { "warmer" } else { "colder" }
        )
    }
}

/// What the new times ask for.
fn what_to_do(before: &Plan, after: &Plan) -> Vec<String> {
    let mut advice = Vec::new();
    let end = |plan: &Plan, name: &str| {
        plan.stages
            .iter()
            .find(|s| s.name == name)
            .map(|s| s.start_h)
    };
    if let (Some(old), Some(new)) = (end(before, "divide"), end(after, "divide")) {
        let minutes = 60.0 * (new - old);
        // Another place helps where most of it is the length of the bulk, not the hour of the mix.
        let mixed = |plan: &Plan| end(plan, "bulk");
        let moved = mixed(before)
            .zip(mixed(after))
            .map_or(0.0, |(a, b)| 60.0 * (b - a));
        let longer = minutes - moved;
        if minutes.abs() >= 1.0 {
            let place = match longer {
                l if l < 0.5 * minutes && minutes < 0.0 => ", or keep the dough in a retarder",
                l if l > 0.5 * minutes && minutes > 0.0 => ", or keep the dough in a warmer place",
                _ => "",
            };
            advice.push(format!(
                "Divide {:.0} min {} than planned{place}.",
                minutes.abs(),
                if minutes < 0.0 { "sooner" } else { "later" }
            ));
        }
    }
    let outside: Vec<String> = after
        .loads
        .iter()
        .filter(|l| !l.in_window)
        .map(|l| l.number.to_string())
        .collect();
    if !outside.is_empty() {
        advice.push(format!(
            "{} {} would enter the oven outside its window: divide or shape it later, or hold it cold.",
            if outside.len() == 1 { "Load" } else { "Loads" },
            outside.join(", ")
        ));
    }
    advice
}

#[cfg(test)]
mod tests {
    use super::*;

    const POOLISH: &str = "format = 1\nname = \"x\"\n[formula]\npieces = 8\npiece_g = 800\nhydration_percent = 68\nyeast_percent = 0.3\n[preferment]\nkind = \"poolish\"\nflour_percent = 30\ndose_percent = 0.1\n[kitchen]\nroom_c = 21\n[process]\ndough_c = 25\n[oven]\nbake_min = 40\n";

    /// Does something with a plan that was found, and what is known of it before anything is measured.
    fn seeing(with: impl FnOnce(&DoughProcess<'_>, &Parameters, &Found, Seen)) {
        let p = Parameters::shipped().unwrap();
        let bake = Bake::from_toml(POOLISH).unwrap();
        let places = bake
            .places(|_| Err(Error::malformed("no records")))
            .unwrap();
        let found = find(&bake, &places, Anchor::MixAt(8.0), &p).unwrap();
        let line = DoughProcess::new(&bake, &p, &found.rooms).unwrap();
        with(&line, &p, &found, Seen::new(&found.bulked));
    }

    /// The yeast that is advised for a preferment that is behind does what is said of it: weighed at the mix in
    /// the baker's kind, the bulk keeps its length. One as forecast, or livelier, needs none.
    #[test]
    fn more_yeast_keeps_the_length_of_the_bulk() {
        seeing(|line, p, found, seen| {
            let plain = seen.bulk(line).unwrap();
            let ripe = found.bulked.preferment.unwrap();
            let of_share = |share| line.preferment_seen(&ripe, ripe.used, share).unwrap();
            let behind = of_share(p.window.open);
            let more = |r| seen.more_yeast(line, Some(r), seen.mix, &plain).unwrap();
            let grams = more(behind).unwrap();
            assert!(grams > 0.01, "{grams}");
            // As fresh, % of all flour: one of fresh yeast is so many of the baker's kind.
            let kind = line.dose(1.0).unwrap().as_percent();
            let fresh = 100.0 * grams / plain.batch.flour.as_grams() / kind;
            let with = |added: f64| {
                let known = Known {
                    added: Some(added),
                    ..seen.known
                };
                line.bulk(seen.mix, Some(behind), known).unwrap().bulk_h()
            };
            assert!((with(plain.added + fresh) - plain.bulk_h()).abs() < 1e-3);
            assert!(with(plain.added) > plain.bulk_h() + 0.05);
            assert_eq!(more(of_share(p.window.close)), None);
        });
    }

    /// A rise just as forecast is a dough just as fast, to the last digit; a higher one is a faster dough, which
    /// has that rise.
    #[test]
    fn the_speed_of_a_rise_gives_that_rise() {
        seeing(|line, _, found, seen| {
            let hour = found.bulked.bulk_start() + 0.6 * found.bulked.bulk_h();
            let forecast = line.rise_at(&seen.bulk(line).unwrap(), hour).unwrap();
            assert_eq!(seen.speed_of_rise(line, forecast, hour).unwrap(), 1.0);
            for more in [-0.05, 0.05, 0.2] {
                let speed = seen.speed_of_rise(line, forecast + more, hour).unwrap();
                assert_eq!(speed > 1.0, more > 0.0);
                let faster = line.clone().faster(speed).unwrap();
                let rise = faster.rise_at(&seen.bulk(&faster).unwrap(), hour).unwrap();
                assert!((rise - forecast - more).abs() < 1e-6);
            }
        });
    }

    /// The wait for a better reading is the first of 20, 30, 40 ... min after which a fifth of rise is forecast,
    /// twice what can be read at all; six hours where that is further off.
    #[test]
    fn a_better_reading_is_where_a_fifth_is_forecast() {
        seeing(|line, _, _, seen| {
            let bulked = seen.bulk(line).unwrap();
            let rise = |hour: f64| line.rise_at(&bulked, hour).unwrap();
            let mut longer = 0;
            for after in [0.1, 0.3, 0.5, 1.0, 1.5] {
                let hour = bulked.bulk_start() + after;
                let wait = wait_to_measure(line, &bulked, hour).unwrap();
                let tens = 6.0 * wait;
                assert!((tens - tens.round()).abs() < 1e-9 && (2.0..=36.0).contains(&tens.round()));
                assert!(rise(hour + wait) >= 1.2);
                if tens > 2.5 {
                    assert!(rise(hour + wait - 1.0 / 6.0) < 1.2);
                    longer += 1;
                }
            }
            assert!(longer > 1, "{longer}");
            // Long before the mix nothing rises for more than six hours.
            assert_eq!(
                wait_to_measure(line, &bulked, bulked.bulk_start() - 7.0).unwrap(),
                6.0
            );
        });
    }

    /// Of a preferment past its best so much less is used that the rest brings the yeast that was planned, to the
    /// whole percent that is told.
    #[test]
    fn less_of_a_preferment_past_its_best_brings_the_yeast_that_was_planned() {
        seeing(|line, p, found, mut seen| {
            let planned = found.bulked.preferment.unwrap();
            let closed = line.preferment_ready(&planned).unwrap().window_h.1.unwrap();
            let hour = planned.mixed + closed + 1.0;
            let (mut changes, mut advice) = (Vec::new(), Vec::new());
            let past = Measured::PrefermentPast { hour };
            seen.take(line, found, p, past, &mut changes, &mut advice)
                .unwrap();
            let said = advice.iter().find(|a| a.contains("g less of it")).unwrap();
            let percent: f64 = said
                .split("less of it, ")
                .nth(1)
                .and_then(|s| s.split(" %").next())
                .unwrap()
                .parse()
                .unwrap();
            let rest = (1.0 - percent / 100.0) * seen.preferment().unwrap().state.yeast;
            assert!((rest / planned.state.yeast - 1.0).abs() < 0.008, "{said}");
        });
    }

    /// Where a rise is forecast, a jar that shows less than a fiftieth of one tells nothing; one that shows it does.
    /// So does one that shows a tenth where less is forecast.
    #[test]
    fn a_fiftieth_of_rise_is_a_rise() {
        seeing(|line, p, found, seen| {
            let bulked = seen.bulk(line).unwrap();
            let when = |rise: f64| {
                let mut hours = (1..120).map(|i| bulked.bulk_start() + f64::from(i) / 24.0);
                hours.find(|&hour| line.rise_at(&bulked, hour).unwrap() > rise)
            };
            let (little, much) = (when(1.06).unwrap(), when(LEAST_RISE).unwrap());
            assert!(line.rise_at(&bulked, little).unwrap() < 1.09);
            for (hour, ratio, tells) in [
                (much, 1.019, false),
                (much, 1.02, true),
                (little, 1.09, false),
                (little, 1.1, true),
            ] {
                let mut seen = Seen::new(&found.bulked);
                let (mut changes, mut advice) = (Vec::new(), Vec::new());
                let rise = Measured::BulkRise { ratio, hour };
                seen.take(line, found, p, rise, &mut changes, &mut advice)
                    .unwrap();
                assert_eq!(
                    changes[0].contains("cannot tell yet"),
                    !tells,
                    "{changes:?}"
                );
                assert_eq!(seen.speed != 1.0, tells);
            }
        });
    }

    /// What is seen at the same hour may be told in any order; later than what follows it, it is refused.
    #[test]
    fn what_is_seen_at_once_may_be_told_in_any_order() {
        let dough = Temperature::celsius(25.0).unwrap();
        let mixed = Measured::Mixed { dough, hour: 8.0 };
        let ripe = |hour| Measured::PrefermentRipe { hour };
        assert!(agree(&[mixed, ripe(8.0)]).is_ok() && agree(&[ripe(8.0), mixed]).is_ok());
        assert!(agree(&[mixed, ripe(8.01)]).is_err());
    }
}
