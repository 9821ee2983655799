use super::*;
use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

fn data() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("data")
}

/// The embedded files, in their order.
fn paths() -> Vec<String> {
    let path = |(folder, id, _): &Embedded| format!("{folder}/{id}.toml");
    FILES.iter().map(path).collect()
}

/// A complete file, for the tests that spoil one line of it.
const GOOD: &str = r#"format = 1
id = "own"
title = "t"
observed = "o"
source = "s"
locus = "l"
standing = "quoted"
[values.later_h]
value = 2
se = 0.5
[values.early_c]
value = 20.5
range = [20, 21]
standing = "derived"
note = "n"
"#;

#[test]
fn every_file_on_disk_is_embedded_and_named_after_its_id() {
    fn walk(dir: &Path, found: &mut BTreeSet<String>) {
        for entry in std::fs::read_dir(dir).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() && path != data().join("demo") {
                walk(&path, found);
            } else if path.extension().is_some_and(|e| e == "toml")
                && path != data().join("sources.toml")
            {
                let path = path.strip_prefix(data()).unwrap();
                found.insert(path.to_str().unwrap().replace('\\', "/"));
            }
        }
    }
    let mut on_disk = BTreeSet::new();
    walk(&data(), &mut on_disk);
    let embedded: BTreeSet<String> = paths().into_iter().collect();
    assert_eq!(on_disk, embedded);
    let tables = all().unwrap();
    assert_eq!(tables.len(), FILES.len());
    for (id, table) in ids().zip(tables) {
        assert_eq!(id, table.id);
        assert!(std::ptr::eq(get(id).unwrap(), table));
    }
    assert_eq!(ids().collect::<BTreeSet<_>>().len(), FILES.len());
}

#[test]
fn the_index_lists_every_file_and_no_other() {
    let readme = std::fs::read_to_string(data().join("README.md")).unwrap();
    let listed: Vec<&str> = readme
        .lines()
        .filter_map(|l| l.strip_prefix("| [")?.split_once(']'))
        .map(|(path, _)| path)
        .collect();
    let embedded = paths();
    assert_eq!(listed, embedded);
    for line in readme.lines().filter(|l| l.starts_with("| [")) {
        let columns: Vec<&str> = line.trim_matches('|').split('|').map(str::trim).collect();
        assert_eq!(columns.len(), 4, "{line}");
        assert!(columns.iter().all(|c| !c.is_empty()), "{line}");
    }
}

#[test]
fn every_number_has_its_origin_and_every_source_is_used() {
    let mut used = BTreeSet::new();
    // Keys named in a remark count as used.
    let mut remarks = String::new();
    let mut cite = |place: &str, key: &str, locus: &str, standing: Standing| {
        source(key).unwrap_or_else(|e| panic!("{place}: {e}"));
        assert!(!locus.trim().is_empty(), "{place} has no locus");
        // `memory` is the source of what has none; it cannot stand as anything better.
        assert!(
            key != "memory" || standing == Standing::FromMemory,
            "{place} is from memory, but marked {standing:?}"
        );
        used.insert(key.to_owned());
    };
    for t in all().unwrap() {
        cite(&t.id, &t.source, &t.locus, t.standing);
        assert!(!t.title.is_empty() && !t.observed.is_empty(), "{}", t.id);
        remarks += &t.note;
        for v in &t.values {
            cite(
                &format!("{} {}", t.id, v.name),
                &v.source,
                &v.locus,
                v.standing,
            );
            remarks += &v.note;
        }
        for r in &t.rows {
            cite(
                &format!("{} {}", t.id, r.id),
                &r.source,
                &r.locus,
                r.standing,
            );
            assert!(!r.note.is_empty(), "{} {} says no reason", t.id, r.id);
            let by_memory = r.standing == Standing::FromMemory;
            assert_eq!(by_memory, r.grade == Grade::M, "{} {}", t.id, r.id);
        }
    }
    remarks += include_str!("../../data/observations/published.csv");
    for key in sources::sources().unwrap().keys() {
        assert!(
            used.contains(key) || remarks.contains(key),
            "{} is cited by no table",
            key
        );
    }
}

