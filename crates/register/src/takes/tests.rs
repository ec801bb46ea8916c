//! Takes with known motions: the graph against closed forms, and the joining on small surfaces.

use crate::made::uniform;
use cloud::{Cloud, Vector};

use super::*;

/// A box about the origin, seen all over: places and outward normals, symmetrical so that its motions don't mix.
fn seen_all_over() -> (Vec<Point>, Vec<Vector>) {
    let mut seen = (Vec::new(), Vec::new());
    for axis in 0..3 {
        for side in [-1.0, 1.0] {
            for k in 0..100 {
                let mut at = [0.0; 3];
                at[axis] = 100.0 * side;
                at[(axis + 1) % 3] = 20.0 * (f64::from(k % 10) - 4.5);
                at[(axis + 2) % 3] = 20.0 * (f64::from(k / 10) - 4.5);
                let mut normal = Vector::zeros();
                normal[axis] = side;
                seen.0.push(Point::from(at));
                seen.1.push(normal);
            }
        }
    }
    seen
}

/// A link that is off from the truth by `error`, in the frame of the reference.
fn link(
    truth: &[Motion<Scan, Body>],
    reference: usize,
    measured: usize,
    error: &Motion<Scan, Scan>,
    pairs: usize,
) -> Link {
    let (points, normals) = seen_all_over();
    let there = truth[reference].inverse();
    let points: Vec<Point> = points.iter().map(|p| there.apply(p)).collect();
    let normals: Vec<Vector> = normals.iter().map(|n| there.turn(n)).collect();
    let motion = truth[measured].then(&there).then(error);
    Link {
        pairs,
        ..Link::new(reference, measured, motion, Motions::of(&points, &normals, 0.1))
    }
}

/// The box around what each take sees, in its own frame.
fn boxes(truth: &[Motion<Scan, Body>]) -> Vec<Bounds> {
    truth
        .iter()
        .map(|pose| {
            let seen: Vec<Point> = seen_all_over()
                .0
                .iter()
                .map(|p| pose.inverse().apply(p))
                .collect();
            Bounds::of(&seen).unwrap()
        })
        .collect()
}

/// The farthest that any take lies off, mm.
fn farthest_mm(found: &[Motion<Scan, Body>], truth: &[Motion<Scan, Body>], bounds: &[Bounds]) -> f64 {
    let gaps = found
        .iter()
        .zip(truth)
        .zip(bounds)
        .map(|((f, t), b)| f.largest_gap_mm(t, b));
    gaps.fold(0.0, f64::max)
}

/// Six takes in frames that have nothing to do with each other.
fn turned_about() -> Vec<Motion<Scan, Body>> {
    (0..6)
        .map(|k| {
            let t = f64::from(k);
            Motion::turn_about(
                Vector::new(0.7 * t, -0.4 * t, 0.3 * t * t),
                Point::new(10.0, 20.0, 30.0),
                Vector::new(300.0 * t, -200.0 * t, 50.0 * t * t),
            )
        })
        .collect()
}

const TIES: [(usize, usize); 10] = [
    (0, 1),
    (1, 2),
    (2, 3),
    (3, 4),
    (4, 5),
    (0, 5),
    (0, 2),
    (1, 3),
    (2, 4),
    (3, 5),
];

#[test]
fn one_false_link_does_not_bend_the_rest() {
    let truth = turned_about();
    let bounds = boxes(&truth);
    let good = Motion::identity();
    let slip: Motion<Scan, Scan> = Motion::turn_about(
        Vector::new(0.1, -0.1, 0.05),
        Point::origin(),
        Vector::new(30.0, 5.0, -8.0),
    );
    let far_off: Motion<Scan, Scan> = Motion::turn_about(
        Vector::new(2.0, -1.0, 0.4),
        Point::origin(),
        Vector::new(-90.0, 150.0, 20.0),
    );
    // The false one has most pairs, so that it is in the first tree; it closes a loop, or it is one of the run.
    for (false_tie, error) in [((1, 4), &slip), ((2, 3), &slip), ((2, 3), &far_off)] {
        let mut links: Vec<Link> = TIES
            .iter()
            .filter(|tie| **tie != false_tie)
            .map(|tie| link(&truth, tie.0, tie.1, &good, 600))
            .collect();
        links.push(link(&truth, false_tie.0, false_tie.1, error, 9_000));
        let joined = met_at_once(links, &bounds);
        let off = farthest_mm(&joined.joined_from_take, &truth, &bounds);
        assert!(off < 1e-6, "{off} mm with {false_tie:?} false");
        let (last, rest) = joined.links.split_last().unwrap();
        assert!(last.left_out() && rest.iter().all(|l| l.weight > 0.99 && l.checked));
        assert!(
            joined.warnings.iter().any(
                |w| w.code == "link-left-out" && w.words.contains(&format!("take {}", last.measured + 1))
            ),
            "{:?}",
            joined.warnings
        );
    }
}

