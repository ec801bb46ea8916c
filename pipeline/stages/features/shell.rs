//! The shell's figures, from its named places: rock, diamond, diagonals, sag, sway, mash, widths, openings, side to side.

use ::features::shell::{Figure, Place, Quad, figures, opening, parted};
use cloud::statistics::mean;
use cloud::{Mirror, NamedPoint, Point, Vector, Warning};
use compare::{Verdict, verdict};

use super::warmth;
use crate::job::Comparison;
use crate::job::asked::{OpeningAsked, ShellAsked};
use crate::stages::checks::place::SeenPlace;
use crate::stages::register::{Setting, UNHELD_PM_MM};

/// One of the shell's figures with its verdict.
pub struct ShellFigure {
    /// What it is called.
    pub name: String,
    /// On the reference, mm.
    pub reference_mm: f64,
    /// As measured, mm.
    pub measured_mm: f64,
    /// The one less the other, mm.
    pub off_mm: f64,
    /// ± of that (half the 95 % band), mm.
    pub pm_mm: f64,
    /// What it is judged by, mm; nothing where it is told and not judged.
    pub limit_mm: Option<f64>,
    /// Against the shell's limit.
    pub verdict: Verdict,
    /// In words.
    pub words: String,
    /// Whether left and right differ by more than the limit, where they were asked for: told, and never wrong.
    pub differs: bool,
}

/// Works the figures out of the places that were seen; what can't be had is warned of. They do without the setting, but for
/// those from side to side, which are counted from a plane that does not move with the set.
pub fn shell(
    comparison: &Comparison,
    setting: &Setting,
    seen: &[SeenPlace],
    warnings: &mut Vec<Warning>,
) -> Vec<ShellFigure> {
    warnings.extend(warmth::idle(comparison));
    let Some(asked) = &comparison.asked.shell else {
        return Vec::new();
    };
    let place = |named: &NamedPoint| {
        let found = seen.iter().find(|s| s.name == named.name)?;
        Some(Place {
            name: found.name.clone(),
            reference: found.reference,
            measured: found.measured,
            known: found.known,
        })
    };
    let middle = |k: usize| asked.middle.as_ref().and_then(|pair| place(&pair[k]));
    let quad = Quad {
        front_left: place(&asked.front[0]),
        front_right: place(&asked.front[1]),
        rear_left: place(&asked.rear[0]),
        rear_right: place(&asked.rear[1]),
        middle_left: middle(0),
        middle_right: middle(1),
    };
    let mut found = Vec::new();
    let kelvin = warmth::warmer_kelvin(comparison);
    for figure in figures(&quad, kelvin) {
        match figure {
            Ok(figure) => {
                let length = is_length(&figure.name);
                found.push(judged(figure, length, kelvin, asked.limit_mm));
            }
            // Without places in the middle nobody asks for a sag.
            Err(_) if asked.middle.is_none() && found.len() >= 2 => {}
            Err(why) => warnings.push(Warning::new("shell-figure", why.to_string())),
        }
    }
    for one in &asked.openings {
        for figure in opening_of(one, &place) {
            match figure {
                Ok(figure) => found.push(judged(figure, true, kelvin, asked.limit_mm)),
                Err(why) => warnings.push(Warning::new("shell-figure", why)),
            }
        }
    }
    let others = pairs_of(asked, &place, warnings);
    let unheld = |counted: &[(Point, Vector); 2]| {
        let [one, other] = counted.each_ref().map(|(at, way)| setting.row_along(at, way));
        setting.leans_on_free(&(one + other))
    };
    found.extend(side_to_side(&quad, &others, asked.limit_mm, &unheld));
    found
}

/// The figures of an opening whose four corners were seen, or in words why there are none.
fn opening_of(
    asked: &OpeningAsked,
    place: &dyn Fn(&NamedPoint) -> Option<Place>,
) -> Vec<Result<Figure, String>> {
    let corners = asked.corners.each_ref().map(place);
    if let [Some(a), Some(b), Some(c), Some(d)] = &corners {
        let figures = opening(&asked.name, [a, b, c, d]);
        return figures
            .into_iter()
            .map(|figure| figure.map_err(|why| why.to_string()))
            .collect();
    }
    let corners = asked.corners.iter().zip(&corners);
    let unseen: Vec<&str> = corners
        .filter(|(_, seen)| seen.is_none())
        .map(|(corner, _)| corner.name.as_str())
        .collect();
    vec![Err(format!("{}: {} not seen", asked.name, unseen.join(", ")))]
}

