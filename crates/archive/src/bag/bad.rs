//! Foreign bags that are not as they must be, after the kinds of the public conformance suite for BagIt 0.97 and 1.0.

use super::FaultKind::{self, Altered, Extra, Malformed, Missing, NotRead, Renamed};
use super::check;
use super::made::{Files, MemoryTree, append, bag, checked, edit, list, put, rename, tag, told, value};
use crate::fingerprint::Algorithm;

const MANIFEST: &str = "manifest-md5.txt";
const TAGS: &str = "tagmanifest-md5.txt";

/// What comes of a line that can't be read.
const ONE_LOST: &[(FaultKind, &str)] = &[(Extra, "data/a.txt"), (Malformed, MANIFEST)];

/// What is done to a whole bag, and which faults of which files must come of it, no more and no fewer.
type Case = (fn(&mut Files), &'static [(FaultKind, &'static str)]);

fn hold(version: &str, cases: &[Case], are_tags_renewed: bool) {
    for (number, (spoil, expected)) in cases.iter().enumerate() {
        let mut files = bag(version);
        spoil(&mut files);
        if are_tags_renewed {
            tag(&mut files, Algorithm::Md5);
        }
        let checked = checked(&files);
        assert_eq!(told(&checked), *expected, "case {number}: {:?}", checked.faults);
    }
}

#[test]
fn a_spoilt_declaration_is_told() {
    let cases: [Case; 8] = [
        (|f| drop(f.remove("bagit.txt")), &[(Missing, "bagit.txt")]),
        (|f| edit(f, "bagit.txt", "1.0", "2.0"), &[(NotRead, "bagit.txt")]),
        (
            |f| edit(f, "bagit.txt", "Version:", "Version :"),
            &[(Malformed, "bagit.txt")],
        ),
        (
            |f| edit(f, "bagit.txt", "UTF-8", "UTF-8 "),
            &[(Malformed, "bagit.txt")],
        ),
        (
            |f| edit(f, "bagit.txt", "BagIt-", "\u{FEFF}BagIt-"),
            &[(Malformed, "bagit.txt")],
        ),
        (|f| append(f, "bagit.txt", "more\n"), &[(Malformed, "bagit.txt")]),
        (
            |f| put(f, "bagit.txt", "BagIt-Version: 1.0\n"),
            &[(Malformed, "bagit.txt")],
        ),
        (
            |f| edit(f, "bagit.txt", "UTF-8", "UTF-16"),
            &[(NotRead, "bagit.txt")],
        ),
    ];
    hold("1.0", &cases, true);
}

#[test]
fn tag_files_in_another_encoding_are_left_alone() {
    let mut files = bag("0.97");
    edit(&mut files, "bagit.txt", "UTF-8", "UTF-16");
    for name in ["bag-info.txt", MANIFEST, TAGS] {
        let text = String::from_utf8(files[name].clone()).unwrap();
        let wide = text.encode_utf16().flat_map(u16::to_be_bytes).collect();
        files.insert(name.to_string(), wide);
    }
    let checked = checked(&files);
    assert_eq!(told(&checked), [(NotRead, "bagit.txt")]);
    assert!(checked.faults[0].words.contains("reads UTF-8 only"));
    assert_eq!((checked.files, checked.notes.len()), (2, 1));
}

#[test]
fn a_spoilt_payload_is_told() {
    let cases: [Case; 6] = [
        (|f| drop(f.remove("data/a.txt")), &[(Missing, "data/a.txt")]),
        (|f| put(f, "data/new.txt", "x"), &[(Extra, "data/new.txt")]),
        (|f| put(f, "data/a.txt", "First\n"), &[(Altered, "data/a.txt")]),
        (
            |f| rename(f, "data/a.txt", "data/c.txt"),
            &[(Renamed, "data/a.txt")],
        ),
        (
            |f| rename(f, "data/a.txt", "data/A.TXT"),
            &[(Renamed, "data/a.txt")],
        ),
        (
            |f| {
                drop(f.remove("data/a.txt"));
                put(f, "data/sub/b.txt", "");
                put(f, "data/c.txt", "third\n");
            },
            &[
                (Altered, "data/sub/b.txt"),
                (Missing, "data/a.txt"),
                (Extra, "data/c.txt"),
            ],
        ),
    ];
    hold("1.0", &cases, true);
    hold("0.97", &cases, true);
}

