//! The tables against what their sources print, typed from the sources in their own units and bases and
//! converted here: g for a litre of water, °F, minutes, yeast on 65 of flour.
//!
//! What a source leaves open is assumed by a rule, and then the rule is tested: a room is 20 to 24 °C, a
//! poolish has as much water as flour, and dough without a word on it has the water and salt of its kind.

use pointage::table::{self, Interval, Row};

type Span = (f64, f64);

/// Where a source says no more than "room temperature".
const ROOM: Span = (20.0, 24.0);

fn one(x: f64) -> Span {
    (x, x)
}

/// °F as °C, to the tenth that the tables give.
fn f((low, high): Span) -> Span {
    let c = |f: f64| ((f - 32.0) / 1.8 * 10.0).round() / 10.0;
    (c(low), c(high))
}

/// Minutes as hours, to the thousandth that the tables give.
fn min((low, high): Span) -> Span {
    let h = |m: f64| (m / 60.0 * 1000.0).round() / 1000.0;
    (h(low), h(high))
}

/// Grams for a litre of the poolish's own water; it has as much flour, so tenths of a percent of it.
fn per_litre((low, high): Span) -> Span {
    (low / 10.0, high / 10.0)
}

/// Grams for a litre of all the dough's water, of which the poolish takes a third.
fn per_litre_of_all((low, high): Span) -> Span {
    (3.0 * low / 10.0, 3.0 * high / 10.0)
}

/// Instant yeast as fresh: three grams for one.
fn instant(percent: f64) -> Span {
    one(3.0 * percent)
}

fn row(table: &str, id: &str) -> &'static Row {
    let rows = &table::get(table).unwrap().rows;
    rows.iter()
        .find(|r| r.id == id)
        .unwrap_or_else(|| panic!("{table} {id}"))
}

/// Half a unit of the last digit that the tables give is 0.5 % or less of any of these numbers.
fn same(found: f64, printed: f64) -> bool {
    (found - printed).abs() <= 0.005 * printed.abs()
}

fn check(place: &str, found: Option<Interval>, printed: Option<Span>) {
    match (found, printed) {
        (None, None) => {}
        (Some(i), Some((low, high))) => {
            assert!(
                same(i.low, low) && same(i.high, high),
                "{place}: {i:?}, printed {low} to {high}"
            );
        }
        (found, printed) => panic!("{place}: {found:?}, printed {printed:?}"),
    }
}

struct Printed {
    id: &'static str,
    dose: Option<Span>,
    hours: Span,
    c: Span,
}

fn check_rows(table: &str, printed: &[Printed]) {
    let rows = &table::get(table).unwrap().rows;
    let ids: Vec<&str> = rows.iter().map(|r| r.id.as_str()).collect();
    assert_eq!(
        ids,
        printed.iter().map(|p| p.id).collect::<Vec<_>>(),
        "every row once, in order"
    );
    for p in printed {
        let row = row(table, p.id);
        check(&format!("{} dose", p.id), row.dose_percent, p.dose);
        check(&format!("{} hours", p.id), Some(row.hours), Some(p.hours));
        check(
            &format!("{} temperature", p.id),
            Some(row.temperature_c),
            Some(p.c),
        );
    }
}

fn p(id: &'static str, dose: impl Into<Option<Span>>, hours: Span, c: Span) -> Printed {
    Printed {
        id,
        dose: dose.into(),
        hours,
        c,
    }
}

