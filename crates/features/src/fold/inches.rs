//! The inches of a flange: where each lies on the metal, and what was seen of it.

use cloud::{Body, Point, Surface, Vector};
use compare::Deviations;

use super::{Run, distances, facing, middle, most_face, short};
use crate::edge::{HELD_MM, Reading, Seen};
use crate::flange::runs::Runs;

/// Fewest places that show an inch.
const FEWEST: usize = 8;
/// An inch is seen where one in so many of its places is: a lip that was trimmed narrow does not hide its fold.
const ONE_IN: usize = 3;
/// Cosines of how far a place may face from the flange as a whole, which may bend, and from that of its inch: the skin in its box
/// moves by itself, and shows no fold.
const LIKE_THE_REST: f64 = 0.5;
const OF_ITS_FACE: f64 = 0.8;

/// One inch of a flange, about.
pub(super) struct Inch {
    /// Where it begins, in the middle of the flange's width, mm.
    pub from: Point,
    /// Where it ends.
    pub to: Point,
    /// How proud the face of the flange is, place by place, mm; `None` where too little of it was seen, or nothing holds the
    /// set along its face.
    pub distances_mm: Option<Vec<f64>>,
    /// ± of the setting there, mm.
    pub setting_pm_mm: f64,
}

impl Inch {
    /// mm.
    pub fn length_mm(&self) -> f64 {
        (self.to - self.from).norm()
    }

    /// Whether the set is held along its face.
    pub fn is_held(&self) -> bool {
        self.setting_pm_mm < HELD_MM
    }

    /// What it says; `None` where it was not seen.
    pub fn reading(&self) -> Option<Reading> {
        let (short_mm, own_pm_mm) = short(&mut self.distances_mm.clone()?);
        Some(Reading {
            short_mm,
            own_mm2: (own_pm_mm / 1.96).powi(2),
            shared_mm2: 0.0,
            common_runs: 1.0,
            setting_pm_mm: self.setting_pm_mm,
        })
    }

    /// The same without its places.
    pub fn run(&self) -> Run {
        Run {
            from: self.from,
            to: self.to,
            seen: self.reading().map_or(Seen::NotSeen, |reading| Seen::Short {
                mm: reading.short_mm,
                pm_mm: reading.pm_mm(),
            }),
        }
    }
}

/// The inches along the flange of these members, in order; where the reference itself has no metal there are none.
pub(super) fn inch_by_inch(
    members: &[u32],
    reference: &Surface<Body>,
    deviations: &Deviations,
    setting_pm_mm: &dyn Fn(&Point, &Vector) -> f64,
) -> Vec<Inch> {
    let face: Vec<Point> = members.iter().map(|&i| reference.points()[i as usize]).collect();
    let Some(runs) = Runs::along(&face) else {
        return Vec::new();
    };
    let mut places: Vec<Vec<u32>> = vec![Vec::new(); runs.count];
    for (&member, at) in members.iter().zip(&face) {
        if let Some(inch) = runs.inch(at) {
            places[inch].push(member);
        }
    }
    let flange = most_face(members, reference, &facing(members, reference));
    let looks = |own: &[u32], so: &Vector, cosine: f64| -> Vec<u32> {
        let near = |&&i: &&u32| reference.normals()[i as usize].dot(so) > cosine;
        own.iter().filter(near).copied().collect()
    };
    for own in &mut places {
        let face = facing(&looks(own, &flange, LIKE_THE_REST), reference);
        // One that bends so far that none of this inch looks like the rest is read as it is.
        if face != Vector::zeros() {
            *own = looks(own, &face, OF_ITS_FACE);
        }
    }
    let middles: Vec<Option<Point>> = places
        .iter()
        .map(|own| (own.len() >= FEWEST).then(|| middle(own, reference)))
        .collect();
    let inch = |k: usize| {
        let distances = distances(&places[k], deviations);
        let setting_pm_mm = setting_pm_mm(&middles[k]?, &facing(&places[k], reference));
        let enough = distances.len() >= FEWEST && ONE_IN * distances.len() >= places[k].len();
        let seen = enough && setting_pm_mm < HELD_MM;
        Some(Inch {
            setting_pm_mm,
            from: border(&runs, &middles, k)?,
            to: border(&runs, &middles, k + 1)?,
            distances_mm: seen.then_some(distances),
        })
    };
    (0..runs.count).filter_map(inch).collect()
}

