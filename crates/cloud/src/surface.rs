//! A set made ready to be set and compared: sorted, cleaned, with a normal at every point and a search over all.

use rayon::prelude::*;

use crate::normals::{self, Facet, RIM};
use crate::survey::{Survey, survey};
use crate::{Body, Cloud, Frame, Mirror, Motion, Near, Point, Scan, Vector, Warning, mesh, orient, stray};

/// A set of frame `F` with everything that is worked out once.
pub struct Surface<F> {
    /// Points along a space-filling curve, with unit normals at every one; mesh faces where the file had them.
    pub cloud: Cloud<F>,
    /// Finds neighbours among the points.
    pub near: Near,
    /// Which points lie on the rim of their sheet.
    pub rim: Vec<bool>,
    /// Side of the square that each point has to itself, mm.
    pub spacing_mm: f64,
    /// Standard deviation of the points off the local surface, mm.
    pub noise_mm: f64,
    /// Whether the file or a viewpoint says which side is out; if not, the sign is a guess.
    pub sides_known: bool,
    /// Points that repeat another exactly, left out.
    pub repeats: usize,
    /// Points that belong to no surface, left out.
    pub strays: usize,
}

/// Why no surface could be made of a set.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum NoSurface {
    /// Fewer points than a surface needs.
    #[error("only {0} different points; a surface needs at least {FEWEST_POINTS}")]
    TooFew(usize),
    /// All points in one place.
    #[error("all points in one place")]
    OnePlace,
    /// All points on one line.
    #[error("all points on one line")]
    OnALine,
}

/// Fewest points of which a surface is made.
pub const FEWEST_POINTS: usize = 30;

impl<F: Frame> Surface<F> {
    /// Makes a set ready: along the curve, repeats and strays out, normals from the file where it has them, else from
    /// the faces, else from the neighbours (turned to `viewpoint`, else to agree with each other).
    ///
    /// # Errors
    /// Where the points are too few or have no extent in two directions.
    pub fn new(cloud: Cloud<F>, viewpoint: Option<Point>) -> Result<(Self, Vec<Warning>), NoSurface> {
        let mut warnings = Vec::new();
        let is_mesh = !cloud.faces.is_empty();
        let (mut cloud, mut repeats) = in_order(cloud);
        let mut strays = 0;
        if !is_mesh {
            let keep: Vec<bool> = stray::far_off(&cloud.points_mm).iter().map(|far| !far).collect();
            strays = keep.iter().filter(|keep| !**keep).count();
            if strays > 0 {
                let (close, more) = in_order(cloud.keep(&keep));
                (cloud, repeats) = (close, repeats + more);
            }
        }
        refuse_flat(&cloud, repeats)?;
        let mut near = Near::new(&cloud.points_mm);
        let Survey { spacing_mm, noise_mm } = survey(&cloud.points_mm, &near);
        let radius = normals::usual_radius_mm(spacing_mm);
        let mut facets = normals::at_each(&cloud.points_mm, &near, radius);
        if !is_mesh {
            let maybe = |i: usize| facets[i].neighbours < CROWDED;
            let stray = stray::strays(&cloud.points_mm, &near, spacing_mm, &maybe);
            let found = stray.iter().filter(|s| **s).count();
            strays += found;
            if found > 0 {
                (cloud, near, facets) = without(&cloud, &near, &facets, &stray, radius);
                refuse_flat(&cloud, repeats)?;
            }
        }
        let rim: Vec<bool> = facets.par_iter().map(|f| f.off_middle > RIM).collect();
        let mut sides_known = true;
        if cloud.normals.is_none() && is_mesh {
            cloud.normals = Some(mesh::vertex_normals(&cloud.points_mm, &cloud.faces));
        }
        match &mut cloud.normals {
            Some(given) => {
                // The file says the side; the neighbours say the direction, since many programs write it coarsely.
                let doubtful = given
                    .par_iter_mut()
                    .zip(&facets)
                    .filter_map(|(given, facet)| {
                        let cosine = given.dot(&facet.normal);
                        if !is_mesh {
                            *given = if cosine < 0.0 { -facet.normal } else { facet.normal };
                        }
                        (cosine.abs() < 0.5).then_some(())
                    })
                    .count();
                if doubtful * 5 > cloud.points_mm.len() {
                    warnings.push(Warning::new(
                        "normals-doubtful",
                        format!(
                            "{:.0} % of the normals in the file stand more than 60° off the surface; only their side is used",
                            100.0 * doubtful as f64 / cloud.points_mm.len() as f64
                        ),
                    ));
                }
            }
            None => {
                let mut normals: Vec<Vector> = facets.par_iter().map(|f| f.normal).collect();
                match &viewpoint {
                    Some(viewpoint) => orient::to_viewpoint(&cloud.points_mm, &mut normals, viewpoint),
                    None => {
                        orient::consistently(&cloud.points_mm, &mut normals);
                        sides_known = false;
                    }
                }
                cloud.normals = Some(normals);
            }
        }
        if repeats > 0 && !is_mesh {
            warnings.push(Warning::new(
                "repeated-points",
                format!("{repeats} points repeat another exactly and were left out"),
            ));
        }
        if strays > 0 {
            warnings.push(Warning::new(
                "stray-points",
                format!(
                    "{strays} points ({:.1} %) belong to no surface and were left out",
                    100.0 * strays as f64 / (strays + cloud.len()) as f64
                ),
            ));
        }
        Ok((
            Self {
                cloud,
                near,
                rim,
                spacing_mm,
                noise_mm,
                sides_known,
                repeats,
                strays,
            },
            warnings,
        ))
    }

