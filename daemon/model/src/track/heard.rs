//! How often the target was heard: the echoes of each quarter hour that came from just where it is.

use std::collections::VecDeque;

use serde::{Deserialize, Serialize};

use crate::time::Time;

/// Quarter hours kept: two days.
const QUARTERS: usize = 192;
const QUARTER_MS: i64 = 900_000;
/// Quarter hours with an echo that make a usual number.
const LEAST_QUARTERS: usize = 8;

/// Echoes of the target by the quarter hour. Bounded: the oldest gives way.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Heard {
    /// Number of the newest quarter hour since 1970.
    newest: i64,
    /// Echoes of each, the newest last; a quarter hour without one is nought.
    echoes: VecDeque<u16>,
}

impl Heard {
    /// One echo of the target. One older than the newest quarter hour is left out.
    pub(super) fn count(&mut self, time: Time) {
        let number = time.unix_ms().div_euclid(QUARTER_MS);
        let passed = number.saturating_sub(self.newest);
        if self.echoes.is_empty() || passed >= QUARTERS as i64 {
            self.echoes.clear();
            self.echoes.push_back(0);
            self.newest = number;
        }
        while self.newest < number {
            if self.echoes.len() == QUARTERS {
                self.echoes.pop_front();
            }
            self.echoes.push_back(0);
            self.newest += 1;
        }
        if number == self.newest
            && let Some(count) = self.echoes.back_mut()
        {
            *count = count.saturating_add(1);
        }
    }

    /// The echoes of the whole quarter hours between two instants, and how many quarter hours these are. One that is not kept
    /// counts as one without an echo.
    pub fn between(&self, from: Time, until: Time) -> (u32, u32) {
        let first = (from.unix_ms() + QUARTER_MS - 1).div_euclid(QUARTER_MS);
        let end = until.unix_ms().div_euclid(QUARTER_MS);
        let echoes = self.counts(first, end).map(u32::from).sum();
        (echoes, u32::try_from(end - first).unwrap_or(0))
    }

    /// What a quarter hour between two instants usually brought: the mean of those with half of their median or more, for fog and
    /// people are not usual; `None` where those with an echo are few.
    pub fn usual_between(&self, from: Time, until: Time) -> Option<f64> {
        let first = (from.unix_ms() + QUARTER_MS - 1).div_euclid(QUARTER_MS);
        let mut counts: Vec<u16> =
            self.counts(first, until.unix_ms().div_euclid(QUARTER_MS)).filter(|count| *count > 0).collect();
        counts.sort_unstable();
        if counts.len() < LEAST_QUARTERS {
            return None;
        }
        let median = counts.get(counts.len() / 2).copied()?;
        let usual = || counts.iter().copied().filter(|count| 2 * u32::from(*count) >= u32::from(median));
        Some(usual().map(f64::from).sum::<f64>() / usual().count().max(1) as f64)
    }

    /// Echoes of the quarter hours from that number up to, not including, that one, as far as they are kept.
    fn counts(&self, first: i64, end: i64) -> impl Iterator<Item = u16> {
        let oldest = self.newest + 1 - self.echoes.len() as i64;
        let place = |number: i64| usize::try_from(number - oldest).unwrap_or(0).min(self.echoes.len());
        let from = place(first);
        self.echoes.range(from..place(end).max(from)).copied()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn minute(minute: i64) -> Time {
        Time::from_unix_ms(minute * 60_000)
    }

    #[test]
    fn quarter_hours_without_an_echo_are_nought_and_no_usual_ones() {
        let mut heard = Heard::default();
        // three hours at an echo a minute, one without, one at every third minute
        (0..180).for_each(|at| heard.count(minute(at)));
        (240..300).step_by(3).for_each(|at| heard.count(minute(at)));
        assert_eq!(heard.between(minute(0), minute(180)), (180, 12));
        assert_eq!(heard.between(minute(180), minute(240)), (0, 4));
        assert_eq!(heard.between(minute(240), minute(300)), (20, 4));
        // the quarter hours that have begun or are to come are not whole
        assert_eq!(heard.between(minute(241), minute(299)), (10, 2));
        assert_eq!(heard.between(minute(285), minute(345)), (5, 4), "nothing came after it");
        assert_eq!(heard.usual_between(minute(0), minute(300)), Some(15.0));
        assert_eq!(heard.usual_between(minute(0), minute(90)), None, "six are few");
    }

    #[test]
    fn two_days_are_kept() {
        let mut heard = Heard::default();
        (0..4 * 24 * 60).for_each(|at| heard.count(minute(at)));
        assert_eq!(heard.echoes.len(), QUARTERS);
        assert_eq!(heard.between(minute(24 * 60), minute(26 * 60)), (0, 8), "forgotten");
        assert_eq!(heard.between(minute(94 * 60), minute(96 * 60)).0, 120);
        // after a month of silence it begins anew
        heard.count(minute(40 * 24 * 60));
        assert_eq!(heard.echoes.len(), 1);
    }
}
