//! Taking a file in as it was received: byte for byte, read-only from then on, never changed and never overwritten.

pub(crate) mod copying;
pub(crate) mod temporary;

use std::fs::{self, File};
use std::io;
use std::path::Path;
use std::time::SystemTime;

use crate::{ArchiveError, Fingerprint, name};
use copying::{Failed, copy};
use temporary::{Temporary, clear, sync_folder};

/// How the name of a file begins that is being taken in.
const TAKING: &str = ".taking-";

/// What became of a file that was taken in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Taken {
    /// The name of the file in the folder.
    pub name: String,
    /// What it is known again by.
    pub print: Fingerprint,
    /// Whether the same bytes were there already, so that nothing was stored.
    pub was_there: bool,
}

/// Takes the file `from` in: copies it into `folder` under `name` and makes the copy read-only. `known` are the files of
/// the folder with the fingerprints under which they were received. Where the same bytes are there already nothing is
/// stored, and the name under which they are there is given back. A file that lies in its place already is taken where
/// it lies: its fingerprint is made, and it is left alone.
///
/// # Errors
/// Where the name can't be kept on every system, where other bytes have it or one that looks alike, where a file that
/// lies there is not what was received, where `from` is no file or changes meanwhile, and what the system said. Nothing
/// is stored then.
pub fn take_in(
    from: &Path,
    folder: &Path,
    name: &str,
    known: &[(String, Fingerprint)],
) -> Result<Taken, ArchiveError> {
    name::check(name).map_err(|words| {
        ArchiveError::new(
            from,
            format!("the name \"{}\" {words}", name::shown(name)),
            "give it another name",
        )
    })?;
    let kind = fs::metadata(from).map_err(|e| ArchiveError::reading(from, &e))?;
    if !kind.is_file() {
        return Err(ArchiveError::new(from, "it is no file", "name a file"));
    }
    if lies_there(from, folder, name) {
        return where_it_lies(from, name, known);
    }
    let writing = |e: &io::Error| ArchiveError::writing(folder, e);
    let temporary = Temporary::create(folder, TAKING).map_err(|e| writing(&e))?;
    let print = copy_still(from, folder, &temporary)?;
    let there = match same_bytes(folder, known, &print) {
        Some(there) => Some(there),
        None => alike_there(folder, name, &print)?,
    };
    let taken = |name: String, was_there: bool| Taken {
        name,
        print: print.clone(),
        was_there,
    };
    if let Some(there) = there {
        return Ok(taken(there, true));
    }
    temporary.file().sync_all().map_err(|e| writing(&e))?;
    let place = folder.join(name);
    if let Err(e) = temporary.put_in_place(&place) {
        return match e.kind() {
            io::ErrorKind::AlreadyExists if holds(&place, &print) => Ok(taken(name.to_string(), true)),
            io::ErrorKind::AlreadyExists => Err(name_taken(&place)),
            _ => Err(ArchiveError::writing(&place, &e)),
        };
    }
    drop(temporary);
    make_read_only(&place);
    sync_folder(folder);
    Ok(taken(name.to_string(), false))
}

/// Removes from `folder` what a run left behind that was killed while it took a file in. One that another run is writing
/// stays.
pub fn clear_left_behind(folder: &Path) {
    clear(folder, TAKING);
}

/// Whether `from` is the very file that has the name in the folder, and no link to it.
fn lies_there(from: &Path, folder: &Path, name: &str) -> bool {
    let place = folder.join(name);
    let a_file = fs::symlink_metadata(&place).is_ok_and(|kind| kind.is_file());
    a_file
        && match (from.canonicalize(), place.canonicalize()) {
            (Ok(from), Ok(place)) => from == place,
            _ => false,
        }
}

fn where_it_lies(from: &Path, name: &str, known: &[(String, Fingerprint)]) -> Result<Taken, ArchiveError> {
    let print = Fingerprint::of(from)?;
    let received = known.iter().find(|(there, _)| there == name);
    if received.is_some_and(|(_, received)| *received != print) {
        return Err(ArchiveError::new(
            from,
            "it is not what was received under this name",
            "bring back the file as it was received, or take this one in under another name",
        ));
    }
    Ok(Taken {
        name: name.to_string(),
        print,
        was_there: received.is_some(),
    })
}

