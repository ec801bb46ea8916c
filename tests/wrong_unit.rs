//! A wrong unit is asked about before anything is fitted to it: scanned sets, named points, and points probed on a trip.

use std::fs;

use crate::job_life::job;
use crate::shop::{Shop, part};

/// Places on the strip of a job, x and y, mm.
const PLACES: [(&str, f64, f64); 5] = [
    ("P1", 10.0, 5.0),
    ("P2", 390.0, 5.0),
    ("P3", 390.0, 35.0),
    ("P4", 10.0, 35.0),
    ("P5", 200.0, 20.0),
];

/// A job of so many comparisons, with two trips on which its places were probed.
pub fn with_trips(shop: &Shop, comparisons: usize) {
    job(shop, comparisons);
    let mut text = fs::read_to_string(shop.path("job/job.toml")).unwrap();
    text += "[places]\n";
    for (name, x, y) in PLACES {
        text += &format!("{name} = [{x:?}, {y:?}, 0.0]\n");
    }
    for trip in 1..=2 {
        text += &format!(
            "[[trip]]\nname = \"trip {trip}\"\nday = \"2026-10-0{trip}\"\npoints = \"sets/trip-{trip}.csv\"\n"
        );
        shop.write(&format!("job/sets/trip-{trip}.csv"), table("mm", 1.0));
    }
    shop.write("job/job.toml", text);
}

/// The places as an arm has them, whose numbers are so many times too large.
fn table(unit: &str, times: f64) -> String {
    let mut table = format!("name,x ({unit}),y ({unit}),z ({unit})\n");
    for (name, x, y) in PLACES {
        table += &format!(
            "{name},{:.4},{:.4},{:.4}\n",
            (x + 50.0) * times,
            y * times,
            7.0 * times
        );
    }
    table
}

#[test]
fn a_set_of_another_size_is_not_searched_for_its_pose() {
    let shop = Shop::new();
    let (points, normals) = part(4_000, 1);
    shop.set("part.ply", &points, Some(&normals));
    for (unit, of_reference, words) in [
        (
            "in",
            "mm",
            "25.4 times as large as the reference, as if mm were read as in",
        ),
        (
            "cm",
            "mm",
            "10 times as large as the reference, as if mm were read as cm",
        ),
        ("mm", "m", "1/1000 of the reference, as if m were read as mm"),
    ] {
        let sets = ["compare", "part.ply", "part.ply", "--out", "out"];
        let units = ["--units", unit, "--reference-units", of_reference];
        shop.stopped(&[&sets[..], &units].concat(), words);
        assert!(!shop.path("out").exists());
    }
}

/// What else stops the work follows from the unit, and comes after the question; an owner who has looked is not asked.
#[test]
fn the_unit_is_asked_before_the_reason_why_holes_do_not_match() {
    let shop = Shop::new();
    let (points, normals) = part(4_000, 1);
    shop.set("part.ply", &points, Some(&normals));
    let sets = "compare part.ply part.ply --set-by holes --out out";
    for (unit, of_reference, times) in [
        ("in", "mm", "25.4"),
        ("in", "cm", "2.54"),
        ("mm", "m", "1000"),
        ("mm", "cm", "10"),
        ("ft", "mm", "304.8"),
    ] {
        let units = format!("{sets} --units {unit} --reference-units {of_reference}");
        let asked: Vec<&str> = units.split(' ').collect();
        let ran = shop.stopped(&asked, "part.ply: is the unit right? ");
        let told = format!("is about {times} times as large as");
        assert!(ran.stderr.contains(&told), "{told}: {}", ran.stderr);
        let answered = [&asked[..], &["--answered", "unit"]].concat();
        let ran = shop.stopped(&answered, "holes that match");
        assert!(!ran.stderr.contains("is the unit right?"), "{}", ran.stderr);
    }
}

#[test]
fn named_points_in_another_unit_are_asked_about() {
    let shop = Shop::new();
    let (points, normals) = part(4_000, 1);
    shop.set("part.ply", &points, Some(&normals));
    shop.write("there.csv", table("mm", 1.0));
    let sets = "compare part.ply part.ply --units mm --points-reference there.csv --points-measured here.csv --out out";
    let asked = |set_by| {
        let mut arguments: Vec<&str> = sets.split(' ').collect();
        arguments.extend(["--set-by", set_by]);
        arguments
    };
    shop.write("here.csv", table("mm", 1.0 / 25.4));
    for set_by in ["points", "order"] {
        let ran = shop.stopped(&asked(set_by), "here.csv: is the unit right?");
        for words in ["1/25.4 of those", "as if in were read as mm"] {
            assert!(ran.stderr.contains(words), "{words}: {}", ran.stderr);
        }
        assert!(!shop.path("out").exists());
    }
    shop.write("here.csv", table("in", 1.0 / 25.4));
    let ran = shop.run(&asked("points"));
    assert!(ran.code < 2, "{}", ran.stderr);
}

#[test]
fn a_trip_that_was_probed_in_another_unit_is_asked_about() {
    let shop = Shop::new();
    with_trips(&shop, 1);
    let text = fs::read_to_string(shop.path("job/job.toml")).unwrap();
    // As all points, as four of them and as three that can't check each other.
    for by in [
        "",
        "by = [\"P1\", \"P2\", \"P3\", \"P4\"]\n",
        "by = [\"P1\", \"P2\", \"P4\"]\n",
    ] {
        shop.write("job/job.toml", text.clone() + by);
        shop.write("job/sets/trip-2.csv", table("mm", 25.4));
        let words = "trip 2: job/sets/trip-2.csv: is the unit right? the distances between its points are 25.4 times those";
        shop.stopped(&["trips", "job"], words);
        assert!(!shop.path("job/trips").exists());
    }
    shop.write("job/sets/trip-2.csv", table("mm", 1.0));
    let ran = shop.run(&["trips", "job"]);
    assert!(ran.code < 2, "{}", ran.stderr);
}
