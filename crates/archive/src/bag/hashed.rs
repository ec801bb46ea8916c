//! The values of many files at once, on as many threads as the machine has.

use std::collections::BTreeMap;
use std::num::NonZero;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::thread;

use crate::ArchiveError;
use crate::fingerprint::Algorithm;
use crate::tree::Tree;

/// Fewer bytes than this are hashed before other threads have started.
const WORTH_THREADS: u64 = 1 << 20;

/// Values in lower-case hexadecimal, by path and hash.
pub type Values<'a> = BTreeMap<(&'a str, Algorithm), Result<String, ArchiveError>>;

/// The values of files of a tree. `bytes` is how much there is to read in all, to tell whether threads are worth it.
pub fn values<'a>(tree: &dyn Tree, wanted: &[(&'a str, Algorithm)], bytes: u64) -> Values<'a> {
    let next = AtomicUsize::new(0);
    let work = || {
        let mut done = Vec::new();
        while let Some(&(path, algorithm)) = wanted.get(next.fetch_add(1, Ordering::Relaxed)) {
            done.push(((path, algorithm), value(tree, path, algorithm)));
        }
        done
    };
    let threads = if bytes < WORTH_THREADS {
        1
    } else {
        thread::available_parallelism()
            .map_or(1, NonZero::get)
            .min(wanted.len())
    };
    if threads <= 1 {
        return work().into_iter().collect();
    }
    thread::scope(|scope| {
        let mut workers = Vec::new();
        for _ in 0..threads {
            workers.push(scope.spawn(work));
        }
        // What a thread that broke off had in hand is lacking, and is told as not read.
        workers
            .into_iter()
            .flat_map(|worker| worker.join().unwrap_or_default())
            .collect()
    })
}

fn value(tree: &dyn Tree, path: &str, algorithm: Algorithm) -> Result<String, ArchiveError> {
    let mut from = tree.open(path)?;
    let (value, _) = algorithm
        .of(&mut *from)
        .map_err(|e| ArchiveError::reading(&tree.place().join(path), &e))?;
    Ok(value)
}

#[cfg(test)]
mod tests {
    use super::super::made::MemoryTree;
    use super::*;

    #[test]
    fn threads_change_no_value() {
        let files = (0..50_u8).map(|n| (format!("data/{n}"), vec![n; usize::from(n) * 100]));
        let tree = MemoryTree::of(files.collect());
        let wanted: Vec<(&str, Algorithm)> = tree
            .entries()
            .iter()
            .flat_map(|e| Algorithm::ALL.map(|a| (e.path.as_str(), a)))
            .collect();
        let one = values(&tree, &wanted, 0);
        assert_eq!(one.len(), 200);
        assert_eq!(one, values(&tree, &wanted, u64::MAX));
        assert_eq!(
            one[&("data/0", Algorithm::Md5)].as_deref(),
            Ok("d41d8cd98f00b204e9800998ecf8427e")
        );
    }
}
