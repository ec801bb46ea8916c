//! Where nothing can be written nothing is lost and nothing half is left: a full disk, something in the way, a folder that
//! leads elsewhere, sets that went or were changed.

#![cfg(unix)]

use std::fs;
use std::path::Path;
use std::process::Command;

use crate::job_life::files;
use crate::shop::{Ran, Shop};
use crate::wrong_unit::with_trips;

/// A block of `ulimit -f`, bytes (POSIX.1-2017).
const BLOCK: usize = 512;

/// Runs the program where no file may grow beyond so many blocks: as on a full disk, writing fails in the middle.
pub fn run_within(shop: &Shop, blocks: usize, arguments: &[&str]) -> Ran {
    let script = format!("trap '' XFSZ; ulimit -f {blocks}; exec \"$0\" \"$@\"");
    let output = Command::new("sh")
        .args(["-c", &script, env!("CARGO_BIN_EXE_witnessmark")])
        .args(arguments)
        .current_dir(shop.path(""))
        .output()
        .unwrap();
    let ran = Ran {
        code: output.status.code().unwrap_or(-1),
        stdout: String::from_utf8(output.stdout).unwrap(),
        stderr: String::from_utf8(output.stderr).unwrap(),
    };
    assert!(!ran.stderr.contains("panicked"), "{}", ran.stderr);
    ran
}

/// Whether the program itself names it, not a warning on the way.
fn is_told(ran: &Ran, named: &str) -> bool {
    let told = |line: &str| line.starts_with("witnessmark: ") && line.contains(named);
    ran.stderr.lines().any(told)
}

/// Names below a folder that begin with a dot, locks aside: what was left behind.
fn left_behind(folder: &Path) -> Vec<String> {
    let mut found = Vec::new();
    for entry in fs::read_dir(folder).unwrap() {
        let entry = entry.unwrap();
        let name = entry.file_name().to_string_lossy().into_owned();
        if name.starts_with('.') {
            found.extend((name != ".lock").then_some(name));
        } else if entry.path().is_dir() {
            found.extend(left_behind(&entry.path()));
        }
    }
    found
}

/// A job that was run, with its trips, its pages and two bags of it.
fn finished() -> Shop {
    let shop = Shop::new();
    with_trips(&shop, 2);
    for arguments in [
        vec!["run", "job"],
        vec!["trips", "job"],
        vec!["page", "job"],
        vec!["seal", "job", "--out", "bag"],
        vec!["seal", "job", "--out", "bag.zip"],
    ] {
        let ran = shop.run(&arguments);
        assert_eq!(ran.code, 0, "{arguments:?}: {}", ran.stderr);
    }
    shop
}

/// The bytes of the job's log.
fn log(shop: &Shop) -> Vec<u8> {
    fs::read(shop.path("job/log.csv")).unwrap()
}

/// Adds a line to the job's log that makes it so many bytes long.
fn fill_log(shop: &Shop, bytes: usize) {
    let (begins, ends) = ("2026-01-02,10:00,operation,", ",,,\n");
    let mut text = String::from_utf8(log(shop)).unwrap();
    let words = bytes - text.len() - begins.len() - ends.len();
    text += &format!("{begins}{}{ends}", "w".repeat(words));
    shop.write("job/log.csv", text);
}

#[test]
fn a_full_disk_is_told_and_leaves_everything_as_it_was() {
    let shop = finished();
    shop.write("scan.ply", vec![7u8; 100_000]);
    for (blocks, arguments, named) in [
        (40, vec!["take", "job", "scan.ply"], "job/sets: "),
        (
            40,
            vec!["run", "job", "--again"],
            "job/results/look 0/heat-plan.png: ",
        ),
        (40, vec!["trips", "job"], "job/trips/"),
        (40, vec!["page", "job"], "page.html: "),
        (40, vec!["seal", "job", "--out", "new"], "new/data/"),
        (40, vec!["unseal", "bag", "--out", "back"], "back/"),
        (40, vec!["unseal", "bag.zip", "--out", "back-2"], "back-2/"),
        // Every file of the bag has room, and the packed one has not.
        (1600, vec!["seal", "job", "--out", "new.zip"], "new.zip: "),
    ] {
        let (before, log_before) = (files(&shop.path("")), log(&shop));
        let ran = run_within(&shop, blocks, &arguments);
        ran.assert_stopped(&arguments, named);
        assert!(is_told(&ran, named), "{arguments:?}: {}", ran.stderr);
        // That a comparison could not be done is noted.
        assert!(log(&shop).starts_with(&log_before), "{arguments:?}");
        let but_log = |files: Vec<(String, Vec<u8>)>| -> Vec<(String, Vec<u8>)> {
            files.into_iter().filter(|f| f.0 != "job/log.csv").collect()
        };
        assert!(but_log(files(&shop.path(""))) == but_log(before), "{arguments:?}");
        assert_eq!(left_behind(&shop.path("")), Vec::<String>::new(), "{arguments:?}");
        // With room again, it is done.
        let ran = shop.run(&arguments);
        assert_eq!(ran.code, 0, "{arguments:?}: {}", ran.stderr);
    }
}

