//! What is done about the shape of a panel: curled edges, a crown, a twist. Each is one job, and what a crown does to its panel is
//! no spot to dress besides.

use ::compare::Verdict;
use ::features::shape::Bowed;
use ::features::shift::{Shift, Spot};

use super::brought::BY_MM;
use super::carried::carried_by;
use super::part::Part;
use super::{curled, dressed};
use crate::stages::compare::RegionResult;

/// The shapes of a region, each as what is done about it, in the shop, and as what it looks like. Where it `moves` first they are
/// of what is left then; a face `of_bar` that is bent comes right when that is straightened.
pub(super) fn shapes(
    region: &RegionResult,
    shift: &Shift,
    moves: bool,
    of_bar: bool,
) -> Vec<(String, String)> {
    let Some(shape) = shift.shape.as_ref() else {
        return Vec::new();
    };
    let then = if moves { "then " } else { "" };
    let curls = shape.curls.iter();
    let curls = curls.map(|curl| (dressed(&curled(&curl.words), moves), curl.words.clone()));
    let bowed = told(region, shift).filter(|_| !of_bar);
    let bowed = bowed.map(|bowed| (format!("{then}{}", bowed.undone()), bowed.words().to_string()));
    let twisted = shape.twisted.as_ref().filter(|_| !of_bar);
    let twisted = twisted.map(|twisted| (format!("{then}{}", twisted.undone()), twisted.words()));
    curls.chain(bowed).chain(twisted).collect()
}

/// The bow of a region, where it is a job: it is out by more than the limit, or is what some of the spots are.
fn told<'a>(region: &RegionResult, shift: &'a Shift) -> Option<&'a Bowed> {
    let bowed = shift.shape.as_ref()?.bowed.as_ref()?;
    let is_bow = |spot: &Spot| {
        let left_mm = bowed.at(&spot.at).map(|mm| (spot.mm - mm).abs());
        left_mm.is_some_and(|left_mm| left_mm < spot.mm.abs() / 2.0)
    };
    let far = bowed.far_mm() > region.region.limit_mm;
    (far || shift.spots.iter().any(is_bow)).then_some(bowed)
}

/// Whether a spot of a region is of its own bow, or of that of a panel beside it, which sits home and has that in its list.
pub(super) fn explains(part: Part<'_>, region: &RegionResult, spot: &Spot) -> bool {
    let reference = part.reference;
    let Some(nearest) = reference.near.nearest(&spot.at) else {
        return false;
    };
    let normal = reference.normals()[nearest.index as usize];
    let each = part.compared.regions.iter().zip(&part.found.shifts);
    let bows = each.filter_map(|(other, shift)| {
        let shift = shift.as_ref()?;
        Some((other, shift, told(other, shift)?))
    });
    let mut of_it = bows.filter(|(.., bowed)| bowed.explains(spot.mm, &spot.at, &normal));
    of_it.any(|(other, shift, _)| {
        let name = &other.region.name;
        let beside = || {
            other.verdict == Verdict::Outside
                && shift.explained <= 0.0
                && other.region.bounds.grown(BY_MM).contains(&spot.at)
                && !part.found.bent_bar(name)
                && carried_by(part, name).is_none()
        };
        *name == region.region.name || beside()
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use ::compare::figures::Figures;
    use ::compare::{Region, Status};
    use ::features::rigid_part::Seen;
    use ::features::shape::{Around, shape};
    use cloud::{Bounds, Point, Vector};

    /// A skin of 1000 × 600 that is home at its front edge and crowned by `crown_mm` along its length, and the spot that this
    /// makes at its rear edge.
    fn sprung(crown_mm: f64) -> Shift {
        let off = |x: f64| -crown_mm * (x / 500.0).powi(2);
        let places = (0..6000).map(|i| Point::new(f64::from(i % 100) * 10.0, f64::from(i / 100) * 10.0, 0.0));
        let seen = |at: Point| Seen {
            at,
            normal: Vector::z(),
            mm: off(at.x) + 0.02 * (at.x * 1.7 + at.y * 0.9).sin(),
        };
        let rest: Vec<Seen> = places.map(seen).collect();
        let around = Around {
            disc_mm: 10.0,
            goes_on: &|_, _| true,
        };
        Shift {
            translation_mm: Vector::zeros(),
            rotation: Vector::zeros(),
            about: Point::origin(),
            unheld: Vec::new(),
            explained: 0.0,
            pm_mm: 0.1,
            pads: Vec::new(),
            spots: vec![Spot {
                mm: off(990.0),
                at: Point::new(990.0, 300.0, 0.0),
                area_mm2: 278_000.0,
                length_mm: 600.0,
                width_mm: 500.0,
            }],
            shape: shape(&rest, 1.6, &around),
            words: String::new(),
        }
    }

    #[test]
    fn a_crown_is_told_as_one_and_not_as_a_hollow() {
        let region = RegionResult {
            region: Region {
                name: "skin".to_string(),
                status: Status::Unsure,
                bounds: Bounds {
                    low: Point::new(0.0, 0.0, -5.0),
                    high: Point::new(1000.0, 600.0, 5.0),
                },
                limit_mm: 1.6,
                outside: None,
                pads: Vec::new(),
            },
            members: Vec::new(),
            figures: Figures {
                points: 0,
                measured: 0,
                beyond_edge: 0,
                coverage: 1.0,
                spread: None,
            },
            verdict: Verdict::Outside,
        };
        let shift = sprung(3.175);
        let told = shapes(&region, &shift, false, false);
        assert_eq!(told.len(), 1, "{told:?}");
        assert!(
            told[0].0.starts_with("crowned 1/8 along its length: sprung"),
            "{told:?}"
        );
        assert_eq!(told[0].1, "crowned 1/8 along its length");
        let bowed = shift.shape.as_ref().unwrap().bowed.as_ref().unwrap();
        assert!(bowed.explains(shift.spots[0].mm, &shift.spots[0].at, &Vector::z()));
        assert!(
            shapes(&region, &shift, true, false)[0]
                .0
                .starts_with("then crowned")
        );
        assert!(shapes(&region, &sprung(0.2), false, false).is_empty());
        assert!(shapes(&region, &shift, false, true).is_empty());
    }
}
