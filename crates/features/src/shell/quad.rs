//! The figures of a quad of places: four corners, and two in the middle where they were measured.

use cloud::unit::MM_PER_INCH;
use cloud::{Point, Vector};

use super::{Figure, NoFigure, Place, growth_mm, read, rock_weights, said};

/// The corners of a shell, and the middles of its sides.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Quad {
    /// Front left.
    pub front_left: Option<Place>,
    /// Front right.
    pub front_right: Option<Place>,
    /// Rear left.
    pub rear_left: Option<Place>,
    /// Rear right.
    pub rear_right: Option<Place>,
    /// On the left, about half way.
    pub middle_left: Option<Place>,
    /// On the right, about half way.
    pub middle_right: Option<Place>,
}

/// Corners by their number in a quad.
const CORNERS: [usize; 4] = [FL, FR, RL, RR];
const FL: usize = 0;
const FR: usize = 1;
const RL: usize = 2;
const RR: usize = 3;
const ML: usize = 4;
const MR: usize = 5;
const NAMES: [&str; 6] = [
    "left front",
    "right front",
    "left rear",
    "right rear",
    "left middle",
    "right middle",
];
/// Growth under this is not worth a word, mm (0.0005 in).
const LEAST_GROWTH_MM: f64 = 0.0127;

impl Quad {
    fn places(&self, figure: &str, asked: &[usize]) -> Result<Vec<&Place>, NoFigure> {
        let all = [
            &self.front_left,
            &self.front_right,
            &self.rear_left,
            &self.rear_right,
            &self.middle_left,
            &self.middle_right,
        ];
        let missing: Vec<String> = asked
            .iter()
            .filter(|&&k| all[k].is_none())
            .map(|&k| NAMES[k].to_string())
            .collect();
        if missing.is_empty() {
            return Ok(asked.iter().filter_map(|&k| all[k].as_ref()).collect());
        }
        Err(NoFigure::Missing {
            figure: figure.to_string(),
            places: missing,
        })
    }

    fn read(
        &self,
        name: &str,
        asked: &[usize],
        value: impl Fn(&[Point], &[Point]) -> f64,
        words: impl Fn(f64, &str) -> String,
    ) -> Result<Figure, NoFigure> {
        read(name, &self.places(name, asked)?, value, words)
    }
}

/// Rock, diamond, both diagonals and their difference, sag of each side and of both, sway, mash, widths; in this order, each
/// or the reason why not. `warmer_kelvin` is how much warmer the shell was than the reference, where that is known.
pub fn figures(quad: &Quad, warmer_kelvin: Option<f64>) -> Vec<Result<Figure, NoFigure>> {
    vec![
        rock(quad),
        diamond(quad),
        diagonal(quad, "diagonal left front to right rear", [FL, RR]),
        diagonal(quad, "diagonal right front to left rear", [FR, RL]),
        quad.read(
            "diagonals",
            &CORNERS,
            |_, at| difference(at),
            |off, size| {
                let longer = if off > 0.0 {
                    "left front to right rear"
                } else {
                    "right front to left rear"
                };
                format!("diagonals {size} apart, {longer} the longer")
            },
        ),
        quad.read("sag left", &[FL, ML, RL], sag, |off, size| {
            sag_words("left", off, size)
        }),
        quad.read("sag right", &[FR, MR, RR], sag, |off, size| {
            sag_words("right", off, size)
        }),
        quad.read(
            "sag",
            &[FL, ML, RL, FR, MR, RR],
            |on, at| (sag(&on[..3], &at[..3]) + sag(&on[3..], &at[3..])) / 2.0,
            |off, size| sag_words("", off, size),
        ),
        sway(quad),
        mash(quad, warmer_kelvin),
        width(quad, "width front", [FL, FR]),
        width(quad, "width in the middle", [ML, MR]),
        width(quad, "width rear", [RL, RR]),
    ]
}

