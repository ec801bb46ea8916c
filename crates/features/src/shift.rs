//! How a region has moved as a whole, and what is left when that is taken away: shim, or dress.
//!
//! The rigid part is fitted on the seating line (the half-inch band along the region's edge) with bisquare weights
//! (Beaton & Tukey 1974), so that a dent in the middle does not lean the whole; motions that the region's shape does not
//! show stay unknown.

use cloud::{Body, Point, Surface, Vector};
use compare::verdict::{LEAST_COVERAGE, NOT_HELD_MM};
use compare::{Deviations, Region};

mod bowed;
mod chosen;
mod pads;
mod seats;
mod spots;
mod whole;

pub use bowed::Along;
pub use pads::Pad;
pub use spots::{Spot, spots_of_whole};

use crate::rigid_part::Seen;
use crate::shape::{self, Around, Shape};
use bowed::is_bowed;
use chosen::chosen;
use pads::{Metal, pads, pm_of_move};
use seats::{distances, seating_line, what_tells};
use whole::Whole;

/// Width of the band along the region's edge that carries it, mm (half an inch).
const SEATING_MM: f64 = 12.7;
/// Metal this near to a pad is what sits on it, mm (half an inch).
const SAME_PLACE_MM: f64 = 12.7;
/// Metal this near to a place lies there, mm, and is of the same sheet where its normal is within 45° (this is the cosine).
const CLOSE_MM: f64 = 4.5;
const SAME_SHEET: f64 = 0.7;
/// What counts as home, mm (1/32 in).
pub const HOME_MM: f64 = 25.4 / 32.0;

/// The rigid part and the rest.
#[derive(Debug, Clone, PartialEq)]
pub struct Shift {
    /// How the region's middle has moved, mm; nothing along unknown directions, and where a turn is unknown it has not turned.
    pub translation_mm: Vector,
    /// How it has turned, rotation vector, rad.
    pub rotation: Vector,
    /// The point about which it turned, mm.
    pub about: Point,
    /// Motions that the region's shape does not show: words and vector (translation, rotation).
    pub unheld: Vec<(String, [f64; 6])>,
    /// Share of the deviation that the move explains, 0 to 1; nothing where it stays where it is.
    pub explained: f64,
    /// ± of the move at the middle, mm.
    pub pm_mm: f64,
    /// Answers at the pads.
    pub pads: Vec<Pad>,
    /// What is left to dress, the highest and deepest first.
    pub spots: Vec<Spot>,
    /// The low-order shape of what is left; `None` where it is no panel, or too little of it was seen.
    pub shape: Option<Shape>,
    /// The whole in the shop's words.
    pub words: String,
}

impl Shift {
    /// How the metal at a place has moved with the region, mm.
    pub fn at(&self, place: &Point) -> Vector {
        self.translation_mm + self.rotation.cross(&(place - self.about))
    }
}

/// The answer where the ± is wider than the limit.
const CANT_TELL: &str = "can't tell";

/// Works out the move of `region`, over `members` of the reference; `setting_pm_mm` is the ± of the setting at a place along a
/// direction. `None` with fewer than fifty distances.
pub fn shift(
    region: &Region,
    members: &[u32],
    reference: &Surface<Body>,
    deviations: &Deviations,
    smoothed: &[Option<(f64, f64)>],
    setting_pm_mm: &dyn Fn(&Point, &Vector) -> f64,
) -> Option<Shift> {
    let seen = distances(members.iter().map(|&i| i as usize), reference, deviations);
    if seen.len() < 50 {
        return None;
    }
    let telling = what_tells(region, &seen, reference, deviations);
    let seats = seating_line(region, &telling);
    let (mut fit, mut explained) = chosen(&seats, &telling)?;
    let bowed = is_bowed(region, &telling, &fit);
    if bowed {
        (fit, explained) = (fit.stays(&seats), 0.0);
    }
    let unmoved: Vec<Seen> = seen
        .iter()
        .map(|s| Seen {
            mm: s.mm - s.normal.dot(&fit.at(&s.at)),
            ..*s
        })
        .collect();
    let rest: Vec<(Point, f64)> = members
        .iter()
        .filter_map(|&i| {
            let (mm, pm) = smoothed[i as usize]?;
            let (at, normal) = (reference.points()[i as usize], reference.normals()[i as usize]);
            let rest = mm - normal.dot(&fit.at(&at));
            (rest.abs() > HOME_MM && compare::figures::sure_enough(pm, region.limit_mm)).then_some((at, rest))
        })
        .collect();
    let mut spots = spots::spots(&rest, reference.spacing_mm);
    // What a motion that nothing holds brings to a slope is no dent.
    spots.retain(|spot| spots::setting_pm_at(spot, reference, setting_pm_mm) < NOT_HELD_MM);
    let goes_on = |edge: &Seen, side: &Vector| goes_on(reference, edge, side);
    let around = Around {
        disc_mm: deviations.disc_mm,
        goes_on: &goes_on,
    };
    let seen_enough = seen.len() as f64 >= LEAST_COVERAGE * members.len() as f64;
    let shape = seen_enough
        .then(|| shape::shape(&unmoved, region.limit_mm, &around))
        .flatten();
    let facing = seen.iter().map(|s| s.normal).sum::<Vector>();
    let facing = facing.try_normalize(1e-6).unwrap_or_else(Vector::zeros);
    let metal = Metal {
        members,
        reference,
        smoothed,
        facing,
        twisted: shape.as_ref().and_then(|shape| shape.twisted.as_ref()),
        seen_enough,
    };
    let pads = pads(region, &metal, &fit, setting_pm_mm);
    let setting_pm = pm_of_move(&fit.about, &fit.translation_mm, &facing, setting_pm_mm);
    let middle_pm = fit.pm_mm.hypot(setting_pm);
    let words = if middle_pm > NOT_HELD_MM {
        format!("{CANT_TELL}: nothing holds the set in that direction")
    } else if middle_pm > region.limit_mm {
        format!("{CANT_TELL}: how it was set is not sure enough there")
    } else {
        let whole = Whole {
            fit: &fit,
            seats: &seats,
            explained,
            spots: &spots,
            is_bent: bowed || shape.as_ref().is_some_and(|shape| !shape.words.is_empty()),
            pads: &region.pads,
            pm_mm: middle_pm,
            limit_mm: region.limit_mm,
        };
        whole.in_words()
    };
    Some(Shift {
        translation_mm: fit.translation_mm,
        rotation: fit.rotation,
        about: fit.about,
        unheld: fit.unheld,
        explained,
        pm_mm: middle_pm,
        pads,
        spots,
        shape,
        words,
    })
}

