//! How well growth so far fits a bud that opens so many days from now.
//!
//! Growth a day as a share of its peak, by the days `u` that are left to the opening: `q` over a plateau of `p` days; then, going
//! back, up to the peak over `L` days as `q + (1 − q)(3z² − 2z³)` with `z = (u − p)/L`; two days at the peak; before it
//! `exp(−k·days)`. `L`, `q`, `p` and `k` are taken at a few values from the profile's published spreads, the peak `A` likewise,
//! and the fits of all of them are added up, each by its weight. The height now plus what is still to grow must make a plant
//! whose height stands in the published ratio to its peak.

use serde::{Deserialize, Serialize};

use super::lasting::Span;
use crate::profile::Profile;
use crate::time::Time;

/// Growth over a span of about a day.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Grown {
    /// Its beginning.
    pub from: Time,
    /// Its end.
    pub until: Time,
    /// Growth, cm a day.
    pub rate_cm_day: f64,
    /// Its standard deviation, cm a day.
    pub sd_cm_day: f64,
}

/// Newest spans that are fitted: older ones tell of the bud's youth only.
const MOST_SPANS: usize = 10;
/// Days at the peak.
const AT_PEAK_D: f64 = 2.0;
/// From growth at half of its peak to its end at the opening there is a share of the whole decline: `L` over that time. Half of
/// the smooth decline is passed at 0.36 to 0.48 of it, for last shares of 0.3 to 0.05.
const DECLINE_BY_SLOWING: f64 = 2.2;
/// Real days depart from the curve by this share of the curve (judged on the published series).
const OF_THE_CURVE: f64 = 0.12;
/// They depart by this share of the peak besides (judged on the published series).
const OF_THE_PEAK: f64 = 0.06;
/// A day further off than about three standard deviations is a measurement gone wrong, and tells no more than that.
const FAR_OFF: f64 = 9.0;
/// A day that is above its curve is followed by others above it: departures are an autoregression of the first order, of which this much is
/// left after a day. Judged: in quiet drawn seasons more would be better, on the published series less (sim/FIGURES.md).
const KEPT_A_DAY: f64 = 0.6;
/// Peaks that are tried, in standard deviations from the plant's own.
const PEAK_DEVIATES: [f64; 6] = [-1.5, -0.9, -0.3, 0.3, 0.9, 1.5];
/// Durations of the decline that are tried, in standard deviations: the middles of five parts that are equally likely.
const DECLINE_DEVIATES: [f64; 5] = [-1.2816, -0.5244, 0.0, 0.5244, 1.2816];
/// Weights of the rates of early growth that are tried: of the 10th, 50th and 90th percentile (Swanson's rule, from memory).
const EARLY_WEIGHTS: [f64; 3] = [0.3, 0.4, 0.3];
/// Weights of the last shares that are tried.
const LAST_SHARE_WEIGHTS: [f64; 3] = [0.25, 0.45, 0.3];
/// Plateaus that are tried, as shares of the longest, each with its weight.
const PLATEAU_SHARES: [(f64, f64); 3] = [(0.25, 0.45), (0.55, 0.33), (0.9, 0.22)];

/// One course that growth may take.
#[derive(Debug, Clone, Copy)]
struct Course {
    plateau_d: f64,
    last_share: f64,
    decline_d: f64,
    early_per_day: f64,
    log_weight: f64,
}

impl Course {
    /// Growth, in days of peak growth, over the last `left_d` days before the opening.
    fn grown(&self, left_d: f64) -> f64 {
        let (p, q, l) = (self.plateau_d, self.last_share, self.decline_d);
        if left_d <= p {
            return q * left_d;
        }
        let z = ((left_d - p) / l).min(1.0);
        let sum = q * p + l * (q * z + (1.0 - q) * z * z * z * (1.0 - 0.5 * z));
        let beyond = left_d - p - l;
        if beyond <= 0.0 {
            sum
        } else if beyond <= AT_PEAK_D {
            sum + beyond
        } else {
            let k = self.early_per_day;
            sum + AT_PEAK_D + (1.0 - (-k * (beyond - AT_PEAK_D)).exp()) / k
        }
    }
}

