//! Neighbouring runs of an edge that are off alike, and what is said of the whole edge; a fold's are put together likewise.

use cloud::Point;
use cloud::statistics::{mean, median};
use cloud::unit::fraction_of_inch;
use compare::Verdict;
use compare::verdict::{LEAST_COVERAGE, decide};

use super::compared::{Run, Seen};
use crate::shift::HOME_MM;

/// Runs whose shortness differs by more than this from the stretch's before them begin another, mm (a sixteenth).
const ALIKE_MM: f64 = 25.4 / 16.0;
/// A stretch must be off by this many of its ±: there are many runs, and chance picks the largest.
pub(crate) const SURE: f64 = 1.5;
/// Runs whose own scatter hides a 32nd are judged with their neighbours, but no more than this many together.
const MOST_TOGETHER: usize = 7;

/// A run that is off by this many of its ± (six standard deviations) is no chance, however many runs there are.
const BEYOND_CHANCE: f64 = 3.0;

/// Neighbouring runs that are off alike by more than a 32nd, or by more than the limit where that is less; of a fold those
/// that are home too.
#[derive(Debug, Clone, PartialEq)]
pub struct Stretch {
    /// Its runs, by their number along the edge or the fold.
    pub runs: Vec<usize>,
    /// Where it begins on the reference, mm.
    pub from: Point,
    /// Where it ends.
    pub to: Point,
    /// How long it is, mm.
    pub length_mm: f64,
    /// Metal missing in the mean, mm; negative is metal too much.
    pub short_mm: f64,
    /// ± of that (half the 95 % band), mm.
    pub pm_mm: f64,
    /// How high the flange is on the reference that ends there, mm; `None` where none does, or nobody has asked.
    pub height_mm: Option<f64>,
    /// Against the limit.
    pub verdict: Verdict,
    /// `7/32 short over 15-1/2`.
    pub words: String,
}

/// What one run says, before it is rounded to a ±.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Reading {
    /// Metal missing, mm.
    pub short_mm: f64,
    /// Variance that the run has of its own, mm².
    pub own_mm2: f64,
    /// Variance that it may have in common with its neighbours, mm².
    pub shared_mm2: f64,
    /// By how much the mean of many runs has more of their own variance than if none had points in common; one at least.
    pub common_runs: f64,
    /// ± of the setting there, mm.
    pub setting_pm_mm: f64,
}

impl Reading {
    /// The ± of the run, mm.
    pub fn pm_mm(&self) -> f64 {
        (1.96 * (self.own_mm2 + self.shared_mm2).sqrt()).hypot(self.setting_pm_mm)
    }

    /// Whether the set is held in the direction in which it is read.
    pub fn is_held(&self) -> bool {
        self.setting_pm_mm < HELD_MM
    }
}

/// A ± beyond this stands for a direction in which nothing holds the setting, mm.
pub(crate) const HELD_MM: f64 = compare::verdict::NOT_HELD_MM;

/// What is said of an edge.
pub(super) struct Said {
    pub stretches: Vec<Stretch>,
    pub verdict: Verdict,
    pub words: Vec<String>,
}

