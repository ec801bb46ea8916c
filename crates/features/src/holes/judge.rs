//! Whether a void is a hole, which form it has, and what it measures.

use cloud::statistics::percentile_of_sorted;
use cloud::{Frame, Vector};
use nalgebra::Vector2;

use super::outline::Outline;
use super::rim::{Rim, lip};
use super::sheet::{Ground, Metal, Plane, Seen};
use super::size::{Measure, Scatter, sized};
use super::slot::{Form, cornered, grown, slot_about};
use super::void::{SMALLEST, Void, widened};
use super::{Hole, Slot};

/// The sheet around must be this dense, as a share of what is usual: at a scanner's limits it thins out and tears.
const DENSE: f64 = 0.6;
/// Points that a round hole as wide would have held. Of circles through three points of n at random, with no point in them,
/// there are 2n, and 2n (1 + a) e⁻ᵃ of these would have held a points or more (Miles 1970, Mathematical Biosciences 6,
/// 85-127): of a million points one in five hundred sets has one by chance at 24. At 21, which is as narrow as is looked
/// into, it would be one set in thirty, and the finer the set the more; so a hole of 5½ spacings, which would have held
/// 24, is found about every other time, and stays so.
const FEWEST: f64 = 24.0;
/// By how many points' worth of room an outline must be better than a simpler one: chance gives three or four.
const GAIN: f64 = 10.0;
/// A circle stands in a slot where the rim is open on no more than this share at once, and no thinner than this.
const SLOT_GAP: f64 = 0.46;
const SLOT_DENSE: f64 = 0.15;
/// A hole is filled where it holds this share of the points that the sheet has in its place, further than this share of
/// its radius from the rim, within this share of its radius (or three spacings) of the sheet.
const FILLED: f64 = 0.1;
const WITHIN: f64 = 0.2;
const DEEP: f64 = 0.5;
const DEEP_SPACINGS: f64 = 3.0;
/// The ring in which the sheet must be smooth, spacings off the rim, and how far its metal may stand off the plane.
const RING: [f64; 2] = [0.5, 5.0];
const OFF_PLANE: f64 = 3.0;
const OFF_SHARE: f64 = 0.15;
/// Cosine of 30°: within it of the smooth surface lie this share of the normals.
const AGREES: f64 = 0.866;
const AGREEING: f64 = 0.6;
/// Four fifths of the ring's points lie within this many spacings, or this many times the noise, of a smooth surface.
const SMOOTH: f64 = 0.8;
const ROUGH_SPACINGS: f64 = 1.0;
const ROUGH_NOISE: f64 = 4.0;

/// An outline that fits, with what stands around it.
struct Fit {
    places: Vec<Vector2<f64>>,
    /// The likeliest outline.
    likeliest: Outline,
    sized: Measure,
    rim: Rim,
}

/// The hole that a void is. `None` where it is none, or none whose form can be told.
pub fn judged<F: Frame>(metal: &Metal<'_, F>, void: &Void) -> Option<Hole> {
    let (plane, radius) = squared(metal, void)?;
    let scatter = usual(metal);
    let fit = fitted(metal, &plane, radius, &scatter)?;
    let window = cornered(&fit.places, &fit.likeliest, &scatter);
    if more_room(&fit.places, &window, &fit.likeliest, &scatter) > GAIN {
        return None;
    }
    let outline = &fit.sized.outline;
    if is_filled(metal, &plane, outline, fit.rim.density) {
        return None;
    }
    let ground = smooth_ground(metal, &plane, outline)?;
    Some(told(metal, &plane, &fit.sized, &ground))
}

/// How the points of a surface lie as a rule.
fn usual<F: Frame>(metal: &Metal<'_, F>) -> Scatter {
    let spacing_mm = metal.surface.spacing_mm;
    Scatter {
        density: 1.0 / (spacing_mm * spacing_mm),
        spacing_mm,
        noise_mm: metal.surface.noise_mm,
    }
}

/// The plane of the sheet, through the middle of the void, and the void's radius as it is seen square to the sheet.
///
/// The void was grown in the plane of one point of the rim, which leans by some degrees where the points are rough: seen at
/// a slant, the rim of a hole of a hundred spacings leaves that plane on the far side, and the largest of its voids, which
/// is the one that leans most, stands off the middle by more spacings than an outline is afterwards moved by.
fn squared<F: Frame>(metal: &Metal<'_, F>, void: &Void) -> Option<(Plane, f64)> {
    let plane = levelled(metal, void)?;
    let seen = widened(metal, &plane, &Vector2::zeros(), void.radius, f64::INFINITY)?;
    let is_looked_into = seen.radius >= SMALLEST * metal.surface.spacing_mm;
    is_looked_into.then(|| (Plane::new(seen.at, seen.axis), seen.radius))
}