/// The pairs asked for of which both places were seen; the others are warned of.
fn pairs_of(
    asked: &ShellAsked,
    place: &dyn Fn(&NamedPoint) -> Option<Place>,
    warnings: &mut Vec<Warning>,
) -> Vec<(Place, Place)> {
    let mut pairs = Vec::new();
    for [left, right] in &asked.pairs {
        match (place(left), place(right)) {
            (Some(left), Some(right)) => pairs.push((left, right)),
            _ => warnings.push(Warning::new(
                "shell-figure",
                format!("{} / {}: not both of them were seen", left.name, right.name),
            )),
        }
    }
    pairs
}

/// Whether a figure of the quad is a length, which warmth changes.
fn is_length(name: &str) -> bool {
    name == "mash" || name.starts_with("width") || name.starts_with("diagonal ")
}

/// A figure with its verdict; a length is judged as it would be at the reference's warmth.
fn judged(figure: Figure, length: bool, warmer_kelvin: Option<f64>, limit_mm: f64) -> ShellFigure {
    let name = figure.name.as_str();
    let grown_mm = warmth::grown_mm(warmer_kelvin, figure.reference_mm).filter(|_| length);
    let words = match grown_mm {
        // The words of the length have it already.
        Some(grown_mm) if name != "mash" => {
            format!("{}; {}", figure.words, warmth::grown_in_words(grown_mm))
        }
        _ => figure.words,
    };
    ShellFigure {
        verdict: warmth::judged(figure.off_mm, figure.pm_mm, limit_mm, grown_mm),
        name: figure.name,
        reference_mm: figure.reference_mm,
        measured_mm: figure.measured_mm,
        off_mm: figure.off_mm,
        pm_mm: figure.pm_mm,
        limit_mm: Some(limit_mm),
        words,
        differs: false,
    }
}

/// Names the motion that nothing holds and that what is counted of two places, each along its way, leans on.
type Unheld<'a> = dyn Fn(&[(Point, Vector); 2]) -> Option<String> + 'a;

/// How the right place of each pair lies against the mirror image of the left one, in the upright plane half way between
/// those of the quad: told and not judged, since left and right came off separate dies. `others` are asked for besides.
fn side_to_side(
    quad: &Quad,
    others: &[(Place, Place)],
    limit_mm: f64,
    unheld: &Unheld<'_>,
) -> Vec<ShellFigure> {
    let pairs = [
        (&quad.front_left, &quad.front_right),
        (&quad.middle_left, &quad.middle_right),
        (&quad.rear_left, &quad.rear_right),
    ];
    let seen: Vec<(&Place, &Place)> = pairs
        .into_iter()
        .filter_map(|(left, right)| Some((left.as_ref()?, right.as_ref()?)))
        .collect();
    let middles: Vec<f64> = seen
        .iter()
        .map(|(left, right)| (left.reference.y + right.reference.y) / 2.0)
        .collect();
    let centre = Mirror {
        normal: Vector::y(),
        offset_mm: if middles.is_empty() { 0.0 } else { mean(&middles) },
    };
    let asked_for = others.iter().map(|(left, right)| (left, right, true));
    let all = seen.into_iter().map(|(left, right)| (left, right, false));
    all.chain(asked_for)
        .filter_map(|(left, right, asked_for)| {
            let pair = parted(left, right, &centre).ok()?;
            // What the right place has moved along its way, less what the left one has along the mirror image of that.
            let counted = |way: Vector| {
                let mirrored = way - centre.normal * (2.0 * way.dot(&centre.normal));
                unheld(&[(right.reference, way), (left.reference, -mirrored)])
            };
            Some((
                pair,
                [Vector::x(), Vector::y(), Vector::z()].map(counted),
                asked_for,
            ))
        })
        .flat_map(|(pair, unheld, asked_for)| {
            let figures = [pair.fore_aft, pair.set_out, pair.height];
            let name = pair.name;
            let each = figures.into_iter().zip(pair.stands).zip(unheld);
            each.map(move |((figure, stands), unheld)| match unheld {
                Some(free) => not_told(figure, &free),
                None => compared_across(&name, figure, &stands, asked_for, limit_mm),
            })
        })
        .collect()
}

