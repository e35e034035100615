//! What a person books: one fact about one subject at one time, with what is possible for its figures.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::time::Time;

/// One line of the book. It is never changed and never removed: a later entry corrects it, or takes it back.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Entry {
    /// Its place in the book, from 1; never given twice.
    pub number: u64,
    /// When it happened.
    pub time: Time,
    /// When it was written down.
    pub booked: Time,
    /// The plant's accession, the lot or the cross that it speaks of.
    pub subject: String,
    /// What happened.
    #[serde(flatten)]
    pub fact: Fact,
    /// Who.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub by: Option<String>,
    /// Anything else.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub note: Option<String>,
    /// The number of the entry that this one takes the place of.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub corrects: Option<u64>,
}

/// What happened to a plant, to a lot of pollen, or to a cross.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(tag = "what", rename_all = "kebab-case")]
pub enum Fact {
    /// A plant is taken up into the book.
    PlantAdded(PlantCard),
    /// Its corm was weighed.
    Weighed {
        /// Mass, kg.
        mass_kg: f64,
    },
    /// It was repotted.
    Repotted {
        /// Volume of the pot, litres.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        pot_litres: Option<f64>,
        /// The mix, in words.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        mix: Option<String>,
    },
    /// Its leaf is down: dormancy begins.
    Dormant,
    /// A leaf is up: dormancy ends.
    InLeaf,
    /// It died or left the house.
    Gone,
    /// Pollen of a plant was collected here, or came from elsewhere.
    PollenTaken(PollenTaken),
    /// A lot was put where it is kept from now on.
    PollenStored(Storage),
    /// Portions of a lot were thawed or taken out; they are not frozen again.
    PollenThawed {
        /// How many.
        portions: u32,
    },
    /// A germination test.
    PollenTested {
        /// Grains that germinated, %.
        germination_pct: f64,
    },
    /// What is left of a lot was thrown away.
    PollenDiscarded,
    /// Female flowers were pollinated.
    Pollinated(Pollination),
    /// Fruit has set.
    FruitSet {
        /// Berries that swell, where they were counted.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        berries: Option<u32>,
    },
    /// The colour that the berries have come to.
    FruitColour {
        /// The colour.
        colour: Colour,
        /// Where on the spike: ripening goes from the top down.
        part: Part,
    },
    /// Berries were lost, to rot or otherwise.
    FruitLost {
        /// How many.
        berries: u32,
    },
    /// The fruit is ripe.
    FruitRipe,
    /// Berries were harvested.
    Harvested {
        /// How many, where they were counted.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        berries: Option<u32>,
    },
    /// Seeds, cleaned and counted.
    SeedsCounted {
        /// How many.
        seeds: u32,
    },
    /// Seeds were sown.
    Sown {
        /// How many.
        seeds: u32,
    },
    /// Seedlings came up.
    Germinated {
        /// How many, since the count before.
        seedlings: u32,
        /// How many of them without green: a sign of inbreeding.
        #[serde(default, skip_serializing_if = "is_zero")]
        albino: u32,
    },
    /// The entry named by `corrects` was wrong altogether.
    Withdrawn,
}

#[expect(clippy::trivially_copy_pass_by_ref, reason = "serde passes a reference")]
const fn is_zero(count: &u32) -> bool {
    *count == 0
}

/// What is known of a plant's origin. What is not known is left out.
#[derive(Debug, Clone, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct PlantCard {
    /// The scientific name.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub taxon: Option<String>,
    /// The seed parent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub mother: Option<String>,
    /// The pollen parent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub father: Option<String>,
    /// The cross of this book whose seed it grew from; names both parents.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub seed_of: Option<String>,
    /// The plant that it is an offset or a cutting of: the same clone.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub offset_of: Option<String>,
    /// A clone's name: all plants of that clone are one genotype.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub clone: Option<String>,
    /// A sib group's name: plants of one sowing whose two parents are the same and not known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub sibs: Option<String>,
    /// Where it came from, in words.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub provenance: Option<String>,
}

/// A lot of pollen as it was taken.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PollenTaken {
    /// The plant that shed it.
    pub plant: String,
    /// The bloom, where the house watched it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bloom: Option<String>,
    /// How many portions it was split into.
    pub portions: u32,
    /// From elsewhere: `time` is then when it came.
    #[serde(default, skip_serializing_if = "is_false")]
    pub received: bool,
    /// When it was collected elsewhere, where that is known.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub collected: Option<Time>,
    /// How it was dried; fresh where it is left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub dried: Option<String>,
    /// Where it was put at once.
    #[serde(flatten, skip_serializing_if = "Option::is_none")]
    pub stored: Option<Storage>,
}

