//! `unseal`: brings a sealed job back as a folder to work in.

use std::path::Path;

use archive::bag::{FaultKind, check};
use archive::log::What;
use archive::packed::unpack;
use archive::tree::Tree;

use crate::commands::recheck::say;
use crate::progress::Progress;
use crate::put_in_place::{Fresh, told_of};
use crate::received::Received;
use crate::sealed::{self, Payload};
use crate::trouble::{DONE, NOT_ALL_WITHIN, Trouble};

/// Brings a job back, once every file of the bag is found whole; `damaged` brings back what is whole of one that is not.
pub fn unseal(bag: &Path, out: &Path, damaged: bool, progress: &Progress) -> Result<u8, Trouble> {
    let fresh = Fresh::begin(out)?;
    let tree = sealed::open(bag)?;
    let step = progress.step("unseal");
    step.doing("checking every file");
    let checked = check(tree.as_ref())?;
    drop(step);
    if !checked.faults.is_empty() {
        say(bag, &checked, progress);
        if !damaged {
            return Err(Trouble::new(format!(
                "{}: it is not what was sealed, and nothing was brought back; --damaged brings back the files that are whole",
                bag.display()
            )));
        }
    }
    let bad = |path: &str| {
        checked
            .faults
            .iter()
            .any(|f| f.path == path && f.kind != FaultKind::Missing)
    };
    let payload = Payload::of(tree.as_ref(), bad);
    let count = payload.entries().len();
    // Noted before it is put in place: a job that was brought back says so from the first.
    let brought_back = || -> Result<(), Trouble> {
        unpack(&payload, fresh.path())?;
        let name = bag
            .file_name()
            .map_or_else(String::new, |n| n.to_string_lossy().into_owned());
        Received::of(fresh.path())?.note(What::Unsealed, format!("from {name}"), None)
    };
    brought_back().map_err(|trouble| told_of(out, &trouble))?;
    fresh.finish()?;
    progress.result(&format!("{}: {count} files brought back", out.display()));
    Ok(if checked.faults.is_empty() {
        DONE
    } else {
        NOT_ALL_WITHIN
    })
}
