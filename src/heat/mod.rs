//! Water, ice, friction and the temperature of the dough.
//!
//! Two ways lead from a desired dough temperature to the water that gives it, and the baker sees both:
//! - [`ddt_formula`]: the desired-dough-temperature formula: three or four temperatures and one friction factor. It
//!   needs no masses and is right once the friction was learned on this mixer with this dough.
//! - [`balance`]: heat in equals heat out, with masses, heat capacities, wetting, mixing, bowl,
//!   a rest and a bassinage. It needs masses and is right where the DDT formula is out of its
//!   depth: large preferments, cold yeast, heavy bowls, autolyse.
//!
//! [`ice`] splits the pour into ice and tap water, [`cautions`] says where an answer leaves common
//! practice, [`dough_body`] how fast a dough follows the temperature around it, and [`conduction`] how
//! core, surface and mean do so one by one where they part.

pub mod balance;
pub mod cautions;
pub mod conduction;
pub mod ddt_formula;
pub mod dough_body;
pub mod ice;
pub mod properties;

pub use cautions::Caution;
