//! What a person books: one fact about one subject at one time, with what is possible for its figures.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::text::is_plain;
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

/// A figure or a word that no entry can have.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum ImpossibleEntry {
    /// A figure out of its range.
    #[error("{words} of {value} is impossible: it lies between {lowest} and {highest} {unit}")]
    Figure {
        /// What it measures.
        words: &'static str,
        /// The figure as given.
        value: f64,
        /// The least that is taken.
        lowest: f64,
        /// The most that is taken.
        highest: f64,
        /// Its unit.
        unit: &'static str,
    },
    /// A name that is none.
    #[error("{name:?} is no name: give 1 to {MOST_NAME} characters without spaces, such as AT-0412")]
    Name {
        /// The name as given.
        name: String,
    },
    /// Words that are too long, or that hold a control character.
    #[error(
        "{words} {text:?} cannot be kept: at most {MOST_WORDS} characters, none of them a control character"
    )]
    Words {
        /// What they say.
        words: &'static str,
        /// Their beginning.
        text: String,
    },
}

/// Characters in a name at most.
pub const MOST_NAME: usize = 64;
/// Characters in a note, and in any other free words, at most.
pub const MOST_WORDS: usize = 2000;

/// The range of a figure: one definition for the command line, import and the page.
struct Range {
    words: &'static str,
    unit: &'static str,
    lowest: f64,
    highest: f64,
}

const fn range(words: &'static str, unit: &'static str, lowest: f64, highest: f64) -> Range {
    Range { words, unit, lowest, highest }
}

/// From a seedling's corm of a gram to beyond the heaviest published, 153.9 kg (Edinburgh 2010).
const MASS: Range = range("a corm's mass", "kg", 0.001, 500.0);
const POT: Range = range("a pot", "litres", 0.01, 20_000.0);
/// From liquid nitrogen to a hot house.
const KEPT: Range = range("a storage temperature", "°C", -200.0, 45.0);
const PORTIONS: Range = range("a number of portions", "portions", 1.0, 10_000.0);
const GERMINATION: Range = range("a germination", "%", 0.0, 100.0);
/// Far above the thousand and more berries of the largest spikes.
const BERRIES: Range = range("a number of berries", "berries", 0.0, 100_000.0);
const SEEDS: Range = range("a number of seeds", "seeds", 0.0, 1_000_000.0);

impl Range {
    fn check(&self, value: f64) -> Result<(), ImpossibleEntry> {
        let Self { words, unit, lowest, highest } = *self;
        if (lowest..=highest).contains(&value) {
            return Ok(());
        }
        Err(ImpossibleEntry::Figure { words, value, lowest, highest, unit })
    }
}

impl Entry {
    /// Whether every figure and word of it can be.
    ///
    /// # Errors
    /// The first that cannot.
    pub fn check(&self) -> Result<(), ImpossibleEntry> {
        check_name(&self.subject)?;
        check_words("who", self.by.as_deref())?;
        check_words("the note", self.note.as_deref())?;
        self.fact.check()
    }
}

impl Fact {
    /// Whether every figure and word of it can be.
    ///
    /// # Errors
    /// The first that cannot.
    pub fn check(&self) -> Result<(), ImpossibleEntry> {
        match self {
            Self::PlantAdded(card) => card.check(),
            Self::Weighed { mass_kg } => MASS.check(*mass_kg),
            Self::Repotted { pot_litres, mix } => {
                pot_litres.map_or(Ok(()), |litres| POT.check(litres))?;
                check_words("the mix", mix.as_deref())
            }
            Self::PollenTaken(taken) => {
                check_name(&taken.plant)?;
                check_words("the drying", taken.dried.as_deref())?;
                PORTIONS.check(f64::from(taken.portions))?;
                taken.stored.as_ref().map_or(Ok(()), Storage::check)
            }
            Self::PollenStored(storage) => storage.check(),
            Self::PollenThawed { portions } => PORTIONS.check(f64::from(*portions)),
            Self::PollenTested { germination_pct } => GERMINATION.check(*germination_pct),
            Self::Pollinated(pollination) => {
                check_name(&pollination.plant)?;
                check_name(&pollination.lot)?;
                PORTIONS.check(f64::from(pollination.portions))?;
                check_words("the flowers", pollination.flowers.as_deref())?;
                check_words("the access", pollination.access.as_deref())
            }
            Self::FruitSet { berries } | Self::Harvested { berries } => {
                berries.map_or(Ok(()), |berries| BERRIES.check(f64::from(berries)))
            }
            Self::FruitLost { berries } => BERRIES.check(f64::from(*berries)),
            Self::SeedsCounted { seeds } | Self::Sown { seeds } => SEEDS.check(f64::from(*seeds)),
            Self::Germinated { seedlings, albino } => {
                SEEDS.check(f64::from(*seedlings))?;
                range("a number of albino seedlings", "seedlings", 0.0, f64::from(*seedlings))
                    .check(f64::from(*albino))
            }
            Self::Dormant
            | Self::InLeaf
            | Self::Gone
            | Self::PollenDiscarded
            | Self::FruitColour { .. }
            | Self::FruitRipe
            | Self::Withdrawn => Ok(()),
        }
    }

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

impl PlantCard {
    fn check(&self) -> Result<(), ImpossibleEntry> {
        for name in [&self.mother, &self.father, &self.seed_of, &self.offset_of, &self.clone, &self.sibs] {
            name.as_deref().map_or(Ok(()), check_name)?;
        }
        check_words("the taxon", self.taxon.as_deref())?;
        check_words("the provenance", self.provenance.as_deref())
    }
}

impl Storage {
    fn check(&self) -> Result<(), ImpossibleEntry> {
        KEPT.check(self.kept_c)?;
        check_words("the place", self.place.as_deref())
    }
}

/// Whether a text can be the name of a plant, a lot, a cross, a clone or a sib group.
///
/// # Errors
/// If it cannot.
pub fn check_name(name: &str) -> Result<(), ImpossibleEntry> {
    let length = name.chars().count();
    if (1..=MOST_NAME).contains(&length) && !name.contains(char::is_whitespace) && is_plain(name) {
        return Ok(());
    }
    Err(ImpossibleEntry::Name { name: name.chars().take(MOST_NAME).collect() })
}

fn check_words(words: &'static str, text: Option<&str>) -> Result<(), ImpossibleEntry> {
    let Some(text) = text else { return Ok(()) };
    let fits = (1..=MOST_WORDS).contains(&text.chars().count()) && is_plain(text);
    if fits { Ok(()) } else { Err(ImpossibleEntry::Words { words, text: text.chars().take(40).collect() }) }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_cannot_be_is_named_with_its_range() {
        let said = |fact: Fact| fact.check().unwrap_err().to_string();
        assert!(said(Fact::Weighed { mass_kg: f64::NAN }).contains("between 0.001 and 500 kg"));
        assert!(said(Fact::PollenTested { germination_pct: 101.0 }).contains("0 and 100 %"));
        assert!(said(Fact::Germinated { seedlings: 3, albino: 4 }).contains("between 0 and 3"));
        assert!(said(Fact::PollenStored(Storage { kept_c: -273.0, place: None })).contains("-200 and 45 °C"));
        let card = |mother: &str| {
            Fact::PlantAdded(PlantCard { mother: Some(mother.to_owned()), ..PlantCard::default() })
        };
        assert!(said(card("AT 0412")).contains("without spaces"));
        assert_eq!(card("AT-0412").check(), Ok(()));
    }

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
