//! What every page is made from: the record of a comparison, its pictures, and what the owner says of his job.

mod now;

use record::Record;

pub use now::{Replaced, Standing, standings};

use crate::pdf::Paper;

/// A picture that a page shows.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Picture {
    /// Its file beside the page.
    pub file: String,
    /// What it shows, in words that a stranger understands.
    pub caption: String,
    /// The PNG file.
    pub png: Vec<u8>,
}

/// What the owner says of his job; what he doesn't say is empty and leaves a blank line to write on.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct About {
    /// What he calls the job.
    pub job: String,
    /// His shop, as it heads a letter.
    pub shop: String,
    /// How he is reached.
    pub contact: String,
    /// The shell or panel: its number, its maker's plate, whatever tells it from others.
    pub shell: String,
    /// Who measured.
    pub measured_by: String,
    /// With what: the scanner, the arm, the camera.
    pub instrument: String,
    /// How the part stood: on the table, on pads, free or held, bare or primed.
    pub state: String,
    /// When, as he writes it.
    pub day: String,
    /// Anything else.
    pub notes: String,
    /// What his pages are printed on.
    pub paper: Paper,
}

/// A comparison as its pages show it.
#[derive(Debug, Clone, Copy)]
pub struct Given<'a> {
    /// What the owner says of the job.
    pub about: &'a About,
    /// What was found.
    pub record: &'a Record,
    /// Its pictures, those of the whole first.
    pub pictures: &'a [Picture],
}

/// The pictures of trips and what they say, as a job's page shows them.
#[derive(Debug, Clone, Copy)]
pub struct GivenTrips<'a> {
    /// What was found, one line a figure.
    pub lines: &'a [String],
    /// The pictures.
    pub pictures: &'a [Picture],
    /// The views of the metal that are leafed through.
    pub leaves: &'a [crate::html::Leaves<'a>],
}

/// A job as its page shows it.
#[derive(Debug, Clone, Copy)]
pub struct GivenJob<'a> {
    /// What the owner says of the job.
    pub about: &'a About,
    /// Its comparisons in the order of the job file, those that were done.
    pub comparisons: &'a [Given<'a>],
    /// How each of them stands, in their order.
    pub standings: &'a [Standing],
    /// What could not be done, with the reason.
    pub refused: &'a [(String, String)],
    /// The trips, where there are any.
    pub trips: Option<GivenTrips<'a>>,
    /// The files of the job: path, bytes, SHA-256.
    pub files: &'a [(String, u64, String)],
    /// The log: day, what, words.
    pub log: &'a [(String, String, String)],
}

/// The cautions that every printed page carries.
pub const CAUTIONS: [&str; 3] = [
    "Positions only. Nothing here speaks of strength, weld quality, hidden corrosion or crash behaviour; weld quality can't be judged from shape, test pieces are needed.",
    "Belt anchorages, seat mountings, and steering, suspension and brake mountings with the metal around them need a qualified person's inspection under the rules of the place where the car will be used.",
    "Figures hold to the ± shown, on the day, in that state; a shell moves when weighted. Rules checked: ____________________ by ____________________",
];
