//! What comes first where not all can be printed, what is said of the rest, and which comparisons count now.

use record::Record;
use record::verdict::{WORST_FIRST, rank};

use super::SMALL;
use crate::given::Standing;
use crate::pdf::flow::Flow;
use crate::{GivenJob, words};

/// At most so many rows, the worst first and else in their order; and the verdicts of those that are left out.
pub(super) fn chosen<T>(mut rows: Vec<(&'static str, T)>, most: usize) -> (Vec<T>, Vec<&'static str>) {
    rows.sort_by_key(|(said, _)| rank(said));
    let rest = rows.split_off(most.min(rows.len()));
    (
        rows.into_iter().map(|(_, row)| row).collect(),
        rest.into_iter().map(|(said, _)| said).collect(),
    )
}

/// `17 more rows (2 too close to call, 15 in) in page.html`; nothing where none is left out.
pub(super) fn and_more(flow: &mut Flow<'_>, left_out: &[&'static str], whence: &str) {
    let counts: Vec<String> = WORST_FIRST
        .iter()
        .map(|word| (left_out.iter().filter(|said| *said == word).count(), word))
        .filter(|(count, _)| *count > 0)
        .map(|(count, word)| format!("{count} {word}"))
        .collect();
    let which = format!(" ({})", counts.join(", "));
    and_more_of(flow, left_out.len(), &format!("rows{which}"), whence);
}

/// `11 more files in page.html of the job`; nothing where none is left out.
pub(super) fn and_more_of(flow: &mut Flow<'_>, left_out: usize, what: &str, whence: &str) {
    if left_out > 0 {
        let style = flow.body().sized(SMALL).pale();
        flow.paragraph(&format!("{left_out} more {what} in {whence}."), style);
    }
}

/// Whether the comparison that is shown counts now, and what else of the job does.
pub(super) fn counts_now(flow: &mut Flow<'_>, job: &GivenJob<'_>, shown: &Record, most: usize) {
    let own = job.comparisons.iter().position(|c| std::ptr::eq(c.record, shown));
    let standing = own.and_then(|k| job.standings.get(k));
    let day = standing.and_then(|s| s.day.as_deref());
    let day = day.map_or(String::new(), |day| format!(", measured {day}"));
    let stands = match standing.and_then(|s| s.replaced.as_ref()) {
        Some(replaced) => format!("is earlier: {}", replaced.words()),
        None => "counts now".to_string(),
    };
    let name = &shown.comparison;
    flow.paragraph(&format!("Shown here: {name}{day}. It {stands}."), flow.body());
    let others: Vec<(&'static str, String)> = job
        .comparisons
        .iter()
        .enumerate()
        .filter(|(k, _)| Some(*k) != own && job.standings.get(*k).is_none_or(Standing::counts_now))
        .map(|(_, other)| {
            let said = words::verdict(other.record);
            (said, format!("{} ({said})", other.record.comparison))
        })
        .collect();
    let (named, left_out) = chosen(others, most);
    if !named.is_empty() {
        let words = format!("Of the job there count now besides: {}.", named.join(", "));
        flow.paragraph(&words, flow.body());
    }
    and_more_of(flow, left_out.len(), "of them", "page.html of the job");
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_worst_come_first_and_what_is_left_out_is_told_by_its_verdicts() {
        let rows = vec![
            ("in", 1),
            ("OUT", 2),
            ("in", 3),
            ("not measured", 4),
            ("OUT", 5),
            ("too close to call", 6),
        ];
        let (printed, left_out) = chosen(rows.clone(), 4);
        assert_eq!(printed, [2, 5, 6, 4]);
        assert_eq!(left_out, ["in", "in"]);
        assert_eq!(chosen(rows, 99).0, [2, 5, 6, 4, 1, 3]);
        assert!(chosen::<()>(Vec::new(), 3).0.is_empty());
    }
}
