//! A set of points, all finite, in millimetres, with what came with them.

use std::marker::PhantomData;

use rayon::prelude::*;

use crate::{Body, Bounds, Frame, Motion, Point, Scan, Vector};

/// A set of points of frame `F`: n points, with n unit normals or none, and the faces of a mesh or none.
#[derive(Debug, Clone, PartialEq)]
pub struct Cloud<F> {
    /// The points; every coordinate is finite.
    pub points_mm: Vec<Point>,
    /// Unit normals, one a point, or none at all.
    pub normals: Option<Vec<Vector>>,
    /// Triangles by point index; empty where the set is points only.
    pub faces: Vec<[u32; 3]>,
    /// The row of the file (from 0) that each point came from.
    pub rows: Vec<u32>,
    frame: PhantomData<F>,
}

impl<F: Frame> Cloud<F> {
    /// A set from points alone; the rows are counted up.
    pub fn from_points(points_mm: Vec<Point>) -> Self {
        let rows = (0..points_mm.len() as u32).collect();
        Self {
            points_mm,
            normals: None,
            faces: Vec::new(),
            rows,
            frame: PhantomData,
        }
    }

    /// How many points there are.
    pub fn len(&self) -> usize {
        self.points_mm.len()
    }

    /// Whether there are none.
    pub fn is_empty(&self) -> bool {
        self.points_mm.is_empty()
    }

    /// The box around the points; `None` where there are none.
    pub fn bounds(&self) -> Option<Bounds> {
        Bounds::of(&self.points_mm)
    }

    /// The points at `indices`, in that order, with their normals and rows. Faces are dropped.
    pub fn pick(&self, indices: &[u32]) -> Self {
        let points_mm = indices.par_iter().map(|&i| self.points_mm[i as usize]).collect();
        let normals = self.normals.as_ref().map(|normals| {
            indices
                .par_iter()
                .map(|&i| normals[i as usize])
                .collect::<Vec<_>>()
        });
        let rows = indices.iter().map(|&i| self.rows[i as usize]).collect();
        Self {
            points_mm,
            normals,
            faces: Vec::new(),
            rows,
            frame: PhantomData,
        }
    }

    /// The points for which `keep` says yes, in their order, with the faces whose three corners all stay.
    pub fn keep(&self, keep: &[bool]) -> Self {
        let indices: Vec<u32> = (0..self.len() as u32).filter(|&i| keep[i as usize]).collect();
        let mut kept = self.pick(&indices);
        kept.faces = renumbered_faces(&self.faces, &indices, self.len());
        kept
    }

    /// The same points in the order in which a space-filling curve meets them, so that neighbours lie together in memory.
    pub fn along_curve(&self) -> Self {
        let order = crate::curve::order(&self.points_mm);
        let mut sorted = self.pick(&order);
        sorted.faces = renumbered_faces(&self.faces, &order, self.len());
        sorted
    }

    /// The set moved into another frame.
    pub fn moved<G: Frame>(&self, to_from: &Motion<F, G>) -> Cloud<G> {
        Cloud {
            points_mm: self.points_mm.par_iter().map(|p| to_from.apply(p)).collect(),
            normals: self
                .normals
                .as_ref()
                .map(|n| n.par_iter().map(|n| to_from.turn(n)).collect()),
            faces: self.faces.clone(),
            rows: self.rows.clone(),
            frame: PhantomData,
        }
    }
}

impl Cloud<Scan> {
    /// Declares that this set is the reference: its own frame is the body's. The only door between the two without a motion.
    pub fn taken_as_body(self) -> Cloud<Body> {
        Cloud {
            points_mm: self.points_mm,
            normals: self.normals,
            faces: self.faces,
            rows: self.rows,
            frame: PhantomData,
        }
    }
}

fn renumbered_faces(faces: &[[u32; 3]], order: &[u32], len: usize) -> Vec<[u32; 3]> {
    if faces.is_empty() {
        return Vec::new();
    }
    let mut new_of_old = vec![u32::MAX; len];
    for (new, &old) in order.iter().enumerate() {
        new_of_old[old as usize] = new as u32;
    }
    faces
        .iter()
        .map(|face| face.map(|i| new_of_old[i as usize]))
        .filter(|face| face.iter().all(|&i| i != u32::MAX))
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn keeping_points_keeps_the_faces_that_are_whole() {
        let mut cloud: Cloud<Scan> =
            Cloud::from_points((0..4).map(|i| Point::new(f64::from(i), 0.0, 0.0)).collect());
        cloud.faces = vec![[0, 1, 2], [1, 2, 3]];
        let kept = cloud.keep(&[false, true, true, true]);
        assert_eq!(kept.faces, vec![[0, 1, 2]]);
        assert_eq!(kept.rows, vec![1, 2, 3]);
    }
}
