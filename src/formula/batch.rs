//! A formula made for a wanted amount: what to weigh into which stage.

use super::{Flour, Formula, OldDough, Preferment};
use crate::error::{Error, Result, check, echo, named};
use crate::units::{Mass, Percent};

/// Part of all flour that counts as nothing, percent: rounding of the sums.
const ROUNDING: f64 = 1e-9;

/// When an ingredient goes in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum MixStage {
    /// Mixed and ripened ahead.
    Preferment,
    /// The dough itself.
    Mix,
    /// Worked in at the end of the mix.
    Bassinage,
}

named! { "stage" MixStage { Preferment = "preferment", Mix = "mix", Bassinage = "bassinage" } }

/// What an ingredient is, whatever the baker calls it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, serde::Serialize, serde::Deserialize)]
#[allow(missing_docs)] // the names say all
#[serde(rename_all = "kebab-case")]
pub enum Role {
    Flour,
    Water,
    Salt,
    Yeast,
    OldDough,
    Sugar,
    Fat,
    Extra,
}

/// One line of the list to weigh.
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
#[non_exhaustive]
pub struct Ingredient {
    /// What the baker calls it.
    pub name: String,
    /// What it is.
    pub role: Role,
    /// When it goes in.
    pub stage: MixStage,
    /// How much; nothing for yeast whose dose is still to be found.
    pub mass: Mass,
}

/// What a piece of old dough is made of.
#[derive(Debug, Clone, Copy, PartialEq, serde::Serialize, serde::Deserialize)]
#[non_exhaustive]
pub struct OldDoughMasses {
    /// Its flour, counted in the batch's flour.
    pub flour: Mass,
    /// Its water, counted in the batch's water.
    pub water: Mass,
    /// Its salt, counted in the batch's salt.
    pub salt: Mass,
    /// Its yeast, as fresh.
    pub yeast: Mass,
}

/// A formula made for a wanted amount.
#[derive(Debug, Clone, PartialEq, serde::Serialize, serde::Deserialize)]
#[non_exhaustive]
pub struct Batch {
    /// What to weigh, in the order of work. The masses add up to [`dough`](Self::dough).
    pub ingredients: Vec<Ingredient>,
    /// All dough made.
    pub dough: Mass,
    /// The part of it that stays in the tub and on the hands; nothing unless the batch was made for
    /// pieces.
    pub scrap: Mass,
    /// All flour, that of preferment and old dough included.
    pub flour: Mass,
    /// All water, that of preferment and old dough included.
    pub water: Mass,
    /// All salt, that of preferment and old dough included.
    pub salt: Mass,
    /// What the old dough among the ingredients is made of.
    pub old_dough: Option<OldDoughMasses>,
}

impl Batch {
    /// The mass of one kind of ingredient that is weighed into a stage. The flour of a stage is its
    /// *own* flour: that of the mix excludes the preferment and the old dough.
    #[must_use]
    pub fn mass_of(&self, role: Role, stage: MixStage) -> Mass {
        self.sum(|i| i.role == role && i.stage == stage)
    }

    /// All that is weighed into a stage.
    #[must_use]
    pub fn stage_mass(&self, stage: MixStage) -> Mass {
        self.sum(|i| i.stage == stage)
    }

    /// A mass as a percentage of all flour.
    #[must_use]
    pub fn percent_of_flour(&self, mass: Mass) -> f64 {
        100.0 * mass.as_grams() / self.flour.as_grams()
    }

    fn sum(&self, wanted: impl Fn(&Ingredient) -> bool) -> Mass {
        let grams = self.ingredients.iter().filter(|i| wanted(i));
        Mass::literal(grams.map(|i| i.mass.as_grams()).sum())
    }
}

impl Formula {
    /// The batch with this much flour, that of preferment and old dough included.
    ///
    /// # Errors
    /// No flour, or a formula that cannot be made: shares that do not sum to 100 %, a preferment that
    /// holds more flour, water or salt than the whole, a bassinage beyond what is left.
    pub fn for_flour(&self, flour: Mass) -> Result<Batch> {
        self.for_100_g()?.scaled(flour.as_grams())
    }

