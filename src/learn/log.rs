//! A baker's log: what was made, where it stood, and when it was seen ripe.

use super::csv_log::{CsvLog, CsvRow, Read, Refused};
use crate::ambient::{Ambient, TemperatureProfile};
use crate::error::{Error, Result};
use crate::ferment::{Composition, EndPoint, Inoculum, Kind, Parameters, Stage};
use crate::formula::{YeastFactors, YeastKind};
use crate::heat::dough_body::{Body, DoughProperties, Place as Surroundings, Shape};
use crate::units::{Mass, Temperature};

/// Where a dough stands.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub enum LoggedPlace {
    /// Held about one temperature.
    Held(Temperature),
    /// In a room of which there is a record; its hour 0 is the start of the dough.
    Room {
        /// The record.
        room: Ambient,
        /// Temperature of the dough at its start; that of the room when not known.
        start: Option<Temperature>,
        /// Time constant with which it follows the room, h; see [`crate::heat::dough_body`].
        time_constant_h: f64,
    },
}

impl LoggedPlace {
    /// The course of a dough that stands here.
    pub(crate) fn course(&self) -> Result<TemperatureProfile<'_>> {
        match self {
            Self::Held(t) => Ok(TemperatureProfile::held(*t)),
            Self::Room {
                room,
                start,
                time_constant_h,
            } => {
                let from = start.unwrap_or_else(|| room.at(0.0));
                TemperatureProfile::following(room, 0.0, from, *time_constant_h)
            }
        }
    }

    /// A temperature that stands for the place: the one held, or that of the record after `hours/2`.
    pub(crate) fn about_c(&self, hours: f64) -> f64 {
        self.course().map_or(f64::NAN, |c| c.at(0.5 * hours))
    }
}

/// A dough as it is set: what it is made of and where it stands.
#[derive(Debug, Clone, PartialEq)]
pub struct LoggedDough {
    /// What it is.
    pub kind: Kind,
    /// Water, salt, sugar, in % of its flour.
    pub composition: Composition,
    /// Yeast as fresh, % of its flour.
    pub fresh_percent: f64,
    /// What it has behind it.
    pub history: History,
    /// Where it stands.
    pub place: LoggedPlace,
    /// V/V0 in a jar, where its time is that of a rise and not of its end point.
    pub rise: Option<f64>,
}

/// What a dough brings to the stage of its row; nothing for a fresh one.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct History {
    /// Living yeast that a preferment or old dough has brought, as fresh, % of its flour, 0 to 50.
    pub carried_percent: f64,
    /// Hours from its mixing to the start of the stage, 0 to 504.
    pub hours: f64,
}

impl LoggedDough {
    /// Hours until it is ready.
    ///
    /// # Errors
    /// A dough that is never ready, or a time constant outside 0.01 to 10 000 h.
    pub fn ready(&self, p: &Parameters) -> Result<f64> {
        let before_h = self.history.hours;
        let ripe = self
            .stage()
            .ripe_after(p, &self.place.course()?, before_h)?;
        Ok(ripe.hours - before_h)
    }

    /// All its yeast as fresh, % of its flour.
    pub(crate) fn dose(&self) -> f64 {
        self.fresh_percent + self.history.carried_percent
    }

    /// The stage of the model; own heat is left out, as it was when the tables were fitted.
    pub(crate) fn stage(&self) -> Stage {
        Stage {
            composition: self.composition,
            yeast: Inoculum {
                added: self.fresh_percent,
                carried: self.history.carried_percent,
            },
            end: (self.rise).map_or(EndPoint::Ripe(self.kind), EndPoint::Rise),
            own_heat: None,
        }
    }
}

/// What was seen at the hour of a row.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, serde::Serialize)]
#[cfg_attr(feature = "schema", derive(schemars::JsonSchema))]
#[serde(rename_all = "kebab-case")]
pub enum Seen {
    /// At its end point just then: ripe, doubled, or as far as its baker lets it go.
    Ready,
    /// Not there yet when last looked at: it takes longer.
    NotYet,
    /// Past it already when first looked at: it took less.
    Past,
}

