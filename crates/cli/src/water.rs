//! The answers of `water` and `ice` in words.

use super::exit::Failure;
use super::render::{NONE, Page, answered, difference, mass, temperature};
use pointage::units::Temperature;
use pointage_api::ice::{IceAnswer, IceRequest};
use pointage_api::water::{DdtFormulaAnswer, HeatBalanceAnswer, WaterAnswer, WaterRequest, water};

/// What water temperature, and whether it takes ice
///
/// Two methods: the heat balance, with --flour-mass and --water-mass, and the desired-dough-temperature (DDT)
/// formula, with --friction or --base. One pour is answered: the balance's where it can be drawn up.
#[derive(clap::Args)]
#[command(after_help = "Examples:
  pointage water --dough 24 --flour 20 --room 21 --friction 2
  pointage water --dough 75F --flour 71F --room 71F \\
      --preferment 70F --friction 20F
  pointage water --dough 25 --flour 28 --room 29 --friction 12 \\
      --flour-mass 10kg --water-mass 6.5kg --salt-mass 200g --tap 18")]
pub struct WaterCommand {
    #[command(flatten)]
    request: WaterRequest,
    /// Show both methods, with the numbers put in
    #[arg(long)]
    explain: bool,
}

impl WaterCommand {
    pub fn run(self, json: bool) -> Result<String, Failure> {
        answered::<WaterRequest, _>(json, water(&self.request), |a| self.words(a))
    }

    fn words(&self, a: &WaterAnswer) -> String {
        let mut page = Page::default();
        let water = temperature(a.water_c);
        page.say(match (a.ice_g.map(mass), a.tap_g.map(mass)) {
            (Some(ice), Some(tap)) => {
                format!("Weigh {ice} of ice and {tap} of tap water. Together they act like water of {water}.")
            }
            _ => format!("Pour the dough water at {water}."),
        });
        let both = self.explain || a.difference_reason.is_some();
        let with_formula = both || a.heat_balance.is_none();
        if let Some(f) = a.ddt_formula.as_ref().filter(|_| with_formula) {
            page.gap();
            page.say(self.by_formula(f));
        }
        if let Some(b) = a.heat_balance.as_ref().filter(|_| both) {
            page.gap();
            page.say(self.by_balance(b));
        }
        if let Some(reason) = &a.difference_reason {
            page.gap();
            page.say(reason.to_string());
        }
        page.cautions(&a.warnings, &a.notes);
        page.finish()
    }

    fn by_formula(&self, f: &DdtFormulaAnswer) -> String {
        let r = &self.request;
        let minus = |(name, t): (&str, Option<Temperature>)| {
            Some(format!(" - {:.1} ({name})", t?.as_celsius()))
        };
        let known = [
            ("flour", r.flour_c),
            ("room", r.room_c),
            ("preferment", r.preferment_c),
        ];
        let known: String = known.into_iter().filter_map(minus).collect();
        let dough_c = r.dough_c.map(Temperature::as_celsius);
        let terms = f.terms;
        let sum = match (dough_c, f.friction_factor_c) {
            (Some(dough_c), Some(factor)) if r.base_c.is_none() => {
                format!("{terms} x {dough_c:.1} (dough){known} - {factor:.1} (friction)")
            }
            _ => format!("{:.1} (base){known}", f.base_c),
        };
        let rise = f.real_rise_c.filter(|_| self.explain).map(difference);
        let rise = rise.map_or(String::new(), |rise| {
            format!(" The friction over {terms} terms warms the dough by {rise}.")
        });
        format!("DDT formula: {sum} = {:.1} °C of water.{rise}", f.water_c)
    }

    fn by_balance(&self, b: &HeatBalanceAnswer) -> String {
        let dough_c = self.request.dough_c.map_or(0.0, Temperature::as_celsius);
        let share = b.dough_per_water;
        let too_warm = (dough_c - b.water_c) * share;
        let rest = b.rest_start_c.zip(b.rest_end_c).map(|(start, end)| {
            format!(" The first mix begins its rest at {start:.1} °C and ends it at {end:.1} °C.")
        });
        let rest = rest.unwrap_or_default();
        format!(
            "Heat balance: with water as warm as the dough it would come to {:.1} °C, of which wetting the flour makes {:.1} °C and the mixer {:.1} °C. \
             1 °C in the water moves the dough by {share:.2} °C: {dough_c:.1} - {too_warm:.1} / {share:.2} = {:.1} °C of water.{rest}",
            dough_c + too_warm,
            b.hydration_rise_c,
            b.mixing_rise_c,
            b.water_c
        )
    }
}

pub const ICE_EXAMPLES: &str = "Example: 40 kg of water at 10 °C from a tap of 20 °C
  pointage ice --total 40kg --tap 20 --want 10";

pub fn words_of_ice(request: &IceRequest, a: &IceAnswer) -> String {
    let mut page = Page::default();
    if a.ice_g > 0.0 {
        let (ice, tap) = (mass(a.ice_g), mass(a.tap_g));
        let all = mass(request.total_g.as_grams());
        let water = temperature(request.want_c.as_celsius());
        page.say(format!("Weigh {ice} of ice and {tap} of tap water."));
        page.say(format!(
            "Together they are {all} and act like water of {water}."
        ));
    } else {
        page.say(format!("No ice: {} of tap water.", mass(a.tap_g)));
    }
    page.cautions(&a.warnings, NONE);
    page.finish()
}
