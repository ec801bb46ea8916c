//! What can be typed, and nothing else.

use std::path::PathBuf;

use clap::{Args, Parser, Subcommand, ValueEnum};
use cloud::{Length, Unit};

/// Says where the metal of a car shell or panel lies against a reference, which way it must move and how much.
#[derive(Parser)]
#[command(name = "witnessmark", version, about, after_help = AFTER, max_term_width = 100)]
pub struct Cli {
    /// What to do.
    #[command(subcommand)]
    pub command: Command,
    /// How many threads to work with; all cores if not said. The results are the same.
    #[arg(long, global = true, value_name = "N", value_parser = threads)]
    pub threads: Option<usize>,
    /// Print the results and nothing on the way.
    #[arg(long, global = true)]
    pub quiet: bool,
    /// Print where the time went.
    #[arg(long, global = true)]
    pub timings: bool,
}

const AFTER: &str = "Ends with 0 when all is within its limit, with 1 when something is outside, too close to call or \
not measured, with 2 when it could not be done.\n\nPositions only: nothing here speaks of strength, weld quality, hidden \
corrosion or crash behaviour. Figures hold to the ± shown.";

/// The commands.
#[derive(Subcommand)]
pub enum Command {
    /// Write the demo job into a folder and run it.
    Demo {
        /// The folder.
        #[arg(default_value = "witnessmark-demo", value_name = "DIR")]
        folder: PathBuf,
    },
    /// Make a new job folder with a commented job.toml.
    Start {
        /// The folder.
        #[arg(value_name = "DIR")]
        folder: PathBuf,
    },
    /// Take sets into a job: copied byte for byte, put on record, never changed.
    Take(Take),
    /// Run every comparison of a job, or of many jobs; what hasn't changed isn't done again.
    Run(Run),
    /// Compare two sets without a job.
    Compare(Box<Compare>),
    /// Join several takes of one thing into one set.
    Join(Join),
    /// Write the tape sheet of a job that was run, or take its hand readings back.
    Tape {
        /// The job's folder, or its job.toml.
        #[arg(value_name = "JOB")]
        job: PathBuf,
        /// The sheet with its readings filled in.
        #[arg(long, value_name = "CSV")]
        readings: Option<PathBuf>,
    },
    /// Read a job's log, or write into it what was done to the part.
    Log(Log),
    /// Lay named points and regions beside each other over the trips in and out of the jig.
    Trips {
        /// The job's folder, or its job.toml.
        #[arg(value_name = "JOB")]
        job: PathBuf,
    },
    /// Make the pages of a whole job: one to read and send, one to print for the next shop.
    Page {
        /// The job's folder, or its job.toml.
        #[arg(value_name = "JOB")]
        job: PathBuf,
        /// The comparison that is handed over; the last that read the shell if not said.
        #[arg(long, value_name = "NAME")]
        of: Option<String>,
    },
    /// Seal a job into a bag that can be checked bit for bit and read without this program.
    Seal {
        /// The job's folder, or its job.toml.
        #[arg(value_name = "JOB")]
        job: PathBuf,
        /// The bag: a new folder, or one file where the name ends in .zip.
        #[arg(long, value_name = "BAG")]
        out: PathBuf,
    },
    /// Check a sealed job: every file, every bit.
    Recheck {
        /// The bag.
        #[arg(value_name = "BAG")]
        bag: PathBuf,
        /// Run the job again from the bag, and lay what comes out beside what is in it.
        #[arg(long)]
        rerun: bool,
    },
    /// Bring a sealed job back as a folder to work in.
    Unseal {
        /// The bag.
        #[arg(value_name = "BAG")]
        bag: PathBuf,
        /// The folder; made new.
        #[arg(long, value_name = "DIR")]
        out: PathBuf,
        /// Bring back what is whole of a bag that is not.
        #[arg(long)]
        damaged: bool,
    },
    /// Say what files hold: points, extent, spacing, noise, likely unit, what is wrong with them.
    Look(Look),
}

