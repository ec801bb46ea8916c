//! What figures that were asked for by name tell the shop to do, each in its turn: widths and bars before parts are moved,
//! heights with them, gaps and flush faces after their edges are right.

use ::compare::{Region, Verdict};
use cloud::NamedPoint;
use cloud::unit::fraction_of_inch;

use super::brought::{self, slid_with};
use super::{List, Task};
use crate::job::CheckKind;
use crate::say;
use crate::stages::checks::CheckResult;
pub(super) use crate::stages::features::smallest_with;

/// What is set right before a part is moved, since parts are fitted to it.
pub(super) const BEFORE_MOVES: [&str; 5] = ["width", "tram", "bar", "angle", "bolt"];
/// What comes with the metal's place.
pub(super) const AS_IT_SITS: [&str; 2] = ["drop", "height"];
/// What is set to the part beside it, once both have their edges.
pub(super) const BESIDE: [&str; 2] = ["gap", "flush"];
/// What is dressed.
pub(super) const DRESSED: [&str; 3] = ["flat", "round", "straight"];

impl List<'_> {
    /// The checks of these kinds that are out, in the order in which they were asked for.
    pub(super) fn checks(&mut self, kinds: &[&str]) {
        let (comparison, found) = (self.shown.comparison, self.shown.found);
        for asked in &comparison.asked.checks {
            let check = found.checks.iter().find(|c| c.name == asked.name);
            let Some(check) = check.filter(|c| c.verdict == Verdict::Outside) else {
                continue;
            };
            // What comes right with a hole or a region is told with that.
            let told = self.explained.iter().any(|one| one.check == check.name);
            if kinds.contains(&check.kind) && !told {
                let otherwise = self.dressed_as_spots(check);
                let words = match otherwise.or_else(|| self.tried_after_slide(check, &asked.kind)) {
                    Some(words) => words,
                    None => to_do(check, &asked.kind, &comparison.regions),
                };
                let with = match &asked.kind {
                    CheckKind::Bar { region } => brought::told(self.part(), region, comparison.limit_mm),
                    _ => String::new(),
                };
                self.shop(words + &with, format!("checks/{}", check.name));
            }
        }
    }

    /// A bolt through a hole that is off since its region slid.
    fn tried_after_slide(&self, check: &CheckResult, kind: &CheckKind) -> Option<String> {
        let CheckKind::Bolt { at, .. } = kind else {
            return None;
        };
        check.measured?;
        let region = slid_with(self.part(), &at.at_mm)?;
        Some(format!("{}: move {region} first, then try it again", check.name))
    }

    /// A face that is not flat by the very spots that are listed for its region already.
    fn dressed_as_spots(&self, check: &CheckResult) -> Option<String> {
        let name = check.of.as_ref().filter(|_| check.kind == "flat")?;
        let figure = format!("regions/{name}");
        let dressed = |task: &Task| task.figure == figure && task.words.contains(": dress ");
        self.tasks.iter().any(dressed).then(|| {
            format!(
                "{}: by the spots of {name} above; when they are dressed, lay a straight edge both ways",
                told(check)
            )
        })
    }
}

/// The figure with its ±, which way it is off, and what is done about it (common practice, no source).
fn to_do(check: &CheckResult, kind: &CheckKind, regions: &[Region]) -> String {
    let CheckResult { name, words, .. } = check;
    match kind {
        CheckKind::Bar { .. } => return format!("{name}: straighten: {words}"),
        CheckKind::Angle { .. } => return format!("{name}: bend back: {words}"),
        CheckKind::Bolt { .. } if check.measured.is_none() => return format!("{name}: {words}; drill it"),
        CheckKind::Bolt { .. } => return format!("{name}: {words}"),
        _ => {}
    }
    let off = check.off.unwrap_or(0.0);
    let done = match kind {
        CheckKind::Tram { between } => {
            match smallest_with(regions, &between.each_ref().map(|place| place.at_mm)) {
                Some(region) => within_one(between, off, &region.name),
                None => remedy(kind, off),
            }
        }
        CheckKind::Width { .. } => where_most(check).unwrap_or_else(|| remedy(kind, off)),
        _ => remedy(kind, off),
    };
    format!("{}: {done}", told(check))
}

