//! The clocks of the house's machine: they run as fast as the rehearsal lets them, and can be set.

use std::sync::Arc;
use std::sync::atomic::{AtomicI64, Ordering};
use std::time::Duration;

use anthesisd::clock::Source;
use bloom_model::time::Time;
use chrono::TimeDelta;

/// The clocks of one machine; clones share them. Time stands still between two calls of [`Machine::pass`], so that a rehearsal
/// that the computer holds up is a house in which no time passes.
#[derive(Debug, Clone)]
pub(super) struct Machine(Arc<Clocks>);

#[derive(Debug)]
struct Clocks {
    running_ms: AtomicI64,
    /// Time of day less running time.
    set_by_ms: AtomicI64,
}

impl Machine {
    /// A machine that is switched on at that time of day.
    pub(super) fn at(time: Time) -> Self {
        let clocks = Clocks { running_ms: AtomicI64::new(0), set_by_ms: AtomicI64::new(time.unix_ms()) };
        Self(Arc::new(clocks))
    }

    /// Time passes.
    pub(super) fn pass(&self, span: TimeDelta) {
        self.0.running_ms.fetch_add(span.num_milliseconds(), Ordering::AcqRel);
    }

    /// For how long it has run.
    pub(super) fn running(&self) -> TimeDelta {
        TimeDelta::milliseconds(self.0.running_ms.load(Ordering::Acquire))
    }

    /// Somebody sets the time of day.
    pub(super) fn set_forward(&self, by: TimeDelta) {
        self.0.set_by_ms.fetch_add(by.num_milliseconds(), Ordering::AcqRel);
    }
}

impl Source for Machine {
    fn wall(&self) -> Time {
        Time::from_unix_ms(self.0.set_by_ms.load(Ordering::Acquire)) + self.running()
    }

    fn monotonic(&self) -> Duration {
        self.running().to_std().unwrap_or_default()
    }

    fn synchronised(&self) -> Option<bool> {
        // a time server has confirmed it: what is set wrong later is somebody's doing
        Some(true)
    }
}
