//! Bags in memory for the tests, foreign ones and sealed ones.

use std::collections::BTreeMap;
use std::io::Read;
use std::path::Path;

use super::{Checked, FaultKind, check, seal};
use crate::ArchiveError;
use crate::fingerprint::Algorithm;
use crate::tree::{Entry, Folder, Tree};

/// Bytes by path.
pub type Files = BTreeMap<String, Vec<u8>>;

/// Files that lie on no disk.
pub struct MemoryTree {
    entries: Vec<Entry>,
    files: Files,
}

impl MemoryTree {
    pub fn of(files: Files) -> Self {
        let entries = files.iter().map(|(path, bytes)| Entry {
            path: path.clone(),
            bytes: bytes.len() as u64,
        });
        Self {
            entries: entries.collect(),
            files,
        }
    }

    /// With a file that has grown by a byte since it was listed.
    pub fn grown(mut self, path: &str) -> Self {
        self.files.get_mut(path).unwrap().push(b'x');
        self
    }
}

impl Tree for MemoryTree {
    fn entries(&self) -> &[Entry] {
        &self.entries
    }

    fn open(&self, path: &str) -> Result<Box<dyn Read + '_>, ArchiveError> {
        match self.files.get(path) {
            Some(bytes) => Ok(Box::new(bytes.as_slice())),
            None => Err(ArchiveError::new(
                Path::new(path),
                "it is not there",
                "list again",
            )),
        }
    }

    fn has_folder(&self, _: &str) -> bool {
        true
    }

    fn place(&self) -> &Path {
        Path::new("memory")
    }
}

/// Three small files of a job.
pub fn contents() -> Files {
    let files = [
        ("job.toml", "name = \"x\"\n"),
        ("results/a.csv", "a,b\n"),
        ("sets/scan 1.xyz", "1 2 3\n"),
    ];
    files
        .map(|(path, text)| (path.to_string(), text.as_bytes().to_vec()))
        .into()
}

/// The same, sealed.
pub fn sealed() -> Files {
    let folder = tempfile::tempdir().unwrap();
    let info = [("Job".to_string(), "17".to_string())];
    seal(
        &MemoryTree::of(contents()),
        &info,
        "witnessmark 0.1.0",
        folder.path(),
    )
    .unwrap();
    read_back(folder.path())
}

/// All files below a folder.
pub fn read_back(folder: &Path) -> Files {
    let tree = Folder::list(folder).unwrap();
    let mut files = Files::new();
    for entry in tree.entries() {
        let mut bytes = Vec::new();
        tree.open(&entry.path).unwrap().read_to_end(&mut bytes).unwrap();
        files.insert(entry.path.clone(), bytes);
    }
    files
}

/// A small foreign bag of a version, with MD5 manifests.
pub fn bag(version: &str) -> Files {
    let mut files = Files::new();
    let declaration = format!("BagIt-Version: {version}\nTag-File-Character-Encoding: UTF-8\n");
    put(&mut files, "bagit.txt", &declaration);
    put(
        &mut files,
        "bag-info.txt",
        "Source-Organization: A Shop\nPayload-Oxum: 12.2\n",
    );
    put(&mut files, "data/a.txt", "first\n");
    put(&mut files, "data/sub/b.txt", "other\n");
    list(&mut files, Algorithm::Md5);
    tag(&mut files, Algorithm::Md5);
    files
}

pub fn put(files: &mut Files, path: &str, text: &str) {
    files.insert(path.to_string(), text.as_bytes().to_vec());
}

/// Replaces a text that must be there.
pub fn edit(files: &mut Files, path: &str, from: &str, to: &str) {
    let text = String::from_utf8(files[path].clone()).unwrap();
    assert!(text.contains(from), "{path}: {text}");
    put(files, path, &text.replace(from, to));
}

pub fn append(files: &mut Files, path: &str, text: &str) {
    files.get_mut(path).unwrap().extend_from_slice(text.as_bytes());
}

pub fn rename(files: &mut Files, from: &str, to: &str) {
    let bytes = files.remove(from).unwrap();
    files.insert(to.to_string(), bytes);
}

pub fn value(algorithm: Algorithm, bytes: &[u8]) -> String {
    let mut from = bytes;
    algorithm.of(&mut from).unwrap().0
}

fn lines(files: &Files, algorithm: Algorithm, is_listed: impl Fn(&str) -> bool) -> String {
    let listed = files.iter().filter(|(path, _)| is_listed(path));
    let code = |path: &str| path.replace('%', "%25").replace('\n', "%0A");
    listed
        .map(|(path, bytes)| format!("{} {}\n", value(algorithm, bytes), code(path)))
        .collect()
}

/// Writes the manifest of all that is in `data/`.
pub fn list(files: &mut Files, algorithm: Algorithm) {
    let text = lines(files, algorithm, |path| path.starts_with("data/"));
    put(files, &format!("manifest-{}.txt", algorithm.word()), &text);
}

/// Writes the tag manifest of all that is beside `data/`.
pub fn tag(files: &mut Files, algorithm: Algorithm) {
    let is_tag = |path: &str| !path.starts_with("data/") && !path.starts_with("tagmanifest-");
    let text = lines(files, algorithm, is_tag);
    put(files, &format!("tagmanifest-{}.txt", algorithm.word()), &text);
}

pub fn checked(files: &Files) -> Checked {
    check(&MemoryTree::of(files.clone())).unwrap()
}

/// Which faults of which files, each once, in order.
pub fn told(checked: &Checked) -> Vec<(FaultKind, &str)> {
    let mut told: Vec<_> = checked.faults.iter().map(|f| (f.kind, f.path.as_str())).collect();
    told.dedup();
    told
}
