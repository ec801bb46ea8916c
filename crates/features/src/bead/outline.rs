//! The outline of a relief at half depth: where it lies, which way it runs, whether it is seen to its ends.

use super::Kind;
use super::curved::follow::follow;
use super::least::{Row, least_squares};
use super::relief::Outline;
use super::sheet::{Flat, Sheet};
use super::skirt;
use cloud::statistics::rms;

/// A bead is longer than this many widths.
pub(super) const BEAD: f64 = 3.0;
/// Steepness (tangent) from which metal is pressed and not bowed or dented: a bead is long, which no dent is.
const PRESSED_BEAD: f64 = 0.12;
const PRESSED_RECESS: f64 = 0.3;
/// The edge of a dent or of a bow may bend like a bead, but not so steeply.
const PRESSED_CURVED: f64 = 0.2;
/// Points that stray this much farther from the middle line than those of a strip of the width show that it is none.
const STRAYS: f64 = 1.25;
/// Only a bead longer than this many widths is asked whether it bends, and bends from this share of its width on, mm at least.
const BENDS_FROM: f64 = 6.0;
const BENT: f64 = 0.25;
const BENT_MM: f64 = 3.0;
/// A bead whose middle line leans more than this against its axis (tangent, 27 degrees) is read square to the line: its length
/// along the axis is too short by a tenth then, the width from its area too wide by as much, and what strays is held against
/// that width.
const LEANS: f64 = 0.5;
/// Length of metal looked for beyond an end, mm (3/4 in), and the share of the points it should have for the end to be one.
const BEYOND_MM: f64 = 19.05;
const SEEN: f64 = 0.25;
/// Widest gap that two pieces of a bead are joined over where nothing is seen between them, mm (six inches).
const GAP_MM: f64 = 152.4;

/// The middle line of a bead: how far across it lies at a place along.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Midline {
    coefficients: Row,
    half_mm: f64,
}

impl Midline {
    /// The straight line through the middle of a bead that is `length_mm` long.
    pub fn straight(length_mm: f64) -> Self {
        Self {
            coefficients: Row::zeros(),
            half_mm: (length_mm / 2.0).max(1.0),
        }
    }

    /// The line through places (along, across): straight, or a polynomial of the fourth degree where it bends.
    pub fn through(&self, places: &[(f64, f64, f64)], straight: bool) -> Option<Self> {
        let terms = if straight { 2 } else { 5 };
        let coefficients = least_squares(places.iter().map(|(along, across, weight)| {
            let mut row = self.row(*along);
            row.iter_mut().skip(terms).for_each(|c| *c = 0.0);
            (row, *across, *weight)
        }))?;
        Some(Self {
            coefficients,
            ..*self
        })
    }

    fn row(&self, along_mm: f64) -> Row {
        let t = along_mm / self.half_mm;
        Row::from([1.0, t, t * t, t * t * t, t * t * t * t])
    }

    /// How far across it lies, mm.
    pub fn at(&self, along_mm: f64) -> f64 {
        self.row(along_mm).dot(&self.coefficients)
    }

    /// How it leans against the long axis, mm per mm.
    pub fn lean(&self, along_mm: f64) -> f64 {
        self.at(along_mm + 0.5) - self.at(along_mm - 0.5)
    }

    /// This line with what another, of the same bead, adds.
    pub fn and(&self, more: &Self) -> Self {
        Self {
            coefficients: self.coefficients + more.coefficients,
            ..*self
        }
    }
}

impl Outline {
    /// The outline of the points `of` (at half depth or more) of a relief that is `depth_mm` deep (below 0: sunk). `None`
    /// where it comes down to the sheet nowhere.
    pub(super) fn around(sheet: &Sheet, of: Vec<u32>, depth_mm: f64) -> Option<Self> {
        let skirt = skirt::around(sheet, &of, depth_mm)?;
        let places = || of.iter().map(|&i| sheet.flat[i as usize]);
        let middle = places().sum::<Flat>() / of.len() as f64;
        let (mut xx, mut xy, mut yy): (f64, f64, f64) = (0.0, 0.0, 0.0);
        for d in places().map(|p| p - middle) {
            xx += d.x * d.x;
            xy += d.x * d.y;
            yy += d.y * d.y;
        }
        let angle = 0.5 * (2.0 * xy).atan2(xx - yy);
        let axis = pointing(sheet, Flat::new(angle.cos(), angle.sin()));
        let side = Flat::new(-axis.y, axis.x);
        let (mut low, mut high) = (Flat::repeat(f64::INFINITY), Flat::repeat(f64::NEG_INFINITY));
        for d in places().map(|p| p - middle) {
            let laid = Flat::new(d.dot(&axis), d.dot(&side));
            (low, high) = (low.inf(&laid), high.sup(&laid));
        }
        let middle = middle + axis * ((low.x + high.x) / 2.0);
        let length_mm = high.x - low.x;
        let across_mm = high.y - low.y;
        let area_mm2 = of.len() as f64 * sheet.spacing_mm.powi(2);
        let width_mm = stadium_width(area_mm2, length_mm).min(across_mm);
        let kind = if length_mm > BEAD * width_mm {
            Kind::Bead
        } else {
            Kind::Recess
        };
        let least = match kind {
            Kind::Bead => PRESSED_BEAD,
            Kind::Recess => PRESSED_RECESS,
        };
        let g = sheet.base.slope(&middle);
        let along = sheet.lie.direction(&axis, g.dot(&axis)).normalize();
        let up = sheet.lie.direction(&-g, 1.0).normalize();
        let mut outline = Self {
            kind,
            at: sheet.lie.point(&middle, sheet.base.at(&middle)),
            along,
            up,
            length_mm,
            width_mm,
            depth_mm,
            straight: true,
            open: [false; 2],
            pressed: depth_mm.abs() / 2.0 / skirt.run_mm >= least,
            skirt,
            area_mm2,
            middle,
            axis,
            across_mm,
            midline: Midline::straight(length_mm),
            followed: None,
            points: of,
        };
        outline.open = [-1.0, 1.0].map(|end: f64| {
            let out = outline.axis * end;
            runs_out(
                sheet,
                &(outline.middle + out * (length_mm / 2.0)),
                &out,
                outline.width_mm,
            )
        });
        outline.bend(sheet);
        outline.follow(sheet);
        Some(outline)
    }

