//! Plane, line, circle, sphere and cylinder against point sets whose least-squares answer is exact by construction.
//!
//! Cox & Forbes 1992, NPL report DITC 211/92: the residuals are put into the null space of the Jacobian, so that the element
//! they were put on stays the answer.

use cloud::eigen::{eigenvalues, flattest_direction};
use cloud::{Matrix3, Point, Vector};
use features::elements::{circle, cylinder, sphere};
use serde_json::Value;

use crate::data::{figures, file, numbers};

const WITHIN: f64 = 1e-8;

/// The rows of a table without heads; a third coordinate that is not there is 0.
fn rows(name: &str) -> Vec<Point> {
    let text = std::fs::read_to_string(file(&format!("lsq_reference/{name}.csv"))).unwrap();
    let point = |line: &str| {
        let row: Vec<f64> = line.split(',').map(|v| v.trim().parse().unwrap()).collect();
        Point::new(row[0], row[1], row.get(2).copied().unwrap_or(0.0))
    };
    text.lines().filter(|l| !l.trim().is_empty()).map(point).collect()
}

fn expected(name: &str) -> Value {
    figures("lsq_reference/reference.json")[name].clone()
}

fn vector(value: &Value) -> Vector {
    Vector::from_column_slice(&numbers(value))
}

/// The middle of the points and their mean square spread about it, mm².
fn middle_and_spread(points: &[Point]) -> (Vector, Matrix3) {
    let n = points.len() as f64;
    let middle = points.iter().map(|p| p.coords).sum::<Vector>() / n;
    let about = |p: &Point| (p.coords - middle) * (p.coords - middle).transpose();
    (middle, points.iter().map(about).sum::<Matrix3>() / n)
}

fn close(found: f64, expected: &Value) {
    let expected = expected.as_f64().unwrap();
    assert!((found - expected).abs() < WITHIN, "{found} for {expected}");
}

/// The part of `found` that stands off the line of `expected`.
fn off_direction(found: &Vector, expected: &Vector) -> f64 {
    found.cross(expected).norm()
}

// The plane of total least squares, by which every normal is taken.
#[test]
fn the_plane() {
    let (points, expected) = (rows("plane_25"), expected("plane_25"));
    let (middle, spread) = middle_and_spread(&points);
    let normal = flattest_direction(&spread);
    let given = vector(&expected["normal"]);
    assert!(off_direction(&normal, &given) < WITHIN);
    assert!((middle - vector(&expected["centroid"])).norm() < WITHIN);
    close(eigenvalues(&spread)[0].sqrt(), &expected["rms"]);
    let side = normal.dot(&given).signum();
    let off = points.iter().map(|p| side * normal.dot(&(p.coords - middle)));
    let (least, most) = off.fold((f64::INFINITY, f64::NEG_INFINITY), |(least, most), d| {
        (d.min(least), d.max(most))
    });
    close(least, &expected["min"]);
    close(most, &expected["max"]);
    close(most - least, &expected["range"]);
}

// The longest direction of the spread is the flattest of what is left when the spread is taken from its trace.
#[test]
fn the_line() {
    let (points, expected) = (rows("line3d_11"), expected("line3d_11"));
    let (middle, spread) = middle_and_spread(&points);
    let direction = flattest_direction(&(Matrix3::identity() * spread.trace() - spread));
    assert!(off_direction(&direction, &vector(&expected["direction"])) < WITHIN);
    assert!((middle - vector(&expected["point"])).norm() < WITHIN);
    let [least, second, _] = eigenvalues(&spread);
    close((least + second).sqrt(), &expected["rms"]);
    let off = |p: &Point| (p.coords - middle).cross(&direction).norm();
    close(points.iter().map(off).fold(0.0, f64::max), &expected["max"]);
}

#[test]
fn the_circle() {
    let expected = expected("circle2d_12");
    let points: Vec<_> = rows("circle2d_12").iter().map(|p| p.coords.xy()).collect();
    let found = circle::geometric(&points).unwrap();
    let centre = numbers(&expected["centre"]);
    assert!((found.centre.x - centre[0]).abs() < WITHIN && (found.centre.y - centre[1]).abs() < WITHIN);
    close(found.radius, &expected["radius"]);
    let squares = points
        .iter()
        .map(|p| ((p - found.centre).norm() - found.radius).powi(2));
    close(
        (squares.sum::<f64>() / points.len() as f64).sqrt(),
        &expected["rms"],
    );
}

#[test]
fn the_sphere() {
    let expected = expected("sphere_25");
    let found = sphere::fit(&rows("sphere_25")).unwrap();
    assert!((found.centre.coords - vector(&expected["centre"])).norm() < WITHIN);
    close(found.radius_mm, &expected["radius"]);
    close(found.rms_mm, &expected["rms"]);
}

// Of the axis any place is as good: what counts is how far the given one stands off the found line.
#[test]
fn the_cylinder() {
    let expected = expected("cylinder_24");
    let found = cylinder::fit(&rows("cylinder_24")).unwrap();
    let axis = vector(&expected["axis"]);
    assert!(off_direction(&found.axis, &axis) < WITHIN);
    let aside = found.on_axis.coords - vector(&expected["axis_point"]);
    assert!(off_direction(&aside, &axis) < WITHIN);
    close(found.radius_mm, &expected["radius"]);
    close(found.rms_mm, &expected["rms"]);
}