#[test]
fn the_log_is_not_torn_where_no_line_more_has_room() {
    let shop = finished();
    shop.write("scan.ply", "1 2 3\n");
    let blocks = 1200;
    // Room for the beginning of a line only.
    fill_log(&shop, blocks * BLOCK - 20);
    let before = log(&shop);
    let did = run_within(&shop, blocks, &["log", "job", "--did", "welded the sill"]);
    assert_eq!(did.code, 2, "{}", did.stderr);
    assert!(
        did.stderr.contains("job/log.csv: nothing could be added"),
        "{}",
        did.stderr
    );
    assert_eq!(log(&shop), before);
    // A bag is whole, its number is told, and that the log does not say so as well.
    let sealed = run_within(&shop, blocks, &["seal", "job", "--out", "full"]);
    assert_eq!(sealed.code, 2, "{}", sealed.stderr);
    assert!(
        sealed.stdout.contains("its manifest has SHA-256"),
        "{}",
        sealed.stdout
    );
    assert!(
        sealed.stderr.contains("full: it is sealed and whole"),
        "{}",
        sealed.stderr
    );
    assert_eq!(shop.run(&["recheck", "full"]).code, 0);
    assert_eq!(log(&shop), before);
    // A job that can't note that it was brought back is not brought back.
    let back = run_within(&shop, blocks, &["unseal", "full", "--out", "back"]);
    assert_eq!(back.code, 2, "{}", back.stderr);
    assert!(
        back.stderr.contains("back/log.csv: nothing could be added"),
        "{}",
        back.stderr
    );
    assert!(!shop.path("back").exists());
    // A set is there, whole; the next take puts it on record.
    let taken = run_within(&shop, blocks, &["take", "job", "scan.ply"]);
    assert_eq!(taken.code, 2, "{}", taken.stderr);
    assert_eq!(log(&shop), before);
    assert_eq!(fs::read(shop.path("job/sets/scan.ply")).unwrap(), b"1 2 3\n");
    assert_eq!(shop.run(&["take", "job", "scan.ply"]).code, 0);
    let after = String::from_utf8(log(&shop)).unwrap();
    assert!(after.ends_with('\n') && after.contains("sets/scan.ply"));
    assert_eq!(left_behind(&shop.path("")), Vec::<String>::new());
}

#[test]
fn what_is_in_the_way_is_told_and_stays() {
    let shop = finished();
    shop.write("mine.txt", "mine");
    fs::remove_dir_all(shop.path("job/trips")).unwrap();
    shop.write("job/trips", "mine");
    fs::remove_dir_all(shop.path("job/pages")).unwrap();
    shop.write("job/pages/mine.txt", "mine");
    shop.run(&["start", "other"]);
    fs::remove_dir(shop.path("other/sets")).unwrap();
    shop.write("other/sets", "mine");
    let before = files(&shop.path(""));
    for (arguments, named) in [
        (vec!["trips", "job"], "job/trips: "),
        (vec!["page", "job"], "job/pages: "),
        (vec!["seal", "job", "--out", "mine.txt"], "mine.txt: "),
        (vec!["seal", "job", "--out", "mine.txt/bag"], "mine.txt/bag: "),
        (
            vec!["seal", "job", "--out", "mine.txt/bag.zip"],
            "mine.txt/bag.zip: ",
        ),
        (vec!["unseal", "bag", "--out", "job"], "job: "),
        (
            vec!["unseal", "bag.zip", "--out", "mine.txt/back"],
            "mine.txt/back: ",
        ),
        (vec!["take", "other", "mine.txt"], "other/sets: "),
        (vec!["take", "job", "nowhere.ply"], "nowhere.ply: "),
    ] {
        let ran = shop.stopped(&arguments, named);
        assert!(is_told(&ran, named), "{arguments:?}: {}", ran.stderr);
        assert!(files(&shop.path("")) == before, "{arguments:?}");
    }
    // A folder in the place of the lock stands for a job that can't be written to, whoever runs it.
    fs::remove_file(shop.path("job/.lock")).unwrap();
    fs::create_dir(shop.path("job/.lock")).unwrap();
    for arguments in [vec!["run", "job", "--again"], vec!["seal", "job", "--out", "new"]] {
        shop.stopped(&arguments, "witnessmark: job: ");
        assert!(files(&shop.path("")) == before, "{arguments:?}");
    }
}

#[test]
fn results_that_lead_out_of_the_job_are_refused() {
    let shop = finished();
    fs::rename(shop.path("job/results"), shop.path("elsewhere")).unwrap();
    std::os::unix::fs::symlink("../elsewhere", shop.path("job/results")).unwrap();
    let before = files(&shop.path("elsewhere"));
    for arguments in [
        vec!["run", "job", "--again"],
        vec!["run", "job", "--plan"],
        vec!["run", "job", "--only", "look 1"],
        vec!["seal", "job", "--out", "new"],
        vec!["page", "job"],
    ] {
        shop.stopped(&arguments, "job/results: it is a link");
        assert!(files(&shop.path("elsewhere")) == before, "{arguments:?}");
        assert!(!shop.path("new").exists());
    }
}

#[test]
fn sets_that_went_or_were_changed_stop_what_leans_on_them() {
    let shop = finished();
    let trips = files(&shop.path("job/trips"));
    for (set, arguments) in [
        ("sets/trip-2.csv", vec!["trips", "job"]),
        ("sets/trip-2.csv", vec!["seal", "job", "--out", "new"]),
        ("sets/after.ply", vec!["seal", "job", "--out", "new"]),
        ("sets/after.ply", vec!["run", "job"]),
    ] {
        let path = format!("job/{set}");
        let good = fs::read(shop.path(&path)).unwrap();
        let mut changed = good.clone();
        changed.extend(b"\n");
        shop.write(&path, &changed);
        shop.stopped(&arguments, &format!("{set}: it is not what was received"));
        assert!(!shop.path("new").exists());
        shop.write(&path, &good);
    }
    fs::remove_file(shop.path("job/sets/trip-2.csv")).unwrap();
    shop.stopped(&["trips", "job"], "there is no file \"job/sets/trip-2.csv\"");
    assert!(files(&shop.path("job/trips")) == trips);
}
