//! A job over its life: sets taken in, runs that do no work twice, runs that are killed, sets that were changed.

use std::fs;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use cloud::{Point, Vector};

use crate::shop::{Shop, comparison_as_is, set_of_job, uniform};

/// Kills of each kind in the suite; `WITNESSMARK_KILLS` asks for more.
const KILLS: u64 = 6;

fn kills() -> u64 {
    std::env::var("WITNESSMARK_KILLS").map_or(KILLS, |n| n.parse().unwrap())
}

/// A job of a reference and so many comparisons of it with another set.
pub fn job(shop: &Shop, comparisons: usize) {
    for (name, seed) in [("before", 1), ("after", 2)] {
        let points = strip(seed);
        let normals = vec![Vector::z(); points.len()];
        shop.set(&format!("job/sets/{name}.ply"), &points, Some(&normals));
    }
    write_job(shop, comparisons, "1/16 in");
}

/// A flat strip that one picture shows: most of a run goes into pictures, and here it is run hundreds of times.
fn strip(seed: u64) -> Vec<Point> {
    let at = |k: u64| Point::new(400.0 * uniform(k), 40.0 * uniform(k + 1), 0.1 * uniform(k + 2));
    (0..300).map(|i| at(3 * (i + 1000 * seed))).collect()
}

fn write_job(shop: &Shop, comparisons: usize, limit: &str) {
    let mut text = format!("name = \"Shell 1\"\nlimit = \"{limit}\"\n");
    for name in ["before", "after"] {
        text += &set_of_job(name);
    }
    for k in 0..comparisons {
        text += &comparison_as_is(&format!("look {k}"), "before", "after");
    }
    shop.write("job/job.toml", text);
}

/// Every file below a folder with its bytes, what is under construction aside.
pub fn files(folder: &Path) -> Vec<(String, Vec<u8>)> {
    fn into(folder: &Path, above: &str, found: &mut Vec<(String, Vec<u8>)>) {
        for entry in fs::read_dir(folder).unwrap() {
            let entry = entry.unwrap();
            let name = entry.file_name().to_string_lossy().into_owned();
            if name.starts_with('.') {
                continue;
            }
            let path = format!("{above}{name}");
            if entry.path().is_dir() {
                into(&entry.path(), &format!("{path}/"), found);
            } else {
                found.push((path, fs::read(entry.path()).unwrap()));
            }
        }
    }
    let mut found = Vec::new();
    into(folder, "", &mut found);
    found.sort();
    found
}

#[test]
fn sets_are_taken_in_byte_for_byte_and_never_changed() {
    let shop = Shop::new();
    shop.run(&["start", "job"]);
    let bytes: Vec<u8> = (0..5000u32).flat_map(|i| i.to_le_bytes()).collect();
    shop.write("from the scanner/scan.ply", &bytes);
    let taken = shop.run(&["take", "job", "from the scanner/scan.ply"]);
    assert_eq!(taken.code, 0, "{}", taken.stderr);
    assert_eq!(fs::read(shop.path("job/sets/scan.ply")).unwrap(), bytes);
    let log = fs::read_to_string(shop.path("job/log.csv")).unwrap();
    assert!(log.contains("sets/scan.ply,20000,"), "{log}");
    // The same bytes under another name are stored once; other bytes under the same name are refused.
    shop.write("again.ply", &bytes);
    let again = shop.run(&["take", "job", "again.ply"]);
    assert_eq!(again.code, 0, "{}", again.stderr);
    assert!(again.stdout.contains("there already"), "{}", again.stdout);
    assert!(!shop.path("job/sets/again.ply").exists());
    shop.write("other/scan.ply", b"other bytes");
    let other = shop.run(&["take", "job", "other/scan.ply"]);
    assert_eq!(other.code, 2);
    assert!(other.stderr.contains("scan.ply"), "{}", other.stderr);
    assert_eq!(fs::read(shop.path("job/sets/scan.ply")).unwrap(), bytes);
    let named = shop.run(&["take", "job", "other/scan.ply", "--as", "scan-2.ply"]);
    assert_eq!(named.code, 0, "{}", named.stderr);
    // Names that would leave the folder, or can't be kept on another machine.
    for name in [
        "../out.ply",
        "/tmp/out.ply",
        "a\\b.ply",
        "con.ply",
        "x\u{2215}y.ply",
        "50%.ply",
        "..",
        "Scan.PLY",
    ] {
        let refused = shop.run(&["take", "job", "again.ply", "--as", name]);
        let stored = fs::read_dir(shop.path("job/sets")).unwrap().count();
        assert_eq!(stored, 2, "{name}: {}{}", refused.stdout, refused.stderr);
    }
    assert!(!shop.path("job/out.ply").exists() && !shop.path("out.ply").exists());
}

