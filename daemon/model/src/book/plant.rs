//! A plant of the house, as the book has it.

use schemars::JsonSchema;
use serde::Serialize;

use super::entry::{Entry, Fact, PlantCard};
use crate::time::Time;

/// A plant.
#[derive(Debug, Clone, Default, PartialEq, Serialize, JsonSchema)]
pub struct Plant {
    /// When it was taken up; `None` where only things done to it were booked.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub added: Option<Time>,
    /// Taxon, origin, parents.
    #[serde(flatten)]
    pub card: PlantCard,
    /// Weighings of the corm, oldest first.
    pub weighings: Vec<Weighing>,
    /// Repottings, oldest first.
    pub repottings: Vec<Repotting>,
    /// When dormancy began or ended, oldest first.
    pub rests: Vec<Rest>,
    /// When it died or left the house.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub gone: Option<Time>,
}

/// A weighing.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, JsonSchema)]
pub struct Weighing {
    /// When.
    pub time: Time,
    /// Mass, kg.
    pub mass_kg: f64,
}

/// A repotting.
#[derive(Debug, Clone, PartialEq, Serialize, JsonSchema)]
pub struct Repotting {
    /// When.
    pub time: Time,
    /// Volume of the pot, litres.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub pot_litres: Option<f64>,
    /// The mix.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub mix: Option<String>,
}

/// The beginning or the end of dormancy.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, JsonSchema)]
pub struct Rest {
    /// When.
    pub time: Time,
    /// It began (true), or a leaf came up (false).
    pub dormant: bool,
}

impl Plant {
    /// Takes an entry about the plant; they come in the order of time.
    pub(super) fn take(&mut self, entry: &Entry) {
        let time = entry.time;
        match &entry.fact {
            Fact::PlantAdded(card) => {
                self.added = Some(time);
                self.card = card.clone();
            }
            Fact::Weighed { mass_kg } => self.weighings.push(Weighing { time, mass_kg: *mass_kg }),
            Fact::Repotted { pot_litres, mix } => {
                self.repottings.push(Repotting { time, pot_litres: *pot_litres, mix: mix.clone() });
            }
            Fact::Dormant => self.rests.push(Rest { time, dormant: true }),
            Fact::InLeaf => self.rests.push(Rest { time, dormant: false }),
            Fact::Gone => self.gone = Some(time),
            _ => {}
        }
    }
}
