//! The metal over the trips: before and after each at one scale, and every view to leaf through. All of it is cut out of the heat
//! maps that stand in the results: against one reference and with one limit these show one place at one spot, in one ramp.

use std::path::PathBuf;

use ::draw::page::Heads;
use ::draw::pair::{PairPicture, Side};
use ::draw::{Again, View};
use ::page::{Picture, html};
use archive::log::{Entry, What};
use rayon::prelude::*;
use record::Record;
use record::verdict::{of, of_the_whole};

use super::became::became;
use crate::commands::record_of;
use crate::job::{Job, Measured};
use crate::made_from::PROGRAM;
use crate::say;
use crate::stages::draw::file_of_whole;
use crate::trips::Group;
use crate::trouble::Trouble;

/// About as many pictures as a page that goes by mail holds to leaf through; of more trips fewer views are shown, but one always.
const MOST_LEAVES: usize = 60;

/// What is shown of the metal over the trips of a group.
pub struct Metal {
    /// Before and after each trip but the first.
    pub pairs: Vec<Picture>,
    /// The views to leaf through: from where each is seen, and its pictures, oldest first, small enough for a page.
    pub views: Vec<(&'static str, Vec<Picture>)>,
}

impl Metal {
    /// All its pictures.
    pub fn into_pictures(self) -> impl Iterator<Item = Picture> {
        self.pairs
            .into_iter()
            .chain(self.views.into_iter().flat_map(|(_, pictures)| pictures))
    }
}

/// How the part stood: a trip whose set was compared, or what the trips are like, where that was measured before them.
struct State {
    name: String,
    /// `2026-10-05`, or `received 2026-10-01`.
    day: String,
    /// What was done to it since the one before.
    operation: String,
    /// Part of a file's name: number of the trip and its day.
    part: String,
    results: PathBuf,
    record: Record,
}

impl State {
    fn title(&self) -> String {
        let verdict = of_the_whole(of(&self.record, &self.record.verdict));
        format!("{}, {}: {verdict}", self.name, self.day)
    }

    fn has(&self, view: &View) -> bool {
        let file = file_of_whole(view);
        self.record.pictures.iter().any(|picture| picture.file == file)
    }

    /// Its heat map from a view.
    fn map(&self, view: &View) -> Result<Again, Trouble> {
        let path = self.results.join(file_of_whole(view));
        let png = std::fs::read(&path).map_err(|e| Trouble::from(formats::FormatError::io(&path, &e)))?;
        Again::read(&png).map_err(|e| Trouble::new(format!("{}: {e}", path.display())))
    }

    /// Why its heat maps can't be laid beside those of another.
    fn unlike(&self, other: &Self) -> Option<&'static str> {
        let (ours, theirs) = (&self.record, &other.record);
        let limits = |record: &Record| -> Vec<(String, f64)> {
            let regions = record.made_with.regions.iter();
            regions
                .map(|(name, with)| (name.clone(), with.limit_mm))
                .collect()
        };
        if ours.program != PROGRAM || theirs.program != PROGRAM {
            Some("another version made them; run the job again")
        } else if ours.reference.sha256 != theirs.reference.sha256
            || ours.reference.unit != theirs.reference.unit
        {
            Some("they are held against other references")
        } else if ours.made_with.limit_mm != theirs.made_with.limit_mm || limits(ours) != limits(theirs) {
            Some("they were held to other limits; run the job again")
        } else {
            None
        }
    }
}

/// What is shown of the metal over the trips of a group. What can't be laid beside the rest is left out and told to `warn`.
///
/// # Errors
/// Where a picture can't be encoded.
pub fn metal(
    job: &Job,
    group: &Group,
    entries: &[Entry],
    warn: &mut dyn FnMut(String),
) -> Result<Metal, Trouble> {
    let states = states(job, group, entries, warn);
    let pairs: Vec<_> = states.par_windows(2).map(|two| pair(&two[0], &two[1])).collect();
    let mut told = Vec::new();
    for (pair, two) in pairs.into_iter().zip(states.windows(2)) {
        match pair? {
            Ok(picture) => told.push(picture),
            Err(why) => warn(format!("{}: not laid beside {}: {why}", two[1].name, two[0].name)),
        }
    }
    Ok(Metal {
        pairs: told,
        views: leafed(&states)?,
    })
}

/// The states of a group, oldest first.
fn states(job: &Job, group: &Group, entries: &[Entry], warn: &mut dyn FnMut(String)) -> Vec<State> {
    let mut states: Vec<State> = Vec::new();
    let mut like_is_among = false;
    for (k, trip) in job.trips.iter().enumerate() {
        let Measured::Set { like, shown_by } = &trip.what else {
            continue;
        };
        let seen = group.trips.iter().find(|seen| seen.name == trip.name);
        let Some(seen) = seen.filter(|_| *like == group.name) else {
            continue;
        };
        like_is_among |= *shown_by == group.name;
        // What has no results was told when the figures were laid beside each other.
        let Ok(record) = record_of(job, shown_by) else {
            continue;
        };
        states.push(State {
            name: trip.name.clone(),
            day: trip.day.clone(),
            operation: seen.operation.clone(),
            part: format!("{:02}-{}", k + 1, trip.day),
            results: job.results(shown_by),
            record,
        });
    }
    if let Some(first) = states.first()
        && !like_is_among
        && let Some(before) = before(job, group, entries, &first.day)
    {
        states.insert(0, before);
    }
    if let Some((first, rest)) = states.split_first() {
        let unlike: Vec<bool> = rest
            .iter()
            .map(|state| match first.unlike(state) {
                Some(why) => {
                    warn(format!(
                        "{}: its pictures are not laid beside those of {}: {why}",
                        state.name, first.name
                    ));
                    true
                }
                None => false,
            })
            .collect();
        let mut left_out = [false].into_iter().chain(unlike);
        states.retain(|_| !left_out.next().unwrap_or(false));
    }
    states
}

