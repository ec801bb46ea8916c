//! What a sealed job must show: every bit that is flipped, every file that is taken away, added or renamed.

use super::FaultKind;
use super::made::{Files, checked, contents, put, rename, sealed, told};

/// The files that a fault of `path` may be told of: itself, and what it lists.
fn may_be_named(files: &Files, path: &str) -> Vec<String> {
    let mut names = vec![path.to_string()];
    if path.contains("manifest-") {
        let is_payload = path.starts_with("manifest-");
        names.extend(
            files
                .keys()
                .filter(|name| name.starts_with("data/") == is_payload)
                .cloned(),
        );
    }
    names
}

#[test]
fn what_was_sealed_is_whole() {
    let checked = checked(&sealed());
    assert!(checked.faults.is_empty(), "{:?}", checked.faults);
    assert_eq!(checked.notes, [""; 0]);
    assert_eq!(checked.version.unwrap().to_string(), "1.0");
    assert_eq!((checked.files, checked.algorithms.len()), (3, 1));
    assert!(checked.info.contains(&("Job".to_string(), "17".to_string())));
}

fn every_flipped_bit_is_found(are_meant: impl Fn(&str) -> bool) {
    let whole = sealed();
    let mut files = whole.clone();
    for (path, bytes) in whole.iter().filter(|(path, _)| are_meant(path)) {
        let names = may_be_named(&whole, path);
        for at in 0..bytes.len() {
            for bit in 0..8 {
                files.get_mut(path).unwrap()[at] ^= 1 << bit;
                let faults = checked(&files).faults;
                let is_named = faults.iter().any(|fault| names.contains(&fault.path));
                assert!(is_named, "{path} byte {at} bit {bit}: {faults:?}");
                assert!(faults.len() <= 3, "{path} byte {at} bit {bit}: {faults:?}");
                files.get_mut(path).unwrap()[at] ^= 1 << bit;
            }
        }
    }
    assert_eq!(files, whole);
}

// In parts, so that they run side by side; together they are every file of the bag.
#[test]
fn every_flipped_bit_of_the_payload_and_the_declarations_is_found() {
    every_flipped_bit_is_found(|path| !path.contains("manifest-"));
}

#[test]
fn every_flipped_bit_of_the_manifest_is_found() {
    every_flipped_bit_is_found(|path| path.starts_with("manifest-"));
}

#[test]
fn every_flipped_bit_of_the_tag_manifest_is_found() {
    every_flipped_bit_is_found(|path| path.starts_with("tagmanifest-"));
}

#[test]
fn every_byte_taken_away_or_added_is_found() {
    let whole = sealed();
    for (path, bytes) in &whole {
        for at in [0, bytes.len() / 2, bytes.len() - 1] {
            let mut files = whole.clone();
            files.get_mut(path).unwrap().remove(at);
            assert!(!checked(&files).faults.is_empty(), "{path} without byte {at}");
            for byte in *b"a \n\r\t" {
                let mut files = whole.clone();
                files.get_mut(path).unwrap().insert(at, byte);
                assert!(!checked(&files).faults.is_empty(), "{path} with {byte} at {at}");
            }
        }
        let mut files = whole.clone();
        files.get_mut(path).unwrap().clear();
        assert!(!checked(&files).faults.is_empty(), "{path} emptied");
    }
}

#[test]
fn every_file_taken_away_is_missing() {
    let whole = sealed();
    for path in whole.keys() {
        let mut files = whole.clone();
        files.remove(path);
        assert_eq!(told(&checked(&files)), [(FaultKind::Missing, path.as_str())]);
    }
}

#[test]
fn every_file_added_is_extra() {
    for path in [
        "data/new.txt",
        "data/sets/new/deep.txt",
        "notes.txt",
        "meta/notes.xml",
        "fetch.txt",
        "manifest-md5.txt",
        "manifest-sha224.txt",
        "tagmanifest-md5.txt",
        "package-info.txt",
        ".hidden",
    ] {
        let mut files = sealed();
        put(&mut files, path, "x\n");
        assert_eq!(told(&checked(&files)), [(FaultKind::Extra, path)]);
    }
}

#[test]
fn every_file_renamed_is_told_by_both_names() {
    for path in contents().keys() {
        let (old, new) = (format!("data/{path}"), format!("data/{path}.bak"));
        let mut files = sealed();
        rename(&mut files, &old, &new);
        let checked = checked(&files);
        assert_eq!(told(&checked), [(FaultKind::Renamed, old.as_str())]);
        assert!(checked.faults[0].words.contains(&new));
        assert_eq!(checked.renamed[&new], old);
    }
    for path in [
        "bagit.txt",
        "bag-info.txt",
        "manifest-sha256.txt",
        "tagmanifest-sha256.txt",
    ] {
        let mut files = sealed();
        rename(&mut files, path, &format!("old-{path}"));
        assert!(told(&checked(&files)).contains(&(FaultKind::Missing, path)));
    }
}

#[test]
fn two_files_exchanged_are_altered() {
    let mut files = sealed();
    rename(&mut files, "data/job.toml", "data/x");
    rename(&mut files, "data/results/a.csv", "data/job.toml");
    rename(&mut files, "data/x", "data/results/a.csv");
    let altered = [
        (FaultKind::Altered, "data/job.toml"),
        (FaultKind::Altered, "data/results/a.csv"),
    ];
    assert_eq!(told(&checked(&files)), altered);
}