#[test]
fn poolish_rows_are_as_printed() {
    check_rows(
        "poolish",
        &[
            // Le Blanc 2007, p. 12: yeast on flour, 25 °C: 3 h 2-2.5 %, 8 h 0.5 %, 12 h 0.2-0.3 %.
            p("P1a", (2.0, 2.5), one(3.0), one(25.0)),
            p("P1b", one(0.5), one(8.0), one(25.0)),
            p("P1c", (0.2, 0.3), one(12.0), one(25.0)),
            // Credited to R. Calvel, 20 to 22 °C, all dough water: 3 h 12-15 g/L, 6 h 7-8, 8-10 h 5, 15-18 h 3.
            p(
                "P2a",
                per_litre_of_all((12.0, 15.0)),
                one(3.0),
                (20.0, 22.0),
            ),
            p("P2b", per_litre_of_all((7.0, 8.0)), one(6.0), (20.0, 22.0)),
            p("P2c", per_litre_of_all(one(5.0)), (8.0, 10.0), (20.0, 22.0)),
            p(
                "P2d",
                per_litre_of_all(one(3.0)),
                (15.0, 18.0),
                (20.0, 22.0),
            ),
            // The same figures where the worked sum has 4.5, 1.5 and 0.9 g for 0.3 L of the poolish.
            p("P3a", per_litre(one(4.5 / 0.3)), (2.5, 3.0), (20.0, 22.0)),
            p("P3b", per_litre(one(1.5 / 0.3)), (8.0, 10.0), (20.0, 22.0)),
            p("P3c", per_litre(one(0.9 / 0.3)), (15.0, 18.0), (20.0, 22.0)),
            // 20 g and 5 g for a kg of flour, "room": its middle.
            p(
                "P5a",
                one(20.0 / 10.0),
                one(2.0),
                one(f64::midpoint(ROOM.0, ROOM.1)),
            ),
            p(
                "P5b",
                one(5.0 / 10.0),
                one(8.0),
                one(f64::midpoint(ROOM.0, ROOM.1)),
            ),
            // Suas, from memory: 80-85 °F 3 h 1.5 %, 75-80 °F 7-8 h 0.7 %, 70-75 °F 12-15 h 0.1 %.
            p("P6a", one(1.5), one(3.0), f((80.0, 85.0))),
            p("P6b", one(0.7), (7.0, 8.0), f((75.0, 80.0))),
            p("P6c", one(0.1), (12.0, 15.0), f((70.0, 75.0))),
            // Forkish ch. 6: 0.4 g instant for 500 g, 12-14 h in a cool room, a degree below its middle.
            p(
                "P7",
                instant(100.0 * 0.4 / 500.0),
                (12.0, 14.0),
                one(f64::midpoint(ROOM.0, ROOM.1) - 1.0),
            ),
            // 0.10 % instant, 12-16 h, room.
            p(
                "P8",
                instant(0.10),
                (12.0, 16.0),
                one(f64::midpoint(ROOM.0, ROOM.1)),
            ),
            // practitioner2008: 0.2 % fresh, about 12 h, room.
            p("P9", one(0.2), one(12.0), ROOM),
            // Reinhart: 0.27 % instant, 3-4 h in the room; taken as P3's.
            p("P10", instant(0.27), (3.0, 4.0), (20.0, 22.0)),
            // A log: about 0.05 % dry of unknown kind, taken as 2.5 to 3 of fresh; nearly double by 16 h.
            p("P11", (2.5 * 0.05, 3.0 * 0.05), one(16.0), ROOM),
            // DiMuzio p. 69: 5-18 h; French Culinary Institute: 12-16 h; no dose.
            p("P12a", None, (5.0, 18.0), ROOM),
            p("P12b", None, (12.0, 16.0), ROOM),
            // 0.1 % fresh, 8-10 h or more in a warm bakery: four degrees above a room.
            p("P14", one(0.1), (8.0, 10.0), (ROOM.0 + 4.0, ROOM.1 + 4.0)),
            // 15 g for a litre of the poolish's liquid, 2.5-3 h.
            p("P15", per_litre(one(15.0)), (2.5, 3.0), (20.0, 22.0)),
        ],
    );
}

