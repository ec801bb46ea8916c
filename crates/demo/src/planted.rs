//! What was planted in the demo, and where in the results it should be found.

use cloud::unit::MM_PER_INCH;

use crate::tunnel::SHRUNK;

/// One thing that was planted, and where in the results it should be found.
#[derive(Debug, Clone, PartialEq)]
pub struct Planted {
    /// The comparison that should find it.
    pub comparison: &'static str,
    /// In the shop's words.
    pub what: &'static str,
    /// What was planted, inches, or a plain number where it is counted so.
    pub inches: f64,
    /// How far the finding may be off, in the same.
    pub band: f64,
    /// What it is counted in.
    pub counted: Counted,
    /// Where it stands in the comparison's result.json: keys by `/`, a list entry by `name=…`.
    pub found_at: &'static str,
}

/// What a planted figure is counted in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Counted {
    /// Inches; result.json has millimetres.
    Inches,
    /// Times: a plain number in both.
    Times,
}

impl Counted {
    /// What one of it is in result.json.
    pub fn in_results(self) -> f64 {
        match self {
            Counted::Inches => MM_PER_INCH,
            Counted::Times => 1.0,
        }
    }
}

/// A thirty-second, the band that most findings are held to.
const BAND: f64 = 1.0 / 32.0;

/// The comparisons' names.
const FLOOR: &str = "floor on its pads";
const SIDE: &str = "right side repaired";
const NEW: &str = "more new than old";
const NEW_ALL_OVER: &str = "more new than old, all over";
const PANEL: &str = "bought-in boot side";
const TUNNEL: &str = "tunnel from photographs";
const WRONG_UNIT: &str = "floor pan, read as mm";
const RECORD: &str = "as found, side to side";
const BAR: &str = "bar bent in welding";
const PAN: &str = "first-off pan";
/// The comparison with which the shell is handed over.
pub const HANDED_OVER: &str = "handed over";
const YEARS: &str = "years later";
const WRONG_HAND: &str = "floor pan of the wrong hand";

/// Comparisons that the program must refuse, and words that its message must have.
pub const EXPECTED_REFUSALS: [(&str, &str); 1] = [(NEW_ALL_OVER, "left alone")];

/// What must be said over the trips: the figure, and words among those that are said of it.
pub const EXPECTED_TRIPS: [(&str, &str); 2] = [
    (
        "right bar, bow upright",
        "3/32 up since trip 7 (right bar welded)",
    ),
    (
        "H4, up",
        "home; it stepped 1/8 up at trip 5 (cut out the right sill) and was back at trip 8",
    ),
];

/// Comparisons that must raise a warning of this code; each withholds every verdict until it is answered, so that the
/// comparison's is `not-measured`.
pub const EXPECTED_WARNINGS: [(&str, &str); 3] = [
    (WRONG_UNIT, "unit-ratio"),
    (WRONG_HAND, "fits-mirrored"),
    (WRONG_HAND, "face-unknown"),
];

