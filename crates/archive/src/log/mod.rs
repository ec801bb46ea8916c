//! The log of a job, one line for everything that was done: written at its end only, and read whatever a spreadsheet made
//! of it.

mod day;
mod line;
mod rows;

use std::borrow::Cow;
use std::collections::BTreeMap;
use std::fs::{self, File, OpenOptions};
use std::io::{self, Read as _, Seek, SeekFrom, Write};
use std::path::Path;

use crate::{ArchiveError, Fingerprint};
pub use day::is_day;
pub use line::{Entry, What};
use line::{HEADS, entry, is_empty, is_head, is_row, line};
use rows::row;

/// A log that was read.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Read {
    /// Its lines, in the order of the file.
    pub entries: Vec<Entry>,
    /// What could not be read, each with its line.
    pub warnings: Vec<String>,
}

/// Reads a log. One that is not there is empty; a line that can't be read is a warning.
///
/// # Errors
/// What the system said.
pub fn read(path: &Path) -> Result<Read, ArchiveError> {
    match fs::read(path) {
        Ok(bytes) => Ok(read_bytes(path, &bytes)),
        Err(e) if e.kind() == io::ErrorKind::NotFound => Ok(Read::default()),
        Err(e) => Err(ArchiveError::reading(path, &e)),
    }
}

fn read_bytes(path: &Path, bytes: &[u8]) -> Read {
    let mut log = Read::default();
    let text = String::from_utf8_lossy(bytes);
    if matches!(text, Cow::Owned(_)) {
        log.warnings.push(format!(
            "{}: some letters are not written as UTF-8; save it as \"CSV UTF-8\"",
            path.display()
        ));
    }
    let mut rest = text.strip_prefix('\u{feff}').unwrap_or(&text);
    let mut line = 1;
    while !rest.is_empty() {
        let mut warn = |found: &str| {
            log.warnings
                .push(format!("{}, line {line}: {found}", path.display()));
        };
        // What is no row is one line: an open quote must not swallow the lines below it.
        let taken = match row(rest).filter(|(fields, _)| is_row(fields)) {
            Some((fields, taken)) => {
                if !is_empty(&fields) && !is_head(&fields) {
                    log.entries.push(entry(&fields, &mut warn));
                }
                taken
            }
            None => {
                warn("it is not whole and is passed over; write it anew below if it matters");
                rest.find('\n').map_or(rest.len(), |end| end + 1)
            }
        };
        line += rest[..taken].matches('\n').count();
        rest = &rest[taken..];
    }
    log
}

/// Adds a line at the end of a log, which is made where it is not there. Several runs may do so at once: each line is
/// written whole, one after the other. What could be written of a line on a full disk is taken away again.
///
/// # Errors
/// What the system said; the log is then as it was.
pub fn append(path: &Path, entry: &Entry) -> Result<(), ArchiveError> {
    let writing = |e: io::Error| ArchiveError::writing(path, &e);
    let mut file = OpenOptions::new()
        .read(true)
        .append(true)
        .create(true)
        .open(path)
        .map_err(writing)?;
    let is_locked = match file.lock() {
        Ok(()) => true,
        // A disk that can't lock still adds at the end what is written at once.
        Err(e) if e.kind() == io::ErrorKind::Unsupported => false,
        Err(e) => return Err(writing(e)),
    };
    let bytes = file.metadata().map_err(writing)?.len();
    let added = add_line(&mut file, entry);
    if added.is_err() && is_locked {
        cut_back(path, bytes);
    }
    let _ = file.unlock();
    added.map_err(|e| not_added(path, &e))
}

/// Takes away what was written of a line. By a handle of its own: one that only adds can't shorten on every system. Where
/// it can't be done either, the half line costs no other.
fn cut_back(path: &Path, bytes: u64) {
    if let Ok(file) = OpenOptions::new().write(true).open(path) {
        let _ = file.set_len(bytes);
    }
}

