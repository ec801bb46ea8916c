//! Figures that were asked for by name: what a man would take with a tape, a plumb line, a straight edge or a bolt.

mod form;
mod metal;
pub mod place;
mod sheets;
mod taped;

use ::compare::Verdict;
use ::compare::verdict;
use ::features::bar::Bar;
use cloud::held::SmallMotion;

use super::compare::{Compared, RegionResult};
use super::features::{Found, warmth};
use super::register::Setting;
use super::scale::Scaled;
use crate::job::{CheckAsked, CheckKind, Comparison, Straight};
use place::Places;

/// A figure, as it was and as it is: mm, or degrees where it is an angle.
#[derive(Debug, Clone, PartialEq)]
pub struct CheckResult {
    /// What the job calls it.
    pub name: String,
    /// `width`, `drop`, `tram`, …
    pub kind: &'static str,
    /// The region that it is of, where it is of one.
    pub of: Option<String>,
    /// What it is counted in.
    pub counted: Counted,
    /// On the reference; `None` where it was not seen there.
    pub reference: Option<f64>,
    /// On the measured set.
    pub measured: Option<f64>,
    /// The one less the other.
    pub off: Option<f64>,
    /// ± of it (half the 95 % band), the setting's share in it.
    pub pm: Option<f64>,
    /// Against its limit.
    pub verdict: Verdict,
    /// In the shop's words.
    pub words: String,
    /// Figures beside the first.
    pub details: Vec<Detail>,
    /// The bar that it is of, where it is of one and that was read.
    pub bar: Option<Bar>,
}

/// What a check is counted in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Counted {
    /// Millimetres.
    Length,
    /// Degrees.
    Angle,
}

/// A figure beside the first one of a check.
#[derive(Debug, Clone, PartialEq)]
pub struct Detail {
    /// `twist (deg)`, `left end (mm)`: what it is, and in what.
    pub what: &'static str,
    /// How much.
    pub value: f64,
    /// ± of it, where it is known.
    pub pm: Option<f64>,
}

/// Not seen well enough to be given.
const NOT_SEEN: &str = "not seen well enough";

impl CheckResult {
    /// A figure of which nothing has been seen yet.
    fn unseen(asked: &CheckAsked) -> Self {
        Self {
            name: asked.name.clone(),
            kind: asked.kind.word(),
            of: asked.kind.regions().first().map(|region| region.to_string()),
            counted: match asked.kind {
                CheckKind::Angle { .. } => Counted::Angle,
                _ => Counted::Length,
            },
            reference: None,
            measured: None,
            off: None,
            pm: None,
            verdict: Verdict::NotMeasured,
            words: NOT_SEEN.to_string(),
            details: Vec::new(),
            bar: None,
        }
    }

    /// The figure with what was read of both sets, and its verdict.
    fn read(mut self, reference: f64, off: f64, pm: f64, limit: f64) -> Self {
        self.reference = Some(reference);
        self.measured = Some(reference + off);
        self.off = Some(off);
        self.pm = Some(pm);
        self.verdict = verdict::decide(off, pm, limit);
        self
    }
}

/// Reads every check of the comparison, in its order.
pub fn checks(
    comparison: &Comparison,
    scaled: &Scaled,
    setting: &Setting,
    compared: &Compared,
    found: &Found,
    places: &Places,
) -> Vec<CheckResult> {
    let reader = Reader {
        scaled,
        setting,
        compared,
        found,
        places,
        warmer_kelvin: warmth::warmer_kelvin(comparison),
    };
    let checks = &comparison.asked.checks;
    checks
        .iter()
        .map(|asked| reader.at_the_warmth_of_the_reference(reader.read(asked), asked))
        .collect()
}

/// How a figure of the measured metal differs, before it is judged.
struct Reading {
    off_mm: f64,
    /// ± without the setting's share, mm.
    pm_mm: f64,
    /// How the figure follows a small motion of the measured set.
    follows: SmallMotion,
}

struct Reader<'a> {
    scaled: &'a Scaled,
    setting: &'a Setting,
    compared: &'a Compared,
    found: &'a Found,
    places: &'a Places,
    /// How much warmer the measured metal was, where both sets say.
    warmer_kelvin: Option<f64>,
}

impl Reader<'_> {
    fn read(&self, asked: &CheckAsked) -> CheckResult {
        match &asked.kind {
            CheckKind::Width { between } => self.width(asked, between),
            CheckKind::Flush { between } => self.flush(asked, between),
            CheckKind::Drop { at } => self.drop(asked, at),
            CheckKind::Height { between } => self.height(asked, between),
            CheckKind::Tram { between } => self.tram(asked, between),
            CheckKind::Bolt { at, size_mm } => self.bolt(asked, at, *size_mm),
            CheckKind::Angle { between } => self.angle(asked, between),
            CheckKind::Gap { between } => self.gap(asked, between),
            CheckKind::Bar { region } => self.bar(asked, region),
            CheckKind::Flat { region } => self.flat(asked, region),
            CheckKind::Round { at } => self.round(asked, at),
            CheckKind::Straight { between, of } => match of {
                Straight::Edge => self.straight_edge_of(asked, between),
                Straight::Sheet => self.straight_sheet(asked, between),
            },
        }
    }

    /// Tells apart what the warmth has made of a length, and judges it without that; the figure stays as it was measured.
    fn at_the_warmth_of_the_reference(&self, mut result: CheckResult, asked: &CheckAsked) -> CheckResult {
        if let (Some(was_mm), Some(off_mm), Some(pm_mm)) = (result.reference, result.off, result.pm)
            && warmth::grows(&asked.kind)
            && let Some(grown_mm) = warmth::grown_mm(self.warmer_kelvin, was_mm)
        {
            if result.verdict != Verdict::NotMeasured {
                result.verdict = warmth::judged(off_mm, pm_mm, asked.limit, Some(grown_mm));
            }
            result.words = format!("{}; {}", result.words, warmth::grown_in_words(grown_mm));
            result.details.push(Detail {
                what: "grown by the warmth (mm)",
                value: grown_mm,
                pm: None,
            });
        }
        result
    }

    fn region(&self, name: &str) -> Option<&RegionResult> {
        self.compared.regions.iter().find(|r| r.region.name == name)
    }

    /// The figure with its ± and its verdict; none where it leans on a motion that nothing holds.
    fn judged(
        &self,
        result: CheckResult,
        reference_mm: f64,
        reading: &Reading,
        limit_mm: f64,
    ) -> CheckResult {
        let follows = &reading.follows;
        let pm_mm = reading.pm_mm.hypot(self.setting.pm_of_row_mm(follows));
        let mut result = result.read(reference_mm, reading.off_mm, pm_mm, limit_mm);
        if let Some(free) = self.setting.leans_on_free(follows) {
            result.words = format!("{}; nothing holds the set {free}", result.words);
            result.verdict = Verdict::NotMeasured;
        }
        result
    }
}

/// `drop H1`, and `drop at the post` where the name says its kind itself.
fn called(kind: &str, name: &str) -> String {
    if name.starts_with(kind) {
        name.to_string()
    } else {
        format!("{kind} {name}")
    }
}
