//! `pointage ready`

use super::exit::Failure;
use super::render::{Page, about, answered, temperature};
use super::room_record::RoomRecord;
use pointage_api::Model;
use pointage_api::Until;
use pointage_api::ready::{ReadyAnswer, ReadyRequest, ready};

/// When it is ripe, and how long it may be used
#[derive(clap::Args)]
#[command(after_help = "Examples:
  pointage ready --kind poolish --dose 0.3% --yeast fresh --at 21
  pointage ready --kind biga --dose 0.35% --mixed-at 20 --room 17 --flour-mass 5kg")]
pub struct ReadyCommand {
    #[command(flatten)]
    request: ReadyRequest,
    #[command(flatten)]
    room: RoomRecord,
}

impl ReadyCommand {
    pub fn run(mut self, json: bool, model: &Model) -> Result<String, Failure> {
        self.request.room_course = self.room.course()?;
        let answer = ready(&self.request, model);
        answered::<ReadyRequest, _>(json, answer, |a| self.words(a))
    }

    fn words(&self, a: &ReadyAnswer) -> String {
        let mut page = Page::default();
        let r = &self.request;
        let done = match a.until {
            Until::Doubled => "has doubled".into(),
            Until::Rise(rise) => format!("has risen {rise}-fold"),
            _ => "is ripe".to_owned(),
        };
        let (kind, after) = (a.kind.name(), about(a.ready_h));
        let place = self.room.words(r.at_c, r.mixed_at_c, r.room_c);
        page.say(format!("The {kind} {done} after {after}, {place}."));
        if a.until == Until::Ripe {
            page.say(format!("It has then risen {:.1}-fold.", a.rise));
        }
        let (open, close) = (about(a.window_h.0), a.window_h.1.map(about));
        page.say(match close {
            Some(close) if a.until == Until::Ripe => {
                format!("Use it between {open} and {close} after the mix; then it begins to fall.")
            }
            Some(close) => format!("Use it between {open} and {close} after the mix."),
            None => format!("Use it from {open} after the mix."),
        });
        if let Some([low, high]) = a.range_h.map(|range| range.map(about)) {
            page.say(format!(
                "4 times in 5 it {done} between {low} and {high}: look at the dough."
            ));
        }
        if r.at_c.is_none() {
            page.say(format!("It is then at {}.", temperature(a.dough_end_c)));
        }
        page.cautions(&a.warnings, &a.notes);
        page.finish()
    }
}