/// (z FL + z RR) − (z FR + z RL), weighted so that a quad that tapers shows no rock when it is only tilted.
fn rock(quad: &Quad) -> Result<Figure, NoFigure> {
    let value =
        |on: &[Point], at: &[Point]| -> f64 { rock_weights(on).iter().zip(at).map(|(w, p)| w * p.z).sum() };
    let mut rise = [0.0; 4];
    for (rise, place) in rise.iter_mut().zip(quad.places("rock", &CORNERS)?) {
        *rise = place.measured.z - place.reference.z;
    }
    let corner = rocked_corner(rise);
    quad.read("rock", &CORNERS, value, |_, size| {
        format!("rock {size}, {corner}")
    })
}

/// The corner that stands out, `right rear up`; where none does by a quarter of the rock, both of the high diagonal. Four
/// corners alone can't say which one it is: three of them and the setting make it.
fn rocked_corner(rise: [f64; 4]) -> String {
    let rock = (rise[FL] + rise[RR] - rise[FR] - rise[RL]).abs();
    let ([first, other], [low, other_low]) = if rise[FL] + rise[RR] > rise[FR] + rise[RL] {
        ([FL, RR], [FR, RL])
    } else {
        ([FR, RL], [FL, RR])
    };
    let clear = |a: usize, b: usize| (rise[a] - rise[b]).abs() > rock / 4.0;
    let up = if rise[first] > rise[other] { first } else { other };
    let down = if rise[low] < rise[other_low] {
        low
    } else {
        other_low
    };
    let mut sorted = rise;
    sorted.sort_unstable_by(f64::total_cmp);
    let middle = (sorted[1] + sorted[2]) / 2.0;
    match (clear(first, other), clear(low, other_low)) {
        (false, false) => format!("{} and {} up", NAMES[first], NAMES[other]),
        (true, false) => format!("{} up", NAMES[up]),
        (false, true) => format!("{} down", NAMES[down]),
        (true, true) if middle - rise[down] > rise[up] - middle => format!("{} down", NAMES[down]),
        (true, true) => format!("{} up", NAMES[up]),
    }
}

/// The diagonal left front to right rear less the other.
fn difference(at: &[Point]) -> f64 {
    (at[RR] - at[FL]).norm() - (at[RL] - at[FR]).norm()
}

/// How far the right side lies rearward of the left, by the diagonals.
///
/// Mean dX right − mean dX left itself changes with the setting's yaw. A slide d of one side along X lengthens one diagonal
/// by d times its cosine to X and shortens the other by d times its own, so that d is the change of the diagonals' difference
/// over the sum of the cosines; the setting does not enter.
fn diamond(quad: &Quad) -> Result<Figure, NoFigure> {
    let value = |on: &[Point], at: &[Point]| {
        let rearward = |from: usize, to: usize| (on[to] - on[from]).normalize().x;
        difference(at) / (rearward(FL, RR) + rearward(FR, RL))
    };
    quad.read("diamond", &CORNERS, value, |off, size| {
        format!(
            "right side {size} {}",
            if off > 0.0 { "rearward" } else { "forward" }
        )
    })
}

fn diagonal(quad: &Quad, name: &str, ends: [usize; 2]) -> Result<Figure, NoFigure> {
    quad.read(
        name,
        &ends,
        |_, at| (at[1] - at[0]).norm(),
        |off, size| format!("{name} {size} {}", if off > 0.0 { "long" } else { "short" }),
    )
}

/// Where the second of three places stands along the line from the first to the last, seen from above, 0 to 1.
fn share_along(on: &[Point]) -> f64 {
    let (line, to) = ((on[2] - on[0]).xy(), (on[1] - on[0]).xy());
    to.dot(&line) / line.norm_squared()
}

/// Height of the middle one of three places over the line between the others.
fn sag(on: &[Point], at: &[Point]) -> f64 {
    let share = share_along(on);
    at[1].z - (at[0].z * (1.0 - share) + at[2].z * share)
}

fn sag_words(side: &str, off: f64, size: &str) -> String {
    let words = format!("{} {size}", if off < 0.0 { "sag" } else { "hog" });
    if side.is_empty() {
        words
    } else {
        format!("{side} side: {words}")
    }
}

