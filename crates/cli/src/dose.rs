//! `pointage dose`

use super::exit::Failure;
use super::params::Numbers;
use super::render::{Page, mass, output, percent, temperature, time};
use super::temperature_args::Place;
use pointage::ferment::Kind;
use pointage::formula::YeastKind;
use pointage::units::{Mass, Percent, Temperature, as_hours, parse_duration};
use pointage_api::Until;
use pointage_api::dose::{DoseAnswer, DoseRequest, dose_with};
use std::time::Duration;

/// How much yeast, so that it is ripe in time
///
/// With --from-dose, --from-time and --from-at it starts from a recipe that works in your own kitchen.
#[derive(clap::Args)]
#[command(after_help = "Examples:
  pointage dose --kind poolish --for 12h --at 21 --flour-mass 500g --yeast instant
  pointage dose --kind poolish --from-dose 0.5% --from-time 8h --from-at 22 \\
      --for 14h --at 20 --yeast fresh")]
pub struct Args {
    /// poolish, biga, sponge, old-dough or dough
    #[arg(long, value_name = "KIND")]
    kind: Kind,
    /// Time from the mix until it is ripe, such as 12h
    #[arg(long = "for", value_name = "TIME", value_parser = parse_duration)]
    time: Duration,
    #[command(flatten)]
    place: Place,
    /// Flour of the stage, for the grams of yeast
    #[arg(long, value_name = "MASS")]
    flour_mass: Option<Mass>,
    /// fresh, instant or active-dry, for every dose here [default: instant]
    #[arg(long, value_name = "KIND")]
    yeast: Option<YeastKind>,
    /// Water, percent of the stage's own flour [default: usual for its kind]
    #[arg(long, value_name = "PERCENT")]
    hydration: Option<Percent>,
    /// Salt, percent of the stage's own flour [default: usual for its kind]
    #[arg(long, value_name = "PERCENT")]
    salt: Option<Percent>,
    /// ripe or doubled [default: doubled for dough and old-dough]
    #[arg(long, value_name = "END")]
    until: Option<Until>,
    /// Smallest step that the scale shows [default: 1g]
    #[arg(long, value_name = "MASS")]
    scale_step: Option<Mass>,
    /// Dose of your working recipe
    #[arg(long, value_name = "PERCENT")]
    from_dose: Option<Percent>,
    /// Time that your working recipe takes
    #[arg(long, value_name = "TIME", value_parser = parse_duration)]
    from_time: Option<Duration>,
    /// Temperature of your working recipe
    #[arg(long, value_name = "TEMPERATURE")]
    from_at: Option<Temperature>,
}

impl Args {
    pub fn run(&self, json: bool, numbers: &Numbers) -> Result<String, Failure> {
        let request = DoseRequest {
            at_c: self.place.at_c(),
            mixed_at_c: self.place.mixed_at_c(),
            room_c: self.place.room_c(),
            room_course: self.place.room_course()?,
            flour_mass_g: self.flour_mass.map(Mass::as_grams),
            yeast: self.yeast,
            hydration_percent: self.hydration.map(Percent::as_percent),
            salt_percent: self.salt.map(Percent::as_percent),
            until: self.until,
            from_dose_percent: self.from_dose.map(Percent::as_percent),
            from_time_h: self.from_time.map(as_hours),
            from_at_c: self.from_at.map(Temperature::as_celsius),
            scale_step_g: self.scale_step.map(Mass::as_grams),
            ..DoseRequest::new(self.kind, as_hours(self.time))
        };
        let mut answer = dose_with(&request, &numbers.parameters)?;
        numbers.tell(&mut answer.notes);
        Ok(output(json, &answer, |a| self.words(a))?)
    }

    fn words(&self, a: &DoseAnswer) -> String {
        let mut page = Page::default();
        let kind = a.yeast.name();
        let as_fresh = if a.yeast == YeastKind::Fresh {
            String::new()
        } else {
            format!(" ({} as fresh yeast)", percent(a.fresh_percent))
        };
        let dose = format!("{} of its flour{as_fresh}", percent(a.dose_percent));
        page.say(match a.yeast_g {
            Some(g) => format!("Weigh {} of {kind} yeast: {dose}.", mass(g)),
            None => format!("Take {kind} yeast, {dose}."),
        });
        if let Some(weigh) = &a.weigh {
            page.say(format!(
                "That is too little for the scale: {}.",
                weigh.words
            ));
        }
        page.gap();
        let done = match a.until {
            "own-recipe" => "is as far as your recipe",
            "doubled" => "has doubled",
            _ => "is ripe",
        };
        page.say(format!(
            "With it the {} {done} after {}, {}.",
            a.kind.name(),
            time(a.for_h),
            self.place.words()
        ));
        if self.place.at_c().is_none() {
            page.say(format!("It is then at {}.", temperature(a.dough_end_c)));
        }
        if let Some([low, high]) = a.range_percent {
            page.say(format!(
                "Four times out of five the right dose lies between {} and {}.",
                percent(low),
                percent(high)
            ));
        }
        if let Some(reason) = &a.proportional_reason {
            page.say(reason);
        }
        page.cautions(&a.warnings, &a.notes);
        page.finish()
    }
}
