//! Labels that point at spots: each stands clear of the others and of the spots, as near as it can.

use crate::canvas::{Canvas, Face};
use crate::colour::INK;

/// Height of a line of a label in pixels.
const LINE: f32 = 30.0;
const PAD: f32 = 9.0;

/// Radius of a ring where the spot has no size of its own, in pixels.
pub const USUAL_RING: f32 = 16.0;

/// A label before it has a place.
pub struct Label {
    /// The spot, in pixels of the sheet.
    pub spot: [f32; 2],
    /// Radius of the ring around it, in pixels.
    pub radius: f32,
    /// First line, bold; then the others.
    pub lines: Vec<String>,
}

/// A box in pixels: left, top, width, height.
type Area = [f32; 4];

fn overlap(a: &Area, b: &Area) -> bool {
    a[0] < b[0] + b[2] && b[0] < a[0] + a[2] && a[1] < b[1] + b[3] && b[1] < a[1] + a[3]
}

/// Draws rings, leaders and labels within `area`. A label that finds no place is left out; its ring stays.
pub fn draw(canvas: &mut Canvas, labels: &[Label], area: Area) {
    for label in labels {
        canvas.ring(label.spot, label.radius, INK);
    }
    let mut taken: Vec<Area> = labels
        .iter()
        .map(|l| {
            let r = l.radius + 6.0;
            [l.spot[0] - r, l.spot[1] - r, 2.0 * r, 2.0 * r]
        })
        .collect();
    for label in labels {
        let width = label
            .lines
            .iter()
            .enumerate()
            .map(|(i, line)| canvas.text_width(LINE, face(i), line))
            .fold(0.0, f32::max)
            + 2.0 * PAD;
        let height = LINE * label.lines.len() as f32 + 2.0 * PAD;
        let Some(place) = place(label.spot, label.radius, [width, height], &taken, area) else {
            continue;
        };
        taken.push(place);
        let nearest = [
            label.spot[0].clamp(place[0], place[0] + width),
            label.spot[1].clamp(place[1], place[1] + height),
        ];
        let (dx, dy) = (nearest[0] - label.spot[0], nearest[1] - label.spot[1]);
        let length = dx.hypot(dy).max(1.0);
        let start = [
            label.spot[0] + dx / length * label.radius,
            label.spot[1] + dy / length * label.radius,
        ];
        canvas.line(start, nearest, 6.0, [255, 255, 255]);
        canvas.line(start, nearest, 3.0, INK);
        canvas.rect(
            [place[0], place[1]],
            [width, height],
            [255, 255, 255],
            240,
            Some(INK),
        );
        for (i, line) in label.lines.iter().enumerate() {
            canvas.text(
                [place[0] + PAD, place[1] + PAD - 3.0 + LINE * i as f32],
                LINE,
                face(i),
                INK,
                line,
            );
        }
    }
}

fn face(line: usize) -> Face {
    if line == 0 { Face::Bold } else { Face::Regular }
}

/// The nearest free place for a box of `size` around `spot`.
fn place(spot: [f32; 2], radius: f32, size: [f32; 2], taken: &[Area], area: Area) -> Option<Area> {
    let middle = [area[0] + area[2] / 2.0, area[1] + area[3] / 2.0];
    let outward = (spot[1] - middle[1]).atan2(spot[0] - middle[0]);
    for ring in 0..14 {
        let reach = radius + 39.0 + 42.0 * ring as f32;
        for k in 0..16 {
            // Outward first, then to both sides in turn.
            let turn = if k % 2 == 0 { k / 2 } else { -(k + 1) / 2 };
            let angle = outward + std::f32::consts::TAU * turn as f32 / 16.0;
            let (dx, dy) = (angle.cos(), angle.sin());
            let centre = [
                spot[0] + dx * (reach + size[0] / 2.0 * dx.abs()),
                spot[1] + dy * (reach + size[1] / 2.0 * dy.abs()),
            ];
            let box_ = [
                centre[0] - size[0] / 2.0,
                centre[1] - size[1] / 2.0,
                size[0],
                size[1],
            ];
            let inside = box_[0] >= area[0]
                && box_[1] >= area[1]
                && box_[0] + size[0] <= area[0] + area[2]
                && box_[1] + size[1] <= area[1] + area[3];
            let grown = [box_[0] - 6.0, box_[1] - 6.0, size[0] + 12.0, size[1] + 12.0];
            if inside && taken.iter().all(|t| !overlap(t, &grown)) {
                return Some(box_);
            }
        }
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn labels_stay_inside_and_apart() {
        let area = [0.0, 0.0, 1000.0, 700.0];
        let mut taken: Vec<Area> = Vec::new();
        for k in 0..12 {
            let spot = [480.0 + 5.0 * k as f32, 350.0];
            let found = place(spot, USUAL_RING, [220.0, 60.0], &taken, area).unwrap();
            assert!(taken.iter().all(|t| !overlap(t, &found)));
            assert!(found[0] >= 0.0 && found[0] + found[2] <= 1000.0);
            taken.push(found);
        }
    }
}
