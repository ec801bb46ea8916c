//! What stands where results go: ours is replaced whole or not at all, and what is not ours is left alone.

use std::fs;

use crate::bad_input::with_earlier_results;

/// The good set against itself, its results in the folder `out`.
fn asked(out: &str) -> [&str; 9] {
    [
        "compare", "good.ply", "good.ply", "--units", "mm", "--set-by", "as-is", "--out", out,
    ]
}

#[test]
fn folders_that_are_not_ours_are_left_alone() {
    let shop = with_earlier_results();
    shop.write("photos/car.txt", "mine");
    let ran = shop.stopped(&asked("photos"), "photos");
    assert!(ran.stderr.contains("name another folder"), "{}", ran.stderr);
    assert_eq!(fs::read(shop.path("photos/car.txt")).unwrap(), b"mine");
    // Earlier results with a file of the user's own among them.
    shop.write("out/notes.txt", "mine too");
    shop.stopped(&asked("out"), "notes.txt");
    assert_eq!(fs::read(shop.path("out/notes.txt")).unwrap(), b"mine too");
    fs::remove_file(shop.path("out/notes.txt")).unwrap();
    shop.stopped(&asked("good.ply/out"), "good.ply/out");
    let ran = shop.run(&asked("out"));
    assert_eq!(ran.code, 0, "earlier results are replaced: {}", ran.stderr);
    let ran = shop.run(&["demo", "photos"]);
    assert_eq!(ran.code, 2);
    shop.write("edited/job.toml", "# The demo job, edited\nname = \"mine\"\n");
    assert_eq!(
        shop.run(&["demo", "edited"]).code,
        2,
        "an edited job is never written over"
    );
}

/// The program is stopped at many moments while it replaces results: what stands there is whole, old or new.
#[cfg(unix)]
#[test]
fn stopped_at_any_moment_the_results_are_whole() {
    use std::time::Duration;

    use crate::job_life::killed;
    let shop = with_earlier_results();
    let (points, normals) = crate::shop::part(30_000, 2);
    shop.set("other.ply", &points, Some(&normals));
    let mut arguments = asked("out");
    arguments[2] = "other.ply";
    for k in 0..24u64 {
        killed(&shop, &arguments, Duration::from_millis(15 * k));
        let result = shop.result("out");
        for file in result["files"].as_array().unwrap() {
            let path = shop.path("out").join(file.as_str().unwrap());
            assert!(path.exists(), "after {k}: {}", path.display());
        }
    }
}

/// No room on the disk: a full device stands in for it.
#[cfg(target_os = "linux")]
#[test]
fn without_room_or_permission_nothing_is_lost() {
    use crate::full_disk::run_within;
    let shop = with_earlier_results();
    shop.stopped(&asked("/proc/witnessmark"), "/proc/witnessmark");
    // A file no larger than twenty kilobytes may be written: the first large table fails as on a full disk.
    let before = fs::read(shop.path("out/result.json")).unwrap();
    run_within(&shop, 40, &asked("out")).assert_stopped(&asked("out"), "out");
    assert_eq!(fs::read(shop.path("out/result.json")).unwrap(), before);
}
