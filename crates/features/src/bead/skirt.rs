//! What lies around a relief: whether it comes down to the sheet on all sides, and how steeply.
//!
//! From points on the border of the relief at half depth one walks outward until the height is under a quarter of the depth
//! (back on the sheet), and inward until it is over three quarters. A bead comes down on both sides; what stands along a
//! region's edge, or on one side of a step in the sheet, does not.

use super::sheet::{Flat, Sheet};

/// Farthest that a relief may take from half depth down to the sheet, mm (1-1/4 in): a bow takes longer.
const FARTHEST_MM: f64 = 31.75;
/// Shares of the depth where the sheet begins and the top does.
pub(super) const SHEET: f64 = 0.25;
const TOP: f64 = 0.75;
/// Neighbours within this many spacings tell the border, where their middle lies off by this share of it.
const LOOK: f64 = 3.0;
const ONE_SIDED: f64 = 0.25;
/// Points that are asked whether they lie on the border, and walks that are made.
const ASKED: usize = 2000;
const WALKS: usize = 400;

/// What was found around a relief.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Skirt {
    /// Share of its border from which the sheet is reached.
    pub closed: f64,
    /// Way across the border from a quarter of the depth to three quarters, mm, median.
    pub run_mm: f64,
}

/// Walks around the points `of` of a sheet, which are `depth_mm` high (below 0: sunk). `None` where no walk comes down.
pub(super) fn around(sheet: &Sheet, of: &[u32], depth_mm: f64) -> Option<Skirt> {
    let mut inside = vec![false; sheet.len()];
    for &i in of {
        inside[i as usize] = true;
    }
    let reach = LOOK * sheet.spacing_mm;
    let thin = of.len().div_ceil(ASKED).max(1);
    let border: Vec<(Flat, Flat)> = of
        .iter()
        .step_by(thin)
        .filter_map(|&i| {
            let at = sheet.flat[i as usize];
            let (mut sum, mut count) = (Flat::zeros(), 0u32);
            sheet.visit_within(&at, reach, |n| {
                if inside[n] {
                    sum += sheet.flat[n] - at;
                    count += 1;
                }
            });
            let off = sum / f64::from(count.max(1));
            let norm = off.norm();
            (norm > ONE_SIDED * reach).then(|| (at, -off / norm))
        })
        .collect();
    let walk = Walk {
        sheet,
        sign: depth_mm.signum(),
        depth_mm: depth_mm.abs(),
        step_mm: (sheet.spacing_mm / 4.0).max(1.0),
    };
    let thin = border.len().div_ceil(WALKS).max(1);
    let (mut walks, mut closed, mut runs) = (0u32, 0u32, Vec::new());
    for (at, outward) in border.iter().step_by(thin) {
        walks += 1;
        let Some(out) = walk.to(at, outward, |height, depth| height.abs() < SHEET * depth) else {
            continue;
        };
        closed += 1;
        runs.extend(
            walk.to(at, &-outward, |height, depth| height > TOP * depth)
                .map(|inward| out + inward),
        );
    }
    (!runs.is_empty()).then(|| Skirt {
        closed: f64::from(closed) / f64::from(walks.max(1)),
        run_mm: cloud::statistics::median(&mut runs),
    })
}

struct Walk<'a> {
    sheet: &'a Sheet,
    sign: f64,
    depth_mm: f64,
    step_mm: f64,
}

impl Walk<'_> {
    /// How far from `from` along `way` the nearest point first meets `there(height, depth)`; `None` where it does not, or
    /// where nothing is seen over two spacings.
    fn to(&self, from: &Flat, way: &Flat, there: impl Fn(f64, f64) -> bool) -> Option<f64> {
        let spacing = self.sheet.spacing_mm;
        let mut empty: f64 = 0.0;
        for k in 0..=(FARTHEST_MM / self.step_mm) as u32 {
            let far = f64::from(k) * self.step_mm;
            match self.sheet.nearest(&(from + way * far), 1.5 * spacing) {
                Some(i) if there(self.sign * self.sheet.height_mm[i], self.depth_mm) => return Some(far),
                Some(_) => empty = 0.0,
                None => {
                    empty += self.step_mm;
                    if empty > 2.0 * spacing {
                        return None;
                    }
                }
            }
        }
        None
    }
}