/// How far the middle of the middle lies to the right of the line from the middle of the front to that of the rear.
fn sway(quad: &Quad) -> Result<Figure, NoFigure> {
    let centres = |at: &[Point]| -> Vec<Point> {
        at.chunks(2)
            .map(|pair| nalgebra::center(&pair[0], &pair[1]))
            .collect()
    };
    let value = |on: &[Point], at: &[Point]| {
        let share = share_along(&centres(on));
        let at = centres(at);
        at[1].y - (at[0].y * (1.0 - share) + at[2].y * share)
    };
    quad.read("sway", &[FL, FR, ML, MR, RL, RR], value, |off, size| {
        format!("sway {size} to the {}", if off > 0.0 { "right" } else { "left" })
    })
}

/// The length from front to rear, the mean of both sides: shorter is mashed. What the warmth explains is taken off before it
/// is said, and said.
fn mash(quad: &Quad, warmer_kelvin: Option<f64>) -> Result<Figure, NoFigure> {
    let words = |off: f64, size: &str| {
        if off < 0.0 {
            format!("mashed {size}")
        } else {
            format!("{size} long")
        }
    };
    let length = |_: &[Point], at: &[Point]| {
        let side = |front: usize, rear: usize| -> Vector { at[rear] - at[front] };
        (side(FL, RL).norm() + side(FR, RR).norm()) / 2.0
    };
    let mut figure = quad.read("mash", &CORNERS, length, words)?;
    let growth = warmer_kelvin.map_or(0.0, |kelvin| growth_mm(figure.reference_mm, kelvin));
    if growth.abs() >= LEAST_GROWTH_MM {
        figure.words = format!(
            "{}; length {:+.3} in, {:.3} in of it is {}",
            said("mash", figure.off_mm - growth, figure.pm_mm, words),
            figure.off_mm / MM_PER_INCH,
            growth.abs() / MM_PER_INCH,
            if growth > 0.0 { "warmth" } else { "cold" }
        );
    }
    Ok(figure)
}

fn width(quad: &Quad, name: &str, ends: [usize; 2]) -> Result<Figure, NoFigure> {
    quad.read(
        name,
        &ends,
        |_, at| (at[1] - at[0]).norm(),
        |off, size| format!("{name} {size} {}", if off > 0.0 { "wide" } else { "narrow" }),
    )
}

#[cfg(test)]
mod tests {
    use super::super::Known;
    use super::*;
    use cloud::{Body, Motion};

    /// A quad of 84 × 28 in with middles, each place moved as `by` says, and the whole then set a little wrongly.
    fn moved(by: impl Fn(&str) -> Vector) -> Quad {
        let wrongly: Motion<Body, Body> = Motion::turn_about(
            Vector::new(0.001, -0.0015, 0.002),
            Point::new(500.0, 0.0, 0.0),
            Vector::new(2.0, -1.0, 3.0),
        );
        let place = |name: &str, x: f64, y: f64| {
            let at = Point::new(x, y, 20.0) * MM_PER_INCH;
            Some(Place {
                name: name.to_string(),
                reference: at,
                measured: wrongly.apply(&(at + by(name))),
                known: Known::alike(0.3),
            })
        };
        Quad {
            front_left: place("FL", 0.0, -14.0),
            front_right: place("FR", 0.0, 14.0),
            rear_left: place("RL", 84.0, -14.0),
            rear_right: place("RR", 84.0, 14.0),
            middle_left: place("ML", 46.0, -14.0),
            middle_right: place("MR", 46.0, 14.0),
        }
    }

    fn figure(quad: &Quad, name: &str) -> Figure {
        let mut all = figures(quad, None).into_iter().flatten();
        all.find(|f| f.name == name).unwrap()
    }

