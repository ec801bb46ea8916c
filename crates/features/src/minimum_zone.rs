//! Flatness, straightness and roundness by their least zone, beside least squares, and what a straight edge shows.
//!
//! The zone is that of ISO 1101: the least distance between two parallel planes, two parallel lines, two circles about one
//! centre, that have all the points between them. It is found exactly: the narrowest zone of a few points is never wider
//! than that of all, so the few take in whatever lies outside theirs until nothing does. Single strays widen a zone by all
//! they stand out: points of a scanner are averaged first.

pub mod in_space;

use std::f64::consts::{PI, TAU};

use cloud::{Matrix3, Point, Vector};
use nalgebra::{Matrix2, Vector2};

use crate::elements::circle;
use crate::gap::widest;

/// The few points by which a zone is sought become at most these many: a face or a rim takes 8 to 20, a ball given for a
/// face takes no end of them.
const MOST: usize = 60;
/// Share of the extent to which a zone is the least one.
const EXACT: f64 = 1e-12;

/// How flat a face is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Flatness {
    /// Least distance between two parallel planes that hold all points between them, mm.
    pub zone_mm: f64,
    /// Unit normal of these planes; of the two the one whose largest part is positive.
    pub normal: Vector,
    /// Range of the distances from the plane of least squares, mm; never less than the zone.
    pub least_squares_mm: f64,
}

/// How straight a profile is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Straightness {
    /// Least distance between two parallel lines that hold all points between them, mm.
    pub zone_mm: f64,
    /// Unit direction of these lines, to the side of the first coordinate.
    pub direction: Vector2<f64>,
    /// Range of the distances from the line of least squares, mm; never less than the zone.
    pub least_squares_mm: f64,
}

/// How round a rim is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Roundness {
    /// Least difference of radius of two circles about one centre that hold all points between them, mm.
    pub zone_mm: f64,
    /// Their centre, mm.
    pub centre: Vector2<f64>,
    /// Their radii, the smaller first, mm.
    pub radii_mm: [f64; 2],
    /// Range of the distances from the circle of least squares, mm; never less than the zone.
    pub least_squares_mm: f64,
}

/// What a straight edge laid on a profile shows.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gap {
    /// Largest gap under the edge, square to it, mm.
    pub mm: f64,
    /// The place of the profile below it.
    pub at: Vector2<f64>,
    /// Where the edge rests on either side of it, left first.
    pub rests: [Vector2<f64>; 2],
}

/// The flatness of `points`, mm. `None` below four points, for points on a line, and where no few points settle the
/// planes (a ball).
pub fn flatness(points: &[Point]) -> Option<Flatness> {
    if points.len() < 4 {
        return None;
    }
    let middle = points.iter().map(|p| p.coords).sum::<Vector>() / points.len() as f64;
    let about: Vec<Vector> = points.iter().map(|p| p.coords - middle).collect();
    let spread: Matrix3 = about.iter().map(|p| p * p.transpose()).sum();
    let eigen = spread.symmetric_eigen();
    let mut order = [0usize, 1, 2];
    order.sort_by(|&a, &b| eigen.eigenvalues[a].total_cmp(&eigen.eigenvalues[b]));
    if eigen.eigenvalues[order[1]] <= EXACT * spread.trace() {
        return None;
    }
    let along = |normal: &Vector| span(about.iter().map(|p| p.dot(normal)));
    let spans = order.map(|k| along(&eigen.eigenvectors.column(k).into_owned()));
    let few = spans.iter().flat_map(|s| [s.low, s.high]).collect();
    let (normal, zone_mm) = least_zone(
        few,
        |few| narrowest_planes(&few.iter().map(|&i| about[i]).collect::<Vec<_>>()),
        along,
        EXACT * spans[2].width_mm,
    )?;
    Some(Flatness {
        zone_mm,
        normal: normal * normal[normal.iamax()].signum(),
        least_squares_mm: spans[0].width_mm,
    })
}

