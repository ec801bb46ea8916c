//! `demo`: writes the demo job, runs it like any other, and lays what was planted beside what was found.

use std::fmt::Write;
use std::path::Path;

use archive::lock;
use demo::{EXPECTED_REFUSALS, EXPECTED_TRIPS, EXPECTED_WARNINGS, PLANTED};
use serde_json::Value;

use crate::batch;
use crate::commands::{page, record_of, run, trips};
use crate::job::{Comparison, Job};
use crate::progress::Progress;
use crate::received::Received;
use crate::trouble::{COULD_NOT, DONE, Trouble};

/// Writes the demo job into `folder` and runs it.
pub fn demo(folder: &Path, timings: bool, progress: &Progress) -> Result<u8, Trouble> {
    let job_file = folder.join("job.toml");
    let ours = std::fs::read_to_string(&job_file).is_ok_and(|text| text == demo::job::JOB);
    let empty = std::fs::read_dir(folder).map_or(!folder.exists(), |mut entries| entries.next().is_none());
    if !ours && !empty {
        return Err(Trouble::new(format!(
            "{}: it is there already and is not the demo as it was written; name another folder",
            folder.display()
        )));
    }
    progress.note(&format!("writing the demo job into {}", folder.display()));
    demo::write(folder).map_err(|e| Trouble::writing(folder, &e))?;
    let job = Job::read(folder)?;
    let _lock = lock::exclusive(&job.folder, "run it")?;
    let chosen: Vec<&Comparison> = job.comparisons.iter().collect();
    let mut received = Received::of(&job.folder)?;
    let items = batch::look(&job, &chosen, false, &received);
    let mut refusals = Vec::new();
    batch::run(
        &job,
        items,
        None,
        &mut received,
        progress,
        |comparison, outcome| {
            run::say(&job, comparison, outcome, true, timings, progress);
            if let Err(trouble) = outcome {
                refusals.push((comparison.name.clone(), trouble.to_string()));
            }
        },
    )?;
    let groups = trips::made(&job, progress)?;
    page::made(&job, Some(demo::HANDED_OVER), progress)?;
    let (table, mut all_found) = planted_and_found(&job, &refusals)?;
    progress.result(&table);
    for (figure, expected) in EXPECTED_TRIPS {
        let rows = groups.iter().flat_map(|group| &group.rows);
        let said = rows
            .filter(|row| row.series.what == figure)
            .any(|row| row.words.contains(expected));
        all_found &= said;
        progress.result(&format!(
            "  {figure}: {expected}   {}",
            if said { "told" } else { "NOT TOLD" }
        ));
    }
    progress.result(&format!(
        "\nlook at the pictures in {}",
        folder.join("results").display()
    ));
    // The demo is done when it finds what was planted; that its shell is bent is the point of it.
    Ok(if all_found { DONE } else { COULD_NOT })
}

/// What was planted beside what was found, and whether all of it was found within its band.
fn planted_and_found(job: &Job, refusals: &[(String, String)]) -> Result<(String, bool), Trouble> {
    let mut out = String::from("\nplanted and found (inches)\n");
    let mut all_found = true;
    let mut last = "";
    for planted in &PLANTED {
        if planted.comparison != last {
            last = planted.comparison;
            let _ = writeln!(out, "  {last}");
        }
        let record = json_of(job, planted.comparison)?;
        let found = value_at(&record, planted.found_at).map(|value| value / planted.counted.in_results());
        let fine = found.is_some_and(|f| (f - planted.inches).abs() <= planted.band);
        all_found &= fine;
        let _ = writeln!(
            out,
            "    {:<34} planted {:>+8.4}   found {}   {}",
            planted.what,
            planted.inches,
            found.map_or("     not".to_string(), |f| format!("{f:>+8.4}")),
            if fine { "found" } else { "NOT FOUND" }
        );
    }
    for (comparison, code) in EXPECTED_WARNINGS {
        let record = json_of(job, comparison)?;
        let raised = record["warnings"]
            .as_array()
            .is_some_and(|all| all.iter().any(|w| w["code"] == code));
        let fine = raised && record["verdict"] == "not-measured";
        all_found &= fine;
        let said = if fine { "told, no verdict" } else { "NOT TOLD" };
        let _ = writeln!(out, "  {comparison}: {code}   {said}");
    }
    for (comparison, words) in EXPECTED_REFUSALS {
        let fine = refusals
            .iter()
            .any(|(name, said)| name == comparison && said.contains(words));
        all_found &= fine;
        let said = if fine {
            "refused, as it must be"
        } else {
            "NOT REFUSED"
        };
        let _ = writeln!(out, "  {comparison}   {said}");
    }
    // What was refused and should not have been.
    all_found &= refusals
        .iter()
        .all(|(name, _)| EXPECTED_REFUSALS.iter().any(|(expected, _)| expected == name));
    Ok((out.trim_end().to_string(), all_found))
}

fn json_of(job: &Job, comparison: &str) -> Result<Value, Trouble> {
    serde_json::to_value(record_of(job, comparison)?).map_err(|e| Trouble::system("reading result.json", &e))
}

/// The number at a path such as `regions/name=left leg/mean_mm`.
fn value_at(record: &Value, path: &str) -> Option<f64> {
    let mut at = record;
    for part in path.split('/') {
        at = match part.strip_prefix("name=") {
            Some(name) => at.as_array()?.iter().find(|e| e["name"] == name)?,
            None => match part.parse::<usize>() {
                Ok(index) => at.get(index)?,
                Err(_) => at.get(part)?,
            },
        };
    }
    at.as_f64()
}