/// The plane through the rim, from the sheet around: the point where a void was begun stands as its noise wants.
fn levelled<F: Frame>(metal: &Metal<'_, F>, void: &Void) -> Option<Plane> {
    let mut plane = Plane::new(void.at, void.axis);
    let reach = (1.6 * void.radius).max(void.radius + 4.0 * metal.surface.spacing_mm);
    let middle = Vector2::zeros();
    let mut around = Vec::new();
    for _ in 0..2 {
        metal.sheet(&plane, &middle, reach, &mut around);
        let ground = Ground::through(&around)?;
        plane = Plane::new(
            plane.origin + plane.axis * ground.height(&middle),
            plane.leaning(&ground.slope(&middle)),
        );
    }
    Some(plane)
}

/// By how many points' worth of room one outline is better than another.
fn more_room(places: &[Vector2<f64>], one: &Outline, other: &Outline, scatter: &Scatter) -> f64 {
    let weight = |o: &Outline| scatter.log_weight(places, o, scatter.blur_mm());
    weight(one) - weight(other)
}

/// The circle, or the slot where that takes clearly more room. `None` where the rim of neither is whole.
fn fitted<F: Frame>(metal: &Metal<'_, F>, plane: &Plane, radius: f64, scatter: &Scatter) -> Option<Fit> {
    let spacing = scatter.spacing_mm;
    let middle = Vector2::zeros();
    let places = metal.places(plane, &middle, radius + 6.0 * spacing);
    let start = Outline::round(middle, radius);
    let round = grown(&places, &start, Form::Round, 2.0 * spacing, scatter);
    let around = Rim::of(&places, &round, spacing)?;
    let fit = Fit::of(places, round, Form::Round, scatter);
    // Where the circle's rim is met no later than by chance there is no room for anything longer.
    if fit
        .as_ref()
        .is_some_and(|f| f.rim.is_whole() && f.rim.late <= 0.0)
    {
        return fit;
    }
    let may_be_slot = around.widest_gap < SLOT_GAP && around.density > SLOT_DENSE / (spacing * spacing);
    if may_be_slot && let Some((slot, places)) = slot_about(metal, plane, &round, scatter) {
        let is_longer = 2.0 * slot.half[0] > spacing;
        if is_longer && more_room(&places, &slot, &round, scatter) > GAIN {
            return Fit::of(places, slot, Form::Slot, scatter).filter(|f| f.rim.is_whole());
        }
    }
    fit.filter(|f| f.rim.is_whole())
}

impl Fit {
    /// `None` where the sheet around is too thin, or the hole too small to be told from chance.
    fn of(places: Vec<Vector2<f64>>, likeliest: Outline, form: Form, scatter: &Scatter) -> Option<Self> {
        let spacing = scatter.spacing_mm;
        let dense = |rim: &Rim| rim.density * spacing * spacing >= DENSE;
        let first = Rim::of(&places, &likeliest, spacing)?;
        let would_hold = first.density * std::f64::consts::PI * likeliest.radius.powi(2);
        if !dense(&first) || would_hold < FEWEST {
            return None;
        }
        let here = Scatter {
            density: first.density,
            ..*scatter
        };
        let sized = sized(&places, &likeliest, form, &here);
        let rim = Rim::of(&places, &sized.outline, spacing).filter(dense)?;
        Some(Self {
            places,
            likeliest,
            sized,
            rim,
        })
    }
}

/// Whether there is something in a hole: a bolt, a plug, the floor of a dimple.
fn is_filled<F: Frame>(metal: &Metal<'_, F>, plane: &Plane, outline: &Outline, density: f64) -> bool {
    let spacing = metal.surface.spacing_mm;
    let deep = (DEEP_SPACINGS * spacing).max(DEEP * outline.radius);
    let within = outline.wider(-WITHIN * outline.radius);
    let mut around = Vec::new();
    let reach = outline.half_length().hypot(deep);
    metal.all(plane, &outline.centre, reach, &mut around);
    let inside = around
        .iter()
        .filter(|s| s.height.abs() < deep && within.off(&s.flat) < 0.0)
        .count();
    inside as f64 > FILLED * density * within.area()
}

/// The smooth surface in which a hole stands. `None` where there is none: at a scanner's shadow the metal is of two depths.
fn smooth_ground<F: Frame>(metal: &Metal<'_, F>, plane: &Plane, outline: &Outline) -> Option<Ground> {
    let spacing = metal.surface.spacing_mm;
    let [inner, outer] = RING.map(|r| r * spacing);
    let high = OFF_PLANE * spacing + OFF_SHARE * outline.half_length();
    let mut ring: Vec<Seen> = Vec::new();
    let reach = outline.half_length() + outer + high;
    metal.all(plane, &outline.centre, reach, &mut ring);
    ring.retain(|s| s.height.abs() < high && (inner..outer).contains(&outline.off(&s.flat)));
    let ground = Ground::through(&ring)?;
    let normals = metal.surface.normals();
    let agreeing = ring
        .iter()
        .filter(|s| {
            let smooth = plane.leaning(&ground.slope(&s.flat));
            normals[s.index as usize].dot(&smooth).abs() > AGREES
        })
        .count();
    let mut off: Vec<f64> = ring
        .iter()
        .map(|s| (s.height - ground.height(&s.flat)).abs())
        .collect();
    off.sort_by(f64::total_cmp);
    let rough = (ROUGH_SPACINGS * spacing).max(ROUGH_NOISE * metal.surface.noise_mm);
    let agrees = agreeing as f64 >= AGREEING * ring.len() as f64;
    (agrees && percentile_of_sorted(&off, SMOOTH) <= rough).then_some(ground)
}

