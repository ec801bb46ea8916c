//! Points that no longer lie to each other as they did: which distances have changed, by how much, and whose doing it is.

use cloud::eigen::eigenvalues;
use cloud::named::Datum;
use cloud::unit::fraction_of_inch;
use cloud::{Body, Matrix3, Point, Scan, Vector};

use super::{Pair, chosen, partners};
use crate::fit::rigid;
use crate::named::away;
use crate::order::USUAL_PM_MM;

/// Distances that differ by less are not told, mm (1/32 in).
pub(crate) const LEAST_APART_MM: f64 = 25.4 / 32.0;
/// So many distances are told, the worst first.
const MOST_TOLD: usize = 3;
/// Of more points those that agree are not sought.
const MOST_SOUGHT: usize = 16;
/// Points nearer to one line than this share of their length put no other in its place, as a square.
const OFF_THE_LINE: f64 = 0.01;

/// How the distances between the points of two lists contradict the reference's, in words: the worst of them, and where all
/// but a few agree, how those lie. `None` where every distance is as it was within the ± of its points (1/64 in where none is
/// declared) and 1/32 in.
pub fn distances_apart(reference: &[Datum], measured: &[Datum]) -> Option<String> {
    among(&partners(reference, measured).0)
}

/// The same of points that are paired already.
pub(crate) fn among(pairs: &[Pair]) -> Option<String> {
    let mut changed: Vec<(usize, usize, f64)> = Vec::new();
    for (i, one) in pairs.iter().enumerate() {
        for (k, other) in pairs.iter().enumerate().skip(i + 1) {
            let there_mm = (other.0.point.at_mm - one.0.point.at_mm).norm();
            let longer_mm = (other.1.point.at_mm - one.1.point.at_mm).norm() - there_mm;
            if longer_mm.abs() > LEAST_APART_MM.max(pm_mm(one).hypot(pm_mm(other))) {
                changed.push((i, k, longer_mm));
            }
        }
    }
    changed.sort_by(|a, b| b.2.abs().total_cmp(&a.2.abs()).then((a.0, a.1).cmp(&(b.0, b.1))));
    if changed.is_empty() {
        return None;
    }
    let name = |i: usize| pairs[i].0.point.name.as_str();
    let told: Vec<String> = changed
        .iter()
        .take(MOST_TOLD)
        .map(|&(i, k, mm)| {
            format!(
                "{} to {} {} in ({:.1} mm) too {}",
                name(i),
                name(k),
                fraction_of_inch(mm, 32),
                mm.abs(),
                if mm > 0.0 { "long" } else { "short" }
            )
        })
        .collect();
    let odd = the_odd(pairs, &changed).map_or(String::new(), |words| format!("; {words}"));
    Some(format!("distances between them: {}{odd}", told.join(", ")))
}

fn pm_mm((reference, measured): &Pair) -> f64 {
    let both = [reference, measured].map(|d| d.pm_mm.filter(|pm| pm.is_finite() && *pm > 0.0));
    match both {
        [None, None] => USUAL_PM_MM,
        [ours, theirs] => ours.unwrap_or(0.0).hypot(theirs.unwrap_or(0.0)),
    }
}

/// How those lie that don't agree with the most, where these are more than half and one set of them only.
fn the_odd(pairs: &[Pair], changed: &[(usize, usize, f64)]) -> Option<String> {
    let agree = most_that_agree(pairs.len(), changed)?;
    let from: Vec<Point> = pairs.iter().map(|(_, m)| m.point.at_mm).collect();
    let to: Vec<Point> = pairs.iter().map(|(r, _)| r.point.at_mm).collect();
    let theirs = chosen(&to, &agree);
    let middle = theirs.iter().map(|p| p.coords).sum::<Vector>() / theirs.len() as f64;
    let off = theirs.iter().map(|p| p.coords - middle);
    let [_, narrow, wide] = eigenvalues(&off.map(|p| p * p.transpose()).sum::<Matrix3>());
    if narrow <= OFF_THE_LINE * wide {
        return None;
    }
    let motion = rigid::<Scan, Body>(&chosen(&from, &agree), &theirs, None)
        .ok()?
        .motion;
    let name = |i: usize| pairs[i].0.point.name.as_str();
    let names: Vec<&str> = (0..pairs.len()).filter(|&i| agree[i]).map(name).collect();
    let lie: Vec<String> = (0..pairs.len())
        .filter(|&i| !agree[i])
        .map(|i| format!("{} lies {}", name(i), away(&(motion.apply(&from[i]) - to[i]))))
        .collect();
    Some(format!(
        "{} agree with each other, and {}",
        names.join(", "),
        lie.join("; ")
    ))
}

