//! Which file a line of a manifest means, where disks and programs have rewritten its name.

use std::collections::{BTreeMap, BTreeSet};

use unicode_normalization::UnicodeNormalization;

use super::contents::Contents;
use super::fault::Findings;
use super::manifest::Manifest;
use crate::name::{folded, shown};

/// Settles the paths of payload manifests of a foreign bag. A path that is not there is taken for the file whose name was
/// written with other codes, or with its accents apart, and that is noted. Two lines that name one file are told, and the
/// one that is not there is left out.
pub fn settle(contents: &Contents<'_>, manifests: &mut [Manifest], findings: &mut Findings) {
    let is_there = |path: &str| contents.payload.contains_key(path);
    if manifests
        .iter()
        .all(|m| m.listed.iter().all(|l| is_there(&l.path)))
    {
        return;
    }
    let mut by_form: BTreeMap<String, Vec<&str>> = BTreeMap::new();
    for path in contents.payload.keys() {
        by_form.entry(folded(path)).or_default().push(path);
    }
    for manifest in manifests {
        let (mut listed, absent): (Vec<_>, Vec<_>) = std::mem::take(&mut manifest.listed)
            .into_iter()
            .partition(|line| is_there(&line.path));
        let mut taken: BTreeSet<String> = listed.iter().map(|line| line.path.clone()).collect();
        let mut wrong = Vec::new();
        for mut line in absent {
            let alike = by_form
                .get(&folded(&line.path))
                .map(Vec::as_slice)
                .unwrap_or_default();
            let composed: String = line.path.nfc().collect();
            let other = alike.iter().find(|path| path.nfc().eq(composed.chars()));
            let meant = if is_there(&line.written) {
                Some(line.written.clone())
            } else {
                other.map(|path| (*path).to_string())
            };
            if let Some(twin) = alike.iter().find(|path| taken.contains(**path)) {
                wrong.push(format!(
                    "line {} lists \"{}\", and another line \"{}\": they differ in form only, and one file is there",
                    line.line,
                    shown(&line.path),
                    shown(twin)
                ));
                continue;
            }
            if let Some(path) = meant.filter(|path| !taken.contains(path)) {
                findings.note(format!(
                    "{} line {} writes the name of \"{}\" in another form than the disk",
                    manifest.name,
                    line.line,
                    shown(&path)
                ));
                taken.insert(path.clone());
                line.path = path;
            }
            listed.push(line);
        }
        findings.lines(&manifest.name, &wrong);
        manifest.listed = listed;
    }
}
