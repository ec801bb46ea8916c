//! From where the metal is looked at: six square views, named as in the shop.

use cloud::frame::{FACING, SIDES, called};
use cloud::{Bounds, Point, Vector};

/// A view: which way is right and up on the paper, and which way the looker stands.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct View {
    /// `from above`.
    pub name: &'static str,
    /// Part of the file's name: `plan`.
    pub short: &'static str,
    /// Right on the paper.
    pub right: Vector,
    /// Up on the paper.
    pub up: Vector,
}

impl View {
    /// All six. X rearward, Y right as seated, Z up; the front of the car is to the left where it can be.
    pub fn all() -> [View; 6] {
        let view = |name, short, right, up| View {
            name,
            short,
            right,
            up,
        };
        [
            view("from above", "plan", Vector::x(), Vector::y()),
            view("from the left", "left", Vector::x(), Vector::z()),
            view("from the right", "right", -Vector::x(), Vector::z()),
            view("from the front", "front", -Vector::y(), Vector::z()),
            view("from the rear", "rear", Vector::y(), Vector::z()),
            view("from underneath", "underneath", Vector::x(), -Vector::y()),
        ]
    }

    /// Whether a box is more than twice as high as wide on the paper.
    pub fn is_tall(&self, bounds: &Bounds) -> bool {
        let size = bounds.size();
        let along = |direction: &Vector| direction.abs().dot(&size);
        along(&self.up) > 2.0 * along(&self.right)
    }

    /// The same view with the paper turned by a quarter: what was up is to the right.
    pub fn laid_down(&self) -> Self {
        Self {
            right: self.up,
            up: -self.right,
            ..*self
        }
    }

    /// Toward the looker.
    pub fn toward(&self) -> Vector {
        self.right.cross(&self.up)
    }

    /// Place on the paper (right, up) and height toward the looker, mm.
    #[inline]
    pub fn project(&self, point: &Point) -> [f64; 3] {
        [
            self.right.dot(&point.coords),
            self.up.dot(&point.coords),
            self.toward().dot(&point.coords),
        ]
    }

    /// What the side of a piece that lies in a direction is called: `front`, `top`.
    pub fn side_name(direction: &Vector) -> &'static str {
        called(&SIDES, direction)
    }

    /// What a direction on the paper is called: `forward`, `up`.
    pub fn direction_name(direction: &Vector) -> &'static str {
        called(&FACING, direction)
    }
}

/// The views that show something of a surface: those that at least this share of it faces.
const LEAST_SHARE: f64 = 0.06;

/// The views that show the surface with these normals, in the usual order; always at least one.
pub fn showing(normals: &[Vector]) -> Vec<View> {
    let shares: Vec<f64> = View::all().iter().map(|v| share_facing(v, normals)).collect();
    let best = shares.iter().copied().fold(0.0, f64::max);
    View::all()
        .into_iter()
        .zip(shares)
        .filter(|(_, share)| *share >= LEAST_SHARE.min(best))
        .map(|(view, _)| view)
        .collect()
}

/// The one view that shows most of a surface.
pub fn best(normals: impl Iterator<Item = Vector> + Clone) -> View {
    let all = View::all();
    let score = |v: &View| {
        let toward = v.toward();
        normals
            .clone()
            .map(|n| n.dot(&toward).max(0.0).powi(2))
            .sum::<f64>()
    };
    let mut best = all[0];
    let mut most = score(&best);
    for view in &all[1..] {
        let s = score(view);
        if s > most * 1.000_001 {
            (best, most) = (*view, s);
        }
    }
    best
}

fn share_facing(view: &View, normals: &[Vector]) -> f64 {
    let toward = view.toward();
    let step = normals.len().div_ceil(20_000).max(1);
    let seen: Vec<&Vector> = normals.iter().step_by(step).collect();
    seen.iter().filter(|n| n.dot(&toward) > 0.6).count() as f64 / seen.len().max(1) as f64
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_view_is_right_handed_and_square() {
        for view in View::all().into_iter().flat_map(|v| [v, v.laid_down()]) {
            let m = nalgebra::Matrix3::from_columns(&[view.right, view.up, view.toward()]);
            assert!((m.determinant() - 1.0).abs() < 1e-12, "{}", view.name);
        }
    }

    #[test]
    fn the_looker_stands_where_the_name_says() {
        let expected = [
            Vector::z(),
            -Vector::y(),
            Vector::y(),
            -Vector::x(),
            Vector::x(),
            -Vector::z(),
        ];
        for (view, toward) in View::all().iter().zip(expected) {
            assert!((view.toward() - toward).norm() < 1e-12, "{}", view.name);
        }
    }
}