    /// A mesh whose corners lie wide apart, as points about `spacing_mm` apart spread over its faces, with the faces'
    /// normals: exact, so there is no noise.
    ///
    /// # Errors
    /// Where the faces have no extent.
    pub fn spread_over(mesh_cloud: &Cloud<F>, spacing_mm: f64) -> Result<Self, NoSurface> {
        let spread = mesh::spread(&mesh_cloud.points_mm, &mesh_cloud.faces, spacing_mm);
        let mut cloud = Cloud::from_points(spread.iter().map(|(p, _)| *p).collect());
        cloud.normals = Some(
            spread
                .iter()
                .map(|(_, face)| {
                    let corners = mesh_cloud.faces[*face as usize].map(|i| mesh_cloud.points_mm[i as usize]);
                    mesh::face_normal(&corners).unwrap_or_else(Vector::z)
                })
                .collect(),
        );
        let cloud = cloud.along_curve();
        refuse_flat(&cloud, 0)?;
        let near = Near::new(&cloud.points_mm);
        let found = survey(&cloud.points_mm, &near);
        let radius = normals::usual_radius_mm(found.spacing_mm);
        let facets = normals::at_each(&cloud.points_mm, &near, radius);
        Ok(Self {
            rim: facets.iter().map(|f| f.off_middle > RIM).collect(),
            cloud,
            near,
            spacing_mm: found.spacing_mm,
            noise_mm: 0.0,
            sides_known: true,
            repeats: 0,
            strays: 0,
        })
    }

    /// The points, mm.
    pub fn points(&self) -> &[Point] {
        &self.cloud.points_mm
    }

    /// The unit normals, one a point.
    pub fn normals(&self) -> &[Vector] {
        self.cloud.normals.as_deref().unwrap_or_default()
    }

    /// Turns every normal to the other side of the sheet.
    pub fn turn_sides(&mut self) {
        for normal in self.cloud.normals.iter_mut().flatten() {
            *normal = -*normal;
        }
    }

    /// The surface on some of its points, which have `spacing_mm` squared to themselves; the search is made anew.
    pub fn picked(&self, indices: &[u32], spacing_mm: f64) -> Self {
        let cloud = self.cloud.pick(indices);
        Self {
            near: Near::new(&cloud.points_mm),
            cloud,
            rim: indices.iter().map(|&i| self.rim[i as usize]).collect(),
            spacing_mm,
            noise_mm: self.noise_mm,
            sides_known: self.sides_known,
            repeats: 0,
            strays: 0,
        }
    }

    /// The mirror image, point for point, without faces; the search is made anew.
    pub fn mirrored(&self, mirror: &Mirror) -> Self {
        let mut cloud = mirror.cloud(&self.cloud);
        cloud.faces.clear();
        Self {
            near: Near::new(&cloud.points_mm),
            cloud,
            rim: self.rim.clone(),
            spacing_mm: self.spacing_mm,
            noise_mm: self.noise_mm,
            sides_known: self.sides_known,
            repeats: 0,
            strays: 0,
        }
    }

    /// The surface moved into another frame; the search is made anew.
    pub fn moved<G: Frame>(&self, to_from: &Motion<F, G>) -> Surface<G> {
        let cloud = self.cloud.moved(to_from);
        Surface {
            near: Near::new(&cloud.points_mm),
            cloud,
            rim: self.rim.clone(),
            spacing_mm: self.spacing_mm,
            noise_mm: self.noise_mm,
            sides_known: self.sides_known,
            repeats: self.repeats,
            strays: self.strays,
        }
    }
}

impl Surface<Scan> {
    /// Declares that this surface is the reference: see [`Cloud::taken_as_body`].
    pub fn taken_as_body(self) -> Surface<Body> {
        Surface {
            cloud: self.cloud.taken_as_body(),
            near: self.near,
            rim: self.rim,
            spacing_mm: self.spacing_mm,
            noise_mm: self.noise_mm,
            sides_known: self.sides_known,
            repeats: self.repeats,
            strays: self.strays,
        }
    }
}