    /// The batch that makes this much dough.
    ///
    /// # Errors
    /// As [`for_flour`](Self::for_flour).
    fn for_dough(&self, dough: Mass) -> Result<Batch> {
        let batch = self.for_100_g()?;
        let flour_g = 100.0 * dough.as_grams() / batch.dough.as_grams();
        batch.scaled(flour_g)
    }

    /// The batch for so many pieces of so much dough each, with `scrap` percent of the dough made left
    /// in the tub and on the hands: `dough = pieces * piece / (1 - scrap)`.
    ///
    /// # Errors
    /// As [`for_flour`](Self::for_flour); no pieces, pieces of nothing, or scrap above 50 %.
    ///
    /// ```
    /// use pointage::{formula::Formula, units::{Mass, Percent}};
    /// let formula = Formula::new(Percent::new(66.0)?)?;
    /// let batch = formula.for_pieces(24, Mass::grams(490.0)?, Percent::new(2.0)?)?;
    /// assert_eq!((batch.dough.as_grams(), batch.scrap.as_grams()), (12_000.0, 240.0));
    /// # Ok::<(), pointage::Error>(())
    /// ```
    pub fn for_pieces(&self, pieces: u32, piece: Mass, scrap: Percent) -> Result<Batch> {
        let pieces = check("number of pieces", f64::from(pieces), 1.0, 1e6, "pieces")?;
        let scrap = check("scrap", scrap.as_percent(), 0.0, 50.0, "%")?;
        let wanted_g = pieces * piece.as_grams();
        let dough = Mass::grams(wanted_g / (1.0 - scrap / 100.0))?;
        let mut batch = self.for_dough(dough)?;
        batch.scrap = Mass::grams(dough.as_grams() - wanted_g)?;
        Ok(batch)
    }

    /// The batch with 100 g of flour: its grams are percent of all flour.
    fn for_100_g(&self) -> Result<Batch> {
        let shares = flour_shares(self)?;
        let [hydration, salt] = [self.hydration, self.salt].map(Percent::as_percent);
        let old_dough = self.old_dough.as_ref().map(OldDoughMasses::of);
        let old = old_dough.map_or([0.0; 3], |old| {
            [old.flour, old.water, old.salt].map(Mass::as_grams)
        });
        let mut batch = Batch {
            ingredients: Vec::new(),
            dough: Mass::literal(0.0),
            scrap: Mass::literal(0.0),
            flour: Mass::literal(100.0),
            water: Mass::literal(hydration),
            salt: Mass::literal(salt),
            old_dough,
        };
        if let Some(preferment) = &self.preferment {
            batch.add_preferment(self, preferment, &shares)?;
        }

        // The mix: what is left of each total.
        let ahead = |role, name: Option<&str>| {
            let of = |i: &&Ingredient| i.role == role && name.is_none_or(|name| i.name == name);
            let grams = batch.ingredients.iter().filter(of);
            grams.map(|i| i.mass.as_grams()).sum::<f64>()
        };
        let smaller = "use less old dough";
        let fresh_flour = rest("old dough", old[0], "flour", 100.0, smaller)?;
        let mut mix = Vec::new();
        for (flour, share) in self.flours.iter().zip(&shares) {
            let (take, have) = (ahead(Role::Flour, Some(&flour.name)), share * fresh_flour);
            let name = format!("{:?}", echo(&flour.name));
            let remedy = "make it smaller, or of another flour";
            let left = rest("preferment", take, &name, have / 100.0, remedy)?;
            mix.push((flour.name.as_str(), Role::Flour, left));
        }
        let second = self.bassinage.as_percent();
        let water = rest("old dough", old[1], "water", hydration, smaller)?;
        let remedy = "raise the hydration, or make it smaller or stiffer";
        let ripened = ahead(Role::Water, None);
        let water = rest("preferment", ripened, "water", water, remedy)?;
        let remedy = "raise the hydration, or hold back less";
        let water = rest("bassinage", second, "water", water, remedy)?;
        let salt = rest("old dough", old[2], "salt", salt, smaller)?;
        let remedy = "raise the formula's salt, or put less into it";
        let salt = rest("preferment", ahead(Role::Salt, None), "salt", salt, remedy)?;
        mix.extend([("water", Role::Water, water), ("salt", Role::Salt, salt)]);
        for (name, role, percent) in mix {
            batch.add(name, role, MixStage::Mix, percent);
        }
        batch.add_yeast(self, MixStage::Mix, self.yeast.map(Percent::as_percent));
        let old = self.old_dough.as_ref();
        let old_percent = old.map_or(0.0, |old| old.percent.as_percent());
        batch.add("old dough", Role::OldDough, MixStage::Mix, old_percent);
        batch.add("sugar", Role::Sugar, MixStage::Mix, self.sugar.as_percent());
        batch.add("fat", Role::Fat, MixStage::Mix, self.fat.as_percent());
        for extra in &self.extras {
            let percent = extra.percent.as_percent();
            batch.add(&extra.name, Role::Extra, MixStage::Mix, percent);
        }
        batch.add("bassinage", Role::Water, MixStage::Bassinage, second);
        batch.dough = batch.sum(|_| true);
        Ok(batch)
    }
}

