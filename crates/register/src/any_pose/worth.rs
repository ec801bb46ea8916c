//! What each point of a set is worth when poses are judged, and how well a pose agrees with both sets.
//!
//! On sheet metal most points say the same: a floor tells how high it is a thousand times over, and the few walls tell all
//! the rest. So a point counts by its statistical leverage, row A⁻¹ rowᵀ with A = Σ rowᵀ row: the sum over the set is the
//! same for each of the six motions, whoever holds it (the weighting form of the geometrically stable sampling of Gelfand,
//! Ikemoto, Rusinkiewicz & Levoy 2003, 3DIM).

use cloud::held::Motions;
use cloud::{Frame, Motion, Point, Surface, Vector, thin};
use rayon::prelude::*;

/// A motion that less than this share of the largest eigenvalue holds is held by noise alone and gives no point worth.
const HELD_BY_NOISE: f64 = 2e-3;
/// No point is worth more than this many times the mean, so that a few ragged ones don't decide.
const MOST_WORTH: f64 = 30.0;
/// Cells no wider than so many spacings would leave nearly every point.
const ALL_OF_THEM: f64 = 1.2;
/// Cells that leave over so many times as many points as were asked for are widened; an even sheet that lies askew in the grid,
/// and its noise, leave up to twice as many.
const MANY_MORE: f64 = 2.5;
const MOST_WIDENED: usize = 4;
/// Normals that part by more than this are not of one surface (cosine of 37°).
pub(super) const ALIKE: f64 = 0.8;

/// Points of a set, thinned, with their normals and what each is worth.
pub struct Sample {
    /// Places, mm.
    pub points: Vec<Point>,
    /// Unit normals.
    pub normals: Vec<Vector>,
    /// What each counts; the mean is about one.
    pub worth: Vec<f64>,
    /// Whether the normals' side is known.
    pub sides_known: bool,
    /// Side of the square that each point has to itself, mm.
    pub spacing_mm: f64,
}

impl Sample {
    /// The surface on about `count` of its points, evenly spread; those on a rim, whose normals are unsure, left out.
    pub fn of<F: Frame>(surface: &Surface<F>, count: f64) -> Self {
        let (mut picked, cell) = evenly(surface, count);
        picked.retain(|&i| !surface.rim[i as usize]);
        let points: Vec<Point> = picked.iter().map(|&i| surface.points()[i as usize]).collect();
        let normals: Vec<Vector> = picked.iter().map(|&i| surface.normals()[i as usize]).collect();
        Self {
            worth: worth(&points, &normals),
            points,
            normals,
            sides_known: surface.sides_known,
            spacing_mm: cell,
        }
    }

    /// About `count` of the points, those that are worth more the more often: systematic sampling, so that the choice is
    /// always the same. All that are picked count alike.
    pub fn by_worth(&self, count: usize) -> Self {
        let total: f64 = self.worth.iter().sum();
        let step = total / count.max(1) as f64;
        let (mut sum, mut next) = (0.0, 0.5 * step);
        let mut picked = Vec::new();
        for (i, worth) in self.worth.iter().enumerate() {
            sum += worth;
            if sum > next {
                picked.push(i);
                while next < sum {
                    next += step;
                }
            }
        }
        Self {
            points: picked.iter().map(|&i| self.points[i]).collect(),
            normals: picked.iter().map(|&i| self.normals[i]).collect(),
            worth: vec![1.0; picked.len()],
            sides_known: self.sides_known,
            spacing_mm: self.spacing_mm,
        }
    }
}

/// About `count` of a surface's points, or all where it has few more, and the side of the square that each has to itself, mm.
///
/// How many a cell of that side leaves goes by the spacing, which is that of the most of the points: where those lie in one
/// dense patch, the rest of the sheet fills many more cells, and they are widened.
pub fn evenly<F: Frame>(surface: &Surface<F>, count: f64) -> (Vec<u32>, f64) {
    let mut cell = side_of(surface, count).max(surface.spacing_mm);
    let mut picked = if cell > ALL_OF_THEM * surface.spacing_mm {
        thin::on_grid(surface.points(), cell)
    } else {
        (0..surface.points().len() as u32).collect()
    };
    for _ in 0..MOST_WIDENED {
        if picked.len() as f64 <= MANY_MORE * count {
            break;
        }
        cell *= (picked.len() as f64 / count).sqrt();
        picked = thin::on_grid(surface.points(), cell);
    }
    (picked, cell)
}

