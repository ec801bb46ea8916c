//! What the comparison found, in three to six sentences that a stranger understands.

use record::verdict::{DIFFERS, NOT_MEASURED, WITHHELD};
use record::{Record, RegionRecord};

use super::besides::{besides, readings_withheld, too_close_by};
use super::first::questions;
use super::{WORST_FIRST, length, limit, pm, verdict_of_region, withheld};

/// Most findings that the first sentence lists.
const MOST_LISTED: usize = 4;
/// Reference that was measured less than this is said to be missing in part.
const SEEN: f64 = 0.98;
/// The other side is a suspicion and not a drawing.
const NOT_WRONG: &str = "; what differs is not for that wrong";

/// The most important first: what is wrong, how many regions, the worst, how sure that is, what is not said.
pub fn summary(record: &Record) -> Vec<String> {
    let mut out = vec![headline(record)];
    out.extend(regions(record));
    out.extend(readings_withheld(record));
    if !withheld(record) {
        out.extend(worst(record));
    }
    out.push(how_sure(record));
    let besides: Vec<String> = sprung(record).into_iter().chain(extra(record)).collect();
    out.extend((!besides.is_empty()).then(|| besides.join(" ")));
    out.push(not_said(record));
    out
}

fn headline(record: &Record) -> String {
    let (measured, reference) = (&record.measured.name, record.reference.called());
    if withheld(record) {
        return match questions(record).join(" ") {
            none if none.is_empty() => format!(
                "No verdict is given on {measured} yet: questions are open that must be answered first, see the warnings."
            ),
            asked => format!("No verdict is given on {measured} yet: {asked}"),
        };
    }
    let found = findings(record);
    if record.mirror.is_some() {
        return match found.len() {
            0 => format!(
                "{measured} was held against its own mirror image and nothing was found to differ left to right."
            ),
            _ => format!(
                "{measured} was held against its own mirror image; what differs left to right is not for that wrong: {}.",
                listed(&found)
            ),
        };
    }
    match &*record.verdict {
        "outside" => {
            let said = limit(record) + if record.reference.mirrored { NOT_WRONG } else { "" };
            let found = match found.len() {
                0 => String::new(),
                _ => format!(": {}", listed(&found)),
            };
            format!("{measured} does not agree with {reference} {said}{found}.")
        }
        "within" => format!(
            "Everything that was measured of {measured} agrees with {reference} {}, the ± counted in.",
            limit(record)
        ),
        "too-close" => format!(
            "{measured} against {reference} is too close to call{}: with the ± counted in it may lie on either side of the limit ({}).",
            too_close_by(record),
            limit(record)
        ),
        _ => format!(
            "There is no verdict on {measured}: too little of it was seen, or nothing holds the set in the direction that matters."
        ),
    }
}

/// `a; b; c; and 3 more`.
pub(super) fn listed(found: &[String]) -> String {
    let mut parts: Vec<String> = found.iter().take(MOST_LISTED).cloned().collect();
    if found.len() > MOST_LISTED {
        parts.push(format!("and {} more", found.len() - MOST_LISTED));
    }
    parts.join("; ")
}

pub(super) fn is_out(verdict: &str) -> bool {
    verdict == "outside"
}

