//! Percentages and masses.
//!
//! A [`Formula`] is written in baker's percentages: every figure is a share of *all* flour, the flour
//! of the preferment and of the old dough included. A [`Batch`] is the formula for a wanted amount,
//! as a list of what to weigh into which stage.
//!
//! ```text
//! flour = dough / (1 + hydration + salt + sugar + fat + extras + all yeast)
//! mix   = whole - preferment - old dough - second water      for flour, water and salt each
//! ```
//!
//! No mass is made or lost: the ingredients add up to the dough, and the percentages asked for hold
//! for the whole dough.
//!
//! ```
//! use pointage::formula::{Formula, Preferment, PrefermentKind, Role, Stage};
//! use pointage::units::{Mass, Percent};
//!
//! let mut formula = Formula::new(Percent::new(70.0)?);
//! let mut poolish = Preferment::new(PrefermentKind::Poolish, Percent::new(30.0)?);
//! poolish.dose = Some(Percent::new(0.2)?);
//! formula.preferment = Some(poolish);
//!
//! let batch = formula.for_flour(Mass::kilograms(10.0)?)?;
//! let water = |stage| batch.mass_of(Role::Water, stage).as_grams();
//! assert_eq!(water(Stage::Preferment), 3000.0);
//! assert_eq!(water(Stage::Mix), 4000.0);
//! # Ok::<(), pointage::Error>(())
//! ```

mod batch;
pub mod loss;
pub mod pinch;
mod yeast;

pub use batch::{Batch, Ingredient, OldDoughMasses, Role, Stage};
pub use yeast::{YeastFactors, YeastKind};

use crate::error::{Error, Result};
use crate::units::Percent;

/// A bread formula in baker's percentages: every figure is a percentage of all flour unless it says
/// otherwise.
///
/// Begin with [`Formula::new`] and set what differs. Nothing is checked until a batch is made.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Formula {
    /// The flours and their shares, which sum to 100 %.
    pub flours: Vec<Flour>,
    /// All water, that of the preferment, the old dough and the second water included.
    pub hydration: Percent,
    /// All salt, that of the preferment and the old dough included.
    pub salt: Percent,
    /// Sugar added at the mix.
    pub sugar: Percent,
    /// Fat added at the mix.
    pub fat: Percent,
    /// Yeast weighed at the mix, in [`yeast_kind`](Self::yeast_kind), on top of the living yeast that
    /// a preferment or old dough brings. `None`: a dose still to be found, counted as nothing.
    pub yeast: Option<Percent>,
    /// The yeast that is weighed, at the mix and into the preferment.
    pub yeast_kind: YeastKind,
    /// The part of the water that is held back and worked in at the end of the mix.
    pub second_water: Percent,
    /// Anything else that goes in at the mix: seeds, milk, malt.
    pub extras: Vec<Extra>,
    /// A part of the dough that is mixed and ripened ahead.
    pub preferment: Option<Preferment>,
    /// A piece of an earlier dough, kneaded into this one.
    pub old_dough: Option<OldDough>,
}

/// A flour and its share.
#[derive(Debug, Clone, PartialEq)]
pub struct Flour {
    /// What the baker calls it.
    pub name: String,
    /// Share of all flour.
    pub share: Percent,
}

/// An ingredient besides flour, water, salt, sugar, fat and yeast.
#[derive(Debug, Clone, PartialEq)]
pub struct Extra {
    /// What the baker calls it.
    pub name: String,
    /// Percentage of all flour.
    pub percent: Percent,
    /// How much of it is water, as a percentage of itself; for the baker's information, it does not
    /// count toward the hydration.
    pub water: Option<Percent>,
}

/// The kinds of preferment.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum PrefermentKind {
    /// Liquid: as much water as flour.
    Poolish,
    /// Stiff and cool.
    Biga,
    /// Of a dough's consistency, without salt.
    Sponge,
    /// A whole dough with salt, made a day ahead for the purpose.
    OldDough,
}

impl PrefermentKind {
    /// Every kind.
    pub const ALL: [Self; 4] = [Self::Poolish, Self::Biga, Self::Sponge, Self::OldDough];

