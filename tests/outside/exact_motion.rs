//! Sets that are copies of each other but for a motion: the motion must come back to the last digit that matters.
//!
//! After the example sets of a small open-source ICP package (github.com/pglira/simpleICP, a dragon and two parts of a bunny
//! with published truth). Its packages in the registries leave the sets out, so the same cases are made here from the
//! Stanford models (Stanford Computer Graphics Laboratory; Curless & Levoy 1996, Turk & Levoy 1994, SIGGRAPH).

use cloud::{Body, Cloud, Frame, Motion, Point, Scan, Surface, Vector};
use register::any_pose::from_any_pose;
use register::icp::{Ending, Fixed, settle};

use crate::data::file;
use crate::dragon::model;

/// The rows of a model in metres, in mm.
fn rows(path: &std::path::Path) -> Vec<Point> {
    let raw = formats::read(path).unwrap();
    raw.points.iter().map(|p| p * 1000.0).collect()
}

fn surface<F: Frame>(points: Vec<Point>) -> Surface<F> {
    Surface::new(Cloud::from_points(points), None).unwrap().0
}

/// A turn about an axis through the origin.
fn turn<F: Frame, G: Frame>(axis: Vector, degrees: f64) -> Motion<F, G> {
    Motion::turn_about(axis * degrees.to_radians(), Point::origin(), Vector::zeros())
}

/// How far the motion that was found is from undoing the one that was made: degrees, and mm at the worst row.
fn apart(found: &Motion<Scan, Body>, made: &Motion<Body, Scan>, rows: &[Point]) -> (f64, f64) {
    let both = made.then(found);
    let worst = rows
        .iter()
        .map(|p| (both.apply(p) - p).norm())
        .fold(0.0, f64::max);
    (both.angle().to_degrees(), worst)
}

// A hundred thousand points turned by 1, 2 and 3 degrees about X, Y and Z and shifted by (0.2, 0.4, 0.6), as there; from no
// start, to 1e-4 degrees and 1e-4 mm in every row.
#[test]
fn the_dragon_comes_back_from_one_two_three_degrees() {
    let dragon = rows(&model("dragon_vrip_res2.ply"));
    assert_eq!(dragon.len(), 100_250);
    let shift: Motion<Body, Scan> =
        Motion::turn_about(Vector::zeros(), Point::origin(), Vector::new(0.2, 0.4, 0.6));
    let made = turn::<Body, Body>(Vector::x(), 1.0)
        .then(&turn::<Body, Body>(Vector::y(), 2.0))
        .then(&turn::<Body, Body>(Vector::z(), 3.0))
        .then(&shift);
    let moved = dragon.iter().map(|p| made.apply(p)).collect();
    let (reference, measured) = (surface::<Body>(dragon.clone()), surface::<Scan>(moved));
    let done = settle(&Fixed::all_of(&reference), &measured, &Motion::identity(), 20.0);
    let (degrees, mm) = apart(&done.reference_from_measured, &made, &dragon);
    assert!(degrees < 1e-4 && mm < 1e-4, "{degrees}° {mm} mm");
    assert_eq!(done.ending, Ending::Settled);
}

/// The parts of bun000 on this side and on that: the middle two fifths are on both.
fn two_parts() -> (Vec<Point>, Vec<Point>) {
    let bunny = rows(&file("data/st_bun000.ply"));
    let mut along: Vec<f64> = bunny.iter().map(|p| p.x).collect();
    along.sort_by(f64::total_cmp);
    let at = |share: f64| along[(share * along.len() as f64) as usize];
    let (start, end) = (at(0.3), at(0.7));
    let part = |keep: &dyn Fn(f64) -> bool| bunny.iter().filter(|p| keep(p.x)).copied().collect();
    (part(&|x| x < end), part(&|x| x > start))
}

// Two parts that share 57 % of their points, one of them turned by 10 degrees about Z as there. What only one part has must
// not pull.
#[test]
fn a_part_of_the_bunny_comes_back_from_ten_degrees() {
    let (left, right) = two_parts();
    let made = turn::<Body, Scan>(Vector::z(), 10.0);
    let moved = right.iter().map(|p| made.apply(p)).collect();
    let (reference, measured) = (surface::<Body>(left), surface::<Scan>(moved));
    let done = settle(&Fixed::all_of(&reference), &measured, &Motion::identity(), 15.0);
    let found = &done.reference_from_measured;
    let (degrees, mm) = apart(found, &made, &right);
    assert!(degrees < 0.01 && mm < 0.005, "{degrees}° {mm} mm");
    assert!(found.translation_mm().norm() < 0.005);
}

// The same two parts with nothing known of the pose.
#[test]
fn a_part_of_the_bunny_comes_back_from_any_pose() {
    let (left, right) = two_parts();
    let made: Motion<Body, Scan> = Motion::turn_about(
        Vector::new(1.9, -0.8, 1.1),
        Point::new(300.0, -100.0, 50.0),
        Vector::new(40.0, 500.0, -60.0),
    );
    let moved = right.iter().map(|p| made.apply(p)).collect();
    let (reference, measured) = (surface::<Body>(left), surface::<Scan>(moved));
    let found = from_any_pose(&reference, &measured).unwrap();
    let (degrees, mm) = apart(&found.best.reference_from_measured, &made, &right);
    assert!(degrees < 0.01 && mm < 0.005, "{degrees}° {mm} mm");
}