/// What is done where a width between bowed sides is off the most; `None` where they are not bowed.
fn where_most(check: &CheckResult) -> Option<String> {
    let each = check.details.iter();
    let places = each.filter(|d| d.what.starts_with("in the middle") || d.what.starts_with("at the "));
    let most = places.max_by(|a, b| a.value.abs().total_cmp(&b.value.abs()))?;
    let done = if most.value > 0.0 { "draw in" } else { "jack out" };
    Some(format!(
        "{done} {} {}, then check the diagonals",
        size(most.value),
        most.what.trim_end_matches(" (mm)")
    ))
}

/// What is done about two places of one part: neither pads nor jacks bring them nearer each other.
fn within_one(between: &[NamedPoint; 2], off: f64, region: &str) -> String {
    let done = if off > 0.0 { "shrink" } else { "stretch" };
    format!(
        "{}, both in {region}: {done} the metal between {} and {}, or fill one and drill it again",
        way_off(off),
        between[0].name,
        between[1].name
    )
}

/// The words of a check with its name before them and its ± behind them.
pub(super) fn told(check: &CheckResult) -> String {
    let CheckResult { name, words, .. } = check;
    let named = words.starts_with(name.as_str()) || words.starts_with(&format!("{} {name}", check.kind));
    let whose = if named { String::new() } else { format!("{name}: ") };
    match check.pm {
        Some(pm) => format!("{whose}{words} ({})", say::pm(pm)),
        None => format!("{whose}{words}"),
    }
}

/// What is done about a figure that is larger (`off` over nothing) or smaller than it was.
fn remedy(kind: &CheckKind, off: f64) -> String {
    let by = size(off);
    let more = off > 0.0;
    match kind {
        CheckKind::Width { .. } if more => format!("draw in {by}, then check the diagonals"),
        CheckKind::Width { .. } => format!("jack out {by}, then check the diagonals"),
        CheckKind::Tram { between } if more => format!(
            "{by} long: draw {} and {} together, then check the other diagonal",
            between[0].name, between[1].name
        ),
        CheckKind::Tram { between } => format!(
            "{by} short: jack {} and {} apart, then check the other diagonal",
            between[0].name, between[1].name
        ),
        CheckKind::Drop { .. } if more => format!("{by} high: bring it down with the metal around it"),
        CheckKind::Drop { .. } => format!("{by} low: bring it up with the metal around it"),
        CheckKind::Height { between } => {
            let [lower, upper] = between.each_ref().map(|place| place.name.as_str());
            let (falls, rises) = if more { (upper, lower) } else { (lower, upper) };
            format!("bring {falls} down or {rises} up, {by} between them")
        }
        CheckKind::Gap { .. } if more => format!("close it by {by}: set the part over, or build up its edge"),
        CheckKind::Gap { .. } => format!("open it by {by}: set the part over, or trim its edge"),
        CheckKind::Flush { between } => format!(
            "set {} {by} {}, or {} as much {}, at pads or hinges before metal is worked",
            between[0],
            if more { "in" } else { "out" },
            between[1],
            if more { "out" } else { "in" }
        ),
        CheckKind::Flat { .. } => "lay a straight edge both ways, planish what stands".to_string(),
        CheckKind::Round { .. } => "lay a ring or a washer on it, dress or file it round".to_string(),
        CheckKind::Straight { .. } => "lay a straight edge along it, dress what stands".to_string(),
        _ => "measure it again".to_string(),
    }
}

/// `1/8 long`.
pub(super) fn way_off(off: f64) -> String {
    format!("{} {}", size(off), if off > 0.0 { "long" } else { "short" })
}

