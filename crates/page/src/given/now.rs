//! Which of a job's comparisons count now, and which a later one has replaced.

use record::Record;

use super::Given;

/// Most regions that are named one by one.
const MOST_NAMED: usize = 4;

/// How a comparison stands among those of its job.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Standing {
    /// The day on which its measured set was taken, where that is known.
    pub day: Option<String>,
    /// The later comparison that has replaced it; nothing where it counts now.
    pub replaced: Option<Replaced>,
}

impl Standing {
    /// Whether it says how the part is now, as far as the job knows.
    pub fn counts_now(&self) -> bool {
        self.replaced.is_none()
    }
}

/// What has replaced a comparison.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Replaced {
    /// The name of the later comparison.
    pub by: String,
    /// The day on which its measured set was taken, where that is known.
    pub day: Option<String>,
    /// Regions of the earlier one that the later one does not look at: of those the earlier one is the last word.
    pub not_again: Vec<String>,
}

impl Replaced {
    /// `replaced by handed over, measured 2026-11-26, which does not look at tunnel`.
    pub fn words(&self) -> String {
        let mut words = format!("replaced by {}", self.by);
        if let Some(day) = &self.day {
            words.push_str(&format!(", measured {day}"));
        }
        if !self.not_again.is_empty() {
            let mut named: Vec<String> = self.not_again.iter().take(MOST_NAMED).cloned().collect();
            if self.not_again.len() > MOST_NAMED {
                named.push(format!("{} more", self.not_again.len() - MOST_NAMED));
            }
            words.push_str(&format!(", which does not look at {}", named.join(", ")));
        }
        words
    }
}

