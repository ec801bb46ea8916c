//! Where each thing to do can be seen: the view in which it is marked, the picture of its region, or a cut that passes it.

use ::compare::{Region, Verdict};
use ::draw::View;
use ::features::bead::Bead;
use cloud::{Body, Bounds, Point, Surface, Vector};

use crate::job::{CheckKind, Comparison};
use crate::say;
use crate::stages::compare::Compared;
use crate::stages::draw::file_of_whole;
use crate::stages::features::Found;

/// A cut this near to a place shows it, mm (half an inch).
const CUT_MM: f64 = 12.7;
/// What lies this far out of a region's box is still drawn with the region, mm (half an inch).
const BESIDE_MM: f64 = 12.7;
/// A cut whose lines stay farther from a place than this passes over it through other metal, mm (an inch).
const ON_CUT_MM: f64 = 25.4;

/// A view shows a mark that is turned at least so far toward it (the cosine): more edge on it is lost in what stands about it.
const TOWARD: f64 = 0.5;

/// What the pictures of a comparison show.
pub(super) struct Shown<'a> {
    pub comparison: &'a Comparison,
    pub reference: &'a Surface<Body>,
    pub compared: &'a Compared,
    pub found: &'a Found,
    /// The files that were drawn.
    pub pictures: &'a [String],
}

/// Where a figure was taken.
#[derive(Default)]
struct Spot {
    region: Option<String>,
    at: Option<Point>,
    /// The way from which it is looked at; what the metal there faces where nothing is said.
    facing: Option<Vector>,
    /// Whether it is pointed at by its name in the views of the whole, as it is in no other picture.
    marked: bool,
    /// Whether a cut shows more of it than a view: a depth is seen there, and hardly from in front.
    cut_first: bool,
}