/// Values that no code of the library reads, with the reason why they are kept.
const SHOWN_ONLY: [(&str, &[&str]); 5] = [
    // What Slator printed. The law goes through the knots, which a test derives from these.
    (
        "slator1906",
        &[
            "ratio_5_to_10",
            "ratio_10_to_15",
            "ratio_15_to_20",
            "ratio_20_to_25",
            "ratio_25_to_30",
            "ratio_30_to_35",
            "ratio_35_to_40",
            "ratio_5_to_15",
            "ratio_10_to_20",
            "ratio_15_to_25",
            "ratio_20_to_30",
            "ratio_25_to_35",
            "ratio_30_to_40",
            "aberson_q10",
            "reference_c",
        ],
    ),
    // The rate at the optimum in a laboratory medium; that of dough stands in defaults.
    ("zakhartsev2015", &["growth_rate_per_h"]),
    // For comparison with the growth law in use.
    (
        "caspeta2015",
        &["t_min_c", "t_opt_c", "t_max_c", "growth_rate_per_h"],
    ),
    // The measure of the other two.
    ("kinds", &["fresh"]),
    // The state that an amount of gas is counted at, part of the unit; and flour's own sugar, which
    // stands in the sugar stock already.
    ("co2", &["reference_c", "hexose_ml_per_g"]),
];

/// The code of every source file that gets the table, without remarks and tests. Where such a file
/// reads a value of the same name from another table, this cannot tell the two apart.
fn code_that_names(table: &str) -> String {
    fn walk(dir: &Path, table: &str, code: &mut String) {
        for entry in std::fs::read_dir(dir).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                walk(&path, table, code);
            } else if path.extension().is_some_and(|e| e == "rs") && !path.ends_with("tests.rs") {
                let text = std::fs::read_to_string(&path).unwrap();
                let until_tests = text.split("#[cfg(test)]\nmod tests {").next().unwrap();
                let lines = until_tests.lines();
                let own: Vec<&str> = lines
                    .filter(|l| !l.trim_start().starts_with("//"))
                    .collect();
                let own = own.join("\n");
                if own.contains(&format!("get(\"{table}\")"))
                    || own.contains(&format!("Table(\"{table}\""))
                {
                    code.push_str(&own);
                }
            }
        }
    }
    let mut code = String::new();
    let src = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    walk(&src, table, &mut code);
    code
}

/// A number that looks like a default but is read by nothing would mislead whoever changes it.
#[test]
fn every_value_is_read_by_the_code_or_said_to_be_for_show() {
    for t in all().unwrap() {
        let code = code_that_names(&t.id);
        let shown = SHOWN_ONLY.iter().find(|(id, _)| *id == t.id);
        let shown = shown.map_or(&[][..], |(_, names)| names);
        for name in shown {
            t.value(name).unwrap_or_else(|e| panic!("{e}"));
        }
        for v in &t.values {
            // By its name, or as the field of that name of a struct that the table fills.
            let ways = [format!("\"{}\"", v.name), format!("pub {}: ", v.name)];
            assert!(
                shown.contains(&v.name.as_str()) || ways.iter().any(|way| code.contains(way)),
                "nothing reads {} of the table {}: use it, list it in SHOWN_ONLY, or delete it",
                v.name,
                t.id
            );
        }
    }
}

/// Anchors typed from the publications themselves, one or more for each file of parameters, so that
/// a slip of a digit in a file shows.
#[test]
fn anchors_hold() {
    let anchors = [
        ("slator1906", "ratio_5_to_10", 2.65), // Harden 1914, pp. 128-130
        ("slator1906", "ratio_35_to_40", 1.20), // the same
        ("slator1906_square_root", "c_per_k", 0.48), // fit with the limit held at 47 °C
        ("zakhartsev2015", "t_opt_c", 32.4),   // fit; Salvadó 2011 prints 32.3
        ("caspeta2015", "t_max_c", 41.3),      // fit; highest point without growth 42
        ("defaults", "sugar_stock_ml_per_100g", 1750.0), // Saunders 1972: 1352 + 397
        ("kinds", "instant", 0.33),            // conversion table
        ("co2", "henry_mol_per_m3_pa", 3.35e-4), // Sander 2023: 3.3e-4 to 3.4e-4
        ("prior", "hearth_ratio", 2.0),        // Boutroux 1897, p. 248
        ("properties", "c_water_kj_per_kg_k", 4.186), // IAPWS-95, 30 °C: 4.180; 0-40 °C: 4.189
        ("properties", "hydration_heat_kj_per_kg", 15.1), // 6.5 Btu/lb = 15.12 kJ/kg
    ];
    for (id, name, expected) in anchors {
        let v = get(id).unwrap().value(name).unwrap();
        assert_eq!(v.value, expected, "{id} {name}");
    }
    // 6.5 Btu/lb in kJ/kg (1 Btu/lb is 2.326 kJ/kg exactly), to the three digits given.
    assert!((6.5 * 2.326_f64 - 15.1).abs() < 0.05);
}