impl OldDoughMasses {
    fn of(old: &OldDough) -> Self {
        // Its parts per 1 of its own flour add up to its mass.
        let [water, salt, yeast] = [old.hydration, old.salt, old.yeast].map(Percent::as_fraction);
        let flour = old.percent.as_percent() / (1.0 + water + salt + yeast);
        let [water, salt, yeast] = [water, salt, yeast].map(|part| Mass::literal(part * flour));
        let flour = Mass::literal(flour);
        Self {
            flour,
            water,
            salt,
            yeast,
        }
    }
}

impl Batch {
    /// From the batch with 100 g of flour to the one with so much.
    fn scaled(mut self, flour_g: f64) -> Result<Self> {
        let flour_g = check("flour", flour_g, 1e-3, 1e8, "g")?;
        let parts = self.ingredients.iter_mut().map(|i| &mut i.mass);
        let old = self.old_dough.as_mut();
        let old = old.map(|o| [&mut o.flour, &mut o.water, &mut o.salt, &mut o.yeast]);
        let sums = [
            &mut self.dough,
            &mut self.flour,
            &mut self.water,
            &mut self.salt,
        ];
        for mass in parts.chain(old.into_iter().flatten()).chain(sums) {
            *mass = Mass::grams(mass.as_grams() / 100.0 * flour_g)?;
        }
        Ok(self)
    }

    /// Adds so many percent, unless there is nothing to weigh. What is still to be found is listed with no mass, so that
    /// nobody forgets it.
    fn add(&mut self, name: &str, role: Role, stage: MixStage, percent: impl Into<Option<f64>>) {
        let percent = percent.into();
        if percent.is_none_or(|percent| percent > ROUNDING) {
            self.ingredients.push(Ingredient {
                name: name.into(),
                role,
                stage,
                mass: Mass::literal(percent.unwrap_or_default()),
            });
        }
    }

    fn add_yeast(&mut self, formula: &Formula, stage: MixStage, dose: Option<f64>) {
        let name = format!("{} yeast", formula.yeast_kind);
        self.add(&name, Role::Yeast, stage, dose);
    }

    fn add_preferment(
        &mut self,
        formula: &Formula,
        own: &Preferment,
        shares: &[f64],
    ) -> Result<()> {
        let stage = MixStage::Preferment;
        let share = own.share.as_percent();
        let names = formula.flours.iter().map(|flour| flour.name.as_str());
        match &own.flour {
            Some(name) if names.clone().any(|known| known == name) => {
                self.add(name, Role::Flour, stage, share);
            }
            Some(name) => {
                return Err(Error::unknown_name("flour of the preferment", name, names));
            }
            None => {
                for (name, s) in names.zip(shares) {
                    self.add(name, Role::Flour, stage, share * s / 100.0);
                }
            }
        }
        let water = share * own.hydration.as_fraction();
        self.add("water", Role::Water, stage, water);
        self.add("salt", Role::Salt, stage, share * own.salt.as_fraction());
        let dose = own.dose.map(|dose| share * dose.as_fraction());
        self.add_yeast(formula, stage, dose);
        Ok(())
    }
}

