//! The shape of a panel: how what is left without its move is bowed along and across it, and twisted.
//!
//! With q and w the places along and across, each from −1 to 1 over the panel, what is left along the normals is fitted by
//! c₀ + c₁ q + c₂ w + c₃ q² + c₄ q w + c₅ w² + c₆ q² w², by least squares with bisquare weights (Beaton & Tukey 1974), so that
//! a dent does not bend the whole. The last term lets a crown run out to edges that hold it; the bows are those of the
//! middle lines, −c₃ and −c₅, and the twist is 4 c₄. Level and lean (c₀ to c₂) are the move's, so that no setting of a flat
//! panel has a share in what is told. What its rims do by themselves is told apart: see [`Curl`].

use cloud::bisquare::{TUKEY, bisquare};
use cloud::statistics::{median, rms};
use cloud::survey::tangents;
use cloud::unit::fraction_of_inch;
use cloud::{Point, Vector, thin};
use nalgebra::{SMatrix, SVector};

use crate::rigid_part::Seen;

mod bow;
mod curl;
mod twist;

pub use bow::Bowed;
pub use curl::{Around, Curl};
pub use twist::Twisted;

/// A height of the shape.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bend {
    /// How far, mm.
    pub mm: f64,
    /// ± (half the 95 % band), mm.
    pub pm_mm: f64,
}

/// What a panel's deviation is like without its move.
#[derive(Debug, Clone, PartialEq)]
pub struct Shape {
    /// How far the middle stands proud of its two ends along the panel; below 0 it is hollow.
    pub along: Bend,
    /// The same across the panel.
    pub across: Bend,
    /// Corner to corner: two that lie across from each other, less the other two.
    pub twist: Bend,
    /// Its bow as a form, where that is surely off.
    pub bowed: Option<Bowed>,
    /// The twist as a form, where it is surely off.
    pub twisted: Option<Twisted>,
    /// How long the panel is, as far as it was seen, mm.
    pub length_mm: f64,
    /// How wide, mm; no more than the length.
    pub width_mm: f64,
    /// Edges that stand off where the sheet behind would carry them.
    pub curls: Vec<Curl>,
    /// What of it is surely off: `crowned 3/32 along its length, rear edge curls up 1/16 over 12 in`; empty where nothing is.
    pub words: String,
}

type Terms = SVector<f64, 7>;
type Squares = SMatrix<f64, 7, 7>;

/// Metal that faces otherwise than the panel as a whole by more than 45° is no part of it (this is the cosine); where the
/// rest is less than this share there is no panel.
const FACING: f64 = 0.7;
const ENOUGH: f64 = 0.6;
/// Fewest places, and the narrowest panel that has a shape, mm (two inches).
const FEWEST: usize = 50;
const NARROWEST_MM: f64 = 50.8;
/// As many places as say all that can be known of seven terms.
const MOST: f64 = 20_000.0;
/// About one place in so many is its own evidence: neighbours share their points over a disc.
const SHARED: f64 = 20.0;
/// Panels whose sides differ by less than this have no longer one to tell their axes by.
const SQUARE: f64 = 1.15;
/// A panel's own axis within 15° of the body's (this is the cosine) is taken for that: regions are boxes in its frame, and
/// what was not seen turns the axes of the rest.
const AS_THE_BODY: f64 = 0.966;
/// A figure is told where it is this many of its ±, and this many times what the shape leaves over.
const SURE: f64 = 1.5;
const SHOWS: f64 = 4.0;

/// A bow is the whole of what is wrong where it leaves less than this share of itself: a piece that was put in too high within a
/// rim that is home leaves more, and is dressed by itself.
const BUT_FOR: f64 = 0.1;