#[test]
fn biga_and_sponge_rows_are_as_printed() {
    check_rows(
        "biga",
        &[
            // Giorilli's form: 1 %, 18 °C, 16-20 h.
            p("B1", one(1.0), (16.0, 20.0), one(18.0)),
            // 1 %, 12-18 h at 18 °C; the low-yeast type has 0.08-0.1 %.
            p("B2", one(1.0), (12.0, 18.0), one(18.0)),
            p("B3", (0.08, 0.1), (12.0, 18.0), one(18.0)),
            // Summer: held at 16 °C, at most 24 h.
            p("B4", one(1.0), one(24.0), one(16.0)),
            // From memory: 0.8-1 %, 18 hours at 60 °F.
            p("B5", (0.8, 1.0), one(18.0), f(one(60.0))),
            // 18 h at 18 °C; 18-24 h at 18-20 °C; 12-16 h: no dose.
            p("B6", None, one(18.0), one(18.0)),
            p("B7", None, (18.0, 24.0), (18.0, 20.0)),
            p("B8", None, (12.0, 16.0), ROOM),
        ],
    );
    // Cauvain and Young: 2.4 yeast on 65 flour, 23-26 °C, falls at 66-70 % of its time, here 4 h.
    let sponge = one((2.4 / 65.0 * 1000.0_f64).round() / 10.0);
    check_rows(
        "sponge",
        &[
            p("S1", sponge, (0.66 * 4.0, 0.70 * 4.0), (23.0, 26.0)),
            p("S2", sponge, one(4.0), (23.0, 26.0)),
            // 1.5-5 % of all flour for a sponge with 65 % of it, 2-8 h, 24-29 °C.
            p(
                "S3",
                (
                    (150.0 / 6.5_f64).round() / 10.0,
                    (500.0 / 6.5_f64).round() / 10.0,
                ),
                (2.0, 8.0),
                (24.0, 29.0),
            ),
        ],
    );
}

#[test]
fn straight_dough_rows_are_as_printed() {
    check_rows(
        "straight-dough",
        &[
            // 1.5 % fresh, 25 °C, bulk 2 h, proof 40 min.
            p("D1", one(1.5), one(2.0), one(25.0)),
            // 2.8 % compressed, 1.5-2 h at 27-29 °C, about 1 h of proof at 29-32 °C.
            p("D2", one(2.8), (1.5, 2.0), (27.0, 29.0)),
            // Army: 80 °F for 2 h, proof at 90-100 °F about 1 h.
            p("D3", None, one(2.0), f(one(80.0))),
            // Finney, from memory, 30 °C: 7.2, 5.3, 3.5 and 2.0 % for 70, 90, 120 and 180 min.
            p("D4a", one(7.2), min(one(70.0)), one(30.0)),
            p("D4b", one(5.3), min(one(90.0)), one(30.0)),
            p("D4c", one(3.5), min(one(120.0)), one(30.0)),
            p("D4d", one(2.0), min(one(180.0)), one(30.0)),
            // 1.8 % dry, by 0.40 and by 0.33; 90 min and about 32 min, 30 °C.
            p(
                "D5",
                (
                    (18.0 / 0.40_f64).round() / 10.0,
                    (18.0 / 0.33_f64).round() / 10.0,
                ),
                min(one(90.0)),
                one(30.0),
            ),
            // About 2 h at 80 °F.
            p("D6", None, one(2.0), f(one(80.0))),
            // Ordinary French bread, 24-25 °C: bulk of 60-90 min.
            p("D7", None, min((60.0, 90.0)), (24.0, 25.0)),
            // First rise 3-3.5 h, 78 °F in summer, 82 °F in winter.
            p("D8", None, (3.0, 3.5), f((78.0, 82.0))),
            // DiMuzio p. 48, doughs of 24 °C give or take two: short mix 5 h; improved mix with old dough 1-2 h.
            p("D9a", None, one(5.0), (22.0, 26.0)),
            p("D9b", None, (1.0, 2.0), (22.0, 26.0)),
            // A quarter, half and a whole cake of yeast: 12, 5 and 3 h; a kitchen of 18 to 24 °C.
            p("D10a", None, one(12.0), (18.0, 24.0)),
            p("D10b", None, one(5.0), (18.0, 24.0)),
            p("D10c", None, one(3.0), (18.0, 24.0)),
        ],
    );
    for (id, hours, c) in [
        ("D1", min(one(40.0)), one(25.0)),
        ("D2", one(1.0), (29.0, 32.0)),
        ("D3", one(1.0), f((90.0, 100.0))),
        ("D5", min(one(32.0)), one(30.0)),
    ] {
        let row = row("straight-dough", id);
        check(&format!("{id} proof"), row.proof_hours, Some(hours));
        check(
            &format!("{id} proof temperature"),
            row.proof_temperature_c,
            Some(c),
        );
    }
}

