//! The largest set whose members all go together, two and two: branch and bound over a graph.
//!
//! Members are put into groups of which no two go together; a set takes at most one of each, which bounds what a branch can
//! still give (Tomita & Seki 2003, DMTCS 2003, LNCS 2731, 278-289). Sets are bits, so that a group is made by a few words.

/// Fewer than so many are not sought.
const LEAST: usize = 3;

/// What is thought of a set whose members all go together.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Judged {
    /// It can't be meant, nor can any larger set that holds it.
    Rejected,
    /// It tells nothing yet; a larger one may.
    Open,
    /// It is good; only sets of as many or more are sought from now on.
    Good,
}

/// Which members go together.
pub(super) struct Graph {
    /// The members from the one that goes with the fewest: the search begins at the other end.
    members: Vec<usize>,
    /// For each place in `members`, the places of those that go with it, a bit each.
    goes_with: Vec<Vec<u64>>,
}

impl Graph {
    /// The graph of the members 0 to `count` of which two go together where `together` says so (for the smaller first).
    pub(super) fn new(count: usize, together: impl Fn(usize, usize) -> bool) -> Self {
        let empty = vec![0u64; count.div_ceil(64)];
        let mut by_number = vec![empty.clone(); count];
        for a in 0..count {
            for b in a + 1..count {
                if together(a, b) {
                    set(&mut by_number[a], b);
                    set(&mut by_number[b], a);
                }
            }
        }
        let degree = |a: usize| -> u32 { by_number[a].iter().map(|w| w.count_ones()).sum() };
        let mut members: Vec<usize> = (0..count).collect();
        members.sort_by_cached_key(|&a| (degree(a), a));
        let mut place_of = vec![0; count];
        for (place, &member) in members.iter().enumerate() {
            place_of[member] = place;
        }
        let goes_with = members
            .iter()
            .map(|&member| {
                let mut row = empty.clone();
                let mut left = by_number[member].clone();
                while let Some(other) = first(&left) {
                    clear(&mut left, other);
                    set(&mut row, place_of[other]);
                }
                row
            })
            .collect();
        Self { members, goes_with }
    }

    /// Hands sets whose members all go together to `judge`, the most promising first, until none can be larger than the
    /// good ones, or `most_tries` have been judged. Sets of as many as the largest good one are all judged. Whether all
    /// was searched.
    pub(super) fn search(&self, most_tries: usize, judge: &mut dyn FnMut(&[usize]) -> Judged) -> bool {
        let mut all = vec![0u64; self.members.len().div_ceil(64)];
        for place in 0..self.members.len() {
            set(&mut all, place);
        }
        let mut walk = Walk {
            graph: self,
            judge,
            chosen: Vec::new(),
            largest: LEAST,
            tries_left: most_tries,
        };
        walk.on(all);
        walk.tries_left > 0
    }

    /// The open members with the number of groups up to theirs, which a set of them and of those before can't outnumber.
    fn grouped(&self, open: &[u64]) -> Vec<(usize, usize)> {
        let mut left = open.to_vec();
        let mut order = Vec::new();
        let mut groups = 0;
        while first(&left).is_some() {
            groups += 1;
            let mut apart = left.clone();
            while let Some(place) = first(&apart) {
                order.push((place, groups));
                clear(&mut left, place);
                clear(&mut apart, place);
                for (word, with) in apart.iter_mut().zip(&self.goes_with[place]) {
                    *word &= !with;
                }
            }
        }
        order
    }
}

/// A search under way.
struct Walk<'a> {
    graph: &'a Graph,
    judge: &'a mut dyn FnMut(&[usize]) -> Judged,
    chosen: Vec<usize>,
    largest: usize,
    tries_left: usize,
}

impl Walk<'_> {
    /// Adds each of the open members to the chosen, the last first.
    fn on(&mut self, mut open: Vec<u64>) {
        for (place, groups) in self.graph.grouped(&open).into_iter().rev() {
            if self.chosen.len() + groups < self.largest || self.tries_left == 0 {
                return;
            }
            self.tries_left -= 1;
            self.chosen.push(self.graph.members[place]);
            let judged = (self.judge)(&self.chosen);
            if judged == Judged::Good {
                self.largest = self.largest.max(self.chosen.len());
            }
            if judged != Judged::Rejected {
                let with = &self.graph.goes_with[place];
                self.on(open.iter().zip(with).map(|(a, b)| a & b).collect());
            }
            self.chosen.pop();
            clear(&mut open, place);
        }
    }
}

fn set(bits: &mut [u64], place: usize) {
    bits[place / 64] |= 1 << (place % 64);
}

fn clear(bits: &mut [u64], place: usize) {
    bits[place / 64] &= !(1 << (place % 64));
}

/// The first place that is set.
fn first(bits: &[u64]) -> Option<usize> {
    let word = bits.iter().position(|w| *w != 0)?;
    Some(64 * word + bits[word].trailing_zeros() as usize)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A graph of 17 members by a rule that repeats.
    fn together(seed: usize) -> impl Fn(usize, usize) -> bool + Copy {
        move |a, b| (a * 7919 + b * 104_729 + seed * 1_299_709 + a * b * 31) % 97 < 55
    }

    fn all_together(set: &[usize], together: impl Fn(usize, usize) -> bool) -> bool {
        let mut pairs = set.iter().flat_map(|a| set.iter().map(move |b| (a, b)));
        pairs.all(|(a, b)| a >= b || together(*a, *b))
    }

    #[test]
    fn the_largest_set_is_that_of_brute_force_and_all_of_its_size_are_judged() {
        for seed in 0..12 {
            let together = together(seed);
            let mut expected: Vec<u32> = (0u32..1 << 17)
                .filter(|set| {
                    let members: Vec<usize> = (0..17).filter(|k| set >> k & 1 == 1).collect();
                    all_together(&members, together)
                })
                .collect();
            let most = expected.iter().map(|s| s.count_ones()).max().unwrap();
            expected.retain(|s| s.count_ones() == most);
            let mut found: Vec<u32> = Vec::new();
            let done = Graph::new(17, together).search(1_000_000, &mut |chosen| {
                if chosen.len() as u32 == most {
                    found.push(chosen.iter().map(|k| 1u32 << k).sum());
                }
                Judged::Good
            });
            found.sort_unstable();
            assert!(done && most >= 3);
            assert_eq!(found, expected);
        }
    }

    #[test]
    fn a_rejected_set_is_in_no_larger_one_and_the_work_is_capped() {
        let graph = Graph::new(70, |_, _| true);
        let mut largest = 0;
        let done = graph.search(10_000, &mut |chosen| {
            if chosen.contains(&3) {
                return Judged::Rejected;
            }
            largest = largest.max(chosen.len());
            Judged::Good
        });
        assert!(done && largest == 69);
        let mut tries = 0;
        let done = graph.search(50, &mut |_| {
            tries += 1;
            Judged::Open
        });
        assert!(!done && tries == 50);
    }
}
