//! `pointage batch`: each row has the numbers of the command that asks the same, in the order of the rows.

use crate::program::{directory, file, run as pointage};
use serde_json::Value;
use std::fs;
use std::io::Write;
use std::process::{Command, Output, Stdio};

/// Runs `pointage batch - ARGS` on a text.
fn batch(args: &str, rows: &str) -> Output {
    let mut child = Command::new(env!("CARGO_BIN_EXE_pointage"))
        .args(["batch", "-"])
        .args(args.split_whitespace())
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    let mut stdin = child.stdin.take().unwrap();
    let rows = rows.to_owned();
    let writer = std::thread::spawn(move || {
        // A program that has ended reads no more.
        let _ = stdin.write_all(rows.as_bytes());
    });
    let output = child.wait_with_output().unwrap();
    writer.join().unwrap();
    output
}

fn text(bytes: &[u8]) -> String {
    String::from_utf8(bytes.to_vec()).unwrap()
}

/// Header and rows of a CSV, cell by cell.
fn table(csv: &str) -> (Vec<String>, Vec<Vec<String>>) {
    let mut reader = csv::Reader::from_reader(csv.as_bytes());
    let cells = |r: &csv::StringRecord| r.iter().map(str::to_owned).collect::<Vec<_>>();
    let header = cells(reader.headers().unwrap());
    let rows = reader.records().map(|r| cells(&r.unwrap())).collect();
    (header, rows)
}

/// A number of an answer in JSON as it is printed there, by a path such as `range_h 0`; empty for none.
fn printed(answer: &Value, path: &str) -> String {
    let mut at = answer;
    for step in path.split(' ') {
        at = match step.parse::<usize>() {
            Ok(i) => &at[i],
            Err(_) => &at[step],
        };
    }
    match at {
        Value::Null => String::new(),
        number => number.to_string(),
    }
}

/// Asks the single command, and holds each named column of a row against its answer.
fn same(command: &str, header: &[String], row: &[String], columns: &[(&str, &str)]) {
    let output = pointage(&format!("{command} --json"));
    assert!(output.status.success(), "{command}");
    let answer: Value = serde_json::from_slice(&output.stdout).unwrap();
    for (column, path) in columns {
        let i = header.iter().position(|h| h == column).unwrap();
        assert_eq!(row[i], printed(&answer, path), "{command}: {column}");
    }
    assert_eq!(row.last().unwrap(), "");
}

const READY: [(&str, &str); 6] = [
    ("ready_h", "ready_h"),
    ("range_low_h", "range_h 0"),
    ("range_high_h", "range_h 1"),
    ("window_open_h", "window_h 0"),
    ("window_close_h", "window_h 1"),
    ("dough_end_c", "dough_end_c"),
];

#[test]
fn ready_says_what_the_command_says() {
    let rows = "kind,dose,yeast,at,mixed-at,room,flour-mass,hydration,salt,until\n\
        poolish,0.3%,fresh,21,,,,,,\n\
        biga,0.4,,64F,,,,50,,\n\
        sponge,1,active-dry,,24,19,5kg,,,\n\
        dough,1.2,instant,26,,,,65,2%,ripe\n\
        old-dough,1.5,fresh,4,,,,,,\n\
        poolish,0.01,fresh,12,,,,,1.5,doubled\n";
    let output = batch("--command ready", rows);
    assert!(output.status.success() && output.stderr.is_empty());
    let (header, answers) = table(&text(&output.stdout));
    let (names, questions) = table(rows);
    assert_eq!(answers.len(), questions.len());
    for (question, answer) in questions.iter().zip(&answers) {
        let flags = names
            .iter()
            .zip(question)
            .filter(|(_, cell)| !cell.is_empty());
        let flags: Vec<String> = flags
            .map(|(name, cell)| format!("--{name} {cell}"))
            .collect();
        same(
            &format!("ready {}", flags.join(" ")),
            &header,
            answer,
            &READY,
        );
    }
}

