//! Level and rate, followed through irregular and noisy readings.
//!
//! The state is a level and its rate with their covariance. Between readings the rate wanders by white-noise acceleration of
//! density `q`, so a step of `h` hours adds `q · [h³/3, h²/2; h²/2, h]` to the covariance (Bar-Shalom, Li & Kirubarajan 2001,
//! Estimation with Applications to Tracking and Navigation, section 6.2.2, from memory). A reading is the level plus
//! independent noise of known variance. With one scalar reading the update is written so that every entry of the new
//! covariance, and its determinant, is a sum and product of terms that are not negative: rounding cannot make it indefinite.
//!
//! The level's unit is the caller's (millimetres, say); rates are that unit per hour, `q` is unit²/h³.

use serde::{Deserialize, Serialize};

/// A level and its rate, as far as the readings so far tell.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct LevelRateFilter {
    level: f64,
    rate: f64,
    level_variance: f64,
    covariance: f64,
    rate_variance: f64,
}

/// How far a reading lies from what was expected of it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Innovation {
    /// Reading less expectation.
    pub value: f64,
    /// Variance of that difference, if level, rate and noise are as assumed.
    pub variance: f64,
}

impl Innovation {
    /// The difference in its own standard deviations: what a gate compares.
    pub fn standardised(&self) -> f64 {
        self.value / self.variance.sqrt()
    }
}

impl LevelRateFilter {
    /// A level and rate known independently of each other, each with its variance (not negative).
    pub const fn start(level: f64, rate: f64, level_variance: f64, rate_variance: f64) -> Self {
        Self { level, rate, level_variance, covariance: 0.0, rate_variance }
    }

    /// The level.
    pub const fn level(&self) -> f64 {
        self.level
    }

    /// The rate, per hour.
    pub const fn rate(&self) -> f64 {
        self.rate
    }

    /// Standard deviation of the level.
    pub fn level_sd(&self) -> f64 {
        self.level_variance.sqrt()
    }

    /// Variance of the level.
    pub const fn level_variance(&self) -> f64 {
        self.level_variance
    }

    /// Standard deviation of the rate, per hour.
    pub fn rate_sd(&self) -> f64 {
        self.rate_variance.sqrt()
    }

    /// Covariance of level and rate.
    pub const fn covariance(&self) -> f64 {
        self.covariance
    }

    /// Moves on by some hours without a reading; no hours, or fewer, change nothing.
    pub fn predict(&mut self, hours: f64, acceleration_density: f64) {
        if hours > 0.0 {
            let (h, q) = (hours, acceleration_density);
            self.level += h * self.rate;
            let grown = self.level_variance + h * (2.0 * self.covariance + h * self.rate_variance);
            // certainty comes from readings alone: a variance is never rounded below zero
            self.level_variance = grown.max(0.0) + q * h * h * h / 3.0;
            self.covariance += h * self.rate_variance + q * h * h / 2.0;
            self.rate_variance += q * h;
        }
    }

    /// What a reading would say, without taking it in: for a gate.
    pub fn innovation(&self, measured: f64, variance: f64) -> Innovation {
        Innovation { value: measured - self.level, variance: self.level_variance + variance }
    }

