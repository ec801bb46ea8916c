//! What is outside besides the regions, counted by kind.

use record::Record;

use super::summary::is_out;
use super::withheld;

/// `1 hole and 2 recesses are OUT`; nothing where nothing is, or while no verdict is given. A fold is told with its region where
/// that is outside itself.
pub(super) fn besides(record: &Record) -> Option<String> {
    if withheld(record) {
        return None;
    }
    let with_region = |name: &str| {
        let mut regions = record.regions.iter();
        regions.any(|r| r.name == name && is_out(&r.verdict))
    };
    let (shell, folds) = (record.shell.iter(), record.folds.iter());
    let counts = [
        (
            ["figure of the shell", "figures of the shell"],
            shell.filter(|f| is_out(&f.verdict)).count(),
        ),
        (
            ["check", "checks"],
            record.checks.iter().filter(|c| is_out(&c.verdict)).count(),
        ),
        (
            ["fold", "folds"],
            folds
                .filter(|f| is_out(&f.verdict) && !with_region(&f.name))
                .count(),
        ),
        (
            ["edge", "edges"],
            record.edges.iter().filter(|e| is_out(&e.verdict)).count(),
        ),
        (
            ["recess", "recesses"],
            record.recesses.iter().filter(|r| is_out(&r.verdict)).count(),
        ),
        (
            ["bead", "beads"],
            record.beads.iter().filter(|b| is_out(&b.verdict)).count(),
        ),
        (
            ["hole", "holes"],
            record.holes.iter().filter(|h| is_out(&h.verdict)).count(),
        ),
    ];
    let total: usize = counts.iter().map(|(_, count)| count).sum();
    let kinds: Vec<String> = counts
        .iter()
        .filter(|(_, count)| *count > 0)
        .map(|([one, several], count)| format!("{count} {}", if *count == 1 { one } else { several }))
        .collect();
    let (last, others) = kinds.split_last()?;
    let listed = match others {
        [] => last.clone(),
        _ => format!("{} and {last}", others.join(", ")),
    };
    let state = match (record.mirror.is_some(), total) {
        (false, 1) => "is OUT",
        (false, _) => "are OUT",
        (true, 1) => "differs",
        (true, _) => "differ",
    };
    Some(format!("{listed} {state}"))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::made;

    #[test]
    fn what_is_no_region_is_counted_by_kind() {
        let mut record = made::record();
        assert_eq!(besides(&record).as_deref(), Some("1 hole is OUT"));
        record.holes.push(record.holes[0].clone());
        assert_eq!(besides(&record).as_deref(), Some("2 holes are OUT"));
        record.mirror = Some(made::mirror());
        assert_eq!(besides(&record).as_deref(), Some("2 holes differ"));
        record.holes.clear();
        assert_eq!(besides(&record), None);
    }

    #[test]
    fn while_questions_are_open_nothing_is_counted() {
        let mut record = made::record();
        record.regions[0].withheld = true;
        assert_eq!(besides(&record), None);
    }
}
