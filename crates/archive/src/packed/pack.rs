//! Packing a tree into one file: the same tree gives the same bytes, and the file appears whole or not at all.

use std::collections::BTreeSet;
use std::fs::{self, File};
use std::io::{self, BufWriter, Seek, Write};
use std::mem::ManuallyDrop;
use std::path::Path;

use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, DateTime, System, ZipWriter};

use super::{Limits, directory};
use crate::keep::copying::{Failed, copy_exactly};
use crate::keep::temporary::{Temporary, clear, sync_folder};
use crate::tree::{Entry, Tree};
use crate::{ArchiveError, name};

/// How the name of a file begins that is being packed.
const PACKING: &str = ".packing-";
/// From this size on a file is written with sizes of 64 bits; a little less than 4 GiB, since packing may make it larger.
const LARGE: u64 = 4_000_000_000;

/// Packs every file of a tree into the new file `into`, below the folder `top`. What is packed here is opened again by
/// [`super::Packed::open`] within the usual limits.
///
/// # Errors
/// Where something is there already, where a name can't be kept everywhere, where the tree is larger than the limits, and
/// what the system said. Nothing is left then.
pub fn pack(tree: &dyn Tree, top: &str, into: &Path) -> Result<(), ArchiveError> {
    pack_within(tree, top, into, &Limits::default())
}

pub(super) fn pack_within(
    tree: &dyn Tree,
    top: &str,
    into: &Path,
    limits: &Limits,
) -> Result<(), ArchiveError> {
    let writing = |e: io::Error| ArchiveError::writing(into, &e);
    check(tree, top, limits)?;
    if fs::symlink_metadata(into).is_ok() {
        return Err(there_already(into));
    }
    let folder = match into.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    };
    clear(folder, PACKING);
    let temporary = Temporary::create(folder, PACKING).map_err(writing)?;
    let file = temporary.file();
    write(tree, top, into, file, &BTreeSet::new())?;
    let dense = too_dense(file, into, limits)?;
    if !dense.is_empty() {
        let mut again = file;
        again.rewind().map_err(writing)?;
        file.set_len(0).map_err(writing)?;
        write(tree, top, into, file, &dense)?;
    }
    // Read once more as whoever receives it will.
    let found = directory::read(file, into, limits)?;
    if found.entries != tree.entries() {
        return Err(ArchiveError::new(
            tree.place(),
            "it changed while it was packed",
            "do it again when nothing else is at work in it",
        ));
    }
    file.sync_all().map_err(writing)?;
    temporary.put_in_place(into).map_err(|e| match e.kind() {
        io::ErrorKind::AlreadyExists => there_already(into),
        _ => writing(e),
    })?;
    drop(temporary);
    sync_folder(folder);
    Ok(())
}

/// Whether what is to be packed can be unpacked everywhere.
fn check(tree: &dyn Tree, top: &str, limits: &Limits) -> Result<(), ArchiveError> {
    let refuse = |found: String, advice: &str| Err(ArchiveError::new(tree.place(), found, advice));
    if let Err(words) = name::check(top) {
        return refuse(
            format!("the name \"{}\" {words}", name::shown(top)),
            "choose another",
        );
    }
    super::unpack::check(tree)?;
    let entries = tree.entries();
    let bytes = entries
        .iter()
        .fold(0_u64, |sum, entry| sum.saturating_add(entry.bytes));
    if entries.is_empty() {
        return refuse("there is no file in it".to_string(), "pack something");
    }
    if entries.len() > limits.files || bytes > limits.bytes {
        return refuse(
            format!(
                "it holds {} files and {bytes} bytes, too much for one file",
                entries.len()
            ),
            "leave it a folder",
        );
    }
    Ok(())
}

/// Writes the packed file; `stored` are the paths that are laid down as they are.
fn write(
    tree: &dyn Tree,
    top: &str,
    into: &Path,
    file: &File,
    stored: &BTreeSet<String>,
) -> Result<(), ArchiveError> {
    let writing = |e: io::Error| ArchiveError::writing(into, &e);
    // Dropped unfinished, a writer finishes and complains on the screen where it can't. One that failed is left alone.
    let mut writer = ManuallyDrop::new(ZipWriter::new(BufWriter::new(file)));
    // What lists the others comes first: of a file that is cut short it is there to hold the rest to.
    let (below, at_top): (Vec<&Entry>, Vec<&Entry>) =
        tree.entries().iter().partition(|entry| entry.path.contains('/'));
    for entry in at_top.into_iter().chain(below) {
        let options = options(entry, stored);
        writer
            .start_file(format!("{top}/{}", entry.path), options)
            .map_err(|e| writing(e.into()))?;
        let mut from = tree.open(&entry.path)?;
        copy_exactly(&mut from, &mut *writer, entry.bytes).map_err(|failed| match failed {
            Failed::Reading(e) => super::unpack::unreadable(tree.place(), &entry.path, &e),
            Failed::Writing(e) => writing(e),
        })?;
    }
    let mut rest = ManuallyDrop::into_inner(writer)
        .finish()
        .map_err(|e| writing(e.into()))?;
    rest.flush().map_err(writing)
}

/// Nothing of the day, the machine or the system is written, so that the same files give the same bytes.
fn options(entry: &Entry, stored: &BTreeSet<String>) -> SimpleFileOptions {
    let method = if stored.contains(&entry.path) {
        CompressionMethod::Stored
    } else {
        CompressionMethod::Deflated
    };
    SimpleFileOptions::default()
        .compression_method(method)
        .last_modified_time(DateTime::default())
        .system(System::Unix)
        .unix_permissions(0o644)
        .large_file(entry.bytes >= LARGE)
}

/// The paths of what packed so densely that it would be taken for a file made to fill the disk: nothing but zeros, say.
fn too_dense(file: &File, into: &Path, limits: &Limits) -> Result<BTreeSet<String>, ArchiveError> {
    let anything = Limits {
        ratio: u64::MAX,
        ..limits.clone()
    };
    let found = directory::read(file, into, &anything)?;
    Ok(found
        .entries
        .into_iter()
        .zip(found.stretches)
        .filter(|(entry, stretch)| stretch.is_too_dense(entry.bytes, limits.ratio))
        .map(|(entry, _)| entry.path)
        .collect())
}

fn there_already(into: &Path) -> ArchiveError {
    ArchiveError::new(into, "it is there already", "name a file that is not there yet")
}