    /// The direction across, on the plane.
    pub(super) fn side(&self) -> Flat {
        Flat::new(-self.axis.y, self.axis.x)
    }

    /// A place on the plane as (along, across) from the middle, mm.
    pub(super) fn laid(&self, at: &Flat) -> (f64, f64) {
        let d = at - self.middle;
        (d.dot(&self.axis), d.dot(&self.side()))
    }

    /// Whether a place lies on it, or no farther beside it than `beyond_mm`.
    pub(super) fn covers(&self, at: &Flat, beyond_mm: f64) -> bool {
        let (along, across) = self.laid(at);
        if along.abs() >= self.length_mm / 2.0 + beyond_mm {
            return false;
        }
        if let Some(followed) = &self.followed {
            return across.abs() < self.across_mm + beyond_mm
                && followed.passes_mm(at) < self.width_mm / 2.0 + beyond_mm;
        }
        let half_width = match self.kind {
            Kind::Bead => self.width_mm / 2.0,
            Kind::Recess => self.across_mm / 2.0,
        };
        (across - self.midline.at(along)).abs() < half_width + beyond_mm
    }

    /// The place at a share of the way from its first end to its last, and so far across from its middle line.
    pub(super) fn place(&self, share: f64, across_mm: f64) -> Flat {
        if let Some(followed) = &self.followed {
            return followed.place(share, across_mm);
        }
        let along = self.length_mm * (share - 0.5);
        self.middle + self.axis * along + self.side() * (self.midline.at(along) + across_mm)
    }

    /// Follows the middle line of a relief that is no strip along one axis.
    fn follow(&mut self, sheet: &Sheet) {
        if !self.is_told_by_its_axis(sheet) {
            self.follow_bends(sheet);
        }
    }

    /// Follows its middle line wherever it is a strip along one, so that it can be held against one that was followed.
    pub(super) fn follow_bends(&mut self, sheet: &Sheet) {
        let Some(followed) = follow(sheet, &self.points, self.depth_mm) else {
            return;
        };
        self.kind = Kind::Bead;
        self.straight = false;
        self.width_mm = followed.width_mm;
        self.pressed = self.depth_mm.abs() / 2.0 / self.skirt.run_mm >= PRESSED_CURVED;
        self.open = if followed.line.closed {
            [false; 2]
        } else {
            followed
                .ends()
                .map(|(tip, out)| runs_out(sheet, &tip, &out, followed.width_mm))
        };
        self.followed = Some(followed);
    }

    /// Whether one middle line, so far across from the axis at each place along it, tells how it runs.
    fn is_told_by_its_axis(&self, sheet: &Sheet) -> bool {
        let off: Vec<f64> = self
            .points
            .iter()
            .map(|&i| self.laid(&sheet.flat[i as usize]))
            .map(|(along, across)| across - self.midline.at(along))
            .collect();
        let steepest = self
            .looked_at()
            .map(|along| self.midline.lean(along).abs())
            .fold(0.0, f64::max);
        steepest <= LEANS && rms(&off) <= STRAYS * self.width_mm / 12.0_f64.sqrt()
    }

    /// Places along the axis that its bend is looked at.
    fn looked_at(&self) -> impl Iterator<Item = f64> {
        let step = self.length_mm / 20.0;
        (-10..=10).map(move |k| f64::from(k) * step)
    }