/// The water and salt of a row: as printed, or those of its kind.
#[test]
fn rows_have_the_water_and_salt_of_their_source_or_of_their_kind() {
    let kind = table::get("compositions").unwrap();
    let usual = |name: &str| kind.number(name).unwrap();
    for r in &table::get("poolish").unwrap().rows {
        // Reinhart's has 107 % water.
        let water = if r.id == "P10" {
            107.0
        } else {
            usual("poolish_hydration_percent")
        };
        assert_eq!(
            (r.hydration_percent, r.salt_percent),
            (Some(water), Some(0.0)),
            "{}",
            r.id
        );
    }
    for r in &table::get("biga").unwrap().rows {
        let water = match r.id.as_str() {
            "B1" | "B4" => Some(usual("biga_hydration_percent")),
            "B2" => Some(f64::midpoint(44.0, 50.0)),
            "B3" => Some(f64::midpoint(50.0, 60.0)),
            // The stiffest that the source allows.
            "B5" => Some(50.0),
            _ => None,
        };
        assert_eq!(
            (r.hydration_percent, r.salt_percent),
            (water, Some(0.0)),
            "{}",
            r.id
        );
    }
    for r in &table::get("sponge").unwrap().rows {
        let water = if r.id == "S3" {
            usual("sponge_hydration_percent")
        } else {
            (1000.0 * 40.0 / 65.0_f64).round() / 10.0
        };
        assert_eq!(
            (r.hydration_percent, r.salt_percent),
            (Some(water), Some(0.0)),
            "{}",
            r.id
        );
    }
    for r in &table::get("straight-dough").unwrap().rows {
        let (water, salt) = match r.id.as_str() {
            "D1" => (
                Some(usual("dough_hydration_percent")),
                Some(usual("dough_salt_percent")),
            ),
            "D2" => (
                Some(usual("sponge_hydration_percent")),
                Some(usual("dough_salt_percent")),
            ),
            "D3" => (None, Some(usual("dough_salt_percent"))),
            // Test baking: 1.5 % salt.
            id if id.starts_with("D4") || id == "D5" => (None, Some(1.5)),
            _ => (None, None),
        };
        assert_eq!(
            (r.hydration_percent, r.salt_percent),
            (water, salt),
            "{}",
            r.id
        );
    }
}

fn range(table: &str, name: &str) -> (f64, Span) {
    let value = table::get(table).unwrap().value(name).unwrap();
    let table::Uncertainty::Range { low, high } = value.uncertainty else {
        panic!("{table} {name}: {:?}", value.uncertainty);
    };
    (value.value, (low, high))
}

