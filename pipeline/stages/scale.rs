//! Brings both sets to millimetres, upright and on one face of the sheet, drops what is no place, and makes them ready;
//! the unit is declared or comes from bars, and is never guessed.

mod bars;
mod face;
pub mod units;

use archive::Fingerprint;
use cloud::{Body, Cloud, Matrix3, Mirror, NamedPoint, Point, Scan, Surface, Unit, Vector, Warning, mesh};
use compare::exact::ExactMesh;

use super::load::{Loaded, LoadedSet};
use crate::job::{Comparison, Face, Set, Up};
use crate::trouble::Trouble;

/// Both sets, ready.
pub struct Scaled {
    /// The reference's surface.
    pub reference: Surface<Body>,
    /// The reference's mesh, where it is one, for exact distances.
    pub reference_mesh: Option<ExactMesh>,
    /// The measured surface.
    pub measured: Surface<Scan>,
    /// The reference's file.
    pub reference_from: Known,
    /// The measured set's file.
    pub measured_from: Known,
    /// What the user should know.
    pub warnings: Vec<Warning>,
}

/// What is on record of a set's file.
pub struct Known {
    /// Its file, as the job or the command line names it.
    pub file: String,
    /// What the file is known again by.
    pub print: Fingerprint,
    /// The unit it was read in; where bars alone say it, the one that comes nearest.
    pub unit: Unit,
    /// What the bars make of the unit: 1 where there are none.
    pub scale: f64,
    /// Points in the file.
    pub points: usize,
    /// How its axes were turned; and mirrored, where it is of the other side.
    turn: Matrix3,
    /// Whether anything but the bars says the unit.
    unit_said: bool,
}

impl Known {
    /// What a length of this set that was read in the unit `read_in` must be multiplied by: what the bars make of it.
    /// Lengths of a set whose unit only the bars say are in the file's own numbers.
    pub fn times(&self, read_in: Unit) -> f64 {
        if self.unit_said {
            self.scale
        } else {
            self.scale * self.unit.in_mm() / read_in.in_mm()
        }
    }

    /// Brings a named point of this set, read in the unit `read_in`, to where the set itself was brought: scaled by its
    /// bars, turned upright, and mirrored where it is of the other side.
    pub fn place(&self, point: &mut NamedPoint, read_in: Unit) {
        point.at_mm = Point::from(self.turn * point.at_mm.coords * self.times(read_in));
    }
}

/// Most points that a coarse mesh is spread over.
const MOST_SPREAD: f64 = 3_000_000.0;

/// Scales and prepares both sets.
pub fn scale(comparison: &Comparison, loaded: Loaded) -> Result<Scaled, Trouble> {
    let mut warnings = Vec::new();
    let reference = to_mm(&comparison.reference, loaded.reference, &mut warnings)?;
    if !comparison.mirror {
        units::name_the_reference(&mut warnings);
    }
    let measured = to_mm(&comparison.measured, loaded.measured, &mut warnings)?;
    units::warn_of_ratio(comparison, &reference.cloud, &measured.cloud, &mut warnings);
    let reference_mesh = ExactMesh::new(&reference.cloud.points_mm, &reference.cloud.faces);
    // Only a mesh asks how far apart points should be spread over it; two sets of points are not surveyed twice.
    let any_mesh = [&reference, &measured]
        .iter()
        .any(|set| !set.cloud.faces.is_empty());
    let spacing = if any_mesh {
        reference.spacing_mm().min(measured.spacing_mm())
    } else {
        0.0
    };
    let (reference_surface, measured_surface) = rayon::join(
        || {
            surface(
                &comparison.reference,
                reference.cloud.taken_as_body(),
                reference.viewpoint,
                spacing,
            )
        },
        || surface(&comparison.measured, measured.cloud, measured.viewpoint, spacing),
    );
    let (reference_surface, more) = reference_surface?;
    warnings.extend(more);
    let (measured_surface, more) = measured_surface?;
    warnings.extend(more);
    let measured_surface = face::on_the_references(comparison, measured_surface, &mut warnings);
    Ok(Scaled {
        reference: reference_surface,
        reference_mesh,
        measured: measured_surface,
        reference_from: reference.known,
        measured_from: measured.known,
        warnings,
    })
}

/// A set in millimetres.
pub struct InMm {
    /// Its finite points.
    pub cloud: Cloud<Scan>,
    /// Where the scanner stood.
    pub viewpoint: Option<Point>,
    /// What is on record.
    pub known: Known,
}

impl InMm {
    /// The side of the square that each point has to itself, from the area for a mesh, roughly for points.
    fn spacing_mm(&self) -> f64 {
        if self.cloud.faces.is_empty() {
            let near = cloud::Near::new(&self.cloud.points_mm);
            return cloud::survey::survey(&self.cloud.points_mm, &near)
                .spacing_mm
                .max(1e-3);
        }
        (self.area_mm2() / self.cloud.len().max(1) as f64).sqrt()
    }

    fn area_mm2(&self) -> f64 {
        self.cloud
            .faces
            .iter()
            .map(|f| mesh::area(&f.map(|i| self.cloud.points_mm[i as usize])))
            .sum()
    }
}