#[expect(clippy::trivially_copy_pass_by_ref, reason = "serde passes a reference")]
const fn is_false(flag: &bool) -> bool {
    !*flag
}

/// Where a lot is kept.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Storage {
    /// Temperature, °C.
    pub kept_c: f64,
    /// The place, in words.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub place: Option<String>,
}

/// A pollination: which lot onto which plant.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Pollination {
    /// The seed parent.
    pub plant: String,
    /// Its bench, where it stands on one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bench: Option<String>,
    /// Its bloom, where the house watched it.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bloom: Option<String>,
    /// The lot.
    pub lot: String,
    /// Portions used.
    pub portions: u32,
    /// Which flowers, in words.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub flowers: Option<String>,
    /// By which access, in words: a window cut low in the spathe, from above.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub access: Option<String>,
}

/// The colour of berries, from set to ripe.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Colour {
    /// Unripe.
    Green,
    /// Turning.
    Yellow,
    /// Nearly ripe.
    Orange,
    /// Ripe in the titan arum.
    Red,
}

impl Colour {
    /// Every colour with its name, from set to ripe.
    pub const NAMES: [(&'static str, Self); 4] =
        [("green", Self::Green), ("yellow", Self::Yellow), ("orange", Self::Orange), ("red", Self::Red)];

    /// Its name.
    pub const fn name(self) -> &'static str {
        Self::NAMES[self as usize].0
    }
}

/// Where on the spike.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
pub enum Part {
    /// The topmost berries, which ripen first.
    Top,
    /// The middle.
    Middle,
    /// The lowest, which ripen last.
    Bottom,
    /// All of them.
    All,
}

impl Part {
    /// Every part with its name, from the top down.
    pub const NAMES: [(&'static str, Self); 4] =
        [("top", Self::Top), ("middle", Self::Middle), ("bottom", Self::Bottom), ("all", Self::All)];

    /// Its name.
    pub const fn name(self) -> &'static str {
        Self::NAMES[self as usize].0
    }
}

impl Fact {
    /// What the subject of such an entry is.
    pub const fn speaks_of(&self) -> Kind {
        match self {
            Self::PlantAdded(_)
            | Self::Weighed { .. }
            | Self::Repotted { .. }
            | Self::Dormant
            | Self::InLeaf
            | Self::Gone => Kind::Plant,
            Self::PollenTaken(_)
            | Self::PollenStored(_)
            | Self::PollenThawed { .. }
            | Self::PollenTested { .. }
            | Self::PollenDiscarded => Kind::Lot,
            Self::Pollinated(_)
            | Self::FruitSet { .. }
            | Self::FruitColour { .. }
            | Self::FruitLost { .. }
            | Self::FruitRipe
            | Self::Harvested { .. }
            | Self::SeedsCounted { .. }
            | Self::Sown { .. }
            | Self::Germinated { .. } => Kind::Cross,
            Self::Withdrawn => Kind::Entry,
        }
    }
}

/// What an entry speaks of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// A plant, by its accession.
    Plant,
    /// A lot of pollen.
    Lot,
    /// A cross, with its fruit.
    Cross,
    /// Another entry.
    Entry,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_entry_is_one_flat_line_of_json() {
        let entry = Entry {
            number: 3,
            time: Time::from_unix_ms(0),
            booked: Time::from_unix_ms(60_000),
            subject: "AT-0398-2026a".to_owned(),
            fact: Fact::PollenTaken(PollenTaken {
                plant: "AT-0398".to_owned(),
                bloom: None,
                portions: 6,
                received: false,
                collected: None,
                dried: None,
                stored: Some(Storage { kept_c: -80.0, place: None }),
            }),
            by: Some("Robin".to_owned()),
            note: None,
            corrects: None,
        };
        let text = serde_json::to_string(&entry).unwrap();
        assert_eq!(
            text,
            r#"{"number":3,"time":"1970-01-01T00:00:00Z","booked":"1970-01-01T00:01:00Z","subject":"AT-0398-2026a","what":"pollen-taken","plant":"AT-0398","portions":6,"kept_c":-80.0,"by":"Robin"}"#
        );
        assert_eq!(serde_json::from_str::<Entry>(&text).unwrap(), entry);
    }
}