/// The straightness of a profile in its plane, mm. `None` below three points and where all lie in one place.
///
/// By rotating calipers: one of the two lines lies on a side of the convex hull (Shamos 1978).
pub fn straightness(profile: &[Vector2<f64>]) -> Option<Straightness> {
    if profile.len() < 3 {
        return None;
    }
    let middle = profile.iter().sum::<Vector2<f64>>() / profile.len() as f64;
    let mut about: Vec<Vector2<f64>> = profile.iter().map(|p| p - middle).collect();
    let spread: Matrix2<f64> = about.iter().map(|p| p * p.transpose()).sum();
    let lean = (2.0 * spread[(0, 1)]).atan2(spread[(0, 0)] - spread[(1, 1)]) / 2.0;
    let line = Vector2::new(lean.cos(), lean.sin());
    let least_squares_mm = span(about.iter().map(|p| line.perp(p))).width_mm;
    about.sort_by(|a, b| a.x.total_cmp(&b.x).then(a.y.total_cmp(&b.y)));
    let mut hull = chain(about.iter());
    hull.pop();
    let upper = chain(about.iter().rev());
    hull.extend(&upper[..upper.len() - 1]);
    let mut best: Option<(f64, Vector2<f64>)> = None;
    let mut far = 1;
    for (i, corner) in hull.iter().enumerate() {
        let side = hull[(i + 1) % hull.len()] - corner;
        let length = side.norm();
        if length <= 0.0 {
            continue;
        }
        let off = |k: usize| side.perp(&(hull[k % hull.len()] - corner));
        while off(far + 1) > off(far) {
            far += 1;
        }
        let width = off(far) / length;
        if best.is_none_or(|(least, _)| width < least) {
            best = Some((width, side / length));
        }
    }
    let (width, direction) = best?;
    Some(Straightness {
        zone_mm: width.max(0.0),
        direction: if direction.x < 0.0 { -direction } else { direction },
        least_squares_mm,
    })
}

/// The roundness of a rim in its plane, mm. `None` below four points, and where half the turn or more is open: an arc goes
/// between two circles as large as one likes.
///
/// The two circles touch the points two and two, in turn outside and inside.
pub fn roundness(rim: &[Vector2<f64>]) -> Option<Roundness> {
    if rim.len() < 4 {
        return None;
    }
    let circle = circle::geometric(rim)?;
    let about: Vec<Vector2<f64>> = rim.iter().map(|p| p - circle.centre).collect();
    if widest_opening(&about) >= PI {
        return None;
    }
    let places = &about;
    let mut few = Vec::new();
    for quarter in [(true, true), (true, false), (false, true), (false, false)] {
        let side = move |i: usize| (places[i].x >= 0.0, places[i].y >= 0.0);
        let here = || (0..places.len()).filter(move |&i| side(i) == quarter);
        let nearer = |a: &usize, b: &usize| places[*a].norm().total_cmp(&places[*b].norm());
        few.extend(here().min_by(nearer));
        few.extend(here().max_by(nearer));
    }
    let (centre, zone_mm) = least_zone(
        few,
        |few| narrowest_circles(&few.iter().map(|&i| about[i]).collect::<Vec<_>>(), circle.radius),
        |centre| span(about.iter().map(|p| (p - centre).norm())),
        EXACT * circle.radius,
    )?;
    let inner = about
        .iter()
        .map(|p| (p - centre).norm())
        .fold(f64::INFINITY, f64::min);
    Some(Roundness {
        zone_mm,
        centre: circle.centre + centre,
        radii_mm: [inner, inner + zone_mm],
        least_squares_mm: span(about.iter().map(|p| p.norm())).width_mm,
    })
}

/// What a straight edge laid on `profile` from above shows; x along it, y up, mm, in any order. `None` where the profile
/// has no length.
///
/// The edge is taken to be long enough for every two places where it can rest (the upper hull), and the largest gap of all
/// its settings is told. On a crown it rocks and shows next to nothing: turn y about to lay it from below.
pub fn straight_edge(profile: &[Vector2<f64>]) -> Option<Gap> {
    let mut points = profile.to_vec();
    points.sort_by(|a, b| a.x.total_cmp(&b.x).then(b.y.total_cmp(&a.y)));
    // Of places one above the other the edge meets the highest; the others may still lie deepest.
    let mut tops = points.clone();
    tops.dedup_by(|next, kept| next.x == kept.x);
    let mut rests = chain(tops.iter().rev());
    rests.reverse();
    let mut best: Option<Gap> = None;
    let mut from = 0;
    for pair in rests.windows(2) {
        let edge = pair[1] - pair[0];
        while from < points.len() && points[from].x <= pair[1].x {
            let at = points[from];
            let mm = -edge.perp(&(at - pair[0])) / edge.norm();
            if best.is_none_or(|b| mm > b.mm) {
                best = Some(Gap {
                    mm: mm.max(0.0),
                    at,
                    rests: [pair[0], pair[1]],
                });
            }
            from += 1;
        }
    }
    best
}

/// Where a measure is least and greatest, by index, and how far the two are apart.
#[derive(Debug, Clone, Copy)]
struct Span {
    low: usize,
    high: usize,
    width_mm: f64,
}

fn span(values: impl Iterator<Item = f64>) -> Span {
    let (mut low, mut high) = ((0, f64::INFINITY), (0, f64::NEG_INFINITY));
    for (i, value) in values.enumerate() {
        if value < low.1 {
            low = (i, value);
        }
        if value > high.1 {
            high = (i, value);
        }
    }
    Span {
        low: low.0,
        high: high.0,
        width_mm: high.1 - low.1,
    }
}