/// Puts the runs of an edge together; `readings` are theirs, `None` where the edge is not seen. Of runs along whose outward
/// nothing holds the set nothing is said.
pub(super) fn said(runs: &[Run], readings: &[Option<Reading>], closed: bool, limit_mm: f64) -> Said {
    let held: Vec<Option<Reading>> = readings.iter().map(|r| r.filter(Reading::is_held)).collect();
    let unheld = (0..runs.len()).filter(|&i| readings[i].is_some_and(|r| !r.is_held()));
    let unheld_mm: f64 = unheld.map(|i| (runs[i].to - runs[i].from).norm()).sum();
    let readings = held.as_slice();
    let threshold = HOME_MM.min(limit_mm);
    let stretches: Vec<Stretch> = alike(readings, closed, threshold, ALIKE_MM)
        .into_iter()
        .filter_map(|members| stretch(members, runs, readings, limit_mm))
        .collect();
    let rest: Vec<Reading> = (0..runs.len())
        .filter(|i| stretches.iter().all(|stretch| !stretch.runs.contains(i)))
        .filter_map(|i| readings[i])
        .collect();
    let length = |run: &Run| (run.to - run.from).norm();
    let unseen = || runs.iter().filter(|run| run.seen == Seen::NotSeen);
    let (all_mm, unseen_mm) = (
        runs.iter().map(length).sum::<f64>(),
        unseen().map(length).sum::<f64>(),
    );
    let mut verdicts: Vec<Verdict> = stretches.iter().map(|stretch| stretch.verdict).collect();
    let mut words: Vec<String> = stretches.iter().map(|stretch| stretch.words.clone()).collect();
    if let Some((short_mm, pm_mm)) = together(&rest) {
        // What is off beyond doubt is a stretch; what is left may be chance.
        let verdict = match decide(short_mm, pm_mm, limit_mm) {
            Verdict::Outside => Verdict::TooClose,
            verdict => verdict,
        };
        verdicts.push(verdict);
        if pm_mm > limit_mm {
            words.push(format!("can't tell: the ± is {}", fraction_of_inch(pm_mm, 32)));
        } else if stretches.is_empty() {
            words.push(match verdict {
                Verdict::Within => "home".to_string(),
                _ => format!(
                    "reads {}, and the ± is {}",
                    short_or_long(short_mm),
                    fraction_of_inch(pm_mm, 64)
                ),
            });
        }
    }
    if unheld_mm > 0.0 {
        words.push(match readings.iter().any(Option::is_some) {
            true => format!(
                "can't tell over {}: nothing holds the set in that direction",
                fraction_of_inch(unheld_mm, 2)
            ),
            false => "can't tell: nothing holds the set in that direction".to_string(),
        });
    }
    if all_mm - unseen_mm - unheld_mm < LEAST_COVERAGE * all_mm {
        verdicts.push(Verdict::NotMeasured);
    }
    if unseen().next().is_some() {
        words.push(format!("edge not seen over {}", fraction_of_inch(unseen_mm, 2)));
    }
    Said {
        stretches,
        verdict: Verdict::of_all(verdicts),
        words,
    }
}

/// The mean of readings and its ±, mm; `None` for none.
fn together(readings: &[Reading]) -> Option<(f64, f64)> {
    let of = |value: &dyn Fn(&Reading) -> f64| mean(&readings.iter().map(value).collect::<Vec<_>>());
    // Runs that were read with their neighbours are not so many of their own.
    let count = (readings.len() as f64 / of(&|r| r.common_runs)).max(1.0);
    let variance = of(&|r| r.own_mm2) / count + of(&|r| r.shared_mm2);
    let pm_mm = (1.96 * variance.sqrt()).hypot(of(&|r| r.setting_pm_mm));
    (!readings.is_empty()).then(|| (of(&|r| r.short_mm), pm_mm))
}

/// The stretch of `members`; `None` where it is not off beyond doubt.
fn stretch(
    members: Vec<usize>,
    runs: &[Run],
    readings: &[Option<Reading>],
    limit_mm: f64,
) -> Option<Stretch> {
    let own: Vec<Reading> = members.iter().filter_map(|&i| readings[i]).collect();
    // One run by itself where the edge beside it is not seen is the ragged end of a scan, and not of the metal.
    if let [i] = members[..] {
        let unseen = |k: Option<usize>| k.and_then(|k| readings.get(k)).is_none_or(Option::is_none);
        if readings.len() > 1 && unseen(i.checked_sub(1)) && unseen(Some(i + 1)) {
            return None;
        }
    }
    let (short_mm, pm_mm) = together(&own)?;
    // Of hundreds of runs one is off by chance; the more agree, the less is it that.
    if short_mm.abs() <= SURE * (1.0 + 1.0 / own.len() as f64) * pm_mm {
        return None;
    }
    let length_mm = members.iter().map(|&i| (runs[i].to - runs[i].from).norm()).sum();
    Some(Stretch {
        from: runs[*members.first()?].from,
        to: runs[*members.last()?].to,
        length_mm,
        short_mm,
        pm_mm,
        height_mm: None,
        verdict: decide(short_mm, pm_mm, limit_mm),
        words: format!(
            "{} over {}",
            short_or_long(short_mm),
            fraction_of_inch(length_mm, 2)
        ),
        runs: members,
    })
}

/// `7/32 short`, `1/64 long`: in 32nds, and in 64ths where that is nothing.
pub(crate) fn short_or_long(short_mm: f64) -> String {
    let size = match fraction_of_inch(short_mm, 32) {
        size if size == "0" => fraction_of_inch(short_mm, 64),
        size => size,
    };
    let way = if short_mm > 0.0 { "short" } else { "long" };
    format!("{size} {way}")
}