fn not_added(path: &Path, error: &io::Error) -> ArchiveError {
    let found = match error.kind() {
        io::ErrorKind::StorageFull => "the disk is full, and nothing could be added to it".to_string(),
        _ => format!("nothing could be added to it (\"{error}\")"),
    };
    ArchiveError::new(
        path,
        found,
        "make room and do it again; all that it said before is there",
    )
}

fn add_line(file: &mut File, entry: &Entry) -> io::Result<()> {
    let mut separator = ",";
    let mut text = String::new();
    if file.seek(SeekFrom::End(0))? == 0 {
        text += &(HEADS.join(",") + "\n");
    } else {
        // As the file is written by now, so that a spreadsheet can still read it.
        let mut first = [0; 64];
        file.rewind()?;
        let n = file.read(&mut first)?;
        if first[..n].iter().find(|b| **b == b',' || **b == b';') == Some(&b';') {
            separator = ";";
        }
        let mut last = [0];
        file.seek(SeekFrom::End(-1))?;
        file.read_exact(&mut last)?;
        if last != *b"\n" {
            text.push('\n');
        }
    }
    text += &(line(entry, separator) + "\n");
    file.write_all(text.as_bytes())?;
    file.sync_all()
}

/// The sets by their files, as they were received first.
pub fn sets(entries: &[Entry]) -> BTreeMap<String, Fingerprint> {
    let mut sets = BTreeMap::new();
    for entry in entries {
        if entry.what == What::Set
            && !entry.file.is_empty()
            && !entry.sha256.is_empty()
            && let Some(bytes) = entry.bytes
        {
            sets.entry(entry.file.clone()).or_insert_with(|| Fingerprint {
                sha256: entry.sha256.clone(),
                bytes,
            });
        }
    }
    sets
}

