//! Checks a bag: is every file there, unchanged, and nothing besides? (RFC 8493, 3)

use std::collections::BTreeMap;

use super::contents::Contents;
use super::declaration::{self, DECLARATION, Declaration, Version};
use super::fault::{Fault, FaultKind, Findings};
use super::fetch::{self, FETCH};
use super::info::{self, Amount, INFO, INFO_ONCE};
use super::manifest::{self, Lists, Manifest};
use super::path::PAYLOAD;
use super::{payload, settle, tags};
use crate::ArchiveError;
use crate::fingerprint::Algorithm;
use crate::name::{self, shown};
use crate::tree::Tree;

/// How the agent of a bag that was sealed here begins.
const OURS: &str = "witnessmark ";

/// What a bag is, and what is wrong with it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Checked {
    /// The version it is written in, where that is a known one.
    pub version: Option<Version>,
    /// The hashes that its files were held to.
    pub algorithms: Vec<Algorithm>,
    /// Files in `data/`.
    pub files: u64,
    /// Bytes in `data/`.
    pub bytes: u64,
    /// Labels and values of `bag-info.txt` in their order.
    pub info: Vec<(String, String)>,
    /// What is wrong, sorted by kind and path. Empty where every file is there, unchanged, and nothing besides.
    pub faults: Vec<Fault>,
    /// What is worth knowing, and not wrong.
    pub notes: Vec<String>,
    /// Files that are there under another name, each with the name under which it is listed.
    pub renamed: BTreeMap<String, String>,
}

/// Checks a bag, foreign or sealed here. One that was sealed here is held to more: any bit that was changed, and any file
/// that was added, is a fault.
///
/// # Errors
/// Where nothing there makes it a bag. A file that can't be read is a fault.
pub fn check(bag: &dyn Tree) -> Result<Checked, ArchiveError> {
    let contents = Contents::of(bag)?;
    let mut findings = Findings::default();
    let declaration = declared(&contents, &mut findings);
    // RFC 8493, 2.1.2: there is one, though it may be empty.
    if !bag.has_folder(PAYLOAD.trim_end_matches('/')) {
        findings.fault(
            FaultKind::Missing,
            PAYLOAD,
            "the folder of the payload is not there",
        );
    }
    let (mut info, mut algorithms) = (Vec::new(), Vec::new());
    if declaration.is_utf8 || is_plain(&contents) {
        (info, algorithms) = look_into(&contents, declaration.version, &mut findings);
    } else {
        findings.note("nothing else was looked at");
    }
    let there = amount_of(&contents);
    let findings = findings.sorted();
    Ok(Checked {
        version: declaration.version,
        algorithms,
        files: there.files,
        bytes: there.bytes,
        info,
        faults: findings.faults,
        notes: findings.notes,
        renamed: findings.renamed,
    })
}

fn declared(contents: &Contents<'_>, findings: &mut Findings) -> Declaration {
    if !contents.tags.contains_key(DECLARATION) {
        let words = "it is not there, so nothing says which version of BagIt this is";
        findings.fault(FaultKind::Missing, DECLARATION, words);
    }
    match contents.read(DECLARATION, findings) {
        Some(bytes) => declaration::read(&bytes, findings),
        None => declaration::NOTHING,
    }
}

/// Can the manifests be read though another encoding is declared? Then the word is wrong or makes no difference.
fn is_plain(contents: &Contents<'_>) -> bool {
    let mut manifests = contents
        .tags
        .keys()
        .filter(|name| Lists::Payload.word_in(name).is_some());
    manifests.all(|name| {
        let bytes = contents.bytes(name);
        bytes.is_ok_and(|bytes| !bytes.contains(&0) && std::str::from_utf8(&bytes).is_ok())
    })
}

type Pairs = Vec<(String, String)>;

fn look_into(
    contents: &Contents<'_>,
    version: Option<Version>,
    findings: &mut Findings,
) -> (Pairs, Vec<Algorithm>) {
    let is_from_1_0 = version.is_some_and(|version| version >= Version::RFC);
    let (info_name, info) = info_of(contents, is_from_1_0, findings);
    let is_ours = info::values(&info, info::AGENT).any(|agent| agent.starts_with(OURS));
    let is_strict = is_ours || is_from_1_0;
    let tag_manifests = manifests_of(contents, Lists::Tags, is_ours, is_strict, findings);
    let mut manifests = manifests_of(contents, Lists::Payload, is_ours, is_strict, findings);
    tags::compare(contents, &tag_manifests, is_strict, findings);
    if is_ours {
        tags::all_of_it(contents, &tag_manifests, findings);
        for manifest in &manifests {
            tags::as_written(manifest, findings);
        }
    } else {
        tags::left_open(contents, &tag_manifests, is_strict, findings);
        settle::settle(contents, &mut manifests, findings);
    }
    if manifests.is_empty() {
        without_manifest(contents, findings);
    } else {
        let to_fetch = contents.read(FETCH, findings).filter(|_| !is_ours);
        let to_fetch = to_fetch
            .map(|bytes| fetch::read(&bytes, findings))
            .unwrap_or_default();
        payload::compare(contents, &manifests, &to_fetch, is_strict, findings);
    }
    amount_told(contents, info_name, &info, findings);
    one_name_each(contents, findings);
    let mut algorithms: Vec<Algorithm> = manifests.iter().map(|manifest| manifest.algorithm).collect();
    algorithms.sort_unstable();
    algorithms.dedup();
    (info, algorithms)
}