/// The bounds that a source prints, or that follow from what it prints. The numbers of a table are
/// rounded to two digits or more, which is 2.2 % at most here.
#[test]
fn bounds_are_as_printed_or_worked_out() {
    // R T / p at the state that gas is counted at; the real gas has 24.340 L (NIST, note on solubility).
    let co2 = |name: &str| table::get("co2").unwrap().number(name).unwrap();
    let kelvin = co2("reference_c") + 273.15;
    let molar = 8.314_462 * kelvin / co2("standard_pressure_pa") * 1e6;
    assert!(
        (co2("molar_volume_ml_per_mol") / molar - 1.0).abs() < 1e-4,
        "{molar}"
    );
    let real = 24_340.0;
    // Two CO2 from 180.156 g of hexose, four from 342.3 g of sucrose or maltose.
    let (hexose, sucrose) = (2.0 / 180.156, 4.0 / 342.3);
    // Sugar at half speed: 1 to 3 g/L in the 0.076 L of water of a dough from 100 g flour.
    let half = |g_per_l: f64| g_per_l * 0.076 * hexose * molar;
    // Btu/lb in kJ/kg.
    let btu = 2.326;
    for (table, name, low, high) in [
        ("co2", "molar_volume_ml_per_mol", real, molar),
        ("co2", "hexose_ml_per_g", hexose * real, hexose * molar),
        ("co2", "sucrose_ml_per_g", sucrose * real, sucrose * molar),
        // Sander 2023.
        ("co2", "henry_mol_per_m3_pa", 3.3e-4, 3.4e-4),
        ("co2", "henry_slope_k", 2300.0, 2400.0),
        (
            "defaults",
            "sugar_half_rate_ml_per_100g",
            half(1.0),
            half(3.0),
        ),
        // Activity rises up to 4-6 % of sugar (Reed).
        ("defaults", "added_sugar_onset_percent", 4.0, 6.0),
        // A patent has 80 to 90 % of water, Reinhart 107.
        ("compositions", "poolish_hydration_percent", 80.0, 107.0),
        ("compositions", "biga_hydration_percent", 44.0, 50.0),
        ("compositions", "sponge_hydration_percent", 60.0, 63.0),
        ("compositions", "old_dough_hydration_percent", 60.0, 75.0),
        // 100 kg of flour make 155 to 170 kg of dough.
        (
            "compositions",
            "dough_hydration_percent",
            155.0 - 100.0,
            170.0 - 100.0,
        ),
        // The dry matter of fresh yeast, 30 %; yeast makers go up to 0.40.
        ("kinds", "instant", 0.30, 0.40),
        // From a third (a forum) to half (a textbook).
        ("kinds", "active_dry", 1.0 / 3.0, 0.5),
        // IAPWS: water least at 35 °C, most at 0 °C; ice at -10 and 0 °C.
        ("properties", "c_water_kj_per_kg_k", 4.179_26, 4.219_44),
        ("properties", "c_ice_kj_per_kg_k", 2.0231, 2.0967),
        // IAPWS, and the trade's 144 Btu for a pound.
        ("properties", "latent_heat_kj_per_kg", 333.43, 144.0 * btu),
        ("properties", "hydration_reference_percent", 11.0, 12.0),
        // R. von Wagner's table of flours.
        ("properties", "flour_moisture_percent", 12.8, 15.5),
        // At 12 % water and 30 °C by a fit to flour and flat bread, in J/(kg K); 1.997 by the components.
        (
            "properties",
            "c_flour_kj_per_kg_k",
            (2476.56 + 23.56 * 12.0 - 3.79 * 303.15) / 1000.0,
            choi_okos::flour_capacity(20.0),
        ),
        (
            "properties",
            "c_fat_kj_per_kg_k",
            choi_okos::fat_capacity(0.0),
            choi_okos::fat_capacity(25.0),
        ),
        // From a stiff dough with its components in series to a batter with them in parallel.
        (
            "properties",
            "conductivity_w_per_m_k",
            choi_okos::Dough::of(60.0).in_series,
            choi_okos::Dough::of(125.0).in_parallel,
        ),
        // Chillers deliver 1 to 4 °C.
        ("limits", "chilled_water_c", 1.0, 4.0),
        (
            "limits",
            "bare_yeast_c",
            f((105.0, 110.0)).0,
            f((105.0, 110.0)).1,
        ),
        // Rye from 28 °C, bun plants to about 90 °F.
        ("limits", "warm_dough_c", 28.0, f(one(90.0)).0),
        // 20 mm of polystyrene: with still air at both faces, and in a draught with the inner one neglected.
        (
            "places",
            "insulated_box_w_per_m2_k",
            1.0 / (0.020 / 0.035 + 2.0 / 8.0),
            1.0 / (0.020 / 0.035 + 1.0 / 15.0),
        ),
        // From memory: 20 to 24 °C at mixing, 70 to 75 °F of room.
        ("bake-file", "preferment_dough_c", 20.0, f(one(75.0)).0),
        // A bench rest is 10 to 30 min.
        ("bake-file", "bench_rest_min", 10.0, 30.0),
    ] {
        let (value, found) = range(table, name);
        let near = |found: f64, printed: f64| (found - printed).abs() <= 0.022 * printed;
        assert!(
            near(found.0, low) && near(found.1, high),
            "{table} {name}: {found:?}, printed {low} to {high}"
        );
        assert!(found.0 <= value && value <= found.1, "{table} {name}");
    }
    // Slator's ratios and Aberson's factor: half a unit of the last digit that Harden prints.
    for v in &table::get("slator1906").unwrap().values {
        if v.name == "reference_c" {
            continue;
        }
        let coarse = [
            "ratio_5_to_15",
            "ratio_10_to_20",
            "ratio_15_to_25",
            "ratio_30_to_40",
        ];
        let half = if coarse.contains(&v.name.as_str()) {
            0.05
        } else {
            0.005
        };
        let (value, (low, high)) = range("slator1906", &v.name);
        assert!(
            (value - low - half).abs() < 1e-9 && (high - value - half).abs() < 1e-9,
            "{}",
            v.name
        );
    }
}

