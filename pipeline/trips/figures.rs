//! The figures of a trip, from the record of its comparison: places, pads, checks, the shell, folds, and regions as a whole.

use std::collections::BTreeMap;

use ::compare::verdict::NOT_HELD_MM;
use ::features::trips::{Home, Reading, home};
use ::features::words::NOT_HELD;
use cloud::frame::FACING;
use cloud::unit::fraction_of_inch;
use record::figured::PlaceRecord;
use record::found::HoleRecord;
use record::verdict::{self, DIFFERS, IN, NOT_MEASURED, OUT, TOO_CLOSE};
use record::{Record, RegionRecord};

use crate::job::Comparison;

/// Less than a 64th is not said, mm.
const LEAST_SAID_MM: f64 = 25.4 / 64.0;
/// What is said of a hole that has not moved.
const IN_ITS_PLACE: &str = "in its place";

/// A figure as trips are compared by it: kind and name, and which axis it is along, where it is along one.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct Figure {
    kind: Kind,
    /// Its name.
    pub name: String,
    /// 0, 1, 2 for X, Y, Z.
    pub axis: Option<usize>,
}

/// Kinds, in the order in which they are shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Kind {
    /// A named place.
    Place,
    /// A pad of a region.
    Pad,
    /// How far a bar is bowed.
    Bow,
    /// A check of the job.
    Check,
    /// A figure of the shell.
    Shell,
    /// A fold of a flange.
    Fold,
    /// A region as a whole.
    Region,
}

impl Figure {
    /// A figure along an axis.
    pub fn along(kind: Kind, name: &str, axis: usize) -> Self {
        Self {
            kind,
            name: name.to_string(),
            axis: Some(axis),
        }
    }

    /// A figure along none.
    pub fn whole(kind: Kind, name: &str) -> Self {
        Self {
            kind,
            name: name.to_string(),
            axis: None,
        }
    }

    /// Kind and name, without the axis.
    pub fn subject(&self) -> (Kind, &str) {
        (self.kind, &self.name)
    }

    /// As it heads its strip: `H1, up`; of a region `right cross bar, all of it`, since what its farthest spot reads, as the
    /// pictures before and after tell it, is another figure.
    pub fn words(&self) -> String {
        match self.axis.and_then(|axis| FACING.get(axis)) {
            Some([_, plus]) => format!("{}, {plus}", self.name),
            None if self.kind == Kind::Region => format!("{}, all of it", self.name),
            None if self.kind == Kind::Fold => format!("fold of the {}", self.name),
            None => self.name.clone(),
        }
    }

    /// Which way a value of it is: `up`, `down`, `proud`, `shy`, or the sign alone.
    pub fn way(&self, mm: f64) -> &'static str {
        let (plus, minus) = match (self.axis.and_then(|axis| FACING.get(axis)), self.kind) {
            (Some([minus, plus]), _) => (*plus, *minus),
            (None, Kind::Region) => ("proud", "shy"),
            (None, Kind::Fold) => ("short", "long"),
            (None, Kind::Bow) if self.name.ends_with("upright") => ("up", "down"),
            (None, _) => ("more", "less"),
        };
        if mm < 0.0 { minus } else { plus }
    }

    /// How much, and which way: `3/32 up`.
    pub fn size(&self, mm: f64) -> String {
        format!("{} {}", fraction_of_inch(mm, 32), self.way(mm))
    }

    /// How it stands by its verdict and its reading: `home`, `home, 1/32 up`, `not home, 3/32 up`.
    pub fn stands(&self, verdict: &str, reading: &Reading) -> String {
        match verdict {
            IN if reading.mm.abs() <= reading.pm_mm.max(LEAST_SAID_MM) => "home".to_string(),
            IN => format!("home, {}", self.size(reading.mm)),
            OUT => format!("not home, {}", self.size(reading.mm)),
            _ if reading.pm_mm > NOT_HELD_MM => NOT_HELD.to_string(),
            other => format!("{other}, {}", self.size(reading.mm)),
        }
    }
}

/// A figure's reading with what it is held to.
#[derive(Debug, Clone, PartialEq)]
pub struct Read {
    /// The figure with its ±.
    pub reading: Reading,
    /// The limit that it is held to, mm.
    pub limit_mm: f64,
    /// The verdict that its comparison gives, where that is not by the reading and the limit alone.
    pub verdict: Option<&'static str>,
    /// What its comparison says of it, where the reading does not say all.
    pub words: Option<String>,
}

impl Read {
    /// A figure that is all there is to its verdict.
    pub fn of(reading: Reading, limit_mm: f64) -> Self {
        Self {
            reading,
            limit_mm,
            verdict: None,
            words: None,
        }
    }

