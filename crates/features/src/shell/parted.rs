//! Left against right: how a place and its mirror image differ in height, set-out and fore and aft.
//!
//! The mirrored side is a suspicion, not a reference: left and right came off separate dies. It differs, it is never wrong.

use cloud::unit::fraction_of_inch;
use cloud::{Mirror, Point, Vector};

use super::{CANT_TELL_MM, Figure, NoFigure, Place, read};

/// How the right place lies against the mirror image of the left one; the ± of each without that of the centre plane.
#[derive(Debug, Clone, PartialEq)]
pub struct Parted {
    /// Both names, `H1 / H2`.
    pub name: String,
    /// How far the right one lies rearward of the left, mm, on the reference, measured, and the change.
    pub fore_aft: Figure,
    /// How far the right one lies farther out from the centre plane than the left.
    pub set_out: Figure,
    /// How far the right one lies higher than the left.
    pub height: Figure,
    /// How the right one stands to the left by each of them, in this order: `right 1/16 higher than left: differs`.
    pub stands: [String; 3],
    /// `right 5/16 forward of left: differs`, `alike side to side`.
    pub words: String,
}

/// Compares two places that mirror each other in the plane `centre` (about Y 0, its normal of unit length).
///
/// # Errors
/// Where a place is no place.
pub fn parted(left: &Place, right: &Place, centre: &Mirror) -> Result<Parted, NoFigure> {
    let name = format!("{} / {}", left.name, right.name);
    let outward = centre.normal * centre.normal.y.signum();
    let figure = |what: &str, toward: Vector, [less, more]: [&str; 2]| {
        read(
            &format!("{name}, {what}"),
            &[left, right],
            |_, at: &[Point]| (at[1] - centre.point(&at[0])).dot(&toward),
            |off, size| format!("right {size} {} than before", if off > 0.0 { more } else { less }),
        )
    };
    let fore_aft = figure(
        "fore and aft",
        Vector::x(),
        ["farther forward", "farther rearward"],
    )?;
    let set_out = figure("set-out", outward, ["farther in", "farther out"])?;
    let height = figure("height", Vector::z(), ["lower", "higher"])?;
    let words = in_words(&[&fore_aft, &set_out, &height]);
    let alone = |k: usize, figure: &Figure| {
        let (size, pm_mm) = (fraction_of_inch(figure.measured_mm, 32), figure.pm_mm);
        let [less, more] = STANDS[k];
        if pm_mm > CANT_TELL_MM {
            format!("can't tell, ± {}", fraction_of_inch(pm_mm, 32))
        } else if !shows(figure.measured_mm, pm_mm) {
            "alike side to side".to_string()
        } else {
            let stands = if figure.measured_mm > 0.0 { more } else { less };
            let known = !shows(figure.off_mm, pm_mm);
            let as_it_was = if known { ", as on the reference" } else { "" };
            format!("right {size} {stands}: differs{as_it_was}")
        }
    };
    let stands = [alone(0, &fore_aft), alone(1, &set_out), alone(2, &height)];
    Ok(Parted {
        name,
        fore_aft,
        set_out,
        height,
        stands,
        words,
    })
}

/// How the right one stands to the left, for less and for more of each figure.
const STANDS: [[&str; 2]; 3] = [
    ["forward of left", "rearward of left"],
    ["farther in than left", "farther out than left"],
    ["lower than left", "higher than left"],
];

/// Whether a figure is more than its ± and than nothing in 32nds.
fn shows(mm: f64, pm_mm: f64) -> bool {
    mm.abs() > pm_mm && fraction_of_inch(mm, 32) != "0"
}

fn in_words(figures: &[&Figure; 3]) -> String {
    let widest = figures.iter().map(|f| f.pm_mm).fold(0.0, f64::max);
    if widest > CANT_TELL_MM {
        return format!("can't tell, ± {}", fraction_of_inch(widest, 32));
    }
    let apart: Vec<(&Figure, String)> = figures
        .iter()
        .zip(STANDS)
        .filter(|(f, _)| shows(f.measured_mm, f.pm_mm))
        .map(|(f, [less, more])| {
            let stands = if f.measured_mm > 0.0 { more } else { less };
            (*f, format!("{} {stands}", fraction_of_inch(f.measured_mm, 32)))
        })
        .collect();
    if apart.is_empty() {
        return "alike side to side".to_string();
    }
    let known = apart.iter().all(|(f, _)| !shows(f.off_mm, f.pm_mm));
    let words: Vec<String> = apart.into_iter().map(|(_, words)| words).collect();
    format!(
        "right {}: differs{}",
        words.join(", "),
        if known { ", as on the reference" } else { "" }
    )
}

#[cfg(test)]
mod tests {
    use super::super::Known;
    use super::*;

    fn place(name: &str, reference: [f64; 3], measured: [f64; 3]) -> Place {
        Place {
            name: name.to_string(),
            reference: Point::from(reference),
            measured: Point::from(measured),
            known: Known::alike(0.2),
        }
    }

    const CENTRE: Mirror = Mirror {
        normal: Vector::new(0.0, -1.0, 0.0),
        offset_mm: -2.0,
    };

    #[test]
    fn a_bar_farther_back_on_the_left_differs_and_is_not_called_wrong() {
        // The centre plane lies at Y 2; the mirror image of Y −298 is 302.
        let left = place("bar left", [900.0, -298.0, 50.0], [907.9375, -298.0, 50.0]);
        let right = place("bar right", [900.0, 302.0, 50.0], [900.0, 302.0, 51.6]);
        let found = parted(&left, &right, &CENTRE).unwrap();
        assert!((found.fore_aft.measured_mm + 7.9375).abs() < 1e-9);
        assert!(found.set_out.measured_mm.abs() < 1e-9 && (found.height.off_mm - 1.6).abs() < 1e-9);
        assert!((found.height.pm_mm - 0.2 * 2f64.sqrt()).abs() < 1e-6);
        assert_eq!(
            found.words,
            "right 5/16 forward of left, 1/16 higher than left: differs"
        );
        assert_eq!(
            found.stands,
            [
                "right 5/16 forward of left: differs",
                "alike side to side",
                "right 1/16 higher than left: differs"
            ]
        );
        let as_found = place("bar left", [907.9375, -298.0, 50.0], [907.9375, -298.0, 50.0]);
        let again = place("bar right", [900.0, 302.0, 50.0], [900.0, 302.0, 50.0]);
        assert_eq!(
            parted(&as_found, &again, &CENTRE).unwrap().words,
            "right 5/16 forward of left: differs, as on the reference"
        );
        let wide = place("b", [900.0, 302.0, 50.0], [907.9375, 303.6, 50.0]);
        assert_eq!(
            parted(&left, &wide, &CENTRE).unwrap().words,
            "right 1/16 farther out than left: differs"
        );
        assert_eq!(
            parted(
                &again,
                &again,
                &Mirror {
                    normal: Vector::y(),
                    offset_mm: 302.0
                }
            )
            .unwrap()
            .words,
            "alike side to side"
        );
    }
}
