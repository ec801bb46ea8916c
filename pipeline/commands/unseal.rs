//! `unseal`: brings a sealed job back as a folder to work in.

use std::path::Path;

use archive::bag::{Checked, FaultKind, check};
use archive::log::What;
use archive::name::shown;
use archive::packed::{Limits, Packed, unpack};
use archive::tree::Tree;

use crate::commands::recheck::say;
use crate::progress::Progress;
use crate::put_in_place::{Fresh, told_of};
use crate::received::Received;
use crate::sealed::{self, Payload};
use crate::trouble::{DONE, NOT_ALL_WITHIN, Trouble};

/// Brings a job back, once every file of the bag is found whole; `damaged` brings back what is whole of one that is not.
pub fn unseal(bag: &Path, out: &Path, damaged: bool, progress: &Progress) -> Result<u8, Trouble> {
    let fresh = Fresh::begin(out)?;
    let tree = opened(bag, damaged, progress)?;
    let step = progress.step("unseal");
    step.doing("checking every file");
    let checked = check(tree.as_ref())?;
    drop(step);
    if !checked.faults.is_empty() {
        say(bag, &checked, progress);
        if !damaged {
            return Err(Trouble::new(format!(
                "{}: it is not what was sealed, and nothing was brought back; --damaged brings back the files that are whole",
                bag.display()
            )));
        }
    }
    let payload = Payload::of(tree.as_ref(), &checked);
    let count = payload.entries().len();
    // Noted before it is put in place: a job that was brought back says so from the first.
    let brought_back = || -> Result<(), Trouble> {
        unpack(&payload, fresh.path())?;
        let name = bag
            .file_name()
            .map_or_else(String::new, |n| n.to_string_lossy().into_owned());
        Received::of(fresh.path())?.note(What::Unsealed, format!("from {name}"), None)
    };
    brought_back().map_err(|trouble| told_of(out, &trouble))?;
    fresh.finish()?;
    progress.result(&format!("{}: {count} files brought back", out.display()));
    for words in not_as_sealed(&checked) {
        progress.result(&format!("  {words}"));
    }
    Ok(if checked.faults.is_empty() {
        DONE
    } else {
        NOT_ALL_WITHIN
    })
}

/// The bag; with `damaged` what is whole of one file that was cut short.
fn opened(bag: &Path, damaged: bool, progress: &Progress) -> Result<Box<dyn Tree>, Trouble> {
    let trouble = match sealed::open(bag) {
        Ok(tree) => return Ok(tree),
        Err(trouble) => trouble,
    };
    let Ok(salvaged) = Packed::salvaged(bag, &Limits::default()) else {
        return Err(trouble);
    };
    let count = salvaged.packed.entries().len();
    if !damaged {
        return Err(Trouble::new(format!(
            "{trouble}; {count} files in it are whole: --damaged brings them back"
        )));
    }
    let broken: Vec<String> = salvaged.broken.iter().map(|path| shown(path)).collect();
    let broken = match broken.as_slice() {
        [] => String::new(),
        some => format!("; {} is not", some.join(", ")),
    };
    progress.warning(&format!(
        "{}: it was cut short; {count} files at its beginning are whole by the check sum (CRC-32) beside each{broken}, and what came after is lost",
        bag.display()
    ));
    Ok(Box::new(salvaged.packed))
}

/// What was not brought back, or not under the name that it has in the bag, file by file.
fn not_as_sealed(checked: &Checked) -> Vec<String> {
    let of_payload = checked.faults.iter().filter(|f| f.path.starts_with("data/"));
    let left: Vec<String> = of_payload
        .filter(|f| f.kind != FaultKind::Renamed)
        .map(|f| format!("{} ({})", shown(below_payload(&f.path)), f.kind.word()))
        .collect();
    let left = (!left.is_empty()).then(|| format!("not brought back: {}", left.join(", ")));
    let named = checked.renamed.iter().map(|(now, sealed_as)| {
        let [now, sealed_as] = [now, sealed_as].map(|path| shown(below_payload(path)));
        format!("brought back under its own name: {sealed_as} (in the bag {now})")
    });
    left.into_iter().chain(named).collect()
}

fn below_payload(path: &str) -> &str {
    path.strip_prefix("data/").unwrap_or(path)
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeMap;
    use std::fs;

    use archive::bag;
    use archive::tree::Folder;

    use super::*;

    #[test]
    fn a_file_that_was_renamed_in_the_bag_comes_back_under_its_own_name() {
        let place = tempfile::tempdir().unwrap();
        let [job, sealed, back] = ["job", "bag", "back"].map(|name| place.path().join(name));
        for folder in [&job, &sealed, &back] {
            fs::create_dir(folder).unwrap();
        }
        for (name, words) in [("a.csv", "one"), ("b.csv", "two"), ("c.csv", "three")] {
            fs::write(job.join(name), words).unwrap();
        }
        bag::seal(&Folder::list(&job).unwrap(), &[], "witnessmark 0", &sealed).unwrap();
        fs::rename(sealed.join("data/a.csv"), sealed.join("data/z.csv")).unwrap();
        fs::write(sealed.join("data/b.csv"), "other").unwrap();
        let tree = Folder::list(&sealed).unwrap();
        let checked = check(&tree).unwrap();
        let payload = Payload::of(&tree, &checked);
        unpack(&payload, &back).unwrap();
        let files: BTreeMap<String, String> = ["a.csv", "c.csv"]
            .map(|name| (name.to_string(), fs::read_to_string(back.join(name)).unwrap()))
            .into();
        assert_eq!(
            (files["a.csv"].as_str(), files["c.csv"].as_str()),
            ("one", "three")
        );
        assert_eq!(fs::read_dir(&back).unwrap().count(), 2);
        assert_eq!(
            not_as_sealed(&checked),
            [
                "not brought back: b.csv (altered)",
                "brought back under its own name: a.csv (in the bag z.csv)"
            ]
        );
    }
}
