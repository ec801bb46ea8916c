//! Figures of a shell from named places: rock, diamond, diagonals, sag, sway, mash, widths, openings, each with its ±.
//!
//! Every figure is taken alike from the reference's places and from the measured ones, and its ± follows from the places' own
//! to first order. Rock, diagonals, diamond, mash, widths and openings do not change, and sag and sway hardly do, when the
//! whole shell is set a little differently.

use cloud::unit::fraction_of_inch;
use cloud::{Matrix3, Point, Vector};

mod known;
mod opening;
mod parted;
mod quad;

pub use known::Known;
pub use opening::opening;
pub use parted::{Parted, parted};
pub use quad::{Quad, figures};

/// A ± beyond this leaves nothing to be said, mm (1/8 in, the trade's limit for twist, diamond and sag of a shell).
const CANT_TELL_MM: f64 = 25.4 / 8.0;
/// Linear growth of mild steel for each kelvin: 0.010 in on 84 in for 10 °C (the trade's figure).
const STEEL_PER_KELVIN: f64 = 11.7e-6;

/// A named place of both sets.
#[derive(Debug, Clone, PartialEq)]
pub struct Place {
    /// Its name.
    pub name: String,
    /// On the reference, mm.
    pub reference: Point,
    /// Where it was measured, in the body's frame, mm.
    pub measured: Point,
    /// ± of the difference of the two, without the setting's.
    pub known: Known,
}

/// One figure.
#[derive(Debug, Clone, PartialEq)]
pub struct Figure {
    /// `rock`, `diamond`, `sag left`.
    pub name: String,
    /// On the reference, mm.
    pub reference_mm: f64,
    /// As measured, mm.
    pub measured_mm: f64,
    /// Measured less reference, mm.
    pub off_mm: f64,
    /// ± of that (half the 95 % band), mm.
    pub pm_mm: f64,
    /// `rock 3/16, right rear up`.
    pub words: String,
}

/// Why a figure can't be had.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum NoFigure {
    /// Places that it needs are not there.
    #[error("{figure}: {} not there", .places.join(", "))]
    Missing {
        /// The figure's name.
        figure: String,
        /// The places, in words.
        places: Vec<String>,
    },
    /// Its places coincide, or stand on a line where they should span something.
    #[error("{0}: its places don't stand as they should")]
    OutOfPlace(String),
}

/// How much `length_mm` of steel grows when it gets warmer by `kelvin`, mm; negative when colder.
pub fn growth_mm(length_mm: f64, kelvin: f64) -> f64 {
    STEEL_PER_KELVIN * length_mm * kelvin
}

/// A figure of `places`: `value` takes the reference's places, and those it is to be read from; `words` takes how far off
/// it is and that in 32nds.
///
/// The ± is the root of the sum of the squares of each place's own along the figure's gradient there, times its length, with
/// the gradient by central differences at the reference (JCGM 100:2008, 5.1.2 and 5.1.3).
fn read(
    name: &str,
    places: &[&Place],
    value: impl Fn(&[Point], &[Point]) -> f64,
    words: impl Fn(f64, &str) -> String,
) -> Result<Figure, NoFigure> {
    let reference: Vec<Point> = places.iter().map(|p| p.reference).collect();
    let measured: Vec<Point> = places.iter().map(|p| p.measured).collect();
    let (reference_mm, measured_mm) = (value(&reference, &reference), value(&reference, &measured));
    let step = 0.01;
    let mut square = 0.0f64;
    for (k, place) in places.iter().enumerate() {
        let slope = [Vector::x(), Vector::y(), Vector::z()].map(|axis| {
            let moved = |by: f64| {
                let mut at = reference.clone();
                at[k] += axis * by;
                value(&reference, &at)
            };
            (moved(step) - moved(-step)) / (2.0 * step)
        });
        square += place.known.along_mm(&Vector::from(slope)).powi(2);
    }
    let (off_mm, pm_mm) = (measured_mm - reference_mm, square.sqrt());
    if !off_mm.is_finite() || !pm_mm.is_finite() {
        return Err(NoFigure::OutOfPlace(name.to_string()));
    }
    Ok(Figure {
        name: name.to_string(),
        reference_mm,
        measured_mm,
        off_mm,
        pm_mm,
        words: said(name, off_mm, pm_mm, words),
    })
}

/// What is off in words; `name: nil` where it rounds to nothing or its ± covers it.
fn said(name: &str, off_mm: f64, pm_mm: f64, words: impl Fn(f64, &str) -> String) -> String {
    let size = fraction_of_inch(off_mm, 32);
    if pm_mm > CANT_TELL_MM {
        format!("{name}: can't tell, ± {}", fraction_of_inch(pm_mm, 32))
    } else if size == "0" || off_mm.abs() <= pm_mm {
        format!("{name}: nil")
    } else {
        words(off_mm, &size)
    }
}

/// With what weights four places of the plan, two and two along the sides, show a rock and nothing else: a rise, a tilt
/// fore and aft and a tilt sideways come to nothing. Over a rectangle 1, −1, −1, 1.
///
/// They are the places' one affine dependency, Σ cᵢ (1, xᵢ, yᵢ) = 0, with Σ |cᵢ| = 4. Not numbers where three places
/// stand on a line.
fn rock_weights(corners: &[Point]) -> [f64; 4] {
    let minor = |left_out: usize| {
        let rows: Vec<Vector> = (0..4)
            .filter(|&k| k != left_out)
            .map(|k| Vector::new(1.0, corners[k].x, corners[k].y))
            .collect();
        Matrix3::from_columns(&rows).determinant()
    };
    let weights = [minor(0), -minor(1), minor(2), -minor(3)];
    let whole: f64 = weights.iter().map(|w| w.abs()).sum();
    let scale = 4.0 / whole * weights[0].signum();
    let weights = weights.map(|w| w * scale);
    let in_turn = weights[1] < 0.0 && weights[2] < 0.0 && weights[3] > 0.0;
    if in_turn { weights } else { [f64::NAN; 4] }
}

#[cfg(test)]
mod tests {
    use super::*;
    use cloud::unit::MM_PER_INCH;

    #[test]
    fn steel_grows_as_the_trade_says() {
        assert!((growth_mm(84.0 * MM_PER_INCH, 10.0) / MM_PER_INCH - 0.0098).abs() < 1e-4);
    }

    #[test]
    fn rock_weights_pass_over_every_tilt_and_refuse_a_line() {
        let corner = |x, y| Point::new(x, y, 0.0);
        let square = [
            corner(0.0, -1.0),
            corner(0.0, 1.0),
            corner(3.0, -1.0),
            corner(3.0, 1.0),
        ];
        for (found, expected) in rock_weights(&square).iter().zip([1.0, -1.0, -1.0, 1.0]) {
            assert!((found - expected).abs() < 1e-12);
        }
        let tapered = [
            corner(0.0, -14.0),
            corner(1.0, 14.0),
            corner(80.0, -15.5),
            corner(79.0, 16.0),
        ];
        let weights = rock_weights(&tapered);
        let planes: [fn(&Point) -> f64; 3] = [|_| 1.0, |p| p.x, |p| p.y];
        for plane in planes {
            let sum: f64 = weights.iter().zip(&tapered).map(|(w, p)| w * plane(p)).sum();
            assert!(sum.abs() < 1e-9);
        }
        let line = [
            corner(0.0, 0.0),
            corner(0.0, 1.0),
            corner(0.0, 2.0),
            corner(3.0, 1.0),
        ];
        assert!(rock_weights(&line)[0].is_nan());
    }
}
