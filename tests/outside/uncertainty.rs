//! Uncertainties put together, and what follows from them, against the figures of guides, standards and papers.

use cloud::chance::{combined, detectable_mm, student_t};
use cloud::held::{Motions, row};
use cloud::{Body, Point, Scan, Vector};
use compare::verdict::{Verdict, decide};
use register::fit::{PairFit, rigid};
use serde_json::Value;

use crate::data::{figures, numbers};
use crate::shop::uniform;

fn close(found: f64, expected: &Value, within: f64) {
    let expected = expected.as_f64().unwrap();
    assert!((found - expected).abs() <= within, "{found} for {expected}");
}

// JCGM 100:2008, H.1: an end gauge of 50 mm against a standard of 50.000623 mm. The guide prints 32 nm, 16 freedoms,
// k = 2.92 and 93 nm; the further digits are worked out from its data.
#[test]
fn the_end_gauge_of_the_guide() {
    let expected = &figures("uncertainty_stats.json")["GUM_H1"];
    let standard_nm = 50.000_623e6;
    // The difference of the two: repeated readings (24), and the comparator's random (5) and systematic (8) errors.
    let difference = combined(&[(5.8, 24.0), (3.9, 5.0), (6.7, 8.0)]);
    close(difference.0, &expected["u_d"], 1e-9);
    close(difference.1, &expected["nu_d"], 1e-9);
    // The expansions differ by at most 1e-6 per degree, at a mean of −0.1 degrees; the temperatures by at most 0.05.
    let expansions_nm = standard_nm * 0.1 * 1e-6 / 3f64.sqrt();
    let temperatures_nm = standard_nm * 11.5e-6 * 0.05 / 3f64.sqrt();
    let (u_nm, freedoms) = combined(&[
        (25.0, 18.0),
        difference,
        (expansions_nm, 50.0),
        (temperatures_nm, 2.0),
    ]);
    close(u_nm, &expected["uc"], 1e-4);
    close(freedoms, &expected["nu_eff"], 1e-4);
    // The guide takes the freedoms down to a whole number (G.4.1, note 1).
    let k = student_t(0.99, freedoms.floor());
    close(k, &expected["k99"], 1e-9);
    close(k * u_nm, &expected["U99"], 1e-3);
}

// JCGM 100:2008, table G.2, the column of 95.45 %.
#[test]
fn factors_of_students_t() {
    let all = figures("uncertainty_stats.json");
    for (freedoms, expected) in all["t95.45"].as_object().unwrap() {
        close(student_t(0.9545, freedoms.parse().unwrap()), expected, 1e-10);
    }
    close(student_t(0.90, f64::INFINITY), &all["guard"]["z95"], 1e-12);
}

// Lague, Brodu & Leroux 2013, ISPRS J. Photogramm. Remote Sens. 82, 10-26, equation 1.
#[test]
fn the_least_distance_that_shows() {
    for case in figures("uncertainty_stats.json")["LoD95"].as_array().unwrap() {
        let number = |key: &str| case[key].as_f64().unwrap();
        let found = detectable_mm(
            number("s1"),
            number("n1"),
            number("s2"),
            number("n2"),
            number("reg"),
        );
        close(found, &case["LoD"], 1e-12);
    }
}

// ISO 14253-1:2017 and JCGM 106:2012: with a limit of 1 and a standard uncertainty of 0.2, the one-sided 95 % band of 1.65 u
// takes in up to 0.67 and turns away from 1.33.
#[test]
fn the_band_between_in_and_out() {
    let expected = &figures("uncertainty_stats.json")["guard"]["ex"];
    let (limit, u) = (expected["TL"].as_f64().unwrap(), expected["u"].as_f64().unwrap());
    let pm = student_t(0.90, f64::INFINITY) * u;
    let last_in = expected["accept_to"].as_f64().unwrap();
    let first_out = 2.0 * limit - last_in;
    for sign in [1.0, -1.0] {
        let said = |off: f64| decide(sign * off, pm, limit);
        assert_eq!(said(0.67), Verdict::Within);
        assert_eq!(said(last_in - 1e-9), Verdict::Within);
        assert_eq!(said(last_in + 1e-9), Verdict::TooClose);
        assert_eq!(said(first_out - 1e-9), Verdict::TooClose);
        assert_eq!(said(first_out + 1e-9), Verdict::Outside);
        assert_eq!(said(1.33), Verdict::Outside);
    }
}

