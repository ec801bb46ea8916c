//! One point whose numbers are in another unit than the rest of its list.

use cloud::{Body, Motion, Point, Scan, Unit};

use super::{BAD, LEAST_BAD_MM, Pair};

/// `its numbers in the measured list were in in instead of mm`, where that brings the two points of a pair together as the
/// others set them (`motion`): a slip of one line, or of one reading. A point at the zero of its list says nothing of its unit.
pub(crate) fn other_unit((reference, measured): &Pair, motion: &Motion<Scan, Body>) -> Option<String> {
    let apart_mm = |here: Point, there: Point| (motion.apply(&here) - there).norm();
    let (there, here) = (reference.point.at_mm, measured.point.at_mm);
    let mut found: Vec<(f64, String)> = Vec::new();
    for read in Unit::ALL {
        for really in Unit::ALL.into_iter().filter(|really| *really != read) {
            let times = really.in_mm() / read.in_mm();
            for (list, off_mm) in [
                ("measured", apart_mm(here * times, there)),
                ("reference's", apart_mm(here, there * times)),
            ] {
                let words = format!("its numbers in the {list} list were in {really} instead of {read}");
                found.push((off_mm, words));
            }
        }
    }
    let nearest = found.into_iter().min_by(|a, b| a.0.total_cmp(&b.0))?;
    (nearest.0 <= BAD * LEAST_BAD_MM && apart_mm(here, there) > BAD * LEAST_BAD_MM).then_some(nearest.1)
}

#[cfg(test)]
mod tests {
    use super::*;
    use cloud::named::Datum;
    use cloud::{NamedPoint, Vector};

    fn datum(at_mm: Point) -> Datum {
        let name = "H3".to_string();
        NamedPoint { name, at_mm }.into()
    }

    #[test]
    fn a_point_in_another_unit_is_told_with_its_list_and_a_point_that_is_off_is_not() {
        let shift: Motion<Scan, Body> =
            Motion::turn_about(Vector::zeros(), Point::origin(), Vector::new(30.0, -40.0, 7.0));
        let (here, there) = (Point::new(600.0, 250.0, 90.0), Point::new(630.0, 210.0, 97.0));
        let of = |there: Point, here: Point| other_unit(&(&datum(there), &datum(here)), &shift);
        assert_eq!(of(there, here), None);
        assert_eq!(
            of(there, here / 25.4).unwrap(),
            "its numbers in the measured list were in in instead of mm"
        );
        assert_eq!(
            of(there * 10.0, here).unwrap(),
            "its numbers in the reference's list were in mm instead of cm"
        );
        assert_eq!(of(there, here + Vector::new(0.0, 300.0, 0.0)), None);
    }
}