/// What the trips are like, where its set was on record on the day of the first of them: it can't have been measured later.
fn before(job: &Job, group: &Group, entries: &[Entry], day: &str) -> Option<State> {
    let comparison = job.comparisons.iter().find(|c| c.name == group.name)?;
    let received = entries
        .iter()
        .find(|e| e.what == What::Set && e.file == comparison.measured.file)?;
    if received.day.as_str() > day {
        return None;
    }
    Some(State {
        name: comparison.name.clone(),
        day: format!("received {}", received.day),
        operation: String::new(),
        part: format!("00-{}", say::file_part(&comparison.name)),
        results: job.results(&comparison.name),
        record: record_of(job, &comparison.name).ok()?,
    })
}

/// Before and after, from the side on which most has changed; else why not.
fn pair(before: &State, after: &State) -> Result<Result<Picture, String>, Trouble> {
    let mut best: Option<(usize, View, [Again; 2])> = None;
    for view in View::all() {
        if !(before.has(&view) && after.has(&view)) {
            continue;
        }
        let (was, is) = match (before.map(&view), after.map(&view)) {
            (Ok(was), Ok(is)) => (was, is),
            (Err(trouble), _) | (_, Err(trouble)) => return Ok(Err(trouble.to_string())),
        };
        if !was.same_sight(&is) {
            return Ok(Err("their pictures show another piece".to_string()));
        }
        let differing = was.differing(&is);
        if best.as_ref().is_none_or(|(most, ..)| differing > *most) {
            best = Some((differing, view, [was, is]));
        }
    }
    let Some((_, view, [was, is])) = best else {
        return Ok(Err("no side is drawn of both".to_string()));
    };
    let between = done(after, "; between the two: ");
    let title = format!("{}: before and after", after.name);
    let subtitle = format!("seen {}, the side on which most has changed{between}", view.name);
    let titles =
        [("before", before), ("after", after)].map(|(word, state)| format!("{word}: {}", state.title()));
    let figures = became(&before.record, &after.record);
    let picture = PairPicture {
        heads: Heads {
            title: &title,
            subtitle: &subtitle,
            set_by: &format!(
                "both against {}, set by {}",
                after.record.reference.called(),
                after.record.setting.words
            ),
            footer: &footer(&[before, after]),
        },
        sides: [
            Side {
                title: &titles[0],
                picture: &was,
            },
            Side {
                title: &titles[1],
                picture: &is,
            },
        ],
        figures: &figures,
    };
    let png = picture.png().map_err(|e| Trouble::system("drawing", &e))?;
    Ok(Ok(Picture {
        file: format!("before-after-{}.png", after.part),
        caption: format!(
            "Before and after {}{}, seen {}, with every region's figure.",
            after.name,
            done(after, ", done between: "),
            view.name
        ),
        png,
    }))
}

/// Every view of which there is more than one picture, up to what a page holds.
fn leafed(states: &[State]) -> Result<Vec<(&'static str, Vec<Picture>)>, Trouble> {
    let most = (MOST_LEAVES / states.len().max(1)).max(1);
    let mut views = Vec::new();
    for view in View::all() {
        let having: Vec<&State> = states.iter().filter(|state| state.has(&view)).collect();
        if having.len() < 2 || views.len() == most {
            continue;
        }
        let count = having.len();
        let leaves: Vec<Result<Option<Picture>, Trouble>> = having
            .par_iter()
            .enumerate()
            .map(|(k, state)| leaf(state, &view, [k + 1, count]))
            .collect();
        let leaves: Vec<Option<Picture>> = leaves.into_iter().collect::<Result<_, _>>()?;
        views.push((view.name, leaves.into_iter().flatten().collect()));
    }
    Ok(views)
}

/// One state from a view, the `k`-th of so many; nothing where its picture is lost, which was told with its pair.
fn leaf(state: &State, view: &View, [k, count]: [usize; 2]) -> Result<Option<Picture>, Trouble> {
    let Ok(map) = state.map(view) else {
        return Ok(None);
    };
    let title = state.title();
    let heads = Heads {
        title: &title,
        subtitle: &format!(
            "{k} of {count}, seen {}{}",
            view.name,
            done(state, "; done before: ")
        ),
        set_by: &format!(
            "against {}, set by {}",
            state.record.reference.called(),
            state.record.setting.words
        ),
        footer: &footer(&[state]),
    };
    let png = map.under(&heads).map_err(|e| Trouble::system("drawing", &e))?;
    let picture = Picture {
        file: format!("leaf-{}-{}.png", view.short, state.part),
        caption: format!("{title}. Seen {}.", view.name),
        png,
    };
    let small = html::for_page(&picture).map_err(|e| Trouble::system("drawing", &e))?;
    Ok(Some(small))
}

/// What was done to the part since the one before, after some words, or nothing.
fn done(state: &State, words: &str) -> String {
    if state.operation.is_empty() {
        return String::new();
    }
    format!("{words}{}", state.operation)
}

fn footer(states: &[&State]) -> String {
    let measured: Vec<&str> = states
        .iter()
        .map(|state| crate::received::short(&state.record.measured.sha256))
        .collect();
    let reference = states.first().map_or("", |s| s.record.reference.sha256.as_str());
    format!(
        "Positions only; figures hold to their ±. {PROGRAM} · reference {} · measured {}",
        crate::received::short(reference),
        measured.join(", ")
    )
}