/// What compare can be told.
#[derive(Args)]
#[command(allow_negative_numbers = true)]
pub struct Compare {
    /// The reference (PLY, STL, OBJ, E57 or text) and the measured set; with --mirror the measured set alone, or the set of
    /// the other side and the measured set.
    #[arg(value_name = "FILE", num_args = 1..=2, required = true)]
    pub files: Vec<PathBuf>,
    /// Hold the set against a mirror image, left against right: the reference's, where two files are given, which is
    /// mirrored in Y = 0 of its own frame; else its own.
    #[arg(long)]
    pub mirror: bool,
    /// Unit of the measured set, and of the reference where nothing else is said: mm, cm, m, in or ft.
    #[arg(long, value_name = "UNIT", value_parser = unit)]
    pub units: Option<Unit>,
    /// Unit of the reference.
    #[arg(long, value_name = "UNIT", value_parser = unit)]
    pub reference_units: Option<Unit>,
    /// What the measured set is set by; by what was left alone where regions say so, else all over.
    #[arg(long, value_name = "BY")]
    pub set_by: Option<SetBy>,
    /// Named points of the reference: a table with the heads name, x, y, z in the reference's unit.
    #[arg(long, value_name = "CSV", requires = "points_measured")]
    pub points_reference: Option<PathBuf>,
    /// The same points in the measured set.
    #[arg(long, value_name = "CSV", requires = "points_reference")]
    pub points_measured: Option<PathBuf>,
    /// Regions of the reference, as in a job file.
    #[arg(long, value_name = "FILE")]
    pub regions: Option<PathBuf>,
    /// How far metal may be off, like "1/16 in" or "1.5 mm".
    #[arg(long, value_name = "LENGTH", default_value = "1/16 in", value_parser = length)]
    pub limit: Length,
    /// How far from the reference metal is still taken for the same sheet.
    #[arg(long, value_name = "LENGTH", default_value = "1/2 in", value_parser = length)]
    pub reach: Length,
    /// The same thing put back and measured again: what that changes is taken into every ±.
    #[arg(long, value_name = "FILE")]
    pub repeat: Option<PathBuf>,
    /// Questions that you have looked at, so that verdicts are given: unit, hand, way, face, layers, drift, axes, rest,
    /// holes.
    #[arg(long, value_name = "WORD", value_delimiter = ',', value_parser = crate::job::QUESTIONS)]
    pub answered: Vec<String>,
    /// Find holes and slots in both sets and compare them.
    #[arg(long)]
    pub holes: bool,
    /// Find the trim edges of the reference and say where the measured set's are short or long.
    #[arg(long)]
    pub edges: bool,
    /// Find beads and recesses in every region and compare them; wants --regions.
    #[arg(long)]
    pub beads: bool,
    /// Folder for the results; made new, or replaced when it holds earlier results.
    #[arg(long, value_name = "DIR", default_value = "witnessmark-results")]
    pub out: PathBuf,
}

/// What run can be told.
#[derive(Args)]
pub struct Run {
    /// Folders of jobs, or their job.toml.
    #[arg(value_name = "JOB", required = true)]
    pub jobs: Vec<PathBuf>,
    /// Only the comparison of this name.
    #[arg(long, value_name = "NAME")]
    pub only: Option<String>,
    /// Do it again even where nothing has changed.
    #[arg(long)]
    pub again: bool,
    /// Say what would be done, and do nothing.
    #[arg(long)]
    pub plan: bool,
    /// How much memory the comparisons may take together, like "4 GB"; half of what is free if not said.
    #[arg(long, value_name = "SIZE", value_parser = memory)]
    pub memory: Option<u64>,
}

/// What take can be told.
#[derive(Args)]
pub struct Take {
    /// The job's folder, or its job.toml.
    #[arg(value_name = "JOB")]
    pub job: PathBuf,
    /// The files as received.
    #[arg(value_name = "FILE", required = true)]
    pub files: Vec<PathBuf>,
    /// Keep the one file under this name.
    #[arg(long = "as", value_name = "NAME")]
    pub name: Option<String>,
    /// What it is, for the log.
    #[arg(long, value_name = "WORDS")]
    pub words: Option<String>,
}

