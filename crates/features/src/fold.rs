//! How far a flange's fold line lies from where it should: read on the face of the flange itself, so that a ragged trim
//! edge does not count.
//!
//! It is read inch by inch as well. Neighbouring inches that are off alike make a stretch; where stretches differ by more
//! than chance each is told, since one figure would be that of the longest of them.

use cloud::statistics::{median, robust_spread};
use cloud::unit::MM_PER_INCH;
use cloud::{Body, Point, Surface, Vector};
use compare::verdict::{LEAST_COVERAGE, decide};
use compare::{Deviations, Region, Verdict};

mod inches;
mod stretches;

use crate::edge::{HELD_MM, Seen, Stretch};
use inches::{Inch, inch_by_inch};
use stretches::{NOT_HELD, put_together, words};

/// Fewest places that show a fold.
const FEWEST: usize = 30;
/// About one place in so many is its own evidence.
const SHARED: f64 = 20.0;

/// One inch of a fold, about; its places are in the middle of the flange's width, on the reference.
#[derive(Debug, Clone, PartialEq)]
pub struct Run {
    /// Where it begins, mm; the first inch lies at the front, left or lower end.
    pub from: Point,
    /// Where it ends.
    pub to: Point,
    /// How short the fold is there.
    pub seen: Seen,
}

/// One fold's answer.
#[derive(Debug, Clone, PartialEq)]
pub struct Fold {
    /// The region of its flange.
    pub name: String,
    /// How short of the reference the fold lies, mm; negative is long. The median of all that was seen of the flange.
    pub short_mm: f64,
    /// ± (half the 95 % band), mm.
    pub pm_mm: f64,
    /// Its inches in order; none where so few points lie on the reference's flange that it has no length.
    pub runs: Vec<Run>,
    /// What was seen, in order: neighbouring runs that are alike, those that are home too. What was not seen between two runs
    /// that are alike doesn't part them, and doesn't count to the length of their stretch.
    pub stretches: Vec<Stretch>,
    /// Against the region's limit: the worst of its stretches; not measured where less than 60 % of its length was seen and
    /// has the set held along its face.
    pub verdict: Verdict,
    /// `7/32 short`; `7/32 short over 15-1/2, home over 16, not seen over 4` where its stretches differ.
    pub words: String,
}

impl Fold {
    /// What is to be folded again: its words where it is alike all along, else each stretch that is out with its ends,
    /// `7/32 short over 15-1/2, from (26.0, -0.3, 0.2) to (26.0, -0.3, 15.7) in`.
    pub fn out_in_words(&self) -> Vec<String> {
        if self.stretches.len() < 2 {
            return vec![self.words.clone()];
        }
        let out = self.stretches.iter().filter(|s| s.verdict == Verdict::Outside);
        out.map(|s| {
            format!(
                "{}, from {} to {} in",
                s.words,
                in_inches(&s.from),
                in_inches(&s.to)
            )
        })
        .collect()
    }
}

/// A place to a tenth of an inch; nothing has no sign.
fn in_inches(at: &Point) -> String {
    let [x, y, z] = [at.x, at.y, at.z].map(|mm| (10.0 * mm / MM_PER_INCH).round() / 10.0 + 0.0);
    format!("({x:.1}, {y:.1}, {z:.1})")
}

