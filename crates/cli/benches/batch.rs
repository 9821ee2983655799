//! The program itself: a million rows through `batch`, against only reading and writing them, and the whole
//! process `water` against `true`. Times are those of whole processes, by the clock and by the processor, so that
//! criterion is of no use here: the runs alternate, and the least of each counts.

#[path = "../../../benches/answers/mod.rs"]
mod answers;

use pointage::ferment::Kind;
use pointage::formula::YeastKind;
use pointage_api::append_number;
use rayon::prelude::*;
use serde_json::json;
use std::error::Error;
use std::fmt::Write as _;
use std::fs::{self, File};
use std::io::{BufWriter, Write};
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::thread;
use std::time::{Duration, Instant};

type Taken<T> = Result<T, Box<dyn Error>>;

const ROWS: u32 = 1_000_000;
const ROUNDS: usize = 5;
const POINTAGE: &str = env!("CARGO_BIN_EXE_pointage");

fn place(name: &str) -> PathBuf {
    Path::new(env!("CARGO_TARGET_TMPDIR"))
        .join("benches")
        .join(name)
}

/// Questions of `ready` as a shop may ask them: every kind, dose and temperature different.
fn rows(count: u32) -> String {
    let mut text = String::from("kind,dose_percent,yeast,at_c\n");
    for i in 0..count {
        let kind = Kind::ALL[(i % 5) as usize];
        let yeast = YeastKind::ALL[(i % 3) as usize];
        let dose = 0.1 + f64::from(i * 7 % 801) / 1000.0;
        let at = 16.0 + f64::from(i * 11 % 141) / 10.0;
        let _ = writeln!(text, "{kind},{dose:.3},{yeast},{at:.1}");
    }
    text
}

/// Processor time so far of all threads of this process, or of its children that have ended, by `/proc`, which
/// counts hundredths of a second.
fn processor_s(children: bool) -> f64 {
    let text = fs::read_to_string("/proc/self/stat").unwrap_or_default();
    // The name before it may hold anything, in brackets.
    let fields = text.rsplit(')').next().unwrap_or_default();
    let skipped = if children { 13 } else { 11 };
    let ticks = fields.split_whitespace().skip(skipped).take(2);
    ticks.filter_map(|t| t.parse::<f64>().ok()).sum::<f64>() / 100.0
}

/// What a batch took: by the clock, s; processor time of all its threads, s; the most memory that it held, KiB. The
/// last two are known on Linux only, 0 elsewhere.
fn batch(rows: &Path) -> Taken<(f64, f64, u64)> {
    let out = File::create(place("answers.csv"))?;
    let before = processor_s(true);
    let begin = Instant::now();
    let mut child = Command::new(POINTAGE)
        .arg("batch")
        .arg(rows)
        .args(["--command", "ready"])
        .stdout(Stdio::from(out))
        .spawn()?;
    let status = format!("/proc/{}/status", child.id());
    let mut most = 0;
    loop {
        if let Some(ended) = child.try_wait()? {
            assert!(ended.success());
            let wall_s = begin.elapsed().as_secs_f64();
            return Ok((wall_s, processor_s(true) - before, most));
        }
        let text = fs::read_to_string(&status).unwrap_or_default();
        let line = text.lines().find_map(|l| l.strip_prefix("VmHWM:"));
        let kib = line.and_then(|l| l.trim().strip_suffix(" kB")?.parse().ok());
        most = most.max(kib.unwrap_or(0));
        thread::sleep(Duration::from_millis(5));
    }
}

/// Reads every cell of the rows and writes as many numbers as `batch` does, on as many threads: processor
/// time.
fn only_csv(text: &str) -> Taken<f64> {
    let before = processor_s(false);
    let (_, mut rest) = text.split_once('\n').ok_or("no header")?;
    let parts = (1..=rayon::current_num_threads()).rev().map(|left| {
        let about = rest.len() / left;
        let end = rest[about..].find('\n');
        let (part, more) = rest.split_at(end.map_or(rest.len(), |at| about + at + 1));
        rest = more;
        part
    });
    let parts: Vec<&str> = parts.collect();
    let parts = parts.par_iter().enumerate();
    parts.try_for_each(|(i, part)| -> Result<(), csv::Error> {
        let file = File::create(place(&format!("only-csv-{i}.csv")))?;
        let mut file = BufWriter::with_capacity(1 << 16, file);
        let mut reader = csv::ReaderBuilder::new();
        let mut reader = reader.has_headers(false).from_reader(part.as_bytes());
        let (mut row, mut line) = (csv::ByteRecord::new(), Vec::new());
        while reader.read_byte_record(&mut row)? {
            let cell = |i: usize| std::str::from_utf8(&row[i]).unwrap_or_default();
            let number = |i: usize| cell(i).parse::<f64>().unwrap_or(f64::NAN);
            let names = (cell(0).len() + cell(2).len()) as f64;
            let (dose, at) = (number(1), number(3));
            line.clear();
            // Nine digits behind the point, as in an answer.
            for n in 1..=6_u32 {
                append_number(&mut line, dose * at / (names + f64::from(n)));
                line.push(b',');
            }
            line.push(b'\n');
            file.write_all(&line)?;
        }
        Ok(file.flush()?)
    })?;
    Ok(processor_s(false) - before)
}

/// Median wall time of a process whose output nobody reads.
fn process(program: &str, args: &[&str]) -> Taken<f64> {
    let mut command = Command::new(program);
    command.args(args).stdout(Stdio::null());
    let mut times = [0.0; 20];
    for time in &mut times {
        let begin = Instant::now();
        command.status()?;
        *time = begin.elapsed().as_secs_f64();
    }
    times.sort_by(f64::total_cmp);
    Ok(times[times.len() / 2])
}

fn main() -> Taken<()> {
    fs::create_dir_all(place(""))?;
    let text = rows(ROWS);
    fs::write(place("rows.csv"), &text)?;
    fs::write(place("half.csv"), rows(ROWS / 2))?;
    let question = "water --dough 24 --flour 20 --room 21 --friction 2";
    let question: Vec<&str> = question.split(' ').collect();
    let (mut least, mut memory) = ([f64::MAX; 6], 0);
    for _ in 0..ROUNDS {
        let (wall, processor, kib) = batch(&place("rows.csv"))?;
        let (_, half, _) = batch(&place("half.csv"))?;
        let (water, nothing) = (process(POINTAGE, &question)?, process("true", &[])?);
        let now = [wall, processor, half, only_csv(&text)?, water, nothing];
        least = std::array::from_fn(|i| now[i].min(least[i]));
        memory = memory.max(kib);
    }
    let [wall, processor, half, csv, water, nothing] = least;
    let threads = thread::available_parallelism()?.get();
    println!("{ROWS} rows of ready on {threads} threads: {wall:.3} s, {memory} KiB");
    println!(
        "processor time {processor:.2} s, of half of them {half:.2} s, of only reading and writing {csv:.2} s"
    );
    let [water_ms, true_ms] = [water, nothing].map(|s| 1e3 * s);
    println!("water: {water_ms:.2} ms, true: {true_ms:.2} ms");
    answers::write(
        "batch",
        &json!({
            "rows": ROWS, "wall_s": wall, "processor_s": processor, "half_s": half, "only_csv_s": csv,
            "memory_kib": memory, "threads": threads, "water_s": water, "true_s": nothing,
        }),
    )?;
    Ok(())
}