/// The side of a square cell that leaves about `count` points of a surface, mm.
pub fn side_of<F: Frame>(surface: &Surface<F>, count: f64) -> f64 {
    (surface.points().len() as f64 / count).sqrt() * surface.spacing_mm
}

fn worth(points: &[Point], normals: &[Vector]) -> Vec<f64> {
    let leverages = Motions::of(points, normals, 1.0).leverages(points, normals, HELD_BY_NOISE);
    let mean = leverages.iter().sum::<f64>() / leverages.len().max(1) as f64;
    leverages
        .iter()
        .map(|l| (l / mean.max(f64::MIN_POSITIVE)).min(MOST_WORTH))
        .collect()
}

/// What a set says to a pose, as shares of all that its points are worth.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Agreement {
    /// Lies on the other set and faces alike.
    pub on: f64,
    /// Faces alike and lies a quarter inch off or less, as metal does that was moved or pulled.
    pub moved: f64,
    /// Has the other set near, and neither lies on it nor was moved: what speaks against the pose.
    pub against: f64,
}

/// Metal that was worked on is off by up to this, mm (a quarter inch: what bought-in panels are off by, common practice,
/// no source).
const MOVED_MM: f64 = 6.35;
/// What moved metal says for a pose, and what lies across takes from it: metal that faces alike a little off is more
/// often the same metal than not, and a recess that lies across a flat speaks more against a pose than the same metal
/// lying home would speak for it.
const MOVED_COUNTS: f64 = 0.5;
pub(super) const AGAINST_COSTS: f64 = 6.0;

impl Agreement {
    /// What speaks for the pose, less what speaks against it.
    pub fn score(&self) -> f64 {
        self.on + MOVED_COUNTS * self.moved - AGAINST_COSTS * self.against
    }

    /// Of what has a counterpart, the share that lies on it.
    pub fn alike(&self) -> f64 {
        self.on / (self.on + self.moved + self.against).max(f64::MIN_POSITIVE)
    }

    /// Of what has a counterpart, the share that speaks against the pose.
    pub fn contradicted(&self) -> f64 {
        self.against / (self.on + self.moved + self.against).max(f64::MIN_POSITIVE)
    }

    /// Both together.
    pub fn and(self, other: Self) -> Self {
        Self {
            on: self.on + other.on,
            moved: self.moved + other.moved,
            against: self.against + other.against,
        }
    }
}

/// How `from`, when moved, agrees with the surface `onto`: a point that has metal within `near_mm` lies on it where it is
/// off its plane by less than `off_mm` and faces alike; one with nothing near says nothing.
pub fn agreement<F: Frame, G: Frame>(
    from: &Sample,
    onto: &Surface<G>,
    onto_from: &Motion<F, G>,
    near_mm: f64,
    off_mm: f64,
) -> Agreement {
    let signed = from.sides_known && onto.sides_known;
    let moved_mm = MOVED_MM.max(2.0 * off_mm);
    let said = |i: usize| {
        let mut says = Agreement::default();
        let at = onto_from.apply(&from.points[i]);
        let Some(found) = onto.near.nearest_within(&at, near_mm) else {
            return says;
        };
        let j = found.index as usize;
        let normal = onto.normals()[j];
        let cosine = normal.dot(&onto_from.turn(&from.normals[i]));
        let alike = if signed { cosine } else { cosine.abs() } > ALIKE;
        let off = normal.dot(&(at - onto.points()[j])).abs();
        let worth = from.worth[i];
        if alike && off < off_mm {
            says.on = worth;
        } else if alike && off < moved_mm {
            says.moved = worth;
        } else {
            says.against = worth;
        }
        says
    };
    // Blocks of fixed length, summed in order: the same on any number of threads.
    let places: Vec<usize> = (0..from.points.len()).collect();
    let sums: Vec<Agreement> = places
        .par_chunks(1024)
        .map(|block| {
            block
                .iter()
                .map(|&i| said(i))
                .fold(Agreement::default(), Agreement::and)
        })
        .collect();
    let all = sums.into_iter().fold(Agreement::default(), Agreement::and);
    let total: f64 = from.worth.iter().sum::<f64>().max(f64::MIN_POSITIVE);
    Agreement {
        on: all.on / total,
        moved: all.moved / total,
        against: all.against / total,
    }
}
