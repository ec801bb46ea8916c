//! Sets the measured set on the reference, as the comparison asks.

mod against_metal;
pub mod by_found;
pub mod by_points;
pub mod by_surface;
mod found_holes;
mod found_in_order;
mod from_nowhere;
mod hand;
mod kept_parted;
mod loose_points;
pub mod mirror;
mod nowhere_near;
pub mod repeat;
mod way_by_holes;

use ::register::RegisterError;
use ::register::icp::Settled;
use ::register::named::NamedResidual;
use cloud::chance::student_t;
use cloud::held::follows::leans_on;
use cloud::held::ways::Landmarks;
use cloud::held::{FreeMotion, Motions, SmallMotion, pm_at, pm_of_row, row};
use cloud::survey::tangents;
use cloud::{Body, Mirror, Motion, NamedPoint, Point, Scan, Vector, Warning};

use super::boxes;
use super::gates::unit::{across_mm, asked_first, refuse_sizes};
use super::scale::Scaled;
use super::scale::units::size;
use crate::cli::SetBy;
use crate::job::Comparison;
use crate::trouble::Trouble;

/// The ± along a motion that nothing holds, mm: whatever is off there can't be told.
pub const UNHELD_PM_MM: f64 = 1_000.0;

/// How the measured set was set.
pub struct Setting {
    /// By what.
    pub method: SetBy,
    /// The motion reference ← measured.
    pub reference_from_measured: Motion<Scan, Body>,
    /// Rms of what set it, mm; `None` where nothing was fitted.
    pub rms_mm: Option<f64>,
    /// The worst of it, mm.
    pub worst_mm: Option<f64>,
    /// Pairs that count.
    pub pairs: usize,
    /// Whether it came to rest.
    pub settled: bool,
    /// What holds it; `None` where nothing was fitted.
    pub motions: Option<Motions>,
    /// Degrees of freedom of the scatter that the ± is taken from.
    pub freedoms: f64,
    /// Named points, or holes, and their residuals.
    pub points: Vec<NamedResidual>,
    /// Of points in order, the names of those that come second and third: a line and a stop, as a rule.
    pub later_points: Vec<String>,
    /// The next best way it could lie.
    pub runner_up: Option<RunnerUp>,
    /// Whether its shape would tell if it were of the other hand; a set that was not looked for in any pose is believed.
    pub hand_told: bool,
    /// The plane of a set that is held against its own mirror image.
    pub mirror: Option<Mirror>,
    /// ± that re-seating and measuring again adds, mm.
    pub repeat_mm: Option<f64>,
    /// What the motions that nothing holds are told by.
    pub landmarks: Landmarks,
    /// In words, for pages: what it was set by.
    pub words: String,
    /// What the user should know.
    pub warnings: Vec<Warning>,
}

/// The next best way a set could lie.
pub struct RunnerUp {
    /// How well it fits, mm.
    pub rms_mm: f64,
    /// How it differs, in words.
    pub words: String,
}

impl Setting {
    /// A setting of which no more is known yet.
    pub fn new(method: SetBy, reference_from_measured: Motion<Scan, Body>, words: String) -> Self {
        Self {
            method,
            reference_from_measured,
            rms_mm: None,
            worst_mm: None,
            pairs: 0,
            settled: true,
            motions: None,
            freedoms: f64::INFINITY,
            points: Vec::new(),
            later_points: Vec::new(),
            runner_up: None,
            hand_told: true,
            mirror: None,
            repeat_mm: None,
            landmarks: Landmarks::default(),
            words,
            warnings: Vec::new(),
        }
    }

    /// How much wider few degrees of freedom make a band than many.
    fn few(&self) -> f64 {
        student_t(0.95, self.freedoms) / student_t(0.95, f64::INFINITY)
    }

    /// Holds another setting, one by surface that was slid to where this one has it, along what its surface leaves free; in words,
    /// behind what it was set by.
    fn hold(&self, other: &mut Settled) -> String {
        let was_free = other.motions.free_ways(&self.landmarks);
        if let Some(motions) = &self.motions {
            other.motions.hold_by(motions, self.few());
        }
        let still_free = other.motions.held().free;
        let shared = |a: &FreeMotion, b: &FreeMotion| -> f64 {
            let products = a.vector.iter().zip(b.vector).map(|(a, b)| a * b);
            products.sum()
        };
        let ways: Vec<String> = was_free
            .into_iter()
            .filter(|way| leans_on(&still_free, |free| shared(free, way)).is_none())
            .map(|way| way.words)
            .collect();
        if ways.is_empty() {
            return String::new();
        }
        format!("; the points hold it {}", ways.join("; "))
    }