/// What log can be told.
#[derive(Args)]
pub struct Log {
    /// The job's folder, or its job.toml.
    #[arg(value_name = "JOB")]
    pub job: PathBuf,
    /// What was done to the part, like "welded the right sill".
    #[arg(long, value_name = "WORDS")]
    pub did: Option<String>,
    /// The day on which it was done, like 2026-11-26; today if not said.
    #[arg(long, value_name = "DAY", requires = "did", value_parser = day)]
    pub day: Option<String>,
}

/// What join can be told.
#[derive(Args)]
pub struct Join {
    /// The takes, in the order in which they were made.
    #[arg(value_name = "TAKE", required = true, num_args = 2..)]
    pub takes: Vec<PathBuf>,
    /// Their unit: mm, cm, m, in or ft.
    #[arg(long, value_name = "UNIT", value_parser = unit)]
    pub units: Option<Unit>,
    /// The takes lie roughly in one frame already, as many scanners leave them.
    #[arg(long)]
    pub as_placed: bool,
    /// Named points of the takes: take,name,x,y,z. Two takes that share three or more are laid by them.
    #[arg(long, value_name = "CSV")]
    pub points: Option<PathBuf>,
    /// The joined set.
    #[arg(long, value_name = "FILE", default_value = "joined.ply")]
    pub out: PathBuf,
}

/// What look can be told.
#[derive(Args)]
pub struct Look {
    /// The files.
    #[arg(value_name = "FILE", required = true)]
    pub files: Vec<PathBuf>,
    /// Their unit: mm, cm, m, in or ft.
    #[arg(long, value_name = "UNIT", value_parser = unit)]
    pub units: Option<Unit>,
}

/// What a measured set is set by.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
pub enum SetBy {
    /// The regions that were left alone (kept).
    LeftAlone,
    /// Named points.
    Points,
    /// Named points in order, 3-2-1: pads first, then the line, then the stop.
    Order,
    /// The holes that both sets have, found and matched without names.
    Holes,
    /// Everything: a first look, which can hide a fault.
    AllOver,
    /// Nothing: both sets are in one frame already.
    AsIs,
}

impl SetBy {
    /// The word, as typed.
    pub fn word(self) -> &'static str {
        match self {
            SetBy::LeftAlone => "left-alone",
            SetBy::Points => "points",
            SetBy::Order => "order",
            SetBy::Holes => "holes",
            SetBy::AllOver => "all-over",
            SetBy::AsIs => "as-is",
        }
    }
}

impl Cli {
    /// What was typed; help and mistakes are printed, and a mistake ends with 2.
    pub fn parse_or_exit() -> Self {
        Self::parse()
    }
}

fn unit(text: &str) -> Result<Unit, String> {
    text.parse()
}

fn length(text: &str) -> Result<Length, String> {
    let length: Length = text.parse()?;
    if length.mm > 0.0 {
        Ok(length)
    } else {
        Err("it must be more than nothing".to_string())
    }
}

fn day(text: &str) -> Result<String, String> {
    if archive::log::is_day(text) {
        Ok(text.to_string())
    } else {
        Err("write the day like 2026-11-26".to_string())
    }
}

fn memory(text: &str) -> Result<u64, String> {
    let digits = text.trim_end_matches(|c: char| c.is_ascii_alphabetic() || c == ' ');
    let times = match text[digits.len()..].trim().to_ascii_lowercase().as_str() {
        "gb" | "g" => 1 << 30,
        "mb" | "m" => 1 << 20,
        _ => return Err("write it like \"4 GB\" or \"500 MB\"".to_string()),
    };
    match digits.trim().parse::<u64>() {
        Ok(count @ 1..=1_000_000) => Ok(count * times),
        _ => Err("write it like \"4 GB\" or \"500 MB\"".to_string()),
    }
}

fn threads(text: &str) -> Result<usize, String> {
    match text.parse() {
        Ok(n @ 1..=1024) => Ok(n),
        _ => Err("give a whole number from 1 to 1024".to_string()),
    }
}
