//! `pointage ready`

use super::exit::Failure;
use super::inputs;
use super::render::{Page, about, answered, done, temperature, time};
use super::room_record::RoomRecord;
use pointage::ferment::Kind;
use pointage::units::Temperature;
use pointage_api::Model;
use pointage_api::ready::{ReadyAnswer, ReadyRequest, ready};
use std::path::PathBuf;

/// When it is ripe, and how long it may be used
#[derive(clap::Args)]
#[command(after_help = "Examples:
  pointage ready --kind poolish --dose 0.3% --yeast fresh --at 21
  pointage ready --kind biga --dose 0.35% --mixed-at 20 \\
      --room 17 --flour-mass 5kg
The preferment of a bake at 19 °C; one with [preferment.cold] needs no --at
  pointage ready my.toml --at 19
A time at another temperature
  pointage ready --from-time 12h --from-at 21 --at 24
  pointage ready --from-time 12h --from-at 21 --at 24 --q10 2.2")]
pub struct ReadyCommand {
    /// A bake file (TOML): its preferment, and its reference as the recipe that works
    bake: Option<PathBuf>,
    #[command(flatten)]
    request: ReadyRequest,
    #[command(flatten)]
    room: RoomRecord,
    /// Show how it is found, with the numbers put in
    #[arg(long)]
    explain: bool,
}

impl ReadyCommand {
    pub fn run(mut self, json: bool, model: &Model) -> Result<String, Failure> {
        self.request.room_course = self.room.course()?;
        if self.bake.is_some() {
            let (bake, _) = inputs::bake(&self.bake)?;
            self.request = self.request.or_of_bake(&bake)?;
        }
        let answer = ready(&self.request, model);
        answered::<ReadyRequest, _>(json, answer, |a| self.words(a, model))
    }

    fn words(&self, a: &ReadyAnswer, model: &Model) -> String {
        let mut page = Page::default();
        let r = &self.request;
        let done = done(&a.until, None);
        let (kind, after) = (a.kind.unwrap_or(Kind::Dough).name(), about(a.ready_h));
        let place = self.room.words(r.at_c, r.mixed_at_c, r.room_c);
        page.say(format!("The {kind} {done} after {after}, {place}."));
        let ripe = a.until == "ripe";
        if let Some(rise) = a.rise.filter(|_| ripe) {
            page.say(format!("It has then risen {rise:.1}-fold."));
        }
        if let Some((open, close)) = a.window_h {
            let open = about(open);
            let falls = if ripe { "; then it begins to fall" } else { "" };
            page.say(match close.map(about) {
                Some(close) => format!("Use it between {open} and {close} after the mix{falls}."),
                None => format!("Use it from {open} after the mix."),
            });
        }
        if let Some([low, high]) = a.range_h.map(|range| range.map(about)) {
            page.say(format!(
                "4 times in 5 it {done} between {low} and {high}: look at the dough."
            ));
        }
        if r.at_c.is_none() {
            page.say(format!("It is then at {}.", temperature(a.dough_end_c)));
        }
        if let Some(q10) = a.equivalent_q10 {
            page.say(format!(
                "Between the two temperatures that is a Q10 of {q10:.2} for the time."
            ));
        }
        if self.explain {
            explained(&mut page, r, (a.ready_h, a.equivalent_q10), model);
        }
        page.cautions(&a.warnings, &a.notes);
        page.finish()
    }
}

/// Parts into which the time is cut that an explanation follows.
const PARTS: u8 = 4;

/// How a dough comes to its end point: by a recipe's time and a factor for 10 °C, or followed by the model.
pub fn explained(
    page: &mut Page,
    request: &ReadyRequest,
    (ready_h, equivalent_q10): (f64, Option<f64>),
    model: &Model,
) {
    page.gap();
    let q10 = request.q10.or(equivalent_q10);
    if let (Some(own), Some(from), Some(at), Some(q10)) =
        (request.from_time_h, request.from_at_c, request.at_c, q10)
    {
        let less = match (request.from_dose_percent, request.dose_percent) {
            (Some(own), Some(dose)) if own != dose => {
                format!(" x {} % / {} %", own.as_percent(), dose.as_percent())
            }
            _ => String::new(),
        };
        page.say(format!(
            "Your time{less} over the factor: {}{less} / {q10:.2}^(({:.1} - {:.1})/10) = {}.",
            time(own.as_hours()),
            at.as_celsius(),
            from.as_celsius(),
            time(ready_h)
        ));
        return;
    }
    let parts = (0..=PARTS).map(|part| ready_h * f64::from(part) / f64::from(PARTS));
    let followed = ReadyRequest {
        progress_at_h: parts.collect(),
        ..request.clone()
    };
    let Ok(followed) = ready(&followed, model) else {
        page.say("It is followed as the recipe was: until it has made as much gas.");
        return;
    };
    let kinetics = &model.parameters().kinetics;
    let rates = kinetics.rates();
    page.say(format!(
        "For 100 g of flour. 1 g of fresh yeast makes {:.0} mL of gas an hour at 30 °C; it grows by up to {:.2} an hour, after a lag, and by {:.2} g in all. The curves slow both in the cold:",
        rates.specific_gas_rate, rates.growth_rate, rates.growth_cap
    ));
    page.line("after        dough   speed   yeast       gas     risen");
    let gas = kinetics.gas();
    let law = |c| gas.relative_rate(Temperature::celsius(c).ok()?).ok();
    let speed = |c| Some(law(c)? / law(30.0)?);
    for part in &followed.progress {
        page.line(format!(
            "{:<9} {:>6.1} °C  x {:.2}  {:>5.3} g  {:>5.0} mL  {:.2}-fold",
            time(part.at_h),
            part.dough_c,
            speed(part.dough_c).unwrap_or(f64::NAN),
            part.state.yeast(),
            part.state.gas(),
            part.rise
        ));
    }
    page.say("The gas is speed x rate x yeast, added up over the hours; salt and sugar slow it.");
}