/// The narrowest zone of all points and its width, to within `slack`: `narrowest` finds that of a few (by index), `over`
/// lays a zone over all. `None` where [`MOST`] points do not settle it.
fn least_zone<Z: Copy>(
    few: Vec<usize>,
    narrowest: impl Fn(&[usize]) -> Option<(Z, f64)>,
    over: impl Fn(&Z) -> Span,
    slack: f64,
) -> Option<(Z, f64)> {
    let mut few = few;
    few.sort_unstable();
    few.dedup();
    let mut best: Option<(Z, f64)> = None;
    while few.len() <= MOST {
        let (zone, at_least) = narrowest(&few)?;
        let all = over(&zone);
        if best.is_none_or(|(_, width)| all.width_mm < width) {
            best = Some((zone, all.width_mm));
        }
        let before = few.len();
        for outermost in [all.low, all.high] {
            if !few.contains(&outermost) {
                few.push(outermost);
            }
        }
        if few.len() == before || best.is_some_and(|(_, width)| width <= at_least + slack) {
            return best;
        }
    }
    None
}

/// Every two of a few.
fn pairs<T: Copy>(few: &[T]) -> Vec<(T, T)> {
    (0..few.len())
        .flat_map(|i| (0..i).map(move |j| (few[j], few[i])))
        .collect()
}

/// The range of a measure, unless it comes up to `limit`.
fn range_below(values: impl Iterator<Item = f64>, limit: f64) -> Option<f64> {
    let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
    for value in values {
        low = low.min(value);
        high = high.max(value);
        if high - low >= limit {
            return None;
        }
    }
    Some(high - low)
}

/// The normal along which a few points are narrowest, and their width: square to two of the lines that join them, since
/// the planes touch one and three points or two and two (Houle & Toussaint 1988, IEEE PAMI 10(5) 761-765).
fn narrowest_planes(few: &[Vector]) -> Option<(Vector, f64)> {
    let lines: Vec<Vector> = pairs(few).iter().map(|(a, b)| b - a).collect();
    let mut best: Option<(Vector, f64)> = None;
    for (k, first) in lines.iter().enumerate() {
        for second in &lines[k + 1..] {
            let least = 1e-12 * first.norm() * second.norm();
            let Some(normal) = first.cross(second).try_normalize(least) else {
                continue;
            };
            let limit = best.map_or(f64::INFINITY, |b| b.1);
            if let Some(width) = range_below(few.iter().map(|p| p.dot(&normal)), limit) {
                best = Some((normal, width));
            }
        }
    }
    best
}

/// The centre within `reach` of the origin from which a few points differ least in radius, and by how much: as far from
/// one point as from another, and from a third as from a fourth.
fn narrowest_circles(few: &[Vector2<f64>], reach: f64) -> Option<(Vector2<f64>, f64)> {
    // The places as far from a as from b: across · place = half.
    let bisectors: Vec<(Vector2<f64>, f64)> = pairs(few)
        .iter()
        .map(|(a, b)| (b - a, (b.norm_squared() - a.norm_squared()) / 2.0))
        .collect();
    let mut best: Option<(Vector2<f64>, f64)> = None;
    for (k, (u, m)) in bisectors.iter().enumerate() {
        for (v, n) in &bisectors[k + 1..] {
            let turn = u.perp(v);
            if turn.abs() <= 1e-12 * u.norm() * v.norm() {
                continue;
            }
            let centre = Vector2::new(m * v.y - n * u.y, n * u.x - m * v.x) / turn;
            let limit = best.map_or(f64::INFINITY, |b| b.1);
            if centre.norm() > reach {
                continue;
            }
            if let Some(width) = range_below(few.iter().map(|p| (p - centre).norm()), limit) {
                best = Some((centre, width));
            }
        }
    }
    best
}

/// The widest angle about the origin in which there is no point, rad.
fn widest_opening(points: &[Vector2<f64>]) -> f64 {
    let mut bearings: Vec<f64> = points.iter().map(|p| p.y.atan2(p.x)).collect();
    bearings.sort_by(f64::total_cmp);
    widest(&bearings, TAU).0
}

/// The convex chain that turns left all the way along points in order (Andrew 1979, Inf. Process. Lett. 9(5) 216-219).
fn chain<'a>(points: impl Iterator<Item = &'a Vector2<f64>>) -> Vec<Vector2<f64>> {
    let mut kept: Vec<Vector2<f64>> = Vec::new();
    for p in points {
        while kept.len() > 1 {
            let (a, b) = (kept[kept.len() - 2], kept[kept.len() - 1]);
            if (b - a).perp(&(p - a)) > 0.0 {
                break;
            }
            kept.pop();
        }
        kept.push(*p);
    }
    kept
}

#[cfg(test)]
mod tests;