fn info_of(contents: &Contents<'_>, is_strict: bool, findings: &mut Findings) -> (&'static str, Pairs) {
    let is_old = !contents.tags.contains_key(INFO) && contents.tags.contains_key(INFO_ONCE);
    let name = if is_old { INFO_ONCE } else { INFO };
    let bytes = contents.read(name, findings);
    let pairs = bytes.map(|bytes| info::read(name, &bytes, is_strict, findings));
    (name, pairs.unwrap_or_default())
}

/// The manifests of a kind that can be read here. Of a bag that was sealed here only the one that it was sealed with.
fn manifests_of(
    contents: &Contents<'_>,
    lists: Lists,
    is_ours: bool,
    is_strict: bool,
    findings: &mut Findings,
) -> Vec<Manifest> {
    let mut manifests = Vec::new();
    for name in contents.tags.keys().copied() {
        let Some(word) = lists.word_in(name) else {
            continue;
        };
        if is_ours && name != lists.name(Algorithm::Sha256) {
            continue;
        }
        let Some(algorithm) = manifest::algorithm_of(word) else {
            findings.note(format!("{} was not used: {KNOWN}", shown(name)));
            continue;
        };
        let bytes = contents.read(name, findings);
        manifests.extend(bytes.and_then(|bytes| {
            let file = (name, bytes.as_slice());
            manifest::read(file, algorithm, lists, is_strict, findings)
        }));
    }
    manifests
}

const KNOWN: &str = "this program knows md5, sha1, sha256 and sha512";

/// Says why there is no payload manifest, where that is not yet told.
fn without_manifest(contents: &Contents<'_>, findings: &mut Findings) {
    let mut has_any = false;
    for name in contents.tags.keys().copied() {
        let Some(word) = Lists::Payload.word_in(name) else {
            continue;
        };
        has_any = true;
        if manifest::algorithm_of(word).is_none() {
            findings.fault(
                FaultKind::NotRead,
                name,
                format!("nothing was compared with it: {KNOWN}"),
            );
        }
    }
    let is_told = |fault: &Fault| Lists::Payload.word_in(&fault.path).is_some();
    if !has_any && !findings.faults.iter().any(is_told) {
        let words = "there is no manifest, so nothing says what the files in data/ should be";
        findings.fault(FaultKind::Missing, &Lists::Payload.name(Algorithm::Sha256), words);
    }
}

fn amount_of(contents: &Contents<'_>) -> Amount {
    let sizes = contents.payload.values();
    Amount {
        bytes: sizes.fold(0_u64, |sum, bytes| sum.saturating_add(*bytes)),
        files: contents.payload.len() as u64,
    }
}

/// Tells an amount that disagrees, unless a fault of the payload already says why.
fn amount_told(contents: &Contents<'_>, info_name: &str, info: &[(String, String)], findings: &mut Findings) {
    let told = match info::amount(info) {
        Ok(told) => told,
        Err(words) => return findings.fault(FaultKind::Malformed, info_name, words),
    };
    let there = amount_of(contents);
    let is_explained = findings
        .faults
        .iter()
        .any(|fault| fault.path.starts_with(PAYLOAD));
    if let Some(told) = told.filter(|told| *told != there && !is_explained) {
        let words = format!(
            "{} says {} bytes in {} files, and there are {} in {}",
            info::OXUM,
            told.bytes,
            told.files,
            there.bytes,
            there.files
        );
        findings.fault(FaultKind::Altered, info_name, words);
    }
}

/// Notes names that would fall together on another disk, and tells a file in the place of the payload's folder.
fn one_name_each(contents: &Contents<'_>, findings: &mut Findings) {
    let folder = PAYLOAD.trim_end_matches('/');
    if contents.tags.contains_key(folder) {
        findings.fault(FaultKind::Malformed, folder, "it is a file, and must be a folder");
    }
    let paths = contents.payload.keys().chain(contents.tags.keys()).copied();
    if let Some((a, b)) = name::first_alike(paths) {
        let (a, b) = (shown(&a), shown(&b));
        findings.note(format!(
            "\"{a}\" and \"{b}\" fall together on a Windows or macOS disk"
        ));
    }
}
