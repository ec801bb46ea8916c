//! Figures that a job asks for by name: what a man would take with a tape, a plumb line, a straight edge or a bolt.

use cloud::unit::MM_PER_INCH;
use cloud::{NamedPoint, Point, Unit};
use compare::Region;

use super::file::{Faults, did_you_mean};
use super::regions::one_of;
use super::section::Section;

/// A figure that is asked for by name.
#[derive(Debug, Clone, PartialEq)]
pub struct CheckAsked {
    /// What the job calls it.
    pub name: String,
    /// What is measured.
    pub kind: CheckKind,
    /// How far it may be off: mm, or degrees where it is an angle.
    pub limit: f64,
}

/// What a check measures.
#[derive(Debug, Clone, PartialEq)]
pub enum CheckKind {
    /// The width between two regions whose declared outsides oppose each other.
    Width {
        /// Their names.
        between: [String; 2],
    },
    /// The height above the table of a place on the reference.
    Drop {
        /// The place.
        at: NamedPoint,
    },
    /// The rise from one named place to another.
    Height {
        /// The places.
        between: [NamedPoint; 2],
    },
    /// The distance of two named places, point to point.
    Tram {
        /// The places.
        between: [NamedPoint; 2],
    },
    /// The angle between two regions, such as a flange and its skin.
    Angle {
        /// The flange and the skin.
        between: [String; 2],
    },
    /// The gap between the edges of two regions that face each other.
    Gap {
        /// Their names.
        between: [String; 2],
    },
    /// How far one region stands proud of its neighbour across a gap.
    Flush {
        /// Their names: the first is proud where the figure is above nothing.
        between: [String; 2],
    },
    /// Whether a bolt goes through a hole.
    Bolt {
        /// Where the hole should be.
        at: NamedPoint,
        /// The bolt's diameter, mm.
        size_mm: f64,
    },
    /// Whether a bar is straight: its bow in two planes and its twist.
    Bar {
        /// The region that holds it.
        region: String,
    },
    /// How flat a region is, whatever the reference says.
    Flat {
        /// Its name.
        region: String,
    },
    /// How round a hole or a round edge is, whatever the reference says.
    Round {
        /// Its middle.
        at: NamedPoint,
    },
    /// How straight an edge or the metal is between two places, whatever the reference says.
    Straight {
        /// The places.
        between: [NamedPoint; 2],
        /// Which of the two.
        of: Straight,
    },
}

/// What is straight between two places.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Straight {
    /// The metal, square to the sheet.
    Sheet,
    /// Its edge, in the sheet.
    Edge,
}

impl CheckKind {
    /// The word, as written.
    pub fn word(&self) -> &'static str {
        match self {
            CheckKind::Width { .. } => "width",
            CheckKind::Drop { .. } => "drop",
            CheckKind::Height { .. } => "height",
            CheckKind::Tram { .. } => "tram",
            CheckKind::Angle { .. } => "angle",
            CheckKind::Gap { .. } => "gap",
            CheckKind::Flush { .. } => "flush",
            CheckKind::Bolt { .. } => "bolt",
            CheckKind::Bar { .. } => "bar",
            CheckKind::Flat { .. } => "flat",
            CheckKind::Round { .. } => "round",
            CheckKind::Straight { .. } => "straight",
        }
    }

    /// The regions that it needs.
    pub fn regions(&self) -> Vec<&str> {
        match self {
            CheckKind::Width { between }
            | CheckKind::Angle { between }
            | CheckKind::Gap { between }
            | CheckKind::Flush { between } => between.iter().map(String::as_str).collect(),
            CheckKind::Bar { region } | CheckKind::Flat { region } => vec![region],
            _ => Vec::new(),
        }
    }
}

/// The kinds as written.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Kind {
    Width,
    Drop,
    Height,
    Tram,
    Angle,
    Gap,
    Flush,
    Bolt,
    Bar,
    Flat,
    Round,
    Straight,
}

