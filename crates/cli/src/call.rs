//! `pointage call`: a door for programs that can hold a process open.

use super::exit::Failure;
use pointage::Error;
use pointage_api::{call, refuse};
use std::io::{self, BufRead, BufReader, BufWriter, Read, Write};

/// Longest request, bytes: a bake and the records of its rooms are far below it.
const MOST_BYTES: u64 = 32 << 20;

/// Answer requests in JSON, one a line, for other programs
#[derive(clap::Args)]
#[command(after_help = "\
Reads requests from standard input, one JSON object a line, and writes one answer a line, in their \
order; what cannot be answered has an answer that says so. A single request may also run over \
several lines when the first is a brace alone. Answers leave as soon as no further request is waiting, so that a program can hold \
this one open and take turns with it. The form of both is in data/schema.

Example:
  echo '{\"version\": 1, \"command\": \"tables\", \"id\": \"kinds\"}' | pointage call")]
pub struct CallCommand {}

impl CallCommand {
    /// Answers until the input ends or nobody reads the answers any more.
    pub fn run() -> Result<String, Failure> {
        let mut requests = BufReader::with_capacity(1 << 16, io::stdin().lock());
        let mut answers = BufWriter::with_capacity(1 << 16, io::stdout().lock());
        all(&mut requests, &mut answers).map(|()| String::new())
    }
}

fn all<R: Read>(requests: &mut BufReader<R>, answers: &mut impl Write) -> Result<(), Failure> {
    let unread = |e| Failure::File(format!("standard input: cannot be read: {e}"));
    let mut line = Vec::new();
    let mut is_first = true;
    loop {
        line.clear();
        let mut limited = requests.by_ref().take(MOST_BYTES + 1);
        if limited.read_until(b'\n', &mut line).map_err(unread)? == 0 {
            return answers.flush().map_err(Failure::of_stdout);
        }
        if is_first && is_begun(&line) {
            limited.read_to_end(&mut line).map_err(unread)?;
        }
        let answer = if line.len() as u64 > MOST_BYTES {
            if !line.ends_with(b"\n") {
                requests.skip_until(b'\n').map_err(unread)?;
            }
            let most = MOST_BYTES >> 20;
            refused(format!(
                "the request is longer than {most} MiB, the most that is read"
            ))
        } else {
            answer(&line)
        };
        if !answer.is_empty() {
            is_first = false;
            writeln!(answers, "{answer}").map_err(Failure::of_stdout)?;
        }
        // The next read may wait for whoever waits for this answer.
        if !requests.buffer().contains(&b'\n') {
            answers.flush().map_err(Failure::of_stdout)?;
        }
    }
}

/// The answer to a line; nothing to a blank one.
fn answer(line: &[u8]) -> String {
    match std::str::from_utf8(line) {
        // Some editors put a byte order mark in front.
        Ok(text) => match text.trim_start_matches('\u{feff}').trim() {
            "" => String::new(),
            text => call(text),
        },
        Err(_) => refused("the request is not UTF-8 text".into()),
    }
}

fn refused(why: String) -> String {
    refuse(&Error::malformed(why))
}

/// True for the first line of a request that is spread over lines: a brace alone, as every printer of
/// JSON begins. Anything else is a request of its own, so that a torn one is answered at once.
fn is_begun(line: &[u8]) -> bool {
    let line = line.strip_prefix(b"\xef\xbb\xbf").unwrap_or(line);
    line.trim_ascii() == b"{"
}

#[cfg(test)]
#[allow(clippy::unwrap_used)]
mod tests {
    use super::*;

    fn answers_to(input: &[u8]) -> Vec<serde_json::Value> {
        let mut out = Vec::new();
        let ended = all(&mut BufReader::new(input), &mut out);
        assert!(ended.is_ok());
        let out = String::from_utf8(out).unwrap();
        out.lines()
            .map(|line| serde_json::from_str(line).unwrap())
            .collect()
    }

    const ICE: &str =
        r#"{"version": 1, "command": "ice", "total_g": 4000, "tap_c": 18, "want_c": 5}"#;

    #[test]
    fn each_line_has_its_answer_in_order() {
        let input = format!("\u{feff}{ICE}\r\n\n[1]\n{ICE}");
        let answers = answers_to(input.as_bytes());
        assert_eq!(answers.len(), 3);
        assert_eq!(answers[0], answers[2]);
        assert!(answers[0]["ice_g"].is_number() && answers[1]["error"].is_object());
        assert!(answers_to(b"").is_empty() && answers_to(b"\n \n").is_empty());
    }

    #[test]
    fn one_request_may_run_over_lines() {
        let spread = ICE.replace(", ", ",\n  ").replace('{', "{\n");
        for input in [spread.clone(), format!("\u{feff}{spread}")] {
            let answers = answers_to(input.as_bytes());
            assert!(answers.len() == 1 && answers[0]["ice_g"].is_number());
        }
        // A torn line, first or later, costs no more than its own answer.
        for torn in [
            format!("{ICE}\n{{\n{ICE}\n"),
            format!("{}\n{ICE}\n{ICE}", &ICE[..40]),
        ] {
            let answers = answers_to(torn.as_bytes());
            let good = answers.iter().filter(|a| a["ice_g"].is_number());
            assert_eq!((answers.len(), good.count()), (3, 2));
        }
    }

    #[test]
    fn a_line_of_just_the_limit_leaves_the_next_one_alone() {
        for more in [0, 1, 2] {
            let mut input = ICE.as_bytes().to_vec();
            input.resize(usize::try_from(MOST_BYTES).unwrap() - 1 + more, b' ');
            input.push(b'\n');
            input.extend_from_slice(ICE.as_bytes());
            let answers = answers_to(&input);
            assert_eq!(answers.len(), 2, "{more}");
            assert!(answers[1]["ice_g"].is_number());
        }
    }

    #[test]
    fn bytes_that_are_no_text_and_endless_lines_are_answered() {
        let mut input = b"\xff\xfe\n".to_vec();
        input.extend(std::iter::repeat_n(b' ', 33 << 20));
        input.extend_from_slice(b"\n");
        input.extend_from_slice(ICE.as_bytes());
        let answers = answers_to(&input);
        assert_eq!(answers.len(), 3);
        assert!(
            answers[0]["error"]["message"]
                .as_str()
                .unwrap()
                .contains("UTF-8")
        );
        assert!(
            answers[1]["error"]["message"]
                .as_str()
                .unwrap()
                .contains("32 MiB")
        );
        assert!(answers[2]["ice_g"].is_number());
    }
}