/// Everything planted in the demo, in the order of its comparisons.
pub const PLANTED: [Planted; 45] = [
    planted(
        RECORD,
        "left cross bar rearward",
        5.0 / 16.0,
        "regions/name=left cross bar/move/translation_mm/0",
    ),
    planted(
        RECORD,
        "one bead more on the right floor",
        0.25,
        "beads/name=right floor bead 3/measured/depth_mm",
    ),
    planted(
        RECORD,
        "notch in the left sill's top edge",
        3.0 / 8.0,
        "edges/name=top edge of the left sill top/stretches/0/short_mm",
    ),
    planted(
        FLOOR,
        "shim up at the front inner pad",
        0.0475,
        "regions/name=right floor/move/pads/name=front inner/shim_mm/2",
    ),
    planted(
        FLOOR,
        "shim up at the front outer pad",
        0.1175,
        "regions/name=right floor/move/pads/name=front outer/shim_mm/2",
    ),
    planted(
        FLOOR,
        "shim up at the rear inner pad",
        0.1425,
        "regions/name=right floor/move/pads/name=rear inner/shim_mm/2",
    ),
    planted(
        FLOOR,
        "shim up at the rear outer pad",
        0.2125,
        "regions/name=right floor/move/pads/name=rear outer/shim_mm/2",
    ),
    planted(
        FLOOR,
        "left floor untouched",
        0.0,
        "regions/name=left floor/mean_mm",
    ),
    planted(
        SIDE,
        "right floor high",
        0.1875,
        "regions/name=right floor/mean_mm",
    ),
    planted(
        SIDE,
        "right outer sill high",
        0.1875,
        "regions/name=right outer sill/move/translation_mm/2",
    ),
    planted(
        SIDE,
        "left floor untouched",
        0.0,
        "regions/name=left floor/mean_mm",
    ),
    planted(
        SIDE,
        "left outer sill untouched",
        0.0,
        "regions/name=left outer sill/mean_mm",
    ),
    planted(NEW, "left floor high", 0.1875, "regions/name=left floor/mean_mm"),
    planted(
        NEW,
        "right floor high",
        0.1875,
        "regions/name=right floor/mean_mm",
    ),
    planted(
        NEW,
        "tunnel high",
        0.1875,
        "regions/name=tunnel/move/translation_mm/2",
    ),
    planted(
        NEW,
        "boot floor untouched",
        0.0,
        "regions/name=boot floor/mean_mm",
    ),
    planted(NEW, "drop at H1", 20.1875, "checks/name=H1/measured_mm"),
    planted(
        PANEL,
        "rear fold short",
        7.0 / 32.0,
        "folds/name=rear flange/short_mm",
    ),
    planted(
        PANEL,
        "recess forward",
        -3.0 / 16.0,
        "recesses/name=recess/moved_mm/0",
    ),
    planted(
        PANEL,
        "recess depth",
        5.0 / 16.0,
        "recesses/name=recess/measured/depth_mm",
    ),
    planted(
        PANEL,
        "recess outer radius",
        3.0 / 16.0,
        "recesses/name=recess/measured/outer_radius_mm",
    ),
    planted(
        PANEL,
        "filler hole",
        1.375,
        "holes/name=hole 1/measured_size_mm/diameter",
    ),
    planted(
        PANEL,
        "front flange home",
        0.0,
        "regions/name=front flange/mean_mm",
    ),
    plain(
        TUNNEL,
        "scale from the bars",
        1.0 / SHRUNK,
        0.0005,
        "measured/scale",
    ),
    planted(TUNNEL, "foot wide", 0.125, "checks/name=tunnel foot/off_mm"),
    planted(TUNNEL, "left foot out", 0.0625, "regions/name=left foot/mean_mm"),
    planted(
        TUNNEL,
        "right foot out",
        0.0625,
        "regions/name=right foot/mean_mm",
    ),
    planted(
        TUNNEL,
        "front of the top untouched",
        0.0,
        "regions/name=tunnel top front/mean_mm",
    ),
    planted(
        TUNNEL,
        "rear of the left side untouched",
        0.0,
        "regions/name=left side rear/mean_mm",
    ),
    planted(
        BAR,
        "bow up",
        3.0 / 32.0,
        "checks/name=right bar/details/name=bow upright (mm)/value",
    ),
    plain(
        BAR,
        "twist, degrees",
        0.6,
        0.1,
        "checks/name=right bar/details/name=twist (deg)/value",
    ),
    planted(
        BAR,
        "straight edge",
        3.0 / 32.0,
        "checks/name=right bar/details/name=straight edge (mm)/value",
    ),
    planted(
        BAR,
        "its end at the tunnel home",
        0.0,
        "checks/name=right bar/details/name=first end (mm)/value",
    ),
    planted(
        BAR,
        "its end at the sill home",
        0.0,
        "checks/name=right bar/details/name=other end (mm)/value",
    ),
    planted(
        PAN,
        "crown as it lies free",
        3.0 / 16.0,
        "arrangement/name=pan/free",
    ),
    planted(
        PAN,
        "bead depth",
        7.0 / 32.0,
        "beads/name=pan bead 1/measured/depth_mm",
    ),
    plain(
        PAN,
        "front flange open, degrees",
        2.5,
        0.5,
        "checks/name=front flange angle/off_deg",
    ),
    plain(
        PAN,
        "rear flange open, degrees",
        2.5,
        0.5,
        "checks/name=rear flange angle/off_deg",
    ),
    plain(
        PAN,
        "left flange open, degrees",
        2.5,
        0.5,
        "checks/name=left flange angle/off_deg",
    ),
    plain(
        PAN,
        "right flange open, degrees",
        2.5,
        0.5,
        "checks/name=right flange angle/off_deg",
    ),
    planted(HANDED_OVER, "rock", 3.0 / 16.0, "shell/name=rock/off_mm"),
    planted(
        HANDED_OVER,
        "right side rearward",
        1.0 / 8.0,
        "shell/name=diamond/off_mm",
    ),
    planted(HANDED_OVER, "sag", -1.0 / 16.0, "shell/name=sag/off_mm"),
    planted(YEARS, "sag since", -1.0 / 16.0, "shell/name=sag/off_mm"),
    planted(YEARS, "grown by the warmth", 0.0147, "shell/name=mash/off_mm"),
];

const fn planted(
    comparison: &'static str,
    what: &'static str,
    inches: f64,
    found_at: &'static str,
) -> Planted {
    Planted {
        comparison,
        what,
        inches,
        band: BAND,
        counted: Counted::Inches,
        found_at,
    }
}

/// A plain number: a share, or degrees.
const fn plain(
    comparison: &'static str,
    what: &'static str,
    number: f64,
    band: f64,
    found_at: &'static str,
) -> Planted {
    Planted {
        comparison,
        what,
        inches: number,
        band,
        counted: Counted::Times,
        found_at,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::job::JOB;

    /// Every comparison of which something is expected is in the job, and each has its findings in one run.
    #[test]
    fn what_is_planted_belongs_to_a_comparison_of_the_job() {
        let mut order: Vec<&str> = PLANTED.iter().map(|p| p.comparison).collect();
        order.dedup();
        let mut once = order.clone();
        once.sort_unstable();
        once.dedup();
        assert_eq!(order.len(), once.len());
        let expected = EXPECTED_REFUSALS.iter().chain(&EXPECTED_WARNINGS).map(|e| e.0);
        for name in order.into_iter().chain(expected) {
            assert!(
                JOB.contains(&format!("[[comparison]]\nname = \"{name}\"")),
                "{name}"
            );
        }
    }
}
