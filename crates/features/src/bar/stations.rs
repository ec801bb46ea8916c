//! The inches of a bar: where its long axis runs, and at each inch the offset and the roll that the deviations show.

use cloud::bisquare::{TUKEY, bisquare};
use cloud::frame::TOWARD;
use cloud::statistics::{median, percentile_of_sorted};
use cloud::{Matrix3, Point, Vector};

/// Fewest points with a deviation that make an inch.
const FEWEST: usize = 12;
/// A bar is at least this many times as long as it is wide or high.
const SLENDER: f64 = 2.5;
/// A direction under this share of the best held one is not shown: rounded edges alone don't hold a bar fore and aft.
const LEAST_SHOWN: f64 = 0.1;
/// An offset is shown where this much of it lies in the directions that are held.
const SHOWN: f64 = 0.9;
/// The face that a straight edge lies on looks its way within 45°.
const FACE: f64 = std::f64::consts::FRAC_1_SQRT_2;
/// Metal that looks the same way and stands off by more than this is another sheet, mm, and by so many times what its places lie apart.
const STEP_MM: f64 = 5.0;
const STEP: f64 = 8.0;

/// A point of the bar.
pub(super) struct Member {
    pub at: Point,
    pub normal: Vector,
    /// The deviation, where one was found.
    pub mm: Option<f64>,
}

/// How the bar lies.
pub(super) struct Axes {
    /// The middle of the section at the first end, mm.
    pub origin: Point,
    /// From the first end (front, left or lower) to the other.
    pub along: Vector,
    /// Across it: level, then upright; of an upright bar fore and aft, then side to side.
    pub across: [Vector; 2],
    /// The body's axes that these three are nearest to.
    nearest: [usize; 3],
    pub length_mm: f64,
    /// Across the bar along the first of `across`.
    pub width_mm: f64,
    /// Rms distance of the points from the long axis, mm.
    radius_mm: f64,
}

/// What one inch shows.
pub(super) struct Station {
    /// Which inch, from 0.
    pub inch: usize,
    /// The middle of its points, from the first end, mm.
    pub at_mm: f64,
    pub offset_mm: [Option<f64>; 2],
    /// Right-handed about the bar, rad.
    pub roll: Option<f64>,
    /// How high the reference's own face lies over the long axis, along the second of `across`, mm.
    pub own_mm: Option<f64>,
}

impl Axes {
    /// The axes of the points; `None` where they make no bar.
    pub(super) fn of(members: &[Member]) -> Option<Self> {
        if members.len() < FEWEST {
            return None;
        }
        let n = members.len() as f64;
        let middle = Point::from(members.iter().map(|m| m.at.coords).sum::<Vector>() / n);
        let spread: Matrix3 = members
            .iter()
            .map(|m| (m.at - middle) * (m.at - middle).transpose())
            .sum();
        let eigen = spread.symmetric_eigen();
        let along = eigen.eigenvectors.column(eigen.eigenvalues.imax()).into_owned();
        let nearest = match along.iamax() {
            0 => [0, 1, 2],
            1 => [1, 0, 2],
            _ => [2, 0, 1],
        };
        let along = along * along[nearest[0]].signum();
        let mut upright = Vector::zeros();
        upright[nearest[2]] = 1.0;
        let upright = (upright - along * along.dot(&upright)).try_normalize(1e-6)?;
        let level = upright.cross(&along);
        let level = level * level[nearest[1]].signum();
        let extent = |direction: &Vector, least: f64| {
            let mut places: Vec<f64> = members.iter().map(|m| (m.at - middle).dot(direction)).collect();
            places.sort_unstable_by(f64::total_cmp);
            [least, 1.0 - least].map(|share| percentile_of_sorted(&places, share))
        };
        let [low, high] = extent(&along, 0.0);
        let [width_mm, height_mm] = [level, upright].map(|d| {
            let [low, high] = extent(&d, 0.01);
            high - low
        });
        let off_axis: f64 = members
            .iter()
            .map(|m| (m.at - middle).cross(&along).norm_squared())
            .sum();
        let length_mm = high - low;
        (length_mm > SLENDER * width_mm.max(height_mm)).then(|| Self {
            origin: middle + along * low,
            along,
            across: [level, upright],
            nearest,
            length_mm,
            width_mm,
            radius_mm: (off_axis / n).sqrt().max(1e-6),
        })
    }

