//! A set as its edges are read: what of it lies around a run, in the run's own directions.

use cloud::statistics::median;
use cloud::{Body, Frame, Motion, Near, Point, Surface, Vector};

use super::axes::Axes;
use super::boundary::{rims, step_mm};
use super::place::{REACH_MM, Read, Strip, of_points};
use super::sides::of_sides;

/// How far off the reference's surface the other's may lie at an edge, mm (an eighth of an inch), and how much more for
/// each millimetre from the edge: sheets bend.
const LEVEL_MM: f64 = 3.175;
const BENDS: f64 = 0.15;
/// Where nothing lies so near, a sheet that was moved off the surface is looked for as far as this, mm (half an inch).
const MOVED_MM: f64 = 12.7;
/// The depth behind the edge that shows where the sheet lies, mm, if it has so many points.
const LOOK_MM: f64 = 12.7;
const FEWEST: usize = 8;
/// How far behind the reach points still tell how dense the sheet is, mm.
const BEHIND_MM: f64 = 10.0;
/// Cosine of the angle between normals that face alike (60°); either side, since one may be a guess.
const ALIKE: f64 = 0.5;

/// A set, and the motion that brings it into the body's frame.
pub(super) struct Source<'a, F> {
    surface: &'a Surface<F>,
    body_from_set: &'a Motion<F, Body>,
    set_from_body: Motion<Body, F>,
    /// The open sides, where the set is a mesh.
    sides: Option<Sides>,
}

/// Places along the open sides of a mesh, fine.
struct Sides {
    at: Vec<Point>,
    void: Vec<Vector>,
    normal: Vec<Vector>,
    near: Near,
}

impl<'a, F: Frame> Source<'a, F> {
    pub fn new(surface: &'a Surface<F>, body_from_set: &'a Motion<F, Body>) -> Self {
        Self {
            surface,
            body_from_set,
            set_from_body: body_from_set.inverse(),
            sides: (!surface.cloud.faces.is_empty()).then(|| Sides::of(surface)),
        }
    }

    /// Where the metal of the set ends in a run by itself; `None` where that is not seen.
    pub fn read(&self, axes: &Axes) -> Option<Read> {
        let strip = Strip {
            length_mm: axes.length_mm,
            spacing_mm: step_mm(self.surface),
            noise_mm: self.surface.noise_mm,
            loose: axes.loose,
        };
        match &self.sides {
            Some(sides) => of_sides(&self.open_sides(sides, axes), &strip).map(|place| Read {
                place,
                outermost: None,
            }),
            None => of_points(&self.points(axes)?, &strip),
        }
    }

    /// The points of the sheet around a run, each (along, outward), mm. `None` where no sheet lies behind the edge.
    fn points(&self, axes: &Axes) -> Option<Vec<(f64, f64)>> {
        let (points, normals) = (self.surface.points(), self.surface.normals());
        let normal = self.set_from_body.turn(&axes.normal);
        let mut around: Vec<[f64; 3]> = Vec::new();
        self.surface
            .near
            .visit_within(&self.middle(axes), reach_mm(axes), |n| {
                let i = n.index as usize;
                if normals[i].dot(&normal).abs() < ALIKE {
                    return;
                }
                let place = axes.coordinates(&self.body_from_set.apply(&points[i]));
                if in_strip(axes, &place) {
                    around.push(place);
                }
            });
        let level = level(&around)?;
        around.retain(|[_, out, off]| (off - level).abs() <= LEVEL_MM + BENDS * out.abs());
        Some(around.into_iter().map(|[along, out, _]| (along, out)).collect())
    }

