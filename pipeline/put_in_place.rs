//! A folder of results that appears whole or not at all, and replaces an older one only when it is complete. The only
//! file with a call of one system.

use std::fs;
use std::path::{Path, PathBuf};
use std::time::Duration;

use crate::trouble::Trouble;

/// By this file, and by the list in it, a folder is known to hold results of ours and nothing else.
pub const MARK: &str = "result.json";

/// A folder under construction beside the place where it will stand; dropped before it is put there, it is removed.
pub struct Building {
    place: PathBuf,
    under_way: UnderWay,
}

impl Building {
    /// Begins a folder that will stand at `place`.
    ///
    /// # Errors
    /// Where the place holds something else than earlier results, or can't be written beside.
    pub fn begin(place: &Path) -> Result<Self, Trouble> {
        recover(place).map_err(|e| Trouble::writing(place, &e))?;
        if place.exists()
            && let Some(found) = not_ours(place)
        {
            return Err(Trouble::new(format!(
                "{}: it is there already and holds {found}, which is no result of witnessmark; name another folder",
                place.display()
            )));
        }
        Ok(Self {
            place: place.to_path_buf(),
            under_way: UnderWay::beside(place)?,
        })
    }

    /// Where to write.
    pub fn path(&self) -> &Path {
        self.under_way.path()
    }

    /// Puts the finished folder in its place. At every moment the place holds the old results or the new.
    ///
    /// # Errors
    /// What the system said; the old results are then still there.
    pub fn finish(self) -> Result<(), Trouble> {
        let place = self.place.clone();
        let trouble = |e: std::io::Error| Trouble::writing(&place, &e);
        open_to_others(self.under_way.path()).map_err(trouble)?;
        if self.place.exists() {
            if exchange(self.under_way.path(), &self.place).is_ok() {
                // What is under way now is the old folder; dropping it removes it.
                return Ok(());
            }
            let aside = aside(&self.place);
            fs::rename(&self.place, &aside).map_err(trouble)?;
            if let Err(e) = fs::rename(self.under_way.path(), &self.place) {
                fs::rename(&aside, &self.place).map_err(trouble)?;
                return Err(trouble(e));
            }
            let _ = fs::remove_dir_all(&aside);
        } else {
            fs::rename(self.under_way.path(), &self.place).map_err(trouble)?;
        }
        // The folder now stands under its own name; nothing is left to remove.
        self.under_way.keep();
        Ok(())
    }
}

/// A folder under construction that will stand where nothing stands yet; dropped before it is put there, it is removed.
pub struct Fresh {
    place: PathBuf,
    under_way: UnderWay,
}

impl Fresh {
    /// Begins a folder that will stand at `place`.
    ///
    /// # Errors
    /// Where something is there, or nothing can be written beside it.
    pub fn begin(place: &Path) -> Result<Self, Trouble> {
        refuse_taken(place)?;
        Ok(Self {
            place: place.to_path_buf(),
            under_way: UnderWay::beside(place)?,
        })
    }

    /// Where to write.
    pub fn path(&self) -> &Path {
        self.under_way.path()
    }

    /// Puts the finished folder in its place.
    ///
    /// # Errors
    /// Where something has come there meanwhile, or what the system said.
    pub fn finish(self) -> Result<(), Trouble> {
        refuse_taken(&self.place)?;
        let trouble = |e: std::io::Error| Trouble::writing(&self.place, &e);
        open_to_others(self.under_way.path()).map_err(trouble)?;
        fs::rename(self.under_way.path(), &self.place).map_err(trouble)?;
        // The folder now stands under its own name; nothing is left to remove.
        self.under_way.keep();
        Ok(())
    }
}

/// A folder beside a place, under a name of its own; dropped, it is removed.
struct UnderWay {
    folder: tempfile::TempDir,
    /// As the place was named, so that messages are as well.
    path: PathBuf,
    /// Held until the folder is in its place, or removed.
    _mine: Mine,
}

impl UnderWay {
    fn beside(place: &Path) -> Result<Self, Trouble> {
        let above = above(place);
        fs::create_dir_all(above).map_err(|e| Trouble::writing(place, &e))?;
        clear_stale(above, place);
        let folder = tempfile::Builder::new()
            .prefix(&unfinished(place))
            .tempdir_in(above)
            .map_err(|e| Trouble::writing(place, &e))?;
        let named = folder.path().file_name().map(Path::new);
        let path = match named {
            Some(name) if above == Path::new(".") => name.to_path_buf(),
            Some(name) => above.join(name),
            None => folder.path().to_path_buf(),
        };
        Ok(Self {
            _mine: Mine::mark(folder.path()),
            folder,
            path,
        })
    }

    fn path(&self) -> &Path {
        &self.path
    }

    /// It was put in its place.
    fn keep(self) {
        let _ = self.folder.keep();
    }
}

/// Trouble with what was written for a place, told of the place: nobody is to look for a folder that is gone again.
pub fn told_of(place: &Path, trouble: &Trouble) -> Trouble {
    let words = trouble.to_string();
    let hidden = unfinished(place);
    let mut parts = words.split(&hidden);
    let mut told = parts.next().unwrap_or_default().to_string();
    for part in parts {
        // What is left of its name was drawn by chance.
        told.push_str(&name_of(place));
        told.push_str(part.trim_start_matches(char::is_alphanumeric));
    }
    Trouble::new(told)
}

fn refuse_taken(place: &Path) -> Result<(), Trouble> {
    if place.symlink_metadata().is_err() {
        return Ok(());
    }
    Err(Trouble::new(format!(
        "{}: it is there already, and nothing is written over; name another",
        place.display()
    )))
}

