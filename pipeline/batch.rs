//! Runs the comparisons of a job unattended: what hasn't changed isn't done again, as many at once as cores and memory allow, and
//! each is told in its turn.

use std::sync::{Condvar, Mutex, mpsc};

use ::page::words;
use archive::Fingerprint;
use archive::log::{Entry, What};
use record::Record;

use crate::job::{Comparison, Job};
use crate::made_from::{MadeFrom, Prints, Stale, files_of, made_from, still_good};
use crate::progress::Progress;
use crate::put_in_place::{MARK, told_of};
use crate::received::{Received, of_now};
use crate::stages;
use crate::timings::Timings;
use crate::trouble::Trouble;

/// Memory that a comparison takes for each byte of its files, at most, from measurements.
const BYTES_PER_BYTE: u64 = 14;
/// Memory that a comparison takes besides: pictures, mostly.
const BYTES_BESIDES: u64 = 64 << 20;
/// Memory that is assumed where the system does not say.
const USUAL_MEMORY: u64 = 4 << 30;

/// A comparison of a batch.
pub struct Item<'a> {
    /// The comparison.
    pub comparison: &'a Comparison,
    /// What it is made from; or why that can't be told.
    pub made_from: Result<MadeFrom, Trouble>,
    /// Why it must be done; nothing where its results are still good.
    pub stale: Option<Stale>,
    /// Its results, where they are still good.
    pub good: Option<Record>,
}

/// What came of a comparison.
pub struct Done {
    /// What was found.
    pub record: Record,
    /// Where the time went; nothing where it was not done again.
    pub timings: Option<Timings>,
}

/// Looks at what there is to do. `again` takes nothing for good.
pub fn look<'a>(job: &Job, chosen: &[&'a Comparison], again: bool, received: &Received) -> Vec<Item<'a>> {
    let prints = Prints::default();
    chosen
        .iter()
        .map(|&comparison| {
            let made_from = job
                .refuse_lost(&files_of(comparison))
                .and_then(|()| made_from(comparison, &job.about, &job.folder, &prints))
                .and_then(|made_from| received.refuse_changed(&made_from.inputs).map(|()| made_from));
            let (stale, good) = match &made_from {
                Err(_) => (None, None),
                Ok(_) if again => (Some(Stale::Asked), None),
                Ok(made_from) => match still_good(made_from, &job.results(&comparison.name)) {
                    Ok(record) => (None, Some(record)),
                    Err(stale) => (Some(stale), None),
                },
            };
            Item {
                comparison,
                made_from,
                stale,
                good,
            }
        })
        .collect()
}

/// Does what there is to do, and tells what came of each item in the order of the items.
///
/// # Errors
/// Where the log of the job can't be written; what was done until then stands.
pub fn run(
    job: &Job,
    items: Vec<Item<'_>>,
    memory: Option<u64>,
    received: &mut Received,
    progress: &Progress,
    mut told: impl FnMut(&Comparison, &Result<Done, Trouble>),
) -> Result<(), Trouble> {
    for item in &items {
        if let Ok(made_from) = &item.made_from {
            received.note_new(&made_from.inputs)?;
        }
    }
    let budget = Budget::new(memory.unwrap_or_else(|| free_memory() / 2));
    let workers = rayon::current_num_threads().min(items.len()).max(1);
    let comparisons: Vec<&Comparison> = items.iter().map(|item| item.comparison).collect();
    let count = items.len();
    let waiting = Mutex::new(items.into_iter().enumerate());
    let (send, outcomes) = mpsc::channel();
    std::thread::scope(|scope| {
        for _ in 0..workers {
            let send = send.clone();
            let (waiting, budget) = (&waiting, &budget);
            scope.spawn(move || {
                loop {
                    let next = lock(waiting).next();
                    let Some((i, item)) = next else { break };
                    // Nobody listens any more where the log could not be written.
                    if send.send((i, one(job, item, budget, progress))).is_err() {
                        break;
                    }
                }
            });
        }
        drop(send);
        let mut early: Vec<Option<Result<Done, Trouble>>> = (0..count).map(|_| None).collect();
        let mut turn = 0;
        for (i, outcome) in outcomes {
            early[i] = Some(outcome);
            while let Some(outcome) = early.get_mut(turn).and_then(Option::take) {
                match &outcome {
                    Ok(done) => note_ran(job, comparisons[turn], done, received)?,
                    Err(trouble) => note_refused(comparisons[turn], trouble, received)?,
                }
                told(comparisons[turn], &outcome);
                turn += 1;
            }
        }
        Ok(())
    })
}

