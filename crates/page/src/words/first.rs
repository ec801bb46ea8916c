//! What is to be done first about a comparison, in one line that is never empty.

use record::Record;
use record::verdict::{DIFFERS, IN, NOT_MEASURED, OUT, TOO_CLOSE, WITHHELD};

use super::summary::findings;
use super::verdict;

/// How a task begins that is a question.
const QUESTION: &str = "first: ";

/// The questions that must be answered before a verdict is given.
pub(super) fn questions(record: &Record) -> Vec<&str> {
    let tasks = record.work.iter();
    tasks
        .filter_map(|task| task.words.strip_prefix(QUESTION))
        .collect()
}

/// The open question, or the first line of the work list, or why there is none.
pub fn first_to_do(record: &Record) -> String {
    let said = verdict(record);
    let listed = super::tasks(record)
        .into_iter()
        .flat_map(|(_, tasks)| tasks)
        .next()
        .map(|task| task.words.as_str());
    match (said, listed) {
        (WITHHELD, Some(task)) => {
            let question = task.strip_prefix(QUESTION).unwrap_or(task);
            format!("answer the question first: {question}")
        }
        (WITHHELD, None) => "answer the open questions first: see the warnings".to_string(),
        (_, Some(task)) => task.to_string(),
        (IN, None) => "nothing to do".to_string(),
        (OUT | DIFFERS, None) => match findings(record).into_iter().next() {
            Some(found) => format!("no work is listed; {said}: {found}"),
            None => format!("no work is listed; {said}: see the pictures"),
        },
        (TOO_CLOSE, None) => format!("nothing to do yet: {TOO_CLOSE}, measure again, or nearer"),
        _ => format!("nothing to do yet: measure what is {NOT_MEASURED}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::made;

    #[test]
    fn the_first_line_of_the_work_list_comes_first() {
        let mut record = made::record();
        assert_eq!(
            first_to_do(&record),
            "right <floor>: take 3/16 of shim out at front inner"
        );
        record.work.drain(..2);
        assert_eq!(first_to_do(&record), "hole 1: 1-3/8 for 1-1/2, in its place");
    }

    #[test]
    fn while_a_question_is_open_it_comes_before_anything_else() {
        let mut record = made::record();
        record.regions[0].withheld = true;
        record.work.truncate(1);
        record.work[0].words = "first: is it the right hand?".to_string();
        assert_eq!(
            first_to_do(&record),
            "answer the question first: is it the right hand?"
        );
        record.work.clear();
        assert!(first_to_do(&record).starts_with("answer the open questions first"));
    }

    #[test]
    fn it_is_never_empty_and_only_what_is_in_has_nothing_to_do() {
        let mut record = made::record();
        record.work.clear();
        assert_eq!(
            first_to_do(&record),
            "no work is listed; OUT: right <floor> 3/16 high, all of it"
        );
        for (word, begins) in [
            ("within", "nothing to do"),
            ("too-close", "nothing to do yet: too close to call"),
            ("not-measured", "nothing to do yet: measure what is not measured"),
        ] {
            record.verdict = word.into();
            assert!(
                first_to_do(&record).starts_with(begins),
                "{}",
                first_to_do(&record)
            );
        }
        record.verdict = "within".into();
        assert_eq!(first_to_do(&record), "nothing to do");
    }
}
