//! The sheet without its relief: what a panel's crown and bow are, drawn under its beads and through its recesses.
//!
//! Over cells of half an inch a polynomial of the first to fourth degree is fitted to the cells' medians with graduated
//! weights (Blake & Zisserman 1987, *Visual Reconstruction*: a weight that begins as wide as the residuals and narrows, so
//! that beads over a third of a floor don't lead it), and the degree is raised only while clearly more cells come to lie on
//! it. Then a running plane over a foot follows what the polynomial leaves, with the cells that stand off left out.

use cloud::Vector;
use cloud::bisquare::{TUKEY, bisquare};
use cloud::statistics::{median, rms};
use nalgebra::{SMatrix, SVector};
use rayon::prelude::*;

use super::sheet::{Flat, extent};

/// Side of a cell, mm (half an inch); no narrower than three spacings.
const CELL_MM: f64 = 12.7;
/// Most cells along a side.
const MOST_CELLS: f64 = 200.0;
/// Coefficients of a polynomial of the first to fourth degree.
const TERMS: [usize; 4] = [3, 6, 10, 15];
/// A higher degree is taken where this much more of the cells lies on it.
const WORTH: f64 = 0.03;
/// Rounds of the graduated fit, and what the scale shrinks by in each.
const ROUNDS: usize = 40;
const SHRINK: f64 = 0.8;
/// Reach of the running plane, mm (six inches).
const RUNNING_MM: f64 = 152.4;
/// Cells that stand off farther than this get no weight in the running plane, mm, round after round.
const CUTS_MM: [f64; 3] = [3.0, 2.0, 1.5];
/// Share of the weight that must be left for a running plane to be believed.
const BELIEVED: f64 = 0.2;

type Terms = SVector<f64, 15>;

/// One cell that holds points.
struct Patch {
    cell: usize,
    middle: Flat,
    rise_mm: f64,
    /// What the running plane adds: at its middle, and per mm along the two directions.
    plane: [f64; 3],
}

/// The sheet without its relief, as heights over the plane.
pub(super) struct Base {
    low: Flat,
    cell_mm: f64,
    wide: usize,
    tall: usize,
    middle: Flat,
    half: Flat,
    polynomial: Terms,
    /// The patch of each cell; none is `NONE`.
    patch: Vec<u32>,
    patches: Vec<Patch>,
    /// Share of the cells that lie on it.
    pub level: f64,
}

const NONE: u32 = u32::MAX;

impl Base {
    /// Draws the base under points at `flat` with heights `rise_mm`. `None` where they have no extent.
    pub fn under(flat: &[Flat], rise_mm: &[f64], spacing_mm: f64, noise_mm: f64) -> Option<Self> {
        let (low, high) = extent(flat)?;
        let size = high - low;
        let cell_mm = CELL_MM.max(3.0 * spacing_mm).max(size.max() / MOST_CELLS);
        let mut base = Self {
            low,
            cell_mm,
            wide: (size.x / cell_mm) as usize + 1,
            tall: (size.y / cell_mm) as usize + 1,
            middle: (low + high) / 2.0,
            half: size.map(|s| (s / 2.0).max(1.0)),
            polynomial: Terms::zeros(),
            patch: Vec::new(),
            patches: Vec::new(),
            level: 0.0,
        };
        base.gather(flat, rise_mm);
        let near_mm = (4.0 * noise_mm).max(0.5);
        base.polynomial = base.best_polynomial(near_mm, (2.0 * noise_mm).max(0.25))?;
        let rest = base.rest();
        let last_cut = (4.0 * noise_mm).max(0.8);
        let planes: Vec<[f64; 3]> = (0..base.patches.len())
            .into_par_iter()
            .map(|k| base.running(k, &rest, last_cut))
            .collect();
        for (patch, plane) in base.patches.iter_mut().zip(planes) {
            patch.plane = plane;
        }
        let rest = base.rest();
        let on = rest.iter().filter(|r| r.abs() < 2.0 * near_mm).count();
        base.level = on as f64 / rest.len().max(1) as f64;
        Some(base)
    }

    /// Height of the base over the plane, mm.
    pub fn at(&self, p: &Flat) -> f64 {
        self.row(p).dot(&self.polynomial) + self.running_at(p)
    }

    /// How the base rises along the two directions of the plane.
    pub fn slope(&self, p: &Flat) -> Flat {
        let rise = |d: Flat| (self.row(&(p + d)) - self.row(&(p - d))).dot(&self.polynomial) / 2.0;
        let plane = self.patch_of(p).map_or([0.0; 3], |patch| patch.plane);
        Flat::new(
            rise(Flat::new(1.0, 0.0)) + plane[1],
            rise(Flat::new(0.0, 1.0)) + plane[2],
        )
    }

