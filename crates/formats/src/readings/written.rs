//! A length as a person writes it off a tape: inches, feet and inches, or millimetres; vulgar fractions, decimal comma or dot.

use std::ops::Range;

use cloud::Unit;

/// Fractions that a keyboard has signs for.
const SIGNS: [(char, &str); 7] = [
    ('½', "1/2"),
    ('¼', "1/4"),
    ('¾', "3/4"),
    ('⅛', "1/8"),
    ('⅜', "3/8"),
    ('⅝', "5/8"),
    ('⅞', "7/8"),
];
/// What is read off a tape lies in between, mm: so `2,138 mm` parts thousands, and `84,125` is a decimal comma.
const ON_A_TAPE_MM: Range<f64> = 100.0..100_000.0;
/// The parts of an inch that a rule has; any other is a slip of the pen.
const ON_A_RULE: [u32; 6] = [2, 4, 8, 16, 32, 64];

/// What is written, mm; in inches where it says no unit. `None` where it is no length.
pub(super) fn mm(text: &str) -> Option<f64> {
    let text = plain(text);
    let foot = ["'", "feet", "foot", "ft"];
    if let Some((feet, rest)) = foot.iter().find_map(|mark| text.split_once(*mark)) {
        return feet_and_inches_mm(feet, rest.trim_matches([' ', '-', ',']));
    }
    let metric = [
        ("mm", Unit::Millimetre),
        ("cm", Unit::Centimetre),
        ("m", Unit::Metre),
    ];
    let said = metric
        .iter()
        .find_map(|(mark, unit)| Some((text.strip_suffix(*mark)?, *unit)));
    let (number, unit) = said.unwrap_or((without_inch_mark(&text), Unit::Inch));
    length_mm(number, unit)
}

/// Feet by themselves, which may be parts of one, or whole feet and less than twelve inches.
fn feet_and_inches_mm(feet: &str, inches: &str) -> Option<f64> {
    if inches.is_empty() {
        return length_mm(feet, Unit::Foot);
    }
    let feet: u32 = feet.trim().parse().ok()?;
    let inches = *meant(without_inch_mark(inches)).first()?;
    (inches < 12.0).then(|| f64::from(feet) * Unit::Foot.in_mm() + inches * Unit::Inch.in_mm())
}

fn length_mm(number: &str, unit: Unit) -> Option<f64> {
    let lengths: Vec<f64> = meant(number).iter().map(|value| value * unit.in_mm()).collect();
    match lengths[..] {
        [only] => Some(only),
        _ => lengths.iter().copied().find(|mm| ON_A_TAPE_MM.contains(mm)),
    }
}

/// In small letters, with one kind of each mark, and each fraction with its bar.
fn plain(text: &str) -> String {
    let mut out = String::new();
    for letter in text.chars() {
        match letter {
            '′' | '’' | '‘' | '´' | '`' => out.push('\''),
            '″' | '”' | '“' => out.push('"'),
            '⁄' | '∕' => out.push('/'),
            '–' | '—' | '‐' | '‑' | '−' => out.push('-'),
            _ if letter.is_whitespace() => out.push(' '),
            _ => match SIGNS.iter().find(|(sign, _)| *sign == letter) {
                Some((_, fraction)) => {
                    out.push(' ');
                    out.push_str(fraction);
                }
                None => out.extend(letter.to_lowercase()),
            },
        }
    }
    let marks = out.replace("''", "\"").replace("ft.", "ft").replace("in.", "in");
    marks.trim().to_string()
}

fn without_inch_mark(text: &str) -> &str {
    ["\"", "inches", "inch", "in"]
        .iter()
        .find_map(|mark| text.strip_suffix(*mark))
        .unwrap_or(text)
}

