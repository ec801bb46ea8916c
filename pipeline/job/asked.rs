//! What a job asks for besides the deviation, as declared: recesses, sections, the shell's figures.

use cloud::{Bounds, NamedPoint, Point, Unit, Vector};

use super::checks::{CheckAsked, known_place};
use super::file::Faults;
use super::regions::{bounds, refuse_odd_name};
use super::section::Section;

/// What a comparison asks for besides the deviation.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Asked {
    /// Names of the regions whose folds are read.
    pub folds: Vec<String>,
    /// Recesses that are read in their declared outlines.
    pub recesses: Vec<RecessAsked>,
    /// Names of the regions in which beads and recesses are found.
    pub beads: Vec<String>,
    /// Figures asked for by name.
    pub checks: Vec<CheckAsked>,
    /// Where it is cut.
    pub sections: Vec<SectionAsked>,
    /// The places that tell the shell's figures.
    pub shell: Option<ShellAsked>,
    /// Named places on the reference.
    pub places: Vec<NamedPoint>,
    /// Whether holes and slots are looked for.
    pub holes: bool,
    /// Whether trim edges are looked for.
    pub edges: bool,
}

/// A recess that is to be read.
#[derive(Debug, Clone, PartialEq)]
pub struct RecessAsked {
    /// What the job calls it.
    pub name: String,
    /// Its outline on the reference, mm.
    pub outline: Bounds,
    /// How far its place, depth and width may be off, mm.
    pub limit_mm: f64,
}

/// Where both sets are cut.
#[derive(Debug, Clone, PartialEq)]
pub struct SectionAsked {
    /// What the job calls it.
    pub name: String,
    /// The planes.
    pub planes: SectionPlanes,
}

/// The planes of a section.
#[derive(Debug, Clone, PartialEq)]
pub enum SectionPlanes {
    /// One plane.
    One {
        /// A point of it, mm.
        through_mm: Point,
        /// Its unit normal: the way it is looked along.
        facing: Vector,
    },
    /// One plane every so often along a seam, square to it.
    Along {
        /// The seam's ends, mm.
        ends_mm: [Point; 2],
        /// From one plane to the next, mm.
        every_mm: f64,
    },
}

/// The named places that tell a shell's figures, left and right.
#[derive(Debug, Clone, PartialEq)]
pub struct ShellAsked {
    /// At the front.
    pub front: [NamedPoint; 2],
    /// In the middle, where there are any.
    pub middle: Option<[NamedPoint; 2]>,
    /// At the rear.
    pub rear: [NamedPoint; 2],
    /// Openings that are taped corner to corner.
    pub openings: Vec<OpeningAsked>,
    /// Other places that mirror each other, the left one first.
    pub pairs: Vec<[NamedPoint; 2]>,
    /// How far twist, sag, diamond, sway and openings may be off, mm.
    pub limit_mm: f64,
}

/// A door, a boot, a screen: an opening that is taped corner to corner.
#[derive(Debug, Clone, PartialEq)]
pub struct OpeningAsked {
    /// What the job calls it.
    pub name: String,
    /// Its corners, in turn around it.
    pub corners: [NamedPoint; 4],
}

/// Where nothing is said, planes along a seam lie an inch apart.
const USUAL_EVERY_MM: f64 = 25.4;
/// Most planes along one seam.
const MOST_PLANES: f64 = 60.0;

/// Checks the tables `[[recess]]`.
pub fn recesses(
    sections: Vec<Section<'_, '_>>,
    unit: Unit,
    usual_limit_mm: f64,
    faults: &mut Faults<'_>,
) -> Vec<RecessAsked> {
    let mut recesses: Vec<RecessAsked> = Vec::new();
    for mut section in sections {
        let taken = |name: &str| recesses.iter().any(|r| r.name == name);
        let name = section.titled("recess", "recesses", taken, faults);
        let outline = bounds(&mut section, unit, faults);
        let limit_mm = section.length_mm("limit", faults).unwrap_or(usual_limit_mm);
        section.end(faults);
        if let (Some((name, _)), Some(outline)) = (name, outline) {
            recesses.push(RecessAsked {
                name,
                outline,
                limit_mm,
            });
        }
    }
    recesses
}

/// Checks the tables `[[section]]`.
pub fn sections(tables: Vec<Section<'_, '_>>, unit: Unit, faults: &mut Faults<'_>) -> Vec<SectionAsked> {
    let mut sections: Vec<SectionAsked> = Vec::new();
    for mut table in tables {
        let taken = |name: &str| sections.iter().any(|s| s.name == name);
        let name = table.titled("section", "sections", taken, faults);
        if let Some((name, _)) = &name {
            refuse_odd_name(name, &table.span().clone(), faults);
        }
        let planes = planes(&mut table, unit, faults);
        table.end(faults);
        if let (Some((name, _)), Some(planes)) = (name, planes) {
            sections.push(SectionAsked { name, planes });
        }
    }
    sections
}