/// Reads the fold of the flange that `region` holds; `None` where fewer than thirty places of it were seen. `setting_pm_mm` is
/// the ± of the setting at a place along a direction: where nothing holds the set along the face, nothing is said.
pub fn fold(
    region: &Region,
    members: &[u32],
    reference: &Surface<Body>,
    deviations: &Deviations,
    setting_pm_mm: &dyn Fn(&Point, &Vector) -> f64,
) -> Option<Fold> {
    let mut distances = distances(members, deviations);
    if distances.len() < FEWEST {
        return None;
    }
    let inches = inch_by_inch(members, reference, deviations, setting_pm_mm);
    let (held, free): (Vec<&Inch>, Vec<&Inch>) = inches.iter().partition(|inch| inch.is_held());
    let mut own_setting_pm_mm = setting_pm_mm(&middle(members, reference), &facing(members, reference));
    let told: Vec<f64> = held
        .iter()
        .filter_map(|inch| inch.distances_mm.as_deref())
        .flatten()
        .copied()
        .collect();
    let enough = told.len() >= FEWEST;
    if enough {
        distances = told;
    }
    if !free.is_empty() {
        // Where too little is held whatever is read of it may be the set's own sliding.
        let inches = if enough { &held } else { &free };
        own_setting_pm_mm = inches.iter().map(|inch| inch.setting_pm_mm).fold(0.0, f64::max);
    }
    let (short_mm, own_pm_mm) = short(&mut distances);
    let pm_mm = own_pm_mm.hypot(own_setting_pm_mm);
    let stretches = put_together(&inches, region.limit_mm);
    let mut verdicts: Vec<Verdict> = match stretches.as_slice() {
        [] | [_] => vec![decide(short_mm, pm_mm, region.limit_mm)],
        several => several.iter().map(|stretch| stretch.verdict).collect(),
    };
    let all_mm: f64 = inches.iter().map(Inch::length_mm).sum();
    let unseen = held.iter().filter(|inch| inch.distances_mm.is_none());
    let unseen_mm: f64 = unseen.map(|inch| inch.length_mm()).sum();
    let unheld_mm: f64 = free.iter().map(|inch| inch.length_mm()).sum();
    if all_mm - unseen_mm - unheld_mm < LEAST_COVERAGE * all_mm {
        verdicts.push(Verdict::NotMeasured);
    }
    Some(Fold {
        name: region.name.clone(),
        short_mm,
        pm_mm,
        runs: inches.iter().map(Inch::run).collect(),
        verdict: Verdict::of_all(verdicts),
        words: match pm_mm > HELD_MM {
            true => NOT_HELD.to_string(),
            false => words(short_mm, &stretches, unseen_mm, unheld_mm),
        },
        stretches,
    })
}

/// How proud the places are that were seen, mm.
fn distances(members: &[u32], deviations: &Deviations) -> Vec<f64> {
    members
        .iter()
        .filter_map(|&i| deviations.states[i as usize].mm())
        .collect()
}

fn middle(members: &[u32], reference: &Surface<Body>) -> Point {
    let sum: Vector = members
        .iter()
        .map(|&i| reference.points()[i as usize].coords)
        .sum();
    Point::from(sum / members.len() as f64)
}

/// The way in which these places face on the average, of unit length where they do not face all round.
fn facing(members: &[u32], reference: &Surface<Body>) -> Vector {
    let sum: Vector = members.iter().map(|&i| reference.normals()[i as usize]).sum();
    sum.try_normalize(1e-6).unwrap_or_else(Vector::zeros)
}

/// The way in which that half of these places face, on the average, which looks most nearly as `guessed`: where a flange's box has
/// some of its skin as well, and less of that than of the flange, the mean of all is that of neither.
fn most_face(members: &[u32], reference: &Surface<Body>, guessed: &Vector) -> Vector {
    let looks_so = |&i: &u32| reference.normals()[i as usize].dot(guessed);
    let mut all: Vec<f64> = members.iter().map(looks_so).collect();
    let half = median(&mut all);
    let own = members.iter().filter(|&i| looks_so(i) >= half);
    facing(&own.copied().collect::<Vec<u32>>(), reference)
}

