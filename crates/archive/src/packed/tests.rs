//! What is packed comes out as it went in, and what was made to do harm, cut or damaged does none.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::io::{Cursor, Write};

use zip::ZipWriter;
use zip::write::SimpleFileOptions;

use super::pack::pack_within;
use super::*;
use crate::name;
use crate::tree::Folder;

/// Files in memory.
struct Files {
    entries: Vec<Entry>,
    bytes: BTreeMap<String, Vec<u8>>,
}

impl Files {
    fn new(files: &[(&str, &[u8])]) -> Self {
        let bytes: BTreeMap<String, Vec<u8>> = files
            .iter()
            .map(|(path, bytes)| (path.to_string(), bytes.to_vec()))
            .collect();
        let entries = bytes
            .iter()
            .map(|(path, bytes)| Entry {
                path: path.clone(),
                bytes: bytes.len() as u64,
            })
            .collect();
        Self { entries, bytes }
    }
}

impl Tree for Files {
    fn entries(&self) -> &[Entry] {
        &self.entries
    }

    fn open(&self, path: &str) -> Result<Box<dyn Read + '_>, ArchiveError> {
        Ok(Box::new(self.bytes[path].as_slice()))
    }

    fn place(&self) -> &Path {
        Path::new("memory")
    }
}

fn contents(tree: &dyn Tree) -> io::Result<BTreeMap<String, Vec<u8>>> {
    let mut found = BTreeMap::new();
    for entry in tree.entries() {
        let mut bytes = Vec::new();
        let mut from = tree.open(&entry.path).map_err(io::Error::other)?;
        let read = from.read_to_end(&mut bytes);
        assert!(bytes.len() as u64 <= entry.bytes, "{}", entry.path);
        read?;
        found.insert(entry.path.clone(), bytes);
    }
    Ok(found)
}

/// A zip file of these names, whatever they are; those that end with `/` are folders.
fn zipped(files: &[(&str, &[u8])]) -> Vec<u8> {
    let mut writer = ZipWriter::new(Cursor::new(Vec::new()));
    for (path, bytes) in files {
        let options = SimpleFileOptions::default().unix_permissions(0o644);
        if path.ends_with('/') {
            writer.add_directory(*path, options).unwrap();
        } else {
            writer.start_file(*path, options).unwrap();
            writer.write_all(bytes).unwrap();
        }
    }
    writer.finish().unwrap().into_inner()
}

/// A folder for one packed file at a time.
struct Shelf(tempfile::TempDir);

impl Shelf {
    fn new() -> Self {
        Self(tempfile::tempdir().unwrap())
    }

    fn open(&self, bytes: &[u8], limits: &Limits) -> Result<Packed, ArchiveError> {
        let path = self.0.path().join("packed.zip");
        fs::write(&path, bytes).unwrap();
        Packed::open(&path, limits)
    }
}

/// Changes bytes of the only entry: in its own head, and in the directory, where the same stands two bytes further on.
fn patched(mut bytes: Vec<u8>, at: usize, new: &[u8]) -> Vec<u8> {
    let directory = bytes.windows(4).position(|w| w == b"PK\x01\x02").unwrap();
    for begins in [at, directory + at + 2] {
        bytes[begins..begins + new.len()].copy_from_slice(new);
    }
    bytes
}

fn wavy(count: u32) -> Vec<u8> {
    (0..count).map(|i| (i.wrapping_mul(i) >> 9) as u8).collect()
}

#[test]
fn what_is_packed_comes_out_as_it_went_in_and_packs_to_the_same_bytes() {
    let floor = wavy(300_000);
    let files = Files::new(&[
        ("bagit.txt", b"BagIt-Version: 1.0\n"),
        ("data/empty", b""),
        ("data/sets/floor.ply", &floor),
        ("data/sets/T\u{fc}r.ply", b"ply"),
    ]);
    let folder = tempfile::tempdir().unwrap();
    let (first, second) = (folder.path().join("a.zip"), folder.path().join("b.zip"));
    pack(&files, "job", &first).unwrap();
    pack(&files, "job", &second).unwrap();
    assert_eq!(fs::read(&first).unwrap(), fs::read(&second).unwrap());
    // Nothing is overwritten, and nothing else is left.
    let other = Files::new(&[("a", b"a")]);
    assert!(pack(&other, "job", &first).unwrap_err().found.contains("already"));
    assert_eq!(fs::read(&first).unwrap(), fs::read(&second).unwrap());
    assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 2);

    let packed = Packed::open(&first, &Limits::default()).unwrap();
    assert_eq!(packed.top(), "job");
    assert_eq!(packed.entries(), files.entries());
    assert_eq!(contents(&packed).unwrap(), files.bytes);
    assert!(packed.open("data/none").is_err());

    let into = folder.path().join("out");
    assert!(unpack(&packed, &into).is_err());
    fs::create_dir(&into).unwrap();
    unpack(&packed, &into).unwrap();
    let out = Folder::list(&into).unwrap();
    assert_eq!(out.entries(), files.entries());
    assert_eq!(contents(&out).unwrap(), files.bytes);
    assert!(unpack(&packed, &into).unwrap_err().found.contains("not empty"));
}