/// Eight takes in a ring, in frames that differ by shifts only and see the same thing: each link that lays a take on
/// the one before is off by 0.1 mm one way, the one that closes the ring by nothing. All links are known alike, so the
/// 0.7 mm are shared out in eight equal parts.
#[test]
fn a_closed_loop_shares_the_drift_out() {
    let truth: Vec<Motion<Scan, Body>> = (0..8)
        .map(|k| {
            let a = f64::from(k) * std::f64::consts::FRAC_PI_4;
            let shift = Vector::new(200.0 * a.cos() - 200.0, 200.0 * a.sin(), 5.0 * f64::from(k));
            Motion::new(cloud::Matrix3::identity(), shift)
        })
        .collect();
    let bounds = boxes(&truth);
    let creep = Motion::new(cloud::Matrix3::identity(), Vector::new(0.1, 0.0, 0.0));
    let mut links: Vec<Link> = (1..8).map(|k| link(&truth, k - 1, k, &creep, 600)).collect();
    let open = met_at_once(links.clone(), &bounds);
    assert!((farthest_mm(&open.joined_from_take, &truth, &bounds) - 0.7).abs() < 1e-9);
    assert!(open.drift.is_none() && open.links.iter().all(|l| !l.checked));
    assert!(open.warnings.iter().any(|w| w.code == "drift-unknown"));
    links.push(link(&truth, 0, 7, &Motion::identity(), 600));
    let closed = met_at_once(links, &bounds);
    for (k, (found, true_one)) in closed.joined_from_take.iter().zip(&truth).enumerate() {
        let off = found.translation_mm() - true_one.translation_mm();
        let expected = Vector::new(k as f64 * (0.1 - 0.7 / 8.0), 0.0, 0.0);
        assert!((off - expected).norm() < 1e-4, "take {k}: {off}");
    }
    let ring = closed.links.last().unwrap();
    assert!(ring.closes_loop && closed.links.iter().filter(|l| l.closes_loop).count() == 1);
    assert!((ring.before_mm - 0.7).abs() < 1e-9 && (ring.after_mm - 0.7 / 8.0).abs() < 1e-4);
    assert!(closed.links.iter().all(|l| l.checked && l.weight > 0.9));
    let drift = closed.drift.unwrap();
    assert_eq!((drift.first, drift.last), (0, 7));
    assert!((drift.off_mm - 7.0 * 0.7 / 8.0).abs() < 1e-4, "{}", drift.off_mm);
}

/// A take of a hilly sheet between two places along it, in a frame that is off by `pose`.
fn take(from: f64, to: f64, pose: &Motion<Scan, Body>, seed: u64) -> Surface<Scan> {
    take_of(from, to, pose, seed, |x, y| {
        40.0 * (x / 60.0).sin() * (y / 75.0).cos() + 25.0 * (y / 50.0 + x / 140.0).sin()
    })
}

/// A take of the sheet of this height.
fn take_of(
    from: f64,
    to: f64,
    pose: &Motion<Scan, Body>,
    seed: u64,
    height: impl Fn(f64, f64) -> f64,
) -> Surface<Scan> {
    let back = pose.inverse();
    let points = (0..20_000)
        .map(|i| {
            let k = 4 * (i + seed * 1_000_000);
            let (x, y) = (from + (to - from) * uniform(k), 400.0 * uniform(k + 1));
            let noise = 0.1 * (uniform(k + 2) + uniform(k + 3) - 1.0);
            back.apply(&Point::new(x, y, height(x, y) + noise))
        })
        .collect();
    Surface::new(Cloud::from_points(points), None).unwrap().0
}