/// One figure of a pair; `asked_for` besides the quad, it is told where it differs by more than the limit.
fn compared_across(pair: &str, figure: Figure, stands: &str, asked_for: bool, limit_mm: f64) -> ShellFigure {
    let apart = verdict::decide(figure.measured_mm, figure.pm_mm, limit_mm);
    let moved = figure.words.contains("than before");
    ShellFigure {
        verdict: Verdict::Within,
        words: if moved {
            format!("{pair}: {stands}; {}", figure.words)
        } else {
            format!("{pair}: {stands}")
        },
        name: figure.name,
        reference_mm: figure.reference_mm,
        measured_mm: figure.measured_mm,
        off_mm: figure.off_mm,
        pm_mm: figure.pm_mm,
        limit_mm: asked_for.then_some(limit_mm),
        differs: asked_for && apart == Verdict::Outside,
    }
}

/// A figure of a pair that follows a motion which nothing holds.
fn not_told(figure: Figure, free: &str) -> ShellFigure {
    ShellFigure {
        verdict: Verdict::NotMeasured,
        words: format!("{}: can't tell, nothing holds the set {free}", figure.name),
        name: figure.name,
        reference_mm: figure.reference_mm,
        measured_mm: figure.measured_mm,
        off_mm: figure.off_mm,
        pm_mm: UNHELD_PM_MM,
        limit_mm: None,
        differs: false,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use ::features::shell::Known;

    fn place(name: &str, at: [f64; 3], moved: [f64; 3]) -> Place {
        Place {
            name: name.to_string(),
            reference: Point::from(at),
            measured: Point::from(at) + Vector::from(moved),
            known: Known::alike(0.2),
        }
    }

    #[test]
    fn an_opening_needs_its_four_corners_and_names_those_that_were_not_seen() {
        let corners = ["D1", "D2", "D3", "D4"].map(|name| NamedPoint {
            name: name.to_string(),
            at_mm: Point::origin(),
        });
        let door = OpeningAsked {
            name: "left door".to_string(),
            corners,
        };
        let seen = [
            place("D1", [500.0, -700.0, 1100.0], [0.0; 3]),
            place("D2", [1400.0, -700.0, 1100.0], [3.2, 0.0, 0.0]),
            place("D3", [1400.0, -700.0, 300.0], [0.0; 3]),
            place("D4", [500.0, -700.0, 300.0], [0.0; 3]),
        ];
        let among = |most: usize| {
            let seen = &seen[..most];
            move |named: &NamedPoint| seen.iter().find(|p| p.name == named.name).cloned()
        };
        let figures: Vec<Figure> = opening_of(&door, &among(4)).into_iter().flatten().collect();
        assert_eq!(figures[0].words, "left door opened 1/8 at the top");
        let why = opening_of(&door, &among(2)).remove(0).unwrap_err();
        assert_eq!(why, "left door: D3, D4 not seen");
    }

    #[test]
    fn a_pair_that_was_asked_for_differs_and_is_not_judged() {
        let quad = Quad {
            front_left: Some(place("H1", [0.0, -350.0, 500.0], [0.0; 3])),
            front_right: Some(place("H2", [0.0, 350.0, 500.0], [0.0, 0.0, 6.0])),
            ..Quad::default()
        };
        let others = [(
            place("P1", [900.0, -300.0, 500.0], [0.0; 3]),
            place("P2", [900.0, 300.0, 503.2], [0.0; 3]),
        )];
        let found = side_to_side(&quad, &others, 1.6, &|_| None);
        assert_eq!(found.len(), 6);
        assert!(found.iter().all(|f| f.verdict == Verdict::Within));
        let differing: Vec<&str> = found
            .iter()
            .filter(|f| f.differs)
            .map(|f| f.words.as_str())
            .collect();
        let expected = "P1 / P2: right 1/8 higher than left: differs, as on the reference";
        assert_eq!(differing, [expected]);
        let of_quad = "H1 / H2: right 1/4 higher than left: differs; right 1/4 higher than before";
        assert_eq!(found[2].words, of_quad);
        // A set that slides from side to side takes both places along: the set-out alone can't be told.
        let slides = |counted: &[(Point, Vector); 2]| {
            let along = counted[0].1.y + counted[1].1.y;
            (along.abs() > 0.2).then(|| "side to side".to_string())
        };
        let found = side_to_side(&quad, &others, 1.6, &slides);
        let untold: Vec<usize> = (0..6).filter(|&k| found[k].verdict != Verdict::Within).collect();
        assert_eq!(untold, [1, 4]);
        assert_eq!(
            found[4].words,
            "P1 / P2, set-out: can't tell, nothing holds the set side to side"
        );
        assert!(found[5].differs && !found[4].differs);
    }
}