/// The shares of the flours in percent, summing to 100 to the last digit.
fn flour_shares(formula: &Formula) -> Result<Vec<f64>> {
    let flours = &formula.flours;
    let shares = flours.iter().map(|flour| flour.share.as_percent());
    let sum: f64 = shares.clone().sum();
    if (sum - 100.0).abs() > 1e-6 {
        return Err(Error::contradiction(format!(
            "the shares of the flours sum to {} %, but must sum to 100 %; change one of them",
            tidy(sum)
        )));
    }
    let twice = |(i, flour): &(usize, &Flour)| flours[..*i].iter().any(|f| f.name == flour.name);
    if let Some((_, flour)) = flours.iter().enumerate().find(twice) {
        return Err(Error::contradiction(format!(
            "the flour {:?} is listed twice; give it one share",
            echo(&flour.name)
        )));
    }
    Ok(shares.map(|share| share * 100.0 / sum).collect())
}

/// What is left of `have` after `take`, both percent of all flour.
fn rest(taker: &str, take: f64, what: &str, have: f64, remedy: &str) -> Result<f64> {
    let left = have - take;
    if left < -ROUNDING {
        return Err(Error::contradiction(format!(
            "the {taker} needs {} % {what} (percent of all flour), but only {} % is there; {remedy}",
            tidy(take),
            tidy(have),
        )));
    }
    Ok(left.max(0.0))
}