impl Shown<'_> {
    /// The picture for a figure of result.json: where it is marked the view that faces it, else a cut through it; of its region,
    /// else a cut, else the view that faces it, where it isn't; of the whole where it stands for nothing by itself.
    pub(super) fn of(&self, figure: &str) -> Option<String> {
        let spot = figure
            .split_once('/')
            .and_then(|(list, name)| self.spot(list, name))
            .unwrap_or_default();
        let region = || {
            let own = spot.region.as_deref().and_then(|name| self.of_region(name));
            own.or_else(|| self.of_region(self.around(spot.at.as_ref()?)?))
        };
        let cut = || self.cut_at(spot.at.as_ref()?);
        let marked = || {
            let facing = self.facing(&spot).filter(|_| spot.marked)?;
            self.view(&facing, TOWARD)
        };
        let close = if spot.marked || spot.cut_first {
            marked().or_else(cut).or_else(region)
        } else {
            region().or_else(cut)
        };
        close
            .or_else(|| self.view(&self.facing(&spot)?, f64::NEG_INFINITY))
            .or_else(|| self.pictures.iter().find(|p| p.starts_with("heat-")).cloned())
    }

    fn spot(&self, list: &str, name: &str) -> Option<Spot> {
        let found = self.found;
        let at_place = |at: Point| Spot {
            at: Some(at),
            ..Spot::default()
        };
        match list {
            "regions" | "folds" => Some(self.whole_region(name)),
            "edges" => {
                let edge = found.edges.iter().find(|e| e.name == name)?;
                let longest = edge.longest_off()?;
                let middle = Bounds::of(&[longest.from, longest.to])?.centre();
                Some(Spot {
                    region: edge.region.clone(),
                    // The picture of its region names it, larger.
                    marked: edge.verdict == Verdict::Outside && edge.region.is_none(),
                    ..at_place(middle)
                })
            }
            "holes" => {
                let hole = found.holes.iter().find(|h| h.pair.name == name)?;
                let seen = hole.pair.reference.as_ref().or(hole.pair.measured.as_ref())?;
                Some(Spot {
                    marked: hole.verdict != Verdict::Within,
                    ..at_place(seen.at)
                })
            }
            "recesses" => {
                let recess = found.recesses.iter().find(|r| r.pair.name == name)?;
                Some(Spot {
                    marked: recess.verdict != Verdict::Within,
                    cut_first: true,
                    ..at_place(recess.pair.reference.at)
                })
            }
            "beads" => {
                let bead = found.beads.iter().find(|b| b.pair.name == name)?;
                let seen: &Bead = bead.pair.reference.as_ref().or(bead.pair.measured.as_ref())?;
                Some(Spot {
                    region: Some(bead.region.clone()),
                    facing: Some(seen.up),
                    marked: bead.verdict == Verdict::Outside,
                    cut_first: true,
                    ..at_place(seen.at)
                })
            }
            "extra" => {
                let piece = found.extra.iter().find(|e| e.name == name)?;
                Some(Spot {
                    region: piece.region.clone(),
                    ..at_place(piece.metal.at)
                })
            }
            "spots" => {
                let number: usize = name.rsplit_once('/')?.1.parse().ok()?;
                Some(at_place(found.spots.get(number.checked_sub(1)?)?.at))
            }
            "checks" => self.check(name),
            "shell" => Some(Spot {
                facing: Some(self.facing_of_shell(name)),
                ..Spot::default()
            }),
            _ => None,
        }
    }

    fn whole_region(&self, name: &str) -> Spot {
        let result = self.compared.regions.iter().find(|r| r.region.name == name);
        Spot {
            region: Some(name.to_string()),
            at: result.map(|r| r.region.bounds.centre()),
            ..Spot::default()
        }
    }

    fn check(&self, name: &str) -> Option<Spot> {
        let asked = self.comparison.asked.checks.iter().find(|c| c.name == name)?;
        let spot = match &asked.kind {
            CheckKind::Drop { at } => Spot {
                at: Some(at.at_mm),
                facing: Some(from_the_side(&at.at_mm)),
                ..Spot::default()
            },
            CheckKind::Bolt { at, .. } => Spot {
                at: Some(at.at_mm),
                ..Spot::default()
            },
            CheckKind::Height { between } => Spot {
                facing: Some(from_the_side(&between[1].at_mm)),
                ..Spot::default()
            },
            CheckKind::Tram { between } => Spot {
                facing: self.square_to(&between.each_ref().map(|place| place.at_mm)),
                ..Spot::default()
            },
            kind => self.whole_region(kind.regions().first()?),
        };
        Some(spot)
    }

    /// Sag and length show from the side, an opening from in front of it, all else of a shell from above.
    fn facing_of_shell(&self, name: &str) -> Vector {
        let Some(asked) = &self.comparison.asked.shell else {
            return Vector::z();
        };
        // Of "door" and "left door" the one that says more.
        let openings = asked.openings.iter().filter(|o| name.contains(&o.name));
        if let Some(opening) = openings.max_by_key(|o| o.name.len()) {
            let corners = opening.corners.each_ref().map(|corner| corner.at_mm);
            return self.square_to(&corners).unwrap_or_else(Vector::z);
        }
        if name.starts_with("sag right") {
            Vector::y()
        } else if name.starts_with("sag") || name == "mash" {
            -Vector::y()
        } else {
            Vector::z()
        }
    }

    /// The way along which places lie least apart, toward the outside of the whole: from there they are seen spread out.
    fn square_to(&self, places: &[Point]) -> Option<Vector> {
        let bounds = Bounds::of(places)?;
        let axis = bounds.size().imin();
        let outward = match axis {
            0 => {
                let whole = self.reference.cloud.bounds()?;
                bounds.centre().x - whole.centre().x
            }
            1 => bounds.centre().y,
            _ => 1.0,
        };
        let mut way = Vector::zeros();
        way[axis] = if outward < 0.0 { -1.0 } else { 1.0 };
        Some(way)
    }

    fn of_region(&self, name: &str) -> Option<String> {
        let file = format!("heat-region-{}.png", say::file_part(name));
        self.pictures.contains(&file).then_some(file)
    }

    /// The region around a place that has a picture: of two the smaller one, which shows it larger.
    fn around(&self, at: &Point) -> Option<&str> {
        let regions = self.compared.regions.iter().map(|result| &result.region);
        regions
            .filter(|r| r.bounds.grown(BESIDE_MM).contains(at) && self.of_region(&r.name).is_some())
            .min_by(|a, b| {
                let volume = |region: &Region| region.bounds.size().product();
                volume(a).total_cmp(&volume(b))
            })
            .map(|region| region.name.as_str())
    }

    /// The cut that passes nearest to a place, of those within half an inch; cuts are numbered as their pictures are.
    fn cut_at(&self, at: &Point) -> Option<String> {
        let mut nearest: Option<(f64, String)> = None;
        for section in &self.found.sections {
            let part = say::file_part(&section.name);
            let cuts = section.planes.iter().filter(|plane| !plane.cuts_nothing());
            for (k, cut) in cuts.enumerate() {
                let file = if section.planes.len() == 1 {
                    format!("section-{part}.png")
                } else {
                    format!("section-{part}-{:02}.png", k + 1)
                };
                let Some(facing) = cut.plane.facing.try_normalize(1e-9) else {
                    continue;
                };
                let off_mm = (at - cut.plane.through).dot(&facing).abs();
                let lines = cut.pair.reference.iter().chain(&cut.pair.measured);
                let passes = lines.flatten().any(|p| (p - at).norm() < ON_CUT_MM);
                let nearer = nearest.as_ref().is_none_or(|(mm, _)| off_mm < *mm);
                if off_mm <= CUT_MM && passes && nearer && self.pictures.contains(&file) {
                    nearest = Some((off_mm, file));
                }
            }
        }
        nearest.map(|(_, file)| file)
    }

    fn facing(&self, spot: &Spot) -> Option<Vector> {
        if spot.facing.is_some() {
            return spot.facing;
        }
        let metal = self.reference.near.nearest(spot.at.as_ref()?)?;
        Some(self.reference.normals()[metal.index as usize])
    }

    /// The picture of the whole from the view that looks most squarely at what faces so, its cosine `least` at least.
    fn view(&self, facing: &Vector, least: f64) -> Option<String> {
        most_square(self.pictures, facing, self.reference.sides_known, least)
    }
}