/// One row of a log.
#[derive(Debug, Clone, PartialEq)]
pub struct Observation {
    /// Line of the log, for the report; the header is line 1.
    pub line: u64,
    /// The dough.
    pub bake: LoggedDough,
    /// Hours from its mixing, or from the start of its stage, to what was seen, 0.1 to 504.
    pub hours: f64,
    /// What was seen.
    pub seen: Seen,
    /// V/V0 that a jar showed then, as written; nothing is learned from that of a proof.
    pub rise: Option<f64>,
    /// The day, as written; empty when it is not told.
    pub date: String,
}

/// A log as read.
#[derive(Debug, Clone, PartialEq)]
#[non_exhaustive]
pub struct Log {
    /// The usable rows.
    pub observations: Vec<Observation>,
    /// The others, with the reason.
    pub refused: Vec<Refused>,
}

/// The columns that [`Log::from_csv`] knows; masses, temperature and hours may have other units.
pub const COLUMNS: [&str; 16] = [
    "date",
    "kind",
    "flour_g",
    "water_g",
    "salt_g",
    "yeast",
    "yeast_g",
    "preferment_flour_g",
    "living_yeast_g",
    "temperature_c",
    "room_record",
    "before_hours",
    "hours",
    "seen",
    "rise",
    "note",
];

impl Log {
    /// Reads a log from the text of a CSV file.
    ///
    /// | column | content |
    /// |---|---|
    /// | `kind` | `poolish`, `biga`, `sponge`, `old-dough`, `dough`, or a stage of a dough, `bulk` or `proof` |
    /// | `flour_g`, `water_g`, `salt_g` | its own flour, water and salt; salt may be left out |
    /// | `yeast`, `yeast_g` | `fresh`, `instant` or `active-dry`, and how much |
    /// | `preferment_flour_g`, `living_yeast_g` | what a preferment or old dough has brought: how much of the flour, and of yeast, as fresh |
    /// | `temperature_c` | the temperature that the dough was held about |
    /// | `room_record` | or the name of a room's record, fetched with `room`, its hour 0 the start of the dough; `temperature_c` is then that of the dough at the start |
    /// | `before_hours` | from its mixing to the start of a bulk or a proof; none when left out |
    /// | `hours` | from mixing, or from the start of the bulk or the proof, to what was seen |
    /// | `seen` | `ripe` (preferments), `doubled` (doughs), or `ready` for any; `not-yet`, `past` |
    /// | `rise` | V/V0 that a straight-sided jar showed then, 1.05 to 5; `seen` may then be empty |
    /// | `date`, `note` | free text |
    ///
    /// A row with a rise counts twice: the rise tells how fast the yeast is, the end point when the baker goes on. In a
    /// proof a rise teaches nothing, for what shaping has left in the piece is not known.
    ///
    /// Masses may be `_g`, `_kg`, `_lb` or `_oz`, the temperature `_c` or `_f`, the time `hours` or
    /// `minutes`. A dough in a recorded room follows it as a covered tub of its mass does.
    ///
    /// # Errors
    /// A column that is missing, unknown or double. Bad rows are no error: they are in `refused`.
    ///
    /// ```
    /// use pointage::learn::log::{Log, Seen};
    /// use pointage::Error;
    /// let log = Log::from_csv("\
    /// date,kind,flour_g,water_g,yeast,yeast_g,temperature_c,hours,seen
    /// 3 May,poolish,1000,1000,instant,1,21,13,ripe
    /// 4 May,poolish,1000,1000,instant,1,21,9,not-yet
    /// 5 May,polish,1000,1000,instant,1,21,13,ripe
    /// ", |name| Err(pointage::table::get(name).unwrap_err()))?;
    /// assert_eq!(log.observations[1].seen, Seen::NotYet);
    /// assert!((log.observations[0].bake.fresh_percent - 0.1 / 0.33).abs() < 1e-9);
    /// assert!(log.refused[0].to_string().starts_with(
    ///     "line 4, column kind: unknown kind \"polish\"; did you mean \"poolish\"?"));
    /// # Ok::<(), Error>(())
    /// ```
    pub fn from_csv(text: &str, mut room: impl FnMut(&str) -> Result<Ambient>) -> Result<Self> {
        const NEEDED: [&str; 5] = ["kind", "flour_g", "water_g", "yeast", "yeast_g"];
        let log = CsvLog::read(text, &NEEDED, &COLUMNS, |_| false)?;
        // Older logs have no rises.
        let seen = log.column("rise").map_or("seen", |_| "hours");
        let place = ["temperature_c", "room_record"];
        if place.iter().all(|name| log.column(name).is_none()) {
            return Err(log.missing("temperature_c"));
        }
        if let Some(name) = ["hours", seen].iter().find(|n| log.column(n).is_none()) {
            return Err(log.missing(name));
        }
        let factors = YeastFactors::shipped()?;
        let (observations, refused) = log.each(|row| observation(row, &factors, &mut room));
        Ok(Self {
            observations: observations.into_iter().flatten().collect(),
            refused,
        })
    }
}

