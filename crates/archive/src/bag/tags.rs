//! The files beside `data/` against the tag manifests.

use std::collections::BTreeSet;

use super::contents::Contents;
use super::fault::{FaultKind, Findings};
use super::hashed;
use super::manifest::{Lists, Manifest};
use crate::fingerprint::Algorithm;
use crate::name::shown;

/// Compares the tag files with the tag manifests that list them.
pub fn compare(contents: &Contents<'_>, manifests: &[Manifest], is_strict: bool, findings: &mut Findings) {
    let mut wanted: Vec<(&str, Algorithm)> = Vec::new();
    let mut bytes = 0_u64;
    for manifest in manifests {
        for line in &manifest.listed {
            if let Some(size) = contents.tags.get(line.path.as_str()) {
                wanted.push((line.path.as_str(), manifest.algorithm));
                bytes = bytes.saturating_add(*size);
            }
        }
    }
    let values = hashed::values(contents.tree, &wanted, bytes);
    for manifest in manifests {
        for line in &manifest.listed {
            let path = line.path.as_str();
            if is_strict && Lists::Tags.word_in(path).is_some() {
                let words = format!(
                    "line {} lists \"{}\", and tag manifests list none",
                    line.line,
                    shown(path)
                );
                findings.fault(FaultKind::Malformed, &manifest.name, words);
                continue;
            }
            match values.get(&(path, manifest.algorithm)) {
                Some(Ok(found)) if *found == line.value => {}
                Some(Ok(_)) => {
                    let words = format!(
                        "its bytes are not those that {} lists: one of the two was altered",
                        manifest.name
                    );
                    findings.fault(FaultKind::Altered, path, words);
                }
                Some(Err(e)) => findings.fault(FaultKind::NotRead, path, e.to_string()),
                None if contents.tags.contains_key(path) => {
                    findings.fault(FaultKind::NotRead, path, "reading it broke off");
                }
                None => {
                    let words = format!("it is not there, and {} lists it", manifest.name);
                    findings.fault(FaultKind::Missing, path, words);
                }
            }
        }
    }
}

/// Tells of a foreign bag what its tag manifests leave open: a payload manifest must be listed from 1.0 on, other files
/// need not be.
pub fn left_open(contents: &Contents<'_>, manifests: &[Manifest], is_strict: bool, findings: &mut Findings) {
    if manifests.is_empty() {
        findings.note("no tag manifest: a change of the files beside data/ would not be seen");
        return;
    }
    let listed: BTreeSet<&str> = all_listed(manifests);
    let mut unlisted = Vec::new();
    for name in contents.tags.keys().copied() {
        if Lists::Tags.word_in(name).is_some() {
            continue;
        }
        if is_strict && Lists::Payload.word_in(name).is_some() {
            for manifest in manifests.iter().filter(|manifest| !manifest.lists(name)) {
                let words = format!("it does not list {}, and must list every manifest", shown(name));
                findings.fault(FaultKind::Malformed, &manifest.name, words);
            }
        } else if !listed.contains(name) {
            unlisted.push(shown(name));
        }
    }
    if !unlisted.is_empty() {
        let names = unlisted.join(", ");
        findings.note(format!(
            "no tag manifest lists {names}: a change there would not be seen"
        ));
    }
}

/// Holds a bag that was sealed here to all of it: every file beside `data/` is listed, and the tag manifest itself, which
/// nothing lists, is byte for byte as it is written here.
pub fn all_of_it(contents: &Contents<'_>, manifests: &[Manifest], findings: &mut Findings) {
    let name = Lists::Tags.name(Algorithm::Sha256);
    if !contents.tags.contains_key(name.as_str()) {
        let words = "it is not there, so nothing says what the files beside data/ should be";
        findings.fault(FaultKind::Missing, &name, words);
        return;
    }
    let Some(manifest) = manifests.first() else {
        return;
    };
    let listed = all_listed(manifests);
    for other in contents.tags.keys().copied() {
        if other != name && !listed.contains(other) {
            let words = format!("{name} does not list it, and nothing may be added to a sealed job");
            findings.fault(FaultKind::Extra, other, words);
        }
    }
    // What was altered, added or taken away would be told a second time.
    if findings.faults.is_empty() {
        as_written(manifest, findings);
    }
}

/// Tells a manifest of a bag that was sealed here, and is not byte for byte as it is written here, unless something is
/// already told of it.
pub fn as_written(manifest: &Manifest, findings: &mut Findings) {
    if !manifest.is_ours && findings.faults.iter().all(|fault| fault.path != manifest.name) {
        let words = "it is not byte for byte as it was written: a letter, a blank or the order was changed";
        findings.fault(FaultKind::Malformed, &manifest.name, words);
    }
}

fn all_listed(manifests: &[Manifest]) -> BTreeSet<&str> {
    let lines = manifests.iter().flat_map(|manifest| &manifest.listed);
    lines.map(|line| line.path.as_str()).collect()
}