#[test]
fn slators_points_are_the_products_of_his_ratios() {
    let t = get("slator1906").unwrap();
    let ratio = |from: i32, to: i32| t.value(&format!("ratio_{from}_to_{to}")).unwrap().value;
    let rate = |c: f64| {
        let knot = t.knots.iter().find(|k| k.temperature_c == c).unwrap();
        knot.relative_rate
    };
    assert_eq!(rate(30.0), 1.0);
    for from in (5..40).step_by(5) {
        let found = rate(f64::from(from + 5)) / rate(f64::from(from));
        // written with all digits, so only rounding of the last one is allowed
        assert!(
            (found / ratio(from, from + 5) - 1.0).abs() < 1e-14,
            "{from}"
        );
    }
    // His own column of 10 K ratios, printed with two or three digits, agrees within 2 %.
    for from in (5..=30).step_by(5) {
        let found = rate(f64::from(from + 10)) / rate(f64::from(from));
        assert!(
            (found / ratio(from, from + 10) - 1.0).abs() < 0.02,
            "{from}"
        );
    }
}

#[test]
fn measured_growth_is_complete() {
    // Zakhartsev 2015 and Caspeta 2015: number of points and the fastest of each.
    for (id, count, at_c, fastest) in [
        ("zakhartsev2015", 13, 31.0, 0.379),
        ("caspeta2015", 8, 34.0, 0.330),
    ] {
        let points = &get(id).unwrap().points;
        assert_eq!(points.len(), count);
        let top = points
            .iter()
            .max_by(|a, b| a.growth_rate_per_h.total_cmp(&b.growth_rate_per_h))
            .unwrap();
        assert_eq!((top.temperature_c, top.growth_rate_per_h), (at_c, fastest));
    }
}

#[test]
fn an_own_file_keeps_its_order_and_takes_over_the_header() {
    let t = parse(GOOD).unwrap();
    let names: Vec<&str> = t.values.iter().map(|v| v.name.as_str()).collect();
    assert_eq!(names, ["later_h", "early_c"]);
    assert_eq!(t.values[0].standing, Standing::Quoted);
    assert_eq!(t.values[1].standing, Standing::Derived);
    assert_eq!(t.values[1].source, "s");
    assert_eq!(
        t.values[0].uncertainty,
        Uncertainty::StandardError { se: 0.5 }
    );
    assert_eq!(
        t.values[1].uncertainty,
        Uncertainty::Range {
            low: 20.0,
            high: 21.0
        }
    );
}

#[test]
fn uncertainty_on_the_log_scale() {
    let sd = |line: &str| {
        let text = GOOD.replace("se = 0.5", line);
        parse(&text).unwrap().value("later_h").unwrap().log_sd()
    };
    assert_eq!(sd("se = 0.5"), Some(0.25));
    assert_eq!(sd("log_sd = 0.3"), Some(0.3));
    assert_eq!(sd("exact = true"), Some(0.0));
    // A factor of e from 10 to 90 % is 2.5631 standard deviations (normal table).
    let e = sd("range = [1.5, 4.077422742688568]").unwrap();
    assert!((e - 1.0 / 2.563_103).abs() < 1e-6);
    assert_eq!(sd("range = [0, 4]"), None);
    assert_eq!(sd("judged = true\nnote = \"by judgement 1 to 3\""), None);
}

/// What a range would have said in numbers, the note of a judged value says in words.
#[test]
fn a_judged_value_says_so_in_its_note() {
    let mut count = 0;
    for t in all().unwrap() {
        for v in &t.values {
            if v.uncertainty == Uncertainty::Judged {
                assert!(v.note.contains("judgement"), "{} {}", t.id, v.name);
                count += 1;
            }
        }
    }
    assert!(count > 0);
}