fn points(value: &Value) -> Vec<Point> {
    let point = |p: &Value| {
        let p = numbers(p);
        Point::new(p[0], p[1], p[2])
    };
    value.as_array().unwrap().iter().map(point).collect()
}

fn axes() -> [Vector; 3] {
    [Vector::x(), Vector::y(), Vector::z()]
}

/// What named points hold when each is known to `sigma_mm` along every axis.
fn held_by(points: &[Point], sigma_mm: f64) -> Motions {
    let thrice: Vec<Point> = points.iter().flat_map(|p| [*p; 3]).collect();
    let thrice_along: Vec<Vector> = points.iter().flat_map(|_| axes()).collect();
    Motions::of(&thrice, &thrice_along, sigma_mm)
}

/// The rms length of the setting's error at a place: the root of the trace of J C Jᵀ.
fn target_rms_mm(motions: &Motions, at: &Point) -> f64 {
    let (covariance, arm) = (motions.covariance(), at - motions.centre_mm);
    let along = |axis: &Vector| {
        let row = row(&arm, axis);
        row.dot(&(covariance * row))
    };
    axes().iter().map(along).sum::<f64>().sqrt()
}

// Fitzpatrick, West & Maurer 1998, IEEE Trans. Med. Imaging 17(5), 694-702, equation 46: the error at a target, from where
// the named points lie and how well each is known. Our covariance is the same to first order, so the digits agree.
#[test]
fn errors_away_from_named_points_are_foretold() {
    for case in figures("uncertainty_stats.json")["TRE"].as_array().unwrap() {
        let sigma_mm = case["FLE_rms"].as_f64().unwrap() / 3f64.sqrt();
        let motions = held_by(&points(&case["fiducials"]), sigma_mm);
        let expected = case["TRE_rms"].as_array().unwrap();
        for (target, expected) in points(&case["targets"]).iter().zip(expected) {
            close(target_rms_mm(&motions, target), expected, 1e-7);
        }
    }
}

/// Two independent standard normal deviates of the pair of counters from `i` (Box & Muller 1958).
fn deviates(i: u64) -> [f64; 2] {
    let (u, v) = (uniform(i), uniform(i + 1));
    let r = (-2.0 * (1.0 - u).max(f64::MIN_POSITIVE).ln()).sqrt();
    let (sin, cos) = (std::f64::consts::TAU * v).sin_cos();
    [r * cos, r * sin]
}

// The same paper, and Sibson 1979 for the residuals: 20 000 settings by the closed form, each with new errors.
#[test]
fn twenty_thousand_settings_scatter_as_foretold() {
    const RUNS: u64 = 20_000;
    for case in figures("uncertainty_stats.json")["TRE"].as_array().unwrap() {
        let sigma_mm = case["FLE_rms"].as_f64().unwrap() / 3f64.sqrt();
        let (named, targets) = (points(&case["fiducials"]), points(&case["targets"]));
        let (mut at_targets, mut at_named) = (vec![0.0; targets.len()], 0.0);
        for run in 0..RUNS {
            let off: Vec<f64> = (0..3 * named.len() as u64)
                .step_by(2)
                .flat_map(|k| deviates(64 * run + k))
                .collect();
            let measured: Vec<Point> = named
                .iter()
                .zip(off.chunks(3))
                .map(|(p, off)| p + Vector::from_column_slice(off) * sigma_mm)
                .collect();
            let fit: PairFit<Scan, Body> = rigid(&measured, &named, None).unwrap();
            for (sum, target) in at_targets.iter_mut().zip(&targets) {
                *sum += (fit.motion.apply(target) - target).norm_squared();
            }
            at_named += fit.rms_mm.powi(2);
        }
        let rms = |sum: f64| (sum / RUNS as f64).sqrt();
        let expected = numbers(&case["TRE_rms"]);
        for (sum, expected) in at_targets.iter().zip(&expected) {
            let found = rms(*sum);
            assert!((found / expected - 1.0).abs() < 0.02, "{found} for {expected}");
        }
        let expected = case["FRE_rms"].as_f64().unwrap();
        let found = rms(at_named);
        assert!((found / expected - 1.0).abs() < 0.02, "{found} for {expected}");
    }
}
