//! A picture's colours reduced to a few, so that a page can carry many pictures.
//!
//! Colours that are alike are taken together, and the group that varies most is halved at its mean until there are enough
//! groups (after the median cut of Heckbert 1982). A colour counts by the fourth root of how often it occurs: a legend is small
//! and must keep its colours.

/// A picture as numbers into a list of colours.
pub(super) struct Reduced {
    pub colours: Vec<[u8; 3]>,
    pub indices: Vec<u8>,
}

/// Colours that are alike: equal in the first five bits of red, green and blue.
struct Alike {
    cell: usize,
    count: f64,
    sum: [f64; 3],
}

impl Alike {
    fn mean(&self, axis: usize) -> f64 {
        self.sum[axis] / self.count
    }

    /// A square root is rounded alike on every machine, a power is not.
    fn weight(&self) -> f64 {
        self.count.sqrt().sqrt()
    }
}

struct Group {
    members: Vec<usize>,
    axis: usize,
    middle: f64,
    spread: f64,
}

const CELLS: usize = 1 << 15;

fn cell(colour: &[u8]) -> usize {
    colour
        .iter()
        .fold(0, |so_far, part| (so_far << 5) | usize::from(part >> 3))
}

/// `pixels` are red, green, blue in turn; at most `most` colours, and no more than 256.
pub(super) fn reduced(pixels: &[u8], most: usize) -> Reduced {
    let all = alike(pixels);
    let mut groups = vec![group(&all, (0..all.len()).collect())];
    while groups.len() < most.min(256) {
        let widest = (0..groups.len()).max_by(|&a, &b| groups[a].spread.total_cmp(&groups[b].spread));
        let Some(widest) = widest.filter(|&k| groups[k].spread > 1e-9) else {
            break;
        };
        let Group {
            members,
            axis,
            middle,
            ..
        } = &groups[widest];
        let (low, high): (Vec<usize>, Vec<usize>) =
            members.iter().partition(|&&k| all[k].mean(*axis) < *middle);
        if low.is_empty() || high.is_empty() {
            break;
        }
        groups[widest] = group(&all, low);
        groups.push(group(&all, high));
    }
    let mut index_of = vec![0u8; CELLS];
    let mut colours = Vec::with_capacity(groups.len());
    for (index, group) in (0u8..=255).zip(&groups) {
        for &k in &group.members {
            index_of[all[k].cell] = index;
        }
        colours.push(mean_colour(&all, &group.members));
    }
    Reduced {
        colours,
        indices: pixels
            .chunks_exact(3)
            .map(|colour| index_of[cell(colour)])
            .collect(),
    }
}

fn alike(pixels: &[u8]) -> Vec<Alike> {
    let mut counts = vec![0u64; CELLS];
    let mut sums = vec![[0u64; 3]; CELLS];
    for colour in pixels.chunks_exact(3) {
        let cell = cell(colour);
        counts[cell] += 1;
        for (sum, part) in sums[cell].iter_mut().zip(colour) {
            *sum += u64::from(*part);
        }
    }
    (0..CELLS)
        .filter(|&cell| counts[cell] > 0)
        .map(|cell| Alike {
            cell,
            count: counts[cell] as f64,
            sum: sums[cell].map(|sum| sum as f64),
        })
        .collect()
}

/// The members with the axis along which they vary most.
fn group(all: &[Alike], members: Vec<usize>) -> Group {
    let weight: f64 = members.iter().map(|&k| all[k].weight()).sum();
    let mut widest = (0, 0.0, 0.0);
    for axis in 0..3 {
        let sum: f64 = members.iter().map(|&k| all[k].weight() * all[k].mean(axis)).sum();
        let middle = sum / weight.max(1.0);
        let spread: f64 = members
            .iter()
            .map(|&k| all[k].weight() * (all[k].mean(axis) - middle).powi(2))
            .sum();
        if spread > widest.2 {
            widest = (axis, middle, spread);
        }
    }
    Group {
        members,
        axis: widest.0,
        middle: widest.1,
        spread: widest.2,
    }
}

fn mean_colour(all: &[Alike], members: &[usize]) -> [u8; 3] {
    let count: f64 = members.iter().map(|&k| all[k].count).sum();
    std::array::from_fn(|axis| {
        let sum: f64 = members.iter().map(|&k| all[k].sum[axis]).sum();
        (sum / count.max(1.0)).round() as u8
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn few_colours_are_kept_as_they_are() {
        let pixels = [255, 255, 255, 28, 28, 30, 196, 98, 12, 255, 255, 255];
        let reduced = reduced(&pixels, 96);
        let back: Vec<u8> = reduced
            .indices
            .iter()
            .flat_map(|&k| reduced.colours[usize::from(k)])
            .collect();
        assert_eq!(back, pixels);
        assert_eq!(reduced.colours.len(), 3);
    }

    #[test]
    fn a_small_legend_keeps_its_colour_beside_a_large_ramp() {
        // A hundred thousand places of a grey and orange ramp, and twenty of purple.
        let mut pixels = Vec::new();
        for k in 0..100_000u32 {
            let t = (k % 251) as u8;
            pixels.extend([t / 2 + 120, t / 3 + 90, t / 4 + 10]);
        }
        pixels.extend([98, 66, 148].repeat(20));
        let reduced = reduced(&pixels, 16);
        assert_eq!(reduced.colours.len(), 16);
        let last = reduced.colours[usize::from(reduced.indices[100_010])];
        assert_eq!(last, [98, 66, 148]);
    }

    #[test]
    fn an_empty_picture_has_no_pixels() {
        assert!(reduced(&[], 96).indices.is_empty());
    }
}
