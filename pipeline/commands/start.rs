//! `start`: a new job folder with a commented job file.

use std::fs;
use std::path::Path;

use crate::progress::Progress;
use crate::stages::tabulate::save;
use crate::trouble::{DONE, Trouble};

/// Makes the folder; nothing that is there is touched.
pub fn start(folder: &Path, progress: &Progress) -> Result<u8, Trouble> {
    let job = folder.join("job.toml");
    if job.exists() {
        return Err(Trouble::new(format!(
            "{}: there is a job already; edit it, or name another folder",
            job.display()
        )));
    }
    fs::create_dir_all(folder.join("sets")).map_err(|e| Trouble::writing(folder, &e))?;
    save(&job, TEMPLATE.as_bytes())?;
    progress.result(&format!(
        "{}: put your sets into {}, then say in job.toml what they are",
        job.display(),
        folder.join("sets").display()
    ));
    Ok(DONE)
}

const TEMPLATE: &str = include_str!("start.toml");