const KINDS: [(&str, Kind); 12] = [
    ("width", Kind::Width),
    ("drop", Kind::Drop),
    ("height", Kind::Height),
    ("tram", Kind::Tram),
    ("angle", Kind::Angle),
    ("gap", Kind::Gap),
    ("flush", Kind::Flush),
    ("bolt", Kind::Bolt),
    ("bar", Kind::Bar),
    ("flat", Kind::Flat),
    ("round", Kind::Round),
    ("straight", Kind::Straight),
];

/// How far an angle may be off where nothing is said, degrees (common practice, no source).
const USUAL_DEG: f64 = 1.0;

/// What a job has declared that a check may name.
pub struct Declared<'a> {
    pub unit: Unit,
    pub limit_mm: f64,
    pub regions: &'a [Region],
    pub places: &'a [NamedPoint],
}

/// Checks the tables `[[check]]`.
pub fn checks(
    sections: Vec<Section<'_, '_>>,
    declared: &Declared<'_>,
    faults: &mut Faults<'_>,
) -> Vec<CheckAsked> {
    let mut checks: Vec<CheckAsked> = Vec::new();
    for mut section in sections {
        let taken = |name: &str| checks.iter().any(|c| c.name == name);
        let name = section.titled("check", "checks", taken, faults);
        let asked = declared.check(&mut section, faults);
        section.end(faults);
        if let (Some((name, _)), Some((kind, limit))) = (name, asked) {
            checks.push(CheckAsked { name, kind, limit });
        }
    }
    checks
}

