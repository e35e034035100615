//! Where a ranger's target has been: the last hours minute by minute, the last days by the quarter hour.

use std::collections::VecDeque;

use serde::{Deserialize, Serialize};

use crate::time::Time;

/// A cleaned position at an instant.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Sample {
    /// When.
    pub time: Time,
    /// Where, m.
    pub position_m: f64,
}

/// Minutes kept: enough for the growth of an hour and the birth of an opening.
const MINUTES: usize = 180;
/// Quarter hours kept: three days.
const QUARTERS: usize = 288;
const QUARTER_MS: i64 = 900_000;

/// Two rings of samples. Bounded: the oldest gives way.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub struct Rings {
    minutes: VecDeque<Sample>,
    quarters: VecDeque<Sample>,
    filling: Option<Filling>,
}

/// The quarter hour that is being averaged.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
struct Filling {
    number: i64,
    sum_m: f64,
    sum_ms: i64,
    count: u32,
}

impl Filling {
    fn mean(&self) -> Sample {
        Sample {
            time: Time::from_unix_ms(self.number * QUARTER_MS + self.sum_ms / i64::from(self.count)),
            position_m: self.sum_m / f64::from(self.count),
        }
    }
}

impl Rings {
    /// Adds a sample no older than the newest.
    pub fn push(&mut self, sample: Sample) {
        if self.minutes.len() == MINUTES {
            self.minutes.pop_front();
        }
        self.minutes.push_back(sample);

        let number = sample.time.unix_ms().div_euclid(QUARTER_MS);
        let within_ms = sample.time.unix_ms().rem_euclid(QUARTER_MS);
        match &mut self.filling {
            Some(filling) if filling.number == number => {
                filling.sum_m += sample.position_m;
                filling.sum_ms += within_ms;
                filling.count += 1;
            }
            filling => {
                if let Some(full) = filling.take() {
                    if self.quarters.len() == QUARTERS {
                        self.quarters.pop_front();
                    }
                    self.quarters.push_back(full.mean());
                }
                *filling = Some(Filling { number, sum_m: sample.position_m, sum_ms: within_ms, count: 1 });
            }
        }
    }

    /// The newest sample.
    pub fn newest(&self) -> Option<Sample> {
        self.minutes.back().copied()
    }

    /// Minute samples from `from` on, oldest first.
    pub fn minutes_from(&self, from: Time) -> impl DoubleEndedIterator<Item = &Sample> + Clone {
        let start = self.minutes.partition_point(|sample| sample.time < from);
        self.minutes.range(start..)
    }

    /// Hours between the newest samples: the middle of the last four steps. A span without readings is no spacing.
    pub fn spacing_h(&self) -> f64 {
        let newest = self.minutes.iter().rev().take(5);
        let mut steps: Vec<f64> = newest
            .clone()
            .zip(newest.skip(1))
            .map(|(later, earlier)| later.time.hours_since(earlier.time))
            .collect();
        let middle = steps.len() / 2;
        if steps.is_empty() { 0.0 } else { *steps.select_nth_unstable_by(middle, f64::total_cmp).1 }
    }

    /// Quarter-hour means from `from` up to, not including, `until`, oldest first.
    pub fn quarters_between(
        &self,
        from: Time,
        until: Time,
    ) -> impl DoubleEndedIterator<Item = &Sample> + Clone {
        let start = self.quarters.partition_point(|sample| sample.time < from);
        let end = self.quarters.partition_point(|sample| sample.time < until).max(start);
        self.quarters.range(start..end)
    }

    /// The oldest quarter-hour mean.
    pub fn oldest_quarter(&self) -> Option<Sample> {
        self.quarters.front().copied()
    }

    /// The mean position between two instants and how many quarter hours it rests on.
    pub fn mean_between(&self, from: Time, until: Time) -> Option<(f64, usize)> {
        let (sum, count) = self
            .quarters_between(from, until)
            .fold((0.0, 0), |(sum, count), q| (sum + q.position_m, count + 1));
        (count > 0).then(|| (sum / count as f64, count))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn quarters_are_means_and_rings_are_bounded() {
        let mut rings = Rings::default();
        let start = Time::from_unix_ms(0);
        for minute in 0..(15 * 400) {
            let hours = f64::from(minute) / 60.0;
            rings.push(Sample { time: start.plus_hours(hours), position_m: hours });
        }
        assert_eq!(rings.minutes.len(), MINUTES);
        assert_eq!(rings.quarters.len(), QUARTERS);
        let newest = rings.quarters.back().unwrap();
        // minutes 0 to 14 of the last complete quarter: its mean lies 7 minutes in
        assert!((newest.position_m - (398.0 * 0.25 + 7.0 / 60.0)).abs() < 1e-9);
        let (mean, count) = rings.mean_between(start.plus_hours(90.0), start.plus_hours(92.0)).unwrap();
        assert_eq!(count, 8);
        assert!((mean - 90.99).abs() < 0.01, "{mean}");
    }
}