#[test]
fn a_spoilt_manifest_is_told() {
    let cases: [Case; 15] = [
        (|f| drop(f.remove(MANIFEST)), &[(Missing, "manifest-sha256.txt")]),
        (
            |f| rename(f, MANIFEST, "manifest-sha224.txt"),
            &[(NotRead, "manifest-sha224.txt")],
        ),
        (
            |f| drop(f.insert(MANIFEST.into(), vec![0xFF, 0xFE])),
            &[(NotRead, MANIFEST)],
        ),
        (|f| edit(f, MANIFEST, "data/a", "data/../a"), ONE_LOST),
        (|f| edit(f, MANIFEST, "data/a", "../data/a"), ONE_LOST),
        (|f| edit(f, MANIFEST, "data/a", "/data/a"), ONE_LOST),
        (|f| edit(f, MANIFEST, "data/a", "C:/data/a"), ONE_LOST),
        (|f| edit(f, MANIFEST, "data/a", "~/data/a"), ONE_LOST),
        (|f| edit(f, MANIFEST, "data/a", "a"), ONE_LOST),
        (|f| edit(f, MANIFEST, " data/a", "0 data/a"), ONE_LOST),
        (|f| edit(f, MANIFEST, " data/a", "data/a"), ONE_LOST),
        (
            |f| edit(f, MANIFEST, "data/a", "data/A"),
            &[(Renamed, "data/A.txt")],
        ),
        (
            |f| {
                let line = format!("{}  data/a.txt\n", value(Algorithm::Md5, b"first\n"));
                append(f, MANIFEST, &line);
            },
            &[(Malformed, MANIFEST)],
        ),
        (
            |f| {
                let line = format!("{}  bag-info.txt\n", value(Algorithm::Md5, b"x"));
                append(f, MANIFEST, &line);
            },
            &[(Malformed, MANIFEST)],
        ),
        (
            |f| {
                let line = format!("{}  data/A.txt\n", value(Algorithm::Md5, b"first\n"));
                append(f, MANIFEST, &line);
            },
            &[(Malformed, MANIFEST)],
        ),
    ];
    hold("1.0", &cases, true);
    hold("0.97", &cases, true);
    let only_from_1_0_on: [Case; 3] = [
        (|f| edit(f, MANIFEST, "data/a", "*data/a"), ONE_LOST),
        (|f| edit(f, MANIFEST, "data/a", "./data/a"), ONE_LOST),
        (
            |f| {
                list(f, Algorithm::Sha1);
                edit(f, "manifest-sha1.txt", &value(Algorithm::Sha1, b"first\n"), "");
                edit(f, "manifest-sha1.txt", " data/a.txt\n", "");
            },
            &[(Extra, "data/a.txt")],
        ),
    ];
    hold("1.0", &only_from_1_0_on, true);
    let sound = only_from_1_0_on.map(|(spoil, _)| -> Case { (spoil, &[]) });
    hold("0.97", &sound, true);
}

#[test]
fn every_manifest_is_compared() {
    let mut files = bag("1.0");
    list(&mut files, Algorithm::Sha512);
    let right = value(Algorithm::Sha512, b"first\n");
    edit(
        &mut files,
        "manifest-sha512.txt",
        &right,
        &value(Algorithm::Sha512, b"other\n"),
    );
    tag(&mut files, Algorithm::Md5);
    let checked = checked(&files);
    assert_eq!(told(&checked), [(Altered, "data/a.txt")]);
    assert!(checked.faults[0].words.contains("manifest-sha512.txt"));
}

