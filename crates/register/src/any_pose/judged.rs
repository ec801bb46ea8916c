//! What the metal of both sets says of a pose.

use cloud::{Body, Motion, Scan, Surface};

use super::worth::{Sample, agreement};

/// A pose that was judged on many points of both sets.
#[derive(Debug, Clone, Copy)]
pub struct Judged {
    /// The motion reference ← measured.
    pub motion: Motion<Scan, Body>,
    /// As [`super::AnyPose::score`].
    pub score: f64,
    /// As [`super::AnyPose::on`].
    pub on: f64,
    /// As [`super::AnyPose::alike`].
    pub alike: f64,
    /// Of what has a counterpart near, the share that lies across it: nearly nothing where the pose is right.
    pub contradicted: f64,
}

/// Both sets as they are looked at when a pose is judged.
pub struct Views<'a> {
    /// The reference, on which measured points lie or don't.
    pub judge: &'a Surface<Body>,
    /// Its points that are asked whether they lie on the measured set.
    pub seen: &'a Sample,
    /// The measured set.
    pub measured: &'a Surface<Scan>,
    /// Its points that are asked.
    pub many: &'a Sample,
    /// How far off the noise explains, mm.
    pub off_mm: f64,
    /// The extent of the measured set, mm.
    pub extent_mm: f64,
}

impl Views<'_> {
    /// What both say of a pose.
    pub fn judged(&self, motion: Motion<Scan, Body>) -> Judged {
        let near_mm = (4.0 * self.judge.spacing_mm.max(self.measured.spacing_mm))
            .max(3.0 * self.off_mm)
            .max(self.extent_mm / 80.0);
        let there = agreement(self.many, self.judge, &motion, near_mm, self.off_mm);
        let back = agreement(self.seen, self.measured, &motion.inverse(), near_mm, self.off_mm);
        let agreement = there.and(back);
        Judged {
            score: agreement.score(),
            on: agreement.on,
            alike: agreement.alike(),
            contradicted: agreement.contradicted(),
            motion,
        }
    }
}
