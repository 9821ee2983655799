//! `pointage batch`: many questions from a CSV to a CSV, with constant memory and on all cores.
//!
//! The input is cut at row ends into blocks. As many blocks as keep every core busy are read, answered
//! side by side, and written in their order; then their buffers serve the next ones.

mod blocks;
mod fault;
mod rows;

use super::exit::Failure;
use super::progress::Counter;
use super::render::counted;
use super::write::Target;
use blocks::{Block, Blocks};
use pointage_api::Model;
use rayon::prelude::*;
use rows::BatchSheet;
use std::io::{self, ErrorKind, Read, Write};
use std::path::{Path, PathBuf};

/// Blocks read before the answering begins, per core: enough that none waits for the slowest.
const BLOCKS_PER_CORE: usize = 4;
/// Rows without an answer that are told one by one on stderr.
const TOLD: usize = 20;

/// Answer many questions of ready, dose or water, from a CSV to a CSV
///
/// A column is named as the key of --json, with a plain number in its unit (at_c, dose_percent, for_h), or
/// as the flag, with values as on the command line (at, dose, for). A value may carry its own unit under either. An empty cell leaves the value out. A
/// column id goes into the answer as it is. Without --command, a column command names that of each row. A row is
/// one line: a quote that stays open costs its own row and no other.
#[derive(clap::Args)]
#[command(after_help = "\
The answer has a row for each row, in their order: the numbers that --json prints, and for a row without \
an answer the error. Such a row is told on stderr as well; the exit code is 0 all the same, and with \
--strict that of the first such row, where the answer then ends. With --json each row is a whole answer, \
with its cautions, on a line of JSON.

Example:
  printf 'kind,dose,at\\npoolish,0.3%,21\\nbiga,0.4%,64F\\n' | pointage batch - --command ready")]
pub struct BatchCommand {
    /// File with a row for each question; - reads standard input
    #[arg(value_name = "ROWS.csv")]
    file: PathBuf,
    /// ready, dose or water, for all rows
    #[arg(long, value_name = "COMMAND", value_parser = command)]
    command: Option<String>,
    /// Write the answers to a file in place of standard output
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
    /// Replace a file that exists
    #[arg(long)]
    force: bool,
    /// End at the first row that has no answer
    #[arg(long)]
    strict: bool,
}

fn command(name: &str) -> pointage::Result<String> {
    let known = BatchSheet::commands();
    match known.contains(&name) {
        true => Ok(name.to_owned()),
        false => Err(pointage::Error::unknown_name("command", name, known)),
    }
}

impl BatchCommand {
    pub fn run(&self, json: bool, model: &Model) -> Result<(), Failure> {
        let target = self.out.as_deref();
        let target = target
            .map(|path| Target::new(path, self.force))
            .transpose()?;
        let name = self.name();
        let (input, waiting) = Blocks::begin(self.open()?, &name)?;
        let how = (json, self.strict);
        let sheet = BatchSheet::read(waiting.header(), self.command.as_deref(), model, how, &name)?;
        match &target {
            None => {
                let out = io::stdout().lock();
                match answer(&sheet, input, waiting, out, &name) {
                    // A reader that has seen enough is no fault.
                    Err(Ended::Writing(e)) if e.kind() == ErrorKind::BrokenPipe => Ok(()),
                    Err(Ended::Writing(e)) => Err(Failure::of_file(format!(
                        "standard output: cannot be written: {e}"
                    ))),
                    Err(Ended::Failed(failure)) => Err(failure),
                    Ok(()) => Ok(()),
                }
            }
            Some(target) => target.stream(|out| {
                answer(&sheet, input, waiting, out, &name).map_err(|ended| match ended {
                    Ended::Writing(e) => target.fault(&e),
                    Ended::Failed(failure) => failure,
                })
            }),
        }
    }

    fn name(&self) -> String {
        if self.file == Path::new("-") {
            "standard input".into()
        } else {
            self.file.display().to_string()
        }
    }

    fn open(&self) -> Result<Box<dyn Read + Send>, Failure> {
        if self.file == Path::new("-") {
            return Ok(Box::new(io::stdin()));
        }
        Ok(Box::new(super::files::open(&self.file)?))
    }
}

/// Why the answers end early.
enum Ended {
    Writing(io::Error),
    Failed(Failure),
}

impl From<Failure> for Ended {
    fn from(failure: Failure) -> Self {
        Self::Failed(failure)
    }
}

fn answer(
    sheet: &BatchSheet<'_>,
    mut input: Blocks,
    first: Block,
    mut out: impl Write,
    name: &str,
) -> Result<(), Ended> {
    let wide = BLOCKS_PER_CORE * rayon::current_num_threads();
    let mut blocks = vec![first];
    blocks.resize_with(wide, Block::default);
    let mut counter = Counter::new("rows");
    let mut faults = 0;
    out.write_all(sheet.head().as_bytes())
        .map_err(Ended::Writing)?;
    let mut filled = 1; // with the rows behind the header
    loop {
        // What was read before a fault of the file is answered before it is told.
        let unreadable = loop {
            if filled == wide {
                break None;
            }
            match input.fill(&mut blocks[filled]) {
                Ok(true) => filled += 1,
                Ok(false) => break None,
                Err(fault) => break Some(fault),
            }
        };
        if filled == 0 && unreadable.is_none() {
            break;
        }
        blocks[..filled]
            .par_iter_mut()
            .for_each(|block| sheet.answer(block));
        for block in &blocks[..filled] {
            out.write_all(&block.answers).map_err(Ended::Writing)?;
            counter.add(block.rows);
            for fault in &block.faults {
                if sheet.strict {
                    counter.clear();
                    out.flush().map_err(Ended::Writing)?;
                    return Err(fault.failure(name).into());
                }
                if faults < TOLD {
                    counter.clear();
                    let _ = fault.failure(name).of_command("batch").report();
                }
                faults += 1;
            }
        }
        if let Some(fault) = unreadable {
            counter.clear();
            out.flush().map_err(Ended::Writing)?;
            return Err(fault.into());
        }
        filled = 0;
    }
    counter.clear();
    out.flush().map_err(Ended::Writing)?;
    if faults > TOLD {
        let more = counted(faults - TOLD, "more row has", "more rows have");
        let told = Failure::of_input(format!("{name}: {more} no answer: see the column error"));
        let _ = told.of_command("batch").report();
    }
    Ok(())
}