#[test]
fn a_job_file_can_not_name_what_lies_outside() {
    let shop = Shop::new();
    job(&shop, 1);
    shop.write("outside.ply", fs::read(shop.path("job/sets/before.ply")).unwrap());
    let good = fs::read_to_string(shop.path("job/job.toml")).unwrap();
    for name in [
        "../outside.ply",
        "sets/../../outside.ply",
        "/etc/hostname",
        "sets\\\\before.ply",
    ] {
        shop.write("job/job.toml", good.replace("sets/before.ply", name));
        let ran = shop.run(&["run", "job"]);
        assert_eq!(ran.code, 2, "{name}");
        assert!(
            ran.stderr.contains("line 5") && ran.stderr.contains("take"),
            "{name}: {}",
            ran.stderr
        );
    }
    #[cfg(unix)]
    {
        std::os::unix::fs::symlink(shop.path("outside.ply"), shop.path("job/sets/link.ply")).unwrap();
        shop.write("job/job.toml", good.replace("sets/before.ply", "sets/link.ply"));
        let ran = shop.run(&["run", "job"]);
        assert_eq!(ran.code, 2);
        assert!(ran.stderr.contains("link"), "{}", ran.stderr);
    }
}

#[test]
fn what_has_not_changed_is_not_done_again() {
    let shop = Shop::new();
    job(&shop, 3);
    let plan = shop.run(&["run", "job", "--plan"]);
    assert_eq!(plan.code, 0);
    assert_eq!(
        plan.stdout.matches("to do: not done yet").count(),
        3,
        "{}",
        plan.stdout
    );
    assert!(!shop.path("job/results").exists() && !shop.path("job/log.csv").exists());
    let first = shop.run(&["run", "job"]);
    assert_eq!(first.code, 0, "{}{}", first.stdout, first.stderr);
    let made = files(&shop.path("job"));
    let plan = shop.run(&["run", "job", "--plan"]);
    assert_eq!(plan.stdout.matches("nothing to do").count(), 3, "{}", plan.stdout);
    let second = shop.run(&["run", "job"]);
    assert_eq!(second.code, first.code);
    assert_eq!(
        second.stdout.matches("(unchanged)").count(),
        3,
        "{}",
        second.stdout
    );
    // Not a byte is touched: neither results nor log.
    assert_eq!(files(&shop.path("job")), made);
    // One is asked for, and comes out the same; a picture that went is made again.
    let again = shop.run(&["run", "job", "--only", "look 1", "--again"]);
    assert_eq!(again.stdout.matches("(unchanged)").count(), 0, "{}", again.stdout);
    fs::remove_file(shop.path("job/results/look 2/heat-plan.png")).unwrap();
    let plan = shop.run(&["run", "job", "--plan"]);
    assert_eq!(plan.stdout.matches("to do: ").count(), 1, "{}", plan.stdout);
    shop.run(&["run", "job"]);
    assert_eq!(files(&shop.path("job")), made);
    // Another limit is another question.
    write_job(&shop, 3, "1/8 in");
    let plan = shop.run(&["run", "job", "--plan"]);
    assert_eq!(
        plan.stdout.matches("its settings have changed").count(),
        3,
        "{}",
        plan.stdout
    );
}

