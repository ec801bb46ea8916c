//! `join`: several takes of one thing, each in a frame of its own, joined into one set.

mod points;
mod record;
mod told;
mod units;

use std::fs::{self, File};
use std::io::{BufWriter, Read, Write};
use std::path::{Path, PathBuf};

use ::register::takes::{self, Joined};
use archive::Fingerprint;
use cloud::{Point, Scan, Surface, Unit, Vector, Warning};
use tempfile::TempDir;

use crate::cli::Join;
use crate::job::Set;
use crate::progress::Progress;
use crate::stages::load;
use crate::stages::scale::{Known, to_mm};
use crate::stages::tabulate::save;
use crate::trouble::{DONE, Trouble};
use record::{Record, SetRecord, name_of};

/// Joins the takes into one set, with a record beside it.
pub fn join(asked: Join, progress: &Progress) -> Result<u8, Trouble> {
    // Begun first, so that a place that can't be written to is known before an hour's work.
    let place = Place::begin(&asked)?;
    let step = progress.step("join");
    let mut warnings = Vec::new();
    let mut known = Vec::new();
    let mut surfaces = Vec::new();
    for path in &asked.takes {
        step.doing(&format!("preparing {}", path.display()));
        let (file, surface) = ready(path, asked.units, &mut warnings)?;
        known.push(file);
        surfaces.push(surface);
    }
    refuse_twice(&known)?;
    let table = asked.points.as_deref();
    let named = table
        .map(|path| points::read(path, &asked.takes, &known))
        .transpose()?;
    let files: Vec<&str> = known.iter().map(|file| file.file.as_str()).collect();
    units::look_at(&files, &surfaces, named.is_some(), &mut warnings)?;
    for warning in &warnings {
        progress.warning(&warning.words);
    }
    step.doing("joining");
    let of_takes = named.as_ref().map(|named| named.of_takes.as_slice());
    let joined = takes::join_with_points(&surfaces, asked.as_placed, of_takes.unwrap_or_default())
        .map_err(|why| told::not_joined(&asked, &why, &warnings))?;
    for warning in &joined.warnings {
        progress.warning(&format!("join: {}", warning.words));
    }
    warnings.extend(joined.warnings.iter().cloned());
    step.doing("writing");
    let (points, normals) = together(&surfaces, &joined);
    if normals.is_none() {
        let words = "not all takes say which side is out, so the joined set is written without normals";
        warnings.push(Warning::new("sides-unknown", words));
        progress.note(&format!("join: {words}"));
    }
    let comments = record::comments(&known, &surfaces, &joined);
    let set = place.write(&points, normals.as_deref(), &comments)?;
    let record = Record::of(set, &asked, &known, &surfaces, &joined, &warnings).with_points(named.as_ref());
    place.finish(&record)?;
    drop(step);
    progress.result(&record::table(&asked, &surfaces, &joined, points.len()));
    Ok(DONE)
}

/// Reads a take and makes it ready.
fn ready(
    path: &Path,
    unit: Option<Unit>,
    warnings: &mut Vec<Warning>,
) -> Result<(Known, Surface<Scan>), Trouble> {
    let set = Set::new(path.display().to_string(), path, unit);
    let in_mm = to_mm(&set, load::one(&set)?, warnings)?;
    let (surface, more) =
        Surface::new(in_mm.cloud, in_mm.viewpoint).map_err(|why| Trouble::no_surface(path, why))?;
    // The warnings of a surface don't know their file.
    warnings.extend(
        more.into_iter()
            .map(|w| Warning::new(w.code, format!("{}: {}", path.display(), w.words))),
    );
    Ok((in_mm.known, surface))
}

/// The same take twice would count its noise for agreement.
fn refuse_twice(known: &[Known]) -> Result<(), Trouble> {
    for (k, file) in known.iter().enumerate() {
        if let Some(same) = known[..k].iter().find(|f| f.print.sha256 == file.print.sha256) {
            return Err(Trouble::new(format!(
                "{}: holds the same bytes as {}; give each take once",
                file.file, same.file
            )));
        }
    }
    Ok(())
}