/// The largest set of points of which no two contradict each other: three or more, over half of all, and the only one of its size.
fn most_that_agree(count: usize, changed: &[(usize, usize, f64)]) -> Option<Vec<bool>> {
    if count > MOST_SOUGHT {
        return None;
    }
    let agree = |set: u32| {
        changed
            .iter()
            .all(|&(i, k, _)| set >> i & 1 == 0 || set >> k & 1 == 0)
    };
    let (mut best, mut alone) = (0u32, false);
    for set in (1u32..1 << count).filter(|set| 2 * set.count_ones() as usize > count) {
        if set.count_ones() >= best.count_ones() && agree(set) {
            alone = set.count_ones() > best.count_ones();
            best = set;
        }
    }
    (alone && best.count_ones() >= 3).then(|| (0..count).map(|i| best >> i & 1 == 1).collect())
}

#[cfg(test)]
mod tests {
    use super::*;
    use cloud::{Motion, NamedPoint};

    /// Five holes of a floor, the rear two moved to the right alike, in another pose.
    fn floor(right_mm: f64) -> [Vec<Datum>; 2] {
        let places = [
            ("F1", [150.0, 120.0], 0.0),
            ("F2", [150.0, 480.0], 0.0),
            ("F3", [1050.0, 120.0], 1.0),
            ("F4", [1050.0, 480.0], 1.0),
            ("F5", [600.0, 300.0], 0.0),
        ];
        let pose: Motion<Body, Scan> = Motion::turn_about(
            Vector::new(0.7, -1.2, 0.3),
            Point::origin(),
            Vector::new(300.0, -80.0, 900.0),
        );
        let list = |place: &dyn Fn(Point) -> Point, right_mm: f64| -> Vec<Datum> {
            let named = places.map(|(name, [x, y], moved)| NamedPoint {
                name: name.to_string(),
                at_mm: place(Point::new(x, y + moved * right_mm, 500.0)),
            });
            named.map(Datum::from).into()
        };
        [list(&|p| p, 0.0), list(&|p| pose.apply(&p), right_mm)]
    }

    /// F2 to F3 was √(900² + 360²) = 969.3, and is √(900² + 355.24²) = 967.6.
    #[test]
    fn holes_that_moved_alike_are_told_by_their_distances_and_their_way() {
        let [ours, theirs] = floor(4.76);
        let words = distances_apart(&ours, &theirs).unwrap();
        for said in [
            "F2 to F3 1/16 in (1.8 mm) too short",
            "F1, F2, F5 agree with each other, and F3 lies 3/16 in (4.76 mm) from where the others put it: 3/16 to the right",
            "; F4 lies 3/16 in",
        ] {
            assert!(words.contains(said), "{said}: {words}");
        }
    }

    #[test]
    fn what_their_pm_explains_is_no_contradiction() {
        let [mut ours, theirs] = floor(4.76);
        for datum in &mut ours {
            datum.pm_mm = Some(1.5);
        }
        assert_eq!(distances_apart(&ours, &theirs), None);
        let [ours, theirs] = floor(1.5);
        assert_eq!(distances_apart(&ours, &theirs), None);
    }

    #[test]
    fn of_two_halves_neither_is_right() {
        let halves: Vec<(usize, usize, f64)> =
            (0..3).flat_map(|i| (3..6).map(move |k| (i, k, 2.0))).collect();
        assert_eq!(most_that_agree(6, &halves), None);
        let one: Vec<(usize, usize, f64)> = (0..5).map(|i| (i, 5, 2.0)).collect();
        assert_eq!(
            most_that_agree(6, &one),
            Some(vec![true, true, true, true, true, false])
        );
    }
}
