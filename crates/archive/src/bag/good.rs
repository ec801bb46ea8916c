//! Foreign bags that are as they may be, after the kinds of the public conformance suite for BagIt 0.93 to 1.0.

use super::Checked;
use super::made::{Files, append, bag, checked, edit, list, put, rename, tag, value};
use crate::fingerprint::Algorithm;

/// What is done to a bag, and that it leaves it whole.
fn whole(version: &str, change: impl Fn(&mut Files)) -> Checked {
    let mut files = bag(version);
    change(&mut files);
    tag(&mut files, Algorithm::Md5);
    let checked = checked(&files);
    assert!(checked.faults.is_empty(), "{version}: {:?}", checked.faults);
    checked
}

/// Lists the payload anew, and says nothing of its amount.
fn relist(files: &mut Files) {
    edit(files, "bag-info.txt", "Payload-Oxum: 12.2\n", "");
    list(files, Algorithm::Md5);
}

#[test]
fn every_known_version_is_read() {
    for version in ["0.93", "0.94", "0.95", "0.96", "0.97", "1.0"] {
        let checked = whole(version, |_| ());
        assert_eq!(checked.version.unwrap().to_string(), version);
        assert_eq!((checked.files, checked.bytes), (2, 12));
        assert_eq!(checked.algorithms, [Algorithm::Md5]);
        assert!(checked.notes.is_empty());
    }
    let checked = whole("0.93", |files| rename(files, "bag-info.txt", "package-info.txt"));
    assert_eq!(checked.info.len(), 2);
}

// The layout of the example in RFC 8493, 4.1.
#[test]
fn the_published_layout_is_read() {
    let mut files = Files::new();
    put(
        &mut files,
        "bagit.txt",
        "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n",
    );
    put(&mut files, "data/27613-h/images/q172.png", "a picture");
    put(&mut files, "data/27613-h/images/q172.txt", "its words");
    list(&mut files, Algorithm::Md5);
    let checked = checked(&files);
    assert!(checked.faults.is_empty(), "{:?}", checked.faults);
    assert_eq!(
        (checked.files, checked.info.len(), checked.notes.len()),
        (2, 0, 1)
    );
}

#[test]
fn several_manifests_may_list_the_payload() {
    let checked = whole("1.0", |files| {
        for algorithm in Algorithm::ALL {
            list(files, algorithm);
        }
        tag(files, Algorithm::Sha512);
    });
    assert_eq!(checked.algorithms, Algorithm::ALL);
    let checked = whole("1.0", |files| put(files, "manifest-sha224.txt", "unknown\n"));
    assert!(checked.notes[0].contains("manifest-sha224.txt was not used"));
}

#[test]
fn names_may_hold_what_a_disk_holds() {
    for name in [
        "data/a b/c  d/e.txt",
        "data/100%.txt",
        "data/a%0Ab",
        "data/one\ntwo.txt",
        "data/~x",
        "data/x:y?*",
    ] {
        whole("1.0", |files| {
            put(files, name, "x");
            relist(files);
        });
    }
}

// Programs that know nothing of the codes write the character itself.
#[test]
fn a_percent_sign_may_stand_for_itself() {
    for (path, written) in [("data/100%.txt", "data/100%.txt"), ("data/a%25b", "data/a%25b")] {
        whole("0.97", |files| {
            put(files, path, "x");
            edit(files, "bag-info.txt", "12.2", "13.3");
            append(
                files,
                "manifest-md5.txt",
                &format!("{} {written}\n", value(Algorithm::Md5, b"x")),
            );
        });
    }
}

#[test]
fn lines_may_be_written_otherwise() {
    whole("1.0", |files| edit(files, "manifest-md5.txt", "\n", "\r\n"));
    whole("1.0", |files| edit(files, "manifest-md5.txt", "\n", "\r"));
    whole("1.0", |files| edit(files, "manifest-md5.txt", " ", " \t "));
    whole("1.0", |files| edit(files, "bagit.txt", "\n", "\r\n"));
    whole("1.0", |files| edit(files, "bagit.txt", "UTF-8", "utf-8"));
    whole("0.97", |files| edit(files, "bagit.txt", ":", " : "));
    whole("1.0", |files| {
        let lower = value(Algorithm::Md5, b"first\n");
        edit(files, "manifest-md5.txt", &lower, &lower.to_uppercase());
    });
    let checked = whole("0.97", |files| edit(files, "manifest-md5.txt", " ", " *"));
    assert!(checked.notes[0].contains("sum tool"));
}

#[test]
fn tag_files_need_not_be_listed() {
    let mut files = bag("1.0");
    put(&mut files, "notes.txt", "x");
    put(&mut files, "meta/more.xml", "x");
    let with_tags = checked(&files);
    assert!(with_tags.faults.is_empty());
    assert!(
        with_tags.notes[0].contains("meta/more.xml, notes.txt"),
        "{:?}",
        with_tags.notes
    );
    files.remove("tagmanifest-md5.txt");
    files.remove("bag-info.txt");
    let without = checked(&files);
    assert!(without.faults.is_empty() && without.info.is_empty());
}

#[test]
fn what_was_fetched_is_compared() {
    whole("1.0", |files| {
        put(files, "fetch.txt", "http://a.example/a 6 data/a.txt\n")
    });
}

#[test]
fn labels_may_repeat_and_go_on() {
    let checked = whole("1.0", |files| {
        append(
            files,
            "bag-info.txt",
            "Contact-Name: A\nContact-Name: B\nNote: one\n  two\n",
        );
    });
    let values: Vec<&str> = checked.info.iter().map(|(_, value)| value.as_str()).collect();
    assert_eq!(values, ["A Shop", "12.2", "A", "B", "one two"]);
}

#[test]
fn a_payload_may_be_empty() {
    let checked = whole("1.0", |files| {
        files.retain(|path, _| !path.starts_with("data/"));
        list(files, Algorithm::Md5);
        edit(files, "bag-info.txt", "12.2", "0.0");
    });
    assert_eq!((checked.files, checked.bytes), (0, 0));
}

#[test]
fn a_disk_may_take_accents_apart() {
    let checked = whole("1.0", |files| {
        put(files, "data/caf\u{E9}.txt", "x");
        relist(files);
        rename(files, "data/caf\u{E9}.txt", "data/cafe\u{301}.txt");
    });
    assert!(
        checked.notes[0].contains("in another form"),
        "{:?}",
        checked.notes
    );
}

#[test]
fn names_that_fall_together_elsewhere_are_noted() {
    let checked = whole("1.0", |files| {
        put(files, "data/A.txt", "x");
        relist(files);
    });
    assert!(checked.notes[0].contains("fall together"), "{:?}", checked.notes);
}
