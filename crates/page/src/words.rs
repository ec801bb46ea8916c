//! Sentences made of a record, the same on every page.

mod besides;
mod first;
mod glossary;
mod setting;
mod summary;
pub mod whence;

pub use besides::decided_beside_faces;
pub use first::first_to_do;
pub use glossary::{glossary, used_in};
pub use record::verdict::{WORST_FIRST, of as verdict_of, of_region as verdict_of_region, withheld};
pub use setting::set_how;
pub use summary::summary;

use cloud::unit::fraction_of_inch;
use record::figured::TaskRecord;
use record::{Record, SetRecord};

use crate::pdf::place;

/// Who is to do a thing.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Who {
    /// The shop that has the part in the jig.
    Shop,
    /// Whoever made the part, or its tool.
    Maker,
    /// Nobody: it is put on record as it was found.
    Record,
}

impl Who {
    /// All of them, in the order in which they are printed.
    pub const ALL: [Who; 3] = [Who::Shop, Who::Maker, Who::Record];

    /// The word in a record.
    pub fn word(self) -> &'static str {
        match self {
            Who::Shop => "shop",
            Who::Maker => "supplier or toolmaker",
            Who::Record => "record",
        }
    }

    /// What stands over their list in `record`.
    pub fn heading(self, record: &Record) -> &'static str {
        match self {
            Who::Shop => "To do, for the shop",
            Who::Maker => "To do, for the supplier or toolmaker",
            Who::Record if record.reference.mirrored => "To put on record: what differs from the other side",
            Who::Record => "To put on record, no fault",
        }
    }
}

/// The verdict over everything: in, OUT, too close to call, not measured, differs (against a mirror image), withheld.
pub fn verdict(record: &Record) -> &'static str {
    record::verdict::of(record, &record.verdict)
}

/// What there is to do, for whom, each list in the order in which it is done; those without a task are left out.
pub fn tasks(record: &Record) -> Vec<(Who, Vec<&TaskRecord>)> {
    Who::ALL
        .into_iter()
        .map(|who| {
            let own = record.work.iter().filter(|t| t.who == who.word());
            (who, own.collect::<Vec<_>>())
        })
        .filter(|(_, tasks)| !tasks.is_empty())
        .collect()
}

/// A task in words, with the place of what is to be mended; what goes on record only has it in its words.
pub(crate) fn told(record: &Record, who: Who, task: &TaskRecord) -> String {
    let place = (who != Who::Record).then(|| place::of_task(record, task));
    place::placed(&task.words, place.flatten())
}

/// What counts as in: `within 1/16 (1.6 mm) either way`, with the regions that have a limit of their own.
pub fn limit(record: &Record) -> String {
    let all = record.made_with.limit_mm;
    let own: Vec<String> = record
        .regions
        .iter()
        .filter(|r| (r.limit_mm - all).abs() > 1e-6)
        .map(|r| format!("{} {}", r.name, length(r.limit_mm)))
        .collect();
    let mut words = format!("within {} either way", length(all));
    if !own.is_empty() {
        words.push_str(&format!("; {}", own.join(", ")));
    }
    words
}

/// A set's file: name, points, spacing, unit, size and SHA-256.
pub fn file_line(set: &SetRecord) -> String {
    let celsius = set.celsius.map_or(String::new(), |c| format!(", at {c:.0} °C"));
    format!(
        "{}: {}, {} points in {} ({} used), {:.1} mm apart, noise {:.2} mm{celsius}; {}, SHA-256 {}",
        set.called(),
        base_name(&set.file),
        thousands(set.points as u64),
        set.unit,
        thousands(set.points_used as u64),
        set.spacing_mm,
        set.noise_mm,
        size(set.bytes),
        set.sha256
    )
}

/// A length without its sign, as the shop says it and in millimetres: `3/16 (4.8 mm)`; `nil (0.1 mm)` under a 64th.
pub fn length(mm: f64) -> String {
    let parts = if fraction_of_inch(mm, 32) == "0" { 64 } else { 32 };
    let inches = match fraction_of_inch(mm, parts).as_str() {
        "0" => "nil".to_string(),
        inches => inches.to_string(),
    };
    format!("{inches} ({:.1} mm)", mm.abs())
}

/// `±0.25 mm`; `not held` where nothing holds the set in that direction.
pub fn pm(mm: f64) -> String {
    if mm > cloud::held::follows::NOT_HELD_MM {
        return "not held".to_string();
    }
    // A ± is never nothing: what rounds to that is told as the least that is written.
    format!("±{:.2} mm", mm.max(0.01))
}

/// A file's name without its folders, whichever way they are written.
pub fn base_name(path: &str) -> &str {
    path.rsplit(['/', '\\']).next().unwrap_or(path)
}

/// A number in groups of three: `300 175`, with spaces that don't break.
pub fn thousands(number: u64) -> String {
    let digits = number.to_string();
    let mut out = String::new();
    for (k, digit) in digits.chars().enumerate() {
        if k > 0 && (digits.len() - k).is_multiple_of(3) {
            out.push('\u{a0}');
        }
        out.push(digit);
    }
    out
}

/// A file's size: `10.8 MB`.
pub fn size(bytes: u64) -> String {
    match bytes {
        0..1_000 => format!("{bytes} bytes"),
        1_000..1_000_000 => format!("{:.1} kB", bytes as f64 / 1e3),
        _ => format!("{:.1} MB", bytes as f64 / 1e6),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::made;

    #[test]
    fn lengths_are_said_in_fractions_with_millimetres_beside() {
        assert_eq!(length(4.7625), "3/16 (4.8 mm)");
        assert_eq!(length(-4.7625), "3/16 (4.8 mm)");
        assert_eq!(length(31.75), "1-1/4 (31.8 mm)");
        assert_eq!(length(0.39), "1/64 (0.4 mm)");
        assert_eq!(length(0.05), "nil (0.1 mm)");
    }

    #[test]
    fn numbers_are_grouped_and_sizes_rounded() {
        assert_eq!(thousands(0), "0");
        assert_eq!(thousands(1_234_567), "1\u{a0}234\u{a0}567");
        assert_eq!(size(999), "999 bytes");
        assert_eq!(size(10_806_519), "10.8 MB");
    }

    #[test]
    fn a_verdict_is_withheld_while_a_question_is_open_and_a_mirrored_side_only_differs() {
        let mut record = made::record();
        assert_eq!(verdict(&record), "OUT");
        record.mirror = Some(made::mirror());
        assert_eq!(verdict(&record), "differs");
        record.regions[0].withheld = true;
        assert_eq!(verdict(&record), "withheld");
    }

    #[test]
    fn tasks_go_to_whom_they_are_for() {
        let record = made::record();
        let told = tasks(&record);
        let whom: Vec<Who> = told.iter().map(|(who, _)| *who).collect();
        assert_eq!(whom, [Who::Shop, Who::Maker]);
        assert_eq!(told[0].1.len(), 2);
    }

    #[test]
    fn a_region_with_a_limit_of_its_own_is_named() {
        let mut record = made::record();
        assert_eq!(limit(&record), "within 1/16 (1.6 mm) either way");
        record.regions[0].limit_mm = 3.175;
        assert_eq!(
            limit(&record),
            "within 1/16 (1.6 mm) either way; right <floor> 1/8 (3.2 mm)"
        );
    }

    #[test]
    fn folders_of_other_machines_are_not_printed() {
        assert_eq!(base_name("C:\\jobs\\tub\\floor.ply"), "floor.ply");
        assert_eq!(base_name("sets/floor.ply"), "floor.ply");
    }
}