/// In 32nds, or finer where that would say nothing.
pub(super) fn size(mm: f64) -> String {
    match fraction_of_inch(mm, 32).as_str() {
        "0" => format!("{:.2} mm", mm.abs()),
        size => size.to_string(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stages::checks::{Counted, Detail};
    use ::compare::Status;
    use cloud::{Bounds, Point};

    fn check(name: &str, kind: &'static str, off: f64, words: &str) -> CheckResult {
        CheckResult {
            name: name.to_string(),
            kind,
            of: None,
            counted: Counted::Length,
            reference: Some(1000.0),
            measured: Some(1000.0 + off),
            off: Some(off),
            pm: Some(0.25),
            verdict: Verdict::Outside,
            words: words.to_string(),
            details: Vec::new(),
            bar: None,
        }
    }

    fn place(name: &str) -> NamedPoint {
        NamedPoint {
            name: name.to_string(),
            at_mm: Point::origin(),
        }
    }

    #[test]
    fn each_figure_says_how_much_and_which_way() {
        let walls = CheckKind::Width {
            between: ["left".to_string(), "right".to_string()],
        };
        let narrow = check("cowl", "width", -3.175, "1/8 narrow: left home, right 1/8 in");
        assert_eq!(
            to_do(&narrow, &walls, &[]),
            "cowl: 1/8 narrow: left home, right 1/8 in (±0.25 mm): jack out 1/8, then check the diagonals"
        );
        assert!(to_do(&check("cowl", "width", 3.175, "1/8 wide"), &walls, &[]).contains("draw in 1/8"));
        let mut bowed = check("sills", "width", -2.0, "5/64 narrow on the average");
        let places = [("in the middle (mm)", -3.2), ("at the front (mm)", 0.1)];
        bowed.details = places
            .map(|(what, value)| Detail {
                what,
                value,
                pm: None,
            })
            .to_vec();
        assert!(
            to_do(&bowed, &walls, &[]).ends_with(": jack out 1/8 in the middle, then check the diagonals")
        );
        let high = check("H1", "drop", 4.7625, "drop H1 reads 20-3/16 (20 as it was)");
        assert_eq!(
            to_do(&high, &CheckKind::Drop { at: place("H1") }, &[]),
            "drop H1 reads 20-3/16 (20 as it was) (±0.25 mm): 3/16 high: bring it down with the metal around it"
        );
        let between = [place("H1"), place("H6")];
        let words = remedy(
            &CheckKind::Tram {
                between: between.clone(),
            },
            -1.5875,
        );
        assert!(words.starts_with("1/16 short: jack H1 and H6 apart"), "{words}");
        // The rise has grown: the upper one is too high.
        let words = remedy(&CheckKind::Height { between }, 1.5875);
        assert!(words.starts_with("bring H6 down or H1 up, 1/16"), "{words}");
        let seam = CheckKind::Flush {
            between: ["door".to_string(), "wing".to_string()],
        };
        assert!(remedy(&seam, 3.175).starts_with("set door 1/8 in, or wing as much out"));
        assert_eq!(size(0.2), "0.20 mm");
    }

    /// Two holes of one panel are not shimmed apart; one that lies in another part is.
    #[test]
    fn two_places_of_one_region_are_stretched_or_drilled_again() {
        let region = Region {
            name: "left floor".to_string(),
            status: Status::New,
            bounds: Bounds {
                low: Point::new(0.0, 0.0, -5.0),
                high: Point::new(1000.0, 500.0, 5.0),
            },
            limit_mm: 1.6,
            outside: None,
            pads: Vec::new(),
        };
        let tram = |x: f64| {
            let mut between = [place("H1"), place("H3")];
            between[1].at_mm.x = x;
            CheckKind::Tram { between }
        };
        let said = |off: f64, x: f64| {
            let words = if off > 0.0 {
                "long by the rule"
            } else {
                "short by the rule"
            };
            to_do(
                &check("seat holes", "tram", off, words),
                &tram(x),
                std::slice::from_ref(&region),
            )
        };
        assert!(
            said(-1.5875, 900.0).ends_with(
                "1/16 short, both in left floor: stretch the metal between H1 and H3, or fill one and drill it again"
            ),
            "{}",
            said(-1.5875, 900.0)
        );
        assert!(said(1.5875, 900.0).contains("1/16 long, both in left floor: shrink the metal"));
        assert!(said(-1.5875, 1400.0).contains("jack H1 and H3 apart"));
    }
}