    /// How the mean of many places along their normals follows its small motions.
    pub fn mean_row(&self, places: impl Iterator<Item = (Point, Vector)>) -> SmallMotion {
        let (mut sum, mut count) = (SmallMotion::zeros(), 0usize);
        for (place, normal) in places {
            sum += self.row_along(&place, &normal);
            count += 1;
        }
        sum / count.max(1) as f64
    }

    /// How a place along a direction follows its small motions.
    pub fn row_along(&self, at: &Point, direction: &Vector) -> SmallMotion {
        row(&(at - self.centre_mm()), direction)
    }

    /// The ± that the setting brings into a figure that follows its small motions by `row`, mm; a metre where the figure leans
    /// on a motion that nothing holds.
    pub fn pm_of_row_mm(&self, row: &SmallMotion) -> f64 {
        if self.leans_on_free(row).is_some() {
            return UNHELD_PM_MM;
        }
        let scatter = self
            .motions
            .as_ref()
            .map_or(0.0, |m| self.few() * pm_of_row(&m.covariance(), row));
        scatter.hypot(self.repeat_mm.unwrap_or(0.0))
    }

    /// The ± of the setting at a place across `axis`, mm: what it leaves unknown of the place of a hole or a bead in its
    /// sheet, which slides where nothing holds it.
    pub fn pm_across_mm(&self, at: &Point, axis: &Vector) -> f64 {
        let (u, v) = tangents(axis);
        self.pm_along_mm(at, &u).max(self.pm_along_mm(at, &v))
    }

    /// The ± of the setting at a place along a direction, mm.
    pub fn pm_along_mm(&self, at: &Point, direction: &Vector) -> f64 {
        self.pm_of_row_mm(&self.row_along(at, direction))
    }

    /// The motions that nothing holds, in words that stand behind "nothing holds the set"; none where nothing was fitted.
    pub fn free(&self) -> Vec<FreeMotion> {
        let motions = self.motions.as_ref();
        motions.map_or(Vec::new(), |motions| motions.free_ways(&self.landmarks))
    }

    /// The words of a motion that nothing holds and that `row` follows, where there is one.
    pub fn leans_on_free(&self, row: &SmallMotion) -> Option<String> {
        let motions = self.motions.as_ref()?;
        let free = self.free();
        leans_on(&free, |motion| motion.change(motions, row)).map(|motion| motion.words.clone())
    }

    /// The middle of what set it, about which its small motions turn; the origin where nothing was fitted.
    pub fn centre_mm(&self) -> Point {
        self.motions.as_ref().map_or(Point::origin(), |m| m.centre_mm)
    }

    /// The ± of the setting at a place, mm: what the scatter of its pairs or points leaves unknown (Student's t where they
    /// are few), and what re-seating adds. It is that along what is held: what leans on a free motion has `pm_along_mm`.
    pub fn pm_at_mm(&self, at: &Point) -> f64 {
        self.pm_at_places_mm()(at)
    }

    /// The same, to be asked of many places: what they have in common is worked out once.
    pub fn pm_at_places_mm(&self) -> impl Fn(&Point) -> f64 {
        let known = self.motions.as_ref().map(|m| (m.covariance(), m.centre_mm));
        let (few, repeat_mm) = (self.few(), self.repeat_mm.unwrap_or(0.0));
        move |at: &Point| {
            let scatter = known.as_ref().map_or(0.0, |(covariance, centre)| {
                few * pm_at(covariance, &(at - centre))
            });
            scatter.hypot(repeat_mm)
        }
    }
}

/// Sets the measured set.
///
/// # Errors
/// Where it can't be set; where something speaks against a unit that is asked first.
pub fn register(comparison: &Comparison, scaled: &mut Scaled) -> Result<Setting, Trouble> {
    let mut setting = set(comparison, scaled)
        .map_err(|trouble| Trouble::new(mirror::of_the_hand(comparison, trouble.to_string())))
        .map_err(|trouble| asked_first(comparison, &scaled.warnings, trouble))?;
    for warning in &mut setting.warnings {
        warning.words = mirror::of_the_hand(comparison, std::mem::take(&mut warning.words));
    }
    setting.warnings.extend(mirror::no_drawing(comparison));
    setting.landmarks = landmarks(comparison, scaled, &setting);
    let loose = loose_points::too_loose(&setting, comparison.limit_mm);
    setting.warnings.extend(loose);
    Ok(setting)
}

