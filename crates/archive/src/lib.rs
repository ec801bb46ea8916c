//! What makes a job evidence: sets kept as they were received, a log by the day, and the sealed job that can be checked bit
//! for bit. Knows no points, no clock and no screen.

pub mod bag;
pub mod fingerprint;
pub mod keep;
pub mod lock;
pub mod log;
pub mod name;
pub mod packed;
pub mod tree;
pub mod trouble;

pub use fingerprint::Fingerprint;
pub use trouble::ArchiveError;
