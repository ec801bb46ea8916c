//! Files that a job names lie in its folder: only so is the folder the whole job, to be copied, sealed and brought back.

use std::ops::Range;
use std::path::{Path, PathBuf};

use super::file::Faults;

/// The path of a file that the job names under `what`; faults are noted, and the path is given all the same.
pub fn file_of(
    folder: &Path,
    file: &str,
    what: &str,
    span: &Range<usize>,
    faults: &mut Faults<'_>,
) -> PathBuf {
    let path = folder.join(file);
    if let Err(words) = archive::name::check_path(file) {
        faults.add(
            span,
            format!(
                "{what}: the name \"{file}\" {words}; a job holds its files in its own folder: take it in with witnessmark take"
            ),
        );
    } else if !path.is_file() {
        let words = format!("{what}: there is no file \"{}\"", path.display());
        faults.lost(span, &path, words);
    } else if leads_out(folder, &path) {
        faults.add(
            span,
            format!(
                "{what}: \"{file}\" is a link that leads out of the job's folder; put the file itself there"
            ),
        );
    }
    path
}

fn leads_out(folder: &Path, path: &Path) -> bool {
    let (Ok(folder), Ok(path)) = (folder.canonicalize(), path.canonicalize()) else {
        return true;
    };
    !path.starts_with(folder)
}
