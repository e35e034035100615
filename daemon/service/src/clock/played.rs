//! The clocks of a machine that is played: they run as fast as whoever plays it lets them, and can be set.

use std::sync::Arc;
use std::sync::atomic::{AtomicI64, Ordering};
use std::time::Duration;

use bloom_model::time::Time;
use chrono::TimeDelta;

use super::{Clock, Source};

/// The clocks of one machine; clones share them. Time stands still between two calls of [`PlayedMachine::pass`], so that a play that
/// the computer holds up is a house in which no time passes.
#[derive(Debug, Clone)]
pub struct PlayedMachine(Arc<Clocks>);

#[derive(Debug)]
struct Clocks {
    running_ms: AtomicI64,
    /// Time of day less running time.
    set_by_ms: AtomicI64,
}

impl PlayedMachine {
    /// A machine that is switched on at that time of day.
    pub fn at(time: Time) -> Self {
        let clocks = Clocks { running_ms: AtomicI64::new(0), set_by_ms: AtomicI64::new(time.unix_ms()) };
        Self(Arc::new(clocks))
    }

    /// The service's clock on this machine.
    pub fn clock(&self) -> Clock {
        Clock::of_source(Box::new(self.clone()))
    }

    /// Time passes.
    pub fn pass(&self, span: TimeDelta) {
        self.0.running_ms.fetch_add(span.num_milliseconds(), Ordering::AcqRel);
    }

    /// For how long it has run.
    pub fn running(&self) -> TimeDelta {
        TimeDelta::milliseconds(self.0.running_ms.load(Ordering::Acquire))
    }

    /// Somebody sets the time of day.
    pub fn set_forward(&self, by: TimeDelta) {
        self.0.set_by_ms.fetch_add(by.num_milliseconds(), Ordering::AcqRel);
    }
}

impl Source for PlayedMachine {
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
