//! What lies in a bag: the files of its payload, and the tag files beside it.

use std::collections::BTreeMap;
use std::io::Read as _;

use super::declaration::DECLARATION;
use super::fault::{FaultKind, Findings};
use super::manifest::Lists;
use super::path::PAYLOAD;
use crate::ArchiveError;
use crate::tree::Tree;

/// The longest tag file that is read, in bytes: a manifest of two million files.
const TAG_FILE_BYTES: u64 = 256 << 20;

/// The files of a bag, each with its size in bytes.
pub struct Contents<'a> {
    /// Where they lie.
    pub tree: &'a dyn Tree,
    /// Those in `data/`, by their paths from the bag's folder.
    pub payload: BTreeMap<&'a str, u64>,
    /// Those beside it.
    pub tags: BTreeMap<&'a str, u64>,
}

impl<'a> Contents<'a> {
    /// Of a tree.
    ///
    /// # Errors
    /// Where nothing in it makes it a bag.
    pub fn of(tree: &'a dyn Tree) -> Result<Self, ArchiveError> {
        let all = tree
            .entries()
            .iter()
            .map(|entry| (entry.path.as_str(), entry.bytes));
        let (payload, tags): (BTreeMap<_, _>, BTreeMap<_, _>) =
            all.partition(|(path, _)| path.starts_with(PAYLOAD));
        let has_manifest = tags.keys().any(|name| Lists::Payload.word_in(name).is_some());
        if payload.is_empty() && !has_manifest && !tags.contains_key(DECLARATION) {
            return Err(ArchiveError::new(
                tree.place(),
                "it is no bag: it holds neither bagit.txt nor a manifest nor data/",
                "name the folder or the file that was sealed",
            ));
        }
        Ok(Self { tree, payload, tags })
    }

    /// The bytes of a tag file, or nothing where it is not there. One that can't be read is told.
    pub fn read(&self, name: &str, findings: &mut Findings) -> Option<Vec<u8>> {
        if !self.tags.contains_key(name) {
            return None;
        }
        match self.bytes(name) {
            Ok(bytes) => Some(bytes),
            Err(e) => {
                findings.fault(FaultKind::NotRead, name, e.to_string());
                None
            }
        }
    }

    /// The bytes of a file.
    ///
    /// # Errors
    /// Where it can't be read, or is too long for a tag file.
    pub fn bytes(&self, name: &str) -> Result<Vec<u8>, ArchiveError> {
        let place = self.tree.place().join(name);
        let mut bytes = Vec::new();
        self.tree
            .open(name)?
            .take(TAG_FILE_BYTES + 1)
            .read_to_end(&mut bytes)
            .map_err(|e| ArchiveError::reading(&place, &e))?;
        if bytes.len() as u64 > TAG_FILE_BYTES {
            return Err(ArchiveError::new(
                &place,
                "it is longer than any manifest",
                "look into it: it is no tag file of a bag",
            ));
        }
        Ok(bytes)
    }
}