/// The folder above a place.
fn above(place: &Path) -> &Path {
    match place.parent() {
        Some(above) if !above.as_os_str().is_empty() => above,
        _ => Path::new("."),
    }
}

/// The first thing in a folder that is not on the list of its own result.json; nothing where it is empty or all ours.
fn not_ours(place: &Path) -> Option<String> {
    let Ok(entries) = fs::read_dir(place) else {
        return Some("a file".to_string());
    };
    let mut names: Vec<String> = entries
        .filter_map(|e| Some(e.ok()?.file_name().to_string_lossy().into_owned()))
        .collect();
    names.sort();
    let record: Option<serde_json::Value> = fs::read(place.join(MARK))
        .ok()
        .and_then(|bytes| serde_json::from_slice(&bytes).ok());
    let made_by_us = |r: &serde_json::Value| {
        r["program"]
            .as_str()
            .is_some_and(|p| p.starts_with("witnessmark "))
    };
    let ours: Vec<String> = record
        .filter(made_by_us)
        .and_then(|r| serde_json::from_value(r["files"].clone()).ok())
        .unwrap_or_default();
    names
        .into_iter()
        .find(|n| !ours.contains(n))
        .map(|n| format!("\"{n}\""))
}

/// How the name of a folder under construction begins.
fn unfinished(place: &Path) -> String {
    format!(".{}.unfinished-", name_of(place))
}

/// A folder under construction is known by a file beside it that its process holds locked: when the process ends, however
/// it ends, the system lets go, and the folder is nobody's.
struct Mine {
    file: Option<fs::File>,
    path: PathBuf,
}

/// What the name of the file ends in, after the folder's.
const HELD: &str = ".held";

impl Mine {
    /// Marks a folder. Where the disk can't lock, age alone tells.
    fn mark(folder: &Path) -> Self {
        let path = held(folder);
        let file = fs::File::create(&path).ok();
        Self {
            file: file.filter(|file| file.try_lock().is_ok()),
            path,
        }
    }

    /// Whether nobody holds a folder.
    fn is_nobodys(folder: &Path, age: Option<Duration>) -> bool {
        match fs::File::open(held(folder)) {
            Ok(file) => file.try_lock().is_ok(),
            // It is about to be marked or was just put in its place, or the disk can't lock.
            Err(_) => age.is_some_and(|age| age > STALE),
        }
    }
}

impl Drop for Mine {
    fn drop(&mut self) {
        // Some systems don't remove what is open.
        self.file = None;
        let _ = fs::remove_file(&self.path);
    }
}

fn held(folder: &Path) -> PathBuf {
    let mut path = folder.as_os_str().to_owned();
    path.push(HELD);
    PathBuf::from(path)
}

/// A folder without a mark that nobody has written to for a day is nobody's.
const STALE: Duration = Duration::from_secs(24 * 60 * 60);

/// Removes what killed runs left beside the place. What can't be removed stays; it is in nobody's way.
fn clear_stale(above: &Path, place: &Path) {
    let Ok(entries) = fs::read_dir(above) else { return };
    for entry in entries.flatten() {
        let name = entry.file_name().to_string_lossy().into_owned();
        if !name.starts_with(&unfinished(place)) {
            continue;
        }
        let age = entry
            .metadata()
            .and_then(|m| m.modified())
            .ok()
            .and_then(|m| m.elapsed().ok());
        let folder = entry.path().with_file_name(name.trim_end_matches(HELD));
        if Mine::is_nobodys(&folder, age) {
            let _ = fs::remove_dir_all(&folder);
            let _ = fs::remove_file(held(&folder));
        }
    }
}

fn name_of(place: &Path) -> String {
    place
        .file_name()
        .map_or_else(|| "results".to_string(), |n| n.to_string_lossy().into_owned())
}

/// Where an old folder waits while the new one is put in its place, on systems that can't exchange two folders.
fn aside(place: &Path) -> PathBuf {
    place.with_file_name(format!(".{}.before", name_of(place)))
}

/// Brings an old folder back that was left aside when the power went.
fn recover(place: &Path) -> std::io::Result<()> {
    let aside = aside(place);
    if aside.exists() {
        if place.exists() {
            fs::remove_dir_all(&aside)?;
        } else {
            fs::rename(&aside, place)?;
        }
    }
    Ok(())
}

#[cfg(target_os = "linux")]
fn exchange(a: &Path, b: &Path) -> std::io::Result<()> {
    use rustix::fs::{CWD, RenameFlags, renameat_with};
    renameat_with(CWD, a, CWD, b, RenameFlags::EXCHANGE).map_err(Into::into)
}

#[cfg(not(target_os = "linux"))]
fn exchange(_: &Path, _: &Path) -> std::io::Result<()> {
    Err(std::io::ErrorKind::Unsupported.into())
}

/// A temporary folder is closed to everybody else; results are not.
#[cfg(unix)]
fn open_to_others(folder: &Path) -> std::io::Result<()> {
    use std::os::unix::fs::PermissionsExt;
    fs::set_permissions(folder, fs::Permissions::from_mode(0o755))
}

#[cfg(not(unix))]
fn open_to_others(_: &Path) -> std::io::Result<()> {
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn trouble_is_told_of_the_place() {
        let folder = tempfile::tempdir().unwrap();
        let place = folder.path().join("look 1");
        let building = Building::begin(&place).unwrap();
        let inside = building.path().join("heat-plan.png");
        let trouble = Trouble::writing(&inside, &std::io::ErrorKind::StorageFull.into());
        let told = told_of(&place, &trouble).to_string();
        let expected = format!("{}: the disk is full", place.join("heat-plan.png").display());
        assert!(told.starts_with(&expected), "{told}");
        let other = Trouble::new("sets/a.ply: it is empty");
        assert_eq!(told_of(&place, &other), other);
    }
}