#[test]
fn dose_and_water_and_a_column_that_names_the_command() {
    let rows = "id,command,kind,for_h,at_c,flour_mass_g,dough_c,flour_c,room_c,friction_factor_c,water_mass_g,tap_c,mixing_heat_kj_per_kg\n\
        a,water,,,,10000,24,20,21,2,6500,18,7\n\
        \"b, second\",dose,poolish,12,18,500,,,,,,,\n\
        c,water,,,,,24,20,21,2,,,\n";
    let output = batch("", rows);
    assert!(output.status.success(), "{}", text(&output.stderr));
    let (header, answers) = table(&text(&output.stdout));
    assert_eq!(header[..2], ["id", "command"]);
    let firsts: Vec<&str> = answers.iter().map(|a| a[0].as_str()).collect();
    assert_eq!(firsts, ["a", "b, second", "c"]);
    let water = [
        ("ddt_formula_water_c", "ddt_formula water_c"),
        ("ice_g", "ice_g"),
        ("heat_balance_water_c", "heat_balance water_c"),
        (
            "heat_balance_dough_per_water",
            "heat_balance dough_per_water",
        ),
        ("tap_g", "tap_g"),
        ("difference_c", "difference_c"),
    ];
    same(
        "water --flour-mass 10kg --dough 24 --flour 20 --room 21 --friction 2 --water-mass 6.5kg --tap 18 --mixing-heat 7",
        &header,
        &answers[0],
        &water,
    );
    let dose = [
        ("dose_percent", "dose_percent"),
        ("fresh_percent", "fresh_percent"),
        ("yeast_g", "yeast_g"),
        ("range_low_percent", "range_percent 0"),
        ("range_high_percent", "range_percent 1"),
        ("proportional_percent", "proportional_percent"),
        ("weigh_take_g", "weigh take_g"),
        ("weigh_left_g", "weigh left_g"),
        ("for_h", "for_h"),
        ("dough_end_c", "dough_end_c"),
    ];
    same(
        "dose --kind poolish --for 12h --at 18 --flour-mass 500g",
        &header,
        &answers[1],
        &dose,
    );
    same(
        "water --dough 24 --flour 20 --room 21 --friction 2",
        &header,
        &answers[2],
        &water[..1],
    );
}

/// So many rows that they fill many blocks, each with its number as id and a dose of its own.
fn many(count: usize) -> String {
    let mut rows = String::from("id,kind,dose_percent,at_c\n");
    for i in 0..count {
        let dose = 0.1 + (i % 997) as f64 / 1000.0;
        rows += &format!("{i},poolish,{dose:.3},21\n");
    }
    rows
}

#[test]
fn the_order_of_the_rows_is_kept_over_all_blocks() {
    let rows = many(60_000);
    assert!(rows.len() > 1 << 20, "many blocks of 128 KiB");
    let output = batch("--command ready", &rows);
    let out = text(&output.stdout);
    let mut first = Vec::new();
    for (i, line) in out.lines().skip(1).enumerate() {
        let (id, rest) = line.split_once(',').unwrap();
        assert_eq!(id, i.to_string());
        // The same dose has the same answer wherever it stands.
        if i < 997 {
            first.push(rest);
        } else {
            assert_eq!(rest, first[i % 997], "row {i}");
        }
    }
    assert_eq!(out.lines().count(), 60_001);
}

#[test]
fn quotes_line_ends_and_comments_are_those_of_a_csv() {
    let rows = many(4000).replace("\n2000,", "\n# between\n\n\"two \"\"thousand\"\", and\",");
    let plain = batch("--command ready", &rows);
    assert!(
        plain.status.success() && plain.stderr.is_empty(),
        "{}",
        text(&plain.stderr)
    );
    let (_, answers) = table(&text(&plain.stdout));
    assert_eq!(answers.len(), 4000);
    assert_eq!(answers[2000][0], "two \"thousand\", and");
    let from_windows = format!("\u{feff}{}", rows.replace('\n', "\r\n"));
    let (_, same) = table(&text(&batch("--command ready", &from_windows).stdout));
    assert_eq!(same.len(), 4000);
    assert!(same.iter().zip(&answers).all(|(a, b)| a[1..] == b[1..]));
}

