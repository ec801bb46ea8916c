//! What a packed file says that it holds, and whether that may be believed: read before anything of it is inflated. The
//! format is PKWARE's APPNOTE 6.3; Fifield's overlapping files (WOOT 2019) are refused with the rest.

use std::fs::File;
use std::io::{self, BufReader, Read};
use std::path::Path;

use zip::read::ZipFile;
use zip::result::ZipError;
use zip::{CompressionMethod, ZipArchive};

use super::Limits;
use crate::tree::Entry;
use crate::{ArchiveError, name};

/// Up to this size a file may be packed as densely as it likes.
const SMALL: u64 = 1 << 20;
/// The bits of a mode that say what kind of thing it is, and the kinds that are kept (POSIX, sys/stat.h).
const KIND: u32 = 0o170_000;
const FOLDER: u32 = 0o040_000;
const FILE: u32 = 0o100_000;
/// How a packed file begins, as each file in it does.
const BEGINS: &[u8; 4] = b"PK\x03\x04";
const AGAIN: &str = "copy it again from where it came from, or ask for it again";
/// The attribute of a folder on Windows.
const WINDOWS_FOLDER: u32 = 0x10;

/// Where the bytes of a file lie in the packed one.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Stretch {
    pub(super) begins: u64,
    pub(super) packed_bytes: u64,
    pub(super) deflated: bool,
}

impl Stretch {
    /// Whether more comes out of it than the ratio allows.
    pub(super) fn is_too_dense(&self, bytes: u64, ratio: u64) -> bool {
        bytes > SMALL && bytes > self.packed_bytes.saturating_mul(ratio)
    }
}

/// What a packed file holds: the files below its top folder, sorted by path, and where each lies.
#[derive(Debug)]
pub(super) struct Directory {
    pub(super) top: String,
    pub(super) entries: Vec<Entry>,
    pub(super) stretches: Vec<Stretch>,
}

/// Reads and checks the directory of the packed file at `path`.
///
/// # Errors
/// What was found that is refused.
pub(super) fn read(file: &File, path: &Path, limits: &Limits) -> Result<Directory, ArchiveError> {
    let broken = |e: ZipError| damaged(path, &e);
    let mut archive = ZipArchive::new(BufReader::new(file)).map_err(|e| not_opened(path, &e))?;
    if archive.len() > limits.files {
        return Err(too_many(path, archive.len(), limits));
    }
    if archive.has_duplicate_names() {
        return Err(refused(path, "it holds two files of one name".to_string()));
    }
    // What stands beside each file must agree with the directory, and no two may share their bytes.
    archive.validate_header_consistency().map_err(broken)?;
    let mut gathered = Gathered::new(path, limits);
    for index in 0..archive.len() {
        let entry = archive.by_index_raw(index).map_err(broken)?;
        gathered.take(&entry, entry.data_start())?;
    }
    gathered.directory()
}

/// The files of a packed one as they are come upon.
pub(super) struct Gathered<'a> {
    place: &'a Path,
    limits: &'a Limits,
    top: Option<String>,
    pub(super) found: Vec<(Entry, Stretch)>,
    bytes: u64,
}

impl<'a> Gathered<'a> {
    /// Of the packed file at `place`.
    pub(super) fn new(place: &'a Path, limits: &'a Limits) -> Self {
        Self {
            place,
            limits,
            top: None,
            found: Vec::new(),
            bytes: 0,
        }
    }

    /// Takes in a file whose bytes lie from `begins` on, and gives its path; `None` of a folder.
    ///
    /// # Errors
    /// What of it is refused.
    pub(super) fn take<R: Read>(
        &mut self,
        entry: &ZipFile<'_, R>,
        begins: Option<u64>,
    ) -> Result<Option<String>, ArchiveError> {
        let refuse = |found: String| refused(self.place, found);
        let (above, path) = parted(entry).map_err(refuse)?;
        if *self.top.get_or_insert_with(|| above.clone()) != above {
            return Err(refused(
                self.place,
                "it holds more than one top folder".to_string(),
            ));
        }
        let Some(path) = path else { return Ok(None) };
        let stretch =
            stretch(entry, begins, self.limits).map_err(|words| refused(self.place, in_it(&path, &words)))?;
        let bytes = entry.size();
        self.bytes = self.bytes.saturating_add(bytes);
        if self.bytes > self.limits.bytes {
            let found = format!(
                "it says that it holds {} bytes, and {} are the most",
                self.bytes, self.limits.bytes
            );
            return Err(refused(self.place, found));
        }
        self.found.push((
            Entry {
                path: path.clone(),
                bytes,
            },
            stretch,
        ));
        if self.found.len() > self.limits.files {
            return Err(too_many(self.place, self.found.len(), self.limits));
        }
        Ok(Some(path))
    }