/// Copies a file that must not change meanwhile.
fn copy_still(from: &Path, folder: &Path, temporary: &Temporary) -> Result<Fingerprint, ArchiveError> {
    let reading = |e: io::Error| ArchiveError::reading(from, &e);
    let mut source = File::open(from).map_err(reading)?;
    let before = state(&source).map_err(reading)?;
    let print = copy(&mut source, &mut temporary.file()).map_err(|failed| match failed {
        Failed::Reading(e) => reading(e),
        Failed::Writing(e) => ArchiveError::writing(folder, &e),
    })?;
    let after = state(&source).map_err(reading)?;
    if before != after || print.bytes != after.0 {
        return Err(ArchiveError::new(
            from,
            "it changed while it was being taken in",
            "wait until it is complete, and take it in again",
        ));
    }
    Ok(print)
}

/// Size and time of the last writing, where the disk keeps one.
fn state(file: &File) -> io::Result<(u64, Option<SystemTime>)> {
    let about = file.metadata()?;
    Ok((about.len(), about.modified().ok()))
}

/// The name under which the same bytes were received. The file is read again: what the record says is no proof that it
/// is still there.
fn same_bytes(folder: &Path, known: &[(String, Fingerprint)], print: &Fingerprint) -> Option<String> {
    known
        .iter()
        .filter(|(there, received)| received == print && name::check(there).is_ok())
        .find(|(there, _)| holds(&folder.join(there), print))
        .map(|(there, _)| there.clone())
}

/// The name of a file with the same bytes that has the name, or one that looks alike.
///
/// # Errors
/// Where something else has it.
fn alike_there(folder: &Path, name: &str, print: &Fingerprint) -> Result<Option<String>, ArchiveError> {
    let reading = |e: io::Error| ArchiveError::reading(folder, &e);
    let mut alike = Vec::new();
    for entry in fs::read_dir(folder).map_err(reading)? {
        let there = entry.map_err(reading)?.file_name().to_string_lossy().into_owned();
        if there == name || name::alike(&there, name) {
            alike.push(there);
        }
    }
    alike.sort();
    let Some(there) = alike.into_iter().next() else {
        return Ok(None);
    };
    let place = folder.join(&there);
    if holds(&place, print) {
        Ok(Some(there))
    } else {
        Err(name_taken(&place))
    }
}

/// Whether a file, and no link to one, has these bytes.
fn holds(place: &Path, print: &Fingerprint) -> bool {
    fs::symlink_metadata(place).is_ok_and(|about| about.is_file() && about.len() == print.bytes)
        && Fingerprint::of(place).is_ok_and(|found| found == *print)
}

fn name_taken(place: &Path) -> ArchiveError {
    ArchiveError::new(
        place,
        "it is there already and holds something else, and what was received is never overwritten",
        "take the file in under another name",
    )
}