/// The set along the curve, without points that repeat another exactly, and how many of these there were. The corners of a mesh
/// may well coincide or lie far apart, which is not a scanner's doing: they all stay.
fn in_order<F: Frame>(cloud: Cloud<F>) -> (Cloud<F>, usize) {
    let sorted = cloud.along_curve();
    let repeated = stray::repeats_along_curve(&sorted.points_mm);
    let repeats = repeated.iter().filter(|r| **r).count();
    if repeats == 0 || !sorted.faces.is_empty() {
        return (sorted, repeats);
    }
    let keep: Vec<bool> = repeated.iter().map(|r| !r).collect();
    (sorted.keep(&keep), repeats)
}

/// Twenty neighbours are usual within the radius of the normals; a stray has fewer than this.
const CROWDED: u32 = 16;

/// The set without its strays, its search made anew, and the facets that a stray had a part in taken again.
fn without<F: Frame>(
    cloud: &Cloud<F>,
    near: &Near,
    facets: &[Facet],
    stray: &[bool],
    radius_mm: f64,
) -> (Cloud<F>, Near, Vec<Facet>) {
    let mut touched = vec![false; cloud.len()];
    for (point, _) in cloud.points_mm.iter().zip(stray).filter(|(_, stray)| **stray) {
        near.visit_within(point, radius_mm, |n| touched[n.index as usize] = true);
    }
    let keep: Vec<bool> = stray.iter().map(|s| !s).collect();
    let kept = cloud.keep(&keep);
    let near = Near::new(&kept.points_mm);
    let stayed = || (0..keep.len()).filter(|&i| keep[i]);
    let mut facets: Vec<Facet> = stayed().map(|i| facets[i]).collect();
    let again: Vec<usize> = stayed()
        .enumerate()
        .filter(|(_, old)| touched[*old])
        .map(|(new, _)| new)
        .collect();
    let at: Vec<Point> = again.iter().map(|&i| kept.points_mm[i]).collect();
    for (i, facet) in again
        .iter()
        .zip(normals::from_neighbours(&at, &kept.points_mm, &near, radius_mm))
    {
        facets[*i] = facet;
    }
    (kept, near, facets)
}

fn refuse_flat<F: Frame>(cloud: &Cloud<F>, repeats: usize) -> Result<(), NoSurface> {
    let Some(bounds) = cloud.bounds() else {
        return Err(NoSurface::TooFew(0));
    };
    if bounds.diagonal() <= 0.0 {
        return Err(if cloud.len() + repeats > 1 {
            NoSurface::OnePlace
        } else {
            NoSurface::TooFew(cloud.len())
        });
    }
    if cloud.faces.is_empty() && cloud.len() < FEWEST_POINTS {
        return Err(NoSurface::TooFew(cloud.len()));
    }
    let centre = bounds.centre();
    let spread: crate::Matrix3 = cloud
        .points_mm
        .iter()
        .map(|p| (p - centre) * (p - centre).transpose())
        .sum();
    let mean: Vector = cloud.points_mm.iter().map(|p| p - centre).sum::<Vector>();
    let n = cloud.len() as f64;
    let [_, middle, largest] = crate::eigen::eigenvalues(&(spread / n - mean * mean.transpose() / (n * n)));
    if middle.max(0.0).sqrt() < 1e-5 * largest.sqrt() {
        return Err(NoSurface::OnALine);
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Scan;

    fn refused(points: Vec<Point>) -> NoSurface {
        match Surface::<Scan>::new(Cloud::from_points(points), None) {
            Ok(_) => panic!("taken"),
            Err(why) => why,
        }
    }

    #[test]
    fn what_is_no_surface_is_refused_with_its_reason() {
        assert_eq!(refused(vec![]), NoSurface::TooFew(0));
        assert_eq!(refused(vec![Point::origin(); 100]), NoSurface::OnePlace);
        let line = (0..100)
            .map(|i| Point::new(f64::from(i), 2.0 * f64::from(i), 1e4))
            .collect();
        assert_eq!(refused(line), NoSurface::OnALine);
        let three = vec![
            Point::origin(),
            Point::new(1.0, 0.0, 0.0),
            Point::new(0.0, 1.0, 0.0),
        ];
        assert_eq!(refused(three), NoSurface::TooFew(3));
    }

    /// An empty row stands at the origin, a million kilometres from the sheet; with it in the set no spacing could be told.
    #[test]
    fn one_point_beyond_all_measure_spoils_nothing() {
        let sheet = (0..2500).map(|i| Point::new(1e12 + f64::from(i % 50), f64::from(i / 50), 0.0));
        let twice = sheet.clone().take(7);
        let points: Vec<Point> = [Point::origin()].into_iter().chain(sheet).chain(twice).collect();
        let (surface, _) = Surface::<Scan>::new(Cloud::from_points(points), None).unwrap();
        assert_eq!(
            (surface.strays, surface.repeats, surface.points().len()),
            (1, 7, 2500)
        );
        assert!((surface.spacing_mm - 1.0).abs() < 0.1, "{}", surface.spacing_mm);
    }
}
