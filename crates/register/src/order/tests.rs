//! Settings in order with known answers, held against brute force.

use super::*;
use cloud::{Bounds, NamedPoint};

/// Four pads of order 1, three holes of order 2, two stops of order 3; the names of those that take part.
fn table(names: &[&str]) -> Vec<Datum> {
    let all = [
        ("P1", [200.0, -500.0, 508.0]),
        ("P2", [200.0, 500.0, 508.0]),
        ("P3", [1200.0, -500.0, 508.0]),
        ("P4", [1200.0, 500.0, 508.0]),
        ("A1", [100.0, -350.0, 508.0]),
        ("A2", [1170.0, -350.0, 508.0]),
        ("A3", [2000.0, 390.0, 660.0]),
        ("S1", [-10.0, 0.0, 800.0]),
        ("S2", [-10.0, 150.0, 820.0]),
    ];
    let asked = all.iter().filter(|(name, _)| names.contains(name));
    asked
        .map(|(name, at)| Datum {
            order: Some(match name.as_bytes()[0] {
                b'P' => 1,
                b'A' => 2,
                _ => 3,
            }),
            ..NamedPoint {
                name: (*name).to_string(),
                at_mm: Point::from(*at),
            }
            .into()
        })
        .collect()
}

const THREE_TWO_ONE: [&str; 6] = ["P1", "P2", "P3", "A1", "A2", "S1"];
const ALL: [&str; 9] = ["P1", "P2", "P3", "P4", "A1", "A2", "A3", "S1", "S2"];

fn pose() -> Motion<Body, Scan> {
    Motion::turn_about(
        Vector::new(0.4, -1.9, 0.8),
        Point::origin(),
        Vector::new(300.0, -2000.0, 55.0),
    )
}

/// The table as it is measured when the points named are off by so much in the body's axes.
fn measured(table: &[Datum], off: &[(&str, [f64; 3])]) -> Vec<Datum> {
    let mut measured = table.to_vec();
    for d in &mut measured {
        for (_, by) in off.iter().filter(|(name, _)| *name == d.point.name) {
            d.point.at_mm += Vector::from(*by);
        }
        d.point.at_mm = pose().apply(&d.point.at_mm);
        d.order = None;
    }
    measured
}

/// All points off by something, by a rule that repeats.
fn all_off(scale: f64) -> Vec<(&'static str, [f64; 3])> {
    let off = |i: usize| [1.3, 2.7, 4.1].map(|k: f64| scale * (k * (i as f64 + 1.0) * 7.0).sin());
    ALL.iter().enumerate().map(|(i, name)| (*name, off(i))).collect()
}

fn off_of(fit: &OrderFit, name: &str) -> Vector {
    fit.points.iter().find(|p| p.name == name).unwrap().off_mm
}

/// Sum of squares of one order under a motion.
fn sum_of(table: &[Datum], measured: &[Datum], order: u8, motion: &Motion<Scan, Body>) -> f64 {
    let of_order = table.iter().zip(measured).filter(|(r, _)| r.order == Some(order));
    of_order
        .map(|(r, m)| (motion.apply(&m.point.at_mm) - r.point.at_mm)[3 - usize::from(order)].powi(2))
        .sum()
}

#[test]
fn exact_points_give_the_motion_back() {
    for names in [&THREE_TWO_ONE[..], &ALL[..]] {
        let table = table(names);
        let fit = set_in_order(&table, &measured(&table, &[])).unwrap();
        let bounds = Bounds::of(table.iter().map(|d| &d.point.at_mm)).unwrap();
        let gap_mm = pose().largest_gap_mm(&fit.reference_from_measured.inverse(), &bounds);
        assert!(gap_mm < 1e-7, "{gap_mm}");
        assert!(fit.rms_mm < 1e-9);
        assert_eq!(fit.freedoms, names.len() - 6);
        assert!(fit.motions.held().free.is_empty());
        let assumed = fit.warnings.iter().any(|w| w.code == "pm-not-declared");
        assert_eq!(assumed, names.len() == 6);
        assert_eq!(fit.spread_is_declared, names.len() == 6);
    }
}

