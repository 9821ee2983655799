//! `pointage ready`

use super::exit::Failure;
use super::render::{Page, about, answered, done, temperature};
use super::room_record::RoomRecord;
use pointage::ferment::Kind;
use pointage_api::Model;
use pointage_api::ready::{ReadyAnswer, ReadyRequest, ready};

/// When it is ripe, and how long it may be used
#[derive(clap::Args)]
#[command(after_help = "Examples:
  pointage ready --kind poolish --dose 0.3% --yeast fresh --at 21
  pointage ready --kind biga --dose 0.35% --mixed-at 20 \\
      --room 17 --flour-mass 5kg
  pointage ready --from-time 12h --from-at 21 --at 24
  pointage ready --from-time 12h --from-at 21 --at 24 --q10 2.2")]
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
        page.cautions(&a.warnings, &a.notes);
        page.finish()
    }
}