/// Where inch `k` begins and the one before it ends: on the line through the two middles that lie nearest, so that the
/// inches keep to a flange that bends. `None` where there is metal on neither side.
fn border(runs: &Runs, middles: &[Option<Point>], k: usize) -> Option<Point> {
    let middle = |k: Option<usize>| k.and_then(|k| middles.get(k).copied().flatten());
    let (a, b) = match (middle(k.checked_sub(1)), middle(Some(k))) {
        (Some(before), Some(after)) => (before, after),
        (Some(before), None) => (middle(k.checked_sub(2)).unwrap_or(before - runs.along), before),
        (None, Some(after)) => (after, middle(Some(k + 1)).unwrap_or(after + runs.along)),
        (None, None) => return None,
    };
    let along_mm = runs.length_mm * k as f64 / runs.count as f64;
    let (from, to) = (runs.along_mm(&a), runs.along_mm(&b));
    Some(a + (b - a) * ((along_mm - from) / (to - from).max(1e-9)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::made::uniform;
    use cloud::{Cloud, Vector};
    use compare::State;

    /// The inches of a flange that lies on a quarter of a tube of 400 mm radius, 10 wide, with a notch of 60 mm.
    #[test]
    fn the_inches_of_a_flange_that_bends_lie_on_it_end_to_end_and_none_in_its_notch() {
        let radius_mm = 400.0;
        let on_it = (0..6_000u64).map(|i| {
            let angle = (90.0 * uniform(2 * i) - 45.0).to_radians();
            let away = Vector::new(angle.sin(), 0.0, angle.cos());
            (
                Point::from(away * radius_mm) + Vector::y() * (10.0 * uniform(2 * i + 1)),
                away,
            )
        });
        let (points, normals): (Vec<Point>, Vec<Vector>) =
            on_it.filter(|(at, _)| !(70.0..130.0).contains(&at.x)).unzip();
        let mut cloud = Cloud::from_points(points);
        cloud.normals = Some(normals);
        let (reference, _) = Surface::<Body>::new(cloud, None).unwrap();
        let members: Vec<u32> = (0..reference.points().len() as u32).collect();
        let deviations = Deviations {
            states: vec![State::Distance { mm: -1.0, pm_mm: 0.1 }; members.len()],
            disc_mm: 3.0,
        };
        let found = inch_by_inch(&members, &reference, &deviations, &|_, _| 0.2);
        // The chord of 90° is 565.7 long, 22 inches; the notch takes the better part of one or two of them.
        assert!((20..=21).contains(&found.len()), "{}", found.len());
        let mut gaps = 0;
        for pair in found.windows(2) {
            gaps += usize::from((pair[0].to - pair[1].from).norm() > 1e-9);
        }
        assert_eq!(gaps, 1);
        for inch in &found {
            // A chord of an inch and a half lies within the arc, and goes on outside of it.
            let off_mm = radius_mm - inch.from.x.hypot(inch.from.z);
            assert!(
                off_mm.abs() < 3.0 && (inch.from.y - 5.0).abs() < 2.0,
                "{}",
                inch.from
            );
            assert_eq!(inch.run().seen, Seen::Short { mm: 1.0, pm_mm: 0.2 });
        }
    }

    /// A flange 16 high that is home, at its ends only 6, with 10 of its skin in its box, which is 10.6 shy.
    #[test]
    fn the_skin_in_the_box_of_a_flange_shows_no_fold() {
        let (mut points, mut normals) = (Vec::new(), Vec::new());
        for x in 0..200u32 {
            let high = if (26..174).contains(&x) { 16 } else { 6 };
            points.extend((0..high).map(|z| Point::new(f64::from(x), 0.0, -f64::from(z))));
            normals.extend((0..high).map(|_| -Vector::y()));
            points.extend((1..=10).map(|y| Point::new(f64::from(x), f64::from(y), 0.0)));
            normals.extend((1..=10).map(|_| Vector::z()));
        }
        let mut cloud = Cloud::from_points(points);
        cloud.normals = Some(normals);
        let (reference, _) = Surface::<Body>::new(cloud, None).unwrap();
        let members: Vec<u32> = (0..reference.points().len() as u32).collect();
        let off = |normal: &Vector| State::Distance {
            mm: if normal.z > 0.5 { -10.6 } else { 0.0 },
            pm_mm: 0.1,
        };
        let deviations = Deviations {
            states: reference.normals().iter().map(off).collect(),
            disc_mm: 2.5,
        };
        let found = inch_by_inch(&members, &reference, &deviations, &|_, _| 0.0);
        assert_eq!(found.len(), 8);
        for inch in &found {
            assert_eq!(inch.run().seen, Seen::Short { mm: 0.0, pm_mm: 0.0 });
        }
    }

    #[test]
    fn a_lip_trimmed_narrow_is_seen_and_a_few_places_are_not() {
        let points: Vec<Point> = (0..900u32)
            .map(|i| Point::new(f64::from(i % 100), f64::from(i / 100), 0.0))
            .collect();
        let mut cloud = Cloud::from_points(points);
        cloud.normals = Some(vec![Vector::z(); 900]);
        let (reference, _) = Surface::<Body>::new(cloud, None).unwrap();
        let members: Vec<u32> = (0..reference.points().len() as u32).collect();
        for (rows, seen) in [(9.0, true), (4.0, true), (2.0, false)] {
            let states = reference.points().iter().map(|at| {
                if at.y < rows - 0.5 {
                    State::Distance { mm: 0.0, pm_mm: 0.1 }
                } else {
                    State::BeyondEdge
                }
            });
            let deviations = Deviations {
                states: states.collect(),
                disc_mm: 2.5,
            };
            let found = inch_by_inch(&members, &reference, &deviations, &|_, _| 0.0);
            assert_eq!(found.len(), 4);
            assert!(
                found.iter().all(|inch| inch.distances_mm.is_some() == seen),
                "{rows}"
            );
        }
    }
}
