//! Level and amplitude of one hypothesis, two Gaussian numbers with their covariance, and what a sample does to them.
//!
//! A sample is `level + share · amplitude + noise`. For one noise variance this is the Kalman update of a scalar observation. For
//! noise that is a mixture each component's gain enters by the chance that the sample came from it (probabilistic data association,
//! Bar-Shalom & Tse 1975, from memory), but the spread between the components does not widen the covariance: a stray echo must not
//! make a hypothesis more pliable.

use serde::{Deserialize, Serialize};

use super::noise::Noise;

/// Level and amplitude, m.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct LevelAmplitude {
    /// Where the edge stands but for the course, m.
    pub level_m: f64,
    /// How far the course goes, m.
    pub amplitude_m: f64,
    /// Variance of the level, m².
    pub level_variance: f64,
    /// Covariance of both, m².
    pub covariance: f64,
    /// Variance of the amplitude, m².
    pub amplitude_variance: f64,
}

impl LevelAmplitude {
    /// The level wanders by so much.
    pub fn predict(&mut self, variance_m2: f64) {
        self.level_variance += variance_m2;
    }

    /// What the course says where so large a share of it has been made, m, and its variance, m².
    pub fn expected(&self, share: f64) -> (f64, f64) {
        let variance =
            self.level_variance + share * (2.0 * self.covariance + share * self.amplitude_variance);
        (self.level_m + share * self.amplitude_m, variance.max(0.0))
    }

    /// Takes in a sample at that share of the course; gives the logarithm of the density that it had, per m.
    pub fn update(&mut self, measured_m: f64, share: f64, noise: &Noise) -> f64 {
        let (expected_m, variance) = self.expected(share);
        let innovation = measured_m - expected_m;
        let parts = noise.components().map(|(weight, noise_variance)| {
            let total = variance + noise_variance;
            let density = weight * (-0.5 * innovation * innovation / total).exp()
                / (std::f64::consts::TAU * total).sqrt();
            (density, total)
        });
        let density = parts.iter().fold(noise.stray_density(), |sum, (density, _)| sum + density);
        if density <= 0.0 {
            // further away than can be reckoned: it tells nothing of where the edge is
            return f64::NEG_INFINITY;
        }
        let to_level = self.level_variance + share * self.covariance;
        let to_amplitude = self.covariance + share * self.amplitude_variance;
        let (mut step, mut shrink) = (0.0, 0.0);
        for (part, total) in parts {
            step += part / density * innovation / total;
            shrink += part / density / total;
        }
        self.level_m += to_level * step;
        self.amplitude_m += to_amplitude * step;
        self.level_variance = (self.level_variance - to_level * to_level * shrink).max(0.0);
        self.covariance -= to_level * to_amplitude * shrink;
        self.amplitude_variance = (self.amplitude_variance - to_amplitude * to_amplitude * shrink).max(0.0);
        density.ln()
    }

    /// The chance that the amplitude is above a bound.
    pub fn exceeds(&self, bound_m: f64) -> f64 {
        let sd = self.amplitude_variance.sqrt().max(1e-6);
        0.5 * libm::erfc((bound_m - self.amplitude_m) / (sd * std::f64::consts::SQRT_2))
    }
}