    /// The places of open sides around a run, each (along, outward, cosine between the directions off the metal).
    fn open_sides(&self, sides: &Sides, axes: &Axes) -> Vec<(f64, f64, f64)> {
        let turned = |v: &Vector| self.body_from_set.turn(v);
        let mut around = Vec::new();
        sides.near.visit_within(&self.middle(axes), reach_mm(axes), |n| {
            let i = n.index as usize;
            let place = axes.coordinates(&self.body_from_set.apply(&sides.at[i]));
            let alike = turned(&sides.normal[i]).dot(&axes.normal).abs() >= ALIKE;
            if alike && in_strip(axes, &place) {
                around.push((place, turned(&sides.void[i]).dot(&axes.outward)));
            }
        });
        let levelled = |within: f64| -> Vec<(f64, f64, f64)> {
            around
                .iter()
                .filter(|([_, out, off], _)| off.abs() <= within + BENDS * out.abs())
                .map(|([along, out, _], cosine)| (*along, *out, *cosine))
                .collect()
        };
        let found = levelled(LEVEL_MM);
        if found.is_empty() {
            levelled(MOVED_MM)
        } else {
            found
        }
    }

    fn middle(&self, axes: &Axes) -> Point {
        self.set_from_body.apply(&axes.middle)
    }
}

impl Sides {
    fn of<F: Frame>(surface: &Surface<F>) -> Self {
        let mut sides = Self {
            at: Vec::new(),
            void: Vec::new(),
            normal: Vec::new(),
            near: Near::new(&[]),
        };
        for rim in rims(surface) {
            sides.at.extend(rim.at);
            sides.void.extend(rim.void);
            sides.normal.extend(rim.normal);
        }
        sides.near = Near::new(&sides.at);
        sides
    }
}

/// Radius of the ball around a run's middle that holds all that is looked at, mm.
fn reach_mm(axes: &Axes) -> f64 {
    (axes.length_mm / 2.0).hypot(REACH_MM + BEHIND_MM) + LEVEL_MM
}

fn in_strip(axes: &Axes, [along, out, _]: &[f64; 3]) -> bool {
    along.abs() <= axes.length_mm / 2.0 && (-REACH_MM - BEHIND_MM..=REACH_MM).contains(out)
}

/// How far off the reference's surface the sheet lies behind the edge, mm: that of the nearest sheet, as near to the edge as
/// it shows. `None` where there is none within half an inch.
fn level(around: &[[f64; 3]]) -> Option<f64> {
    level_within(around, LOOK_MM).or_else(|| level_within(around, REACH_MM + BEHIND_MM))
}

fn level_within(around: &[[f64; 3]], depth_mm: f64) -> Option<f64> {
    let behind = || around.iter().filter(|[_, out, _]| (-depth_mm..0.0).contains(out));
    let offs = |middle: f64| -> Vec<f64> {
        behind()
            .map(|[.., off]| *off)
            .filter(|off| (off - middle).abs() <= LEVEL_MM)
            .collect()
    };
    let mut sheet = offs(0.0);
    if sheet.len() < FEWEST {
        let nearest = behind()
            .map(|[.., off]| *off)
            .min_by(|a, b| a.abs().total_cmp(&b.abs()))?;
        sheet = offs(nearest);
    }
    let level = median(&mut sheet);
    (sheet.len() >= FEWEST && level.abs() <= MOVED_MM).then_some(level)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sheet(off: f64, count: usize) -> impl Iterator<Item = [f64; 3]> {
        (0..count).map(move |i| [0.0, -0.5 - i as f64 * 0.5, off + 0.01 * (i as f64).sin()])
    }

    #[test]
    fn the_nearest_sheet_behind_the_edge_gives_the_level() {
        let near: Vec<[f64; 3]> = sheet(0.5, 20).chain(sheet(9.0, 20)).collect();
        assert!((level(&near).unwrap() - 0.5).abs() < 0.02);
        let moved: Vec<[f64; 3]> = sheet(-5.5, 20).collect();
        assert!((level(&moved).unwrap() + 5.5).abs() < 0.02);
        let far: Vec<[f64; 3]> = sheet(30.0, 20).collect();
        assert_eq!(level(&far), None);
        assert_eq!(level(&[]), None);
    }
}
