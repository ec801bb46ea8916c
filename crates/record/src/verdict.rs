//! What each verdict is called: one word for one state in pictures, pages, tables and on the screen.

use crate::{Record, RegionRecord};

/// Off by no more than the limit.
pub const IN: &str = "in";
/// Off by more than the limit.
pub const OUT: &str = "OUT";
/// A side that is off from its own mirror image or the other side's, which is not for that wrong.
pub const DIFFERS: &str = "differs";
/// The limit lies inside the ±.
pub const TOO_CLOSE: &str = "too close to call";
/// Nothing is known of it.
pub const NOT_MEASURED: &str = "not measured";
/// No verdict is given while a question is open.
pub const WITHHELD: &str = "withheld";
/// What a single figure says where its ± hides the answer; no verdict.
pub const CANT_TELL: &str = "can't tell";

/// The verdicts, in the order in which they are counted out and listed.
pub const WORST_FIRST: [&str; 6] = [OUT, DIFFERS, TOO_CLOSE, NOT_MEASURED, WITHHELD, IN];

/// What a word of result.json is called; against a mirror image a part differs and is not OUT.
pub fn said(word: &str, mirrored: bool) -> &'static str {
    match word {
        "within" => IN,
        "outside" if mirrored => DIFFERS,
        "outside" => OUT,
        "too-close" => TOO_CLOSE,
        _ => NOT_MEASURED,
    }
}

/// What a word of this record is called: all are withheld while a question is open.
pub fn of(record: &Record, word: &str) -> &'static str {
    if withheld(record) {
        return WITHHELD;
    }
    said(word, record.against_image())
}

/// The verdict of a region, in the same words.
pub fn of_region(record: &Record, region: &RegionRecord) -> &'static str {
    if region.withheld {
        return WITHHELD;
    }
    said(&region.verdict, record.against_image())
}

/// Whether questions are open, so that no verdict is given.
pub fn withheld(record: &Record) -> bool {
    record.regions.iter().any(|r| r.withheld) || record.warnings.iter().any(|w| w.code == "unanswered")
}

/// A verdict over everything as it stands over a picture: its word, and of how much of the part it is said.
pub fn of_the_whole(said: &str) -> &'static str {
    match said {
        IN => "in, all of it within the limit",
        OUT => "OUT of the limit in places",
        DIFFERS => "differs from side to side",
        TOO_CLOSE => "too close to call in places",
        WITHHELD => "withheld until the questions are answered",
        _ => "not measured in places",
    }
}

/// What is meant by one of these words.
pub fn meaning(said: &str) -> &'static str {
    match said {
        IN => "within the limit, the ± counted in",
        OUT => "farther off than the limit in places, the ± counted in",
        DIFFERS => "left and right differ by more than the limit; that is not for that wrong",
        TOO_CLOSE => "the limit lies inside the ±: measure again, or nearer",
        WITHHELD => "no verdict until the open questions are answered",
        CANT_TELL => "of a single figure: its ± is too wide to say anything by it",
        _ => "too little was seen, or nothing holds the direction that matters; hatched in the pictures",
    }
}

/// Where a verdict stands among [`WORST_FIRST`]: what comes first is told first where not all can be.
pub fn rank(said: &str) -> usize {
    let at = WORST_FIRST.iter().position(|word| *word == said);
    at.unwrap_or(WORST_FIRST.len())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_state_has_one_word_and_what_stands_over_a_picture_begins_with_it() {
        for (k, word) in WORST_FIRST.iter().enumerate() {
            assert_eq!(rank(word), k);
            assert!(of_the_whole(word).starts_with(word), "{word}");
            let others = WORST_FIRST.iter().filter(|other| meaning(other) == meaning(word));
            assert_eq!(others.count(), 1, "{word}");
        }
        assert_eq!(rank("home"), WORST_FIRST.len());
    }

    #[test]
    fn the_words_of_a_results_file_are_said_in_words() {
        let all = ["within", "outside", "too-close", "not-measured"];
        assert_eq!(
            all.map(|word| said(word, false)),
            [IN, OUT, TOO_CLOSE, NOT_MEASURED]
        );
        assert_eq!(
            all.map(|word| said(word, true)),
            [IN, DIFFERS, TOO_CLOSE, NOT_MEASURED]
        );
    }
}