/// The points of all takes in the joined frame, take by take in the order of their files, and their normals where
/// every take says which side is out: a guessed side must not be taken for a known one later.
fn together(surfaces: &[Surface<Scan>], joined: &Joined) -> (Vec<Point>, Option<Vec<Vector>>) {
    let mut points = Vec::new();
    let mut normals = Vec::new();
    for (surface, joined_from_take) in surfaces.iter().zip(&joined.joined_from_take) {
        let mut order: Vec<u32> = (0..surface.cloud.len() as u32).collect();
        order.sort_by_key(|&i| surface.cloud.rows[i as usize]);
        let moved = surface.cloud.pick(&order).moved(joined_from_take);
        points.extend(moved.points_mm);
        normals.extend(moved.normals.unwrap_or_default());
    }
    let known = surfaces.iter().all(|s| s.sides_known) && normals.len() == points.len();
    (points, known.then_some(normals))
}

/// Where the joined set and its record go, and a folder beside in which they are made.
struct Place {
    set: PathBuf,
    record: PathBuf,
    under_way: TempDir,
}

impl Place {
    /// Makes sure that nothing of somebody else's is written over, and that the place can be written to.
    fn begin(asked: &Join) -> Result<Self, Trouble> {
        let set = asked.out.clone();
        if !set.extension().is_some_and(|e| e.eq_ignore_ascii_case("ply")) {
            return Err(Trouble::new(format!(
                "{}: the joined set is written as PLY; give it a name that ends with .ply",
                set.display()
            )));
        }
        let record = set.with_extension("json");
        let same = |a: &Path, b: &Path| match (a.canonicalize(), b.canonicalize()) {
            (Ok(a), Ok(b)) => a == b,
            _ => false,
        };
        if let Some(take) = asked.takes.iter().find(|take| same(take, &set)) {
            return Err(Trouble::new(format!(
                "{}: is one of the takes; name another file for the joined set",
                take.display()
            )));
        }
        let is_recorded = fs::read(&record).is_ok_and(|text| record::is_record_of_ours(&text));
        for (path, ours) in [(&set, joined_by_us(&set)), (&record, is_recorded)] {
            if path.exists() && !ours {
                return Err(Trouble::new(format!(
                    "{}: it is there already and is no set that was joined here; name another file with --out",
                    path.display()
                )));
            }
        }
        let above = match set.parent() {
            Some(above) if !above.as_os_str().is_empty() => above,
            _ => Path::new("."),
        };
        let under_way = fs::create_dir_all(above)
            .and_then(|()| {
                tempfile::Builder::new()
                    .prefix(".join.unfinished-")
                    .tempdir_in(above)
            })
            .map_err(|e| Trouble::writing(&set, &e))?;
        Ok(Self {
            set,
            record,
            under_way,
        })
    }

    /// Writes the joined set, still beside its place.
    fn write(
        &self,
        points: &[Point],
        normals: Option<&[Vector]>,
        comments: &[String],
    ) -> Result<SetRecord, Trouble> {
        let path = self.made("ply");
        let write = || -> std::io::Result<()> {
            let mut out = BufWriter::with_capacity(1 << 20, File::create(&path)?);
            formats::ply::write(&mut out, points, normals, &[], &[], comments)?;
            out.flush()?;
            out.get_ref().sync_all()
        };
        write().map_err(|e| Trouble::writing(&self.set, &e))?;
        Ok(SetRecord {
            file: name_of(&self.set),
            sha256: Fingerprint::of(&path)?.sha256,
            points: points.len(),
            unit: Unit::Millimetre.symbol(),
            normals: normals.is_some(),
        })
    }

    /// Writes the record and puts both in their places; each of the two is at every moment the old one or the new one
    /// whole.
    fn finish(self, record: &Record) -> Result<(), Trouble> {
        let mut json =
            serde_json::to_vec_pretty(record).map_err(|e| Trouble::system("writing the record", &e))?;
        json.push(b'\n');
        save(&self.made("json"), &json)?;
        for (from, to) in [("ply", &self.set), ("json", &self.record)] {
            fs::rename(self.made(from), to).map_err(|e| Trouble::writing(to, &e))?;
        }
        Ok(())
    }

    fn made(&self, ending: &str) -> PathBuf {
        self.under_way.path().join("joined").with_extension(ending)
    }
}

/// Whether the file is a set that was joined by us.
fn joined_by_us(path: &Path) -> bool {
    let mut start = Vec::new();
    let read = File::open(path).and_then(|file| file.take(512).read_to_end(&mut start));
    read.is_ok() && record::is_head_of_ours(&start)
}
