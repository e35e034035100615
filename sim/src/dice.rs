//! Random draws, one independent stream per concern, so that switching one trouble on leaves everything else as it was.

use rand::{RngExt, SeedableRng};
use rand_chacha::ChaCha8Rng;
use rand_distr::{Distribution, StandardNormal};

use crate::trouble::Trouble;

/// What a stream of draws is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Concern {
    /// The plant: when, how tall, how it opens.
    Plant,
    /// Weather and set points of the house.
    Climate,
    /// White noise of the thermometer, hygrometer and spadix thermometer.
    AirNoise,
    /// What people book by hand.
    Bookings,
    /// When the rangers are hung.
    Hanging,
    /// What of the edge the side ranger hears.
    Edge,
    /// A ranger's own noise; 0 is the tip, 1 the rim.
    RangerNoise(u8),
    /// When and how the side ranger stops seeing the plant.
    SideLoss,
    /// One trouble in one place; 0 is the tip or the house, 1 the rim.
    Trouble(Trouble, u8),
}

impl Concern {
    const fn stream(self) -> u64 {
        match self {
            Self::Plant => 0,
            Self::Climate => 1,
            Self::AirNoise => 2,
            Self::Bookings => 3,
            Self::Edge => 4,
            Self::Hanging => 5,
            Self::SideLoss => 6,
            Self::RangerNoise(place) => 8 + place as u64,
            Self::Trouble(trouble, place) => 64 + 4 * trouble as u64 + place as u64,
        }
    }
}

/// A stream of draws.
#[derive(Debug, Clone)]
pub struct Dice(ChaCha8Rng);

impl Dice {
    /// The stream of a concern in the season of that seed.
    pub fn new(seed: u64, concern: Concern) -> Self {
        let mut generator = ChaCha8Rng::seed_from_u64(seed);
        generator.set_stream(concern.stream());
        Self(generator)
    }

    /// A stream that takes a single draw from this one however many it gives itself.
    pub fn branch(&mut self) -> Self {
        Self(ChaCha8Rng::seed_from_u64(self.0.random()))
    }

    /// Evenly between two bounds.
    pub fn between(&mut self, from: f64, to: f64) -> f64 {
        from + (to - from) * self.0.random::<f64>()
    }

    /// Evenly in the logarithm between two positive bounds.
    pub fn log_between(&mut self, from: f64, to: f64) -> f64 {
        self.between(from.ln(), to.ln()).exp()
    }

    /// Triangular: most often near `mode`, never outside the bounds.
    pub fn around(&mut self, from: f64, mode: f64, to: f64) -> f64 {
        let draw = self.0.random::<f64>();
        let split = (mode - from) / (to - from);
        if draw < split {
            from + (draw * (to - from) * (mode - from)).sqrt()
        } else {
            to - ((1.0 - draw) * (to - from) * (to - mode)).sqrt()
        }
    }

    /// Normal with mean 0 and standard deviation 1.
    pub fn normal(&mut self) -> f64 {
        StandardNormal.sample(&mut self.0)
    }

    /// Waiting time between rare events that come `mean` apart.
    pub fn waiting(&mut self, mean: f64) -> f64 {
        -mean * (1.0 - self.0.random::<f64>()).ln()
    }

    /// True with this probability.
    pub fn chance(&mut self, probability: f64) -> bool {
        self.0.random::<f64>() < probability
    }

    /// +1 or -1.
    pub fn sign(&mut self) -> f64 {
        if self.chance(0.5) { 1.0 } else { -1.0 }
    }
}
