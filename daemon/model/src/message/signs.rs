//! What people recorded, in sentences.

use super::{AGAINST_SAP_IN_AN_EYE, Words};
use crate::sign::{MovedMounts, Sign};

/// A sign of one kind was recorded so often that the bloom keeps no more of it: a sentence with a space before it.
pub fn too_many(most: usize) -> String {
    format!(
        " That is the {most}th of this bloom: from here on the first and the newest count, and the others are in the record only. Is a \
         button stuck?"
    )
}

impl Words<'_> {
    /// What a person recorded, or took back, has been taken up.
    pub fn recorded(&self, sign: &Sign) -> String {
        let bench = self.bench;
        match sign {
            Sign::Plain(sign) => format!("Recorded at {bench}: \"{}\".", sign.name()),
            Sign::Withdrawn(sign) => format!("Taken back at {bench}: \"{}\".", sign.name()),
            Sign::HeightWithdrawn => format!("Taken back at {bench}: the taped height."),
            Sign::MountMoved(moved) => format!("Recorded at {bench}: {}.", self.hung_anew(moved)),
        }
    }

    fn hung_anew(&self, moved: &MovedMounts) -> String {
        let overhead =
            moved.tip_m.map(|tip_m| format!("overhead ranger hung anew, at {}", self.height(tip_m)));
        let side = moved
            .rim_m
            .map(|rim_m| format!("side ranger hung anew, {} from the spathe edge", self.height(rim_m)));
        overhead.into_iter().chain(side).collect::<Vec<_>>().join("; ")
    }

    /// The fruit is ripe.
    pub fn fruit_ripe(&self) -> String {
        format!(
            "Fruit of {} is ripe, as recorded: harvest, clean, sow fresh. Gloves and goggles.{AGAINST_SAP_IN_AN_EYE}",
            self.bench
        )
    }
}