    fn running_at(&self, p: &Flat) -> f64 {
        self.patch_of(p).map_or(0.0, |patch| {
            let d = p - patch.middle;
            patch.plane[0] + patch.plane[1] * d.x + patch.plane[2] * d.y
        })
    }

    fn patch_of(&self, p: &Flat) -> Option<&Patch> {
        let number = self.patch[self.cell_of(p)];
        (number != NONE).then(|| &self.patches[number as usize])
    }

    fn cell_of(&self, p: &Flat) -> usize {
        let along =
            |at: f64, low: f64, count: usize| (((at - low) / self.cell_mm).max(0.0) as usize).min(count - 1);
        along(p.y, self.low.y, self.tall) * self.wide + along(p.x, self.low.x, self.wide)
    }

    /// Sorts the points into cells and takes the median of each.
    fn gather(&mut self, flat: &[Flat], rise_mm: &[f64]) {
        let mut keyed: Vec<(usize, u32)> = flat
            .par_iter()
            .enumerate()
            .map(|(i, p)| (self.cell_of(p), i as u32))
            .collect();
        keyed.par_sort_unstable();
        self.patch = vec![NONE; self.wide * self.tall];
        for cell in keyed.chunk_by(|a, b| a.0 == b.0) {
            let mut rises: Vec<f64> = cell.iter().map(|(_, i)| rise_mm[*i as usize]).collect();
            let sum: Flat = cell.iter().map(|(_, i)| flat[*i as usize]).sum();
            self.patch[cell[0].0] = self.patches.len() as u32;
            self.patches.push(Patch {
                cell: cell[0].0,
                middle: sum / cell.len() as f64,
                rise_mm: median(&mut rises),
                plane: [0.0; 3],
            });
        }
    }

    fn row(&self, p: &Flat) -> Terms {
        let (x, y) = (
            (p.x - self.middle.x) / self.half.x,
            (p.y - self.middle.y) / self.half.y,
        );
        let (xx, xy, yy) = (x * x, x * y, y * y);
        Terms::from([
            1.0,
            x,
            y,
            xx,
            xy,
            yy,
            xx * x,
            xx * y,
            x * yy,
            yy * y,
            xx * xx,
            xx * xy,
            xx * yy,
            xy * yy,
            yy * yy,
        ])
    }

    /// What the cells' medians stand off the base as it is.
    fn rest(&self) -> Vec<f64> {
        self.patches
            .iter()
            .map(|patch| patch.rise_mm - self.row(&patch.middle).dot(&self.polynomial) - patch.plane[0])
            .collect()
    }

    fn best_polynomial(&self, near_mm: f64, end_mm: f64) -> Option<Terms> {
        let rows: Vec<Terms> = self.patches.iter().map(|patch| self.row(&patch.middle)).collect();
        let mut best: Option<(f64, Terms)> = None;
        for terms in TERMS {
            if terms > TERMS[0] && self.patches.len() < 4 * terms {
                break;
            }
            let Some(polynomial) = self.graduated(&rows, terms, end_mm) else {
                break;
            };
            let on = rows
                .iter()
                .zip(&self.patches)
                .filter(|(row, patch)| (patch.rise_mm - row.dot(&polynomial)).abs() < near_mm)
                .count();
            let share = on as f64 / rows.len() as f64;
            if best.as_ref().is_none_or(|(most, _)| share > most + WORTH) {
                best = Some((share, polynomial));
            }
        }
        best.map(|(_, polynomial)| polynomial)
    }

    fn graduated(&self, rows: &[Terms], terms: usize, end_mm: f64) -> Option<Terms> {
        let mut polynomial = Terms::zeros();
        let mut scale = f64::INFINITY;
        for _ in 0..ROUNDS {
            let mut matrix = SMatrix::<f64, 15, 15>::identity() * (1e-9 * rows.len() as f64);
            let mut right = Terms::zeros();
            for (row, patch) in rows.iter().zip(&self.patches) {
                let weight = bisquare(patch.rise_mm - row.dot(&polynomial), TUKEY * scale);
                if weight > 0.0 {
                    let mut row = *row;
                    row.iter_mut().skip(terms).for_each(|c| *c = 0.0);
                    let weighted = row * weight;
                    matrix += weighted * row.transpose();
                    right += weighted * patch.rise_mm;
                }
            }
            polynomial = matrix.cholesky()?.solve(&right);
            scale = if scale.is_finite() {
                (scale * SHRINK).max(end_mm)
            } else {
                let rest: Vec<f64> = rows
                    .iter()
                    .zip(&self.patches)
                    .map(|(row, patch)| patch.rise_mm - row.dot(&polynomial))
                    .collect();
                rms(&rest).max(end_mm)
            };
        }
        Some(polynomial)
    }