const BAD: &str = "kind,dose_percent,at_c\n\
    poolish,0.3,21\n\
    polish,0.3,21\n\
    poolish,,21\n\
    poolish,0.3kg,21\n\
    poolish,0.3\n\
    poolish,0.3,80\n\
    poolish,50,21\n\
    poolish,0.3,-10\n\
    biga,0.3,21\n";

#[test]
fn a_bad_row_is_told_with_line_and_column_and_skipped() {
    let output = batch("--command ready", BAD);
    assert_eq!(output.status.code(), Some(0));
    let (_, answers) = table(&text(&output.stdout));
    let told = text(&output.stderr);
    let told: Vec<&str> = told.lines().collect();
    let expected = [
        "line 3, column kind: unknown kind \"polish\"; did you mean \"poolish\"?",
        "line 4, column dose_percent: dose_percent is missing",
        "line 5, column dose_percent: cannot read percentage from \"0.3kg\"",
        "line 6: 2 cells where the header has 3",
        "line 7, column at_c: temperature is 80 °C",
        "line 8, column dose_percent: dose as fresh yeast is",
        "line 9: ripeness cannot be met",
    ];
    assert_eq!(told.len(), expected.len(), "{told:#?}");
    for ((line, says), answer) in told.iter().zip(expected).zip(&answers[1..8]) {
        let start = format!("pointage: batch: standard input: {says}");
        assert!(line.starts_with(&start), "{line}");
        assert!(answer[0].is_empty() && !answer.last().unwrap().is_empty());
    }
    assert!(!answers[0][0].is_empty() && !answers[8][0].is_empty());
    assert_eq!(answers.len(), 9);
}

#[test]
fn a_cell_that_is_no_text_is_told() {
    let rows = file(
        "batch-latin1.csv",
        b"kind,dose,at,id\npoolish,0.3,21,a\npoolish,0.3,21,\xe9\nbiga,1,24,b\n",
    );
    let output = pointage(&format!("batch {rows} --command ready"));
    assert!(output.status.success());
    let says = "batch-latin1.csv: line 3, column id: the cell is not UTF-8 text";
    assert!(
        text(&output.stderr).contains(says),
        "{}",
        text(&output.stderr)
    );
    let lines: Vec<&[u8]> = output.stdout.split(|&b| b == b'\n').collect();
    assert!(lines[2].starts_with(b"\xe9,,") && lines[3].starts_with(b"b,"));
}

#[test]
fn strict_ends_at_the_first_bad_row_with_its_exit_code() {
    let output = batch("--command ready --strict", BAD);
    assert_eq!(output.status.code(), Some(2));
    let out = text(&output.stdout);
    assert!(
        out.lines().nth(1).unwrap().ends_with(','),
        "the good row before it is there"
    );
    assert!(text(&output.stderr).contains("line 3, column kind"));
    let never = "kind,dose_percent,at_c\npoolish,0.3,-10\n";
    assert_eq!(
        batch("--command ready --strict", never).status.code(),
        Some(1)
    );
    let endless = format!("{}poolish,0.3,x\n", many(0).replace("id,", ""));
    let faults = endless.clone() + &"poolish,0.3,x\n".repeat(29);
    let told = text(&batch("--command ready", &faults).stderr);
    assert_eq!(told.lines().count(), 21);
    assert!(
        told.lines()
            .last()
            .unwrap()
            .contains("10 more rows have no answer")
    );
}

#[test]
fn a_header_that_cannot_be_used_is_refused() {
    for (args, rows, says) in [
        ("--command ready", "", "the file is empty"),
        (
            "--command ready",
            "kind,dose_percent,at_f\n",
            "line 1: unknown column \"at_f\"",
        ),
        ("--command ice", "tap_c\n", "line 1: no column "),
        ("--command ready", "kind,dose,kind\n", "stands there twice"),
        (
            "--command ready",
            "command,kind,dose\n",
            "leave one of them out",
        ),
        ("", "kind,dose\n", "no column command"),
        (
            "--command plan",
            "kind,dose\n",
            "--command: unknown command",
        ),
    ] {
        let output = batch(args, rows);
        assert_eq!(output.status.code(), Some(2), "{rows}");
        let told = text(&output.stderr);
        assert!(told.contains(says) && told.lines().count() == 1, "{told}");
        assert!(output.stdout.is_empty());
    }
    let nowhere = pointage("batch no-such-rows.csv --command ready");
    assert_eq!(nowhere.status.code(), Some(3));
}