#[test]
fn spoilt_labels_and_amounts_are_told() {
    let cases: [Case; 5] = [
        (
            |f| edit(f, "bag-info.txt", "12.2", "13.2"),
            &[(Altered, "bag-info.txt")],
        ),
        (
            |f| edit(f, "bag-info.txt", "12.2", "12.3"),
            &[(Altered, "bag-info.txt")],
        ),
        (
            |f| edit(f, "bag-info.txt", "12.2", "12"),
            &[(Malformed, "bag-info.txt")],
        ),
        (
            |f| append(f, "bag-info.txt", "Payload-Oxum: 12.2\n"),
            &[(Malformed, "bag-info.txt")],
        ),
        (
            |f| append(f, "bag-info.txt", "no colon\n"),
            &[(Malformed, "bag-info.txt")],
        ),
    ];
    hold("1.0", &cases, true);
    hold("0.97", &cases, true);
}

#[test]
fn files_to_be_fetched_are_not_fetched() {
    let cases: [Case; 4] = [
        (
            |f| {
                drop(f.remove("data/a.txt"));
                put(f, "fetch.txt", "http://a.example/a 6 data/a.txt\n");
            },
            &[(Missing, "data/a.txt")],
        ),
        (
            |f| put(f, "fetch.txt", "http://a.example/c - data/c.txt\n"),
            &[(Malformed, "fetch.txt")],
        ),
        (
            |f| put(f, "fetch.txt", "http://a.example/b 6 bagit.txt\n"),
            &[(Malformed, "fetch.txt")],
        ),
        (
            |f| put(f, "fetch.txt", "http://a.example/b data/a.txt\n"),
            &[(Malformed, "fetch.txt")],
        ),
    ];
    hold("1.0", &cases, true);
    let mut files = bag("1.0");
    (cases[0].0)(&mut files);
    assert!(checked(&files).faults[0].words.contains("goes to no network"));
}

#[test]
fn spoilt_tag_files_are_told() {
    let cases: [Case; 7] = [
        (
            |f| edit(f, "bag-info.txt", "A Shop", "B Shop"),
            &[(Altered, "bag-info.txt")],
        ),
        (|f| drop(f.remove("bag-info.txt")), &[(Missing, "bag-info.txt")]),
        (|f| drop(f.remove("bagit.txt")), &[(Missing, "bagit.txt")]),
        (
            |f| edit(f, MANIFEST, "data/a.txt\n", "data/a.txt\r\n"),
            &[(Altered, MANIFEST)],
        ),
        (
            |f| edit(f, TAGS, "bagit.txt", "../bagit.txt"),
            &[(Malformed, TAGS)],
        ),
        (|f| edit(f, TAGS, "bagit.txt", "data/a.txt"), &[(Malformed, TAGS)]),
        (|f| edit(f, TAGS, "bagit.txt", "bag.txt"), &[(Missing, "bag.txt")]),
    ];
    hold("1.0", &cases, false);
    hold("0.97", &cases, false);
    let only_from_1_0_on: [Case; 2] = [
        (
            |f| {
                let line = format!("{} {MANIFEST}\n", value(Algorithm::Md5, &f[MANIFEST]));
                edit(f, TAGS, &line, "");
            },
            &[(Malformed, TAGS)],
        ),
        (
            |f| append(f, TAGS, &format!("{} {TAGS}\n", value(Algorithm::Md5, b"x"))),
            &[(Malformed, TAGS)],
        ),
    ];
    hold("1.0", &only_from_1_0_on, false);
}

#[test]
fn a_folder_that_is_no_bag_is_an_error() {
    let mut files = Files::new();
    assert!(check(&MemoryTree::of(files.clone())).is_err());
    put(&mut files, "scan.ply", "ply\n");
    let error = check(&MemoryTree::of(files)).unwrap_err();
    assert!(error.to_string().starts_with("memory: it is no bag"), "{error}");
}
