//! Neighbouring inches of a fold that are off alike, and what is said of the whole of it.

use cloud::statistics::mean;
use cloud::unit::fraction_of_inch;
use compare::verdict::decide;

use super::inches::Inch;
use super::short;
use crate::edge::{Reading, SURE, Stretch, alike, short_or_long};
use crate::shift::HOME_MM;

/// More stretches than this are not told one by one, such as those of a fold that runs out evenly.
const MOST_SAID: usize = 4;

/// The stretches of what was seen, in order. They are begun as those of a trim edge; then those that differ by no more than
/// chance or a 32nd are taken together, the likest first.
pub(super) fn put_together(inches: &[Inch], limit_mm: f64) -> Vec<Stretch> {
    let readings: Vec<Option<Reading>> = inches.iter().map(Inch::reading).collect();
    let apart_mm = HOME_MM.min(limit_mm);
    let mut off_with: Vec<Option<usize>> = vec![None; inches.len()];
    for (number, members) in alike(&readings, false, apart_mm, apart_mm).iter().enumerate() {
        for &inch in members {
            off_with[inch] = Some(number);
        }
    }
    let mut groups: Vec<Vec<usize>> = Vec::new();
    for inch in (0..inches.len()).filter(|&inch| readings[inch].is_some()) {
        match groups.last_mut() {
            Some(group) if off_with[group[0]] == off_with[inch] => group.push(inch),
            _ => groups.push(vec![inch]),
        }
    }
    let mut stretches: Vec<Stretch> = groups
        .into_iter()
        .map(|runs| stretch(runs, inches, limit_mm))
        .collect();
    while let Some(first) = likest(&stretches, limit_mm) {
        let next = stretches.remove(first + 1);
        let runs = [stretches[first].runs.as_slice(), next.runs.as_slice()].concat();
        stretches[first] = stretch(runs, inches, limit_mm);
    }
    stretches
}

/// The first of the two neighbours that differ least, of those that are not told apart.
fn likest(stretches: &[Stretch], limit_mm: f64) -> Option<usize> {
    let apart_mm = |k: usize| (stretches[k].short_mm - stretches[k + 1].short_mm).abs();
    (0..stretches.len().saturating_sub(1))
        .filter(|&k| !told_apart(&stretches[k], &stretches[k + 1], limit_mm))
        .min_by(|&a, &b| apart_mm(a).total_cmp(&apart_mm(b)))
}

/// Whether two stretches differ by more than chance, and by more than a 32nd or so that one of them alone is out.
fn told_apart(a: &Stretch, b: &Stretch, limit_mm: f64) -> bool {
    let apart_mm = (a.short_mm - b.short_mm).abs();
    let surely_out = |s: &Stretch| s.short_mm.abs() - SURE * s.pm_mm > limit_mm;
    apart_mm > SURE * a.pm_mm.hypot(b.pm_mm)
        && (apart_mm > HOME_MM.min(limit_mm) || surely_out(a) != surely_out(b))
}

/// The stretch of these inches: the median of all their places, so that the one inch in which the fold changes does not
/// count for more than it has.
fn stretch(runs: Vec<usize>, inches: &[Inch], limit_mm: f64) -> Stretch {
    let own: Vec<&Inch> = runs.iter().map(|&run| &inches[run]).collect();
    let mut places: Vec<f64> = own
        .iter()
        .filter_map(|inch| inch.distances_mm.as_deref())
        .flatten()
        .copied()
        .collect();
    let (short_mm, own_pm_mm) = short(&mut places);
    let setting: Vec<f64> = own.iter().map(|inch| inch.setting_pm_mm).collect();
    let pm_mm = own_pm_mm.hypot(mean(&setting));
    let length_mm: f64 = own.iter().map(|inch| inch.length_mm()).sum();
    let over = fraction_of_inch(length_mm, 2);
    let unsure = short_mm.abs() <= SURE * pm_mm;
    let words = if unsure && pm_mm > limit_mm {
        format!("can't tell over {over}, the ± is {}", fraction_of_inch(pm_mm, 32))
    } else if unsure {
        format!("home over {over}")
    } else {
        format!("{} over {over}", way(short_mm))
    };
    Stretch {
        from: own[0].from,
        to: own[own.len() - 1].to,
        length_mm,
        short_mm,
        pm_mm,
        height_mm: None,
        verdict: decide(short_mm, pm_mm, limit_mm),
        words,
        runs,
    }
}

/// `7/32 short`; `home` where it is nothing in 32nds.
fn way(short_mm: f64) -> String {
    match fraction_of_inch(short_mm, 32).as_str() {
        "0" => "home".to_string(),
        _ => short_or_long(short_mm),
    }
}

/// What is said of a fold of which nothing holds the set along the face.
pub(super) const NOT_HELD: &str = "can't tell: nothing holds the set in that direction";