#[test]
fn a_set_that_was_changed_is_told_from_the_one_received() {
    let shop = Shop::new();
    job(&shop, 1);
    assert_eq!(shop.run(&["run", "job"]).code, 0);
    let kept = files(&shop.path("job/results"));
    let good = fs::read(shop.path("job/sets/after.ply")).unwrap();
    let mut changed = good.clone();
    *changed.last_mut().unwrap() ^= 1;
    shop.write("job/sets/after.ply", &changed);
    let ran = shop.run(&["run", "job"]);
    assert_eq!(ran.code, 2);
    assert!(
        ran.stderr.contains("sets/after.ply: it is not what was received"),
        "{}",
        ran.stderr
    );
    assert_eq!(files(&shop.path("job/results")), kept);
    shop.write("job/sets/after.ply", &good);
    assert_eq!(shop.run(&["run", "job"]).code, 0);
    // A set that went is told with its line, and its results stay; a plan ends as the run would.
    fs::remove_file(shop.path("job/sets/after.ply")).unwrap();
    assert_eq!(shop.run(&["run", "job", "--plan"]).code, 2);
    let ran = shop.run(&["run", "job"]);
    assert_eq!(ran.code, 2);
    assert!(ran.stderr.contains("there is no file"), "{}", ran.stderr);
    assert_eq!(files(&shop.path("job/results")), kept);
}

#[test]
fn several_jobs_go_on_past_a_bad_one_and_two_runs_do_not_meet() {
    let shop = Shop::new();
    job(&shop, 1);
    shop.write("bad/job.toml", "name = \"x\"\n");
    let ran = shop.run(&["run", "bad", "job"]);
    assert_eq!(ran.code, 2);
    assert!(ran.stderr.contains("bad"), "{}", ran.stderr);
    assert!(shop.path("job/results/look 0/result.json").is_file());
    // Another process at work in the folder: the system's own lock on the file of that name.
    let lock = fs::File::options()
        .write(true)
        .create(true)
        .truncate(false)
        .open(shop.path("job/.lock"))
        .unwrap();
    lock.lock().unwrap();
    let busy = shop.run(&["run", "job", "--again"]);
    assert_eq!(busy.code, 2);
    assert!(busy.stderr.contains("another witnessmark"), "{}", busy.stderr);
    let took = shop.run(&["take", "job", "bad/job.toml"]);
    assert_eq!(took.code, 2, "{}", took.stderr);
    drop(lock);
    assert_eq!(shop.run(&["run", "job", "--again"]).code, 0);
}

#[test]
fn the_log_tells_what_was_done_by_day() {
    let shop = Shop::new();
    shop.run(&["start", "job"]);
    let ran = shop.run(&[
        "log",
        "job",
        "--did",
        "welded the right sill, \"plug\" welds",
        "--day",
        "2026-10-05",
    ]);
    assert_eq!(ran.code, 0, "{}", ran.stderr);
    shop.run(&["log", "job", "--did", "cut out the floor", "--day", "2026-09-21"]);
    let read = shop.run(&["log", "job"]).stdout;
    let (cut, welded) = (read.find("cut out").unwrap(), read.find("welded").unwrap());
    assert!(cut < welded, "{read}");
    assert!(read.contains("2026-10-05"), "{read}");
    assert_eq!(
        shop.run(&["log", "job", "--did", "x", "--day", "2026-02-30"])
            .code,
        2
    );
    assert_eq!(shop.run(&["log", "nowhere"]).code, 2);
    let to_come = shop.run(&["log", "job", "--did", "x", "--day", "9999-01-01"]);
    assert_eq!(to_come.code, 2);
    assert!(to_come.stderr.contains("still to come"), "{}", to_come.stderr);
}

/// Runs the program and kills it after a while; gives whether it had ended by itself.
pub fn killed(shop: &Shop, arguments: &[&str], after: Duration) -> bool {
    let mut child = Command::new(env!("CARGO_BIN_EXE_witnessmark"))
        .args(arguments)
        .current_dir(shop.path(""))
        .stdout(Stdio::null())
        .stderr(Stdio::null())
        .spawn()
        .unwrap();
    std::thread::sleep(after);
    let ended = child.try_wait().unwrap().is_some();
    let _ = child.kill();
    child.wait().unwrap();
    ended
}

/// How long a command takes here and now.
fn lasts(shop: &Shop, arguments: &[&str]) -> Duration {
    let begin = Instant::now();
    shop.run(arguments);
    begin.elapsed()
}

