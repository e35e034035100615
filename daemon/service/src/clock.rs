//! The service's time of day: the only place that reads the wall clock.

use std::sync::atomic::{AtomicI64, Ordering};

use bloom_model::time::Time;

/// What time it is for the site.
#[derive(Debug)]
pub enum Clock {
    /// The machine's clock, for benches that are read now.
    Wall,
    /// The newest instant that any reading brought, for recordings and rehearsals played faster or later than life.
    Readings(AtomicI64),
}

impl Clock {
    /// A clock that stands at the beginning of time until a reading moves it.
    pub const fn of_readings() -> Self {
        Self::Readings(AtomicI64::new(0))
    }

    /// Now.
    pub fn now(&self) -> Time {
        match self {
            Self::Wall => Time::from(chrono::Utc::now()),
            Self::Readings(newest) => Time::from_unix_ms(newest.load(Ordering::Acquire)),
        }
    }

    /// Tells the clock of a reading; the machine's clock does not listen.
    pub fn hear(&self, time: Time) {
        if let Self::Readings(newest) = self {
            newest.fetch_max(time.unix_ms(), Ordering::AcqRel);
        }
    }
}
