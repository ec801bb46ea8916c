//! What the looker sees of a place: where it lies on the sheet, and whether metal hides it.

use cloud::Point;

use crate::splat::{Drawn, Window};
use crate::view::View;

/// Metal as it was drawn, looked at place by place.
pub struct Sight<'a> {
    /// From where.
    pub view: View,
    /// Where on the paper.
    pub window: Window,
    /// The window's upper left corner on the sheet, in pixels.
    pub corner: [f32; 2],
    /// The metal.
    pub drawn: &'a Drawn,
    /// How far below the highest metal a place may lie and still be seen, mm.
    pub slack_mm: f64,
}

impl Sight<'_> {
    /// The pixel of the sheet at which a place lies; `None` outside the window.
    pub fn spot(&self, at: &Point) -> Option<[f32; 2]> {
        let [right, up, _] = self.view.project(at);
        let [x, y] = self.window.pixel(right, up);
        let within = |v: f64, size: usize| v >= 0.0 && v < size as f64;
        (within(x, self.window.width) && within(y, self.window.height))
            .then(|| [self.corner[0] + x as f32, self.corner[1] + y as f32])
    }

    /// The same where nothing hides the place.
    pub fn seen(&self, at: &Point) -> Option<[f32; 2]> {
        let spot = self.spot(at)?;
        let [_, _, toward] = self.view.project(at);
        (self.height_mm(spot) <= toward + self.slack_mm).then_some(spot)
    }

    /// The height toward the looker of what is drawn at a pixel of the sheet, mm; −∞ on bare paper.
    pub fn height_mm(&self, spot: [f32; 2]) -> f64 {
        let (x, y) = (spot[0] - self.corner[0], spot[1] - self.corner[1]);
        if x < 0.0 || y < 0.0 || x as usize >= self.window.width || y as usize >= self.window.height {
            return f64::NEG_INFINITY;
        }
        f64::from(self.drawn.heights_mm[y as usize * self.window.width + x as usize])
    }
}
