//! `pointage dose`

use super::exit::Failure;
use super::inputs;
use super::ready::explained;
use super::render::{Page, answered, done, mass, percent, temperature, time};
use super::room_record::RoomRecord;
use pointage::ferment::Kind;
use pointage::formula::YeastKind;
use pointage::units::Percent;
use pointage_api::Model;
use pointage_api::dose::{DoseAnswer, DoseRequest, dose};
use pointage_api::ready::ReadyRequest;
use std::path::PathBuf;

/// How much yeast, so that it is ripe in time
///
/// With --from-dose, --from-time and --from-at it starts from a recipe that works in your own kitchen, and without
/// --for it keeps that recipe's time.
#[derive(clap::Args)]
#[command(after_help = "Examples:
  pointage dose --kind poolish --for 12h --at 21 \\
      --flour-mass 500g --yeast instant
  pointage dose --kind poolish --from-dose 0.5% --from-time 8h --from-at 22 \\
      --for 14h --at 20 --yeast fresh
  pointage dose --from-dose 0.5% --from-time 8h --from-at 22 --at 25 --q10 2.2
The preferment of a bake, for twelve hours at 19 °C
  pointage dose my.toml --for 12h --at 19")]
pub struct DoseCommand {
    /// A bake file (TOML): its preferment, and its reference as the recipe that works
    bake: Option<PathBuf>,
    #[command(flatten)]
    request: DoseRequest,
    #[command(flatten)]
    room: RoomRecord,
    /// Show how it is found, with the numbers put in
    #[arg(long)]
    explain: bool,
}

impl DoseCommand {
    pub fn run(mut self, json: bool, model: &Model) -> Result<String, Failure> {
        self.request.room_course = self.room.course()?;
        if self.bake.is_some() {
            let (bake, _) = inputs::bake(&self.bake)?;
            self.request = self.request.or_of_bake(&bake)?;
        }
        let answer = dose(&self.request, model);
        answered::<DoseRequest, _>(json, answer, |a| self.words(a, model))
    }

    fn words(&self, a: &DoseAnswer, model: &Model) -> String {
        let mut page = Page::default();
        let r = &self.request;
        let yeast = a.yeast.name();
        let as_fresh = match a.yeast {
            YeastKind::Fresh => String::new(),
            _ => format!(" ({} as fresh yeast)", percent(a.fresh_percent)),
        };
        let dose = format!("{} of its flour{as_fresh}", percent(a.dose_percent));
        page.say(match a.yeast_g {
            Some(g) => format!("Take {} of {yeast} yeast: {dose}.", mass(g)),
            None => format!("Take {yeast} yeast, {dose}."),
        });
        if let Some(weigh) = &a.weigh {
            page.say(format!("The scale is too coarse for that. {}", weigh.words));
        }
        page.gap();
        let done = done(&a.until, a.rise);
        let (kind, after) = (a.kind.unwrap_or(Kind::Dough).name(), time(a.for_h));
        let place = self.room.words(r.at_c, r.mixed_at_c, r.room_c);
        page.say(format!("With it the {kind} {done} after {after}, {place}."));
        if r.at_c.is_none() {
            page.say(format!("It is then at {}.", temperature(a.dough_end_c)));
        }
        if let Some([low, high]) = a.range_percent.map(|range| range.map(percent)) {
            page.say(format!(
                "4 times in 5 the right dose lies between {low} and {high}."
            ));
        }
        if let Some(reason) = &a.proportional_reason {
            page.say(reason.to_string());
        }
        if let Some(q10) = a.equivalent_q10 {
            page.say(format!(
                "Between the two temperatures that is a Q10 of {q10:.2} for the dose."
            ));
        }
        if self.explain {
            let own = r.from_dose_percent.zip(r.from_time_h);
            let warm = r.from_at_c.zip(r.at_c);
            let q10 = r.q10.or(a.equivalent_q10);
            if let (Some((own, hours)), Some((from, at)), Some(q10)) = (own, warm, q10) {
                page.gap();
                page.say(format!(
                    "Your dose by the times, over the factor: {} x {} / {} / {q10:.2}^(({:.1} - {:.1})/10) = {}.",
                    percent(own.as_percent()),
                    time(hours.as_hours()),
                    time(a.for_h),
                    at.as_celsius(),
                    from.as_celsius(),
                    percent(a.dose_percent)
                ));
            } else {
                let asked = ReadyRequest {
                    dose_percent: Percent::new(a.dose_percent).ok(),
                    ..r.stage()
                };
                explained(&mut page, &asked, (a.for_h, None), model);
            }
        }
        page.cautions(&a.warnings, &a.notes);
        page.finish()
    }
}
