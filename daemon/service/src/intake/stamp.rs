//! When a line was complete, where it carries no time of its own.

use bloom_model::time::Time;
use chrono::TimeDelta;

use super::decoder::ArrivalTime;
use crate::clock::Clock;

/// The times at which lines were complete.
#[derive(Debug)]
pub(super) struct Stamper {
    ms_a_byte: f64,
    last: Option<Time>,
}

impl Stamper {
    /// For a source that takes so long for each byte.
    pub(super) const fn new(ms_a_byte: f64) -> Self {
        Self { ms_a_byte, last: None }
    }

    /// The time of a line that is followed by `behind` bytes in the same read.
    ///
    /// With a clock that follows the readings there is no arrival: they carry their own time.
    pub(super) fn time(&mut self, clock: &Clock, behind: usize) -> ArrivalTime {
        match clock {
            Clock::Machine(_) => ArrivalTime::Stamped(self.stamp(clock.now(), behind)),
            Clock::Readings(_) => ArrivalTime::Carried,
        }
    }

    /// Lines read together did not come together: the bytes behind one took their time on the line. A line comes at least
    /// a millisecond after the one before it, so that none passes for its repetition, but never after `now`.
    pub(super) fn stamp(&mut self, now: Time, behind: usize) -> Time {
        let came = now - TimeDelta::milliseconds((behind as f64 * self.ms_a_byte) as i64);
        let after_last = self.last.map_or(came, |last| (last + TimeDelta::milliseconds(1)).min(now));
        let stamp = came.max(after_last);
        self.last = Some(stamp);
        stamp
    }
}