/// The shape of what is left over a panel: `rest` holds what is left at each place when its move is taken away. `limit_mm` is
/// how far the panel may be off: what is under half of that is not said of its bow and twist. `None` where it is no panel, or
/// too few of it.
pub fn shape(rest: &[Seen], limit_mm: f64, around: &Around<'_>) -> Option<Shape> {
    let facing = rest.iter().map(|s| s.normal).sum::<Vector>() / rest.len().max(1) as f64;
    let facing = facing.try_normalize(ENOUGH)?;
    let faces: Vec<&Seen> = rest.iter().filter(|s| s.normal.dot(&facing) > FACING).collect();
    if faces.len() < FEWEST || (faces.len() as f64) < ENOUGH * rest.len() as f64 {
        return None;
    }
    let (along, across) = axes(&faces, &facing);
    let (middle, half_length_mm) = extent(&faces, &along);
    let (centre, half_width_mm) = extent(&faces, &across);
    if 2.0 * half_width_mm < NARROWEST_MM {
        return None;
    }
    let terms_at = |seen: &Seen| {
        let q = (seen.at.coords.dot(&along) - middle) / half_length_mm;
        let w = (seen.at.coords.dot(&across) - centre) / half_width_mm;
        terms(q, w)
    };
    let at: Vec<Point> = faces.iter().map(|s| s.at).collect();
    let cell_mm = (4.0 * half_length_mm * half_width_mm / MOST).sqrt();
    let places: Vec<(Terms, f64)> = thin::on_grid(&at, cell_mm)
        .into_iter()
        .map(|i| {
            let seen = faces[i as usize];
            (terms_at(seen), seen.mm)
        })
        .collect();
    if places.len() < FEWEST {
        return None;
    }
    let shared = (SHARED * places.len() as f64 / faces.len() as f64).max(1.0);
    let (fitted, covariance, left_mm) = fitted(&places)?;
    let bend = |k: usize, times: f64| Bend {
        mm: times * fitted[k],
        pm_mm: 1.96 * times.abs() * (covariance[(k, k)] * shared).max(0.0).sqrt(),
    };
    let left: Vec<f64> = faces.iter().map(|s| s.mm - terms_at(s).dot(&fitted)).collect();
    let sheet = curl::Sheet {
        faces: &faces,
        left: &left,
        facing,
        axes: [along, across],
    };
    let curls = curl::curls(&sheet, around);
    let axes = [along, across];
    let (along, across, twist) = (bend(3, -1.0), bend(5, -1.0), bend(4, 4.0));
    let bent = in_words(&[along, across, twist], limit_mm, left_mm);
    let bows = bent
        .split(", ")
        .filter(|words| !words.is_empty() && !words.starts_with("twisted"));
    let bows = bows.collect::<Vec<_>>().join(", ");
    let far_mm = along.mm.abs().max(across.mm.abs());
    let nothing_else = rms(&left) < BUT_FOR * far_mm;
    let bowed = (!bows.is_empty() && nothing_else).then_some(Bowed {
        facing,
        axes,
        middle_mm: [middle, centre],
        half_mm: [half_length_mm, half_width_mm],
        fitted,
        bends: [along, across],
        words: bows,
    });
    let twisted = bent.contains("twisted").then(|| Twisted {
        facing,
        axes,
        middle_mm: [middle, centre],
        half_mm: [half_length_mm, half_width_mm],
        corner_mm: twist.mm / 4.0,
        pm_mm: twist.pm_mm / 4.0,
    });
    let told: Vec<&str> = std::iter::once(bent.as_str())
        .filter(|words| !words.is_empty())
        .chain(curls.iter().map(|curl| curl.words.as_str()))
        .collect();
    let words = told.join(", ");
    Some(Shape {
        along,
        across,
        twist,
        bowed,
        twisted,
        length_mm: 2.0 * half_length_mm,
        width_mm: 2.0 * half_width_mm,
        curls,
        words,
    })
}

fn terms(q: f64, w: f64) -> Terms {
    Terms::from([1.0, q, w, q * q, q * w, w * w, q * q * w * w])
}

/// The unit directions in the panel along its longer and its shorter side.
fn axes(faces: &[&Seen], facing: &Vector) -> (Vector, Vector) {
    let (a, b) = tangents(facing);
    let middle = faces.iter().map(|s| s.at.coords).sum::<Vector>() / faces.len() as f64;
    let (mut aa, mut ab, mut bb) = (0.0, 0.0, 0.0);
    for seen in faces {
        let off = seen.at.coords - middle;
        let (x, y) = (off.dot(&a), off.dot(&b));
        aa += x * x;
        ab += x * y;
        bb += y * y;
    }
    // The larger eigenvalue's direction of a symmetric 2 × 2 matrix.
    let turn = 0.5 * (2.0 * ab).atan2(aa - bb);
    let principal = a * turn.cos() + b * turn.sin();
    let half_difference = ((aa - bb) / 2.0).hypot(ab);
    let half_sum = (aa + bb) / 2.0;
    let square = half_sum + half_difference < SQUARE * SQUARE * (half_sum - half_difference);
    // The body's axes as they lie in the panel.
    let body: Vec<Vector> = [Vector::x(), Vector::y(), Vector::z()]
        .iter()
        .map(|axis| axis - facing * facing.dot(axis))
        .filter(|axis| axis.norm() > FACING)
        .filter_map(|axis| axis.try_normalize(1e-9))
        .collect();
    let nearest = body.iter().copied().max_by(|p, q| {
        let along = |v: &Vector| v.dot(&principal).abs();
        along(p).total_cmp(&along(q))
    });
    let first = match nearest {
        Some(axis) if square || axis.dot(&principal).abs() > AS_THE_BODY => axis,
        _ => principal,
    };
    let second = facing.cross(&first);
    if extent(faces, &first).1 >= extent(faces, &second).1 {
        (first, second)
    } else {
        (second, first)
    }
}

