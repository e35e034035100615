//! When it will be fully open, from the hypotheses that are openings.

use super::Belief;
use crate::event::FullOpenTimes;
use crate::profile::Profile;
use crate::time::Time;

/// Spread of a duration about the one tried, in its logarithm, that no sample takes away, for an edge is no formula (judged: with 0.03 the
/// window held 63 % of drawn openings, with this some 70 to 90 % in two blocks of seasons).
const LEAST_SPREAD: f64 = 0.15;
/// Halvings of the span in which a quantile lies: to a second within two days.
const HALVINGS: u32 = 18;

impl Belief {
    /// The 10th, 50th and 90th percentile of the later of full opening and now, given that it opens; `None` where no opening is left.
    pub(super) fn full_open_times(&self, now: Time, profile: &Profile) -> Option<FullOpenTimes> {
        let now_h = now.hours_since(self.first);
        let mut parts = Vec::new();
        for (hypothesis, weight) in self.weighed(profile) {
            if hypothesis.course.is_opening() && weight > 0.0 {
                // evenly over its step: the standard deviation of that
                let spread = (hypothesis.half_step / 3.0_f64.sqrt()).hypot(LEAST_SPREAD);
                parts.push((weight, hypothesis.began_h, hypothesis.duration_h, spread));
            }
        }
        let all: f64 = parts.iter().map(|(weight, ..)| weight).sum();
        if all <= 0.0 {
            return None;
        }
        let until_h = parts.iter().map(|(_, began_h, duration_h, _)| began_h + 2.0 * duration_h);
        let until_h = until_h.fold(now_h, f64::max);
        let below = |hour: f64| {
            let shares = parts.iter().filter(|(_, began_h, ..)| hour > *began_h).map(
                |(weight, began_h, duration_h, spread)| {
                    let deviate = ((hour - began_h) / duration_h).ln() / spread;
                    weight * 0.5 * libm::erfc(-deviate / std::f64::consts::SQRT_2)
                },
            );
            shares.sum::<f64>() / all
        };
        let quantile = |share: f64| {
            let (mut low_h, mut high_h) = (now_h, until_h);
            if below(now_h) >= share {
                return now.to_the_minute();
            }
            for _ in 0..HALVINGS {
                let middle_h = 0.5 * (low_h + high_h);
                if below(middle_h) < share { low_h = middle_h } else { high_h = middle_h }
            }
            self.first.plus_hours(0.5 * (low_h + high_h)).to_the_minute()
        };
        Some(FullOpenTimes { earliest: quantile(0.1), likely: quantile(0.5), latest: quantile(0.9) })
    }
}
