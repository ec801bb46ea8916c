//! What became of each region from one comparison to another of the same part, in the shop's words.

use ::draw::pair::Became;
use ::features::trips::LEAST_STEP_MM;
use cloud::unit::fraction_of_inch;
use record::verdict::{IN, NOT_MEASURED, WITHHELD, of, of_region};
use record::{Record, RegionRecord, SpreadRecord};

/// How a region stands: its verdict, what is said of it, and its figure with its ±, mm.
struct Stands {
    verdict: &'static str,
    words: String,
    figure: Option<(f64, f64)>,
}

/// What became of every region that both look at, those that have changed first and the largest change before the others; of
/// the whole where there is none.
pub fn became(before: &Record, after: &Record) -> Vec<Became> {
    let pairs = after.regions.iter().filter_map(|is| {
        let was = before.regions.iter().find(|was| was.name == is.name)?;
        Some((is.name.clone(), of_one(before, was), of_one(after, is)))
    });
    let mut all: Vec<(f64, Became)> = pairs.map(|(name, was, is)| told(name, was, is)).collect();
    if all.is_empty() {
        all.push(told("the whole".to_string(), of_all(before), of_all(after)));
    }
    // What has not changed keeps the order of the job.
    all.sort_by(|a, b| b.0.total_cmp(&a.0));
    all.into_iter().map(|(_, became)| became).collect()
}

/// What became of one, and by how much it counts: nothing where it has not changed.
fn told(what: String, was: Stands, is: Stands) -> (f64, Became) {
    let by = was
        .figure
        .zip(is.figure)
        .map(|((was, a), (is, b))| ((is - was).abs(), a.hypot(b)));
    let stepped = by.is_some_and(|(by, pm)| by > LEAST_STEP_MM.max(pm));
    let changed = stepped || was.verdict != is.verdict;
    let counts = if changed {
        LEAST_STEP_MM + by.map_or(0.0, |(by, _)| by)
    } else {
        0.0
    };
    let became = Became {
        what,
        words: [was.words, is.words],
        changed,
    };
    (counts, became)
}

fn of_one(record: &Record, region: &RegionRecord) -> Stands {
    let verdict = of_region(record, region);
    let fold = record.folds.iter().find(|fold| fold.name == region.name);
    match fold {
        Some(fold) => stands(verdict, &fold.words, Some((fold.short_mm, fold.pm_mm))),
        None => by_spread(verdict, region.figures.spread.as_ref()),
    }
}

fn of_all(record: &Record) -> Stands {
    by_spread(of(record, &record.verdict), record.figures.spread.as_ref())
}

/// By the place that is farthest off.
fn by_spread(verdict: &'static str, spread: Option<&SpreadRecord>) -> Stands {
    let farthest = spread.map(|s| {
        let mm = if s.max_mm.abs() >= s.min_mm.abs() {
            s.max_mm
        } else {
            s.min_mm
        };
        (mm, s.pm_mm)
    });
    let words = farthest.map_or(String::new(), |(mm, _)| {
        let side = if mm < 0.0 { "shy" } else { "proud" };
        match fraction_of_inch(mm, 32).as_str() {
            "0" => "home".to_string(),
            length => format!("{length} {side}"),
        }
    });
    stands(verdict, &words, farthest)
}

/// `OUT, 7/32 short`; `in, 1/32 proud`; `home`.
fn stands(verdict: &'static str, said: &str, figure: Option<(f64, f64)>) -> Stands {
    let words = if [NOT_MEASURED, WITHHELD].contains(&verdict) || said.is_empty() {
        verdict.to_string()
    } else if verdict == IN && said == "home" {
        said.to_string()
    } else {
        format!("{verdict}, {said}")
    };
    Stands {
        verdict,
        words,
        figure,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use record::verdict::{OUT, TOO_CLOSE};

    fn one(verdict: &'static str, said: &str, mm: f64) -> Stands {
        stands(verdict, said, Some((mm, 0.3)))
    }

    #[test]
    fn a_figure_is_told_before_and_after() {
        let (_, lip) = told(
            "lip".to_string(),
            one(OUT, "7/32 short", 5.6),
            one(IN, "home", 0.1),
        );
        assert_eq!(lip.words, ["OUT, 7/32 short", "home"]);
        assert!(lip.changed);
        // A 64th is no change, nor is what the ± hides.
        let (counts, still) = told(
            "skin".to_string(),
            one(IN, "home", 0.1),
            one(IN, "1/32 proud", 0.5),
        );
        assert!(!still.changed && counts == 0.0);
        assert_eq!(still.words[1], "in, 1/32 proud");
        let wide = |mm| stands(TOO_CLOSE, "1/16 proud", Some((mm, 3.0)));
        assert!(!told("bar".to_string(), wide(0.0), wide(2.0)).1.changed);
        // Of what was not measured no figure is told.
        assert_eq!(one(NOT_MEASURED, "3/16 proud", 4.8).words, NOT_MEASURED);
    }
}