    /// All of them, sorted.
    ///
    /// # Errors
    /// Where there are none, or two look alike.
    pub(super) fn directory(mut self) -> Result<Directory, ArchiveError> {
        self.found.sort_by(|a, b| a.0.cmp(&b.0));
        let (entries, stretches): (Vec<Entry>, Vec<Stretch>) = self.found.into_iter().unzip();
        if let Some((a, b)) = name::first_alike(entries.iter().map(|entry| entry.path.as_str())) {
            let found = format!(
                "\"{}\" and \"{}\" in it look alike",
                name::shown(&a),
                name::shown(&b)
            );
            return Err(refused(self.place, found));
        }
        match self.top {
            Some(top) if !entries.is_empty() => Ok(Directory {
                top,
                entries,
                stretches,
            }),
            _ => Err(refused(self.place, "it holds no files".to_string())),
        }
    }
}

/// The top folder of an entry, and its path below that: none where the entry is a folder.
fn parted<R: Read>(entry: &ZipFile<'_, R>) -> Result<(String, Option<String>), String> {
    let Ok(full) = std::str::from_utf8(entry.name_raw()) else {
        return Err("a name in it is no Unicode text".to_string());
    };
    let folder = full.strip_suffix('/');
    name::check_path(folder.unwrap_or(full)).map_err(|words| in_it(full, &words))?;
    let kind = (entry.external_attributes() >> 16) & KIND;
    let is_windows_folder = entry.external_attributes() & WINDOWS_FOLDER != 0;
    if let Some(folder) = folder {
        if entry.size() > 0 || !(kind == 0 || kind == FOLDER) {
            return Err(in_it(full, "is no folder, and is named like one"));
        }
        let top = folder.split('/').next().unwrap_or(folder);
        return Ok((top.to_string(), None));
    }
    if is_windows_folder || !(kind == 0 || kind == FILE) {
        return Err(in_it(full, "is a link or a device, and no file"));
    }
    match full.split_once('/') {
        Some((top, path)) => Ok((top.to_string(), Some(path.to_string()))),
        None => Err(in_it(full, "lies beside its top folder")),
    }
}

/// Where the bytes of an entry lie.
fn stretch<R: Read>(entry: &ZipFile<'_, R>, begins: Option<u64>, limits: &Limits) -> Result<Stretch, String> {
    if entry.encrypted() {
        return Err("is locked by a password".to_string());
    }
    let deflated = match entry.compression() {
        CompressionMethod::Stored => false,
        CompressionMethod::Deflated => true,
        _ => return Err("is packed in a way that is not read here".to_string()),
    };
    let Some(begins) = begins else {
        return Err("lies nowhere in it".to_string());
    };
    let stretch = Stretch {
        begins,
        packed_bytes: entry.compressed_size(),
        deflated,
    };
    if !deflated && stretch.packed_bytes != entry.size() {
        return Err("has another size than it says".to_string());
    }
    if stretch.is_too_dense(entry.size(), limits.ratio) {
        return Err(format!(
            "would become {} bytes out of {}",
            entry.size(),
            stretch.packed_bytes
        ));
    }
    Ok(stretch)
}

fn in_it(path: &str, words: &str) -> String {
    format!("\"{}\" in it {words}", name::shown(path))
}

fn refused(path: &Path, found: String) -> ArchiveError {
    ArchiveError::new(
        path,
        found,
        "it may be damaged or made to do harm: unpack nothing of it, and ask for it again",
    )
}

fn too_many(path: &Path, files: usize, limits: &Limits) -> ArchiveError {
    refused(
        path,
        format!("it holds {files} files, and {} are the most", limits.files),
    )
}

/// Why no directory of a packed file could be read: it stands at the end, which is the first to go where a copy breaks off.
fn not_opened(path: &Path, error: &ZipError) -> ArchiveError {
    let mut begins = [0; BEGINS.len()];
    let read = File::open(path).and_then(|mut file| file.read_exact(&mut begins));
    match error {
        ZipError::Io(e) if e.kind() != io::ErrorKind::UnexpectedEof => ArchiveError::reading(path, e),
        _ if read.is_ok() && begins == *BEGINS => ArchiveError::new(
            path,
            "it begins as a zip file does, and its end, where the list of its files stands, is not there: it was cut short when it was copied or sent",
            AGAIN,
        ),
        _ => ArchiveError::new(path, "it is no zip file", AGAIN),
    }
}

fn damaged(path: &Path, error: &ZipError) -> ArchiveError {
    match error {
        ZipError::Io(e) => ArchiveError::reading(path, e),
        _ => ArchiveError::new(path, format!("it is damaged (\"{error}\")"), AGAIN),
    }
}
