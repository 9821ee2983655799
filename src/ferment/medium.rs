//! What the dough around the yeast does to it: salt, sugar, water.

use super::simulate::sugar_left;
use crate::error::{Result, check};
use crate::table;

/// The dough as the yeast meets it: factors on its rates and the sugar it can use.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Medium {
    /// Factor on gas making, 1 without salt and in lean dough.
    pub gas_factor: f64,
    /// Factor on growth, 1 without salt.
    pub growth_factor: f64,
    /// Sugar stock, as the CO2 it can give, mL per 100 g flour; may be endless.
    pub sugar: f64,
    /// Sugar at which gas making runs at half speed, in the same measure.
    pub sugar_half: f64,
    /// Part of the flour that is fresh, 0 to 1: growth draws on fresh flour only.
    pub fresh_flour: f64,
}

impl Medium {
    /// A medium that leaves the yeast alone: no salt, sugar without end, all flour fresh.
    pub const NEUTRAL: Self = Self {
        gas_factor: 1.0,
        growth_factor: 1.0,
        sugar: f64::INFINITY,
        sugar_half: 1.0,
        fresh_flour: 1.0,
    };

    /// Gas that sugar without end would have given when `gas` has been made; `None` beyond the sugar.
    pub(crate) fn potential_of(&self, gas: f64) -> Option<f64> {
        let Self {
            sugar, sugar_half, ..
        } = *self;
        if sugar == f64::INFINITY {
            return Some(gas);
        }
        (gas < sugar).then(|| gas + sugar_half * (sugar / (sugar - gas)).ln())
    }

    /// Gas made in all when `gas` had been made and sugar without end would have given so much `more`.
    pub(crate) fn gas_after(&self, gas: f64, more: f64) -> f64 {
        if self.sugar == f64::INFINITY {
            return gas + more;
        }
        self.sugar - sugar_left(self.sugar - gas, self.sugar_half, more)
    }

    /// Share of full speed that the sugar allows when so much gas has been made.
    pub(crate) fn sugar_share(&self, gas: f64) -> f64 {
        if self.sugar == f64::INFINITY {
            return 1.0;
        }
        let left = self.sugar - gas;
        left / (left + self.sugar_half)
    }
}

/// What a dough is made of, in percent of its flour.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Composition {
    /// Water, 30 to 200 %.
    pub hydration_percent: f64,
    /// Salt, 0 to 8 %.
    pub salt_percent: f64,
    /// Added sugar, 0 to 40 %.
    pub sugar_percent: f64,
    /// Part of the flour that is fresh, 0 to 1; the rest has fermented in a preferment.
    pub fresh_flour: f64,
    /// CO2 already made from this flour's sugar in a preferment, mL per 100 g of all flour.
    pub gas_spent: f64,
}

impl Composition {
    /// A dough of fresh flour, water and salt.
    #[must_use]
    pub fn lean(hydration_percent: f64, salt_percent: f64) -> Self {
        Self {
            hydration_percent,
            salt_percent,
            sugar_percent: 0.0,
            fresh_flour: 1.0,
            gas_spent: 0.0,
        }
    }

    pub(crate) fn check(&self) -> Result<()> {
        // A percentage worked back from weights may miss its limit by rounding.
        let hydration = self.hydration_percent;
        if !(30.0 - 1e-9..=200.0 + 1e-9).contains(&hydration) {
            check("hydration", hydration, 30.0, 200.0, "% of flour")?;
        }
        check("salt", self.salt_percent, 0.0, 8.0, "% of flour")?;
        check("added sugar", self.sugar_percent, 0.0, 40.0, "% of flour")?;
        check("fresh part of the flour", self.fresh_flour, 0.0, 1.0, "")?;
        let (spent, unit) = (self.gas_spent, "mL per 100 g flour");
        check("gas already made", spent, 0.0, 1e5, unit).map(|_| ())
    }
}

