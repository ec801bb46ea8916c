//! Constellations with known answers: holes missing, moved and too many, mirror images, patterns that lie in several ways.

use super::*;

const INCH: f64 = 25.4;

fn hole(at_in: [f64; 3], size_in: f64) -> Place {
    Place {
        at_mm: Point::from(at_in) * INCH,
        axis: Vector::z(),
        size_mm: size_in * INCH,
        size_pm_mm: 0.0,
    }
}

/// Six datum holes, alike left and right, and four seat-rail holes on the right only.
fn tub() -> Vec<Place> {
    let datums = [
        [4.0, -14.0, 20.0],
        [4.0, 14.0, 20.0],
        [46.0, -14.0, 20.0],
        [46.0, 14.0, 20.0],
        [80.0, -15.5, 26.0],
        [80.0, 15.5, 26.0],
    ];
    let seats = [
        [18.0, 8.0, 20.0],
        [18.0, 21.0, 20.0],
        [31.0, 8.0, 20.0],
        [31.0, 20.0, 20.0],
    ];
    let datums = datums.map(|at| hole(at, 0.75));
    datums
        .into_iter()
        .chain(seats.map(|at| hole(at, 0.375)))
        .collect()
}

fn pose(turn: [f64; 3]) -> Motion<Body, Scan> {
    Motion::turn_about(
        Vector::from(turn),
        Point::origin(),
        Vector::new(300.0, -2000.0, 55.0),
    )
}

/// The places in another pose, each off by up to `noise_mm` along each axis, every other axis the other way round.
fn measured(places: &[Place], pose: &Motion<Body, Scan>, noise_mm: f64) -> Vec<Place> {
    let off = |i: usize| [1.3, 2.7, 4.1].map(|k: f64| noise_mm * (k * (i as f64 + 1.0) * 7.0).sin());
    let side = |i: usize| if i.is_multiple_of(2) { 1.0 } else { -0.5 };
    let places = places.iter().enumerate();
    places
        .map(|(i, p)| Place {
            at_mm: pose.apply(&p.at_mm) + Vector::from(off(i)),
            axis: pose.turn(&p.axis) * side(i),
            size_mm: p.size_mm + 0.2 * off(i)[0],
            size_pm_mm: p.size_pm_mm,
        })
        .collect()
}

fn gap_mm(found: &Constellation, pose: &Motion<Body, Scan>, places: &[Place]) -> f64 {
    let bounds = Bounds::of(places.iter().map(|p| &p.at_mm)).unwrap();
    pose.largest_gap_mm(&found.reference_from_measured.inverse(), &bounds)
}

#[test]
fn holes_are_matched_in_any_pose_with_one_missing_one_moved_and_one_too_many() {
    for turn in [
        [0.0, 0.0, 0.0],
        [0.4, -1.9, 0.8],
        [3.1, 0.0, 0.1],
        [-1.0, 1.0, 2.0],
    ] {
        let pose = pose(turn);
        let mut here = measured(&tub(), &pose, 0.2);
        here[4].at_mm += pose.turn(&Vector::new(3.0, 4.0, 0.0));
        here.remove(0);
        here.push(Place {
            at_mm: pose.apply(&Point::new(400.0, 30.0, 500.0)),
            ..here[8]
        });
        let found = match_places(&tub(), &here, 1.5).unwrap();
        let expected: Vec<(usize, usize)> = [1, 2, 3, 5, 6, 7, 8, 9].map(|i| (i, i - 1)).into();
        assert_eq!(found.pairs, expected);
        assert!(gap_mm(&found, &pose, &tub()) < 0.5);
        assert!(found.searched_all && found.freedoms == 18);
        assert!(found.rms_mm < 0.3 && found.residuals_mm.len() == 8);
        assert!(found.motions.pm_at_mm(&tub()[9].at_mm) < 0.4);
        assert!(found.runner_up.is_none_or(|(pairs, _, _)| pairs <= 4));
    }
}

