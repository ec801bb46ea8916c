//! Settings by name with known answers.

use super::*;
use cloud::{Bounds, NamedPoint};

fn named(name: &str, x: f64, y: f64, z: f64) -> Datum {
    let (name, at_mm) = (name.to_string(), Point::new(x, y, z));
    NamedPoint { name, at_mm }.into()
}

fn six() -> Vec<Datum> {
    vec![
        named("H1", 100.0, -350.0, 500.0),
        named("H2", 100.0, 350.0, 500.0),
        named("H3", 1170.0, -350.0, 500.0),
        named("H4", 1170.0, 350.0, 500.0),
        named("H5", 2030.0, -390.0, 660.0),
        named("H6", 2030.0, 390.0, 660.0),
    ]
}

/// The six in another pose, each a little off.
fn six_measured() -> Vec<Datum> {
    let pose: Motion<Body, Scan> = Motion::turn_about(
        Vector::new(0.1, 0.2, -0.3),
        Point::origin(),
        Vector::new(50.0, 0.0, -20.0),
    );
    let mut measured = six();
    for (i, d) in measured.iter_mut().enumerate() {
        let off = Vector::new(0.05, -0.04, 0.03) * (i as f64 - 2.5);
        d.point.at_mm = pose.apply(&d.point.at_mm) + off;
    }
    measured
}

fn with_pm(mut set: Vec<Datum>, pms: [f64; 6]) -> Vec<Datum> {
    for (d, pm) in set.iter_mut().zip(pms) {
        d.pm_mm = Some(pm);
    }
    set
}

fn left_out(fit: &NamedFit) -> Vec<&str> {
    let bad = fit.points.iter().filter(|p| !p.used);
    bad.map(|p| p.name.as_str()).collect()
}

#[test]
fn a_bad_point_is_found_named_and_left_out() {
    let mut measured = six_measured();
    measured[3].point.at_mm.z += 4.0;
    measured.reverse();
    let fit = set_by_names(&six(), &measured).unwrap();
    assert_eq!(left_out(&fit), ["H4"]);
    let told = fit.warnings.iter().find(|w| w.code == "bad-point").unwrap();
    for words in [
        "point H4 lies ",
        "from where the others put it: ",
        " high; it was left out",
        "that hole has moved",
    ] {
        assert!(told.words.contains(words), "{words}: {}", told.words);
    }
    assert!(fit.rms_mm < 0.2);
    assert_eq!(fit.freedoms, 9);
}

#[test]
fn a_point_that_is_known_poorly_is_not_called_bad_and_hardly_pulls() {
    let mut measured = six_measured();
    measured[3].point.at_mm.z += 8.0;
    let sharp = set_by_names(&with_pm(six(), [0.3; 6]), &measured).unwrap();
    assert_eq!(left_out(&sharp), ["H4"]);
    let coarse = with_pm(six(), [0.3, 0.3, 0.3, 12.0, 0.3, 0.3]);
    let fit = set_by_names(&coarse, &measured).unwrap();
    assert_eq!(left_out(&fit), [] as [&str; 0]);
    let bounds = Bounds::of(six().iter().map(|d| &d.point.at_mm).collect::<Vec<_>>()).unwrap();
    let (a, b) = (fit.reference_from_measured, sharp.reference_from_measured);
    let gap_mm = a.inverse().largest_gap_mm(&b.inverse(), &bounds);
    assert!(gap_mm < 0.02, "{gap_mm}");
}

#[test]
fn the_weighted_sum_of_squares_cannot_be_improved() {
    let pms = [0.2, 0.4, 0.4, 1.0, 2.0, 0.3];
    let (reference, measured) = (with_pm(six(), pms), six_measured());
    let fit = set_by_names(&reference, &measured).unwrap();
    let sum = |motion: &Motion<Scan, Body>| -> f64 {
        let pairs = reference.iter().zip(&measured).zip(pms);
        pairs
            .map(|((r, m), pm)| (motion.apply(&m.point.at_mm) - r.point.at_mm).norm_squared() / (pm * pm))
            .sum()
    };
    let best = sum(&fit.reference_from_measured);
    for k in 0..6 {
        for size in [-0.01, 0.01] {
            let mut small = [0.0; 6];
            small[k] = if k < 3 { size / 1000.0 } else { size };
            let (turn, shift) = (Vector::from_column_slice(&small[..3]), &small[3..]);
            let step: Motion<Body, Body> = Motion::turn_about(
                turn,
                Point::new(1000.0, 0.0, 500.0),
                Vector::from_column_slice(shift),
            );
            assert!(sum(&fit.reference_from_measured.then(&step)) > best);
        }
    }
}

/// At the weighted middle turns don't count, and the ± is that of a weighted mean.
#[test]
fn the_declared_pm_comes_through() {
    let pms = [0.2, 0.4, 0.4, 1.0, 2.0, 0.3];
    let reference = with_pm(six(), pms);
    let fit = set_by_names(&reference, &six()).unwrap();
    let weights = pms.map(|pm| 1.0 / (pm * pm));
    let total: f64 = weights.iter().sum();
    let weighted = reference.iter().zip(weights);
    let middle = weighted.map(|(d, w)| d.point.at_mm.coords * w).sum::<Vector>() / total;
    let pm_mm = fit.motions.pm_at_mm(&Point::from(middle));
    assert!((pm_mm - total.powf(-0.5)).abs() < 1e-9, "{pm_mm}");
    assert!(fit.spread_is_declared && fit.freedoms == 12);
}