/// The runs that are off by more than `threshold_mm` to the same side and by as much as those before them, within
/// `alike_mm`.
pub(crate) fn alike(
    readings: &[Option<Reading>],
    closed: bool,
    threshold_mm: f64,
    alike_mm: f64,
) -> Vec<Vec<usize>> {
    let n = readings.len();
    let steady: Vec<Option<f64>> = (0..n).map(|i| steadied(readings, i, threshold_mm)).collect();
    let side = |i: usize| steady[i].filter(|mm| mm.abs() > threshold_mm).map(|mm| mm > 0.0);
    // A closed edge is begun where a stretch does, lest one be cut in two.
    let begin = if closed {
        (1..n).find(|&i| side(i) != side(i - 1)).unwrap_or(0)
    } else {
        0
    };
    let mut groups: Vec<Vec<usize>> = Vec::new();
    let mut before: Option<bool> = None;
    for i in (0..n).map(|k| (begin + k) % n) {
        let now = side(i);
        if now.is_some() {
            let so_far = groups.last().map(|group| {
                let own: Vec<f64> = group.iter().filter_map(|&k| steady[k]).collect();
                mean(&own)
            });
            let as_much = so_far
                .zip(steady[i])
                .is_some_and(|(a, b)| (a - b).abs() <= alike_mm);
            match groups.last_mut() {
                Some(group) if before == now && as_much => group.push(i),
                _ => groups.push(vec![i]),
            }
        }
        before = now;
    }
    groups
}

/// A run's shortness, or the median of as many runs about it as it takes for chance to leave a threshold alone. What is
/// off beyond any chance, such as a notch of one run, stands as it is.
fn steadied(readings: &[Option<Reading>], i: usize, threshold_mm: f64) -> Option<f64> {
    let own = readings[i]?;
    if own.short_mm.abs() > BEYOND_CHANCE * own.pm_mm() {
        return Some(own.short_mm);
    }
    let wanted = (2.0 * own.own_mm2.sqrt() / threshold_mm).powi(2).ceil();
    let beside = (wanted.clamp(1.0, MOST_TOGETHER as f64) as usize) / 2;
    let seen = |k: &usize| readings.get(*k).copied().flatten().map(|r| r.short_mm);
    let before = (0..i).rev().take(beside).map_while(|k| seen(&k));
    let after = (i + 1..readings.len()).take(beside).map_while(|k| seen(&k));
    let mut around: Vec<f64> = before.chain(after).collect();
    around.push(own.short_mm);
    Some(median(&mut around))
}

#[cfg(test)]
mod tests {
    use super::super::compared::EdgeResult;
    use super::*;
    use cloud::Vector;

    /// Runs of 20 mm along x with the given shortness, each good to `pm`.
    fn edge(short: &[Option<f64>], pm: f64) -> (Vec<Run>, Vec<Option<Reading>>) {
        let runs = short.iter().enumerate().map(|(i, short)| Run {
            from: Point::new(20.0 * i as f64, 0.0, 0.0),
            to: Point::new(20.0 * (i + 1) as f64, 0.0, 0.0),
            middle: Point::new(20.0 * i as f64 + 10.0, 0.0, 0.0),
            outward: Vector::y(),
            normal: Vector::z(),
            seen: short.map_or(Seen::NotSeen, |mm| Seen::Short { mm, pm_mm: pm }),
        });
        let readings = short.iter().map(|short| {
            short.map(|short_mm| Reading {
                short_mm,
                own_mm2: (pm / 1.96).powi(2),
                shared_mm2: 0.0,
                common_runs: 1.0,
                setting_pm_mm: 0.0,
            })
        });
        (runs.collect(), readings.collect())
    }

    fn words(short: &[Option<f64>], pm: f64, closed: bool) -> (Vec<String>, Verdict) {
        let (runs, readings) = edge(short, pm);
        let said = said(&runs, &readings, closed, 25.4 / 32.0);
        (said.words, said.verdict)
    }

    #[test]
    fn runs_that_are_off_alike_make_one_stretch() {
        let mut short = vec![Some(0.1); 10];
        short[3..8].fill(Some(5.6));
        let (runs, readings) = edge(&short, 0.3);
        let said = said(&runs, &readings, false, 25.4 / 32.0);
        assert_eq!(said.words, ["7/32 short over 4"]);
        assert_eq!(said.verdict, Verdict::Outside);
        let stretch = &said.stretches[0];
        assert_eq!((stretch.from.x, stretch.to.x), (60.0, 160.0));
        assert!((stretch.short_mm - 5.6).abs() < 1e-9);
        assert!((stretch.pm_mm - 0.3 / 5f64.sqrt()).abs() < 1e-9);
    }

    #[test]
    fn home_not_seen_and_cant_tell_are_said() {
        assert_eq!(
            words(&[Some(0.2); 6], 0.3, false),
            (vec!["home".to_string()], Verdict::Within)
        );
        let mut gaps = vec![Some(-0.1); 10];
        gaps[2..7].fill(None);
        let (said, verdict) = words(&gaps, 0.3, false);
        assert_eq!(said, ["home", "edge not seen over 4"]);
        assert_eq!(verdict, Verdict::NotMeasured);
        let (said, verdict) = words(&[Some(0.2), Some(-0.4)], 4.0, false);
        assert_eq!(said, ["can't tell: the ± is 1/8"]);
        assert_eq!(verdict, Verdict::TooClose);
        assert_eq!(words(&[None, None], 0.1, false).1, Verdict::NotMeasured);
    }

