//! `pointage batch`: many questions from a CSV to a CSV, with constant memory and on all cores.
//!
//! The input is cut at row ends into blocks. As many blocks as keep every core busy are read, answered
//! side by side, and written in their order; then their buffers serve the next ones.

mod blocks;
mod rows;

use super::exit::Failure;
use super::files;
use super::progress;
use super::render::counted;
use super::write::Target;
use blocks::{Block, Blocks};
use pointage::Error;
use pointage_api::Model;
use pointage_api::columns::COMMANDS;
use rayon::prelude::*;
use rows::BatchSheet;
use same_file::Handle;
use std::io::{self, BufRead, BufReader, Write};
use std::path::{Path, PathBuf};

/// Blocks read before the answering begins, per core: enough that none waits for the slowest.
const BLOCKS_PER_CORE: usize = 4;
/// Rows without an answer that are told one by one on stderr.
const MOST_REPORTED: usize = 20;

/// Answer many questions of ready, dose, water, ice or scale, from a CSV to a CSV
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
  printf 'kind,dose,at\\npoolish,0.3%,21\\nbiga,0.4%,64F\\n' |
      pointage batch - --command ready")]
pub struct BatchCommand {
    /// File with a row for each question; - reads standard input
    #[arg(value_name = "ROWS.csv")]
    file: PathBuf,
    /// ready, dose, water, ice or scale, for all rows
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

fn command(name: &str) -> Result<String, Error> {
    let known = COMMANDS.contains(&name).then(|| name.to_owned());
    known.ok_or_else(|| Error::unknown_name("command", name, COMMANDS))
}

impl BatchCommand {
    pub fn run(&self, json: bool, model: &Model) -> Result<String, Failure> {
        let out = self.out.as_deref();
        let out = out.map(|path| Target::new(path, self.force)).transpose()?;
        let (input, name): (Box<dyn BufRead + Send>, _) = if self.file == Path::new("-") {
            let input = BufReader::new(files::decoded(io::stdin()));
            (Box::new(input), "standard input".to_owned())
        } else {
            let input = BufReader::new(files::decoded(files::open(&self.file)?));
            (Box::new(input), self.file.display().to_string())
        };
        let unusable = |why: &str| Failure::Input(format!("{name}: {why}"));
        let mut input = Blocks::new(input, &name);
        let mut first = Block::default();
        input.fill(&mut first)?;
        let format = first.format().map_err(|e| unusable(&e.to_string()))?;
        let header = first.take_header(format.separator());
        let header = header.ok_or_else(|| unusable("the file is empty; is it the right file?"))?;
        let command = self.command.as_deref();
        let sheet = BatchSheet::new(header, format, command, model, (json, self.strict));
        let sheet = sheet.map_err(|why| unusable(&format!("line 1: {why}")))?;
        match &out {
            None => {
                if Handle::stdout().is_ok_and(|out| files::is_read(&out)) {
                    return Err(unusable("standard output is this file; name another"));
                }
                let out = io::stdout().lock();
                answer(&sheet, input, first, (out, Failure::of_stdout), &name)
            }
            Some(target) => {
                let fault = |e| target.fault(&e);
                target.stream(|out| answer(&sheet, input, first, (out, fault), &name))
            }
        }?;
        Ok(String::new())
    }
}

fn answer(
    sheet: &BatchSheet<'_>,
    mut input: Blocks,
    first: Block,
    (mut out, unwritten): (impl Write, impl Fn(io::Error) -> Failure),
    name: &str,
) -> Result<(), Failure> {
    let wide = BLOCKS_PER_CORE * rayon::current_num_threads();
    let mut blocks = vec![first];
    blocks.resize_with(wide, Block::default);
    let counter = progress::rows();
    let mut faults = 0;
    let failure = |fault: &Error| Failure::from(fault.clone().at(name));
    let head = sheet.head();
    out.write_all(head.as_bytes()).map_err(&unwritten)?;
    let mut filled = 1; // with the rows behind the header
    let mut more = Ok(true);
    // What was read before a fault of the file is answered before it is told.
    while let Ok(true) = more {
        while filled < wide && matches!(more, Ok(true)) {
            more = input.fill(&mut blocks[filled]);
            filled += usize::from(matches!(more, Ok(true)));
        }
        let blocks = &mut blocks[..filled];
        blocks.par_iter_mut().for_each(|block| sheet.answer(block));
        for block in blocks {
            out.write_all(&block.answers).map_err(&unwritten)?;
            counter.inc(block.rows);
            for fault in &block.faults {
                if sheet.strict {
                    out.flush().map_err(unwritten)?;
                    return Err(failure(fault));
                }
                if faults < MOST_REPORTED {
                    counter.suspend(|| failure(fault).of("batch").report());
                }
                faults += 1;
            }
        }
        filled = 0;
    }
    drop(counter);
    out.flush().map_err(unwritten)?;
    more?;
    if faults > MOST_REPORTED {
        let more = counted(faults - MOST_REPORTED, "more row has", "more rows have");
        let rest = format!("batch: {name}: {more} no answer: see the column error");
        let _ = Failure::Input(rest).report();
    }
    Ok(())
}