/// A number as it may be meant: a comma stands before the decimals, or parts thousands, and before three figures it may be
/// either; beside a dot the last of the two stands before the decimals.
fn meant(text: &str) -> Vec<f64> {
    let text = text.trim();
    let decimal = || text.replace(',', ".");
    let thousands = || text.replace(',', "");
    let ways = match (text.matches(',').count(), text.rfind('.'), text.rfind(',')) {
        (0, ..) => vec![text.to_string()],
        // 84,3/16 is neither.
        _ if text.contains('/') => Vec::new(),
        (1, None, Some(comma)) if text.len() - comma == 4 => vec![decimal(), thousands()],
        (1, None, _) => vec![decimal()],
        (_, Some(dot), Some(comma)) if dot < comma => vec![text.replace('.', "").replace(',', ".")],
        _ => vec![thousands()],
    };
    ways.iter().filter_map(|way| number(way)).collect()
}

/// `84`, `84.25`, `3/16`, `84-3/16`, `84 3/16`.
fn number(text: &str) -> Option<f64> {
    let text = text.replace(" /", "/").replace("/ ", "/");
    let known = |c: char| c.is_ascii_digit() || "./- ".contains(c);
    if text.starts_with('-') || !text.chars().all(known) {
        return None;
    }
    let parts: Vec<&str> = text.split([' ', '-']).filter(|part| !part.is_empty()).collect();
    match parts[..] {
        [one] if one.contains('/') => fraction(one),
        [one] => one.parse().ok(),
        [whole, part] => {
            let part = fraction(part).filter(|part| *part < 1.0)?;
            Some(f64::from(whole.parse::<u32>().ok()?) + part)
        }
        _ => None,
    }
}

fn fraction(text: &str) -> Option<f64> {
    let (above, below) = text.split_once('/')?;
    let (above, below): (u32, u32) = (above.parse().ok()?, below.parse().ok()?);
    ON_A_RULE
        .contains(&below)
        .then(|| f64::from(above) / f64::from(below))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lengths_are_taken_as_people_write_them() {
        let inches = [
            ("84-3/16", 84.1875),
            ("84 3/16 in", 84.1875),
            ("84 - 3/16", 84.1875),
            ("84⅜", 84.375),
            ("84-½\"", 84.5),
            ("½", 0.5),
            ("84 3⁄16 Inches", 84.1875),
            ("84.25", 84.25),
            ("84,25", 84.25),
            ("84,125", 84.125),
            ("3' 4-1/2\"", 40.5),
            ("3'4½″", 40.5),
            ("3’ - 4 1/2”", 40.5),
            ("3' 4,5''", 40.5),
            ("3 ft 4 in", 40.0),
            ("3 Ft. 4 in.", 40.0),
            ("3 ft", 36.0),
            ("3'", 36.0),
            ("3.5 feet", 42.0),
            ("3' 0\"", 36.0),
        ];
        let metric = [
            ("2138 mm", 2138.0),
            ("2138,5 mm", 2138.5),
            ("2,138 mm", 2138.0),
            ("2,138.5 mm", 2138.5),
            ("2.138,5 mm", 2138.5),
            ("2,138 m", 2138.0),
            ("213.8cm", 2138.0),
            ("2138\u{a0}MM", 2138.0),
        ];
        let all = inches.map(|(text, inches)| (text, inches * 25.4));
        for (text, expected) in all.into_iter().chain(metric) {
            let found = mm(text);
            assert!(
                found.is_some_and(|mm| (mm - expected).abs() < 1e-9),
                "{text}: {found:?}"
            );
        }
    }

    #[test]
    fn what_is_no_length_or_may_be_two_is_refused() {
        for text in [
            "",
            "about seven feet",
            "-5",
            "84,3/16",
            "84.5/16",
            "3.5' 4\"",
            "3' 14\"",
            "3' 4' 5",
            "1/0",
            "94-17/33",
            "94-1/3",
            "94-17/16",
            "84 3/16 1/8",
            "84 ok",
            "1e3",
            "nan",
            "12 yd",
        ] {
            assert_eq!(mm(text), None, "{text}");
        }
    }
}
