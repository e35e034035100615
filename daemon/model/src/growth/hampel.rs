//! Single readings that do not belong with their neighbours.
//!
//! The Hampel identifier (Hampel 1974, J. Am. Stat. Assoc. 69, 383–393; Davies & Gather 1993, J. Am. Stat. Assoc. 88,
//! 782–792) on a trailing window: a reading is an outlier if it lies more than three standard deviations from the median of
//! the last eleven, itself among them, the standard deviation taken from the median absolute deviation. Up to five wild
//! readings of eleven leave the median where it was.

use serde::{Deserialize, Serialize};

/// How many readings are compared, the newest included.
pub const WINDOW: usize = 11;

/// Standard deviation of normal noise by its median absolute deviation: 1/Φ⁻¹(3/4).
const SIGMA_PER_DEVIATION: f64 = 1.482_602_218_505_602;

/// How many standard deviations from the median still belong.
const SIGMAS: f64 = 3.0;

/// The newest readings. Written down as their list, oldest first.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize)]
#[serde(from = "Vec<f64>", into = "Vec<f64>")]
pub struct Hampel {
    /// In the order of arrival; zero beyond `held`.
    arrived: [f64; WINDOW],
    /// The same by size.
    sorted: [f64; WINDOW],
    held: usize,
}

/// What the window says of its newest reading.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Verdict {
    /// Median of the window.
    pub median: f64,
    /// Standard deviation by the window, not below the floor.
    pub sigma: f64,
    /// Whether the reading does not belong.
    pub outlier: bool,
}

impl Hampel {
    /// Takes the next reading and judges it.
    ///
    /// `floor` is the least standard deviation to believe, half the sensor's step at least: readings that repeat one step
    /// deviate by zero, and then the smallest move would count as wild. A reading that is not finite is an outlier and does
    /// not enter the window.
    pub fn take(&mut self, reading: f64, floor: f64) -> Verdict {
        if reading.is_finite() {
            self.enter(reading);
        }
        let (median, deviation) = self.centre();
        let sigma = (SIGMA_PER_DEVIATION * deviation).max(floor);
        let belongs = (reading - median).abs() <= SIGMAS * sigma;
        Verdict { median, sigma, outlier: !belongs }
    }

    /// Forgets every reading: after a mount has moved, or a gap.
    pub fn clear(&mut self) {
        *self = Self::default();
    }

    fn enter(&mut self, reading: f64) {
        // where the free place by size is: the oldest reading's, or the end
        let free = if self.held < WINDOW {
            self.held += 1;
            self.held - 1
        } else {
            let oldest = self.arrived[0];
            self.arrived.copy_within(1.., 0);
            self.sorted.iter().position(|value| value.total_cmp(&oldest).is_eq()).unwrap_or(WINDOW - 1)
        };
        self.arrived[self.held - 1] = reading;

        let mut place = free;
        while place > 0 && self.sorted[place - 1] > reading {
            self.sorted[place] = self.sorted[place - 1];
            place -= 1;
        }
        while place + 1 < self.held && self.sorted[place + 1] < reading {
            self.sorted[place] = self.sorted[place + 1];
            place += 1;
        }
        self.sorted[place] = reading;
    }

    /// Median, and median absolute deviation from it; not numbers while nothing is held.
    fn centre(&self) -> (f64, f64) {
        let sorted = &self.sorted[..self.held];
        let half = self.held / 2;
        let even = self.held.is_multiple_of(2);
        let (below, above) = sorted.split_at(half);
        let Some(&upper) = above.first() else { return (f64::NAN, f64::NAN) };
        let median = match below.last() {
            Some(lower) if even => (lower + upper) / 2.0,
            _ => upper,
        };

        // Seen from the median both halves rise: walk outwards, always to the nearer, up to the middle deviation.
        let (mut below, mut above) = (below.iter().rev().peekable(), above.iter().peekable());
        let mut nearest = || {
            let down = below.peek().map_or(f64::INFINITY, |value| median - **value);
            let up = above.peek().map_or(f64::INFINITY, |value| **value - median);
            if down < up {
                below.next();
                down
            } else {
                above.next();
                up
            }
        };
        let (mut last, mut middle) = (0.0, 0.0);
        for _ in 0..=half {
            (last, middle) = (middle, nearest());
        }
        (median, if even { (last + middle) / 2.0 } else { middle })
    }
}

