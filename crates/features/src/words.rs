//! Directions in the shop's words: high, low, forward, rearward, left, right.

use cloud::Vector;
use cloud::frame::WAYS;
use cloud::unit::{MM_PER_INCH, fraction_of_inch};

/// What a displacement is called: `3/16 high`, `1/8 rearward and 1/16 low`; `home` where it rounds to nothing.
///
/// Parts under a third of the largest are left out, and so are those under `least_mm`.
pub fn displacement(mm: &Vector, least_mm: f64) -> String {
    let said = |(axis, positive, length): &(usize, bool, String)| {
        let (minus, plus) = WAYS[*axis];
        format!("{length} {}", if *positive { plus } else { minus })
    };
    let parts: Vec<String> = parts(mm, least_mm, 32).iter().map(said).collect();
    match parts.is_empty() {
        true => "home".to_string(),
        false => parts.join(" and "),
    }
}

/// What is said instead of a place along a direction in which nothing holds the setting.
pub(crate) const PLACE_NOT_HELD: &str = "its place can't be told: nothing holds the set there";

/// What is said of a figure along a direction in which nothing holds the setting.
pub const NOT_HELD: &str = "can't tell: nothing holds the set there";

/// How it begins what is said of a bead that is cut by its region's box or was not seen to its end.
pub const RUNS_ON: &str = "runs on beyond";

/// A length in 64ths of an inch where its ± is no more than one of them, else in 32nds; no sign.
pub fn as_sure_as(mm: f64, pm_mm: f64) -> String {
    fraction_of_inch(mm, if pm_mm <= MM_PER_INCH / 64.0 { 64 } else { 32 })
}

/// What has to be done against a displacement at a pad: `shim up 3/64`, `take 1/16 of shim out`; `home` where it
/// rounds to nothing. Shim is said both ways, lest anyone cut metal out.
pub fn correction(shim_mm: &Vector, least_mm: f64) -> String {
    let parts = parts(shim_mm, least_mm, 64);
    if parts.is_empty() {
        return "home".to_string();
    }
    let said = |(axis, positive, length): &(usize, bool, String)| match (*axis, *positive) {
        (0, false) => format!("knock forward {length}"),
        (0, true) => format!("knock rearward {length}"),
        (1, false) => format!("move left {length}"),
        (1, true) => format!("move right {length}"),
        (_, false) => format!("take {length} of shim out"),
        (_, true) => format!("shim up {length}"),
    };
    parts.iter().map(said).collect::<Vec<_>>().join(", ")
}

/// The parts that matter, largest first: axis, whether positive, length in fractions of an inch.
fn parts(mm: &Vector, least_mm: f64, fractions: u32) -> Vec<(usize, bool, String)> {
    let largest = mm.amax();
    let mut axes = [0, 1, 2];
    axes.sort_by(|&a, &b| mm[b].abs().total_cmp(&mm[a].abs()));
    axes.into_iter()
        .filter(|&a| mm[a].abs() >= least_mm && mm[a].abs() > largest / 3.0)
        .map(|a| (a, mm[a] > 0.0, fraction_of_inch(mm[a], fractions)))
        .filter(|(_, _, length)| length != "0")
        .collect()
}

/// What an edge radius is called; common practice, no source: crisp to 3/32, soft from 3/16.
pub fn crisp_or_soft(radius_mm: f64) -> &'static str {
    let inches = radius_mm / 25.4;
    if inches <= 3.0 / 32.0 + 1.0 / 64.0 {
        "(crisp)"
    } else if inches >= 3.0 / 16.0 - 1.0 / 64.0 {
        "(soft)"
    } else {
        "(middling)"
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_length_is_told_no_finer_than_it_is_known() {
        let mm = 3.1 * 25.4 / 64.0;
        assert_eq!(as_sure_as(mm, 0.2), "3/64");
        assert_eq!(as_sure_as(-mm, 25.4 / 64.0), "3/64");
        assert_eq!(as_sure_as(mm, 0.5), "1/16");
    }

    #[test]
    fn displacements_and_corrections_are_said_as_in_the_shop() {
        assert_eq!(displacement(&Vector::new(0.1, 0.0, 4.76), 0.4), "3/16 high");
        assert_eq!(
            displacement(&Vector::new(-3.2, 0.0, -1.6), 0.4),
            "1/8 forward and 1/16 low"
        );
        assert_eq!(displacement(&Vector::new(0.1, 0.0, 0.2), 0.4), "home");
        assert_eq!(correction(&Vector::new(0.0, 0.0, 1.2), 0.2), "shim up 3/64");
        assert_eq!(
            correction(&Vector::new(0.0, 0.0, -3.2), 0.2),
            "take 1/8 of shim out"
        );
    }
}
