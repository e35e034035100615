//! What people recorded, in sentences.

use bloom_model::event::SignDetails;
use bloom_model::sign::{MovedMounts, Sign};
use bloom_model::time::Time;

use super::AGAINST_SAP_IN_AN_EYE;
use crate::words::Words;

/// A sign of one kind was recorded so often that the bloom keeps no more of it: a sentence with a space before it.
fn too_many(most: usize) -> String {
    format!(
        " That is the {most}th of this bloom: from here on the first and the newest count, and the others are in the record only. Is a \
         button stuck?"
    )
}

impl Words<'_> {
    /// What a person recorded, or took back, has been taken up.
    pub(crate) fn recorded(&self, SignDetails { sign, too_many: most, .. }: &SignDetails) -> String {
        let bench = self.bench;
        let recorded = match sign {
            Sign::Plain(sign) => format!("Recorded at {bench}: \"{}\".", sign.name()),
            Sign::Withdrawn(sign) => format!("Taken back at {bench}: \"{}\".", sign.name()),
            Sign::HeightWithdrawn => format!("Taken back at {bench}: the taped height."),
            Sign::MountMoved(moved) => format!("Recorded at {bench}: {}.", self.hung_anew(moved)),
        };
        recorded + &most.map_or(String::new(), too_many)
    }

    /// Asks when a sign was that was sent, without its time, while the service did not listen: after `from`, where that is known.
    pub(crate) fn undated(&self, sign: &Sign, from: Option<Time>, until: Time) -> String {
        let bench = self.bench;
        let until = self.date_clock(until);
        let sent = match from {
            Some(from) => format!("between {} and {until}", self.date_clock(from)),
            None => format!("before {until}"),
        };
        let (what, typed) = match sign {
            Sign::Plain(sign) => (sign.name(), format!("sign {bench} {}", sign.name())),
            Sign::Withdrawn(sign) => (sign.name(), format!("sign {bench} {} --withdraw", sign.name())),
            Sign::HeightWithdrawn => ("the taped height", format!("tape {bench} --withdraw")),
            Sign::MountMoved(MovedMounts { tip_m, rim_m }) => {
                let option = |name: &str, metres: Option<f64>| {
                    metres.map_or(String::new(), |metres| format!(" --{name} {metres}"))
                };
                let distances = option("tip", *tip_m) + &option("rim", *rim_m);
                ("mount-moved", format!("sign {bench} mount-moved{distances}"))
            }
        };
        format!(
            "When was \"{what}\" at {bench}? It was sent {sent}, while nobody listened, and nothing follows from it yet. Record it: \
             anthesisd {typed} --at \"18:00\"."
        )
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
    pub(crate) fn fruit_ripe(&self) -> String {
        format!(
            "Fruit of {} is ripe, as recorded: harvest, clean, sow fresh. Gloves and goggles.{AGAINST_SAP_IN_AN_EYE}",
            self.bench
        )
    }
}
