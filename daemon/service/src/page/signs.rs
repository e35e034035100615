//! What a person can record by a button: the signs that fit a stage, in their words.

use bloom_model::sign::PlainSign;

/// The signs that fit a stage, those that bloom night waits for first.
pub(super) const fn fitting(stage: &str) -> &'static [PlainSign] {
    use PlainSign::{
        BractDropped, Closed, Collapsed, EdgeColoured, EdgeLoose, Emerged, Flies, FruitRipe, FruitSet,
        FullOpen, LastBractDropped, Leaf, NotOpening, Opened, PollenCollected, Pollinated, Scent,
        SpadixVisible,
    };
    match stage.as_bytes() {
        b"bud" | b"slowing" => &[
            Opened,
            NotOpening,
            EdgeLoose,
            LastBractDropped,
            BractDropped,
            EdgeColoured,
            SpadixVisible,
            Scent,
            Leaf,
            Collapsed,
        ],
        b"opening" => &[FullOpen, Pollinated, Scent, Flies, NotOpening, Closed],
        b"full-open" => &[Pollinated, Scent, Flies, PollenCollected, Closed],
        b"pollen-shed" => &[PollenCollected, Pollinated, Flies, Closed, Collapsed],
        b"closed" => &[PollenCollected, FruitSet, Collapsed],
        b"fruiting" => &[FruitRipe],
        b"aborted" => &[Opened, EdgeLoose, SpadixVisible],
        _ => &[Emerged, SpadixVisible],
    }
}

/// A sign as a person says it.
pub(super) const fn words(sign: PlainSign) -> &'static str {
    match sign {
        PlainSign::Emerged => "The bud is through the soil",
        PlainSign::SpadixVisible => "The spadix tip shows",
        PlainSign::EdgeColoured => "The edge is coloured",
        PlainSign::BractDropped => "A bract fell",
        PlainSign::LastBractDropped => "The last bract fell",
        PlainSign::EdgeLoose => "The edge is loose",
        PlainSign::Scent => "It smells",
        PlainSign::Flies => "Flies are at it",
        PlainSign::Opened => "It is opening",
        PlainSign::FullOpen => "Fully open",
        PlainSign::NotOpening => "I looked: not opening",
        PlainSign::Pollinated => "Pollinated",
        PlainSign::PollenCollected => "Pollen collected",
        PlainSign::Closed => "Closed",
        PlainSign::Collapsed => "Collapsed",
        PlainSign::FruitSet => "Fruit has set",
        PlainSign::FruitRipe => "The fruit is ripe",
        PlainSign::Leaf => "It is a leaf",
    }
}

#[cfg(test)]
mod tests {
    use bloom_model::stage::Stage;

    use super::*;

    #[test]
    fn every_sign_can_be_booked_at_some_stage_and_every_stage_has_some() {
        let stages = [
            Stage::Bud,
            Stage::Slowing,
            Stage::Opening,
            Stage::FullOpen,
            Stage::PollenShed,
            Stage::Closed,
            Stage::Fruiting,
            Stage::Aborted,
        ];
        let names: Vec<&str> = stages.iter().map(|stage| stage.name()).chain(["resting"]).collect();
        for name in &names[..8] {
            assert_ne!(fitting(name), fitting("resting"), "{name} has signs of its own");
        }
        for sign in PlainSign::ALL {
            assert!(names.iter().any(|name| fitting(name).contains(sign)), "{}", sign.name());
        }
        // what bloom night needs, by stage (the walk of deploy/HANDBOOK.md)
        assert!(fitting("bud").contains(&PlainSign::Opened));
        assert!(fitting("opening").contains(&PlainSign::Pollinated));
        assert!(fitting("pollen-shed").contains(&PlainSign::PollenCollected));
    }
}
