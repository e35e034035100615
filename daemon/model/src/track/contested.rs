//! While strange samples come between: where the target must be.

use serde::{Deserialize, Serialize};

use crate::growth::filter::LevelRateFilter;
use crate::time::Time;

/// So many trusted samples at most, more than strange ones, until nothing strange is about any more.
const STRANGE_AT_MOST: u8 = 6;
/// Of the last eight samples so many must be the target's before they show that it has moved on: a person who walks about
/// before the ranger is now and then where the target might be.
const SEEN_OF_EIGHT: u32 = 4;

/// Where the target was when strange samples began to come between.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub(super) struct Contested {
    since: Time,
    level_m: f64,
    rate_m_h: f64,
    /// Strange samples less trusted ones: at nothing the doubt is over.
    strange: u8,
    /// The last eight samples, newest in the lowest bit; a one is the target's.
    seen: u8,
}

impl Contested {
    /// The first strange sample after a trusted one.
    pub(super) fn begin(since: Time, filter: &LevelRateFilter) -> Self {
        Self { since, level_m: filter.level(), rate_m_h: sure_rate(filter), strange: 2, seen: 0b1111_1110 }
    }

    /// Where the target must be.
    pub(super) fn expected_m(&self, time: Time) -> f64 {
        self.level_m + self.rate_m_h * time.hours_since(self.since)
    }

    /// One more strange sample.
    pub(super) fn more(self) -> Self {
        Self { strange: (self.strange + 1).min(STRANGE_AT_MOST), seen: self.seen << 1, ..self }
    }

    /// One more trusted sample, after which the filter stands so; `None` when the doubt is over.
    pub(super) fn less(self, time: Time, filter: &LevelRateFilter) -> Option<Self> {
        let strange = self.strange.saturating_sub(1);
        let seen = self.seen << 1 | 1;
        let moved_on = seen.count_ones() >= SEEN_OF_EIGHT;
        let (since, level_m, rate_m_h) = if moved_on {
            (time, filter.level(), sure_rate(filter))
        } else {
            (self.since, self.level_m, self.rate_m_h)
        };
        (strange > 0).then_some(Self { since, level_m, rate_m_h, strange, seen })
    }
}

/// A rate that may be noise is no rate.
fn sure_rate(filter: &LevelRateFilter) -> f64 {
    if filter.rate().abs() > 2.0 * filter.rate_sd() { filter.rate() } else { 0.0 }
}
