//! How a sample errs about the edge, and how much a sample counts that errs as the one before did.

use serde::{Deserialize, Serialize};

use crate::track::ring::Sample;

/// Share of the samples whose noise is wider than the ranger's own (judged: sway, a mist).
const WIDE_SHARE: f64 = 0.08;
/// Their noise is so many times as wide (judged).
const WIDE_TIMES: f64 = 4.0;
/// Share of the samples that tell nothing of the edge (judged).
const STRAY_SHARE: f64 = 0.02;
/// These lie anywhere within the reach of a ranger, m (common practice).
const STRAY_OVER_M: f64 = 1.0;

/// Bounds of a ranger's own noise, m (common practice: what 40 kHz rangers report to, and what would be no ranger).
const OWN_NOISE_M: std::ops::RangeInclusive<f64> = 0.0007..=0.02;

/// A ranger's own noise, m, from the differences of successive samples (measured): half of their interquartile range, as a normal
/// distribution has it. What the edge does from sample to sample is the same for all and falls out; means of many samples are passed over.
pub(super) fn of_differences(samples: &[(Sample, u32)]) -> f64 {
    let mut steps: Vec<f64> = samples
        .windows(2)
        .filter_map(|pair| match pair {
            [(before, 1), (after, 1)] => Some(after.position_m - before.position_m),
            _ => None,
        })
        .collect();
    steps.sort_unstable_by(f64::total_cmp);
    let quartile = |number: usize| steps.get(steps.len() * number / 4).copied();
    // of a difference of two samples the interquartile range is 1.349 √2 standard deviations of one
    let noise_m = quartile(3).zip(quartile(1)).map_or(0.0, |(upper, lower)| (upper - lower) / 1.908);
    noise_m.clamp(*OWN_NOISE_M.start(), *OWN_NOISE_M.end())
}

/// Errors of a sample: normal with the ranger's own variance, a wider normal, and a uniform part for strays.
#[derive(Debug, Clone, Copy)]
pub struct Noise {
    variance_m2: f64,
    wide_share: f64,
    stray_share: f64,
}

impl Noise {
    /// The mixture about a ranger's own noise, m, above zero.
    pub fn of_ranger(noise_m: f64) -> Self {
        Self { variance_m2: noise_m * noise_m, wide_share: WIDE_SHARE, stray_share: STRAY_SHARE }
    }

    /// Normal noise alone.
    pub const fn normal(variance_m2: f64) -> Self {
        Self { variance_m2, wide_share: 0.0, stray_share: 0.0 }
    }

    /// Weight and variance of each normal component.
    pub(super) fn components(&self) -> [(f64, f64); 2] {
        let normal = 1.0 - self.stray_share;
        [
            (normal * (1.0 - self.wide_share), self.variance_m2),
            (normal * self.wide_share, self.variance_m2 * WIDE_TIMES * WIDE_TIMES),
        ]
    }

    /// Density of a stray, per m.
    pub(super) fn stray_density(&self) -> f64 {
        self.stray_share / STRAY_OVER_M
    }
}

/// The least exponent on the likelihood of a sample (judged). Without it an opening of a course that no hypothesis knows, whose every
/// sample errs as the last did, would count for nothing, and all of it be taken for strays.
pub(super) const LEAST_EXPONENT: f64 = 0.2;
/// Samples over which the correlation is taken.
const OVER_SAMPLES: f64 = 60.0;
/// A standardised innovation counts as no more than this: a stray tells nothing of slow noise.
const BOUND: f64 = 3.0;

/// The correlation of the best hypothesis's errors from sample to sample (measured, running).
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub(super) struct Tempering {
    before: f64,
    product: f64,
    square: f64,
}

impl Tempering {
    pub(super) const fn new() -> Self {
        Self { before: 0.0, product: 0.0, square: 1.0 }
    }

    /// Takes the best hypothesis's standardised innovation.
    pub(super) fn take(&mut self, standardised: f64) {
        let bounded = standardised.clamp(-BOUND, BOUND);
        self.product += (bounded * self.before - self.product) / OVER_SAMPLES;
        self.square += (bounded * bounded - self.square) / OVER_SAMPLES;
        self.before = bounded;
    }

    /// The exponent on the likelihood of a sample: the share of independent samples among samples of a first-order autoregression,
    /// (1 − ρ)/(1 + ρ), no less than the bound.
    pub(super) fn exponent(&self) -> f64 {
        let correlation = (self.product / self.square.max(1e-9)).clamp(0.0, 1.0);
        ((1.0 - correlation) / (1.0 + correlation)).max(LEAST_EXPONENT)
    }
}
