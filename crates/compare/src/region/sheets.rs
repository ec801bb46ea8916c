//! Sheets whose sides were guessed, turned whole to the outside that the boxes on them declare.
//!
//! A guess is made consistent over each sheet before it gets here. Turning only what lies in a box would break that: the same
//! floor would read proud inside of the box and shy beside it. So the boxes vote for the whole of each sheet.

use cloud::{Near, Point, Surface, Vector};
use rayon::prelude::*;

/// Most points of which it is worked out what hangs together; the others belong with the nearest of these that faces alike.
const MOST_NODES: usize = 40_000;
/// Neighbours over which metal hangs together.
const LINKS: usize = 10;
/// Least cosine between the normals of neighbours in one sheet (60 degrees): beyond a sharper fold the side is a guess of its own.
const ALIKE: f64 = 0.5;
/// How many nodes near a point are asked whether they face alike.
const ASKED: usize = 4;

/// Of every point the sheet that it belongs to, and of every sheet the separate piece of metal.
pub(super) struct Sheets {
    of_point: Vec<u32>,
    piece_of: Vec<u32>,
}

impl Sheets {
    /// What hangs together in a surface.
    pub fn of<F: cloud::Frame>(surface: &Surface<F>) -> Self {
        let (points, normals) = (surface.points(), surface.normals());
        let step = points.len().div_ceil(MOST_NODES).max(1);
        let nodes: Vec<u32> = (0..points.len() as u32).step_by(step).collect();
        let at: Vec<Point> = nodes.iter().map(|&i| points[i as usize]).collect();
        let facing: Vec<Vector> = nodes.iter().map(|&i| normals[i as usize]).collect();
        let near = Near::new(&at);
        let links: Vec<Vec<u32>> = at
            .par_iter()
            .map(|p| near.nearest_n(p, LINKS + 1).iter().map(|n| n.index).collect())
            .collect();
        let (mut sheets, mut pieces) = (Joined::new(at.len()), Joined::new(at.len()));
        for (node, linked) in links.iter().enumerate() {
            for &next in linked {
                pieces.join(node as u32, next);
                if facing[node].dot(&facing[next as usize]) > ALIKE {
                    sheets.join(node as u32, next);
                }
            }
        }
        let of_node = sheets.firsts();
        let piece_of = pieces.firsts();
        let of_point = points
            .par_iter()
            .zip(normals.par_iter())
            .with_min_len(1024)
            .map(|(point, normal)| {
                let around = near.nearest_n(point, ASKED);
                let alike = around
                    .iter()
                    .find(|n| facing[n.index as usize].dot(normal) > ALIKE);
                let node = alike.or(around.first()).map_or(0, |n| n.index);
                of_node[node as usize]
            })
            .collect();
        Self { of_point, piece_of }
    }

    /// Which points must be turned, and the share of points whose sheet no box decides. `votes` has for each point whether
    /// a box decides it, and if so, whether it must be turned. A sheet of no box follows the piece of metal that it hangs on.
    pub fn turned(&self, votes: &[Option<bool>]) -> (Vec<bool>, f64) {
        let mut of_sheet = vec![Votes::default(); self.piece_of.len()];
        let mut of_piece = of_sheet.clone();
        for (&sheet, vote) in self.of_point.iter().zip(votes) {
            if let Some(turn) = *vote {
                of_sheet[sheet as usize].add(turn);
                of_piece[self.piece_of[sheet as usize] as usize].add(turn);
            }
        }
        let mut undecided = 0usize;
        let turned = self
            .of_point
            .iter()
            .map(|&sheet| {
                let own = of_sheet[sheet as usize];
                undecided += usize::from(own.asked == 0);
                match own.asked {
                    0 => of_piece[self.piece_of[sheet as usize] as usize].turn(),
                    _ => own.turn(),
                }
            })
            .collect();
        (turned, undecided as f64 / self.of_point.len().max(1) as f64)
    }
}

/// How many points were asked, and how many of them must be turned.
#[derive(Debug, Clone, Copy, Default)]
struct Votes {
    asked: usize,
    turned: usize,
}

impl Votes {
    fn add(&mut self, turn: bool) {
        self.asked += 1;
        self.turned += usize::from(turn);
    }

    fn turn(self) -> bool {
        2 * self.turned > self.asked
    }
}

/// Things that are joined two at a time; each knows one that came before it in its group.
struct Joined(Vec<u32>);

impl Joined {
    fn new(count: usize) -> Self {
        Self((0..count as u32).collect())
    }

    fn first(&mut self, mut of: u32) -> u32 {
        while self.0[of as usize] != of {
            // Halving the way keeps it short.
            self.0[of as usize] = self.0[self.0[of as usize] as usize];
            of = self.0[of as usize];
        }
        of
    }

    fn join(&mut self, one: u32, other: u32) {
        let (one, other) = (self.first(one), self.first(other));
        self.0[one.max(other) as usize] = one.min(other);
    }

    /// Of each the first of its group.
    fn firsts(mut self) -> Vec<u32> {
        (0..self.0.len() as u32).map(|k| self.first(k)).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_joined_has_one_first() {
        let mut joined = Joined::new(6);
        for (one, other) in [(5, 4), (4, 2), (1, 3)] {
            joined.join(one, other);
        }
        assert_eq!(joined.firsts(), [0, 1, 2, 1, 2, 2]);
    }

    #[test]
    fn a_sheet_is_turned_by_most_of_its_votes_and_one_without_follows_its_piece() {
        // Two sheets of one piece, and one apart.
        let sheets = Sheets {
            of_point: vec![0, 0, 0, 1, 2],
            piece_of: vec![0, 0, 2],
        };
        let votes = [Some(true), Some(true), Some(false), None, None];
        let (turned, undecided) = sheets.turned(&votes);
        assert_eq!(turned, [true, true, true, true, false]);
        assert!((undecided - 0.4).abs() < 1e-12);
    }
}
