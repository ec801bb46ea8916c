//! The files in `data/` against the manifests: altered, missing, extra, renamed.

use std::collections::{BTreeMap, BTreeSet, VecDeque};

use super::contents::Contents;
use super::fault::{FaultKind, Findings};
use super::fetch::FETCH;
use super::hashed::{self, Values};
use super::manifest::Manifest;
use crate::fingerprint::Algorithm;
use crate::name::shown;

/// For each path that is listed, the manifests that list it and their values.
type ByPath<'m> = BTreeMap<&'m str, Vec<(&'m Manifest, &'m str)>>;

/// Compares the payload with its manifests, of which there is at least one. `to_fetch` is what `fetch.txt` lists. With
/// `is_strict` every manifest must list every file, as from 1.0 on.
pub fn compare(
    contents: &Contents<'_>,
    manifests: &[Manifest],
    to_fetch: &BTreeMap<String, usize>,
    is_strict: bool,
    findings: &mut Findings,
) {
    let mut listed: ByPath<'_> = BTreeMap::new();
    for manifest in manifests {
        for line in &manifest.listed {
            let lines = listed.entry(line.path.as_str()).or_default();
            lines.push((manifest, line.value.as_str()));
        }
    }
    let is_there = |path: &str| contents.payload.contains_key(path);
    let missing: Vec<&str> = listed.keys().copied().filter(|path| !is_there(path)).collect();
    let unlisted: Vec<&str> = contents
        .payload
        .keys()
        .copied()
        .filter(|path| !listed.contains_key(path))
        .collect();
    // What is extra is hashed only to be known again under its old name.
    let maybe_renamed: &[&str] = if missing.is_empty() { &[] } else { &unlisted };
    let values = values_of(contents, manifests, &listed, maybe_renamed);
    for (path, lines) in listed.iter().filter(|(path, _)| is_there(path)) {
        altered(path, lines, &values, findings);
        if is_strict && lines.len() < manifests.len() {
            findings.fault(FaultKind::Extra, path, only_in(lines, manifests));
        }
    }
    let mut known = Known::of(maybe_renamed, &values);
    for path in missing {
        let words = if to_fetch.contains_key(path) {
            format!(
                "it is not there: {FETCH} has it fetched from elsewhere, and this program goes to no network"
            )
        } else if let Some(now) = known.take(&listed[path]) {
            let words = format!(
                "it is not there; its bytes are in \"{}\", which no manifest lists",
                shown(now)
            );
            findings.fault(FaultKind::Renamed, path, words);
            findings.renamed.insert(now.to_string(), path.to_string());
            continue;
        } else {
            format!("it is not there, and {} lists it", names(&listed[path]))
        };
        findings.fault(FaultKind::Missing, path, words);
    }
    for path in unlisted.iter().filter(|path| !known.taken.contains(*path)) {
        findings.fault(FaultKind::Extra, path, "no manifest lists it");
    }
    for (path, line) in to_fetch {
        if !is_there(path) && !listed.contains_key(path.as_str()) {
            let words = format!("line {line} lists \"{}\", and no manifest does", shown(path));
            findings.fault(FaultKind::Malformed, FETCH, words);
        }
    }
}

fn values_of<'m>(
    contents: &Contents<'m>,
    manifests: &[Manifest],
    listed: &ByPath<'m>,
    maybe_renamed: &[&'m str],
) -> Values<'m> {
    let mut wanted: Vec<(&str, Algorithm)> = Vec::new();
    for (path, lines) in listed {
        if contents.payload.contains_key(path) {
            wanted.extend(lines.iter().map(|(manifest, _)| (*path, manifest.algorithm)));
        }
    }
    for path in maybe_renamed {
        wanted.extend(manifests.iter().map(|manifest| (*path, manifest.algorithm)));
    }
    wanted.sort_unstable();
    wanted.dedup();
    let bytes = wanted.iter().filter_map(|(path, _)| contents.payload.get(path));
    let bytes = bytes.fold(0_u64, |sum, bytes| sum.saturating_add(*bytes));
    hashed::values(contents.tree, &wanted, bytes)
}

fn altered(path: &str, lines: &[(&Manifest, &str)], values: &Values<'_>, findings: &mut Findings) {
    let mut against = Vec::new();
    for (manifest, value) in lines {
        match values.get(&(path, manifest.algorithm)) {
            Some(Ok(found)) if found == value => {}
            Some(Ok(_)) => against.push(manifest.name.as_str()),
            Some(Err(e)) => return findings.fault(FaultKind::NotRead, path, e.to_string()),
            None => return findings.fault(FaultKind::NotRead, path, "reading it broke off"),
        }
    }
    if !against.is_empty() {
        let words = format!("its bytes are not those that {} lists", against.join(" and "));
        findings.fault(FaultKind::Altered, path, words);
    }
}

fn names(lines: &[(&Manifest, &str)]) -> String {
    let names: Vec<&str> = lines.iter().map(|(manifest, _)| manifest.name.as_str()).collect();
    names.join(" and ")
}

fn only_in(lines: &[(&Manifest, &str)], manifests: &[Manifest]) -> String {
    let lacking = manifests
        .iter()
        .filter(|manifest| lines.iter().all(|(other, _)| other.name != manifest.name));
    let lacking: Vec<&str> = lacking.map(|manifest| manifest.name.as_str()).collect();
    format!(
        "{} lists it and {} does not; every manifest must list every file",
        names(lines),
        lacking.join(" and ")
    )
}

/// Files that no manifest lists, by their values.
struct Known<'a> {
    by_value: BTreeMap<(Algorithm, &'a str), VecDeque<&'a str>>,
    taken: BTreeSet<&'a str>,
}

impl<'a> Known<'a> {
    fn of(unlisted: &[&'a str], values: &'a Values<'a>) -> Self {
        let mut by_value: BTreeMap<(Algorithm, &'a str), VecDeque<&'a str>> = BTreeMap::new();
        for path in unlisted {
            for algorithm in Algorithm::ALL {
                if let Some(Ok(value)) = values.get(&(*path, algorithm)) {
                    by_value
                        .entry((algorithm, value.as_str()))
                        .or_default()
                        .push_back(*path);
                }
            }
        }
        Self {
            by_value,
            taken: BTreeSet::new(),
        }
    }

    /// The first file, not yet taken, that has the bytes of a missing one.
    fn take(&mut self, lines: &[(&'a Manifest, &'a str)]) -> Option<&'a str> {
        for (manifest, value) in lines {
            let Some(paths) = self.by_value.get_mut(&(manifest.algorithm, *value)) else {
                continue;
            };
            while let Some(path) = paths.pop_front() {
                if self.taken.insert(path) {
                    return Some(path);
                }
            }
        }
        None
    }
}
