//! What a job's page shows of its trips: what has stepped, the pictures, and the metal to leaf through.

use ::page::Picture;
use ::page::html::{self, Leaves};

use crate::job::Job;
use crate::progress::Progress;
use crate::received::Received;
use crate::trips::{groups, shown};
use crate::trouble::Trouble;

/// The trips of a job as its page shows them.
pub struct OverTrips {
    /// What has stepped, one line a figure.
    pub lines: Vec<String>,
    /// Figures over the trips, and the metal before and after each.
    pub pictures: Vec<Picture>,
    /// From where the metal is seen, and its pictures, oldest first.
    views: Vec<(&'static str, Vec<Picture>)>,
}

impl OverTrips {
    /// The trips of a job; `None` where it has none, or none of them has anything to show yet, which is told.
    ///
    /// # Errors
    /// Where a picture can't be made.
    pub fn of(job: &Job, received: &Received, progress: &Progress) -> Result<Option<Self>, Trouble> {
        let mut warn = |words: String| progress.warning(&words);
        if job.trips.is_empty() {
            return Ok(None);
        }
        let groups = match groups(job, &received.entries, &mut warn) {
            Ok(groups) => groups,
            Err(trouble) => {
                warn(format!("the page shows no trips: {trouble}"));
                return Ok(None);
            }
        };
        let mut over = Self {
            lines: Vec::new(),
            pictures: Vec::new(),
            views: Vec::new(),
        };
        for group in &groups {
            let told = group.rows.iter().filter(|row| !row.steps.is_empty());
            over.lines
                .extend(told.map(|row| format!("{}: {}", row.series.what, row.words)));
            for (file, png) in shown::pictures(group, &job.name)? {
                let caption = format!("Figures over {} trips, like {}.", group.trips.len(), group.name);
                over.pictures.push(for_page(&Picture { caption, file, png })?);
            }
            let metal = shown::metal::metal(job, group, &received.entries, &mut warn)?;
            for pair in &metal.pairs {
                over.pictures.push(for_page(pair)?);
            }
            over.views.extend(metal.views);
        }
        if over.lines.is_empty() {
            over.lines.push("nothing has stepped".to_string());
        }
        Ok(Some(over))
    }

    /// The views to leaf through.
    pub fn leaves(&self) -> impl Iterator<Item = Leaves<'_>> {
        self.views
            .iter()
            .map(|(name, pictures)| Leaves { name, pictures })
    }
}

fn for_page(picture: &Picture) -> Result<Picture, Trouble> {
    html::for_page(picture).map_err(|e| Trouble::system("making the page", &e))
}