#[test]
fn three_pads_are_honoured_exactly_whatever_the_others_say() {
    let table = table(&["P1", "P2", "P3", "A1", "A2", "A3", "S1", "S2"]);
    let measured = measured(
        &table,
        &[
            ("A1", [0.0, 1.5, 0.0]),
            ("A2", [0.0, 0.0, 5.0]),
            ("A3", [0.0, -2.0, 0.0]),
            ("S1", [3.0, 0.0, -4.0]),
            ("S2", [0.0, 20.0, 0.0]),
        ],
    );
    let fit = set_in_order(&table, &measured).unwrap();
    for name in ["P1", "P2", "P3"] {
        assert!(off_of(&fit, name).z.abs() < 1e-9);
    }
    assert!((off_of(&fit, "A2").z - 5.0).abs() < 1e-3);
    // The two stops disagree by 3 mm and share it; nothing of it is left to the holes or the pads.
    let (a, b) = (off_of(&fit, "S1").x, off_of(&fit, "S2").x);
    assert!((a + b).abs() < 1e-9 && a - b > 3.0);
    assert_eq!(fit.freedoms, 2);
    let s1 = fit.points.iter().find(|p| p.name == "S1").unwrap();
    assert!((s1.residual_mm - a.abs()).abs() < 1e-12 && s1.order == Some(3));
}

/// A corner of a rectangle that is up by d rocks: least squares leaves ± d/4.
#[test]
fn four_pads_share_a_rock() {
    let table = table(&ALL);
    let fit = set_in_order(&table, &measured(&table, &[("P3", [0.0, 0.0, 4.0])])).unwrap();
    for (name, quarter) in [("P1", -1.0), ("P2", 1.0), ("P3", 1.0), ("P4", -1.0)] {
        assert!((off_of(&fit, name).z - quarter).abs() < 1e-4, "{name}");
    }
}

#[test]
fn a_stop_sets_fore_and_aft() {
    let table = table(&THREE_TWO_ONE);
    let fit = set_in_order(&table, &measured(&table, &[("S1", [5.0, 0.0, 0.0])])).unwrap();
    assert!(off_of(&fit, "S1").norm() < 1e-9);
    for name in ["P1", "P2", "P3", "A1", "A2"] {
        assert!((off_of(&fit, name) - Vector::new(-5.0, 0.0, 0.0)).norm() < 1e-6);
    }
}

/// Pads that hold up leave the turn about the upright and both slides in the plane free, exactly; with the holes held
/// across, only the slide fore and aft is left.
#[test]
fn no_order_can_be_improved_without_spoiling_one_before() {
    let table = table(&ALL);
    let measured = measured(&table, &all_off(2.0));
    let fit = set_in_order(&table, &measured).unwrap();
    let motion = fit.reference_from_measured;
    let best = [1, 2, 3].map(|order| sum_of(&table, &measured, order, &motion));
    assert!(best.iter().all(|b| *b > 0.01), "{best:?}");
    let sums = |turn: Vector, shift: Vector| {
        let step: Motion<Body, Body> = Motion::turn_about(turn, Point::new(900.0, 0.0, 550.0), shift);
        [1, 2, 3].map(|order| sum_of(&table, &measured, order, &motion.then(&step)))
    };
    for i in 0..400 {
        let [a, b, c, d, e, f] =
            [1.1, 2.3, 3.7, 5.1, 6.7, 8.3].map(|k: f64| (k * (f64::from(i) + 1.0)).sin());
        let size = 10f64.powi(-(i % 4));
        let (turn, shift) = (
            Vector::new(a, b, c) * (size / 1000.0),
            Vector::new(d, e, f) * size,
        );
        assert!(sums(turn, shift)[0] > best[0] - 1e-9);
        let [first, second, _] = sums(Vector::z() * turn.z, Vector::new(shift.x, shift.y, 0.0));
        assert!((first - best[0]).abs() < 1e-8 && second > best[1] - 1e-9);
        let [first, second, third] = sums(Vector::zeros(), Vector::x() * shift.x);
        assert!((first - best[0]).abs() < 1e-8 && (second - best[1]).abs() < 1e-8);
        assert!(third > best[2] - 1e-9);
    }
}

