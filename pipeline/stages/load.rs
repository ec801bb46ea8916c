//! Reads both sets and takes their fingerprints.

use formats::{RawPoints, SourceFile};

use crate::job::{Comparison, Set};
use crate::trouble::Trouble;

/// A set as its file holds it.
pub struct LoadedSet {
    /// The rows in the file's own unit.
    pub raw: RawPoints,
    /// The file and its fingerprint.
    pub source: SourceFile,
}

/// Both sets of a comparison.
pub struct Loaded {
    /// The reference.
    pub reference: LoadedSet,
    /// The measured set.
    pub measured: LoadedSet,
}

/// Reads both sets.
pub fn load(comparison: &Comparison) -> Result<Loaded, Trouble> {
    let (reference, measured) = rayon::join(|| one(&comparison.reference), || one(&comparison.measured));
    Ok(Loaded {
        reference: reference?,
        measured: measured?,
    })
}

/// Reads one set.
pub fn one(set: &Set) -> Result<LoadedSet, Trouble> {
    let (raw, source) = rayon::join(|| formats::read(&set.path), || SourceFile::of(&set.path));
    Ok(LoadedSet {
        raw: raw?,
        source: source?,
    })
}