fn courses(profile: &Profile, slowing: Span) -> Vec<Course> {
    let declines = DECLINE_DEVIATES.map(|z| DECLINE_BY_SLOWING * slowing.at(z).max(0.3));
    let shares =
        [profile.last_growth_share_low, profile.last_growth_share_likely, profile.last_growth_share_high];
    let (low, high) = (profile.early_growth_low_pct_day / 100.0, profile.early_growth_high_pct_day / 100.0);
    let early = [low, (low * high).sqrt(), high];
    let mut courses = Vec::with_capacity(63);
    for (early_per_day, early_weight) in early.into_iter().zip(EARLY_WEIGHTS) {
        for decline_d in declines {
            for (last_share, weight) in shares.into_iter().zip(LAST_SHARE_WEIGHTS) {
                let weight = (1.0 - profile.plateau_share) * early_weight * weight / 5.0;
                let log_weight = weight.ln();
                courses.push(Course { plateau_d: 0.0, last_share, decline_d, early_per_day, log_weight });
            }
        }
        for decline_d in [declines[1], declines[3]] {
            for (share, weight) in PLATEAU_SHARES {
                let log_weight = (profile.plateau_share * early_weight * weight / 2.0).ln();
                let plateau_d = share * profile.plateau_latest_d;
                let last_share = shares[0];
                courses.push(Course { plateau_d, last_share, decline_d, early_per_day, log_weight });
            }
        }
    }
    courses
}

/// How well growth so far fits an opening on one day, and what is still to grow until then.
#[derive(Debug, Clone, Copy)]
pub(super) struct Fit {
    /// The logarithm of how likely growth so far is, up to a constant that all days share.
    pub(super) log: f64,
    /// Growth until then, mean over the courses that fit, cm.
    pub(super) still_cm: f64,
    /// Mean of its square, cm².
    pub(super) still_squared_cm2: f64,
}

/// The fit of each of `days` from now; `None` without growth.
pub(super) fn fits(
    days: &[f64],
    growth: &[Grown],
    height_m: Option<f64>,
    now: Time,
    profile: &Profile,
    slowing: Span,
) -> Option<Vec<Fit>> {
    let growth = &growth[growth.len().saturating_sub(MOST_SPANS)..];
    if growth.is_empty() {
        return None;
    }
    let courses = courses(profile, slowing);
    let peak = Span::new(
        profile.peak_growth_low_cm_day,
        profile.peak_growth_likely_cm_day,
        profile.peak_growth_high_cm_day,
    );
    let tall = Span::new(
        profile.height_by_peak_low_d,
        profile.height_by_peak_likely_d,
        profile.height_by_peak_high_d,
    );
    let peaks = PEAK_DEVIATES.map(|z| (peak.at(z), -0.5 * z * z));
    let mut shares = [0.0; MOST_SPANS];
    let kept = departures_kept(growth);
    let fit = |&ahead: &f64| {
        let mut total = FitSum::default();
        for course in &courses {
            let still_to_grow = course.grown(ahead);
            for (share, span) in shares.iter_mut().zip(growth) {
                let (newer, older) = (now.days_since(span.until), now.days_since(span.from));
                *share = (course.grown(ahead + older) - course.grown(ahead + newer)) / (older - newer);
            }
            for (peak_cm, log_weight) in peaks {
                let mut log = log_fit(&shares, &kept, growth, peak_cm) + log_weight + course.log_weight;
                if let Some(height_m) = height_m {
                    let final_by_peak = (100.0 * height_m.max(0.0)) / peak_cm + still_to_grow;
                    log += tall.log_normal(final_by_peak);
                }
                total.add(log, peak_cm * still_to_grow);
            }
        }
        total.fit()
    };
    Some(days.iter().map(fit).collect())
}

/// What is left at the end of each span of a departure at the end of the one before; nothing of the first.
fn departures_kept(growth: &[Grown]) -> [f64; MOST_SPANS] {
    let mut kept = [0.0; MOST_SPANS];
    for (kept, pair) in kept.iter_mut().skip(1).zip(growth.windows(2)) {
        *kept = KEPT_A_DAY.powf(pair[1].until.days_since(pair[0].until).max(0.0));
    }
    kept
}