    #[test]
    fn a_raised_corner_is_a_rock_and_named() {
        let quad = moved(|name| Vector::z() * if name == "RR" { 4.7625 } else { 0.0 });
        let rock = figure(&quad, "rock");
        assert!((rock.off_mm - 4.7625).abs() < 0.02, "{rock:?}");
        assert!((rock.pm_mm - 0.6).abs() < 1e-6);
        assert_eq!(rock.words, "rock 3/16, right rear up");
        // Of holes in level sheets, read to 0.7 in them and to 0.04 out of them, it is known by their heights.
        let mut holes = quad.clone();
        for corner in [
            &mut holes.front_left,
            &mut holes.front_right,
            &mut holes.rear_left,
            &mut holes.rear_right,
        ] {
            corner.as_mut().unwrap().known = Known {
                normal: Vector::z(),
                in_sheet_mm: 0.7,
                out_of_it_mm: 0.04,
            };
        }
        assert!((figure(&holes, "rock").pm_mm - 0.08).abs() < 1e-3);
        assert!((figure(&holes, "width rear").pm_mm - 0.7 * 2f64.sqrt()).abs() < 1e-3);
        for name in ["diamond", "diagonals", "sway", "width rear"] {
            assert!(figure(&quad, name).words.ends_with(": nil"), "{name}");
        }
        assert_eq!(rocked_corner([0.0, -3.0, 0.0, 0.0]), "right front down");
        assert_eq!(
            rocked_corner([1.0, -1.0, -1.0, 1.0]),
            "left front and right rear up"
        );
        assert_eq!(rocked_corner([5.0, 5.0, 9.0, 5.0]), "left rear up");
    }

    #[test]
    fn a_side_that_slid_rearward_is_a_diamond_whatever_the_setting() {
        let quad = moved(|name| Vector::x() * if name.ends_with('R') { 3.175 } else { 0.0 });
        let diamond = figure(&quad, "diamond");
        assert!((diamond.off_mm - 3.175).abs() < 0.02, "{diamond:?}");
        assert_eq!(diamond.words, "right side 1/8 rearward");
        let diagonals = figure(&quad, "diagonals");
        // 2 d · 84 / √(84² + 28²).
        let expected = 2.0 * 3.175 * 84.0 / 84f64.hypot(28.0);
        assert!((diagonals.off_mm - expected).abs() < 0.02 && diagonals.reference_mm.abs() < 1e-9);
        assert!(diagonals.words.ends_with("left front to right rear the longer"));
        assert_eq!(figure(&quad, "rock").words, "rock: nil");
    }

    #[test]
    fn sag_and_sway_and_mash_are_told_with_their_way() {
        let quad = moved(|name| match name {
            "ML" | "MR" => Vector::new(0.0, 2.4, -1.5875),
            "RL" | "RR" => Vector::new(-3.175, 0.0, 0.0),
            _ => Vector::zeros(),
        });
        assert_eq!(figure(&quad, "sag").words, "sag 1/16");
        assert_eq!(figure(&quad, "sag left").words, "left side: sag 1/16");
        assert_eq!(figure(&quad, "sway").words, "sway 3/32 to the right");
        let mash = figure(&quad, "mash");
        assert!((mash.off_mm + 3.175).abs() < 0.01);
        assert_eq!(mash.words, "mashed 1/8");
    }

    #[test]
    fn warmth_explains_the_length_and_not_the_sag() {
        let quad = moved(|name| {
            let x = match &name[..1] {
                "F" => 0.0,
                "M" => 46.0,
                _ => 84.0,
            };
            let grown = growth_mm(x * MM_PER_INCH, 15.0);
            Vector::new(grown, 0.0, if x == 46.0 { -1.5875 } else { 0.0 })
        });
        let all = figures(&quad, Some(15.0));
        let words = |name: &str| {
            let found = all.iter().flatten().find(|f| f.name == name);
            found.unwrap().words.clone()
        };
        assert_eq!(
            words("mash"),
            "mash: nil; length +0.015 in, 0.015 in of it is warmth"
        );
        assert_eq!(words("sag"), "sag 1/16");
    }

    #[test]
    fn what_is_missing_is_named_and_the_rest_is_still_had() {
        let mut quad = moved(|_| Vector::zeros());
        quad.rear_left = None;
        let all = figures(&quad, None);
        let rock = all[0].as_ref().unwrap_err();
        assert_eq!(rock.to_string(), "rock: left rear not there");
        assert!(all.iter().flatten().any(|f| f.name == "width front"));
        assert_eq!(all.iter().flatten().count(), 4);
    }
}
