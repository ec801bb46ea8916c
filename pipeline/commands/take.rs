//! `take`: takes sets into a job, byte for byte; nothing that is there is changed or overwritten.

use std::fs;
use std::path::Path;

use archive::keep::{self, Taken};
use archive::lock;
use archive::log::What;
use archive::tree::refuse_led_out;

use crate::cli::Take;
use crate::job::file::folder_of;
use crate::progress::Progress;
use crate::received::{Received, SETS, short};
use crate::trouble::{DONE, Trouble};

/// Takes files in, each on record before the next.
pub fn take(asked: &Take, progress: &Progress) -> Result<u8, Trouble> {
    let folder = folder_of(&asked.job)?;
    if asked.name.is_some() && asked.files.len() > 1 {
        return Err(Trouble::new(
            "take: --as names one file, but several are given; take them one by one",
        ));
    }
    let _lock = lock::shared(&folder, "take it in")?;
    let sets = folder.join(SETS);
    refuse_led_out(&folder, &sets)?;
    fs::create_dir_all(&sets).map_err(|e| Trouble::writing(&sets, &e))?;
    keep::clear_left_behind(&sets);
    let mut received = Received::told(&folder, progress)?;
    for file in &asked.files {
        let taken = one(file, &sets, asked.name.as_deref(), &received)?;
        let kept = format!("{SETS}/{}", taken.name);
        if !received.sets.contains_key(&kept) {
            let words = asked
                .words
                .clone()
                .unwrap_or_else(|| format!("taken in from {}", name_of(file)));
            received.note(What::Set, words, Some((&kept, &taken.print)))?;
        }
        progress.result(&format!(
            "{kept}: {} bytes, SHA-256 {}…{}",
            taken.print.bytes,
            short(&taken.print.sha256),
            if taken.was_there {
                "; the same bytes were there already"
            } else {
                ""
            }
        ));
        if !taken.was_there {
            progress.note(&format!(
                "  say in job.toml what it is:\n  [[set]]\n  name = \"{}\"\n  file = \"{kept}\"\n  units = \"mm\"       # or cm, m, in, ft",
                stem_of(&taken.name)
            ));
        }
    }
    Ok(DONE)
}

fn one(file: &Path, sets: &Path, name: Option<&str>, received: &Received) -> Result<Taken, Trouble> {
    if fs::metadata(file).is_ok_and(|m| m.is_file() && m.len() == 0) {
        return Err(Trouble::new(format!(
            "{}: it is empty; export it again",
            file.display()
        )));
    }
    let name = name.map_or_else(|| name_of(file), String::from);
    let known: Vec<_> = received
        .sets
        .iter()
        .filter_map(|(kept, print)| Some((kept.strip_prefix("sets/")?.to_string(), print.clone())))
        .collect();
    Ok(keep::take_in(file, sets, &name, &known)?)
}

fn name_of(file: &Path) -> String {
    file.file_name()
        .map_or_else(String::new, |name| name.to_string_lossy().into_owned())
}

fn stem_of(name: &str) -> &str {
    name.rsplit_once('.').map_or(name, |(stem, _)| stem)
}