/// A disk that knows no such right keeps the bytes all the same.
fn make_read_only(place: &Path) {
    if let Ok(about) = fs::metadata(place) {
        let mut rights = about.permissions();
        rights.set_readonly(true);
        let _ = fs::set_permissions(place, rights);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::path::PathBuf;
    use std::thread;

    struct Bench {
        folder: tempfile::TempDir,
        sets: PathBuf,
    }

    impl Bench {
        fn new() -> Self {
            let folder = tempfile::tempdir().unwrap();
            let sets = folder.path().join("sets");
            fs::create_dir(&sets).unwrap();
            Self { folder, sets }
        }

        fn file(&self, name: &str, bytes: &[u8]) -> PathBuf {
            let path = self.folder.path().join(name);
            fs::write(&path, bytes).unwrap();
            path
        }

        fn names(&self) -> Vec<String> {
            let mut names: Vec<String> = fs::read_dir(&self.sets)
                .unwrap()
                .map(|e| e.unwrap().file_name().to_string_lossy().into_owned())
                .collect();
            names.sort();
            names
        }
    }

    #[test]
    fn a_file_is_kept_byte_for_byte_and_once() {
        let bench = Bench::new();
        let bytes: Vec<u8> = (0..3_000_000_u32)
            .map(|i| (i.wrapping_mul(i) >> 7) as u8)
            .collect();
        let from = bench.file("out.ply", &bytes);
        let taken = take_in(&from, &bench.sets, "scan.ply", &[]).unwrap();
        assert_eq!(taken.print, Fingerprint::of_bytes(&bytes));
        assert!(!taken.was_there);
        let place = bench.sets.join("scan.ply");
        assert_eq!(fs::read(&place).unwrap(), bytes);
        assert!(fs::metadata(&place).unwrap().permissions().readonly());
        // The same bytes under another name, known or not under the same: nothing is stored.
        let known = [("scan.ply".to_string(), taken.print.clone())];
        let again = take_in(&from, &bench.sets, "other.ply", &known).unwrap();
        assert_eq!((again.name.as_str(), again.was_there), ("scan.ply", true));
        let again = take_in(&from, &bench.sets, "scan.ply", &[]).unwrap();
        assert!(again.was_there);
        assert_eq!(bench.names(), ["scan.ply"]);
    }

    #[test]
    fn a_name_that_is_taken_is_never_overwritten() {
        let bench = Bench::new();
        let first = bench.file("first", b"first");
        let second = bench.file("second", b"second");
        take_in(&first, &bench.sets, "scan.ply", &[]).unwrap();
        for name in ["scan.ply", "SCAN.PLY"] {
            let refused = take_in(&second, &bench.sets, name, &[]).unwrap_err();
            assert!(refused.advice.contains("another name"), "{refused}");
            let same = take_in(&first, &bench.sets, name, &[]).unwrap();
            assert_eq!((same.name.as_str(), same.was_there), ("scan.ply", true));
        }
        assert_eq!(fs::read(bench.sets.join("scan.ply")).unwrap(), b"first");
        assert_eq!(bench.names(), ["scan.ply"]);
    }

    #[test]
    fn of_many_at_once_one_gets_the_name() {
        let bench = Bench::new();
        let files: Vec<PathBuf> = (0..4)
            .map(|i| bench.file(&format!("from-{i}"), format!("bytes {i}").as_bytes()))
            .collect();
        let sets = &bench.sets;
        let taken: Vec<bool> = thread::scope(|scope| {
            let runs: Vec<_> = files
                .iter()
                .map(|from| scope.spawn(move || take_in(from, sets, "scan.ply", &[]).is_ok()))
                .collect();
            runs.into_iter().map(|run| run.join().unwrap()).collect()
        });
        assert_eq!(taken.iter().filter(|t| **t).count(), 1);
        let winner = taken.iter().position(|t| *t).unwrap();
        let kept = fs::read_to_string(bench.sets.join("scan.ply")).unwrap();
        assert_eq!(kept, format!("bytes {winner}"));
        assert_eq!(bench.names(), ["scan.ply"]);
    }

    #[test]
    fn what_lies_in_its_place_is_taken_where_it_lies() {
        let bench = Bench::new();
        let place = bench.sets.join("scan.ply");
        fs::write(&place, b"put there by hand").unwrap();
        let taken = take_in(&place, &bench.sets, "scan.ply", &[]).unwrap();
        assert_eq!((taken.name.as_str(), taken.was_there), ("scan.ply", false));
        let known = [("scan.ply".to_string(), taken.print)];
        assert!(
            take_in(&place, &bench.sets, "scan.ply", &known)
                .unwrap()
                .was_there
        );
        fs::write(&place, b"changed by hand").unwrap();
        let changed = take_in(&place, &bench.sets, "scan.ply", &known).unwrap_err();
        assert!(changed.found.contains("not what was received"), "{changed}");
        assert_eq!(bench.names(), ["scan.ply"]);
    }

    #[test]
    fn a_record_of_bytes_that_are_gone_stores_them_again() {
        let bench = Bench::new();
        let from = bench.file("out.ply", b"points");
        let known = [
            ("../out.ply".to_string(), Fingerprint::of_bytes(b"points")),
            ("gone.ply".to_string(), Fingerprint::of_bytes(b"points")),
        ];
        let taken = take_in(&from, &bench.sets, "scan.ply", &known).unwrap();
        assert_eq!((taken.name.as_str(), taken.was_there), ("scan.ply", false));
    }

    #[test]
    fn what_is_no_file_and_what_is_no_name_is_refused() {
        let bench = Bench::new();
        let from = bench.file("out.ply", b"points");
        assert!(take_in(bench.folder.path(), &bench.sets, "scan.ply", &[]).is_err());
        assert!(take_in(&bench.sets.join("none"), &bench.sets, "scan.ply", &[]).is_err());
        for name in ["../scan.ply", "a/b", "", "nul"] {
            assert!(take_in(&from, &bench.sets, name, &[]).is_err(), "{name}");
        }
        fs::create_dir(bench.sets.join("scan.ply")).unwrap();
        assert!(take_in(&from, &bench.sets, "scan.ply", &[]).is_err());
        assert_eq!(bench.names(), ["scan.ply"]);
    }
}
