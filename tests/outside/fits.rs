//! Closed-form fits against figures of two independent codes.

use cloud::{Body, Motion, Point, Scan};
use register::fit::{PairFit, rigid};
use serde_json::Value;

use crate::data::{figures, numbers};

fn points(value: &Value) -> Vec<Point> {
    value
        .as_array()
        .unwrap()
        .iter()
        .map(|p| {
            let p = numbers(p);
            Point::new(p[0], p[1], p.get(2).copied().unwrap_or(0.0))
        })
        .collect()
}

// Kabsch 1976, Acta Cryst. A32 922 and 1978, A34 827; figures cross-checked with SciPy's Rotation.align_vectors.
#[test]
fn the_weighted_fit_of_six_points() {
    let all = figures("fits.json");
    let given = &all["weighted_rigid"];
    let (from, to) = (points(&given["src"]), points(&given["dst"]));
    for case in ["unit", "weighted", "drop_last"] {
        let expected = &given[case];
        let weights = numbers(&expected["w"]);
        let fit: PairFit<Scan, Body> = rigid(&from, &to, Some(&weights)).unwrap();
        for (found, t) in fit.motion.translation_mm().iter().zip(numbers(&expected["t"])) {
            assert!((found - t).abs() < 1e-9, "{case}: {found} for {t}");
        }
        for (i, row) in expected["R"].as_array().unwrap().iter().enumerate() {
            for (j, r) in numbers(row).into_iter().enumerate() {
                assert!((fit.motion.rotation()[(i, j)] - r).abs() < 1e-9, "{case}");
            }
        }
        assert!(
            (fit.rms_mm - expected["weighted_rms"].as_f64().unwrap()).abs() < 1e-9,
            "{case}"
        );
    }
}

// Umeyama 1991, IEEE PAMI 13(4) 376-380, eq. 39-43: the sign matrix keeps a mirror image from being called a rotation.
#[test]
fn a_mirror_image_is_not_a_rotation() {
    let all = figures("fits.json");
    let given = &all["reflection_trap"];
    let from = points(&all["weighted_rigid"]["src"]);
    let (from, to) = match given.get("src") {
        Some(src) => (points(src), points(&given["dst"])),
        None => (
            from.clone(),
            from.iter().map(|p| Point::new(-p.x, p.y, p.z)).collect(),
        ),
    };
    let fit: PairFit<Scan, Body> = rigid(&from, &to, None).unwrap();
    assert!((fit.motion.rotation().determinant() - 1.0).abs() < 1e-12);
    assert!(
        (fit.rms_mm - 49.373_961_908_077_16).abs() < 1e-9,
        "{}",
        fit.rms_mm
    );
}

// SciPy reference, Rotation.align_vectors, Examples: rssd is the root of the sum of squares, not an rms.
#[test]
fn the_example_of_a_reference_library() {
    let p = Point::new;
    // The library fits directions: the origin is one more point of each set, weighted to hold them there.
    let a = [p(0.0, 1.0, 0.0), p(0.0, 1.0, 1.0), p(0.0, 1.0, 1.0)];
    let b = [p(1.0, 0.0, 0.0), p(1.0, 1.1, 0.0), p(1.0, 0.9, 0.0)];
    let mirrored = |points: &[Point]| points.iter().map(|q| -*q).collect::<Vec<_>>();
    let from = [b.to_vec(), mirrored(&b)].concat();
    let to = [a.to_vec(), mirrored(&a)].concat();
    let fit: PairFit<Scan, Body> = rigid(&from, &to, None).unwrap();
    let rows = Motion::rows(&fit.motion);
    for (i, expected) in [[0.0, 0.0, 1.0], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0]]
        .iter()
        .enumerate()
    {
        for j in 0..3 {
            assert!((rows[i][j] - expected[j]).abs() < 1e-12, "{rows:?}");
        }
    }
    let rssd = fit.residuals_mm[..3].iter().map(|r| r * r).sum::<f64>().sqrt();
    assert!((rssd - 0.141_421_356_237_308).abs() < 1e-9, "{rssd}");
}
