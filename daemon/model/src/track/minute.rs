//! The readings of a minute made one sample: stray echoes and sway go, the plant stays.

use serde::{Deserialize, Serialize};

use crate::time::Time;
use crate::track::ring::Sample;

/// Readings gathered before a sample is made even within a minute.
const MOST: usize = 24;
/// Sensors that report no more often than this are taken reading by reading.
const SPARSE_FROM_S: f64 = 25.0;
/// A reading this near the median of its minute is never a stray echo, m.
const STRAY_FLOOR_M: f64 = 0.006;

/// Gathers readings into samples.
#[derive(Debug, Clone, Default, PartialEq, Serialize, Deserialize)]
pub(super) struct MinuteBin {
    positions_m: Vec<f64>,
    minute: i64,
    sum_ms: i64,
    newest: Option<Time>,
    /// Smoothed time between readings, s.
    interval_s: f64,
}

impl MinuteBin {
    /// Smoothed time between readings, s; zero before the second.
    pub(super) fn interval_s(&self) -> f64 {
        self.interval_s
    }

    /// Takes a reading; gives the samples that it completed, oldest first: where readings are sparse, itself.
    pub(super) fn push(&mut self, time: Time, position_m: f64) -> [Option<Sample>; 2] {
        if let Some(newest) = self.newest {
            let step_s = ((time.unix_ms() - newest.unix_ms()) as f64 / 1e3).min(1800.0);
            self.interval_s = if self.interval_s > 0.0 {
                self.interval_s + (step_s - self.interval_s) / 8.0
            } else {
                step_s
            };
        }
        self.newest = Some(time);
        let minute = time.unix_ms().div_euclid(60_000);
        let full = self.positions_m.len() >= MOST || minute != self.minute;
        let completed = if full { self.close() } else { None };
        if self.positions_m.is_empty() {
            if self.interval_s >= SPARSE_FROM_S {
                return [completed, Some(Sample { time, position_m })];
            }
            self.minute = minute;
        }
        self.positions_m.push(position_m);
        self.sum_ms += time.unix_ms() - self.minute * 60_000;
        [completed, None]
    }

    fn close(&mut self) -> Option<Sample> {
        let count = self.positions_m.len();
        if count == 0 {
            return None;
        }
        let time = Time::from_unix_ms(self.minute * 60_000 + self.sum_ms / count as i64);
        let position_m = centre(&mut self.positions_m);
        self.positions_m.clear();
        self.sum_ms = 0;
        Some(Sample { time, position_m })
    }
}

/// The mean of the values that lie within three robust standard deviations of the median (Hampel's rule).
fn centre(values: &mut [f64]) -> f64 {
    values.sort_unstable_by(f64::total_cmp);
    let median = values[values.len() / 2];
    let mut sizes: Vec<f64> = values.iter().map(|value| (value - median).abs()).collect();
    let middle = sizes.len() / 2;
    let (_, deviation, _) = sizes.select_nth_unstable_by(middle, f64::total_cmp);
    let bound = (3.0 * 1.4826 * *deviation).max(STRAY_FLOOR_M);
    let (sum, count) = values
        .iter()
        .filter(|value| (**value - median).abs() <= bound)
        .fold((0.0, 0_u32), |(sum, count), value| (sum + value, count + 1));
    sum / f64::from(count)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_minute_of_readings_is_one_sample_without_its_stray_echo() {
        let mut bin = MinuteBin::default();
        let mut samples = Vec::new();
        for (second, position) in
            [(0, 1.0), (10, 1.002), (20, 1.3), (30, 1.001), (40, 0.999), (50, 1.0), (60, 1.0)]
        {
            samples.extend(bin.push(Time::from_unix_ms(second * 1000), position).into_iter().flatten());
        }
        assert_eq!(samples.len(), 1);
        assert!((samples[0].position_m - 1.0004).abs() < 1e-9);
        assert_eq!(samples[0].time, Time::from_unix_ms(25_000));
    }

    #[test]
    fn sparse_readings_pass_at_once() {
        for minutes in [1, 5, 10, 14, 15] {
            let mut bin = MinuteBin::default();
            for number in 0..10 {
                let time = Time::from_unix_ms(number * minutes * 60_000);
                let passed: Vec<Time> =
                    bin.push(time, 1.0).into_iter().flatten().map(|sample| sample.time).collect();
                // the first waits for the second, which shows that there will be no other within its minute
                let expected = match number {
                    0 => vec![],
                    1 => vec![Time::from_unix_ms(0), time],
                    _ => vec![time],
                };
                assert_eq!(passed, expected, "reading {number}, every {minutes} min");
            }
        }
    }
}
