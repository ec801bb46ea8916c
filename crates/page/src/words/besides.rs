//! What is outside besides the regions, counted by kind.

use record::Record;

use super::summary::{is_out, listed};
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
    let (shell, folds, edges) = (record.shell.iter(), record.folds.iter(), record.edges.iter());
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
                .filter(|f| is_out(&f.verdict) && f.moved_with.is_none() && !with_region(&f.name))
                .count(),
        ),
        (
            ["edge", "edges"],
            edges.filter(|e| is_out(&e.verdict) && !e.comes_home()).count(),
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
    let state = match (record.against_image(), total) {
        (false, 1) => "is OUT",
        (false, _) => "are OUT",
        (true, 1) => "differs",
        (true, _) => "differ",
    };
    Some(format!("{listed} {state}"))
}

/// The names of what makes the verdict over everything out, or too close to call, and is no region and no face: `hole 3`, `front
/// edge`.
pub fn decided_beside_faces(record: &Record) -> Vec<&str> {
    if !["outside", "too-close"].contains(&&*record.verdict) {
        return Vec::new();
    }
    let folds = record.folds.iter().filter(|f| f.moved_with.is_none());
    let edges = record.edges.iter().filter(|e| !e.comes_home());
    let all = record.shell.iter().map(|f| (&f.name, &f.verdict));
    let all = all.chain(record.checks.iter().map(|c| (&c.name, &c.verdict)));
    let all = all.chain(folds.map(|f| (&f.name, &f.verdict)));
    let all = all.chain(edges.map(|e| (&e.name, &e.verdict)));
    let all = all.chain(record.recesses.iter().map(|r| (&r.name, &r.verdict)));
    let all = all.chain(record.beads.iter().map(|b| (&b.name, &b.verdict)));
    let all = all.chain(record.holes.iter().map(|h| (&h.name, &h.verdict)));
    all.filter(|(_, verdict)| **verdict == record.verdict)
        .map(|(name, _)| name.as_str())
        .collect()
}

/// Which edges read as out while their verdict is withheld, so that nobody takes silence for good news. Nothing where verdicts
/// are given.
pub(super) fn readings_withheld(record: &Record) -> Option<String> {
    if !withheld(record) {
        return None;
    }
    let edges = record.edges.iter().filter(|e| e.reads_out() && !e.comes_home());
    let said: Vec<String> = edges
        .map(|edge| {
            let stretches = edge.stretches.iter().filter(|s| !s.not_out);
            let words: Vec<&str> = stretches.map(|s| s.words.as_str()).collect();
            format!("{} {}", edge.name, words.join(", "))
        })
        .collect();
    (!said.is_empty()).then(|| format!("It reads, with the verdict withheld: {}.", said.join("; ")))
}

/// ` by hole 5; floor`; nothing where no part of it is named.
pub(super) fn too_close_by(record: &Record) -> String {
    let regions = record.regions.iter().filter(|r| r.verdict == record.verdict);
    let regions = regions.map(|r| r.name.clone());
    let beside = decided_beside_faces(record).into_iter().map(str::to_string);
    let named: Vec<String> = regions.chain(beside).collect();
    match named.is_empty() {
        true => String::new(),
        false => format!(" by {}", listed(&named)),
    }
}

#[cfg(test)]
mod tests {
    use super::super::summary::{findings, summary};
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
    fn what_comes_home_with_a_region_is_not_counted() {
        let mut record = made::record();
        let edge = r#"[{"name": "lower edge", "region": "floor", "length_mm": 50, "closed": false, "verdict": "outside",
            "words": [], "runs": [], "stretches": [{"from_mm": [0, 0, 0], "to_mm": [0, 254, 0], "length_mm": 254,
            "short_mm": 3.175, "pm_mm": 0.3, "words": "1/8 short over 10"}]}]"#;
        record.edges = serde_json::from_str(edge).unwrap();
        let fold = r#"[{"name": "lower flange", "short_mm": 3, "pm_mm": 0.1, "verdict": "outside", "words": "1/8 short"}]"#;
        record.folds = serde_json::from_str(fold).unwrap();
        assert_eq!(
            besides(&record).as_deref(),
            Some("1 fold, 1 edge and 1 hole are OUT")
        );
        record.folds[0].moved_with = Some("floor".to_string());
        record.edges[0].stretches[0].moved_with = Some(record::found::MovedWithRecord {
            region: "floor".to_string(),
            home: true,
        });
        assert_eq!(besides(&record).as_deref(), Some("1 hole is OUT"));
        // What is within the limit beside it makes no fault.
        let mut beside = record.edges[0].stretches[0].clone();
        (beside.moved_with, beside.not_out) = (None, true);
        record.edges[0].stretches.push(beside);
        let told = findings(&record).join(" ");
        assert!(!told.contains("lower"), "{told}");
        record.edges[0].stretches[1].not_out = false;
        assert_eq!(besides(&record).as_deref(), Some("1 edge and 1 hole are OUT"));
    }

    #[test]
    fn what_is_out_beside_the_faces_is_named() {
        let mut record = made::record();
        assert_eq!(decided_beside_faces(&record), ["hole 1"]);
        (record.verdict, record.holes[0].verdict) = ("too-close".into(), "too-close".into());
        assert_eq!(decided_beside_faces(&record), ["hole 1"]);
        let told = summary(&record).remove(0);
        assert!(told.contains(" too close to call by "), "{told}");
        assert!(told.contains("hole 1: with the ±"), "{told}");
        record.verdict = "within".into();
        assert!(decided_beside_faces(&record).is_empty());
        record.verdict = "outside".into();
        record.holes.clear();
        assert!(decided_beside_faces(&record).is_empty());
    }

    #[test]
    fn an_edge_that_reads_short_is_told_while_its_verdict_is_withheld() {
        let mut record = made::record();
        let edge = r#"[{"name": "front edge", "length_mm": 497, "closed": false, "verdict": "not-measured",
            "words": ["7/32 short over 19-1/2"], "runs": [], "stretches": [{"from_mm": [0, 0, 0], "to_mm": [0, 490, 0],
            "length_mm": 490, "short_mm": 5.9, "pm_mm": 0.1, "words": "7/32 short over 19-1/2"}]}]"#;
        record.edges = serde_json::from_str(edge).unwrap();
        assert_eq!(readings_withheld(&record), None);
        record.regions[0].withheld = true;
        let told = "It reads, with the verdict withheld: front edge 7/32 short over 19-1/2.";
        assert!(summary(&record).iter().any(|sentence| sentence == told));
        record.edges[0].stretches[0].not_out = true;
        assert_eq!(readings_withheld(&record), None);
    }

    #[test]
    fn while_questions_are_open_nothing_is_counted() {
        let mut record = made::record();
        record.regions[0].withheld = true;
        assert_eq!(besides(&record), None);
    }
}
