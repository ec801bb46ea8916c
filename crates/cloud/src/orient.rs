//! Which side of the metal is out: normals turned to a viewpoint, or made to agree with each other.

use std::collections::BinaryHeap;

use rayon::prelude::*;

use crate::{Near, Point, Vector};

/// Turns every normal to the side from which `viewpoint` sees its point.
pub fn to_viewpoint(points: &[Point], normals: &mut [Vector], viewpoint: &Point) {
    for (point, normal) in points.iter().zip(normals) {
        if normal.dot(&(viewpoint - point)) < 0.0 {
            *normal = -*normal;
        }
    }
}

/// Most points for which agreement is worked out; the others follow the nearest of these.
const MOST_NODES: usize = 40_000;
/// Neighbours over which agreement spreads.
const LINKS: usize = 10;

/// Makes the normals of one surface agree with each other, by spreading from its outermost point over the links with
/// the smallest turn first (Hoppe et al. 1992, SIGGRAPH, section 3.3); each separate piece starts for itself, with the
/// normal of its point farthest from the middle of the whole turned outward.
///
/// This is a best guess: on open sheet "out" is a convention, and a region can name its own.
pub fn consistently(points: &[Point], normals: &mut [Vector]) {
    if points.is_empty() {
        return;
    }
    let step = points.len().div_ceil(MOST_NODES);
    let nodes: Vec<u32> = (0..points.len() as u32).step_by(step).collect();
    let at: Vec<Point> = nodes.iter().map(|&i| points[i as usize]).collect();
    let near = Near::new(&at);
    let links: Vec<Vec<u32>> = at
        .par_iter()
        .map(|p| near.nearest_n(p, LINKS + 1).iter().map(|n| n.index).collect())
        .collect();
    let mut facing: Vec<Vector> = nodes.iter().map(|&i| normals[i as usize]).collect();
    let middle = Point::from(at.iter().map(|p| p.coords).sum::<Vector>() / at.len() as f64);
    let mut outermost_first: Vec<u32> = (0..at.len() as u32).collect();
    outermost_first.sort_by(|&a, &b| {
        let from_middle = |i: u32| (at[i as usize] - middle).norm_squared();
        from_middle(b).total_cmp(&from_middle(a)).then(a.cmp(&b))
    });
    let mut settled = vec![false; at.len()];
    let mut heap = BinaryHeap::new();
    for &seed in &outermost_first {
        if settled[seed as usize] {
            continue;
        }
        if facing[seed as usize].dot(&(at[seed as usize] - middle)) < 0.0 {
            facing[seed as usize] = -facing[seed as usize];
        }
        settled[seed as usize] = true;
        spread_from(seed, &links, &facing, &settled, &mut heap);
        while let Some((_, std::cmp::Reverse(node), from)) = heap.pop() {
            if settled[node as usize] {
                continue;
            }
            if facing[node as usize].dot(&facing[from as usize]) < 0.0 {
                facing[node as usize] = -facing[node as usize];
            }
            settled[node as usize] = true;
            spread_from(node, &links, &facing, &settled, &mut heap);
        }
    }
    normals
        .par_iter_mut()
        .zip(points.par_iter())
        .with_min_len(1024)
        .for_each(|(normal, point)| {
            let alike = near
                .nearest(point)
                .map_or(0.0, |n| normal.dot(&facing[n.index as usize]));
            if alike < 0.0 {
                *normal = -*normal;
            }
        });
}

/// Alikeness in steps of 1e-6, so that equal turns are met in a fixed order.
type Link = (u32, std::cmp::Reverse<u32>, u32);

fn spread_from(
    node: u32,
    links: &[Vec<u32>],
    facing: &[Vector],
    settled: &[bool],
    heap: &mut BinaryHeap<Link>,
) {
    for &next in &links[node as usize] {
        if !settled[next as usize] {
            let alike = facing[node as usize].dot(&facing[next as usize]).abs();
            heap.push(((alike * 1e6) as u32, std::cmp::Reverse(next), node));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_closed_ball_is_turned_outward_all_over() {
        let golden = std::f64::consts::PI * (3.0 - 5f64.sqrt());
        let ball: Vec<Point> = (0..2000)
            .map(|i| {
                let z = 1.0 - 2.0 * (f64::from(i) + 0.5) / 2000.0;
                let r = (1.0 - z * z).sqrt();
                let a = golden * f64::from(i);
                Point::new(r * a.cos(), r * a.sin(), z) * 50.0
            })
            .collect();
        let mut normals: Vec<Vector> = ball
            .iter()
            .enumerate()
            .map(|(i, p)| p.coords.normalize() * if i % 3 == 0 { -1.0 } else { 1.0 })
            .collect();
        consistently(&ball, &mut normals);
        assert!(normals.iter().zip(&ball).all(|(n, p)| n.dot(&p.coords) > 0.0));
    }

    #[test]
    fn a_viewpoint_sees_every_normal() {
        let points = [Point::new(1.0, 0.0, 0.0), Point::new(-1.0, 0.0, 0.0)];
        let mut normals = [Vector::x(), Vector::x()];
        to_viewpoint(&points, &mut normals, &Point::origin());
        assert_eq!(normals, [-Vector::x(), Vector::x()]);
    }
}