#[test]
fn takes_that_lie_roughly_in_one_frame_are_joined_and_a_loose_one_is_named() {
    let truth: Vec<Motion<Scan, Body>> = (0..4)
        .map(|k| {
            let t = f64::from(k);
            Motion::turn_about(
                Vector::new(0.004, -0.003, 0.005) * t,
                Point::new(300.0, 200.0, 0.0),
                Vector::new(1.5, -1.0, 2.0) * t,
            )
        })
        .collect();
    let windows = [(0.0, 400.0), (200.0, 600.0), (300.0, 700.0), (500.0, 900.0)];
    let mut takes: Vec<Surface<Scan>> = windows
        .iter()
        .zip(&truth)
        .enumerate()
        .map(|(k, (w, pose))| take(w.0, w.1, pose, k as u64))
        .collect();
    let joined = join(&takes, true).unwrap();
    let bounds: Vec<Bounds> = takes.iter().map(|t| t.cloud.bounds().unwrap()).collect();
    let off = farthest_mm(&joined.joined_from_take, &truth, &bounds);
    assert!(off < 0.1, "{off} mm at the far corner");
    // The second and the fourth, and the first and the third, meet as well: 100 mm of 400.
    assert!(joined.links.len() >= 5, "{} links", joined.links.len());
    assert!(joined.drift.is_some());
    takes.push(take(5_000.0, 5_400.0, &Motion::identity(), 9));
    match join(&takes, true) {
        Err(why) => {
            let words = why.to_string();
            assert!(words.starts_with("take 5 found too little surface"), "{words}");
            let NotJoined::HangOnNothing { loose } = why else {
                panic!("{words}")
            };
            assert_eq!(loose.len(), 1);
            assert_eq!(loose[0].take, 4);
            assert!(matches!(loose[0].why, NoLink::TooLittle { overlap } if overlap < 0.01));
        }
        Ok(_) => panic!("a take with nothing in common was joined"),
    }
    assert!(matches!(join(&takes[..1], true), Err(NotJoined::TooFew(1))));
}

/// Named points as they lie in the frame of a take.
fn named(pose: &Motion<Scan, Body>, places: &[(&str, [f64; 3])]) -> Vec<Datum> {
    let back = pose.inverse();
    places
        .iter()
        .map(|(name, at)| {
            let at_mm = back.apply(&Point::from(*at));
            let name = (*name).to_string();
            Datum::from(cloud::NamedPoint { name, at_mm })
        })
        .collect()
}

const ABOUT: [(&str, [f64; 3]); 4] = [
    ("A", [210.0, 20.0, 5.0]),
    ("B", [390.0, 30.0, -4.0]),
    ("C", [300.0, 380.0, 0.0]),
    ("D", [220.0, 350.0, 9.0]),
];

/// Two takes of a sheet whose folds all run one way, a half of each in common.
fn folded() -> (Vec<Surface<Scan>>, [Motion<Scan, Body>; 2]) {
    let poses = [turned_about()[0], turned_about()[1]];
    let folds = |x: f64, _: f64| 40.0 * (x / 60.0).sin() + 12.0 * (x / 31.0).cos();
    let takes = vec![
        take_of(0.0, 400.0, &poses[0], 0, folds),
        take_of(200.0, 600.0, &poses[1], 1, folds),
    ];
    (takes, poses)
}

#[test]
fn named_points_keep_takes_that_slide_on_each_other() {
    let (takes, poses) = folded();
    let points: Vec<Vec<Datum>> = poses.iter().map(|pose| named(pose, &ABOUT)).collect();
    let joined = join_with_points(&takes, false, &points).unwrap();
    let link = &joined.links[0];
    assert!(link.by_points && link.overlap > 0.4 && link.pairs > 1_000);
    assert_eq!(link.motions.held().free.len(), 1);
    let bounds: Vec<Bounds> = takes.iter().map(|t| t.cloud.bounds().unwrap()).collect();
    let truth: Vec<Motion<Scan, Body>> = poses.iter().map(|pose| pose.then(&still(&poses[0]))).collect();
    let off = farthest_mm(&joined.joined_from_take, &truth, &bounds);
    assert!(off < 0.15, "{off} mm at the far corner");
    assert!(
        joined.warnings.iter().all(|w| w.code != "link-slides"),
        "{:?}",
        joined.warnings
    );
    // The hand that named them slipped by 1.5 mm across the folds: the metal finishes it.
    let mut slipped = points;
    for datum in &mut slipped[0] {
        datum.point.at_mm.x += 1.5;
    }
    let joined = join_with_points(&takes, false, &slipped).unwrap();
    let off = farthest_mm(&joined.joined_from_take, &truth, &bounds);
    assert!(off < 0.15, "{off} mm at the far corner");
}

/// The frame of the first take is the joined one.
fn still(first: &Motion<Scan, Body>) -> Motion<Body, Body> {
    first.inverse().then(&Motion::identity())
}

