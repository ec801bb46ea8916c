//! How the lines of a cut are drawn: what is out of the limit by its side, what was not seen broken, what is missing hollow.

use crate::canvas::{Canvas, Pen};
use crate::colour::{self, INK, PAPER, Rgb};
use crate::lines;
use crate::magnified::Sample;

/// The reference line.
pub(super) const SHOULD_BE: Rgb = [120, 120, 120];

/// How a place of the measured line stands to the limit.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Standing {
    /// Within the limit.
    Within,
    /// Out of it, outward.
    Proud,
    /// Out of it, inward.
    Shy,
    /// Past an end of the reference.
    Past,
}

impl Standing {
    pub(super) fn of(sample: &Sample, limit_mm: f64) -> Self {
        match sample.beside().map(|foot| foot.deviation_mm) {
            None => Self::Past,
            Some(mm) if mm > limit_mm => Self::Proud,
            Some(mm) if mm < -limit_mm => Self::Shy,
            Some(_) => Self::Within,
        }
    }
}

/// The tone of what is out of the limit, stronger than in a heat map: a line must show where an area would be pale.
pub(super) fn tone(standing: Standing, share: f64) -> Option<Rgb> {
    let t = 0.3 + 0.7 * share;
    match standing {
        Standing::Proud => Some(colour::beyond(t)),
        Standing::Shy => Some(colour::beyond(-t)),
        Standing::Within | Standing::Past => None,
    }
}

/// A stretch out of the limit: its tone between ink, dots on it where proud and strokes across it where shy. Nothing is
/// drawn where it is not out.
pub(super) fn out_of_limit(
    canvas: &mut Canvas,
    spots: &[[f32; 2]],
    tones: &[Rgb],
    standing: Standing,
    marked: &[usize],
) {
    if tones.is_empty() {
        return;
    }
    canvas.polyline(spots, &Pen::solid(13.0, INK));
    for (ends, tone) in spots.windows(2).zip(tones) {
        canvas.polyline(ends, &Pen::solid(8.0, *tone));
    }
    for &i in marked {
        let (before, after) = (spots[i.saturating_sub(1)], spots[(i + 1).min(spots.len() - 1)]);
        let (dx, dy) = (after[0] - before[0], after[1] - before[1]);
        let arm = 13.0 / dx.hypot(dy).max(1e-3);
        let at = spots[i];
        if standing == Standing::Proud {
            canvas.disc(at, 9.0, INK);
        } else {
            let (from, to) = (
                [at[0] + arm * dy, at[1] - arm * dx],
                [at[0] - arm * dy, at[1] + arm * dx],
            );
            canvas.line(from, to, 4.5, INK);
        }
    }
}

/// A stretch of the reference that was not seen: broken, and hatched across as in the heat maps.
pub(super) fn not_seen(canvas: &mut Canvas, run: &[[f32; 2]]) {
    for (at, way) in lines::along(run, 16.0) {
        let slant = [17.0 * (way[0] - way[1]), 17.0 * (way[1] + way[0])];
        let (from, to) = (
            [at[0] - slant[0], at[1] - slant[1]],
            [at[0] + slant[0], at[1] + slant[1]],
        );
        canvas.line(from, to, 3.0, SHOULD_BE);
    }
    canvas.polyline(run, &Pen::square(13.0, PAPER));
    let dashed = Pen {
        dash: Some([14.0, 10.0]),
        ..Pen::square(9.0, SHOULD_BE)
    };
    canvas.polyline(run, &dashed);
}

/// A stretch of the reference beside which the measured set ends: hollow, and hatched crosswise as in the heat maps.
pub(super) fn missing(canvas: &mut Canvas, run: &[[f32; 2]]) {
    for (at, way) in lines::along(run, 18.0) {
        for side in [1.0, -1.0] {
            let slant = [15.0 * (way[0] - side * way[1]), 15.0 * (way[1] + side * way[0])];
            let (from, to) = (
                [at[0] - slant[0], at[1] - slant[1]],
                [at[0] + slant[0], at[1] + slant[1]],
            );
            canvas.line(from, to, 3.0, SHOULD_BE);
        }
    }
    canvas.polyline(run, &Pen::square(13.0, SHOULD_BE));
    canvas.polyline(run, &Pen::square(7.0, PAPER));
}

/// Which places lie so far apart along the reference, the first among them.
pub(super) fn spread(samples: &[Sample], every_mm: f64) -> Vec<usize> {
    let mut last: Option<(usize, f64)> = None;
    let mut found = Vec::new();
    for (i, sample) in samples.iter().enumerate() {
        if let Some(foot) = sample.beside()
            && last.is_none_or(|(line, mm)| line != foot.line || (foot.along_mm - mm).abs() >= every_mm)
        {
            last = Some((foot.line, foot.along_mm));
            found.push(i);
        }
    }
    found
}