#[test]
fn where_residuals_show_more_than_was_declared_they_win() {
    let plain = set_by_names(&six(), &six_measured()).unwrap();
    let bold = set_by_names(&with_pm(six(), [0.001; 6]), &six_measured()).unwrap();
    let at = Point::new(2500.0, 400.0, 900.0);
    let (a, b) = (plain.motions.pm_at_mm(&at), bold.motions.pm_at_mm(&at));
    assert!((a - b).abs() < 1e-9 * a && !bold.spread_is_declared);
}

#[test]
fn a_set_in_another_scale_is_warned_of() {
    let mut measured = six();
    for d in &mut measured {
        d.point.at_mm *= 0.996;
    }
    let fit = set_by_names(&six(), &measured).unwrap();
    let told = fit.warnings.iter().any(|w| w.code == "scale-differs");
    assert!(told, "{:?}", fit.warnings);
}

/// Of four and of six, moved alike or alone: nothing that three sigma of a sixty-fourth explains is left without a word.
#[test]
fn points_that_share_out_what_is_off_are_told_with_their_distances() {
    let four = [
        named("P1", 60.0, 60.0, 0.0),
        named("P2", 540.0, 70.0, 0.0),
        named("P3", 70.0, 400.0, 0.0),
        named("P4", 530.0, 400.0, 0.0),
    ];
    let six = [
        &four[..],
        &[named("P5", 300.0, 40.0, 0.0), named("P6", 300.0, 420.0, 0.0)],
    ]
    .concat();
    let told = |ours: &[Datum], off: &[(usize, [f64; 3])]| -> Option<String> {
        let mut theirs = ours.to_vec();
        for (i, by) in off {
            theirs[*i].point.at_mm += Vector::from(*by);
        }
        let fit = set_by_names(ours, &theirs).unwrap();
        let words = fit.warnings.into_iter().find(|w| w.code == "points-contradict");
        words.map(|w| w.words)
    };
    let words = told(&four, &[(1, [0.0, 2.0, 2.2])]).unwrap();
    assert!(words.contains("P2 to P4 3/32 in (2.0 mm) too short"), "{words}");
    let words = told(&six, &[(1, [5.0, 0.0, 0.0]), (3, [5.0, 0.0, 0.0])]).unwrap();
    assert!(
        words.contains("P1, P3, P5, P6 agree with each other, and P2 lies "),
        "{words}"
    );
    assert!(
        told(
            &six,
            &[(1, [4.0, 0.0, 0.0]), (3, [4.0, 0.0, 0.0]), (5, [4.0, 0.0, 0.0])]
        )
        .is_some()
    );
    assert_eq!(told(&six, &[(1, [0.3, 0.0, 0.2]), (3, [0.0, -0.3, 0.2])]), None);
}

#[test]
fn names_without_partners_are_told_and_two_are_too_few() {
    let fit = set_by_names(&six(), &six()[..4]).unwrap();
    assert!(fit.warnings[0].words.contains("H5, H6"));
    assert!(set_by_names(&six(), &six()[..2]).is_err());
}

#[test]
fn how_far_a_point_lies_off_is_told_with_its_direction() {
    assert_eq!(
        away(&Vector::new(-4.7625, 0.5, 3.175)),
        "7/32 in (5.75 mm) from where the others put it: 3/16 forward and 1/8 high"
    );
    assert_eq!(
        away(&Vector::new(0.0, 6.35, 0.0)),
        "1/4 in (6.35 mm) from where the others put it: 1/4 to the right"
    );
}

/// Of six points one in inches is left out and the unit asked about; of four it is refused by name.
#[test]
fn one_point_in_another_unit_is_asked_about() {
    let mut measured = six_measured();
    measured[3].point.at_mm /= 25.4;
    let said = "if its numbers in the measured list were in in instead of mm";
    let fit = set_by_names(&six(), &measured).unwrap();
    let told = |w: &Warning| w.code == "bad-point" && w.words.contains(said);
    assert_eq!(left_out(&fit), ["H4"]);
    assert!(fit.warnings.iter().any(told), "{:?}", fit.warnings);
    let why = set_by_names(&six()[2..], &measured[2..]).unwrap_err().to_string();
    assert!(
        why.starts_with("point H4 is ") && why.contains(said) && why.contains("is its unit right?"),
        "{why}"
    );
}

/// A quarter inch apart, far less than points that don't belong together: without the exchange both would be called bad.
#[test]
fn two_near_points_that_are_exchanged_are_told() {
    let mut reference = six();
    reference.push(named("H7", 1170.0, 356.0, 500.0));
    let mut measured = reference.clone();
    let (h4, h7) = (measured[3].point.at_mm, measured[6].point.at_mm);
    (measured[3].point.at_mm, measured[6].point.at_mm) = (h7, h4);
    let why = set_by_names(&reference, &measured).unwrap_err().to_string();
    assert!(
        why.starts_with("H4 and H7 look exchanged: ") && why.contains("exchanged they lie within"),
        "{why}"
    );
}
