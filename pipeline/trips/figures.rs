//! The figures of a trip, from the record of its comparison: places, pads, checks, the shell, folds, and regions as a whole.

use std::collections::BTreeMap;

use ::features::trips::Reading;
use record::verdict::{OUT, TOO_CLOSE, of_region};
use record::{Record, RegionRecord};

use crate::job::Comparison;

/// Which way a figure counts, for the three axes: X rearward, Y right, Z up.
const WAYS: [(&str, &str); 3] = [("rearward", "forward"), ("right", "left"), ("up", "down")];

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
        match self.axis.and_then(|axis| WAYS.get(axis)) {
            Some((plus, _)) => format!("{}, {plus}", self.name),
            None if self.kind == Kind::Region => format!("{}, all of it", self.name),
            None if self.kind == Kind::Fold => format!("fold of the {}", self.name),
            None => self.name.clone(),
        }
    }

    /// Which way a value of it is: `up`, `down`, `proud`, `shy`, or the sign alone.
    pub fn way(&self, mm: f64) -> &'static str {
        let (plus, minus) = match (self.axis.and_then(|axis| WAYS.get(axis)), self.kind) {
            (Some(ways), _) => *ways,
            (None, Kind::Region) => ("proud", "shy"),
            (None, Kind::Fold) => ("short", "long"),
            (None, Kind::Bow) if self.name.ends_with("upright") => ("up", "down"),
            (None, _) => ("more", "less"),
        };
        if mm < 0.0 { minus } else { plus }
    }
}

/// A figure's reading with what it is held to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Read {
    /// The figure with its ±.
    pub reading: Reading,
    /// The limit that it is held to, mm.
    pub limit_mm: f64,
    /// Of a region, whose figure is its mean, the spot by which its verdict is not that it is in.
    pub worst: Option<Worst>,
}

impl Read {
    /// A figure that is all there is to its verdict.
    pub fn of(reading: Reading, limit_mm: f64) -> Self {
        Self {
            reading,
            limit_mm,
            worst: None,
        }
    }
}

/// The worst spot of a region that is OUT, or too close to call.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Worst {
    /// The verdict.
    pub verdict: &'static str,
    /// How far the spot is off, mm.
    pub mm: f64,
}

impl Worst {
    fn of(record: &Record, region: &RegionRecord) -> Option<Self> {
        let spread = region.figures.spread.as_ref()?;
        let verdict = of_region(record, region);
        let mm = if spread.max_mm.abs() >= spread.min_mm.abs() {
            spread.max_mm
        } else {
            spread.min_mm
        };
        [OUT, TOO_CLOSE]
            .contains(&verdict)
            .then_some(Self { verdict, mm })
    }
}

/// Every figure of a record.
pub fn of(record: &Record, comparison: &Comparison) -> BTreeMap<Figure, Read> {
    let mut found = BTreeMap::new();
    let limit_mm = comparison.limit_mm;
    for place in &record.places {
        for axis in 0..3 {
            let reading = reading(place.moved_mm[axis], place.moved_pm_mm()[axis]);
            found.insert(
                Figure::along(Kind::Place, &place.name, axis),
                Read::of(reading, limit_mm),
            );
        }
    }
    for region in &record.regions {
        for pad in region.shift.iter().flat_map(|m| &m.pads) {
            let name = format!("{}, {}", region.name, pad.name);
            for axis in 0..3 {
                // What it must be shimmed by is how far it has gone, the other way.
                let reading = reading(-pad.shim_mm[axis], pad.pm_mm);
                let read = Read::of(reading, region.limit_mm);
                found.insert(Figure::along(Kind::Pad, &name, axis), read);
            }
        }
        if let Some(spread) = &region.figures.spread {
            let reading = reading(spread.mean_mm, spread.mean_pm_mm);
            let read = Read {
                worst: Worst::of(record, region),
                ..Read::of(reading, region.limit_mm)
            };
            found.insert(Figure::whole(Kind::Region, &region.name), read);
        }
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
            found.insert(
                Figure::whole(Kind::Check, &check.name),
                Read::of(reading(off, pm), limit_mm),
            );
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
}