#[test]
fn a_bad_file_is_refused_by_line_in_one_line() {
    let cases = [
        ("format = 1", "format = 7\nnew = 1", "format 7"),
        ("format = 1", "format = 7", "format 7"),
        (
            "title = \"t\"",
            "titel = \"t\"",
            "line 3: unknown field `titel`",
        ),
        ("title = \"t\"\n", "", "missing field `title`"),
        ("\"quoted\"", "\"heard\"", "line 7: unknown variant `heard`"),
        (
            "se = 0.5",
            "",
            "line 8: [values.later_h]: a value needs exactly one",
        ),
        (
            "se = 0.5",
            "se = 0.5\nlog_sd = 0.1",
            "exactly one uncertainty",
        ),
        ("se = 0.5", "exact = false", "exactly one uncertainty"),
        ("se = 0.5", "judged = false", "exactly one uncertainty"),
        (
            "se = 0.5",
            "se = 0.5\njudged = true",
            "exactly one uncertainty",
        ),
        (
            "se = 0.5",
            "judged = true",
            "line 8: [values.later_h]: judged = true leaves it to the note",
        ),
        ("se = 0.5", "judged = true\nnote = \" \"", "add note"),
        (
            "se = 0.5",
            "se = -0.5",
            "se is -0.5 h, but must lie between",
        ),
        (
            "value = 2\n",
            "value = nan\n",
            "value is not a finite number",
        ),
        ("value = 2\n", "value = \"2\"\n", "line 9: invalid type"),
        (
            "value = 2\n",
            "value = 2000\n",
            "value is 2000 h, but must lie between 0 and 504 h",
        ),
        ("later_h", "later_min_per_g", "ends in no known unit"),
        ("later_h", "later_mm", "ends in no known unit"),
        ("[20, 21]", "[21, 20]", "lower number first"),
        (
            "[20, 21]",
            "[21, 22]",
            "line 11: [values.early_c]: value is 20.5 °C, but must lie between 21 and 22 °C",
        ),
        ("[values.early_c]", "[values.later_h]", "duplicate key"),
        (
            "id = \"own\"",
            "id = \"own\"\nlaw = \"cardinal\"",
            "unknown value of the table \"own\" \"t_min_c\"",
        ),
        (
            "id = \"own\"",
            "id = \"own\"\nlaw = \"tabulated\"",
            "two [[knots]] or more",
        ),
    ];
    for (good, bad, expected) in cases {
        let e = parse(&GOOD.replacen(good, bad, 1)).unwrap_err().to_string();
        assert!(e.contains(expected), "{bad:?} gave {e:?}");
        assert!(!e.contains('\n'), "{e:?}");
    }
    let with = |more: &str| parse(&format!("{GOOD}{more}")).unwrap_err().to_string();
    let knots = "[[knots]]\ntemperature_c = 5\nrelative_rate = 1\nstanding = \"quoted\"\n";
    assert!(with(&knots.repeat(2)).contains("5 °C follows 5 °C"));
    assert!(
        with("[[points]]\ntemperature_c = 5\ngrowth_rate_per_h = -1\n").contains("line 16: growth")
    );
    let row = "[[rows]]\nid = \"a\"\ngrade = \"A\"\nhours = [1, 2]\ntemperature_c = [20, 20]\nnote = \"n\"\n";
    assert!(
        with(&format!("{row}use = \"fit\"\n")).contains("line 16: a row for the fit needs a dose")
    );
    assert!(with(&format!("{row}use = \"held-out\"\n").repeat(2)).contains("two rows \"a\""));
    let memory = format!("{row}use = \"fit\"\ndose_percent = [1, 1]\nstanding = \"from-memory\"\n");
    assert!(with(&memory).contains("a source that was seen"));
}

#[test]
fn text_that_is_no_table_is_refused() {
    for text in [
        "",
        "\u{feff}",
        "format",
        "[[values]]",
        "\0\0\0",
        "format = 1\nvalues = 3",
    ] {
        let e = parse(text).unwrap_err().to_string();
        assert!(!e.contains('\n'), "{e:?}");
    }
    let e = parse(&"0".repeat(crate::toml_text::MAX_BYTES + 1))
        .unwrap_err()
        .to_string();
    assert!(e.contains("1048577 bytes"), "{e}");
}

proptest::proptest! {
    #[test]
    fn no_text_makes_the_reader_panic(text in "(?s).{0,200}", at in 0..GOOD.len()) {
        let _ = parse(&text);
        let _ = parse(&format!("{}{text}{}", &GOOD[..at], &GOOD[at..]));
    }
}