/// The logarithm of the likelihood of each span's growth under a curve with this peak, given the spans before it: the departure from the
/// curve is followed from span to span (Kalman 1960), as a multiple of its own standard deviation.
fn log_fit(shares: &[f64], kept: &[f64], growth: &[Grown], peak_cm: f64) -> f64 {
    let (mut departure, mut variance, mut log) = (0.0, 1.0, 0.0);
    for ((share, kept), span) in shares.iter().zip(kept).zip(growth) {
        departure *= kept;
        variance = 1.0 - kept * kept * (1.0 - variance);
        let expected = peak_cm * share;
        let departs_squared = (OF_THE_CURVE * expected).powi(2) + (OF_THE_PEAK * peak_cm).powi(2);
        let departs = departs_squared.sqrt();
        let off = span.rate_cm_day - expected - departs * departure;
        let spread = departs_squared * variance + span.sd_cm_day * span.sd_cm_day;
        let levels_off = 1.0 + off * off / spread / FAR_OFF;
        let weight = span.until.days_since(span.from).min(1.0);
        log -= 0.5 * weight * (off * off / spread / levels_off + spread.ln());
        // a measurement gone wrong says little of the days after it
        let gain = departs * variance / spread / levels_off;
        departure += gain * off;
        variance -= gain * departs * variance;
    }
    log
}

/// Adds up fits given by their logarithms, and what is still to grow under each.
#[derive(Debug, Clone, Copy)]
struct FitSum {
    highest: f64,
    sum: f64,
    still: f64,
    still_squared: f64,
}

impl Default for FitSum {
    fn default() -> Self {
        Self { highest: f64::NEG_INFINITY, sum: 0.0, still: 0.0, still_squared: 0.0 }
    }
}

impl FitSum {
    fn add(&mut self, log: f64, still_cm: f64) {
        if log > self.highest {
            let shrinks = (self.highest - log).exp();
            self.sum *= shrinks;
            self.still *= shrinks;
            self.still_squared *= shrinks;
            self.highest = log;
        }
        // what is e^-30 of the greatest is not seen in the sum
        if log > self.highest - 30.0 {
            let weight = (log - self.highest).exp();
            self.sum += weight;
            self.still += weight * still_cm;
            self.still_squared += weight * still_cm * still_cm;
        }
    }

    fn fit(self) -> Fit {
        Fit {
            log: self.highest + self.sum.ln(),
            still_cm: self.still / self.sum,
            still_squared_cm2: self.still_squared / self.sum,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_course_grows_as_its_rate_adds_up() {
        let course =
            Course { plateau_d: 3.0, last_share: 0.2, decline_d: 6.0, early_per_day: 0.07, log_weight: 0.0 };
        let rate = |left: f64| (course.grown(left + 1e-4) - course.grown(left - 1e-4)) / 2e-4;
        assert!((rate(1.0) - 0.2).abs() < 1e-6, "plateau");
        assert!((rate(6.0) - 0.6).abs() < 1e-6, "half way down between 1 and 0.2");
        assert!((rate(10.0) - 1.0).abs() < 1e-6, "at the peak");
        assert!((rate(21.0) - (-0.7_f64).exp()).abs() < 1e-6, "ten days before the peak");
    }

    #[test]
    fn fits_add_up_by_their_weight() {
        let mut sum = FitSum::default();
        for (weight, still_cm) in [(0.5_f64, 10.0), (3.0, 20.0), (0.25, 40.0), (2.0, 5.0)] {
            sum.add(weight.ln(), still_cm);
        }
        let fit = sum.fit();
        assert!((fit.log - 5.75_f64.ln()).abs() < 1e-12);
        assert!((fit.still_cm - 85.0 / 5.75).abs() < 1e-12);
        assert!((fit.still_squared_cm2 - 1700.0 / 5.75).abs() < 1e-9);
    }
}