/// How salt and sugar slow the yeast; the numbers come from `data/ferment`.
#[derive(Debug, Clone, Copy, PartialEq, serde::Deserialize)]
pub struct MediumEffects {
    /// Slowing of gas making per % of salt at the reference hydration.
    pub salt_per_percent: f64,
    /// Hydration at which the salt effect is given, %.
    pub reference_hydration_percent: f64,
    /// Sugar a flour gives by itself, as CO2, mL per 100 g flour.
    pub sugar_stock_ml_per_100g: f64,
    /// Sugar at which gas making runs at half speed, as CO2, mL per 100 g flour.
    pub sugar_half_rate_ml_per_100g: f64,
    /// Added sugar that still does no harm, % of flour.
    pub added_sugar_onset_percent: f64,
    /// Slowing per % of sugar above the onset.
    pub added_sugar_slope_per_percent: f64,
    /// CO2 from a gram of added sugar, mL (at 25 °C, 1 atm).
    pub sucrose_ml_per_g: f64,
    /// Dissolved matter of salt-free dough at the reference hydration, osmol per kg of water.
    pub native_osmol_per_kg: f64,
    /// Osmotic coefficient of sodium chloride.
    pub nacl_osmotic_coefficient: f64,
    /// Growth against water activity: `exp(-a (sqrt(1 - aw) - b)²)`, a.
    pub water_activity_factor: f64,
    /// The same, b.
    pub water_activity_root: f64,
}

/// Mol of water in a kilogram: 1000 / 18.0.
const MOL_WATER_PER_KG: f64 = 55.556;
/// Molar mass of sodium chloride, g/mol.
const G_PER_MOL_SALT: f64 = 58.44;

impl MediumEffects {
    /// The numbers of the tables `defaults` and `co2`.
    pub(crate) fn shipped() -> Result<Self> {
        table::read(&[table::get("defaults")?, table::get("co2")?])
    }

    /// The medium that a composition makes.
    ///
    /// Gas making is slowed by `exp(-k salt% 62/hydration)`, and by a straight line above the sugar
    /// onset. Growth follows the water activity `aw = 55.556 / (55.556 + osmol per kg)`, relative to
    /// the same dough without salt, so that an unsalted preferment has factor 1.
    ///
    /// # Errors
    /// A percentage out of its range.
    pub fn medium(&self, dough: &Composition) -> Result<Medium> {
        dough.check()?;
        let dilution = self.reference_hydration_percent / dough.hydration_percent;
        let salted = (-self.salt_per_percent * dough.salt_percent * dilution).exp();
        let over = (dough.sugar_percent - self.added_sugar_onset_percent).max(0.0);
        let sweet = (1.0 - self.added_sugar_slope_per_percent * over).max(0.05);
        let native = self.native_osmol_per_kg * dilution;
        let salt_mol_per_kg =
            10.0 * dough.salt_percent / G_PER_MOL_SALT / (dough.hydration_percent / 100.0);
        let salt_osmol = 2.0 * self.nacl_osmotic_coefficient * salt_mol_per_kg;
        let growth = (self.log_growth_at(native + salt_osmol) - self.log_growth_at(native)).exp();
        let stock = self.sugar_stock_ml_per_100g + self.sucrose_ml_per_g * dough.sugar_percent;
        Ok(Medium {
            gas_factor: salted * sweet,
            growth_factor: growth,
            sugar: (stock - dough.gas_spent).max(0.0),
            sugar_half: self.sugar_half_rate_ml_per_100g,
            fresh_flour: dough.fresh_flour,
        })
    }

    fn log_growth_at(&self, osmol_per_kg: f64) -> f64 {
        let dry = osmol_per_kg / (MOL_WATER_PER_KG + osmol_per_kg); // 1 - water activity
        -self.water_activity_factor * (dry.sqrt() - self.water_activity_root).powi(2)
    }
}

#[cfg(test)]
pub(crate) mod tests {
    use super::*;