/// Whether the sheet of the reference goes on half an inch past a place of a region's border; what is folded there is not it.
fn goes_on(reference: &Surface<Body>, edge: &Seen, side: &Vector) -> bool {
    let in_sheet = side - edge.normal * side.dot(&edge.normal);
    let Some(onward) = in_sheet.try_normalize(1e-6) else {
        return true;
    };
    let past = edge.at + onward * SEATING_MM;
    let mut metal = false;
    reference.near.visit_within(&past, CLOSE_MM, |n| {
        metal |= reference.normals()[n.index as usize].dot(&edge.normal) > SAME_SHEET;
    });
    metal
}

#[cfg(test)]
mod tests {
    use super::*;
    use cloud::{Bounds, Cloud, NamedPoint};
    use compare::{State, Status};

    /// A flat floor of 600 × 300 with a pressed-in spot, moved as `by` says.
    fn moved(by: impl Fn(&Point) -> f64) -> Shift {
        moved_with(by, &|_, _| 0.0)
    }

    fn moved_with(by: impl Fn(&Point) -> f64, pm: &dyn Fn(&Point, &Vector) -> f64) -> Shift {
        let sheet: Vec<Point> = (0..7200)
            .map(|i| Point::new(f64::from(i % 120) * 5.0, f64::from(i / 120) * 5.0, 0.0))
            .collect();
        let mut cloud = Cloud::from_points(sheet);
        cloud.normals = Some(vec![Vector::z(); 7200]);
        let (reference, _) = Surface::<Body>::new(cloud, None).unwrap();
        let state = |p: &Point| {
            let (mm, pm_mm) = (by(p), 0.05);
            // What is off by no number was not seen.
            if mm.is_nan() {
                State::NotMeasured
            } else {
                State::Distance { mm, pm_mm }
            }
        };
        let states = reference.points().iter().map(state).collect();
        let deviations = Deviations {
            states,
            disc_mm: 10.0,
        };
        let smoothed = compare::smooth::smoothed(&reference, &deviations);
        let region = Region {
            name: "floor".into(),
            status: Status::Worked,
            bounds: Bounds {
                low: Point::new(0.0, 0.0, -5.0),
                high: Point::new(595.0, 295.0, 5.0),
            },
            limit_mm: 1.6,
            outside: None,
            pads: vec![NamedPoint {
                name: "RR".into(),
                at_mm: Point::new(595.0, 295.0, 0.0),
            }],
        };
        let members: Vec<u32> = (0..7200).collect();
        shift(&region, &members, &reference, &deviations, &smoothed, pm).unwrap()
    }

    /// Nothing holds the set square to the floor, or only along it.
    #[test]
    fn a_move_along_which_nothing_holds_the_set_cannot_be_told() {
        let along = |free: Vector| move |_: &Point, way: &Vector| 1_000.0 * way.dot(&free).abs();
        let found = moved_with(|_| -3.0, &along(Vector::z()));
        assert_eq!(found.words, "can't tell: nothing holds the set in that direction");
        assert!(found.pads[0].words == CANT_TELL && found.pads[0].pm_mm > NOT_HELD_MM);
        let slides = moved_with(|_| -3.0, &along(Vector::x()));
        assert_eq!(slides.words, moved(|_| -3.0).words);
        assert!(slides.words.ends_with("shim only") && slides.pads[0].words != CANT_TELL);
    }

