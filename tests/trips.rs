//! Trips in and out of the jig: a step is flagged with what was done before it, noise is not, and what can't be set is told.

use std::fs;

use cloud::{Point, Vector};
use serde_json::Value;

use crate::shop::{Shop, comparison_as_is, named, part, set_of_job, uniform};

/// Six places of a part of 400 × 300 mm, two of them low.
const PLACES: [(&str, [f64; 3]); 6] = [
    ("P1", [20.0, 20.0, 10.0]),
    ("P2", [380.0, 20.0, 10.0]),
    ("P3", [380.0, 280.0, 12.0]),
    ("P4", [20.0, 280.0, 12.0]),
    ("P5", [200.0, 20.0, -80.0]),
    ("P6", [200.0, 280.0, -80.0]),
];

const HEAD: &str = "name = \"Panel\"\nlimit = \"1/16 in\"\n";

/// A table of the places as an arm sees them in a frame of its own, each off by up to 0.1 mm.
fn probed(trip: u64, up_mm: impl Fn(&str) -> f64) -> String {
    let (sine, cosine) = (0.3 * trip as f64).sin_cos();
    let mut table = String::from("name,x (mm),y (mm),z (mm),pm (mm)\n");
    for (k, (name, at)) in PLACES.iter().enumerate() {
        let off = |axis: u64| 0.2 * (uniform(1000 * trip + 10 * k as u64 + axis) - 0.5);
        let p = Point::from(*at) + Vector::new(off(0), off(1), off(2) + up_mm(name));
        let turned = Point::new(
            cosine * p.x - sine * p.y + 50.0,
            sine * p.x + cosine * p.y,
            p.z - 7.0,
        );
        table += &format!("{name},{:.3},{:.3},{:.3},0.2\n", turned.x, turned.y, turned.z);
    }
    table
}

fn job(shop: &Shop, trips: u64) {
    let (points, normals) = part(3_000, 1);
    shop.set("job/sets/before.ply", &points, Some(&normals));
    let mut text = format!("{HEAD}{}[places]\n", set_of_job("before"));
    for (name, [x, y, z]) in PLACES {
        text += &format!("{name} = [{x:?}, {y:?}, {z:?}]\n");
    }
    text += &comparison_as_is("look", "before", "before");
    for trip in 1..=trips {
        text += &format!(
            "[[trip]]\nname = \"trip {trip}\"\nday = \"2026-10-{:02}\"\npoints = \"sets/trip-{trip}.csv\"\n",
            2 * trip
        );
        // The welding before trip 3 pulls P3 up by 3 mm.
        let table = probed(trip, |name| if name == "P3" && trip >= 3 { 3.0 } else { 0.0 });
        shop.write(&format!("job/sets/trip-{trip}.csv"), table);
    }
    shop.write("job/job.toml", text);
}

#[test]
fn a_step_is_told_with_what_was_done_before_it() {
    let shop = Shop::new();
    job(&shop, 4);
    for (did, day) in [
        ("cut out", "2026-10-03"),
        ("welded the corner", "2026-10-05"),
        ("swept up", "2026-10-07"),
    ] {
        assert_eq!(shop.run(&["log", "job", "--did", did, "--day", day]).code, 0);
    }
    let ran = shop.run(&["trips", "job"]);
    assert_eq!(ran.code, 1, "{}{}", ran.stdout, ran.stderr);
    let told = "not home, 1/8 up since trip 3 (welded the corner)";
    assert!(ran.stdout.contains(told), "{}", ran.stdout);
    let record: Value =
        serde_json::from_slice(&fs::read(shop.path("job/trips/result.json")).unwrap()).unwrap();
    let figures = &record["groups"][0]["figures"];
    for figure in figures.as_array().unwrap() {
        let steps = figure["steps"].as_array().unwrap();
        let expected = usize::from(figure["name"] == "P3, up");
        assert_eq!(steps.len(), expected, "{figure}");
    }
    let step = &named(figures, "P3, up")["steps"][0];
    assert!((step["by_mm"].as_f64().unwrap() - 3.0).abs() < 0.3, "{step}");
    assert_eq!(
        (step["from"].as_str(), step["to"].as_str()),
        (Some("trip 2"), Some("trip 3"))
    );
    for file in record["files"].as_array().unwrap() {
        assert!(
            shop.path("job/trips").join(file.as_str().unwrap()).is_file(),
            "{file}"
        );
    }
    let table = fs::read_to_string(shop.path("job/trips/trips.csv")).unwrap();
    assert!(table.contains("welded the corner"), "{table}");
}

#[test]
fn before_it_moves_everything_is_home() {
    let shop = Shop::new();
    job(&shop, 2);
    let ran = shop.run(&["trips", "job"]);
    assert_eq!(ran.code, 0, "{}{}", ran.stdout, ran.stderr);
    assert!(!ran.stdout.contains("not home"), "{}", ran.stdout);
}