/// Four decimals at most and no negative nothing, for messages.
fn tidy(value: f64) -> f64 {
    (value * 1e4).round() / 1e4 + 0.0
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::ferment::Kind;
    use crate::formula::{Extra, Flour};
    use proptest::prelude::*;

    const PREFERMENTS: [Kind; 4] = [Kind::Poolish, Kind::Biga, Kind::Sponge, Kind::OldDough];

    fn pct(percent: f64) -> Percent {
        Percent::new(percent).unwrap()
    }
    fn g(grams: f64) -> Mass {
        Mass::grams(grams).unwrap()
    }
    fn grams(batch: &Batch, role: Role, stage: MixStage) -> f64 {
        batch.mass_of(role, stage).as_grams()
    }

    /// A market loaf of two flours, on a poolish of the light one, with a bassinage.
    fn market_loaf() -> Formula {
        let mut formula = Formula::new(pct(72.0)).unwrap();
        formula.flours = vec![
            Flour {
                name: "wheat".into(),
                share: pct(85.0),
            },
            Flour {
                name: "rye".into(),
                share: pct(15.0),
            },
        ];
        formula.yeast = Some(pct(0.3));
        formula.bassinage = pct(5.0);
        let mut poolish = Preferment::new(Kind::Poolish, pct(25.0)).unwrap();
        poolish.dose = Some(pct(0.08));
        poolish.flour = Some("wheat".into());
        formula.preferment = Some(poolish);
        formula
    }

    #[test]
    fn a_preferment_build_worked_by_hand() {
        // By hand, 4 kg of flour: poolish 1000 flour, 1000 water, 0.8 yeast; water 2880 in all, 200 of
        // it held back; wheat 3400 - 1000, rye 600; salt 80; yeast 12.
        let batch = market_loaf().for_flour(g(4000.0)).unwrap();
        let list: Vec<_> = batch
            .ingredients
            .iter()
            .map(|i| {
                (
                    i.stage.name(),
                    i.name.as_str(),
                    (i.mass.as_grams() * 1e6).round() / 1e6,
                )
            })
            .collect();
        assert_eq!(
            list,
            [
                ("preferment", "wheat", 1000.0),
                ("preferment", "water", 1000.0),
                ("preferment", "instant yeast", 0.8),
                ("mix", "wheat", 2400.0),
                ("mix", "rye", 600.0),
                ("mix", "water", 1680.0),
                ("mix", "salt", 80.0),
                ("mix", "instant yeast", 12.0),
                ("bassinage", "bassinage", 200.0),
            ]
        );
        assert!((batch.dough.as_grams() - 6972.8).abs() < 1e-9);
        assert!((batch.stage_mass(MixStage::Preferment).as_grams() - 2000.8).abs() < 1e-9);
    }

    #[test]
    fn old_dough_counts_toward_the_totals() {
        // By hand: 169.5 g of old dough at 66, 2, 1.5 holds 100 flour, 66 water, 2 salt, 1.5 yeast; on
        // 1000 g of flour that leaves 900 flour, 650 - 66 water and 20 - 2 salt to weigh.
        let mut formula = Formula::new(pct(65.0)).unwrap();
        formula.old_dough = Some(OldDough::new(pct(16.95)).unwrap());
        formula.yeast = Some(pct(0.5));
        let batch = formula.for_flour(g(1000.0)).unwrap();
        for (role, by_hand) in [
            (Role::Flour, 900.0),
            (Role::Water, 584.0),
            (Role::Salt, 18.0),
            (Role::OldDough, 169.5),
            (Role::Yeast, 5.0),
        ] {
            assert!(
                (grams(&batch, role, MixStage::Mix) - by_hand).abs() < 1e-9,
                "{role:?}"
            );
        }
        let old = batch.old_dough.unwrap();
        assert!((old.yeast.as_grams() - 1.5).abs() < 1e-9);
        // 1000 flour, 650 water, 20 salt, 5 yeast weighed and 1.5 brought along
        assert!((batch.dough.as_grams() - 1676.5).abs() < 1e-9);
    }

    #[test]
    fn dough_from_a_hundred_of_flour() {
        // Trade association cfia.fr: 55-70 % water gives 155-170 kg of dough from 100 kg of flour, by
        // flour and water alone.
        for (hydration, dough_kg) in [(55.0, 155.0), (70.0, 170.0)] {
            let mut formula = Formula::new(pct(hydration)).unwrap();
            formula.salt = pct(0.0);
            let batch = formula.for_flour(g(100e3)).unwrap();
            assert!((batch.dough.as_kilograms() - dough_kg).abs() < 1e-9);
        }
    }

    #[test]
    fn a_dose_still_open_is_listed_with_no_mass() {
        let mut formula = market_loaf();
        formula.yeast = None;
        let batch = formula.for_flour(g(1000.0)).unwrap();
        let yeast = batch.ingredients.iter().filter(|i| i.role == Role::Yeast);
        let found: Vec<_> = yeast.map(|i| (i.stage, i.mass.as_grams() > 0.0)).collect();
        assert_eq!(
            found,
            [(MixStage::Preferment, true), (MixStage::Mix, false)]
        );
    }

    #[test]
    fn what_cannot_be_made_is_said() {
        let refusal = |change: &dyn Fn(&mut Formula)| {
            let mut formula = market_loaf();
            change(&mut formula);
            formula.for_flour(g(1000.0)).unwrap_err().to_string()
        };
        assert_eq!(
            refusal(&|f| f.hydration = pct(20.0)),
            "the preferment needs 25 % water (percent of all flour), but only 20 % is there; raise the \
             hydration, or make it smaller or stiffer"
        );
        assert_eq!(
            refusal(&|f| f.bassinage = pct(48.0)),
            "the bassinage needs 48 % water (percent of all flour), but only 47 % is there; raise \
             the hydration, or hold back less"
        );
        assert_eq!(
            refusal(&|f| f.flours[1].share = pct(14.9)),
            "the shares of the flours sum to 99.9 %, but must sum to 100 %; change one of them"
        );
        assert_eq!(
            refusal(&|f| f.preferment.as_mut().unwrap().flour = Some("rye".into())),
            "the preferment needs 25 % \"rye\" (percent of all flour), but only 15 % is there; make it \
             smaller, or of another flour"
        );
        assert_eq!(
            refusal(&|f| f.preferment.as_mut().unwrap().flour = Some("whaet".into())),
            "unknown flour of the preferment \"whaet\"; did you mean \"wheat\"? known: wheat, rye"
        );
        assert!(refusal(&|f| f.preferment.as_mut().unwrap().salt = pct(9.0)).contains("salt"));
        assert!(
            refusal(&|f| f.old_dough = Some(OldDough::new(pct(200.0)).unwrap()))
                .contains("old dough")
        );
        assert!(refusal(&|f| f.flours[1].name = "wheat".into()).contains("listed twice"));
        assert!(refusal(&|f| f.flours.clear()).contains("sum to 0 %"));
        let dough = Preferment::new(Kind::Dough, pct(20.0)).unwrap_err();
        assert!(dough.to_string().contains("a dough is no preferment"));
        assert!(market_loaf().for_flour(g(0.0)).is_err());
        assert!(market_loaf().for_pieces(0, g(500.0), pct(1.0)).is_err());
        assert!(market_loaf().for_pieces(9, g(0.0), pct(1.0)).is_err());
        assert!(market_loaf().for_pieces(9, g(500.0), pct(60.0)).is_err());
    }

    prop_compose! {
        fn any_formula()(
            rye in 0.0..100.0_f64,
            water in 40.0..110.0_f64,
            salt in 0.0..3.0_f64,
            sugar in 0.0..30.0_f64,
            fat in 0.0..60.0_f64,
            yeast in prop::option::of(0.0..4.0_f64),
            seeds in 0.0..25.0_f64,
            second in 0.0..10.0_f64,
            share in prop::option::of(0.0..70.0_f64),
            kind in prop::sample::select(PREFERMENTS.to_vec()),
            dose in prop::option::of(0.01..2.0_f64),
            old in prop::option::of(0.0..40.0_f64),
        ) -> Formula {
            let mut formula = Formula::new(pct(water)).unwrap();
            formula.flours = vec![
                Flour { name: "wheat".into(), share: pct(100.0 - rye) },
                Flour { name: "rye".into(), share: pct(rye) },
            ];
            formula.salt = pct(salt);
            formula.sugar = pct(sugar);
            formula.fat = pct(fat);
            formula.yeast = yeast.map(pct);
            formula.extras = vec![Extra { name: "seeds".into(), percent: pct(seeds), water: None }];
            formula.bassinage = pct(second);
            formula.preferment = share.map(|share| {
                let mut preferment = Preferment::new(kind, pct(share)).unwrap();
                preferment.dose = dose.map(pct);
                preferment
            });
            formula.old_dough = old.map(|percent| OldDough::new(pct(percent)).unwrap());
            formula
        }
    }

    proptest! {
        #[test]
        fn nothing_is_made_or_lost(formula in any_formula(), flour_g in 100.0..1e6_f64) {
            // A formula that cannot be made is refused; every other one conserves each total.
            let Ok(batch) = formula.for_flour(g(flour_g)) else { return Ok(()) };
            let near = |a: f64, b: f64| (a - b).abs() <= 1e-9 * batch.dough.as_grams();
            let all: f64 = batch.ingredients.iter().map(|i| i.mass.as_grams()).sum();
            prop_assert!(near(all, batch.dough.as_grams()));
            let old = batch.old_dough;
            let total = |role| -> f64 { MixStage::ALL.map(|s| grams(&batch, role, s)).iter().sum() };
            let brought = |part: fn(OldDoughMasses) -> Mass| old.map_or(0.0, |o| part(o).as_grams());
            prop_assert!(near(total(Role::Flour) + brought(|o| o.flour), flour_g));
            let water_g = total(Role::Water) + brought(|o| o.water);
            prop_assert!(near(water_g, flour_g * formula.hydration.as_fraction()));
            let salt_g = total(Role::Salt) + brought(|o| o.salt);
            prop_assert!(near(salt_g, flour_g * formula.salt.as_fraction()));
            let old_parts = brought(|o| o.flour) + brought(|o| o.water) + brought(|o| o.salt)
                + brought(|o| o.yeast);
            prop_assert!(near(old_parts, total(Role::OldDough)));
            let stages: f64 = MixStage::ALL.map(|s| batch.stage_mass(s).as_grams()).iter().sum();
            prop_assert!(near(stages, all));
        }

        #[test]
        fn pieces_and_scrap_are_all_the_dough(
            formula in any_formula(), pieces in 1..500_u32, piece_g in 20.0..2000.0_f64, scrap in 0.0..20.0_f64,
        ) {
            let Ok(batch) = formula.for_pieces(pieces, g(piece_g), pct(scrap)) else { return Ok(()) };
            let dough_g = batch.dough.as_grams();
            let wanted_g = f64::from(pieces) * piece_g;
            prop_assert!((dough_g - batch.scrap.as_grams() - wanted_g).abs() <= 1e-9 * dough_g);
            prop_assert!((batch.scrap.as_grams() - dough_g * scrap / 100.0).abs() <= 1e-9 * dough_g);
            // and the same flour asked for outright gives the same batch
            let again = formula.for_flour(batch.flour).unwrap();
            prop_assert!((again.dough.as_grams() - dough_g).abs() <= 1e-9 * dough_g);
        }
    }
}