/// How short places lie in the median, and the ± of that by their own scatter, mm. The places are reordered.
fn short(distances_mm: &mut [f64]) -> (f64, f64) {
    let short_mm = -median(distances_mm);
    let evidence = (distances_mm.len() as f64 / SHARED).max(1.0);
    (
        short_mm,
        1.96 * 1.2533 * robust_spread(distances_mm) / evidence.sqrt(),
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::made::uniform;
    use cloud::{Bounds, Cloud};
    use compare::{State, Status};

    const SETTING_PM_MM: f64 = 0.03;

    /// A flange 400 long and 12 wide at about 1.5 mm of spacing, the fold of which is short by `short_mm` at a place along
    /// it, with 0.1 mm of noise; `None` where it is not seen.
    fn read(short_mm: impl Fn(f64) -> Option<f64>) -> Fold {
        read_with(short_mm, &|_, _| SETTING_PM_MM)
    }

    fn read_with(
        short_mm: impl Fn(f64) -> Option<f64>,
        setting_pm_mm: &dyn Fn(&Point, &Vector) -> f64,
    ) -> Fold {
        let points: Vec<Point> = (0..2_100u64)
            .map(|i| Point::new(400.0 * uniform(2 * i), 0.0, 12.0 * uniform(2 * i + 1)))
            .collect();
        let mut cloud = Cloud::from_points(points);
        cloud.normals = Some(vec![Vector::y(); cloud.points_mm.len()]);
        let (reference, _) = Surface::<Body>::new(cloud, None).unwrap();
        let states = reference.points().iter().enumerate().map(|(i, at)| {
            let i = 100_000 + 2 * i as u64;
            let noise = 0.245 * (uniform(i) + uniform(i + 1) - 1.0);
            short_mm(at.x).map_or(State::NotMeasured, |short| State::Distance {
                mm: noise - short,
                pm_mm: 0.1,
            })
        });
        let deviations = Deviations {
            states: states.collect(),
            disc_mm: 3.75,
        };
        let region = Region {
            name: "rear flange".to_string(),
            status: Status::Unsure,
            bounds: Bounds {
                low: Point::new(0.0, -1.0, 0.0),
                high: Point::new(400.0, 1.0, 12.0),
            },
            limit_mm: 25.4 / 16.0,
            outside: None,
            pads: Vec::new(),
        };
        let members: Vec<u32> = (0..reference.points().len() as u32).collect();
        fold(&region, &members, &reference, &deviations, setting_pm_mm).unwrap()
    }

    fn seen(fold: &Fold) -> Vec<(f64, f64)> {
        let runs = fold.runs.iter().filter_map(|run| match run.seen {
            Seen::Short { mm, pm_mm } => Some((mm, pm_mm)),
            Seen::NotSeen => None,
        });
        runs.collect()
    }

    #[test]
    fn a_flange_that_is_short_over_half_of_it_is_told_in_two_stretches() {
        let changes_mm = 205.0;
        let found = read(|x| Some(if x < changes_mm { 0.0 } else { 5.56 }));
        assert_eq!(found.words, "home over 8, 7/32 short over 8");
        assert_eq!(found.verdict, Verdict::Outside);
        assert_eq!((found.stretches.len(), found.runs.len()), (2, 16));
        for (stretch, short_mm) in found.stretches.iter().zip([0.0, 5.56]) {
            assert!(
                (stretch.short_mm - short_mm).abs() <= stretch.pm_mm && stretch.pm_mm < 0.1,
                "{stretch:?}"
            );
        }
        assert_eq!(found.stretches[0].to, found.stretches[1].from);
        assert!((found.stretches[0].to.x - changes_mm).abs() < 25.4);
        let out = found.out_in_words();
        assert!(
            out.len() == 1 && out[0].starts_with("7/32 short over 8, from (7.9, 0.0, 0."),
            "{out:?}"
        );
        assert!(
            out[0].ends_with(") in") && out[0].contains(" to (15.7, 0.0, 0."),
            "{out:?}"
        );
        assert_eq!(
            [0, 1].map(|k| found.stretches[k].verdict),
            [Verdict::Within, Verdict::Outside]
        );
        for (k, (mm, pm_mm)) in seen(&found).into_iter().enumerate() {
            let short_mm = if k < 8 { 0.0 } else { 5.56 };
            assert!(
                (mm - short_mm).abs() <= pm_mm && pm_mm < 0.3,
                "{k}: {mm} ± {pm_mm}"
            );
        }
    }

    #[test]
    fn an_even_fold_is_one_stretch_and_has_the_words_of_the_whole() {
        for (short_mm, words, verdict) in [
            (0.0, "home", Verdict::Within),
            (5.56, "7/32 short", Verdict::Outside),
            (-3.2, "1/8 long", Verdict::Outside),
            (0.79, "1/32 short", Verdict::Within),
        ] {
            let found = read(|_| Some(short_mm));
            assert_eq!((found.words.as_str(), found.verdict), (words, verdict));
            assert_eq!(found.out_in_words(), [words]);
            assert_eq!((found.stretches.len(), seen(&found).len()), (1, 16));
            let whole = &found.stretches[0];
            assert!((whole.length_mm - 400.0).abs() < 2.0 && whole.runs.len() == 16);
            assert!((whole.short_mm - found.short_mm).abs() < 1e-9);
            assert!((whole.from.z - 6.0).abs() < 2.0 && whole.from.x < 1.0);
            assert!((found.pm_mm - SETTING_PM_MM) < 0.05);
        }
    }

    /// Nothing holds the set along the face of the flange: all along it, or beyond a place, as where it rocks about a line.
    #[test]
    fn where_nothing_holds_the_set_along_its_face_a_fold_has_no_verdict() {
        let along_the_face = |_: &Point, way: &Vector| if way.y.abs() > 0.2 { 1_000.0 } else { 0.03 };
        let found = read_with(|_| Some(5.56), &along_the_face);
        assert_eq!(found.verdict, Verdict::NotMeasured);
        assert_eq!(found.words, "can't tell: nothing holds the set in that direction");
        assert!(found.stretches.is_empty() && seen(&found).is_empty() && found.pm_mm > 999.0);
        let along_its_length = |_: &Point, way: &Vector| if way.x.abs() > 0.2 { 1_000.0 } else { 0.03 };
        assert_eq!(
            read_with(|_| Some(5.56), &along_its_length).verdict,
            Verdict::Outside
        );
        let beyond = |at: &Point, _: &Vector| if at.x > 300.0 { 1_000.0 } else { 0.03 };
        let found = read_with(|_| Some(5.56), &beyond);
        assert_eq!(found.verdict, Verdict::Outside);
        assert_eq!(
            found.words,
            "7/32 short, can't tell over 4: nothing holds the set there"
        );
        let beyond = |at: &Point, _: &Vector| if at.x > 100.0 { 1_000.0 } else { 0.03 };
        let found = read_with(|_| Some(0.0), &beyond);
        assert_eq!(found.verdict, Verdict::NotMeasured);
    }

    #[test]
    fn what_is_not_seen_is_told_and_a_fold_that_was_hardly_seen_is_not_measured() {
        let found = read(|x| (!(100.0..200.0).contains(&x)).then_some(0.0));
        assert_eq!(found.words, "home, not seen over 4");
        assert_eq!((found.verdict, found.stretches.len()), (Verdict::Within, 1));
        let unseen = found.runs.iter().filter(|run| run.seen == Seen::NotSeen);
        assert!(unseen.clone().count() == 4 && unseen.clone().all(|run| run.to.x > 120.0));
        let found = read(|x| (!(100.0..300.0).contains(&x)).then_some(if x < 200.0 { 5.56 } else { 0.0 }));
        assert_eq!(found.words, "7/32 short over 4, home over 4, not seen over 8");
        assert_eq!(found.verdict, Verdict::Outside);
        let found = read(|x| (!(100.0..300.0).contains(&x)).then_some(0.1));
        assert_eq!(found.verdict, Verdict::NotMeasured);
    }
}