    /// The name used in files and flags.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Poolish => "poolish",
            Self::Biga => "biga",
            Self::Sponge => "sponge",
            Self::OldDough => "old-dough",
        }
    }

    /// Water and salt it usually has, percent of its own flour.
    ///
    /// Poolish 100 by definition; biga 44-45 (P. Giorilli's form); sponge 60-63 (M. DiMuzio, *Bread
    /// Baking*, p. 69); old dough 66 and 2 (pastry class notes, flour 100, water 66, salt 2, yeast 1.5).
    fn usual_water_and_salt(self) -> (f64, f64) {
        match self {
            Self::Poolish => (100.0, 0.0),
            Self::Biga => (45.0, 0.0),
            Self::Sponge => (62.0, 0.0),
            Self::OldDough => (66.0, 2.0),
        }
    }
}

impl std::fmt::Display for PrefermentKind {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(self.name())
    }
}

impl std::str::FromStr for PrefermentKind {
    type Err = Error;
    fn from_str(text: &str) -> Result<Self> {
        Self::ALL
            .into_iter()
            .find(|kind| kind.name() == text)
            .ok_or_else(|| Error::unknown_name("preferment", text, Self::ALL.map(Self::name)))
    }
}

/// A part of the dough that is mixed and ripened ahead.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Preferment {
    /// What it is.
    pub kind: PrefermentKind,
    /// Its flour, as a percentage of all flour.
    pub share: Percent,
    /// Its water, as a percentage of its own flour.
    pub hydration: Percent,
    /// Its salt, as a percentage of its own flour.
    pub salt: Percent,
    /// Its yeast, as a percentage of its own flour, in the formula's kind of yeast. `None`: a dose
    /// still to be found, counted as nothing.
    pub dose: Option<Percent>,
    /// The one flour it is made of; `None`: the formula's blend.
    pub flour: Option<String>,
}

impl Preferment {
    /// A preferment that holds `share` of all flour, with the water and salt usual for its kind
    /// (poolish 100 %, biga 45 %, sponge 62 %, old dough 66 % and 2 % salt), its dose still open.
    #[must_use]
    pub fn new(kind: PrefermentKind, share: Percent) -> Self {
        let (water, salt) = kind.usual_water_and_salt();
        Self {
            kind,
            share,
            hydration: Percent::literal(water),
            salt: Percent::literal(salt),
            dose: None,
            flour: None,
        }
    }
}

/// A piece of an earlier dough, kneaded into this one.
///
/// It brings its own flour (of the formula's blend), water and salt, which count toward the totals of
/// the new dough, and its living yeast, which comes on top of the yeast weighed at the mix.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct OldDough {
    /// Its mass, as a percentage of all flour of the new dough.
    pub percent: Percent,
    /// Its water, as a percentage of its own flour.
    pub hydration: Percent,
    /// Its salt, as a percentage of its own flour.
    pub salt: Percent,
    /// Its yeast as fresh, as a percentage of its own flour.
    pub yeast: Percent,
}

impl OldDough {
    /// Old dough of the usual make: water 66, salt 2, fresh yeast 1.5 % of its flour (pastry class
    /// notes); 10-20 % of it on the flour is common (milling school ENSMIC, course on fermentation, p. 12).
    #[must_use]
    pub fn new(percent: Percent) -> Self {
        Self {
            percent,
            hydration: Percent::literal(66.0),
            salt: Percent::literal(2.0),
            yeast: Percent::literal(1.5),
        }
    }
}

impl Formula {
    /// One flour, this much water, 2 % salt, and nothing else: no yeast, no preferment.
    #[must_use]
    pub fn new(hydration: Percent) -> Self {
        let zero = Percent::literal(0.0);
        Self {
            flours: vec![Flour {
                name: "flour".into(),
                share: Percent::literal(100.0),
            }],
            hydration,
            salt: Percent::literal(2.0),
            sugar: zero,
            fat: zero,
            yeast: Some(zero),
            yeast_kind: YeastKind::Instant,
            second_water: zero,
            extras: Vec::new(),
            preferment: None,
            old_dough: None,
        }
    }
}
