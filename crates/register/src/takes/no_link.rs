//! Why a take was not laid on another, and of all that was tried for a loose take what came nearest.

use cloud::held::Motions;
use cloud::held::ways::Landmarks;

use super::graph::Groups;

/// Why one take was not laid on another.
#[derive(Debug, Clone, PartialEq)]
pub enum NoLink {
    /// They have too little of their surface in common.
    TooLittle {
        /// Its share, the larger of the two views.
        overlap: f64,
    },
    /// The one slides on the other along what both show.
    Slides {
        /// The share of the surface that they have in common.
        overlap: f64,
        /// What nothing holds: `fore and aft`, `against turning about the upright`.
        ways: Vec<String>,
        /// The take by whose axes that is told, counted from 0.
        by_axes_of: usize,
        /// How far another pose that fits as well is turned, degrees, where there is one.
        turned_deg: Option<f64>,
    },
    /// It could as well lie another way.
    EitherWay {
        /// The share of the surface that they have in common.
        overlap: f64,
        /// How far the other way is turned, degrees.
        turned_deg: f64,
    },
    /// The metal that they have in common does not tell how they lie: mirrored it fits as well or better.
    LittleRelief {
        /// The share of the surface that they would have in common where they fit best.
        overlap: f64,
    },
    /// It fits clearly better mirrored, and only so.
    Mirrored {
        /// The share of the surface that they have in common.
        overlap: f64,
    },
    /// Too much of what both cover does not lie on each other.
    NotAlike {
        /// The share of the surface that they have in common.
        overlap: f64,
        /// Of what they cover alike the share that lies on each other; `None` where it is not known, and small.
        alike: Option<f64>,
    },
    /// They lie farther apart than the noise of both explains.
    Rough {
        /// The share of the surface that they have in common.
        overlap: f64,
        /// Root mean square of the distances along the normals, mm.
        rms_mm: f64,
        /// What the noise and the spacing of both explain, mm.
        explained_mm: f64,
    },
}

impl NoLink {
    /// The share of the surface that the two have in common where they were tried.
    pub fn overlap(&self) -> f64 {
        match self {
            Self::TooLittle { overlap }
            | Self::Slides { overlap, .. }
            | Self::EitherWay { overlap, .. }
            | Self::LittleRelief { overlap }
            | Self::Mirrored { overlap }
            | Self::NotAlike { overlap, .. }
            | Self::Rough { overlap, .. } => *overlap,
        }
    }

    /// Whether the other way about nothing else would be found: a plain sheet slides on another whichever of them lies still.
    pub fn holds_both_ways(&self) -> bool {
        matches!(self, Self::Slides { ways, .. } if ways.len() > 1)
    }

    /// The reason as what follows the name of the take: `has 62 % in common with mid.ply, but …`. `name` is what the takes,
    /// counted from 0, are called.
    pub fn words(&self, on: usize, name: impl Fn(usize) -> String) -> String {
        let on = name(on);
        // Where it slides, or nothing tells how it lies, it was laid where most comes to lie on each other.
        let up_to = match self {
            Self::Slides { .. } | Self::LittleRelief { .. } => "up to ",
            _ => "",
        };
        let common = format!(
            "has {up_to}{:.0} % in common with {on}, but",
            100.0 * self.overlap()
        );
        match self {
            Self::TooLittle { overlap } => format!(
                "found too little surface in common with any of the others to lay it (at best {:.0} %, with {on})",
                100.0 * overlap
            ),
            Self::Slides {
                ways,
                by_axes_of,
                turned_deg,
                ..
            } => {
                let also = turned_deg.map_or_else(String::new, |deg| {
                    format!(", and could as well lie turned by {deg:.0}°")
                });
                format!(
                    "{common} {} (by the axes of {}){also}",
                    sliding(ways),
                    name(*by_axes_of)
                )
            }
            Self::EitherWay { turned_deg, .. } => {
                format!("{common} could lie two ways round on it: turned by {turned_deg:.0}° it fits as well")
            }
            Self::LittleRelief { .. } => format!(
                "{common} that metal has too little relief to tell how the one lies on the other (mirrored it fits as well)"
            ),
            Self::Mirrored { .. } => format!("{common} fits clearly better mirrored"),
            Self::NotAlike {
                alike: Some(alike), ..
            } => format!(
                "{common} only {:.0} % of what both cover lies on each other",
                100.0 * alike
            ),
            Self::NotAlike { alike: None, .. } => {
                format!("{common} most of what both cover does not lie on each other")
            }
            Self::Rough {
                rms_mm, explained_mm, ..
            } => format!(
                "{common} lies {rms_mm:.2} mm off it in the mean, where the noise of both explains {explained_mm:.2} mm"
            ),
        }
    }
}

/// `slides on it fore and aft, and nothing holds it against turning about the upright`.
pub fn sliding(ways: &[String]) -> String {
    let (turns, slides): (Vec<&str>, Vec<&str>) = ways
        .iter()
        .map(String::as_str)
        .partition(|way| way.starts_with("against "));
    let mut parts = Vec::new();
    if !slides.is_empty() {
        parts.push(format!("slides on it {}", slides.join(" and ")));
    }
    if !turns.is_empty() {
        parts.push(format!("nothing holds it {}", turns.join(" or ")));
    }
    parts.join(", and ")
}

/// What nothing holds, in words.
pub fn not_held(motions: &Motions) -> Vec<String> {
    let free = motions.free_ways(&Landmarks::default());
    free.into_iter().map(|way| way.words).collect()
}

/// The same; where all is held, but poorly, what is held least.
pub fn least_held(motions: &Motions) -> Vec<String> {
    let free = not_held(motions);
    if !free.is_empty() {
        return free;
    }
    let [.., least] = motions.held().words;
    if least.starts_with("turning") {
        return vec![format!("against {least}")];
    }
    vec![least]
}

/// A take that could not be laid, and what came nearest.
#[derive(Debug, Clone, PartialEq)]
pub struct Loose {
    /// The take, counted from 0.
    pub take: usize,
    /// The one on which it would have been laid, counted from 0.
    pub on: usize,
    /// Why it was not.
    pub why: NoLink,
}

/// A pair that was tried in vain.
pub struct Tried {
    pub reference: usize,
    pub measured: usize,
    pub why: NoLink,
}

/// For each take that does not hang on the largest group what came nearest: any other reason before too little in common, then a
/// neighbour in the order of the takes, then the pair with most in common.
pub fn loose(groups: &Groups, tried: &[Tried]) -> Vec<Loose> {
    let takes = groups.loose();
    let nearest = |take: usize| {
        let rank = |t: &Tried| {
            let too_little = matches!(t.why, NoLink::TooLittle { .. });
            // Of pairs with next to nothing in common none comes nearer for being neighbours.
            let apart = too_little || t.reference.abs_diff(t.measured) != 1;
            (too_little, apart, t.measured != take)
        };
        tried
            .iter()
            .filter(|t| (t.reference == take || t.measured == take) && !groups.tied(t.reference, t.measured))
            .min_by(|a, b| {
                let more = b.why.overlap().total_cmp(&a.why.overlap());
                if rank(a).0 && rank(b).0 {
                    more
                } else {
                    rank(a).cmp(&rank(b)).then(more)
                }
            })
    };
    takes
        .into_iter()
        .filter_map(|take| {
            let nearest = nearest(take)?;
            Some(Loose {
                take,
                on: nearest.reference + nearest.measured - take,
                why: nearest.why.clone(),
            })
        })
        .collect()
}
