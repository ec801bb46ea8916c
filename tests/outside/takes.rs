//! Range scans of the Stanford bunny (Stanford Computer Graphics Laboratory; Turk & Levoy 1994, SIGGRAPH) joined into
//! one set, against the motions published with them (bun.conf).

use cloud::{Body, Cloud, Matrix3, Motion, Point, Scan, Surface, Vector};
use register::takes::{Joined, NotJoined, join};

use crate::data::{figures, file, numbers};

fn points(name: &str) -> Vec<Point> {
    let raw = formats::read(&file(&format!("data/st_{name}.ply"))).unwrap();
    raw.points.iter().map(|p| p * 1000.0).collect()
}

/// The published motion into the common frame, mm: x' = R(q)ᵀ x + t.
fn published(name: &str) -> Motion<Scan, Body> {
    let conf = &figures("bunny_scans.json")["conf"][name];
    let (shift, q) = (numbers(&conf[0]), numbers(&conf[1]));
    let size = q.iter().map(|c| c * c).sum::<f64>().sqrt();
    let [x, y, z, w] = [q[0] / size, q[1] / size, q[2] / size, q[3] / size];
    let turn = Matrix3::new(
        1.0 - 2.0 * (y * y + z * z),
        2.0 * (x * y - z * w),
        2.0 * (x * z + y * w),
        2.0 * (x * y + z * w),
        1.0 - 2.0 * (x * x + z * z),
        2.0 * (y * z - x * w),
        2.0 * (x * z - y * w),
        2.0 * (y * z + x * w),
        1.0 - 2.0 * (x * x + y * y),
    );
    Motion::new(
        turn.transpose(),
        Vector::new(shift[0], shift[1], shift[2]) * 1000.0,
    )
}

/// How far the motion onto ← take is from the published one: degrees, and mm at the middle of the take.
fn apart(onto: (&str, &Motion<Scan, Body>), take: (&str, &Motion<Scan, Body>)) -> (f64, f64) {
    let found = take.1.then(&onto.1.inverse());
    let truth = published(take.0).then(&published(onto.0).inverse());
    let seen = points(take.0);
    let middle = Point::from(seen.iter().map(|p| p.coords).sum::<Vector>() / seen.len() as f64);
    (
        found.then(&truth.inverse()).angle().to_degrees(),
        (found.apply(&middle) - truth.apply(&middle)).norm(),
    )
}

fn surface(points: Vec<Point>) -> Surface<Scan> {
    Surface::new(Cloud::from_points(points), None).unwrap().0
}

/// Takes that lie as the published motions put them, each spoilt by a turn of 1° and a shift of 1.5 mm of its own; and
/// those motions.
fn roughly_placed(names: &[&str]) -> (Vec<Surface<Scan>>, Vec<Motion<Scan, Scan>>) {
    names
        .iter()
        .enumerate()
        .map(|(k, name)| {
            let seen = points(name);
            let rough = published(name);
            let middle = rough.apply(&seen[seen.len() / 2]);
            let t = k as f64;
            let axis = Vector::new((2.0 * t + 1.0).sin(), (3.0 * t).cos(), (5.0 * t + 2.0).sin()).normalize();
            let spoilt = Motion::turn_about(axis * 1f64.to_radians(), middle, axis * 1.5);
            let placed: Motion<Scan, Scan> = rough.then(&spoilt);
            (surface(seen.iter().map(|p| placed.apply(p)).collect()), placed)
        })
        .unzip()
}

fn links(joined: &Joined) -> Vec<(usize, usize)> {
    joined
        .links
        .iter()
        .map(|l| (l.reference.min(l.measured), l.reference.max(l.measured)))
        .collect()
}

#[test]
fn the_published_motions_agree_with_the_published_pairs() {
    let rows = &figures("bunny_scans.json")["bun045->bun000"]["truth"];
    let turn = published("bun045").then(&published("bun000").inverse());
    for i in 0..3 {
        let row = numbers(&rows[i]);
        for j in 0..3 {
            assert!((turn.rotation()[(i, j)] - row[j]).abs() < 1e-9);
        }
        assert!((turn.translation_mm()[i] - 1000.0 * row[3]).abs() < 1e-6);
    }
}

#[test]
fn three_takes_in_unknown_poses() {
    let names = ["bun000", "bun045", "bun090"];
    let takes: Vec<Surface<Scan>> = names.iter().map(|name| surface(points(name))).collect();
    let joined = join(&takes, false).unwrap();
    // bun000 and bun090 have 0.37 to 0.45 in common, which closes a loop.
    assert_eq!(links(&joined), [(0, 1), (1, 2), (0, 2)], "{:?}", joined.warnings);
    assert!(joined.links.iter().all(|l| l.checked && !l.left_out()));
    let lies = &joined.joined_from_take;
    let (degrees, mm) = apart(("bun000", &lies[0]), ("bun045", &lies[1]));
    assert!(degrees < 0.2 && mm < 0.1, "bun045: {degrees}° {mm} mm");
    let (degrees, mm) = apart(("bun045", &lies[1]), ("bun090", &lies[2]));
    assert!(degrees < 0.2 && mm < 0.15, "bun090: {degrees}° {mm} mm");
}

/// bun270 meets only bun000, with a quarter to a third of their surface. What is known of its place is no better than
/// 0.4° and 0.4 mm: the scans that bun.conf ties it to best, bun315 and chin, are not among the data; set on bun000
/// alone by an independent code (Open3D, point to plane, Tukey's weight) it comes out 0.15° to 0.29° and up to 0.21 mm
/// from bun.conf, by start and direction; and against bun180 bun.conf itself is off by 0.39° and 0.6 mm.
#[test]
fn four_takes_that_lie_roughly_in_one_frame() {
    let names = ["bun270", "bun000", "bun045", "bun090"];
    let (takes, placed) = roughly_placed(&names);
    let joined = join(&takes, true).unwrap();
    assert_eq!(
        links(&joined),
        [(0, 1), (1, 2), (2, 3), (1, 3)],
        "{:?}",
        joined.warnings
    );
    assert!(!joined.links[0].checked && joined.links[1..].iter().all(|l| l.checked));
    let lies: Vec<Motion<Scan, Body>> = placed
        .iter()
        .zip(&joined.joined_from_take)
        .map(|(placed, joined)| placed.then(joined))
        .collect();
    for (onto, take, most_deg, most_mm) in [(1, 2, 0.2, 0.1), (2, 3, 0.2, 0.15), (1, 0, 0.4, 0.4)] {
        let (degrees, mm) = apart((names[onto], &lies[onto]), (names[take], &lies[take]));
        assert!(
            degrees < most_deg && mm < most_mm,
            "{} on {}: {degrees}° {mm} mm",
            names[take],
            names[onto]
        );
    }
}

// The two takes have five per cent of their surface in common, though they lie where they should.
#[test]
fn top2_hangs_on_nothing_of_bun000() {
    let (takes, _) = roughly_placed(&["bun000", "top2"]);
    match join(&takes, true) {
        Err(NotJoined::HangOnNothing { loose }) => {
            assert_eq!((loose.len(), loose[0].take, loose[0].on), (1, 1, 0));
        }
        Err(why) => panic!("{why}"),
        Ok(joined) => panic!("joined with {:.0} % in common", 100.0 * joined.links[0].overlap),
    }
}