/// The published model of growth against water activity gives 0.66 of the growth at 2 % salt, with the activity
/// from the mole fraction of what 0.35 osmol/kg of flour and the salt of a dough with 62 % water dissolve.
#[test]
fn growth_at_two_percent_of_salt_is_that_of_the_published_model() {
    let d = table::get("defaults").unwrap();
    let n = |name: &str| d.number(name).unwrap();
    let activity = |salt: f64| {
        let salt = 10.0 * salt / 58.44 / 0.62 * 2.0 * n("nacl_osmotic_coefficient");
        let osmol = n("native_osmol_per_kg") + salt;
        55.556 / (55.556 + osmol)
    };
    let square = |salt: f64| ((1.0 - activity(salt)).sqrt() - n("water_activity_root")).powi(2);
    let growth = (-n("water_activity_factor") * (square(2.0) - square(0.0))).exp();
    assert!((growth - 0.66).abs() < 0.005, "{growth}");
}

/// No salt in a preferment (the trade has it so, but for a pinch in stormy heat), and none in its table.
#[test]
fn preferments_are_unsalted() {
    let kind = table::get("compositions").unwrap();
    for name in [
        "poolish_salt_percent",
        "biga_salt_percent",
        "sponge_salt_percent",
    ] {
        assert_eq!(kind.number(name).unwrap(), 0.0, "{name}");
    }
}