#[test]
fn what_can_not_be_laid_beside_each_other_is_told() {
    let shop = Shop::new();
    job(&shop, 2);
    // A table that lost its column, and one with too few points to be set by.
    let good = fs::read_to_string(shop.path("job/sets/trip-2.csv")).unwrap();
    for (bad, words) in [
        (good.replace("z (mm)", "q"), "trip-2.csv"),
        (good.lines().take(3).collect::<Vec<_>>().join("\n"), "trip 2"),
    ] {
        shop.write("job/sets/trip-2.csv", bad);
        let ran = shop.run(&["trips", "job"]);
        assert_eq!(ran.code, 2, "{}{}", ran.stdout, ran.stderr);
        assert!(ran.stderr.contains(words), "{}", ran.stderr);
        assert!(!shop.path("job/trips").exists());
    }
    // Days, names and likenesses that are none.
    let text = fs::read_to_string(shop.path("job/job.toml")).unwrap();
    shop.write(
        "job/job.toml",
        text + "[[trip]]\nname = \"trip 9\"\nday = \"2026-02-30\"\nlike = \"lok\"\nmeasured = \"before\"\n",
    );
    let ran = shop.run(&["trips", "job"]);
    assert_eq!(ran.code, 2);
    for words in ["\"2026-02-30\" is no day", "did you mean \"look\""] {
        assert!(ran.stderr.contains(words), "{words}: {}", ran.stderr);
    }
}

/// Sets of the same part over three trips; before the second its floor was pulled up in the middle.
fn scanned(shop: &Shop) {
    let mut text = HEAD.to_string() + &set_of_job("before");
    let (points, normals) = part(4_000, 1);
    shop.set("job/sets/before.ply", &points, Some(&normals));
    for trip in 1..=3u64 {
        let (mut points, normals) = part(4_000, 1 + trip);
        for point in points
            .iter_mut()
            .filter(|p| trip > 1 && (150.0..250.0).contains(&p.x))
        {
            point.z += 4.0;
        }
        shop.set(&format!("job/sets/s{trip}.ply"), &points, Some(&normals));
        text += &set_of_job(&format!("s{trip}"));
    }
    text += "[[region]]\nname = \"floor\"\nstatus = \"worked\"\nbox = [[160, 10, -50], [240, 290, 60]]\noutside = \"up\"\n";
    text += &comparison_as_is("look", "before", "before");
    for trip in 1..=3 {
        text += &format!(
            "[[trip]]\nname = \"trip {trip}\"\nday = \"2026-10-0{trip}\"\nlike = \"look\"\nmeasured = \"s{trip}\"\n\
             after = \"weld {trip}\"\n"
        );
    }
    shop.write("job/job.toml", text);
}

#[test]
fn each_trip_is_shown_beside_the_one_before_and_every_view_over_all() {
    let shop = Shop::new();
    scanned(&shop);
    let ran = shop.run(&["run", "job"]);
    assert_eq!(ran.code, 1, "{}{}", ran.stdout, ran.stderr);
    let pictures = |threads: &str| {
        let ran = shop.run(&["trips", "job", "--threads", threads]);
        assert_eq!(ran.code, 1, "{}{}", ran.stdout, ran.stderr);
        let result = shop.result("job/trips");
        let files = result["pictures"].as_array().unwrap().iter();
        files
            .map(|picture| {
                let file = picture["file"].as_str().unwrap().to_string();
                assert!(result["files"].as_array().unwrap().contains(&file.clone().into()));
                assert!(picture["caption"].as_str().unwrap().contains("trip"), "{picture}");
                let bytes = fs::read(shop.path("job/trips").join(&file)).unwrap();
                (file, bytes)
            })
            .collect::<Vec<_>>()
    };
    let made = pictures("1");
    assert_eq!(made, pictures("2"));
    let count = |begins: &str| made.iter().filter(|(file, _)| file.starts_with(begins)).count();
    assert_eq!(count("before-after-"), 2);
    assert_eq!(count("leaf-plan-"), 3);
    let page = shop.run(&["page", "job"]);
    assert_eq!(page.code, 0, "{}", page.stderr);
    let html = fs::read_to_string(shop.path("job/pages/page.html")).unwrap();
    assert!(html.contains("type=\"radio\"") && html.contains("Before and after trip 2"));
    // Held to another limit the last can't be laid beside the others any more, which is told.
    let text = fs::read_to_string(shop.path("job/job.toml")).unwrap();
    shop.write("job/job.toml", text.replace("1/16 in", "1/8 in"));
    shop.run(&["run", "job", "--only", "trip 3"]);
    let ran = shop.run(&["trips", "job"]);
    assert!(ran.stderr.contains("held to other limits"), "{}", ran.stderr);
}