/// Everything that is out, in the order in which it is worked on: the shell, regions, checks, folds, edges, recesses, beads,
/// holes.
pub(super) fn findings(record: &Record) -> Vec<String> {
    let mut found: Vec<String> = Vec::new();
    let shell = record.shell.iter().filter(|f| is_out(&f.verdict));
    found.extend(shell.map(|f| f.words.clone()));
    // What hangs from a panel that has moved is told as that, and its fold is not.
    let folds = || record.folds.iter().filter(|f| f.moved_with.is_none());
    let folded = |r: &&RegionRecord| folds().any(|f| f.name == r.name && is_out(&f.verdict));
    let regions = record.regions.iter().filter(|r| is_out(&r.verdict) && !folded(r));
    found.extend(regions.map(|r| format!("{} {}", r.name, lies(r))));
    let checks = record.checks.iter().filter(|c| is_out(&c.verdict));
    found.extend(checks.map(|c| named(&c.name, &c.words)));
    let folds = folds().filter(|f| is_out(&f.verdict));
    found.extend(folds.map(|f| format!("{}: fold {}", f.name, f.words)));
    let edges = record
        .edges
        .iter()
        .filter(|e| is_out(&e.verdict) && !e.comes_home());
    found.extend(edges.map(|e| named(&e.name, &e.words.join(", "))));
    let recesses = record.recesses.iter().filter(|r| is_out(&r.verdict));
    found.extend(recesses.map(|r| named(&r.name, &r.words.join(", "))));
    let beads = record.beads.iter().filter(|b| is_out(&b.verdict));
    found.extend(beads.map(|b| named(&b.name, &b.words.join(", "))));
    let holes = record.holes.iter().filter(|h| is_out(&h.verdict));
    found.extend(holes.map(|h| named(&h.name, &h.words)));
    found
}

fn named(name: &str, words: &str) -> String {
    if words.starts_with(name) {
        return words.to_string();
    }
    format!("{name}: {words}")
}

/// How a region lies, without what is to be done about it.
fn lies(region: &RegionRecord) -> String {
    let words = region.shift.as_ref().map_or("", |m| m.words.as_str());
    let place = match words {
        "" => "is out",
        "dress only: it sits home, its shape is off" => "sits home, its shape is off",
        _ => words.rsplit_once(": shim").map_or(words, |(place, _)| place),
    };
    let shape = region.shift.as_ref().and_then(|m| m.shape.as_ref());
    match shape.map_or("", |shape| shape.words.as_str()) {
        "" => place.to_string(),
        bent => format!("{place}, {bent}"),
    }
}

