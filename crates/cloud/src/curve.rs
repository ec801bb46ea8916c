//! The order in which a space-filling curve (Morton 1966) meets points: near in space, near in memory.

use rayon::prelude::*;

use crate::{Bounds, Point};

/// Indices of `points` along the curve; equal cells keep their order, so the answer is always the same.
///
/// The cells are 2⁻²¹ of the largest extent. All points must be finite.
pub fn order(points: &[Point]) -> Vec<u32> {
    let Some(bounds) = Bounds::of(points) else {
        return Vec::new();
    };
    let scale = ((1u64 << 21) - 1) as f64 / bounds.size().max().max(f64::MIN_POSITIVE);
    let mut keyed: Vec<(u64, u32)> = points
        .par_iter()
        .enumerate()
        .map(|(i, point)| {
            let cell = (point - bounds.low) * scale;
            let place = place_of_cell([cell.x as u64, cell.y as u64, cell.z as u64]);
            (place, i as u32)
        })
        .collect();
    keyed.par_sort_unstable();
    keyed.into_iter().map(|(_, i)| i).collect()
}

/// Whether points already come in an order in which neighbours follow each other, as most scanners write them: the mean
/// step from one to the next is under a fiftieth of the extent. Looked at in runs of points spread over the set.
pub fn is_followed(points: &[Point]) -> bool {
    const RUNS: usize = 200;
    const LENGTH: usize = 20;
    let Some(bounds) = Bounds::of(points.iter().step_by(points.len().div_ceil(1000).max(1))) else {
        return true;
    };
    let stride = (points.len() / RUNS).max(1);
    let (mut sum, mut steps) = (0.0, 0usize);
    for run in points.chunks(stride) {
        for pair in run.windows(2).take(LENGTH) {
            sum += (pair[1] - pair[0]).norm();
            steps += 1;
        }
    }
    sum <= 0.02 * bounds.diagonal() * steps as f64
}

/// Where a cell stands along the curve, by its numbers along the three axes, each under 2²¹.
pub(crate) fn place_of_cell([x, y, z]: [u64; 3]) -> u64 {
    spread(x) | spread(y) << 1 | spread(z) << 2
}

/// Puts two empty bits between each of the lowest 21 bits.
fn spread(mut bits: u64) -> u64 {
    for (shift, mask) in [
        (32, 0x001f_0000_0000_ffff),
        (16, 0x001f_0000_ff00_00ff),
        (8, 0x100f_00f0_0f00_f00f),
        (4, 0x10c3_0c30_c30c_30c3),
        (2, 0x1249_2492_4924_9249),
    ] {
        bits = (bits | bits << shift) & mask;
    }
    bits
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn spreading_puts_each_bit_three_apart() {
        for bit in 0..21 {
            assert_eq!(spread(1 << bit), 1 << (3 * bit));
        }
    }

    #[test]
    fn an_order_that_follows_is_known() {
        let followed: Vec<Point> = (0..10_000)
            .map(|i| Point::new(f64::from(i % 100), f64::from(i / 100), 0.0))
            .collect();
        let scattered: Vec<Point> = (0..10_000).map(|i| followed[(i * 7919) % 10_000]).collect();
        assert!(!is_followed(&scattered));
        let along: Vec<Point> = order(&scattered)
            .into_iter()
            .map(|i| scattered[i as usize])
            .collect();
        assert!(is_followed(&along));
    }

    #[test]
    fn the_corners_of_a_cube_come_in_counting_order() {
        let corners: Vec<Point> = (0..8)
            .map(|i| Point::new(f64::from(i & 1), f64::from(i >> 1 & 1), f64::from(i >> 2)))
            .collect();
        assert_eq!(order(&corners), (0..8).collect::<Vec<_>>());
    }
}
