//! An opening of a shell by its four corners, as a tape is laid into it: how far it has opened or closed along each side and
//! across each diagonal.

use cloud::{Point, Vector};

use super::{Figure, NoFigure, Place, read};

/// Where a side lies in the opening, for less and for more along X, Y and Z.
const SIDES: [[&str; 2]; 3] = [
    ["at the front", "at the rear"],
    ["on the left", "on the right"],
    ["at the bottom", "at the top"],
];

/// The four sides of an opening, then its two diagonals, each or the reason why not; `corners` in turn around it.
pub fn opening(name: &str, corners: [&Place; 4]) -> Vec<Result<Figure, NoFigure>> {
    let sides = sides_in_words(&corners.map(|corner| corner.reference));
    let mut figures: Vec<Result<Figure, NoFigure>> = (0..4)
        .map(|k| {
            let side = sides[k];
            taped(
                &format!("{name} {side}"),
                [corners[k], corners[(k + 1) % 4]],
                |way, size| format!("{name} {way} {size} {side}"),
            )
        })
        .collect();
    for k in 0..2 {
        let ends = [corners[k], corners[k + 2]];
        let [from, to] = ends.map(|end| end.name.as_str());
        figures.push(taped(
            &format!("diagonal {from} to {to} of {name}"),
            ends,
            |way, size| format!("{name} {way} {size} from {from} to {to}"),
        ));
    }
    figures
}

/// From one place to another; the words take `opened` or `closed`, and by how much.
fn taped(name: &str, ends: [&Place; 2], words: impl Fn(&str, &str) -> String) -> Result<Figure, NoFigure> {
    read(
        name,
        &ends,
        |_, at: &[Point]| (at[1] - at[0]).norm(),
        |off, size| words(if off > 0.0 { "opened" } else { "closed" }, size),
    )
}

/// Where each side lies: opposite sides are told apart along the axis along which they lie farthest from each other, and the
/// two pairs never along one axis.
fn sides_in_words(corners: &[Point; 4]) -> [&'static str; 4] {
    let middle = |k: usize| nalgebra::center(&corners[k], &corners[(k + 1) % 4]);
    let across: [Vector; 2] = [middle(0) - middle(2), middle(1) - middle(3)];
    let shares = across.map(|way| way.abs() / way.norm().max(1e-9));
    let mut axes = shares.map(|share| share.imax());
    if axes[0] == axes[1] {
        let axis = axes[0];
        let yields = usize::from(shares[0][axis] >= shares[1][axis]);
        let mut rest = shares[yields];
        rest[axis] = -1.0;
        axes[yields] = rest.imax();
    }
    [0, 1, 2, 3].map(|k: usize| {
        let axis = axes[k % 2];
        let toward = if k < 2 {
            across[k % 2][axis]
        } else {
            -across[k % 2][axis]
        };
        SIDES[axis][usize::from(toward > 0.0)]
    })
}

#[cfg(test)]
mod tests {
    use super::super::Known;
    use super::*;

    fn place(name: &str, at: [f64; 3], moved: [f64; 3]) -> Place {
        Place {
            name: name.to_string(),
            reference: Point::from(at),
            measured: Point::from(at) + Vector::from(moved),
            known: Known::alike(0.4),
        }
    }

    #[test]
    fn a_door_that_closed_at_the_top_says_so_with_its_band() {
        // The front post leans back by 3.2 at its top.
        let corners = [
            place("D1", [500.0, -700.0, 1100.0], [3.2, 0.0, 0.0]),
            place("D2", [1400.0, -700.0, 1100.0], [0.0; 3]),
            place("D3", [1500.0, -700.0, 300.0], [0.0; 3]),
            place("D4", [400.0, -700.0, 300.0], [0.0; 3]),
        ];
        let [a, b, c, d] = &corners;
        let found: Vec<Figure> = opening("left door", [a, b, c, d]).into_iter().flatten().collect();
        let words: Vec<&str> = found.iter().map(|f| f.words.as_str()).collect();
        assert_eq!(found.len(), 6);
        assert_eq!(words[0], "left door closed 1/8 at the top");
        assert_eq!(
            &words[1..4],
            &[
                "left door at the rear: nil",
                "left door at the bottom: nil",
                "left door at the front: nil"
            ]
        );
        // Two places of ±0.4, both along the tape.
        assert!((found[0].off_mm + 3.2).abs() < 1e-9);
        assert!((found[0].pm_mm - 0.4 * 2f64.sqrt()).abs() < 1e-6);
        // The diagonal from D1 runs down by 800 over 1000: it loses 3.2 · 1000 / 1281 to first order.
        assert!((found[4].off_mm + 3.2 * 1000.0 / 1000f64.hypot(800.0)).abs() < 0.01);
        assert_eq!(words[4], "left door closed 3/32 from D1 to D3");
        assert_eq!(words[5], "diagonal D2 to D4 of left door: nil");
    }

    #[test]
    fn sides_of_a_screen_have_a_name_each() {
        let flat = [
            [0.0, -600.0, 900.0],
            [0.0, 600.0, 900.0],
            [-300.0, 600.0, 500.0],
            [-300.0, -600.0, 500.0],
        ];
        let expected = ["at the top", "on the right", "at the bottom", "on the left"];
        assert_eq!(sides_in_words(&flat.map(Point::from)), expected);
        // Both pairs lie farthest apart along X: the one that does so less is told by its other way.
        let leaning = [
            [0.0, 0.0, 0.0],
            [900.0, 0.0, 800.0],
            [1900.0, 0.0, 900.0],
            [1000.0, 0.0, 100.0],
        ];
        let mut named = sides_in_words(&leaning.map(Point::from)).to_vec();
        named.sort_unstable();
        named.dedup();
        assert_eq!(named.len(), 4);
    }
}
