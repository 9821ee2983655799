//! Percentages and masses.
//!
//! A [`Formula`] is written in baker's percentages: every figure is a share of *all* flour, the flour
//! of the preferment and of the old dough included. A [`Batch`] is the formula for a wanted amount,
//! as a list of what to weigh into which stage.
//!
//! ```text
//! flour = dough / (1 + hydration + salt + sugar + fat + extras + all yeast)
//! mix   = whole - preferment - old dough - bassinage      for flour, water and salt each
//! ```
//!
//! No mass is made or lost: the ingredients add up to the dough, and the percentages asked for hold
//! for the whole dough.
//!
//! ```
//! use pointage::ferment::Kind;
//! use pointage::formula::{Formula, Preferment, Role, MixStage};
//! use pointage::units::{Mass, Percent};
//!
//! let mut formula = Formula::new(Percent::new(70.0)?)?;
//! let mut poolish = Preferment::new(Kind::Poolish, Percent::new(30.0)?)?;
//! poolish.dose = Some(Percent::new(0.2)?);
//! formula.preferment = Some(poolish);
//!
//! let batch = formula.for_flour(Mass::kilograms(10.0)?)?;
//! let water = |stage| batch.mass_of(Role::Water, stage).as_grams();
//! assert_eq!(water(MixStage::Preferment), 3000.0);
//! assert_eq!(water(MixStage::Mix), 4000.0);
//! # Ok::<(), pointage::Error>(())
//! ```

mod batch;
pub mod loss;
mod yeast;
pub mod yeast_slurry;

pub use batch::{Batch, Ingredient, MixStage, OldDoughMasses, Role};
pub use yeast::{YeastFactors, YeastKind};

use crate::error::{Error, Result};
use crate::ferment::Kind;
use crate::table;
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
    /// All water, that of the preferment, the old dough and the bassinage included.
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
    pub bassinage: Percent,
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

/// A part of the dough that is mixed and ripened ahead.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Preferment {
    /// What it is.
    pub kind: Kind,
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
    /// A preferment that holds `share` of all flour, with the water and salt [usual](Kind::usual)
    /// for its kind, its dose still open.
    ///
    /// # Errors
    /// A [`Kind::Dough`] or a stage of one, which goes to the oven and not into another dough.
    pub fn new(kind: Kind, share: Percent) -> Result<Self> {
        if matches!(kind, Kind::Dough | Kind::Bulk | Kind::Proof) {
            return Err(Error::contradiction(
                "a dough is no preferment; choose poolish, biga, sponge or old-dough",
            ));
        }
        let usual = kind.usual()?;
        Ok(Self {
            kind,
            share,
            hydration: Percent::new(usual.hydration_percent)?,
            salt: Percent::new(usual.salt_percent)?,
            dose: None,
            flour: None,
        })
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
    /// Old dough of the usual make: water, salt and yeast of the table `compositions`. 10-20 % of it
    /// on the flour is common (milling school ENSMIC, course on fermentation, p. 12).
    ///
    /// # Errors
    /// Only if the embedded table were damaged.
    pub fn new(percent: Percent) -> Result<Self> {
        let usual = Kind::OldDough.usual()?;
        let yeast = table::get("compositions")?.number("old_dough_yeast_percent")?;
        Ok(Self {
            percent,
            hydration: Percent::new(usual.hydration_percent)?,
            salt: Percent::new(usual.salt_percent)?,
            yeast: Percent::new(yeast)?,
        })
    }
}

impl Formula {
    /// One flour, this much water, the [usual](Kind::usual) salt of a dough, and nothing else: no
    /// yeast, no preferment.
    ///
    /// # Errors
    /// Only if the embedded table were damaged.
    pub fn new(hydration: Percent) -> Result<Self> {
        let zero = Percent::literal(0.0);
        Ok(Self {
            flours: vec![Flour {
                name: "flour".into(),
                share: Percent::literal(100.0),
            }],
            hydration,
            salt: Percent::new(Kind::Dough.usual()?.salt_percent)?,
            sugar: zero,
            fat: zero,
            yeast: Some(zero),
            yeast_kind: YeastKind::Instant,
            bassinage: zero,
            extras: Vec::new(),
            preferment: None,
            old_dough: None,
        })
    }
}