#[test]
fn answers_go_to_a_file_whole_or_not_at_all() {
    let rows = file("batch-rows.csv", BAD.as_bytes());
    let out = format!("{}/batch-answers.csv", directory().display());
    let _ = fs::remove_file(&out);
    let ask = |more: &str| pointage(&format!("batch {rows} --command ready --out {out} {more}"));
    assert_eq!(ask("--strict").status.code(), Some(2));
    assert!(
        fs::metadata(&out).is_err(),
        "nothing of a batch that failed"
    );
    assert!(ask("").status.success());
    assert_eq!(
        fs::read(&out).unwrap(),
        batch("--command ready", BAD).stdout
    );
    assert_eq!(
        ask("").status.code(),
        Some(2),
        "what exists is not replaced unasked"
    );
    assert!(ask("--force").status.success());
}

#[test]
fn as_json_each_row_is_a_whole_answer() {
    let output = batch(
        "--command ready --json",
        "kind,dose,at\npoolish,0.3,18\npoolish,0.3,x\n",
    );
    let lines: Vec<Value> = text(&output.stdout)
        .lines()
        .map(|line| serde_json::from_str(line).unwrap())
        .collect();
    let single = pointage("ready --kind poolish --dose 0.3 --at 18 --json");
    assert_eq!(
        lines[0],
        serde_json::from_slice::<Value>(&single.stdout).unwrap()
    );
    assert!(lines[0]["warnings"][0]["text"].is_string());
    let message = lines[1]["error"]["message"].as_str().unwrap();
    assert!(message.contains("line 3, column at"), "{message}");
}

/// A quote that stays open costs its own row and no other, whether or not another one closes it by chance, and is
/// told by its line.
#[test]
fn an_open_quote_takes_no_other_row_along() {
    let good = "a,poolish,0.3,21\n";
    let before = 9000;
    let open = "# \"x\n\nb,\"oops,0.3,21\n";
    let mut rows = format!("id,kind,dose_percent,at_c\n{}", good.repeat(before));
    for _ in 0..3 {
        rows += open;
        rows += good;
    }
    rows += &good.repeat(20_000);
    let output = batch("--command ready", &rows);
    assert_eq!(output.status.code(), Some(0));
    let (_, answers) = table(&text(&output.stdout));
    assert_eq!(answers.len(), before + 6 + 20_000);
    let told = text(&output.stderr);
    for i in 0..3 {
        let line = before + 4 + 4 * i;
        let wanted = format!("line {line}: a quote opens and does not close on its line");
        assert!(told.contains(&wanted), "{told}");
        let row = &answers[before + 2 * i];
        assert_eq!(row[0], "b");
        assert!(row.last().unwrap().contains("a quote opens"), "{row:?}");
    }
    assert_eq!(told.lines().count(), 3, "{told}");
    let answered = answers.iter().filter(|a| a[1..] == answers[0][1..]).count();
    assert_eq!(answered, answers.len() - 3);
}

/// What stands before a line without end is answered; then it is refused.
#[test]
fn what_stands_before_a_row_without_end_is_answered() {
    let before = 9000;
    let good = "poolish,0.3,21\n".repeat(before);
    let rows = format!("kind,dose_percent,at_c\n{good}{}", "oops".repeat(1_000_000));
    let output = batch("--command ready", &rows);
    assert_eq!(output.status.code(), Some(2));
    let told = text(&output.stderr);
    assert!(told.contains(&format!("line {}: ", before + 2)), "{told}");
    assert!(told.contains("longer than 1 MiB"), "{told}");
    assert_eq!(table(&text(&output.stdout)).1.len(), before);
}

/// A fault names the line of its row, not of the remarks before it.
#[test]
fn remarks_before_a_row_are_not_its_line() {
    let rows = "kind,dose_percent,at_c\n# x\n\n# y\npoolish,many,21\n";
    let output = batch("--command ready", rows);
    assert!(text(&output.stderr).contains("line 5, column dose_percent"));
}