    pub(crate) fn published() -> MediumEffects {
        MediumEffects {
            salt_per_percent: 0.10,
            reference_hydration_percent: 62.0,
            sugar_stock_ml_per_100g: 1750.0,
            sugar_half_rate_ml_per_100g: 4.0,
            added_sugar_onset_percent: 5.0,
            added_sugar_slope_per_percent: 0.03,
            sucrose_ml_per_g: 285.9,
            native_osmol_per_kg: 0.35,
            nacl_osmotic_coefficient: 0.93,
            water_activity_factor: 40.85,
            water_activity_root: 0.05,
        }
    }

    /// Growth against salt at 62 % water by the published water-activity model (GroPIN 1033), worked out
    /// by hand with 0.35 osmol/kg of native solutes and an osmotic coefficient of 0.93; two decimals.
    #[test]
    fn salt_slows_growth_as_the_water_activity_model_says() {
        for (salt, factor) in [
            (0.0, 1.0),
            (1.0, 0.83),
            (1.5, 0.74),
            (2.0, 0.66),
            (2.5, 0.58),
            (3.0, 0.51),
            (4.0, 0.39),
        ] {
            let medium = published().medium(&Composition::lean(62.0, salt)).unwrap();
            assert!(
                (medium.growth_factor - factor).abs() < 0.006,
                "{salt} %: {}",
                medium.growth_factor
            );
        }
    }

    #[test]
    fn salt_slows_gas_more_in_a_stiff_dough() {
        let factor = |h| {
            published()
                .medium(&Composition::lean(h, 2.0))
                .unwrap()
                .gas_factor
        };
        assert!((factor(62.0) - (-0.2f64).exp()).abs() < 1e-15);
        assert!(factor(50.0) < factor(62.0) && factor(62.0) < factor(80.0));
        let unsalted = published().medium(&Composition::lean(45.0, 0.0)).unwrap();
        assert_eq!((unsalted.gas_factor, unsalted.growth_factor), (1.0, 1.0));
    }

    /// Marek and Bushuk 1967: sugar raises gas making up to 5 % of flour and lowers it above; by how much
    /// is from memory, 3 % of the speed for each further percent.
    #[test]
    fn the_shipped_yeast_slows_from_five_percent_of_sugar() {
        let effects = crate::ferment::Parameters::shipped().unwrap().effects;
        let factor = |sugar_percent| {
            let dough = Composition {
                sugar_percent,
                ..Composition::lean(62.0, 0.0)
            };
            effects.medium(&dough).unwrap().gas_factor
        };
        assert_eq!(factor(5.0), 1.0);
        assert!(factor(5.1) < 1.0);
        assert!((factor(15.0) - 0.70).abs() < 1e-12);
    }

    #[test]
    fn sugar_feeds_and_above_the_onset_slows() {
        let medium = |sugar_percent| {
            published()
                .medium(&Composition {
                    sugar_percent,
                    ..Composition::lean(62.0, 0.0)
                })
                .unwrap()
        };
        assert_eq!(medium(5.0).gas_factor, 1.0);
        assert!((medium(10.0).gas_factor - 0.85).abs() < 1e-12);
        assert!(medium(5.0).sugar > medium(0.0).sugar);
        assert!(published().medium(&Composition::lean(20.0, 2.0)).is_err());
    }

    /// `G + K ln(S/(S - G))` by hand: for 50 of 100 mL with K 10 it is 50 + 10 ln 2. All of it never comes.
    #[test]
    fn the_last_of_the_sugar_is_never_reached() {
        let medium = Medium {
            sugar: 100.0,
            sugar_half: 10.0,
            ..Medium::NEUTRAL
        };
        assert!((medium.potential_of(50.0).unwrap() - 50.0 - 10.0 * 2.0_f64.ln()).abs() < 1e-12);
        assert_eq!(medium.potential_of(0.0), Some(0.0));
        for gas in [100.0, 101.0] {
            assert_eq!(medium.potential_of(gas), None, "{gas}");
        }
    }
}
