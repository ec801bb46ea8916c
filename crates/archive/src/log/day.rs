//! Days of the calendar, as they are written in the log.

use std::ops::Range;

/// Whether a text is a day of the calendar, written as in 2026-11-26 (ISO 8601).
pub fn is_day(text: &str) -> bool {
    let in_form = |(i, b): (usize, u8)| {
        if i == 4 || i == 7 {
            b == b'-'
        } else {
            b.is_ascii_digit()
        }
    };
    if text.len() != 10 || !text.bytes().enumerate().all(in_form) {
        return false;
    }
    let number = |range: Range<usize>| text[range].parse::<u32>().unwrap_or(0);
    let (year, month, day) = (number(0..4), number(5..7), number(8..10));
    let leap = year.is_multiple_of(4) && (!year.is_multiple_of(100) || year.is_multiple_of(400));
    let days = match month {
        1 | 3 | 5 | 7 | 8 | 10 | 12 => 31,
        4 | 6 | 9 | 11 => 30,
        2 if leap => 29,
        2 => 28,
        _ => 0,
    };
    (1..=days).contains(&day)
}

#[cfg(test)]
mod tests {
    use super::*;

    // The Gregorian calendar repeats after 400 years, which have 146 097 days.
    #[test]
    fn four_hundred_years_have_their_days() {
        let mut days = 0;
        for year in 1800..2200 {
            for month in 0..14 {
                for day in 0..33 {
                    days += usize::from(is_day(&format!("{year}-{month:02}-{day:02}")));
                }
            }
        }
        assert_eq!(days, 146_097);
    }

    #[test]
    fn other_ways_to_write_a_day_are_none() {
        assert!(is_day("2026-11-26"));
        for text in [
            "26.11.2026",
            "11/26/2026",
            "2026-11-26 ",
            "2026-1-26",
            "+026-11-26",
            "2026-11-2é",
            "",
        ] {
            assert!(!is_day(text), "{text}");
        }
    }
}
