//! The day and the time, as the log has them: the only file that knows a clock.

/// The owner's day and time of day.
pub struct Now {
    /// 2026-11-26.
    pub day: String,
    /// 14:03.
    pub time: String,
}

/// Now, where the machine stands.
pub fn now() -> Now {
    let now = jiff::Zoned::now();
    Now {
        day: now.strftime("%Y-%m-%d").to_string(),
        time: now.strftime("%H:%M").to_string(),
    }
}