#[test]
fn named_points_that_can_lay_nothing_are_told() {
    let poses = [Motion::identity(), Motion::identity()];
    let takes = [take(0.0, 400.0, &poses[0], 0), take(200.0, 600.0, &poses[1], 1)];
    let line = ABOUT.map(|(name, [x, _, _])| (name, [x, 200.0, 3.0]));
    let on_line: Vec<Vec<Datum>> = poses.iter().map(|pose| named(pose, &line)).collect();
    let joined = join_with_points(&takes, true, &on_line).unwrap();
    assert!(!joined.links[0].by_points);
    assert_eq!(joined.warnings[0].code, "points-on-a-line");
    let inches = ABOUT.map(|(name, at)| (name, at.map(|c| c * 25.4)));
    let disagree = [named(&poses[0], &ABOUT), named(&poses[1], &inches)];
    match join_with_points(&takes, true, &disagree) {
        Err(NotJoined::PointsDisagree {
            reference: 0,
            measured: 1,
            ..
        }) => {}
        other => panic!("{:?}", other.map(|joined| joined.warnings)),
    }
}

/// Four points in one plane agree on the mirror image in it as well, upside down; the hills then lie in the hollows.
#[test]
fn a_take_of_the_other_hand_is_not_laid_by_points_in_one_plane() {
    let hills = |x: f64, y: f64| 30.0 * (x / 60.0).sin() * (y / 75.0).cos() + 20.0 * (y / 50.0).sin();
    let home = Motion::identity();
    let mirrored = take_of(200.0, 600.0, &home, 1, |x, y| -hills(x, y));
    let takes = [take_of(0.0, 400.0, &home, 0, hills), mirrored];
    let flat = ABOUT.map(|(name, [x, y, _])| (name, [x, y, 0.0]));
    let points = [named(&home, &flat), named(&home, &flat)];
    match join_with_points(&takes, false, &points) {
        Err(NotJoined::PointsDoubtful {
            why: PointsDoubt::MetalWouldRather(crate::any_pose::Rather::Image { .. }),
            ..
        }) => {}
        other => panic!("{:?}", other.map(|joined| joined.warnings)),
    }
}

#[test]
fn of_all_that_was_tried_what_came_nearest_is_told() {
    let slides = |overlap: f64, by_axes_of: usize| NoLink::Slides {
        overlap,
        ways: vec![
            "fore and aft".to_string(),
            "against turning about the upright".to_string(),
        ],
        by_axes_of,
        turned_deg: None,
    };
    let tried = [
        (0, 1, NoLink::TooLittle { overlap: 0.19 }),
        (1, 0, slides(0.62, 1)),
        (0, 2, slides(0.9, 0)),
        (2, 0, NoLink::TooLittle { overlap: 0.1 }),
        (0, 3, NoLink::TooLittle { overlap: 0.15 }),
    ]
    .map(|(reference, measured, why)| no_link::Tried {
        reference,
        measured,
        why,
    });
    let mut groups = graph::Groups::of(4);
    groups.tie(1, 2);
    groups.tie(2, 3);
    let found = no_link::loose(&groups, &tried);
    assert_eq!(found.len(), 1);
    // The neighbour, though another has more in common.
    assert_eq!((found[0].take, found[0].on), (0, 1));
    let name = |take: usize| format!("{take}.ply");
    assert_eq!(
        found[0].why.words(1, name),
        "has up to 62 % in common with 1.ply, but slides on it fore and aft, and nothing holds it against turning about the upright (by the axes of 1.ply)"
    );
    // Where next to nothing is in common the most of it counts.
    let little = [(0, 1, 0.02), (0, 3, 0.15), (2, 0, 0.1)].map(|(reference, measured, overlap)| {
        let why = NoLink::TooLittle { overlap };
        no_link::Tried {
            reference,
            measured,
            why,
        }
    });
    assert_eq!(no_link::loose(&groups, &little)[0].on, 3);
    assert!(slides(0.6, 0).holds_both_ways() && !NoLink::TooLittle { overlap: 0.1 }.holds_both_ways());
    let plain = NoLink::LittleRelief { overlap: 0.7 };
    assert!(
        plain
            .words(3, name)
            .starts_with("has up to 70 % in common with 3.ply, but that metal has too little relief to tell")
    );
    let two_ways = NoLink::EitherWay {
        overlap: 0.5,
        turned_deg: 180.0,
    };
    assert!(
        two_ways
            .words(3, name)
            .contains("could lie two ways round on it: turned by 180°")
    );
}
