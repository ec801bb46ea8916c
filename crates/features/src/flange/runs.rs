//! The inches of a flange, and the measured metal at each of them.

use cloud::{Body, Motion, Point, Scan, Surface, Vector};

use super::SKIN_MM;
use super::planes::{FEWEST, Folded, Sheet};

/// How far the measured metal may lie from where the reference has it, mm (5/16 in).
const SLACK_MM: f64 = 8.0;
/// A measured point belongs to a sheet when its normal is within 30° of the reference's.
const SAME_FACE: f64 = 0.866;

/// The inches along a flange.
pub(crate) struct Runs {
    first_end: Point,
    /// Unit, from the first end (front, left or lower).
    pub along: Vector,
    pub length_mm: f64,
    pub count: usize,
}

impl Runs {
    /// Along the long axis of the flange's points.
    pub(crate) fn along(lip: &[Point]) -> Option<Self> {
        if lip.len() < FEWEST {
            return None;
        }
        let middle = Point::from(lip.iter().map(|p| p.coords).sum::<Vector>() / lip.len() as f64);
        let spread: cloud::Matrix3 = lip.iter().map(|p| (p - middle) * (p - middle).transpose()).sum();
        let eigen = spread.symmetric_eigen();
        let along = eigen.eigenvectors.column(eigen.eigenvalues.imax()).into_owned();
        let along = along * along[along.iamax()].signum();
        let places = lip.iter().map(|p| (p - middle).dot(&along));
        let (low, high) = places.fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), s| {
            (low.min(s), high.max(s))
        });
        let length_mm = high - low;
        (length_mm > 0.0).then(|| Self {
            first_end: middle + along * low,
            along,
            length_mm,
            count: (length_mm / 25.4).round().max(1.0) as usize,
        })
    }

    /// How far from the first end a place lies, mm.
    pub(crate) fn along_mm(&self, place: &Point) -> f64 {
        (place - self.first_end).dot(&self.along)
    }

    /// In which inch a place lies; `None` beyond the ends.
    pub(crate) fn inch(&self, place: &Point) -> Option<usize> {
        let share = self.along_mm(place) / self.length_mm;
        // The last point lies on the very end.
        (-1e-9..=1.0 + 1e-9)
            .contains(&share)
            .then(|| ((share * self.count as f64).max(0.0) as usize).min(self.count - 1))
    }

    /// The points inch by inch; those beyond the ends are left out.
    pub(super) fn split(&self, points: &[Point]) -> Vec<Vec<Point>> {
        let mut inches = vec![Vec::new(); self.count];
        for point in points {
            if let Some(inch) = self.inch(point) {
                inches[inch].push(*point);
            }
        }
        inches
    }
}

/// One inch of the reference, where the measured metal is looked for.
pub(super) struct Place<'a> {
    pub runs: &'a Runs,
    pub inch: usize,
    pub fold: &'a Folded,
    /// From fold to lip, mm.
    pub width_mm: f64,
}

impl Place<'_> {
    /// The measured points of the flange and of the skin, in the body's frame.
    pub(super) fn measured(
        &self,
        measured: &Surface<Scan>,
        reference_from_measured: &Motion<Scan, Body>,
    ) -> (Vec<Point>, Vec<Point>) {
        let reach = self.width_mm.max(SKIN_MM) + SLACK_MM;
        let across = reach.hypot(SLACK_MM).hypot(25.4);
        let centre = reference_from_measured.inverse().apply(&self.fold.at);
        let mut close: Vec<u32> = Vec::new();
        measured
            .near
            .visit_within(&centre, across, |n| close.push(n.index));
        close.sort_unstable();
        let (mut lip, mut skin) = (Vec::new(), Vec::new());
        for i in close {
            let at = reference_from_measured.apply(&measured.points()[i as usize]);
            if self.runs.inch(&at) != Some(self.inch) {
                continue;
            }
            let normal = reference_from_measured.turn(&measured.normals()[i as usize]);
            let like = |sheet: &Sheet| normal.dot(&sheet.normal).abs();
            let (flange, skin_sheet) = (&self.fold.flange, &self.fold.skin);
            if like(flange) > like(skin_sheet) {
                if self.lies_on(flange, self.width_mm, &at, &normal) {
                    lip.push(at);
                }
            } else if self.lies_on(skin_sheet, SKIN_MM, &at, &normal) {
                skin.push(at);
            }
        }
        (lip, skin)
    }

    /// Whether a measured point is of this sheet: it faces its way and lies where the sheet may lie.
    fn lies_on(&self, sheet: &Sheet, width_mm: f64, at: &Point, normal: &Vector) -> bool {
        let arm = at - self.fold.at;
        normal.dot(&sheet.normal).abs() > SAME_FACE
            && arm.dot(&sheet.normal).abs() < SLACK_MM
            && (-SLACK_MM..width_mm + SLACK_MM).contains(&arm.dot(&sheet.away))
    }
}
