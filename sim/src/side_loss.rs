//! How a side ranger stops seeing the plant for good, while it or the ranger overhead goes on speaking.

use serde::{Deserialize, Serialize};

use crate::dice::{Concern, Dice};

/// What befell the side ranger.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum SideLoss {
    /// It was turned, or the pot was moved: it reads what stands behind the plant.
    Wall,
    /// A person put a stake or a barrier between.
    Barrier,
    /// Its output hangs: one figure from then on.
    Frozen,
    /// It says nothing any more.
    Dead,
}

/// It, at its hour.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct LostSide {
    pub(crate) what: SideLoss,
    pub(crate) from_h: f64,
    /// How much further away than the closed edge the wall stands, or nearer the barrier, m.
    pub(crate) apart_m: f64,
}

impl LostSide {
    /// From some hours to some days before that hour on.
    pub(crate) fn draw(seed: u64, what: SideLoss, before_h: f64) -> Self {
        let mut dice = Dice::new(seed, Concern::SideLoss);
        let from_h = (before_h - dice.log_between(4.0, 200.0)).max(0.0);
        let apart_m = match what {
            SideLoss::Barrier => dice.between(0.1, 0.6),
            _ => dice.between(0.05, 3.0),
        };
        Self { what, from_h, apart_m }
    }

    /// The distance of what the beam meets in place of the edge, from a mount that hangs so far from the closed edge, m.
    pub(crate) fn met_m(&self, mount_m: f64, edge_m: f64) -> f64 {
        match self.what {
            SideLoss::Wall => mount_m + self.apart_m,
            SideLoss::Barrier => (mount_m - self.apart_m).min(edge_m),
            SideLoss::Frozen | SideLoss::Dead => edge_m,
        }
    }
}