impl Declared<'_> {
    fn check(&self, section: &mut Section<'_, '_>, faults: &mut Faults<'_>) -> Option<(CheckKind, f64)> {
        let said = section.take("kind").is_some();
        let kind = one_of(section, "kind", &KINDS, faults);
        if !said {
            let words: Vec<&str> = KINDS.iter().map(|k| k.0).collect();
            faults.add(
                &section.span().clone(),
                format!(
                    "\"kind\" is missing in {}; it is one of {}",
                    section.title,
                    words.join(", ")
                ),
            );
        }
        let Some(kind) = kind else {
            // Of no kind yet: its other keys are not called unknown on top of that.
            for key in ["between", "at", "size", "region", "of", "limit", "limit_deg"] {
                let _ = section.take(key);
            }
            return None;
        };
        let limit = if kind == Kind::Angle {
            section.number("limit_deg", faults).unwrap_or(USUAL_DEG)
        } else {
            section.length_mm("limit", faults).unwrap_or(self.limit_mm)
        };
        let checked = match kind {
            Kind::Width => self
                .opposed(section, faults)
                .map(|between| CheckKind::Width { between }),
            Kind::Angle => self
                .two_regions(section, faults)
                .map(|between| CheckKind::Angle { between }),
            Kind::Gap => self
                .two_regions(section, faults)
                .map(|between| CheckKind::Gap { between }),
            Kind::Flush => self
                .two_regions(section, faults)
                .map(|between| CheckKind::Flush { between }),
            Kind::Tram => self
                .two_places(section, faults)
                .map(|between| CheckKind::Tram { between }),
            Kind::Height => self
                .two_places(section, faults)
                .map(|between| CheckKind::Height { between }),
            Kind::Drop => self.place(section, faults).map(|at| CheckKind::Drop { at }),
            Kind::Bolt => {
                let at = self.place(section, faults);
                let size = section
                    .needed_text("size", faults)
                    .and(section.length_mm("size", faults));
                at.zip(size).map(|(at, size_mm)| CheckKind::Bolt { at, size_mm })
            }
            Kind::Bar => self
                .region(section, faults)
                .map(|region| CheckKind::Bar { region }),
            Kind::Flat => self
                .region(section, faults)
                .map(|region| CheckKind::Flat { region }),
            Kind::Round => self.place(section, faults).map(|at| CheckKind::Round { at }),
            Kind::Straight => {
                let between = self.two_places(section, faults);
                let said = [("sheet", Straight::Sheet), ("edge", Straight::Edge)];
                let of = one_of(section, "of", &said, faults).unwrap_or(Straight::Sheet);
                between.map(|between| CheckKind::Straight { between, of })
            }
        };
        checked.map(|kind| (kind, limit))
    }

    /// `at`: the name of a place, or where it is; it goes by the name of the check then.
    fn place(&self, section: &mut Section<'_, '_>, faults: &mut Faults<'_>) -> Option<NamedPoint> {
        if section.take("at").is_some_and(|v| v.get_ref().as_str().is_some()) {
            let (name, span) = section.text("at", faults)?;
            return known_place(&name, &span, "at", self.places, section, faults);
        }
        let at_mm = Point::from(section.place("at", faults)?) * self.unit.in_mm();
        let (name, _) = section.text("name", faults)?;
        Some(NamedPoint { name, at_mm })
    }

    fn two_places(&self, section: &mut Section<'_, '_>, faults: &mut Faults<'_>) -> Option<[NamedPoint; 2]> {
        let names = section.names("between", "two places, [\"H1\", \"H6\"]", 2, faults)?;
        let found: Vec<NamedPoint> = names
            .iter()
            .filter_map(|(name, span)| known_place(name, span, "between", self.places, section, faults))
            .collect();
        let [a, b] = <[NamedPoint; 2]>::try_from(found).ok()?;
        if (a.at_mm - b.at_mm).norm() < MM_PER_INCH / 64.0 {
            faults.add(
                section.span(),
                format!("\"between\" in {} names one place twice", section.title),
            );
            return None;
        }
        Some([a, b])
    }

    fn region(&self, section: &mut Section<'_, '_>, faults: &mut Faults<'_>) -> Option<String> {
        let (name, span) = section.needed_text("region", faults)?;
        self.known_region(&name, &span, "region", section, faults)
            .map(|r| r.name.clone())
    }

    fn known_region(
        &self,
        name: &str,
        span: &std::ops::Range<usize>,
        key: &str,
        section: &Section<'_, '_>,
        faults: &mut Faults<'_>,
    ) -> Option<&Region> {
        let found = self.regions.iter().find(|r| r.name == name);
        if found.is_none() {
            let hint = did_you_mean(name, self.regions.iter().map(|r| r.name.as_str()));
            faults.add(
                span,
                format!(
                    "\"{key}\" in {}: there is no region \"{name}\"{hint}",
                    section.title
                ),
            );
        }
        found
    }

    fn two_regions(&self, section: &mut Section<'_, '_>, faults: &mut Faults<'_>) -> Option<[String; 2]> {
        let names = section.names("between", "two regions, [\"left …\", \"right …\"]", 2, faults)?;
        let found: Vec<String> = names
            .iter()
            .filter_map(|(name, span)| self.known_region(name, span, "between", section, faults))
            .map(|r| r.name.clone())
            .collect();
        <[String; 2]>::try_from(found).ok()
    }

    /// Two regions with outsides that oppose each other.
    fn opposed(&self, section: &mut Section<'_, '_>, faults: &mut Faults<'_>) -> Option<[String; 2]> {
        let names = self.two_regions(section, faults)?;
        let outside = |name: &String| self.regions.iter().find(|r| r.name == *name)?.outside;
        let oppose = outside(&names[0])
            .zip(outside(&names[1]))
            .is_some_and(|(a, b)| a.direction().dot(&b.direction()) < -0.5);
        if !oppose {
            faults.add(
                section.span(),
                format!(
                    "{}: the outsides of \"{}\" and \"{}\" must oppose each other, like left and right; declare \"outside\" in both regions",
                    section.title, names[0], names[1]
                ),
            );
            return None;
        }
        Some(names)
    }
}

/// The place of a name; a fault where there is none.
pub fn known_place(
    name: &str,
    span: &std::ops::Range<usize>,
    key: &str,
    places: &[NamedPoint],
    section: &Section<'_, '_>,
    faults: &mut Faults<'_>,
) -> Option<NamedPoint> {
    let found = places.iter().find(|p| p.name == name);
    if found.is_none() {
        let hint = match did_you_mean(name, places.iter().map(|p| p.name.as_str())) {
            none if none.is_empty() => "; list it under [places]".to_string(),
            hint => hint,
        };
        faults.add(
            span,
            format!(
                "\"{key}\" in {}: there is no place \"{name}\"{hint}",
                section.title
            ),
        );
    }
    found.cloned()
}