/// What a row tells: when the dough has come to its end point, to a rise, or both.
fn observation(
    row: &CsvRow<'_>,
    factors: &YeastFactors,
    room: &mut impl FnMut(&str) -> Result<Ambient>,
) -> Read<Vec<Observation>> {
    let kind: Kind = row.text("kind").parse().map_err(row.refuse("kind"))?;
    let flour_g = row.ingredient("flour_g", "dough")?.as_grams();
    let water_g = row.ingredient("water_g", "dough")?.as_grams();
    let salt_g = row.mass("salt_g")?.map_or(0.0, Mass::as_grams);
    let yeast: YeastKind = row.text("yeast").parse().map_err(row.refuse("yeast"))?;
    let living_g = row.mass("living_yeast_g")?.map_or(0.0, Mass::as_grams);
    let yeast_g = match row.mass("yeast_g")? {
        Some(none) if living_g > 0.0 && none.as_grams() == 0.0 => 0.0,
        _ => row.ingredient("yeast_g", "dough")?.as_grams(),
    };
    let percent = |name, what, g: f64, range| {
        row.check(name, (what, "% of flour"), 100.0 * g / flour_g, range)
    };
    let hydration = percent("water_g", "water", water_g, (30.0, 200.0))?;
    let salt = percent("salt_g", "salt", salt_g, (0.0, 8.0))?;
    let brought_g = row.mass("preferment_flour_g")?.map_or(0.0, Mass::as_grams);
    let brought = percent("preferment_flour_g", "flour", brought_g, (0.0, 100.0))?;
    let fresh_g = yeast_g / factors.factor(yeast);
    let least = if living_g > 0.0 { 0.0 } else { 1e-4 };
    let fresh_percent = percent("yeast_g", "fresh yeast", fresh_g, (least, 20.0))?;
    let history = History {
        carried_percent: percent("living_yeast_g", "living yeast", living_g, (0.0, 20.0))?,
        hours: row.number("before_hours")?.unwrap_or(0.0),
    };
    row.check("before_hours", ("time", "h"), history.hours, (0.0, 504.0))?;
    let hours = row.needed("hours", row.number("hours")?)?;
    row.check("hours", ("time", "h"), hours, (0.1, 504.0))?;
    let rise = row.number("rise")?;
    if let Some(rise) = rise {
        row.check("rise", ("rise", "V/V0"), rise, (1.05, 5.0))?;
    }
    let seen = match (rise, row.text("seen")) {
        (Some(_), "") if kind != Kind::Proof => None,
        (Some(_), "") => {
            let why = "the rise of a proof teaches nothing by itself; write ready, not-yet or past";
            return Err(row.refuse("seen")(Error::contradiction(why)));
        }
        (_, word) => Some(seen(kind, word).map_err(row.refuse("seen"))?),
    };
    let temperature = row.temperature("temperature_c")?;
    if let Some(t) = temperature {
        let what = ("temperature", "°C");
        row.check("temperature_c", what, t.as_celsius(), (-5.0, 45.0))?;
    }
    let place = match (row.text("room_record"), temperature) {
        ("", temperature) => LoggedPlace::Held(row.needed("temperature_c", temperature)?),
        (name, start) => LoggedPlace::Room {
            room: room(name).map_err(row.refuse("room_record"))?,
            start,
            time_constant_h: tub_time_constant_h(flour_g + water_g + salt_g + yeast_g)
                .map_err(row.refuse("flour_g"))?,
        },
    };
    let bake = LoggedDough {
        kind,
        composition: Composition {
            fresh_flour: 1.0 - brought / 100.0,
            ..Composition::lean(hydration, salt)
        },
        fresh_percent,
        history,
        place,
        rise: None,
    };
    let observed = |bake, seen| Observation {
        line: row.line,
        bake,
        hours,
        seen,
        rise,
        date: row.text("date").to_owned(),
    };
    let risen = LoggedDough {
        rise,
        ..bake.clone()
    };
    let told_by_jar = rise.is_some() && kind != Kind::Proof;
    let of_end = seen.map(|seen| observed(bake, seen));
    let of_rise = told_by_jar.then(|| observed(risen, Seen::Ready));
    Ok(of_end.into_iter().chain(of_rise).collect())
}