/// The named places of the job and what set it, and the box around the reference.
fn landmarks(comparison: &Comparison, scaled: &Scaled, setting: &Setting) -> Landmarks {
    let mut places = comparison.asked.places.clone();
    for point in &setting.points {
        if places.iter().all(|place| place.name != point.name) {
            places.push(NamedPoint {
                name: point.name.clone(),
                at_mm: point.at_mm,
            });
        }
    }
    Landmarks {
        places,
        bounds: scaled.reference.cloud.bounds(),
    }
}

fn set(comparison: &Comparison, scaled: &mut Scaled) -> Result<Setting, Trouble> {
    match comparison.set_by {
        SetBy::AsIs => Ok(Setting::new(
            SetBy::AsIs,
            Motion::identity(),
            "as is: both sets are declared to be in one frame".to_string(),
        )),
        SetBy::Points | SetBy::Order | SetBy::Holes => by_places(comparison, scaled),
        SetBy::AllOver => {
            refuse_sizes(comparison, scaled)?;
            by_surface::all_over(comparison, scaled).map_err(|why| refused(comparison, scaled, &why))
        }
        SetBy::LeftAlone => {
            let start = if comparison.points.is_some() || comparison.datum_holes.is_some() {
                Some(by_places(comparison, scaled)?)
            } else {
                refuse_sizes(comparison, scaled)?;
                None
            };
            let started = start.is_some();
            let mut setting = by_surface::left_alone(comparison, scaled, start)
                .map_err(|why| refused(comparison, scaled, &why))?;
            // Between points that start it a set can't slide far.
            for warning in setting
                .warnings
                .iter_mut()
                .filter(|w| started && w.code == "not-settled")
            {
                warning.code = "nearly-settled";
            }
            // Points that only start it need not agree, unless they were followed.
            let followed = setting.warnings.iter().any(|w| w.code == "points-against-metal");
            let rough = |w: &&mut Warning| !followed && w.code == "points-contradict";
            for warning in setting.warnings.iter_mut().filter(rough) {
                warning.code = "points-apart";
            }
            Ok(setting)
        }
    }
}

/// By places: holes that are found in both sets, with names or without, or points in two tables. The metal is asked for the
/// hand where they can't tell it.
fn by_places(comparison: &Comparison, scaled: &mut Scaled) -> Result<Setting, Trouble> {
    let mut setting = match (&comparison.datum_holes, comparison.set_by) {
        (Some(holes), _) => by_found::by_found(comparison, scaled, holes),
        (None, SetBy::Holes) => by_points::by_holes(scaled).map_err(|why| refused(comparison, scaled, &why)),
        (None, SetBy::Order) => by_points::in_order(comparison, scaled),
        (None, _) => by_points::by_names(comparison, scaled),
    }?;
    if let (None, Some(tables)) = (&comparison.datum_holes, &comparison.points)
        && comparison.set_by != SetBy::Holes
    {
        nowhere_near::refuse(tables, scaled, &setting)?;
    }
    // Where the points contradict each other the metal lies wrong by that already.
    let known = ["fits-mirrored", "points-contradict"];
    if setting.warnings.iter().all(|w| !known.contains(&w.code)) {
        setting.warnings.extend(hand::doubted(scaled, &setting));
    }
    if comparison.set_by == SetBy::Order {
        let told = against_metal::against_metal(comparison, scaled, &setting);
        setting.warnings.extend(told);
    }
    Ok(setting)
}

/// Why it could not be set; where nothing of the two matches, with how large both are, since a wrong unit does just that.
fn refused(comparison: &Comparison, scaled: &Scaled, why: &RegisterError) -> Trouble {
    let too_little_kept = matches!(why, RegisterError::TooLittleKept { .. });
    if too_little_kept && let Some(empty) = boxes::empty_kept(&comparison.regions, &scaled.reference) {
        return Trouble::new(format!(
            "{}: {empty}. So there is nothing to set the measured set by",
            comparison.reference.path.display()
        ));
    }
    let trouble = Trouble::not_set(&comparison.reference.path, &comparison.measured.path, why);
    let nothing_matches = matches!(
        why,
        RegisterError::TooFew { .. }
            | RegisterError::TooFewHoles { .. }
            | RegisterError::TooLittleOverlap { .. }
    );
    let sizes = across_mm(scaled.reference.points()).zip(across_mm(scaled.measured.points()));
    match sizes.filter(|_| nothing_matches) {
        Some((reference, measured)) => Trouble::new(format!(
            "{trouble}. As they were read the reference is about {} across and the measured set {}, however they lie: if that can't be, check the unit of each",
            size(reference),
            size(measured)
        )),
        None => trouble,
    }
}
