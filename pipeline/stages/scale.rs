//! Brings both sets to millimetres, drops what is no place, and makes them ready; the unit is declared, never guessed.

use std::path::Path;

use cloud::{Body, Bounds, Cloud, Scan, Surface, Unit, Vector, Warning, mesh};
use compare::exact::ExactMesh;
use formats::{RawPoints, SourceFile};

use super::load::{Loaded, LoadedSet};
use crate::job::{Comparison, Set};
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
    /// The file and its fingerprint.
    pub source: SourceFile,
    /// The unit it was read in.
    pub unit: Unit,
    /// Points in the file.
    pub points: usize,
}

/// Smallest and largest extent of what is compared here: a bracket, and a shell with room to spare, mm.
const PLAUSIBLE_MM: (f64, f64) = (40.0, 8_000.0);
/// Most points that a coarse mesh is spread over.
const MOST_SPREAD: f64 = 3_000_000.0;

/// Scales and prepares both sets.
pub fn scale(comparison: &Comparison, loaded: Loaded) -> Result<Scaled, Trouble> {
    let mut warnings = Vec::new();
    let reference = to_mm(&comparison.reference, loaded.reference, &mut warnings)?;
    let measured = to_mm(&comparison.measured, loaded.measured, &mut warnings)?;
    warn_of_ratio(comparison, &reference.cloud, &measured.cloud, &mut warnings);
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
                &comparison.reference.path,
                reference.cloud.taken_as_body(),
                reference.viewpoint,
                spacing,
            )
        },
        || {
            surface(
                &comparison.measured.path,
                measured.cloud,
                measured.viewpoint,
                spacing,
            )
        },
    );
    let (reference_surface, more) = reference_surface?;
    warnings.extend(more);
    let (measured_surface, more) = measured_surface?;
    warnings.extend(more);
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
    pub viewpoint: Option<cloud::Point>,
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

/// The unit of a set: what the file itself says, else what was declared.
pub fn unit_of(set: &Set, raw: &RawPoints, warnings: &mut Vec<Warning>) -> Result<Unit, Trouble> {
    match (raw.unit, set.unit) {
        (Some(said), Some(declared)) if said != declared => {
            warnings.push(Warning::new(
                "unit-differs",
                format!(
                    "{}: declared in {declared}, but the file itself says {said}; it was read in {said}",
                    set.path.display()
                ),
            ));
            Ok(said)
        }
        (Some(said), _) => Ok(said),
        (None, Some(declared)) => Ok(declared),
        (None, None) => Err(Trouble::new(format!(
            "{}: the file does not say its unit; declare it (--units mm, cm, m, in or ft; in a job file units = \"mm\" in the [[set]])",
            set.path.display()
        ))),
    }
}

/// Scales one set and drops the rows that are no place.
pub fn to_mm(set: &Set, loaded: LoadedSet, warnings: &mut Vec<Warning>) -> Result<InMm, Trouble> {
    let LoadedSet { raw, source } = loaded;
    let unit = unit_of(set, &raw, warnings)?;
    warnings.extend(raw.warnings.iter().cloned());
    let points = raw.points.len();
    let factor = unit.in_mm();
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
                    set.path.display()
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
                set.path.display()
            ),
        ));
    }
    if cloud.is_empty() {
        return Err(Trouble::new(format!(
            "{}: found no row with three numbers; export it again",
            set.path.display()
        )));
    }
    for point in &mut cloud.points_mm {
        point.coords *= factor;
    }
    if let Some(bounds) = cloud.bounds() {
        warn_of_extent(&set.path, unit, &bounds, warnings);
    }
    Ok(InMm {
        cloud,
        viewpoint: raw.viewpoint.map(|v| v * factor),
        known: Known { source, unit, points },
    })
}

