//! Writing the files of a tree below a folder, and nowhere else.

use std::fs::{self, OpenOptions};
use std::io;
use std::path::Path;

use crate::keep::copying::{Failed, copy_exactly};
use crate::keep::temporary::sync_folder;
use crate::tree::Tree;
use crate::{ArchiveError, name};

/// Writes every file of a tree below `into`, an empty folder that is there.
///
/// # Errors
/// Where the folder is not empty, where a name can't be kept everywhere or two look alike, where a file holds other than
/// the bytes it says, and what the system said. What was written until then stays.
pub fn unpack(tree: &dyn Tree, into: &Path) -> Result<(), ArchiveError> {
    let reading = |e: io::Error| ArchiveError::reading(into, &e);
    if fs::read_dir(into).map_err(reading)?.next().is_some() {
        return Err(ArchiveError::new(
            into,
            "the folder is not empty",
            "name one that is",
        ));
    }
    check(tree)?;
    for entry in tree.entries() {
        let target = into.join(&entry.path);
        let writing = |e: io::Error| ArchiveError::writing(&target, &e);
        if let Some(folder) = target.parent() {
            fs::create_dir_all(folder).map_err(writing)?;
        }
        let mut file = OpenOptions::new()
            .write(true)
            .create_new(true)
            .open(&target)
            .map_err(writing)?;
        let mut from = tree.open(&entry.path)?;
        copy_exactly(&mut from, &mut file, entry.bytes).map_err(|failed| match failed {
            Failed::Reading(e) => unreadable(tree.place(), &entry.path, &e),
            Failed::Writing(e) => writing(e),
        })?;
        file.sync_all().map_err(writing)?;
    }
    sync_folder(into);
    Ok(())
}

/// Whether every path leads below the folder, and no two to one file.
pub(super) fn check(tree: &dyn Tree) -> Result<(), ArchiveError> {
    let refuse = |found: String| {
        ArchiveError::new(
            tree.place(),
            found,
            "give it another name, or ask for it under another",
        )
    };
    for entry in tree.entries() {
        name::check_path(&entry.path)
            .map_err(|words| refuse(format!("\"{}\" in it {words}", name::shown(&entry.path))))?;
    }
    match name::first_alike(tree.entries().iter().map(|entry| entry.path.as_str())) {
        Some((a, b)) => Err(refuse(format!(
            "\"{}\" and \"{}\" in it look alike",
            name::shown(&a),
            name::shown(&b)
        ))),
        None => Ok(()),
    }
}

pub(super) fn unreadable(place: &Path, path: &str, error: &io::Error) -> ArchiveError {
    ArchiveError::new(
        place,
        format!("\"{}\" in it could not be read (\"{error}\")", name::shown(path)),
        "take another copy of it, or ask for it again",
    )
}
