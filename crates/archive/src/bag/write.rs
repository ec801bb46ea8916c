//! Seals files into a bag: copies them, hashes them as they are copied, and writes what they are known again by.

use std::fs::{self, File};
use std::io::{self, Read, Write as _};
use std::path::Path;

use super::declaration::{DECLARATION, WRITTEN};
use super::info::{self, INFO};
use super::manifest::{self, Lists};
use super::path::PAYLOAD;
use crate::fingerprint::Algorithm;
use crate::name::{self, shown};
use crate::tree::{Entry, Tree};
use crate::{ArchiveError, Fingerprint};

/// What was sealed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Sealed {
    /// Files in the payload.
    pub files: u64,
    /// Bytes in the payload.
    pub bytes: u64,
    /// SHA-256 of `manifest-sha256.txt`: one figure that stands for every byte of every file.
    pub manifest_sha256: String,
}

/// Seals every file of a tree into `into`, an existing empty folder, as a BagIt 1.0 bag. `info` are labels and values for
/// `bag-info.txt` besides its own three; `agent` is the program and its version, `witnessmark 1.2.3`. The names are looked
/// at before anything is written; the tag manifest is written last, so that a bag without one was never finished.
///
/// # Errors
/// Where a name, a label or a value can't be kept, `into` is not an empty folder, a file can't be read or written, or its
/// size is not what the tree says. Then `into` may hold a part of the bag.
pub fn seal(
    contents: &dyn Tree,
    info: &[(String, String)],
    agent: &str,
    into: &Path,
) -> Result<Sealed, ArchiveError> {
    names(contents)?;
    let entries = contents.entries();
    let files = entries.len() as u64;
    let bytes = entries
        .iter()
        .fold(0_u64, |sum, entry| sum.saturating_add(entry.bytes));
    let info_text = info_text(info, agent, bytes, files)
        .map_err(|found| ArchiveError::new(&into.join(INFO), found, "write it otherwise"))?;
    empty(into)?;
    let mut payload = Vec::with_capacity(entries.len());
    for entry in entries {
        let path = format!("{PAYLOAD}{}", entry.path);
        let print = copy(contents, entry, &into.join(&path))?;
        payload.push((path, print.sha256));
    }
    let manifest_name = Lists::Payload.name(Algorithm::Sha256);
    let tag_files = [
        (manifest_name.as_str(), manifest_text(&payload)),
        (DECLARATION, WRITTEN.to_string()),
        (INFO, info_text),
    ];
    let mut tags = Vec::new();
    for (name, text) in &tag_files {
        put(&into.join(name), text)?;
        tags.push((String::from(*name), Fingerprint::of_bytes(text.as_bytes()).sha256));
    }
    let manifest_sha256 = tags[0].1.clone();
    put(
        &into.join(Lists::Tags.name(Algorithm::Sha256)),
        &manifest_text(&tags),
    )?;
    Ok(Sealed {
        files,
        bytes,
        manifest_sha256,
    })
}

fn names(contents: &dyn Tree) -> Result<(), ArchiveError> {
    for Entry { path, .. } in contents.entries() {
        name::check_path(path).map_err(|words| {
            let found = format!("the name \"{}\" {words}", shown(path));
            ArchiveError::new(contents.place(), found, "rename it")
        })?;
    }
    let paths = contents.entries().iter().map(|entry| entry.path.as_str());
    match name::first_alike(paths) {
        None => Ok(()),
        Some((a, b)) => Err(ArchiveError::new(
            contents.place(),
            format!(
                "a Windows or macOS disk takes \"{}\" and \"{}\" for one",
                shown(&a),
                shown(&b)
            ),
            "rename one",
        )),
    }
}

fn info_text(info: &[(String, String)], agent: &str, bytes: u64, files: u64) -> Result<String, String> {
    let own = [info::OXUM, info::SIZE, info::AGENT];
    if let Some((label, _)) = info
        .iter()
        .find(|(label, _)| own.iter().any(|o| o.eq_ignore_ascii_case(label)))
    {
        return Err(format!("the label \"{label}\" is written by the program itself"));
    }
    let mut pairs = vec![
        (info::OXUM.to_string(), format!("{bytes}.{files}")),
        (info::SIZE.to_string(), info::in_words(bytes)),
        (info::AGENT.to_string(), agent.to_string()),
    ];
    pairs.extend_from_slice(info);
    info::write(&pairs)
}

fn empty(into: &Path) -> Result<(), ArchiveError> {
    let mut inside = fs::read_dir(into).map_err(|e| ArchiveError::reading(into, &e))?;
    match inside.next() {
        None => Ok(()),
        Some(_) => Err(ArchiveError::new(
            into,
            "it is not empty",
            "name a folder that holds nothing",
        )),
    }
}

fn copy(contents: &dyn Tree, entry: &Entry, to: &Path) -> Result<Fingerprint, ArchiveError> {
    let source = contents.place().join(&entry.path);
    let writing = |e: &io::Error| ArchiveError::writing(to, e);
    if let Some(folder) = to.parent() {
        fs::create_dir_all(folder).map_err(|e| ArchiveError::writing(folder, &e))?;
    }
    let mut from = Watched {
        from: contents.open(&entry.path)?,
        has_failed: false,
    };
    let mut file = File::create_new(to).map_err(|e| writing(&e))?;
    let print = match Fingerprint::through(&mut from, &mut file) {
        Ok(print) => print,
        Err(e) if from.has_failed => return Err(ArchiveError::reading(&source, &e)),
        Err(e) => return Err(writing(&e)),
    };
    file.sync_all().map_err(|e| writing(&e))?;
    if print.bytes != entry.bytes {
        return Err(ArchiveError::new(
            &source,
            format!(
                "it changed while it was sealed: {} bytes were listed, {} were read",
                entry.bytes, print.bytes
            ),
            "seal again when nothing writes there",
        ));
    }
    Ok(print)
}