    /// Its verdict, held to a limit of all trips where its comparison gives none.
    pub fn verdict(&self, limit_mm: f64) -> &'static str {
        self.verdict.unwrap_or(match home(&self.reading, limit_mm) {
            Home::Home => IN,
            Home::NotHome => OUT,
            Home::TooClose => TOO_CLOSE,
        })
    }
}

/// Whether what has this verdict is home.
pub fn home_by(verdict: &str) -> Home {
    match verdict {
        IN => Home::Home,
        OUT | DIFFERS => Home::NotHome,
        _ => Home::TooClose,
    }
}

/// A region by its mean, and by its worst spot where that is OUT or too close to call and the mean is not.
fn of_region(record: &Record, region: &RegionRecord) -> Option<(Figure, Read)> {
    let spread = region.figures.spread.as_ref()?;
    let figure = Figure::whole(Kind::Region, &region.name);
    let mut read = Read::of(reading(spread.mean_mm, spread.mean_pm_mm), region.limit_mm);
    let worst_mm = if spread.max_mm.abs() >= spread.min_mm.abs() {
        spread.max_mm
    } else {
        spread.min_mm
    };
    held_to(&mut read, &figure, verdict::of_region(record, region), worst_mm);
    Some((figure, read))
}

/// Holds a mean to the verdict of its worst spot, which never makes it better.
fn held_to(read: &mut Read, figure: &Figure, verdict: &'static str, worst_mm: f64) {
    let by_mean = read.verdict(read.limit_mm);
    let worse = match verdict {
        OUT => by_mean != OUT,
        TOO_CLOSE => by_mean == IN,
        _ => false,
    };
    if worse {
        read.verdict = Some(verdict);
        read.words = Some(format!("{verdict} at its worst spot, {}", figure.size(worst_mm)));
    }
}

/// The hole by which a place was seen, where holes are asked for and have verdicts of their own.
fn hole_of<'r>(record: &'r Record, place: &PlaceRecord) -> Option<&'r HoleRecord> {
    let mut holes = record.holes.iter().filter(|_| record.made_with.asked.holes);
    holes.find(|hole| {
        hole.reference_at_mm == Some(place.reference_at_mm)
            && hole.measured_at_mm == Some(place.measured_at_mm)
    })
}

/// How a hole stands, in the words of its comparison, which have all its directions.
fn hole_stands(verdict: &str, hole: &HoleRecord) -> String {
    let place = hole
        .in_sheet
        .as_ref()
        .map_or(IN_ITS_PLACE, |lie| lie.words.as_str());
    match verdict {
        IN if place == IN_ITS_PLACE => "home".to_string(),
        IN => format!("home, {place}"),
        OUT if place != IN_ITS_PLACE => format!("not home, {}", hole.words),
        other => format!("{other}, {}", hole.words),
    }
}

/// Every figure of a record.
pub fn of(record: &Record, comparison: &Comparison) -> BTreeMap<Figure, Read> {
    let mut found = BTreeMap::new();
    let limit_mm = comparison.limit_mm;
    for place in &record.places {
        let hole = hole_of(record, place);
        for axis in 0..3 {
            let pm_mm = place.moved_pm_mm()[axis];
            let verdict = hole.map(|hole| verdict::of(record, &hole.verdict));
            let read = Read {
                verdict,
                words: hole
                    .zip(verdict)
                    .map(|(hole, verdict)| hole_stands(verdict, hole)),
                ..Read::of(reading(place.moved_mm[axis], pm_mm), limit_mm)
            };
            found.insert(Figure::along(Kind::Place, &place.name, axis), read);
        }
    }
    for region in &record.regions {
        let pads = region.shift.iter().flat_map(|m| &m.pads);
        for pad in pads.filter(|pad| pad.words != NOT_MEASURED) {
            let name = format!("{}, {}", region.name, pad.name);
            for axis in 0..3 {
                // What it must be shimmed by is how far it has gone, the other way.
                let reading = reading(-pad.shim_mm[axis], pad.pm_mm);
                let read = Read::of(reading, region.limit_mm);
                found.insert(Figure::along(Kind::Pad, &name, axis), read);
            }
        }
        found.extend(of_region(record, region));
    }
    for check in &record.checks {
        let asked = comparison
            .asked
            .checks
            .iter()
            .find(|asked| asked.name == check.name);
        let limit_mm = asked.map_or(limit_mm, |asked| asked.limit);
        // A bar bows two ways, and each is a figure of its own.
        if check.kind == "bar" {
            for detail in ["bow upright (mm)", "bow level (mm)"] {
                let bow = check.details.iter().find(|d| d.what == detail);
                if let Some((mm, pm_mm)) = bow.and_then(|d| Some((d.value, d.pm?))) {
                    let name = format!("{}, {}", check.name, detail.trim_end_matches(" (mm)"));
                    let read = Read::of(reading(mm, pm_mm), limit_mm);
                    found.insert(Figure::whole(Kind::Bow, &name), read);
                }
            }
        } else if let (Some(off), Some(pm)) = (check.figures.off_mm, check.figures.pm_mm) {
            let read = Read {
                verdict: Some(verdict::of(record, &check.verdict)),
                // How far off a bolt is does not say whether it goes.
                words: (check.kind == "bolt").then(|| check.words.clone()),
                ..Read::of(reading(off, pm), limit_mm)
            };
            found.insert(Figure::whole(Kind::Check, &check.name), read);
        }
    }
    for figure in &record.shell {
        let limit_mm = comparison
            .asked
            .shell
            .as_ref()
            .map_or(limit_mm, |shell| shell.limit_mm);
        found.insert(
            Figure::whole(Kind::Shell, &figure.name),
            Read::of(reading(figure.off_mm, figure.pm_mm), limit_mm),
        );
    }
    for fold in &record.folds {
        found.insert(
            Figure::whole(Kind::Fold, &fold.name),
            Read::of(reading(fold.short_mm, fold.pm_mm), limit_mm),
        );
    }
    found
}