#[test]
fn killed_while_a_set_is_taken_in_nothing_half_is_left() {
    let shop = Shop::new();
    shop.run(&["start", "job"]);
    let bytes: Vec<u8> = (0..2_000_000u32).flat_map(|i| i.to_le_bytes()).collect();
    shop.write("scan.ply", &bytes);
    let whole = lasts(&shop, &["take", "job", "scan.ply", "--as", "first.ply"]);
    for k in 0..kills() {
        shop.write("scan.ply", [&bytes[..], &k.to_le_bytes()].concat());
        killed(
            &shop,
            &["take", "job", "scan.ply", "--as", "scan.ply"],
            whole.mul_f64(1.1 * uniform(k)),
        );
        let kept = shop.path("job/sets/scan.ply");
        if kept.exists() {
            assert_eq!(
                fs::read(&kept).unwrap(),
                fs::read(shop.path("scan.ply")).unwrap(),
                "kill {k}"
            );
        }
        // The next take completes, whatever was left behind, and clears it away.
        let ran = shop.run(&["take", "job", "scan.ply", "--as", "scan.ply"]);
        assert_eq!(ran.code, 0, "kill {k}: {}", ran.stderr);
        assert_eq!(fs::read(&kept).unwrap(), fs::read(shop.path("scan.ply")).unwrap());
        let log = fs::read_to_string(shop.path("job/log.csv")).unwrap();
        assert!(log.contains("sets/scan.ply"), "kill {k}: {log}");
        let names: Vec<_> = fs::read_dir(shop.path("job/sets"))
            .unwrap()
            .map(|e| e.unwrap().file_name())
            .collect();
        assert_eq!(names.len(), 2, "kill {k}: {names:?}");
        fs::remove_file(&kept).unwrap();
        fs::remove_file(shop.path("job/log.csv")).unwrap();
    }
}

#[test]
fn killed_runs_are_gone_on_with() {
    let shop = Shop::new();
    job(&shop, 3);
    let whole = lasts(&shop, &["run", "job"]);
    let good = files(&shop.path("job/results"));
    let sets = files(&shop.path("job/sets"));
    for k in 0..kills() {
        fs::remove_dir_all(shop.path("job/results")).unwrap();
        killed(&shop, &["run", "job"], whole.mul_f64(1.1 * uniform(1000 + k)));
        // What stands is whole, and the rest is not there.
        let left = if shop.path("job/results").exists() {
            files(&shop.path("job/results"))
        } else {
            Vec::new()
        };
        assert!(left.iter().all(|file| good.contains(file)), "kill {k}");
        for name in left
            .iter()
            .filter(|(path, _)| path.ends_with("result.json"))
            .map(|(path, _)| path)
        {
            let folder = name.trim_end_matches("result.json");
            let count =
                |files: &[(String, Vec<u8>)]| files.iter().filter(|f| f.0.starts_with(folder)).count();
            assert_eq!(count(&left), count(&good), "kill {k}: {folder}");
        }
        let ran = shop.run(&["run", "job"]);
        assert_eq!(ran.code, 0, "kill {k}: {}", ran.stderr);
        assert_eq!(files(&shop.path("job/results")), good, "kill {k}");
        assert_eq!(files(&shop.path("job/sets")), sets, "kill {k}");
        // Every result is on record, also one whose run was killed before it could say so.
        let log = fs::read_to_string(shop.path("job/log.csv")).unwrap();
        for i in 0..3 {
            assert!(
                log.contains(&format!("results/look {i}/result.json")),
                "kill {k}: {log}"
            );
        }
    }
}

#[test]
fn killed_while_sealing_no_half_bag_is_taken_for_whole() {
    let shop = Shop::new();
    job(&shop, 2);
    shop.run(&["run", "job"]);
    for out in ["bag", "bag.zip"] {
        let whole = lasts(&shop, &["seal", "job", "--out", &format!("first-{out}")]);
        for k in 0..kills() {
            let name = format!("{k}-{out}");
            killed(
                &shop,
                &["seal", "job", "--out", &name],
                whole.mul_f64(1.1 * uniform(2000 + k)),
            );
            if shop.path(&name).exists() {
                let checked = shop.run(&["recheck", &name]);
                assert_eq!(checked.code, 0, "kill {k}: {}", checked.stdout);
            } else {
                let ran = shop.run(&["seal", "job", "--out", &name]);
                assert_eq!(ran.code, 0, "kill {k}: {}", ran.stderr);
            }
        }
    }
}
