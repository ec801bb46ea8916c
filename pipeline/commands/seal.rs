//! `seal`: the whole job into a bag that can be checked bit for bit, and read without this program.

use std::fs;
use std::path::Path;

use archive::bag::{self, Sealed};
use archive::log::What;
use archive::tree::{Folder, refuse_led_out};
use archive::{Fingerprint, lock, packed};
use page::About;

use crate::batch;
use crate::clock;
use crate::job::{Comparison, Job};
use crate::made_from::PROGRAM;
use crate::progress::Progress;
use crate::put_in_place::{Fresh, told_of};
use crate::received::{Received, short};
use crate::sealed::JobTree;
use crate::trouble::{DONE, Trouble};

/// Seals a job; the bag appears whole or not at all.
pub fn seal(path: &Path, out: &Path, progress: &Progress) -> Result<u8, Trouble> {
    let job = Job::read(path)?;
    refuse_inside(&job, out)?;
    refuse_led_out(&job.folder, &job.results_in)?;
    let fresh = Fresh::begin(out)?;
    let _lock = lock::exclusive(&job.folder, "seal it")?;
    let mut received = Received::told(&job.folder, progress)?;
    warn_of_the_unfinished(&job, &received, progress)?;
    let day = clock::now().day;
    let tree = JobTree::of(&job.folder, &job.about, &day)?;
    let step = progress.step("seal");
    step.doing("copying and taking fingerprints");
    let sealed = bag::seal(&tree, &info(&job.about, &day), PROGRAM, fresh.path())
        .map_err(|e| told_of(out, &e.into()))?;
    let packed = out.extension().is_some_and(|e| e.eq_ignore_ascii_case("zip"));
    if packed {
        step.doing("packing");
        let top = out
            .file_stem()
            .map_or_else(|| "bag".to_string(), |s| s.to_string_lossy().into_owned());
        packed::pack(&Folder::list(fresh.path())?, &top, out)?;
        drop(fresh);
    } else {
        fresh.finish()?;
    }
    drop(step);
    let print = Fingerprint {
        sha256: sealed.manifest_sha256.clone(),
        bytes: sealed.bytes,
    };
    let name = out
        .file_name()
        .map_or_else(String::new, |n| n.to_string_lossy().into_owned());
    // The number is told first: the bag is there, whether the log can say so or not.
    say(out, &sealed, progress);
    received
        .note(
            What::Sealed,
            format!("into {name}"),
            Some(("manifest-sha256.txt", &print)),
        )
        .map_err(|trouble| {
            Trouble::new(format!(
                "{}: it is sealed and whole, but the job's log does not say so: {trouble}",
                out.display()
            ))
        })?;
    Ok(DONE)
}

/// A bag in the job's own folder would be sealed with the job the next time.
fn refuse_inside(job: &Job, out: &Path) -> Result<(), Trouble> {
    let above = out
        .parent()
        .filter(|above| !above.as_os_str().is_empty())
        .unwrap_or(Path::new("."));
    let inside = match (above.canonicalize(), job.folder.canonicalize()) {
        (Ok(above), Ok(folder)) => above.starts_with(folder),
        _ => false,
    };
    if inside {
        return Err(Trouble::new(format!(
            "{}: it lies in the job's own folder, and would be sealed with it the next time; name a place outside",
            out.display()
        )));
    }
    Ok(())
}

fn say(out: &Path, sealed: &Sealed, progress: &Progress) {
    progress.result(&format!(
        "{}: sealed, {} files, {} bytes; its manifest has SHA-256\n  {}\nwrite that number down somewhere else: with it the bag can be told from any other",
        out.display(),
        sealed.files,
        sealed.bytes,
        sealed.manifest_sha256
    ));
}

/// A job may be sealed at any time; what is not of this day's settings is told. A set that was changed is not sealed as if
/// it were what was received.
fn warn_of_the_unfinished(job: &Job, received: &Received, progress: &Progress) -> Result<(), Trouble> {
    let chosen: Vec<&Comparison> = job.comparisons.iter().collect();
    for item in batch::look(job, &chosen, false, received) {
        if let Err(trouble) = item.made_from {
            // What was lost can't be brought back by not sealing the rest; what was altered is no job to be sealed as it is.
            if job.lost.is_empty() {
                return Err(trouble);
            }
            progress.warning(&format!("{}: {trouble}", item.comparison.name));
        }
        if let Some(stale) = item.stale {
            progress.warning(&format!(
                "{}: {}; its results are sealed as they are",
                item.comparison.name,
                stale.words()
            ));
        }
    }
    for (file, print) in &received.sets {
        let path = job.folder.join(file);
        if path.is_file() {
            let is = Fingerprint::of(&path)?;
            received.refuse_other(file, &is.sha256, is.bytes)?;
        } else {
            progress.warning(&format!(
                "{file}: it was received (SHA-256 {}…) and is not there any more",
                short(&print.sha256)
            ));
        }
    }
    fs::metadata(&job.folder).map_err(|e| Trouble::writing(&job.folder, &e))?;
    Ok(())
}

/// What the owner says, by the labels that RFC 8493 reserves (2.2.2).
fn info(about: &About, day: &str) -> Vec<(String, String)> {
    let said = [
        ("Source-Organization", about.shop.as_str()),
        ("Contact-Name", about.contact.as_str()),
        ("External-Description", about.notes.as_str()),
        ("External-Identifier", about.shell.as_str()),
        ("Internal-Sender-Identifier", about.job.as_str()),
        ("Internal-Sender-Description", about.state.as_str()),
        ("Bagging-Date", day),
    ];
    said.into_iter()
        .filter(|(_, words)| !words.is_empty())
        .map(|(label, words)| {
            (
                label.to_string(),
                words.split_whitespace().collect::<Vec<_>>().join(" "),
            )
        })
        .collect()
}