/// The middle and half of the extent along a direction, mm.
fn extent(faces: &[&Seen], along: &Vector) -> (f64, f64) {
    let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
    for seen in faces {
        let mm = seen.at.coords.dot(along);
        low = low.min(mm);
        high = high.max(mm);
    }
    ((low + high) / 2.0, (high - low) / 2.0)
}

/// The terms, their covariance with every place its own evidence, and the robust spread of what they leave, mm.
fn fitted(places: &[(Terms, f64)]) -> Option<(Terms, Squares, f64)> {
    let mut found = Terms::zeros();
    let (mut inverse, mut sigma) = (Squares::zeros(), f64::INFINITY);
    for round in 0..20 {
        let (mut matrix, mut right) = (Squares::zeros(), Terms::zeros());
        for (row, mm) in places {
            // The first round takes all alike: the panel may be bent by far more than it is rough.
            let cut = if round == 0 { f64::INFINITY } else { TUKEY * sigma };
            let weight = bisquare(mm - row.dot(&found), cut);
            if weight > 0.0 {
                let weighted = row * weight;
                matrix += weighted * row.transpose();
                right += weighted * *mm;
            }
        }
        let held = matrix.cholesky()?;
        let next = held.solve(&right);
        inverse = held.inverse();
        let step = (next - found).norm();
        found = next;
        let mut left: Vec<f64> = places
            .iter()
            .map(|(row, mm)| (mm - row.dot(&found)).abs())
            .collect();
        sigma = (1.4826 * median(&mut left)).max(1e-6);
        if round > 0 && step < 1e-6 {
            break;
        }
    }
    let known = found.iter().chain(inverse.iter()).all(|v| v.is_finite());
    known.then(|| (found, inverse * (sigma * sigma), sigma))
}

/// What is surely off of bow along, bow across and twist.
fn in_words(bends: &[Bend; 3], limit_mm: f64, left_mm: f64) -> String {
    let mut words = Vec::new();
    for (k, bend) in bends.iter().enumerate() {
        let far_mm = bend.mm.abs();
        let size = fraction_of_inch(far_mm, 32);
        let surely = far_mm > SURE * bend.pm_mm && far_mm > limit_mm / 2.0 && far_mm > SHOWS * left_mm;
        if !surely || size == "0" {
            continue;
        }
        let bowed = if bend.mm > 0.0 { "crowned" } else { "hollow" };
        words.push(match k {
            0 => format!("{bowed} {size} along its length"),
            1 => format!("{bowed} {size} across"),
            _ => format!("twisted {size} corner to corner"),
        });
    }
    words.join(", ")
}

#[cfg(test)]
mod tests {
    use super::*;

    const LIMIT_MM: f64 = 1.5875;

    /// A sheet of `size` with what is left at each place (x, y from its middle), roughened by ±0.1, turned as asked.
    fn sheet(size: [f64; 2], left: impl Fn(f64, f64) -> f64, lay: impl Fn(Vector) -> Vector) -> Vec<Seen> {
        let count = size.map(|mm| (mm / 10.0) as u32);
        (0..=count[0])
            .flat_map(|i| (0..=count[1]).map(move |j| (i, j)))
            .map(|(i, j)| {
                let (x, y) = (
                    f64::from(i) * 10.0 - size[0] / 2.0,
                    f64::from(j) * 10.0 - size[1] / 2.0,
                );
                Seen {
                    at: Point::from(lay(Vector::new(x, y, 0.0))),
                    normal: lay(Vector::z()),
                    mm: left(x, y) + 0.1 * (f64::from(i * 7919 + j * 104_729)).sin(),
                }
            })
            .collect()
    }

    /// What is left over a panel that nothing is known around.
    fn shape(rest: &[Seen], limit_mm: f64) -> Option<Shape> {
        let around = Around {
            disc_mm: 10.0,
            goes_on: &|_, _| false,
        };
        super::shape(rest, limit_mm, &around)
    }

    fn as_it_is(v: Vector) -> Vector {
        v
    }

    #[test]
    fn a_piece_that_stands_high_within_its_rim_is_no_bow() {
        let piece = |x: f64, y: f64| {
            if x.abs() < 100.0 && y.abs() < 100.0 {
                4.0
            } else {
                0.0
            }
        };
        let found = shape(&sheet([240.0, 240.0], piece, as_it_is), LIMIT_MM).unwrap();
        assert!(found.along.mm > 3.0 && found.bowed.is_none(), "{found:?}");
    }