fn planes(table: &mut Section<'_, '_>, unit: Unit, faults: &mut Faults<'_>) -> Option<SectionPlanes> {
    let mm = |at: [f64; 3]| Point::from(at) * unit.in_mm();
    let span = table.span().clone();
    if table.take("along").is_some() {
        let ends = table.two_places("along", "ends of the seam", faults)?.map(mm);
        let every_mm = table.length_mm("every", faults).unwrap_or(USUAL_EVERY_MM);
        let length_mm = (ends[1] - ends[0]).norm();
        if length_mm <= 0.0 {
            faults.add(
                &span,
                format!("both ends of \"along\" in {} are one place", table.title),
            );
            return None;
        }
        if length_mm / every_mm > MOST_PLANES {
            faults.add(
                &span,
                format!(
                    "{} asks for {:.0} planes along {:.0} mm ({:.0} in); {MOST_PLANES:.0} are the most: make \"every\" longer, or is it that long? Check the unit of \"along\"",
                    table.title,
                    length_mm / every_mm,
                    length_mm,
                    length_mm / Unit::Inch.in_mm()
                ),
            );
            return None;
        }
        return Some(SectionPlanes::Along {
            ends_mm: ends,
            every_mm,
        });
    }
    let through = table.place("through", faults);
    let facing = table.place("facing", faults);
    let facing_mm = Vector::from(facing?);
    let Some(facing) = facing_mm.try_normalize(1e-9) else {
        faults.add(&span, format!("\"facing\" in {} has no length", table.title));
        return None;
    };
    Some(SectionPlanes::One {
        through_mm: mm(through?),
        facing,
    })
}

/// Checks the table `[shell]`.
pub fn shell(
    mut table: Section<'_, '_>,
    places: &[NamedPoint],
    usual_limit_mm: f64,
    faults: &mut Faults<'_>,
) -> Option<ShellAsked> {
    let (front, rear) = (
        pair("front", &mut table, places, faults),
        pair("rear", &mut table, places, faults),
    );
    let has_middle = table.take("middle").is_some();
    let middle = has_middle
        .then(|| pair("middle", &mut table, places, faults))
        .flatten();
    let openings = openings(table.tables("openings", faults), places, faults);
    let pairs = pairs(table.tables("pairs", faults), places, faults);
    let limit_mm = table.length_mm("limit", faults).unwrap_or(2.0 * usual_limit_mm);
    table.end(faults);
    Some(ShellAsked {
        front: front?,
        middle,
        rear: rear?,
        openings,
        pairs,
        limit_mm,
    })
}

/// Checks `openings` of `[shell]`.
fn openings(
    tables: Vec<Section<'_, '_>>,
    places: &[NamedPoint],
    faults: &mut Faults<'_>,
) -> Vec<OpeningAsked> {
    let mut openings: Vec<OpeningAsked> = Vec::new();
    for mut table in tables {
        let taken = |name: &str| openings.iter().any(|o| o.name == name);
        let name = table.titled("opening", "openings", taken, faults);
        if let Some((name, _)) = &name {
            table.title = format!("the opening \"{name}\" of [shell]");
        }
        let wanted = "the four corners in turn around it, each a place";
        let corners = table.names("corners", wanted, 4, faults).and_then(|names| {
            let mut found: Vec<NamedPoint> = Vec::new();
            for (name, span) in &names {
                let corner = known_place(name, span, "corners", places, &table, faults)?;
                if found.iter().any(|other| other.name == corner.name) {
                    faults.add(
                        span,
                        format!("\"corners\" in {} names \"{name}\" twice", table.title),
                    );
                    return None;
                }
                found.push(corner);
            }
            <[NamedPoint; 4]>::try_from(found).ok()
        });
        table.end(faults);
        if let (Some((name, _)), Some(corners)) = (name, corners) {
            openings.push(OpeningAsked { name, corners });
        }
    }
    openings
}

/// Checks `pairs` of `[shell]`.
fn pairs(
    tables: Vec<Section<'_, '_>>,
    places: &[NamedPoint],
    faults: &mut Faults<'_>,
) -> Vec<[NamedPoint; 2]> {
    let mut pairs = Vec::new();
    for mut table in tables {
        let left = table.needed_text("left", faults);
        let right = table.needed_text("right", faults);
        let place = |key: &str, said: Option<(String, std::ops::Range<usize>)>, faults: &mut Faults<'_>| {
            let (name, span) = said?;
            known_place(&name, &span, key, places, &table, faults)
        };
        let (left, right) = (place("left", left, faults), place("right", right, faults));
        table.end(faults);
        if let (Some(left), Some(right)) = (left, right) {
            pairs.push([left, right]);
        }
    }
    pairs
}

/// Two named places, left and right.
fn pair(
    key: &'static str,
    table: &mut Section<'_, '_>,
    places: &[NamedPoint],
    faults: &mut Faults<'_>,
) -> Option<[NamedPoint; 2]> {
    let names = table.names(key, "two places, the left one first", 2, faults)?;
    let found: Vec<NamedPoint> = names
        .iter()
        .filter_map(|(name, span)| known_place(name, span, key, places, table, faults))
        .collect();
    <[NamedPoint; 2]>::try_from(found).ok()
}