/// Warns where the extent would fit another unit better than the declared one, by name of the ratio.
fn warn_of_extent(path: &Path, unit: Unit, bounds: &Bounds, warnings: &mut Vec<Warning>) {
    let extent = bounds.diagonal();
    let plausible = |mm: f64| (PLAUSIBLE_MM.0..=PLAUSIBLE_MM.1).contains(&mm);
    if plausible(extent) {
        return;
    }
    let fitting: Vec<String> = Unit::ALL
        .into_iter()
        .filter(|other| plausible(extent / unit.in_mm() * other.in_mm()))
        .map(|other| {
            let mm = extent / unit.in_mm() * other.in_mm();
            format!(
                "{other} (ratio {}) it would be {:.0} mm",
                ratio_name(other.in_mm() / unit.in_mm()),
                mm
            )
        })
        .collect();
    let hint = if fitting.is_empty() {
        "no usual unit fits a car's part".to_string()
    } else {
        format!("read in {}", fitting.join(", in "))
    };
    warnings.push(Warning::new(
        "unit-doubtful",
        format!(
            "{}: read in {unit} the set is {} across, which no car's part is; {hint}. Check the unit",
            path.display(),
            if extent >= 1.0 {
                format!("{extent:.0} mm")
            } else {
                format!("{extent:.4} mm")
            }
        ),
    ));
}

/// Warns where the two sets differ in extent by the ratio of two units.
fn warn_of_ratio(
    comparison: &Comparison,
    reference: &Cloud<Scan>,
    measured: &Cloud<Scan>,
    warnings: &mut Vec<Warning>,
) {
    let (Some(a), Some(b)) = (typical_size(reference), typical_size(measured)) else {
        return;
    };
    for ratio in [25.4, 1000.0, 39.37, 304.8, 10.0, 12.0] {
        let found = (a / b).max(b / a);
        let (reference, measured) = (&comparison.reference.name, &comparison.measured.name);
        let (larger, smaller) = if a > b {
            (reference, measured)
        } else {
            (measured, reference)
        };
        if (found / ratio - 1.0).abs() < 0.06 {
            warnings.push(Warning::new(
                "unit-ratio",
                format!(
                    "{larger} is about {ratio} times as large as {smaller} (ratio {}): one of them is in another unit",
                    ratio_name(ratio)
                ),
            ));
        }
    }
}

/// The rms distance from the middle: unlike the extent it does not follow a few strays.
fn typical_size(cloud: &Cloud<Scan>) -> Option<f64> {
    let n = cloud.len() as f64;
    let middle = cloud.points_mm.iter().map(|p| p.coords).sum::<Vector>() / n;
    let square = cloud
        .points_mm
        .iter()
        .map(|p| (p.coords - middle).norm_squared())
        .sum::<f64>()
        / n;
    (square > 0.0).then(|| square.sqrt())
}

/// A ratio of units with its name: `25.4, inches to millimetres`.
fn ratio_name(ratio: f64) -> String {
    let ratio = if ratio < 1.0 { 1.0 / ratio } else { ratio };
    let names = [
        (25.4, "inch and millimetre"),
        (1000.0, "metre and millimetre"),
        (39.37, "metre and inch"),
        (304.8, "foot and millimetre"),
        (10.0, "centimetre and millimetre"),
        (12.0, "foot and inch"),
        (100.0, "metre and centimetre"),
        (2.54, "inch and centimetre"),
    ];
    names
        .iter()
        .find(|(r, _)| (ratio / r - 1.0).abs() < 0.01)
        .map_or_else(|| format!("{ratio:.1}"), |(r, name)| format!("{r}, {name}"))
}

fn surface<F: cloud::Frame>(
    path: &Path,
    cloud: Cloud<F>,
    viewpoint: Option<cloud::Point>,
    spacing_mm: f64,
) -> Result<(Surface<F>, Vec<Warning>), Trouble> {
    let trouble = |why| Trouble::no_surface(path, why);
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
    let (surface, warnings) = Surface::new(cloud, viewpoint).map_err(trouble)?;
    // The warnings of a surface don't know their file.
    let named = warnings
        .into_iter()
        .map(|w| Warning::new(w.code, format!("{}: {}", path.display(), w.words)))
        .collect();
    Ok((surface, named))
}