/// Scales one set and drops the rows that are no place.
pub fn to_mm(set: &Set, loaded: LoadedSet, warnings: &mut Vec<Warning>) -> Result<InMm, Trouble> {
    let LoadedSet { raw, print } = loaded;
    let unit = units::unit_of(set, &raw, warnings)?;
    warnings.extend(raw.warnings.iter().cloned());
    let points = raw.points.len();
    let mut cloud: Cloud<Scan> = Cloud::from_points(raw.points);
    cloud.faces = raw.faces;
    let finite: Vec<bool> = cloud
        .points_mm
        .iter()
        .map(|p| p.iter().all(|c| c.is_finite()))
        .collect();
    // A normal that is not finite or has no length says nothing; a set with such normals goes without.
    cloud.normals = raw.normals.and_then(|normals| {
        let unit: Option<Vec<Vector>> = normals
            .iter()
            .zip(&finite)
            .map(|(n, finite)| {
                let n = Vector::new(f64::from(n[0]), f64::from(n[1]), f64::from(n[2]));
                if *finite {
                    n.try_normalize(1e-6).filter(|n| n.x.is_finite())
                } else {
                    Some(n)
                }
            })
            .collect();
        if unit.is_none() {
            warnings.push(Warning::new(
                "normals-unusable",
                format!(
                    "{}: some normals have no length; all were worked out from the points",
                    set.file
                ),
            ));
        }
        unit
    });
    let dropped = finite.iter().filter(|f| !**f).count();
    if dropped > 0 {
        cloud = cloud.keep(&finite);
        warnings.push(Warning::new(
            "rows-not-finite",
            format!(
                "{}: {dropped} of {points} rows are not numbers and were dropped",
                set.file
            ),
        ));
    }
    if cloud.is_empty() {
        return Err(Trouble::new(format!(
            "{}: found no row with three numbers; export it again",
            set.path.display()
        )));
    }
    let scale = bars::scale(set, unit, &cloud.points_mm, warnings)?;
    let upright = set.up.map_or_else(Matrix3::identity, Up::turn);
    let (factor, turn) = match set.mirrored {
        true => (scale.in_mm(), Mirror::of_sides().matrix() * upright),
        false => (scale.in_mm(), upright),
    };
    let brought = |point: &Point| Point::from(turn * point.coords * factor);
    for point in &mut cloud.points_mm {
        *point = brought(point);
    }
    for normal in cloud.normals.iter_mut().flatten() {
        *normal = turn * *normal;
    }
    if set.mirrored {
        // A face that is mirrored is wound the other way, or its outside would be its inside.
        cloud.faces.iter_mut().for_each(|face| face.swap(1, 2));
    }
    if let (Some(unit), Some(bounds)) = (unit, cloud.bounds()) {
        units::warn_of_extent(&set.file, unit, &bounds, warnings);
    }
    Ok(InMm {
        cloud,
        viewpoint: raw.viewpoint.map(|v| brought(&v)),
        known: Known {
            file: set.file.clone(),
            print,
            unit: scale.unit,
            scale: scale.over_unit,
            points,
            turn,
            unit_said: unit.is_some(),
        },
    })
}

fn surface<F: cloud::Frame>(
    set: &Set,
    cloud: Cloud<F>,
    viewpoint: Option<Point>,
    spacing_mm: f64,
) -> Result<(Surface<F>, Vec<Warning>), Trouble> {
    let trouble = |why| Trouble::no_surface(&set.path, why);
    let area: f64 = cloud
        .faces
        .iter()
        .map(|f| mesh::area(&f.map(|i| cloud.points_mm[i as usize])))
        .sum();
    let coarse = !cloud.faces.is_empty() && (area / cloud.len() as f64).sqrt() > 1.5 * spacing_mm;
    if coarse || (!cloud.faces.is_empty() && cloud.len() < 2_000) {
        let spacing = spacing_mm
            .min((area / 20_000.0).sqrt())
            .max((area / MOST_SPREAD).sqrt());
        return Surface::spread_over(&cloud, spacing)
            .map(|s| (s, Vec::new()))
            .map_err(trouble);
    }
    // A scanner's normals look at the scanner: away from the outside of the part, where the inside was measured.
    let looks_inside = set.face == Some(Face::Inside);
    let (mut surface, warnings) = Surface::new(cloud, viewpoint).map_err(trouble)?;
    if looks_inside {
        for normal in surface.cloud.normals.iter_mut().flatten() {
            *normal = -*normal;
        }
    }
    // The warnings of a surface don't know their file.
    let named = warnings
        .into_iter()
        .map(|w| Warning::new(w.code, format!("{}: {}", set.file, w.words)))
        .collect();
    Ok((surface, named))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn known(unit: Unit, scale: f64, unit_said: bool, up: Up) -> Known {
        Known {
            file: "set.ply".to_string(),
            print: Fingerprint::of_bytes(b""),
            unit,
            scale,
            points: 0,
            turn: up.turn(),
            unit_said,
        }
    }

    #[test]
    fn named_points_follow_their_set() {
        let mut mark = NamedPoint {
            name: "T1".to_string(),
            at_mm: Point::new(25.4, 50.8, 76.2),
        };
        // Read in inches, but the bars alone say what the numbers 1, 2, 3 of this file are: 1.004 mm each.
        known(Unit::Millimetre, 1.004, false, Up::Y).place(&mut mark, Unit::Inch);
        assert!((mark.at_mm - Point::new(1.004, -3.012, 2.008)).norm() < 1e-12);
        // The unit was said, and the bars correct it.
        mark.at_mm = Point::new(1.0, 2.0, 3.0);
        known(Unit::Millimetre, 1.004, true, Up::Z).place(&mut mark, Unit::Millimetre);
        assert!((mark.at_mm - Point::new(1.004, 2.008, 3.012)).norm() < 1e-12);
    }
}