    /// What the two ends are called, the first first.
    pub(super) fn end_names(&self) -> [&'static str; 2] {
        [
            ["front end", "rear end"],
            ["left end", "right end"],
            ["lower end", "upper end"],
        ][self.nearest[0]]
    }

    /// The line along which the direction `d` across moves the bar.
    pub(super) fn plane_name(&self, d: usize) -> &'static str {
        ["fore and aft", "side to side", "up and down"][self.nearest[d + 1]]
    }

    /// Which way along the direction `d`.
    pub(super) fn way_name(&self, d: usize, positive: bool) -> &'static str {
        TOWARD[self.nearest[d + 1]][usize::from(positive)]
    }

    /// The side from which a straight edge is laid on, along the second of `across`.
    pub(super) fn side_name(&self, above: bool) -> &'static str {
        [
            ["the front", "the rear"],
            ["the left", "the right"],
            ["below", "above"],
        ][self.nearest[2]][usize::from(above)]
    }
}

/// The inches of a bar that show anything, in their order.
pub(super) fn stations(axes: &Axes, members: &[Member]) -> Vec<Station> {
    let count = (axes.length_mm / 25.4).round().max(1.0);
    let mut inches: Vec<Vec<&Member>> = Vec::new();
    inches.resize_with(count as usize, Vec::new);
    for member in members {
        let share = (member.at - axes.origin).dot(&axes.along) / axes.length_mm;
        let inch = (share * count).clamp(0.0, count - 1.0) as usize;
        inches[inch].push(member);
    }
    let up = axes.across[1];
    let facing = |m: &Member| m.normal.dot(&up);
    let upper = members.iter().filter(|m| facing(m) > FACE).count();
    let lower = members.iter().filter(|m| facing(m) < -FACE).count();
    let side = if upper >= lower { 1.0 } else { -1.0 };
    let height = |m: &Member| (m.at - axes.origin).dot(&up);
    let heights = members.iter().filter(|m| side * facing(m) > FACE).map(height);
    let [lowest, highest] = widest_sheet(heights.collect());
    inches
        .iter()
        .enumerate()
        .filter_map(|(inch, members)| {
            let seen: Vec<&Member> = members.iter().copied().filter(|m| m.mm.is_some()).collect();
            if seen.len() < FEWEST {
                return None;
            }
            let along = |m: &Member| (m.at - axes.origin).dot(&axes.along);
            let at_mm = seen.iter().map(|m| along(m)).sum::<f64>() / seen.len() as f64;
            let [level, upright, roll] = fitted(axes, &seen);
            let on_sheet = |m: &Member| (lowest..=highest).contains(&height(m));
            let face = members
                .iter()
                .copied()
                .filter(|m| side * facing(m) > FACE && on_sheet(m));
            Some(Station {
                inch,
                at_mm,
                offset_mm: [level, upright],
                roll,
                own_mm: height_of(axes, face),
            })
        })
        .collect()
}

/// Between which heights the sheet lies that has the most of these places: a straight edge lies on one sheet, and a flange or a bend
/// far below it that looks the same way is none of it.
fn widest_sheet(mut heights: Vec<f64>) -> [f64; 2] {
    heights.sort_unstable_by(f64::total_cmp);
    let (Some(first), Some(last)) = (heights.first(), heights.last()) else {
        return [f64::NEG_INFINITY, f64::INFINITY];
    };
    let step_mm = STEP_MM.max(STEP * (last - first) / heights.len() as f64);
    heights
        .chunk_by(|low, high| high - low <= step_mm)
        .max_by_key(|sheet| sheet.len())
        .map_or([*first, *last], |sheet| [sheet[0], sheet[sheet.len() - 1]])
}