/// How fast a covered tub with so much dough follows its room, h.
fn tub_time_constant_h(dough_g: f64) -> Result<f64> {
    let surface = Surroundings::StillRoom.surface_w_per_m2_k()?;
    let body = Body::new(
        Mass::grams(dough_g)?,
        Shape::TUB,
        DoughProperties::shipped()?,
    )?;
    body.time_constant_h(surface)
}

fn seen(kind: Kind, text: &str) -> Result<Seen> {
    let is_dough = matches!(kind, Kind::Dough | Kind::OldDough);
    if matches!(kind, Kind::Bulk | Kind::Proof) && ["ripe", "doubled"].contains(&text) {
        return Err(Error::contradiction(format!(
            "a {kind} is logged when its baker goes on; write ready, not-yet or past"
        )));
    }
    match text {
        "not-yet" => Ok(Seen::NotYet),
        "past" => Ok(Seen::Past),
        "ready" => Ok(Seen::Ready),
        "ripe" if !is_dough => Ok(Seen::Ready),
        "doubled" if is_dough => Ok(Seen::Ready),
        "ripe" => Err(Error::contradiction(
            "a dough is logged when it has doubled; write doubled, not-yet or past",
        )),
        "doubled" => Err(Error::contradiction(format!(
            "a {kind} is logged when it is ripe, which is not when it has doubled; write ripe, not-yet or past"
        ))),
        _ => Err(Error::unknown_name(
            "word for what was seen",
            text,
            ["ripe", "doubled", "not-yet", "past"],
        )),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(text: &str) -> Log {
        Log::from_csv(text, |name| match name {
            "night" => Ambient::ramps(&[(0.0, 21.0), (8.0, 17.0)]),
            other => Err(Error::unknown_name("record", other, ["night"])),
        })
        .unwrap()
    }

    #[test]
    fn a_bad_row_is_named_by_line_and_column() {
        let log = read(
            "kind,flour_g,water_g,yeast,yeast_g,temperature_c,room_record,hours,seen\n\
             poolish,500,500,fresh,1,21,,12,ripe\n\
             poolish,500,500,fresh,1,21,,12,doubled\n\
             dough,500,320,fresh,10,26,,two,doubled\n\
             # a remark\n\
             dough,500,320,fresh,10,,,2,doubled\n\
             dough,500,320,fresh,10,80,,2,doubled\n\
             dough,500,32,fresh,10,26,,2,doubled\n\
             poolish,500,500,fresh,1,,nigth,12,ripe\n\
             poolish,500,500,fresh,1,22,night,12,past\n",
        );
        assert_eq!(log.observations.len(), 2);
        assert!(matches!(
            log.observations[1].bake.place,
            LoggedPlace::Room { start: Some(_), .. }
        ));
        let said: Vec<String> = log.refused.iter().map(ToString::to_string).collect();
        assert_eq!(
            said,
            [
                "line 3, column seen: a poolish is logged when it is ripe, which is not when it has doubled; write ripe, not-yet or past",
                "line 4, column hours: cannot read a number from \"two\"; write a plain number such as 19.5",
                "line 6, column temperature_c: the cell is empty; fill it in",
                "line 7, column temperature_c: temperature is 80 °C, but must lie between -5 and 45 °C",
                "line 8, column water_g: water is 6.4 % of flour, but must lie between 30 and 200 % of flour",
                "line 9, column room_record: unknown record \"nigth\"; did you mean \"night\"? known: night",
            ]
        );
    }

    #[test]
    fn other_units_read_the_same() {
        let a = read(
            "kind,flour_g,water_g,yeast,yeast_g,temperature_c,hours,seen\npoolish,500,500,fresh,1,21,12,ripe\n",
        );
        let b = read(
            "kind,flour_kg,water_kg,yeast,yeast_kg,temperature_f,minutes,seen\npoolish,0.5,0.5,fresh,0.001,69.8,720,ripe\n",
        );
        let (a, b) = (&a.observations[0], &b.observations[0]);
        assert!((a.bake.fresh_percent - b.bake.fresh_percent).abs() < 1e-12);
        assert!((a.bake.place.about_c(1.0) - b.bake.place.about_c(1.0)).abs() < 1e-9);
        assert_eq!(a.hours, b.hours);
    }

    #[test]
    fn a_header_that_does_not_fit_is_refused() {
        let error = |text: &str| {
            Log::from_csv(text, |_| Err(Error::malformed("no records here")))
                .unwrap_err()
                .to_string()
        };
        assert!(error("kind,flour_g,wtaer_g\n").contains("did you mean \"water_g\""));
        assert!(error("kind,flour_g,flour_kg,water_g\n").contains("flour is given twice"));
        assert!(
            error("kind,flour_g,water_g,yeast,yeast_g,hours,seen\n")
                .contains("no column temperature_c")
        );
        assert!(error("").contains("no column kind"));
    }

    /// A tub follows its room by all that is in it: flour, water, salt and yeast together. Eight times the mass
    /// is twice as long a way for the heat, and of half the surface to its mass.
    #[test]
    fn a_tub_is_as_slow_as_all_that_is_in_it() {
        let hours = |flour: f64, water: f64, salt: f64, yeast: f64| -> f64 {
            let log = read(&format!(
                "kind,flour_g,water_g,salt_g,yeast,yeast_g,temperature_c,room_record,hours,seen\n\
                 poolish,{flour},{water},{salt},fresh,{yeast},22,night,12,past\n"
            ));
            match log.observations[0].bake.place {
                LoggedPlace::Room {
                    time_constant_h, ..
                } => time_constant_h,
                LoggedPlace::Held(_) => 0.0,
            }
        };
        let usual = hours(500.0, 470.0, 20.0, 10.0);
        let same = hours(600.0, 380.0, 12.0, 8.0);
        assert!((usual / same - 1.0).abs() < 1e-12, "{usual} {same}");
        let larger = hours(4000.0, 3760.0, 160.0, 80.0);
        assert!((larger / usual - 2.0).abs() < 0.5 && larger > usual * 1.5);
        assert!(tub_time_constant_h(1000.0).unwrap() == usual);
        assert!(tub_time_constant_h(8000.0).unwrap() == larger);
    }

    /// What stands for a record is half way to the hour: of a room that falls by half a kelvin an hour, and a
    /// dough that is with it at once, 19 °C after 4 of 8 h.
    #[test]
    fn a_record_is_about_what_it_is_half_way() {
        let place = LoggedPlace::Room {
            room: Ambient::ramps(&[(0.0, 21.0), (8.0, 17.0)]).unwrap(),
            start: None,
            time_constant_h: 0.01,
        };
        // It lags by the time constant: 0.005 K.
        assert!((place.about_c(8.0) - 19.0).abs() < 0.01);
        assert!((place.about_c(2.0) - 20.5).abs() < 0.01);
    }

    #[test]
    fn what_is_0_is_named_as_such() {
        let said = |row: &str| {
            let text =
                format!("kind,flour_g,water_g,yeast,yeast_g,temperature_c,hours,seen\n{row}\n");
            read(&text).refused[0].to_string()
        };
        for (row, column) in [
            ("poolish,0,500,fresh,1,21,12,ripe", "flour_g"),
            ("poolish,500,0,fresh,1,21,12,ripe", "water_g"),
            ("poolish,500,500,fresh,0,21,12,ripe", "yeast_g"),
        ] {
            let expected = format!("line 2, column {column}: is 0; give what went into the dough");
            assert_eq!(said(row), expected);
        }
    }

    /// Each kind has its own word for being ready.
    #[test]
    fn a_dough_is_not_logged_as_ripe() {
        for kind in [Kind::Dough, Kind::OldDough] {
            assert_eq!(seen(kind, "doubled").unwrap(), Seen::Ready);
            assert_eq!(
                seen(kind, "ripe").unwrap_err().to_string(),
                "a dough is logged when it has doubled; write doubled, not-yet or past"
            );
        }
        for kind in [Kind::Poolish, Kind::Biga, Kind::Sponge] {
            assert_eq!(seen(kind, "ripe").unwrap(), Seen::Ready);
            assert!(seen(kind, "doubled").is_err());
        }
        let error = seen(Kind::Dough, "rip").unwrap_err().to_string();
        assert!(error.contains("did you mean \"ripe\"?"), "{error}");
    }
}