fn one(job: &Job, item: Item<'_>, budget: &Budget, progress: &Progress) -> Result<Done, Trouble> {
    let made_from = item.made_from?;
    if let Some(record) = item.good {
        return Ok(Done {
            record,
            timings: None,
        });
    }
    let bytes: u64 = made_from.inputs.iter().map(|input| input.bytes).sum();
    let _share = budget.share(bytes * BYTES_PER_BYTE + BYTES_BESIDES);
    let place = job.results(&item.comparison.name);
    let outcome = stages::run(item.comparison, made_from, &job.about, &place, progress)
        .map_err(|trouble| told_of(&place, &trouble))?;
    Ok(Done {
        record: outcome.record,
        timings: Some(outcome.timings),
    })
}

/// Puts results on record that are not there yet: those just made, and those of a run that was killed before it could.
fn note_ran(job: &Job, comparison: &Comparison, done: &Done, received: &mut Received) -> Result<(), Trouble> {
    let print = Fingerprint::of(&job.results(&comparison.name).join(MARK))?;
    let file = results_of(&comparison.name);
    let last = received
        .entries
        .iter()
        .rev()
        .find(|e| e.what == What::Ran && e.file == file);
    if last.is_some_and(|e| e.sha256 == print.sha256) {
        return Ok(());
    }
    let words = format!("{}: {}", comparison.name, words::verdict(&done.record));
    received.note(What::Ran, words, Some((&file, &print)))
}

/// Puts on record why a comparison could not be done, where that is not there yet.
fn note_refused(comparison: &Comparison, trouble: &Trouble, received: &mut Received) -> Result<(), Trouble> {
    let entry = Entry {
        words: format!("{}: could not be done: {trouble}", comparison.name).replace('\n', "; "),
        file: results_of(&comparison.name),
        ..of_now(What::Ran)
    };
    let last = received.entries.iter().rev().find(|e| e.file == entry.file);
    if last.is_some_and(|last| last.words == entry.words) {
        return Ok(());
    }
    received.add(entry)
}

/// The record of a comparison, from the job's folder, as the log names it.
pub fn results_of(comparison: &str) -> String {
    format!("results/{comparison}/{MARK}")
}

/// Memory that is shared out: who wants more than is left waits, unless nobody else has any.
struct Budget {
    most: u64,
    taken: Mutex<u64>,
    given_back: Condvar,
}

struct Share<'a> {
    budget: &'a Budget,
    bytes: u64,
}

impl Budget {
    fn new(most: u64) -> Self {
        Self {
            most,
            taken: Mutex::new(0),
            given_back: Condvar::new(),
        }
    }

    fn share(&self, bytes: u64) -> Share<'_> {
        let mut taken = lock(&self.taken);
        while *taken > 0 && *taken + bytes > self.most {
            taken = self.given_back.wait(taken).unwrap_or_else(|e| e.into_inner());
        }
        *taken += bytes;
        Share { budget: self, bytes }
    }
}

impl Drop for Share<'_> {
    fn drop(&mut self) {
        *lock(&self.budget.taken) -= self.bytes;
        self.budget.given_back.notify_all();
    }
}

fn lock<T>(mutex: &Mutex<T>) -> std::sync::MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(|e| e.into_inner())
}

/// Memory that is free, in bytes, where the system has the usual file for it.
fn free_memory() -> u64 {
    let free = std::fs::read_to_string("/proc/meminfo").ok().and_then(|text| {
        let line = text.lines().find(|l| l.starts_with("MemAvailable:"))?;
        line.split_whitespace().nth(1)?.parse::<u64>().ok()
    });
    free.map_or(USUAL_MEMORY, |kib| kib * 1024)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::atomic::{AtomicU64, Ordering};

    #[test]
    fn memory_is_never_given_out_twice() {
        let budget = Budget::new(100);
        let (now, most) = (AtomicU64::new(0), AtomicU64::new(0));
        std::thread::scope(|scope| {
            for i in 0..8u64 {
                let (budget, now, most) = (&budget, &now, &most);
                scope.spawn(move || {
                    let bytes = 20 + 5 * i;
                    let share = budget.share(bytes);
                    most.fetch_max(now.fetch_add(bytes, Ordering::SeqCst) + bytes, Ordering::SeqCst);
                    std::thread::sleep(std::time::Duration::from_millis(2));
                    now.fetch_sub(bytes, Ordering::SeqCst);
                    drop(share);
                });
            }
        });
        assert!(most.into_inner() <= 100);
        // One that is larger than all there is goes alone, and is not left waiting for ever.
        assert_eq!(budget.share(1000).bytes, 1000);
    }
}