/// Offset along both directions across (mm) and roll (rad) of one inch, with bisquare weights (Beaton & Tukey 1974); what
/// its faces don't show is `None`.
fn fitted(axes: &Axes, seen: &[&Member]) -> [Option<f64>; 3] {
    let rows: Vec<(Vector, f64)> = seen
        .iter()
        .filter_map(|m| {
            let arm = m.at - axes.origin;
            let across = arm - axes.along * arm.dot(&axes.along);
            let turn = axes.along.dot(&across.cross(&m.normal)) / axes.radius_mm;
            let [level, upright] = axes.across.map(|d| d.dot(&m.normal));
            Some((Vector::new(level, upright, turn), m.mm?))
        })
        .collect();
    let mut found = Vector::zeros();
    let mut held = Matrix3::zeros();
    for round in 0..20 {
        let mut sizes: Vec<f64> = rows
            .iter()
            .map(|(row, mm)| (mm - row.dot(&found)).abs())
            .collect();
        let scale = (TUKEY * 1.4826 * median(&mut sizes)).max(1e-6);
        let (mut matrix, mut right) = (Matrix3::zeros(), Vector::zeros());
        for (row, mm) in &rows {
            // The first round takes all alike: the bar may have moved by far more than it is rough.
            let cut = if round == 0 { f64::INFINITY } else { scale };
            let weight = bisquare(mm - row.dot(&found), cut);
            matrix += row * row.transpose() * weight;
            right += row * (mm * weight);
        }
        let eigen = matrix.symmetric_eigen();
        let largest = eigen.eigenvalues.max();
        if largest.is_nan() || largest <= 0.0 {
            return [None; 3];
        }
        let mut next = Vector::zeros();
        held = Matrix3::zeros();
        for k in 0..3 {
            let (value, v) = (eigen.eigenvalues[k], eigen.eigenvectors.column(k).into_owned());
            if value >= LEAST_SHOWN * largest {
                next += v * (v.dot(&right) / value);
                held += v * v.transpose();
            }
        }
        let step = (next - found).norm();
        found = next;
        if round > 0 && step < 1e-9 {
            break;
        }
    }
    let shown = |k: usize| (held[(k, k)] > SHOWN).then_some(found[k]);
    [shown(0), shown(1), shown(2).map(|turn| turn / axes.radius_mm)]
}

/// How high a face lies at the middle of the bar: a line across it, so that uneven points on a sloping face don't tilt it.
fn height_of<'a>(axes: &Axes, face: impl Iterator<Item = &'a Member>) -> Option<f64> {
    let (mut n, mut x, mut xx, mut z, mut xz) = (0.0f64, 0.0f64, 0.0f64, 0.0f64, 0.0f64);
    for member in face {
        let arm = member.at - axes.origin;
        let (a, b) = (arm.dot(&axes.across[0]), arm.dot(&axes.across[1]));
        n += 1.0;
        x += a;
        xx += a * a;
        z += b;
        xz += a * b;
    }
    if n < 3.0 {
        return None;
    }
    let determinant = n * xx - x * x;
    Some(if determinant > 1e-6 * n * n * axes.radius_mm.powi(2) {
        (xx * z - x * xz) / determinant
    } else {
        z / n
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A tube of 90 × 130 whose lower bends look up too, as many of their places in one inch as it happens.
    #[test]
    fn the_straight_edge_lies_on_one_sheet() {
        let mut members: Vec<Member> = Vec::new();
        for row in 0..960i32 {
            let x = 1.25 * f64::from(row);
            let mut add = |y: f64, z: f64, normal: Vector| {
                members.push(Member {
                    at: Point::new(x, y, z),
                    normal,
                    mm: Some(0.0),
                });
            };
            for k in 0..10 {
                add(9.0 * f64::from(k) - 40.5, 130.0, Vector::z());
                add(9.0 * f64::from(k) - 40.5, 0.0, -Vector::z());
            }
            let bends = row * row % 5;
            for k in 0..bends {
                add(45.0 - f64::from(k), f64::from(k), Vector::new(0.0, -0.6, 0.8));
            }
        }
        let axes = Axes::of(&members).unwrap();
        let stations = stations(&axes, &members);
        assert_eq!(stations.len(), 47);
        let [least, most] = [f64::min, f64::max].map(|of| {
            let own = stations.iter().map(|s| s.own_mm.unwrap());
            own.reduce(of).unwrap()
        });
        assert!(most - least < 0.1, "{least} {most}");
    }

    #[test]
    fn a_face_that_slopes_is_one_sheet() {
        let slope: Vec<f64> = (0..12).map(|k| 6.3 * f64::from(k)).collect();
        assert_eq!(widest_sheet(slope), [0.0, 6.3 * 11.0]);
        let two = (0..100).map(|k| if k % 5 < 2 { 1.0 } else { 130.0 + f64::from(k % 3) });
        assert_eq!(widest_sheet(two.collect()), [130.0, 132.0]);
    }
}