    /// Takes the bend of a long bead from its points.
    fn bend(&mut self, sheet: &Sheet) {
        if self.kind != Kind::Bead || self.length_mm < BENDS_FROM * self.width_mm {
            return;
        }
        let places: Vec<(f64, f64, f64)> = self
            .points
            .iter()
            .map(|&i| self.laid(&sheet.flat[i as usize]))
            .map(|(along, across)| (along, across, 1.0))
            .collect();
        let (Some(line), Some(curve)) = (
            self.midline.through(&places, true),
            self.midline.through(&places, false),
        ) else {
            return;
        };
        let most = self
            .looked_at()
            .map(|along| (curve.at(along) - line.at(along)).abs())
            .fold(0.0, f64::max);
        self.straight = most < (BENT * self.width_mm).max(BENT_MM);
        self.midline = if self.straight { line } else { curve };
    }

    /// The whole of which this and `other` are pieces: in line, alike, and parted by a step that is too short to be seen or
    /// by metal that is not seen. `None` where they are not.
    pub(super) fn joined_with(&self, other: &Self, sheet: &Sheet) -> Option<Self> {
        let (long, short) = if self.length_mm < other.length_mm {
            (other, self)
        } else {
            (self, other)
        };
        if long.kind != Kind::Bead
            || long.followed.is_some()
            || short.followed.is_some()
            || long.depth_mm * short.depth_mm < 0.0
            || (long.depth_mm - short.depth_mm).abs() > 0.3 * long.depth_mm.abs()
            || !(0.6..1.6).contains(&(short.width_mm / long.width_mm))
            || (short.kind == Kind::Bead && short.axis.dot(&long.axis).abs() < 0.98)
        {
            return None;
        }
        let (along, across) = long.laid(&short.middle);
        let gap = along.abs() - (long.length_mm + short.length_mm) / 2.0;
        if across.abs() > 0.3 * long.width_mm + 0.01 * along.abs() || gap > GAP_MM {
            return None;
        }
        let facing = usize::from(along > 0.0);
        let back = usize::from((-long.axis * along).dot(&short.axis) > 0.0);
        let unseen = long.open[facing] && short.open[back];
        if !unseen && gap > (6.0 * sheet.spacing_mm).max(long.width_mm) {
            return None;
        }
        let mut points = [long.points.as_slice(), short.points.as_slice()].concat();
        points.sort_unstable();
        points.dedup();
        let mut whole = Self::around(sheet, points, long.depth_mm)?;
        // The gap has no area: the pieces tell the width.
        whole.width_mm = long.width_mm;
        whole.kind = Kind::Bead;
        whole.pressed = long.pressed;
        whole.skirt = long.skirt;
        Some(whole)
    }
}

/// Whether nothing (or other metal) is seen beyond the end `tip` of a relief, in the direction `out` of it.
fn runs_out(sheet: &Sheet, tip: &Flat, out: &Flat, width_mm: f64) -> bool {
    let half_width = (width_mm / 4.0).max(sheet.spacing_mm);
    let from = 1.5 * sheet.spacing_mm;
    let centre = tip + out * (from + BEYOND_MM / 2.0);
    let mut seen = 0;
    sheet.visit_within(&centre, half_width.hypot(BEYOND_MM / 2.0), |i| {
        let d = sheet.flat[i] - tip;
        let inside = (from..from + BEYOND_MM).contains(&d.dot(out)) && out.perp(&d).abs() < half_width;
        seen += usize::from(inside && !sheet.rim[i]);
    });
    let expected = 2.0 * half_width * BEYOND_MM / sheet.spacing_mm.powi(2);
    (seen as f64) < SEEN * expected
}

/// The direction or its opposite: the one that points rearward, to the right or up, whichever it does most.
pub(super) fn pointing(sheet: &Sheet, axis: Flat) -> Flat {
    let along = sheet.lie.direction(&axis, 0.0);
    axis * along[along.iamax()].signum()
}

/// Width of a strip with round ends from its area and its length.
pub(super) fn stadium_width(area_mm2: f64, length_mm: f64) -> f64 {
    let length = length_mm.max(f64::MIN_POSITIVE);
    let mut width = area_mm2 / length;
    for _ in 0..8 {
        width = (area_mm2 + (1.0 - std::f64::consts::FRAC_PI_4) * width * width) / length;
    }
    width
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_strip_with_round_ends_gives_its_width() {
        let area = 84.0 * 16.0 + std::f64::consts::PI * 64.0;
        assert!(
            (stadium_width(area, 100.0) - 16.0).abs() < 0.05,
            "{}",
            stadium_width(area, 100.0)
        );
    }

    #[test]
    fn a_bent_middle_line_is_followed_and_leans() {
        let places: Vec<(f64, f64, f64)> = (-50..=50)
            .map(|k| f64::from(k) * 10.0)
            .map(|s| (s, 1.0 + 0.01 * s + 20.0 * (s / 500.0).powi(2), 1.0))
            .collect();
        let line = Midline::straight(1000.0).through(&places, false).unwrap();
        assert!((line.at(250.0) - 8.5).abs() < 1e-6 && (line.lean(0.0) - 0.01).abs() < 1e-6);
        let straight = Midline::straight(1000.0).through(&places, true).unwrap();
        assert!((straight.lean(300.0) - 0.01).abs() < 1e-6);
    }
}
