//! When a rim that has set out will be fully open, and when it is.

use super::{Evidence, NOISE_FLOOR_M};
use crate::event::FullOpenTimes;
use crate::growth::line;
use crate::profile::Profile;
use crate::time::Time;
use crate::track::ring::Rings;

/// Hours from crack to full opening of a rim that sets out on such a curve.
///
/// With the rim at `A·(1 − cos(πt/T))/2` the advance starts as `c·t²` with `c = A·(π/2T)²`, so that `T = (π/2)·√(A/c)`.
fn curved_h(curve_m_h2: f64, profile: &Profile) -> f64 {
    std::f64::consts::FRAC_PI_2 * (profile.full_advance_cm / 100.0 / curve_m_h2).sqrt()
}

/// When it will be fully open, from what openings of this kind take and from how this one has curved so far: both are combined
/// as normal distributions of ln T, each by its precision.
pub fn full_open_times(evidence: &Evidence, now: Time, profile: &Profile) -> FullOpenTimes {
    let prior_mean = profile.crack_to_full_likely_h.ln();
    let prior_sd = (profile.crack_to_full_latest_h / profile.crack_to_full_earliest_h).ln() / 2.563;
    let gone_h = now.hours_since(evidence.began).max(0.1);
    let (mean, sd) = if let Some(curve_m_h2) = evidence.curve_m_h2 {
        // half the relative spread of the full advance, and 0.45 for the shape and the unsure crack (judgement)
        let curved_sd = (0.5 * profile.full_advance_sd_cm / profile.full_advance_cm).hypot(0.45);
        let (wp, wc) = (prior_sd.powi(-2), curved_sd.powi(-2));
        ((wp * prior_mean + wc * curved_h(curve_m_h2, profile).ln()) / (wp + wc), (wp + wc).powf(-0.5))
    } else {
        (prior_mean, prior_sd)
    };
    let at = |z: f64| {
        let hours = (mean + z * sd).exp();
        // an opening still under way at `now` has not been full before it
        evidence.began.plus_hours(hours.max(gone_h)).max(now).to_the_minute()
    };
    // one that began like the others may slow down half way (Ohio State 2011: 84 cm across in 5 h, 112 cm the next morning)
    let slow = evidence.began.plus_hours(profile.crack_to_full_latest_h).to_the_minute();
    FullOpenTimes { earliest: at(-1.2816), likely: at(0.0), latest: at(1.2816).max(slow) }
}

/// Whether the rim has levelled off far enough out: its rate over the last three quarters of an hour is a small share of its
/// fastest.
pub fn levelled_off(rings: &Rings, now: Time, fastest_m_h: f64, least_m: f64) -> bool {
    let points: Vec<(f64, f64)> = rings
        .minutes_from(now.plus_hours(-0.75))
        .map(|sample| (sample.time.hours_since(now), sample.position_m))
        .collect();
    let covers = points.first().is_some_and(|(hours, _)| *hours <= -0.6);
    covers
        && line::fit(&points, NOISE_FLOOR_M)
            .is_some_and(|line| line.level_m >= least_m && line.rate_m_h.abs() < 0.1 * fastest_m_h)
}