/// Of the drawn views of the whole the one that looks most squarely at what faces so, of two alike the first; none where it
/// looks less squarely than a cosine of `least`.
fn most_square(pictures: &[String], facing: &Vector, sides_known: bool, least: f64) -> Option<String> {
    let squarely = |view: &View| {
        let cosine = view.toward().dot(facing);
        if sides_known { cosine } else { cosine.abs() }
    };
    View::all()
        .into_iter()
        .filter(|view| pictures.contains(&file_of_whole(view)) && squarely(view) >= least)
        .min_by(|a, b| squarely(b).total_cmp(&squarely(a)))
        .map(|view| file_of_whole(&view))
}

/// From the side on which a place lies.
fn from_the_side(at: &Point) -> Vector {
    Vector::y() * if at.y > 0.0 { 1.0 } else { -1.0 }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_mark_is_looked_for_in_the_drawn_view_that_is_most_square_to_it() {
        let drawn = |files: &[&str]| files.iter().map(|file| file.to_string()).collect::<Vec<_>>();
        let some = drawn(&["heat-plan.png", "heat-right.png", "heat-region-sill.png"]);
        let found = |pictures: &[String], facing: [f64; 3], sides_known: bool| {
            most_square(pictures, &Vector::from(facing), sides_known, TOWARD)
        };
        assert_eq!(
            found(&some, [0.0, 0.8, 0.6], true).as_deref(),
            Some("heat-right.png")
        );
        assert_eq!(
            found(&some, [0.0, 0.6, 0.8], true).as_deref(),
            Some("heat-plan.png")
        );
        // The view of that side was not drawn, and those that were look past it.
        assert_eq!(found(&some, [0.0, -0.8, 0.2], true), None);
        assert_eq!(found(&some, [1.0, 0.0, 0.0], true), None);
        // Where it is not known which side is out, either may be.
        assert_eq!(
            found(&some, [0.0, -0.8, 0.2], false).as_deref(),
            Some("heat-right.png")
        );
        let none = drawn(&["heat-region-sill.png"]);
        assert_eq!(found(&none, [0.0, 0.0, 1.0], true), None);
    }
}
