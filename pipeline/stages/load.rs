//! Reads both sets and takes their fingerprints.

use archive::Fingerprint;
use formats::RawPoints;

use crate::job::{Comparison, Set};
use crate::made_from::MadeFrom;
use crate::trouble::Trouble;

/// A set as its file holds it.
pub struct LoadedSet {
    /// The rows in the file's own unit.
    pub raw: RawPoints,
    /// What it is known again by.
    pub print: Fingerprint,
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
    let (raw, print) = rayon::join(|| formats::read(&set.path), || Fingerprint::of(&set.path));
    Ok(LoadedSet {
        raw: raw?,
        print: print?,
    })
}

/// What was read must be what is on record as read.
///
/// # Errors
/// Where a file was changed in between.
pub fn refuse_changed(loaded: &Loaded, made_from: &MadeFrom) -> Result<(), Trouble> {
    for (role, set) in [("reference", &loaded.reference), ("measured", &loaded.measured)] {
        let input = made_from.inputs.iter().find(|input| input.role == role);
        if let Some(input) = input.filter(|input| input.sha256 != set.print.sha256) {
            return Err(Trouble::new(format!(
                "{}: it was changed while it was read; run it again when nothing writes to it",
                input.file
            )));
        }
    }
    Ok(())
}