    /// The running plane about the patch number `k` through what the polynomial leaves; nothing where too few cells agree.
    fn running(&self, k: usize, rest: &[f64], last_cut_mm: f64) -> [f64; 3] {
        let centre = &self.patches[k];
        let reach = (RUNNING_MM / self.cell_mm) as usize + 1;
        let (x, y) = (centre.cell % self.wide, centre.cell / self.wide);
        // Row of the plane, weight by distance (Cleveland 1979, JASA 74, 829-836), what is left.
        let mut around: Vec<(Vector, f64, f64)> = Vec::new();
        for b in y.saturating_sub(reach)..(y + reach + 1).min(self.tall) {
            for a in x.saturating_sub(reach)..(x + reach + 1).min(self.wide) {
                let number = self.patch[b * self.wide + a];
                if number == NONE {
                    continue;
                }
                let d = (self.patches[number as usize].middle - centre.middle) / RUNNING_MM;
                let kernel = (1.0 - d.norm().powi(3)).max(0.0).powi(3);
                if kernel > 0.0 {
                    around.push((Vector::new(1.0, d.x, d.y), kernel, rest[number as usize]));
                }
            }
        }
        let all: f64 = around.iter().map(|(_, kernel, _)| kernel).sum();
        let mut plane = Vector::zeros();
        for cut in CUTS_MM.into_iter().chain([last_cut_mm]) {
            let (mut matrix, mut right) = (cloud::Matrix3::zeros(), Vector::zeros());
            let (mut left, mut count): (f64, usize) = (0.0, 0);
            for (row, kernel, rest) in &around {
                let weight = kernel * bisquare(rest - row.dot(&plane), cut);
                if weight > 0.0 {
                    matrix += row * row.transpose() * weight;
                    right += row * (weight * rest);
                    left += weight;
                    count += 1;
                }
            }
            // Too little to lean on along a thin row of cells must not tip it.
            matrix[(1, 1)] += 1e-5 * left;
            matrix[(2, 2)] += 1e-5 * left;
            match matrix.cholesky() {
                Some(solver) if left >= BELIEVED * all && count >= 6 => plane = solver.solve(&right),
                _ => return [0.0; 3],
            }
        }
        [plane.x, plane.y / RUNNING_MM, plane.z / RUNNING_MM]
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A floor of 1200 × 480 mm, crowned by 4.8 mm and level at its edges, with beads 6 mm high over a third of it.
    #[test]
    fn beads_over_a_third_of_a_crowned_floor_do_not_lift_it() {
        let crown = |p: &Flat| {
            let hump = |t: f64| 0.5 * (1.0 + (std::f64::consts::PI * t).cos());
            4.8 * hump(p.x / 600.0 - 1.0) * hump(p.y / 240.0 - 1.0)
        };
        let flat: Vec<Flat> = (0..36_000)
            .map(|i| Flat::new(f64::from(i % 300) * 4.0, f64::from(i / 300) * 4.0))
            .collect();
        let rise: Vec<f64> = flat
            .iter()
            .map(|p| {
                crown(p)
                    + if (40.0..80.0).contains(&(p.y % 120.0)) {
                        6.0
                    } else {
                        0.0
                    }
            })
            .collect();
        let base = Base::under(&flat, &rise, 4.0, 0.1).unwrap();
        let worst = flat
            .iter()
            .map(|p| (base.at(p) - crown(p)).abs())
            .fold(0.0, f64::max);
        assert!(worst < 1.2, "{worst}");
        let mut off: Vec<f64> = flat.iter().map(|p| (base.at(p) - crown(p)).abs()).collect();
        assert!(median(&mut off) < 0.2, "{}", median(&mut off));
        assert!((base.level - 2.0 / 3.0).abs() < 0.12, "{}", base.level);
        // Half way up, the crown is steepest.
        let p = Flat::new(300.0, 240.0);
        let expected = 4.8 * std::f64::consts::PI / 2.0 / 600.0;
        assert!((base.slope(&p).x - expected).abs() < 0.004, "{}", base.slope(&p));
    }
}