/// How each comparison stands. One is replaced by the comparison of another set against the same reference, or likewise against
/// its own mirror image, that looks at some of the same metal and whose set was taken last; where the days of such sets are not
/// all known their order in the job stands in. Comparisons of one set don't replace each other: they show one state of it.
///
/// `days` has the day of each comparison's measured set, written as 2026-11-26.
pub fn standings(comparisons: &[Given<'_>], days: &[Option<String>]) -> Vec<Standing> {
    let day = |k: usize| days.get(k).cloned().flatten();
    (0..comparisons.len())
        .map(|k| {
            let ours = comparisons[k].record;
            let alike: Vec<usize> = (0..comparisons.len())
                .filter(|&j| same_kind(ours, comparisons[j].record))
                .collect();
            let all_known = alike.iter().all(|&j| day(j).is_some());
            let taken = |j: usize| (day(j).filter(|_| all_known), j);
            let later = alike.into_iter().filter(|&j| {
                let theirs = comparisons[j].record;
                theirs.measured.name != ours.measured.name
                    && taken(j) > taken(k)
                    && looks_at_the_same(ours, theirs)
            });
            let replaced = later.max_by_key(|&j| taken(j)).map(|j| Replaced {
                by: comparisons[j].record.comparison.clone(),
                day: day(j),
                not_again: not_again(ours, comparisons[j].record),
            });
            Standing {
                day: day(k),
                replaced,
            }
        })
        .collect()
}

fn same_kind(ours: &Record, theirs: &Record) -> bool {
    let kind = |record: &Record| (record.mirror.is_some(), record.reference.mirrored);
    ours.reference.name == theirs.reference.name && kind(ours) == kind(theirs)
}

/// The regions that a comparison is about: what was left alone only sets it.
fn about(record: &Record) -> impl Iterator<Item = &str> {
    let own = record.regions.iter().filter(|r| r.status != "kept");
    own.map(|r| r.name.as_str())
}

/// Without regions the whole is looked at.
fn looks_at(record: &Record, region: &str) -> bool {
    record.regions.is_empty() || record.regions.iter().any(|r| r.name == region)
}

fn looks_at_the_same(earlier: &Record, later: &Record) -> bool {
    let mut own = about(earlier).peekable();
    own.peek().is_none() || own.any(|region| looks_at(later, region))
}

fn not_again(earlier: &Record, later: &Record) -> Vec<String> {
    let lost = about(earlier).filter(|region| !looks_at(later, region));
    lost.map(String::from).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{About, made};

    /// A comparison of `measured` against one reference that is about these of the made record's regions, and `tunnel` as kept.
    fn record(name: &str, measured: &str, about: &[&str]) -> Record {
        let mut record = made::record();
        record.comparison = name.to_string();
        record.measured.name = measured.to_string();
        let made = record.regions.clone();
        record.regions = about
            .iter()
            .map(|region| {
                let mut one = made[0].clone();
                one.name = region.to_string();
                one
            })
            .collect();
        let mut kept = made[1].clone();
        kept.name = "tunnel".to_string();
        record.regions.push(kept);
        record
    }

    fn told(records: &[Record], days: &[&str]) -> Vec<Option<Replaced>> {
        let about = About::default();
        let given: Vec<Given<'_>> = records
            .iter()
            .map(|record| Given {
                about: &about,
                record,
                pictures: &[],
            })
            .collect();
        let days: Vec<Option<String>> = days
            .iter()
            .map(|day| (!day.is_empty()).then(|| day.to_string()))
            .collect();
        standings(&given, &days).into_iter().map(|s| s.replaced).collect()
    }

    fn by(told: &[Option<Replaced>]) -> Vec<&str> {
        let names = told.iter().map(|r| r.as_ref().map_or("", |r| r.by.as_str()));
        names.collect()
    }

    #[test]
    fn the_set_that_was_taken_last_counts_whatever_the_order_of_the_job() {
        let records = [
            record("welded", "set 2", &["floor"]),
            record("on pads", "set 1", &["floor"]),
        ];
        let told_by_day = told(&records, &["2026-10-05", "2026-09-14"]);
        assert_eq!(by(&told_by_day), ["", "welded"]);
        let words = told_by_day[1].as_ref().unwrap().words();
        assert_eq!(words, "replaced by welded, measured 2026-10-05");
        // Of one day, or where a day is not known, the job's order stands in.
        assert_eq!(
            by(&told(&records, &["2026-10-05", "2026-10-05"])),
            ["on pads", ""]
        );
        assert_eq!(by(&told(&records, &["2026-10-05", ""])), ["on pads", ""]);
        assert_eq!(by(&told(&records, &[])), ["on pads", ""]);
    }

    #[test]
    fn another_reference_other_metal_and_the_same_set_replace_nothing() {
        let mut other = record("panel", "set 2", &["floor"]);
        other.reference.name = "a good panel".to_string();
        let mut mirrored = record("side to side", "set 3", &["floor"]);
        mirrored.mirror = Some(made::mirror());
        let records = [
            record("floor", "set 1", &["floor"]),
            other,
            mirrored,
            record("floor again", "set 1", &["floor"]),
            record("roof", "set 4", &["roof"]),
        ];
        assert_eq!(by(&told(&records, &[])), ["", "", "", "", ""]);
    }

    #[test]
    fn what_the_later_one_does_not_look_at_is_told() {
        let records = [
            record("side", "set 1", &["floor", "sill", "bar", "leg", "post", "roof"]),
            record("floor", "set 2", &["floor"]),
        ];
        let told = told(&records, &[]);
        let first = told[0].as_ref().unwrap();
        assert_eq!(first.not_again, ["sill", "bar", "leg", "post", "roof"]);
        assert_eq!(
            first.words(),
            "replaced by floor, which does not look at sill, bar, leg, post, 1 more"
        );
        // Without regions the whole is looked at.
        let mut whole = record("whole", "set 3", &[]);
        whole.regions.clear();
        let records = [records[0].clone(), whole];
        assert_eq!(self::told(&records, &[])[0].as_ref().unwrap().not_again.len(), 0);
    }
}