/// Values that the source prints, or that follow from what it prints.
#[test]
fn values_are_as_printed_or_worked_out() {
    // In a tub of 30 cm: side, top and bottom.
    let still = |surface: f64, air: f64| plate::still(0.30, surface, air);
    // Btu/(lb °F) in kJ/(kg K).
    let btu = 4.1868;
    for (table, name, expected) in [
        // Geankoplis 1.80 to 1.88, the drier end; salt beside Choi and Okos' components.
        ("properties", "c_flour_kj_per_kg_k", 1.80),
        ("properties", "c_salt_kj_per_kg_k", 0.88),
        (
            "properties",
            "c_fat_kj_per_kg_k",
            f64::midpoint(choi_okos::fat_capacity(0.0), choi_okos::fat_capacity(25.0)),
        ),
        // From memory: Siebel's rule for food of 70 % water, 0.20 and 0.008 for each percent; sucrose, 425
        // J/(mol K); stainless steel.
        (
            "properties",
            "c_yeast_kj_per_kg_k",
            (0.20 + 0.008 * 70.0) * btu,
        ),
        ("properties", "c_sugar_kj_per_kg_k", 425.0 / 342.3),
        ("properties", "c_steel_kj_per_kg_k", 0.12 * btu),
        (
            "properties",
            "hydration_reference_percent",
            f64::midpoint(11.0, 12.0),
        ),
        // A tenth of gas.
        (
            "properties",
            "density_kg_per_m3",
            0.9 * choi_okos::Dough::of(65.0).density,
        ),
        // Between series and parallel.
        (
            "properties",
            "conductivity_w_per_m_k",
            f64::midpoint(
                choi_okos::Dough::of(60.0).in_series,
                choi_okos::Dough::of(70.0).in_parallel,
            ),
        ),
        // R. von Wagner's table of flours, its middle.
        (
            "properties",
            "flour_moisture_percent",
            f64::midpoint(12.8, 15.5),
        ),
        ("places", "still_room_w_per_m2_k", still(25.0, 21.0)),
        // Half way from 26 °C.
        ("places", "fridge_still_w_per_m2_k", still(15.0, 4.0)),
        // Hardly moving air, 0.2 m/s, along a plate of 15 and of 30 cm.
        (
            "places",
            "proofer_dry_w_per_m2_k",
            f64::midpoint(plate::moved(0.15, 0.2), plate::moved(0.30, 0.2))
                + plate::radiation(24.0, 35.0),
        ),
        // 7 for a small difference, and 8 to 10 of condensation.
        (
            "places",
            "proofer_humid_w_per_m2_k",
            7.0 + f64::midpoint(8.0, 10.0),
        ),
        // 20 mm of polystyrene with still air on the outside, to a tenth.
        (
            "places",
            "insulated_box_w_per_m2_k",
            (10.0 / (0.020 / 0.035 + 1.0 / 8.0_f64)).round() / 10.0,
        ),
        // Sugar at half speed, from memory: the middle of 1 to 3 g/L, in the 0.076 L of water of a dough from
        // 100 g flour, as gas at 25 °C: two CO2 from 180.156 g of hexose.
        (
            "defaults",
            "sugar_half_rate_ml_per_100g",
            2.0 * 0.076 * 2.0 / 180.156 * 8.314_462 * 298.15 / 101_325.0 * 1e6,
        ),
        // A poolish of 300 g water and 300 g flour; Giorilli's biga, the upper of 44 to 45; a stiff sponge of 60
        // to 63, its middle rounded up; old dough of 100 flour, 66 water, 2 salt and 1.5 yeast.
        (
            "compositions",
            "poolish_hydration_percent",
            100.0 * 300.0 / 300.0,
        ),
        ("compositions", "biga_hydration_percent", 45.0),
        (
            "compositions",
            "sponge_hydration_percent",
            f64::midpoint(60.0, 63.0).ceil(),
        ),
        ("compositions", "old_dough_hydration_percent", 66.0),
        ("compositions", "old_dough_salt_percent", 2.0),
        ("compositions", "old_dough_yeast_percent", 1.5),
        // By definition: the measure of the others.
        ("kinds", "fresh", 1.0),
    ] {
        let found = table::get(table).unwrap().number(name).unwrap();
        assert!(
            (found - expected).abs() <= 0.022 * expected,
            "{table} {name}: {found}, expected {expected}"
        );
    }
}

/// Choi and Okos' equations for the components of food, at a temperature in °C, for white bread flour of
/// the USDA tables.
mod choi_okos {
    type Quadratic = [f64; 3];

    // Water, protein, fat, carbohydrate but for fibre, fibre, ash.
    const FLOUR: [f64; 6] = [0.1336, 0.1198, 0.0166, 0.7013, 0.0240, 0.0047];
    const CAPACITY: [Quadratic; 6] = [
        [4.1762, -9.0864e-5, 5.4731e-6],
        [2.0082, 1.2089e-3, -1.3129e-6],
        [1.9842, 1.4733e-3, -4.8008e-6],
        [1.5488, 1.9625e-3, -5.9399e-6],
        [1.8459, 1.8306e-3, -4.6509e-6],
        [1.0926, 1.8896e-3, -3.6817e-6],
    ];
    const CONDUCTIVITY: [Quadratic; 6] = [
        [0.57109, 1.7625e-3, -6.7036e-6],
        [0.17881, 1.1958e-3, -2.7178e-6],
        [0.18071, -2.7604e-4, -1.7749e-7],
        [0.20141, 1.3874e-3, -4.3312e-6],
        [0.18331, 1.2497e-3, -3.1683e-6],
        [0.32962, 1.4011e-3, -2.9069e-6],
    ];
    const DENSITY: [Quadratic; 6] = [
        [997.18, 3.1439e-3, -3.7574e-3],
        [1329.9, -0.51840, 0.0],
        [925.59, -0.41757, 0.0],
        [1599.1, -0.31046, 0.0],
        [1311.5, -0.36589, 0.0],
        [2423.8, -0.28063, 0.0],
    ];

