//! Boxes that hold hardly any of the reference: they are in the wrong place, or their numbers in another unit.

use cloud::unit::MM_PER_INCH;
use cloud::{Body, Bounds, Point, Surface};
use compare::{Region, Status};

/// A box that holds fewer points of the reference is in the wrong place, or in the wrong unit.
pub const FEWEST_POINTS: usize = 10;
/// So many names are told.
const MOST_TOLD: usize = 3;

/// What is said of a region whose box holds only `held` points of the reference.
pub fn empty(region: &Region, held: usize, reference: &Surface<Body>) -> String {
    format!(
        "region {}: its box holds {held} points of the reference; check the box and its unit{}",
        region.name,
        in_the_other(&[region], reference)
    )
}

/// What is said of the kept regions whose boxes hold hardly any of the reference; `None` where there are none.
pub fn empty_kept(regions: &[Region], reference: &Surface<Body>) -> Option<String> {
    let hold = |region: &&Region| held(&region.bounds, reference) < FEWEST_POINTS;
    let kept = regions.iter().filter(|region| region.status == Status::Kept);
    let empty: Vec<&Region> = kept.filter(hold).collect();
    match empty.as_slice() {
        [] => None,
        [one] => Some(self::empty(one, held(&one.bounds, reference), reference)),
        several => {
            let mut names: Vec<&str> = several.iter().map(|region| region.name.as_str()).collect();
            let others = names.split_off(names.len().min(MOST_TOLD)).len();
            let others = match others {
                0 => String::new(),
                _ => format!(" and {others} more"),
            };
            Some(format!(
                "regions {}{others}: their boxes hold no points of the reference, or hardly any; check the boxes and their unit{}",
                names.join(", "),
                in_the_other(several, reference)
            ))
        }
    }
}

/// What the boxes would hold in the other unit, to stand behind that they hold nothing; empty where that is nothing too.
fn in_the_other(regions: &[&Region], reference: &Surface<Body>) -> String {
    let in_all = |factor: f64| -> usize {
        let boxes = regions.iter().map(|region| scaled(&region.bounds, factor));
        boxes.map(|bounds| held(&bounds, reference)).sum()
    };
    let ways = [
        (
            in_all(MM_PER_INCH),
            "times 25.4",
            "inches were written where mm are",
        ),
        (
            in_all(1.0 / MM_PER_INCH),
            "divided by 25.4",
            "mm were written where inches are",
        ),
    ];
    // Near the zero of the reference a box that is 25.4 times too large may hold metal by chance, but less.
    let most = ways.into_iter().max_by_key(|(held, ..)| *held);
    most.filter(|(held, ..)| *held >= FEWEST_POINTS)
        .map_or(String::new(), |(held, times, as_if)| {
            let they = if regions.len() == 1 { "it" } else { "they" };
            format!(" ({times} {they} would hold {held} points, as if {as_if} declared)")
        })
}

fn held(bounds: &Bounds, reference: &Surface<Body>) -> usize {
    let points = reference.points().iter();
    points.filter(|point| bounds.contains(point)).count()
}

fn scaled(bounds: &Bounds, factor: f64) -> Bounds {
    let corner = |at: &Point| Point::from(at.coords * factor);
    Bounds {
        low: corner(&bounds.low),
        high: corner(&bounds.high),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use cloud::{Cloud, Vector};

    /// A floor of 600 × 300 at a height of 500.
    fn floor() -> Surface<Body> {
        let place = |i: u32| Point::new(f64::from(i % 60) * 10.0, f64::from(i / 60) * 10.0, 500.0);
        let mut cloud = Cloud::from_points((0..1800).map(place).collect());
        cloud.normals = Some(vec![Vector::z(); 1800]);
        Surface::new(cloud, None).unwrap().0
    }

    fn region(name: &str, times: f64) -> Region {
        let corner = |x: f64, y: f64, z: f64| Point::new(x * times, y * times, z * times);
        Region {
            name: name.to_string(),
            status: Status::Kept,
            bounds: Bounds {
                low: corner(95.0, 95.0, 490.0),
                high: corner(295.0, 195.0, 510.0),
            },
            limit_mm: 1.6,
            outside: None,
            pads: Vec::new(),
        }
    }

    #[test]
    fn an_empty_box_says_in_which_unit_it_would_hold_metal() {
        let floor = floor();
        assert_eq!(
            empty(&region("tunnel", 1.0 / 25.4), 0, &floor),
            "region tunnel: its box holds 0 points of the reference; check the box and its unit (times 25.4 it would hold 200 points, as if inches were written where mm are declared)"
        );
        assert!(empty(&region("tunnel", 25.4), 0, &floor).ends_with(
            "(divided by 25.4 it would hold 200 points, as if mm were written where inches are declared)"
        ));
        let elsewhere = Region {
            bounds: Bounds {
                low: Point::new(5000.0, 0.0, 0.0),
                high: Point::new(5100.0, 100.0, 100.0),
            },
            ..region("tunnel", 1.0)
        };
        assert!(empty(&elsewhere, 0, &floor).ends_with("and its unit"));
    }

    #[test]
    fn kept_boxes_that_hold_nothing_are_told_together() {
        let floor = floor();
        let of = |times: f64| ["a", "b", "c", "d", "e"].map(|name| region(name, times));
        assert_eq!(empty_kept(&of(1.0), &floor), None);
        let told = empty_kept(&of(1.0 / 25.4), &floor).unwrap();
        assert!(
            told.starts_with("regions a, b, c and 2 more: their boxes hold no points"),
            "{told}"
        );
        assert!(told.contains("times 25.4 they would hold 1000 points"), "{told}");
        let mut one = of(1.0);
        one[1] = region("b", 25.4);
        assert!(
            empty_kept(&one, &floor)
                .unwrap()
                .starts_with("region b: its box holds 0 points")
        );
    }
}
