//! The fit of the published log: the table to be shipped, and how well each source is predicted without itself.

use pointage::error::Result;
use pointage::learn::published::fit;

pub fn words() -> Result<String> {
    let fit = fit()?;
    let mut text = fit.table();
    let mut sources: Vec<&str> = fit.rows.iter().map(|row| row.source.as_str()).collect();
    sources.sort_unstable();
    sources.dedup();
    sources.push("all but biga");
    text += "\n# Predicted without its source: error in log time, error if the model were right, rows inside their 80 % interval\n";
    for source in sources {
        let found = match source {
            "all but biga" => fit.left_out(|row| row.stage != "biga"),
            _ => fit.left_out(|row| row.source == source),
        };
        if found.rows > 0 {
            let (rms, expected) = (found.rms, found.expected);
            let (inside, rows) = (found.inside, found.rows);
            text += &format!("# {source:28}{rms:6.3} {expected:6.3}  {inside} of {rows}\n");
        }
    }
    Ok(text)
}
