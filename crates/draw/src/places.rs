//! Named places: a small cross with the name beside it, where nothing else that is drawn needs the room.

use cloud::Point;

use crate::canvas::{Canvas, Face};
use crate::colour::INK;
use crate::ground::Area;
use crate::label::{around, overlap};
use crate::sight::Sight;
use crate::taken::Taken;

/// More names than these would hide the metal.
const MOST: usize = 16;
/// Half of a cross, in pixels.
const ARM: f32 = 8.0;
/// Height of a name, in pixels.
const LINE: f32 = 24.0;
/// White at both sides of a name, in pixels.
const SIDE: f32 = 3.0;
/// How far from its place a name may stand, in pixels: farther out it would stand for another.
const REACHES: [f32; 4] = [6.0, 18.0, 30.0, 42.0];

/// A place by its name.
#[derive(Debug, Clone, PartialEq)]
pub struct NamedPlace {
    /// What it is called.
    pub name: String,
    /// Where, mm.
    pub at: Point,
}

/// Draws the places that are seen, clear of what is `taken`; one that finds no room for its name is left out, and all are where
/// they are more than 16.
pub fn draw(canvas: &mut Canvas, places: &[NamedPlace], sight: &Sight<'_>, taken: &Taken) {
    if places.len() > MOST {
        return;
    }
    let spots: Vec<(&str, [f32; 2])> = places
        .iter()
        .filter_map(|place| Some((place.name.as_str(), sight.seen(&place.at)?)))
        .filter(|(_, spot)| !taken.hides(&around(*spot, ARM)))
        .collect();
    let mut others: Vec<Area> = spots.iter().map(|(_, spot)| around(*spot, ARM)).collect();
    for (name, spot) in spots {
        let size = [canvas.text_width(LINE, Face::Bold, name) + 2.0 * SIDE, LINE];
        let Some(area) = beside(spot, size, taken, &others) else {
            continue;
        };
        others.push(area);
        cross(canvas, spot);
        let [left, top, width, height] = area;
        canvas.rect([left, top], [width, height], [255, 255, 255], 200, None);
        canvas.text([left + SIDE, top - 2.0], LINE, Face::Bold, INK, name);
    }
}

/// White outside, ink inside, so that it shows on every ground.
fn cross(canvas: &mut Canvas, [x, y]: [f32; 2]) {
    for (width, colour) in [(6.0, [255, 255, 255]), (2.5, INK)] {
        canvas.line([x - ARM, y], [x + ARM, y], width, colour);
        canvas.line([x, y - ARM], [x, y + ARM], width, colour);
    }
}

/// The nearest free box of a size at one of the four corners of a cross.
fn beside(spot: [f32; 2], [width, height]: [f32; 2], taken: &Taken, others: &[Area]) -> Option<Area> {
    let corners = [[1.0, -1.0], [1.0, 1.0], [-1.0, -1.0], [-1.0, 1.0]];
    let mut boxes = REACHES.into_iter().flat_map(|reach| {
        corners.map(|[right, down]: [f32; 2]| {
            [
                spot[0] + right * (reach + width / 2.0) - width / 2.0,
                spot[1] + down * (reach + height / 2.0) - height / 2.0,
                width,
                height,
            ]
        })
    });
    let own = around(spot, ARM);
    boxes
        .find(|area| taken.is_free(area) && others.iter().all(|other| *other == own || !overlap(other, area)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::page;
    use crate::splat::{Drawn, Window};
    use crate::view::View;

    /// Whether a cross was drawn at each of some places on bare paper, a pixel a millimetre.
    fn crosses(at: &[[f64; 2]], taken: &Taken) -> Vec<bool> {
        let window = Window {
            width: page::WINDOW[2],
            height: page::WINDOW[3],
            mm_per_pixel: 1.0,
            middle: [0.0; 2],
        };
        let bare = Drawn {
            colours: Vec::new(),
            heights_mm: vec![f32::NEG_INFINITY; window.width * window.height],
        };
        let sight = Sight {
            view: View::all()[0],
            window,
            corner: [page::area()[0], page::area()[1]],
            drawn: &bare,
            slack_mm: 1.0,
        };
        let [width, height] = page::SIZE;
        let mut canvas = Canvas::new(width, height).unwrap();
        let places: Vec<NamedPlace> = at
            .iter()
            .map(|[x, y]| NamedPlace {
                name: "H1".to_string(),
                at: Point::new(*x, *y, 0.0),
            })
            .collect();
        draw(&mut canvas, &places, &sight, taken);
        at.iter()
            .map(|place| pixel_is_dark(&canvas, &window, *place))
            .collect()
    }

    fn pixel_is_dark(canvas: &Canvas, window: &Window, place: [f64; 2]) -> bool {
        let [x, y] = page::on_sheet(window, place);
        canvas.pixel(x as u32, y as u32).unwrap()[1] < 80
    }

    #[test]
    fn a_place_has_a_cross_unless_a_label_lies_on_it_or_they_are_too_many() {
        let free = Taken::default();
        assert_eq!(crosses(&[[0.0, 0.0], [300.0, 100.0]], &free), [true, true]);
        let label = Taken {
            boxes: vec![[700.0, 650.0, 200.0, 140.0]],
            ..Taken::default()
        };
        assert_eq!(crosses(&[[0.0, 0.0], [300.0, 100.0]], &label), [false, true]);
        let many: Vec<[f64; 2]> = (0..17).map(|k| [60.0 * f64::from(k) - 480.0, 0.0]).collect();
        assert_eq!(crosses(&many, &free), [false; 17]);
        assert_eq!(crosses(&many[1..], &free), [true; 16]);
    }

    #[test]
    fn a_name_stands_clear_of_rings_and_of_other_names() {
        let spot = [800.0, 700.0];
        let size = [30.0, 24.0];
        let free = Taken::default();
        let first = beside(spot, size, &free, &[]).unwrap();
        assert_eq!(first, [806.0, 670.0, 30.0, 24.0]);
        let second = beside(spot, size, &free, &[first]).unwrap();
        assert!(!overlap(&first, &second), "{second:?}");
        let ringed = Taken {
            rings: vec![around(spot, 16.0)],
            ..Taken::default()
        };
        let outside = beside(spot, size, &ringed, &[]).unwrap();
        assert!(!overlap(&outside, &around(spot, 16.0)), "{outside:?}");
    }
}