/// What was done to the car after one day, up to and with another. Without a first day it is everything before. Lines
/// whose day can't be read are left out.
pub fn operations_between<'a>(entries: &'a [Entry], after: Option<&str>, up_to: &str) -> Vec<&'a Entry> {
    entries
        .iter()
        .filter(|entry| entry.what == What::Operation && is_day(&entry.day))
        .filter(|entry| after.is_none_or(|after| entry.day.as_str() > after) && entry.day.as_str() <= up_to)
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::thread;

    fn entry_of(day: &str, what: What, words: &str, file: &str) -> Entry {
        let print = Fingerprint::of_bytes(words.as_bytes());
        Entry {
            day: day.to_string(),
            time: "14:03".to_string(),
            what,
            words: words.to_string(),
            file: file.to_string(),
            bytes: (!file.is_empty()).then_some(print.bytes),
            sha256: if file.is_empty() {
                String::new()
            } else {
                print.sha256
            },
        }
    }

    fn read_text(text: &str) -> Read {
        read_bytes(Path::new("log.csv"), text.as_bytes())
    }

    #[test]
    fn what_is_added_is_read() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("log.csv");
        assert_eq!(read(&path).unwrap(), Read::default());
        let entries = [
            entry_of("2026-11-26", What::Started, "", ""),
            entry_of(
                "2026-11-26",
                What::Set,
                "floor; \"before\", as found",
                "floor, left.ply",
            ),
            entry_of(
                "2026-11-27",
                What::Operation,
                "welded the sill\nand dressed it",
                "",
            ),
            entry_of("2026-11-28", What::Other("painted".into()), "grey", ""),
        ];
        for entry in &entries {
            append(&path, entry).unwrap();
        }
        let log = read(&path).unwrap();
        assert_eq!(log.entries, entries);
        assert_eq!(log.warnings, Vec::<String>::new());
        assert!(
            fs::read_to_string(&path)
                .unwrap()
                .starts_with("day,time,what,words,file,bytes,sha256\n")
        );
    }

    #[test]
    fn a_log_that_a_spreadsheet_saved_is_read_and_added_to() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("log.csv");
        let saved = "\u{feff}day;time;what;words;file;bytes;sha256;\r\n\
            26.11.2026;14:03;operation;\"welded; dressed\";;;;\r\n;;;;;;;\r\n\
            2026-11-27;14:03;set;as found;floor.ply;1.2E+06;12ab;";
        fs::write(&path, saved).unwrap();
        let added = entry_of("2026-11-28", What::Operation, "cut, and fitted", "");
        append(&path, &added).unwrap();
        let log = read(&path).unwrap();
        assert_eq!(log.entries.len(), 3);
        assert_eq!(log.entries[0].day, "26.11.2026");
        assert_eq!(log.entries[0].words, "welded; dressed");
        assert_eq!((log.entries[1].bytes, log.entries[1].sha256.as_str()), (None, ""));
        assert_eq!(log.entries[2], added);
        let lines: Vec<bool> = ["line 2: the day", "line 4: \"1.2E+06\"", "line 4: its sha256"]
            .iter()
            .zip(&log.warnings)
            .map(|(begins, warning)| warning.contains(begins))
            .collect();
        assert_eq!(lines, [true; 3], "{:?}", log.warnings);
        let text = fs::read_to_string(&path).unwrap();
        assert!(
            text.ends_with("12ab;\n2026-11-28;14:03;operation;\"cut, and fitted\";;;\n"),
            "{text}"
        );
        // A row added with commas below those with semicolons is read too.
        assert_eq!(read_text("a;b\n2026-11-28,14:03,ran,,,,\n").entries.len(), 1);
    }

    #[test]
    fn a_half_written_line_costs_no_other() {
        let whole = "2026-11-27,10:00,operation,\"cut, fitted\",,,\n";
        for half in [
            "2026-11-26,14:0",
            "2026-11-26,14:03,operation,\"welded the",
            "\"",
            "x,\"y\"z",
        ] {
            let log = read_text(&format!("{half}\n{whole}{whole}"));
            assert_eq!(log.entries.len(), 2, "{half}");
            assert_eq!(log.entries[0].words, "cut, fitted");
            assert_eq!(log.warnings.len(), 1);
            assert!(
                log.warnings[0].starts_with("log.csv, line 1: "),
                "{}",
                log.warnings[0]
            );
        }
        let log = read_bytes(Path::new("log.csv"), b"2026-11-26,14:03,operation,caf\xe9,,,\n");
        assert_eq!((log.entries.len(), log.warnings.len()), (1, 1));
    }

    #[test]
    fn several_may_add_at_once() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("log.csv");
        thread::scope(|scope| {
            for i in 0..4 {
                let path = &path;
                scope.spawn(move || {
                    for k in 0..6 {
                        let words = format!("{i} {k} {}", "long, ".repeat(2000));
                        append(path, &entry_of("2026-11-26", What::Ran, &words, "")).unwrap();
                    }
                });
            }
        });
        let log = read(&path).unwrap();
        assert_eq!((log.entries.len(), log.warnings.len()), (24, 0));
    }

    #[test]
    fn the_first_record_of_a_set_counts_and_operations_are_found_by_their_days() {
        let entries = [
            entry_of("2026-11-25", What::Operation, "cut", ""),
            entry_of("2026-11-26", What::Set, "as received", "floor.ply"),
            entry_of("2026-11-26", What::Operation, "welded", ""),
            entry_of("27.11.2026", What::Operation, "some day", ""),
            entry_of("2026-11-28", What::Set, "again", "floor.ply"),
            entry_of("2026-11-28", What::Operation, "dressed", ""),
        ];
        let sets = sets(&entries);
        assert_eq!(sets.len(), 1);
        assert_eq!(sets["floor.ply"], Fingerprint::of_bytes(b"as received"));
        let words = |after, up_to| -> Vec<&str> {
            let found = operations_between(&entries, after, up_to);
            found.iter().map(|entry| entry.words.as_str()).collect()
        };
        assert_eq!(words(None, "2026-11-27"), ["cut", "welded"]);
        assert_eq!(words(Some("2026-11-25"), "2026-11-28"), ["welded", "dressed"]);
        assert!(words(Some("2026-11-28"), "2026-11-28").is_empty());
    }
}
