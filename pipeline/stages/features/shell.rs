//! The shell's figures, from its named places: rock, diamond, diagonals, sag, sway, mash, widths.

use ::features::shell::{Place, Quad, figures, growth_mm, parted};
use cloud::statistics::mean;
use cloud::unit::MM_PER_INCH;
use cloud::{Mirror, NamedPoint, Vector, Warning};
use compare::{Verdict, verdict};

use crate::job::Comparison;
use crate::stages::checks::place::SeenPlace;

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
    /// Against the shell's limit.
    pub verdict: Verdict,
    /// In words.
    pub words: String,
}

/// Works the figures out of the places that were seen; what can't be had is warned of.
pub fn shell(comparison: &Comparison, seen: &[SeenPlace], warnings: &mut Vec<Warning>) -> Vec<ShellFigure> {
    warnings.extend(idle_warmth(comparison));
    let Some(asked) = &comparison.asked.shell else {
        return Vec::new();
    };
    let place = |named: &NamedPoint| {
        let found = seen.iter().find(|s| s.name == named.name)?;
        Some(Place {
            name: found.name.clone(),
            reference: found.reference,
            measured: found.measured,
            pm_mm: found.pm_mm,
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
    for figure in figures(&quad, warmer_kelvin(comparison)) {
        match figure {
            Ok(figure) => found.push(ShellFigure {
                verdict: verdict::decide(figure.off_mm, figure.pm_mm, asked.limit_mm),
                name: figure.name,
                reference_mm: figure.reference_mm,
                measured_mm: figure.measured_mm,
                off_mm: figure.off_mm,
                pm_mm: figure.pm_mm,
                words: figure.words,
            }),
            // Without places in the middle nobody asks for a sag.
            Err(_) if asked.middle.is_none() && found.len() >= 2 => {}
            Err(why) => warnings.push(Warning::new("shell-figure", why.to_string())),
        }
    }
    found.extend(side_to_side(&quad));
    found
}

/// How the right place of each pair lies against the mirror image of the left one, in the upright plane half way between
/// them: told and not judged, since left and right came off separate dies.
fn side_to_side(quad: &Quad) -> Vec<ShellFigure> {
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
    seen.into_iter()
        .filter_map(|(left, right)| parted(left, right, &centre).ok())
        .flat_map(|pair| [pair.fore_aft, pair.set_out, pair.height])
        .map(|figure| ShellFigure {
            verdict: Verdict::Within,
            name: figure.name,
            reference_mm: figure.reference_mm,
            measured_mm: figure.measured_mm,
            off_mm: figure.off_mm,
            pm_mm: figure.pm_mm,
            words: figure.words,
        })
        .collect()
}

/// Less warmth than this lengthens nothing that a tape shows.
const LEAST_KELVIN: f64 = 1.0;
/// About as long as a shell is, mm.
const SHELL_MM: f64 = 84.0 * MM_PER_INCH;

/// A warning where a warmth is given that no figure takes.
fn idle_warmth(comparison: &Comparison) -> Option<Warning> {
    let (reference, measured) = (&comparison.reference, &comparison.measured);
    let words = match (reference.celsius, measured.celsius) {
        // A reference serves many comparisons, and may know its warmth where the others don't.
        (_, None) => return None,
        (Some(was), Some(is)) => {
            let kelvin = is - was;
            if comparison.asked.shell.is_some() || kelvin.abs() < LEAST_KELVIN {
                return None;
            }
            format!(
                "the metal was {:.0} °C {} than the reference's, which makes 84 in of steel {:.3} in {}: no figure of this comparison takes it off, only the shell's length does, where [shell] is asked for",
                kelvin.abs(),
                if kelvin > 0.0 { "warmer" } else { "colder" },
                growth_mm(SHELL_MM, kelvin).abs() / MM_PER_INCH,
                if kelvin > 0.0 { "longer" } else { "shorter" },
            )
        }
        (None, Some(_)) => format!(
            "\"celsius\" is given for the set \"{}\" and not for \"{}\", so that no figure takes it: give it for both",
            measured.name, reference.name
        ),
    };
    Some(Warning::new("warmth-unused", words))
}

/// How much warmer the measured metal was than the reference, where both say.
pub fn warmer_kelvin(comparison: &Comparison) -> Option<f64> {
    Some(comparison.measured.celsius? - comparison.reference.celsius?)
}