/// The ± at a place, from the motion of that place when each held direction is moved a little by itself.
#[test]
fn the_pm_is_that_of_the_setting_in_order() {
    let mut table = table(&ALL);
    for (d, pm) in table
        .iter_mut()
        .zip([0.4, 0.5, 0.3, 0.4, 0.2, 0.8, 0.4, 0.4, 0.6])
    {
        d.pm_mm = Some(pm);
    }
    let mut measured = measured(&table, &all_off(0.05));
    for d in &mut measured {
        // Only the reference's ± is declared; declared twice it would count twice.
        d.pm_mm = None;
    }
    let fit = set_in_order(&table, &measured).unwrap();
    assert!(fit.spread_is_declared);
    let place = fit
        .reference_from_measured
        .inverse()
        .apply(&Point::new(2100.0, 500.0, 700.0));
    let h = 1e-3;
    let mut spread = Matrix3::zeros();
    for (i, datum) in table.iter().enumerate() {
        let axis = [Vector::z(), Vector::y(), Vector::x()][usize::from(datum.order.unwrap()) - 1];
        let mut nudged = measured.clone();
        nudged[i].point.at_mm += fit.reference_from_measured.inverse().turn(&axis) * h;
        let other = set_in_order(&table, &nudged).unwrap().reference_from_measured;
        let moved = (other.apply(&place) - fit.reference_from_measured.apply(&place)) / h;
        spread += moved * moved.transpose() * (datum.pm_mm.unwrap() / COVER).powi(2);
    }
    let expected_mm = COVER * eigen::eigenvalues(&spread)[2].sqrt();
    let pm_mm = fit.motions.pm_at_mm(&fit.reference_from_measured.apply(&place));
    assert!((pm_mm / expected_mm - 1.0).abs() < 1e-3, "{pm_mm} {expected_mm}");
}

#[test]
fn what_nothing_holds_is_told() {
    let table = table(&["P1", "P2", "P3", "A1", "A2"]);
    let fit = set_in_order(&table, &measured(&table, &[])).unwrap();
    let free = fit.motions.held().free;
    assert_eq!(free.len(), 1);
    assert_eq!(free[0].words, "fore and aft");
    assert!(fit.motions.pm_at_mm(&Point::origin()) > 1000.0);
}

#[test]
fn a_round_hole_holds_two_directions() {
    let mut table = table(&["P1", "P2", "P3", "A1", "A2"]);
    table[3].holds = Some([true, true, false]);
    let fit = set_in_order(&table, &measured(&table, &[("A2", [6.0, 0.0, 0.0])])).unwrap();
    assert!(fit.motions.held().free.is_empty() && fit.freedoms == 0);
    assert!(off_of(&fit, "A1").norm() < 1e-6);
    assert!((off_of(&fit, "A2").x - 6.0).abs() < 1e-3);
}

#[test]
fn a_first_order_that_is_no_plane_is_refused() {
    let few = table(&["P1", "P2", "A1", "A2", "S1"]);
    assert!(matches!(
        set_in_order(&few, &measured(&few, &[])),
        Err(RegisterError::TooFew { found: 2, .. })
    ));
    let mut line = table(&ALL[..6]);
    for (i, d) in line.iter_mut().enumerate().take(4) {
        d.point.at_mm = Point::new(300.0 * i as f64, 100.0, 508.0 + (i * i) as f64);
    }
    assert_eq!(
        set_in_order(&line, &measured(&line, &[])).unwrap_err(),
        RegisterError::OnALine
    );
}

#[test]
fn exchanged_names_and_points_without_an_order_are_told() {
    let mut table = table(&ALL);
    table[3].order = None;
    let mut measured = measured(&table, &[]);
    let fit = set_in_order(&table, &measured).unwrap();
    assert!(
        fit.warnings
            .iter()
            .any(|w| w.code == "point-without-order" && w.words.contains("P4"))
    );
    assert!(!fit.points[3].used && fit.points[3].order.is_none());
    measured[1].order = Some(3);
    let fit = set_in_order(&table, &measured).unwrap();
    assert!(
        fit.warnings
            .iter()
            .any(|w| w.code == "order-differs" && w.words.contains("P2"))
    );
    measured[0].point.name = "P3".to_string();
    measured[2].point.name = "P1".to_string();
    let why = set_in_order(&table, &measured).unwrap_err().to_string();
    assert!(why.contains("P1 and P3 look exchanged"), "{why}");
}