/// Comments and blank lines are no rows, however many there are and whatever quotes stand in them.
#[test]
fn a_stretch_without_rows_may_be_long() {
    let comment = "# it's \"a remark, and its quote stays open\n".repeat(60_000);
    let blank = "\n".repeat(3_000_000);
    let row = "\"poolish\",0.3,21\n";
    for between in [comment, blank] {
        let rows = format!("kind,dose_percent,at_c\n{row}{between}{row}{between}{row}");
        let output = batch("--command ready", &rows);
        assert_eq!(text(&output.stderr), "");
        let (_, answers) = table(&text(&output.stdout));
        assert_eq!(answers.len(), 3);
        assert!(answers.iter().all(|a| a == &answers[0]));
    }
}

/// Yeast that makes no gas is never ripe, whatever the dose: said so, with what to do. Ice is too cold for it, and
/// a dough near 50 °C too hot.
#[test]
fn where_no_gas_is_made_no_dose_does_it() {
    for command in ["dose", "ready"] {
        let rows = "kind,for_h,at_c\npoolish,12,-10\npoolish,12,48\n";
        let rows = match command {
            "dose" => rows.to_owned(),
            _ => rows.replace("for_h", "dose_percent").replace("12", "0.3"),
        };
        let (_, answers) = table(&text(&batch(&format!("--command {command}"), &rows).stdout));
        for (answer, place) in answers.iter().zip(["warmer", "colder"]) {
            let why = answer.last().unwrap();
            assert!(
                why.contains("cannot be met") && why.contains(" 0 %"),
                "{why}"
            );
            assert!(why.contains(&format!("use a {place} place")), "{why}");
        }
        assert_eq!(answers.len(), 2);
    }
    let short = batch("--command ready", "kind,dose,at\npoolish\n");
    assert!(text(&short.stderr).contains("line 2: 1 cell where the header has 3"));
}

/// The same questions as a spreadsheet or a logger saves them have the same answers.
#[test]
fn tables_are_read_as_people_save_them() {
    let plain = "id,kind,dose,at\nx,poolish,0.3%,21.5\ny,biga,0.45%,18\n";
    let semicolons = "id;kind;dose;at\r\nx;poolish;0,3%;21,5\r\ny;biga;0,45%;18\r\n";
    let wide = |text: &str, bytes: fn(u16) -> [u8; 2]| -> Vec<u8> {
        format!("\u{feff}{text}")
            .encode_utf16()
            .flat_map(bytes)
            .collect()
    };
    let answers = |name: &str, bytes: &[u8]| {
        let out = pointage(&format!("batch {} --command ready", file(name, bytes)));
        assert!(
            out.status.success() && out.stderr.is_empty(),
            "{name}: {out:?}"
        );
        String::from_utf8(out.stdout).unwrap()
    };
    let expected = answers("form-plain.csv", plain.as_bytes());
    assert_eq!(expected.lines().count(), 3);
    for (name, bytes) in [
        ("form-semicolons.csv", semicolons.as_bytes().to_vec()),
        ("form-tabs.csv", semicolons.replace(';', "\t").into_bytes()),
        (
            "form-marked.csv",
            format!("\u{feff}{semicolons}").into_bytes(),
        ),
        ("form-little.csv", wide(semicolons, u16::to_le_bytes)),
        (
            "form-big.csv",
            wide(&semicolons.replace(';', "\t"), u16::to_be_bytes),
        ),
    ] {
        assert_eq!(answers(name, &bytes), expected, "{name}");
    }
    // Which of two numbers is meant is asked, with the line.
    let rows = "kind;dose;at;flour_mass_g\npoolish;0,3;21,5;1000\npoolish;0,3;21,5;1.250\n";
    let out = pointage(&format!(
        "batch {} --command ready",
        file("form-asked.csv", rows.as_bytes())
    ));
    let said = String::from_utf8(out.stderr).unwrap();
    assert!(
        said.contains("line 3, column flour_mass_g: \"1.250\" is 1.250 or 1250"),
        "{said}"
    );
}