fn regions(record: &Record) -> Option<String> {
    let mut counts: Vec<(&'static str, usize)> = WORST_FIRST.map(|word| (word, 0)).to_vec();
    for region in &record.regions {
        let said = verdict_of_region(record, region);
        for (word, count) in &mut counts {
            if *word == said {
                *count += 1;
            }
        }
    }
    let parts: Vec<String> = counts
        .into_iter()
        .filter(|(_, count)| *count > 0)
        .map(|(word, count)| match (word, count) {
            (DIFFERS, 1) => "1 differs".to_string(),
            (DIFFERS, n) => format!("{n} differ"),
            (WITHHELD, 1) => "1 is without a verdict until the questions are answered".to_string(),
            (WITHHELD, n) => format!("{n} are without a verdict until the questions are answered"),
            (_, 1) => format!("1 is {word}"),
            (_, n) => format!("{n} are {word}"),
        })
        .collect();
    let others = besides(record).map_or(String::new(), |words| format!("; besides, {words}"));
    match record.regions.len() {
        0 => None,
        1 => Some(format!(
            "Its one region{}{others}.",
            parts.concat().trim_start_matches('1')
        )),
        n => Some(format!("Of its {n} regions, {}{others}.", parts.join(", "))),
    }
}

/// The place that lies farthest off, among the regions that are out if any are; what its own ± hides is not there to be seen.
fn worst(record: &Record) -> Option<String> {
    let any_out = record.regions.iter().any(|r| r.verdict == "outside");
    let told = record
        .regions
        .iter()
        .filter(|r| r.verdict != "not-measured" && (!any_out || r.verdict == "outside"))
        .filter_map(|r| Some((Some(r.name.as_str()), r.figures.spread.as_ref()?)));
    let whole = record.figures.spread.as_ref().map(|s| (None, s));
    let all = told.chain(whole.filter(|_| record.regions.is_empty() && record.verdict != "not-measured"));
    let (name, off_mm, pm_mm) = all
        .map(|(name, s)| {
            let far = if s.max_mm.abs() >= s.min_mm.abs() {
                s.max_mm
            } else {
                s.min_mm
            };
            (name, far, s.pm_mm)
        })
        .filter(|(_, off_mm, pm_mm)| off_mm.abs() > *pm_mm)
        .max_by(|a, b| a.1.abs().total_cmp(&b.1.abs()))?;
    let way = if off_mm > 0.0 {
        "proud (too far out)"
    } else {
        "shy (too far in)"
    };
    let whence = name.map_or(String::new(), |name| format!(", on {name}"));
    Some(format!(
        "The farthest spot is {} {way}{whence}, {} at that spot, how it was set counted in.",
        length(off_mm),
        pm(pm_mm)
    ))
}

fn how_sure(record: &Record) -> String {
    let setting = &record.setting;
    let mut words = String::from("How sure: the true figure lies within the ± in 95 of 100 cases");
    if let Some(far) = super::setting::far_corner_pm_mm(record) {
        words.push_str(&format!(
            "; {} of it comes from how it was set, at the far corner",
            pm(far)
        ));
    }
    match setting.repeat_pm_mm {
        Some(repeat) => words.push_str(&format!(
            "; putting it back and measuring again adds {}, which is in it",
            pm(repeat)
        )),
        None => words.push_str("; what putting it back changes was not tried and is not in the ±"),
    }
    if !setting.settled {
        words.push_str("; the set did not come to rest on the reference, so every figure is a first look");
    } else if setting.method == "all-over" {
        words.push_str("; it was set all over, which can hide a fault where much of the metal has moved");
    }
    words.push('.');
    words
}

/// What only holding the part takes away.
fn sprung(record: &Record) -> Option<String> {
    let told: Vec<&str> = record
        .arrangement
        .iter()
        .filter(|a| a.kind == "arrangement")
        .map(|a| a.what.as_str())
        .collect();
    (!told.is_empty()).then(|| format!("Only sprung, and home when held: {}.", told.join(", ")))
}

/// Metal that the reference does not have.
fn extra(record: &Record) -> Option<String> {
    let words: Vec<String> = record.extra.iter().map(|e| named(&e.name, &e.words)).collect();
    (!words.is_empty()).then(|| format!("To be looked at: {}.", listed(&words)))
}

/// Whether something is off and nothing is known of how far such parts differ by themselves. A part beside a mirror image
/// differs from it and is not off.
fn only_one_reference(record: &Record) -> bool {
    let alone = record.made_with.asked.originals.is_empty() && !record.against_image();
    alone && !withheld(record) && is_out(&record.verdict)
}

fn not_said(record: &Record) -> String {
    let mut parts = Vec::new();
    for word in [NOT_MEASURED, WITHHELD] {
        let without: Vec<&str> = record
            .regions
            .iter()
            .filter(|r| verdict_of_region(record, r) == word)
            .map(|r| r.name.as_str())
            .collect();
        if !without.is_empty() {
            parts.push(format!("{} ({word})", without.join(", ")));
        }
    }
    if record.figures.coverage < SEEN {
        parts.push(format!(
            "the {:.0} % of the reference that was {NOT_MEASURED} (hatched in the pictures)",
            100.0 * (1.0 - record.figures.coverage)
        ));
    }
    if let Some(held) = &record.setting.held
        && !held.free.is_empty()
    {
        let free: Vec<&str> = held.free.iter().map(|f| f.words.as_str()).collect();
        parts.push(format!(
            "the ways in which nothing holds the set ({})",
            free.join("; ")
        ));
    }
    if only_one_reference(record) {
        parts.push(
            "whose the difference is, the part's or the reference's: there is only one reference".to_string(),
        );
    }
    parts.push("what was done to the part after it was measured".to_string());
    parts.push("strength, weld quality or hidden corrosion".to_string());
    format!(
        "It says nothing of {}. A later comparison may have replaced this one: the job's page says which counts now.",
        parts.join("; nor of ")
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::made;

    #[test]
    fn the_first_sentence_says_what_is_wrong_and_the_last_what_is_not_said() {
        let said = summary(&made::record());
        assert_eq!(
            said[0],
            "floor & sills does not agree with as \"found\" within 1/16 (1.6 mm) either way: \
             right <floor> 3/16 high, all of it; hole 1: 1-3/8 for 1-1/2, in its place."
        );
        assert_eq!(
            said[1],
            "Of its 3 regions, 1 is OUT, 1 is not measured, 1 is in; besides, 1 hole is OUT."
        );
        assert_eq!(
            said[2],
            "The farthest spot is 3/16 (4.8 mm) proud (too far out), on right <floor>, ±0.50 mm at that spot, \
             how it was set counted in."
        );
        assert!(said[3].contains("was not tried"), "{}", said[3]);
        assert!(
            said[4].starts_with("It says nothing of tunnel (not measured); nor of the 22 %"),
            "{}",
            said[4]
        );
        for told in ["fore and aft", "after it was measured", "which counts now"] {
            assert!(said[4].contains(told), "{}", said[4]);
        }
    }

    #[test]
    fn how_a_panel_is_bent_comes_with_how_it_lies() {
        let mut record = made::record();
        let json = r#"{"words": "crowned 3/32 along its length", "length_mm": 900, "width_mm": 400, "along_mm": 2.4,
          "along_pm_mm": 0.1, "across_mm": 0, "across_pm_mm": 0.1, "twist_mm": 0, "twist_pm_mm": 0.1}"#;
        record.regions[0].shift.as_mut().unwrap().shape = Some(serde_json::from_str(json).unwrap());
        assert!(
            findings(&record)[0].ends_with("3/16 high, all of it, crowned 3/32 along its length"),
            "{:?}",
            findings(&record)
        );
    }

    #[test]
    fn the_other_side_mirrored_is_told_as_such_and_makes_nothing_wrong() {
        let mut record = made::record();
        record.reference.mirrored = true;
        let said = summary(&record).join(" ");
        let head = "floor & sills does not agree with as \"found\" (the other side, mirrored) within";
        assert!(said.starts_with(head), "{said}");
        assert!(said.contains("; what differs is not for that wrong: "), "{said}");
        assert!(!said.contains("OUT") && !said.contains("only one"), "{said}");
    }

    #[test]
    fn a_single_reference_is_told_once_and_only_where_something_is_off() {
        let mut record = made::record();
        let told = |record: &Record| {
            let said = summary(record);
            said.iter().filter(|s| s.contains("only one reference")).count()
        };
        assert_eq!(told(&record), 1);
        record.made_with.asked.originals = vec!["another".to_string()];
        assert_eq!(told(&record), 0);
        record.made_with.asked.originals.clear();
        record.verdict = "within".into();
        assert_eq!(told(&record), 0);
    }

    #[test]
    fn metal_that_the_reference_does_not_have_is_told_in_one_sentence() {
        let mut record = made::record();
        let sentences = summary(&record).len();
        record.extra = serde_json::from_str(
            r#"[{"name": "extra 1", "at_mm": [0, 0, 0], "size_mm": [50, 30], "area_mm2": 1500, "off_mm": 10, "points": 900,
              "words": "metal the reference does not have: 2 x 1-1/4 in"}]"#,
        )
        .unwrap();
        let said = summary(&record);
        assert_eq!(said.len(), sentences + 1);
        assert!(
            said.iter()
                .any(|s| s == "To be looked at: extra 1: metal the reference does not have: 2 x 1-1/4 in."),
            "{said:?}"
        );
    }

    #[test]
    fn while_questions_are_open_no_figure_is_said() {
        let mut record = made::record();
        for region in &mut record.regions {
            region.withheld = true;
        }
        let said = summary(&record);
        assert!(said[0].starts_with("No verdict is given"));
        assert!(!said.iter().any(|s| s.contains("farthest")), "{said:?}");
        record.work[0].words = "first: is it the right hand?".to_string();
        assert!(summary(&record)[0].ends_with(" yet: is it the right hand?"));
    }

    #[test]
    fn three_to_six_sentences_whatever_was_found() {
        let mut record = made::record();
        assert!((3..=6).contains(&summary(&record).len()));
        for word in ["within", "outside", "too-close", "not-measured"] {
            record.verdict = word.into();
            record.regions.clear();
            record.holes.clear();
            assert!((3..=6).contains(&summary(&record).len()), "{word}");
        }
    }
}
