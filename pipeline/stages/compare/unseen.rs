//! Why metal that is there was not measured: it lies beyond the reach, or its points lie too far apart beside the rest of their set.

use ::compare::verdict::LEAST_COVERAGE;
use ::compare::{Deviations, State};
use cloud::statistics::median;
use cloud::{Body, Frame, Point, Surface, Warning};

use super::super::register::Setting;
use super::super::scale::Scaled;
use super::FEWEST_POINTS;
use crate::job::Comparison;
use crate::say;

/// Most places that are asked of a region.
const PLACES: usize = 2_000;
/// Points this many times as far apart as most of their set's are thin. A disc holds too few measured points from about two on; a
/// point of the reference is alone in its disc from about four on.
const THIN_MEASURED: f64 = 2.0;
const THIN_REFERENCE: f64 = 3.5;
/// A place lies in thin measured metal where the nearest of it is no farther than this many times its own spacing.
const IN_IT: f64 = 1.5;
/// A smaller share of a region isn't told of.
const LEAST_SHARE: f64 = 0.03;

/// Metal that reads not measured because its points lie too far apart.
pub struct Thin {
    /// Its share of the metal that was asked about, by area.
    share: f64,
    /// Its middle, coordinate by coordinate, mm.
    at: Point,
    /// How far apart its points lie, and those of the most of their set, mm.
    apart_mm: [f64; 2],
    /// Which set is thin there.
    of: &'static str,
}

/// One place that is not measured, and how far apart the points lie that are the reason.
struct Place {
    at: Point,
    area_mm2: f64,
    apart_mm: f64,
    of_reference: bool,
}

/// Looks for thin metal among the places `members` of the reference.
pub fn thin(members: &[u32], scaled: &Scaled, setting: &Setting, deviations: &Deviations) -> Option<Thin> {
    let (reference, measured) = (&scaled.reference, &scaled.measured);
    let back = setting.reference_from_measured.inverse();
    let mut places: Vec<Place> = Vec::new();
    let mut all_mm2 = 0.0;
    for &i in members.iter().step_by(members.len().div_ceil(PLACES).max(1)) {
        let at = reference.points()[i as usize];
        let own_mm = spacing_at(reference, &at)?;
        let area_mm2 = own_mm.max(reference.spacing_mm).powi(2);
        all_mm2 += area_mm2;
        if deviations.states[i as usize] != State::NotMeasured {
            continue;
        }
        if own_mm > THIN_REFERENCE * reference.spacing_mm {
            places.push(Place {
                at,
                area_mm2,
                apart_mm: own_mm,
                of_reference: true,
            });
            continue;
        }
        let there = back.apply(&at);
        let Some(nearest) = measured.near.nearest(&there) else {
            continue;
        };
        let apart_mm = spacing_at(measured, &measured.points()[nearest.index as usize])?;
        if apart_mm > THIN_MEASURED * measured.spacing_mm && nearest.squared_mm2.sqrt() < IN_IT * apart_mm {
            places.push(Place {
                at,
                area_mm2,
                apart_mm,
                of_reference: false,
            });
        }
    }
    let of_reference: f64 = places.iter().filter(|p| p.of_reference).map(|p| p.area_mm2).sum();
    let thin_mm2: f64 = places.iter().map(|p| p.area_mm2).sum();
    if thin_mm2 <= LEAST_SHARE * all_mm2 {
        return None;
    }
    let reference_is = 2.0 * of_reference > thin_mm2;
    places.retain(|place| place.of_reference == reference_is);
    let middle = |axis: usize| median(&mut places.iter().map(|p| p.at[axis]).collect::<Vec<_>>());
    let (of, usual_mm) = match reference_is {
        true => ("the reference's", reference.spacing_mm),
        false => ("the measured", measured.spacing_mm),
    };
    Some(Thin {
        share: thin_mm2 / all_mm2,
        at: Point::new(middle(0), middle(1), middle(2)),
        apart_mm: [
            median(&mut places.iter().map(|p| p.apart_mm).collect::<Vec<_>>()),
            usual_mm,
        ],
        of,
    })
}

/// The side of the square that a point of a surface has to itself, by its sixth neighbour, mm.
fn spacing_at<F: Frame>(surface: &Surface<F>, at: &Point) -> Option<f64> {
    let sixth = surface.near.nearest_n(at, 7).get(6)?.squared_mm2;
    Some((std::f64::consts::PI * sixth / 6.0).sqrt())
}

impl Thin {
    /// Whether so much of the metal is thin that too little is left for a verdict: a count of the reference's points would not show
    /// it where the reference is what is thin.
    pub fn hides_too_much(&self) -> bool {
        self.share > 1.0 - LEAST_COVERAGE
    }

    /// What is told of it.
    pub fn told(&self, whose: &str, disc_mm: f64) -> Warning {
        let [apart_mm, usual_mm] = self.apart_mm;
        Warning::new(
            "thin",
            format!(
                "{whose}: over {:.0} % of it {} points lie about {apart_mm:.0} mm apart, where the most of that set lie {usual_mm:.1} mm apart: too few for figures over {:.0} mm, so that it reads not measured (about {:.0}, {:.0}, {:.0} mm). Take that metal as closely as the rest",
                100.0 * self.share,
                self.of,
                2.0 * disc_mm,
                self.at.x,
                self.at.y,
                self.at.z
            ),
        )
    }
}

/// Metal that lies beyond the reach, but not by far, is told of: the largest fault must not get the weakest answer.
const NOT_BY_FAR: f64 = 5.0;

/// A region that was hardly seen although the measured set has metal not far from it.
pub fn metal_beyond_reach(
    name: &str,
    members: &[u32],
    reference: &Surface<Body>,
    scaled: &Scaled,
    setting: &Setting,
    comparison: &Comparison,
    deviations: &Deviations,
) -> Option<Warning> {
    let unseen: Vec<u32> = members
        .iter()
        .copied()
        .filter(|&i| deviations.states[i as usize].mm().is_none())
        .collect();
    if unseen.len() * 2 < members.len() || unseen.len() < FEWEST_POINTS {
        return None;
    }
    let back = setting.reference_from_measured.inverse();
    let step = unseen.len().div_ceil(2_000).max(1);
    let mut apart: Vec<f64> = unseen
        .iter()
        .step_by(step)
        .filter_map(|&i| {
            let at = back.apply(&reference.points()[i as usize]);
            let found = scaled.measured.near.nearest(&at)?;
            let normal = back.turn(&reference.normals()[i as usize]);
            let alike = normal.dot(&scaled.measured.normals()[found.index as usize]).abs() > 0.7;
            alike.then(|| found.squared_mm2.sqrt())
        })
        .collect();
    let there = apart.len() * 2 > unseen.len() / step;
    let off_mm = median(&mut apart);
    let told = there && off_mm > comparison.reach_mm && off_mm < NOT_BY_FAR * comparison.reach_mm;
    told.then(|| {
        Warning::new(
            "metal-beyond-reach",
            format!(
                "region {name}: there is metal about {} from where it should lie, beyond the reach of {}; if it is the same sheet, say a longer reach",
                say::plain_64ths(off_mm),
                say::plain_64ths(comparison.reach_mm)
            ),
        )
    })
}
