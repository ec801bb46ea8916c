//! Bags judged a second time, by bagit 1.9.0 (PyPI), the library of the Library of Congress, and both judges held to
//! RFC 8493 (Kunze and others 2018, "The BagIt File Packaging Format").

use std::collections::BTreeSet;
use std::fs;

use serde_json::Value;

use crate::judges::asked;
use crate::shop::Shop;
use crate::small_job;

/// A kind of bag that a judge does not judge by the RFC: its name, in which versions, and the section with what it says.
type Row = (&'static str, &'static [&'static str], &'static str);

const BOTH: &[&str] = &["0.97", "1.0"];
const OLD: &[&str] = &["0.97"];
const RFC: &[&str] = &["1.0"];

/// Where bagit is wrong: it reads what stands there for what is meant.
const BAGIT_IS_WRONG: &[Row] = &[
    (
        "percent in a name",
        RFC,
        "2.1.3: a percent sign is written as %25",
    ),
    ("a code as a name", RFC, "2.1.3: a percent sign is written as %25"),
    ("three lines", BOTH, "2.1.1: exactly two lines"),
    ("lines in the wrong order", RFC, "2.1.1: in this order"),
    ("blank before the colon", RFC, "2.1.1: BagIt-Version: M.N"),
    ("two blanks after the colon", RFC, "2.1.1: BagIt-Version: M.N"),
    (
        "in one of two manifests",
        RFC,
        "3: every payload file in every payload manifest",
    ),
    (
        "marks of a sum tool",
        RFC,
        "2.1.3: a value, white space and the path, and no mark",
    ),
    (
        "path to a tag file",
        OLD,
        "2.1.3: nothing outside the payload directory",
    ),
    ("line without a path", BOTH, "2.1.3: a value and a path"),
    ("remark in the manifest", BOTH, "2.1.3: a value and a path"),
    (
        "label ends in a blank",
        RFC,
        "2.2.2: a label does not end in white space",
    ),
    (
        "no blank after a label",
        RFC,
        "2.2.2: one white space after the colon",
    ),
    (
        "fetch of what is not listed",
        BOTH,
        "2.2.3: listed in every payload manifest",
    ),
    ("fetch of a tag file", BOTH, "2.2.3: no tag files"),
    (
        "manifest not among the tags",
        RFC,
        "2.2.1: every payload manifest is listed",
    ),
];

/// Where ours is wrong, or stricter than it must be.
const OURS_IS_WRONG: &[Row] = &[
    (
        "sha224",
        BOTH,
        "2.4: other hashes may be used; this one is not read",
    ),
    (
        "tag files in UTF-16",
        BOTH,
        "2.1.1: another encoding may be declared; UTF-8 only is read",
    ),
    (
        "dot before the path",
        RFC,
        "2.1.3: a path from the base directory, written less plainly",
    ),
    (
        "path leads up and back",
        BOTH,
        "5.1: not prohibited, and to be looked at with suspicion: refused",
    ),
];

fn names(rows: &[Row]) -> BTreeSet<String> {
    let all = rows.iter().flat_map(|(kind, versions, says)| {
        assert!(says.starts_with(|c: char| c.is_ascii_digit()), "{kind}: {says}");
        versions.iter().map(move |version| format!("{version} {kind}"))
    });
    all.collect()
}

/// Those that a judge is held to be wrong about and is not, and those that it is wrong about without being held to be.
fn hold(judge: &str, wrong: &BTreeSet<String>, rows: &[Row], bags: &[Value]) {
    let about = |name: &String| bags.iter().find(|bag| bag["name"] == **name);
    let table = names(rows);
    let told: Vec<_> = wrong.difference(&table).map(about).collect();
    assert!(told.is_empty(), "{judge} differs from the RFC: {told:?}");
    let right: Vec<_> = table.difference(wrong).collect();
    assert!(
        right.is_empty(),
        "{judge} is right by now, mend the table: {right:?}"
    );
}

// The kinds of the Library of Congress's conformance suite for BagIt (github.com/LibraryOfCongress/bagit-conformance-suite).
#[test]
fn both_judges_say_the_same_of_every_kind_of_bag_but_where_it_is_known_why() {
    let shop = Shop::new();
    let found = asked("bags.py", &["make", &shop.path("bags").to_string_lossy()]);
    let bags = found.as_array().unwrap();
    assert!(bags.len() > 150, "{}", bags.len());
    let (mut ours, mut theirs) = (BTreeSet::new(), BTreeSet::new());
    for bag in bags {
        let name = bag["name"].as_str().unwrap();
        let ran = shop.run(&["recheck", &format!("bags/{name}")]);
        assert!(matches!(ran.code, 0 | 1), "{name}: {}", ran.stderr);
        let is_sound = bag["by_rfc"].as_bool().unwrap();
        if (ran.code == 0) != is_sound {
            ours.insert(name.to_string());
        }
        if bag["bagit"].as_bool().unwrap() != is_sound {
            theirs.insert(name.to_string());
        }
    }
    hold("witnessmark", &ours, OURS_IS_WRONG, bags);
    hold("bagit", &theirs, BAGIT_IS_WRONG, bags);
}

#[test]
fn a_sealed_job_is_a_bag_to_others_too() {
    let shop = Shop::new();
    small_job::write(&shop, "job", &["look 0", "T\u{FC}r links"]);
    let ran = shop.run(&["run", "job"]);
    assert_eq!(ran.code, 1, "{}", ran.stderr);
    let judged = |bag: &str| asked("bags.py", &["judge", &shop.path(bag).to_string_lossy()]);
    for out in ["bag", "bag.zip"] {
        let ran = shop.run(&["seal", "job", "--out", out]);
        assert_eq!(ran.code, 0, "{}", ran.stderr);
        let found = judged(out);
        assert_eq!(found["version"], "1.9.0", "the tables were made with this one");
        assert_eq!(found["bagit"], true, "{out}: {found}");
    }
    // The second judge looks at the bytes: one that was changed is told by both.
    let place = shop.path("bag/data/sets/after.ply");
    let mut bytes = fs::read(&place).unwrap();
    *bytes.last_mut().unwrap() ^= 1;
    fs::write(&place, bytes).unwrap();
    assert_eq!(shop.run(&["recheck", "bag"]).code, 1);
    assert_eq!(judged("bag")["bagit"], false);
    // A job that is not sealed is no bag.
    assert_eq!(shop.run(&["recheck", "job"]).code, 2);
    assert_eq!(judged("job")["bagit"], false);
}
