//! The sealed job: every flipped bit found, every file named, brought back whole, and run again to the same bytes.

use std::fs;

use crate::job_life::{files, job};
use crate::shop::{Shop, uniform};

fn sealed() -> Shop {
    let shop = Shop::new();
    job(&shop, 1);
    let text = fs::read_to_string(shop.path("job/job.toml")).unwrap();
    shop.write(
        "job/job.toml",
        format!("{text}[about]\nshop = \"A shop\"\nshell = \"17\"\nnotes = \"two\\nlines\"\n"),
    );
    shop.run(&["run", "job"]);
    let ran = shop.run(&["seal", "job", "--out", "bag"]);
    assert_eq!(ran.code, 0, "{}", ran.stderr);
    shop
}

#[test]
fn a_bag_is_brought_back_whole_and_gives_the_same_bytes_again() {
    let shop = sealed();
    let info = fs::read_to_string(shop.path("bag/bag-info.txt")).unwrap();
    for line in [
        "Source-Organization: A shop",
        "External-Identifier: 17",
        "Payload-Oxum: ",
        "Bag-Software-Agent: witnessmark ",
    ] {
        assert!(info.contains(line), "{line} in {info}");
    }
    let explained = fs::read_to_string(shop.path("bag/data/WHAT-IS-HERE.txt")).unwrap();
    for words in ["X rearward", "proud", "sets/*", "RFC 8493"] {
        assert!(explained.contains(words), "{words} in {explained}");
    }
    let checked = shop.run(&["recheck", "bag", "--rerun"]);
    assert_eq!(checked.code, 0, "{}{}", checked.stdout, checked.stderr);
    assert!(
        checked.stdout.contains("1 of 1 comparisons gave the same bytes"),
        "{}",
        checked.stdout
    );
    for out in ["bag", "bag.zip"] {
        if out == "bag.zip" {
            let ran = shop.run(&["seal", "job", "--out", out]);
            assert_eq!(ran.code, 0, "{}", ran.stderr);
        }
        let back = format!("back from {out}");
        let ran = shop.run(&["unseal", out, "--out", &back]);
        assert_eq!(ran.code, 0, "{}", ran.stderr);
        for folder in ["sets", "results"] {
            assert_eq!(
                files(&shop.path(&format!("{back}/{folder}"))),
                files(&shop.path(&format!("job/{folder}"))),
                "{folder}"
            );
        }
        let plan = shop.run(&["run", &back, "--plan"]);
        assert!(plan.stdout.contains("nothing to do"), "{}", plan.stdout);
    }
    // Nothing is written over.
    for arguments in [["seal", "job", "--out", "bag"], ["unseal", "bag", "--out", "job"]] {
        let ran = shop.run(&arguments);
        assert_eq!(ran.code, 2);
        assert!(ran.stderr.contains("there already"), "{}", ran.stderr);
    }
}

#[test]
fn flipped_missing_added_and_renamed_files_are_named() {
    let shop = sealed();
    let whole = files(&shop.path("bag"));
    let faulty = |what: &str, expected: &[&str]| {
        let checked = shop.run(&["recheck", "bag"]);
        assert_eq!(checked.code, 1, "{what}: {}{}", checked.stdout, checked.stderr);
        for words in expected {
            assert!(
                checked.stdout.contains(words),
                "{what}: {words} in {}",
                checked.stdout
            );
        }
    };
    for (k, (path, bytes)) in whole.iter().enumerate() {
        // A few bits of every file; the small bag of the archive's own tests has them all.
        for j in 0..4 {
            let bit = (uniform((4 * k + j) as u64) * (8 * bytes.len()) as f64) as usize;
            let mut flipped = bytes.clone();
            flipped[bit / 8] ^= 1 << (bit % 8);
            let at = shop.path(&format!("bag/{path}"));
            fs::write(&at, &flipped).unwrap();
            faulty(
                &format!("bit {bit} of {path}"),
                &[path.trim_start_matches("bag/")],
            );
            fs::write(&at, bytes).unwrap();
        }
        fs::remove_file(shop.path(&format!("bag/{path}"))).unwrap();
        faulty(&format!("without {path}"), &[]);
        shop.write(&format!("bag/{path}"), bytes);
    }
    for extra in ["bag/data/sets/extra.ply", "bag/extra.txt"] {
        shop.write(extra, "extra");
        faulty(extra, &[extra.trim_start_matches("bag/")]);
        fs::remove_file(shop.path(extra)).unwrap();
    }
    fs::rename(
        shop.path("bag/data/sets/after.ply"),
        shop.path("bag/data/sets/later.ply"),
    )
    .unwrap();
    faulty("renamed", &["data/sets/after.ply", "data/sets/later.ply"]);
    // Of a bag that is not whole nothing is brought back, but what is whole on demand.
    let ran = shop.run(&["unseal", "bag", "--out", "back"]);
    assert_eq!(ran.code, 2);
    assert!(!shop.path("back").exists());
    let ran = shop.run(&["unseal", "bag", "--out", "back", "--damaged"]);
    assert_eq!(ran.code, 1, "{}", ran.stderr);
    for file in ["before", "after"] {
        assert!(shop.path(&format!("back/sets/{file}.ply")).is_file(), "{file}");
    }
    fs::rename(
        shop.path("bag/data/sets/later.ply"),
        shop.path("bag/data/sets/after.ply"),
    )
    .unwrap();
    assert_eq!(shop.run(&["recheck", "bag"]).code, 0);
}

#[test]
fn what_is_no_bag_is_told_so() {
    let shop = sealed();
    shop.run(&["seal", "job", "--out", "bag.zip"]);
    let zip = fs::read(shop.path("bag.zip")).unwrap();
    shop.write("short.zip", &zip[..zip.len() / 2]);
    shop.write("text.zip", "no zip at all");
    for (bag, words) in [
        ("short.zip", "short.zip"),
        ("text.zip", "text.zip"),
        ("nowhere", "nowhere"),
    ] {
        for arguments in [vec!["recheck", bag], vec!["unseal", bag, "--out", "back"]] {
            let ran = shop.run(&arguments);
            assert_eq!(ran.code, 2, "{bag}: {}{}", ran.stdout, ran.stderr);
            assert!(ran.stderr.contains(words), "{}", ran.stderr);
            assert!(!shop.path("back").exists());
        }
    }
    // Of one that was cut short what is whole comes back on demand.
    let ran = shop.run(&["unseal", "short.zip", "--out", "half", "--damaged"]);
    assert_eq!(ran.code, 1, "{}{}", ran.stdout, ran.stderr);
    assert!(ran.stderr.contains("it was cut short"), "{}", ran.stderr);
    assert!(ran.stdout.contains("not brought back: "), "{}", ran.stdout);
    assert!(shop.path("half/job.toml").is_file());
    // A job is no bag.
    let ran = shop.run(&["recheck", "job"]);
    assert_eq!(ran.code, 2, "{}{}", ran.stdout, ran.stderr);
    assert!(ran.stderr.contains("it is no bag"), "{}", ran.stderr);
}