/// What is said of a fold whose places are short by `short_mm` in the median; along `unheld_mm` of it nothing holds the set.
pub(super) fn words(short_mm: f64, stretches: &[Stretch], unseen_mm: f64, unheld_mm: f64) -> String {
    let mut seen = if stretches.len() <= 1 {
        way(short_mm)
    } else if stretches.len() <= MOST_SAID {
        let each: Vec<&str> = stretches.iter().map(|s| s.words.as_str()).collect();
        each.join(", ")
    } else {
        let all = stretches.iter().map(|s| s.short_mm);
        let (least, most) = all.fold((f64::INFINITY, f64::NEG_INFINITY), |(least, most), mm| {
            (least.min(mm), most.max(mm))
        });
        let over_mm: f64 = stretches.iter().map(|s| s.length_mm).sum();
        format!(
            "{} to {} in {} stretches over {}",
            way(least),
            way(most),
            stretches.len(),
            fraction_of_inch(over_mm, 2)
        )
    };
    if unseen_mm > 0.0 {
        seen.push_str(&format!(", not seen over {}", fraction_of_inch(unseen_mm, 2)));
    }
    if unheld_mm > 0.0 {
        let over = fraction_of_inch(unheld_mm, 2);
        seen.push_str(&format!(", can't tell over {over}: nothing holds the set there"));
    }
    seen
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::made::uniform;
    use cloud::Point;
    use compare::Verdict;

    const LIMIT_MM: f64 = 25.4 / 16.0;

    /// Inches with so much of a shortness each, forty places in each that scatter by `noise_mm` to either side.
    fn inches(short: &[Option<f64>], noise_mm: f64, seed: u64) -> Vec<Inch> {
        let at = |k: usize| Point::new(25.4 * k as f64, 0.0, 0.0);
        let inch = |(k, short): (usize, &Option<f64>)| Inch {
            from: at(k),
            to: at(k + 1),
            distances_mm: short.map(|short_mm| {
                let first = 40 * k as u64 + 10_000 * seed;
                let places = (first..first + 40).map(|i| noise_mm * (2.0 * uniform(i) - 1.0) - short_mm);
                places.collect()
            }),
            setting_pm_mm: 0.0,
        };
        short.iter().enumerate().map(inch).collect()
    }

    fn told(short: &[Option<f64>], noise_mm: f64) -> Vec<String> {
        let found = put_together(&inches(short, noise_mm, 1), LIMIT_MM);
        found.into_iter().map(|stretch| stretch.words).collect()
    }

    #[test]
    fn each_stretch_is_told_with_its_length_and_what_was_not_seen_parts_none() {
        let mut short = [Some(0.05); 20];
        short[3..6].fill(Some(5.56));
        short[10..12].fill(Some(-2.4));
        assert_eq!(
            told(&short, 0.1),
            [
                "home over 3",
                "7/32 short over 3",
                "home over 4",
                "3/32 long over 2",
                "home over 8"
            ]
        );
        // Two steps of one way.
        let stepped: Vec<Option<f64>> = [1.6; 5].into_iter().chain([4.8; 4]).map(Some).collect();
        assert_eq!(told(&stepped, 0.1), ["1/16 short over 5", "3/16 short over 4"]);
        let mut holed = [Some(5.56); 10];
        holed[4..7].fill(None);
        let found = put_together(&inches(&holed, 0.1, 1), LIMIT_MM);
        assert_eq!(found.len(), 1);
        assert_eq!(found[0].runs, [0, 1, 2, 3, 7, 8, 9]);
        assert!((found[0].length_mm - 7.0 * 25.4).abs() < 1e-9);
        assert!((found[0].to.x - 254.0).abs() < 1e-9);
    }

    #[test]
    fn what_differs_by_less_than_a_32nd_is_one_unless_a_part_of_it_is_out() {
        let uneven = [0.75, 0.84, 0.77, 0.86, 0.5, 0.8].map(Some);
        assert_eq!(told(&uneven, 0.1), ["1/32 short over 6"]);
        // Off by a 32nd is out here, and two inches of it are off by more.
        let short = [0.3, 0.3, 0.3, 1.0, 1.0, 0.3].map(Some);
        let found = put_together(&inches(&short, 0.05, 1), 25.4 / 32.0);
        let verdicts: Vec<Verdict> = found.iter().map(|s| s.verdict).collect();
        assert_eq!(verdicts, [Verdict::Within, Verdict::Outside, Verdict::Within]);
    }

    /// Inches that chance throws about by half a millimetre, the ± of each known: hardly ever more than one stretch.
    #[test]
    fn chance_makes_no_stretches() {
        let mut parted = 0;
        for seed in 0..40 {
            let short: Vec<Option<f64>> = (0..30u64)
                .map(|k| {
                    let i = 1_000_000 + 3 * (k + 100 * seed);
                    let normal = 2.0 * (uniform(i) + uniform(i + 1) + uniform(i + 2) - 1.5);
                    Some(0.3 * normal)
                })
                .collect();
            parted += usize::from(put_together(&inches(&short, 0.65, seed), LIMIT_MM).len() > 1);
        }
        assert!(parted <= 2, "{parted} of 40");
    }

    #[test]
    fn a_fold_that_runs_out_evenly_is_told_from_end_to_end() {
        let short: Vec<Option<f64>> = (0..16).map(|k| Some(0.4 * f64::from(k))).collect();
        let found = put_together(&inches(&short, 0.05, 1), LIMIT_MM);
        assert!((3..=8).contains(&found.len()), "{found:?}");
        assert!(found.is_sorted_by(|a, b| a.short_mm < b.short_mm));
        assert_eq!(found[found.len() - 1].verdict, Verdict::Outside);
        let one = |short_mm: f64| stretch(vec![0], &inches(&[Some(short_mm)], 0.01, 1), LIMIT_MM);
        let many = [0.0, 1.6, 3.2, 4.8, 5.56].map(one);
        assert_eq!(
            words(3.2, &many, 50.8, 0.0),
            "home to 7/32 short in 5 stretches over 5, not seen over 2"
        );
        assert_eq!(words(0.0, &many[..2], 0.0, 0.0), "home over 1, 1/16 short over 1");
        assert_eq!(words(-0.8, &[], 0.0, 0.0), "1/32 long");
    }

    #[test]
    fn what_its_own_scatter_hides_cannot_be_told() {
        let said = told(&[Some(0.3)], 12.0);
        assert!(said[0].starts_with("can't tell over 1, the ± is "), "{said:?}");
    }
}