/// Of the mirror image only what lies in one plane can be brought together, turned over: H1 to H4 and the seat rails', or
/// else what is alike left and right.
#[test]
fn a_mirror_image_gives_fewer_pairs() {
    let across = |v: Vector| Vector::new(v.x, -v.y, v.z);
    let mirrored: Vec<Place> = tub()
        .iter()
        .map(|p| Place {
            at_mm: Point::from(across(p.at_mm.coords)),
            axis: across(p.axis),
            ..*p
        })
        .collect();
    let here = measured(&mirrored, &pose([0.4, -1.9, 0.8]), 0.1);
    let found = match_places(&tub(), &here, 1.5).unwrap();
    let flat: Vec<(usize, usize)> = [0, 1, 2, 3, 6, 7, 8, 9].map(|i| (i, i)).into();
    assert_eq!(found.pairs, flat);
    assert!(found.runner_up.is_some_and(|(pairs, _, _)| pairs == 6));
    assert!((found.reference_from_measured.rotation().determinant() - 1.0).abs() < 1e-9);
    // Four holes of four sizes at the corners of a lopsided tetrahedron: all distances agree, no turn brings them there.
    let corners = [
        ([0.0, 0.0, 0.0], 0.25),
        ([20.0, 0.0, 0.0], 0.375),
        ([5.0, 12.0, 0.0], 0.5),
        ([9.0, 5.0, 8.0], 0.75),
    ];
    let there = corners.map(|(at, size)| hole(at, size));
    let here = there.map(|p| Place {
        at_mm: Point::from(across(p.at_mm.coords)),
        axis: Vector::zeros(),
        ..p
    });
    let found = match_places(&there, &here, 1.5).unwrap();
    assert_eq!(found.pairs.len(), 3);
    assert!(found.rms_mm < 1e-9);
}

#[test]
fn a_rectangle_of_like_holes_lies_in_two_ways() {
    let corners = [[0.0, 0.0], [12.0, 0.0], [12.0, 8.0], [0.0, 8.0]];
    let there = corners.map(|[x, y]| hole([x, y, 3.0], 0.5));
    let here = measured(&there, &pose([0.2, 0.1, -0.7]), 0.0);
    let found = match_places(&there, &here, 1.0).unwrap();
    assert!(found.pairs.len() == 4 && found.rms_mm < 1e-9);
    let (pairs, turned_deg, motion) = found.runner_up.unwrap();
    assert_eq!(pairs, 4);
    assert!((turned_deg - 180.0).abs() < 1e-3, "{turned_deg}");
    let worst = here.iter().map(|p| {
        let at = motion.apply(&p.at_mm);
        let apart = there.iter().map(|q| (q.at_mm - at).norm());
        apart.fold(f64::INFINITY, f64::min)
    });
    assert!(worst.fold(0.0, f64::max) < 1e-9);
    // One corner a millimetre out: both ways stay within the tolerance, and the closer is the best.
    let mut there = there;
    there[0].at_mm.x -= 1.2;
    let pose = pose([0.2, 0.1, -0.7]);
    let found = match_places(&there, &measured(&there, &pose, 0.0), 1.5).unwrap();
    assert_eq!(found.pairs, [(0, 0), (1, 1), (2, 2), (3, 3)]);
    assert!(gap_mm(&found, &pose, &there) < 1e-6);
    assert!(found.runner_up.is_some_and(|(pairs, _, _)| pairs == 4));
}

/// Coarse points read sizes a sixteenth apart: what their ± explains leaves no hole out, and a line of three sets nothing.
#[test]
fn sizes_that_their_pm_explains_are_one_and_the_widest_holes_count() {
    let six = [
        [2.4, 2.4],
        [21.3, 2.8],
        [2.8, 15.7],
        [20.9, 15.7],
        [11.8, 1.6],
        [11.8, 16.5],
    ];
    let coarse = six.map(|[x, y]| Place {
        size_pm_mm: 1.2,
        ..hole([x, y, 0.0], 1.1875)
    });
    let pose = pose([0.4, -1.9, 0.8]);
    let mut here = measured(&coarse, &pose, 0.2);
    for (i, off) in [(1, 1.4), (2, -1.4), (3, -1.0)] {
        here[i].size_mm += off;
    }
    here[3].at_mm += pose.turn(&(Vector::y() * 4.0));
    let found = match_places(&coarse, &here, 1.5875).unwrap();
    assert_eq!(found.pairs, [(0, 0), (1, 1), (2, 2), (4, 4), (5, 5)]);
    // Three nearly on a line that lie a little closer than three wide apart are no better.
    let lies = |at: [[f64; 2]; 3], rms_mm: f64| {
        let there = at.map(|[x, y]| hole([x, y, 0.0], 0.5));
        let sky = Sky::new(&there, &there, 1.5);
        let mut found = sky.found(vec![(0, 0), (1, 1), (2, 2)]).unwrap();
        found.fit.rms_mm = rms_mm;
        found
    };
    let narrow = lies([[0.0, 0.0], [12.0, 0.5], [24.0, 0.0]], 0.2);
    let wide = lies([[0.0, 0.0], [12.0, 14.0], [24.0, 0.0]], 0.5);
    assert!(wide.is_better_than(&narrow, 1.5) && !narrow.is_better_than(&wide, 1.5));
}