#[test]
fn what_cannot_be_kept_everywhere_is_not_packed() {
    let folder = tempfile::tempdir().unwrap();
    let into = folder.path().join("a.zip");
    for path in ["../evil", "nul", "a:b", "a\\b"] {
        assert!(
            pack(&Files::new(&[(path, b"x")]), "job", &into).is_err(),
            "{path}"
        );
    }
    let fine = Files::new(&[("a", b"x")]);
    assert!(pack(&fine, "../job", &into).is_err());
    assert!(pack(&Files::new(&[]), "job", &into).is_err());
    assert!(pack(&Files::new(&[("a", b"x"), ("A", b"y")]), "job", &into).is_err());
    let mut short = Files::new(&[("a", b"x")]);
    short.entries[0].bytes = 2;
    let changed = pack(&short, "job", &into).unwrap_err();
    assert!(changed.found.contains("could not be read"), "{changed}");
    assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 0);
}

#[test]
fn what_packs_too_densely_is_laid_down_as_it_is() {
    let zeros = vec![0; 3 << 20];
    let limits = Limits {
        ratio: 10,
        ..Limits::default()
    };
    let shelf = Shelf::new();
    let dense = zipped(&[("job/zeros", &zeros), ("job/text", b"text")]);
    let refused = shelf.open(&dense, &limits).unwrap_err();
    assert!(refused.found.contains("would become 3145728 bytes"), "{refused}");
    let files = Files::new(&[("text", b"text"), ("zeros", &zeros)]);
    let into = shelf.0.path().join("packed by us.zip");
    pack_within(&files, "job", &into, &limits).unwrap();
    let packed = Packed::open(&into, &limits).unwrap();
    assert_eq!(contents(&packed).unwrap(), files.bytes);
}

#[test]
fn more_than_the_limits_is_refused() {
    let shelf = Shelf::new();
    let bytes = zipped(&[("job/a", &[1; 60]), ("job/b", &[2; 60])]);
    let within = |files, bytes| Limits {
        files,
        bytes,
        ratio: 1000,
    };
    assert!(shelf.open(&bytes, &within(2, 120)).is_ok());
    assert!(shelf.open(&bytes, &within(1, 120)).is_err());
    assert!(shelf.open(&bytes, &within(2, 119)).is_err());
}

#[test]
fn one_that_lies_about_its_size_is_stopped() {
    let shelf = Shelf::new();
    let honest = zipped(&[("job/a", &[0; 100_000])]);
    for (size, words) in [(10_u32, "more bytes"), (200_000, "fewer bytes")] {
        let lying = patched(honest.clone(), 22, &size.to_le_bytes());
        let packed = shelf.open(&lying, &Limits::default()).unwrap();
        assert_eq!(packed.entries()[0].bytes, u64::from(size));
        let stopped = contents(&packed).unwrap_err();
        assert!(stopped.to_string().contains(words), "{stopped}");
        let into = tempfile::tempdir().unwrap();
        assert!(unpack(&packed, into.path()).is_err());
        let written = fs::metadata(into.path().join("a")).unwrap().len();
        assert!(written <= u64::from(size));
    }
}

#[test]
fn names_that_lead_elsewhere_or_look_alike_are_refused() {
    let shelf = Shelf::new();
    let open = |files: &[(&str, &[u8])]| shelf.open(&zipped(files), &Limits::default());
    for name in [
        "../evil",
        "/evil",
        "\\evil",
        "C:/evil",
        "evil",
        "job\\evil",
        "job/../evil",
        "job//evil",
        "job/nul",
        "job/evil.",
        "job/a\0b",
        "../",
        "other/",
    ] {
        assert!(open(&[("job/a", b"a"), (name, b"")]).is_err(), "{name}");
    }
    for names in [
        ["job/a", "job/A"],
        ["job/a", "job/a/b"],
        ["job/a/b", "job/A/c"],
        ["job/a", "other/a"],
    ] {
        assert!(open(&names.map(|name| (name, &b"x"[..]))).is_err(), "{names:?}");
    }
    assert!(open(&[]).is_err());
    assert!(open(&[("job/", b"")]).is_err());
    let packed = open(&[("job/", b""), ("job/a", b"a"), ("job/empty/", b"")]).unwrap();
    assert_eq!(packed.entries().len(), 1);
    // The same name twice, which no honest writer writes.
    let mut twice = zipped(&[("job/a", b"a"), ("job/b", b"b")]);
    for begins in 0..twice.len() - 5 {
        if twice[begins..].starts_with(b"job/b") {
            twice[begins + 4] = b'a';
        }
    }
    assert!(shelf.open(&twice, &Limits::default()).is_err());
}

