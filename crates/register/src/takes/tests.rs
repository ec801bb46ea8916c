//! Takes with known motions: the graph against closed forms, and the joining on small surfaces.

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
    Link {
        reference,
        measured,
        reference_from_measured: truth[measured].then(&there).then(error),
        motions: Motions::of(&points, &normals, 0.1),
        pairs,
        rms_mm: 0.1,
        overlap: 0.5,
        closes_loop: false,
        before_mm: 0.0,
        after_mm: 0.0,
        weight: 1.0,
        checked: false,
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

/// A deterministic number between 0 and 1.
fn uniform(i: u64) -> f64 {
    let mut x = i.wrapping_mul(0x9e37_79b9_7f4a_7c15);
    x = (x ^ x >> 30).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    x = (x ^ x >> 27).wrapping_mul(0x94d0_49bb_1331_11eb);
    (x ^ x >> 31) as f64 / u64::MAX as f64
}

/// A take of a hilly sheet between two places along it, in a frame that is off by `pose`.
fn take(from: f64, to: f64, pose: &Motion<Scan, Body>, seed: u64) -> Surface<Scan> {
    let back = pose.inverse();
    let points = (0..20_000)
        .map(|i| {
            let k = 4 * (i + seed * 1_000_000);
            let (x, y) = (from + (to - from) * uniform(k), 400.0 * uniform(k + 1));
            let noise = 0.1 * (uniform(k + 2) + uniform(k + 3) - 1.0);
            let z = 40.0 * (x / 60.0).sin() * (y / 75.0).cos() + 25.0 * (y / 50.0 + x / 140.0).sin();
            back.apply(&Point::new(x, y, z + noise))
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
            assert_eq!(why, NotJoined::HangOnNothing { takes: vec![4] });
            assert!(why.to_string().starts_with("take 5 has"), "{why}");
        }
        Ok(_) => panic!("a take with nothing in common was joined"),
    }
    assert!(matches!(join(&takes[..1], true), Err(NotJoined::TooFew(1))));
}