/// The hole in space: its middle at the height of the rim, its axis square to the sheet there.
fn told<F: Frame>(metal: &Metal<'_, F>, plane: &Plane, sized: &Measure, ground: &Ground) -> Hole {
    let outline = &sized.outline;
    let ends = outline.along * outline.half_length();
    let sides = outline.across() * outline.half_width();
    let rim = [ends, -ends, sides, -sides].map(|d| outline.centre + d);
    let height = rim.iter().map(|place| ground.height(place)).sum::<f64>() / 4.0;
    let axis = plane.leaning(&ground.slope(&outline.centre));
    let at = plane.place(&outline.centre) + plane.axis * height;
    let lengthwise = plane.raised(&outline.along);
    let along = lengthwise - axis * lengthwise.dot(&axis);
    let own = Plane::new(at, axis);
    let slot = (outline.half[0] > 0.0).then(|| Slot {
        length_mm: 2.0 * outline.half_length(),
        along: one_way(&along.normalize()),
        length_pm_mm: sized.length_pm_mm,
    });
    let in_own = Outline {
        centre: Vector2::zeros(),
        along: own.flat(&along).normalize(),
        ..*outline
    };
    Hole {
        at,
        axis,
        axis_pm: ground.slope_pm(&outline.centre),
        diameter_mm: 2.0 * outline.radius,
        slot,
        lip: lip(metal, &own, &in_own),
        place_pm_mm: sized.place_pm_mm,
        normal_pm_mm: ground.height_pm_mm(&rim),
        size_pm_mm: sized.width_pm_mm,
    }
}

/// The one of a direction and its opposite whose largest part is positive.
pub(super) fn one_way(direction: &Vector) -> Vector {
    if direction[direction.iamax()] < 0.0 {
        -direction
    } else {
        *direction
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::holes::FOUND_FROM;
    use crate::made::uniform;
    use cloud::{Body, Cloud, Point, Surface};

    // n points of one square spacing each fill a round of 2 √(n/π) spacings across.
    #[test]
    fn the_narrowest_hole_that_is_told_of_is_as_wide_as_the_fewest_points_are() {
        let across = 2.0 * (FEWEST / std::f64::consts::PI).sqrt();
        assert!((across - FOUND_FROM).abs() < 0.05, "{across}");
    }

    /// A sheet over 100 × 80 mm at 0.5 mm spacing, points at random with 0.1 mm of noise up and down, with a hole of 60 mm
    /// about its middle.
    fn finely_scanned(seed: u64) -> Surface<Body> {
        let points: Vec<Point> = (0..32_000u64)
            .map(|i| {
                let k = 4 * (i + seed * 40_000);
                let [x, y, z] = [0, 1, 2].map(|j| uniform(k + j) - 0.5);
                Point::new(100.0 * x, 80.0 * y, 0.35 * z)
            })
            .filter(|p| p.x.hypot(p.y) > 30.0)
            .collect();
        let mut cloud = Cloud::from_points(points);
        cloud.normals = Some(vec![Vector::z(); cloud.points_mm.len()]);
        Surface::new(cloud, None).unwrap().0
    }

    // The plane through one place of the rim, leaning by 13° toward the middle: over the middle it stands 7 mm off the sheet,
    // and square to it from there one comes down 1.6 mm beside the middle, three spacings.
    #[test]
    fn a_wide_hole_is_read_where_its_void_was_seen_at_a_slant() {
        let lean = 13f64.to_radians();
        let slanted = Void {
            at: Point::new(0.0, 0.0, 30.0 * lean.tan()),
            axis: Vector::new(-lean.sin(), 0.0, lean.cos()),
            radius: 30.4,
        };
        for seed in 0..3 {
            let surface = finely_scanned(seed);
            let hole = judged(&Metal::of(&surface), &slanted).unwrap();
            assert!(hole.slot.is_none(), "{hole:?}");
            assert!((hole.diameter_mm - 60.0).abs() < 0.15, "{hole:?}");
            assert!((hole.at - Point::origin()).norm() < 0.15, "{hole:?}");
            assert!(hole.axis.z > 0.9999, "{hole:?}");
        }
    }
}
