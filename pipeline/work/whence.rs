//! Where a spot is: its coordinates, and how far from the nearest pad or named place, as a man finds it with a rule.

use ::page::words::whence::from_nearest;
use cloud::unit::{MM_PER_INCH, decimal};
use cloud::{NamedPoint, Point};

use crate::stages::checks::place::SeenPlace;

/// `(83.6, 21.4, 28.0) in, from H6: 3-1/2 rearward, 2 up`; the coordinates alone where no place has a name.
pub(super) fn place(at: &Point, pads: &[NamedPoint], places: &[SeenPlace]) -> String {
    let inches = at / MM_PER_INCH;
    let [x, y, z] = [inches.x, inches.y, inches.z].map(|inch| decimal(inch, 1));
    let coordinates = format!("({x}, {y}, {z}) in");
    let mm = |at: &Point| [at.x, at.y, at.z];
    let pads = pads
        .iter()
        .map(|pad| (format!("pad {}", pad.name), mm(&pad.at_mm)));
    let places = places
        .iter()
        .map(|place| (place.name.clone(), mm(&place.reference)));
    match from_nearest(places.chain(pads), mm(at)) {
        Some(way) => format!("{coordinates}, {way}"),
        None => coordinates,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use ::features::shell::Known;

    fn inches(x: f64, y: f64, z: f64) -> Point {
        Point::new(x, y, z) * MM_PER_INCH
    }

    #[test]
    fn a_spot_is_told_from_the_nearest_pad_or_place_beside_its_coordinates() {
        let at = inches(12.0, 20.0, 20.0);
        assert_eq!(place(&at, &[], &[]), "(12.0, 20.0, 20.0) in");
        let pads = [NamedPoint {
            name: "front outer".to_string(),
            at_mm: inches(8.0, 22.0, 20.0),
        }];
        assert_eq!(
            place(&at, &pads, &[]),
            "(12.0, 20.0, 20.0) in, from pad front outer: 4 rearward, 2 to the left"
        );
        let places = [SeenPlace {
            name: "H2".to_string(),
            reference: inches(12.0, 20.0, 19.0),
            measured: inches(12.0, 20.0, 19.5),
            known: Known::alike(0.1),
        }];
        assert_eq!(place(&at, &pads, &places), "(12.0, 20.0, 20.0) in, from H2: 1 up");
    }
}