    /// An edge that bends until nothing holds the set along its outward: what is held keeps its verdict.
    #[test]
    fn runs_that_nothing_holds_are_left_out_and_told() {
        let told = |unheld: usize| {
            let (runs, mut readings) = edge(&[Some(5.6); 10], 0.3);
            for reading in readings.iter_mut().rev().take(unheld).flatten() {
                (reading.short_mm, reading.setting_pm_mm) = (-9.0, 1_000.0);
            }
            let said = said(&runs, &readings, false, 25.4 / 32.0);
            (said.words, said.verdict)
        };
        let not_held = "can't tell over 2-1/2: nothing holds the set in that direction";
        let some = ["7/32 short over 5-1/2", not_held].map(String::from).to_vec();
        assert_eq!(told(3), (some, Verdict::Outside));
        let none = vec!["can't tell: nothing holds the set in that direction".to_string()];
        assert_eq!(told(10), (none, Verdict::NotMeasured));
    }

    #[test]
    fn an_edge_that_is_out_is_shown_where_it_is_out() {
        let mut short = vec![Some(-1.2); 12];
        short[9..].fill(Some(6.4));
        let (runs, readings) = edge(&short, 0.2);
        let said = said(&runs, &readings, false, 25.4 / 16.0);
        let edge = EdgeResult {
            name: "rear edge".to_string(),
            region: None,
            length_mm: 240.0,
            runs,
            closed: false,
            straightness_mm: None,
            stretches: said.stretches,
            verdict: said.verdict,
            words: said.words,
        };
        assert_eq!((edge.stretches.len(), edge.verdict), (2, Verdict::Outside));
        assert_eq!(edge.stretches_out().count(), 1);
        assert_eq!(edge.longest_off().unwrap().words, "1/4 short over 2-1/2");
    }

    /// A run by itself that may be short by chance is no more out than home.
    #[test]
    fn what_is_off_and_no_stretch_is_neither_out_nor_called_home() {
        let said = |short: f64, pm: f64| {
            let (runs, readings) = edge(&[Some(short)], pm);
            let said = said(&runs, &readings, false, 25.4 / 16.0);
            (said.words, said.verdict, said.stretches.len())
        };
        let doubtful = (
            vec!["reads 1/8 short, and the ± is 3/64".to_string()],
            Verdict::TooClose,
            0,
        );
        assert_eq!(said(3.45, 1.37), doubtful);
        assert_eq!(said(1.2, 0.9).1, Verdict::TooClose);
        assert_ne!(said(1.2, 0.9).0, ["home"]);
        assert_eq!(said(0.2, 0.9).0, ["home"]);
        assert_eq!(said(3.45, 1.0).1, Verdict::Outside);
    }

    #[test]
    fn long_and_short_and_a_step_in_the_metal_are_told_apart() {
        let short = [-2.0, -2.1, 0.0, 1.6, 1.5, 6.3, 6.4].map(Some);
        assert_eq!(
            words(&short, 0.2, false).0,
            [
                "3/32 long over 1-1/2",
                "1/16 short over 1-1/2",
                "1/4 short over 1-1/2"
            ]
        );
        // Round a closed edge a stretch goes on past the first run.
        let ring = [2.4, 2.4, 0.0, 0.0, 0.0, 2.4].map(Some);
        assert_eq!(words(&ring, 0.2, true).0, ["3/32 short over 2-1/2"]);
    }

    /// Single runs that chance throws over a 32nd are no stretch, and the real one keeps its length.
    #[test]
    fn coarse_runs_are_judged_with_their_neighbours() {
        let chance = [0.9, -0.7, 0.2, -1.1, 0.6, 1.0, -0.3, -0.9, 0.4, 0.1];
        assert_eq!(words(&chance.map(Some), 1.7, false).0, ["home"]);
        let mut stepped = chance;
        for short in &mut stepped[4..] {
            *short += 5.5;
        }
        let (runs, readings) = edge(&stepped.map(Some), 1.7);
        let said = said(&runs, &readings, false, 25.4 / 16.0);
        assert_eq!(said.stretches.len(), 1);
        assert_eq!(said.stretches[0].from.x, 80.0);
        assert!((said.stretches[0].short_mm - 5.65).abs() < 0.01);
    }
}
