//! The words that stand on a page and that a stranger may not know, each with what is meant by it.

use record::verdict::{CANT_TELL, WORST_FIRST, meaning};

/// A word, what is meant by it, and what gives away that it is used: itself where nothing is named.
type Entry = (&'static str, &'static str, &'static [&'static str]);

/// Which way metal is off.
const WAYS: [Entry; 2] = [
    (
        "proud, +",
        "the metal lies farther out than it should; orange with dots in the pictures",
        &["proud", "+"],
    ),
    (
        "shy, −",
        "the metal lies farther in than it should; purple with lines in the pictures",
        &["shy", "-"],
    ),
];

/// What stands behind the verdicts.
const FURTHER: [Entry; 9] = [
    (
        "±",
        "half the width of the band that holds the true figure in 95 of 100 cases",
        &[],
    ),
    (
        "set",
        "laid on the reference by what is named there; how well that holds it is in the ± of everything else",
        &["set by"],
    ),
    (
        "in the mean",
        "the root of the mean of the squares: without signs, and the large ones count more",
        &[],
    ),
    ("home", "where it belongs, as near as the ± can tell", &[]),
    (
        "shim",
        "what is laid under the part at a pad to lift it, or taken out to let it down",
        &["shim", "shims"],
    ),
    (
        "kept, worked, new, unsure",
        "left alone; worked on; put in new; compared, and neither",
        &["kept", "worked", "unsure"],
    ),
    (
        "reference",
        "what it is compared with: the shell as it was, an original panel, or the other side",
        &[],
    ),
    (
        "X, Y, Z",
        "rearward, to the right as seated, up from the table, all from the reference",
        &["X", "Y", "Z", "x (mm)", "y (mm)", "z (mm)"],
    ),
    ("fractions", "inches, to the nearest 32nd", &["/"]),
];

/// Every word, with what is meant by it.
pub fn glossary() -> Vec<(&'static str, &'static str)> {
    entries()
        .into_iter()
        .map(|(word, meaning, _)| (word, meaning))
        .collect()
}

/// Those that a text uses.
pub fn used_in(text: &str) -> Vec<(&'static str, &'static str)> {
    entries()
        .into_iter()
        .filter(|(word, _, signs)| match signs {
            [] => has(text, word),
            signs => signs.iter().any(|sign| has(text, sign)),
        })
        .map(|(word, meaning, _)| (word, meaning))
        .collect()
}

fn entries() -> Vec<Entry> {
    let verdicts = WORST_FIRST.into_iter().chain([CANT_TELL]);
    let verdicts = verdicts.map(|word| -> Entry { (word, meaning(word), &[]) });
    WAYS.into_iter().chain(verdicts).chain(FURTHER).collect()
}

/// Whether a word stands in a text by itself; a sign that is no word may stand right before or behind others.
fn has(text: &str, word: &str) -> bool {
    let goes_on = |end: Option<char>| end.is_some_and(char::is_alphanumeric);
    let figure_sign = !word.contains(char::is_alphanumeric);
    text.match_indices(word).any(|(at, _)| {
        let (before, behind) = (&text[..at], &text[at + word.len()..]);
        if figure_sign {
            return beside_a_figure(word, before, behind);
        }
        !goes_on(before.chars().next_back()) && !goes_on(behind.chars().next())
    })
}

/// A sign belongs to a figure: + and − stand at its beginning, a stroke between two digits.
fn beside_a_figure(sign: &str, before: &str, behind: &str) -> bool {
    let (last, next) = (before.chars().next_back(), behind.chars().next());
    let digit = |c: Option<char>| c.is_some_and(|c| c.is_ascii_digit());
    match sign {
        "+" | "-" => digit(next) && last.is_none_or(char::is_whitespace),
        "/" => digit(last) && digit(next),
        _ => true,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn used(text: &str) -> Vec<&'static str> {
        used_in(text).into_iter().map(|(word, _)| word).collect()
    }

    #[test]
    fn only_words_that_stand_by_themselves_are_used() {
        assert_eq!(used("the boot side is OUT"), ["OUT"]);
        assert_eq!(used("3/16 proud"), ["proud, +", "fractions"]);
        assert_eq!(used("off -3/32, ±0.40 mm"), ["shy, −", "±", "fractions"]);
        assert_eq!(used("can't tell: it differs"), ["differs", "can't tell"]);
        assert_eq!(used("a routine, without"), Vec::<&str>::new());
        // The length of a day is no deviation, nor a date's stroke a fraction.
        assert_eq!(used("2026-09-14 and left/right, pan-3"), Vec::<&str>::new());
    }

    #[test]
    fn every_word_is_known_once() {
        let all = glossary();
        for (k, (word, meaning)) in all.iter().enumerate() {
            assert!(!meaning.is_empty(), "{word}");
            assert!(all[k + 1..].iter().all(|(other, _)| other != word), "{word}");
        }
        assert!(all.iter().any(|(word, _)| *word == CANT_TELL));
    }
}