    /// A cylinder about the cross axis: sagitta s = L² / 8R along, nothing across, no twist (to second order in L / R).
    #[test]
    fn a_cylinder_is_crowned_along_its_length_and_only_that() {
        let radius = 800.0 * 800.0 / (8.0 * 2.38125);
        let cylinder = |x: f64, _: f64| (radius * radius - x * x).sqrt() - radius + 7.0 - 0.002 * x;
        let found = shape(&sheet([800.0, 400.0], cylinder, as_it_is), LIMIT_MM).unwrap();
        assert!((found.along.mm - 2.38125).abs() < 0.03, "{found:?}");
        assert!(
            found.across.mm.abs() < 0.03 && found.twist.mm.abs() < 0.05,
            "{found:?}"
        );
        assert!((found.length_mm - 800.0).abs() < 1e-6 && (found.width_mm - 400.0).abs() < 1e-6);
        assert_eq!(found.words, "crowned 3/32 along its length");
        assert_eq!(found.bowed.unwrap().words(), found.words);
    }

    /// A saddle z = t x y / (L W): corners across from each other stand t / 4 over, the others t / 4 under, t corner to corner.
    #[test]
    fn a_saddle_is_twisted_whichever_way_the_panel_lies() {
        let saddle = |x: f64, y: f64| 3.175 * x * y / (600.0 * 300.0);
        // Leaning by a fifth, longer side up.
        let lay = |v: Vector| Vector::new(0.6 * v.y + 0.8 * v.z, 0.8 * v.y - 0.6 * v.z, -v.x);
        for seen in [
            sheet([600.0, 300.0], saddle, as_it_is),
            sheet([600.0, 300.0], saddle, lay),
        ] {
            let found = shape(&seen, LIMIT_MM).unwrap();
            assert!((found.twist.mm.abs() - 3.175).abs() < 0.08, "{found:?}");
            assert_eq!(found.words, "twisted 1/8 corner to corner");
        }
    }

    /// On a square panel no side is longer, and a bow must not be read askew as a twist.
    #[test]
    fn a_square_panel_is_read_along_the_body() {
        let bowed = |x: f64, _: f64| 1.6 * (x / 200.0).powi(2);
        let found = shape(&sheet([400.0, 400.0], bowed, as_it_is), LIMIT_MM).unwrap();
        let bows = [found.along.mm, found.across.mm];
        assert!((bows[0] + bows[1] + 1.6).abs() < 0.05, "{found:?}");
        assert!((bows[0] - bows[1]).abs() > 1.5, "{found:?}");
        assert!(
            found.twist.mm.abs() < 0.08 && found.words.starts_with("hollow 1/16"),
            "{found:?}"
        );
    }

    /// A crown that runs out to all four edges stands as high as its middle does, along and across.
    #[test]
    fn a_crown_that_its_edges_hold_is_as_high_as_its_middle() {
        let run_out = |share: f64| 1.0 - share * share;
        let crown = |x: f64, y: f64| 4.7625 * run_out(x / 300.0) * run_out(y / 200.0);
        let found = shape(&sheet([600.0, 400.0], crown, as_it_is), LIMIT_MM).unwrap();
        assert!((found.along.mm - 4.7625).abs() < 0.05 && (found.across.mm - 4.7625).abs() < 0.05);
        assert_eq!(found.words, "crowned 3/16 along its length, crowned 3/16 across");
    }

    #[test]
    fn a_dent_or_a_little_bow_is_not_told() {
        let dent = |x: f64, y: f64| if (x - 60.0).hypot(y) < 70.0 { -6.0 } else { 0.0 };
        let found = shape(&sheet([600.0, 400.0], dent, as_it_is), LIMIT_MM).unwrap();
        assert_eq!(found.words, "", "{found:?}");
        assert!(found.along.mm.abs() < 0.1, "{found:?}");
        let little = |x: f64, _: f64| -0.6 * (x / 300.0).powi(2);
        let found = shape(&sheet([600.0, 400.0], little, as_it_is), LIMIT_MM).unwrap();
        assert!((found.along.mm - 0.6).abs() < 0.03 && found.words.is_empty());
    }

    #[test]
    fn a_channel_or_a_narrow_strip_is_no_panel() {
        let mut channel = sheet([300.0, 100.0], |_, _| 0.0, as_it_is);
        for (k, seen) in channel.iter_mut().enumerate() {
            seen.normal = if k % 2 == 0 { Vector::y() } else { -Vector::y() };
        }
        assert_eq!(shape(&channel, LIMIT_MM), None);
        assert_eq!(shape(&sheet([600.0, 40.0], |_, _| 0.0, as_it_is), LIMIT_MM), None);
    }
}