    /// Only the rim along one side was left standing.
    #[test]
    fn the_pad_of_a_floor_that_was_cut_out_is_not_measured() {
        let scatter = |p: &Point| 0.04 * (p.x * 1.7 + p.y * 0.9).sin();
        let found = moved(|p| if p.x < 50.0 { scatter(p) } else { f64::NAN });
        assert_eq!(found.pads[0].words, "not measured");
        assert!(found.pads[0].pm_mm.is_infinite());
    }

    #[test]
    fn a_leaning_floor_gives_the_shim_at_its_pad_and_only_that() {
        let plane = |p: &Point| -3.0 - 0.0025 * (p.x - 300.0) + 0.004 * (p.y - 150.0);
        let found = moved(plane);
        let expected = -plane(&Point::new(595.0, 295.0, 0.0));
        assert!((found.pads[0].shim_mm.z - expected).abs() < 1e-6);
        assert!(found.explained > 0.999);
        assert!(found.words.ends_with("shim only"), "{}", found.words);
        assert_eq!(found.unheld.len(), 3);
        assert!(found.translation_mm.xy().norm() < 1e-9);
    }

    #[test]
    fn a_pad_at_a_twisted_corner_gives_the_shim_and_what_the_metal_is_off_with_the_twist() {
        let found = moved(|p| 3.175 + 1.6 * (p.x - 297.5) / 297.5 * (p.y - 147.5) / 147.5);
        let twisted = found.shape.as_ref().and_then(|shape| shape.twisted.as_ref());
        assert!(twisted.is_some_and(|all| (all.moves(&found.pads[0].at).z - 1.6).abs() < 0.1));
        assert_eq!(
            found.pads[0].words,
            "take 1/8 of shim out, 3/16 high with its twist"
        );
        assert!(
            (found.pads[0].shim_mm.z + 4.775).abs() < 0.15,
            "{}",
            found.pads[0].shim_mm
        );
        // Shim alone does not take a twist out.
        assert!(
            found.words.ends_with("then dress what is left"),
            "{}",
            found.words
        );
    }

    /// Only the last 80 before the pad's side rise, by 3 at the edge: it has not moved, and its pad gives the metal there.
    #[test]
    fn a_floor_that_is_bent_along_one_side_stays_and_its_pad_gives_the_metal() {
        let scatter = |p: &Point| 0.04 * (p.x * 1.7 + p.y * 0.9).sin();
        let found = moved(|p| 3.0 * (1.0 - (595.0 - p.x) / 80.0).max(0.0) + scatter(p));
        assert!(found.translation_mm.norm() < 0.03, "{}", found.translation_mm);
        assert!(found.spots.iter().all(|spot| spot.mm > 0.0), "{:?}", found.spots);
        assert!(found.words.starts_with("dress only"), "{}", found.words);
        let pad = &found.pads[0];
        assert!(
            (pad.shim_mm.z + 2.8).abs() < 0.25 && pad.pm_mm < 0.3,
            "{} {}",
            pad.shim_mm,
            pad.pm_mm
        );
        assert!(
            pad.words.starts_with("home, but the metal there is bent"),
            "{}",
            pad.words
        );
    }

    /// Where the metal parts from the move by less than is told apart, the ± holds what it parts by.
    #[test]
    fn the_band_of_a_pad_holds_what_the_move_leaves_there() {
        let at_pad = |p: &Point| {
            if (p.x - 595.0).hypot(p.y - 295.0) < 30.0 {
                0.3
            } else {
                0.0
            }
        };
        let found = moved(|p| 3.175 + at_pad(p));
        assert!((found.pads[0].shim_mm.z + 3.175).abs() < 0.01);
        assert!(
            (0.29..0.35).contains(&found.pads[0].pm_mm),
            "{}",
            found.pads[0].pm_mm
        );
        assert_eq!(found.pads[0].words, "take 1/8 of shim out");
    }

    #[test]
    fn a_dent_in_the_middle_does_not_lean_the_whole() {
        let found = moved(|p| {
            if (p - Point::new(300.0, 150.0, 0.0)).norm() < 90.0 {
                -4.0
            } else {
                0.0
            }
        });
        assert!(found.pads[0].shim_mm.norm() < 0.05);
        assert!(found.words.starts_with("dress only"), "{}", found.words);
        assert_eq!(found.spots.len(), 1);
        assert!((found.spots[0].mm + 4.0).abs() < 0.1);
        // A disc of 90 mm radius.
        assert!((found.spots[0].area_mm2 / (std::f64::consts::PI * 8100.0) - 1.0).abs() < 0.1);
        for extent_mm in [found.spots[0].length_mm, found.spots[0].width_mm] {
            assert!((extent_mm - 180.0).abs() < 12.0, "{extent_mm}");
        }
    }
}
