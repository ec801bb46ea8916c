//! Misspelt names: which of the known ones was meant, and which names only one of two lists has.

use super::Datum;

/// Most names of one list that are told; the rest is counted.
const MOST_TOLD: usize = 12;

/// The known name nearest to a mistyped one, where one is near enough. Capitals, blanks and hyphens count only between names
/// that are otherwise as near.
pub fn nearest<'k>(word: &str, known: impl Iterator<Item = &'k str>) -> Option<&'k str> {
    by_nearness(word, known).first().map(|near| near.1)
}

/// The names near enough to a mistyped one, the nearest first, each with how far it is: by letters and digits, then as written.
fn by_nearness<'k>(word: &str, known: impl Iterator<Item = &'k str>) -> Vec<((usize, usize), &'k str)> {
    let mut near: Vec<((usize, usize), &str)> = known
        .filter_map(|name| Some((apart(word, name)?, name)))
        .collect();
    near.sort_unstable();
    near
}

/// `None` where too much differs to be a slip of the pen. Something must be alike: of names of one letter none is near another.
fn apart(word: &str, name: &str) -> Option<(usize, usize)> {
    let plain = |text: &str| -> Vec<char> {
        let kept = text.chars().filter(|c| c.is_alphanumeric());
        kept.flat_map(char::to_lowercase).collect()
    };
    let (a, b) = (plain(word), plain(name));
    let by_letters = edits(&a, &b);
    let near = by_letters <= 1 + b.len() / 4 && by_letters < a.len().max(b.len());
    let written = |text: &str| -> Vec<char> { text.chars().collect() };
    near.then(|| (by_letters, edits(&written(word), &written(name))))
}

/// How many letters must be put in, taken out, changed or exchanged with their neighbour (Damerau 1964, CACM 7(3) 171; no
/// letter is touched twice).
fn edits(a: &[char], b: &[char]) -> usize {
    let mut before = vec![0; b.len() + 1];
    let mut last: Vec<usize> = (0..=b.len()).collect();
    for i in 1..=a.len() {
        let mut row = vec![i; b.len() + 1];
        for j in 1..=b.len() {
            let change = last[j - 1] + usize::from(a[i - 1] != b[j - 1]);
            row[j] = change.min(last[j] + 1).min(row[j - 1] + 1);
            if i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1] {
                row[j] = row[j].min(before[j - 2] + 1);
            }
        }
        before = std::mem::replace(&mut last, row);
    }
    last[b.len()]
}

/// Names that only one of two lists of points has.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Alone<'a> {
    /// Only the reference has these, in its order.
    pub reference: Vec<&'a str>,
    /// Only the measured set has these, in its order.
    pub measured: Vec<&'a str>,
}

impl<'a> Alone<'a> {
    /// Of two lists.
    pub fn of(reference: &'a [Datum], measured: &'a [Datum]) -> Self {
        let alone = |list: &'a [Datum], other: &[Datum]| -> Vec<&'a str> {
            let names = list.iter().map(|datum| datum.point.name.as_str());
            names
                .filter(|name| other.iter().all(|datum| datum.point.name != *name))
                .collect()
        };
        Self {
            reference: alone(reference, measured),
            measured: alone(measured, reference),
        }
    }

    /// `only there.csv has H3; only here.csv has h3 (did you mean H3?)`, the lists called as they are given here; `None` where
    /// every name has its partner.
    pub fn words(&self, reference: &str, measured: &str) -> Option<String> {
        let mut parts = Vec::new();
        if !self.reference.is_empty() {
            let names = self.reference.iter().map(|name| (*name).to_string());
            parts.push(format!("only {reference} has {}", listed(names)));
        }
        if !self.measured.is_empty() {
            let names = self.measured.iter().map(|name| match self.meant_by(name) {
                Some(meant) => format!("{name} (did you mean {meant}?)"),
                None => (*name).to_string(),
            });
            parts.push(format!("only {measured} has {}", listed(names)));
        }
        (!parts.is_empty()).then(|| parts.join("; "))
    }

    /// The one name of the reference without a partner that is nearest; none where two are as near.
    fn meant_by(&self, name: &str) -> Option<&'a str> {
        match by_nearness(name, self.reference.iter().copied()).as_slice() {
            [one] => Some(one.1),
            [one, next, ..] if one.0 < next.0 => Some(one.1),
            _ => None,
        }
    }
}

/// The first names, and how many more there are.
fn listed(names: impl ExactSizeIterator<Item = String>) -> String {
    let more = names.len().saturating_sub(MOST_TOLD);
    let told: Vec<String> = names.take(MOST_TOLD).collect();
    match more {
        0 => told.join(", "),
        more => format!("{} and {more} more", told.join(", ")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::{NamedPoint, Point};

    fn list(names: &[&str]) -> Vec<Datum> {
        let named = |name: &&str| NamedPoint {
            name: (*name).to_string(),
            at_mm: Point::origin(),
        };
        names.iter().map(|name| named(name).into()).collect()
    }

    #[test]
    fn the_edits_are_those_of_the_literature() {
        let of = |a: &str, b: &str| {
            let (a, b): (Vec<char>, Vec<char>) = (a.chars().collect(), b.chars().collect());
            edits(&a, &b)
        };
        for (a, b, expected) in [
            ("kitten", "sitting", 3),
            ("limti", "limit", 1),
            ("ca", "abc", 3),
            ("", "abc", 3),
            ("same", "same", 0),
        ] {
            assert_eq!((of(a, b), of(b, a)), (expected, expected), "{a} {b}");
        }
    }

    #[test]
    fn the_nearest_name_is_offered_and_none_that_is_far() {
        let of = |word, known: &[&'static str]| nearest(word, known.iter().copied());
        assert_eq!(of("limti", &["limit", "name"]), Some("limit"));
        assert_eq!(of("zebra", &["limit", "name"]), None);
        assert_eq!(of("left-flor", &["Left Floor", "left door"]), Some("Left Floor"));
        assert_eq!(of("h 3", &["H1", "H3"]), Some("H3"));
        assert_eq!(of("b", &["a", "c"]), None);
    }

    #[test]
    fn names_without_a_partner_are_told_on_each_side_with_what_was_meant() {
        let reference = list(&["H1", "H2", "H3", "H4", "front left", "T1", "T2"]);
        let measured = list(&["H1", "h2", "H03", "frnot left", "T9", "pin"]);
        let alone = Alone::of(&reference, &measured);
        assert_eq!(
            alone.words("there.csv", "here.csv").unwrap(),
            "only there.csv has H2, H3, H4, front left, T1, T2; only here.csv has h2 (did you mean H2?), H03 (did you mean H3?), frnot left (did you mean front left?), T9, pin"
        );
        assert_eq!(Alone::of(&reference, &reference).words("a", "b"), None);
        let many: Vec<String> = (0..20).map(|k| format!("point {k}")).collect();
        let many: Vec<&str> = many.iter().map(String::as_str).collect();
        let words = Alone::of(&list(&many), &[]).words("a", "b").unwrap();
        assert!(words.ends_with("point 11 and 8 more"), "{words}");
    }
}