fn reading(mm: f64, pm_mm: f64) -> Reading {
    Reading { mm, pm_mm }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_region_is_named_as_a_whole_and_everything_else_by_its_way_or_its_name() {
        assert_eq!(
            Figure::whole(Kind::Region, "right cross bar").words(),
            "right cross bar, all of it"
        );
        assert_eq!(
            Figure::whole(Kind::Fold, "left sill").words(),
            "fold of the left sill"
        );
        assert_eq!(Figure::along(Kind::Place, "H1", 2).words(), "H1, up");
    }

    #[test]
    fn the_worst_spot_of_a_region_makes_its_mean_no_better() {
        let floor = Figure::whole(Kind::Region, "left floor");
        let held = |mean_mm: f64, verdict: &'static str| {
            let mut read = Read::of(reading(mean_mm, 0.02), 1.5875);
            held_to(&mut read, &floor, verdict, 2.3);
            (read.verdict(1.5875), read.words)
        };
        assert_eq!(held(0.36, IN), (IN, None));
        let worst = |words: &str| Some(words.to_string());
        assert_eq!(held(0.36, OUT), (OUT, worst("OUT at its worst spot, 3/32 proud")));
        assert_eq!(
            held(0.36, TOO_CLOSE),
            (
                TOO_CLOSE,
                worst("too close to call at its worst spot, 3/32 proud")
            )
        );
        // Off as a whole it is told by its mean.
        assert_eq!(held(2.0, OUT), (OUT, None));
        assert_eq!(held(2.0, TOO_CLOSE), (OUT, None));
    }

    /// A hole of the sheet that lies level, off as said.
    fn hole(verdict: &str, place: &str, words: &str) -> HoleRecord {
        let hole = format!(
            r#"{{"name": "hole H3", "kind": "round", "state": "matched", "pm_mm": 0.8, "verdict": "{verdict}",
            "words": "{words}", "reference_axis": [0, 0, 1], "in_sheet": {{"along": [1, 0, 0], "across": [0, 1, 0],
            "along_mm": 3.6, "across_mm": -0.5, "out_mm": -2.2, "out_pm_mm": 0.05, "words": "{place}"}}}}"#
        );
        serde_json::from_str(&hole).unwrap()
    }

    #[test]
    fn a_hole_stands_as_its_comparison_says_it_with_all_its_directions() {
        let place = "5/32 rearward, 3/32 shy";
        let off = hole("outside", place, "1-1/4 hole, 5/32 rearward, 3/32 shy");
        assert_eq!(
            hole_stands(OUT, &off),
            "not home, 1-1/4 hole, 5/32 rearward, 3/32 shy"
        );
        assert_eq!(hole_stands(IN, &off), "home, 5/32 rearward, 3/32 shy");
        let still = hole("outside", IN_ITS_PLACE, "1-3/8 for 1-1/2, in its place");
        assert_eq!(hole_stands(OUT, &still), "OUT, 1-3/8 for 1-1/2, in its place");
        assert_eq!(hole_stands(IN, &still), "home");
    }

    #[test]
    fn a_figure_stands_by_its_verdict() {
        let tram = Figure::whole(Kind::Check, "tram");
        let said = |verdict: &str, mm: f64, pm_mm: f64| tram.stands(verdict, &reading(mm, pm_mm));
        assert_eq!(said(IN, 0.3, 0.1), "home");
        assert_eq!(said(IN, 0.8, 0.1), "home, 1/32 more");
        assert_eq!(said(OUT, -3.2, 0.1), "not home, 1/8 less");
        assert_eq!(said(TOO_CLOSE, 1.6, 0.1), "too close to call, 1/16 more");
        assert_eq!(said(TOO_CLOSE, 1.6, 1_000.0), NOT_HELD);
        assert_eq!(home_by(verdict::WITHHELD), Home::TooClose);
    }
}