    /// Takes in a reading with the variance of its noise, which is above zero.
    ///
    /// A reading or variance that makes no sense (not finite, not above zero) changes nothing: one bad number must not
    /// poison every later estimate.
    pub fn update(&mut self, measured: f64, variance: f64) {
        if !measured.is_finite() || !variance.is_finite() || variance <= 0.0 {
            return;
        }
        let innovation = self.innovation(measured, variance);
        let per_unit = innovation.value / innovation.variance;
        self.level += self.level_variance * per_unit;
        self.rate += self.covariance * per_unit;

        let kept = variance / innovation.variance;
        let determinant =
            (self.level_variance * self.rate_variance - self.covariance * self.covariance).max(0.0);
        self.rate_variance = determinant / innovation.variance + self.rate_variance * kept;
        self.level_variance *= kept;
        self.covariance *= kept;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn close(a: f64, b: f64) -> bool {
        (a - b).abs() <= 1e-9 * (1.0 + a.abs().max(b.abs()))
    }

    proptest! {
        /// Passing time in two steps is passing it in one.
        #[test]
        fn time_may_be_passed_in_steps(first in 0.001..50.0_f64, second in 0.001..50.0_f64, q in 0.0..2.0_f64) {
            let mut once = LevelRateFilter::start(1000.0, 2.0, 9.0, 0.5);
            once.predict(0.7, q);
            once.update(1002.0, 4.0);
            let mut twice = once;
            once.predict(first + second, q);
            twice.predict(first, q);
            twice.predict(second, q);
            prop_assert!(close(once.level(), twice.level()) && close(once.level_sd(), twice.level_sd()));
            prop_assert!(close(once.covariance(), twice.covariance()) && close(once.rate_sd(), twice.rate_sd()));
        }

        /// No order of steps and readings, however extreme, makes the covariance impossible.
        #[test]
        fn covariance_stays_possible(
            steps in prop::collection::vec((-9.0..3.0_f64, -12.0..6.0_f64, -1e3..1e3_f64), 1..200),
            q in -9.0..3.0_f64,
        ) {
            let mut state = LevelRateFilter::start(0.0, 0.0, 1e6, 1e6);
            for (hours, variance, measured) in steps {
                state.predict(10_f64.powf(hours), 10_f64.powf(q));
                let rate_sd = state.rate_sd();
                state.update(measured, 10_f64.powf(variance));
                prop_assert!(state.level().is_finite() && state.rate().is_finite());
                prop_assert!(state.level_sd() > 0.0 && state.rate_sd() > 0.0);
                prop_assert!(state.rate_sd() <= rate_sd * (1.0 + 1e-9), "a reading took certainty away");
                let correlation = state.covariance() / state.level_sd() / state.rate_sd();
                prop_assert!(correlation.abs() <= 1.0 + 1e-6, "{correlation}");
            }
        }
    }

    /// Without process noise and with nothing known before, the filter is least squares on a straight line, whose slope has
    /// the standard deviation √(12 σ² / (n (n² − 1))) / Δt (Kay 1993, Fundamentals of Statistical Signal Processing:
    /// Estimation Theory, example 3.7 on fitting a line, from memory): 0.89 mm/h for σ = 2 mm and 60 readings a minute apart.
    #[test]
    fn an_hour_of_readings_reaches_the_least_variance_of_a_slope() {
        let mut state = LevelRateFilter::start(0.0, 0.0, 1e10, 1e10);
        let n = 60.0_f64;
        for minute in 0..60 {
            if minute > 0 {
                state.predict(1.0 / 60.0, 0.0);
            }
            state.update(1200.0 + 3.0 * f64::from(minute) / 60.0, 4.0);
        }
        let bound = (12.0 * 4.0 / (n * (n * n - 1.0))).sqrt() * 60.0;
        assert!((state.rate_sd() / bound - 1.0).abs() < 1e-6, "{} {bound}", state.rate_sd());
        assert!((state.rate() - 3.0).abs() < 1e-4, "{}", state.rate());
    }

    #[test]
    fn what_makes_no_sense_changes_nothing() {
        let before = LevelRateFilter::start(1000.0, 1.0, 4.0, 0.1);
        let mut state = before;
        state.predict(0.0, 1.0);
        state.predict(-1.0, 1.0);
        state.predict(f64::NAN, 1.0);
        for (measured, variance) in
            [(f64::NAN, 1.0), (f64::INFINITY, 1.0), (1.0, 0.0), (1.0, -1.0), (1.0, f64::NAN)]
        {
            state.update(measured, variance);
        }
        assert_eq!(state, before);
    }

    #[test]
    fn an_innovation_is_measured_by_its_own_spread() {
        let state = LevelRateFilter::start(1000.0, 1.0, 12.0, 0.1);
        let innovation = state.innovation(1012.0, 4.0);
        assert!((innovation.standardised() - 3.0).abs() < 1e-12);
    }

    #[test]
    fn the_state_survives_being_written_down() {
        let mut state = LevelRateFilter::start(1000.0, 1.0, 12.0, 0.1);
        state.predict(0.3, 0.02);
        state.update(1000.7, 4.0);
        let read: LevelRateFilter = serde_json::from_str(&serde_json::to_string(&state).unwrap()).unwrap();
        assert_eq!(read, state);
    }
}