    fn at(c: Quadratic, t: f64) -> f64 {
        c[0] + c[1] * t + c[2] * t * t
    }

    pub fn flour_capacity(t: f64) -> f64 {
        FLOUR.iter().zip(CAPACITY).map(|(x, c)| x * at(c, t)).sum()
    }

    pub fn fat_capacity(t: f64) -> f64 {
        at(CAPACITY[2], t)
    }

    /// A dough without gas at 25 °C, with 2 % salt counted as ash.
    pub struct Dough {
        pub density: f64,
        pub in_series: f64,
        pub in_parallel: f64,
    }

    impl Dough {
        pub fn of(hydration_percent: f64) -> Self {
            let mut mass = FLOUR;
            mass[0] += hydration_percent / 100.0;
            mass[5] += 0.02;
            let total: f64 = mass.iter().sum();
            let space = |i: usize| mass[i] / total / at(DENSITY[i], 25.0);
            let whole: f64 = (0..6).map(space).sum();
            let share = |i: usize| space(i) / whole;
            let k = |i: usize| at(CONDUCTIVITY[i], 25.0);
            Self {
                density: 1.0 / whole,
                in_series: 1.0 / (0..6).map(|i| share(i) / k(i)).sum::<f64>(),
                in_parallel: (0..6).map(|i| share(i) * k(i)).sum(),
            }
        }
    }
}

/// Heat exchange of a surface with air, W/(m2 K), by the textbook formulas for plates; air of about 15 °C.
mod plate {
    const CONDUCTIVITY: f64 = 0.0252;
    const VISCOSITY: f64 = 1.47e-5;
    const PRANDTL: f64 = 0.71;

    /// Of emissivity 0.95.
    pub fn radiation(surface_c: f64, air_c: f64) -> f64 {
        let [s, a] = [surface_c, air_c].map(|t| t + 273.15);
        0.95 * 5.67e-8 * (s * s + a * a) * (s + a)
    }

    /// Free convection, as the mean of a vertical face (Churchill and Chu 1975) and of the upper and lower
    /// face (McAdams) of a surface warmer than the air, and radiation.
    pub fn still(length_m: f64, surface_c: f64, air_c: f64) -> f64 {
        let film = f64::midpoint(surface_c, air_c) + 273.15;
        let rayleigh =
            9.81 / film * (surface_c - air_c) * length_m.powi(3) / VISCOSITY.powi(2) * PRANDTL;
        let prandtl = (1.0 + (0.492 / PRANDTL).powf(9.0 / 16.0)).powf(8.0 / 27.0);
        let side = (0.825 + 0.387 * rayleigh.powf(1.0 / 6.0) / prandtl).powi(2);
        let (top, bottom) = (0.54 * rayleigh.powf(0.25), 0.27 * rayleigh.powf(0.25));
        (side + top + bottom) / 3.0 * CONDUCTIVITY / length_m + radiation(surface_c, air_c)
    }

    /// Convection of air that moves along a plate (laminar).
    pub fn moved(length_m: f64, m_per_s: f64) -> f64 {
        let reynolds = m_per_s * length_m / VISCOSITY;
        0.664 * reynolds.sqrt() * PRANDTL.cbrt() * CONDUCTIVITY / length_m
    }
}