#[test]
fn links_passwords_and_other_ways_of_packing_are_refused() {
    let shelf = Shelf::new();
    let mut writer = ZipWriter::new(Cursor::new(Vec::new()));
    writer
        .add_symlink("job/a", "/etc/passwd", SimpleFileOptions::default())
        .unwrap();
    let link = writer.finish().unwrap().into_inner();
    let plain = zipped(&[("job/a", b"a")]);
    assert!(shelf.open(&plain, &Limits::default()).is_ok());
    let locked = patched(plain.clone(), 6, &[1]);
    let otherwise = patched(plain, 8, &[12]);
    for (bytes, words) in [
        (link, "a link or a device"),
        (locked, "locked by a password"),
        (otherwise, "packed in a way"),
    ] {
        let refused = shelf.open(&bytes, &Limits::default()).unwrap_err();
        assert!(refused.found.contains(words), "{refused}");
    }
}

#[test]
fn a_file_that_was_cut_is_refused() {
    let shelf = Shelf::new();
    let whole = zipped(&[("job/a", b"some bytes"), ("job/b", b"some more")]);
    for length in 0..whole.len() {
        assert!(
            shelf.open(&whole[..length], &Limits::default()).is_err(),
            "{length}"
        );
    }
}

#[test]
fn of_a_file_that_was_cut_what_is_whole_comes_out() {
    let shelf = Shelf::new();
    let floor = wavy(30_000);
    let (first, second): (&[u8], &[u8]) = (b"some bytes", b"some more");
    let whole = zipped(&[
        ("job/b", first),
        ("job/sets/floor.ply", &floor),
        ("job/a", second),
    ]);
    let salvaged = |length: usize| {
        let path = shelf.0.path().join("cut.zip");
        fs::write(&path, &whole[..length]).unwrap();
        Packed::salvaged(&path, &Limits::default())
    };
    let bytes_of = |salvaged: &Salvaged| contents(&salvaged.packed).unwrap();
    assert!(salvaged(whole.len()).unwrap_err().found.contains("not cut short"));
    let all = salvaged(whole.len() - 1).unwrap();
    assert!(all.broken.is_empty());
    assert_eq!(bytes_of(&all).len(), 3);
    assert_eq!(bytes_of(&all)["sets/floor.ply"], floor);
    let directory = whole.windows(4).position(|w| w == b"PK\x01\x02").unwrap();
    assert_eq!(bytes_of(&salvaged(directory).unwrap()).len(), 3);
    let cut = salvaged(directory / 2).unwrap();
    assert_eq!(cut.broken, ["sets/floor.ply"]);
    assert_eq!(
        bytes_of(&cut),
        BTreeMap::from([("b".to_string(), first.to_vec())])
    );
    let refused = salvaged(20).unwrap_err();
    assert!(refused.found.contains("nothing of it is whole"), "{refused}");
    let told = shelf
        .open(&whole[..directory / 2], &Limits::default())
        .unwrap_err();
    assert!(told.found.contains("cut short"), "{told}");
    let other = shelf
        .open(b"ply and so on, many bytes of it", &Limits::default())
        .unwrap_err();
    assert_eq!(other.found, "it is no zip file");
}

#[test]
fn one_flipped_bit_does_no_harm() {
    let shelf = Shelf::new();
    let whole = zipped(&[("job/a", b"some bytes, some bytes"), ("job/b", b"some more")]);
    let limits = Limits {
        bytes: 1000,
        ..Limits::default()
    };
    let before = contents(&shelf.open(&whole, &limits).unwrap()).unwrap();
    let mut outcomes = BTreeSet::new();
    let mut told = 0;
    for bit in 0..8 * whole.len() {
        let mut flipped = whole.clone();
        flipped[bit / 8] ^= 1 << (bit % 8);
        let Ok(packed) = shelf.open(&flipped, &limits) else {
            told += 1;
            continue;
        };
        let said: u64 = packed.entries().iter().map(|entry| entry.bytes).sum();
        assert!(said <= limits.bytes);
        for entry in packed.entries() {
            assert_eq!(name::check_path(&entry.path), Ok(()));
        }
        // That no more comes out than was said is looked at in `contents`.
        match contents(&packed) {
            Ok(after) => {
                outcomes.insert(after == before);
            }
            Err(_) => told += 1,
        }
    }
    // Most flips are told here; of the rest some change nothing that is read, and some change bytes, which a bag tells.
    assert!(told > 8 * whole.len() / 3, "{told}");
    assert!(outcomes.contains(&true));
}