fn put(path: &Path, text: &str) -> Result<(), ArchiveError> {
    let write = || {
        let mut file = File::create_new(path)?;
        file.write_all(text.as_bytes())?;
        file.sync_all()
    };
    write().map_err(|e: io::Error| ArchiveError::writing(path, &e))
}

fn manifest_text(paths_and_values: &[(String, String)]) -> String {
    manifest::write(
        paths_and_values
            .iter()
            .map(|(path, value)| (path.as_str(), value.as_str())),
    )
}

/// Remembers whether it was the reading that failed, and not the writing.
struct Watched<'a> {
    from: Box<dyn Read + 'a>,
    has_failed: bool,
}

impl Read for Watched<'_> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let read = self.from.read(buffer);
        self.has_failed = read.is_err();
        read
    }
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeMap;

    use super::super::made::{MemoryTree, contents, read_back};
    use super::*;

    fn pair(label: &str, value: &str) -> (String, String) {
        (label.to_string(), value.to_string())
    }

    #[test]
    fn a_sealed_job_is_a_bag_by_the_letter() {
        let folder = tempfile::tempdir().unwrap();
        let info = [pair("Bagging-Date", "2026-11-26"), pair("Job", "17")];
        let sealed = seal(
            &MemoryTree::of(contents()),
            &info,
            "witnessmark 0.1.0",
            folder.path(),
        )
        .unwrap();
        let files = read_back(folder.path());
        let text = |name: &str| String::from_utf8(files[name].clone()).unwrap();
        let amount: usize = contents().values().map(Vec::len).sum();
        assert_eq!((sealed.files, sealed.bytes), (3, amount as u64));
        assert_eq!(
            text("bagit.txt"),
            "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"
        );
        assert_eq!(
            text("bag-info.txt"),
            format!(
                "Payload-Oxum: {amount}.3\nBag-Size: {amount} B\nBag-Software-Agent: witnessmark 0.1.0\n\
                 Bagging-Date: 2026-11-26\nJob: 17\n"
            )
        );
        let mut manifest = String::new();
        for (path, bytes) in contents() {
            assert_eq!(files[&format!("data/{path}")], bytes);
            manifest += &format!("{}  data/{path}\n", Fingerprint::of_bytes(&bytes).sha256);
        }
        assert_eq!(text("manifest-sha256.txt"), manifest);
        assert_eq!(
            sealed.manifest_sha256,
            Fingerprint::of_bytes(manifest.as_bytes()).sha256
        );
        let mut tags = String::new();
        for name in ["bag-info.txt", "bagit.txt", "manifest-sha256.txt"] {
            tags += &format!("{}  {name}\n", Fingerprint::of_bytes(&files[name]).sha256);
        }
        assert_eq!(text("tagmanifest-sha256.txt"), tags);
        assert_eq!(files.len(), 3 + 4);
    }

    #[test]
    fn what_cannot_be_kept_is_refused_before_anything_is_written() {
        let folder = tempfile::tempdir().unwrap();
        let refuse = |names: &[&str], info: &[(String, String)], agent: &str| {
            let files: BTreeMap<_, _> = names
                .iter()
                .map(|name| ((*name).to_string(), b"x".to_vec()))
                .collect();
            let error = seal(&MemoryTree::of(files), info, agent, folder.path()).unwrap_err();
            assert!(read_back(folder.path()).is_empty());
            error.to_string()
        };
        let agent = "witnessmark 0.1.0";
        assert!(refuse(&["a", "con.ply"], &[], agent).contains("\"con.ply\" is a device"));
        assert!(refuse(&["a", "../b"], &[], agent).contains("another folder"));
        assert!(refuse(&["sets/a", "Sets/b"], &[], agent).contains("for one"));
        assert!(refuse(&["a"], &[pair("payload-oxum", "1.1")], agent).contains("by the program itself"));
        assert!(refuse(&["a"], &[pair("Job", "17\nAgent: x")], agent).contains("\"Job\""));
        assert!(refuse(&["a"], &[], "").contains("Bag-Software-Agent"));
    }

    #[test]
    fn a_folder_that_holds_something_is_left_alone() {
        let folder = tempfile::tempdir().unwrap();
        fs::write(folder.path().join("mine.txt"), "x").unwrap();
        let error = seal(
            &MemoryTree::of(contents()),
            &[],
            "witnessmark 0.1.0",
            folder.path(),
        )
        .unwrap_err();
        assert_eq!(error.found, "it is not empty");
        assert_eq!(read_back(folder.path()).len(), 1);
        let nowhere = folder.path().join("nowhere");
        assert!(seal(&MemoryTree::of(contents()), &[], "witnessmark 0.1.0", &nowhere).is_err());
    }

    #[test]
    fn a_file_that_changes_meanwhile_is_an_error() {
        let folder = tempfile::tempdir().unwrap();
        let tree = MemoryTree::of(contents()).grown("job.toml");
        let error = seal(&tree, &[], "witnessmark 0.1.0", folder.path()).unwrap_err();
        assert!(error.found.contains("changed while it was sealed"), "{error}");
        assert!(error.file.ends_with("job.toml"));
    }
}
