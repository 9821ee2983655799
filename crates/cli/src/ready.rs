//! `pointage ready`

use super::exit::Failure;
use super::params::Numbers;
use super::render::{Page, about, output, temperature};
use super::temperature_args::Place;
use pointage::ferment::Kind;
use pointage::formula::YeastKind;
use pointage::units::{Mass, Percent};
use pointage_api::Until;
use pointage_api::ready::{ReadyAnswer, ReadyRequest, ready_with};

/// When it is ripe, and how long it may be used
#[derive(clap::Args)]
#[command(after_help = "Examples:
  pointage ready --kind poolish --dose 0.3% --yeast fresh --at 21
  pointage ready --kind biga --dose 0.35% --mixed-at 20 --room 17 --flour-mass 5kg")]
pub struct Args {
    /// poolish, biga, sponge, old-dough or dough
    #[arg(long, value_name = "KIND")]
    kind: Kind,
    /// Yeast, percent of the stage's own flour
    #[arg(long, value_name = "PERCENT")]
    dose: Percent,
    #[command(flatten)]
    place: Place,
    /// fresh, instant or active-dry [default: instant]
    #[arg(long, value_name = "KIND")]
    yeast: Option<YeastKind>,
    /// Flour of the stage: how fast a drifting dough follows the room
    #[arg(long, value_name = "MASS")]
    flour_mass: Option<Mass>,
    /// Water, percent of the stage's own flour [default: usual for its kind]
    #[arg(long, value_name = "PERCENT")]
    hydration: Option<Percent>,
    /// Salt, percent of the stage's own flour [default: usual for its kind]
    #[arg(long, value_name = "PERCENT")]
    salt: Option<Percent>,
    /// ripe or doubled [default: doubled for dough and old-dough]
    #[arg(long, value_name = "END")]
    until: Option<Until>,
}

impl Args {
    pub fn run(&self, json: bool, numbers: &Numbers) -> Result<String, Failure> {
        let request = ReadyRequest {
            yeast: self.yeast,
            at_c: self.place.at_c(),
            mixed_at_c: self.place.mixed_at_c(),
            room_c: self.place.room_c(),
            room_course: self.place.room_course()?,
            flour_mass_g: self.flour_mass.map(Mass::as_grams),
            hydration_percent: self.hydration.map(Percent::as_percent),
            salt_percent: self.salt.map(Percent::as_percent),
            until: self.until,
            ..ReadyRequest::new(self.kind, self.dose.as_percent())
        };
        let mut answer = ready_with(&request, &numbers.parameters)?;
        numbers.tell(&mut answer.notes);
        Ok(output(json, &answer, |a| self.words(a))?)
    }

    fn words(&self, a: &ReadyAnswer) -> String {
        let mut page = Page::default();
        let done = match a.until {
            Until::Doubled => "has doubled",
            _ => "is ripe",
        };
        page.say(format!(
            "The {} {done} after {}, {}.",
            a.kind.name(),
            about(a.ready_h),
            self.place.words()
        ));
        page.say(match a.window_h {
            (open, Some(close)) => format!(
                "Use it between {} and {} after its mix.",
                about(open),
                about(close)
            ),
            (open, None) => format!(
                "Use it from {} after its mix on; its sugar or three weeks end before it begins to fall.",
                about(open)
            ),
        });
        if let Some([low, high]) = a.range_h {
            page.say(format!(
                "Four times out of five it {done} between {} and {}: look at the dough.",
                about(low),
                about(high)
            ));
        }
        if self.place.at_c().is_none() {
            page.say(format!("It is then at {}.", temperature(a.dough_end_c)));
        }
        page.cautions(&a.warnings, &a.notes);
        page.finish()
    }
}