impl From<Vec<f64>> for Hampel {
    /// The window that has taken these readings, oldest first; only the last eleven matter.
    fn from(readings: Vec<f64>) -> Self {
        let mut window = Self::default();
        for reading in readings.into_iter().filter(|reading| reading.is_finite()) {
            window.enter(reading);
        }
        window
    }
}

impl From<Hampel> for Vec<f64> {
    fn from(window: Hampel) -> Self {
        window.arrived[..window.held].to_vec()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn median(mut values: Vec<f64>) -> f64 {
        values.sort_by(f64::total_cmp);
        let half = values.len() / 2;
        if values.len().is_multiple_of(2) { (values[half - 1] + values[half]) / 2.0 } else { values[half] }
    }

    /// Equal to the bit, but for the sign of a zero.
    fn same(a: f64, b: f64) -> bool {
        (a - b).abs() <= 0.0
    }

    proptest! {
        /// The same as sorting the window anew each time, ties and signed zeros included.
        #[test]
        fn window_agrees_with_sorting(readings in prop::collection::vec(-6..6_i8, 1..60), floor in 0.0..1.0_f64) {
            let mut window = Hampel::default();
            let readings: Vec<f64> = readings.iter().map(|n| f64::from(*n) * -0.5).collect();
            for (newest, reading) in readings.iter().enumerate() {
                let verdict = window.take(*reading, floor);
                let held = &readings[(newest + 1).saturating_sub(WINDOW)..=newest];
                let centre = median(held.to_vec());
                let sigma = 1.482_602_218_505_602 * median(held.iter().map(|x| (x - centre).abs()).collect());
                let sigma = sigma.max(floor);
                prop_assert!(same(verdict.median, centre), "{verdict:?} {centre}");
                prop_assert!(same(verdict.sigma, sigma), "{verdict:?} {sigma}");
                prop_assert_eq!(verdict.outlier, (reading - centre).abs() > 3.0 * sigma);

                let again: Hampel = serde_json::from_str(&serde_json::to_string(&window).unwrap()).unwrap();
                prop_assert_eq!(again, window);
            }
        }
    }

    #[test]
    fn five_wild_echoes_do_not_move_the_median() {
        let mut window = Hampel::default();
        for step in 0..6 {
            assert!(!window.take(0.90 + 0.001 * f64::from(step), 0.001).outlier);
        }
        for _ in 0..5 {
            let verdict = window.take(0.30, 0.001);
            assert!(verdict.outlier && (0.90..0.91).contains(&verdict.median), "{verdict:?}");
        }
        assert!(!window.take(0.30, 0.001).outlier, "what stays is a new level");
    }

    #[test]
    fn what_is_no_number_is_wild_and_leaves_no_trace() {
        let mut window = Hampel::default();
        assert!(window.take(f64::NAN, 0.001).outlier);
        window.take(0.9, 0.001);
        let before = window;
        assert!(window.take(f64::INFINITY, 0.001).outlier);
        assert!(window.take(f64::NAN, 0.001).outlier);
        assert_eq!(window, before);
        window.clear();
        assert_eq!(window, Hampel::default());
    }

    #[test]
    fn a_frozen_ranger_may_move_by_its_step() {
        let mut window = Hampel::default();
        for _ in 0..WINDOW {
            window.take(0.900, 0.0005);
        }
        let mut strict = window;
        assert!(!window.take(0.901, 0.0005).outlier);
        assert!(strict.take(0.901, 0.0).outlier);
    }
}