/// Turned over about the line of two of its holes, a kite lies on itself, and keeps those two where they were.
#[test]
fn the_runner_up_may_share_holes_with_the_best() {
    let corners = [[0.0, 0.0], [12.0, 0.0], [4.0, 3.0], [4.0, -3.0]];
    let there = corners.map(|[x, y]| hole([x, y, 0.0], 0.5));
    let found = match_places(&there, &measured(&there, &pose([0.2, 0.1, -0.7]), 0.05), 1.0).unwrap();
    let (pairs, turned_deg, _) = found.runner_up.unwrap();
    assert_eq!(pairs, 4);
    assert!((turned_deg - 180.0).abs() < 1.0);
}

#[test]
fn a_square_of_like_holes_lies_in_eight_ways_and_one_that_is_askew_in_one() {
    let corners = |askew: f64| [[0.0, 0.0], [10.0, 0.0], [10.0, 10.0 + askew], [0.0, 10.0]];
    let holes = |askew: f64| corners(askew).map(|[x, y]| hole([x, y, 0.0], 0.5));
    let (best, others) = match_ways(&holes(0.0), &holes(0.0), 1.0).unwrap();
    assert_eq!((best.pairs.len(), others.len()), (4, 7));
    assert!(others.iter().all(|other| other.pairs.len() == 4));
    let (best, others) = match_ways(&holes(1.0), &holes(1.0), 1.0).unwrap();
    assert_eq!(best.pairs, [(0, 0), (1, 1), (2, 2), (3, 3)]);
    assert!(others.iter().all(|other| other.pairs.len() < 4));
}

#[test]
fn a_regular_pattern_of_many_holes_is_searched_in_time() {
    let there: Vec<Place> = (0..56)
        .map(|i| hole([2.0 * f64::from(i % 8), 2.0 * f64::from(i / 8), 1.0], 0.5))
        .collect();
    let here = measured(&there, &pose([0.4, -1.9, 0.8]), 0.3);
    let found = match_places(&there, &here[5..], 2.0).unwrap();
    assert_eq!(found.pairs.len(), 51);
    let (pairs, turned_deg, _) = found.runner_up.unwrap();
    assert!(pairs == 51 && (turned_deg - 180.0).abs() < 0.1);
    // Scattered ones, all of one size, ten of sixty not there and ten elsewhere.
    let scattered = |seed: f64| -> Vec<Place> {
        let at = |i: i32, k: f64, size: f64| size * (0.5 + 0.5 * (seed * k * f64::from(i + 1)).sin());
        let place = |i: i32| {
            hole(
                [at(i, 12.9898, 70.0), at(i, 78.233, 45.0), at(i, 37.719, 18.0)],
                0.5,
            )
        };
        (0..60).map(place).collect()
    };
    let (there, pose) = (scattered(1.0), pose([0.4, -1.9, 0.8]));
    let mut here = measured(&there, &pose, 0.2);
    here[..10].copy_from_slice(&measured(&scattered(1.63)[..10], &pose, 0.0));
    let found = match_places(&there, &here, 1.0).unwrap();
    let expected: Vec<(usize, usize)> = (10..60).map(|i| (i, i)).collect();
    assert_eq!(found.pairs, expected);
    assert!(gap_mm(&found, &pose, &there) < 0.5);
}

#[test]
fn too_few_and_a_line_are_refused() {
    let refused = |there: &[Place]| {
        let here = measured(there, &pose([0.4, -1.9, 0.8]), 0.0);
        match_places(there, &here, 1.0).unwrap_err()
    };
    let few = |why: RegisterError| matches!(why, RegisterError::TooFew { needed: 3, .. });
    assert!(few(refused(&tub()[..2])));
    assert!(few(refused(&[])));
    let line: Vec<Place> = (0..4).map(|i| hole([f64::from(i * i), 2.0, 3.0], 0.5)).collect();
    assert_eq!(refused(&line), RegisterError::OnALine);
    let mut lost = tub();
    lost[3].at_mm.y = f64::NAN;
    assert_eq!(
        match_places(&tub(), &lost, 1.0).unwrap_err(),
        RegisterError::NotFinite
    );
}
