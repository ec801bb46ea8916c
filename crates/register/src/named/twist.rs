//! Points whose heights contradict each other crosswise: the part has rocked or twisted, and no one of them is to blame.

use cloud::eigen::flattest_direction;
use cloud::frame::WAYS;
use cloud::unit::fraction_of_inch;
use cloud::{Body, Matrix3, Point, Scan, Vector};

use crate::fit::rigid;
use crate::partners::Pair;

/// A twist explains more than this share of what the points disagree by, as squares.
const MOSTLY: f64 = 0.75;
/// Points that are off by less than this share of the largest are not told.
const WORTH_TELLING: f64 = 1.0 / 3.0;

/// In words, which points stand high and which low, where they lie near a plane and most of what they disagree by is a twist of
/// it: h = c x y, whatever lies level or tilted in it taken out.
pub(super) fn twisted(pairs: &[Pair]) -> Option<String> {
    let from: Vec<Point> = pairs.iter().map(|(_, m)| m.point.at_mm).collect();
    let to: Vec<Point> = pairs.iter().map(|(r, _)| r.point.at_mm).collect();
    let motion = rigid::<Scan, Body>(&from, &to, None).ok()?.motion;
    let off: Vec<Vector> = from.iter().zip(&to).map(|(a, b)| motion.apply(a) - b).collect();
    let middle = to.iter().map(|p| p.coords).sum::<Vector>() / to.len() as f64;
    let at: Vec<Vector> = to.iter().map(|p| p.coords - middle).collect();
    let scatter: Matrix3 = at.iter().map(|p| p * p.transpose()).sum();
    let up = flattest_direction(&scatter).iamax();
    let [along, across] = [(up + 1) % 3, (up + 2) % 3];
    let column = |of: &dyn Fn(&Vector) -> f64| -> Vec<f64> { at.iter().map(of).collect() };
    let level = column(&|_| 1.0);
    let first = column(&|p| p[along]);
    let second = without(column(&|p| p[across]), &first);
    let product = column(&|p| p[along] * p[across]);
    let twist = [&level, &first, &second]
        .into_iter()
        .fold(product, |v, w| without(v, w));
    let high: Vec<f64> = off.iter().map(|o| o[up]).collect();
    let size = dot(&twist, &twist);
    let all: f64 = off.iter().map(|o| o.norm_squared()).sum();
    if size <= 0.0 || all <= 0.0 || dot(&twist, &high).powi(2) / size <= MOSTLY * all {
        return None;
    }
    let most_mm = high.iter().fold(0.0, |most: f64, h| most.max(h.abs()));
    let names = |sign: f64| -> String {
        let those = pairs
            .iter()
            .zip(&high)
            .filter(|(_, h)| sign * **h > WORTH_TELLING * most_mm);
        let names: Vec<&str> = those.map(|(pair, _)| pair.0.point.name.as_str()).collect();
        names.join(", ")
    };
    let (minus, plus) = WAYS[up];
    Some(format!(
        "{} stand {plus} and {} {minus}, crosswise, by up to {} in ({most_mm:.1} mm): the part looks rocked or twisted. Set it by what was left alone (set_by = \"left-alone\"), or name the points of one end alone, and see how the other end lies",
        names(1.0),
        names(-1.0),
        fraction_of_inch(most_mm, 32)
    ))
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

/// `v` less what it has of `other`.
fn without(v: Vec<f64>, other: &[f64]) -> Vec<f64> {
    let size = dot(other, other);
    let share = if size > 0.0 { dot(&v, other) / size } else { 0.0 };
    v.iter().zip(other).map(|(v, o)| v - share * o).collect()
}

#[cfg(test)]
mod tests {
    use super::super::set_by_names;
    use super::*;
    use crate::RegisterError;
    use cloud::NamedPoint;
    use cloud::named::Datum;

    /// Datum holes of a shell, twisted about its length by `mm` at the rails' rear ends.
    fn shell(mm: f64) -> Vec<Datum> {
        let places = [
            ("H1", 60.0, -350.0, 500.0),
            ("H2", 60.0, 350.0, 500.0),
            ("H3", 2340.0, -400.0, 560.0),
            ("H4", 2340.0, 400.0, 560.0),
            ("H5", 1700.0, -450.0, 700.0),
            ("H6", 1700.0, 450.0, 700.0),
        ];
        let named = places.map(|(name, x, y, z)| NamedPoint {
            name: name.to_string(),
            at_mm: Point::new(x, y, z + mm * (y / 400.0) * (x - 500.0) / 1840.0),
        });
        named.map(Datum::from).into()
    }

    #[test]
    fn a_rocked_shell_is_told_and_no_hole_is_blamed() {
        let words = match set_by_names(&shell(0.0), &shell(7.0)) {
            Err(why @ RegisterError::Twisted { .. }) => why.to_string(),
            Err(why) => why.to_string(),
            Ok(fit) => fit.warnings.iter().map(|w| w.words.as_str()).collect(),
        };
        assert!(words.contains("rocked or twisted"), "{words}");
        assert!(!words.contains("was left out"), "{words}");
    }

    #[test]
    fn a_hole_that_moved_in_its_sheet_is_no_twist() {
        let (ours, mut theirs) = (shell(0.0), shell(0.0));
        theirs[3].point.at_mm.y += 5.0;
        let pairs: Vec<Pair> = ours.iter().zip(&theirs).collect();
        assert_eq!(twisted(&pairs), None);
        let all = shell(7.0);
        let pairs: Vec<Pair> = ours.iter().zip(&all).collect();
        let words = twisted(&pairs).unwrap();
        assert!(words.starts_with("H1, H4 stand high and H2, H3 low"), "{words}");
    }
}
